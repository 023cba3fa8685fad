use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::EngineWord;
use crate::handbook::lamp::LampKind;

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof aim --height \"0.9 m\" --tilt \"1 %\"   from the tilt
  rigproof aim --height \"0.9 m\" --drop \"10 cm\" --distance \"10 m\"
                                               from a mark on the wall
  rigproof aim --height \"2 m\" --meets \"7.5 m\" --lamp work
                                               from where it meets the ground
  rigproof aim job.toml      every lamp of a job, by its keys height, tilt and
                             intensity

The law on lamps is local. What is shown of it are examples, and no verdict.")]
pub(in crate::cli) struct Aim {
    /// The job file; without it, one lamp by the options below
    #[arg(conflicts_with_all = ["height", "tilt", "drop", "meets", "intensity", "lamp"])]
    pub job: Option<PathBuf>,
    /// From the ground to the middle of the lens: "0.9 m", "35 in"
    #[arg(long, value_name = "LENGTH", requires = "beam", allow_hyphen_values = true)]
    pub height: Option<String>,
    /// How far the beam falls: "1 %", "0.57 °"; minus where it rises
    #[arg(long, value_name = "TILT", group = "beam", allow_hyphen_values = true)]
    pub tilt: Option<String>,
    /// How far the beam lies below the lens on the wall at --distance; minus where it lies above
    #[arg(long, value_name = "LENGTH", group = "beam", requires = "distance", allow_hyphen_values = true)]
    pub drop: Option<String>,
    /// Where the middle of the beam meets the ground, from the lamp on
    #[arg(long, value_name = "LENGTH", group = "beam", allow_hyphen_values = true)]
    pub meets: Option<String>,
    /// From the lens to the wall [default: 7.62 m (25 ft)]
    #[arg(long, value_name = "LENGTH")]
    pub distance: Option<String>,
    /// Luminous intensity in the middle of the beam, by the lamp's data sheet: "40000 cd"
    #[arg(long, value_name = "INTENSITY")]
    pub intensity: Option<String>,
    /// What the lamp is for: some rules and usual tilts speak of that
    #[arg(long, value_enum)]
    pub lamp: Option<LampWord>,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}

/// What a lamp is for.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(in crate::cli) enum LampWord {
    Headlamp,
    Driving,
    Fog,
    Work,
    Reversing,
    Spot,
    OffRoad,
}

impl From<LampWord> for LampKind {
    fn from(word: LampWord) -> Self {
        match word {
            LampWord::Headlamp => Self::Headlamp,
            LampWord::Driving => Self::Driving,
            LampWord::Fog => Self::Fog,
            LampWord::Work => Self::Work,
            LampWord::Reversing => Self::Reversing,
            LampWord::Spot => Self::Spot,
            LampWord::OffRoad => Self::OffRoad,
        }
    }
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  rigproof energy job.toml                       all on, down to half full
  rigproof energy job.toml --on S2 --to \"12.06 V\" --engine off
                                                 how long one switch lasts
  rigproof energy job.toml --vehicle \"30 A\" --key-off \"20 mA\" --days 60
                                                 with the vehicle's own draw

Exit status: 1 where the alternator falls short at idle, or where the parked
vehicle draws more than the common limit; 0 otherwise.")]
pub(in crate::cli) struct Energy {
    /// The job file
    pub job: PathBuf,
    /// A switch that is on (repeat it; every switch where none is named)
    #[arg(long, value_name = "SWITCH")]
    pub on: Vec<String>,
    /// Only the run time (off), or only the alternator at idle (running)
    #[arg(long, value_enum)]
    pub engine: Option<EngineWord>,
    /// Charge at the beginning, or rest voltage, in the place of the job's: "80 %", "12.5 V"
    #[arg(long, value_name = "CHARGE")]
    pub from: Option<String>,
    /// Charge to keep, or rest voltage: "50 %", "12.24 V" [default: 50 %]
    #[arg(long, value_name = "CHARGE")]
    pub to: Option<String>,
    /// What the vehicle itself draws with the engine at idle: "30 A"
    #[arg(long, value_name = "CURRENT", allow_hyphen_values = true)]
    pub vehicle: Option<String>,
    /// What the vehicle itself draws asleep, key off, without this job: "20 mA"
    #[arg(long, value_name = "CURRENT", allow_hyphen_values = true)]
    pub key_off: Option<String>,
    /// Days that it is parked
    #[arg(long, default_value_t = 30, value_parser = clap::value_parser!(u16).range(1..=3650))]
    pub days: u16,
    /// Print JSON on standard output
    #[arg(long)]
    pub json: bool,
}
