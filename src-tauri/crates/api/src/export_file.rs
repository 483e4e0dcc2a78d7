use crate::logged_flight::logged;
use crate::{Api, ApiError, Code, background, call::guarded, keep, photos};
use windfall_facts::{Answer, Flight, Sentence};
use windfall_logbook::exchange::{self, ExchangeError, Format, archive};
use windfall_logbook::{Filter, Logbook, about};

impl Api {
    /// A flight, with what its last answer says if there is one, as the text of a file.
    ///
    /// `to` is the name of the file, or the word for its format: flight, gpx, kml, geojson, csv.
    ///
    /// # Errors
    /// When the format is not known or holds no single flight.
    pub fn export_file(
        &self,
        flight: &Flight,
        answer: Option<&Answer>,
        to: &str,
    ) -> Result<String, ApiError> {
        guarded(|| Ok(exchange::write(Format::of(to)?, flight, answer)?))
    }

    /// All flights of the logbook in one file: as a table for a spreadsheet, a row each (`csv`), or on a map (`gpx`, `kml`,
    /// `geojson`). `to` as in [`Api::export_file`].
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read; when the format is not known or holds one flight only.
    pub fn export_all(&self, to: &str) -> Result<String, ApiError> {
        guarded(|| {
            let format = Format::of(to)?;
            let book = self.open_logbook()?;
            let mut rows = Vec::new();
            for row in book.flights(&Filter::default())? {
                if let Some(logged) = logged(&book, &row.name)? {
                    rows.push((logged.flight, last_answer(&book, &row.name)?));
                }
            }
            let rows: Vec<_> = rows.iter().map(|(flight, answer)| (flight, answer.as_ref())).collect();
            Ok(exchange::write_all(format, &rows)?)
        })
    }

    /// A flight of the logbook, with its last answer, as the text of a file; `to` as in [`Api::export_file`]. Every piece of
    /// evidence has an identifier in it: one that is corrected there and imported again is corrected here.
    ///
    /// # Errors
    /// When no logbook is open, there is no such flight, or the format is not known or holds no single flight.
    pub fn export_logged(&self, flight: &str, to: &str) -> Result<String, ApiError> {
        let answer = last_answer(&*self.open_logbook()?, flight)?;
        self.export_file(&self.logged(flight)?.identified(), answer.as_ref(), to)
    }

    /// The whole logbook as the text of an archive, photos and all; with what lies under the maps of its fields, or without.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn export_archive(&self, with_maps: bool) -> Result<String, ApiError> {
        guarded(|| {
            let book = self.open_logbook()?;
            let packed = |fact| {
                let fact = photos::packed(&book, fact);
                if with_maps { background::packed(&book, fact) } else { fact }
            };
            let facts = book.all_facts()?.into_iter().map(packed);
            Ok(archive::write(&facts.collect::<Vec<_>>())?)
        })
    }
}

pub(crate) fn last_answer(book: &Logbook, flight: &str) -> Result<Option<Answer>, ApiError> {
    let fact = book.last_in_force(about::FLIGHT, flight, keep::ANSWER)?;
    Ok(fact.and_then(|fact| serde_json::from_value(fact.json).ok()))
}

impl From<ExchangeError> for ApiError {
    fn from(error: ExchangeError) -> Self {
        let code = match error {
            ExchangeError::UnknownFormat { .. } | ExchangeError::CannotHold { .. } => Code::BadRequest,
            _ => Code::BadFlight,
        };
        let message = error.to_string();
        match error {
            ExchangeError::Unreadable { mark, .. } => {
                let (line, column) = (mark.line, mark.column.unwrap_or(1));
                Self::new(code, message).saying(Sentence::UnreadableAt { line, column })
            }
            ExchangeError::Altered { .. } => Self::new(code, message).saying(Sentence::ArchiveAltered {}),
            ExchangeError::UnknownFormat { given } => {
                Self::new(code, message).saying(Sentence::UnknownFile { name: given })
            }
            ExchangeError::Field { mark, field: name, why, .. } => {
                Self::new(code, message).saying(match mark {
                    Some(mark) => Sentence::NotReadAt { line: mark.line, name, why },
                    None => Sentence::NotRead { name, why },
                })
            }
            ExchangeError::TooLarge { bytes, allowed, .. } => {
                let [mb, most_mb] = [bytes.div_ceil(BYTES_OF_A_MB), allowed / BYTES_OF_A_MB];
                Self::new(code, message).saying(Sentence::FileTooLarge { mb, most_mb })
            }
            ExchangeError::CannotHold { why, .. } => {
                Self::new(code, message).saying(Sentence::NothingInFile { why })
            }
        }
    }
}

const BYTES_OF_A_MB: usize = 1_000_000;

#[cfg(test)]
mod tests {
    use crate::call::tests::with_logbook;
    use serde_json::json;

    #[test]
    fn what_is_wrong_with_a_file_is_said_in_words_that_every_screen_has() {
        let (_folder, api) = with_logbook();
        let said = |call: &str, asked| {
            let error = api.call(call, asked).unwrap_err();
            serde_json::to_value(error.said.unwrap_or_else(|| panic!("{}", error.message))).unwrap()
        };
        let map = |text: &str| json!({"text": text, "about": {"lat": 47.5, "lon": 17.3}});
        assert_eq!(said("import_map", map("<osm><node"))["say"], "unreadable_at");
        let astray = "<osm version=\"0.6\">\n<node id=\"1\" lat=\"north\" lon=\"8\"/>\n<way id=\"2\"><nd ref=\"1\"/></way></osm>";
        let got = said("import_map", map(astray));
        assert_eq!((&got["say"], &got["line"]), (&json!("not_read_at"), &json!(2)), "{got}");
        let weather = |text: &str| json!({ "text": text });
        let got = said("take_weather", weather("height_m,speed_mps,from_deg\n2,fast,240\n"));
        assert_eq!(
            (&got["say"], &got["line"], &got["name"]),
            (&json!("not_read_at"), &json!(2), &json!("speed_mps"))
        );
        assert_eq!(said("take_weather", weather("{\"wind\": 3}"))["say"], "not_read_at");
        // The details too: no file that somebody may bring is refused in words that only a terminal has.
        let told = |it: &serde_json::Value| it["why"]["say"].as_str().unwrap_or_default().to_owned();
        assert_eq!(told(&got), "number_with_point", "{got}");
        for (text, say) in [
            ("altitude_m,speed_mps\n2,3\n", "height_above_ground"),
            ("height_m,warmth\n2,3\n", "no_such_column"),
            ("height_m,speed_mps\n", "no_row"),
            ("height_m,speed_mps\n2,99\n", "out_of_range"),
            ("{\"rain\": 3}", "wind_or_air"),
            ("{\"wind\": [{\"sped_mps\": 3}]}", "unknown_key_near"),
        ] {
            assert_eq!(told(&said("take_weather", weather(text))), say, "{text}");
        }
    }
}
