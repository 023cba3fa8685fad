//! Arguments in, exit status out.

use std::process::ExitCode;

fn main() -> ExitCode {
    match rigproof::cli::run(std::env::args_os()) {
        Ok(outcome) => outcome.exit_code(),
        Err(failure) => failure.print(),
    }
}
