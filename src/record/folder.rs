//! The folder of a record: made, opened, continued.

use std::fs::File;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::entry::{Entry, day_of, sha256_hex};
use super::error::RecordError;
use super::files::{
    Hashes, all_files, create_folder, create_fresh, foreign_kind, hash_all, read_text, sync_folder, unfinished,
    write_durably,
};
use super::journal::{Chain, Journal, Link, claim, lock, open_to_write};
use super::layout::{JOB, PROCEDURES, Part, UNFINISHED, is_frozen_name};
use crate::document::Source;
use crate::job::Job;
use crate::plan::{Plan, StepKey};
use crate::procedure::Library;
use crate::shop::Shop;
use crate::walk::{AtWork, Event, FrozenFile, Refused, Walk, permits};

/// The format of the records that this program writes.
pub const FORMAT: u32 = 1;

/// A record that is being written.
#[derive(Debug)]
pub struct Record {
    folder: PathBuf,
    journal: Journal,
    part: Part,
    sealed: bool,
    /// Whether the part ends with a sign-off.
    signed_off: bool,
    /// The first journal, locked as long as a later one is written: one walk at a time on the whole record.
    guard: Option<File>,
    entries: Vec<Entry>,
    /// The shop whose rules hold for what is written.
    shop: Option<Shop>,
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
        folder.join(Part::FIRST.journal()).is_file()
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
        std::fs::create_dir_all(folder).map_err(RecordError::file("create", folder))?;
        sync_folder(folder)?;
        let name_of = |source: &Source| source.name.rsplit(['/', '\\']).next().unwrap_or(&source.name).to_owned();
        let path = folder.join(Part::FIRST.journal());
        refuse_foreign(folder, &library.sources.iter().map(name_of).collect::<Vec<_>>())?;
        let file = claim(&path)?;
        create_folder(&folder.join(PROCEDURES))?;
        let mut files = vec![freeze(folder, JOB, &walk.job().source.text)?];
        for source in &library.sources {
            files.push(freeze(folder, &format!("{PROCEDURES}/{}", name_of(source)), &source.text)?);
        }
        let event = Event::Opened {
            format: FORMAT,
            job: walk.job().title.clone(),
            steps: walk.plan().steps.len(),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            files,
            design_errors,
            despite,
        };
        let (journal, entry) = Journal::create(&path, file, Link::first(), (at, "", &event))?;
        let (folder, entries) = (folder.to_owned(), vec![entry]);
        Ok(Record {
            folder,
            journal,
            part: Part::FIRST,
            sealed: false,
            signed_off: false,
            guard: None,
            entries,
            shop: None,
        })
    }

    /// Opens a record to go on with it.
    ///
    /// A torn last line (a power cut, a kill) is set aside and noted; anything else that differs is refused.
    ///
    /// # Errors
    /// [`RecordError`]
    pub fn open(folder: &Path, at: Timestamp) -> Result<Opened, RecordError> {
        let first = folder.join(Part::FIRST.journal());
        let mut file = open_to_write(&first)?;
        // Nobody else begins a part or appends a line from here on.
        lock(&file, &first)?;
        let part = Part::last_of(folder);
        let path = folder.join(part.journal());
        // Everything is looked at before anything is written; nothing is written through a link.
        if let Some(name) = foreign_kind(folder, &all_files(folder)?) {
            let says = format!(
                "{} is neither a file nor a folder, or has a name that cannot be read",
                folder.join(name).display()
            );
            return Err(RecordError::Changed { says });
        }
        let chain = Chain::read(folder).whole(folder)?;
        if let Some(trouble) = frozen_trouble(folder, &chain.entries).into_iter().next() {
            return Err(RecordError::Changed { says: trouble });
        }
        let sealed = part.is_sealed(folder);
        if let Some(open) = part.up_to().find(|own| *own < part && !own.is_sealed(folder)) {
            let says = format!("{} is missing, but {} was begun after it", open.seal(), part.journal());
            return Err(RecordError::Changed { says });
        }
        if !chain.torn.is_empty() && sealed {
            let says = format!("{}: bytes stand behind the last line of a sealed journal", path.display());
            return Err(RecordError::Changed { says });
        }
        let mut walk = walk_of(folder, &chain)?;
        let signed_off = chain.last_of(part).is_some_and(|entry| matches!(entry.event, Event::SignedOff { .. }));
        let guard = (part > Part::FIRST).then(|| open_to_write(&path)).transpose()?;
        let guard = guard.map(|own| std::mem::replace(&mut file, own));
        let journal = Journal::go_on(&path, file, chain.link, &chain.torn)?;
        let (folder, entries) = (folder.to_owned(), chain.entries);
        let mut record = Record { folder, journal, part, sealed, signed_off, guard, entries, shop: None };
        let recovered = !chain.torn.is_empty();
        if recovered {
            record.journal.set_aside(&chain.torn)?;
            let event = Event::Recovered { sha256: sha256_hex(&chain.torn), bytes: chain.torn.len() };
            record.write(&mut walk, at, &event)?;
        }
        Ok(Opened { record, walk, recovered })
    }

    /// From here on nothing is written that the shop does not permit.
    pub fn keep_rules_of(&mut self, shop: Shop) {
        self.shop = Some(shop);
    }

    /// Whether the shop permits an event.
    fn permitted(&self, walk: &Walk, at: Timestamp, event: &Event) -> Result<(), Refused> {
        let Some(shop) = &self.shop else { return Ok(()) };
        let at_work = AtWork { job: walk.job(), person: walk.person(), paper: walk.paper() };
        permits(shop, at_work, event, day_of(at)).map_err(|refusal| Refused { says: refusal.to_string() })
    }

    /// Writes an event that the walk accepts, and the shop where there is one. It is on the disk before the walk moves on. Behind a seal it begins a new
    /// part: a sealed file never changes.
    ///
    /// # Errors
    /// [`RecordError::Refused`] where the walk or the shop does not accept it (nothing is written then), or the file system's word.
    pub fn write(&mut self, walk: &mut Walk, at: Timestamp, event: &Event) -> Result<(), RecordError> {
        self.permitted(walk, at, event)?;
        let mut next = walk.clone();
        next.apply(event)?;
        let by = next.person().map_or(String::new(), |(name, _)| name.to_owned());
        let entry =
            if self.sealed { self.begin_part((at, &by, event))? } else { self.journal.append(at, &by, event)? };
        self.signed_off = match event {
            Event::Recovered { .. } => self.signed_off,
            event => matches!(event, Event::SignedOff { .. }),
        };
        self.entries.push(entry);
        *walk = next;
        Ok(())
    }

    fn begin_part(&mut self, entry: (Timestamp, &str, &Event)) -> Result<Entry, RecordError> {
        let part = self.part.next();
        let path = self.folder.join(part.journal());
        let file = create_fresh(&unfinished(&path))?;
        let (journal, entry) = Journal::create(&path, file, self.journal.link().clone(), entry)?;
        let before = std::mem::replace(&mut self.journal, journal);
        if self.part == Part::FIRST {
            self.guard = Some(before.into_file());
        }
        (self.part, self.sealed) = (part, false);
        Ok(entry)
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
        &self.journal.link().prev
    }

    /// Where it lies.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The part that is written, or was sealed last.
    pub fn part(&self) -> Part {
        self.part
    }

    /// Whether what was written since the last seal ends with a sign-off.
    pub fn is_signed_off(&self) -> bool {
        self.signed_off
    }

    /// The public key that a sign-off names whose seal was not written yet.
    pub fn waits_for(&self) -> Option<&str> {
        let last = self.entries.iter().rev().find_map(|entry| match &entry.event {
            Event::SignedOff { key, .. } => Some(key.as_str()),
            _ => None,
        });
        last.filter(|_| self.signed_off && !self.sealed)
    }

    /// Whether all that was written is sealed.
    pub fn is_sealed(&self) -> bool {
        self.sealed
    }

    /// The seal of the part that was written is on the disk.
    pub(super) fn now_sealed(&mut self) {
        self.sealed = true;
    }

    /// Reads a record without changing or locking it: its entries and the walk that they add up to.
    ///
    /// # Errors
    /// [`RecordError`]; a torn last line is left where it is and passed over.
    pub fn read(folder: &Path) -> Result<(Vec<Entry>, Walk), RecordError> {
        let chain = Chain::read(folder).whole(folder)?;
        let walk = walk_of(folder, &chain)?;
        Ok((chain.entries, walk))
    }
}

