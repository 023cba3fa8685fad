//! The seal: hashes of everything in the record, and one signature over them.

use std::fmt::Write;
use std::io::ErrorKind;
use std::path::Path;

use jiff::Timestamp;

use super::entry::sha256_hex;
use super::error::RecordError;
use super::folder::{Record, UNFINISHED, all_files, write_durably};
use super::key::SigningKey;
use super::{JOB, JOURNAL, SIGNATURE, SUMS};
use crate::walk::{Event, Walk};

/// What signatures of this program are made for; a signature for anything else does not count.
pub const NAMESPACE: &str = "record@rigproof";

const PUBLIC_KEY: &str = "signer.pub";
const ALLOWED_SIGNERS: &str = "allowed_signers";

/// The name of a person as `ssh-keygen` takes it: no spaces, no commas.
pub fn principal(name: &str) -> String {
    let plain: String = name.trim().to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    let plain = plain.split('-').filter(|p| !p.is_empty()).collect::<Vec<_>>().join("-");
    if plain.is_empty() { "signer".to_owned() } else { plain }
}

/// One file that the report floor hands over to be sealed with the record.
pub type ReportFile = (String, Vec<u8>);

impl Record {
    /// Signs the work off: the last entry of the journal, with the key that the seal will be made with.
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

    /// Seals a signed-off record: writes the report and the instructions, lists all hashes, signs the list.
    ///
    /// It may be called again after it was broken off.
    ///
    /// # Errors
    /// [`RecordError`]
    pub fn seal(&self, name: &str, key: &SigningKey, report: &[ReportFile]) -> Result<(), RecordError> {
        let folder = self.folder();
        let who = principal(name);
        let public = key.public_line()?;
        // What an earlier, broken-off seal left of these two must not be summed; all else is written anew before that.
        for name in [SUMS, SIGNATURE] {
            let path = folder.join(format!("{name}{UNFINISHED}"));
            match std::fs::remove_file(&path) {
                Err(error) if error.kind() != ErrorKind::NotFound => {
                    return Err(RecordError::file("remove", &path)(error));
                }
                _ => {}
            }
        }
        for (file, bytes) in report {
            let path = folder.join("report").join(file);
            if let Some(parent) = path.parent() {
                std::fs::create_dir_all(parent).map_err(RecordError::file("create", parent))?;
            }
            write_durably(&path, bytes)?;
        }
        write_durably(&folder.join("VERIFY.txt"), instructions(&who, &key.fingerprint()).as_bytes())?;
        for (name, text) in companions(&who, &public) {
            write_durably(&folder.join(name), text.as_bytes())?;
        }
        let sums = sums(folder)?;
        let signature = key.sign(sums.as_bytes())?;
        write_durably(&folder.join(SUMS), sums.as_bytes())?;
        write_durably(&folder.join(SIGNATURE), signature.as_bytes())
    }
}

/// The two files that repeat the key: one to take its fingerprint from, one as `ssh-keygen -Y verify` asks for it.
pub(super) fn companions(principal: &str, public: &str) -> [(&'static str, String); 2] {
    [
        (PUBLIC_KEY, format!("{public} {principal}\n")),
        (ALLOWED_SIGNERS, format!("{principal} namespaces=\"{NAMESPACE}\" {public}\n")),
    ]
}

/// How to verify a record with stock tools: whose key, whether it signed the hashes, whether the hashes fit the files.
pub fn stock_commands(principal: &str) -> [String; 3] {
    [
        format!("ssh-keygen -lf {PUBLIC_KEY}"),
        format!("ssh-keygen -Y verify -f {ALLOWED_SIGNERS} -I {principal} -n {NAMESPACE} -s {SIGNATURE} < {SUMS}"),
        format!("sha256sum -c {SUMS}"),
    ]
}

/// Every file of the record that the seal covers, relative, sorted.
pub(super) fn covered(folder: &Path) -> Result<Vec<String>, RecordError> {
    let outside = [SUMS, SIGNATURE, PUBLIC_KEY, ALLOWED_SIGNERS];
    let mut names = all_files(folder)?;
    names.retain(|name| !outside.contains(&name.as_str()));
    Ok(names)
}

fn sums(folder: &Path) -> Result<String, RecordError> {
    let mut text = String::new();
    for name in covered(folder)? {
        let path = folder.join(&name);
        let bytes = std::fs::read(&path).map_err(RecordError::file("read", &path))?;
        let _ = writeln!(text, "{}  {name}", sha256_hex(&bytes));
    }
    Ok(text)
}

fn instructions(principal: &str, fingerprint: &str) -> String {
    let [whose, signed, files] = stock_commands(principal);
    format!(
        "How to verify this record with stock tools (OpenSSH 8.9 or newer, coreutils)\n\
         ===========================================================================\n\n\
         Open a shell in this folder and run the three checks in this order.\n\n\
         1. Whose key signed? Get the fingerprint from the signer by another road (paper, telephone, invoice)\n\
         \x20  and compare it with\n\n\
         \x20    {whose}\n\n\
         \x20  At the time of signing it was\n\n\
         \x20    {fingerprint}\n\n\
         \x20  A fingerprint that only travels inside this folder proves nothing: a forger replaces both.\n\n\
         2. Does the signature fit the list of hashes?\n\n\
         \x20    {signed}\n\n\
         \x20  Good: it says `Good \"{NAMESPACE}\" signature` and ends with 0.\n\n\
         3. Are the files those of the list?\n\n\
         \x20    {files}\n\n\
         \x20  Good: every line says OK. The record is exactly these files, and {SUMS}, {SIGNATURE},\n\
         \x20  {PUBLIC_KEY} and {ALLOWED_SIGNERS}; a further file is no part of it.\n\n\
         Each line of {JOURNAL} carries in \"prev\" the SHA-256 of the line before (its line feed included); the\n\
         first carries 64 zeros. To see the hashes:\n\n\
         \x20    while IFS= read -r l; do printf '%s\\n' \"$l\" | sha256sum; done < {JOURNAL}\n\n\
         What this proves: the holder of that key signed these bytes, {JOB} and the readings among them.\n\
         What it does not prove: who holds the key, when it was signed (the times are those of the signer's clock),\n\
         that the readings were really taken, or that no other record of the same work was thrown away.\n"
    )
}
