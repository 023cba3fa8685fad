//! A record as it lies there, for whoever looks at many: read and checked for its chain, replayed only where asked for.

use std::fmt::Write;
use std::path::Path;
use std::time::UNIX_EPOCH;

use super::entry::{Entry, sha256_hex};
use super::error::RecordError;
use super::files::read_text;
use super::folder::replay;
use super::journal::Chain;
use super::layout::{JOB, Part};
use crate::document::Source;
use crate::job::Job;
use crate::walk::{Event, Walk};

/// What a record says of itself. Signatures and the files beside the journals are not looked at: see [`super::verify()`].
pub struct Scan {
    chain: Chain,
    /// How many of its parts bear a seal, counted from the first.
    pub sealed: usize,
    /// The job as it was begun with, where it can be read and is the one of the first entry.
    pub job: Option<Job>,
    /// The first thing that is wrong with it, in words.
    pub trouble: Option<String>,
}

impl Scan {
    /// Looks at a record.
    pub fn of(folder: &Path) -> Self {
        let chain = Chain::read(folder);
        let parts = Part::last_of(folder).up_to();
        let sealed = parts.take_while(|part| part.is_sealed(folder)).count();
        let mut trouble = chain.trouble.as_ref().map(|(place, says)| format!("{place}: {says}"));
        let job = match frozen_job(folder, &chain.entries) {
            Ok(job) => Some(job),
            Err(says) => {
                trouble.get_or_insert(says);
                None
            }
        };
        Self { chain, sealed, job, trouble }
    }

    /// The entries up to the first line that is wrong.
    pub fn entries(&self) -> &[Entry] {
        &self.chain.entries
    }

    /// Hash of the last line that was read.
    pub fn head(&self) -> &str {
        &self.chain.link.prev
    }

    /// Whether the last line was torn by a power cut or a kill.
    pub fn is_torn(&self) -> bool {
        !self.chain.torn.is_empty()
    }

    /// The walk that the entries add up to. Each is shown before it is applied, beside the walk as it stood then.
    ///
    /// # Errors
    /// [`RecordError`]: a frozen file or an entry that the walk does not take.
    pub fn replay(&self, folder: &Path, see: &mut dyn FnMut(&Walk, &Entry)) -> Result<Walk, RecordError> {
        replay(folder, &self.chain, see)
    }
}

fn frozen_job(folder: &Path, entries: &[Entry]) -> Result<Job, String> {
    let Some(Event::Opened { files, .. }) = entries.first().map(|entry| &entry.event) else {
        return Err(format!("{}:1: the first entry does not open a record", Part::FIRST.journal()));
    };
    let bytes = read_text(&folder.join(JOB)).map_err(|error| format!("{JOB}: {error}"))?;
    if !files.iter().any(|file| file.name == JOB && file.sha256 == sha256_hex(&bytes)) {
        return Err(format!("{JOB} is not the file that was frozen at the beginning"));
    }
    let text = String::from_utf8(bytes).map_err(|_| format!("{JOB} is not UTF-8 text"))?;
    Job::read(&Source::new(JOB, text)).map_err(|_| format!("{JOB} cannot be read by this version"))
}

/// What tells, without reading it, whether a record is another than when it was looked at: length and time of each
/// journal and of each list of a seal.
pub fn stamp_of(folder: &Path) -> String {
    let mut stamp = String::new();
    for part in Part::last_of(folder).up_to() {
        for name in [part.journal(), part.seal_file(super::layout::SIGNATURE)] {
            let Ok(data) = std::fs::metadata(folder.join(&name)) else { continue };
            let changed = data.modified().ok().and_then(|at| at.duration_since(UNIX_EPOCH).ok()).unwrap_or_default();
            let _ = writeln!(stamp, "{name} {} {}", data.len(), changed.as_nanos());
        }
    }
    sha256_hex(stamp.as_bytes())[..16].to_owned()
}
