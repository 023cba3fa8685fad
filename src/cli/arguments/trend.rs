use std::path::PathBuf;

use clap::Args;

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof trend jobs                    which readings of these records repeat
  rigproof trend jobs --step torque      the chart of one of them
  rigproof trend jobs --step \"ground/*/torque\" --at-least \"4.77 N·m\"
                                         and how its spread fits the limit

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
