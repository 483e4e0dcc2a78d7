//! `windfall log`: the logbook in a terminal.

use crate::{Failure, as_json, pretty, print};
use chrono::NaiveDate;
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use windfall_api::{
    AddFact, Api, ListLog, Merged, RestoreBackup, Said, SetAside, Settings, ShowLog, TakeText, Undo,
    whole_file,
};

/// Letters of a fact that are shown to people; JSON has all.
const SHOWN: usize = 160;

#[derive(Debug, Args)]
pub(crate) struct Log {
    /// Folder of the logbook (default: a folder of your own where this system keeps data)
    #[arg(long, value_name = "DIR", global = true)]
    logbook: Option<PathBuf>,
    /// As JSON
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Notes facts given as JSON, one after the other; prints the identifier of each once it is on the disk
    Add {
        /// File of facts; `-` for standard input
        #[arg(default_value = "-")]
        file: PathBuf,
    },
    /// Lists flights by the time of their launch
    List {
        /// With this in any of their texts
        #[arg(long)]
        text: Option<String>,
        /// Of this rocket
        #[arg(long, value_name = "NAME")]
        rocket: Option<String>,
        /// Launched on this day or later
        #[arg(long, value_name = "YYYY-MM-DD")]
        from: Option<NaiveDate>,
        /// Launched on this day or earlier
        #[arg(long, value_name = "YYYY-MM-DD")]
        until: Option<NaiveDate>,
    },
    /// Shows everything that was said about a flight, with the history of corrections
    Show {
        /// Identifier of the flight
        flight: String,
    },
    /// Keeps a fact without using it; `undo` uses it again
    SetAside {
        /// Identifier of the fact
        id: String,
        /// Why
        #[arg(long)]
        why: Option<String>,
    },
    /// Takes back a correction, a setting aside, an undo or a first word
    Undo {
        /// Identifier of the fact
        id: String,
    },
    /// Takes in a file: a flight, an archive (.jsonl), or places and walks for a flight (.gpx, .kml, .geojson, .csv)
    Import {
        /// The file
        file: PathBuf,
        /// Flight of the logbook that places and walks belong to
        #[arg(long, value_name = "NAME")]
        into: Option<String>,
        /// Winds aloft, temperature, pressure and humidity for today (.csv with named columns, .json)
        #[arg(long, conflicts_with = "into")]
        weather: bool,
    },
    /// Writes a flight, or with no flight the whole logbook (.jsonl), its table of flights (.csv) or all of them on a map
    /// (.gpx, .kml, .geojson), to a file
    Export {
        /// File to write; its ending says the format: .json, .gpx, .kml, .geojson, .csv, .jsonl
        file: PathBuf,
        /// Identifier of the flight
        #[arg(long, value_name = "NAME")]
        flight: Option<String>,
        /// Of the whole logbook (.jsonl): without the pictures and maps that lie under its fields
        #[arg(long, conflicts_with = "flight")]
        without_maps: bool,
    },
    /// Takes in all facts of another logbook; merging twice changes nothing
    Merge {
        /// Folder or file of the other logbook
        other: PathBuf,
    },
    /// Makes a backup beside the logbook; the last ten are kept
    BackUp,
    /// Looks the whole logbook over
    Check,
    /// Puts a backup in the place of a logbook that is damaged or of a newer program; what was there is kept beside it
    Restore {
        /// Name of its file (default: the newest that is whole)
        #[arg(long, value_name = "NAME")]
        backup: Option<String>,
    },
}

pub(crate) fn run(asked: Log) -> Result<(), Failure> {
    let folder = match asked.logbook {
        Some(folder) => folder,
        None => own_folder()?,
    };
    let api = Api::new(Settings::default());
    let api = match asked.what {
        What::Restore { .. } => api.with_logbook_or_warning(&folder),
        _ => api.with_logbook(&folder)?,
    };
    let done = what(&api, asked.what, asked.json);
    crate::warn(&api);
    done
}

