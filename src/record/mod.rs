//! The record: a folder that keeps what happened, survives a crash, and can be verified by anyone.
//!
//! A sealed file never changes. What comes later are new files: a further journal, report and seal, which covers all
//! before it. `FORMAT.md` beside this file describes every byte.
//!
//! ```text
//! job.toml              the job as it was at the beginning
//! procedures/*.toml     the procedures as they were at the beginning
//! journal.jsonl         one entry a line, each with the hash of the line before; ends with the first sign-off
//! evidence/*.jpg        pictures that were taken into it
//! report/               the report, written when the work is signed off
//! seal/                 SHA256SUMS: the hashes of all of these; SHA256SUMS.sig: the signature over that list;
//!                       signer.pub, allowed_signers: the key it was made with; timestamp.tsr: when, where asked for
//! VERIFY.txt            how to verify all that with stock tools
//! journal-2.jsonl       what was added later; then report-2/, seal-2/, and so on
//! ```

mod entry;
mod error;
mod evidence;
mod files;
mod folder;
mod instructions;
mod journal;
mod key;
mod layout;
mod scan;
mod seal;
mod signers;
mod stamp;
mod verify;

pub use entry::{Entry, FIRST_PREVIOUS, day_of, sha256_hex};
pub use error::RecordError;
pub use evidence::small_picture;
pub(crate) use files::write_durably;
pub use folder::{FORMAT, Opened, Record};
pub use key::{SigningKey, fingerprint_of};
pub use layout::{JOB, Part, SIGNATURE, SUMS};
pub use scan::{Scan, stamp_of};
pub use seal::{NAMESPACE, ReportFile, principal, stock_commands};
pub use signers::{KnownSigners, Standing};
pub use stamp::{keep_stamp, request_stamp};
pub use verify::{Findings, Reader, Releaser, Signer, Trust, verify};
