mod lamps_and_energy;
mod ledger;
mod shop;
mod trend;

pub(super) use lamps_and_energy::{Aim, Energy};
pub(super) use ledger::{
    ExportForm, Ledger, LedgerCommand, LedgerExport, LedgerForm, LedgerPareto, LedgerPeriod, LedgerPlace, LedgerTimes,
    LedgerTouched, LedgerYield, ParetoOf, TimesBy, YieldBy,
};
pub(super) use shop::{Shop, ShopBegin, ShopCheck, ShopCommand, ShopGate};
pub(super) use trend::{Trend, TrendGroup};

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::circuit::Engine;
use crate::job::Level;
use crate::report::materials::List;

/// Leads you through fitting 12/24 V equipment to a vehicle, proves it with a meter, and leaves a signed record.
#[derive(Debug, Parser)]
#[command(
    name = "rigproof",
    version,
    after_help = "Exit status: 0 done and it conforms; 1 done and something does not conform; 2 the input or the call \
                  is wrong; 130 broken off.\n\nThis program says what was measured against what. It does not replace \
                  the vehicle maker's manual, local codes or licensed practice."
)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub command: Option<Command>,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// From a lamp in one hand to a checked job file: asks, chooses, and says why
    New(New),
    /// Check the design against its rules, the gravest finding first
    Check(Check),
    /// The smallest conductor sizes and fuses that keep every rule
    Size(Size),
    /// What a meter must read, in any state of the circuit
    Expect(Expect),
    /// Do the job step by step; every entry is saved at once
    Walk(Walk),
    /// Which fault explains the readings, and what to read next
    Diagnose(Diagnose),
    /// Which faults the procedures would notice in this job, and which not
    Cover(Cover),
    /// List, show or check the procedures
    Procedures(Procedures),
    /// Print the JSON Schema of a kind of file, for an editor that completes and checks while you type
    Schema(Schema),
    /// Write the report of a record
    Report(Report),
    /// Check that a record is what was signed
    Verify(Verify),
    /// Sign a record that was signed off before: a second person, a shop, a check after 1,000 km
    Sign(Sign),
    /// Ask for a time stamp of the last seal (RFC 3161), and take the answer into the record
    Timestamp(Timestamp),
    /// What you set once: who works, with which key, on which paper
    Settings(Settings),
    /// Print the completions for a shell
    Completions(Completions),
    /// Write the pages of the manual
    Manual(Manual),
    /// Where the beam of a lamp goes, how to aim it at a wall, and how bright it is there
    Aim(Aim),
    /// How long the batteries last, what the alternator leaves at idle, what a parked vehicle draws
    Energy(Energy),
    /// What the job takes: what to buy, how long to cut, how each end is made, bolts and clamps, labels
    Materials(Materials),
    /// Print the job as sheets for the garage, to be filled in with a pencil and entered later
    Sheet(Sheet),
    /// One reading over many records: chart, run rules, drift, and how its spread fits a limit
    Trend(Trend),
    /// One standard for many hands: people and roles, instruments, limits; may this vehicle leave?
    Shop(Shop),
    /// One index over many records: open jobs, what is overdue, yield, what goes wrong, trace-back
    Ledger(Ledger),
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum EngineWord {
    Off,
    Running,
}

impl From<EngineWord> for Engine {
    fn from(word: EngineWord) -> Self {
        match word {
            EngineWord::Off => Engine::Off,
            EngineWord::Running => Engine::Running,
        }
    }
}

