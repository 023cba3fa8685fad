//! `rigproof verify`: whether a record is what was signed.

use std::fmt::Write;

use super::arguments::Verify;
use super::failure::{Failure, Outcome};
use super::files::read_text;
use super::layout;
use crate::record;

pub(super) fn run(arguments: &Verify) -> Result<Outcome, Failure> {
    let known = arguments.signers.as_deref().map(read_text).transpose()?;
    let findings = record::verify(&arguments.record, known.as_deref())?;
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
    let state = if findings.intact { "intact" } else { "NOT INTACT" };
    let _ = writeln!(text, "{folder}: {state}, {} entries", findings.entries);
    for signer in &findings.signed_by {
        let _ = writeln!(text, "  signed by {}, {}, with key {}", signer.name, signer.role, signer.key);
        text.push_str(if signer.known {
            "  The key is one that you know.\n"
        } else {
            "  This proves that the holder of that key signed these bytes, not who holds it. Compare the fingerprint\n  \
             with one that you got by another road, or name your list of keys with --signers FILE.\n"
        });
    }
    for release in &findings.released_by {
        let same = findings.signed_by.iter().any(|signer| signer.key == release.key);
        let remark = if same { " (the key of the sign-off)" } else { "" };
        let _ = writeln!(text, "  {} released by {} with key {}{remark}", release.step, release.by, release.key);
    }
    for problem in &findings.problems {
        let _ = writeln!(text, "  {problem}");
    }
    let _ = writeln!(text, "  last line of the journal: {}", findings.head);
    text
}
