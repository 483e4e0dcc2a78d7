//! The rules of the house that no compiler checks.

use crate::house::House;
use crate::tally::{Failure, Tally};
use std::fs;
use std::path::{Path, PathBuf};

/// What may lie at the top, dot-files apart.
const TOP: [&str; 9] = [
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "src-tauri",
    "ui",
    "tests",
    "sample-data",
];

/// Not written by us, or not kept.
const NOT_OURS: [&str; 6] = [".git", "node_modules", "target", "dist", "gen", "package-lock.json"];

/// These compute the same from the same, so they may not ask the world anything.
const PURE: [&str; 4] = ["quantities", "facts", "physics", "inference"];
const WORLDLY: [&str; 7] = [
    "std::fs",
    "std::env",
    "std::net",
    "SystemTime",
    "Instant",
    concat!("rand::", "rng"),
    concat!("thread", "_rng"),
];

/// Behind a feature that only the task runner turns on.
const NOT_IN_THE_PROGRAM: &str = "src-tauri/crates/facts/src/typescript.rs";

/// The terminal program must build where no window library is.
const WINDOW_LIBRARIES: [&str; 4] = ["tauri", "wry", "gtk", "webkit2gtk"];

/// All that the program on the phone may ask for; why stands in the manifest.
const PERMISSIONS: [&str; 7] = [
    "INTERNET",
    "ACCESS_COARSE_LOCATION",
    "ACCESS_FINE_LOCATION",
    "CAMERA",
    "RECORD_AUDIO",
    "MODIFY_AUDIO_SETTINGS",
    "VIBRATE",
];
const PHONE_MANIFEST: &str = "src-tauri/gen/android/app/src/main/AndroidManifest.xml";

// Written in two halves, or this file would break its own rules.
const UNFINISHED: [&str; 4] =
    [concat!("TO", "DO"), concat!("FIX", "ME"), concat!("todo", "!("), concat!("unimple", "mented!(")];
const MACHINE_PATHS: [&str; 4] =
    [concat!("/ro", "ot/"), concat!("/ho", "me/"), concat!("/wo", "rk/"), concat!("C:\\Us", "ers\\")];
const NOT_RUN: [&str; 2] = [concat!("#[ig", "nore"), concat!("#[should", "_panic")];

/// Looks at every file; one test a rule.
pub(crate) fn check(house: &House) -> Result<Tally, Failure> {
    let files = ours(&house.path(""))?;
    let manifests = || files.iter().filter(|file| file.path.ends_with("Cargo.toml"));
    let rust = || files.iter().filter(|file| file.path.extension().is_some_and(|it| it == "rs"));

    let rules = [
        ("only the agreed names at the top", top(house)?),
        ("nothing left to do", having(files.iter(), &UNFINISHED)),
        ("no path of one machine", machine_paths(&files)),
        ("no test that is not run", having(rust(), &NOT_RUN)),
        (
            "every crate takes the workspace's lints",
            manifests()
                .filter(|it| it.text.contains("[package]") && !it.text.contains("[lints]\nworkspace = true"))
                .map(|it| it.path.display().to_string())
                .collect(),
        ),
        ("pure crates ask the world nothing", having_outside_tests(rust(), &WORLDLY)),
        ("the terminal program needs no window library", window_libraries(house)?),
        ("the phone is asked for the agreed permissions only", permissions(&phone_manifest(house)?)),
    ];
    let mut tally = Tally::default();
    let mut complaints = String::new();
    for (rule, broken) in &rules {
        if broken.is_empty() {
            tally.passed += 1;
        } else {
            tally.failed += 1;
            complaints += &format!("{rule}:\n  {}\n", broken.join("\n  "));
        }
    }
    if complaints.is_empty() { Ok(tally) } else { Err(Failure { why: complaints, tally }) }
}

/// A text file of ours.
#[derive(Debug)]
struct Text {
    /// From the root.
    path: PathBuf,
    text: String,
}

fn ours(root: &Path) -> Result<Vec<Text>, String> {
    let mut files = Vec::new();
    let mut folders = vec![root.to_path_buf()];
    while let Some(folder) = folders.pop() {
        let told = |error| format!("{}: {error}", folder.display());
        for entry in fs::read_dir(&folder).map_err(told)? {
            let path = entry.map_err(told)?.path();
            if path.file_name().is_some_and(|name| NOT_OURS.iter().any(|it| name == *it)) {
                continue;
            }
            if path.is_dir() {
                folders.push(path);
            } else if let Ok(text) = fs::read_to_string(&path) {
                // Pictures are no text and are passed over.
                files.push(Text { path: path.strip_prefix(root).unwrap_or(&path).to_path_buf(), text });
            }
        }
    }
    if files.len() < 20 {
        Err(format!("only {} files found: looked in the wrong place", files.len()))
    } else {
        Ok(files)
    }
}

fn top(house: &House) -> Result<Vec<String>, String> {
    let entries = fs::read_dir(house.path("")).map_err(|error| error.to_string())?;
    Ok(entries
        .flatten()
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .filter(|name| !name.starts_with('.') && name != "target" && !TOP.contains(&name.as_str()))
        .collect())
}

