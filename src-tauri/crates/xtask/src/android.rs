//! `cargo xtask android`: the program for the phone, or what this machine lacks to build it.

use crate::house::{House, Progress};
use crate::machine;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

/// 64-bit ARM: nearly every phone that is still in use.
const TARGET: &str = "aarch64-linux-android";

/// The first NDK whose libraries load on phones with memory pages of 16 kB.
const NDK_OLDEST: u32 = 28;

/// What Gradle and Android's own plugin for it ask for.
const JDK_OLDEST: u32 = 17;

/// Where Gradle leaves what it built.
const APK: &str =
    "src-tauri/gen/android/app/build/outputs/apk/universal/release/app-universal-release-unsigned.apk";

/// How far to go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Until {
    /// The window compiles for the phone; nothing is linked.
    Checked,
    /// The package is there.
    Built,
}

/// Looks over this machine, and goes on when nothing is missing.
pub(crate) fn android(house: &House, until: Until) -> Result<(), String> {
    let found = Found::on_this_machine(house);
    let lacks = found.lacks(until);
    if !lacks.is_empty() {
        return Err(told(&lacks));
    }
    match until {
        Until::Checked => check(house),
        Until::Built => build(house, &found),
    }
}

/// Every crate of the window, type-checked for the phone.
fn check(house: &House) -> Result<(), String> {
    machine::provide(house, &[machine::TO_BUILD]).map_err(machine::Missing::into_message)?;
    // Embedded, but not looked at: an empty one does.
    let dist = house.path("ui/dist");
    fs::create_dir_all(&dist).map_err(|error| format!("{}: {error}", dist.display()))?;
    let mut cargo = house.cargo(&["check", "--locked", "--package", "windfall-app", "--target", TARGET]);
    // SQLite is C. Nothing of it is linked here, so this machine's compiler stands in for the NDK's.
    cargo.env("CC_aarch64_linux_android", "cc").env("AR_aarch64_linux_android", "ar");
    let checked = || house.quietly("android-check", cargo);
    Progress::of(1).step("Type-check the window for the phone", checked, |_| String::new()).0?;
    Ok(())
}

fn build(house: &House, found: &Found) -> Result<(), String> {
    let mut progress = Progress::of(3);
    machine::check_node(house)?;
    progress.step("Fetch what the user interface is built with", || house.npm_ci(), String::clone).0?;
    let build_ui = || house.quietly("ui-build", house.npm(&["run", "build"]));
    progress.step("Build the user interface", build_ui, |_| String::new()).0?;
    let mut tauri = house.command(
        "node",
        &[
            "ui/node_modules/@tauri-apps/cli/tauri.js",
            "android",
            "build",
            "--apk",
            "--target",
            "aarch64",
            "--ci",
        ],
    );
    for (name, folder) in [("ANDROID_HOME", &found.sdk), ("NDK_HOME", &found.ndk)] {
        if let Some(folder) = folder {
            tauri.env(name, folder);
        }
    }
    let build_apk = || house.quietly("android", tauri);
    progress.step("Build the package for the phone", build_apk, |_| String::new()).0?;
    if !house.path(APK).is_file() {
        return Err(format!("it ended well, yet there is no {APK}"));
    }
    println!(
        "\n{APK}\nA phone installs it once it is signed: apksigner sign --ks YOUR_KEYS --out windfall.apk {APK}"
    );
    Ok(())
}

/// What this machine has of the tools.
#[derive(Debug, Default)]
struct Found {
    /// Whether Rust's standard library for the phone is there.
    target: bool,
    /// The first number of the Java compiler's version.
    jdk: Option<u32>,
    /// Android's SDK.
    sdk: Option<PathBuf>,
    /// Whether its licences are accepted: then Gradle fetches the platform and the build tools into it.
    licences: bool,
    /// Android's NDK.
    ndk: Option<PathBuf>,
    /// The first number of its revision.
    ndk_revision: Option<u32>,
}

