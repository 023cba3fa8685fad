//! The walk: a state machine that events drive. It has no terminal, no clock, no file and no random source; those
//! are handed in by what stands above. Replaying the events of a journal gives the same state.

mod answering;
mod closure;
mod event;
mod house;
mod likely;
mod prompt;
mod rework;
mod state;
mod suspicion;

pub use event::{Disposition, Event, FromPaper, FrozenFile, Moment, Refused, ReleaseSignature, release_text};
pub use house::{AtWork, breaches, permits};
pub use prompt::{Answer, Prompt};
pub use state::{Attempt, Before, Nonconformity, Photo, Standing, Walk, Witness};
