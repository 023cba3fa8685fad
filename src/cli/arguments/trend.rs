use std::path::PathBuf;

use clap::{Args, ValueEnum};

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof trend jobs                    which readings of these records repeat
  rigproof trend jobs --step torque      the chart of one of them
  rigproof trend jobs --step \"ground/*/torque\" --at-least \"4.77 N·m\"
                                         and how its spread fits the limit
  rigproof trend jobs --step pull --by tool
                                         which of the tools has changed, and when
  rigproof trend jobs --step pull --tool crimper-2 --out trend
                                         its chart as a page

Each reading counts as it stood in the end; one that was measured again counts
once. Exit status 1 where a rule of the chart is broken.")]
pub(in crate::cli) struct Trend {
    /// Records, or folders with records in them
    #[arg(required = true)]
    pub records: Vec<PathBuf>,
    /// The reading: the last words of a step's name; * stands for any one word
    #[arg(long, value_name = "STEP")]
    pub step: Option<String>,
    /// Only what this person read
    #[arg(long, value_name = "NAME")]
    pub person: Option<String>,
    /// Only what was read with this instrument
    #[arg(long, value_name = "NAME")]
    pub instrument: Option<String>,
    /// Only what was made with this tool (written at a step `tool`)
    #[arg(long, value_name = "NAME")]
    pub tool: Option<String>,
    /// Only from this day on
    #[arg(long, value_name = "DAY")]
    pub since: Option<String>,
    /// Only up to this day
    #[arg(long, value_name = "DAY")]
    pub until: Option<String>,
    /// One chart for each person, instrument, tool or thing, a line each
    #[arg(long, value_enum, requires = "step")]
    pub by: Option<TrendGroup>,
    /// Write the chart into this folder: page, drawing, CSV
    #[arg(long, value_name = "DIR", requires = "step", conflicts_with_all = ["json", "by"])]
    pub out: Option<PathBuf>,
    /// How many of the first readings the limits come from [default: all]
    #[arg(long, value_name = "COUNT")]
    pub base: Option<usize>,
    /// The least that the reading may be, for the figure of capability
    #[arg(long, value_name = "VALUE", requires = "step", allow_hyphen_values = true)]
    pub at_least: Option<String>,
    /// The most that the reading may be
    #[arg(long, value_name = "VALUE", requires = "step", allow_hyphen_values = true)]
    pub at_most: Option<String>,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}

/// What readings are told apart by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum TrendGroup {
    /// Who took them
    Person,
    /// What they were taken with
    Instrument,
    /// What the work was done with
    Tool,
    /// What they were taken of
    Thing,
}
