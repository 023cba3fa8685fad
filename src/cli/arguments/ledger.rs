use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof ledger open              which jobs are not finished, and where each
                                    stands
  rigproof ledger due               overdue re-checks and instruments
  rigproof ledger touched M2 --since 2027-03-01 --error \"2.5 %\"
                                    M2 was found to show 2.5 % too much: which
                                    records hold its readings, and which of
                                    them would not conform
  rigproof ledger yield --by person --since 2027-01-01
  rigproof ledger pareto faults --csv

The ledger is ledger.sqlite in the folder of the shop. Each question first reads
what is new or has changed. The records are the truth: the ledger may be thrown
away at any time.")]
pub(in crate::cli) struct Ledger {
    #[command(subcommand)]
    pub command: LedgerCommand,
}

#[derive(Debug, Subcommand)]
pub(in crate::cli) enum LedgerCommand {
    /// Which jobs are not finished, and where each stands
    Open(LedgerPlain),
    /// What is overdue: vehicles to be looked at again, instruments
    Due(LedgerPlain),
    /// Which records hold readings of an instrument, or work of a tool
    Touched(LedgerTouched),
    /// How much of the work was right at the first go
    Yield(LedgerYield),
    /// What goes wrong most
    Pareto(LedgerPareto),
    /// How long the work takes
    Times(LedgerTimes),
    /// Write all tables for other engines: CSV, Parquet, a script for PostgreSQL
    Export(LedgerExport),
    /// Read what is new or has changed
    Update(LedgerPlace),
    /// Make the ledger anew from the records
    Rebuild(LedgerPlace),
}

#[derive(Debug, Args)]
pub(in crate::cli) struct LedgerPlace {
    /// Folder of the shop, or any other with records below it [default: the nearest upward with a shop.toml]
    #[arg(long, value_name = "DIR")]
    pub shop: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct LedgerForm {
    #[command(flatten)]
    pub place: LedgerPlace,
    /// Ask the ledger as it is, without looking at the records
    #[arg(long)]
    pub as_is: bool,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
    /// Print CSV on standard output
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof ledger export --out chain
                              chain/csv, chain/parquet, chain/postgresql
  cd chain/postgresql && psql -d chain -v schema=yard -f ledger.sql
                              into a PostgreSQL database, a schema for each shop")]
pub(in crate::cli) struct LedgerExport {
    /// Folder for the files; each form has a folder of its own in it
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Only this form (repeat it) [default: all]
    #[arg(long, value_enum)]
    pub form: Vec<ExportForm>,
    #[command(flatten)]
    pub place: LedgerPlace,
    /// Write the ledger as it is, without looking at the records
    #[arg(long)]
    pub as_is: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum ExportForm {
    /// For people and their spreadsheets
    Csv,
    /// For engines that read columns
    Parquet,
    /// A script for psql, and its files
    Postgresql,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct LedgerPlain {
    #[command(flatten)]
    pub form: LedgerForm,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct LedgerPeriod {
    /// Only from this day on
    #[arg(long, value_name = "DAY")]
    pub since: Option<String>,
    /// Only up to this day
    #[arg(long, value_name = "DAY")]
    pub until: Option<String>,
}

#[derive(Debug, Args)]
#[command(after_help = "Exit status: 1 where --error says that a reading would not have conformed.")]
pub(in crate::cli) struct LedgerTouched {
    /// Name of the instrument or tool, or the number on the instrument
    pub name: String,
    /// By how much the instrument shows too much: \"2.5 %\", \"0.1 V\"; below zero for too little
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    pub error: Option<String>,
    #[command(flatten)]
    pub period: LedgerPeriod,
    #[command(flatten)]
    pub form: LedgerForm,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct LedgerYield {
    /// What it is told apart by
    #[arg(long, value_enum, default_value = "step")]
    pub by: YieldBy,
    #[command(flatten)]
    pub period: LedgerPeriod,
    #[command(flatten)]
    pub form: LedgerForm,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum YieldBy {
    Step,
    Procedure,
    Person,
    Month,
    Tool,
    Record,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct LedgerPareto {
    /// What is counted
    #[arg(value_enum)]
    pub of: ParetoOf,
    #[command(flatten)]
    pub period: LedgerPeriod,
    #[command(flatten)]
    pub form: LedgerForm,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum ParetoOf {
    /// Steps at which something was mended or stayed outside its limits
    Nonconformities,
    /// What the readings said was wrong
    Faults,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct LedgerTimes {
    /// What it is told apart by
    #[arg(long, value_enum, default_value = "procedure")]
    pub by: TimesBy,
    #[command(flatten)]
    pub period: LedgerPeriod,
    #[command(flatten)]
    pub form: LedgerForm,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum TimesBy {
    Procedure,
    Person,
    Month,
    Record,
}
