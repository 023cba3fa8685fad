//! Whether a record is what it was when it was signed.

use std::collections::BTreeSet;
use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::entry::Entry;
use super::error::RecordError;
use super::files::{Hashes, all_files, hash_all, read_plain};
use super::folder::{frozen_differs, walk_of};
use super::journal::Chain;
use super::key::check_signature;
use super::layout::{ALLOWED_SIGNERS, PUBLIC_KEY, Part, REQUEST, SIGNATURE, STAMP, SUMS};
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
    let chain = Chain::read(folder)?;
    // Each file is read once, whatever number of lists name it.
    let hashes = hash_all(folder, &all_files(folder)?);
    let released_by = check_releases(&chain, &mut problems);
    if let Some((name, line, says)) = &chain.trouble {
        problems.push(format!("{name}:{line}: {says}"));
    } else {
        problems.extend(frozen_differs(&hashes, &chain.entries));
        problems.extend(super::evidence::differs(&hashes, &chain.entries));
    }
    if !chain.torn.is_empty() {
        problems.push(format!(
            "{}: the last line is torn ({} bytes): a power cut, or bytes were cut off",
            Part::last_of(folder).journal(),
            chain.torn.len()
        ));
    }
    let seals = Seals { folder, hashes: &hashes, chain: &chain };
    let mut signed_by = seals.check(&mut problems);
    // Whether the entries add up to a walk takes the procedures to be read: only where they are what was frozen.
    if problems.is_empty()
        && let Err(error) = walk_of(folder, &chain)
    {
        problems.push(error.to_string().lines().next().unwrap_or_default().to_owned());
    }
    let intact = problems.is_empty();
    let sealed = !signed_by.is_empty();
    for signer in &mut signed_by {
        let seal = Part::at(signer.seal - 1).seal_file(SIGNATURE);
        let says = match reader.knows.standing(&signer.key, now) {
            Standing::Known(name) => {
                (signer.known, signer.known_as) = (true, Some(name));
                continue;
            }
            Standing::Unknown => "is not in your list of known signers".to_owned(),
            Standing::NotFor(says) => format!("does not count: {says}"),
        };
        // A key that the reader does not know is no change of the record, but the reader must hear of it.
        if reader.insists {
            problems.push(format!("{seal}: the key ({}) {says}", signer.key));
        }
    }
    let trust = match (intact, sealed && seals.open().is_none()) {
        (false, _) => Trust::NotIntact,
        (true, false) => Trust::Unsealed,
        (true, true) if signed_by.iter().all(|signer| signer.known) => Trust::KnownKey,
        (true, true) => Trust::UnknownKey,
    };
    if !intact {
        signed_by.clear();
    }
    if let Some(part) = seals.open() {
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
                releasers.push(Releaser { step: step.to_string(), by: by.clone(), key });
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
    hashes: &'r Hashes,
    chain: &'r Chain,
}

impl Seals<'_> {
    /// Whether anything of a seal is there, or signs that it was.
    fn is_begun(&self, part: Part) -> bool {
        [SUMS, SIGNATURE].iter().any(|name| self.hashes.contains_key(&part.seal_file(name)))
    }

    /// The part that is not sealed yet, where there is one: the last.
    fn open(&self) -> Option<Part> {
        Some(Part::last_of(self.folder)).filter(|part| !self.is_begun(*part))
    }

    /// All that differs from what was sealed; who signed comes back.
    fn check(&self, problems: &mut Vec<String>) -> Vec<Signer> {
        let last = Part::last_of(self.folder);
        let mut signers = Vec::new();
        let mut covered = BTreeSet::new();
        let mut later = Vec::new();
        let mut any = false;
        for part in last.up_to() {
            if self.is_begun(part) {
                any = true;
                self.check_signature(part, &mut signers, problems);
                self.check_sums(part, &mut covered, problems);
                later.extend([SUMS, SIGNATURE, STAMP, REQUEST].map(|name| part.seal_file(name)));
            } else if part < last {
                problems.push(format!("{} is missing, but {} was begun after it", part.seal(), part.next().journal()));
            }
        }
        if any {
            let open = self.open().map(|part| part.journal());
            for name in self.hashes.keys() {
                let torn = open.as_ref().is_some_and(|own| self.is_of_open_part(name, own));
                if !covered.contains(name) && !later.contains(name) && !torn {
                    problems.push(format!("{name} is not covered by the signature: it was added later"));
                }
            }
        }
        signers
    }

    /// What may lie in a record behind its last seal: the journal of the part that is open, and what it names.
    fn is_of_open_part(&self, name: &str, journal: &str) -> bool {
        let stem = journal.trim_end_matches(".jsonl");
        let number = stem.trim_start_matches("journal");
        let torn = name.strip_prefix(&format!("{stem}.torn-")).is_some_and(|n| n.bytes().all(|b| b.is_ascii_digit()));
        let unfinished = ["report", "seal"].iter().any(|kind| name.starts_with(&format!("{kind}{number}/")));
        name == journal || torn || unfinished || name.starts_with("evidence/")
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
                let stamped = match super::stamp::check(self.folder, part) {
                    Some(Err(says)) => {
                        problems.push(says);
                        None
                    }
                    Some(Ok(at)) => Some(at),
                    None => None,
                };
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

    fn check_sums(&self, part: Part, covered: &mut BTreeSet<String>, problems: &mut Vec<String>) {
        let sums = part.seal_file(SUMS);
        let Ok(list) = read_plain(&self.folder.join(&sums), LARGEST) else { return };
        for (index, line) in String::from_utf8_lossy(&list).lines().enumerate() {
            let Some((hash, name)) = line.split_once("  ") else {
                problems.push(format!("{sums}:{}: this is no line of hashes", index + 1));
                continue;
            };
            // Only what lies in the folder was hashed: a name that leads out of it is opened by nobody.
            let says = match self.hashes.get(name) {
                Some(Ok(own)) if own == hash => {
                    covered.insert(name.to_owned());
                    continue;
                }
                Some(Ok(_)) => format!("{name} was changed after it was signed"),
                Some(Err(says)) => format!("{name}: {says}"),
                None => format!("{name} is missing"),
            };
            covered.insert(name.to_owned());
            // A later list names the same file again.
            if !problems.contains(&says) {
                problems.push(says);
            }
        }
    }
}
