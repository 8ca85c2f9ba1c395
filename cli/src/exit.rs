//! How the program ends: one table of exit codes, and the reasons that lead to each.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use crate::case::Complaint;

/// Exit status of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Exit {
    /// The work was done.
    Ok = 0,
    /// The work was done, but a check of the result failed.
    CheckFailed = 1,
    /// The command line or the case is wrong.
    BadInput = 2,
    /// The mesher or the solver found no result.
    NoResult = 3,
    /// A file could not be read or written.
    Io = 4,
    /// Stopped because the terminal or the connection went away (SIGHUP).
    HungUp = 129,
    /// Stopped from the keyboard (SIGINT).
    Interrupted = 130,
    /// Asked to end by another program (SIGTERM).
    Terminated = 143,
    /// Stopped by a limit on the size of files (SIGXFSZ).
    FileLimit = 153,
}

impl Exit {
    /// Every exit code with its meaning, in order; the help text is made from it.
    pub const TABLE: [(Self, &'static str); 9] = [
        (Self::Ok, "the work was done"),
        (Self::CheckFailed, "the work was done, but a check of the result failed"),
        (Self::BadInput, "the command line or the case is wrong; nothing was written"),
        (Self::NoResult, "the mesher or the solver found no result"),
        (Self::Io, "a file could not be read or written"),
        (Self::HungUp, "stopped by a hangup (SIGHUP); nothing half-written is left behind"),
        (Self::Interrupted, "stopped from the keyboard (SIGINT); nothing half-written is left behind"),
        (Self::Terminated, "stopped by another program (SIGTERM); nothing half-written is left behind"),
        (
            Self::FileLimit,
            "stopped by a limit on the size of files (SIGXFSZ); nothing half-written is left behind",
        ),
    ];

    /// The number the operating system sees: 128 and the signal's number where a signal ended the run.
    #[must_use]
    pub const fn code(self) -> u8 {
        self as u8
    }

    /// The same ending, told apart by the number of the signal that asked for it (0: none did).
    #[must_use]
    pub(crate) const fn by(self, signal: i32) -> Self {
        match (self, signal) {
            (Self::Interrupted, 1) => Self::HungUp,
            (Self::Interrupted, 15) => Self::Terminated,
            (Self::Io, 25) => Self::FileLimit,
            _ => self,
        }
    }

    /// What ended a run that was stopped, in a word.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::HungUp => "stopped: the terminal or the connection went away",
            Self::Terminated => "stopped: another program asked for it",
            _ => "interrupted",
        }
    }
}

impl From<Exit> for std::process::ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}

/// Why a command did not end with [`Exit::Ok`].
#[derive(Debug)]
pub(crate) enum Failure {
    /// The case or the command line is wrong.
    Input(Box<Complaint>),
    /// The mesher or the solver found no result.
    NoResult(String),
    /// The result is there, but checks failed; one sentence each.
    Checks(Vec<String>),
    /// A file could not be read or written.
    Io {
        /// What was tried, for example `write`.
        verb: &'static str,
        /// The file.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },
    /// The reader of standard output went away.
    BrokenPipe,
    /// Stopped by a signal.
    Interrupted,
}

impl Failure {
    /// A file error.
    pub(crate) fn io(verb: &'static str, path: &Path, source: io::Error) -> Self {
        Self::Io { verb, path: path.to_path_buf(), source }
    }

    /// The exit code that goes with it. A reader that went away is no failure of ours.
    pub(crate) const fn exit(&self) -> Exit {
        match self {
            Self::Input(_) => Exit::BadInput,
            Self::NoResult(_) => Exit::NoResult,
            Self::Checks(_) => Exit::CheckFailed,
            Self::Io { .. } => Exit::Io,
            Self::BrokenPipe => Exit::Ok,
            Self::Interrupted => Exit::Interrupted,
        }
    }
}

impl From<Complaint> for Failure {
    fn from(complaint: Complaint) -> Self {
        Self::Input(Box::new(complaint))
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Input(complaint) => write!(f, "{complaint}"),
            Self::NoResult(reason) => write!(f, "{reason}"),
            Self::Checks(sentences) => write!(f, "{}", sentences.join("\n")),
            Self::Io { verb, path, source } => {
                write!(f, "cannot {verb} {}: {}", path.display(), reason(source))
            }
            Self::BrokenPipe => write!(f, "the reader went away"),
            Self::Interrupted => write!(f, "interrupted"),
        }
    }
}

/// The system's reason in plain words, without the names of files that only this program knows.
fn reason(error: &io::Error) -> String {
    use io::ErrorKind as Kind;
    let words = match error.kind() {
        Kind::NotFound => "there is no such file or directory",
        Kind::PermissionDenied => "the system does not allow it",
        Kind::AlreadyExists => "something of that name is there already",
        Kind::IsADirectory => "it is a directory",
        Kind::NotADirectory => "a part of its path is a file, not a directory",
        Kind::ReadOnlyFilesystem => "the file system is read-only",
        Kind::StorageFull => "the disk is full",
        Kind::FileTooLarge => {
            "it would be larger than the system lets a file be (`ulimit -f` says how large)"
        }
        Kind::InvalidFilename | Kind::InvalidInput => "no file can have that name",
        _ => return error.to_string(),
    };
    words.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_of_failure_has_its_exit_code() {
        let io = || io::Error::other("full");
        let cases = [
            (Failure::from(Complaint::plain("wrong")), Exit::BadInput),
            (Failure::NoResult("none".to_owned()), Exit::NoResult),
            (Failure::Checks(vec!["one".to_owned(), "two".to_owned()]), Exit::CheckFailed),
            (Failure::io("write", Path::new("a"), io()), Exit::Io),
            (Failure::Interrupted, Exit::Interrupted),
            (Failure::BrokenPipe, Exit::Ok),
        ];
        for (failure, exit) in cases {
            assert_eq!(failure.exit(), exit, "{failure}");
        }
        let codes = Exit::TABLE.map(|(exit, _)| exit.code());
        assert_eq!(codes, [0, 1, 2, 3, 4, 129, 130, 143, 153]);
    }

    #[test]
    fn the_signal_decides_between_the_ways_of_being_stopped() {
        for (signal, exit) in
            [(0, Exit::Interrupted), (1, Exit::HungUp), (2, Exit::Interrupted), (15, Exit::Terminated)]
        {
            assert_eq!(Exit::Interrupted.by(signal), exit);
            assert_eq!(Exit::NoResult.by(signal), Exit::NoResult);
            assert!(signal == 0 || i32::from(exit.code()) == 128 + signal);
        }
        assert_eq!(Exit::Io.by(25), Exit::FileLimit);
        assert_eq!(Exit::Io.by(15), Exit::Io);
    }
}
