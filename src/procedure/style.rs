//! Sentence rules that a machine can check: ASD-STE100 rules 5.1 to 5.5 for procedures (at most 20 words, one
//! instruction a sentence, command form), and what makes a procedure whole.

use std::ops::Range;

use super::{AskTemplate, Procedure, ProcedureStep};
use crate::document::{Problem, Problems};
use crate::quantity::Dimension;

/// Words that a sentence of an instruction may have (ASD-STE100 rule 5.1).
const WORDS: usize = 20;

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
        for sentence in sentences(&step.instruction) {
            check_sentence(procedure, step, &sentence, &mut problems);
        }
        check_whole(step, &mut problems);
    }
    problems
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
    let lower = sentence.to_lowercase();
    if lower.contains(" and then ")
        || lower.contains(", then ") && !lower.starts_with("if ") && !lower.starts_with("when ")
    {
        let title = format!("two instructions in one sentence of step `{}`", step.id);
        problems.push(Problem::at(at(), title, "one instruction a sentence (ASD-STE100 rule 5.2)"));
    }
    let bare = |word: &str| word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
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

/// A value that is asked for and never judged, where a limit is usual.
fn check_whole(step: &ProcedureStep, problems: &mut Problems) {
    let judged =
        matches!(step.ask, AskTemplate::Record { dimension: Some(Dimension::Torque | Dimension::Force), expect: None });
    // A step for the case that the job states no limit asks for the maker's figure in its text.
    if judged && step.accept.is_none() && step.when.is_none() {
        let title = format!("the value of step `{}` has no limit", step.id);
        let problem = Problem::at(step.place.clone(), title, "a torque or a force is judged");
        problems.push(problem.help("add expect = \"...\" or accept = { at_least = \"...\", because = \"...\" }"));
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
    use super::super::Library;
    use super::*;

    #[test]
    fn the_embedded_library_keeps_the_sentence_rules() {
        for procedure in Library::embedded().unwrap_or_else(|e| panic!("{e}")).procedures {
            let problems = check(&procedure);
            assert!(problems.is_empty(), "{problems}");
        }
    }
}
