//! The folder of a record: made, opened, continued.

use std::io::Write;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::entry::{Entry, sha256_hex};
use super::error::RecordError;
use super::journal::{Journal, sync_folder};
use super::{JOB, JOURNAL, SIGNATURE};
use crate::document::Source;
use crate::job::Job;
use crate::plan::{Plan, StepKey};
use crate::procedure::Library;
use crate::walk::{Event, FrozenFile, Walk};

/// A record that is being written.
#[derive(Debug)]
pub struct Record {
    folder: PathBuf,
    journal: Journal,
    entries: Vec<Entry>,
}

/// A record with the walk that its entries add up to.
#[derive(Debug)]
pub struct Opened {
    /// The record.
    pub record: Record,
    /// The walk where it stands.
    pub walk: Walk,
    /// Whether a torn last line was found and set aside.
    pub recovered: bool,
}

impl Record {
    /// Whether a folder holds a record.
    pub fn exists(folder: &Path) -> bool {
        folder.join(JOURNAL).is_file()
    }

    /// Begins a record in a new or empty folder: the job and the procedures are frozen, the first entry is written.
    /// Where the design does not conform, its errors and the reason to begin all the same go into it.
    ///
    /// # Errors
    /// [`RecordError`]; a folder that holds anything else is refused.
    pub fn create(
        folder: &Path,
        walk: &Walk,
        library: &Library,
        (design_errors, despite): (Vec<String>, Option<String>),
        at: Timestamp,
    ) -> Result<Record, RecordError> {
        refuse_foreign(folder)?;
        let procedures = folder.join("procedures");
        std::fs::create_dir_all(&procedures).map_err(RecordError::file("create", &procedures))?;
        let mut files = vec![freeze(folder, JOB, &walk.job().source.text)?];
        for source in &library.sources {
            let name = source.name.rsplit(['/', '\\']).next().unwrap_or(&source.name);
            files.push(freeze(folder, &format!("procedures/{name}"), &source.text)?);
        }
        sync_folder(&procedures.join("any"))?;
        let event = Event::Opened {
            job: walk.job().title.clone(),
            steps: walk.plan().steps.len(),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            files,
            design_errors,
            despite,
        };
        let journal = Journal::create(&folder.join(JOURNAL), at, &event)?;
        let entry = Entry { seq: 0, prev: super::FIRST_PREVIOUS.into(), at, by: String::new(), event };
        Ok(Record { folder: folder.to_owned(), journal, entries: vec![entry] })
    }

    /// Opens a record to go on with it.
    ///
    /// A torn last line (a power cut, a kill) is set aside and noted; anything else that differs is refused.
    ///
    /// # Errors
    /// [`RecordError`]
    pub fn open(folder: &Path, at: Timestamp) -> Result<Opened, RecordError> {
        let path = folder.join(JOURNAL);
        let read = Journal::open(&path)?;
        // Everything is looked at before anything is written.
        if let Some(trouble) = frozen_trouble(folder, &read.entries).into_iter().next() {
            return Err(RecordError::Changed { says: trouble });
        }
        if read.torn.is_some() && folder.join(SIGNATURE).exists() {
            let says = format!("{}: bytes stand behind the last line of a sealed journal", path.display());
            return Err(RecordError::Changed { says });
        }
        let mut walk = walk_of(folder, &read.entries)?;
        let mut record = Record { folder: folder.to_owned(), journal: read.journal, entries: read.entries };
        let recovered = read.torn.is_some();
        if let Some(torn) = read.torn {
            record.journal.set_aside(&torn)?;
            let event = Event::Recovered { sha256: sha256_hex(&torn), bytes: torn.len() };
            record.write(&mut walk, at, &event)?;
        }
        Ok(Opened { record, walk, recovered })
    }

    /// Writes an event that the walk accepts. It is on the disk before the walk moves on.
    ///
    /// # Errors
    /// [`RecordError::Refused`] where the walk does not accept it (nothing is written then), or the file system's word.
    pub fn write(&mut self, walk: &mut Walk, at: Timestamp, event: &Event) -> Result<(), RecordError> {
        let mut next = walk.clone();
        next.apply(event)?;
        let by = next.person().map_or(String::new(), |(name, _)| name.to_owned());
        let entry = self.journal.append(at, &by, event)?;
        self.entries.push(entry);
        *walk = next;
        Ok(())
    }

    /// Takes a picture into the record, without what the camera wrote beside it, and notes it at a step.
    ///
    /// # Errors
    /// [`RecordError::Photo`] where it is no picture; as [`Record::write`].
    pub fn take_photo(
        &mut self,
        walk: &mut Walk,
        at: Timestamp,
        step: &StepKey,
        path: &Path,
    ) -> Result<(), RecordError> {
        let event = super::evidence::keep(&self.folder, step, path)?;
        self.write(walk, at, &event)
    }

    /// All entries so far.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Hash of the last line of the journal.
    pub fn head(&self) -> &str {
        self.journal.head()
    }

    /// Where it lies.
    pub fn folder(&self) -> &Path {
        &self.folder
    }
}

