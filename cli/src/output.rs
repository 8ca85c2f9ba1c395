//! What commands write, and where: files whole or not at all, nothing overwritten that this program did not make.
//!
//! A [`Batch`] is told before the work what will be written. It looks at every place and refuses what would be lost: a file
//! that the program did not make for the same purpose (unless forced), the input itself, two outputs in one place. Devices
//! and pipes are written to, symbolic links are followed, and neither is replaced. After the work the files stand beside
//! their places, and [`Batch::commit`] puts them there together.

mod mark;
mod part;
mod place;

use std::fs;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc;
use std::time::Duration;

use gomphosis_mesh_gen::ToothMesh;
use gomphosis_solver::export::{self, LoadedState};
use gomphosis_solver::{Materials, SolverError, ToothProblem, UnitSolutions};
use tempfile::SpooledTempFile;

use crate::case::{self as cases, Complaint};
use crate::exit::Failure;
use crate::signals;
pub(crate) use mark::{Form, Purpose, What, sealed, unsealed};
use mark::{Seen, look};
use part::Part;
#[cfg_attr(not(unix), allow(unused_imports, reason = "signals are told apart on Unix alone"))]
pub(crate) use part::discard_all;
use place::{Identity, Place, Standard, parent};

/// What is kept in memory of a file that goes to a device or a pipe, bytes; the rest waits on the disk.
const KEPT_IN_MEMORY: usize = 64 << 20;

/// A place that will be written to.
#[derive(Debug, Clone)]
struct Planned {
    /// The path as it was given.
    path: PathBuf,
    place: Place,
    identity: Option<Identity>,
    what: What,
}

/// A file that is complete but not in its place.
#[derive(Debug)]
enum Ready {
    Part(Part),
    Spool(SpooledTempFile),
}

/// Files that are planned, prepared and put in place together. Dropped before [`Batch::commit`], it leaves nothing behind.
#[derive(Debug, Default)]
pub(crate) struct Batch {
    force: bool,
    /// Files that are read, under the names they were given.
    inputs: Vec<(PathBuf, Identity)>,
    planned: Vec<Planned>,
    /// Files of other cases that will be replaced: where they stand, and what they are about.
    replaced: Vec<(PathBuf, String)>,
    ready: Vec<(Planned, Ready)>,
    made: Vec<PathBuf>,
}

impl Batch {
    /// A batch that may replace whatever it finds if it is forced to.
    pub(crate) fn new(force: bool) -> Self {
        let mut batch = Self::default();
        batch.force = force;
        batch
    }

    /// Says that a file is read: it will never be written to.
    pub(crate) fn reads(&mut self, path: &Path) {
        if path.is_file()
            && let Some(identity) = Identity::of(path)
        {
            self.inputs.push((path.to_path_buf(), identity));
        }
    }

    /// Says that a file will be written, and refuses what would be lost by it.
    pub(crate) fn plan(&mut self, path: &Path, what: What) -> Result<(), Failure> {
        let place = Place::of(path)?;
        let identity = match &place {
            Place::Free(path) | Place::File(path) | Place::Stream(path) => Identity::of(path),
            Place::Standard(_) => None,
        };
        let shared = |other: &&Planned| match (&other.place, &place) {
            (Place::Standard(a), Place::Standard(b)) => a == b,
            // Nothing is lost in a device that takes everything.
            (Place::Stream(_), Place::Stream(path)) if path == Path::new("/dev/null") => false,
            _ => identity.is_some() && other.identity == identity,
        };
        if let Some(other) = self.planned.iter().find(shared) {
            let sentence = format!(
                "{} and {} are one place; two outputs want two",
                other.path.display(),
                path.display()
            );
            return Err(Complaint::plain(sentence).into());
        }
        let planned = Planned { path: path.to_path_buf(), place, identity, what };
        if let Some(subject) = self.look(&planned)? {
            self.replaced.push((path.to_path_buf(), subject));
        }
        self.planned.push(planned);
        Ok(())
    }