/// A folder of procedures that go before the built-in ones.
#[derive(Debug, Args)]
pub(super) struct OwnProcedures {
    /// Folder with your own procedure files; a file takes the place of the built-in one of the same name
    #[arg(long, value_name = "DIR")]
    pub procedures: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof new rear-lamp              asks in the terminal, writes job.toml
  rigproof new rear-lamp --add        asks for one more load of that job
  rigproof new rear-lamp --brief FILE
                                      the answers from a file, such as the
                                      brief.toml of another job
  rigproof new jobs/van-5 --kit rear-lamp
                                      asks only what differs from the kit

Enter takes the answer that is offered. Ctrl-C at any time loses nothing:
what was said is kept (in brief.toml, or in differs.toml beside a job from a
kit), and the same call goes on from there.")]
pub(super) struct New {
    /// Folder of the job; it is made where there is none
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// File with the answers, for a job without a terminal
    #[arg(long, value_name = "FILE")]
    pub brief: Option<PathBuf>,
    /// Make the job from a kit: a folder with kit.toml, or its name below kits/ of the shop
    #[arg(long, value_name = "KIT", conflicts_with = "add")]
    pub kit: Option<String>,
    /// Add one more load to the job that lies in the folder; its file keeps its remarks and its layout
    #[arg(long)]
    pub add: bool,
    /// Leave colours away
    #[arg(long)]
    pub plain: bool,
    /// Print what was chosen as JSON on standard output
    #[arg(long, requires = "brief")]
    pub json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof check job.toml          findings in words, the gravest first
  rigproof check job.toml --json   for a script; exit status 1 with an error")]
pub(super) struct Check {
    /// The job file
    pub job: PathBuf,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof size job.toml           stated beside needed, and what asks for it")]
pub(super) struct Size {
    /// The job file
    pub job: PathBuf,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof expect job.toml                                   every reading that the procedures ask for
  rigproof expect job.toml --volts pump.- battery.- --on S1  the drop on the ground side of the pump
  rigproof expect job.toml --amps w1 --on S1 --on S2         the current in wire w1
  rigproof expect job.toml --ohms K1.86 K1.85 --pull F2      what an ohmmeter shows, battery off")]
pub(super) struct Expect {
    /// The job file
    pub job: PathBuf,
    /// Voltage between two terminals: red probe, black probe
    #[arg(long, num_args = 2, value_names = ["RED", "BLACK"], group = "what", allow_hyphen_values = true)]
    pub volts: Option<Vec<String>>,
    /// Current in a wire, positive towards its load end
    #[arg(long, value_name = "WIRE", group = "what")]
    pub amps: Option<String>,
    /// What an ohmmeter shows between two terminals, battery disconnected
    #[arg(long, num_args = 2, value_names = ["RED", "BLACK"], group = "what", allow_hyphen_values = true)]
    pub ohms: Option<Vec<String>>,
    /// A switch that is on (repeat it; `all` for every switch)
    #[arg(long, value_name = "SWITCH")]
    pub on: Vec<String>,
    /// Whether the engine runs
    #[arg(long, value_enum, default_value = "off")]
    pub engine: EngineWord,
    /// A fuse that is out (repeat it; `all` for every fuse)
    #[arg(long, value_name = "FUSE")]
    pub pull: Vec<String>,
    /// A connector that is apart (repeat it; `all` for every connector)
    #[arg(long, value_name = "CONNECTOR")]
    pub unplug: Vec<String>,
    /// The battery is disconnected
    #[arg(long)]
    pub disconnect_battery: bool,
    /// Low and high from the worst corner of all tolerances, solved again, instead of by linear propagation
    #[arg(long, requires = "volts")]
    pub corners: bool,
    #[command(flatten)]
    pub own: OwnProcedures,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof walk job.toml                                     in the terminal; call it again to go on
  rigproof walk job.toml --answers answers.toml --record rec without a terminal
  rigproof walk job.toml --again ground/G1 --reason \"checked after 1,000 km\"
                                                             work that was signed off is done again, and signed again
  rigproof walk job.toml --from-sheets sheets.csv            takes what was written on the sheets of `rigproof sheet`

A reading is typed as 12.4, 12.4 V, 310 mV or OL. Ctrl-C at any time loses nothing.")]
pub(super) struct Walk {
    /// The job file
    pub job: PathBuf,
    /// Folder of the record; `record` beside the job file where not given
    #[arg(long, value_name = "DIR")]
    pub record: Option<PathBuf>,
    /// File with the answers, for a walk without a terminal
    #[arg(long, value_name = "FILE")]
    pub answers: Option<PathBuf>,
    /// Show lengths, forces and torques in inches and pounds as well; either is understood when typed with its unit
    #[arg(long)]
    pub inch: bool,
    /// Another front drives the walk: questions and answers as JSON, one a line, on standard output and input
    #[arg(long, conflicts_with = "answers")]
    pub lines: bool,
    /// Enter what was written on printed sheets: the filled sheets.csv, or without FILE in the terminal
    #[arg(long, value_name = "FILE", num_args = 0..=1, conflicts_with_all = ["answers", "lines", "again"])]
    #[allow(clippy::option_option, reason = "absent, without a file, with one")]
    pub from_sheets: Option<Option<PathBuf>>,
    /// Begin although the design check finds errors; the reason goes into the record and the report
    #[arg(long, value_name = "REASON")]
    pub despite: Option<String>,
    /// Work that was signed off goes on: steps that are done again, with all that depends on them
    #[arg(long, value_name = "STEP", requires = "reason")]
    pub again: Vec<String>,
    /// Why they are done again; the reason goes into the record and the report
    #[arg(long, value_name = "WORDS", requires = "again")]
    pub reason: Option<String>,
    /// OpenSSH key (Ed25519) to sign with: a private key, or the public half of one that the ssh-agent holds
    #[arg(long, value_name = "FILE")]
    pub key: Option<PathBuf>,
    /// Leave colours and lines away; one plain line after the other
    #[arg(long)]
    pub plain: bool,
    #[command(flatten)]
    pub own: OwnProcedures,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof diagnose job.toml                                 asks in the terminal for one reading after the other
  rigproof diagnose job.toml --readings readings.toml        begins with readings; without a terminal it names the next
  rigproof diagnose job.toml --record record                 goes on from the readings of a walk

It looks for one fault at a time. How likely each kind of fault is before any reading is an estimate without field
data; a shop names a file of its own with --weights.")]
pub(super) struct Diagnose {
    /// The job file
    pub job: PathBuf,
    /// File with the readings that were taken; a terminal asks for more
    #[arg(long, value_name = "FILE")]
    pub readings: Option<PathBuf>,
    /// Record of a walk of this job: its readings come first
    #[arg(long, value_name = "DIR")]
    pub record: Option<PathBuf>,
    /// File of how likely each kind of fault is before any reading
    #[arg(long, value_name = "FILE")]
    pub weights: Option<PathBuf>,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof cover job.toml                         what is noticed, what is not, and what to add
  rigproof cover job.toml --level full --at-least 100
                                                  exit status 1 where one fault would be missed
  rigproof cover job.toml --matrix                every fault against every step")]
pub(super) struct Cover {
    /// The job file
    pub job: PathBuf,
    /// The level of work, in the place of the job's own
    #[arg(long, value_enum)]
    pub level: Option<LevelWord>,
    /// Exit status 1 where fewer per cent of the faults are noticed for sure
    #[arg(long, value_name = "PER CENT")]
    pub at_least: Option<f64>,
    /// List every fault against every step
    #[arg(long, conflicts_with = "json")]
    pub matrix: bool,
    /// File of how likely each kind of fault is before any reading
    #[arg(long, value_name = "FILE")]
    pub weights: Option<PathBuf>,
    #[command(flatten)]
    pub own: OwnProcedures,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum LevelWord {
    Essential,
    Standard,
    Full,
}

impl From<LevelWord> for Level {
    fn from(word: LevelWord) -> Self {
        match word {
            LevelWord::Essential => Self::Essential,
            LevelWord::Standard => Self::Standard,
            LevelWord::Full => Self::Full,
        }
    }
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof procedures list
  rigproof procedures show ground --job job.toml
  rigproof procedures check own/*.toml --job job.toml")]
pub(super) struct Procedures {
    #[command(subcommand)]
    pub command: ProceduresCommand,
}

#[derive(Debug, Subcommand)]
pub(super) enum ProceduresCommand {
    /// All procedures in walking order
    List {
        #[command(flatten)]
        own: OwnProcedures,
    },
    /// One procedure as it reads for a job
    Show {
        /// Id of the procedure
        id: String,
        /// The job file
        #[arg(long, value_name = "JOB")]
        job: PathBuf,
        #[command(flatten)]
        own: OwnProcedures,
    },
    /// Check procedure files: keys, probes, templates, sentences
    Check {
        /// The files; without any, the built-in library is checked
        files: Vec<PathBuf>,
        /// A job to write them out for
        #[arg(long, value_name = "JOB")]
        job: Option<PathBuf>,
    },
}

/// A kind of file that people write.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum FileKind {
    /// A job
    Job,
    /// A procedure
    Procedure,
    /// The file of hazards
    Hazards,
    /// The answers of a walk
    Answers,
    /// The readings of a search for a fault
    Readings,
    /// How likely each kind of fault is before any reading
    Weights,
    /// What was said of a load that is to be fitted
    Brief,
    /// What a person sets once
    Settings,
    /// A shop: people, roles, instruments, limits
    Shop,
    /// What differs in a job that is done again and again
    Kit,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof schema job > job.schema.json
  and in the first line of the job file: #:schema job.schema.json")]
pub(super) struct Schema {
    /// The kind of file
    #[arg(value_enum)]
    pub kind: FileKind,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof report record --out report             report.html, report.pdf, glove-box.pdf, report.json, readings.csv
  rigproof report record --out sale --mask-identity
                                                  without what tells which vehicle it is and whose
  rigproof report record --out own --templates shop
                                                  with the templates of the folder `shop`

A template is given what report.json holds, and the drawings; those of this program are report.html and style.html.")]
pub(super) struct Report {
    /// Folder of the record
    pub record: PathBuf,
    /// Folder to write the files to
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Leave out the vehicle's identity, the order, who came for the owner, and the pictures
    #[arg(long)]
    pub mask_identity: bool,
    /// The paper of the print; A4 where neither this nor the settings say it
    #[arg(long, value_enum)]
    pub paper: Option<Paper>,
    /// Folder of templates in the place of those of this program
    #[arg(long, value_name = "DIR")]
    pub templates: Option<PathBuf>,
}

/// A kind of paper.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Paper {
    #[default]
    A4,
    Letter,
}

impl From<Paper> for crate::report::Sheet {
    fn from(paper: Paper) -> Self {
        match paper {
            Paper::A4 => Self::A4,
            Paper::Letter => Self::Letter,
        }
    }
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof sheet job.toml --out sheets              sheets.pdf for the garage, sheets.csv to enter the values later
  rigproof sheet job.toml --out sheets --record rec what the record has already is struck out
  rigproof walk job.toml --from-sheets sheets/sheets.csv
                                                    takes the values from the filled table
  rigproof walk job.toml --from-sheets              asks for them, in the order of the sheets

On paper nobody compares a reading with its range but whoever takes it; the program does
so when the values are entered.")]
pub(super) struct Sheet {
    /// The job file
    pub job: PathBuf,
    /// Folder to write sheets.pdf and sheets.csv to
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// The paper: else that of your settings, else a4
    #[arg(long, value_enum)]
    pub paper: Option<Paper>,
    /// Record of a walk that was begun: its job and procedures; what it has already is struck out
    #[arg(long, value_name = "DIR", conflicts_with = "procedures")]
    pub record: Option<PathBuf>,
    /// Print although the design check finds errors; the reason stands on the cover
    #[arg(long, value_name = "REASON")]
    pub despite: Option<String>,
    #[command(flatten)]
    pub own: OwnProcedures,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof verify record                          is it what was signed, and by which key
  rigproof verify record --signers keys           exit status 1 where a key is not in your list

Without --signers, your own key counts as known, and the keys in `known_signers` in the program's settings folder. A
list holds lines of `name key`, as ssh-keygen calls allowed signers.")]
pub(super) struct Verify {
    /// Folder of the record
    pub record: PathBuf,
    /// Allowed-signers file with keys that you know from elsewhere; a key that is not in it is a problem
    #[arg(long, value_name = "FILE")]
    pub signers: Option<PathBuf>,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof sign record --name \"Ash Thorn\" --role \"second person\" --statement \"looked at every joint\"
  rigproof sign record --name \"Ash Thorn\" --role owner --statement \"grounds re-torqued at 1,000 km\" --key id.pub

The new seal covers the record with every earlier seal, and none of them changes. Where steps are to be done again,
with their readings, use `rigproof walk --again`.")]
pub(super) struct Sign {
    /// Folder of the record
    pub record: PathBuf,
    /// Who signs
    #[arg(long)]
    pub name: String,
    /// In which role
    #[arg(long)]
    pub role: String,
    /// What is stated: what was looked at, or done
    #[arg(long, value_name = "WORDS")]
    pub statement: String,
    /// OpenSSH key (Ed25519) to sign with: a private key, or the public half of one that the ssh-agent holds
    #[arg(long, value_name = "FILE")]
    pub key: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof timestamp record --request stamp.tsq   send this file to a time-stamping authority
  rigproof timestamp record --response stamp.tsr  take what it answered into the record

No network is used. The signature of the authority is checked with its certificate, got by another road:
  openssl ts -verify -data record/seal/SHA256SUMS.sig -in record/seal/timestamp.tsr -CAfile AUTHORITY.pem")]
pub(super) struct Timestamp {
    /// Folder of the record
    pub record: PathBuf,
    /// Write the request to this file
    #[arg(long, value_name = "FILE", conflicts_with = "response", required_unless_present = "response")]
    pub request: Option<PathBuf>,
    /// Take the authority's answer from this file
    #[arg(long, value_name = "FILE")]
    pub response: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof settings           where the file lies, and what it says
  rigproof settings --write   begins one, with every setting as a remark

What a call says goes before what is set.")]
pub(super) struct Settings {
    /// Begin a file; one that is there is not touched
    #[arg(long)]
    pub write: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof completions bash > ~/.local/share/bash-completion/completions/rigproof
  rigproof completions zsh > ~/.zfunc/_rigproof")]
pub(super) struct Completions {
    /// The shell
    pub shell: clap_complete::Shell,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof manual --out man
  man -l man/rigproof-walk.1")]
pub(super) struct Manual {
    /// Folder to write the pages to
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
}

/// A list of what a job takes.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum ListWord {
    Shopping,
    Cuts,
    Ends,
    Hardware,
    Labels,
}

impl From<ListWord> for List {
    fn from(word: ListWord) -> Self {
        match word {
            ListWord::Shopping => Self::Shopping,
            ListWord::Cuts => Self::Cuts,
            ListWord::Ends => Self::Ends,
            ListWord::Hardware => Self::Hardware,
            ListWord::Labels => Self::Labels,
        }
    }
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof materials job.toml                     all lists
  rigproof materials job.toml --list cuts         what to cut, reel by reel
  rigproof materials job.toml --list labels --csv a table for the label printer
  rigproof materials job.toml --out lists         materials.html, materials.pdf,
                                                  materials.json, and each list
                                                  as a table

Measure the real way of each wire before it is cut: until then the length of the
job file is used.")]
pub(super) struct Materials {
    /// The job file
    pub job: PathBuf,
    /// Print only this list
    #[arg(long, value_enum)]
    pub list: Option<ListWord>,
    /// Print everything as JSON on standard output, in SI units
    #[arg(long, conflicts_with_all = ["csv", "list"])]
    pub json: bool,
    /// Print one list as CSV on standard output, in SI units
    #[arg(long, requires = "list")]
    pub csv: bool,
    /// Write page, print and tables to this folder
    #[arg(long, value_name = "DIR", conflicts_with_all = ["json", "csv", "list"])]
    pub out: Option<PathBuf>,
    /// The paper of page and print; A4 where neither this nor the settings say it
    #[arg(long, value_enum)]
    pub paper: Option<Paper>,
}
