//! A table as comma-separated text.

use crate::paper::Table;

/// Writes a table as CSV: the heads, a line for each row, decimal points, then the notes as lines that start with `#`.
///
/// # Source
/// RFC 4180, but for the notes and bare line feeds.
#[must_use]
pub fn write_csv(table: &Table) -> Vec<u8> {
    let mut out = String::new();
    line(&mut out, table.heads.iter().map(String::as_str));
    for row in &table.rows {
        let texts: Vec<String> = row.iter().map(|cell| table.text(cell)).collect();
        line(&mut out, texts.iter().map(String::as_str));
    }
    for note in &table.notes {
        out.push_str("# ");
        out.push_str(note);
        out.push('\n');
    }
    out.into_bytes()
}

fn line<'a>(out: &mut String, cells: impl Iterator<Item = &'a str>) {
    for (i, cell) in cells.enumerate() {
        if i > 0 {
            out.push(',');
        }
        if cell.contains([',', '"', '\n', '\r']) || cell.starts_with('#') {
            out.push('"');
            out.push_str(&cell.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(cell);
        }
    }
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paper::Cell;
    use crate::units::LengthUnit;

    #[test]
    fn cells_that_need_it_are_quoted() {
        let table = Table {
            title: String::new(),
            unit: LengthUnit::Millimetres,
            heads: vec!["a, b".to_owned(), "c".to_owned()],
            rows: vec![
                vec![Cell::Text("say \"so\"".to_owned()), Cell::Length(-0.001)],
                vec![Cell::Pair(1.0, 2.5), Cell::Empty],
            ],
            notes: vec!["a note".to_owned()],
        };
        let text = String::from_utf8(write_csv(&table)).unwrap();
        assert_eq!(
            text,
            "\"a, b\",c\n\"say \"\"so\"\"\",0.00\n1.00/2.50,\n# a note\n"
        );
    }
}
