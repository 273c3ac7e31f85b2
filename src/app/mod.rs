//! One file per command: each wires the edges to the core and decides nothing itself.

use std::process::ExitCode;

/// Runs the command that the program's arguments ask for. The code is 0 done, 1 the answer is no, 2 could not.
#[must_use]
pub fn main() -> ExitCode {
    ExitCode::from(2)
}
