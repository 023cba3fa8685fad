//! The ledger: an index over the records below a folder, in one SQLite file. The records are the truth; the ledger can be
//! thrown away and made anew from them at any time, and then holds the same rows.
//!
//! It reads what the journals say and checks their chain. Whether a record is what was signed, with which key, says
//! [`crate::record::verify`].

mod error;
mod export;
mod find;
mod questions;
mod rows;
mod schema;

pub use error::LedgerError;
pub use export::{Form, export};
pub use questions::{Answer, By, Cell, Of, Off, Period, Question, Touched, ask};
pub use schema::{Column, Kind, TABLES, Table};

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior, params, params_from_iter};

use self::rows::Rows;
use crate::record::stamp_of;

/// Name of the file in the folder.
pub const LEDGER: &str = "ledger.sqlite";

/// Another schema or another reading of records makes another number; a ledger of another one is made anew.
const VERSION: i64 = 2;

/// How long one waits for another program that writes.
const PATIENCE: Duration = Duration::from_secs(10);

/// Records that are read, and then written, at once: a kill loses no more than these.
const AT_ONCE: usize = 512;

/// A ledger that is open.
#[derive(Debug)]
pub struct Ledger {
    root: PathBuf,
    database: Connection,
}

/// What an update did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Done {
    /// Records below the folder.
    pub records: usize,
    /// Records that were read, because they were new or had changed.
    pub read: usize,
    /// Records that are there no more.
    pub gone: usize,
    /// Folders that hold a copy of another record, and count for nothing.
    pub copies: usize,
}

impl Ledger {
    /// Whether a folder has one.
    pub fn exists(root: &Path) -> bool {
        root.join(LEDGER).is_file()
    }

    /// Opens the ledger of a folder; an empty one is made where there is none, or where it is of another version or broken.
    ///
    /// # Errors
    /// [`LedgerError`]
    pub fn open(root: &Path) -> Result<Self, LedgerError> {
        let path = root.join(LEDGER);
        match Self::of_this_version(root, &path) {
            Ok(Some(ledger)) => return Ok(ledger),
            Ok(None) => {}
            Err(rusqlite::Error::SqliteFailure(error, _))
                if matches!(error.code, rusqlite::ErrorCode::NotADatabase | rusqlite::ErrorCode::DatabaseCorrupt) => {}
            Err(error) => return Err(error.into()),
        }
        Self::make(root)
    }

    /// An empty ledger in the place of what was there.
    ///
    /// # Errors
    /// [`LedgerError`]
    pub fn make(root: &Path) -> Result<Self, LedgerError> {
        let path = root.join(LEDGER);
        for name in [LEDGER.to_owned(), format!("{LEDGER}-journal")] {
            let path = root.join(name);
            match std::fs::remove_file(&path) {
                Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                    return Err(LedgerError::File { path, error });
                }
                _ => {}
            }
        }
        let database = Connection::open(&path)?;
        prepare(&database)?;
        database.execute_batch(&format!("BEGIN;\n{}PRAGMA user_version = {VERSION};\nCOMMIT;", schema::create()))?;
        Ok(Self { root: root.to_owned(), database })
    }

    fn of_this_version(root: &Path, path: &Path) -> Result<Option<Self>, rusqlite::Error> {
        if !path.is_file() {
            return Ok(None);
        }
        let database = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        prepare(&database)?;
        let version: i64 = database.query_row("PRAGMA user_version", [], |row| row.get(0))?;
        Ok((version == VERSION).then(|| Self { root: root.to_owned(), database }))
    }

    /// Reads the records that are new or have changed, and forgets those that are gone. `see` is told after each batch
    /// how many of how many were read.
    ///
    /// # Errors
    /// [`LedgerError`]
    pub fn update(&mut self, see: &mut dyn FnMut(usize, usize)) -> Result<Done, LedgerError> {
        let found = find::records(&self.root);
        let mut known = self.seen()?;
        let mut done = Done { records: found.len(), ..Done::default() };
        let here: BTreeMap<&str, &PathBuf> = found.iter().map(|(name, path)| (name.as_str(), path)).collect();
        let gone: Vec<String> = known.keys().filter(|name| !here.contains_key(name.as_str())).cloned().collect();
        if !gone.is_empty() {
            let change = self.database.transaction_with_behavior(TransactionBehavior::Immediate)?;
            for name in &gone {
                done.gone += 1;
                for freed in forget(&change, name)? {
                    // What was a copy of it may be the record now.
                    known.remove(&freed);
                }
                known.remove(name);
            }
            change.commit()?;
        }
        let stamped: Vec<(&String, &PathBuf, String)> =
            found.iter().map(|(name, path)| (name, path, stamp_of(path))).collect();
        let changed: Vec<_> = stamped.iter().filter(|(name, _, stamp)| known.get(*name) != Some(stamp)).collect();
        let mut freed = false;
        for batch in changed.chunks(AT_ONCE) {
            let rows = read_all(batch);
            let change = self.database.transaction_with_behavior(TransactionBehavior::Immediate)?;
            for ((name, _, stamp), rows) in batch.iter().zip(rows) {
                freed |= put(&change, name, stamp, &rows)?;
            }
            change.commit()?;
            done.read += batch.len();
            see(done.read, changed.len());
        }
        if freed {
            let more = self.update(see)?;
            return Ok(Done { read: done.read + more.read, gone: done.gone, ..more });
        }
        // By the key of `record`: the other way round each folder would look through all of them.
        let copies = "SELECT count(*) FROM seen JOIN record USING (record) WHERE record.folder <> seen.folder";
        done.copies = self.database.query_row(copies, [], |row| row.get::<_, i64>(0))?.try_into().unwrap_or(0);
        Ok(done)
    }

    /// Folder and stamp of each record that was looked at.
    fn seen(&self) -> Result<BTreeMap<String, String>, LedgerError> {
        let mut statement = self.database.prepare("SELECT folder, stamp FROM seen")?;
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The database, for whoever asks it.
    pub fn database(&self) -> &Connection {
        &self.database
    }
}

