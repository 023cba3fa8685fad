//! How likely each kind of fault is before any reading.

use std::cell::RefCell;

use super::fault::Kind;
use crate::document::{Form, Problem, Problems, Source, Table, closest, parse_toml};

/// The weight of each kind of fault at one place; only the ratios count.
#[derive(Debug, Clone, PartialEq)]
pub struct Weights {
    by_kind: [f64; Kind::ALL.len()],
    /// Whose weights they are: the origins that the file states, each once.
    pub origins: Vec<String>,
}

impl Default for Weights {
    /// The program's own: estimates without field data.
    fn default() -> Self {
        let source = own();
        let problems = RefCell::new(Problems::new(source.clone()));
        let plain = Self { by_kind: [1.0; Kind::ALL.len()], origins: Vec::new() };
        read(&source, plain, &problems)
    }
}

fn own() -> Source {
    Source::new("weights.toml", include_str!("weights.toml"))
}

impl Weights {
    /// The weight of a kind.
    pub fn of(&self, kind: Kind) -> f64 {
        self.by_kind[kind as usize]
    }

    /// Reads a file of weights; a kind that it leaves out keeps the program's own.
    ///
    /// # Errors
    /// All problems of the file at once.
    pub fn read(source: &Source) -> Result<Self, Box<Problems>> {
        let problems = RefCell::new(Problems::new(source.clone()));
        let weights = read(source, Self { origins: Vec::new(), ..Self::default() }, &problems);
        problems.into_inner().check(weights)
    }

    /// The form of a file of weights.
    pub fn form() -> Form {
        let problems = RefCell::new(Problems::with_form(own()));
        let _ = read(&own(), Self::default(), &problems);
        problems.into_inner().into_form()
    }
}

fn read(source: &Source, mut weights: Weights, problems: &RefCell<Problems>) -> Weights {
    let document = parse_toml(source, problems);
    if !problems.borrow().is_empty() {
        return weights;
    }
    let top = Table::new(document.get_ref(), 0..0, "the file of weights", problems);
    top.check_format("weights");
    for (word, table) in top.named_tables("fault") {
        let weight = table.integer("weight");
        let origin = table.required_text("origin");
        let kind = Kind::ALL.into_iter().find(|kind| kind.word() == word);
        match (kind, weight) {
            (None, _) => table.problem(unknown(&table, &word)),
            (Some(_), None) => table.missing("weight", "a whole number, such as 30"),
            (Some(_), Some(weight)) if weight < 1 => {
                let label = "at least 1: a fault that cannot be is never found";
                table.problem(Problem::at(table.place_of("weight"), format!("a weight of {weight}"), label));
            }
            (Some(kind), Some(weight)) => weights.by_kind[kind as usize] = weight as f64,
        }
        if let Some(origin) = origin.filter(|origin| !weights.origins.contains(origin)) {
            weights.origins.push(origin);
        }
        table.finish();
    }
    top.finish();
    weights
}

fn unknown(table: &Table, word: &str) -> Problem {
    let words: Vec<&str> = Kind::ALL.iter().map(|kind| kind.word()).collect();
    let says = format!("no fault is called `{word}`");
    let problem = Problem::at(table.place.clone(), says, format!("there are {}", words.join(", ")));
    match closest(word, &words) {
        Some(meant) => problem.help(format!("did you mean `{meant}`?")),
        None => problem,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_a_weight_of_its_own_in_the_table() {
        let text = own().text;
        for kind in Kind::ALL {
            assert!(text.contains(&format!("[fault.{}]", kind.word())), "{}", kind.word());
        }
        let weights = Weights::default();
        assert!(weights.of(Kind::PoorJoint) > weights.of(Kind::WrongFuse));
        assert!(weights.origins.iter().all(|origin| origin.contains("estimate")), "{:?}", weights.origins);
    }

    #[test]
    fn a_shop_changes_what_it_knows_and_keeps_the_rest() {
        let text = "format = 1\n[fault.dead-load]\nweight = 90\norigin = \"our findings of last year, 212 jobs\"\n";
        let weights = Weights::read(&Source::new("ours.toml", text)).unwrap();
        assert!((weights.of(Kind::DeadLoad) - 90.0).abs() < 1e-12);
        assert!((weights.of(Kind::Open) - Weights::default().of(Kind::Open)).abs() < 1e-12);
        assert_eq!(weights.origins, ["our findings of last year, 212 jobs"]);
    }

    #[test]
    fn a_slip_in_a_file_of_weights_is_answered_with_what_was_meant() {
        let text =
            "format = 1\n[fault.dead-lode]\nweight = 3\norigin = \"x\"\n[fault.open]\nweight = 0\norigin = \"x\"\n";
        let problems = Weights::read(&Source::new("ours.toml", text)).unwrap_err().to_string();
        assert!(problems.contains("did you mean `dead-load`?"), "{problems}");
        assert!(problems.contains("a fault that cannot be is never found"), "{problems}");
    }
}
