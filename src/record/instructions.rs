//! How to verify a record without this program.

/// What `VERIFY.txt` says: a shell script whose comments are for people.
///
/// It is the same in every record, so that a later seal has no reason to change it.
pub(super) const INSTRUCTION_TEXT: &str = include_str!("VERIFY.txt");
