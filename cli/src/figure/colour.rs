//! Colours: a few named inks, and two diverging scales that are perceptually even by construction, each for
//! white paper and for a dark screen.
//!
//! The scales are straight in the Oklab space (B. Ottosson 2020, "A perceptual color space for image
//! processing"): from the middle, lightness falls (on a dark ground: rises) and chroma grows linearly, so equal steps of the value are
//! equal steps of the colour. Their two ends differ along the blue-yellow axis, which the common kinds of
//! colour blindness (protan and deutan) leave intact.

use std::fmt;

/// An sRGB colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Rgb(pub(crate) u8, pub(crate) u8, pub(crate) u8);

impl fmt::Display for Rgb {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }
}

/// The ground that a figure is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub(crate) enum Theme {
    /// White paper.
    #[default]
    Light,
    /// A dark screen.
    Dark,
}

/// A colour by its meaning; the theme says what it looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Colour {
    /// A named ink: on white paper, on a dark screen.
    Ink(Rgb, Rgb),
    /// A value of a scale, from -1 to 1.
    Step(Scale, f64),
}

impl Colour {
    /// What it looks like.
    pub(crate) fn on(self, theme: Theme) -> Rgb {
        match (self, theme) {
            (Self::Ink(light, _), Theme::Light) => light,
            (Self::Ink(_, dark), Theme::Dark) => dark,
            (Self::Step(scale, value), theme) => scale.ends(theme).at(value),
        }
    }
}

const fn rgb(hex: u32) -> Rgb {
    Rgb((hex >> 16) as u8, (hex >> 8) as u8, hex as u8)
}

/// An ink on white paper and on a dark screen.
pub(crate) const fn ink(light: u32, dark: u32) -> Colour {
    Colour::Ink(rgb(light), rgb(dark))
}

/// Text and strong lines.
pub(crate) const INK: Colour = ink(0x0022_2b33, 0x00e8_ecef);
/// Secondary text, ticks.
pub(crate) const SOFT: Colour = ink(0x005c_6670, 0x00a9_b3bc);
/// Grid lines and frames.
pub(crate) const FAINT: Colour = ink(0x00c9_ced2, 0x0045_4d55);
/// Paper.
pub(crate) const PAPER: Colour = ink(0x00ff_ffff, 0x0012_171c);
/// Tooth substance.
pub(crate) const TOOTH: Colour = ink(0x00f7_f0df, 0x0046_4234);
/// Outline of the tooth.
pub(crate) const TOOTH_EDGE: Colour = ink(0x008c_7f66, 0x00b3_a584);
/// Cancellous bone.
pub(crate) const CANCELLOUS: Colour = ink(0x00f0_e7e1, 0x0026_2321);
/// Cortical bone.
pub(crate) const CORTICAL: Colour = ink(0x00db_cec4, 0x003d_3733);
/// Names of bone and socket.
pub(crate) const BONE_INK: Colour = ink(0x007a_6657, 0x00c7_b3a3);
/// The moved tooth, centres of rotation.
pub(crate) const MOVED: Colour = ink(0x001d_3f8f, 0x0093_b4ff);
/// Loads.
pub(crate) const LOAD: Colour = ink(0x0011_6b4a, 0x0062_d0a0);
/// Centre of resistance.
pub(crate) const RESISTANCE: Colour = ink(0x008a_1c5b, 0x00f2_8fc4);
/// Ground of places where the attachment travels against the push, and the lines across it.
pub(crate) const REVERSED: Colour = ink(0x00ec_edee, 0x0020_262b);
/// Lines across that ground.
pub(crate) const REVERSED_LINES: Colour = ink(0x00d3_d6d9, 0x0036_3d44);

/// A diverging scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scale {
    /// Tip per millimetre: green-blue where the root leads, ochre where the crown leads.
    Tip,
    /// Ligament pressure: violet-blue in tension, brick red in compression.
    Pressure,
}

/// For tip per millimetre.
pub(crate) const TIP: Scale = Scale::Tip;
/// For ligament pressure.
pub(crate) const PRESSURE: Scale = Scale::Pressure;

