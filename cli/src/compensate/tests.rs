use approx::assert_relative_eq;
use gomphosis_mesh_gen::{ToothForm, ToothKind};
use gomphosis_solver::{Compliance, PlanarResistance, Plane};
use nalgebra::{Matrix6, Point3};

use super::run::numbers;
use super::*;
use crate::case::defaults;

/// A tooth with a centre of resistance and a sigma squared of choice.
fn resistance(depth: f64, sigma2: f64) -> PlanarResistance {
    let mut matrix = Matrix6::identity() / (50.0 * sigma2);
    for k in 0..3 {
        matrix[(k, k)] = 1.0 / 50.0;
    }
    let compliance = Compliance::new(Point3::new(0.0, 0.0, -depth), matrix).expect("positive definite");
    PlanarResistance::new(&compliance, Plane::BuccoLingual)
}

#[test]
fn degrees_per_mm_are_the_radian_over_the_distance_to_the_centre_of_rotation() {
    // A push turns the tooth about a point L = D + sigma2 / D from its line (Burstone and Pryputniewicz 1980), so it leans
    // 180 / (pi L) degrees for each mm there. D 10.5 mm and sigma2 12.5 mm2 with the crest 4.25 mm below the push and the
    // cusp tip 4.25 mm above it: 4.90, 3.59 and 7.7 by hand.
    let found = numbers(&resistance(6.25, 12.5), 4.25, 8.5);
    let lever = 10.5 + 12.5 / 10.5;
    for (k, distance) in [lever, lever + 4.25, lever - 4.25].into_iter().enumerate() {
        assert_relative_eq!(found.tip_rates[k], 1.0_f64.to_degrees() / distance, max_relative = 1e-12);
    }
    for (got, by_hand) in found.tip_rates.into_iter().zip([4.90, 3.59, 7.7]) {
        assert_relative_eq!(got, by_hand, max_relative = 5e-3);
    }
    assert_relative_eq!(found.translation_mm, 10.5, max_relative = 1e-12);
}

fn finding(depth: f64, spread: [[f64; 2]; 3]) -> Finding {
    let centre = numbers(&resistance(depth, 12.5), 5.0, 9.25);
    let spread = Spread {
        tip_rates: spread,
        translation_mm: [9.0, 12.0],
        travel_left_percent: [8.0, 14.0],
        teeth: 64,
        cases: 64 * 72,
    };
    Finding {
        case: defaults(ToothForm::Anatomical(ToothKind::ALL[3])),
        centre,
        error_percent: [Some(0.2); 5],
        rigid_percent: 0.3,
        spreads: [spread; 5],
        losses: vec![(0.0, centre), (4.0, numbers(&resistance(depth - 2.0, 8.0), 9.0, 13.25))],
        short_root: Some(numbers(&resistance(depth - 1.0, 8.0), 5.0, 9.25)),
        dropped: Vec::new(),
    }
}

#[test]
fn the_sentence_says_whether_the_rule_holds_by_how_much_and_why() {
    // L = 10.18 + 12.5 / 10.18 = 11.41 mm at the attachment: five degrees are right there, and 37 % too much at the cusp tip.
    let found = finding(5.18, [[4.5, 5.5], [3.0, 4.0], [7.0, 9.0]]);
    let text = report::sentence(&found);
    for part in [
        "Upper first premolar: the rule of five holds for each mm at the attachment, where the push tips the tooth by 5.0 (4.5 to 5.5) degrees",
        "it fails for each mm at the cusp tip: 37 % too much, since the push tips the tooth by 3.7 (3.0 to 4.0) degrees there",
        "five degrees belong to a centre of rotation 11.5 mm from the point that travels, and here it lies 11.4 mm from the attachment and 15.7 mm from the cusp tip",
        "With 4 mm more bone lost the lever grows to 12.8 mm",
        "and five is 12 % too much",
        // D 9.18 mm and sigma2 8 mm2: L = 10.05 mm.
        "With a root a fifth shorter the lever shrinks to 10.1 mm, the push tips the tooth by 5.7 degrees and five is 12 % too little",
        // sigma2 / (sigma2 + D^2) with D 10.18: 10.8 %; one over it: 9.3.
        "the torque that undoes the tip, 10.2 N\u{b7}mm for each newton, leaves 11 % of the travel at the attachment; the same millimetre takes 9 times the push",
        "Published constants of the ligament, stiff or soft, move the number from 4.5 to 5.5",
    ] {
        assert!(text.contains(part), "{text}\n lacks: {part}");
    }
    // Outside the spread it fails; inside it is only off.
    let wide = report::sentence(&finding(8.0, [[3.0, 5.2], [3.0, 3.3], [7.0, 9.0]]));
    assert!(wide.contains("is 22 % too much for each mm at the attachment, where the push tips the tooth by 4.1 (3.0 to 5.2) degrees, a spread that includes five"), "{wide}");
}

#[test]
fn the_assumption_and_the_caution_stand_wherever_degrees_do() {
    let findings = [finding(5.0, [[4.5, 5.5], [3.0, 4.0], [7.0, 9.0]])];
    let text = text(&findings);
    // Both are wrapped.
    let unwrapped = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(unwrapped.contains(ASSUMPTION), "{text}");
    assert!(unwrapped.contains(crate::summary::CAUTION_IN_FULL), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= crate::table::WIDTH), "{text}");
    let document = json(&findings);
    assert_eq!(document["assumption"], ASSUMPTION);
    assert_eq!(document["caution"], crate::summary::CAUTION_IN_FULL);
    let chart = chart(&document, crate::figure::Style::default()).expect("its own document");
    let lines = chart.lines.join(" ");
    assert!(
        lines.contains("delivers the push but not the couple")
            && lines.contains("stiffness is not in the model")
    );
}
