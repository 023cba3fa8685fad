//! Names of parts: plain ones, and ones that nothing else has.

use super::Brief;
use crate::job::{ItemKind, Job};

/// A text as a name of a part: letters, digits and single dashes.
pub(super) fn plain_name(text: &str) -> String {
    let mut name = String::new();
    for c in text.trim().chars() {
        if c.is_alphanumeric() || c == '_' {
            name.extend(c.to_lowercase());
        } else if !name.is_empty() && !name.ends_with('-') {
            name.push('-');
        }
    }
    name.trim_end_matches('-').to_owned()
}

/// Letters that the parts of a job are counted with: F1, K1, ...
const COUNTED: [char; 7] = ['f', 'k', 's', 'x', 'j', 'g', 'w'];

/// Whether a name is one that no new part may have.
pub(super) fn taken(brief: &Brief, name: &str) -> bool {
    let counted = name.strip_prefix(COUNTED).is_some_and(|rest| rest.chars().all(|c| c.is_ascii_digit()));
    let of_every_vehicle = ["battery", "chassis", "job", "alternator", "new", "none"].contains(&name);
    let others = brief.existing().map(names_of).unwrap_or_default();
    // A group of lamps takes names behind a dash, and each its bracket.
    let near = |other: &String| *other == name || other.strip_prefix(name).is_some_and(|rest| rest.starts_with('-'));
    counted || of_every_vehicle || others.iter().any(near)
}

/// The word, or the word with the first number behind it that is free.
pub(super) fn free(brief: &Brief, word: &str) -> String {
    if !taken(brief, word) {
        return word.to_owned();
    }
    let numbered = (2..1000).map(|n| format!("{word}{n}")).find(|name| !taken(brief, name));
    numbered.unwrap_or_else(|| word.to_owned())
}

fn names_of(job: &Job) -> Vec<String> {
    let kinds = ItemKind::WORDS.iter().map(|(_, kind)| *kind).filter(|kind| *kind != ItemKind::Job);
    let parts = kinds.flat_map(|kind| job.names(kind)).map(str::to_owned);
    parts.chain(job.instruments.iter().map(|instrument| instrument.name.clone())).collect()
}

/// Counts parts on from those of a job: F1, F2, ...
pub(super) struct Counter {
    known: Vec<String>,
}

impl Counter {
    pub(super) fn of(job: Option<&Job>) -> Self {
        Self { known: job.map(names_of).unwrap_or_default() }
    }

    /// The next free name with this letter.
    pub(super) fn next(&mut self, letter: &str) -> String {
        let number = |name: &String| name.strip_prefix(letter)?.parse::<usize>().ok();
        let name = format!("{letter}{}", self.known.iter().filter_map(number).max().unwrap_or(0) + 1);
        self.known.push(name.clone());
        name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_become_plain_names() {
        assert_eq!(plain_name("Rear work lamp"), "rear-work-lamp");
        assert_eq!(plain_name("  pump (fuel!) "), "pump-fuel");
        assert_eq!(plain_name("«»"), "");
        assert_eq!(plain_name("Lámpara 2"), "lámpara-2");
    }

    #[test]
    fn a_name_that_counts_parts_or_belongs_to_every_vehicle_is_taken() {
        let brief = Brief::new();
        assert!(taken(&brief, "f1") && taken(&brief, "battery") && !taken(&brief, "lamp"));
    }

    #[test]
    fn parts_are_counted_on() {
        let mut counter = Counter { known: vec!["F1".to_owned(), "F7".to_owned(), "lamp".to_owned()] };
        assert_eq!((counter.next("F"), counter.next("F"), counter.next("K")), ("F8".into(), "F9".into(), "K1".into()));
    }
}
