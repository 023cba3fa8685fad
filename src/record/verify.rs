//! Whether a record is what it was when it was signed.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::entry::Entry;
use super::error::RecordError;
use super::files::{Hashes, all_files, hash_all, read_plain};
use super::folder::{frozen_differs, walk_of};
use super::instructions::INSTRUCTION_TEXT;
use super::journal::Chain;
use super::key::check_signature;
use super::layout::{ALLOWED_SIGNERS, INSTRUCTIONS, JOB, PUBLIC_KEY, Part, SIGNATURE, SUMS, UNFINISHED, is_toml};
use super::seal::{companions, principal};
use super::signers::{KnownSigners, Standing};
use crate::walk::{Event, release_text};

/// A list of hashes of a hundred thousand files is well below, and so is every key and signature.
const LARGEST: u64 = 64 << 20;

/// Who signed a part of a record, and all before it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Signer {
    /// Number of the seal, from 1.
    pub seal: usize,
    /// The name in the record: a claim of the signer.
    pub name: String,
    /// The role in the record.
    pub role: String,
    /// What was stated.
    pub statement: String,
    /// When, by the signer's clock: a claim.
    pub at: Timestamp,
    /// Fingerprint of the key.
    pub key: String,
    /// Whether the key is one that the reader knows from elsewhere.
    pub known: bool,
    /// Under which name the reader knows it.
    pub known_as: Option<String>,
    /// The time that a time stamp of the seal states. The authority's signature on it is not checked here.
    pub stamped: Option<Timestamp>,
}

/// Who released a hold point with a signature.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Releaser {
    /// The hold point.
    pub step: String,
    /// The name in the record: a claim of that person.
    pub by: String,
    /// Fingerprint of the key.
    pub key: String,
    /// Whether the key is one that the reader knows from elsewhere.
    pub known: bool,
    /// Under which name the reader knows it.
    pub known_as: Option<String>,
}

/// How far a record can be trusted, in one word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Trust {
    /// Intact, and every seal is by a key that the reader knows.
    KnownKey,
    /// Intact, but a seal is by a key that the reader does not know: whose it is, is open.
    UnknownKey,
    /// Intact as far as anybody can say, but no seal closes it.
    Unsealed,
    /// Something differs.
    NotIntact,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Findings {
    /// Whether nothing differs from what was written and signed.
    pub intact: bool,
    /// How far the record can be trusted.
    pub trust: Trust,
    /// Who signed, first to last; empty for a record that is not sealed or not intact.
    pub signed_by: Vec<Signer>,
    /// Hold points that were released with a signature.
    pub released_by: Vec<Releaser>,
    /// Number of entries that could be read.
    pub entries: usize,
    /// Everything that differs or is missing, with its place.
    pub problems: Vec<String>,
    /// Hash of the last line of the journal.
    pub head: String,
}

/// The keys that a reader knows from elsewhere.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reader {
    /// The keys.
    pub knows: KnownSigners,
    /// Whether a key that is not among them is a problem.
    pub insists: bool,
}

