//! The seal: hashes of everything in the record, and one signature over them.

use std::fmt::Write;
use std::path::Path;

use jiff::Timestamp;

use super::error::RecordError;
use super::files::{all_files, create_folder, hash_all, remove_left_over, unfinished, write_durably};
use super::folder::Record;
use super::instructions::INSTRUCTION_TEXT;
use super::key::SigningKey;
use super::layout::{ALLOWED_SIGNERS, INSTRUCTIONS, PUBLIC_KEY, Part, SIGNATURE, SUMS};
use crate::walk::{Event, Walk};

/// What signatures of this program are made for; a signature for anything else does not count.
pub const NAMESPACE: &str = "record@rigproof";

/// The name of a person as `ssh-keygen` takes it: no spaces, no commas.
pub fn principal(name: &str) -> String {
    let plain: String = name.trim().to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    let plain = plain.split('-').filter(|p| !p.is_empty()).collect::<Vec<_>>().join("-");
    if plain.is_empty() { "signer".to_owned() } else { plain }
}

/// One file that the report floor hands over to be sealed with the record.
pub type ReportFile = (String, Vec<u8>);

impl Record {
    /// Signs the work off, or what another signed off: the last entry of a part, with the key that its seal will be made
    /// with.
    ///
    /// # Errors
    /// [`RecordError`]
    pub fn sign_off(
        &mut self,
        walk: &mut Walk,
        at: Timestamp,
        (name, role, statement): (&str, &str, &str),
        key: &SigningKey,
    ) -> Result<(), RecordError> {
        let event = Event::SignedOff {
            name: name.to_owned(),
            role: role.to_owned(),
            statement: statement.to_owned(),
            key: key.public_line()?,
        };
        self.write(walk, at, &event)
    }

    /// Seals the part that was signed off: writes the report and the instructions, lists the hashes of all that lies in
    /// the record, signs the list. The seals before it are among what it covers.
    ///
    /// It may be called again after it was broken off.
    ///
    /// # Errors
    /// [`RecordError`]
    pub fn seal(&mut self, name: &str, key: &SigningKey, report: &[ReportFile]) -> Result<(), RecordError> {
        let (folder, part) = (self.folder(), self.part());
        let who = principal(name);
        let public = key.public_line()?;
        // What an earlier, broken-off seal left of these two must not be summed; all else is written anew before that.
        for name in [SUMS, SIGNATURE] {
            remove_left_over(&unfinished(&folder.join(part.seal_file(name))))?;
        }
        let report = report.iter().map(|(name, bytes)| (format!("{}/{name}", part.report()), bytes.as_slice()));
        let [whose, signers] = companions(&who, &public);
        let own =
            [(part.seal_file(PUBLIC_KEY), whose.as_bytes()), (part.seal_file(ALLOWED_SIGNERS), signers.as_bytes())];
        for (name, bytes) in report.chain(own) {
            let path = folder.join(name);
            if let Some(parent) = path.parent() {
                create_folder(parent)?;
            }
            write_durably(&path, bytes)?;
        }
        if part == Part::FIRST {
            write_durably(&folder.join(INSTRUCTIONS), INSTRUCTION_TEXT.as_bytes())?;
        }
        let sums = sums(folder, part)?;
        let signature = key.sign(sums.as_bytes())?;
        write_durably(&folder.join(part.seal_file(SUMS)), sums.as_bytes())?;
        write_durably(&folder.join(part.seal_file(SIGNATURE)), signature.as_bytes())?;
        self.now_sealed();
        Ok(())
    }
}

/// What the two files hold that repeat the key: one to take its fingerprint from, one as `ssh-keygen -Y verify` asks for
/// it.
pub(super) fn companions(principal: &str, public: &str) -> [String; 2] {
    [format!("{public} {principal}\n"), format!("{principal} namespaces=\"{NAMESPACE}\" {public}\n")]
}

/// How to verify a seal with stock tools: whose key, whether it signed the hashes, whether the hashes fit the files.
pub fn stock_commands(part: Part, principal: &str) -> [String; 3] {
    let file = |name: &str| part.seal_file(name);
    [
        format!("ssh-keygen -lf {}", file(PUBLIC_KEY)),
        format!(
            "ssh-keygen -Y verify -f {} -I {principal} -n {NAMESPACE} -s {} < {}",
            file(ALLOWED_SIGNERS),
            file(SIGNATURE),
            file(SUMS)
        ),
        format!("sha256sum -c {}", file(SUMS)),
    ]
}

/// The list of hashes as `sha256sum` writes it: everything in the record but the list itself and the signature over it.
fn sums(folder: &Path, part: Part) -> Result<String, RecordError> {
    let mut names = all_files(folder)?;
    names.retain(|name| *name != part.seal_file(SUMS) && *name != part.seal_file(SIGNATURE));
    let mut text = String::new();
    for (name, hash) in hash_all(folder, &names) {
        let path = folder.join(&name);
        // A name that would break a line of the list, or that stands for something else, cannot be sealed.
        if name.contains(['\n', '\r', '\\', '\u{fffd}']) {
            return Err(RecordError::Changed {
                says: format!("{} has a name that no list of hashes can hold", path.display()),
            });
        }
        let hash = hash.map_err(|says| RecordError::Changed { says: format!("{}: {says}", path.display()) })?;
        let _ = writeln!(text, "{hash}  {name}");
    }
    Ok(text)
}
