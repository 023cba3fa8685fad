//! OpenSSH keys: read, made, and used for signatures (SSHSIG).

use std::path::{Path, PathBuf};

use ssh_agent_client_rs::{Client, Identity};
use ssh_key::{Algorithm, HashAlg, LineEnding, PrivateKey, PublicKey, SshSig};

use super::error::RecordError;
use super::files;
use super::seal::NAMESPACE;

/// A key that is ready to sign.
#[derive(Debug, Clone)]
pub struct SigningKey {
    holder: Holder,
    path: PathBuf,
}

/// Who holds the private half.
#[derive(Debug, Clone)]
enum Holder {
    /// This program, while it runs.
    Here(Box<PrivateKey>),
    /// An agent (ssh-agent), which signs and never hands it out.
    Agent(PublicKey),
}

fn key_error(path: &Path, says: impl std::fmt::Display) -> RecordError {
    RecordError::Key { says: format!("{}: {says}", path.display()) }
}

impl SigningKey {
    /// Reads a private key file. `passphrase` is asked only where the key is encrypted. The file of a public key stands
    /// for its private half in the ssh-agent, as it does for `ssh-keygen -Y sign`.
    ///
    /// # Errors
    /// [`RecordError::Key`] in words a person can act on.
    pub fn read(path: &Path, passphrase: impl FnOnce() -> Option<String>) -> Result<Self, RecordError> {
        let text = std::fs::read_to_string(path).map_err(RecordError::file("read", path))?;
        if text.trim_start().starts_with("ssh-") {
            return Self::in_agent(path, &text);
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
        Ok(Self { holder: Holder::Here(Box::new(key)), path: path.to_owned() })
    }

    /// The key in the ssh-agent whose public half was read.
    fn in_agent(path: &Path, text: &str) -> Result<Self, RecordError> {
        let public = PublicKey::from_openssh(text.trim())
            .map_err(|error| key_error(path, format!("this is no OpenSSH public key ({error})")))?;
        if public.algorithm() != Algorithm::Ed25519 {
            return Err(key_error(path, format!("{} keys are not supported; use an Ed25519 key", public.algorithm())));
        }
        let held =
            connect(path)?.list_all_identities().map_err(|error| key_error(path, format!("the agent: {error}")))?;
        let same = |own: &Identity| matches!(own, Identity::PublicKey(own) if own.key_data() == public.key_data());
        if !held.iter().any(same) {
            let says = "this is a public key, and the ssh-agent does not hold its private half; add it with ssh-add, or \
                        name the private key, the file without .pub";
            return Err(key_error(path, says));
        }
        Ok(Self { holder: Holder::Agent(public), path: path.to_owned() })
    }

    /// Makes a new Ed25519 key and writes both halves; the private one is readable by its owner alone. A kill or a
    /// power cut leaves a whole key or none.
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
        let text = key.to_openssh(LineEnding::LF).map_err(|error| key_error(path, error))?;
        files::write_private_durably(path, text.as_bytes())?;
        let made = Self { holder: Holder::Here(Box::new(key)), path: path.to_owned() };
        made.complete()?;
        Ok(made)
    }

    /// Writes the public half beside the private one where it is missing: making the key was broken off in between.
    ///
    /// # Errors
    /// [`RecordError`]
    pub fn complete(&self) -> Result<(), RecordError> {
        let public = self.path.with_extension("pub");
        if public == self.path || public.exists() {
            return Ok(());
        }
        files::remove_left_over(&files::unfinished(&self.path))?;
        let line = self.public().to_openssh().map_err(|error| key_error(&public, error))?;
        files::write_durably(&public, format!("{line}\n").as_bytes())
    }

    /// Where the key lies, or the public half of one that an agent holds.
    pub fn path(&self) -> &Path {
        &self.path
    }

    fn public(&self) -> &PublicKey {
        match &self.holder {
            Holder::Here(key) => key.public_key(),
            Holder::Agent(key) => key,
        }
    }

    /// The public key as one line, without a comment.
    ///
    /// # Errors
    /// [`RecordError::Key`]
    pub fn public_line(&self) -> Result<String, RecordError> {
        public_line(self.public()).ok_or_else(|| key_error(&self.path, "the public half cannot be written"))
    }

    /// What a person compares: `SHA256:...`.
    pub fn fingerprint(&self) -> String {
        self.public().fingerprint(HashAlg::Sha256).to_string()
    }

    /// A signature over a message in this program's namespace, in the armour of `ssh-keygen -Y`.
    ///
    /// # Errors
    /// [`RecordError::Key`]
    pub fn sign(&self, message: &[u8]) -> Result<String, RecordError> {
        let failed = |error: &dyn std::fmt::Display| key_error(&self.path, format!("signing failed: {error}"));
        let hash = HashAlg::Sha512;
        let signature = match &self.holder {
            Holder::Here(key) => key.sign(NAMESPACE, hash, message).map_err(|error| failed(&error))?,
            Holder::Agent(public) => {
                let data = SshSig::signed_data(NAMESPACE, hash, message).map_err(|error| failed(&error))?;
                let signature = connect(&self.path)?.sign(public, &data).map_err(|error| failed(&error))?;
                SshSig::new(public.key_data().clone(), NAMESPACE, hash, signature).map_err(|error| failed(&error))?
            }
        };
        let armour = signature.to_pem(LineEnding::LF).map_err(|error| key_error(&self.path, error))?;
        let armour = if armour.ends_with('\n') { armour } else { armour + "\n" };
        // What an agent gives back is not believed unseen.
        check_signature(&armour, message).map_err(|says| failed(&says))?;
        Ok(armour)
    }
}

/// The agent that the session names.
fn connect(path: &Path) -> Result<Client, RecordError> {
    let Some(socket) = std::env::var_os("SSH_AUTH_SOCK") else {
        let says = "this is a public key, and no ssh-agent runs that could hold its private half; name the private key, \
                    the file without .pub";
        return Err(key_error(path, says));
    };
    let says = |error| key_error(path, format!("the ssh-agent at {} does not answer: {error}", socket.display()));
    Client::connect(Path::new(&socket)).map_err(says)
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
pub fn fingerprint_of(line: &str) -> Option<String> {
    PublicKey::from_openssh(line).ok().map(|key| key.fingerprint(HashAlg::Sha256).to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_whose_making_was_broken_off_is_made_whole() {
        let folder = tempfile::TempDir::new().unwrap();
        let path = folder.path().join("own/signing-key");
        // Killed amid the private half: its name is not there yet.
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(files::unfinished(&path), [0; 300]).unwrap();
        let made = SigningKey::make(&path, "robin").unwrap();
        let text = std::fs::read_to_string(&path).unwrap();
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        }
        // Killed before the public half.
        let public = path.with_extension("pub");
        std::fs::remove_file(&public).unwrap();
        let read = SigningKey::read(&path, || None).unwrap();
        read.complete().unwrap();
        let half = std::fs::read_to_string(&public).unwrap();
        assert!(half.starts_with(&made.public_line().unwrap()), "{half}");
        // The key that is there stays.
        assert!(SigningKey::make(&path, "sam").is_err());
        assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
        let names: Vec<_> =
            std::fs::read_dir(path.parent().unwrap()).unwrap().map(|e| e.unwrap().file_name()).collect();
        assert_eq!(names.len(), 2, "{names:?}");
    }
}
