//! Parses, calls, and turns the outcome into an exit code.

use host::cli;
use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main()
}
