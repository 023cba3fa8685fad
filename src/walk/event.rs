use serde::{Deserialize, Serialize};

use crate::judgement::Judgement;
use crate::plan::StepKey;
use crate::quantity::{Amount, Duration, Reading};

/// Something that happened on the job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Event {
    /// The record was begun.
    Opened {
        /// The format of the record.
        format: u32,
        /// Title of the job.
        job: String,
        /// Number of steps of the plan.
        steps: usize,
        /// Version of the program.
        program: String,
        /// The job and the procedures as they were at the beginning: name in the record, SHA-256.
        files: Vec<FrozenFile>,
        /// Errors of the design check that the work was begun in spite of.
        design_errors: Vec<String>,
        /// Why it was begun in spite of them.
        despite: Option<String>,
    },
    /// Somebody took the work over.
    OnDuty {
        /// Name.
        name: String,
        /// Role: installer, ...
        role: String,
        /// Whether the entries come from a file of answers and not from a person at the walk.
        from_file: bool,
    },
    /// What follows was written on paper first and is entered afterwards, until somebody is on duty anew.
    FromPaper(FromPaper),
    /// Hazards were read and acknowledged.
    HazardsAcknowledged {
        /// The step before which they were shown.
        step: StepKey,
        /// Their ids.
        hazards: Vec<String>,
    },
    /// A step without a reading was done.
    Done {
        /// The step.
        step: StepKey,
    },
    /// A reading or value was taken. The limits and the verdict of the moment are kept with it.
    Read {
        /// The step.
        step: StepKey,
        /// What was read.
        reading: Reading,
        /// Least expected value.
        low: Option<Amount>,
        /// Greatest expected value.
        high: Option<Amount>,
        /// How it was judged.
        judgement: Judgement,
    },
    /// A text was read off something.
    Noted {
        /// The step.
        step: StepKey,
        /// The text.
        text: String,
        /// How it was judged.
        judgement: Judgement,
    },
    /// One of several equally good ways was taken.
    Chosen {
        /// The step.
        step: StepKey,
        /// The way.
        way: String,
    },
    /// The party of a witness point was told, and came or did not.
    Witnessed {
        /// The step.
        step: StepKey,
        /// Who came to watch; nobody where it is empty.
        came: Option<String>,
    },
    /// A step was put off; the walk comes back to it.
    PutOff {
        /// The step.
        step: StepKey,
        /// Why.
        reason: String,
    },
    /// The step before was closed too early: it is open again.
    TakenBack {
        /// The step.
        step: StepKey,
        /// Why, where it was said.
        reason: String,
    },
    /// A picture was taken into the record.
    Photographed {
        /// The step.
        step: StepKey,
        /// Path inside the record, with `/`.
        file: String,
        /// SHA-256 of the picture as it lies in the record.
        sha256: String,
        /// Name of the file that it came from.
        original: String,
        /// SHA-256 of that file.
        original_sha256: String,
    },
    /// The job file was found changed after the beginning, and the work goes on by the one that was begun with.
    JobDiffers {
        /// SHA-256 of the file as it is now.
        sha256: String,
        /// The first line that differs, then and now.
        line: String,
        /// Why the work goes on by the old one.
        reason: String,
    },
    /// The work is done by the rules of a shop from here on.
    InShop {
        /// Name of the shop.
        name: String,
        /// SHA-256 of its file as it was then.
        sha256: String,
    },
    /// A wait was begun.
    WaitBegun {
        /// The step.
        step: StepKey,
        /// When, by the clock that was handed in.
        at: Moment,
    },
    /// A wait is over.
    WaitEnded {
        /// The step.
        step: StepKey,
        /// How long it was.
        waited: Duration,
        /// Whether a person states it, or the clock showed it.
        stated: bool,
    },
    /// What is done about a reading that does not conform or surprises.
    Disposed {
        /// The step.
        step: StepKey,
        /// What is done.
        disposition: Disposition,
    },
    /// A hold point was released.
    Released {
        /// The step.
        step: StepKey,
        /// By whom.
        by: String,
        /// What that person states.
        statement: String,
        /// The signature of that person, where one was given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        signature: Option<ReleaseSignature>,
    },
    /// A remark on a step.
    Remark {
        /// The step.
        step: StepKey,
        /// The remark.
        text: String,
    },
    /// The work was signed off, or somebody signs what was signed off before.
    SignedOff {
        /// By whom.
        name: String,
        /// In which role.
        role: String,
        /// What is stated.
        statement: String,
        /// The public key that the seal is made with, in OpenSSH form.
        key: String,
    },
    /// Work that was signed off goes on: steps are open again, with everything that depends on them.
    Reopened {
        /// Who takes the work over.
        name: String,
        /// Role.
        role: String,
        /// The steps.
        steps: Vec<StepKey>,
        /// Why: a check after 1,000 km, a repair.
        reason: String,
    },
    /// A torn last line was set aside after a power cut or a kill.
    Recovered {
        /// SHA-256 of the bytes that were set aside.
        sha256: String,
        /// How many bytes they were.
        bytes: usize,
    },
}

