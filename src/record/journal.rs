//! The append-only files of entries, one for each part. An entry counts once its line is on the disk.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::entry::{Entry, FIRST_PREVIOUS, sha256_hex};
use super::error::RecordError;
use super::files::{read_text, sync_folder, unfinished};
use super::layout::Part;
use crate::walk::Event;

/// Where a chain of entries stands: what the next entry carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Link {
    /// Its number.
    pub seq: u64,
    /// The hash of the line before it.
    pub prev: String,
}

impl Link {
    /// Before the first entry.
    pub(super) fn first() -> Self {
        Self { seq: 0, prev: FIRST_PREVIOUS.to_owned() }
    }
}

/// The journal of the part that is being written.
#[derive(Debug)]
pub(super) struct Journal {
    file: File,
    path: PathBuf,
    length: u64,
    link: Link,
    /// Whether bytes of a line that failed may stand behind the last line.
    dirty: bool,
}

/// All journals of a record, read from first to last.
pub(super) struct Chain {
    /// The entries of all parts.
    pub entries: Vec<Entry>,
    /// How many of them each part holds.
    pub counts: Vec<usize>,
    /// Where the chain stands.
    pub link: Link,
    /// What follows the last line feed of the last part.
    pub torn: Vec<u8>,
    /// The first line that is wrong: its place in the folder, and how.
    pub trouble: Option<(String, String)>,
}

impl Chain {
    /// Reads the journals of a record up to the first line that is wrong.
    pub(super) fn read(folder: &Path) -> Self {
        let mut chain =
            Self { entries: Vec::new(), counts: Vec::new(), link: Link::first(), torn: Vec::new(), trouble: None };
        let last = Part::last_of(folder);
        for part in last.up_to() {
            let path = folder.join(part.journal());
            let bytes = match read_text(&path) {
                Ok(bytes) => bytes,
                Err(error) => {
                    chain.trouble = Some((part.journal(), error.to_string()));
                    break;
                }
            };
            let before = chain.entries.len();
            let torn = chain.take_lines(&part.journal(), &bytes, part == last && !part.is_sealed(folder));
            chain.counts.push(chain.entries.len() - before);
            if chain.trouble.is_none() && !torn.is_empty() && part < last {
                let place = format!("{}:{}", part.journal(), chain.entries.len() - before + 1);
                chain.trouble = Some((place, "the line does not end in a line feed".to_owned()));
            }
            if chain.trouble.is_some() {
                break;
            }
            chain.torn = torn;
        }
        chain
    }

    /// The same, where every line is as it must be.
    ///
    /// # Errors
    /// The first line that is wrong, with its place.
    pub(super) fn whole(self, folder: &Path) -> Result<Self, RecordError> {
        match &self.trouble {
            Some((place, says)) => {
                Err(RecordError::Changed { says: format!("{}: {says}", folder.join(place).display()) })
            }
            None => Ok(self),
        }
    }

    /// Takes the complete lines of a journal; what follows them and was torn comes back. Where blocks of a disk are written
    /// out of order a power cut leaves a last line with its line feed that is no JSON: in a part that is open it is torn, too.
    fn take_lines(&mut self, name: &str, bytes: &[u8], open: bool) -> Vec<u8> {
        let end = bytes.iter().rposition(|b| *b == b'\n').map_or(0, |at| at + 1);
        let mut from = 0;
        for (index, line) in bytes[..end].split_inclusive(|b| *b == b'\n').enumerate() {
            let to = from + line.len();
            match self.entry(line) {
                Ok(entry) => self.entries.push(entry),
                Err(_) if open && to == bytes.len() && serde_json::from_slice::<serde_json::Value>(line).is_err() => {
                    return line.to_vec();
                }
                Err(says) => {
                    self.trouble = Some((format!("{name}:{}", index + 1), says));
                    return Vec::new();
                }
            }
            self.link = Link { seq: self.link.seq + 1, prev: sha256_hex(line) };
            from = to;
        }
        bytes[end..].to_vec()
    }

    fn entry(&self, line: &[u8]) -> Result<Entry, String> {
        let text = std::str::from_utf8(line).map_err(|_| "this is not UTF-8 text".to_owned())?;
        let entry = Entry::parse(text)?;
        if entry.prev != self.link.prev {
            return Err("it does not carry the hash of the line before: one of the two was changed".to_owned());
        }
        if entry.seq != self.link.seq {
            return Err(format!("its number is {} where {} must stand", entry.seq, self.link.seq));
        }
        Ok(entry)
    }

    /// The last entry of a part that says more than that a torn line was set aside.
    pub(super) fn last_of(&self, part: Part) -> Option<&Entry> {
        let end: usize = self.counts.iter().take(part.number()).sum();
        let begin = end - self.counts.get(part.number() - 1)?;
        self.entries[begin..end].iter().rev().find(|entry| !matches!(entry.event, Event::Recovered { .. }))
    }

    /// In which journal, and on which line of it, an entry stands.
    pub(super) fn place(&self, seq: u64) -> String {
        let mut index = usize::try_from(seq).unwrap_or(usize::MAX);
        for (part, count) in self.counts.iter().enumerate() {
            if index < *count {
                return format!("{}:{}", Part::at(part).journal(), index + 1);
            }
            index -= count;
        }
        format!("entry {seq}")
    }
}

