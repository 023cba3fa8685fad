//! Sentence rules that a machine can check: ASD-STE100 rules 5.1 to 5.5 for procedures (at most 20 words, one
//! instruction a sentence, command form, a condition first and with a comma), 6.1 for descriptions (at most 25 words),
//! and what makes a procedure whole.

use std::ops::Range;

use super::{AskTemplate, Hazard, Library, Procedure, ProcedureStep, Recorded};
use crate::document::{Problem, Problems};

/// Words that a sentence of an instruction may have (ASD-STE100 rule 5.1).
const WORDS: usize = 20;

/// Words that a sentence of a description may have (ASD-STE100 rule 6.1).
const WORDS_OF_DESCRIPTION: usize = 25;

/// Words that begin a condition.
const CONDITIONS: [&str; 7] = ["if", "when", "where", "before", "after", "while", "until"];

/// Commands of the trade: after `and` they make a second instruction of a sentence. Watching, holding and the like are
/// left out, since they are done at the same time as something else (ASD-STE100 rule 5.2 allows that).
const COMMANDS: [&str; 62] = [
    "add",
    "apply",
    "attach",
    "bolt",
    "brush",
    "charge",
    "check",
    "clamp",
    "clean",
    "close",
    "coat",
    "compare",
    "connect",
    "count",
    "crimp",
    "cut",
    "disconnect",
    "drill",
    "fasten",
    "feed",
    "fill",
    "find",
    "fit",
    "fix",
    "go",
    "insert",
    "label",
    "lift",
    "loosen",
    "make",
    "mark",
    "mate",
    "measure",
    "mount",
    "move",
    "note",
    "open",
    "plug",
    "press",
    "prime",
    "pull",
    "push",
    "put",
    "read",
    "reconnect",
    "record",
    "remove",
    "route",
    "run",
    "seal",
    "set",
    "shrink",
    "slide",
    "splice",
    "start",
    "strip",
    "switch",
    "take",
    "test",
    "tighten",
    "turn",
    "write",
];

/// Words at the beginning of a sentence that give no command.
const NO_COMMAND: [&str; 14] =
    ["the", "a", "an", "this", "that", "it", "you", "your", "there", "is", "are", "should", "may", "must"];

/// Words that soften a command, and what to write.
const SOFT: [(&str, &str); 5] = [
    ("should", "say it as a command"),
    ("may", "say it as a command, or as a condition: If ..., ..."),
    ("might", "say it as a command"),
    ("please", "leave it away"),
    ("carefully", "say how, so that it can be seen"),
];

/// Checks the texts of a procedure.
pub fn check(procedure: &Procedure) -> Problems {
    let mut problems = Problems::new(procedure.source.clone());
    for step in &procedure.steps {
        let ways: &[_] = if let AskTemplate::Choose(ways) = &step.ask { ways } else { &[] };
        for text in std::iter::once(&step.instruction).chain(ways.iter().map(|w| &w.instruction)) {
            for sentence in sentences(text) {
                check_sentence(procedure, step, &sentence, &mut problems);
            }
        }
        for text in std::iter::once(&step.why).chain(&step.look).chain(ways.iter().flat_map(|w| &w.look)) {
            for sentence in sentences(text) {
                check_description(procedure, step, &sentence, &mut problems);
            }
        }
        check_whole(step, &mut problems);
    }
    problems
}

/// Checks the hazards of a library: each used by some step, and each with a way to keep clear of it in command form.
pub fn check_hazards(library: &Library) -> Vec<Problems> {
    let used: Vec<&String> = library
        .procedures
        .iter()
        .flat_map(|p| p.hazards.iter().chain(p.steps.iter().flat_map(|s| &s.hazards)))
        .collect();
    let mut files = Vec::new();
    for source in library.sources.iter().filter(|s| s.name.ends_with("hazards.toml")) {
        let mut problems = Problems::new(source.clone());
        for hazard in &library.hazards {
            let place = |words: &str| source.text.find(words).map_or(0..0, |at| at..at + words.len());
            if !used.contains(&&hazard.id) {
                let title = format!("no step shows the hazard `{}`", hazard.id);
                let problem = Problem::at(place(&format!("\"{}\"", hazard.id)), title, "a hazard without a step");
                problems.push(problem.help("name it in a step: hazard = [...], or take it out"));
            }
            for sentence in sentences(&hazard.avoid) {
                if let Some((title, label)) = wrong_command(&sentence, &hazard_name(hazard)) {
                    problems.push(Problem::at(place(&sentence), title, label));
                }
            }
        }
        if !problems.is_empty() {
            files.push(problems);
        }
    }
    files
}

fn hazard_name(hazard: &Hazard) -> String {
    format!("hazard `{}`", hazard.id)
}

fn bare(word: &str) -> String {
    word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase()
}

/// What is wrong with a sentence that must be a command of at most twenty words: title and label of the problem.
fn wrong_command(sentence: &str, of: &str) -> Option<(String, String)> {
    let words: Vec<&str> = sentence.split_whitespace().collect();
    if words.len() > WORDS {
        return Some((format!("a sentence of {} words in {of}", words.len()), format!("at most {WORDS} words")));
    }
    let first = words.first().map(|word| bare(word)).unwrap_or_default();
    NO_COMMAND
        .contains(&first.as_str())
        .then(|| (format!("a sentence of {of} does not begin with a command"), "begin with what to do".to_owned()))
}

