//! Colours: a few named inks, and two diverging scales that are perceptually even by construction.
//!
//! The scales are straight in the Oklab space (B. Ottosson 2020, "A perceptual color space for image
//! processing"): from the middle, lightness falls and chroma grows linearly, so equal steps of the value are
//! equal steps of the colour. Their two ends differ along the blue-yellow axis, which the common kinds of
//! colour blindness (protan and deutan) leave intact.

use std::fmt;

/// An sRGB colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Colour(pub(crate) u8, pub(crate) u8, pub(crate) u8);

impl fmt::Display for Colour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }
}

/// Text and strong lines.
pub(crate) const INK: Colour = Colour(0x22, 0x2b, 0x33);
/// Secondary text, ticks.
pub(crate) const SOFT: Colour = Colour(0x5c, 0x66, 0x70);
/// Grid lines and frames.
pub(crate) const FAINT: Colour = Colour(0xc9, 0xce, 0xd2);
/// Paper.
pub(crate) const PAPER: Colour = Colour(0xff, 0xff, 0xff);
/// Tooth substance.
pub(crate) const TOOTH: Colour = Colour(0xf7, 0xf0, 0xdf);
/// Outline of the tooth.
pub(crate) const TOOTH_EDGE: Colour = Colour(0x8c, 0x7f, 0x66);
/// Cancellous bone.
pub(crate) const CANCELLOUS: Colour = Colour(0xf0, 0xe7, 0xe1);
/// Cortical bone.
pub(crate) const CORTICAL: Colour = Colour(0xdb, 0xce, 0xc4);
/// The moved tooth, centres of rotation.
pub(crate) const MOVED: Colour = Colour(0x1d, 0x3f, 0x8f);
/// Loads.
pub(crate) const LOAD: Colour = Colour(0x11, 0x6b, 0x4a);
/// Centre of resistance.
pub(crate) const RESISTANCE: Colour = Colour(0x8a, 0x1c, 0x5b);

/// A diverging scale: the colour of -1, of 0 and of 1.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Diverging {
    low: [f64; 3],
    middle: [f64; 3],
    high: [f64; 3],
}

/// Oklab from lightness, chroma and hue in degrees.
const fn lab(l: f64, a: f64, b: f64) -> [f64; 3] {
    [l, a, b]
}

/// For tip per millimetre: green-blue where the root leads, ochre where the crown leads.
pub(crate) const TIP: Diverging = Diverging {
    low: lab(0.47, -0.052, -0.072),
    middle: lab(0.975, 0.0, 0.004),
    high: lab(0.53, 0.062, 0.098),
};

/// For ligament pressure: violet-blue in tension, brick red in compression.
pub(crate) const PRESSURE: Diverging =
    Diverging { low: lab(0.40, -0.004, -0.155), middle: lab(0.955, 0.0, 0.0), high: lab(0.48, 0.165, 0.082) };

impl Diverging {
    /// Colour of a value from -1 to 1; values beyond have the colour of the end.
    pub(crate) fn at(&self, value: f64) -> Colour {
        let v = value.clamp(-1.0, 1.0);
        let end = if v < 0.0 { self.low } else { self.high };
        let mix = |k: usize| self.middle[k] + v.abs() * (end[k] - self.middle[k]);
        from_oklab([mix(0), mix(1), mix(2)])
    }
}

/// Oklab to sRGB.
fn from_oklab([l, a, b]: [f64; 3]) -> Colour {
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
    Colour(r, g, b)
}

#[cfg(test)]
#[path = "colour/tests.rs"]
mod tests;
