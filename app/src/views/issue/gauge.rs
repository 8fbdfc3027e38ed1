//! What was measured of this device: how large its screen draws, and by how much each printer errs.
//!
//! In: lengths a person measured by rule, mm. Out: corrections, and whether a print is true. Plain text goes in and out where
//! it is kept, a line to each printer.

/// Length of a check rule as it should be, mm.
pub const RULE: f64 = 100.0;

/// By how much a print may err and be called true, as a share.
pub const TRUE_WITHIN: f64 = 0.002;

/// What a rule can measure and still be a rule of 100 mm, mm: beyond this the print was fitted to its page.
const MEASURED: [f64; 2] = [90.0, 110.0];

/// Least and most that a millimetre can be on a screen, px.
const SCREENS: [f64; 2] = [1.0, 40.0];

/// Longest name of a printer.
pub const LONGEST_PRINTER: usize = 40;

/// A printer, as far as it was gauged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Printer {
    /// As its person calls it.
    pub name: String,
    /// What the rules across and up measured, printed as they are, mm.
    pub measured: [Option<f64>; 2],
    /// What they measured when corrected by that.
    pub again: [Option<f64>; 2],
}

/// What is known of a printer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Gauged {
    /// Nothing was measured yet, or one way only.
    No,
    /// Corrected, and not measured again.
    Once,
    /// Measured again and true: the larger error, as a share.
    True(f64),
    /// Measured again, and still off by more than a print may be.
    Off(f64),
}

impl Printer {
    /// By what its lengths across and up are taken so that they come out true; none before both were measured.
    pub fn correction(&self) -> Option<[f64; 2]> {
        let [across, up] = self.measured;
        Some([RULE / across?, RULE / up?])
    }

    /// What is known of it.
    pub fn gauged(&self) -> Gauged {
        match (self.measured, self.again) {
            ([Some(_), Some(_)], [Some(across), Some(up)]) => {
                let error = |mm: f64| (mm / RULE - 1.0).abs();
                let worst = error(across).max(error(up));
                // A reading on the bound is within it, however its last bit fell.
                if worst <= TRUE_WITHIN + 1e-9 {
                    Gauged::True(worst)
                } else {
                    Gauged::Off(worst)
                }
            }
            ([Some(_), Some(_)], _) => Gauged::Once,
            _ => Gauged::No,
        }
    }

    /// It, corrected by what was measured again too, which is then to be measured anew.
    pub fn corrected_again(&self) -> Self {
        let both = |first: Option<f64>, again: Option<f64>| {
            let product = first? * again.unwrap_or(RULE) / RULE;
            Some(product)
        };
        Self {
            name: self.name.clone(),
            measured: [
                both(self.measured[0], self.again[0]),
                both(self.measured[1], self.again[1]),
            ],
            again: [None; 2],
        }
    }
}

/// What was typed of a rule, mm; an empty box is none.
///
/// # Errors
/// Why it can't be what a rule of 100 mm measures, in a sentence.
pub fn measured(typed: &str) -> Result<Option<f64>, String> {
    let typed = typed.trim().trim_end_matches("mm").trim_end();
    if typed.is_empty() {
        return Ok(None);
    }
    let Some(mm) = number(typed) else {
        return Err(format!(
            "«{typed}» is no length: type what the rule measures in millimetres, as 99.4."
        ));
    };
    if (MEASURED[0]..=MEASURED[1]).contains(&mm) {
        Ok(Some(mm))
    } else {
        Err(format!(
            "{typed} mm is too far from 100: the print was made to fit its page. Print it at 100 %, and measure again."
        ))
    }
}

/// How many pixels a millimetre has on a screen, where a line of so many pixels measures so many millimetres.
///
/// # Errors
/// Why that can't be, in a sentence.
pub fn px_per_mm(line: f64, typed: &str) -> Result<f64, String> {
    let typed = typed.trim().trim_end_matches("mm").trim_end();
    let scale = number(typed).map(|mm| line / mm);
    match scale {
        Some(scale) if (SCREENS[0]..=SCREENS[1]).contains(&scale) => Ok(scale),
        Some(_) => Err(format!(
            "No screen draws this line {typed} mm long: measure it in millimetres."
        )),
        None => Err(format!(
            "«{typed}» is no length: type what the line measures in millimetres, as 96.5."
        )),
    }
}

/// A number, with a decimal comma or point.
pub fn number(typed: &str) -> Option<f64> {
    let number: f64 = typed
        .trim()
        .replace(['−'], "-")
        .replace(',', ".")
        .parse()
        .ok()?;
    number.is_finite().then_some(number)
}

