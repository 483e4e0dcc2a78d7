//! The reader of the tables, and the comparison, judged by what they refuse.

use windfall_tests::ReferenceTable;

const SMALL: &str =
    "# Source: none\n# Mark: GEN\n# Rows: 2\n# Tolerance: a 0.1, why not\na,b\n1,x\n359.95,\n";

fn refused(what: impl FnOnce() + std::panic::UnwindSafe) -> bool {
    std::panic::catch_unwind(what).is_err()
}

#[test]
fn a_table_without_its_header_or_with_a_line_too_few_is_refused() {
    assert_eq!(ReferenceTable::parse("small", SMALL).rows().len(), 2);
    for (there, instead) in [
        ("# Source: none\n", ""),
        ("# Mark: GEN\n", ""),
        ("# Rows: 2\n", ""),
        ("# Rows: 2", "# Rows: 3"),
        ("# Tolerance: a 0.1, why not\n", ""),
        (", why not", ""),
        ("a,b\n", ""),
        ("1,x", "1"),
        ("1,x", "\"1\",x"),
    ] {
        let text = SMALL.replace(there, instead);
        assert!(refused(move || drop(ReferenceTable::parse("small", &text))), "{there:?} as {instead:?}");
    }
}

#[test]
fn a_residual_that_is_no_number_or_a_row_left_out_fails_the_comparison() {
    let see = |ours: [f64; 2], rows: usize| {
        refused(move || {
            let table = ReferenceTable::parse("small", SMALL);
            let mut worst = table.worst("a");
            for (row, ours) in table.rows().iter().zip(ours) {
                worst.see_angle_deg(row, ours, row["a"]);
            }
            worst.assert_within(rows);
        })
    };
    assert!(!see([361.05, 0.01], 2), "angles are compared on the circle");
    assert!(see([1.0, 0.1], 2));
    assert!(see([f64::NAN, 0.0], 2) && see([1.0, f64::NAN], 2));
    assert!(see([1.0, 0.0], 3) && see([1.0, 0.0], 1));
    let table = ReferenceTable::parse("small", SMALL);
    assert!(refused(move || assert!(table.rows()[1]["b"] > 0.0)), "an empty cell is no number");
}
