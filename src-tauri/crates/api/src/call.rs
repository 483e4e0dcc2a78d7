//! One door for window and HTTP.

use crate::{Api, ApiError, Code, priors, schema};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::panic::{AssertUnwindSafe, catch_unwind};
use windfall_facts::Sentence;

/// What a call gives back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reply {
    /// JSON text.
    Json(String),
    /// Bytes that would be wasteful as JSON.
    Bytes(Vec<u8>),
}

impl Api {
    /// Runs the use case `name` with the JSON object `arguments`.
    ///
    /// # Errors
    /// For an unknown name, arguments that do not fit, and whatever the use case refuses. A panic is an error too.
    pub fn call(&self, name: &str, arguments: Value) -> Result<Reply, ApiError> {
        guarded(|| match name {
            "list_flights" => json(&self.list_flights()?),
            "show_flight" => json(&self.show_flight(&read(arguments)?)?),
            "locate_flight" => json(&self.locate_flight(&read(arguments)?)?),
            "answer_flight" => json(&self.answer_flight(&read(arguments)?)?),
            "add_evidence" => json(&self.add_evidence(&read(arguments)?)?),
            "note_find" => json(&self.note_find(&read(arguments)?)?),
            "record_find" => json(&self.record_find(&read(arguments)?)?),
            "close_flight" => json(&self.close_flight(&read(arguments)?)?),
            "search_again" => json(&self.search_again(&read(arguments)?)?),
            "tell_flight" => json(&self.tell_flight(&read(arguments)?)?),
            "walk_to" => json(&self.walk_to(&read(arguments)?)?),
            "lead_to" => json(&self.lead_to(&read(arguments)?)?),
            "position" => json(&self.position()?),
            "light_left" => json(&self.light_left(&read(arguments)?)?),
            "check_altimeter" => json(&self.check_altimeter(&read(arguments)?)?),
            "check_heading" => json(&self.check_heading(&read(arguments)?)?),
            "heading_checks" => json(&self.heading_checks()?),
            "append_track" => json(&self.append_track(&read(arguments)?)?),
            "watch_fall" => json(&self.watch_fall(&read(arguments)?)?),
            "rough_answer" => json(&self.rough_answer(&read(arguments)?)?),
            "expected_opening" => json(&self.expected_opening(&read(arguments)?)?),
            "landing_density" => Ok(Reply::Bytes(self.landing_density(&read(arguments)?)?)),
            "list_log" => json(&self.list_log(&read(arguments)?)?),
            "show_log" => json(&self.show_log(&read(arguments)?)?),
            "add_fact" => json(&self.add_fact(&read(arguments)?)?),
            "photo" => Ok(Reply::Bytes(self.photo(&read(arguments)?)?)),
            "set_aside" => json(&self.set_aside(&read(arguments)?)?),
            "take_back_flight" => json(&self.take_back_flight(&read(arguments)?)?),
            "undo" => json(&self.undo(&read(arguments)?)?),
            "beliefs" => json(&self.beliefs(&read(arguments)?, &mut |_| {})?),
            "beliefs_progress" => json(&self.beliefs_progress()),
            "back_up" => json(&self.back_up()?),
            "logbook_warning" => json(&self.logbook_warning()),
            "logbook_standing" => json(&self.logbook_standing()?),
            "restore_backup" => json(&self.restore_backup(&read(arguments)?)?),
            "take_out" => Ok(Reply::Bytes(self.take_out(&read(arguments)?)?)),
            "put_in" => json(&self.put_in(&read(arguments)?)?),
            "check_logbook" => json(&self.check_logbook()?),
            "read_motor" => json(&self.read_motor(&read(arguments)?)?),
            "sketch_rocket" => json(&self.sketch_rocket(&read(arguments)?)?),
            "fleet" => json(&self.fleet()?),
            "keep_rocket" => json(&self.keep_rocket(&read(arguments)?)?),
            "retire_rocket" => json(&self.retire_rocket(&read(arguments)?)?),
            "note_repair" => json(&self.note_repair(&read(arguments)?)?),
            "change_stock" => json(&self.change_stock(&read(arguments)?)?),
            "sites" => json(&self.sites()?),
            "keep_site" => json(&self.keep_site(&read(arguments)?)?),
            "look_downwind" => json(&self.look_downwind(&read(arguments)?)?),
            "drop_look" => json(&self.drop_look(&read(arguments)?)?),
            "write_site" => json(&self.write_site(&read(arguments)?)?),
            "take_site" => json(&self.take_site(&read(arguments)?)?),
            "bring_file" => json(&self.bring_file(&read(arguments)?)?),
            "fit_picture" => json(&self.fit_picture(&read(arguments)?)?),
            "keep_background" => json(&self.keep_background(&read(arguments)?)?),
            "drop_background" => json(&self.drop_background(&read(arguments)?)?),
            "background" => json(&self.background_of(&read(arguments)?)?),
            "background_picture" => Ok(Reply::Bytes(self.background_picture(&read(arguments)?)?)),
            "tiles_over" => json(&self.tiles_over(&read(arguments)?)?),
            "background_tile" => Ok(Reply::Bytes(self.background_tile(&read(arguments)?)?)),
            "import_map" => json(&self.import_map(&read(arguments)?)?),
            "day" => json(&self.day()?),
            "keep_day" => json(&self.keep_day(&read(arguments)?)?),
            "tell_wind" => json(&self.tell_wind(&read(arguments)?)?),
            "ready_flights" => json(&self.ready_flights()?),
            "likes" => json(&self.likes()?),
            "keep_likes" => json(&self.keep_likes(&read(arguments)?)?),
            "pick_up" => json(&self.pick_up(&read(arguments)?)?),
            "show_someone" => json(&self.show_someone()?),
            "may_come_down" => json(&self.may_come_down(&read(arguments)?)?),
            "compare_leans" => json(&self.compare_leans(&read(arguments)?)?),
            "rename_pad" => json(&self.rename_pad(&read(arguments)?)?),
            "drop_pad" => json(&self.drop_pad(&read(arguments)?)?),
            "photos" => json(&self.photos(&read(arguments)?)?),
            "keep_photo" => json(&self.keep_photo(&read(arguments)?)?),
            "take_weather" => json(&self.take_weather(&read(arguments)?)?),
            "story" => json(&self.story(&read(arguments)?)?),
            "drift_by_wind" => json(&self.drift_by_wind()?),
            "season_start" => json(&self.season_start()?),
            "share_target" => json(&self.share_target(&read(arguments)?)?),
            "share_seen" => json(&self.share_seen(&read(arguments)?)?),
            "take_shared" => json(&self.take_shared(&read(arguments)?)?),
            "priors" => json(&priors()),
            "schema" => json(&schema()),
            _ => Err(ApiError::new(Code::NotFound, format!("no call \"{name}\""))),
        })
    }
}

