use super::*;

/// CIELAB of an sRGB colour (CIE 1976, white D65; formulas of the standard).
fn cielab(colour: Rgb) -> [f64; 3] {
    let linear = [colour.0, colour.1, colour.2].map(|byte| {
        let x = f64::from(byte) / 255.0;
        if x <= 0.040_45 { x / 12.92 } else { ((x + 0.055) / 1.055).powf(2.4) }
    });
    lab_of_linear(linear)
}

fn lab_of_linear([r, g, b]: [f64; 3]) -> [f64; 3] {
    let xyz = [
        (0.412_456_4 * r + 0.357_576_1 * g + 0.180_437_5 * b) / 0.950_47,
        0.212_672_9 * r + 0.715_152_2 * g + 0.072_175_0 * b,
        (0.019_333_9 * r + 0.119_192_0 * g + 0.950_304_1 * b) / 1.088_83,
    ];
    let f = xyz.map(|t| if t > 0.008_856 { t.cbrt() } else { 7.787 * t + 16.0 / 116.0 });
    [116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])]
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt()
}

/// What a deuteranope or protanope sees, in linear sRGB: Machado, Oliveira, Fernandes 2009, IEEE TVCG 15:1291,
/// table of severity 1.0 (matrices from memory).
fn seen_by(colour: Rgb, matrix: [[f64; 3]; 3]) -> [f64; 3] {
    let linear = [colour.0, colour.1, colour.2].map(|byte| {
        let x = f64::from(byte) / 255.0;
        if x <= 0.040_45 { x / 12.92 } else { ((x + 0.055) / 1.055).powf(2.4) }
    });
    lab_of_linear(matrix.map(|row| row.iter().zip(linear).map(|(m, x)| m * x).sum::<f64>().clamp(0.0, 1.0)))
}

const DEUTAN: [[f64; 3]; 3] = [
    [0.367_322, 0.860_646, -0.227_968],
    [0.280_085, 0.672_501, 0.047_413],
    [-0.011_820, 0.042_940, 0.968_881],
];
const PROTAN: [[f64; 3]; 3] = [
    [0.152_286, 1.052_583, -0.204_868],
    [0.114_503, 0.786_281, 0.099_216],
    [-0.003_882, -0.048_116, 1.051_998],
];

/// Both scales on both grounds, as functions from a value to a colour.
fn scales() -> impl Iterator<Item = (Theme, impl Fn(f64) -> Rgb)> {
    [TIP, PRESSURE]
        .into_iter()
        .flat_map(|scale| [Theme::Light, Theme::Dark].map(|theme| (theme, move |v| scale.at(v).on(theme))))
}

#[test]
fn steps_of_a_scale_look_even() {
    for (theme, at) in scales() {
        for side in [-1.0, 1.0] {
            let lab = |i: i32| cielab(at(side * f64::from(i) / 8.0));
            let steps: Vec<f64> = (0..8).map(|i| distance(lab(i), lab(i + 1))).collect();
            let (low, high) = steps.iter().fold((f64::MAX, 0.0_f64), |(lo, hi), &s| (lo.min(s), hi.max(s)));
            assert!(high < 1.6 * low, "{theme:?}, side {side}: steps {steps:.1?}");
            assert!(low > 3.0, "{theme:?}, side {side}: steps {steps:.1?}");
        }
    }
}

#[test]
fn lightness_leaves_the_middle_alike_on_both_sides() {
    for (theme, at) in scales() {
        let sense = if theme == Theme::Light { 1.0 } else { -1.0 };
        for i in 0..10 {
            for side in [-1.0, 1.0] {
                let lightness = |k: i32| sense * cielab(at(side * f64::from(k) / 10.0))[0];
                assert!(lightness(i) > lightness(i + 1), "{theme:?}: lightness at {i} on side {side}");
            }
        }
        let (low, high) = (cielab(at(-1.0))[0], cielab(at(1.0))[0]);
        assert!((low - high).abs() < 10.0, "{theme:?}: ends of lightness {low:.0} and {high:.0}");
    }
}

#[test]
fn both_ends_are_told_apart_by_colour_blind_readers() {
    for (theme, at) in scales() {
        for matrix in [DEUTAN, PROTAN] {
            for step in [0.4, 0.7, 1.0] {
                let apart = distance(seen_by(at(-step), matrix), seen_by(at(step), matrix));
                assert!(apart > 20.0, "{theme:?}: at {step} the two sides differ by {apart:.0} only");
            }
        }
    }
}

/// Contrast of two colours (W3C, Web Content Accessibility Guidelines 2.2, definition of contrast ratio).
fn contrast(a: Rgb, b: Rgb) -> f64 {
    let luminance = |c: Rgb| {
        let linear = [c.0, c.1, c.2].map(|byte| {
            let x = f64::from(byte) / 255.0;
            if x <= 0.040_45 { x / 12.92 } else { ((x + 0.055) / 1.055).powf(2.4) }
        });
        0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    };
    let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
    (a / b).max(b / a)
}

#[test]
fn every_ink_for_text_is_readable_on_its_ground() {
    // Level AA of the guidelines: 4.5 for text.
    for theme in [Theme::Light, Theme::Dark] {
        for ink in [INK, SOFT, BONE_INK, MOVED, LOAD, RESISTANCE, PRESSURE.at(-1.0), PRESSURE.at(1.0)] {
            let found = contrast(ink.on(theme), PAPER.on(theme));
            assert!(found >= 4.5, "{theme:?}: {} has a contrast of {found:.1}", ink.on(theme));
        }
    }
}
