//! `rigproof timestamp`: a time stamp of the last seal, as files.

use super::arguments::Timestamp;
use super::failure::{Failure, Outcome};
use super::layout;
use crate::record::{self, RecordError};

pub(super) fn run(arguments: &Timestamp) -> Result<Outcome, Failure> {
    let record = &arguments.record;
    if let Some(path) = &arguments.request {
        let request = record::request_stamp(record)?;
        std::fs::write(path, request).map_err(|error| RecordError::File {
            tried: "write",
            path: path.clone(),
            error,
        })?;
        layout::print(&format!(
            "wrote {0}: it holds the hash of the last seal, and nothing of the record\n\
             send it to a time-stamping authority (HTTP POST, Content-Type application/timestamp-query),\n\
             then: rigproof timestamp {1} --response FILE",
            path.display(),
            record.display()
        ))?;
    }
    if let Some(path) = &arguments.response {
        let at = record::keep_stamp(record, path)?;
        layout::print(&format!(
            "the time stamp is in the record: the last seal existed at {at}, by the word of the authority\n\
             its signature was not checked here; with its certificate: openssl ts -verify, as VERIFY.txt says"
        ))?;
    }
    Ok(Outcome::Conforms)
}
