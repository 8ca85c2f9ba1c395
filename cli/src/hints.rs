//! Hints for options that a command does not have: what was meant, where it is to be had, or nothing. A hint that leads to
//! something else is worse than none.

use std::ffi::OsString;

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Command, CommandFactory};

use crate::args::Cli;
use crate::case::key::KEYS;

/// Formats of the commands that write one only, and the commands that write others.
const FORMATS: [(&str, &str); 6] = [
    ("map", "a map writes its figures as SVG and PNG; `gomphosis figure` makes one of them in any format"),
    ("solve", "--out writes the result as JSON, --export the solution as a VTK XML grid (.vtu)"),
    ("mesh", "--out writes a VTK XML grid (.vtu), which general converters read"),
    ("report", "a report is one page of HTML, which a browser prints to PDF"),
    ("lesson", "a lesson is one page of HTML"),
    (
        "compensate",
        "--out writes CSV, JSON, SVG and PNG; `gomphosis figure compensation DIR` makes other formats",
    ),
];

/// The error of the parser with a hint of ours in the place of its own.
pub(crate) fn improved(mut error: clap::Error, words: &[OsString]) -> clap::Error {
    if error.kind() != ErrorKind::UnknownArgument {
        return error;
    }
    let Some(ContextValue::String(unknown)) = error.get(ContextKind::InvalidArg) else { return error };
    let unknown = unknown.split('=').next().unwrap_or_default().to_owned();
    let Some(name) = unknown.strip_prefix("--") else {
        error.remove(ContextKind::Suggested);
        return error;
    };
    let root = Cli::command();
    let command = words.iter().skip(1).find_map(|word| root.find_subcommand(word.to_str()?));
    let hint = hint(&root, command, name);
    error.remove(ContextKind::SuggestedArg);
    error.remove(ContextKind::Suggested);
    if let Some(hint) = hint {
        error.insert(ContextKind::Suggested, ContextValue::StyledStrs(vec![hint.into()]));
    }
    error
}

/// What was meant by an option that a command does not have.
fn hint(root: &Command, command: Option<&Command>, name: &str) -> Option<String> {
    let own = command.map_or("", Command::get_name);
    if let Some(command) = command {
        if let Some(near) = options(command).find(|option| is_near(option, name)) {
            return Some(format!("a similar option exists: --{near}"));
        }
        if ["format", "out-format", "output-format"].contains(&name)
            && let Some((_, hint)) = FORMATS.iter().find(|(command, _)| *command == own)
        {
            return Some((*hint).to_owned());
        }
        if options(command).any(|option| option == "set")
            && let Some(key) = key_like(name)
        {
            return Some(format!("--set {key}=VALUE changes that key of the case"));
        }
    }
    let having: Vec<String> = root
        .get_subcommands()
        .filter(|command| options(command).any(|option| option == name))
        .map(|command| format!("`gomphosis {}`", command.get_name()))
        .collect();
    match having.as_slice() {
        [] => None,
        [one] => Some(format!("--{name} is an option of {one}")),
        [rest @ .., last] => Some(format!("--{name} is an option of {} and {last}", rest.join(", "))),
    }
}

/// The long options of a command.
fn options(command: &Command) -> impl Iterator<Item = &str> {
    command.get_arguments().filter_map(clap::Arg::get_long)
}

/// Is this a slip of the finger?
fn is_near(option: &str, typed: &str) -> bool {
    let most = if option.len().min(typed.len()) < 5 { 1 } else { 2 };
    option != typed && strsim::damerau_levenshtein(option, typed) <= most
}

/// The one key of a case that an option sounds like: `--bone-loss`, `--torque`, `--root-length-mm`.
fn key_like(name: &str) -> Option<&'static str> {
    let name = name.replace('-', "_");
    let of = |path: &'static str| {
        let flat = path.replace('.', "_");
        let last = path.rsplit('.').next().unwrap_or_default();
        [flat.as_str(), last].into_iter().any(|full| {
            full == name
                || full
                    .strip_prefix(&name)
                    .is_some_and(|unit| unit.starts_with('_') && !unit[1..].contains('_'))
        })
    };
    let mut found = KEYS.iter().map(|key| key.path).filter(|path| of(path));
    // What could be two keys is none.
    found.next().filter(|_| found.next().is_none())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(command: &str, name: &str) -> Option<String> {
        let mut root = Cli::command();
        root.build();
        hint(&root, root.find_subcommand(command), name)
    }

    #[test]
    fn a_hint_leads_to_what_was_meant_or_there_is_none() {
        for (command, name, wanted) in [
            ("mesh", "format", Some("VTK XML grid (.vtu)")),
            ("report", "format", Some("one page of HTML")),
            ("teeth", "format", Some("`gomphosis figure`")),
            ("solve", "bodes", Some("--bodies")),
            ("solve", "bone-loss", Some("--set bone.loss_mm=VALUE")),
            ("map", "torque", Some("--set load.torque_nmm=VALUE")),
            ("case", "shard", Some("is an option of `gomphosis sweep`")),
            ("case", "samples", Some("is an option of `gomphosis compensate`")),
            ("mesh", "samples", Some("is an option of `gomphosis compensate`")),
            ("map", "colour", None),
            ("solve", "verbose", None),
        ] {
            let got = of(command, name);
            match wanted {
                Some(wanted) => assert!(
                    got.as_ref().is_some_and(|got| got.contains(wanted)),
                    "{command} --{name}: {got:?}"
                ),
                None => assert_eq!(got, None, "{command} --{name}"),
            }
        }
    }

    #[test]
    fn no_option_of_one_command_is_taken_for_another_of_the_next() {
        let mut root = Cli::command();
        root.build();
        for command in root.get_subcommands() {
            for other in root.get_subcommands() {
                for name in options(other).filter(|name| !options(command).any(|own| own == *name)) {
                    let got = hint(&root, Some(command), name);
                    // Either the command's own way to the same end, or where the option is to be had.
                    let got = got.unwrap_or_else(|| panic!("{} --{name}: no hint", command.get_name()));
                    assert!(!got.starts_with("a similar option"), "{} --{name}: {got}", command.get_name());
                }
            }
        }
    }
}