/// Verifies a record. The reader's keys came by another road; `now` decides whether they are still valid.
///
/// # Errors
/// [`RecordError`] where there is no record at all; everything else is a finding.
pub fn verify(folder: &Path, reader: &Reader, now: Timestamp) -> Result<Findings, RecordError> {
    let first = Part::FIRST.journal();
    if std::fs::symlink_metadata(folder.join(&first)).is_err() {
        let says = format!("there is no {first} in it");
        return Err(RecordError::NotARecord { path: folder.to_owned(), says });
    }
    let mut problems = Vec::new();
    let chain = Chain::read(folder);
    let present: BTreeSet<String> = all_files(folder)?.into_iter().collect();
    let mut seals = Seals::of(folder, &present, &chain);
    let mut signed_by = seals.check_signatures(&mut problems);
    seals.read_lists(&mut problems);
    // Each file that anything speaks of is read once, whatever number of lists name it; no other file is.
    seals.hashes = hash_all(folder, &seals.spoken_of());
    let mut released_by = check_releases(&chain, &mut problems);
    if let Some((place, says)) = &chain.trouble {
        problems.push(format!("{place}: {says}"));
    } else {
        problems.extend(frozen_differs(&seals.hashes, &chain.entries));
        problems.extend(super::evidence::differs(&seals.hashes, &chain.entries));
    }
    if !chain.torn.is_empty() {
        problems.push(format!(
            "{}: the last line is torn ({} bytes): a power cut, or bytes were cut off",
            seals.last.journal(),
            chain.torn.len()
        ));
    }
    let left_over = seals.check_files(&mut problems);
    // Whether the entries add up to a walk takes the procedures to be read: only where they are what was frozen.
    if problems.is_empty()
        && let Err(error) = walk_of(folder, &chain)
    {
        problems.push(error.to_string().lines().next().unwrap_or_default().to_owned());
    }
    let intact = problems.is_empty();
    let sealed = !signed_by.is_empty();
    let mut look_up = |place: &str, key: &str| {
        let says = match reader.knows.standing(key, now) {
            Standing::Known(name) => return (true, Some(name)),
            Standing::Unknown => "is not in your list of known signers".to_owned(),
            Standing::NotFor(says) => format!("does not count: {says}"),
        };
        // A key that the reader does not know is no change of the record, but the reader must hear of it.
        if reader.insists {
            problems.push(format!("{place}: the key ({key}) {says}"));
        }
        (false, None)
    };
    for signer in &mut signed_by {
        let place = Part::at(signer.seal - 1).seal_file(SIGNATURE);
        (signer.known, signer.known_as) = look_up(&place, &signer.key);
    }
    for releaser in &mut released_by {
        let place = format!("release of {}", releaser.step);
        (releaser.known, releaser.known_as) = look_up(&place, &releaser.key);
    }
    let trust = match (intact, sealed && seals.open.is_none()) {
        (false, _) => Trust::NotIntact,
        (true, false) => Trust::Unsealed,
        (true, true) if signed_by.iter().all(|signer| signer.known) => Trust::KnownKey,
        (true, true) => Trust::UnknownKey,
    };
    if !intact {
        signed_by.clear();
    }
    problems.extend(left_over);
    if let Some(part) = seals.open {
        problems.push(match part {
            Part::FIRST => {
                "the record is not sealed: nothing proves yet who wrote it, and lines may be missing at its end"
                    .to_owned()
            }
            later => format!(
                "{} is not sealed: nothing proves yet who wrote what was added after the last seal, and lines may be \
                 missing at its end",
                later.journal()
            ),
        });
    }
    let (entries, head) = (chain.entries.len(), chain.link.prev.clone());
    Ok(Findings { intact, trust, signed_by, released_by, entries, problems, head })
}

/// The signatures that hold points were released with.
fn check_releases(chain: &Chain, problems: &mut Vec<String>) -> Vec<Releaser> {
    let mut releasers = Vec::new();
    for entry in &chain.entries {
        let Event::Released { step, by, statement, signature: Some(signed) } = &entry.event else { continue };
        let text = release_text(&entry.prev, step, by, statement);
        let place = chain.place(entry.seq);
        match check_signature(&signed.signature, text.as_bytes()) {
            Ok((public, key)) if public == signed.key => {
                let (step, by) = (step.to_string(), by.clone());
                releasers.push(Releaser { step, by, key, known: false, known_as: None });
            }
            Ok(_) => problems.push(format!("{place}: another key signed the release of {step}")),
            Err(says) => problems.push(format!("{place}: release of {step}: {says}")),
        }
    }
    releasers
}

/// The seals of a record, looked at together.
struct Seals<'r> {
    folder: &'r Path,
    /// Every file of the record.
    present: &'r BTreeSet<String>,
    /// The hashes of those that anything speaks of.
    hashes: Hashes,
    chain: &'r Chain,
    /// The last part.
    last: Part,
    /// The parts whose seal is there, or signs that it was.
    sealed: Vec<Part>,
    /// The part that is not sealed yet, where there is one: the last.
    open: Option<Part>,
    /// The list of each seal: hash and name.
    lists: Vec<(Part, Vec<(String, String)>)>,
}