    /// Refuses a place where something would be lost; says what else is replaced there.
    fn look(&self, planned: &Planned) -> Result<Option<String>, Failure> {
        let shown = planned.path.display();
        if let Some((input, _)) =
            self.inputs.iter().find(|(_, identity)| Some(identity) == planned.identity.as_ref())
        {
            let same = if *input == planned.path { String::new() } else { format!(" ({})", input.display()) };
            let sentence = format!(
                "{shown} is the file that is read{same}; it is never written to, another --out would do"
            );
            return Err(Complaint::plain(sentence).into());
        }
        let fail = |error| Failure::io("write", &planned.path, error);
        match &planned.place {
            Place::Free(path) => {
                // Without a name: nothing is left whatever happens.
                tempfile::tempfile_in(parent(path)).map_err(|e| fail(e.kind().into()))?;
                Ok(None)
            }
            Place::File(path) => {
                fs::OpenOptions::new().write(true).open(path).map_err(fail)?;
                tempfile::tempfile_in(parent(path)).map_err(|e| fail(e.kind().into()))?;
                let empty = fs::metadata(path).map_err(fail)?.len() == 0;
                if self.force || empty {
                    return Ok(None);
                }
                let held =
                    match look(path, &planned.what).map_err(|e| Failure::io("read", &planned.path, e))? {
                        Seen::Ours { other } => return Ok(other),
                        Seen::Else(purpose) => format!("holds {}", purpose.name()),
                        Seen::Foreign => {
                            format!(
                                "is there already and is not {} that this program made",
                                planned.what.purpose.name()
                            )
                        }
                    };
                Err(Complaint::plain(format!("{shown} {held}; another --out, or --force, would do")).into())
            }
            Place::Stream(_) | Place::Standard(_) => Ok(None),
        }
    }

    /// Says that a directory will hold results: it is there, or can be made.
    pub(crate) fn plan_directory(option: &str, command: &str, directory: &Path) -> Result<(), Failure> {
        if directory.is_dir() {
            return Ok(());
        }
        if let Some(ending) = Form::named(directory).and(directory.extension()) {
            let sentence = format!(
                "{command} writes several files, into a directory; the name of one does not end in .{}",
                ending.to_string_lossy()
            );
            return Err(cases::wrong_option(&format!("{option} {}", directory.display()), &sentence).into());
        }
        let fail = |error: io::Error| Failure::io("make the directory", directory, error);
        let mut at = directory;
        while !at.as_os_str().is_empty() {
            match fs::metadata(at) {
                Ok(found) if found.is_dir() => {
                    tempfile::tempfile_in(at).map_err(|error| fail(error.kind().into()))?;
                    break;
                }
                Ok(_) => return Err(fail(io::ErrorKind::NotADirectory.into())),
                Err(error) if error.kind() == io::ErrorKind::NotFound && !at.is_symlink() => {}
                Err(error) => return Err(fail(error)),
            }
            at = at.parent().unwrap_or(Path::new(""));
        }
        Ok(())
    }

    /// Says that a file in a directory which may still be missing will be written.
    pub(crate) fn plan_in(&mut self, directory: &Path, name: &str, what: What) -> Result<(), Failure> {
        let path = directory.join(name);
        if directory.is_dir() {
            return self.plan(&path, what);
        }
        // In a new directory nothing can be lost.
        self.planned.push(Planned { place: Place::Free(path.clone()), path, identity: None, what });
        Ok(())
    }

    /// What will be replaced that is about something else, in a sentence.
    pub(crate) fn note(&self) -> Option<String> {
        let (first, subject) = self.replaced.first()?;
        let about = if subject.is_empty() { String::new() } else { format!(" ({subject})") };
        Some(match self.replaced.len() {
            1 => {
                format!("{} holds what was computed of another case{about}; it is replaced", first.display())
            }
            count => format!(
                "{} holds {count} files of another case{about}; they are replaced",
                parent(first).display()
            ),
        })
    }

