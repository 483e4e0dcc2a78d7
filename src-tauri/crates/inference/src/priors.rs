//! The table of priors: every assumption that is not a fact of the flight.

use std::collections::BTreeMap;

/// One row of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Prior {
    /// Family as the table names it: normal, lognormal, `student_t`, loguniform, uniform, ...
    pub family: String,
    /// First parameter; zero where the row has none.
    pub a: f64,
    /// Second parameter; zero where the row has none.
    pub b: f64,
    /// Unit, in words.
    pub unit: String,
    /// Part of the variance that persists from flight to flight.
    pub persistent_share: f64,
    /// A document, or "judgement".
    pub source: String,
}

/// The table of priors.
#[derive(Clone, Debug, PartialEq)]
pub struct Priors {
    rows: BTreeMap<String, Prior>,
}

/// A table of priors that cannot be read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("line {line}: {message}")]
pub struct PriorsError {
    /// Line of the table, from 1.
    pub line: usize,
    /// What is wrong and what is allowed.
    pub message: String,
}

const HEADER: &str = "name,family,a,b,unit,persistent_share,source";

impl Priors {
    /// The table compiled into the program, as text.
    pub const EMBEDDED: &'static str = include_str!("priors.csv");

    /// The table compiled into the program.
    #[must_use]
    pub fn embedded() -> Self {
        Self { rows: read(Self::EMBEDDED).expect("the embedded table is checked by a test") }
    }

    /// The embedded table with the rows of `text` (same columns) in place of its own.
    ///
    /// # Errors
    /// Names the line and the column that cannot be read, and any row the program does not know.
    pub fn replaced_by(text: &str) -> Result<Self, PriorsError> {
        let mut table = Self::embedded();
        for (line, name) in text.lines().enumerate().filter_map(|(index, line)| {
            let name = line.split(',').next()?.trim();
            (!name.is_empty() && !name.starts_with('#') && line != HEADER).then_some((index + 1, name))
        }) {
            if !table.rows.contains_key(name) {
                let message = format!("`{name}` is no row of the table; `windfall priors` lists them");
                return Err(PriorsError { line, message });
            }
        }
        table.rows.extend(read(text)?);
        Ok(table)
    }

    /// The table in which the launch was timed as the row `launch` says, its mean delay with that of the observer.
    pub(crate) fn timed_as(&self, launch: &str) -> Self {
        let mut table = self.clone();
        let row = self.row(launch).clone();
        if let Some(reaction) = table.rows.get_mut("reaction_delay") {
            reaction.a += row.a;
        }
        table.rows.insert("launch_time_tap".to_owned(), row);
        table
    }

    /// Names and rows, by name.
    pub fn rows(&self) -> impl Iterator<Item = (&str, &Prior)> {
        self.rows.iter().map(|(name, row)| (name.as_str(), row))
    }

    /// First parameter of a row.
    pub(crate) fn a(&self, name: &str) -> f64 {
        self.row(name).a
    }

    /// Second parameter of a row.
    pub(crate) fn b(&self, name: &str) -> f64 {
        self.row(name).b
    }

    /// Part of the variance of a row that stays from flight to flight.
    pub(crate) fn lasting(&self, name: &str) -> f64 {
        self.row(name).persistent_share
    }

    fn row(&self, name: &str) -> &Prior {
        // Only names written in this crate come here, and a test looks every one of them up.
        self.rows.get(name).unwrap_or_else(|| unreachable!("no row {name} in the table of priors"))
    }
}

fn read(text: &str) -> Result<BTreeMap<String, Prior>, PriorsError> {
    let mut rows = BTreeMap::new();
    let mut header_seen = false;
    for (index, line) in text.lines().enumerate() {
        let failed = |message: String| PriorsError { line: index + 1, message };
        if line.trim().is_empty() || line.starts_with('#') {
            continue;
        }
        if !header_seen {
            if line.trim() != HEADER {
                return Err(failed(format!("the header `{HEADER}` is needed, not `{line}`")));
            }
            header_seen = true;
            continue;
        }
        let cells: Vec<&str> = line.splitn(7, ',').map(str::trim).collect();
        let [name, family, a, b, unit, share, source] = cells[..] else {
            return Err(failed(format!("7 columns are needed, {} found", cells.len())));
        };
        let number = |column: &str, cell: &str| match cell {
            "" => Ok(0.0),
            cell => cell
                .parse::<f64>()
                .ok()
                .filter(|value| value.is_finite())
                .ok_or_else(|| failed(format!("{column}: `{cell}` is not a finite number"))),
        };
        let row = Prior {
            family: family.to_owned(),
            a: number("a", a)?,
            b: number("b", b)?,
            unit: unit.to_owned(),
            persistent_share: number("persistent_share", share)?,
            source: source.to_owned(),
        };
        if !(0.0..=1.0).contains(&row.persistent_share) {
            return Err(failed(format!("persistent_share: {share} is outside 0 to 1")));
        }
        if rows.insert(name.to_owned(), row).is_some() {
            return Err(failed(format!("`{name}` stands twice in the table")));
        }
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_table_is_read_whole() {
        let table = Priors::embedded();
        let lines =
            Priors::EMBEDDED.lines().filter(|line| !line.starts_with('#') && !line.is_empty()).count();
        assert_eq!(table.rows().count(), lines - 1);
    }

    #[test]
    fn a_row_of_ones_own_replaces_the_embedded_one() {
        let mine = format!("{HEADER}\np_opens,share,0.5,,,0.5,an experiment\n");
        let table = Priors::replaced_by(&mine).unwrap();
        assert!((table.a("p_opens") - 0.5).abs() < 1e-12);
        assert!((table.a("p_tangled") - 0.045).abs() < 1e-12);
    }

    #[test]
    fn a_bad_table_names_its_line() {
        let wrong = format!("{HEADER}\np_opens,share,many,,,0.5,x\n");
        assert_eq!(Priors::replaced_by(&wrong).unwrap_err().line, 2);
        let unknown = format!("{HEADER}\np_oppens,share,0.1,,,0.5,x\n");
        assert!(Priors::replaced_by(&unknown).unwrap_err().message.contains("p_oppens"));
    }

    #[test]
    fn every_row_this_crate_asks_for_is_in_the_table() {
        let sources = [
            include_str!("model.rs"),
            include_str!("wind.rs"),
            include_str!("told.rs"),
            include_str!("evidence/mod.rs"),
            include_str!("evidence/angles.rs"),
            include_str!("reading/mod.rs"),
        ];
        let table = Priors::embedded();
        let mut asked = 0;
        for source in sources {
            for call in ["priors.a(\"", "priors.b(\"", "priors.lasting(\"", "priors.timed_as(\""] {
                for rest in source.split(call).skip(1) {
                    let name = rest.split('"').next().unwrap();
                    assert!(table.rows.contains_key(name), "{name}");
                    asked += 1;
                }
            }
        }
        assert!(asked > 30, "only {asked} look-ups seen");
    }
}
