//! The journal: the rows of a study as they are finished, each line checked by a sum and forced to the disk. What a kill
//! or a full disk leaves of a last line is recognised and dropped; what was written before is never lost.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::Study;
use super::plan::Shard;
use super::space::Cell;
use crate::case::Complaint;
use crate::exit::Failure;
use crate::signals;

/// Name and version of the format.
const FORMAT: &str = "gomphosis.journal/1";
/// Longest line that is read, bytes.
const LONGEST_LINE: u64 = 1 << 16;

/// What a journal belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Head {
    /// Version of the program.
    pub(crate) version: String,
    /// Fingerprint of the study.
    pub(crate) study: u64,
    /// Cases of the study.
    pub(crate) cases: usize,
    /// Which part of it.
    pub(crate) shard: Shard,
}

impl Head {
    /// The head of a journal of this program.
    pub(crate) fn new(study: u64, cases: usize, shard: Shard) -> Self {
        Self { version: env!("CARGO_PKG_VERSION").to_owned(), study, cases, shard }
    }

    fn text(&self) -> String {
        format!("{FORMAT}\t{}\t{:016x}\t{}\t{}", self.version, self.study, self.cases, self.shard)
    }

    fn parse(text: &str) -> Option<Self> {
        let mut parts = text.split('\t');
        if parts.next() != Some(FORMAT) {
            return None;
        }
        Some(Self {
            version: parts.next()?.to_owned(),
            study: u64::from_str_radix(parts.next()?, 16).ok()?,
            cases: parts.next()?.parse().ok()?,
            shard: Shard::parse(parts.next()?).ok()?,
        })
    }

    /// The shard that a journal's file is named after.
    pub(crate) fn shard_of(path: &Path) -> Option<Shard> {
        let name = path.file_name()?.to_str()?;
        if name == Self::file_name(Shard::WHOLE) {
            return Some(Shard::WHOLE);
        }
        let (number, of) = name.strip_prefix("rows-")?.strip_suffix(".journal")?.split_once("-of-")?;
        Shard::parse(&format!("{number}/{of}")).ok()
    }

    /// Name of the journal's file.
    pub(crate) fn file_name(shard: Shard) -> String {
        if shard.of == 1 {
            "rows.journal".to_owned()
        } else {
            format!("rows-{}-of-{}.journal", shard.number, shard.of)
        }
    }
}

/// Where a row stands in a journal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Place {
    /// First byte of the row's fields.
    pub(crate) offset: u64,
    /// Bytes of the fields.
    pub(crate) length: u32,
}

/// What was found in a journal.
#[derive(Debug)]
pub(crate) struct Found {
    /// Its head; none if that line is damaged.
    pub(crate) head: Option<Head>,
    /// Rows: case and place, in the order of the file.
    pub(crate) rows: Vec<(u32, Place)>,
    /// Bytes up to the end of the last good line.
    good: u64,
    /// Lines in the middle whose sum is wrong.
    pub(crate) damaged: usize,
}

impl Found {
    /// Do its rows belong to a study, as far as they tell? A row begins with the values of the keys that vary.
    ///
    /// # Errors
    /// The system's.
    pub(crate) fn fits(&self, path: &Path, study: &Study) -> std::io::Result<bool> {
        let mut file = File::open(path)?;
        for (case, place) in &self.rows {
            if *case as usize >= study.len() {
                return Ok(false);
            }
            let fields = place.read(&mut file)?;
            let values = study.values(*case as usize);
            let given = fields.split('\t').take(values.len());
            if !given.eq(values.iter().map(Cell::text)) {
                return Ok(false);
            }
        }
        Ok(true)
    }
}

impl Place {
    /// The fields that stand here.
    ///
    /// # Errors
    /// The system's, or that the bytes are no text.
    pub(crate) fn read(self, file: &mut File) -> std::io::Result<String> {
        let mut bytes = vec![0; self.length as usize];
        file.seek(SeekFrom::Start(self.offset))?;
        file.read_exact(&mut bytes)?;
        String::from_utf8(bytes).map_err(std::io::Error::other)
    }
}

/// Reads a journal; `None` if the file is not there or holds neither a head nor a row.
pub(crate) fn read(path: &Path) -> Result<Option<Found>, Failure> {
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(Failure::io("read", path, error)),
    };
    scan(file).map_err(|error| Failure::io("read", path, error))
}

