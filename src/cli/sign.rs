//! `rigproof sign`: one more signature on a record, over all before it.

use std::io::IsTerminal;
use std::path::Path;

use console::Term;
use jiff::Timestamp;

use super::arguments::Sign;
use super::failure::{Failure, Outcome};
use super::walk::{outcome, say, seal, summary};
use super::{layout, signing, terminal};
use crate::record::{self, Opened, Record};
use crate::walk::Standing;

pub(super) fn run(arguments: &Sign) -> Result<Outcome, Failure> {
    let folder = &arguments.record;
    if !Record::exists(folder) {
        let says = format!("{} holds no record\n  name the folder in which journal.jsonl lies", folder.display());
        return Err(Failure::message(says));
    }
    let now = Timestamp::now();
    let Opened { mut record, mut walk, .. } = Record::open(folder, now)?;
    if walk.standing() == Standing::InProgress || !record.is_sealed() {
        return Err(Failure::message(format!(
            "the work in {} is not signed off and sealed yet\n  go on with `rigproof walk`, which signs at its end",
            folder.display()
        )));
    }
    // Nobody puts a name to what is not what was signed before.
    let findings = record::verify(folder, &record::Reader::default(), now)?;
    if !findings.intact {
        return Err(Failure::message(format!(
            "the record is not intact, and is not signed\n  - {}",
            findings.problems.join("\n  - ")
        )));
    }
    let ask = |path: &Path| {
        let there = std::io::stdin().is_terminal() && std::io::stderr().is_terminal();
        there.then(|| terminal::passphrase(&Term::stderr(), path)).flatten()
    };
    let key = match &arguments.key {
        Some(path) => signing::read(path, ask)?,
        None => {
            let (key, new) = signing::own(&arguments.name, ask)?;
            if new {
                say(&signing::introduce(&key));
            }
            key
        }
    };
    let words = [&arguments.name, &arguments.role, &arguments.statement].map(|text| text.trim());
    if words.iter().any(|text| !text.chars().any(char::is_alphabetic)) {
        return Err(Failure::message(
            "a name, a role and a statement are needed, in words that another person understands",
        ));
    }
    record.sign_off(&mut walk, now, (words[0], words[1], words[2]), &key)?;
    seal(&mut record, &walk, &key)?;
    layout::print(&summary(&walk, &record))?;
    Ok(outcome(&walk))
}
