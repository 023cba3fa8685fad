//! `rigproof shop`: makes the folder of a shop, looks through it, and says whether a vehicle may leave.

mod begin;
mod check;
mod gate;

use super::arguments::{Shop as Arguments, ShopCommand};
use super::failure::{Failure, Outcome};

/// Columns of what is printed.
const WIDTH: usize = 80;

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    match &arguments.command {
        ShopCommand::Begin(begin) => begin::run(begin),
        ShopCommand::Check(check) => check::run(check),
        ShopCommand::Gate(gate) => gate::run(gate),
    }
}
