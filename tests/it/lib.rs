//! Shared by the suites: published tables, and how a program's values are held against them.
#![allow(clippy::unwrap_used, reason = "in a test a missing table or value is a failure")]

#[path = "../faults/mod.rs"]
pub mod faults;
#[path = "../twin/mod.rs"]
pub mod twin;

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::Write;
use std::ops::Index;
use std::path::Path;

/// Names the file to which each comparison adds a line when it is judged; `cargo xtask checks` sets it and reads the
/// file. The columns: test, table, source, mark, quantity, values compared, worst residual, limit, why that limit,
/// where the worst is; tabs between them.
pub const RECORD: &str = "WINDFALL_CHECKS";

/// A published table under `tests/reference`.
///
/// Its header block names source, mark, number of rows and the tolerance of each column that is checked:
/// `# Rows: 63`, `# Tolerance: rho_kgpm3 1e-6, why`. Commas only: no quoted cells.
#[derive(Debug)]
pub struct ReferenceTable {
    rows: Vec<Row>,
    tolerances: BTreeMap<String, (f64, String)>,
    origin: Origin,
}

/// Where the numbers come from that ours are held against.
#[derive(Clone, Debug, Default)]
struct Origin {
    table: String, // below `tests/reference`; empty when there is none
    source: String,
    mark: String,
    kept: bool, // a text made up to test the reader leaves no record
}

/// One line of a table; `row["column"]` is its number.
#[derive(Debug)]
pub struct Row {
    line: String,
    cells: BTreeMap<String, (String, f64)>,
}

impl ReferenceTable {
    /// Reads `publisher/table.csv`.
    ///
    /// # Panics
    /// When the file cannot be read, and as [`ReferenceTable::parse`].
    #[must_use]
    pub fn open(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference").join(name);
        let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{name}: {error}"));
        let mut table = Self::parse(name, &text);
        table.origin.kept = true;
        table
    }

    /// Reads the text of a table.
    ///
    /// # Panics
    /// Unless source, mark and tolerances stand in the header, the columns have names, every line has them all and
    /// there are as many lines as the header says.
    #[must_use]
    pub fn parse(name: &str, text: &str) -> Self {
        assert!(!text.contains('"'), "{name}: quoted cells are not read");
        let header = |key: &str| {
            let start = format!("# {key}: ");
            text.lines()
                .filter_map(move |line| line.strip_prefix(&start).map(str::to_owned))
                .collect::<Vec<_>>()
        };
        assert!(
            header("Source").len() == 1 && header("Mark").len() == 1,
            "{name}: source and mark, once each"
        );
        let [source, mark] = ["Source", "Mark"].map(|key| header(key).concat());
        let origin = Origin { table: name.to_owned(), source, mark, kept: false };
        let tolerances: BTreeMap<String, (f64, String)> = header("Tolerance")
            .iter()
            .map(|text| {
                let (limit, why) =
                    text.split_once(", ").unwrap_or_else(|| panic!("{name}: {text}: no reason"));
                let (column, limit) = limit.split_once(' ').unwrap();
                assert!(!why.is_empty(), "{name}: {text}: no reason");
                (column.to_owned(), (limit.parse().unwrap(), why.to_owned()))
            })
            .collect();
        assert!(!tolerances.is_empty(), "{name}: no tolerance");

        let mut lines = text.lines().enumerate().skip_while(|(_, line)| line.starts_with('#'));
        let (_, columns) = lines.next().unwrap_or_else(|| panic!("{name}: no columns"));
        let columns: Vec<&str> = columns.split(',').collect();
        assert!(columns.iter().all(|column| column.parse::<f64>().is_err()), "{name}: columns have no names");
        let rows: Vec<Row> = lines
            .map(|(at, line)| {
                let cells: Vec<&str> = line.split(',').collect();
                let line = format!("{name}:{}: {line}", at + 1);
                assert_eq!(cells.len(), columns.len(), "{line}");
                let number = |cell: &str| cell.parse().unwrap_or(f64::NAN);
                let cells = columns.iter().zip(cells);
                let cells = cells.map(|(column, cell)| (column.to_string(), (cell.to_owned(), number(cell))));
                Row { line, cells: cells.collect() }
            })
            .collect();
        let wanted: Vec<usize> = header("Rows").iter().map(|text| text.parse().unwrap()).collect();
        assert_eq!(wanted, [rows.len()], "{name}: rows announced and there");
        Self { rows, tolerances, origin }
    }

    /// All rows, in the order printed.
    #[must_use]
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// Residuals of a quantity against the tolerance that the table's header gives for it.
    ///
    /// # Panics
    /// When the header gives none.
    #[must_use]
    pub fn worst(&self, quantity: &str) -> Worst {
        let (limit, why) =
            self.tolerances.get(quantity).unwrap_or_else(|| panic!("no tolerance for {quantity}"));
        Worst::starting(quantity, *limit, why, self.origin.clone())
    }
}

