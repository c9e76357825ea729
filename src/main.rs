//! The command line: `purfle serve`, `purfle demo` and the small jobs beside them.

mod command;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    // Exit codes: 0 done, 1 it ran and something is amiss, 2 the call's words are off (clap's own, and ours).
    match command::run(command::Purfle::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(problem) => {
            eprintln!("purfle: {problem:#}");
            if problem.is::<command::Off>() {
                ExitCode::from(2)
            } else {
                ExitCode::FAILURE
            }
        }
    }
}