fn what(api: &Api, what: What, json: bool) -> Result<(), Failure> {
    match what {
        What::Add { file } => add(api, &file, json),
        What::List { text, rocket, from, until } => {
            let rows = api.list_log(&ListLog { text, rocket, from, until })?;
            if json {
                return print(&pretty(&as_json(&rows)?));
            }
            for row in &rows {
                let mut line = format!("{:<25}  {}", row.launched_at.as_deref().unwrap_or("?"), row.name);
                for (what, text) in [
                    ("", row.title.clone()),
                    ("rocket ", row.rocket.clone()),
                    ("found ", some(row.found.join(", "))),
                    ("searched for ", some(row.searched.join(", "))),
                    ("", row.how.clone()),
                    ("because ", row.cause.clone()),
                    ("", row.set_aside.then(|| "set aside".into())),
                ] {
                    line += &text.map(|text| format!("; {what}{text}")).unwrap_or_default();
                }
                print(&line)?;
            }
            print(&format!("{} flights", rows.len()))
        }
        What::Show { flight } => {
            let page = api.show_log(&ShowLog { flight })?;
            if json {
                return print(&pretty(&as_json(&page)?));
            }
            print(&page.flight)?;
            for word in &page.words {
                let state = match (word.taken_back, word.set_aside) {
                    (true, _) => "  (taken back)",
                    (false, true) => "  (set aside)",
                    (false, false) => "",
                };
                print(&format!("\n{}{state}", told(&word.said)))?;
                for earlier in &word.history {
                    print(&format!("    {}", told(earlier)))?;
                }
            }
            Ok(())
        }
        What::SetAside { id, why } => noted(&api.set_aside(&SetAside { id, why })?, json),
        What::Undo { id } => noted(&api.undo(&Undo { id })?, json),
        What::Merge { other } => merged(&api.merge_logbook(&other)?, json),
        What::Import { file, weather: true, .. } => weather(api, &file, json),
        What::Import { file, into, weather: false } => import(api, &file, into.as_deref(), json),
        What::Export { file, flight, without_maps } => {
            export(api, &file, flight.as_deref(), !without_maps, json)
        }
        What::BackUp => {
            let made = api.back_up()?;
            if json {
                return print(&pretty(&json!({ "backup": made })));
            }
            print(&made.display().to_string())
        }
        What::Check => check(api, json),
        What::Restore { backup } => restore(api, backup, json),
    }
}

fn add(api: &Api, file: &Path, json: bool) -> Result<(), Failure> {
    let text: Box<dyn Read> = if file == Path::new("-") {
        Box::new(io::stdin().lock())
    } else {
        Box::new(File::open(file).map_err(|error| Failure::File(file.into(), error))?)
    };
    let facts = serde_json::Deserializer::from_reader(io::BufReader::new(text)).into_iter::<AddFact>();
    for (fact, number) in facts.zip(1..) {
        let fact = fact.map_err(|error| Failure::Bad(file.into(), format!("fact {number}: {error}")))?;
        let added = api.add_fact(&fact).map_err(|error| Failure::Refused(Some(file.into()), error))?;
        if json {
            print(&as_json(&added)?.to_string())?;
            continue;
        }
        print(&added.id)?;
        if let Some(warning) = added.warning {
            eprintln!("windfall: {}: fact {number}: {warning}", file.display());
        }
    }
    Ok(())
}

fn merged(merged: &Merged, json: bool) -> Result<(), Failure> {
    if json {
        return print(&pretty(&as_json(merged)?));
    }
    print(&format!("{} facts added, {} known already", merged.added, merged.known))?;
    for id in &merged.differing {
        print(&format!("fact {id} says something else there; ours is kept"))?;
    }
    Ok(())
}

fn import(api: &Api, file: &Path, into: Option<&str>, json: bool) -> Result<(), Failure> {
    let bytes = std::fs::read(file).map_err(|error| Failure::File(file.into(), error))?;
    let refused = |error| Failure::Refused(Some(file.into()), error);
    if file.extension().is_some_and(|ending| ending == "jsonl") {
        return merged(&api.import_archive(&bytes).map_err(refused)?, json);
    }
    let into = into.map(|name| api.logged_flight(name)).transpose()?;
    let name = file.to_string_lossy();
    let taken = api.import_file(&bytes, &name, into.as_ref()).map_err(refused)?;
    let flight = taken.flight.id.as_deref().unwrap_or("?");
    if json {
        let said = json!({"flight": flight, "taken": taken.taken, "not_taken": taken.not_taken});
        return print(&pretty(&said));
    }
    print(&format!("{flight}: {} pieces taken", taken.taken))?;
    for words in &taken.not_taken {
        print(&format!("not taken: {words}"))?;
    }
    Ok(())
}