impl Record {
    /// Reads a record without changing or locking it: its entries and the walk that they add up to.
    ///
    /// # Errors
    /// [`RecordError`]; a torn last line is left where it is and passed over.
    pub fn read(folder: &Path) -> Result<(Vec<Entry>, Walk), RecordError> {
        let path = folder.join(JOURNAL);
        let bytes = std::fs::read(&path).map_err(RecordError::file("read", &path))?;
        let (entries, _, _) = super::journal::read_whole(&path, &bytes)?;
        let walk = walk_of(folder, &entries)?;
        Ok((entries, walk))
    }
}

/// The walk that entries add up to, begun from the files that were frozen in the folder.
pub(super) fn walk_of(folder: &Path, entries: &[Entry]) -> Result<Walk, RecordError> {
    let mut walk = rebuild(folder, entries)?;
    for entry in entries {
        walk.apply(&entry.event).map_err(|refused| RecordError::Changed {
            says: format!("{}:{}: {refused}", folder.join(JOURNAL).display(), entry.seq + 1),
        })?;
    }
    Ok(walk)
}

/// The walk at its beginning, from the files that were frozen then; a file that was added later is not read.
fn rebuild(folder: &Path, entries: &[Entry]) -> Result<Walk, RecordError> {
    let changed = |says: String| RecordError::Changed { says };
    let read = |name: &str| {
        let path = folder.join(name);
        std::fs::read_to_string(&path).map_err(RecordError::file("read", &path))
    };
    let job = Job::read(&Source::new(JOB, read(JOB)?)).map_err(|problems| changed(problems.to_string()))?;
    let mut sources = Vec::new();
    for file in frozen_files(entries).iter().filter(|f| f.name.starts_with("procedures/")) {
        sources.push(Source::new(file.name.clone(), read(&file.name)?));
    }
    let library = Library::read(sources).map_err(|error| changed(error.to_string()))?;
    let plan = Plan::of(&job, &library).map_err(|error| changed(error.to_string()))?;
    Ok(Walk::new(job, plan))
}

fn frozen_files(entries: &[Entry]) -> &[FrozenFile] {
    match entries.first().map(|e| &e.event) {
        Some(Event::Opened { files, .. }) => files,
        _ => &[],
    }
}

/// Every file below a folder, relative with `/`, sorted.
pub(super) fn all_files(folder: &Path) -> Result<Vec<String>, RecordError> {
    let mut found = Vec::new();
    let mut open = vec![String::new()];
    while let Some(below) = open.pop() {
        let inside = folder.join(&below);
        for entry in std::fs::read_dir(&inside).map_err(RecordError::file("read", &inside))? {
            let entry = entry.map_err(RecordError::file("read", &inside))?;
            let name = entry.file_name().to_string_lossy().into_owned();
            let name = if below.is_empty() { name } else { format!("{below}/{name}") };
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

/// What differs between the frozen files and the first entry of the journal.
pub(super) fn frozen_trouble(folder: &Path, entries: &[Entry]) -> Vec<String> {
    let Some(Event::Opened { files, .. }) = entries.first().map(|e| &e.event) else {
        return vec![format!("{JOURNAL}:1: the first entry does not open a record")];
    };
    let mut trouble = Vec::new();
    for name in all_files(&folder.join("procedures")).unwrap_or_default() {
        let name = format!("procedures/{name}");
        if !files.iter().any(|f| f.name == name) && !name.ends_with(UNFINISHED) {
            trouble.push(format!("{name} was not among the procedures at the beginning"));
        }
    }
    for file in files {
        match std::fs::read(folder.join(&file.name)) {
            Ok(bytes) if sha256_hex(&bytes) == file.sha256 => {}
            Ok(_) => trouble.push(format!("{} is not the file that was frozen at the beginning", file.name)),
            Err(error) => trouble.push(format!("{}: {error}", file.name)),
        }
    }
    trouble
}

fn refuse_foreign(folder: &Path) -> Result<(), RecordError> {
    if !folder.exists() {
        std::fs::create_dir_all(folder).map_err(RecordError::file("create", folder))?;
    }
    let ours =
        [JOB.to_owned(), "procedures".to_owned(), format!("{JOB}{UNFINISHED}"), format!("{JOURNAL}{UNFINISHED}")];
    let entries = std::fs::read_dir(folder).map_err(RecordError::file("read", folder))?;
    for entry in entries {
        let name = entry.map_err(RecordError::file("read", folder))?.file_name().to_string_lossy().into_owned();
        if !ours.contains(&name) {
            let says = format!("it holds {name}; name a new or empty folder for the record");
            return Err(RecordError::NotARecord { path: folder.to_owned(), says });
        }
    }
    Ok(())
}

fn freeze(folder: &Path, name: &str, text: &str) -> Result<FrozenFile, RecordError> {
    write_durably(&folder.join(name), text.as_bytes())?;
    Ok(FrozenFile { name: name.to_owned(), sha256: sha256_hex(text.as_bytes()) })
}

/// How the name of a file ends that was not finished.
pub(super) const UNFINISHED: &str = ".new";

/// Writes a file beside its name, syncs it, and renames it: the name never shows half a file.
pub(super) fn write_durably(path: &Path, bytes: &[u8]) -> Result<(), RecordError> {
    let mut beside = path.as_os_str().to_owned();
    beside.push(UNFINISHED);
    let beside = PathBuf::from(beside);
    let mut file = std::fs::File::create(&beside).map_err(RecordError::file("write", &beside))?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(RecordError::file("write", &beside))?;
    std::fs::rename(&beside, path).map_err(RecordError::file("name", path))?;
    sync_folder(path)
}
