//! `rigproof sign`: one more signature on a record, over all before it.

use std::io::IsTerminal;
use std::path::Path;

use console::Term;
use jiff::Timestamp;

use super::arguments::Sign;
use super::failure::{Failure, Outcome};
use super::walk::{outcome, refuse_changed, say, seal, summary};
use super::{layout, signing, terminal};
use crate::record::{Opened, Record};
use crate::walk::{Event, Standing};

pub(super) fn run(arguments: &Sign) -> Result<Outcome, Failure> {
    let folder = &arguments.record;
    if !Record::exists(folder) {
        let says = format!("{} holds no record\n  name the folder in which journal.jsonl lies", folder.display());
        return Err(Failure::message(says));
    }
    let now = Timestamp::now();
    let Opened { mut record, mut walk, .. } = Record::open(folder, now)?;
    let again = record.is_signed_off() && !record.is_sealed();
    if walk.standing() == Standing::InProgress || !record.is_signed_off() {
        return Err(Failure::message(format!(
            "the work in {} is not signed off and sealed yet\n  go on with `rigproof walk`, which signs at its end",
            folder.display()
        )));
    }
    refuse_changed(&record)?;
    let ask = |path: &Path| {
        let there = std::io::stdin().is_terminal() && std::io::stderr().is_terminal();
        there.then(|| terminal::passphrase(&Term::stderr(), path)).flatten()
    };
    let key = if let Some(path) = &arguments.key {
        signing::read(path, ask)?
    } else {
        let (key, new) = signing::own(&arguments.name, ask)?;
        if new {
            say(&signing::introduce(&key));
        }
        key
    };
    let words = [&arguments.name, &arguments.role, &arguments.statement].map(|text| text.trim());
    if words.iter().any(|text| !text.chars().any(char::is_alphabetic)) {
        return Err(Failure::message(
            "a name, a role and a statement are needed, in words that another person understands",
        ));
    }
    if again {
        // Signed, then broken off before the seal was written: it takes the same key.
        let own = key.public_line()?;
        if !matches!(record.entries().last().map(|entry| &entry.event), Some(Event::SignedOff { key, .. }) if *key == own)
        {
            let who = walk.signed().map_or("somebody", |(name, _)| name);
            let says =
                format!("{who} signed with another key, and the seal of that was not written yet; it needs that key");
            return Err(Failure::message(says));
        }
    } else {
        record.sign_off(&mut walk, now, (words[0], words[1], words[2]), &key)?;
    }
    seal(&mut record, &walk, &key)?;
    layout::print(&summary(&walk, &record))?;
    Ok(outcome(&walk))
}