fn having<'a>(files: impl Iterator<Item = &'a Text>, words: &[&str]) -> Vec<String> {
    files.flat_map(|file| lines_with(file, &file.text, words)).collect()
}

fn having_outside_tests<'a>(files: impl Iterator<Item = &'a Text>, words: &[&str]) -> Vec<String> {
    files
        .filter(|file| !file.path.ends_with(NOT_IN_THE_PROGRAM))
        .filter(|file| PURE.iter().any(|name| file.path.starts_with(format!("src-tauri/crates/{name}/src"))))
        .flat_map(|file| {
            let before = file.text.split("#[cfg(test)]\nmod ").next().unwrap_or_default();
            lines_with(file, before, words)
        })
        .collect()
}

/// A path counts where it begins, not where it goes on from an address.
fn machine_paths(files: &[Text]) -> Vec<String> {
    let begins = |line: &str, path: &str| {
        line.match_indices(path).any(|(at, _)| {
            !line[..at].chars().next_back().is_some_and(|it| it.is_alphanumeric() || "./-_$}*".contains(it))
        })
    };
    let found = |file: &Text| {
        let line = file.text.lines().position(|line| MACHINE_PATHS.iter().any(|path| begins(line, path)))?;
        Some(format!("{}:{}", file.path.display(), line + 1))
    };
    files.iter().filter_map(found).collect()
}

fn lines_with(file: &Text, text: &str, words: &[&str]) -> Vec<String> {
    text.lines()
        .enumerate()
        .filter_map(|(at, line)| {
            let word = words.iter().find(|word| line.contains(**word))?;
            Some(format!("{}:{}: {word}", file.path.display(), at + 1))
        })
        .collect()
}

fn window_libraries(house: &House) -> Result<Vec<String>, String> {
    let tree =
        ["tree", "--locked", "--package", "windfall-cli", "--edges", "normal,build", "--prefix", "none"];
    let tree = house.quietly("cli-tree", house.cargo(&tree))?;
    let names = tree.lines().filter_map(|line| line.split(' ').next());
    Ok(names.filter(|name| WINDOW_LIBRARIES.contains(name)).map(str::to_owned).collect())
}

fn phone_manifest(house: &House) -> Result<String, String> {
    fs::read_to_string(house.path(PHONE_MANIFEST)).map_err(|error| format!("{PHONE_MANIFEST}: {error}"))
}

/// Permissions that are asked for and not agreed, and agreed ones that are not asked for or not once.
fn permissions(manifest: &str) -> Vec<String> {
    // Also `uses-permission-sdk-23`, and whatever else a name begins with.
    let asked: Vec<&str> = manifest
        .split("<uses-permission")
        .skip(1)
        .map(|after| {
            let element = after.split('>').next().unwrap_or_default();
            let name = element.split("android:name=\"").nth(1).and_then(|rest| rest.split('"').next());
            name.unwrap_or("a permission without a name")
        })
        .collect();
    let agreed = PERMISSIONS.map(|name| format!("android.permission.{name}"));
    let strange = asked.iter().filter(|name| !agreed.iter().any(|it| it == *name));
    let not_once = agreed.iter().filter(|name| asked.iter().filter(|it| *it == name).count() != 1);
    strange
        .map(|name| format!("{name} is not agreed"))
        .chain(not_once.map(|name| format!("{name} is not asked for once")))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn manifest(asked: &[String]) -> String {
        let rows: String =
            asked.iter().map(|it| format!("    <uses-permission android:name=\"{it}\" />\n")).collect();
        format!("<manifest>\n{rows}    <application />\n</manifest>\n")
    }

    fn agreed() -> Vec<String> {
        PERMISSIONS.iter().map(|it| format!("android.permission.{it}")).collect()
    }

    #[test]
    fn the_manifest_that_is_kept_asks_for_what_is_agreed() {
        let kept = include_str!("../../../gen/android/app/src/main/AndroidManifest.xml");
        assert_eq!(permissions(kept), [""; 0]);
        assert_eq!(permissions(&manifest(&agreed())), [""; 0]);
    }

    #[test]
    fn one_permission_more_is_named_however_it_is_written() {
        let strange = "android.permission.READ_CONTACTS".to_owned();
        let more = manifest(&[agreed(), vec![strange]].concat());
        for text in [more.replace("READ_CONTACTS\" />", "READ_CONTACTS\"/>"), more.replace("<uses-permission android:name=\"android.permission.READ", "<uses-permission-sdk-23\n  android:maxSdkVersion=\"30\"\n  android:name=\"android.permission.READ"), more] {
            assert_eq!(permissions(&text), ["android.permission.READ_CONTACTS is not agreed"], "{text}");
        }
    }

    #[test]
    fn a_permission_that_is_gone_or_asked_for_twice_is_named() {
        let mut asked = agreed();
        asked.retain(|it| !it.ends_with("VIBRATE"));
        asked.push("android.permission.CAMERA".into());
        let told = permissions(&manifest(&asked));
        assert_eq!(
            told,
            [
                "android.permission.CAMERA is not asked for once",
                "android.permission.VIBRATE is not asked for once"
            ]
        );
    }
}