fn scan(file: File) -> std::io::Result<Option<Found>> {
    let mut reader = BufReader::with_capacity(1 << 20, file);
    let mut found = Found { head: None, rows: Vec::new(), good: 0, damaged: 0 };
    let mut offset = 0_u64;
    let mut bad_since_good = 0;
    let mut line = Vec::new();
    loop {
        line.clear();
        let read = reader.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut line)? as u64;
        if read == 0 {
            break;
        }
        let begin = offset;
        offset += read;
        let Some(payload) = checked(&line) else {
            bad_since_good += 1;
            continue;
        };
        if let Some(head) = Head::parse(payload) {
            // A head that was damaged is written once more behind the rows; one file belongs to one study.
            if found.head.as_ref().is_some_and(|first| *first != head) {
                return Err(std::io::Error::other("two studies have written into it"));
            }
            found.head = Some(head);
        } else if let Some((case, fields)) = payload.split_once('\t')
            && let Ok(case) = case.parse::<u32>()
        {
            let skipped = line.len() - 1 - fields.len();
            let place = Place { offset: begin + skipped as u64, length: fields.len() as u32 };
            found.rows.push((case, place));
        } else {
            bad_since_good += 1;
            continue;
        }
        found.good = offset;
        found.damaged += bad_since_good;
        bad_since_good = 0;
    }
    if let Some(head) = &found.head {
        let cases = head.cases;
        found.rows.retain(|(case, _)| (*case as usize) < cases);
    }
    Ok((found.head.is_some() || !found.rows.is_empty()).then_some(found))
}

/// The payload of a whole line whose sum is right.
fn checked(line: &[u8]) -> Option<&str> {
    let body = line.strip_suffix(b"\n")?;
    let text = std::str::from_utf8(body).ok()?;
    let (sum, payload) = text.split_once('\t')?;
    let sum = u32::from_str_radix(sum, 16).ok()?;
    (crc32fast::hash(payload.as_bytes()) == sum).then_some(payload)
}

/// A line with its sum.
fn line(payload: &str) -> String {
    format!("{:08x}\t{payload}\n", crc32fast::hash(payload.as_bytes()))
}

/// The line of a row.
pub(crate) fn row_line(case: u32, fields: &str) -> String {
    line(&format!("{case}\t{fields}"))
}

/// A journal that is being written.
#[derive(Debug)]
pub(crate) struct Journal {
    file: File,
    path: PathBuf,
}

impl Journal {
    /// Opens a journal to go on with it, or begins one. Returns it with the rows that are there.
    ///
    /// Refuses a journal that holds rows unless `resume` is set, one of another study or version, one that another process
    /// is still writing after a moment, and a file that is no journal.
    pub(crate) fn open(path: &Path, head: &Head, resume: Resume, study: &Study) -> Result<Opened, Failure> {
        let fail = |verb, error| Failure::io(verb, path, error);
        if path.exists() && !path.is_file() {
            return Err(Complaint::plain(format!("{}: this is no file", path.display())).into());
        }
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(|e| fail("write", e))?;
        lock(&file, path)?;
        let found = read(path)?;
        let begun = found.is_some();
        let length = file.metadata().map_err(|e| fail("read", e))?.len();
        if !begun && length > 0 && !is_torn_head(&mut file).map_err(|e| fail("read", e))? {
            let sentence =
                format!("{}: this is no journal of a study; another --out would do", path.display());
            return Err(Complaint::plain(sentence).into());
        }
        let (mut done, mut damaged) = (Vec::new(), 0);
        if let Some(found) = found.filter(|_| resume != Resume::Restart) {
            match &found.head {
                Some(there) if there != head => {
                    return Err(Complaint::plain(other_study(path, there, head)).into());
                }
                None if !found.fits(path, study).map_err(|e| fail("read", e))? => {
                    return Err(Complaint::plain(headless(path)).into());
                }
                _ => {}
            }
            if resume == Resume::No && !found.rows.is_empty() {
                let sentence = format!(
                    "{} holds {} finished cases of {}; --resume goes on with them, --restart forgets them",
                    path.display(),
                    found.rows.len(),
                    head.cases
                );
                return Err(Complaint::plain(sentence).into());
            }
            done.extend(found.rows.iter().map(|(case, _)| *case));
            damaged = found.damaged;
            file.set_len(found.good).map_err(|e| fail("write", e))?;
            file.seek(SeekFrom::Start(found.good)).map_err(|e| fail("write", e))?;
            if found.head.is_none() {
                file.write_all(line(&head.text()).as_bytes()).map_err(|e| fail("write", e))?;
                file.sync_all().map_err(|e| fail("write", e))?;
            }
        } else {
            file.set_len(0).map_err(|e| fail("write", e))?;
            file.seek(SeekFrom::Start(0)).map_err(|e| fail("write", e))?;
            file.write_all(line(&head.text()).as_bytes()).map_err(|e| fail("write", e))?;
            file.sync_all().map_err(|e| fail("write", e))?;
        }
        Ok(Opened { journal: Self { file, path: path.to_path_buf() }, done, damaged })
    }

