//! The `firstheat` command: hands the arguments to [`firstheat::app`] and turns the outcome into an exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    firstheat::app::main()
}
