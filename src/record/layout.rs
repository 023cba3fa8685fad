//! Where things lie in a record. Each seal closes a part; what comes later are new files beside the old ones.

use std::path::Path;

/// Name of the frozen job in the record.
pub const JOB: &str = "job.toml";
/// Name of the list of hashes in the folder of a seal.
pub const SUMS: &str = "SHA256SUMS";
/// Name of the signature over the list in the folder of a seal.
pub const SIGNATURE: &str = "SHA256SUMS.sig";
/// Name of the public key in the folder of a seal.
pub(super) const PUBLIC_KEY: &str = "signer.pub";
/// The same key as `ssh-keygen -Y verify` asks for it.
pub(super) const ALLOWED_SIGNERS: &str = "allowed_signers";
/// Name of the request for a time stamp (RFC 3161) in the folder of a seal.
pub(super) const REQUEST: &str = "timestamp.tsq";
/// Name of the time stamp (RFC 3161) in the folder of a seal.
pub(super) const STAMP: &str = "timestamp.tsr";
/// Name of the instructions for stock tools.
pub(super) const INSTRUCTIONS: &str = "VERIFY.txt";
/// The folder of the pictures in the record.
pub(super) const EVIDENCE: &str = "evidence";
/// The folder of the procedures in the record.
pub(super) const PROCEDURES: &str = "procedures";
/// How the name of a file ends that was not finished.
pub(super) const UNFINISHED: &str = ".new";

/// A part of a record: the entries that one seal adds to all before it. The first carries no number in its names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Part(usize);

impl Part {
    /// The part that a record begins with.
    pub const FIRST: Part = Part(1);

    /// Its number, from 1.
    pub fn number(self) -> usize {
        self.0
    }

    /// The part after it.
    #[must_use]
    pub fn next(self) -> Part {
        Part(self.0 + 1)
    }

    /// The part with an index from 0.
    pub(super) fn at(index: usize) -> Part {
        Part(index + 1)
    }

    fn named(self, name: &str) -> String {
        if self.0 == 1 { name.to_owned() } else { format!("{name}-{}", self.0) }
    }

    /// Its journal: `journal.jsonl`, `journal-2.jsonl`, ...
    pub fn journal(self) -> String {
        self.named("journal") + ".jsonl"
    }

    /// Its report folder: `report`, `report-2`, ...
    pub fn report(self) -> String {
        self.named("report")
    }

    /// The folder of its seal: `seal`, `seal-2`, ...
    pub fn seal(self) -> String {
        self.named("seal")
    }

    /// A file in the folder of its seal.
    pub fn seal_file(self, name: &str) -> String {
        format!("{}/{name}", self.seal())
    }

    /// Whether a file belongs to this part: its journal, what was torn off it, its report, its seal.
    pub(super) fn holds(self, name: &str) -> bool {
        let torn = name.strip_prefix(&self.named("journal")).and_then(|rest| rest.strip_prefix(".torn-"));
        name == self.journal()
            || torn.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
            || name.starts_with(&(self.report() + "/"))
            || name.starts_with(&(self.seal() + "/"))
    }

    /// Whether a file is one that its own seal cannot name: the list, the signature over it, a time stamp of that.
    pub(super) fn leaves_out(self, name: &str) -> bool {
        [SUMS, SIGNATURE, REQUEST, STAMP].iter().any(|own| name == self.seal_file(own))
    }

    /// Whether its seal is complete: the signature is what is written last.
    pub fn is_sealed(self, folder: &Path) -> bool {
        folder.join(self.seal_file(SIGNATURE)).exists()
    }

    /// The last part of a record whose first journal exists.
    pub fn last_of(folder: &Path) -> Part {
        let mut part = Part::FIRST;
        while folder.join(part.next().journal()).exists() {
            part = part.next();
        }
        part
    }

    /// This part and all before it, first to last.
    pub fn up_to(self) -> impl Iterator<Item = Part> {
        (1..=self.0).map(Part)
    }
}

/// Whether a name is one of a file directly in the folder of the procedures, or of the job: nothing else was frozen.
pub(super) fn is_frozen_name(name: &str) -> bool {
    name == JOB || name.strip_prefix("procedures/").is_some_and(|rest| is_plain(rest) && is_toml(rest))
}

/// Whether a name ends as those of frozen files do.
pub(super) fn is_toml(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|extension| extension == "toml")
}

/// Whether a name is one of a file directly in the folder of the pictures.
pub(super) fn is_evidence_name(name: &str) -> bool {
    name.strip_prefix("evidence/").is_some_and(is_plain)
}

/// A single component that leads nowhere else, and stands in one line of a list.
fn is_plain(name: &str) -> bool {
    !name.is_empty() && !name.starts_with('.') && !name.contains(['/', '\\', '\0', '\n', '\r'])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_part_carries_no_number_and_later_ones_do() {
        assert_eq!(Part::FIRST.journal(), "journal.jsonl");
        let second = Part::FIRST.next();
        assert_eq!((second.journal(), second.seal()), ("journal-2.jsonl".to_owned(), "seal-2".to_owned()));
        assert_eq!(second.up_to().map(Part::number).collect::<Vec<_>>(), [1, 2]);
    }

    #[test]
    fn names_that_lead_out_of_the_record_are_none_of_its_names() {
        for name in
            ["procedures/../job.toml", "procedures//etc/x.toml", "/job.toml", "procedures/a\\b.toml", "procedures/"]
        {
            assert!(!is_frozen_name(name), "{name}");
        }
        assert!(is_frozen_name("procedures/crimp.toml") && is_frozen_name("job.toml"));
        assert!(is_evidence_name("evidence/0123.jpg") && !is_evidence_name("evidence/../journal.jsonl"));
    }
}
