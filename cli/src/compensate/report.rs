//! What the findings say: a table and a sentence a tooth, CSV, JSON, and the figure's data.

use std::fmt::Write;

use serde_json::{Map, Value, json};

use gomphosis_solver::PUBLISHED_LIGAMENTS;

use super::run::share_held;
use super::spread::{HEIGHTS, WORDS};
use super::{ASSUMPTION, Finding, Numbers, RULE_DEG_PER_MM, Source, WHOSE_MM};
use crate::case::{self as cases, sentence_case};
use crate::figure::Style;
use crate::figure::compensation::{Chart, Tooth};
use crate::study::missing;
use crate::summary::CAUTION_IN_FULL;
use crate::table::{Table, fixed, item, paragraph};

/// Name and version of the document.
const SCHEMA: &str = "gomphosis.compensation/1";
/// Names of the three places in columns.
const PLACES: [&str; 3] = ["attachment", "cusp_tip", "crest"];
/// A rule that is off by less is as good as the spread allows anyone to be.
const CLOSE_PERCENT: f64 = 10.0;
/// Bone loss that the sentence looks at, mm.
const LOSS_MM: f64 = 4.0;

/// Published values that the findings stand beside; nothing is fitted to them.
const PUBLISHED: [&str; 5] = [
    "Plate expansion of lower arches, 29 treated: 5 degrees of molar tipping for 1 mm of width by regression; the means, 10.2 \
     degrees for 5.4 mm of width, give 3.8 for each mm a side if the angle is that of one tooth (Eur J Orthod 2005, doi \
     10.1093/ejo/cjh092). That is measured tipping, over months of remodelling.",
    "Aligner expansion of 20 adults, cone-beam tomography: 68 % of the planned crown and 36 % of the planned bodily movement of \
     upper first molars (Zhou & Guo 2020, Angle Orthod 90:23-30); with 12 mm between crown and root reference (assumed) that \
     leaves 1.5 degrees for each planned mm, with the attachments and torque those patients had.",
    "Upper arches, planned and achieved: 83 % at the cusps and 63 % at the gum (Houle et al. 2017, Angle Orthod 87:19-24; from \
     memory); over a lever of 7 mm (assumed) 1.7 degrees for each planned mm.",
    "Finite elements of aligner expansion with 0 to 5 degrees programmed: each degree lowered the tip of a first premolar by \
     0.26 degrees per mm and cost 4.3 % of the movement (Yao et al. 2023, doi 10.3389/fbioe.2023.1120535). Degrees programmed \
     on a flexible aligner are no degrees of the tooth: the couple it delivers is a part of what is asked.",
    "In fixed appliances a force at the centre of resistance moved upper first premolars to buccal with 2.2 degrees of tip \
     (Capps et al. 2016, Angle Orthod 86:527-534).",
];

/// The whole report for people.
pub(crate) fn text(findings: &[Finding]) -> String {
    let mut text = String::new();
    if findings.len() > 1 {
        text.push_str(&paragraph(&summary(findings)));
        text.push('\n');
    }
    text.push_str(&paragraph(
        "Root torque that undoes the tip of a push without torque, in degrees for each mm that the point travels. It is that tip \
         itself: by as many degrees as the push tips the tooth, the root must be turned back.",
    ));
    text.push_str(&paragraph(WHOSE_MM));
    text.push_str(&paragraph(ASSUMPTION));
    text.push('\n');
    for table in [degrees(findings), torques(findings), verdicts(findings), sources(findings)] {
        text.push_str(&table.render());
        text.push('\n');
    }
    for words in [draws(findings), COST.to_owned(), WORDS.to_owned()] {
        text.push_str(&paragraph(&words));
        text.push('\n');
    }
    for finding in findings {
        text.push_str(&paragraph(&sentence(finding)));
        for lost in &finding.dropped {
            text.push_str(&paragraph(&format!("Draws that make no tooth, {}", missing::sentence(lost))));
        }
        text.push('\n');
    }
    text.push_str(&paragraph(&beside(findings)));
    text.push_str("\nPublished values, to which nothing is fitted:\n");
    for published in PUBLISHED {
        text.push_str(&item(published));
    }
    text.push('\n');
    text.push_str(&paragraph(CAUTION_IN_FULL));
    text
}