    /// Does a path mean standard output?
    pub(crate) fn goes_to_standard_output(path: &Path) -> bool {
        matches!(Place::of(path), Ok(Place::Standard(Standard::Output)))
    }

    /// Does a file go to standard output?
    pub(crate) fn takes_standard_output(&self) -> bool {
        self.planned.iter().any(|planned| planned.place == Place::Standard(Standard::Output))
    }

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

    /// Prepares a file whose bytes `write` produces. A file that was not planned is looked at now.
    pub(crate) fn file<F>(&mut self, path: &Path, write: F) -> Result<(), Failure>
    where
        F: FnOnce(&mut (dyn Write + Send)) -> io::Result<()>,
    {
        if !self.planned.iter().any(|planned| planned.path == path) {
            self.plan(path, What::guess(path))?;
        }
        let found = self.planned.iter().find(|planned| planned.path == path);
        let planned = found.expect("it was planned a moment ago").clone();
        let what = &planned.what;
        let wrap = |e| Failure::io("write", path, e);
        let ready = match &planned.place {
            Place::Free(at) | Place::File(at) => {
                let part = Part::begin(parent(at)).map_err(wrap)?;
                marked(&mut io::BufWriter::new(part.file()), what, write).map_err(wrap)?;
                Ready::Part(part)
            }
            Place::Stream(_) | Place::Standard(_) => {
                let mut spool = SpooledTempFile::new(KEPT_IN_MEMORY);
                marked(&mut spool, what, write).map_err(wrap)?;
                Ready::Spool(spool)
            }
        };
        self.ready.push((planned, ready));
        Ok(())
    }

    /// Puts every file in place.
    pub(crate) fn commit(mut self) -> Result<(), Failure> {
        // What has come to stand in a place since it was looked at is no more to be lost than what stood there.
        for (planned, ready) in &self.ready {
            if let (Place::Free(path), Ready::Part(_)) = (&planned.place, ready)
                && path.exists()
                && !self.force
            {
                return Err(Failure::io("write", &planned.path, io::ErrorKind::AlreadyExists.into()));
            }
        }
        for (planned, ready) in std::mem::take(&mut self.ready) {
            let fail = |e| Failure::io("write", &planned.path, e);
            match (&planned.place, ready) {
                (Place::Free(path), Ready::Part(part)) if !path.exists() => part.keep(path).map_err(fail)?,
                (Place::Free(path) | Place::File(path), Ready::Part(part)) => {
                    if path.exists() {
                        part.replace(path).map_err(fail)?;
                    } else {
                        part.keep(path).map_err(fail)?;
                    }
                }
                (place, Ready::Spool(spool)) => send(spool, place).map_err(|error| match error.kind() {
                    io::ErrorKind::BrokenPipe => Failure::BrokenPipe,
                    io::ErrorKind::Interrupted => Failure::Interrupted,
                    _ => fail(error),
                })?,
                (Place::Stream(_) | Place::Standard(_), Ready::Part(_)) => {
                    unreachable!("what goes to a stream is no file beside it")
                }
            }
        }
        self.made.clear();
        Ok(())
    }
}

impl Drop for Batch {
    fn drop(&mut self) {
        self.ready.clear();
        for directory in &self.made {
            // Only empty directories go; somebody else's files in them stay.
            let _ = fs::remove_dir(directory);
        }
    }
}

/// Writes a file with its mark.
fn marked<F>(mut out: &mut (dyn Write + Send), what: &What, write: F) -> io::Result<()>
where
    F: FnOnce(&mut (dyn Write + Send)) -> io::Result<()>,
{
    if what.is_stamped_at_the_end() {
        let mut bytes = Vec::new();
        write(&mut bytes)?;
        out.write_all(&what.stamp(bytes))?;
    } else if let Some(comment) = what.comment() {
        write(&mut BehindFirstLine { out: &mut out, comment: Some(comment) })?;
    } else {
        write(&mut out)?;
    }
    out.flush()
}

/// Puts a comment behind the first line of what is written.
struct BehindFirstLine<'a> {
    out: &'a mut (dyn Write + Send),
    comment: Option<String>,
}

