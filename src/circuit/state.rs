use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::job::Job;
use crate::quantity::Resistance;

/// Whether the engine turns the alternator.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Engine {
    /// The battery alone feeds the circuit.
    #[default]
    Off,
    /// The alternator holds the battery posts at its voltage.
    Running,
}

/// The state in which a reading is taken. The relays follow by themselves.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct State {
    /// Switches that are on.
    pub on: BTreeSet<String>,
    /// Whether the engine runs.
    pub engine: Engine,
    /// Fuses (and breakers) that are out.
    pub pulled: BTreeSet<String>,
    /// Connectors that are apart.
    pub unplugged: BTreeSet<String>,
    /// Whether the battery is disconnected.
    pub battery_off: bool,
    /// An ammeter that sits in line in a wire, and the resistance that it puts there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_line: Option<(String, Resistance)>,
}

impl State {
    /// Battery connected, everything plugged, all switches off.
    pub fn rest() -> Self {
        Self::default()
    }

    /// Every switch of the job on.
    pub fn all_on(job: &Job) -> Self {
        Self { on: job.switches.iter().map(|s| s.name.clone()).collect(), ..Self::default() }
    }

    /// One switch on, the rest off.
    pub fn only(switch: &str) -> Self {
        Self { on: BTreeSet::from([switch.to_owned()]), ..Self::rest() }
    }

    /// What a person has to set, in words.
    pub fn describe(&self, job: &Job) -> String {
        let mut parts = Vec::new();
        let list = |names: &BTreeSet<String>| names.iter().cloned().collect::<Vec<_>>().join(", ");
        if self.battery_off {
            parts.push("battery disconnected".to_owned());
        }
        if !job.switches.is_empty() {
            parts.push(if self.on.is_empty() {
                "all switches off".to_owned()
            } else if job.switches.len() == self.on.len() && self.on.len() > 1 {
                format!("all switches on ({})", list(&self.on))
            } else {
                format!("only {} on", list(&self.on))
            });
        }
        if !self.pulled.is_empty() {
            parts.push(format!("{} out", list(&self.pulled)));
        }
        if !self.unplugged.is_empty() {
            parts.push(format!("{} unplugged", list(&self.unplugged)));
        }
        if !self.battery_off {
            parts.push(match self.engine {
                Engine::Off => "engine off".to_owned(),
                Engine::Running => "engine running".to_owned(),
            });
        }
        parts.join(", ")
    }
}
