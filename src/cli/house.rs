//! The shop that a job lies in: its file, its rules, its procedures.

use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::failure::Failure;
use super::files::read_text;
use super::shop_folder::{SHOP_FILE, above};
use crate::document::Source;
use crate::job::Job;
use crate::record::{Record, day_of, sha256_hex};
use crate::shop::{Refusal, Shop};
use crate::walk::{Event, Walk};

/// A shop and where it lies.
pub(super) struct House {
    pub folder: PathBuf,
    pub shop: Shop,
}

impl House {
    /// Reads the shop in a folder.
    pub fn read(folder: &Path) -> Result<Self, Failure> {
        let path = folder.join(SHOP_FILE);
        let source = Source::new(path.display().to_string(), read_text(&path)?);
        let key_file = |name: &str| {
            std::fs::read_to_string(folder.join(name)).map_err(|error| match error.kind() {
                std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
                _ => error.to_string(),
            })
        };
        Ok(Self { folder: folder.to_owned(), shop: Shop::read(&source, &key_file)? })
    }

    /// The shop that a file or folder lies in, where it lies in one.
    pub fn around(path: &Path) -> Result<Option<Self>, Failure> {
        above_file(path).map(|folder| Self::read(&folder)).transpose()
    }

    /// What the shop has against a job that is to be begun.
    pub fn refuse_job(&self, job: &Job) -> Result<(), Failure> {
        let today = day_of(Timestamp::now());
        let against: Vec<Refusal> =
            self.shop.unfit_instruments(job, today).into_iter().chain(self.shop.limits_not_kept(job)).collect();
        if against.is_empty() {
            return Ok(());
        }
        let listed: Vec<String> = against.iter().map(|refusal| format!("\n  - {refusal}")).collect();
        let (name, file) = (&self.shop.name, self.folder.join(SHOP_FILE));
        Err(Failure::message(format!("{name} does not begin this job ({}){}", file.display(), listed.concat())))
    }

    /// From here on the record keeps the rules of the shop, and says so.
    pub fn rule(self, record: &mut Record, walk: &mut Walk) -> Result<(), Failure> {
        let sha256 = sha256_hex(self.shop.source.text.as_bytes());
        let before = record.entries().iter().rev().find_map(|entry| match &entry.event {
            Event::InShop { sha256, .. } => Some(sha256.as_str()),
            _ => None,
        });
        let (noted, name) = (before == Some(&sha256), self.shop.name.clone());
        record.keep_rules_of(self.shop);
        if !noted && walk.signed().is_none() {
            record.write(walk, Timestamp::now(), &Event::InShop { name, sha256 })?;
        }
        Ok(())
    }
}

/// The folder of the shop that a file or folder lies in.
fn above_file(path: &Path) -> Option<PathBuf> {
    let whole = path.canonicalize().or_else(|_| std::path::absolute(path)).ok()?;
    let found = above(&whole)?;
    // Shown as it was called: a path from the folder of the call where that lies in the shop.
    let here = std::env::current_dir().ok().and_then(|here| here.canonicalize().ok());
    Some(match here.as_deref().and_then(|here| found.strip_prefix(here).ok()) {
        Some(below) if below.as_os_str().is_empty() => PathBuf::from("."),
        Some(below) => below.to_owned(),
        None => found,
    })
}

/// The procedures of the shop that a file or folder lies in.
///
/// # Errors
/// In a shop the work goes by the shop's procedures: other ones that the call names are refused.
pub(super) fn own_procedures(beside: &Path, named: Option<&Path>) -> Result<Option<PathBuf>, Failure> {
    let Some(folder) = above_file(beside) else { return Ok(named.map(Path::to_owned)) };
    let own = folder.join("procedures");
    let same = |named: &Path| named.canonicalize().ok() == own.canonicalize().ok();
    match named {
        Some(named) if !same(named) => Err(Failure::message(format!(
            "this lies in the shop of {}, and there the work goes by the procedures of the shop\n  \
             leave --procedures away, or put the files into {}",
            folder.join(SHOP_FILE).display(),
            own.display()
        ))),
        _ => Ok(Some(own).filter(|own| own.is_dir())),
    }
}
