use std::path::PathBuf;

/// Why a ledger cannot be kept or asked.
#[derive(Debug)]
pub enum LedgerError {
    /// The database said no.
    Database(rusqlite::Error),
    /// The file system said no.
    File {
        /// Which file or folder.
        path: PathBuf,
        /// What it said.
        error: std::io::Error,
    },
    /// There is no ledger, and nobody asked for one to be made.
    None(PathBuf),
}

impl LedgerError {
    pub(super) fn file(path: &std::path::Path) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.to_owned();
        move |error| Self::File { path, error }
    }
}

impl std::fmt::Display for LedgerError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Database(rusqlite::Error::SqliteFailure(error, _))
                if matches!(error.code, rusqlite::ErrorCode::DatabaseBusy | rusqlite::ErrorCode::DatabaseLocked) =>
            {
                f.write_str("the ledger is written by another program; call again in a moment")
            }
            Self::Database(error) => write!(f, "the ledger: {error}"),
            Self::File { path, error } => write!(f, "{}: {error}", path.display()),
            Self::None(path) => write!(f, "{} holds no ledger", path.display()),
        }
    }
}

impl std::error::Error for LedgerError {}

impl From<rusqlite::Error> for LedgerError {
    fn from(error: rusqlite::Error) -> Self {
        Self::Database(error)
    }
}
