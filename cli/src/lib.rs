//! The `gomphosis` command as a library: [`run`] takes the words of a command line and two streams and
//! returns an exit code. It computes nothing itself: cases become meshes in `gomphosis_mesh_gen` and motions
//! in `gomphosis_solver`; here are the case file, messages, tables, files and figures.

mod accuracy;
mod args;
mod case;
mod commands;
mod compensate;
mod exit;
mod figure;
mod hints;
mod lesson;
mod memory;
mod output;
mod progress;
mod report;
mod result;
pub mod signals;
mod study;
mod summary;
mod table;
mod terminal;
pub mod validate;
pub mod verify;

use std::ffi::OsString;
use std::io::{ErrorKind, Write};
use std::sync::atomic::{AtomicBool, AtomicI32};

use clap::Parser;

use args::{Cli, Command};
pub use exit::Exit;
use exit::Failure;
use terminal::Door;

/// The streams of a run and what is known about them.
pub struct Console<'a> {
    /// Results.
    pub out: &'a mut (dyn Write + Send),
    /// Progress and messages.
    pub err: &'a mut (dyn Write + Send),
    /// Is `err` the terminal of this process?
    pub err_is_terminal: bool,
    /// Set from outside to end the run with [`Exit::Interrupted`].
    pub stop: &'a AtomicBool,
    /// Number of the signal that was received; it decides how the end is told. 0 without any.
    pub signal: &'a AtomicI32,
}

/// Runs a command line (the program's name first) with plain streams.
pub fn run<I>(args: I, out: &mut (dyn Write + Send), err: &mut (dyn Write + Send)) -> Exit
where
    I: IntoIterator<Item = OsString>,
{
    let (stop, signal) = (AtomicBool::new(false), AtomicI32::new(0));
    run_on(args, &mut Console { out, err, err_is_terminal: false, stop: &stop, signal: &signal })
}

/// Runs a command line (the program's name first) on a console.
pub fn run_on<I>(args: I, console: &mut Console<'_>) -> Exit
where
    I: IntoIterator<Item = OsString>,
{
    let Console { out, err, err_is_terminal, stop, signal } = console;
    let (mut out, mut err) = (Door::new(&mut **out), Door::new(&mut **err));
    let (err_is_terminal, stop, signal) = (*err_is_terminal, *stop, *signal);
    let words: Vec<OsString> = args.into_iter().collect();
    let parsed = Cli::try_parse_from(&words).map_err(|error| hints::improved(error, &words));
    let outcome = match &parsed {
        Ok(cli) => {
            let console = &mut Console { out: &mut out, err: &mut err, err_is_terminal, stop, signal };
            dispatch(&cli.command, console)
        }
        Err(error) if error.use_stderr() => {
            let styled = error.render();
            // Nothing more can be done if the stream for complaints is gone.
            let _ = if err_is_terminal {
                err.styled(&styled.ansi().to_string(), &styled.to_string())
            } else {
                err.write_all(styled.to_string().as_bytes())
            };
            return Exit::BadInput;
        }
        // Help and version are answers.
        Err(answer) => {
            let console = &mut Console { out: &mut out, err: &mut err, err_is_terminal, stop, signal };
            write_out(console, &answer.render().to_string())
        }
    };
    match outcome {
        Ok(()) => Exit::Ok,
        Err(failure) => {
            let exit = failure.exit().by(signals::decisive(signal));
            report(&failure, exit, &mut err, err_is_terminal);
            exit
        }
    }
}

fn dispatch(command: &Command, console: &mut Console<'_>) -> Result<(), Failure> {
    match command {
        Command::Map(args) => commands::map::run(args, console),
        Command::Report(args) => commands::report::run(args, console),
        Command::Solve(args) => commands::solve::run(args, console),
        Command::Figure(args) => commands::figure::run(args, console),
        Command::Lesson(args) => commands::lesson::run(args, console),
        Command::Mesh(args) => commands::mesh::run(args, console),
        Command::Sweep(args) => commands::sweep::run(args, console),
        Command::Gather(args) => commands::gather::run(args, console),
        Command::Compensate(args) => commands::compensate::run(args, console),
        Command::Case(args) => commands::case::run(args, console),
        Command::Teeth(args) => commands::teeth::run(args, console),
        Command::Verify(args) => commands::verify::run(args, console),
        Command::Validate(args) => commands::validate::run(args, console),
    }
}

fn report(failure: &Failure, exit: Exit, err: &mut Door<'_>, styled: bool) {
    let text = match failure {
        Failure::BrokenPipe => return,
        Failure::Input(complaint) if styled => {
            let [styled, plain] = [true, false].map(|styled| format!("{}\n", complaint.render(styled)));
            let _ = err.styled(&styled, &plain);
            return;
        }
        Failure::Input(complaint) => complaint.render(false),
        Failure::Interrupted => exit.word().to_owned(),
        other => format!("error: {other}"),
    };
    let _ = writeln!(err, "{text}");
}

/// Writes a result to standard output.
fn write_out(console: &mut Console<'_>, text: &str) -> Result<(), Failure> {
    let written = console.out.write_all(text.as_bytes()).and_then(|()| console.out.flush());
    written.map_err(|error| match error.kind() {
        ErrorKind::BrokenPipe => Failure::BrokenPipe,
        _ => Failure::io("write to", std::path::Path::new("standard output"), error),
    })
}
