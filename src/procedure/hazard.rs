use serde::{Deserialize, Serialize};

/// How bad it can get, by ANSI Z535.4; the words are ordered by gravity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum Signal {
    /// Damage, no injury.
    Notice,
    /// Could cause minor or moderate injury.
    Caution,
    /// Could cause death or serious injury.
    Warning,
    /// Will cause death or serious injury if not avoided.
    Danger,
}

impl Signal {
    pub(super) const WORDS: &'static [(&'static str, Signal)] =
        &[("DANGER", Self::Danger), ("WARNING", Self::Warning), ("CAUTION", Self::Caution), ("NOTICE", Self::Notice)];

    /// The signal word.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, s)| *s == self).map_or("", |(word, _)| word)
    }
}

/// Something that can hurt or damage, and how to keep clear of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hazard {
    /// Its name.
    pub id: String,
    /// How bad it can get.
    pub signal: Signal,
    /// What it is.
    pub hazard: String,
    /// What it does.
    pub consequence: String,
    /// How to keep clear of it.
    pub avoid: String,
    /// Where this is from, and how far it can be trusted.
    pub source: String,
}