impl Row {
    /// A cell as it is printed.
    ///
    /// # Panics
    /// When there is no such column.
    #[must_use]
    pub fn text(&self, column: &str) -> &str {
        &self.cell(column).0
    }

    fn cell(&self, column: &str) -> &(String, f64) {
        self.cells.get(column).unwrap_or_else(|| panic!("{}: no column {column}", self.line))
    }
}

impl Index<&str> for Row {
    type Output = f64;

    /// Panics when the cell holds no finite number.
    fn index(&self, column: &str) -> &f64 {
        let (text, number) = self.cell(column);
        assert!(number.is_finite(), "{}: {column} is no number: {text:?}", self.line);
        number
    }
}

/// The worst residual of one quantity, and where it is.
#[derive(Debug)]
pub struct Worst {
    quantity: String,
    limit: f64,
    why: String,
    origin: Origin,
    seen: usize,
    residual: f64,
    line: String,
}

impl Worst {
    fn starting(quantity: &str, limit: f64, why: &str, origin: Origin) -> Self {
        let (quantity, why) = (quantity.to_owned(), why.to_owned());
        Self { quantity, limit, why, origin, seen: 0, residual: 0.0, line: String::new() }
    }

    /// Residuals of a quantity where no table is printed: a formula or a law is the outside. `source` names it,
    /// `why` the reason for the limit.
    #[must_use]
    pub fn without_table(quantity: &str, limit: f64, why: &str, source: &str, mark: &str) -> Self {
        let (source, mark) = (source.to_owned(), mark.to_owned());
        Self::starting(quantity, limit, why, Origin { table: String::new(), source, mark, kept: true })
    }

    /// Takes one residual, and what it is of.
    pub fn note(&mut self, what: &str, residual: f64) {
        self.keep(what, residual.abs());
    }

    /// How far a number lies outside a printed range; nothing inside it.
    pub fn see_in_range(&mut self, row: &Row, ours: f64, lowest: f64, highest: f64) {
        let outside = if ours.is_nan() { ours } else { (lowest - ours).max(ours - highest).max(0.0) };
        self.keep(&row.line, outside);
    }

    /// Compares two numbers.
    pub fn see(&mut self, row: &Row, ours: f64, printed: f64) {
        self.keep(&row.line, (ours - printed).abs());
    }

    /// Compares two numbers by their ratio.
    pub fn see_relative(&mut self, row: &Row, ours: f64, printed: f64) {
        self.keep(&row.line, (ours / printed - 1.0).abs());
    }

    /// Compares two directions in degrees, on the circle.
    pub fn see_angle_deg(&mut self, row: &Row, ours: f64, printed: f64) {
        self.keep(&row.line, ((ours - printed + 180.0).rem_euclid(360.0) - 180.0).abs());
    }

    fn keep(&mut self, what: &str, residual: f64) {
        self.seen += 1;
        // Once a residual is no number, it stays.
        if residual.is_nan() || residual > self.residual {
            self.residual = residual;
            what.clone_into(&mut self.line);
        }
    }

    /// Asserts that exactly `rows` were compared and that all were within the tolerance. Leaves a line in the
    /// [`RECORD`] first, if one is kept.
    ///
    /// # Panics
    /// Otherwise, naming the worst row.
    #[track_caller]
    pub fn assert_within(&self, rows: usize) {
        self.record();
        let Self { quantity, limit, seen, residual, line, .. } = self;
        assert_eq!(*seen, rows, "{quantity}: rows compared");
        assert!(residual <= limit, "{quantity}: {residual:.3e} exceeds {limit:.3e} in {line}");
    }

    fn record(&self) {
        let Some(path) = std::env::var_os(RECORD).filter(|_| self.origin.kept) else { return };
        let Origin { table, source, mark, .. } = &self.origin;
        let thread = std::thread::current();
        let [seen, residual, limit] =
            [self.seen.to_string(), format!("{:e}", self.residual), format!("{:e}", self.limit)];
        let cells: [&str; 10] = [
            thread.name().unwrap_or("main"), // the harness names the thread after the test
            table,
            source,
            mark,
            &self.quantity,
            &seen,
            &residual,
            &limit,
            &self.why,
            &self.line,
        ];
        let line = cells.map(|cell| cell.replace(['\t', '\n'], " ")).join("\t") + "\n";
        // One write a line: tests run side by side.
        let mut file = OpenOptions::new().create(true).append(true).open(path).unwrap();
        file.write_all(line.as_bytes()).unwrap();
    }
}