fn read<T: DeserializeOwned>(arguments: Value) -> Result<T, ApiError> {
    serde_json::from_value(arguments).map_err(|error| ApiError::new(Code::BadRequest, error.to_string()))
}

fn json(thing: &impl Serialize) -> Result<Reply, ApiError> {
    serde_json::to_string(thing)
        .map(Reply::Json)
        .map_err(|error| ApiError::new(Code::Defect, error.to_string()))
}

/// Turns a panic inside `work` into an error, so that one bad flight does not end the app.
pub(crate) fn guarded<T>(work: impl FnOnce() -> Result<T, ApiError>) -> Result<T, ApiError> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|panic| {
        let said = panic.downcast_ref::<String>().map(String::as_str);
        let said = said.or_else(|| panic.downcast_ref::<&str>().copied()).unwrap_or("no message");
        let message = format!("a defect of this program, please report it: {said}");
        Err(ApiError::new(Code::Defect, message).saying(Sentence::ADefect {}))
    })
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use serde_json::json;

    /// An api with a logbook of its own.
    pub(crate) fn with_logbook() -> (tempfile::TempDir, Api) {
        let folder = tempfile::tempdir().unwrap();
        let api = Api::new(crate::Settings::default()).with_logbook(folder.path()).unwrap();
        (folder, api)
    }

    /// The JSON that a call gives.
    pub(crate) fn called(api: &Api, name: &str, arguments: Value) -> Value {
        match api.call(name, arguments).unwrap() {
            Reply::Json(text) => serde_json::from_str(&text).unwrap(),
            Reply::Bytes(_) => panic!("bytes"),
        }
    }

    /// Writes many notes into the logbook in a folder, closes it, and turns one of their pages over.
    pub(crate) fn turn_a_page_over(api: Api, folder: &std::path::Path) {
        for number in 0..60 {
            let note = json!({"note": "x".repeat(3000), "number": number});
            let fact = json!({"about": "day", "name": "2026-05-16", "kind": "note", "json": note});
            called(&api, "add_fact", fact);
        }
        drop(api);
        let file = folder.join("windfall.sqlite");
        let mut bytes = std::fs::read(&file).unwrap();
        let middle = bytes.len() / 2 / 4096 * 4096;
        bytes[middle..middle + 4096].iter_mut().for_each(|byte| *byte = !*byte);
        std::fs::write(&file, bytes).unwrap();
    }

    #[test]
    fn a_panic_is_an_error_of_the_one_call() {
        let error = guarded::<()>(|| panic!("the barn is on fire")).unwrap_err();
        assert_eq!(error.code, Code::Defect);
        assert!(error.message.contains("the barn is on fire"));
    }
}
