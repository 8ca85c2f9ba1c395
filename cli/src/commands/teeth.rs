//! `gomphosis teeth`: the teeth that are known, with their sizes.

use gomphosis_mesh_gen::{RootPlan, ToothForm, ToothKind};
use serde_json::json;

use crate::args::TeethArgs;
use crate::case::{self as cases, defaults, form_name, iso_numbers};
use crate::exit::Failure;
use crate::table::Table;
use crate::{Console, write_out};

/// Runs the command.
pub(crate) fn run(args: &TeethArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let forms = ToothKind::ALL
        .into_iter()
        .map(ToothForm::Anatomical)
        .chain([ToothForm::Paraboloid, ToothForm::EllipticParaboloid]);
    if args.json {
        let list: Vec<_> = forms
            .map(|form| json!({ "name": form_name(form), "iso_3950": iso_numbers(form), "case": cases::json(&defaults(form)) }))
            .collect();
        let mut text = serde_json::to_string_pretty(&list).unwrap_or_default();
        text.push('\n');
        return write_out(console, &text);
    }
    write_out(console, &table(forms))
}

fn table(forms: impl Iterator<Item = ToothForm>) -> String {
    let mut table = Table::new();
    table.text("Average sizes in mm; every one is a key of the case file (`gomphosis case NAME`).");
    table.text("");
    table.row("", ["ISO", "crown", "root", "crown", "crown", "neck", "neck", ""].map(str::to_owned));
    table.row("name", ["3950", "height", "length", "MD", "BL", "MD", "BL", "roots"].map(str::to_owned));
    for form in forms {
        let tooth = defaults(form).specimen.tooth;
        let mm = |value: f64| format!("{value:.1}");
        let roots = match tooth.root.plan {
            RootPlan::Single => "1",
            RootPlan::BuccalLingual => "2 B P",
            RootPlan::MesialDistal => "2 M D",
            RootPlan::Three => "3",
        };
        let iso: Vec<String> = iso_numbers(form).iter().map(u32::to_string).collect();
        table.row(
            form_name(form),
            [
                iso.join(", "),
                mm(tooth.crown.height_mm),
                mm(tooth.root.length_mm),
                mm(tooth.crown.mesiodistal_mm),
                mm(tooth.crown.buccolingual_mm),
                mm(tooth.root.mesiodistal_mm),
                mm(tooth.root.buccolingual_mm),
                roots.to_owned(),
            ],
        );
    }
    table.text("");
    table.text(
        "MD: along the arch, BL: across it. Two roots: B P buccal and palatal, M D mesial and distal. Roots of the idealised shapes \
         are measured from the crest.",
    );
    table.render()
}