impl Write for BehindFirstLine<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let end = bytes.iter().position(|b| *b == b'\n');
        if let (Some(end), true) = (end, self.comment.is_some()) {
            self.out.write_all(&bytes[..=end])?;
            let comment = self.comment.take().unwrap_or_default();
            self.out.write_all(comment.as_bytes())?;
            return Ok(end + 1);
        }
        self.out.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// Sends the bytes of a finished file to a device, a pipe or a stream of this process.
fn send(mut spool: SpooledTempFile, place: &Place) -> io::Result<()> {
    spool.seek(SeekFrom::Start(0))?;
    let mut out = match place {
        Place::Standard(standard) => own(*standard)?,
        Place::Stream(path) | Place::Free(path) | Place::File(path) => opened(path)?,
    };
    let mut buffer = vec![0; 1 << 16];
    loop {
        let read = spool.read(&mut buffer)?;
        if read == 0 {
            return out.flush();
        }
        out.write_all(&buffer[..read])?;
    }
}

/// A device or a pipe, open. A pipe opens when a reader comes; a signal ends the wait.
fn opened(path: &Path) -> io::Result<fs::File> {
    let (sender, receiver) = mpsc::channel();
    let path = path.to_path_buf();
    std::thread::spawn(move || sender.send(fs::OpenOptions::new().write(true).open(path)));
    loop {
        match receiver.recv_timeout(Duration::from_millis(50)) {
            Ok(opened) => return opened,
            Err(_) if signals::are_received() => return Err(io::ErrorKind::Interrupted.into()),
            Err(mpsc::RecvTimeoutError::Timeout) => {}
            Err(mpsc::RecvTimeoutError::Disconnected) => return Err(io::ErrorKind::BrokenPipe.into()),
        }
    }
}

/// A stream of this process, which keeps its place among what else is written there.
#[cfg(unix)]
fn own(standard: Standard) -> io::Result<fs::File> {
    use std::os::fd::AsFd;
    let stream = match standard {
        Standard::Output => io::stdout().as_fd().try_clone_to_owned()?,
        Standard::Error => io::stderr().as_fd().try_clone_to_owned()?,
    };
    Ok(stream.into())
}

#[cfg(not(unix))]
fn own(standard: Standard) -> io::Result<fs::File> {
    let _ = standard;
    Err(io::ErrorKind::Unsupported.into())
}

/// Refuses a file whose name says another format than the one that is written; a name without an ending says none. A place
/// that is no file has no format in its name.
pub(crate) fn ends_in(option: &str, path: &Path, form: Form, sentence: &str) -> Result<(), Failure> {
    let lies = path.extension().is_some() && Form::named(path) != Some(form);
    if lies && !is_no_file(path) {
        return Err(cases::wrong_option(&format!("{option} {}", path.display()), sentence).into());
    }
    Ok(())
}

/// Is this a device, a pipe or a stream of this process?
pub(crate) fn is_no_file(path: &Path) -> bool {
    matches!(Place::of(path), Ok(Place::Stream(_) | Place::Standard(_)))
}

/// Hands a mesh to the exporter.
pub(crate) fn write_mesh(
    mut out: &mut dyn Write,
    tooth: &ToothMesh,
    materials: &Materials,
) -> std::io::Result<()> {
    export::write_mesh(&mut out, &tooth.mesh, materials, tooth.landmarks.attachment).map_err(as_io)
}

/// Hands a solution with its load to the exporter.
pub(crate) fn write_solution(
    mut out: &mut dyn Write,
    problem: &ToothProblem<'_>,
    solutions: &UnitSolutions,
    state: &LoadedState<'_>,
) -> std::io::Result<()> {
    export::write_solution(&mut out, problem, solutions, Some(state)).map_err(as_io)
}

fn as_io(error: SolverError) -> std::io::Error {
    match error {
        SolverError::Write(error) => error,
        other => std::io::Error::other(other),
    }
}
