//! Files that are written whole or not at all.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use gomphosis_mesh_gen::ToothMesh;
use gomphosis_solver::{Materials, SolverError, ToothProblem, UnitSolutions, export};
use tempfile::NamedTempFile;

use crate::exit::Failure;

/// Files that are prepared beside their destination and put in place together at the end. Dropped before
/// [`Batch::commit`], it leaves nothing behind.
#[derive(Debug, Default)]
pub(crate) struct Batch {
    files: Vec<(NamedTempFile, PathBuf)>,
    made: Vec<PathBuf>,
}

impl Batch {
    /// Makes a directory with its parents, if it is not there yet; what was made is removed again if the
    /// batch is dropped.
    pub(crate) fn directory(&mut self, directory: &Path) -> Result<(), Failure> {
        let mut missing = Vec::new();
        let mut at = directory;
        while !at.as_os_str().is_empty() && !at.exists() {
            missing.push(at.to_path_buf());
            match at.parent() {
                Some(parent) => at = parent,
                None => break,
            }
        }
        fs::create_dir_all(directory).map_err(|e| Failure::io("make the directory", directory, e))?;
        self.made.extend(missing);
        Ok(())
    }

    /// Prepares a file whose bytes `write` produces.
    pub(crate) fn file<F>(&mut self, path: &Path, write: F) -> Result<(), Failure>
    where
        F: FnOnce(&mut (dyn Write + Send)) -> std::io::Result<()>,
    {
        let parent = match path.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        let wrap = |e| Failure::io("write", path, e);
        if path.is_dir() {
            return Err(wrap(std::io::ErrorKind::IsADirectory.into()));
        }
        if !parent.exists() {
            return Err(Failure::io("write to the directory", parent, std::io::ErrorKind::NotFound.into()));
        }
        let mut builder = tempfile::Builder::new();
        builder.prefix(".gomphosis-").suffix(".part");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // The mask of the user applies, as to any file that a program creates.
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        let temporary = builder.tempfile_in(parent).map_err(|e| wrap(e.kind().into()))?;
        let mut buffered = std::io::BufWriter::new(temporary.as_file());
        write(&mut buffered).and_then(|()| buffered.flush()).map_err(wrap)?;
        drop(buffered);
        self.files.push((temporary, path.to_path_buf()));
        Ok(())
    }

    /// Puts every file in place.
    pub(crate) fn commit(mut self) -> Result<(), Failure> {
        for (temporary, path) in self.files.drain(..) {
            temporary.persist(&path).map_err(|e| Failure::io("write", &path, e.error))?;
        }
        self.made.clear();
        Ok(())
    }
}

impl Drop for Batch {
    fn drop(&mut self) {
        self.files.clear();
        for directory in &self.made {
            // Only empty directories go; somebody else's files in them stay.
            let _ = fs::remove_dir(directory);
        }
    }
}

/// Hands a mesh to the exporter.
pub(crate) fn write_mesh(
    mut out: &mut dyn Write,
    tooth: &ToothMesh,
    materials: &Materials,
) -> std::io::Result<()> {
    export::write_mesh(&mut out, &tooth.mesh, materials, tooth.landmarks.attachment).map_err(as_io)
}

/// Hands a solution to the exporter.
pub(crate) fn write_solution(
    mut out: &mut dyn Write,
    problem: &ToothProblem<'_>,
    solutions: &UnitSolutions,
) -> std::io::Result<()> {
    export::write_solution(&mut out, problem, solutions).map_err(as_io)
}

fn as_io(error: SolverError) -> std::io::Error {
    match error {
        SolverError::Write(error) => error,
        other => std::io::Error::other(other),
    }
}
