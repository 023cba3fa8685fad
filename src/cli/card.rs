//! Pieces of text that a person reads on the screen.

use console::style;

use super::layout::labelled;
use crate::plan::Phase;
use crate::procedure::{Hazard, Signal};

/// What a phase needs before it begins, list by list.
pub(super) fn needs(phase: &Phase) -> Vec<(&'static str, &Vec<String>)> {
    let lists = [
        ("  before:   ", &phase.conditions),
        ("  persons:  ", &phase.persons),
        ("  tools:    ", &phase.tools),
        ("  supplies: ", &phase.supplies),
        ("  parts:    ", &phase.parts),
    ];
    lists.into_iter().filter(|(_, list)| !list.is_empty()).collect()
}

/// A hazard: signal word, what it is, what it does, how to keep clear of it.
pub(super) fn hazard_text(hazard: &Hazard, width: usize, plain: bool) -> String {
    let word = style(format!(" {} ", hazard.signal.word())).for_stderr().bold();
    let word = match (plain, hazard.signal) {
        (true, _) => style(hazard.signal.word().to_owned()).for_stderr(),
        (_, Signal::Danger) => word.white().on_red(),
        (_, Signal::Warning) => word.black().on_color256(208),
        (_, Signal::Caution) => word.black().on_yellow(),
        (_, Signal::Notice) => word.white().on_blue(),
    };
    format!(
        "{word}\n{}\n{}\n{}",
        labelled("  ", &hazard.hazard, width),
        labelled("  ", &hazard.consequence, width),
        labelled("  > ", &hazard.avoid, width)
    )
}