/// Something that is missing.
#[derive(Debug, PartialEq, Eq)]
struct Lack {
    what: String,
    remedy: &'static str,
}

impl Found {
    fn on_this_machine(house: &House) -> Self {
        let library = machine::says(house, "rustc", &["--print", "target-libdir", "--target", TARGET])
            .map(PathBuf::from);
        let folder = |names: &[&str]| {
            names.iter().filter_map(std::env::var_os).find(|value| !value.is_empty()).map(PathBuf::from)
        };
        let sdk = folder(&["ANDROID_HOME", "ANDROID_SDK_ROOT"]);
        let ndk = folder(&["NDK_HOME", "ANDROID_NDK_HOME"]).or_else(|| newest_ndk(sdk.as_deref()?));
        let java = folder(&["JAVA_HOME"]).map_or_else(|| "javac".into(), |home| home.join("bin/javac"));
        Self {
            target: library.is_some_and(|folder| folder.is_dir()),
            jdk: machine::says(house, java, &["-version"]).and_then(|said| first_number(&said)),
            licences: sdk.as_ref().is_some_and(|it| it.join("licenses/android-sdk-license").is_file()),
            ndk_revision: ndk.as_deref().and_then(revision),
            sdk,
            ndk,
        }
    }

    /// Everything that is missing at once, in the order in which it is best got.
    fn lacks(&self, until: Until) -> Vec<Lack> {
        let mut lacks = Vec::new();
        let mut lack = |what: String, remedy| lacks.push(Lack { what, remedy });
        if !self.target {
            lack(format!("Rust's standard library for {TARGET}"), "rustup target add aarch64-linux-android");
        }
        if until == Until::Checked {
            return lacks;
        }
        match self.jdk {
            Some(version) if version >= JDK_OLDEST => {}
            Some(version) => lack(
                format!("A Java compiler of version {JDK_OLDEST} or newer; this one is {version}"),
                "install a newer JDK (Debian: apt-get install openjdk-17-jdk-headless) and name its folder in JAVA_HOME",
            ),
            None => lack(
                format!("A Java compiler, version {JDK_OLDEST} or newer"),
                "Debian: apt-get install openjdk-17-jdk-headless",
            ),
        }
        match &self.sdk {
            None => lack(
                "Android's SDK: ANDROID_HOME names no folder".into(),
                "unpack the command-line tools of developer.android.com/studio#command-line-tools-only into \
                 DIR/cmdline-tools/latest, then export ANDROID_HOME=DIR",
            ),
            Some(sdk) if !sdk.is_dir() => lack(
                format!("Android's SDK: ANDROID_HOME is {}, and there is no such folder", sdk.display()),
                "export ANDROID_HOME=DIR, with the folder that holds cmdline-tools",
            ),
            Some(_) => {}
        }
        if !self.licences {
            lack(
                "The accepted licences of Android's SDK; with them Gradle fetches the rest of it".into(),
                "$ANDROID_HOME/cmdline-tools/latest/bin/sdkmanager --licenses",
            );
        }
        const NDK: &str = "$ANDROID_HOME/cmdline-tools/latest/bin/sdkmanager 'ndk;28.2.13676358'";
        match (&self.ndk, self.ndk_revision) {
            (_, Some(revision)) if revision >= NDK_OLDEST => {}
            (_, Some(revision)) => {
                lack(format!("Android's NDK, revision {NDK_OLDEST} or newer; this one is {revision}"), NDK);
            }
            (Some(ndk), None) => {
                lack(
                    format!("Android's NDK: {} holds no source.properties with a revision", ndk.display()),
                    NDK,
                );
            }
            (None, None) => lack(format!("Android's NDK, revision {NDK_OLDEST} or newer"), NDK),
        }
        lacks
    }
}

/// What is missing, and below each how to get it.
fn told(lacks: &[Lack]) -> String {
    let rows: String =
        lacks.iter().map(|lack| format!("\n  {}\n      {}\n", lack.what, lack.remedy)).collect();
    format!("The program for the phone cannot be built here yet. Missing:\n{rows}")
}