/// What undoing the tip costs, and what is held.
const COST: &str = "Travel left: the push is held, and the torque for translation stops the tip; what is left is the travel at the \
    attachment, of that of the push alone. Undoing the tip therefore costs most of the movement under a given push. To hold the \
    millimetre instead, the push, and the torque with it, must grow by the number in the last column.";

/// A value with the ends of its spread.
fn with_ends(value: f64, decimals: usize, [low, high]: [f64; 2], ends: usize) -> String {
    format!("{} ({} to {})", fixed(value, decimals), fixed(low, ends), fixed(high, ends))
}

fn degrees(findings: &[Finding]) -> Table {
    let mut table = Table::new();
    let head = ["at the attachment", "at the cusp tip", "at the crest"];
    table.row("Degrees per mm", head.map(str::to_owned));
    for finding in findings {
        let ends = finding.spread().tip_rates;
        let cells: [String; 3] =
            std::array::from_fn(|k| with_ends(finding.centre.tip_rates[k], 2, ends[k], 1));
        table.row(format!("  {}", name(finding)), cells);
    }
    table
}

fn torques(findings: &[Finding]) -> Table {
    let mut table = Table::new();
    let head = ["N\u{b7}mm per N", "travel left, %", "push for the same mm"];
    table.row("Torque for translation", head.map(str::to_owned));
    for finding in findings {
        let (centre, spread) = (&finding.centre, finding.spread());
        table.row(
            format!("  {}", name(finding)),
            [
                with_ends(centre.translation_mm, 2, spread.translation_mm, 1),
                with_ends(centre.travel_left_percent, 1, spread.travel_left_percent, 1),
                format!("{} times", fixed(100.0 / centre.travel_left_percent, 1)),
            ],
        );
    }
    table
}

fn verdicts(findings: &[Finding]) -> Table {
    let mut table = Table::new();
    table.row(
        format!("Five degrees per mm (holds: within {CLOSE_PERCENT:.0} %)"),
        ["at the attachment", "at the cusp tip"].map(str::to_owned),
    );
    for finding in findings {
        let cells =
            [0, 1].map(|k| verdict(finding.centre.tip_rates[k], finding.spread().tip_rates[k]).short());
        table.row(format!("  {}", name(finding)), cells);
    }
    table
}

fn sources(findings: &[Finding]) -> Table {
    let mut table = Table::new();
    table.row("Spread at the attachment", Source::ALL.map(|s| s.name().to_owned()));
    for finding in findings {
        let cells = finding.spreads.map(|s| {
            let [low, high] = s.tip_rates[0];
            format!("{} to {}", fixed(low, 1), fixed(high, 1))
        });
        table.row(format!("  {}", name(finding)), cells);
    }
    table
}

/// What the brackets hold, and how exact the numbers are.
fn draws(findings: &[Finding]) -> String {
    let most = |of: &dyn Fn(&Finding) -> usize| findings.iter().map(of).max().unwrap_or(0);
    let least = |of: &dyn Fn(&Finding) -> usize| findings.iter().map(of).min().unwrap_or(0);
    let drawn = |of: &dyn Fn(&Finding) -> usize| match (least(of), most(of)) {
        (low, high) if low == high => high.to_string(),
        (low, high) => format!("{low} to {high}"),
    };
    let dropped: usize = findings.iter().flat_map(|f| &f.dropped).map(|lost| lost.cases).sum();
    let lost = match dropped {
        0 => String::new(),
        1 => " One draw made no tooth and is left out; the cause stands below.".to_owned(),
        n => format!(
            " {n} draws made no tooth and are left out; causes, and which side is missing, stand below."
        ),
    };
    format!(
        "In brackets and under \"all\": {} of {} drawn sets of sizes and crest a tooth, each with {} ligaments at {HEIGHTS} heights of \
         the attachment; under \"anatomy\" of {} sets of sizes; the other sources from smallest to largest.{lost} The error of the \
         mesh is at most {:.1} %; the rigid tier, from which the spread comes, differs from the elastic one, from which the numbers \
         come, by at most {:.1} %.",
        held_words(held_percent(findings)),
        drawn(&|f| f.spread().teeth),
        PUBLISHED_LIGAMENTS.len(),
        drawn(&|f| f.spreads[1].teeth),
        worst_error(findings),
        findings.iter().map(|f| f.rigid_percent).fold(0.0, f64::max),
    )
}

