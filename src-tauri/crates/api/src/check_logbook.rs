use crate::daily_look::Looking;
use crate::logbook_standing::is_of_the_file;
use crate::{Api, ApiError, call::guarded, locked};
use serde::Serialize;
use std::path::PathBuf;
use windfall_facts::Sentence;
use windfall_logbook::{Backup, Wrong};

/// What came of looking a logbook over.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LogbookCheck {
    /// What is wrong, in words; nothing if all is well.
    pub wrong: Vec<String>,
    /// The same for a flyer: each kind of it once.
    pub said: Vec<Sentence>,
    /// Backups beside it, the newest last.
    pub backups: Vec<PathBuf>,
    /// Whether the newest backup is whole; null if there is none.
    pub backup_is_whole: Option<bool>,
}

impl Api {
    /// Looks the whole logbook over, and its newest backup; changes nothing. That the file is damaged is said from then on
    /// as if the look after opening had found it.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read at all.
    pub fn check_logbook(&self) -> Result<LogbookCheck, ApiError> {
        guarded(|| {
            let (checked, backups) = {
                let mut logbook = self.open_logbook()?;
                let checked = logbook.check().map_err(ApiError::from).map(|wrong| {
                    let damage = wrong.iter().find_map(|it| match it {
                        Wrong::File(said) => Some(ApiError::from(logbook.damaged(said))),
                        _ => None,
                    });
                    (wrong, damage)
                });
                (checked, logbook.backups())
            };
            let damage = match &checked {
                Ok((_, damage)) => damage.clone(),
                Err(error) => Some(error.clone()).filter(is_of_the_file),
            };
            if let Some(damage) = damage {
                *locked(&self.daily_look) = Looking::found(damage);
            }
            let (wrong, damage) = checked?;
            let newest = self.folder.as_deref().and_then(Backup::newest);
            Ok(LogbookCheck {
                said: said_of(&wrong, damage),
                wrong: wrong.iter().map(ToString::to_string).collect(),
                backups,
                backup_is_whole: newest.map(|it| it.look().is_ok()),
            })
        })
    }
}

fn said_of(wrong: &[Wrong], damage: Option<ApiError>) -> Vec<Sentence> {
    let count = |which: fn(&Wrong) -> bool| wrong.iter().filter(|it| which(it)).count();
    let notes = count(|it| matches!(it, Wrong::NoJson(_) | Wrong::NothingReplaced { .. }));
    let photos = count(|it| matches!(it, Wrong::NoPicture { .. }));
    let mut said: Vec<Sentence> = damage.and_then(|it| it.said).map(|it| *it).into_iter().collect();
    said.extend((notes > 0).then_some(Sentence::NotesUnreadable { count: notes }));
    said.extend((photos > 0).then_some(Sentence::PhotosMissing { count: photos }));
    said.extend((count(|it| matches!(it, Wrong::Table(_))) > 0).then_some(Sentence::ListsWrong {}));
    said
}