fn weather(api: &Api, file: &Path, json: bool) -> Result<(), Failure> {
    let text = std::fs::read_to_string(file).map_err(|error| Failure::File(file.into(), error))?;
    let taken =
        api.take_weather(&TakeText { text }).map_err(|error| Failure::Refused(Some(file.into()), error))?;
    if json {
        return print(&pretty(&as_json(&taken)?));
    }
    let air = if taken.air { " and the air at the pad" } else { "" };
    print(&format!("{}: {} rows of wind{air} taken", taken.day.date, taken.wind))?;
    if taken.unused_air > 0 {
        print(&format!(
            "not used: the air of {} higher rows: only that at the pad is used",
            taken.unused_air
        ))?;
    }
    Ok(())
}

/// Never over a file that is there.
fn export(api: &Api, file: &Path, flight: Option<&str>, with_maps: bool, json: bool) -> Result<(), Failure> {
    let name = file.to_string_lossy();
    let ending = file.extension().and_then(|it| it.to_str()).unwrap_or_default();
    let text = match (flight, ending) {
        (Some(flight), _) => api.export_logged(flight, &name)?,
        (None, "jsonl") => api.export_archive(with_maps)?,
        (None, "gpx" | "kml" | "geojson" | "csv") => api.export_all(&name)?,
        (None, _) => {
            let message = "--flight: name one, or write the whole logbook to .jsonl, its flights to .gpx, .kml, .geojson or .csv";
            return Err(Failure::Bad(file.into(), message.into()));
        }
    };
    write_new(file, &text).map_err(|error| Failure::File(file.into(), error))?;
    if json { print(&json!({ "file": file, "bytes": text.len() }).to_string()) } else { print(&name) }
}

/// Whole or not at all.
fn write_new(file: &Path, text: &str) -> io::Result<()> {
    if file.try_exists()? {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    whole_file::written(file, text.as_bytes())
}

fn restore(api: &Api, backup: Option<String>, json: bool) -> Result<(), Failure> {
    let offered = || api.logbook_standing().map(|it| it.offered.map(|it| it.backup));
    let backup = backup.map_or_else(offered, |named| Ok(Some(named)))?;
    let none =
        || Failure::Other("there is no backup that is whole, or none is needed: see `log check`".into());
    let backup = backup.ok_or_else(none)?;
    let restored = api.restore_backup(&RestoreBackup { backup: Some(backup.clone()) })?;
    if json {
        return print(&pretty(&json!({ "backup": backup, "aside": restored.aside })));
    }
    print(&format!("{backup} is the logbook now; what was there is {}", restored.aside))
}

fn check(api: &Api, json: bool) -> Result<(), Failure> {
    let found = api.check_logbook()?;
    if json {
        print(&pretty(&as_json(&found)?))?;
    } else {
        for wrong in &found.wrong {
            print(wrong)?;
        }
        let newest = found.backups.last().map_or("none".into(), |path| path.display().to_string());
        print(&format!("{} things wrong; newest backup: {newest}", found.wrong.len()))?;
    }
    if found.wrong.is_empty() { Ok(()) } else { Err(Failure::Other("the logbook is not sound".into())) }
}

fn noted(id: &str, json: bool) -> Result<(), Failure> {
    print(&if json { json!({ "id": id }).to_string() } else { id.into() })
}

fn some(text: String) -> Option<String> {
    (!text.is_empty()).then_some(text)
}

/// One line: when, what, which, and what it says.
fn told(said: &Said) -> String {
    let Said { noted_at, fact } = said;
    let text = if fact.json == Value::Null { String::new() } else { fact.json.to_string() };
    let mut shown: String = text.chars().take(SHOWN).collect();
    if shown.len() < text.len() {
        shown += " ...";
    }
    format!("{}  {}  {}  {shown}", noted_at.as_deref().unwrap_or("?"), fact.kind, fact.id)
}

pub(crate) fn own_folder() -> Result<PathBuf, Failure> {
    let folders = directories::ProjectDirs::from("", "", "windfall");
    let folder = folders.map(|folders| folders.data_dir().to_path_buf());
    folder.ok_or_else(|| Failure::Other("no home folder here: name one with --logbook DIR".into()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_never_written_over_another() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("all.jsonl");
        write_new(&file, "all of it").unwrap();
        assert_eq!(write_new(&file, "other").unwrap_err().kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(std::fs::read(&file).unwrap(), b"all of it");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