/// A rollback journal and not a write-ahead log: a ledger may lie on a drive that several machines share.
fn prepare(database: &Connection) -> Result<(), rusqlite::Error> {
    database.busy_timeout(PATIENCE)?;
    database.pragma_update(None, "synchronous", "NORMAL")?;
    database.pragma_update(None, "cache_size", -65_536)
}

/// Reads records on as many threads as the machine has for it; the rows come in the order of the records.
fn read_all(batch: &[&(&String, &PathBuf, String)]) -> Vec<Rows> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let share = batch.len().div_ceil(threads).max(1);
    let of = |own: &[&(&String, &PathBuf, String)]| -> Vec<Rows> {
        own.iter().map(|(name, path, _)| Rows::of(path, name)).collect()
    };
    std::thread::scope(|scope| {
        let workers: Vec<_> = batch.chunks(share).map(|own| scope.spawn(move || of(own))).collect();
        // A thread that panics takes the program with it, as if there were no threads.
        workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap_or_else(|cause| std::panic::resume_unwind(cause)))
            .collect()
    })
}

/// Puts the rows of a record in the place of those that were there. Of two folders with the same record the first by name
/// counts: the other is a copy. Says whether copies of what lay there are to be read anew.
fn put(change: &Transaction, name: &str, stamp: &str, rows: &Rows) -> Result<bool, LedgerError> {
    let before: Option<String> = first(change, "SELECT record FROM seen WHERE folder = ?1", name)?;
    let holder: Option<String> = first(change, "SELECT folder FROM record WHERE record = ?1", &rows.record)?;
    let mut freed = false;
    if let Some(before) = before.filter(|before| *before != rows.record) {
        // Another record lies there now.
        clear(change, &before, name)?;
        freed = change.execute("DELETE FROM seen WHERE record = ?1 AND folder <> ?2", [before.as_str(), name])? > 0;
    }
    let mut seen = change.prepare_cached("INSERT OR REPLACE INTO seen VALUES (?1, ?2, ?3)")?;
    seen.execute(params![name, stamp, rows.record])?;
    if holder.as_deref().is_some_and(|holder| holder < name) {
        return Ok(freed);
    }
    if let Some(holder) = holder {
        clear(change, &rows.record, &holder)?;
    }
    for table in TABLES {
        let marks = vec!["?"; table.columns.len()].join(", ");
        let mut insert = change.prepare_cached(&format!("INSERT INTO \"{}\" VALUES ({marks})", table.name))?;
        for row in rows.tables.get(table.name).into_iter().flatten() {
            insert.execute(params_from_iter(row))?;
        }
    }
    Ok(freed)
}

/// Takes the rows of a record out, where they came from that folder.
fn clear(change: &Transaction, record: &str, folder: &str) -> Result<(), LedgerError> {
    let holder: Option<String> = first(change, "SELECT folder FROM record WHERE record = ?1", record)?;
    if holder.as_deref() != Some(folder) {
        return Ok(());
    }
    for table in TABLES {
        change.prepare_cached(&format!("DELETE FROM \"{}\" WHERE record = ?1", table.name))?.execute([record])?;
    }
    Ok(())
}

/// Forgets a folder that is there no more; the folders that hold a copy of what lay there come back, to be read again.
fn forget(change: &Transaction, name: &str) -> Result<Vec<String>, LedgerError> {
    let record: Option<String> = first(change, "SELECT record FROM seen WHERE folder = ?1", name)?;
    change.execute("DELETE FROM seen WHERE folder = ?1", [name])?;
    let Some(record) = record else { return Ok(Vec::new()) };
    clear(change, &record, name)?;
    let mut statement = change.prepare_cached("DELETE FROM seen WHERE record = ?1 RETURNING folder")?;
    let copies = statement.query_map([&record], |row| row.get(0))?;
    Ok(copies.collect::<Result<_, _>>()?)
}

fn first(change: &Transaction, query: &str, key: &str) -> Result<Option<String>, LedgerError> {
    use rusqlite::OptionalExtension;
    Ok(change.prepare_cached(query)?.query_row([key], |row| row.get(0)).optional()?)
}
