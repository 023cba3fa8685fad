use std::path::{Path, PathBuf};

use crate::walk::Refused;

/// Why a record cannot be read or written.
#[derive(Debug)]
pub enum RecordError {
    /// The file system said no.
    File {
        /// What was tried: `write`, `open`.
        tried: &'static str,
        /// Which file.
        path: PathBuf,
        /// What it said.
        error: std::io::Error,
    },
    /// Another program works on the record.
    InUse {
        /// The record.
        path: PathBuf,
    },
    /// The folder is no record.
    NotARecord {
        /// The folder.
        path: PathBuf,
        /// Why.
        says: String,
    },
    /// The record was changed by something else than this program.
    Changed {
        /// What and where.
        says: String,
    },
    /// The walk does not accept the event.
    Refused(Refused),
    /// A picture cannot be taken into the record.
    Photo {
        /// In words.
        says: String,
    },
    /// A time stamp cannot be asked for or taken.
    Stamp {
        /// In words.
        says: String,
    },
    /// A key cannot be read, made or used.
    Key {
        /// In words.
        says: String,
    },
}

impl RecordError {
    pub(super) fn file(tried: &'static str, path: &Path) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.to_owned();
        move |error| Self::File { tried, path, error }
    }
}

impl std::fmt::Display for RecordError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::File { tried, path, error } => {
                write!(f, "could not {tried} {}: {error}", path.display())?;
                if error.kind() == std::io::ErrorKind::StorageFull {
                    write!(
                        f,
                        "\n  the disk is full: make room and call again; every entry that was acknowledged is saved"
                    )?;
                }
                Ok(())
            }
            Self::InUse { path } => write!(
                f,
                "{} is in use by another walk\n  one walk at a time writes to a record; close the other one first",
                path.display()
            ),
            Self::NotARecord { path, says } => write!(f, "{} is no record: {says}", path.display()),
            Self::Changed { says } => write!(
                f,
                "the record was changed outside this program: {says}\n  nothing was written; `rigproof verify` lists all that differs"
            ),
            Self::Refused(refused) => refused.fmt(f),
            Self::Key { says } | Self::Photo { says } | Self::Stamp { says } => f.write_str(says),
        }
    }
}

impl std::error::Error for RecordError {}

impl From<Refused> for RecordError {
    fn from(refused: Refused) -> Self {
        Self::Refused(refused)
    }
}