impl<'r> Seals<'r> {
    fn of(folder: &'r Path, present: &'r BTreeSet<String>, chain: &'r Chain) -> Self {
        let last = Part::last_of(folder);
        let begun = |part: &Part| [SUMS, SIGNATURE].iter().any(|name| present.contains(&part.seal_file(name)));
        let sealed: Vec<Part> = last.up_to().filter(begun).collect();
        let open = (!sealed.contains(&last)).then_some(last);
        Self { folder, present, hashes: Hashes::new(), chain, last, sealed, open, lists: Vec::new() }
    }

    /// Who signed, and what is wrong with the signatures.
    fn check_signatures(&self, problems: &mut Vec<String>) -> Vec<Signer> {
        let mut signers = Vec::new();
        for part in self.last.up_to() {
            if self.sealed.contains(&part) {
                self.check_signature(part, &mut signers, problems);
            } else if part < self.last {
                problems.push(format!("{} is missing, but {} was begun after it", part.seal(), part.next().journal()));
            }
        }
        signers
    }

    /// Reads the lists of hashes.
    fn read_lists(&mut self, problems: &mut Vec<String>) {
        for part in &self.sealed {
            let name = part.seal_file(SUMS);
            // A list that is missing was told of with its signature.
            let Ok(bytes) = read_plain(&self.folder.join(&name), LARGEST) else { continue };
            match read_list(&bytes) {
                Ok(list) => self.lists.push((*part, list)),
                Err(line) => {
                    problems.push(format!("{name}:{line}: this is no list of hashes as `sha256sum` writes it, sorted"));
                }
            }
        }
    }

    /// Every file whose hash is asked for: those of the lists, the frozen ones, the pictures.
    fn spoken_of(&self) -> Vec<String> {
        let listed = self.lists.iter().flat_map(|(_, list)| list).map(|(_, name)| name);
        let mut names: BTreeSet<&String> = listed.filter(|name| self.present.contains(*name)).collect();
        let own = |name: &&String| *name == JOB || name.starts_with("procedures/") || name.starts_with("evidence/");
        // What no list of a closed record names lies outside: it is told of by its name, however large it is.
        let all = self.lists.is_empty() || self.open.is_some();
        names.extend(self.present.iter().filter(own).filter(|name| all || is_toml(name)));
        names.into_iter().cloned().collect()
    }

    /// What differs from the lists, and what no list names; what a broken-off write left comes back.
    fn check_files(&self, problems: &mut Vec<String>) -> Vec<String> {
        let mut left_over = Vec::new();
        let mut said = BTreeSet::new();
        // The first seal that names a file.
        let mut covered: BTreeMap<&str, Part> = BTreeMap::new();
        for (part, list) in &self.lists {
            for (hash, name) in list {
                covered.entry(name).or_insert(*part);
                // Only what lies in the folder was hashed: a name that leads out of it is opened by nobody.
                let says = match self.hashes.get(name) {
                    Some(Ok(own)) if own == hash => continue,
                    Some(Ok(_)) => format!("{name} was changed after it was signed"),
                    Some(Err(says)) => format!("{name}: {says}"),
                    None => format!("{name} is missing"),
                };
                // A later list names the same file again.
                if said.insert(says.clone()) {
                    problems.push(says);
                }
            }
        }
        if self.present.contains(INSTRUCTIONS)
            && read_plain(&self.folder.join(INSTRUCTIONS), LARGEST).is_ok_and(|own| own != INSTRUCTION_TEXT.as_bytes())
        {
            problems.push(format!("{INSTRUCTIONS} is not the text that this program writes: do not run it"));
        }
        // Where a list cannot be read, nobody can say what it names; where nothing is sealed, nothing was added later.
        let readable = self.lists.len() == self.sealed.len();
        let Some(last_sealed) = self.sealed.last().filter(|_| readable) else { return left_over };
        for name in self.present {
            let late = match (covered.get(name.as_str()), self.sealed.iter().find(|part| part.holds(name))) {
                // What belongs to a part stands in the list of its own seal, or was added.
                (Some(first), Some(own)) => first > own && !own.leaves_out(name),
                (Some(_), None) => false,
                (None, _) => !last_sealed.leaves_out(name),
            };
            if !late || self.open.is_some_and(|part| part.holds(name) || name.starts_with("evidence/")) {
                continue;
            }
            if name.ends_with(UNFINISHED) {
                left_over.push(format!("{name} is left of a write that was broken off; it is no part of the record"));
            } else {
                problems.push(format!("{name} is not covered by the signature: it was added later"));
            }
        }
        left_over
    }