/// Share that every interval holds, percent: that of the smallest sample.
fn held_percent(findings: &[Finding]) -> f64 {
    let teeth = findings.iter().flat_map(|f| [f.spreads[0].teeth, f.spreads[1].teeth]).min().unwrap_or(0);
    100.0 * share_held(teeth)
}

/// "the middle 90 %".
fn held_words(percent: f64) -> String {
    if percent < 100.0 { format!("the middle {percent:.0} %") } else { "smallest to largest".to_owned() }
}

/// What all teeth say together, before the tables.
fn summary(findings: &[Finding]) -> String {
    let count = findings.len();
    let place = |k: usize, at: &str| {
        let verdicts: Vec<Verdict> =
            findings.iter().map(|f| verdict(f.centre.tip_rates[k], f.spread().tip_rates[k])).collect();
        let holds = verdicts.iter().filter(|v| v.holds()).count();
        let inside = verdicts.iter().filter(|v| !v.holds() && v.inside).count();
        let failing: Vec<String> = findings
            .iter()
            .zip(&verdicts)
            .filter(|(_, v)| !v.holds() && !v.inside)
            .map(|(f, v)| format!("{}, {}", f.case.name(), v.amount()))
            .collect();
        let fails = match failing.as_slice() {
            [] => "fail for none".to_owned(),
            [one] => format!("fail for one ({one})"),
            several => format!("fail for {}", several.len()),
        };
        format!(
            "{at} ({} degrees per mm) five hold within {CLOSE_PERCENT:.0} % for {holds}, are further off but within the spread for \
             {inside}, and {fails}",
            range(findings, |f| f.centre.tip_rates[k], 1)
        )
    };
    format!(
        "{count} teeth against five degrees per mm: {}; {}. Under a given push the torque that undoes the tip leaves {} % of the travel, \
         so the same millimetre takes {} times the push.",
        place(0, "at the attachment"),
        place(1, "at the cusp tip or incisal edge"),
        range(findings, |f| f.centre.travel_left_percent, 0),
        range(findings, |f| 100.0 / f.centre.travel_left_percent, 0),
    )
}

/// Smallest to largest of a number.
fn range(findings: &[Finding], of: impl Fn(&Finding) -> f64, decimals: usize) -> String {
    let values = findings.iter().map(of);
    let [low, high] =
        values.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], v| [v.min(low), v.max(high)]);
    let (low, high) = (fixed(low, decimals), fixed(high, decimals));
    if low == high { low } else { format!("{low} to {high}") }
}

/// How the findings stand to what was measured.
fn beside(findings: &[Finding]) -> String {
    format!(
        "Set beside measured movement: the numbers above, {} degrees for each mm at the attachment and {} at the cusp tip or incisal \
         edge, are those of a push that nothing holds upright, on the first day. Plate expansion, where little holds the teeth upright, \
         was measured near them; what aligners leave is less, since attachments and torque hold the teeth upright in part.",
        range(findings, |f| f.centre.tip_rates[0], 1),
        range(findings, |f| f.centre.tip_rates[1], 1)
    )
}

fn name(finding: &Finding) -> String {
    if let Some(name) = &finding.case.own_name {
        return name.clone();
    }
    let loss = finding.case.specimen.bone.loss_mm;
    let name = sentence_case(&finding.case.name());
    if loss > 0.0 { format!("{name}, {loss} mm of bone lost") } else { name }
}

fn worst_error(findings: &[Finding]) -> f64 {
    findings.iter().flat_map(|f| f.error_percent).flatten().fold(0.0, f64::max)
}

/// How the rule of five stands to a value with its spread.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Verdict {
    /// Rule over value less one, percent: positive where the rule asks for more than the tooth needs.
    off_percent: f64,
    inside: bool,
}

