//! The record: a folder that keeps what happened, survives a crash, and can be verified by anyone.
//!
//! ```text
//! journal.jsonl         one entry a line, each with the hash of the line before
//! evidence/*.jpg        pictures that were taken into it
//! job.toml              the job as it was at the beginning
//! procedures/*.toml     the procedures as they were at the beginning
//! report/               the report, written when the work is signed off
//! SHA256SUMS            the hashes of all of these
//! SHA256SUMS.sig        the signature over SHA256SUMS
//! signer.pub            the public key it was made with
//! allowed_signers       the same key in the form that ssh-keygen asks for
//! VERIFY.txt            how to verify all that with stock tools
//! ```

mod entry;
mod error;
mod evidence;
mod folder;
mod journal;
mod key;
mod seal;
mod verify;

pub use entry::{Entry, FIRST_PREVIOUS, sha256_hex};
pub use error::RecordError;
pub use folder::{Opened, Record};
pub use key::SigningKey;
pub use seal::{NAMESPACE, principal, stock_commands};
pub use verify::{Findings, Releaser, Signer, verify};

/// Name of the journal in the record.
pub const JOURNAL: &str = "journal.jsonl";
/// Name of the frozen job in the record.
pub const JOB: &str = "job.toml";
/// Name of the list of hashes in the record.
pub const SUMS: &str = "SHA256SUMS";
/// Name of the signature in the record.
pub const SIGNATURE: &str = "SHA256SUMS.sig";
