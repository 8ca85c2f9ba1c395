//! Runs the program in a directory of its own.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A directory and the program.
pub(crate) struct CliTest {
    directory: tempfile::TempDir,
}

/// What a run gave.
#[derive(Debug)]
pub(crate) struct Run {
    pub(crate) status: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl CliTest {
    pub(crate) fn new() -> Self {
        Self { directory: tempfile::tempdir().expect("a temporary directory") }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.directory.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().expect("it lies in the directory")).expect("made");
        std::fs::write(path, bytes).expect("written");
    }

    pub(crate) fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
    }

    /// Names of everything in the directory, hidden files too, sorted.
    pub(crate) fn files(&self) -> Vec<String> {
        names(self.directory.path())
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_gomphosis"));
        command
            .args(args)
            .current_dir(self.directory.path())
            .env_remove("COLUMNS")
            .env_remove("RUST_BACKTRACE");
        command
    }

    pub(crate) fn run(&self, args: &[&str]) -> Run {
        let Output { status, stdout, stderr } = self.command(args).output().expect("the program starts");
        Run {
            status: status.code().expect("the program ends by itself"),
            out: String::from_utf8(stdout).expect("UTF-8"),
            err: String::from_utf8(stderr).expect("UTF-8"),
        }
    }
}

/// Names of everything in a directory, sorted.
pub(crate) fn names(directory: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(directory)
        .expect("a directory")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

/// Options of a coarse and fast case.
pub(crate) const FAST: [&str; 4] = ["--bodies", "rigid", "--set", "mesh.element_size_mm=2"];

/// A command line with the fast options behind it.
pub(crate) fn fast<'a>(args: &[&'a str]) -> Vec<&'a str> {
    args.iter().copied().chain(FAST).collect()
}
