//! `rigproof sign`: one more signature on a record, over all before it.

use std::io::IsTerminal;
use std::path::Path;

use console::Term;
use jiff::Timestamp;

use super::arguments::Sign;
use super::failure::{Failure, Outcome};
use super::files::expect_record;
use super::house::House;
use super::ledger::keep_up;
use super::walk::{outcome, refuse_changed, say, seal, summary};
use super::{layout, signing, terminal};
use crate::record::{Opened, Record};
use crate::walk::Standing;

pub(super) fn run(arguments: &Sign) -> Result<Outcome, Failure> {
    let folder = &arguments.record;
    expect_record(folder)?;
    let now = Timestamp::now();
    let Opened { mut record, mut walk, .. } = Record::open(folder, now)?;
    if walk.standing() == Standing::InProgress || !record.is_signed_off() {
        return Err(Failure::message(format!(
            "the work in {} is not signed off and sealed yet\n  go on with `rigproof walk`, which signs at its end",
            folder.display()
        )));
    }
    refuse_changed(&record)?;
    if let Some(house) = House::around(folder)? {
        house.rule(&mut record, &mut walk)?;
    }
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
    if let Some(named) = record.waits_for() {
        // Signed, then broken off before the seal was written: it takes the same key.
        if key.public_line()? != named {
            let who = walk.signed().map_or("somebody", |(name, _)| name);
            let says =
                format!("{who} signed with another key, and the seal of that was not written yet; it needs that key");
            return Err(Failure::message(says));
        }
    } else {
        record.sign_off(&mut walk, now, (words[0], words[1], words[2]), &key)?;
    }
    seal(&mut record, &walk, &key)?;
    keep_up(folder);
    layout::print(&summary(&walk, &record))?;
    Ok(outcome(&walk))
}
