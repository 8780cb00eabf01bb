//! The `quarterturn` binary: hands arguments and streams to the library.

use std::io::{self, BufWriter, Write};
use std::process::ExitCode;

fn main() -> ExitCode {
    let args: Vec<_> = std::env::args_os().collect();
    let mut out = BufWriter::new(io::stdout().lock());
    let mut err = io::stderr();
    let code = sim_cli::run(&args, &mut out, &mut err);
    let _ = out.flush();
    ExitCode::from(code)
}
