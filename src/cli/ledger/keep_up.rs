use std::path::Path;

use crate::cli::shop_folder::above;
use crate::cli::walk::say;
use crate::ledger::Ledger;

/// A record in a shop has changed: the ledger of the shop reads it, where there is one. The record is on the disk already;
/// a ledger that cannot be kept is said, and stops nothing.
pub(in crate::cli) fn keep_up(record: &Path) {
    let Some(shop) = record.canonicalize().ok().and_then(|record| above(&record)) else { return };
    if !Ledger::exists(&shop) {
        return;
    }
    let kept = Ledger::open(&shop).and_then(|mut ledger| ledger.update(&mut |_, _| ()));
    if let Err(error) = kept {
        say(&format!("The record is complete; only the ledger of the shop does not know it yet: {error}"));
    }
}
