//! The key that a person signs with.

use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;

use super::failure::Failure;
use crate::record::SigningKey;

/// Where the key lies that this program makes on the spot.
pub(super) fn own_key_path() -> Result<PathBuf, Failure> {
    let base = etcetera::choose_base_strategy()
        .map_err(|error| Failure::message(format!("no home folder is known ({error}); name a key with --key FILE")))?;
    Ok(base.config_dir().join("rigproof").join("signing-key"))
}

/// Reads a key; `ask` brings the passphrase of an encrypted one.
pub(super) fn read(path: &Path, ask: impl FnOnce(&Path) -> Option<String>) -> Result<SigningKey, Failure> {
    Ok(SigningKey::read(path, || ask(path))?)
}

/// This program's own key; made where there is none yet. Whether it is new comes back too.
pub(super) fn own(name: &str, ask: impl FnOnce(&Path) -> Option<String>) -> Result<(SigningKey, bool), Failure> {
    let path = own_key_path()?;
    if path.exists() {
        return Ok((read(&path, ask)?, false));
    }
    Ok((SigningKey::make(&path, &crate::record::principal(name))?, true))
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
