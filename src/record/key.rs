//! OpenSSH keys: read, made, and used for signatures (SSHSIG).

use std::path::{Path, PathBuf};

use ssh_key::{Algorithm, HashAlg, LineEnding, PrivateKey, PublicKey, SshSig};

use super::error::RecordError;
use super::seal::NAMESPACE;

/// A private key that is ready to sign.
#[derive(Debug, Clone)]
pub struct SigningKey {
    key: PrivateKey,
    path: PathBuf,
}

fn key_error(path: &Path, says: impl std::fmt::Display) -> RecordError {
    RecordError::Key { says: format!("{}: {says}", path.display()) }
}

impl SigningKey {
    /// Reads a private key file. `passphrase` is asked only where the key is encrypted.
    ///
    /// # Errors
    /// [`RecordError::Key`] in words a person can act on.
    pub fn read(path: &Path, passphrase: impl FnOnce() -> Option<String>) -> Result<Self, RecordError> {
        let text = std::fs::read_to_string(path).map_err(RecordError::file("read", path))?;
        if text.trim_start().starts_with("ssh-") {
            return Err(key_error(path, "this is the public half; name the private key, the file without .pub"));
        }
        let key = PrivateKey::from_openssh(&text)
            .map_err(|error| key_error(path, format!("this is no OpenSSH private key ({error})")))?;
        if key.algorithm() != Algorithm::Ed25519 {
            return Err(key_error(path, format!("{} keys are not supported; use an Ed25519 key", key.algorithm())));
        }
        let key = if key.is_encrypted() {
            let phrase =
                passphrase().ok_or_else(|| key_error(path, "the key is encrypted and no passphrase was given"))?;
            key.decrypt(phrase).map_err(|_| key_error(path, "the passphrase does not open the key"))?
        } else {
            key
        };
        Ok(Self { key, path: path.to_owned() })
    }

    /// Makes a new Ed25519 key and writes both halves; the private one is readable by its owner alone.
    ///
    /// # Errors
    /// [`RecordError`]; an existing file is never overwritten.
    pub fn make(path: &Path, comment: &str) -> Result<Self, RecordError> {
        if path.exists() {
            return Err(key_error(path, "a file of this name exists; it is not overwritten"));
        }
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).map_err(RecordError::file("create", folder))?;
        }
        let mut key =
            PrivateKey::random(&mut rand_core::OsRng, Algorithm::Ed25519).map_err(|error| key_error(path, error))?;
        key.set_comment(comment);
        key.write_openssh_file(path, LineEnding::LF).map_err(|error| key_error(path, error))?;
        let public = path.with_extension("pub");
        key.public_key().write_openssh_file(&public).map_err(|error| key_error(&public, error))?;
        Ok(Self { key, path: path.to_owned() })
    }

    /// Where the private key lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The public key as one line, without a comment.
    ///
    /// # Errors
    /// [`RecordError::Key`]
    pub fn public_line(&self) -> Result<String, RecordError> {
        public_line(self.key.public_key()).ok_or_else(|| key_error(&self.path, "the public half cannot be written"))
    }

    /// What a person compares: `SHA256:...`.
    pub fn fingerprint(&self) -> String {
        self.key.fingerprint(HashAlg::Sha256).to_string()
    }

    /// A signature over a message in this program's namespace, in the armour of `ssh-keygen -Y`.
    ///
    /// # Errors
    /// [`RecordError::Key`]
    pub fn sign(&self, message: &[u8]) -> Result<String, RecordError> {
        let signature = self
            .key
            .sign(NAMESPACE, HashAlg::Sha512, message)
            .map_err(|error| key_error(&self.path, format!("signing failed: {error}")))?;
        let armour = signature.to_pem(LineEnding::LF).map_err(|error| key_error(&self.path, error))?;
        Ok(if armour.ends_with('\n') { armour } else { armour + "\n" })
    }
}

fn public_line(key: &PublicKey) -> Option<String> {
    let line = key.to_openssh().ok()?;
    Some(line.split(' ').take(2).collect::<Vec<_>>().join(" "))
}

/// The public key that made a signature, checked over the message.
///
/// # Errors
/// In words: not a signature, other bytes than this program writes, wrong namespace, wrong message.
pub(super) fn check_signature(armour: &str, message: &[u8]) -> Result<(String, String), String> {
    let signature = SshSig::from_pem(armour).map_err(|error| format!("this is no SSH signature ({error})"))?;
    let again = signature.to_pem(LineEnding::LF).map_err(|error| error.to_string())?;
    if again.trim_end_matches('\n') != armour.trim_end_matches('\n')
        || !armour.ends_with('\n')
        || armour.ends_with("\n\n")
    {
        return Err("the armour of the signature was changed".to_owned());
    }
    let key = PublicKey::from(signature.public_key().clone());
    key.verify(NAMESPACE, message, &signature).map_err(|error| match error {
        ssh_key::Error::Namespace => {
            format!("the signature was made for `{}`, not for `{NAMESPACE}`", signature.namespace())
        }
        _ => "the signature does not fit the file: one of the two was changed".to_owned(),
    })?;
    let line = public_line(&key).ok_or("the public key cannot be written")?;
    Ok((line, key.fingerprint(HashAlg::Sha256).to_string()))
}

/// The fingerprint of a public key line.
pub(super) fn fingerprint_of(line: &str) -> Option<String> {
    PublicKey::from_openssh(line).ok().map(|key| key.fingerprint(HashAlg::Sha256).to_string())
}
