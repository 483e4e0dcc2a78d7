//! A whole logbook as one plain file, to be merged without loss: JSON lines (`windfall-archive/1`).
//!
//! The first line says what the file is, each following line is one fact, the last line counts and seals them:
//!
//! ```text
//! {"format":"windfall-archive/1"}
//! {"id":"0005...","flight":"heron-lost","kind":"sighting","version":1,"json":{"moment":"lost"}}
//! {"facts":1,"sha256":"..."}
//! ```
//!
//! Lines end in one line feed. The seal is SHA-256 of every byte before its line: a file that was cut off, or of which
//! one byte was changed, is refused whole. It guards against accidents, not against people.
//!
//! Any serde type can be the fact. One whose JSON is kept as [`serde_json::value::RawValue`] or as text comes back bit
//! for bit; a number kept as `f64` comes back as the number that serde reads from the shortest decimal.

use super::{ExchangeError, Format, Mark};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use windfall_facts::Sentence;

/// What the first line says.
pub const FORMAT: &str = "windfall-archive/1";

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Head {
    format: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Seal {
    facts: usize,
    sha256: String,
}

/// All `facts` in the order given.
///
/// # Errors
/// When a fact has no JSON, or none on one line.
pub fn write<'a, T: Serialize + 'a>(facts: impl IntoIterator<Item = &'a T>) -> Result<String, ExchangeError> {
    let mut text = String::new();
    line(&mut text, &Head { format: FORMAT.into() })?;
    let mut count = 0;
    for fact in facts {
        line(&mut text, fact)?;
        count += 1;
    }
    let seal = Seal { facts: count, sha256: hash(&text) };
    line(&mut text, &seal)?;
    Ok(text)
}

fn line(text: &mut String, thing: &impl Serialize) -> Result<(), ExchangeError> {
    let cannot = |message: String| ExchangeError::cannot_hold(Format::Archive, message);
    let written = serde_json::to_string(thing).map_err(|error| cannot(error.to_string()))?;
    if written.contains('\n') {
        return Err(cannot(format!("a fact goes over several lines: {}", written.replace('\n', " "))));
    }
    text.push_str(&written);
    text.push('\n');
    Ok(())
}

fn hash(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// All facts of an archive in their order, or none.
///
/// # Errors
/// When the file is no archive, was cut off or altered, or names the line of a fact that cannot be read.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<Vec<T>, ExchangeError> {
    let altered = |message: &str| ExchangeError::Altered { message: message.into() };
    let Some((first, _)) = text.split_once('\n') else {
        return Err(altered("it has no first line that says what it is"));
    };
    match serde_json::from_str::<Head>(first) {
        Ok(Head { format }) if format == FORMAT => {}
        Ok(Head { format }) => {
            let why = Sentence::OneOfThese { written: format, allowed: FORMAT.into() };
            let mark = Mark { line: 1, column: None };
            return Err(ExchangeError::field(Format::Archive, Some(mark), "format", why));
        }
        Err(_) => return Err(altered("its first line does not say that it is one")),
    }
    let body = text.strip_suffix('\n').ok_or_else(|| altered("it was cut off in its last line"))?;
    let sealed = body.rfind('\n').map_or(0, |at| at + 1);
    let seal: Seal = serde_json::from_str(&body[sealed..])
        .map_err(|_| altered("it was cut off: its last line is not the seal"))?;
    if hash(&text[..sealed]) != seal.sha256 {
        return Err(altered("it was altered: the check sum in its last line does not fit"));
    }
    let facts = text[..sealed]
        .lines()
        .zip(1..)
        .skip(1)
        .map(|(line, number)| {
            serde_json::from_str(line).map_err(|error| ExchangeError::Unreadable {
                format: Format::Archive,
                mark: Mark { line: number, column: Some(error.column()) },
                message: error.to_string(),
            })
        })
        .collect::<Result<Vec<T>, _>>()?;
    if facts.len() == seal.facts {
        Ok(facts)
    } else {
        Err(altered(&format!("it holds {} facts where its last line counts {}", facts.len(), seal.facts)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::value::RawValue;

    #[derive(Clone, Debug, Serialize, Deserialize)]
    struct Kept {
        id: String,
        flight: String,
        kind: String,
        version: u32,
        replaces: Option<String>,
        json: Box<RawValue>,
    }

    fn facts() -> Vec<Kept> {
        // Numbers and key orders that a reader of values would not give back as they were.
        [
            r#"{"b":0.1,"a":1e3,"c":[1.0,-0.0,123456789012345678901234567890]}"#,
            r#"{"text":"two\nlines, \u00e4 and ä, \"quoted\""}"#,
            "null",
        ]
        .iter()
        .enumerate()
        .map(|(number, json)| Kept {
            id: format!("{number:016x}"),
            flight: "heron-lost".into(),
            kind: "sighting".into(),
            version: 1,
            replaces: (number == 2).then(|| "0".into()),
            json: RawValue::from_string((*json).into()).unwrap(),
        })
        .collect()
    }

    #[test]
    fn facts_come_back_bit_for_bit() {
        let text = write(&facts()).unwrap();
        let back: Vec<Kept> = read(&text).unwrap();
        assert_eq!(back.len(), 3);
        for (fact, back) in facts().iter().zip(&back) {
            assert_eq!(fact.json.get(), back.json.get());
            assert_eq!(format!("{fact:?}"), format!("{back:?}"));
        }
        assert_eq!(write(&back).unwrap(), text);
        assert_eq!(read::<Kept>(&write::<Kept>(&[]).unwrap()).unwrap().len(), 0);
    }

    #[test]
    fn the_seal_is_the_sha_256_of_fips_180() {
        // Source: NIST, FIPS 180-4 example "abc".
        assert_eq!(hash("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn an_archive_cut_off_anywhere_is_refused_whole() {
        let text = write(&facts()).unwrap();
        for end in (0..text.len()).filter(|end| text.is_char_boundary(*end)) {
            assert!(read::<Kept>(&text[..end]).is_err(), "cut at {end}");
        }
    }

    #[test]
    fn an_archive_altered_anywhere_is_refused_whole() {
        let text = write(&facts()).unwrap();
        for at in 0..text.len() {
            for change in [b'0', b'"', b' '] {
                let mut bytes = text.clone().into_bytes();
                if bytes[at] == change {
                    continue;
                }
                bytes[at] = change;
                let Ok(altered) = String::from_utf8(bytes) else { continue };
                assert!(read::<Kept>(&altered).is_err(), "changed at {at}");
            }
        }
        let without_a_fact: Vec<&str> = text.lines().filter(|line| !line.contains("two")).collect();
        let refusal = read::<Kept>(&(without_a_fact.join("\n") + "\n")).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "archive: it was altered: the check sum in its last line does not fit; nothing of it is taken"
        );
    }

    #[test]
    fn a_file_of_another_kind_or_a_newer_one_says_so() {
        let said = |text: &str| read::<Kept>(text).unwrap_err().to_string();
        assert!(said("").contains("no first line"));
        assert!(said("{\"format\":\"windfall-flight/1\"}\n").contains("allowed: windfall-archive/1"));
        assert!(said("<gpx/>\n").contains("does not say that it is one"));
    }

    #[test]
    fn a_fact_that_cannot_be_read_is_named_by_its_line() {
        let text = write(&["not a fact"]).unwrap();
        assert!(read::<Kept>(&text).unwrap_err().to_string().starts_with("archive, line 2, column"));
    }
}
