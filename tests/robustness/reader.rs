//! Source: the promise of the case file: a case, or one plain sentence with the file and the line.
//! Goal: no bytes, no mutation of a valid case, no option and no name makes the reader panic, answer anything else, or
//! accept what it does not write back the same.
//! Inputs: every case of `demo-geometry` and complete printed cases, with lines and tokens deleted, doubled, exchanged,
//! spliced, cut and replaced by odd ones; arbitrary bytes; arbitrary words behind `--set` and for names.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use gomphosis_cli::Exit;
use gomphosis_tests::draw;
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

/// Values that no key takes, that few take, or that are written in a way of their own.
const ODD: &[&str] = &[
    "nan",
    "-nan",
    "inf",
    "-inf",
    "1e308",
    "1e309",
    "-1e-320",
    "-0",
    "-0.0",
    "0",
    "1",
    "+5",
    ".5",
    "5.",
    "1_0",
    "9223372036854775808",
    "99999999999999999999999999999999999999999999999999",
    "0x7f",
    "0b1",
    "1e-400",
    "true",
    "\"\"",
    "\"single\"",
    "'rigid'",
    "\"\"\"three\"\"\"",
    "\"\\u0000\"",
    "\"\\ud800\"",
    "\"𝄞 ß\u{301}\u{202e}\"",
    "[1, 2]",
    "[[1], [\"a\"]]",
    "{ a = 1 }",
    "{ }",
    "{ length_mm = 12.0, plan = \"single\" }",
    "1979-05-27",
    "07:32:00",
    "",
    "=",
    "12.0 13.0",
    "\"unclosed",
    "\u{0}",
    "\u{1b}[31m",
];

/// Lines that stand nowhere, or that open something.
const ODD_LINES: &[&str] = &[
    "[",
    "[]",
    "[root",
    "[[root]]",
    "[root.more]",
    "[ligamnt]",
    "[materials]",
    "[materials.ligament]",
    "[\"a\\nb\"]",
    "\"root.length_mm\" = 12.0",
    "\"a\\nb\\u001b\" = 1",
    "root.length_mm = 12.0",
    "root = { length_mm = 12.0 }",
    "tooth.name = 14",
    "tooth = 14",
    "materials.ligament.published = \"tanne_1987\"",
    "length_mm",
    "= 1",
    "#",
    "\t",
    "a.b.c.d.e.f.g = 1",
];

/// One change of a text.
#[derive(Debug, Clone)]
enum Edit {
    Byte(usize, u8),
    Cut(usize, usize),
    Delete(usize),
    Double(usize, usize),
    Exchange(usize, usize),
    Value(usize, usize),
    Key(usize, usize),
    Insert(usize, usize),
    Splice(usize, usize, usize),
    Long(usize, usize),
    Carriage,
    Mark,
}

fn edit() -> impl Strategy<Value = Edit> {
    let n = || any::<usize>();
    prop_oneof![
        2 => (n(), any::<u8>()).prop_map(|(at, byte)| Edit::Byte(at, byte)),
        1 => (n(), 1_usize..60).prop_map(|(at, length)| Edit::Cut(at, length)),
        2 => n().prop_map(Edit::Delete),
        2 => (n(), n()).prop_map(|(from, to)| Edit::Double(from, to)),
        2 => (n(), n()).prop_map(|(a, b)| Edit::Exchange(a, b)),
        6 => (n(), n()).prop_map(|(line, odd)| Edit::Value(line, odd)),
        2 => (n(), n()).prop_map(|(line, other)| Edit::Key(line, other)),
        2 => (n(), n()).prop_map(|(line, odd)| Edit::Insert(line, odd)),
        1 => (n(), n(), n()).prop_map(|(seed, from, to)| Edit::Splice(seed, from, to)),
        1 => (n(), 1_usize..3000).prop_map(|(line, length)| Edit::Long(line, length)),
        1 => Just(Edit::Carriage),
        1 => Just(Edit::Mark),
    ]
}

