//! What this machine must have, and how it gets it.

use crate::house::House;
use std::ffi::OsStr;
use std::path::Path;

/// One thing a step cannot do without.
#[derive(Debug)]
pub(crate) struct Need {
    /// The Debian and Ubuntu package that brings it.
    package: &'static str,
    /// How to tell that it is there, however it came.
    sign: Sign,
}

#[derive(Debug)]
enum Sign {
    Program(&'static str),
    File(&'static str),
    Library(&'static str),
}

/// For everything: the certificates of the registries. A C compiler is there already: `.cargo/cc` sees to it,
/// or this program could not have been linked.
pub(crate) const TO_BUILD: &[Need] =
    &[Need { package: "ca-certificates", sign: Sign::File("/etc/ssl/certs/ca-certificates.crt") }];

/// For the window.
pub(crate) const FOR_THE_WINDOW: &[Need] = &[
    Need { package: "pkg-config", sign: Sign::Program("pkg-config") },
    Need { package: "libwebkit2gtk-4.1-dev", sign: Sign::Library("webkit2gtk-4.1") },
];

/// For the tests only: a screen of their own, the window's driver, pictures, a browser, a judge of XML, system calls,
/// receivers of satellites.
pub(crate) const TO_TEST: &[Need] = &[
    Need { package: "xvfb", sign: Sign::Program("Xvfb") },
    Need { package: "webkit2gtk-driver", sign: Sign::Program("WebKitWebDriver") },
    Need { package: "imagemagick", sign: Sign::Program("import") },
    Need { package: "chromium", sign: Sign::Program("chromium") },
    Need { package: "libxml2-utils", sign: Sign::Program("xmllint") },
    Need { package: "strace", sign: Sign::Program("strace") },
    // Not on the path of everybody.
    Need { package: "gpsd", sign: Sign::File("/usr/sbin/gpsd") },
];

/// Why something is still missing.
#[derive(Debug)]
pub(crate) enum Missing {
    /// Someone with the right to do so must type this.
    Command(String),
    /// It was tried, or cannot be tried here.
    Unavailable(String),
}

impl Missing {
    pub(crate) fn into_message(self) -> String {
        match self {
            Self::Command(command) => format!(
                "Something is missing on this machine. Type this, then start again:\n\n    {command}\n"
            ),
            Self::Unavailable(why) => why,
        }
    }
}

/// Installs what is missing of `needs`; the packages installed.
pub(crate) fn provide(house: &House, needs: &[&[Need]]) -> Result<Vec<&'static str>, Missing> {
    if !cfg!(target_os = "linux") {
        return Ok(Vec::new()); // the compiler and the web view come with the system or with Rust
    }
    let missing = |needs: &[&[Need]]| -> Vec<&'static str> {
        needs
            .iter()
            .copied()
            .flatten()
            .filter(|need| !there(house, &need.sign))
            .map(|need| need.package)
            .collect()
    };
    let packages = missing(needs);
    if packages.is_empty() {
        return Ok(packages);
    }
    let names = packages.join(" ");
    if !has_program("apt-get") {
        return Err(Missing::Unavailable(format!(
            "Missing on this machine: {names} (Debian's names), and there is no apt-get to install them with."
        )));
    }
    let rights: &[&str] = if says(house, "id", &["-u"]).as_deref() == Some("0") {
        &[]
    } else if says(house, "sudo", &["-n", "true"]).is_some() {
        &["sudo", "-n"]
    } else {
        return Err(Missing::Command(format!(
            "sudo apt-get update && sudo apt-get install --yes --no-install-recommends {names}"
        )));
    };
    let mut install = vec!["install", "--yes", "--no-install-recommends"];
    install.extend(&packages);
    for arguments in [&["update"][..], &install] {
        let mut words = rights.to_vec();
        words.push("apt-get");
        words.extend(arguments);
        let mut command = house.command(words[0], &words[1..]);
        command.env("DEBIAN_FRONTEND", "noninteractive");
        house.quietly("apt-get", command).map_err(|failure| {
            Missing::Unavailable(format!("{}\nCould not install: {names}", failure.why))
        })?;
    }
    let still = missing(needs);
    if still.is_empty() {
        Ok(packages)
    } else {
        Err(Missing::Unavailable(format!("Installed, yet not found: {}", still.join(" "))))
    }
}

/// Refuses a Node too old for the tools of the user interface.
pub(crate) fn check_node(house: &House) -> Result<(), String> {
    let wanted = "Windfall's user interface is built with Node 20.19 or newer";
    let found =
        says(house, "node", &["--version"]).ok_or_else(|| format!("{wanted}; there is no `node` here."))?;
    let mut numbers = found.trim_start_matches('v').split('.').map_while(|number| number.parse::<u32>().ok());
    let version = (numbers.next().unwrap_or(0), numbers.next().unwrap_or(0));
    if version >= (20, 19) { Ok(()) } else { Err(format!("{wanted}; this is {found}.")) }
}

/// Whether a window can be shown.
pub(crate) fn has_display() -> bool {
    let set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    !cfg!(target_os = "linux") || set("DISPLAY") || set("WAYLAND_DISPLAY")
}

fn there(house: &House, sign: &Sign) -> bool {
    match sign {
        Sign::Program(name) => has_program(name),
        Sign::File(path) => Path::new(path).exists(),
        Sign::Library(name) => says(house, "pkg-config", &["--exists", name]).is_some(),
    }
}

fn has_program(name: &str) -> bool {
    let path = std::env::var_os("PATH").unwrap_or_default();
    std::env::split_paths(&path).any(|folder| folder.join(name).is_file())
}

/// What a program prints, if it can be run and succeeds.
pub(crate) fn says(house: &House, program: impl AsRef<OsStr>, arguments: &[&str]) -> Option<String> {
    let output = house.command(program, arguments).output().ok()?;
    output.status.success().then(|| String::from_utf8_lossy(&output.stdout).trim().to_owned())
}