    /// Adds whole lines and forces them to the disk.
    pub(crate) fn append(&mut self, lines: &str) -> Result<(), Failure> {
        self.file
            .write_all(lines.as_bytes())
            .and_then(|()| self.file.sync_data())
            .map_err(|error| Failure::io("write", &self.path, error))
    }
}

/// A journal that is open, with what was there.
#[derive(Debug)]
pub(crate) struct Opened {
    pub(crate) journal: Journal,
    /// Cases that are finished.
    pub(crate) done: Vec<u32>,
    /// Lines that are damaged.
    pub(crate) damaged: usize,
}

/// How long a run waits for another to let go of a journal.
const PATIENCE: Duration = Duration::from_secs(3);

/// Takes the lock of a journal. A run that is ending lets go of it in a moment; after that, says who holds it.
fn lock(file: &File, path: &Path) -> Result<(), Failure> {
    let begin = Instant::now();
    loop {
        match file.try_lock() {
            // A file system without locks: go without.
            Ok(()) | Err(TryLockError::Error(_)) => return Ok(()),
            Err(TryLockError::WouldBlock) if begin.elapsed() >= PATIENCE => {
                let who = holder(file).map_or_else(
                    || "a run of this study on this machine or another".to_owned(),
                    |process| format!("a run of this study, process {process},"),
                );
                let sentence = format!("{}: {who} is writing here", path.display());
                return Err(Complaint::plain(sentence).into());
            }
            Err(TryLockError::WouldBlock) if signals::are_received() => return Err(Failure::Interrupted),
            Err(TryLockError::WouldBlock) => std::thread::sleep(Duration::from_millis(50)),
        }
    }
}

/// The process that holds the lock of a file, where the system tells: Linux lists locks by the number of the file.
fn holder(file: &File) -> Option<u32> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let number = file.metadata().ok()?.ino();
        holder_in(&std::fs::read_to_string("/proc/locks").ok()?, number)
    }
    #[cfg(not(unix))]
    {
        let _ = file;
        None
    }
}

/// Finds the holder in lines such as `1: FLOCK  ADVISORY  WRITE 4711 fd:01:131 0 EOF`; those who wait have an arrow.
#[cfg(unix)]
fn holder_in(locks: &str, number: u64) -> Option<u32> {
    locks.lines().find_map(|line| {
        let words: Vec<&str> = line.split_whitespace().collect();
        let [_, "FLOCK", _, "WRITE", process, place, ..] = words.as_slice() else { return None };
        let of_file = place.rsplit(':').next()?.parse() == Ok(number);
        // A process of another name space has no number here.
        process.parse().ok().filter(|process| of_file && *process > 0)
    })
}

/// What to do with rows that are there already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Resume {
    /// Refuse.
    No,
    /// Go on with them.
    Yes,
    /// Forget them.
    Restart,
}

/// Is this the beginning of a head that a kill cut off?
fn is_torn_head(file: &mut File) -> std::io::Result<bool> {
    let mut bytes = Vec::new();
    file.seek(SeekFrom::Start(0))?;
    file.take(LONGEST_LINE).read_to_end(&mut bytes)?;
    let begin: Vec<u8> = bytes.iter().skip(9).copied().take(FORMAT.len()).collect();
    Ok(!bytes.contains(&b'\n') && FORMAT.as_bytes().starts_with(&begin))
}

/// A journal without its head, whose rows are not of the study.
pub(crate) fn headless(path: &Path) -> String {
    format!(
        "{}: its first line is damaged, and its rows are not those of this study; another --out, or --restart, would do",
        path.display()
    )
}

fn other_study(path: &Path, found: &Head, wanted: &Head) -> String {
    let path = path.display();
    if found.version != wanted.version {
        return format!(
            "{path} was begun by version {} of the program, this is {}; their numbers may differ: --restart computes \
             everything anew",
            found.version, wanted.version
        );
    }
    if found.study != wanted.study || found.cases != wanted.cases {
        return format!(
            "{path} belongs to another study, or to this one before it was changed; another --out, or --restart, would do"
        );
    }
    format!("{path} holds shard {} and not {}", found.shard, wanted.shard)
}

#[cfg(test)]
#[path = "journal/tests.rs"]
mod tests;
