//! A table as comma-separated text.

use crate::paper::Table;

/// Writes a table as CSV: the heads, a line for each row, decimal points, then the notes as lines that start with `#`.
///
/// What a spreadsheet would take for a formula is written as text, behind an apostrophe; `read_table` takes that off again.
///
/// # Source
/// RFC 4180, but for the notes and bare line feeds. The apostrophe: OWASP, *CSV Injection*.
#[must_use]
pub fn write_csv(table: &Table) -> Vec<u8> {
    let mut out = String::new();
    line(&mut out, table.heads.iter().map(String::as_str));
    for row in &table.rows {
        let texts: Vec<String> = row.iter().map(|cell| table.text(cell)).collect();
        line(&mut out, texts.iter().map(String::as_str));
    }
    for note in &table.notes {
        // A note is one line, and where a spreadsheet parts it, no part of it is a formula either.
        let note = note.replace(['\n', '\r', '\t'], " ");
        let mut mark = "# ";
        for part in note.split_inclusive([',', ';']) {
            out.push_str(mark);
            let blank = part.len() - part.trim_start().len();
            let (blank, words) = part.split_at(blank);
            out.push_str(blank);
            out.push_str(if mark.is_empty() { guard(words) } else { "" });
            out.push_str(words);
            mark = "";
        }
        out.push('\n');
    }
    out.into_bytes()
}

/// What stands before a text so that a spreadsheet takes it for one: an apostrophe where it begins as a formula does and is no
/// number, or where such apostrophes stand already.
///
/// # Source
/// OWASP, *CSV Injection*: equals, plus, minus, at, tab, carriage return and line feed, and their wide forms.
fn guard(text: &str) -> &'static str {
    const FORMULA: [char; 11] = [
        '=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
    ];
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let figure = text.strip_prefix(['+', '-']).unwrap_or(text);
    let number = match figure.split_once('.') {
        Some((whole, decimals)) => digits(whole) && digits(decimals),
        None => digits(figure),
    };
    let begins = text.trim_start_matches('\'').starts_with(FORMULA);
    if begins && !number { "'" } else { "" }
}

fn line<'a>(out: &mut String, cells: impl Iterator<Item = &'a str>) {
    for (i, cell) in cells.enumerate() {
        if i > 0 {
            out.push(',');
        }
        let guard = guard(cell);
        if cell.contains([',', ';', '\t', '"', '\n', '\r']) || cell.starts_with('#') {
            out.push('"');
            out.push_str(guard);
            out.push_str(&cell.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(guard);
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

    /// A table whose one cell and one note hold a text.
    fn holding(text: &str) -> String {
        let table = Table {
            title: String::new(),
            unit: LengthUnit::Millimetres,
            heads: vec![text.to_owned()],
            rows: vec![vec![Cell::Text(text.to_owned())]],
            notes: vec![format!("see, {text}")],
        };
        String::from_utf8(write_csv(&table)).unwrap()
    }

    /// OWASP, *CSV Injection*: a cell that begins with equals, plus, minus, at, tab or carriage return is a formula to a
    /// spreadsheet, whatever its quotes; an apostrophe before it makes it text.
    #[test]
    fn what_a_spreadsheet_would_compute_is_written_as_text() {
        for formula in [
            "=1+1",
            "+cmd|' /C calc'!A0",
            "-2+3",
            "@SUM(A1)",
            "\tx",
            "\rx",
            "-0-1-2",
            "\u{ff1d}1",
        ] {
            let written = holding(formula);
            let head = written.trim_start_matches('"');
            assert!(head.starts_with(&format!("'{formula}")), "{written}");
            let noted = formula.replace(['\t', '\r'], "");
            assert!(
                !written.contains(&format!(", {noted}\n")) || noted == "x",
                "{written}"
            );
        }
        for plain in ["-12.5", "+3", "-0.00", "WL 44", "it's", "'tis"] {
            assert!(holding(plain).starts_with(&format!("{plain}\n")), "{plain}");
        }
        // An apostrophe that stands there already gets one of its own, so that taking one off gives the text.
        assert!(holding("'=1").starts_with("''=1\n"));
    }

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
