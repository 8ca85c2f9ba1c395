//! The `gomphosis` command: hands the process' arguments and streams to the library.

use std::io::IsTerminal;
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};

use gomphosis_cli::{Console, run_on};

static STOP: AtomicBool = AtomicBool::new(false);

fn main() -> ExitCode {
    // Without a handler the key ends the process at once, which is right too.
    let _ = ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::Relaxed) {
            #[allow(
                clippy::exit,
                reason = "pressed again: the user does not want to wait for a step to end"
            )]
            std::process::exit(130);
        }
    });
    let (mut out, mut err) = (std::io::stdout(), std::io::stderr());
    let err_is_terminal = err.is_terminal();
    let mut console = Console { out: &mut out, err: &mut err, err_is_terminal, stop: &STOP };
    run_on(std::env::args_os(), &mut console).into()
}
