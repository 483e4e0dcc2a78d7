//! What the flyer likes on this device, such as units: a file beside the logbook. It goes into no archive and is not merged.

use crate::{Api, ApiError, Code, call::guarded};
use serde::Deserialize;
use serde_json::Value;
use std::fs;
use std::path::PathBuf;
use windfall_facts::Sentence;
use windfall_logbook::whole_file;

/// More is nothing that a screen would keep.
const MOST_BYTES: usize = 64 << 10;

/// What is to be kept, as the screens have it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeepLikes {
    /// An object.
    pub likes: Value,
}

impl Api {
    /// What was kept last; null without a logbook, or if nothing was.
    ///
    /// # Errors
    /// None: what cannot be read is asked for again.
    pub fn likes(&self) -> Result<Value, ApiError> {
        guarded(|| {
            let text = self.likes_file().and_then(|file| fs::read_to_string(file).ok());
            Ok(text.and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default())
        })
    }

    /// Keeps it, in place of what was kept before; nothing without a logbook.
    ///
    /// # Errors
    /// When it is no object or too large, or the disk refuses.
    pub fn keep_likes(&self, asked: &KeepLikes) -> Result<(), ApiError> {
        guarded(|| {
            let text = asked.likes.to_string();
            if !asked.likes.is_object() || text.len() > MOST_BYTES {
                let message = format!("likes: an object of at most {MOST_BYTES} bytes is needed");
                return Err(ApiError::new(Code::BadRequest, message));
            }
            let Some(file) = self.likes_file() else { return Ok(()) };
            whole_file::written(&file, text.as_bytes()).map_err(|error| {
                ApiError::new(Code::Storage, format!("{}: {error}", file.display()))
                    .saying(Sentence::LogbookReadOnly {})
            })
        })
    }

    fn likes_file(&self) -> Option<PathBuf> {
        let folder = self.folder.as_ref().filter(|folder| folder.is_dir())?;
        Some(folder.join("likes.json"))
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use crate::{Api, Settings};
    use serde_json::{Value, json};

    #[test]
    fn what_the_flyer_likes_is_there_after_a_restart_and_in_no_archive() {
        let (folder, api) = with_logbook();
        assert_eq!(called(&api, "likes", json!({})), Value::Null);
        for units in ["metric", "imperial"] {
            called(&api, "keep_likes", json!({"likes": {"units": units}}));
        }
        for bad in [json!("imperial"), json!({"units": "x".repeat(70_000)})] {
            assert!(api.call("keep_likes", json!({ "likes": bad })).is_err());
        }
        assert!(!api.export_archive(true).unwrap().contains("imperial"));
        drop(api);
        let again = Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        assert_eq!(called(&again, "likes", json!({})), json!({"units": "imperial"}));
        let without = Api::new(Settings::default());
        called(&without, "keep_likes", json!({"likes": {}}));
        assert_eq!(called(&without, "likes", json!({})), Value::Null);
    }
}
