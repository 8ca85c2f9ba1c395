//! The order in which a sweep visits the nodes: compact chunks, coloured so that chunks of one colour share no
//! entry. Chunks of a colour can then be swept side by side, and the result is that of one fixed sequence.

use std::ops::Range;

use nalgebra::Point3;
use nalgebra_sparse::pattern::SparsityPattern;

/// Nodes of a chunk: few enough that the chunks of a colour keep all threads busy, else as many as a thread's own cache
/// holds with their surroundings.
const CHUNK: std::ops::RangeInclusive<usize> = 256..=1024;
/// Chunks that are enough.
const CHUNKS: usize = 128;

/// Chunks, colour by colour, and the numbering of the nodes that goes with them.
#[derive(Debug, Clone)]
pub(super) struct SweepOrder {
    /// Old number of each node in the order of the sweep.
    pub(super) order: Vec<u32>,
    /// Place of each old node in the sweep.
    pub(super) place: Vec<u32>,
    /// Places of each chunk; they follow each other.
    pub(super) chunks: Vec<Range<usize>>,
    /// Chunks of each colour; they follow each other.
    pub(super) colours: Vec<Range<usize>>,
    /// The chunks along the curve: neighbours in space follow each other.
    walk: Vec<u32>,
}

impl SweepOrder {
    /// Chunks along a space-filling curve through the nodes of a lower triangle's graph.
    pub(super) fn new(positions: &[Point3<f64>], lower: &SparsityPattern) -> Self {
        let nodes = positions.len();
        let curve = along_curve(positions);
        let size = (nodes / CHUNKS).clamp(*CHUNK.start(), *CHUNK.end());
        let chunk_count = nodes.div_ceil(size);
        let mut chunk_of = vec![0_u32; nodes];
        for (at, &node) in curve.iter().enumerate() {
            chunk_of[node as usize] = (at / size) as u32;
        }
        let colour_of = colour(&neighbours(lower, &chunk_of, chunk_count));
        let colour_count = colour_of.iter().max().map_or(0, |&c| c as usize + 1);

        let mut order = Vec::with_capacity(nodes);
        let mut chunks = Vec::with_capacity(chunk_count);
        let mut colours = Vec::with_capacity(colour_count);
        let mut walk = vec![0; chunk_count];
        for colour in 0..colour_count {
            let first = chunks.len();
            for chunk in (0..chunk_count).filter(|&c| colour_of[c] as usize == colour) {
                let begin = order.len();
                order.extend_from_slice(&curve[chunk * size..nodes.min((chunk + 1) * size)]);
                walk[chunk] = chunks.len() as u32;
                chunks.push(begin..order.len());
            }
            colours.push(first..chunks.len());
        }
        let mut place = vec![0; nodes];
        for (at, &node) in order.iter().enumerate() {
            place[node as usize] = at as u32;
        }
        Self { order, place, chunks, colours, walk }
    }

    /// The chunks of a vector with their first places, along the curve: work that does not care for the order finds
    /// its surroundings in the cache.
    pub(super) fn along<'a, T>(&self, x: &'a mut [T]) -> Vec<(usize, &'a mut [T])> {
        let mut parts = Vec::with_capacity(self.chunks.len());
        let mut rest = x;
        for chunk in &self.chunks {
            let (part, others) = rest.split_at_mut(chunk.len());
            parts.push(Some((chunk.start, part)));
            rest = others;
        }
        self.walk.iter().filter_map(|&chunk| parts[chunk as usize].take()).collect()
    }

    /// Number of nodes.
    pub(super) fn len(&self) -> usize {
        self.order.len()
    }
}

/// Nodes along the Morton curve of their bounding box.
fn along_curve(positions: &[Point3<f64>]) -> Vec<u32> {
    let mut low = Point3::from([f64::INFINITY; 3]);
    let mut high = Point3::from([f64::NEG_INFINITY; 3]);
    for p in positions {
        low = low.inf(p);
        high = high.sup(p);
    }
    let extent = (high - low).max().max(f64::MIN_POSITIVE);
    let mut keyed: Vec<(u64, u32)> = (0..)
        .zip(positions)
        .map(|(node, p)| {
            let cell = (p - low).map(|d| (d / extent * f64::from(1_u32 << 20)) as u64);
            (spread(cell.x) | spread(cell.y) << 1 | spread(cell.z) << 2, node)
        })
        .collect();
    keyed.sort_unstable();
    keyed.into_iter().map(|(_, node)| node).collect()
}

/// The lowest 21 bits, three places apart.
fn spread(bits: u64) -> u64 {
    let mut x = bits & 0x1f_ffff;
    x = (x | x << 32) & 0x001f_0000_0000_ffff;
    x = (x | x << 16) & 0x001f_0000_ff00_00ff;
    x = (x | x << 8) & 0x100f_00f0_0f00_f00f;
    x = (x | x << 4) & 0x10c3_0c30_c30c_30c3;
    (x | x << 2) & 0x1249_2492_4924_9249
}

/// Other chunks that share an entry with each chunk, sorted.
fn neighbours(lower: &SparsityPattern, chunk_of: &[u32], chunks: usize) -> Vec<Vec<u32>> {
    let mut lists = vec![Vec::new(); chunks];
    for row in 0..lower.major_dim() {
        let a = chunk_of[row];
        for &column in lower.lane(row) {
            let b = chunk_of[column];
            // The last one pushed is the most frequent repetition.
            if a != b && lists[a as usize].last() != Some(&b) {
                lists[a as usize].push(b);
                lists[b as usize].push(a);
            }
        }
    }
    for list in &mut lists {
        list.sort_unstable();
        list.dedup();
    }
    lists
}

/// Smallest free colour, chunk by chunk.
fn colour(neighbours: &[Vec<u32>]) -> Vec<u32> {
    let mut colours = vec![u32::MAX; neighbours.len()];
    for (chunk, list) in neighbours.iter().enumerate() {
        let mut taken: Vec<u32> = list.iter().map(|&n| colours[n as usize]).collect();
        taken.sort_unstable();
        taken.dedup();
        let free = (0..).zip(&taken).find(|(c, t)| c != *t).map(|(c, _)| c);
        colours[chunk] = free.unwrap_or(taken.len() as u32);
    }
    colours
}
