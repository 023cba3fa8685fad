//! Whether a record is what it was when it was signed.

use std::path::Path;

use serde::Serialize;

use super::entry::{Entry, sha256_hex};
use super::error::RecordError;
use super::folder::{frozen_trouble, walk_of};
use super::key::{check_signature, fingerprint_of};
use super::seal::{companions, covered, principal};
use super::{JOURNAL, SIGNATURE, SUMS};
use crate::walk::{Event, release_text};

/// Who signed a record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Signer {
    /// The name in the record: a claim of the signer.
    pub name: String,
    /// The role in the record.
    pub role: String,
    /// Fingerprint of the key.
    pub key: String,
    /// Whether the key is one that the reader knows from elsewhere.
    pub known: bool,
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

/// What was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Findings {
    /// Whether nothing differs from what was written and signed.
    pub intact: bool,
    /// Who signed; empty for a record that is not sealed.
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

/// Verifies a record. `known_signers` is the text of an allowed-signers file that came by another road.
///
/// # Errors
/// [`RecordError`] where there is no record at all; everything else is a finding.
pub fn verify(folder: &Path, known_signers: Option<&str>) -> Result<Findings, RecordError> {
    let path = folder.join(JOURNAL);
    if !path.is_file() {
        let says = format!("there is no {JOURNAL} in it");
        return Err(RecordError::NotARecord { path: folder.to_owned(), says });
    }
    let bytes = std::fs::read(&path).map_err(RecordError::file("read", &path))?;
    let (whole, torn) = super::journal::split(&bytes);
    let (entries, head, trouble) = super::journal::read_lines(whole);
    let mut problems = Vec::new();
    let broken_off = trouble.is_some();
    let released_by = check_releases(&entries, &mut problems);
    if let Some((line, says)) = trouble {
        problems.push(format!("{JOURNAL}:{line}: {says}"));
    } else {
        problems.extend(frozen_trouble(folder, &entries));
        problems.extend(super::evidence::trouble(folder, &entries));
        if problems.is_empty()
            && let Err(error) = walk_of(folder, &entries)
        {
            problems.push(error.to_string().lines().next().unwrap_or_default().to_owned());
        }
    }
    if !torn.is_empty() {
        problems.push(format!(
            "{JOURNAL}: the last line is torn ({} bytes): a power cut, or bytes were cut off",
            torn.len()
        ));
    }
    let mut signed_by = Vec::new();
    let mut sealed = false;
    if folder.join(SUMS).exists() || folder.join(SIGNATURE).exists() {
        sealed = true;
        // Behind a line that is wrong nobody can say what the journal names.
        let signed_off = (!broken_off).then_some(entries.as_slice());
        check_seal(folder, signed_off, known_signers, &mut signed_by, &mut problems)?;
    }
    let intact = problems.is_empty();
    // A key that the reader does not know is no change of the record, but the reader must hear of it.
    if known_signers.is_some() {
        for signer in signed_by.iter().filter(|signer| !signer.known) {
            problems.push(format!("{SIGNATURE}: the key ({}) is not in your list of known signers", signer.key));
        }
    }
    if !sealed {
        problems.push(
            "the record is not sealed: nothing proves yet who wrote it, and lines may be missing at its end".into(),
        );
    }
    if !intact {
        signed_by.clear();
    }
    Ok(Findings { intact, signed_by, released_by, entries: entries.len(), problems, head })
}

/// The signatures that hold points were released with.
fn check_releases(entries: &[Entry], problems: &mut Vec<String>) -> Vec<Releaser> {
    let mut releasers = Vec::new();
    for entry in entries {
        let Event::Released { step, by, statement, signature: Some(signed) } = &entry.event else { continue };
        let text = release_text(&entry.prev, step, by, statement);
        match check_signature(&signed.signature, text.as_bytes()) {
            Ok((public, key)) if public == signed.key => {
                releasers.push(Releaser { step: step.to_string(), by: by.clone(), key });
            }
            Ok(_) => problems.push(format!("{JOURNAL}:{}: another key signed the release of {step}", entry.seq + 1)),
            Err(says) => problems.push(format!("{JOURNAL}:{}: release of {step}: {says}", entry.seq + 1)),
        }
    }
    releasers
}

fn check_seal(
    folder: &Path,
    entries: Option<&[Entry]>,
    known_signers: Option<&str>,
    signed_by: &mut Vec<Signer>,
    problems: &mut Vec<String>,
) -> Result<(), RecordError> {
    let read = |name: &str| std::fs::read(folder.join(name));
    let (Ok(sums), Ok(signature)) = (read(SUMS), read(SIGNATURE)) else {
        problems.push(format!("{SUMS} and {SIGNATURE} belong together: one of them is missing"));
        return Ok(());
    };
    match String::from_utf8(signature)
        .map_err(|_| "this is no text".to_owned())
        .and_then(|s| check_signature(&s, &sums))
    {
        Err(says) => problems.push(format!("{SIGNATURE}: {says}")),
        Ok((public, fingerprint)) => {
            let signed_off = entries.and_then(|entries| {
                entries.iter().rev().find_map(|entry| match &entry.event {
                    Event::SignedOff { name, role, key, .. } => Some((name, role, key)),
                    _ => None,
                })
            });
            match signed_off {
                _ if entries.is_none() => {}
                Some((name, role, key)) if *key == public => {
                    let known = known_signers.is_some_and(|text| {
                        let keys = text.lines().filter(|l| !l.trim_start().starts_with('#'));
                        let mut keys = keys.filter_map(|l| l.find("ssh-").map(|at| &l[at..]));
                        keys.any(|line| fingerprint_of(line).is_some_and(|f| f == fingerprint))
                    });
                    signed_by.push(Signer { name: name.clone(), role: role.clone(), key: fingerprint, known });
                    check_companions(folder, &principal(name), &public, problems);
                }
                _ => problems
                    .push(format!("{SIGNATURE}: made with a key ({fingerprint}) that the journal does not name")),
            }
        }
    }
    check_sums(folder, &sums, problems)
}

fn check_companions(folder: &Path, who: &str, public: &str, problems: &mut Vec<String>) {
    for (name, expected) in companions(who, public) {
        match std::fs::read(folder.join(name)) {
            Ok(bytes) if bytes == expected.as_bytes() => {}
            Ok(_) => problems.push(format!("{name} does not hold the key that signed")),
            Err(error) => problems.push(format!("{name}: {error}")),
        }
    }
}

fn check_sums(folder: &Path, sums: &[u8], problems: &mut Vec<String>) -> Result<(), RecordError> {
    let text = String::from_utf8_lossy(sums);
    let mut listed = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let Some((hash, name)) = line.split_once("  ") else {
            problems.push(format!("{SUMS}:{}: this is no line of hashes", index + 1));
            continue;
        };
        listed.push(name.to_owned());
        match std::fs::read(folder.join(name)) {
            Ok(bytes) if sha256_hex(&bytes) == hash => {}
            Ok(_) => problems.push(format!("{name} was changed after it was signed")),
            Err(error) => problems.push(format!("{name}: {error}")),
        }
    }
    for name in covered(folder)? {
        if !listed.contains(&name) {
            problems.push(format!("{name} is not covered by the signature: it was added later"));
        }
    }
    Ok(())
}
