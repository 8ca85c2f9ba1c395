//! The animation as a GIF, which programs for slides play: one palette for all frames, and of each frame only what differs
//! from the one before.

use std::collections::{BTreeMap, HashMap};

use color_quant::NeuQuant;
use gif::{DisposalMethod, Encoder, Frame, Repeat};
use rayon::prelude::*;

use super::film::Film;
use super::svg::{self, At};

/// Hundredths of a second from a frame to the next.
const STEP: u16 = 10;
/// Frames whose colours make the palette.
const SAMPLED: usize = 9;
/// Frames that are drawn side by side.
const TOGETHER: usize = 16;
/// Colours that are kept exactly: plain areas and letters. The others are chosen among what is left.
const EXACT: usize = 120;
/// Colours of a GIF; the last is the transparent one.
const COLOURS: usize = 256;

/// A colour.
type Rgb = [u8; 3];

/// The film of a document as a GIF of a size in pixels; none if it was told to stop.
///
/// # Errors
/// A sentence: nothing moves, or the rasteriser or the encoder failed.
pub(crate) fn bytes(
    document: &str,
    size: At,
    is_stopped: &dyn Fn() -> bool,
) -> Result<Option<Vec<u8>>, String> {
    let film = Film::new(document)?.ok_or("nothing in it moves")?;
    let count = (100.0 * film.seconds() / f64::from(STEP)).round().max(1.0) as usize;
    let picture = |k: usize| picture(&film.at(0.01 * f64::from(STEP) * k as f64), size);
    let sampled: Vec<Vec<Rgb>> = (0..SAMPLED.min(count))
        .into_par_iter()
        .map(|k| picture(k * count / SAMPLED.min(count)))
        .collect::<Result<_, _>>()?;
    let palette = Palette::new(&sampled);
    drop(sampled);
    let [width, height] = size.map(|side| side.round() as u16);
    let fail = |e: gif::EncodingError| e.to_string();
    let mut out = Vec::new();
    {
        let mut encoder = Encoder::new(&mut out, width, height, &palette.bytes()).map_err(fail)?;
        encoder.set_repeat(Repeat::Infinite).map_err(fail)?;
        let mut before: Option<Vec<u8>> = None;
        let mut waiting: Option<Frame<'_>> = None;
        for first in (0..count).step_by(TOGETHER) {
            if is_stopped() {
                return Ok(None);
            }
            let frames: Vec<Vec<u8>> = (first..(first + TOGETHER).min(count))
                .into_par_iter()
                .map(|k| Ok(palette.indices(&picture(k)?)))
                .collect::<Result<_, String>>()?;
            for frame in frames {
                let changed = match &before {
                    Some(last) => changed(last, &frame, width),
                    None => Some([0, 0, width - 1, height - 1]),
                };
                match (changed, &mut waiting) {
                    // The same picture stays longer.
                    (None, Some(last)) => last.delay = last.delay.saturating_add(STEP),
                    (None, None) => {}
                    (Some(area), _) => {
                        if let Some(last) = waiting.take() {
                            encoder.write_frame(&last).map_err(fail)?;
                        }
                        waiting = Some(part(before.as_deref(), &frame, area, width));
                    }
                }
                before = Some(frame);
            }
        }
        if let Some(last) = waiting {
            encoder.write_frame(&last).map_err(fail)?;
        }
    }
    Ok(Some(out))
}

/// The pixels of a document without transparency.
fn picture(document: &str, size: At) -> Result<Vec<Rgb>, String> {
    let pixels = svg::rasterise(document, size)?;
    // Every sheet has an opaque ground.
    Ok(pixels.pixels().iter().map(|p| [p.red(), p.green(), p.blue()]).collect())
}

