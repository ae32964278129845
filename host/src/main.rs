//! Parses, calls, and turns the outcome into an exit code.

use host::cli;
use mimalloc::MiMalloc;
use std::process::ExitCode;

/// Keeps the room of large lists for the next one, which the system's own allocator gives back and has cleared again.
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    cli::main()
}
