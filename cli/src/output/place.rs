//! What stands at the end of a path: nothing, a regular file, a device, a pipe, a stream of this process. Symbolic links
//! are followed to their end and never replaced.

use std::fs::{self, Metadata};
use std::path::{Path, PathBuf};

use crate::case::Complaint;
use crate::exit::Failure;

/// Most symbolic links that are followed.
const MOST_LINKS: usize = 40;

/// Where bytes go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Place {
    /// A name that is free.
    Free(PathBuf),
    /// A regular file, under its own name.
    File(PathBuf),
    /// A device or a pipe.
    Stream(PathBuf),
    /// A stream of this process.
    Standard(Standard),
}

/// A stream of this process.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standard {
    Output,
    Error,
}

impl Standard {
    /// Does a path mean a stream of this process?
    fn named(path: &Path) -> Option<Self> {
        match path.to_str()? {
            "-" | "/dev/stdout" | "/dev/fd/1" | "/proc/self/fd/1" => Some(Self::Output),
            "/dev/stderr" | "/dev/fd/2" | "/proc/self/fd/2" => Some(Self::Error),
            _ => None,
        }
    }
}

impl Place {
    /// Follows a path to its end.
    pub(super) fn of(path: &Path) -> Result<Self, Failure> {
        let refused = |sentence: &str| {
            Err(Failure::from(Complaint::plain(format!("{} is {sentence}", path.display()))))
        };
        let mut at = path.to_path_buf();
        for _ in 0..MOST_LINKS {
            if let Some(standard) = Standard::named(&at) {
                return Ok(Self::Standard(standard));
            }
            let Ok(found) = fs::symlink_metadata(&at) else {
                return if at == path { free(path) } else { refused("a symbolic link that leads nowhere") };
            };
            if !found.is_symlink() {
                return if found.is_file() { Ok(Self::File(at)) } else { Self::special(path, &found) };
            }
            // A link to what has no name, such as a pipe of a shell, shows itself only to those who open it.
            if let Ok(end) = fs::metadata(&at)
                && is_stream(&end)
                && !end.is_file()
                && fs::canonicalize(&at).is_err()
            {
                return Ok(Self::Stream(path.to_path_buf()));
            }
            let Ok(next) = fs::read_link(&at) else { break };
            at = at.parent().unwrap_or(Path::new("")).join(next);
        }
        refused("a symbolic link that leads nowhere")
    }

    /// What is neither a regular file nor a link.
    fn special(path: &Path, found: &Metadata) -> Result<Self, Failure> {
        if found.is_dir() {
            return Err(Failure::io("write", path, std::io::ErrorKind::IsADirectory.into()));
        }
        if is_stream(found) {
            return Ok(Self::Stream(path.to_path_buf()));
        }
        let sentence = format!("{} is neither a file nor a pipe; nothing is written there", path.display());
        Err(Complaint::plain(sentence).into())
    }
}

/// A free name, whose directory must be there.
fn free(path: &Path) -> Result<Place, Failure> {
    let parent = parent(path);
    match fs::metadata(parent) {
        Ok(found) if found.is_dir() && path.file_name().is_some() => Ok(Place::Free(path.to_path_buf())),
        Ok(_) => Err(Failure::io("write", path, std::io::ErrorKind::NotADirectory.into())),
        Err(error) => Err(Failure::io("write to the directory", parent, error)),
    }
}

/// The directory of a path.
pub(super) fn parent(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Can bytes be sent there one after the other?
#[cfg(unix)]
fn is_stream(found: &Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt;
    found.file_type().is_char_device() || found.file_type().is_fifo()
}

#[cfg(not(unix))]
fn is_stream(_: &Metadata) -> bool {
    false
}

/// What tells files apart, whatever they are called.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Identity {
    /// Device and number of a file that is there.
    #[cfg(unix)]
    Node(u64, u64),
    /// The full name of one that is not, or that has no number.
    Name(PathBuf),
}

impl Identity {
    /// Of a path whose directory is there.
    pub(super) fn of(path: &Path) -> Option<Self> {
        #[cfg(unix)]
        if let Ok(found) = fs::metadata(path) {
            use std::os::unix::fs::MetadataExt;
            return Some(Self::Node(found.dev(), found.ino()));
        }
        #[cfg(not(unix))]
        if let Ok(whole) = fs::canonicalize(path) {
            return Some(Self::Name(whole));
        }
        let directory = fs::canonicalize(parent(path)).unwrap_or_else(|_| parent(path).to_path_buf());
        Some(Self::Name(directory.join(path.file_name()?)))
    }
}
