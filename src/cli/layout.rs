//! Words on a page: wrapping, and printing that survives a closed pipe.

use std::io::Write;

use super::failure::Failure;
use crate::quantity::{Quantity, parse_toleranced};

/// Prints on standard output. A reader that went away (`| head`) is no error.
pub(super) fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    let ended = if text.ends_with('\n') { "" } else { "\n" };
    match write!(out, "{text}{ended}").and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure::message(format!("could not print: {error}")))
        }
        _ => Ok(()),
    }
}

/// Text wrapped to a width, the first line behind a label, the others indented below it.
pub(super) fn labelled(label: &str, text: &str, width: usize) -> String {
    let indent = " ".repeat(label.chars().count());
    // A name such as lamp-left stays in one piece.
    let options = textwrap::Options::new(width.max(40))
        .initial_indent(label)
        .subsequent_indent(&indent)
        .word_splitter(textwrap::WordSplitter::NoHyphenation);
    textwrap::fill(text, options)
}

/// A quantity that stands behind an option of the call; its tolerance, where one is written, has no say.
pub(super) fn option<Q: Quantity>(name: &str, text: Option<&str>) -> Result<Option<Q>, Failure> {
    let Some(text) = text else { return Ok(None) };
    match parse_toleranced::<Q>(text) {
        Ok(value) => Ok(Some(value.nominal)),
        Err(error) => Err(Failure::message(format!("{name} \"{text}\": {}\n  {}", error.says, error.help))),
    }
}

/// As [`option`], for what must lie above zero.
pub(super) fn positive_option<Q: Quantity>(name: &str, text: Option<&str>) -> Result<Option<Q>, Failure> {
    match option::<Q>(name, text)? {
        Some(value) if value.base() <= 0.0 => {
            let text = text.unwrap_or_default();
            Err(Failure::message(format!("{name} \"{text}\": it must be above zero")))
        }
        value => Ok(value),
    }
}
