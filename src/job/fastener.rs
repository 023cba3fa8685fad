//! The bolt or stud of a ground or a mount: what the job states of it, and what the handbook makes of that.

use crate::handbook::Cited;
use crate::handbook::hardware::{
    BlindLength, Friction, PropertyClass, Thread, blind_bolt_length, standard_length_from, stated_length,
    through_bolt_length, torque,
};
use crate::quantity::{Length, Toleranced, Torque};

/// How exactly a torque from the handbook is set on a wrench (common practice).
const SETTING: f64 = 0.10;

/// A bolt or stud.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fastener {
    /// As it is written: `M6`, `M8x25`.
    pub bolt: Option<String>,
    /// Strength.
    pub class: Option<PropertyClass>,
    /// What lies between the threads while they are tightened.
    pub friction: Option<Friction>,
    /// Everything that lies between head and nut, or between head and the threaded hole.
    pub stack: Option<Length>,
    /// Full thread of a blind hole; `None` for a bolt with a nut.
    pub thread_depth: Option<Length>,
    /// Tightening torque, where the job states one.
    pub torque: Option<Toleranced<Torque>>,
}

/// The length that a bolt must have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BoltLength {
    /// Through the stack and a nut: at least this.
    Through(Length),
    /// Into a blind hole: between these.
    Blind(BlindLength),
}

impl Fastener {
    /// The thread that is written.
    pub fn thread(&self) -> Option<Thread> {
        Thread::parse(self.bolt.as_deref()?)
    }

    /// The length that is written behind the thread.
    pub fn stated_length(&self) -> Option<Length> {
        stated_length(self.bolt.as_deref()?)
    }

    /// The length that the stack needs.
    pub fn needed_length(&self) -> Option<Cited<BoltLength>> {
        let (thread, stack) = (self.thread()?, self.stack?);
        Some(match self.thread_depth {
            Some(depth) => blind_bolt_length(thread, stack, depth).map(BoltLength::Blind),
            None => through_bolt_length(thread, stack).map(BoltLength::Through),
        })
    }

    /// The length that the stack needs, in words: `20 mm (at least 19.7 mm)`, `14.0 to 19.5 mm`.
    pub fn needed_length_in_words(&self) -> Option<String> {
        match self.needed_length()?.value {
            BoltLength::Through(least) => {
                let standard = standard_length_from(self.thread()?, least);
                Some(match standard {
                    Some(standard) => format!("{} (at least {least})", standard.value.as_rating()),
                    None => format!("at least {least}"),
                })
            }
            BoltLength::Blind(fitting) if fitting.at_most < fitting.at_least => {
                Some("none fits: the hole is too shallow for this thread".to_owned())
            }
            BoltLength::Blind(fitting) => Some(format!("{} to {}", fitting.at_least, fitting.at_most)),
        }
    }

    /// The lengths that fit, from the least to the greatest: of a bolt with a nut up to the next standard length.
    /// `None` where none fits.
    pub fn fitting_lengths(&self) -> Option<(Length, Length)> {
        let (least, most) = match self.needed_length()?.value {
            BoltLength::Through(least) => {
                (least, standard_length_from(self.thread()?, least).map_or(least, |standard| standard.value))
            }
            BoltLength::Blind(fitting) => (fitting.at_least, fitting.at_most),
        };
        (least <= most).then_some((least, most))
    }

    /// The torque of the handbook for this thread, class and friction.
    pub fn table_torque(&self) -> Option<Cited<Torque>> {
        torque(self.thread()?, self.class?, self.friction?)
    }

    /// The torque to tighten to, and where it is from: the job's own, else the handbook's within a tenth.
    pub fn torque(&self) -> Option<(Toleranced<Torque>, String)> {
        if let Some(stated) = self.torque {
            return Some((stated, "the job".to_owned()));
        }
        let table = self.table_torque()?;
        let set = Toleranced::plus_minus(table.value, table.value * SETTING);
        Some((set, table.citation()))
    }
}
