use std::path::{Path, PathBuf};

use crate::record::Record;

/// How deep below the folder of a ledger records are looked for.
const DEPTH: usize = 5;

/// The records below a folder: where each lies, and how the ledger calls that. In the order of these names.
pub(super) fn records(root: &Path) -> Vec<(String, PathBuf)> {
    let mut found = Vec::new();
    look(root, "", DEPTH, &mut found);
    found.sort();
    found
}

fn look(folder: &Path, name: &str, depth: usize, found: &mut Vec<(String, PathBuf)>) {
    if Record::exists(folder) {
        found.push((name.to_owned(), folder.to_owned()));
        return;
    }
    let Some(depth) = depth.checked_sub(1) else { return };
    // What cannot be read holds no record for whoever looks. Links are not followed: they may lead anywhere.
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let own = entry.file_name();
        let Some(own) = own.to_str().filter(|own| !own.starts_with('.')) else { continue };
        if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            let name = if name.is_empty() { own.to_owned() } else { format!("{name}/{own}") };
            look(&entry.path(), &name, depth, found);
        }
    }
}