    fn check_signature(&self, part: Part, signers: &mut Vec<Signer>, problems: &mut Vec<String>) {
        let (sums, armour) = (part.seal_file(SUMS), part.seal_file(SIGNATURE));
        let read = |name: &str| read_plain(&self.folder.join(name), LARGEST);
        let (Ok(list), Ok(signature)) = (read(&sums), read(&armour)) else {
            problems.push(format!("{sums} and {armour} belong together: one of them is missing"));
            return;
        };
        let checked = String::from_utf8(signature)
            .map_err(|_| "this is no text".to_owned())
            .and_then(|signature| check_signature(&signature, &list));
        let (public, key) = match checked {
            Ok(checked) => checked,
            Err(says) => return problems.push(format!("{armour}: {says}")),
        };
        // Behind a line that is wrong nobody can say what the journal names.
        if self.chain.trouble.is_some() {
            return;
        }
        match self.sign_off(part) {
            Some((entry, name, role, statement, signed)) if *signed == public => {
                let stamped = super::stamp::check(self.folder, part).unwrap_or_else(|says| {
                    problems.push(says);
                    None
                });
                self.check_companions(part, &principal(name), &public, problems);
                signers.push(Signer {
                    seal: part.number(),
                    name: name.clone(),
                    role: role.clone(),
                    statement: statement.clone(),
                    at: entry.at,
                    key,
                    known: false,
                    known_as: None,
                    stamped,
                });
            }
            _ => problems.push(format!("{armour}: made with a key ({key}) that {} does not name", part.journal())),
        }
    }

    /// The sign-off that a part ends with.
    fn sign_off(&self, part: Part) -> Option<(&Entry, &String, &String, &String, &String)> {
        let entry = self.chain.last_of(part)?;
        match &entry.event {
            Event::SignedOff { name, role, statement, key } => Some((entry, name, role, statement, key)),
            _ => None,
        }
    }

    fn check_companions(&self, part: Part, who: &str, public: &str, problems: &mut Vec<String>) {
        for (name, expected) in [PUBLIC_KEY, ALLOWED_SIGNERS].into_iter().zip(companions(who, public)) {
            let name = part.seal_file(name);
            match read_plain(&self.folder.join(&name), LARGEST) {
                Ok(bytes) if bytes == expected.as_bytes() => {}
                Ok(_) => problems.push(format!("{name} does not hold the key that signed")),
                Err(error) => problems.push(format!("{name}: {error}")),
            }
        }
    }
}

/// Reads a list as `sha256sum` writes it: hash in lower case, two spaces, name, line feed; sorted, each name once. The number
/// of the first line that is none is the error.
fn read_list(bytes: &[u8]) -> Result<Vec<(String, String)>, usize> {
    let text = std::str::from_utf8(bytes).map_err(|_| 1_usize)?;
    let mut list: Vec<(String, String)> = Vec::new();
    for (index, line) in text.split_inclusive('\n').enumerate() {
        let wrong = index + 1;
        let (hash, name) = line.strip_suffix('\n').and_then(|line| line.split_once("  ")).ok_or(wrong)?;
        let is_hash = hash.len() == 64 && hash.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
        let later = list.last().is_none_or(|(_, before)| before.as_str() < name);
        if !is_hash || !later || name.is_empty() || name.contains(['\r', '\\']) {
            return Err(wrong);
        }
        list.push((hash.to_owned(), name.to_owned()));
    }
    Ok(list)
}
