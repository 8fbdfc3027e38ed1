//! What new lines are called beside those that stand.
//!
//! In: the title of the lines that stand, and a wanted one. Out: a title that is not theirs.

/// A name that is not the one that is taken: the wanted one, else with the next number behind it.
pub fn name_beside(taken: &str, wanted: &str) -> String {
    let number = match taken.strip_prefix(wanted) {
        Some("") => Some(1),
        Some(rest) => rest.strip_prefix(' ').and_then(|n| n.parse::<u32>().ok()),
        None => None,
    };
    match number.and_then(|n| n.checked_add(1)) {
        Some(next) => format!("{wanted} {next}"),
        None => wanted.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::name_beside;

    #[test]
    fn each_paste_is_called_otherwise_than_the_one_before() {
        let beside = |taken: &str| name_beside(taken, "Pasted table");
        assert_eq!(beside("Hallowby Marram"), "Pasted table");
        assert_eq!(beside(""), "Pasted table");
        assert_eq!(beside("Pasted table"), "Pasted table 2");
        assert_eq!(beside("Pasted table 2"), "Pasted table 3");
        assert_eq!(beside("Pasted table 9"), "Pasted table 10");
        // What only begins like it is another name.
        for other in [
            "Pasted tables",
            "Pasted table2",
            "Pasted table aft",
            "Pasted",
        ] {
            assert_eq!(beside(other), "Pasted table", "{other}");
        }
        // Behind the last number there is none; the bare name is free then.
        let last = format!("Pasted table {}", u32::MAX);
        assert_eq!(beside(&last), "Pasted table");
    }

    #[test]
    fn the_name_is_never_the_one_that_is_taken() {
        let mut name = String::new();
        for _ in 0..20 {
            let next = name_beside(&name, "Kite");
            assert_ne!(next, name);
            name = next;
        }
        assert_eq!(name, "Kite 20");
    }
}
