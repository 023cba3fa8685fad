//! `rigproof verify`: whether a record is what was signed.

use std::fmt::Write;

use jiff::Timestamp;

use super::arguments::Verify;
use super::failure::{Failure, Outcome};
use super::{layout, signing};
use crate::record::{self, Reader, Trust};

/// Columns of what is printed.
const WIDTH: usize = 80;

pub(super) fn run(arguments: &Verify) -> Result<Outcome, Failure> {
    let reader = match &arguments.signers {
        Some(path) => Reader { knows: signing::known_signers(path)?, insists: true },
        None => Reader { knows: signing::usual_signers()?, insists: false },
    };
    let findings = record::verify(&arguments.record, &reader, Timestamp::now())?;
    if arguments.json {
        let text = serde_json::to_string(&findings).map_err(|error| Failure::message(error.to_string()))?;
        layout::print(&text)?;
    } else {
        layout::print(&in_words(&findings, &arguments.record.display().to_string()))?;
    }
    Ok(if findings.problems.is_empty() { Outcome::Conforms } else { Outcome::DoesNotConform })
}

fn in_words(findings: &record::Findings, folder: &str) -> String {
    let mut text = String::new();
    let state = match findings.trust {
        Trust::KnownKey => "intact, signed by a key that you know",
        Trust::UnknownKey => "intact, signed by a key that you do not know",
        Trust::Unsealed => "intact as far as it goes, not sealed",
        Trust::NotIntact => "NOT INTACT",
    };
    let _ = writeln!(text, "{folder}: {state}; {} entries", findings.entries);
    let mut line = |label: &str, words: &str| {
        let _ = writeln!(text, "{}", layout::labelled(label, words, WIDTH));
    };
    for signer in &findings.signed_by {
        let label = format!("  {}. ", signer.seal);
        line(&label, &format!("signed by {}, {}: \"{}\"", signer.name, signer.role, signer.statement));
        line("     ", &format!("{} by their own clock", signer.at.strftime("%Y-%m-%d %H:%M UTC")));
        line("     ", &format!("with key {}", signer.key));
        line(
            "     ",
            &match &signer.known_as {
                Some(name) => format!("you know this key as {name}"),
                None => "you do not know this key".to_owned(),
            },
        );
        if let Some(at) = signer.stamped {
            let words =
                format!("time stamp: {at}; the authority's signature on it is checked with `openssl ts`, not here");
            line("     ", &words);
        }
    }
    for release in &findings.released_by {
        let same = findings.signed_by.iter().any(|signer| signer.key == release.key);
        let remark = if same { " (a key of the sign-off)" } else { "" };
        let known = release.known_as.as_ref().map(|name| format!("; you know it as {name}")).unwrap_or_default();
        line("  ", &format!("{} released by {} with key {}{remark}{known}", release.step, release.by, release.key));
    }
    for problem in &findings.problems {
        line("  - ", problem);
    }
    line("  ", &format!("the journal ends with {}", findings.head));
    line(
        "  ",
        match findings.trust {
            Trust::KnownKey => {
                "Proved: the holder of a key that you know signed these bytes. Not proved: that the readings were really taken, \
             or when, or that nothing was added and thrown away since."
            }
            Trust::UnknownKey => {
                "Proved: whoever holds that key signed these bytes. Not proved: who that is; anybody can make a key and write a \
             name beside it. Compare the fingerprint with one that you got by another road (invoice, telephone), or name \
             your list of keys with --signers FILE."
            }
            Trust::Unsealed => "Nothing is proved by a signature yet about what came after the last seal.",
            Trust::NotIntact => "Nothing that stands in it is proved.",
        },
    );
    // Names of files and people are a stranger's words: they do not steer the terminal.
    text.split('\n').map(crate::report::visible).collect::<Vec<_>>().join("\n")
}
