//! The key that a person signs with.

use std::path::{Path, PathBuf};

use super::failure::Failure;
use super::files::read_text;
use super::settings;
use crate::record::{KnownSigners, SigningKey};

/// Where the key lies that this program makes on the spot.
pub(super) fn own_key_path() -> Result<PathBuf, Failure> {
    settings::file("signing-key")
}

/// Most wrong lines of a list that are told: a file of another kind has nothing else.
const MOST_TOLD: usize = 5;

/// The keys in a file of allowed signers.
pub(super) fn known_signers(path: &Path) -> Result<KnownSigners, Failure> {
    KnownSigners::read(&read_text(path)?).map_err(|wrong| {
        let first = wrong.iter().take(MOST_TOLD).cloned().collect::<Vec<_>>().join("\n  ");
        let more = wrong.len().saturating_sub(MOST_TOLD);
        let more = if more == 0 { String::new() } else { format!("\n  and {more} more lines") };
        Failure::message(format!("{} is no list of known signers\n  {first}{more}", path.display()))
    })
}

/// The keys that this person knows without naming a list: the own one, and those in the folder of settings.
pub(super) fn usual_signers() -> Result<KnownSigners, Failure> {
    let mut known = KnownSigners::default();
    // Somebody without a home folder knows nobody.
    let Ok(list) = settings::file("known_signers") else { return Ok(known) };
    if list.exists() {
        known.extend(known_signers(&list)?);
    }
    if let Ok(own) = std::fs::read_to_string(own_key_path()?.with_extension("pub")) {
        known.add("your own key", own.trim());
    }
    Ok(known)
}

/// Reads a key; `ask` brings the passphrase of an encrypted one.
pub(super) fn read(path: &Path, ask: impl FnOnce(&Path) -> Option<String>) -> Result<SigningKey, Failure> {
    Ok(SigningKey::read(path, || ask(path))?)
}

/// This program's own key; made where there is none yet. Whether it is new comes back too.
pub(super) fn own(name: &str, ask: impl FnOnce(&Path) -> Option<String>) -> Result<(SigningKey, bool), Failure> {
    let path = own_key_path()?;
    if !path.exists() {
        match SigningKey::make(&path, &crate::record::principal(name)) {
            Ok(made) => return Ok((made, true)),
            // Another walk of the same person was first: its key is the one.
            Err(_) if path.exists() => {}
            Err(error) => return Err(error.into()),
        }
    }
    let own = read(&path, ask)?;
    own.complete()?;
    Ok((own, false))
}

/// What is said once about a key that was just made.
pub(super) fn introduce(key: &SigningKey) -> String {
    format!(
        "A signing key was made: {}\n  Its fingerprint is {}\n  Give the fingerprint to whoever gets the report,\n  \
         on paper or by telephone. Keep the key file to yourself.",
        key.path().display(),
        key.fingerprint()
    )
}
