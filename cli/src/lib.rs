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
mod lesson;
mod memory;
mod output;
mod progress;
mod report;
mod result;
mod study;
mod summary;
mod table;
pub mod validate;
pub mod verify;

use std::ffi::OsString;
use std::io::{ErrorKind, Write};
use std::sync::atomic::AtomicBool;

use clap::Parser;

use args::{Cli, Command};
pub use exit::Exit;
use exit::Failure;

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
}

/// Runs a command line (the program's name first) with plain streams.
pub fn run<I>(args: I, out: &mut (dyn Write + Send), err: &mut (dyn Write + Send)) -> Exit
where
    I: IntoIterator<Item = OsString>,
{
    run_on(args, &mut Console { out, err, err_is_terminal: false, stop: &AtomicBool::new(false) })
}

/// Runs a command line (the program's name first) on a console.
pub fn run_on<I>(args: I, console: &mut Console<'_>) -> Exit
where
    I: IntoIterator<Item = OsString>,
{
    let outcome = match Cli::try_parse_from(args) {
        Ok(cli) => dispatch(&cli.command, console),
        Err(error) => return answer(&error, console),
    };
    match outcome {
        Ok(()) => Exit::Ok,
        Err(failure) => {
            report(&failure, console);
            failure.exit()
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

/// Help and version are answers; everything else of the parser is a wrong command line.
fn answer(error: &clap::Error, console: &mut Console<'_>) -> Exit {
    let styled = error.render();
    let text = if console.err_is_terminal && error.use_stderr() {
        styled.ansi().to_string()
    } else {
        // Words of the command line come back as they were typed; what would move a cursor does not.
        styled.to_string().replace(|c: char| c.is_control() && c != '\n', " ")
    };
    if error.use_stderr() {
        // Nothing more can be done if the stream for complaints is gone.
        let _ = console.err.write_all(text.as_bytes());
        return Exit::BadInput;
    }
    match write_out(console, &text) {
        Ok(()) => Exit::Ok,
        Err(failure) => failure.exit(),
    }
}

fn report(failure: &Failure, console: &mut Console<'_>) {
    let text = match failure {
        Failure::BrokenPipe => return,
        Failure::Input(complaint) => complaint.render(console.err_is_terminal),
        Failure::Interrupted => "interrupted".to_owned(),
        other => format!("error: {other}"),
    };
    let _ = writeln!(console.err, "{text}");
}

/// Writes a result to standard output.
fn write_out(console: &mut Console<'_>, text: &str) -> Result<(), Failure> {
    let written = console.out.write_all(text.as_bytes()).and_then(|()| console.out.flush());
    written.map_err(|error| match error.kind() {
        ErrorKind::BrokenPipe => Failure::BrokenPipe,
        _ => Failure::io("write to", std::path::Path::new("standard output"), error),
    })
}
