//! `cargo xtask checks`: every comparison with the outside, and how far off it was, as one table.

use crate::house::House;
use std::fs;
use std::path::Path;

/// Where the table is kept.
const PAGE: &str = "tests/reference/CHECKS.md";

/// Names the file that the tests add a line to; the same word stands in `tests/it/lib.rs`.
const RECORD: &str = "WINDFALL_CHECKS";

/// The columns of that file.
const COLUMNS: [&str; 10] = [
    "test",
    "table",
    "source",
    "mark",
    "quantity",
    "values",
    "worst_residual",
    "tolerance",
    "tolerance_because",
    "worst_at",
];

/// One comparison that a test has judged.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Comparison(Vec<String>);

/// Where a run of the tests puts its result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum As {
    /// Into the page of the working copy.
    Page,
    /// To standard output.
    Json,
}

/// Runs the tests against the outside, then writes what each comparison gave.
pub(crate) fn checks(house: &House, form: As) -> Result<(), String> {
    let record = house.scratch()?.join("checks.tsv");
    let told = |path: &Path, error: std::io::Error| format!("{}: {error}", path.display());
    fs::write(&record, "").map_err(|error| told(&record, error))?;
    let mut command = house.cargo(&["test", "--package", "windfall-tests", "--test", "it", "--locked"]);
    command.env(RECORD, &record);
    house.quietly("checks", command)?;
    let text = fs::read_to_string(&record).map_err(|error| told(&record, error))?;
    let comparisons = comparisons(&text)?;
    match form {
        As::Json => println!("{}", json(&comparisons)),
        As::Page => {
            let page = house.path(PAGE);
            fs::write(&page, markdown(&comparisons)).map_err(|error| told(&page, error))?;
            println!("{PAGE}: {} comparisons, all within their tolerances", comparisons.len());
        }
    }
    Ok(())
}

/// In the order of the tests' names, which does not depend on which of them ends first.
fn comparisons(record: &str) -> Result<Vec<Comparison>, String> {
    let mut comparisons: Vec<Comparison> =
        record.lines().map(|line| Comparison(line.split('\t').map(str::to_owned).collect())).collect();
    if comparisons.is_empty() || comparisons.iter().any(|comparison| comparison.0.len() != COLUMNS.len()) {
        return Err("the tests left no record that can be read".into());
    }
    comparisons.sort();
    comparisons.dedup();
    Ok(comparisons)
}

impl Comparison {
    fn cell(&self, column: &str) -> &str {
        COLUMNS.iter().position(|name| *name == column).map_or("", |at| self.0[at].as_str())
    }
}

fn markdown(comparisons: &[Comparison]) -> String {
    let mut page = String::from(
        "# Every check against the outside\n\n\
         Written by `cargo xtask checks`; do not edit. Marks and trust: [SOURCES.md](SOURCES.md). A residual is the \
         worst of its values, in the unit that its quantity ends in; 0 in a range means that none lies outside.\n",
    );
    let mut last = "";
    for comparison in comparisons {
        let test = comparison.cell("test");
        if test != last {
            page += &format!(
                "\n## {}\n\n| source | mark | quantity | values | worst residual | tolerance | because |\n\
                 |---|---|---|---:|---:|---:|---|\n",
                sentence(test)
            );
            last = test;
        }
        let table = comparison.cell("table");
        let source = if table.is_empty() {
            comparison.cell("source").to_owned()
        } else {
            format!("[{table}]({table})")
        };
        let cells = [
            source,
            comparison.cell("mark").to_owned(),
            comparison.cell("quantity").to_owned(),
            comparison.cell("values").to_owned(),
            short(comparison.cell("worst_residual")),
            short(comparison.cell("tolerance")),
            comparison.cell("tolerance_because").to_owned(),
        ];
        page += &format!("| {} |\n", cells.map(|cell| cell.replace('|', "\\|")).join(" | "));
    }
    page
}

/// `reference::air::the_wind_grows` as "air: the wind grows".
fn sentence(test: &str) -> String {
    let words = test.strip_prefix("reference::").unwrap_or(test);
    words.replace("::", ": ").replace('_', " ")
}

/// Two digits: a residual near the rounding of the machine differs between machines in the third.
fn short(number: &str) -> String {
    match number.parse::<f64>() {
        Ok(0.0) => "0".into(),
        Ok(number) if (1e-3..1e4).contains(&number.abs()) => {
            let digits = (1.0 - number.abs().log10().floor()).max(0.0);
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 4")]
            let digits = digits as usize;
            format!("{number:.digits$}")
        }
        Ok(number) => format!("{number:.1e}"),
        Err(_) => number.to_owned(),
    }
}

fn json(comparisons: &[Comparison]) -> String {
    let numbers = ["values", "worst_residual", "tolerance"];
    let one = |comparison: &Comparison| {
        let pairs = COLUMNS.map(|column| {
            let cell = comparison.cell(column);
            let value = if numbers.contains(&column) && cell.parse::<f64>().is_ok_and(f64::is_finite) {
                cell.to_owned()
            } else {
                quoted(cell)
            };
            format!("\"{column}\": {value}")
        });
        format!("  {{{}}}", pairs.join(", "))
    };
    let rows: Vec<String> = comparisons.iter().map(one).collect();
    format!("[\n{}\n]", rows.join(",\n"))
}

fn quoted(text: &str) -> String {
    let escaped: String = text
        .chars()
        .map(|it| match it {
            '"' => "\\\"".into(),
            '\\' => "\\\\".into(),
            it if it.is_control() => format!("\\u{:04x}", u32::from(it)),
            it => it.to_string(),
        })
        .collect();
    format!("\"{escaped}\"")
}

#[cfg(test)]
mod tests {
    use super::*;

    const RECORDED: &str = "reference::air::b\tt.csv\ts\tGEN\tq_m\t3\t4.61e-7\t1e-6\twhy\tt.csv:4: 1\n\
                            reference::air::a\t\ta \"law\"\tMEM\tp\t2\t0e0\t2.5e-1\twhy | not\tx\n";

    #[test]
    fn the_page_has_a_row_for_each_comparison_in_the_order_of_the_tests() {
        let page = markdown(&comparisons(RECORDED).unwrap());
        let first = page.find("| a \"law\" | MEM | p | 2 | 0 | 0.25 | why \\| not |").unwrap();
        let second = page.find("| [t.csv](t.csv) | GEN | q_m | 3 | 4.6e-7 | 1.0e-6 | why |").unwrap();
        assert!(first < second && page.contains("## air: b\n"));
        assert!(comparisons("").is_err() && comparisons("a\tb\n").is_err());
    }

    #[test]
    fn the_same_as_json_has_numbers_where_numbers_are() {
        let text = json(&comparisons(RECORDED).unwrap());
        assert!(text.contains(r#""source": "a \"law\"", "mark": "MEM", "quantity": "p", "values": 2"#));
        assert!(text.contains(r#""worst_residual": 4.61e-7, "tolerance": 1e-6"#));
    }
}
