use std::io::{IsTerminal, Write};
use std::process::ExitCode;

use crate::circuit::MeterError;
use crate::document::Problems;
use crate::plan::PlanError;
use crate::procedure::LibraryError;
use crate::record::RecordError;

/// How a command ended that did what it was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// What was asked conforms: exit status 0.
    Conforms,
    /// Something does not conform: exit status 1.
    DoesNotConform,
}

impl Outcome {
    /// The exit status.
    pub fn exit_code(self) -> ExitCode {
        match self {
            Outcome::Conforms => ExitCode::SUCCESS,
            Outcome::DoesNotConform => ExitCode::from(1),
        }
    }
}

/// Why a command did not do what it was asked: exit status 2, or 130 where the person broke it off.
#[derive(Debug)]
pub enum Failure {
    /// The call itself, or a call for help.
    Usage(Box<clap::Error>),
    /// Problems of a file that a person wrote.
    Problems(Vec<Problems>),
    /// Anything else, in words with the way out.
    Message(String),
    /// The person broke off; what was entered is kept.
    BrokenOff(String),
}

impl Failure {
    pub(super) fn usage(error: clap::Error) -> Self {
        Self::Usage(Box::new(error))
    }

    pub(super) fn message(text: impl Into<String>) -> Self {
        Self::Message(text.into())
    }

    /// Prints it and gives the exit status.
    pub fn print(&self) -> ExitCode {
        let mut out = std::io::stderr().lock();
        let coloured = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
        match self {
            Self::Usage(error) => {
                let _ = error.print();
                return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
            }
            Self::Problems(files) => {
                for problems in files {
                    let _ = writeln!(out, "{}", problems.render(coloured));
                }
            }
            Self::Message(text) => {
                let _ = writeln!(out, "error: {text}");
            }
            Self::BrokenOff(text) => {
                let _ = writeln!(out, "\n{text}");
                return ExitCode::from(130);
            }
        }
        ExitCode::from(2)
    }
}

impl From<Box<Problems>> for Failure {
    fn from(problems: Box<Problems>) -> Self {
        Self::Problems(vec![*problems])
    }
}

impl From<LibraryError> for Failure {
    fn from(error: LibraryError) -> Self {
        Self::Problems(error.files)
    }
}

impl From<PlanError> for Failure {
    fn from(error: PlanError) -> Self {
        match error {
            PlanError::Procedure(problems) => Self::Problems(vec![*problems]),
            circuit @ PlanError::Circuit { .. } => Self::message(circuit.to_string()),
        }
    }
}

impl From<MeterError> for Failure {
    fn from(error: MeterError) -> Self {
        Self::message(error.to_string())
    }
}

impl From<RecordError> for Failure {
    fn from(error: RecordError) -> Self {
        Self::message(error.to_string())
    }
}
