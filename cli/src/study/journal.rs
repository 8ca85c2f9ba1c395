//! The journal: the rows of a study as they are finished, each line checked by a sum and forced to the disk. What a kill
//! or a full disk leaves of a last line is recognised and dropped; what was written before is never lost.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::plan::Shard;
use crate::case::Complaint;
use crate::exit::Failure;

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
    /// Its head.
    pub(crate) head: Head,
    /// Rows: case and place, in the order of the file.
    pub(crate) rows: Vec<(u32, Place)>,
    /// Bytes up to the end of the last good line.
    good: u64,
    /// Lines in the middle whose sum is wrong.
    pub(crate) damaged: usize,
}

/// Reads a journal; `None` if the file is not there or holds not even a head.
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
    let mut found: Option<Found> = None;
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
        match &mut found {
            None => {
                // Nothing counts before the head.
                let Some(head) = Head::parse(payload) else { return Ok(None) };
                found = Some(Found { head, rows: Vec::new(), good: offset, damaged: 0 });
            }
            Some(found) => {
                let Some((case, fields)) = payload.split_once('\t') else { continue };
                let Ok(case) = case.parse::<u32>() else { continue };
                if (case as usize) < found.head.cases {
                    let skipped = line.len() - 1 - fields.len();
                    let place = Place { offset: begin + skipped as u64, length: fields.len() as u32 };
                    found.rows.push((case, place));
                }
                found.good = offset;
                found.damaged += bad_since_good;
            }
        }
        bad_since_good = 0;
    }
    Ok(found)
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
    /// Refuses a journal that holds rows unless `resume` is set, one of another study or version, and one that another
    /// process is writing.
    pub(crate) fn open(path: &Path, head: &Head, resume: Resume) -> Result<(Self, Vec<u32>, usize), Failure> {
        let fail = |verb, error| Failure::io(verb, path, error);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(|e| fail("write", e))?;
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => {
                let sentence = format!("{}: another run of this study is writing here", path.display());
                return Err(Complaint::plain(sentence).into());
            }
            // A file system without locks: go without.
            Ok(()) | Err(TryLockError::Error(_)) => {}
        }
        let found = if resume == Resume::Restart { None } else { read(path)? };
        let mut done = Vec::new();
        let mut damaged = 0;
        if let Some(found) = found {
            if found.head != *head {
                return Err(Complaint::plain(other_study(path, &found.head, head)).into());
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
        } else {
            let length = file.metadata().map_err(|e| fail("read", e))?.len();
            if length > 0
                && resume != Resume::Restart
                && !is_torn_head(&mut file).map_err(|e| fail("read", e))?
            {
                let sentence = format!(
                    "{}: this is no journal of a study; another --out, or --restart, would do",
                    path.display()
                );
                return Err(Complaint::plain(sentence).into());
            }
            file.set_len(0).map_err(|e| fail("write", e))?;
            file.seek(SeekFrom::Start(0)).map_err(|e| fail("write", e))?;
            file.write_all(line(&head.text()).as_bytes()).map_err(|e| fail("write", e))?;
            file.sync_all().map_err(|e| fail("write", e))?;
        }
        Ok((Self { file, path: path.to_path_buf() }, done, damaged))
    }

    /// Adds whole lines and forces them to the disk.
    pub(crate) fn append(&mut self, lines: &str) -> Result<(), Failure> {
        self.file
            .write_all(lines.as_bytes())
            .and_then(|()| self.file.sync_data())
            .map_err(|error| Failure::io("write", &self.path, error))
    }
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