fn check_description(procedure: &Procedure, step: &ProcedureStep, sentence: &str, problems: &mut Problems) {
    let count = sentence.split_whitespace().count();
    if count > WORDS_OF_DESCRIPTION {
        let title = format!("a sentence of {count} words in a description of step `{}`", step.id);
        let label = format!("at most {WORDS_OF_DESCRIPTION} words");
        let problem = Problem::at(place(procedure, step, sentence), title, label);
        problems.push(problem.help("make two sentences of it (ASD-STE100 rule 6.1)"));
    }
}

/// Where a passage of a step stands in the file; the step itself where it is written over several lines.
fn place(procedure: &Procedure, step: &ProcedureStep, passage: &str) -> Range<usize> {
    let text = &procedure.source.text;
    let start = step.place.start.min(text.len());
    let first_words: String = passage.split_whitespace().take(4).collect::<Vec<_>>().join(" ");
    let found = text.get(start..).and_then(|rest| rest.find(passage).map(|at| (at, passage.len())));
    let found =
        found.or_else(|| text.get(start..).and_then(|rest| rest.find(&first_words).map(|at| (at, first_words.len()))));
    found.map_or(step.place.clone(), |(at, length)| start + at..start + at + length)
}

fn check_sentence(procedure: &Procedure, step: &ProcedureStep, sentence: &str, problems: &mut Problems) {
    let words: Vec<&str> = sentence.split_whitespace().collect();
    let at = || place(procedure, step, sentence);
    if words.len() > WORDS {
        let title = format!("a sentence of {} words in step `{}`", words.len(), step.id);
        let problem = Problem::at(at(), title, format!("at most {WORDS} words"));
        problems.push(problem.help("make two sentences of it, one instruction each (ASD-STE100 rules 5.1, 5.2)"));
    }
    let lower: Vec<String> = words.iter().map(|word| bare(word)).collect();
    let conditional = lower.first().is_some_and(|first| CONDITIONS.contains(&first.as_str()));
    let then = words.windows(2).any(|w| w[0].ends_with(',') && w[1] == "then") && !conditional;
    let second = lower.windows(2).find(|w| w[0] == "and" && (w[1] == "then" || COMMANDS.contains(&w[1].as_str())));
    if then || second.is_some() {
        let title = format!("two instructions in one sentence of step `{}`", step.id);
        let problem = Problem::at(at(), title, "one instruction a sentence (ASD-STE100 rule 5.2)");
        problems.push(match second {
            Some(pair) if pair[1] != "then" => problem.help(format!("begin a new sentence with `{}`", pair[1])),
            _ => problem.help("begin a new sentence instead of `then`"),
        });
    }
    if !conditional && lower.iter().skip(1).any(|word| word == "if") {
        let title = format!("a condition that comes late in step `{}`", step.id);
        let problem = Problem::at(at(), title, "the condition first, then a comma, then the command");
        problems.push(problem.help("begin with If ..., (ASD-STE100 rule 5.4)"));
    }
    if conditional && !sentence.contains(',') {
        let title = format!("a condition without a comma in step `{}`", step.id);
        problems.push(Problem::at(at(), title, "put a comma between condition and command (ASD-STE100 rule 5.4)"));
    }
    for (soft, instead) in SOFT {
        if words.iter().any(|word| bare(word) == soft) {
            let title = format!("`{soft}` in an instruction of step `{}`", step.id);
            problems.push(Problem::at(at(), title, instead));
        }
    }
    let first = words.first().map(|word| bare(word)).unwrap_or_default();
    if NO_COMMAND.contains(&first.as_str()) {
        let title = format!("an instruction of step `{}` does not begin with a command", step.id);
        problems.push(Problem::at(at(), title, "begin with what to do (ASD-STE100 rule 5.3)"));
    }
}

/// A value that is asked for and never judged.
fn check_whole(step: &ProcedureStep, problems: &mut Problems) {
    let value = matches!(step.ask, AskTemplate::Record { what: Recorded::Value(_), expect: None });
    if value && step.accept.is_none() && step.no_limit.is_none() {
        let title = format!("the value of step `{}` has no limit", step.id);
        let problem = Problem::at(step.place.clone(), title, "a reading without limits");
        let help = "add expect = \"...\" or accept = { at_least = \"...\", because = \"...\" }, or say why there is none: \
                    no_limit = \"...\"";
        problems.push(problem.help(help));
    }
    if step.no_concession && step.accept.is_none() && matches!(step.ask, AskTemplate::Do) {
        let title = format!("step `{}` allows no concession and asks for no reading", step.id);
        problems.push(Problem::at(step.place.clone(), title, "add a reading, or leave no_concession away"));
    }
}

/// The sentences of an instruction without the branches of its template.
fn sentences(text: &str) -> Vec<String> {
    let mut plain = String::new();
    let mut rest = text;
    while let Some(open) = rest.find("{%") {
        plain.push_str(&rest[..open]);
        // A branch is read as words of its own: each way through the text is shorter.
        plain.push_str(". ");
        rest = rest[open..].find("%}").map_or("", |close| &rest[open + close + 2..]);
    }
    plain.push_str(rest);
    let flat = plain.replace("\\\n", " ").split_whitespace().collect::<Vec<_>>().join(" ");
    let ends = |text: &str| text.split(". ").map(|s| s.trim().trim_end_matches('.').to_owned()).collect::<Vec<_>>();
    let whole = text.contains("{%");
    let all = ends(&flat);
    // Pieces between branches may begin in the middle of a sentence: only their length is judged.
    all.into_iter()
        .filter(|s| s.split_whitespace().count() > 2 && (!whole || s.starts_with(char::is_uppercase)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_library_keeps_the_sentence_rules() {
        for procedure in Library::embedded().unwrap_or_else(|e| panic!("{e}")).procedures {
            let problems = check(&procedure);
            assert!(problems.is_empty(), "{problems}");
        }
    }
}
