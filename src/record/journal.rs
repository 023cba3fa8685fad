//! The append-only file of entries. An entry counts once its line is on the disk.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::entry::{Entry, FIRST_PREVIOUS, sha256_hex};
use super::error::RecordError;
use crate::walk::Event;

#[derive(Debug)]
pub(super) struct Journal {
    file: File,
    path: PathBuf,
    length: u64,
    next_seq: u64,
    previous: String,
}

/// What was read from a journal on opening.
pub(super) struct Reopened {
    pub journal: Journal,
    pub entries: Vec<Entry>,
    /// A torn last line.
    pub torn: Option<Vec<u8>>,
}

/// Splits a journal into its complete lines and what follows the last line feed.
pub(super) fn split(bytes: &[u8]) -> (&[u8], &[u8]) {
    let end = bytes.iter().rposition(|b| *b == b'\n').map_or(0, |at| at + 1);
    bytes.split_at(end)
}

/// Reads complete lines; the first one that is wrong ends it with its number and the trouble.
pub(super) fn read_lines(bytes: &[u8]) -> (Vec<Entry>, String, Option<(usize, String)>) {
    let mut entries: Vec<Entry> = Vec::new();
    let mut previous = FIRST_PREVIOUS.to_owned();
    for (index, line) in bytes.split_inclusive(|b| *b == b'\n').enumerate() {
        let number = index + 1;
        let entry = std::str::from_utf8(line)
            .map_err(|_| "this is not UTF-8 text".to_owned())
            .and_then(Entry::parse)
            .and_then(|entry| {
                if entry.prev != previous {
                    return Err("it does not carry the hash of the line before: one of the two was changed".to_owned());
                }
                if usize::try_from(entry.seq) != Ok(index) {
                    return Err(format!("its number is {} where {index} must stand", entry.seq));
                }
                Ok(entry)
            });
        match entry {
            Ok(entry) => entries.push(entry),
            Err(says) => return (entries, previous, Some((number, says))),
        }
        previous = sha256_hex(line);
    }
    (entries, previous, None)
}

/// The entries of a journal, the hash of its last line, and a torn last line; the first line that is wrong is an error.
pub(super) fn read_whole<'b>(path: &Path, bytes: &'b [u8]) -> Result<(Vec<Entry>, String, &'b [u8]), RecordError> {
    let (whole, torn) = split(bytes);
    match read_lines(whole) {
        (entries, head, None) => Ok((entries, head, torn)),
        (_, _, Some((line, says))) => Err(RecordError::Changed { says: format!("{}:{line}: {says}", path.display()) }),
    }
}

impl Journal {
    /// Makes a new journal with its first entry; the name appears only once the entry is on the disk.
    pub(super) fn create(path: &Path, at: Timestamp, event: &Event) -> Result<Self, RecordError> {
        let fresh = path.with_extension("jsonl.new");
        let file = OpenOptions::new()
            .write(true)
            .create(true)
            .truncate(true)
            .read(true)
            .open(&fresh)
            .map_err(RecordError::file("create", &fresh))?;
        lock(&file, path)?;
        let mut journal =
            Self { file, path: fresh.clone(), length: 0, next_seq: 0, previous: FIRST_PREVIOUS.to_owned() };
        journal.append(at, "", event)?;
        std::fs::rename(&fresh, path).map_err(RecordError::file("name", path))?;
        path.clone_into(&mut journal.path);
        sync_folder(path)?;
        Ok(journal)
    }

    /// Opens a journal to go on with it. A last line without its line feed is handed back and left where it is, until
    /// [`Journal::set_aside`].
    pub(super) fn open(path: &Path) -> Result<Reopened, RecordError> {
        let mut file = OpenOptions::new().read(true).write(true).open(path).map_err(RecordError::file("open", path))?;
        lock(&file, path)?;
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(RecordError::file("read", path))?;
        let (entries, previous, torn) = read_whole(path, &bytes)?;
        let length = (bytes.len() - torn.len()) as u64;
        let torn = (!torn.is_empty()).then(|| torn.to_vec());
        let next_seq = entries.len() as u64;
        let journal = Self { file, path: path.to_owned(), length, next_seq, previous };
        Ok(Reopened { journal, entries, torn })
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
            Entry { seq: self.next_seq, prev: self.previous.clone(), at, by: by.to_owned(), event: event.clone() };
        let line = entry.line().map_err(|error| RecordError::Changed { says: error.to_string() })?;
        let written = self
            .file
            .seek(SeekFrom::Start(self.length))
            .and_then(|_| self.file.write_all(line.as_bytes()))
            .and_then(|()| self.file.sync_data());
        if let Err(error) = written {
            // Best effort: a torn line that stays is recognised on the next opening.
            let _ = self.file.set_len(self.length);
            return Err(RecordError::file("write", &self.path)(error));
        }
        self.length += line.len() as u64;
        self.next_seq += 1;
        self.previous = sha256_hex(line.as_bytes());
        Ok(entry)
    }

    /// Hash of the last line.
    pub(super) fn head(&self) -> &str {
        &self.previous
    }
}

fn lock(file: &File, path: &Path) -> Result<(), RecordError> {
    match file.try_lock() {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(RecordError::InUse { path: path.to_owned() }),
        // Some network file systems know no locks: working is worth more than the guard.
        Err(TryLockError::Error(error)) if error.kind() == std::io::ErrorKind::Unsupported => Ok(()),
        Err(TryLockError::Error(error)) => Err(RecordError::file("lock", path)(error)),
    }
}

fn keep(path: &Path, torn: &[u8]) -> Result<(), RecordError> {
    let name = |n: usize| path.with_extension(format!("torn-{n}"));
    let free = (1..1000).map(name).find(|p| !p.exists()).unwrap_or_else(|| name(1000));
    let mut file = File::create(&free).map_err(RecordError::file("write", &free))?;
    file.write_all(torn).and_then(|()| file.sync_all()).map_err(RecordError::file("write", &free))
}

/// A new name in a folder is durable once the folder itself is synced.
pub(super) fn sync_folder(path: &Path) -> Result<(), RecordError> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let result = File::open(folder).and_then(|f| f.sync_all());
    match result {
        // Not every system can open a folder as a file.
        Err(error) if error.kind() == std::io::ErrorKind::PermissionDenied => Ok(()),
        other => other.map_err(RecordError::file("save", folder)),
    }
}