fn apply(text: &[u8], edit: &Edit, seeds: &[String]) -> Vec<u8> {
    let mut bytes = text.to_vec();
    if bytes.is_empty() {
        return bytes;
    }
    let mut lines: Vec<Vec<u8>> = text.split(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
    let count = lines.len();
    match edit {
        Edit::Byte(at, byte) => {
            let at = at % bytes.len();
            bytes[at] = *byte;
            return bytes;
        }
        Edit::Cut(at, length) => {
            let at = at % bytes.len();
            let end = (at + length).min(bytes.len());
            bytes.drain(at..end);
            return bytes;
        }
        Edit::Delete(line) => {
            lines.remove(line % count);
        }
        Edit::Double(from, to) => {
            let line = lines[from % count].clone();
            lines.insert(to % count, line);
        }
        Edit::Exchange(a, b) => lines.swap(a % count, b % count),
        Edit::Value(line, odd) => {
            let line = &mut lines[line % count];
            let end = line.iter().position(|b| *b == b'=').map_or(line.len(), |at| at + 1);
            line.truncate(end);
            line.extend_from_slice(ODD[odd % ODD.len()].as_bytes());
        }
        Edit::Key(line, other) => {
            let key = lines[other % count].split(|b| *b == b'=').next().unwrap_or_default().to_vec();
            let line = &mut lines[line % count];
            let end = line.iter().position(|b| *b == b'=').unwrap_or(0);
            line.splice(..end, key);
        }
        Edit::Insert(line, odd) => {
            lines.insert(line % count, ODD_LINES[odd % ODD_LINES.len()].as_bytes().to_vec());
        }
        Edit::Splice(seed, from, to) => {
            let other: Vec<&str> = seeds[seed % seeds.len()].lines().collect();
            let from = from % other.len();
            for (k, line) in other[from..].iter().take(4).enumerate() {
                lines.insert((to % count) + k, line.as_bytes().to_vec());
            }
        }
        Edit::Long(line, length) => lines[line % count].extend(std::iter::repeat_n(b'7', *length)),
        Edit::Carriage => {
            for line in &mut lines {
                line.push(b'\r');
            }
        }
        Edit::Mark => lines[0].splice(..0, *b"\xef\xbb\xbf").for_each(drop),
    }
    lines.join(&b'\n')
}

/// What the program says to some words.
struct Answer {
    exit: Exit,
    out: String,
    err: String,
}

fn ask(words: &[OsString]) -> Result<Answer, TestCaseError> {
    let args = ["gomphosis", "case"].map(OsString::from).into_iter().chain(words.iter().cloned());
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let exit = gomphosis_cli::run(args, &mut out, &mut err);
    let text = |bytes| String::from_utf8(bytes).map_err(|e| TestCaseError::fail(e.to_string()));
    Ok(Answer { exit, out: text(out)?, err: text(err)? })
}

/// A directory with one case file in it, written anew for each try.
struct Desk {
    _directory: tempfile::TempDir,
    path: PathBuf,
}

impl Desk {
    fn new() -> Self {
        let directory = tempfile::tempdir().unwrap();
        Self { path: directory.path().join("case.toml"), _directory: directory }
    }

    fn try_out(&self, bytes: &[u8]) -> Result<(), TestCaseError> {
        std::fs::write(&self.path, bytes).unwrap();
        let answer = ask(&[self.path.clone().into_os_string()])?;
        match answer.exit {
            Exit::Ok => {
                prop_assert!(answer.err.is_empty(), "{}", answer.err);
                self.round_trip(&answer.out)
            }
            Exit::BadInput => {
                let lines = bytes.split(|b| *b == b'\n').count();
                let place = self.path.display().to_string();
                let rest = answer.err.strip_prefix(&format!("error: {place}:"));
                prop_assert!(rest.is_some(), "no file: {}", answer.err);
                let (line, message) = rest.unwrap_or_default().split_once(": ").unwrap_or_default();
                let line: usize =
                    line.parse().map_err(|_| TestCaseError::fail(format!("no line: {}", answer.err)))?;
                prop_assert!((1..=lines).contains(&line), "line {line} of {lines}");
                plain_sentence(message)
            }
            other => Err(TestCaseError::fail(format!("{other:?}: {}", answer.err))),
        }
    }

    /// What is printed reads back as the same case.
    fn round_trip(&self, printed: &str) -> Result<(), TestCaseError> {
        std::fs::write(&self.path, printed).unwrap();
        let again = ask(&[self.path.clone().into_os_string()])?;
        prop_assert!(again.exit == Exit::Ok, "{}", again.err);
        prop_assert_eq!(again.out.as_str(), printed);
        Ok(())
    }
}

/// The first line is the sentence; what follows can only be the source line with a mark under it.
fn plain_sentence(message: &str) -> Result<(), TestCaseError> {
    let sentence = message.lines().next().unwrap_or_default();
    let plain = sentence.len() > 10
        && sentence.chars().count() < 600
        && !sentence.ends_with('.')
        && !sentence.chars().any(char::is_control)
        && ["panicked", "Error", "Some(", "None", "Err(", "NaN", " { "]
            .iter()
            .all(|word| !sentence.contains(word));
    prop_assert!(plain, "not a plain sentence: {sentence:?}");
    prop_assert!(message.lines().skip(1).all(|line| line.contains('|')), "more than a sentence: {message}");
    Ok(())
}

fn seeds() -> Vec<String> {
    let demo = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../demo-geometry"));
    let mut paths: Vec<PathBuf> =
        std::fs::read_dir(demo).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let mut seeds: Vec<String> = paths
        .iter()
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .map(|path| std::fs::read_to_string(path).unwrap())
        .collect();
    assert!(seeds.len() > 15, "demo-geometry holds {} cases", seeds.len());
    for name in ["14", "16", "paraboloid"] {
        seeds.push(ask(&[name.into()]).unwrap().out);
    }
    seeds
}

#[test]
fn mutated_cases_are_read_or_refused_in_one_sentence() {
    let (desk, seeds) = (Desk::new(), seeds());
    let drawn = (0..seeds.len(), vec(edit(), 1..5));
    let outcome = draw::runner(2000).run(&drawn, |(seed, edits)| {
        let mut bytes = seeds[seed].clone().into_bytes();
        for edit in &edits {
            bytes = apply(&bytes, edit, &seeds);
        }
        desk.try_out(&bytes)
    });
    outcome.unwrap();
}

#[test]
fn arbitrary_texts_are_read_or_refused_in_one_sentence() {
    let desk = Desk::new();
    let line = prop_oneof![
        select(ODD_LINES).prop_map(str::to_owned),
        (select(&["root.length_mm", "tooth", "bodies", "x", "[root]\nplan"][..]), select(ODD))
            .prop_map(|(key, value)| format!("{key} = {value}")),
        ".{0,60}",
    ];
    let text = vec(line, 0..8).prop_map(|lines| lines.join("\n").into_bytes());
    let drawn = prop_oneof![text, vec(any::<u8>(), 0..200)];
    draw::runner(1500).run(&drawn, |bytes| desk.try_out(&bytes)).unwrap();
}

#[test]
fn options_and_names_are_taken_or_refused_in_one_sentence() {
    let key = prop_oneof![
        4 => select(&["root.length_mm", "bone.loss_mm", "ligament.layers", "materials.ligament.poisson_ratio",
            "materials.ligament.published", "tooth", "bodies", "mesh.element_size_mm", "load.force_n", "map.heights"][..])
            .prop_map(str::to_owned),
        1 => ".{0,30}",
        1 => "[a-z_.]{0,20}",
    ];
    let value = prop_oneof![
        3 => select(ODD).prop_map(str::to_owned),
        1 => (-100.0..100.0_f64).prop_map(|v| v.to_string()),
        1 => ".{0,2000}",
    ];
    let set = (key, value).prop_map(|(key, value)| vec!["--set".to_owned(), format!("{key}={value}")]);
    let word = prop_oneof![
        6 => set,
        1 => ".{0,30}".prop_map(|name| vec![format!("--tooth={name}")]),
        1 => ".{0,30}".prop_map(|name| vec!["--".to_owned(), name]),
        1 => ".{0,8}".prop_map(|n| vec![format!("--threads={n}")]),
        1 => ".{0,8}".prop_map(|n| vec![format!("--bodies={n}")]),
    ];
    let desk = Desk::new();
    let outcome = draw::runner(1500).run(&vec(word, 1..4), |words| {
        let words: Vec<OsString> = words.into_iter().flatten().map(OsString::from).collect();
        let answer = ask(&words)?;
        match answer.exit {
            Exit::Ok => desk.round_trip(&answer.out),
            Exit::BadInput => {
                let message = answer.err.strip_prefix("error: ").unwrap_or_default();
                // The parser of the command line adds where help is.
                match message.split_once("\n\n") {
                    // A word of the command line comes back as it was typed, tabs included.
                    Some((first, _)) => {
                        plain_sentence(&first.lines().next().unwrap_or_default().replace('\t', " "))
                    }
                    None => plain_sentence(message),
                }
            }
            // A word with a dot or a slash is a file that is not there.
            Exit::Io => {
                let message = answer.err.strip_prefix("error: cannot read ");
                prop_assert!(message.is_some(), "{}", answer.err);
                Ok(())
            }
            other => Err(TestCaseError::fail(format!("{other:?}: {}", answer.err))),
        }
    });
    outcome.unwrap();
}
