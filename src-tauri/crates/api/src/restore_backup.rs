use crate::daily_look::Looking;
use crate::logbook_standing::is_of_the_file;
use crate::{Api, ApiError, Code, call::guarded, clock, locked};
use serde::{Deserialize, Serialize};
use std::sync::atomic::Ordering;
use windfall_facts::Sentence;
use windfall_logbook::{Backup, Logbook};

/// What to put in the place of a logbook that cannot be used.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RestoreBackup {
    /// Name of the backup; null to begin anew.
    pub backup: Option<String>,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Restored {
    /// Where the file that was there is kept, within the folder of the logbook.
    pub aside: String,
}

impl Api {
    /// Puts a backup, or an empty logbook, in the place of one that is damaged or of a newer program, and goes on with it.
    /// What was there is kept beside it. What was told since this program began is noted in it as well.
    ///
    /// # Errors
    /// When there is nothing wrong with the logbook that another file would end, there is no such backup or it is damaged,
    /// or the disk refuses. Nothing is changed then.
    pub fn restore_backup(&self, asked: &RestoreBackup) -> Result<Restored, ApiError> {
        guarded(|| {
            let none = || ApiError::said(Code::NotFound, Sentence::NoLogbookOpen {});
            let folder = self.folder.as_ref().ok_or_else(none)?;
            // The look may have the file open.
            locked(&self.daily_look).ended();
            let trouble = self.daily_look_found().filter(is_of_the_file);
            let trouble =
                trouble.ok_or_else(|| ApiError::said(Code::BadRequest, Sentence::LogbookNeedsNoBackup {}))?;
            let backup = asked.backup.as_deref().map(|name| {
                let of_that_name = |it: &Backup| it.path.file_name().is_some_and(|known| known == name);
                let message = format!("backup: there is no {name:?} beside the logbook");
                let all = Backup::all(folder);
                all.into_iter().find(of_that_name).ok_or_else(|| ApiError::new(Code::NotFound, message))
            });
            let backup = backup.transpose()?;
            let mut held = locked(&self.logbook);
            self.is_logbook_open.store(false, Ordering::Release);
            *held = None;
            let gone = Logbook::go_back(folder, backup.as_ref(), clock::today());
            let opened = self.open_into(&mut held, folder);
            drop(held);
            let aside = match (gone, opened) {
                (Ok(aside), Ok(())) => aside,
                (gone, opened) => {
                    *locked(&self.daily_look) = Looking::found(trouble);
                    return Err(gone.map_err(ApiError::from).err().or(opened.err()).unwrap_or_else(none));
                }
            };
            self.lessons.forget();
            for flight in self.all_told() {
                self.keep_facts(&flight)?;
            }
            let aside = aside.strip_prefix(folder).unwrap_or(&aside);
            Ok(Restored { aside: aside.to_string_lossy().into_owned() })
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, turn_a_page_over};
    use crate::{Api, Settings};
    use serde_json::{Value, json};
    use std::fs;
    use std::path::Path;

    fn tell(api: &Api, id: &str, day: u32) {
        let flight = json!({"format": "windfall-flight/1", "id": id, "title": id, "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "C6-5"}]}, "launch": {"at": format!("2026-05-{day:02}T10:00:00+02:00")},
            "evidence": [{"kind": "saw", "mode": "opened", "sure": "sure"}]});
        called(api, "tell_flight", json!({ "flight": flight }));
    }

    fn opened(folder: &Path) -> Api {
        Api::new(Settings::default()).with_logbook_or_warning(folder)
    }

    fn standing(api: &Api) -> Value {
        called(api, "logbook_standing", json!({}))
    }

    /// A logbook of two flights on two days with a backup, and a third flight since.
    fn backed_up() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        let api = opened(folder.path());
        tell(&api, "heron", 16);
        tell(&api, "egret", 17);
        assert_eq!(standing(&api)["backup"], json!(null));
        called(&api, "back_up", json!({}));
        tell(&api, "linnet", 17);
        let it = standing(&api);
        assert_eq!(
            (&it["is_open"], &it["trouble"], &it["offered"]),
            (&json!(true), &json!(null), &json!(null))
        );
        assert_eq!((&it["flights"], &it["days"], &it["photos"]), (&json!(3), &json!(2), &json!(0)));
        assert!(it["backup"]["at"].as_str().unwrap().len() > 18, "{it}");
        folder
    }

    #[test]
    fn a_logbook_that_cannot_be_opened_offers_its_backup_and_goes_on_with_it() {
        let folder = backed_up();
        let file = folder.path().join("windfall.sqlite");
        fs::write(&file, "somebody's notes").unwrap();
        let api = opened(folder.path());
        let it = standing(&api);
        assert_eq!((&it["is_open"], &it["may_replace"]), (&json!(false), &json!(true)));
        assert_eq!(it["trouble"]["said"]["say"], "logbook_damaged");
        let offered = &it["offered"];
        assert_eq!((&offered["flights"], &offered["days"]), (&json!(2), &json!(2)));
        assert!(offered["at"].is_string());
        // Whoever asks for the logbook hears what is wrong with it.
        assert_eq!(api.call("fleet", json!({})).unwrap_err().said, api.daily_look_found().unwrap().said);
        // Told meanwhile: kept by nobody yet.
        tell(&api, "wren", 18);
        assert_eq!(fs::read_to_string(&file).unwrap(), "somebody's notes");

        assert!(api.call("restore_backup", json!({"backup": "../windfall.sqlite"})).is_err());
        assert_eq!(fs::read_to_string(&file).unwrap(), "somebody's notes");
        let aside = called(&api, "restore_backup", json!({"backup": offered["backup"]}))["aside"].clone();
        let kept = folder.path().join(aside.as_str().unwrap());
        assert_eq!(fs::read_to_string(kept).unwrap(), "somebody's notes");
        let it = standing(&api);
        assert_eq!((&it["is_open"], &it["trouble"], &it["flights"]), (&json!(true), &json!(null), &json!(3)));
        let names: Vec<_> = api.list_log(&crate::ListLog::default()).unwrap();
        assert_eq!(names.iter().map(|it| &*it.name).collect::<Vec<_>>(), ["heron", "egret", "wren"]);
        assert_eq!(called(&api, "check_logbook", json!({}))["wrong"], json!([]));
        // And it stays so.
        drop(api);
        assert_eq!(standing(&opened(folder.path()))["flights"], 3);
    }

    #[test]
    fn a_logbook_that_is_whole_is_not_replaced() {
        let folder = backed_up();
        let api = opened(folder.path());
        let name = fs::read_dir(folder.path().join("backups")).unwrap().find_map(|it| {
            let name = it.unwrap().file_name().to_str().unwrap().to_owned();
            name.ends_with(".sqlite").then_some(name)
        });
        for backup in [json!(name), json!(null)] {
            let error = api.call("restore_backup", json!({ "backup": backup })).unwrap_err();
            assert_eq!(error.said.as_deref(), Some(&super::Sentence::LogbookNeedsNoBackup {}));
        }
        assert_eq!(standing(&api)["flights"], 3);
    }

    #[test]
    fn a_damaged_page_is_found_by_the_check_and_the_backup_is_offered_while_it_is_in_use() {
        let folder = backed_up();
        turn_a_page_over(opened(folder.path()), folder.path());
        let api = opened(folder.path());
        assert_eq!(api.logbook_warning_at_last(), None, "there is a backup of today: nobody looked yet");
        let checked = api.call("check_logbook", json!({}));
        let said = match checked {
            Ok(crate::Reply::Json(text)) => serde_json::from_str::<Value>(&text).unwrap()["said"][0].clone(),
            Err(error) => json!(error.said),
            Ok(crate::Reply::Bytes(_)) => panic!("bytes"),
        };
        assert_eq!(said["say"], "logbook_damaged");
        let it = standing(&api);
        assert_eq!((&it["is_open"], &it["may_replace"]), (&json!(true), &json!(true)));
        assert!(api.call("back_up", json!({})).is_err(), "a damaged one pushes out no backup");
        called(&api, "restore_backup", json!({"backup": it["offered"]["backup"]}));
        let it = standing(&api);
        assert_eq!((&it["trouble"], &it["flights"]), (&json!(null), &json!(2)));
        assert_eq!(called(&api, "check_logbook", json!({}))["wrong"], json!([]));
        assert_eq!(fs::read_dir(folder.path().join("aside")).unwrap().count(), 1);
    }

    #[test]
    fn of_a_newer_program_it_is_said_and_without_a_backup_one_can_begin_anew() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("windfall.sqlite");
        fs::write(&file, "somebody's notes").unwrap();
        let api = opened(folder.path());
        let it = standing(&api);
        assert_eq!(
            (&it["may_replace"], &it["offered"], &it["backup"]),
            (&json!(true), &json!(null), &json!(null))
        );
        assert_eq!(it["trouble"]["said"]["say"], "logbook_damaged_no_backup");
        called(&api, "restore_backup", json!({"backup": null}));
        let it = standing(&api);
        assert_eq!((&it["is_open"], &it["flights"]), (&json!(true), &json!(0)));
        assert_eq!(fs::read_dir(folder.path().join("aside")).unwrap().count(), 1);
    }

    #[test]
    fn what_no_other_file_would_end_is_said_and_nothing_is_offered() {
        let folder = tempfile::tempdir().unwrap();
        // In the way of the folder, also for who may write everywhere.
        let taken = folder.path().join("taken");
        fs::write(&taken, "").unwrap();
        let api = opened(&taken);
        let it = standing(&api);
        assert_eq!(it["trouble"]["said"]["say"], "logbook_read_only");
        assert_eq!(
            (&it["is_open"], &it["may_replace"], &it["offered"]),
            (&json!(false), &json!(false), &json!(null))
        );
        assert!(api.call("restore_backup", json!({"backup": null})).is_err());
        assert_eq!(standing(&Api::new(Settings::default()))["is_kept"], false);
    }
}