impl Journal {
    /// Makes the journal of a part with its first entry; the name appears only once the entry is on the disk.
    pub(super) fn create(
        path: &Path,
        file: File,
        link: Link,
        (at, by, event): (Timestamp, &str, &Event),
    ) -> Result<(Self, Entry), RecordError> {
        let fresh = unfinished(path);
        file.set_len(0).map_err(RecordError::file("cut", &fresh))?;
        let mut journal = Self { file, path: fresh.clone(), length: 0, link, dirty: false };
        let entry = journal.append(at, by, event)?;
        std::fs::rename(&fresh, path).map_err(RecordError::file("name", path))?;
        path.clone_into(&mut journal.path);
        sync_folder(path)?;
        Ok((journal, entry))
    }

    /// Goes on with the journal of the last part, opened for writing, where its chain stands at `link`. What `torn` says
    /// follows its last line is left where it is, until [`Journal::set_aside`].
    pub(super) fn go_on(path: &Path, file: File, link: Link, torn: &[u8]) -> Result<Self, RecordError> {
        let whole = file.metadata().map_err(RecordError::file("read", path))?.len();
        let length = whole.saturating_sub(torn.len() as u64);
        Ok(Self { file, path: path.to_owned(), length, link, dirty: false })
    }

    /// Its file, which keeps the lock on it.
    pub(super) fn into_file(self) -> File {
        self.file
    }

    /// Keeps a torn last line in a file of its own and cuts the journal back to its last whole line.
    pub(super) fn set_aside(&mut self, torn: &[u8]) -> Result<(), RecordError> {
        keep(&self.path, torn)?;
        self.file.set_len(self.length).map_err(RecordError::file("cut", &self.path))?;
        self.file.sync_all().map_err(RecordError::file("save", &self.path))
    }

    /// Appends an entry and returns once it is on the disk. On any error the file is cut back to what it was.
    pub(super) fn append(&mut self, at: Timestamp, by: &str, event: &Event) -> Result<Entry, RecordError> {
        let entry =
            Entry { seq: self.link.seq, prev: self.link.prev.clone(), at, by: by.to_owned(), event: event.clone() };
        let line = entry.line().map_err(|error| RecordError::Changed { says: error.to_string() })?;
        if self.dirty {
            self.file.set_len(self.length).map_err(RecordError::file("cut", &self.path))?;
            self.dirty = false;
        }
        let written = self
            .file
            .seek(SeekFrom::Start(self.length))
            .and_then(|_| self.file.write_all(line.as_bytes()))
            .and_then(|()| self.file.sync_data());
        if let Err(error) = written {
            // Where this fails, too, it is done before the next line; a torn line is recognised on the next opening.
            self.dirty = self.file.set_len(self.length).is_err();
            return Err(RecordError::file("write", &self.path)(error));
        }
        self.length += line.len() as u64;
        self.link = Link { seq: self.link.seq + 1, prev: sha256_hex(line.as_bytes()) };
        Ok(entry)
    }

    /// Where its chain stands.
    pub(super) fn link(&self) -> &Link {
        &self.link
    }
}

/// Opens a journal for writing.
pub(super) fn open_to_write(path: &Path) -> Result<File, RecordError> {
    OpenOptions::new().read(true).write(true).open(path).map_err(RecordError::file("open", path))
}

/// Holds a file for this program alone, until it is closed.
pub(super) fn lock(file: &File, path: &Path) -> Result<(), RecordError> {
    match file.try_lock() {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(RecordError::InUse { path: path.to_owned() }),
        // Some network file systems know no locks: working is worth more than the guard.
        Err(TryLockError::Error(error)) if error.kind() == std::io::ErrorKind::Unsupported => Ok(()),
        Err(TryLockError::Error(error)) => Err(RecordError::file("lock", path)(error)),
    }
}

/// Opens the unfinished first journal, and holds it: of two that begin a record at once, one goes on.
pub(super) fn claim(path: &Path) -> Result<File, RecordError> {
    let fresh = unfinished(path);
    if std::fs::symlink_metadata(&fresh).is_ok_and(|data| !data.is_file()) {
        let says = format!("{} is no file", fresh.display());
        return Err(RecordError::NotARecord { path: path.to_owned(), says });
    }
    // Not emptied: it may be another's, who has the lock.
    let mut options = OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false);
    let file = options.open(&fresh).map_err(RecordError::file("create", &fresh))?;
    lock(&file, path)?;
    if std::fs::symlink_metadata(path).is_ok() || !fresh.exists() {
        return Err(RecordError::InUse { path: path.to_owned() });
    }
    Ok(file)
}

/// Keeps a torn line under a name of its own.
fn keep(path: &Path, torn: &[u8]) -> Result<(), RecordError> {
    for n in 1..=MOST_TORN {
        let free = path.with_extension(format!("torn-{n}"));
        match OpenOptions::new().write(true).create_new(true).open(&free) {
            Ok(mut file) => {
                file.write_all(torn).and_then(|()| file.sync_all()).map_err(RecordError::file("write", &free))?;
                return sync_folder(&free);
            }
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(RecordError::file("write", &free)(error)),
        }
    }
    Err(RecordError::Changed { says: format!("{MOST_TORN} torn lines were set aside before; look at the disk") })
}

/// Most torn lines that are kept: a disk that tears more is broken.
const MOST_TORN: usize = 1000;
