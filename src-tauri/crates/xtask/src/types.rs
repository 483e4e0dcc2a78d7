//! `cargo xtask types`: the user interface's types, written from the Rust ones.

use crate::house::House;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

const GENERATED: &str = "ui/src/lib/backend/generated";

/// Writes the types where the user interface reads them, which keeps the old ones until there are new ones.
pub(crate) fn write(house: &House) -> Result<(), String> {
    let fresh = exported(house)?;
    let folder = house.path(GENERATED);
    let told = |error| format!("{}: {error}", folder.display());
    // Copied, not renamed: the scratch folder may be on another disk.
    emptied(&folder)?;
    for (name, text) in fresh {
        let file = folder.join(name);
        fs::create_dir_all(file.parent().unwrap_or(&folder)).map_err(told)?;
        fs::write(&file, text).map_err(told)?;
    }
    println!("{GENERATED} is up to date");
    Ok(())
}

/// Refuses generated types that are not what the Rust types say now.
pub(crate) fn check(house: &House) -> Result<(), String> {
    let (wanted, found) = (exported(house)?, texts(&house.path(GENERATED))?);
    let names: Vec<&String> =
        wanted.keys().chain(found.keys()).filter(|name| wanted.get(*name) != found.get(*name)).collect();
    if names.is_empty() {
        return Ok(());
    }
    Err(format!(
        "{GENERATED} is behind the Rust types: {names:?}\nRun `cargo xtask types` and commit what it writes."
    ))
}

/// So that a type that is gone leaves no file behind.
fn emptied(folder: &Path) -> Result<(), String> {
    let told = |error| format!("{}: {error}", folder.display());
    if folder.exists() {
        fs::remove_dir_all(folder).map_err(told)?;
    }
    fs::create_dir_all(folder).map_err(told)
}

/// The types as they are now, by file name, by way of a scratch folder.
fn exported(house: &House) -> Result<BTreeMap<String, Vec<u8>>, String> {
    let folder = house.scratch()?.join("types");
    emptied(&folder)?;
    // A program of its own: with the export built in, the task runner would drag half of the house with it.
    let mut cargo = house.cargo(&[
        "run",
        "--package",
        "windfall-xtask",
        "--features",
        "typescript",
        "--bin",
        "windfall-types",
        "--",
    ]);
    cargo.arg(&folder);
    house.quietly("types", cargo)?;
    let types = texts(&folder)?;
    if types.is_empty() { Err("not one type was exported".into()) } else { Ok(types) }
}

fn texts(folder: &Path) -> Result<BTreeMap<String, Vec<u8>>, String> {
    let told = |error| format!("{}: {error}", folder.display());
    let mut texts = BTreeMap::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(&next).map_err(told)? {
            let path = entry.map_err(told)?.path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap_or(&path).display().to_string();
                texts.insert(name, fs::read(&path).map_err(told)?);
            }
        }
    }
    Ok(texts)
}