fn verdict(value: f64, [low, high]: [f64; 2]) -> Verdict {
    Verdict {
        off_percent: 100.0 * (RULE_DEG_PER_MM / value - 1.0),
        inside: (low..=high).contains(&RULE_DEG_PER_MM),
    }
}

impl Verdict {
    fn holds(self) -> bool {
        self.off_percent.abs() <= CLOSE_PERCENT
    }

    /// "19 % too much".
    fn amount(self) -> String {
        if self.off_percent.abs() < 0.5 {
            return "off by under 1 %".to_owned();
        }
        let side = if self.off_percent > 0.0 { "too much" } else { "too little" };
        format!("{:.0} % {side}", self.off_percent.abs())
    }

    /// For a table.
    fn short(self) -> String {
        let amount = self.amount();
        match (self.holds(), self.inside) {
            (true, _) => format!("holds, {amount}"),
            (false, true) => format!("{amount}, in the spread"),
            (false, false) => format!("fails, {amount}"),
        }
    }
}

/// Distance of the centre of rotation from the place where the millimetre is measured, mm.
fn distance(numbers: &Numbers, height_mm: f64) -> f64 {
    numbers.rotation_depth_mm + height_mm
}

/// A plain sentence or two on where the rule holds and fails for a tooth, by how much, and why.
pub(super) fn sentence(finding: &Finding) -> String {
    let centre = &finding.centre;
    let spread = finding.spread();
    let [at_attachment, at_cusp] = [0, 1].map(|k| verdict(centre.tip_rates[k], spread.tip_rates[k]));
    let top = finding.case.top_name();
    let with = |k: usize| {
        let [low, high] = spread.tip_rates[k];
        format!("{} ({} to {})", fixed(centre.tip_rates[k], 1), fixed(low, 1), fixed(high, 1))
    };
    let part = |verdict: Verdict, k: usize, place: &str| {
        let amount = verdict.amount();
        if verdict.holds() {
            format!(
                "holds for each mm at {place}, where the push tips the tooth by {} degrees ({amount})",
                with(k)
            )
        } else if verdict.inside {
            format!(
                "is {amount} for each mm at {place}, where the push tips the tooth by {} degrees, a spread that includes five",
                with(k)
            )
        } else {
            format!(
                "fails for each mm at {place}: {amount}, since the push tips the tooth by {} degrees there",
                with(k)
            )
        }
    };
    let rule_mm = (1.0_f64).to_degrees() / RULE_DEG_PER_MM;
    let mut text = format!(
        "{}: the rule of five {}; it {} (holds: within {CLOSE_PERCENT:.0} %).",
        name(finding),
        part(at_attachment, 0, "the attachment"),
        part(at_cusp, 1, &format!("the {top}"))
    );
    let _ = write!(
        text,
        " Reason: five degrees belong to a centre of rotation {} mm from the point that travels, and here it lies {} mm from the \
         attachment and {} mm from the {top}.",
        fixed(rule_mm, 1),
        fixed(distance(centre, centre.heights_mm[0]), 1),
        fixed(distance(centre, centre.heights_mm[1]), 1)
    );
    let reached = finding.losses.iter().rfind(|(loss, _)| *loss > 0.0 && *loss <= LOSS_MM);
    if let Some((loss, numbers)) = reached {
        let _ = write!(
            text,
            " With {} mm more bone lost the lever grows to {} mm, the push tips the tooth by {} degrees for each mm at the \
             attachment, and five is {}.",
            fixed(*loss, 0),
            fixed(distance(numbers, numbers.heights_mm[0]), 1),
            fixed(numbers.tip_rates[0], 1),
            verdict(numbers.tip_rates[0], [0.0, 0.0]).amount()
        );
    }
    if let Some(numbers) = &finding.short_root {
        let _ = write!(
            text,
            " With a root a fifth shorter the lever shrinks to {} mm, the push tips the tooth by {} degrees and five is {}.",
            fixed(distance(numbers, numbers.heights_mm[0]), 1),
            fixed(numbers.tip_rates[0], 1),
            verdict(numbers.tip_rates[0], [0.0, 0.0]).amount()
        );
    }
    let left = centre.travel_left_percent;
    let _ = write!(
        text,
        " Under a given push the torque that undoes the tip, {} N\u{b7}mm for each newton, leaves {} % of the travel at the attachment; the \
         same millimetre takes {} times the push.",
        fixed(centre.translation_mm, 1),
        fixed(left, 0),
        fixed(100.0 / left, 0)
    );
    let [low, high] = finding.spreads[3].tip_rates[0];
    let _ = write!(
        text,
        " Published constants of the ligament, stiff or soft, move the number from {} to {}.",
        fixed(low, 1),
        fixed(high, 1)
    );
    text
}

