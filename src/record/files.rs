//! Files of a record: written whole, read only where they are files, hashed as they stream.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{Error, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use sha2::{Digest, Sha256};

use super::entry::hex;
use super::error::RecordError;
use super::layout::UNFINISHED;

/// Most bytes that are read of a text file in a record: a journal of a hundred thousand entries is well below.
const LARGEST_TEXT: u64 = 256 << 20;
/// Bytes that are read at once to be hashed: more gains nothing on the machines tried.
const PIECE: usize = 1 << 18;

/// Every file below a folder, relative with `/`, sorted. A link counts as a file and is not followed.
pub(super) fn all_files(folder: &Path) -> Result<Vec<String>, RecordError> {
    let mut found = Vec::new();
    let mut open = vec![String::new()];
    while let Some(below) = open.pop() {
        let inside = folder.join(&below);
        for entry in std::fs::read_dir(&inside).map_err(RecordError::file("read", &inside))? {
            let entry = entry.map_err(RecordError::file("read", &inside))?;
            let raw = entry.file_name();
            let name = raw.to_string_lossy().into_owned();
            let name = if below.is_empty() { name } else { format!("{below}/{name}") };
            if raw.to_str().is_none() {
                // No list of hashes can hold it, and nothing below it can be reached by this name.
                found.push(name);
                continue;
            }
            // A link counts as a file: its target may lie anywhere.
            if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
                open.push(name);
            } else {
                found.push(name);
            }
        }
    }
    found.sort();
    Ok(found)
}

/// Opens a plain file. A link, a pipe or a device is refused: it may lead anywhere, or never end.
pub(super) fn open_plain(path: &Path) -> std::io::Result<File> {
    let kind = std::fs::symlink_metadata(path)?.file_type();
    let says = match kind {
        kind if kind.is_file() => return File::open(path),
        kind if kind.is_symlink() => "this is a link and not a file; it is not followed",
        kind if kind.is_dir() => "this is a folder and not a file",
        _ => "this is no plain file",
    };
    Err(Error::new(ErrorKind::InvalidInput, says))
}

