//! What the layer wrote down: every change below the folder, in order.

use std::path::Path;

/// A change, or something that the program told the person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Entry {
    /// A new file under a name.
    Create { number: u64, path: String },
    /// A new folder.
    Folder { number: u64, path: String },
    /// Bytes written at an offset.
    Write { number: u64, offset: usize, bytes: Vec<u8> },
    /// A length that a file was given.
    Cut { number: u64, length: usize },
    /// A file or a folder was synced.
    Sync { number: u64 },
    /// A name took the place of another.
    Rename { from: String, to: String },
    /// A further name.
    Link { from: String, to: String },
    /// A name was taken away.
    Remove { path: String },
    /// What stood on the screen from here on: no change.
    Told { text: String },
}

impl Entry {
    /// Whether it is counted as a change.
    pub fn is_change(&self) -> bool {
        !matches!(self, Self::Told { .. })
    }
}

/// Reads a trace; a last entry that a kill tore is left away.
pub fn read(file: &Path) -> Vec<Entry> {
    let bytes = std::fs::read(file).unwrap_or_default();
    let mut rest = bytes.as_slice();
    let mut entries = Vec::new();
    while let Some(end) = rest.iter().position(|byte| *byte == b'\n') {
        let head = std::str::from_utf8(&rest[..end]).unwrap();
        let [kind, number, offset, length] = head.split(' ').collect::<Vec<_>>()[..] else { panic!("{head}") };
        let (number, offset, length): (u64, usize, usize) =
            (number.parse().unwrap(), offset.parse().unwrap(), length.parse().unwrap());
        let Some(body) = rest.get(end + 1..end + 1 + length) else { break };
        let text = || String::from_utf8_lossy(body).into_owned();
        let two = || (text()[..offset].to_owned(), text()[offset..].to_owned());
        entries.push(match kind {
            "create" => Entry::Create { number, path: text() },
            "folder" => Entry::Folder { number, path: text() },
            "write" => Entry::Write { number, offset, bytes: body.to_vec() },
            "cut" => Entry::Cut { number, length: offset },
            "sync" => Entry::Sync { number },
            "rename" => Entry::Rename { from: two().0, to: two().1 },
            "link" => Entry::Link { from: two().0, to: two().1 },
            "remove" => Entry::Remove { path: text() },
            "told" => Entry::Told { text: text() },
            other => panic!("{other} is no kind of change"),
        });
        rest = rest.get(end + 2 + length..).unwrap_or_default();
    }
    entries
}