/// Values that were written on printed sheets during the work, and entered into the record later.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FromPaper {
    /// The code at the foot of the sheets.
    pub code: String,
    /// Who took the values: name.
    pub taken_by: String,
    /// Role of who took them.
    pub role: String,
    /// The day of the work, as it is written on the sheets.
    pub day: String,
    /// Who entered them: name.
    pub entered_by: String,
    /// The file that they were entered in, where there was one: its name without folders, and its hash.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<FrozenFile>,
}

/// The signature of whoever released a hold point.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReleaseSignature {
    /// The public key, in OpenSSH form.
    pub key: String,
    /// SSHSIG over the text of [`release_text`], in the armour of `ssh-keygen -Y`.
    pub signature: String,
}

/// What is signed with a release: the hash of the journal's last line before it, the step, the name, the statement; one
/// a line.
pub fn release_text(head: &str, step: &StepKey, by: &str, statement: &str) -> String {
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    format!("release\n{head}\n{step}\n{}\n{}\n", one_line(by), one_line(statement))
}

/// A moment, in whole seconds since 1970 (UTC), as the clock that was handed in shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Moment(pub i64);

impl Moment {
    /// How long after an earlier moment; nothing where the clock went back.
    pub fn since(self, earlier: Moment) -> Duration {
        Duration::seconds((self.0 - earlier.0).max(0) as f64)
    }
}

/// A file whose content is fixed by its hash.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FrozenFile {
    /// Path inside the record, with `/`.
    pub name: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// What is done about a reading that does not conform or surprises.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
pub enum Disposition {
    /// The same reading again: the probe slipped, the range was wrong.
    MeasureAgain,
    /// Work is done again from a step on: the rest of that operation and every reading that depends on the thing are
    /// open again.
    Rework {
        /// Where the work begins again.
        from: StepKey,
        /// Why.
        reason: String,
    },
    /// As rework, but what results may stay outside its limits and be good for use: a later concession says so.
    Repair {
        /// Where the work begins again.
        from: StepKey,
        /// Why, and what is done.
        reason: String,
    },
    /// A named person with the right to do so permits that it stays as it is, for a stated use.
    Concession {
        /// Who permits it.
        by: String,
        /// Why.
        reason: String,
        /// For what, and for how long.
        scope: String,
    },
    /// The reading is right and explained; only for one that keeps its rule but surprises.
    Explained {
        /// The explanation.
        reason: String,
    },
    /// It stays as it is and is a nonconformity of the job.
    Nonconformity {
        /// Why it stays.
        reason: String,
    },
}

impl std::fmt::Display for Disposition {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::MeasureAgain => f.write_str("measured again"),
            Self::Rework { from, reason } => write!(f, "rework from {from}: {reason}"),
            Self::Repair { from, reason } => write!(f, "repair from {from}: {reason}"),
            Self::Concession { by, reason, scope } => write!(f, "concession by {by} for {scope}: {reason}"),
            Self::Explained { reason } => write!(f, "explained: {reason}"),
            Self::Nonconformity { reason } => write!(f, "nonconformity: {reason}"),
        }
    }
}

/// Why an event is not accepted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// In words, with what is asked for instead.
    pub says: String,
}

impl Refused {
    pub(super) fn new(says: impl Into<String>) -> Self {
        Self { says: says.into() }
    }
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.says)
    }
}

impl std::error::Error for Refused {}