/// Left, top, right and bottom of what differs between two frames; none if they are the same.
fn changed(last: &[u8], frame: &[u8], width: u16) -> Option<[u16; 4]> {
    let differing = last.iter().zip(frame).enumerate().filter(|(_, (a, b))| a != b);
    differing.map(|(k, _)| [k % usize::from(width), k / usize::from(width)].map(|at| at as u16)).fold(
        None,
        |area, [x, y]| {
            let [left, top, right, bottom] = area.unwrap_or([x, y, x, y]);
            Some([left.min(x), top.min(y), right.max(x), bottom.max(y)])
        },
    )
}

/// A part of a frame; what is as before is transparent.
fn part(
    before: Option<&[u8]>,
    frame: &[u8],
    [left, top, right, bottom]: [u16; 4],
    width: u16,
) -> Frame<'static> {
    let transparent = (COLOURS - 1) as u8;
    let buffer: Vec<u8> = (top..=bottom)
        .flat_map(|y| (left..=right).map(move |x| usize::from(y) * usize::from(width) + usize::from(x)))
        .map(|k| if before.is_some_and(|last| last[k] == frame[k]) { transparent } else { frame[k] })
        .collect();
    Frame {
        delay: STEP,
        dispose: DisposalMethod::Keep,
        transparent: before.map(|_| transparent),
        left,
        top,
        width: right - left + 1,
        height: bottom - top + 1,
        buffer: buffer.into(),
        ..Frame::default()
    }
}

/// The colours of all frames.
struct Palette {
    colours: Vec<Rgb>,
    exact: BTreeMap<Rgb, u8>,
}

impl Palette {
    /// The commonest colours of some pictures as they are, and of the rest those that come nearest to all (Dekker 1994,
    /// Network 5:351-367).
    fn new(pictures: &[Vec<Rgb>]) -> Self {
        let mut counts: BTreeMap<Rgb, usize> = BTreeMap::new();
        for colour in pictures.iter().flatten() {
            *counts.entry(*colour).or_default() += 1;
        }
        let mut commonest: Vec<(Rgb, usize)> = counts.into_iter().collect();
        commonest.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
        let room = COLOURS - 1;
        let kept = if commonest.len() <= room { commonest.len() } else { EXACT };
        let mut colours: Vec<Rgb> = commonest[..kept].iter().map(|(colour, _)| *colour).collect();
        let exact = colours.iter().enumerate().map(|(k, colour)| (*colour, k as u8)).collect();
        if kept < commonest.len() {
            // Each of the rest once: rare colours at the edges of things count as much as those of areas.
            let rest: Vec<u8> =
                commonest[kept..].iter().flat_map(|([r, g, b], _)| [*r, *g, *b, 255]).collect();
            let chosen = NeuQuant::new(1, room - kept, &rest);
            colours.extend(chosen.color_map_rgb().chunks_exact(3).map(|c| [c[0], c[1], c[2]]));
        }
        Self { colours, exact }
    }

    /// As the head of a file holds it, with the transparent colour at its end.
    fn bytes(&self) -> Vec<u8> {
        let mut bytes = self.colours.concat();
        bytes.resize(3 * COLOURS, 0);
        bytes
    }

    /// The number of the nearest colour of each pixel.
    fn indices(&self, pixels: &[Rgb]) -> Vec<u8> {
        let mut known: HashMap<Rgb, u8> = HashMap::new();
        let nearest = |colour: &Rgb| {
            let distance = |other: &Rgb| -> i32 {
                colour.iter().zip(other).map(|(a, b)| (i32::from(*a) - i32::from(*b)).pow(2)).sum()
            };
            let best = self.colours.iter().enumerate().min_by_key(|(_, other)| distance(other));
            best.map_or(0, |(k, _)| k as u8)
        };
        pixels
            .iter()
            .map(|colour| {
                *known
                    .entry(*colour)
                    .or_insert_with(|| self.exact.get(colour).copied().unwrap_or_else(|| nearest(colour)))
            })
            .collect()
    }
}

#[cfg(test)]
#[path = "gif/tests.rs"]
mod tests;
