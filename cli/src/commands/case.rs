//! `gomphosis case`: a complete case file.

use super::{greeting, load_case};
use crate::args::CaseArgs;
use crate::case as cases;
use crate::exit::Failure;
use crate::{Console, write_out};

/// Runs the command.
pub(crate) fn run(args: &CaseArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let case = load_case(&args.case)?;
    if args.json {
        let mut text = serde_json::to_string_pretty(&cases::json(&case)).unwrap_or_default();
        text.push('\n');
        return write_out(console, &text);
    }
    let text = if args.reference {
        cases::reference(&case)
    } else {
        format!("# {}\n{}", greeting(&case), cases::toml(&case))
    };
    write_out(console, &text)
}