/// The newest that the SDK's own tool has installed.
fn newest_ndk(sdk: &Path) -> Option<PathBuf> {
    let folders = fs::read_dir(sdk.join("ndk")).ok()?.filter_map(|entry| Some(entry.ok()?.path()));
    folders.filter(|folder| revision(folder).is_some()).max_by_key(|folder| {
        let name = folder.file_name().unwrap_or(OsStr::new("")).to_string_lossy().into_owned();
        name.split('.').map(|number| number.parse::<u32>().unwrap_or(0)).collect::<Vec<u32>>()
    })
}

/// `Pkg.Revision = 28.2.13676358` in the NDK's own file.
fn revision(ndk: &Path) -> Option<u32> {
    let text = fs::read_to_string(ndk.join("source.properties")).ok()?;
    first_number(text.lines().find(|line| line.starts_with("Pkg.Revision"))?)
}

/// `javac 17.0.9` is 17.
fn first_number(text: &str) -> Option<u32> {
    let digits = text.trim_start_matches(|it: char| !it.is_ascii_digit());
    digits.split(|it: char| !it.is_ascii_digit()).next()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn everything() -> Found {
        Found {
            target: true,
            jdk: Some(17),
            sdk: Some(std::env::temp_dir()), // a folder that is there
            licences: true,
            ndk: Some("ndk".into()),
            ndk_revision: Some(28),
        }
    }

    #[test]
    fn where_all_is_there_nothing_is_missing() {
        assert_eq!(everything().lacks(Until::Built), []);
    }

    #[test]
    fn a_bare_machine_is_told_everything_at_once_and_how_to_get_it() {
        let lacks = Found::default().lacks(Until::Built);
        assert_eq!(lacks.len(), 5, "{lacks:?}");
        let message = told(&lacks);
        for (what, remedy) in [
            ("Rust's standard library", "rustup target add aarch64-linux-android"),
            ("Java compiler, version 17 or newer", "openjdk-17-jdk-headless"),
            ("ANDROID_HOME names no folder", "export ANDROID_HOME="),
            ("licences", "sdkmanager --licenses"),
            ("NDK, revision 28 or newer", "sdkmanager 'ndk;28."),
        ] {
            let at = message.find(what).unwrap_or_else(|| panic!("not a word of {what}: {message}"));
            let next = message[at..].lines().nth(1).unwrap_or_default();
            assert!(next.contains(remedy), "below {what} stands {next:?}");
        }
    }

    #[test]
    fn type_checking_needs_neither_java_nor_android() {
        assert_eq!(Found { target: true, ..Found::default() }.lacks(Until::Checked), []);
        assert_eq!(Found::default().lacks(Until::Checked).len(), 1);
    }

    #[test]
    fn each_missing_thing_is_told_alone_with_what_was_found_in_its_place() {
        let cases: [(Found, &str); 6] = [
            (Found { target: false, ..everything() }, "Rust's standard library for aarch64-linux-android"),
            (Found { jdk: Some(11), ..everything() }, "this one is 11"),
            (Found { sdk: Some("no-such-folder".into()), ..everything() }, "ANDROID_HOME is no-such-folder"),
            (Found { licences: false, ..everything() }, "accepted licences"),
            (Found { ndk_revision: Some(26), ..everything() }, "this one is 26"),
            (Found { ndk_revision: None, ..everything() }, "ndk holds no source.properties"),
        ];
        for (found, words) in cases {
            let lacks = found.lacks(Until::Built);
            assert_eq!(lacks.len(), 1, "{lacks:?}");
            assert!(lacks[0].what.contains(words), "{lacks:?}");
        }
    }

    #[test]
    fn versions_are_read_as_the_tools_write_them() {
        assert_eq!(first_number("javac 17.0.9"), Some(17));
        assert_eq!(first_number("Pkg.Revision = 28.2.13676358"), Some(28));
        assert_eq!(first_number("no number"), None);
    }
}
