use serde::Serialize;
use windfall_inference::Priors;

/// One row of the table of priors.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Prior {
    /// The quantity.
    pub name: String,
    /// Family of the distribution.
    pub family: String,
    /// First parameter.
    pub a: Option<f64>,
    /// Second parameter.
    pub b: Option<f64>,
    /// Unit or meaning of the parameters.
    pub unit: String,
    /// Share of the variance that stays from flight to flight.
    pub persistent_share: Option<f64>,
    /// A document, or "judgement".
    pub source: String,
}

/// The embedded table of priors, row by row.
#[must_use]
pub fn priors() -> Vec<Prior> {
    let rows = Priors::EMBEDDED.lines().filter(|line| !line.starts_with('#')).skip(1);
    rows.filter_map(|row| {
        // The source is the last column, so it may hold commas.
        let mut cells = row.splitn(7, ',').map(str::trim);
        let mut text = || cells.next().map(str::to_owned);
        Some(Prior {
            name: text()?,
            family: text()?,
            a: text()?.parse().ok(),
            b: text()?.parse().ok(),
            unit: text()?,
            persistent_share: text()?.parse().ok(),
            source: text()?,
        })
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_of_the_table_is_shown_with_its_source() {
        let rows = Priors::EMBEDDED.lines().filter(|line| !line.starts_with('#') && !line.is_empty());
        assert_eq!(priors().len(), rows.count() - 1);
        assert!(priors().iter().all(|row| row.a.is_some() && !row.source.is_empty()));
    }
}