/// Printers as they are kept: name, then what was measured, parted by tabs.
pub fn written(printers: &[Printer]) -> String {
    let mut out = String::new();
    for printer in printers {
        out.push_str(&printer.name);
        for mm in printer.measured.iter().chain(&printer.again) {
            out.push('\t');
            if let Some(mm) = mm {
                out.push_str(&mm.to_string());
            }
        }
        out.push('\n');
    }
    out
}

/// Printers as they were kept; a line that can't be read is none.
pub fn read(text: &str) -> Vec<Printer> {
    text.lines().filter_map(read_one).collect()
}

fn read_one(line: &str) -> Option<Printer> {
    let (name, figures) = line.split_once('\t')?;
    let mut found = [None; 4];
    let mut count = 0;
    for text in figures.split('\t') {
        *found.get_mut(count)? = measured(text).ok()?;
        count += 1;
    }
    let name = named(name)?;
    (count == found.len()).then(|| Printer {
        name,
        measured: [found[0], found[1]],
        again: [found[2], found[3]],
    })
}

/// A printer's name as it can be kept; none where nothing is left of it.
pub fn named(typed: &str) -> Option<String> {
    let plain = typed.chars().filter(|c| !c.is_control());
    let plain: String = plain.take(LONGEST_PRINTER).collect();
    let plain = plain.trim();
    (!plain.is_empty()).then(|| plain.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn printer(measured: [Option<f64>; 2], again: [Option<f64>; 2]) -> Printer {
        Printer {
            name: "Office printer".to_owned(),
            measured,
            again,
        }
    }

    #[test]
    fn a_print_is_true_only_when_it_was_measured_again() {
        let first = [Some(99.4), Some(100.0)];
        let gauged = |again| printer(first, again).gauged();
        assert_eq!(printer([Some(99.4), None], [None; 2]).gauged(), Gauged::No);
        assert_eq!(printer([Some(99.4), None], [None; 2]).correction(), None);
        assert_eq!(gauged([None, Some(100.0)]), Gauged::Once);
        let [across, up] = printer(first, [None; 2]).correction().unwrap();
        assert!((across - 1.006_036).abs() < 1e-6 && (up - 1.0).abs() < 1e-12);
        for on_the_bound in [100.2, 99.8] {
            let told = gauged([Some(on_the_bound), Some(100.0)]);
            assert!(
                matches!(told, Gauged::True(by) if (by - 0.002).abs() < 1e-9),
                "{told:?}"
            );
        }
        for beyond in [100.21, 99.79] {
            assert!(
                matches!(gauged([Some(100.0), Some(beyond)]), Gauged::Off(_)),
                "{beyond}"
            );
        }
    }

    #[test]
    fn what_is_still_off_is_corrected_too() {
        let off = printer([Some(99.0), Some(100.0)], [Some(100.5), Some(99.5)]);
        let again = off.corrected_again();
        assert_eq!(again.gauged(), Gauged::Once);
        let [across, up] = again.correction().unwrap();
        assert!((across - RULE / (99.0 * 1.005)).abs() < 1e-12);
        assert!((up - RULE / 99.5).abs() < 1e-12);
    }

    #[test]
    fn what_is_typed_is_a_length_or_refused() {
        assert_eq!(measured(" 99,4 mm "), Ok(Some(99.4)));
        assert_eq!(measured(""), Ok(None));
        for fitted in ["94.1e1", "89.9", "110.1", "-100", "0"] {
            assert!(
                measured(fitted).unwrap_err().contains("too far from 100"),
                "{fitted}"
            );
        }
        for odd in ["ten", "NaN", "inf", "1.000,5"] {
            assert!(measured(odd).unwrap_err().contains("is no length"), "{odd}");
        }
        assert_eq!(px_per_mm(400.0, "100"), Ok(4.0));
        assert!(px_per_mm(400.0, "0").is_err() && px_per_mm(400.0, "4000").is_err());
    }

    #[test]
    fn what_is_kept_comes_back() {
        let all = [
            printer([Some(99.4), Some(100.0)], [Some(100.1), None]),
            printer([None; 2], [None; 2]),
        ];
        assert_eq!(read(&written(&all)), all);
        // What another program left there is no printer.
        for odd in [
            "",
            "\n\n",
            "no figures",
            "x\t1\t2\t3\t4",
            "x\t\t\t",
            "x\t\t\t\t\t",
            "\t\t\t\t",
        ] {
            assert_eq!(read(odd), [], "{odd:?}");
        }
        assert_eq!(named(" a\tb \n"), Some("ab".to_owned()));
        assert_eq!(named(" \t "), None);
    }
}