/// Reads a plain file of at most `largest` bytes.
pub(super) fn read_plain(path: &Path, largest: u64) -> std::io::Result<Vec<u8>> {
    let file = open_plain(path)?;
    let mut bytes = Vec::new();
    // One byte more tells a file that is too large, however large it says it is.
    file.take(largest + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > largest {
        return Err(Error::new(ErrorKind::FileTooLarge, format!("this is larger than {} MiB", largest >> 20)));
    }
    Ok(bytes)
}

/// Reads a text file of a record.
pub(super) fn read_text(path: &Path) -> std::io::Result<Vec<u8>> {
    read_plain(path, LARGEST_TEXT)
}

/// SHA-256 of a plain file, in lower-case hexadecimal, without holding it in memory.
pub(super) fn hash_file(path: &Path) -> std::io::Result<String> {
    let mut file = open_plain(path)?;
    let mut hasher = Sha256::new();
    let mut piece = vec![0; PIECE];
    loop {
        match file.read(&mut piece) {
            Ok(0) => return Ok(hex(&hasher.finalize())),
            Ok(read) => hasher.update(&piece[..read]),
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

/// The hash of each file, or why it cannot be read in words.
pub(super) type Hashes = BTreeMap<String, Result<String, String>>;

/// Hashes files below a folder, on as many threads as the machine has for it.
pub(super) fn hash_all(folder: &Path, names: &[String]) -> Hashes {
    let threads = std::thread::available_parallelism().map_or(1, usize::from).min(names.len()).max(1);
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        while let Some(name) = names.get(next.fetch_add(1, Ordering::Relaxed)) {
            done.push((name.clone(), hash_file(&folder.join(name)).map_err(|error| error.to_string())));
        }
        done
    };
    std::thread::scope(|scope| {
        let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
        let mut hashes: Hashes = work().into_iter().collect();
        for other in others {
            // A thread that panicked leaves its files unhashed, and they are found missing.
            hashes.extend(other.join().unwrap_or_default());
        }
        hashes
    })
}

/// What lies in a record that is neither a file nor a folder, or whose name cannot be written down.
pub(super) fn foreign_kind(folder: &Path, names: &[String]) -> Option<String> {
    let plain = |name: &&String| std::fs::symlink_metadata(folder.join(name)).is_ok_and(|data| data.is_file());
    names.iter().find(|name| !plain(name)).cloned()
}

/// Makes a folder inside a record, durably: its own name is synced, too.
pub(super) fn create_folder(path: &Path) -> Result<(), RecordError> {
    match std::fs::create_dir(path) {
        Ok(()) => sync_folder(path),
        Err(error) if error.kind() == ErrorKind::AlreadyExists => {
            let own = std::fs::symlink_metadata(path).is_ok_and(|data| data.is_dir());
            if own { Ok(()) } else { Err(RecordError::file("create", path)(error)) }
        }
        Err(error) => Err(RecordError::file("create", path)(error)),
    }
}

/// The name of a file while it is not finished.
pub(super) fn unfinished(path: &Path) -> PathBuf {
    let mut beside = path.as_os_str().to_owned();
    beside.push(UNFINISHED);
    beside.into()
}

/// Takes away what a broken-off write left, where it left something.
pub(super) fn remove_left_over(path: &Path) -> Result<(), RecordError> {
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != ErrorKind::NotFound => Err(RecordError::file("remove", path)(error)),
        _ => Ok(()),
    }
}

/// A new file in the place of one that was not finished. A link there is taken away, and never followed.
pub(super) fn create_fresh(path: &Path) -> Result<File, RecordError> {
    remove_left_over(path)?;
    let mut options = File::options();
    options.read(true).write(true).create_new(true).open(path).map_err(RecordError::file("create", path))
}

/// Writes a file that its owner alone may read, beside its name, and gives it the name in one step. A file that has the
/// name by then keeps it: two programs may make their first key at one time, and one of them must not lose it.
pub(super) fn write_private_durably(path: &Path, bytes: &[u8]) -> Result<(), RecordError> {
    let beside = unfinished(path);
    remove_left_over(&beside)?;
    let mut options = File::options();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(&beside).map_err(RecordError::file("create", &beside))?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(RecordError::file("write", &beside))?;
    let named = std::fs::hard_link(&beside, path);
    remove_left_over(&beside)?;
    named.map_err(RecordError::file("name", path))?;
    sync_folder(path)
}

/// Writes a file beside its name, syncs it, and renames it: the name never shows half a file.
pub(crate) fn write_durably(path: &Path, bytes: &[u8]) -> Result<(), RecordError> {
    let beside = unfinished(path);
    let mut file = create_fresh(&beside)?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(RecordError::file("write", &beside))?;
    std::fs::rename(&beside, path).map_err(RecordError::file("name", path))?;
    sync_folder(path)
}

/// A new name in a folder is durable once the folder itself is synced.
pub(super) fn sync_folder(path: &Path) -> Result<(), RecordError> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let result = File::open(folder).and_then(|f| f.sync_all());
    match result {
        // Not every system can open a folder as a file.
        Err(error) if error.kind() == ErrorKind::PermissionDenied => Ok(()),
        other => other.map_err(RecordError::file("save", folder)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_hashed_as_its_bytes_are_and_a_folder_is_not() {
        let folder = tempfile::TempDir::new().unwrap();
        let bytes = vec![7; PIECE + 1];
        std::fs::write(folder.path().join("a"), &bytes).unwrap();
        let hashes = hash_all(folder.path(), &["a".to_owned(), "none".to_owned()]);
        assert_eq!(hashes["a"], Ok(super::super::sha256_hex(&bytes)));
        assert!(hashes["none"].is_err() && hash_file(folder.path()).is_err());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_not_followed() {
        let folder = tempfile::TempDir::new().unwrap();
        std::fs::write(folder.path().join("a"), "text").unwrap();
        std::os::unix::fs::symlink("a", folder.path().join("b")).unwrap();
        assert!(read_text(&folder.path().join("a")).is_ok());
        assert!(read_text(&folder.path().join("b")).unwrap_err().to_string().contains("link"));
    }

    #[test]
    fn a_text_that_is_too_large_is_refused() {
        let folder = tempfile::TempDir::new().unwrap();
        std::fs::write(folder.path().join("a"), [1; 11]).unwrap();
        assert!(read_plain(&folder.path().join("a"), 11).is_ok());
        assert!(read_plain(&folder.path().join("a"), 10).is_err());
    }
}