/// Inks with the names that pages give them.
pub(crate) const NAMED: [(&str, Colour); 18] = [
    ("ink", INK),
    ("soft", SOFT),
    ("faint", FAINT),
    ("paper", PAPER),
    ("tooth", TOOTH),
    ("tooth-edge", TOOTH_EDGE),
    ("cancellous", CANCELLOUS),
    ("cortical", CORTICAL),
    ("bone-ink", BONE_INK),
    ("moved", MOVED),
    ("load", LOAD),
    ("resistance", RESISTANCE),
    ("reversed", REVERSED),
    ("reversed-lines", REVERSED_LINES),
    ("compression", Colour::Step(Scale::Pressure, 1.0)),
    ("tension", Colour::Step(Scale::Pressure, -1.0)),
    ("tip-high", Colour::Step(Scale::Tip, 1.0)),
    ("tip-low", Colour::Step(Scale::Tip, -1.0)),
];

/// The colours of -1, of 0 and of 1 in Oklab.
#[derive(Debug, Clone, Copy, serde::Serialize)]
pub(crate) struct Ends {
    low: [f64; 3],
    middle: [f64; 3],
    high: [f64; 3],
}

impl Scale {
    /// Colour of a value from -1 to 1; values beyond have the colour of the end.
    pub(crate) fn at(self, value: f64) -> Colour {
        Colour::Step(self, value.clamp(-1.0, 1.0))
    }

    pub(crate) const fn ends(self, theme: Theme) -> Ends {
        match (self, theme) {
            (Self::Tip, Theme::Light) => {
                Ends { low: [0.47, -0.052, -0.072], middle: [0.975, 0.0, 0.004], high: [0.53, 0.062, 0.098] }
            }
            (Self::Pressure, Theme::Light) => {
                Ends { low: [0.40, -0.004, -0.155], middle: [0.955, 0.0, 0.0], high: [0.48, 0.165, 0.082] }
            }
            // On a dark ground the middle is dark and the ends are light.
            (Self::Tip, Theme::Dark) => {
                Ends { low: [0.70, -0.070, -0.085], middle: [0.25, 0.0, 0.0], high: [0.72, 0.055, 0.125] }
            }
            (Self::Pressure, Theme::Dark) => {
                Ends { low: [0.64, -0.010, -0.160], middle: [0.25, 0.0, 0.0], high: [0.68, 0.175, 0.090] }
            }
        }
    }
}

impl Ends {
    fn at(&self, value: f64) -> Rgb {
        let v = value.clamp(-1.0, 1.0);
        let end = if v < 0.0 { self.low } else { self.high };
        let mix = |k: usize| self.middle[k] + v.abs() * (end[k] - self.middle[k]);
        from_oklab([mix(0), mix(1), mix(2)])
    }
}

/// Oklab to sRGB.
fn from_oklab([l, a, b]: [f64; 3]) -> Rgb {
    let cube = |x: f64| x * x * x;
    let lms = [
        cube(l + 0.396_337_777_4 * a + 0.215_803_757_3 * b),
        cube(l - 0.105_561_345_8 * a - 0.063_854_172_8 * b),
        cube(l - 0.089_484_177_5 * a - 1.291_485_548_0 * b),
    ];
    let rgb = [
        4.076_741_662_1 * lms[0] - 3.307_711_591_3 * lms[1] + 0.230_969_929_2 * lms[2],
        -1.268_438_004_6 * lms[0] + 2.609_757_401_1 * lms[1] - 0.341_319_396_5 * lms[2],
        -0.004_196_086_3 * lms[0] - 0.703_418_614_7 * lms[1] + 1.707_614_701_0 * lms[2],
    ];
    let [r, g, b] = rgb.map(|linear| {
        let x = linear.clamp(0.0, 1.0);
        let encoded = if x <= 0.003_130_8 { 12.92 * x } else { 1.055 * x.powf(1.0 / 2.4) - 0.055 };
        (255.0 * encoded).round() as u8
    });
    Rgb(r, g, b)
}

#[cfg(test)]
#[path = "colour/tests.rs"]
mod tests;