/// The findings as one document.
pub(crate) fn json(findings: &[Finding]) -> Value {
    let teeth: Vec<Value> = findings.iter().map(tooth_json).collect();
    let held = held_percent(findings);
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "rule_deg_per_mm": RULE_DEG_PER_MM,
        "assumption": ASSUMPTION,
        "caution": CAUTION_IN_FULL,
        "interval": format!("all: {} of the drawn teeth, each with every ligament and height of the attachment; anatomy: {0} of the \
            drawn teeth; crest, ligament and attachment: smallest and largest", held_words(held)),
        "interval_holds_percent": held,
        "holds": format!("within {CLOSE_PERCENT:.0} % of the tip per mm"),
        "millimetres": WHOSE_MM,
        "cost_of_torque": COST,
        "spread": WORDS.split_whitespace().collect::<Vec<_>>().join(" "),
        "published": PUBLISHED.map(|p| p.split_whitespace().collect::<Vec<_>>().join(" ")),
        "teeth": teeth,
    })
}

fn numbers_json(numbers: &Numbers) -> Value {
    let places: Map<String, Value> = PLACES
        .iter()
        .zip(numbers.tip_rates)
        .map(|(place, value)| ((*place).to_owned(), json!(value)))
        .collect();
    json!({
        "compensation_deg_per_mm": places,
        "torque_for_translation_mm": numbers.translation_mm,
        "travel_left_percent": numbers.travel_left_percent,
        "centre_of_rotation_depth_mm": numbers.rotation_depth_mm,
        "centre_of_resistance_depth_mm": numbers.resistance_depth_mm,
        "attachment_height_mm": numbers.heights_mm[0],
        "cusp_tip_height_mm": numbers.heights_mm[1],
    })
}

fn tooth_json(finding: &Finding) -> Value {
    let spreads: Map<String, Value> = Source::ALL
        .iter()
        .zip(&finding.spreads)
        .map(|(source, spread)| {
            let mut places: Map<String, Value> = PLACES
                .iter()
                .zip(spread.tip_rates)
                .map(|(place, ends)| ((*place).to_owned(), json!(ends)))
                .collect();
            places.insert("torque_for_translation_mm".to_owned(), json!(spread.translation_mm));
            places.insert("travel_left_percent".to_owned(), json!(spread.travel_left_percent));
            places.insert("teeth".to_owned(), json!(spread.teeth));
            places.insert("cases".to_owned(), json!(spread.cases));
            (source.name().to_owned(), Value::Object(places))
        })
        .collect();
    let errors: Map<String, Value> = PLACES
        .iter()
        .chain(&["torque_for_translation", "travel_left_percent"])
        .zip(finding.error_percent)
        .map(|(place, percent)| ((*place).to_owned(), json!(percent)))
        .collect();
    let losses: Vec<Value> = finding
        .losses
        .iter()
        .map(|(loss, numbers)| json!({ "more_bone_lost_mm": loss, "numbers": numbers_json(numbers) }))
        .collect();
    json!({
        "tooth": finding.case.name(),
        "name": finding.case.own_name,
        "jaw": if finding.is_upper() { "upper" } else { "lower" },
        "case": cases::json(&finding.case),
        "elastic": numbers_json(&finding.centre),
        "numerical_error_percent": errors,
        "rigid_tier_differs_percent": finding.rigid_percent,
        "intervals": spreads,
        "draws_without_a_tooth": finding.dropped,
        "bone_loss": losses,
        "root_a_fifth_shorter": finding.short_root.as_ref().map(numbers_json),
        "sentence": sentence(finding),
    })
}