/// The walk that entries add up to, begun from the files that were frozen in the folder.
pub(super) fn walk_of(folder: &Path, chain: &Chain) -> Result<Walk, RecordError> {
    replay(folder, chain, &mut |_, _| {})
}

/// The same; each entry is shown before it is applied, beside the walk as it stood then.
pub(super) fn replay(folder: &Path, chain: &Chain, see: &mut dyn FnMut(&Walk, &Entry)) -> Result<Walk, RecordError> {
    let mut walk = rebuild(folder, &chain.entries)?;
    for entry in &chain.entries {
        let changed = |says: String| RecordError::Changed {
            says: format!("{}: {says}", folder.join(chain.place(entry.seq)).display()),
        };
        if matches!(entry.event, Event::Opened { .. }) != (entry.seq == 0) {
            return Err(changed("a record is opened once, by its first entry".to_owned()));
        }
        see(&walk, entry);
        walk.apply(&entry.event).map_err(|refused| changed(refused.to_string()))?;
        if entry.by != walk.person().map_or("", |(name, _)| name) {
            return Err(changed(format!("`{}` was not the one who worked then", entry.by)));
        }
    }
    Ok(walk)
}

/// The walk at its beginning, from the files that were frozen then; a file that was added later is not read.
fn rebuild(folder: &Path, entries: &[Entry]) -> Result<Walk, RecordError> {
    let changed = |says: String| RecordError::Changed { says };
    let read = |name: &str| {
        if !is_frozen_name(name) {
            return Err(changed(format!("{name:?} is no name of a frozen file")));
        }
        let path = folder.join(name);
        let bytes = read_text(&path).map_err(RecordError::file("read", &path))?;
        String::from_utf8(bytes).map_err(|_| changed(format!("{} is not UTF-8 text", path.display())))
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

/// What differs between the frozen files and the first entry of the journal.
fn frozen_trouble(folder: &Path, entries: &[Entry]) -> Vec<String> {
    let inside = all_files(&folder.join(PROCEDURES)).unwrap_or_default();
    let mut names: Vec<String> = inside.into_iter().map(|name| format!("{PROCEDURES}/{name}")).collect();
    names.push(JOB.to_owned());
    frozen_differs(&hash_all(folder, &names), entries)
}

/// What differs between the hashes of the files of a record and those that its first entry gives.
pub(super) fn frozen_differs(hashes: &Hashes, entries: &[Entry]) -> Vec<String> {
    let Some(Event::Opened { files, format, .. }) = entries.first().map(|e| &e.event) else {
        return vec![format!("{}:1: the first entry does not open a record", Part::FIRST.journal())];
    };
    if *format != FORMAT {
        return vec![format!(
            "{}:1: the record is in format {format}, and this program reads format {FORMAT}",
            Part::FIRST.journal()
        )];
    }
    let mut trouble = Vec::new();
    if !files.iter().any(|file| file.name == JOB) {
        trouble.push(format!("{}:1: the first entry does not name {JOB}", Part::FIRST.journal()));
    }
    for name in hashes.keys().filter(|name| name.starts_with("procedures/")) {
        if !files.iter().any(|f| f.name == *name) && !name.ends_with(UNFINISHED) {
            trouble.push(format!("{name} was not among the procedures at the beginning"));
        }
    }
    for file in files {
        match hashes.get(&file.name) {
            Some(Ok(hash)) if *hash == file.sha256 => {}
            Some(Ok(_)) => trouble.push(format!("{} is not the file that was frozen at the beginning", file.name)),
            Some(Err(says)) => trouble.push(format!("{}: {says}", file.name)),
            None => trouble.push(format!("{} is missing", file.name)),
        }
    }
    trouble
}

/// A folder for a new record is empty, or holds what an earlier, broken-off beginning left: nothing that would not be
/// written anew.
fn refuse_foreign(folder: &Path, procedures: &[String]) -> Result<(), RecordError> {
    let journal = format!("{}{UNFINISHED}", Part::FIRST.journal());
    let files = all_files(folder)?;
    if files.contains(&Part::FIRST.journal()) {
        // Another program has begun it since this one looked.
        return Err(RecordError::InUse { path: folder.to_owned() });
    }
    for name in files {
        let bare = name.strip_suffix(UNFINISHED).unwrap_or(&name);
        let frozen = bare.strip_prefix("procedures/").is_some_and(|own| procedures.iter().any(|p| p == own));
        if !frozen && bare != JOB && name != journal {
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
