//! Half-written files: each is known while it is there, so that a process which cannot wait removes them all.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use tempfile::NamedTempFile;

/// Paths of the half-written files, and whether more may be made.
static THERE: Mutex<(Vec<PathBuf>, bool)> = Mutex::new((Vec::new(), true));

/// A half-written file; dropped, it is gone.
#[derive(Debug)]
pub(super) struct Part {
    // Gone before its path is forgotten.
    file: NamedTempFile,
    #[allow(dead_code, reason = "forgets the path when the file is gone")]
    entry: Entry,
}

#[derive(Debug)]
struct Entry(PathBuf);

impl Drop for Entry {
    fn drop(&mut self) {
        THERE.lock().unwrap_or_else(PoisonError::into_inner).0.retain(|path| *path != self.0);
    }
}

impl Part {
    /// Begins a file in a directory.
    pub(super) fn begin(directory: &Path) -> io::Result<Self> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".gomphosis-").suffix(".part");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // The mask of the user applies, as to any file that a program creates.
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        let mut there = THERE.lock().unwrap_or_else(PoisonError::into_inner);
        if !there.1 {
            return Err(io::ErrorKind::Interrupted.into());
        }
        // The reason alone: nobody knows the names of these files.
        let file = builder.tempfile_in(directory).map_err(|error| io::Error::from(error.kind()))?;
        there.0.push(file.path().to_path_buf());
        let entry = Entry(file.path().to_path_buf());
        drop(there);
        Ok(Self { file, entry })
    }

    /// The open file.
    pub(super) fn file(&self) -> &fs::File {
        self.file.as_file()
    }

    /// Gives the file a name that is free.
    pub(super) fn keep(self, path: &Path) -> io::Result<()> {
        self.file.persist_noclobber(path).map(drop).map_err(|error| error.error)
    }

    /// Puts the file in the place of another, with its mode and its owner.
    pub(super) fn replace(self, path: &Path) -> io::Result<()> {
        let before = fs::metadata(path)?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::MetadataExt;
            let now = self.file().metadata()?;
            if (now.uid(), now.gid()) != (before.uid(), before.gid()) {
                std::os::unix::fs::fchown(self.file(), Some(before.uid()), Some(before.gid()))
                    .map_err(|_| io::Error::other("it has another owner, who could not be kept"))?;
            }
        }
        // After the owner: a change of it clears some modes.
        self.file().set_permissions(before.permissions())?;
        self.file.persist(path).map(drop).map_err(|error| error.error)
    }
}

/// Removes every half-written file, for a process that ends at once; none is made after it.
pub(crate) fn discard_all() {
    let mut there = THERE.lock().unwrap_or_else(PoisonError::into_inner);
    there.1 = false;
    for path in &there.0 {
        let _ = fs::remove_file(path);
    }
}
