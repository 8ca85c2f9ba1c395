//! The `gomphosis` command: hands the process' arguments and streams to the library.

use std::io::IsTerminal;
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, AtomicI32};

use gomphosis_cli::{Console, run_on, signals};

static STOP: AtomicBool = AtomicBool::new(false);
static SIGNAL: AtomicI32 = AtomicI32::new(0);

fn main() -> ExitCode {
    // Without a listener a signal ends the process at once, which is right too.
    let _ = signals::listen(&STOP, &SIGNAL);
    let (mut out, mut err) = (std::io::stdout(), std::io::stderr());
    let err_is_terminal = err.is_terminal();
    let mut console = Console { out: &mut out, err: &mut err, err_is_terminal, stop: &STOP, signal: &SIGNAL };
    run_on(std::env::args_os(), &mut console).into()
}
