//! What a disk may hold after a power cut: what was synced, and any part of what was not.

use std::collections::BTreeMap;
use std::path::Path;

use super::common::Dice;
use super::trace::Entry;

/// A disk with what is safe on it and what is still under way.
#[derive(Debug, Clone, Default)]
pub struct Disk {
    things: Vec<Thing>,
    /// The thing that a number of the file system stands for now; numbers are given again.
    by_number: BTreeMap<u64, usize>,
    /// Names that are safe.
    names: BTreeMap<String, usize>,
    /// Names as the program sees them.
    seen: BTreeMap<String, usize>,
    /// Changes of names that were not synced with their folder, in order.
    under_way: Vec<NameChange>,
}

/// A file or a folder.
#[derive(Debug, Clone, Default)]
struct Thing {
    is_folder: bool,
    safe: Vec<u8>,
    under_way: Vec<Change>,
}

#[derive(Debug, Clone)]
enum Change {
    Write(usize, Vec<u8>),
    Cut(usize),
}

#[derive(Debug, Clone)]
enum NameChange {
    Add(String, usize),
    Move(String, String),
    Remove(String),
}

impl NameChange {
    /// The folder that makes it safe when it is synced; a move within one folder is one step.
    fn folder(&self) -> &str {
        let path = match self {
            Self::Add(path, _) | Self::Remove(path) | Self::Move(_, path) => path,
        };
        path.rsplit_once('/').map_or("", |(folder, _)| folder)
    }

    fn apply(&self, names: &mut BTreeMap<String, usize>) {
        match self {
            Self::Add(path, thing) => drop(names.insert(path.clone(), *thing)),
            Self::Remove(path) => drop(names.remove(path)),
            Self::Move(from, to) => {
                if let Some(thing) = names.remove(from) {
                    names.insert(to.clone(), thing);
                }
            }
        }
    }
}

impl Change {
    fn apply(&self, bytes: &mut Vec<u8>) {
        match self {
            Self::Write(offset, new) => {
                let end = offset + new.len();
                if bytes.len() < end {
                    bytes.resize(end, 0);
                }
                bytes[*offset..end].copy_from_slice(new);
            }
            Self::Cut(length) => bytes.resize(*length, 0),
        }
    }
}

impl Disk {
    /// A folder as it is, all of it safe.
    pub fn of(folder: &Path) -> Self {
        let mut disk = Self::default();
        disk.take(folder);
        disk.seen = disk.names.clone();
        disk
    }

    fn take(&mut self, path: &Path) {
        use std::os::unix::fs::MetadataExt;
        let data = std::fs::symlink_metadata(path).unwrap();
        let safe = if data.is_dir() { Vec::new() } else { std::fs::read(path).unwrap() };
        let thing = self.add(data.ino(), Thing { is_folder: data.is_dir(), safe, under_way: Vec::new() });
        self.names.insert(path.to_str().unwrap().to_owned(), thing);
        if data.is_dir() {
            for entry in std::fs::read_dir(path).unwrap() {
                self.take(&entry.unwrap().path());
            }
        }
    }

    fn add(&mut self, number: u64, thing: Thing) -> usize {
        self.things.push(thing);
        self.by_number.insert(number, self.things.len() - 1);
        self.things.len() - 1
    }

    fn rename(&mut self, change: NameChange) {
        change.apply(&mut self.seen);
        self.under_way.push(change);
    }

    /// A change of the program.
    pub fn apply(&mut self, entry: &Entry) {
        match entry {
            Entry::Create { number, path } => {
                let thing = self.add(*number, Thing::default());
                self.rename(NameChange::Add(path.clone(), thing));
            }
            Entry::Folder { number, path } => {
                let thing = self.add(*number, Thing { is_folder: true, ..Thing::default() });
                self.rename(NameChange::Add(path.clone(), thing));
            }
            Entry::Write { number, offset, bytes } => {
                let thing = self.by_number[number];
                self.things[thing].under_way.push(Change::Write(*offset, bytes.clone()));
            }
            Entry::Cut { number, length } => {
                let thing = self.by_number[number];
                self.things[thing].under_way.push(Change::Cut(*length));
            }
            Entry::Rename { from, to } => self.rename(NameChange::Move(from.clone(), to.clone())),
            Entry::Link { from, to } => {
                let thing = self.seen[from];
                self.rename(NameChange::Add(to.clone(), thing));
            }
            Entry::Remove { path } => self.rename(NameChange::Remove(path.clone())),
            Entry::Sync { number } => self.sync(self.by_number[number]),
            Entry::Told { .. } => {}
        }
    }

    fn sync(&mut self, thing: usize) {
        let Thing { safe, under_way, is_folder } = &mut self.things[thing];
        for change in std::mem::take(under_way) {
            change.apply(safe);
        }
        if !*is_folder {
            return;
        }
        let Some(path) = self.seen.iter().find(|(_, own)| **own == thing).map(|(path, _)| path.clone()) else { return };
        let (safe, under_way) = std::mem::take(&mut self.under_way).into_iter().partition(|own| own.folder() == path);
        self.under_way = under_way;
        let safe: Vec<NameChange> = safe;
        for change in &safe {
            change.apply(&mut self.names);
        }
    }

    /// Writes what is left after a power cut into a folder, in the place of all that is there: of what was not synced,
    /// each write is there, is not, or is torn; names that were not synced come about up to one of them, or each by itself.
    pub fn cut_power(&self, folder: &Path, dice: &mut Dice) {
        let mut names = self.names.clone();
        if dice.below(2) == 0 {
            let until = dice.below(self.under_way.len() + 1);
            self.under_way[..until].iter().for_each(|change| change.apply(&mut names));
        } else {
            self.under_way.iter().filter(|_| dice.below(2) == 0).for_each(|change| change.apply(&mut names));
        }
        let _ = std::fs::remove_dir_all(folder);
        let mut written: BTreeMap<usize, Vec<u8>> = BTreeMap::new();
        // A folder comes before what is in it; where it is lost, so is that.
        for (path, thing) in &names {
            let path = Path::new(path);
            if path != folder && !path.parent().is_some_and(Path::is_dir) {
                continue;
            }
            let own = &self.things[*thing];
            if own.is_folder {
                std::fs::create_dir(path).unwrap();
            } else {
                let bytes = written.entry(*thing).or_insert_with(|| own.after_a_cut(dice));
                std::fs::write(path, bytes).unwrap();
            }
        }
    }
}

impl Thing {
    fn after_a_cut(&self, dice: &mut Dice) -> Vec<u8> {
        let mut bytes = self.safe.clone();
        for change in &self.under_way {
            match (dice.below(4), change) {
                (0, _) => {}
                (1, Change::Write(offset, new)) => {
                    Change::Write(*offset, new[..dice.below(new.len() + 1)].to_vec()).apply(&mut bytes);
                }
                // Room without the bytes: the length was written and the blocks were not.
                (2, Change::Write(offset, new)) => {
                    let end = offset + new.len();
                    if bytes.len() < end {
                        bytes.resize(end, 0);
                    }
                }
                (_, change) => change.apply(&mut bytes),
            }
        }
        bytes
    }
}
