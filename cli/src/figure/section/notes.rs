//! Notes in the margins: each names a place of the picture and is joined to it by a thin line, as in an
//! atlas. Notes of one side are spread so that they do not touch.

use super::super::axis::SMALL;
use super::super::colour::{Colour, SOFT};
use super::super::font::Face;
use super::super::layout::{broken, spread};
use super::super::svg::{Anchor, At, Label, Paint, Svg};

/// Side of the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Left,
    Right,
}

struct Note {
    side: Side,
    /// What it points at.
    target: At,
    /// Lines of text; the first is the name.
    lines: Vec<String>,
    /// The lines as they are broken, with their number.
    broken: Vec<(usize, String)>,
    colour: Colour,
}

/// The notes of a picture.
pub(crate) struct Notes {
    field: [f64; 4],
    notes: Vec<Note>,
}

/// From the field to the texts.
const MARK: f64 = 28.0;
const LINE: f64 = 20.0;
const GAP: f64 = 16.0;

impl Notes {
    /// No notes yet, around a field (left, top, width, height).
    pub(crate) fn new(field: [f64; 4]) -> Self {
        Self { field, notes: Vec::new() }
    }

    /// Adds a note.
    pub(crate) fn add(&mut self, side: Side, target: At, colour: Colour, lines: &[String]) {
        self.notes.push(Note { side, target, lines: lines.to_vec(), broken: Vec::new(), colour });
    }

    /// Spreads and writes all of them; lines that are longer than their margin are broken.
    pub(crate) fn write(mut self, svg: &mut Svg) {
        let right = svg.width() - self.field[0] - self.field[2];
        for note in &mut self.notes {
            let margin = if note.side == Side::Left { self.field[0] } else { right };
            note.broken = note
                .lines
                .iter()
                .enumerate()
                .flat_map(|(k, line)| {
                    broken(line, face(k), SMALL, margin - MARK - 6.0).into_iter().map(move |text| (k, text))
                })
                .collect();
        }
        for side in [Side::Left, Side::Right] {
            let mut here: Vec<Note> = Vec::new();
            let mut rest = Vec::new();
            for note in self.notes {
                if note.side == side { here.push(note) } else { rest.push(note) }
            }
            self.notes = rest;
            here.sort_by(|a, b| a.target[1].total_cmp(&b.target[1]));
            let heights: Vec<f64> = here.iter().map(|n| LINE * n.broken.len() as f64).collect();
            let wanted: Vec<f64> = here.iter().map(|n| n.target[1]).collect();
            // Room is left for the scale below the right notes.
            let range = [self.field[1], self.field[1] + self.field[3] - 16.0];
            // Many notes stand closer together.
            let left = range[1] - range[0] - heights.iter().sum::<f64>();
            let gap = GAP.min(left / here.len().saturating_sub(1).max(1) as f64).max(0.0);
            let middles = spread(&wanted, &heights, gap, range);
            for (note, middle) in here.iter().zip(middles) {
                write_note(svg, note, middle, self.field);
            }
        }
    }
}

fn write_note(svg: &mut Svg, note: &Note, middle: f64, field: [f64; 4]) {
    let (edge, anchor, sense) = match note.side {
        Side::Left => (field[0] - MARK, Anchor::End, -1.0),
        Side::Right => (field[0] + field[2] + MARK, Anchor::Start, 1.0),
    };
    let top = middle - 0.5 * LINE * (note.broken.len() - 1) as f64;
    for (row, (k, line)) in note.broken.iter().enumerate() {
        let colour = if *k == 0 { note.colour } else { SOFT };
        svg.label(
            Label::new(line.clone(), [edge, top + LINE * row as f64], SMALL)
                .anchor(anchor)
                .face(face(*k))
                .colour(colour),
        );
    }
    // The line leaves the first line of text level, then goes straight to the place.
    let start = [edge - sense * 8.0, top];
    let bend = [edge - sense * 24.0, top];
    svg.polyline(&[start, bend, note.target], Paint::line(note.colour, 1.0).faded(0.8));
}

/// Face of a line of a note: the first is its name.
fn face(line: usize) -> Face {
    if line == 0 { Face::Semibold } else { Face::Regular }
}