/// One row a tooth.
pub(crate) fn csv(findings: &[Finding]) -> std::io::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut head = vec!["tooth".to_owned(), "bone_loss_mm".to_owned(), "attachment_height_mm".to_owned()];
    for name in PLACES
        .map(|p| format!("compensation_deg_per_mm_{p}"))
        .into_iter()
        .chain(["torque_for_translation_mm".to_owned(), "travel_left_percent".to_owned()])
    {
        head.extend(["", "_low", "_high", "_error_percent"].map(|end| format!("{name}{end}")));
    }
    for place in &PLACES[..2] {
        head.push(format!("rule_of_five_off_percent_{place}"));
        head.push(format!("rule_of_five_inside_{place}"));
    }
    for source in &Source::ALL[1..] {
        head.extend(
            ["low", "high"].map(|end| format!("compensation_deg_per_mm_attachment_{}_{end}", source.name())),
        );
    }
    head.extend(["rigid_tier_differs_percent", "name"].map(str::to_owned));
    let wrap = std::io::Error::other::<csv::Error>;
    writer.write_record(&head).map_err(wrap)?;
    let number = crate::study::space::number_text;
    for finding in findings {
        let (centre, spread) = (&finding.centre, finding.spread());
        let mut row = vec![
            finding.case.name(),
            number(finding.case.specimen.bone.loss_mm),
            number(centre.heights_mm[0]),
        ];
        let [attachment, cusp, crest] = centre.tip_rates;
        let values = [attachment, cusp, crest, centre.translation_mm, centre.travel_left_percent];
        let [attachment, cusp, crest] = spread.tip_rates;
        let ends = [attachment, cusp, crest, spread.translation_mm, spread.travel_left_percent];
        for ((value, [low, high]), error) in values.into_iter().zip(ends).zip(finding.error_percent) {
            row.extend([value, low, high].map(number));
            row.push(error.map_or_else(String::new, number));
        }
        for k in 0..2 {
            let verdict = verdict(centre.tip_rates[k], spread.tip_rates[k]);
            row.push(number(verdict.off_percent));
            row.push(verdict.inside.to_string());
        }
        for spread in &finding.spreads[1..] {
            row.extend(spread.tip_rates[0].map(number));
        }
        row.push(number(finding.rigid_percent));
        row.push(name(finding));
        writer.write_record(&row).map_err(wrap)?;
    }
    writer.into_inner().map_err(|e| std::io::Error::other(e.to_string()))
}

/// The figure's data, from the document of [`json`]; none if it is another one.
pub(crate) fn chart(document: &Value, style: Style) -> Option<Chart> {
    if document["schema"] != SCHEMA {
        return None;
    }
    let held = document["interval_holds_percent"].as_f64()?;
    let bars = if held < 100.0 {
        style.tell(
            "Thick bars: middle {} % over anatomy, crest, ligament and attachment height; no treatment dose",
            &[&fixed(held, 0)],
        )
    } else {
        style.say("Thick bars: smallest to largest over anatomy, crest, ligament and attachment height; no treatment dose")
    };
    let place = |value: &Value, k: usize| value[PLACES[k]].as_f64();
    let tooth = |tooth: &Value| {
        let series = tooth["bone_loss"].as_array()?.iter().map(|loss| {
            let rates = &loss["numbers"]["compensation_deg_per_mm"];
            Some([loss["more_bone_lost_mm"].as_f64()?, place(rates, 0)?, place(rates, 1)?])
        });
        let ends = |k: usize| {
            let of = &tooth["intervals"]["all"][PLACES[k]];
            Some([of[0].as_f64()?, of[1].as_f64()?])
        };
        Some(Tooth {
            name: match tooth["name"].as_str() {
                Some(name) => name.to_owned(),
                None => sentence_case(&style.say(tooth["tooth"].as_str()?)),
            },
            upper: tooth["jaw"] == "upper",
            series: series.collect::<Option<_>>()?,
            intervals: [ends(0)?, ends(1)?],
        })
    };
    Some(Chart {
        style,
        rule: RULE_DEG_PER_MM,
        lines: vec![
            style.say("The appliance delivers the push but not the couple; the aligner's own stiffness is not in the model"),
            bars,
        ],
        teeth: document["teeth"].as_array()?.iter().map(tooth).collect::<Option<_>>()?,
    })
}
