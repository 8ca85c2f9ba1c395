//! The order of work: which cases share a mesh, a system or a place of the load, and how a study is split into shards.
//! Depends on the study alone, never on what is done already, so that every run computes a case in the same way.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use gomphosis_solver::Bodies;

use super::space::Cell;
use super::{Reach, Study};

/// Seconds of what a case needs beyond its neighbour: another load, place of the load, system, mesh (measured on a premolar).
const ELASTIC_COST: [f64; 4] = [0.0001, 1.1, 0.6, 0.4];
/// The same between rigid bodies.
const RIGID_COST: [f64; 4] = [0.0001, 0.002, 0.2, 0.4];

/// Cases that share a mesh, sorted so that those with the same system stand together, and among them those with the same
/// place of the load.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Group {
    /// Numbers of the cases, from 0.
    pub(crate) cases: Vec<u32>,
    /// Do its bodies deform? Those of its first case that can be built say so.
    elastic: bool,
}

/// A piece of work: some neighbours of a group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Part {
    /// Number of the group.
    pub(crate) group: usize,
    /// Numbers of the cases, in the group's order.
    pub(crate) cases: Vec<u32>,
}

/// A shard: the K-th of N.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Shard {
    /// From 1.
    pub(crate) number: usize,
    /// How many there are.
    pub(crate) of: usize,
}

impl Shard {
    /// The whole study.
    pub(crate) const WHOLE: Self = Self { number: 1, of: 1 };
    /// Most shards.
    pub(crate) const MOST: usize = 10_000;

    /// From a text such as `2/4`.
    pub(crate) fn parse(text: &str) -> Result<Self, String> {
        let wanted =
            || format!("K/N is wanted with K from 1 to N and N at most {}, for example 2/4", Self::MOST);
        let (number, of) = text.split_once('/').ok_or_else(wanted)?;
        let parse = |text: &str| text.trim().parse::<usize>().map_err(|_| wanted());
        let shard = Self { number: parse(number)?, of: parse(of)? };
        if (1..=Self::MOST).contains(&shard.of) && (1..=shard.of).contains(&shard.number) {
            Ok(shard)
        } else {
            Err(wanted())
        }
    }
}

impl std::fmt::Display for Shard {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

/// The order of work of a study.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    /// Groups in the order of their first cases.
    pub(crate) groups: Vec<Group>,
    /// For each case: what it shares with others of its group (system, place of the load).
    marks: Vec<[u32; 2]>,
}

impl Plan {
    /// Sorts the cases of a study.
    pub(crate) fn new(study: &Study) -> Self {
        let mut known: [BTreeMap<Vec<u64>, u32>; 3] = Default::default();
        let mut groups: Vec<Group> = Vec::new();
        let mut marks = Vec::with_capacity(study.len());
        for case in 0..study.len() {
            let values = study.values(case);
            let [mesh, system, attachment] = [Reach::Mesh, Reach::System, Reach::Attachment].map(|reach| {
                let of_reach = study.axes.iter().zip(&values).filter(|(axis, _)| axis.reach == reach);
                let key: Vec<u64> = of_reach.map(|(_, cell)| bits(cell)).collect();
                let ids = &mut known[reach as usize - 1];
                let next = ids.len() as u32;
                *ids.entry(key).or_insert(next)
            });
            if mesh as usize == groups.len() {
                groups.push(Group { cases: Vec::new(), elastic: true });
            }
            groups[mesh as usize].cases.push(case as u32);
            marks.push([system, attachment]);
        }
        for group in &mut groups {
            group.cases.sort_by_key(|&case| (marks[case as usize], case));
            let first = group.cases.iter().find_map(|&case| study.case(&study.values(case as usize)).ok());
            group.elastic = first.is_none_or(|case| case.bodies == Bodies::Elastic);
        }
        Self { groups, marks }
    }

    /// Number of the system within a study.
    pub(crate) fn system(&self, case: u32) -> u32 {
        self.marks[case as usize][0]
    }

    /// System and place of the load.
    pub(crate) fn station(&self, case: u32) -> [u32; 2] {
        self.marks[case as usize]
    }

    /// Is it costly to go from a case to its neighbour of the same group? Between rigid bodies the place of the load is not.
    pub(crate) fn is_costly(&self, group: usize, from: u32, to: u32) -> bool {
        let elastic = self.groups[group].elastic;
        self.system(from) != self.system(to) || (elastic && self.station(from) != self.station(to))
    }

    /// Costs of the cases of a group, in its order.
    fn costs(&self, group: &Group) -> Vec<f64> {
        let mut before: Option<[u32; 2]> = None;
        group
            .cases
            .iter()
            .map(|&case| {
                let mark = self.station(case);
                let new = match before {
                    None => Reach::Mesh,
                    Some(last) if last[0] != mark[0] => Reach::System,
                    Some(last) if last[1] != mark[1] => Reach::Attachment,
                    Some(_) => Reach::Load,
                };
                before = Some(mark);
                let cost = if group.elastic { ELASTIC_COST } else { RIGID_COST };
                cost[..=new as usize].iter().sum()
            })
            .collect()
    }

    /// The work of a shard.
    pub(crate) fn shard(&self, shard: Shard) -> Vec<Part> {
        if shard.of == 1 {
            return (0..self.groups.len())
                .map(|group| Part { group, cases: self.groups[group].cases.clone() })
                .collect();
        }
        self.dealt(shard.of)
            .into_iter()
            .filter(|(number, _)| *number == shard.number)
            .map(|(_, part)| part)
            .collect()
    }

    /// The shards, of so many, that have any of some cases (growing).
    pub(crate) fn owing(&self, of: usize, cases: &[usize]) -> Vec<usize> {
        if of == 1 {
            return vec![1];
        }
        let has = |part: &Part| part.cases.iter().any(|&case| cases.binary_search(&(case as usize)).is_ok());
        let owing: BTreeSet<usize> =
            self.dealt(of).into_iter().filter(|(_, part)| has(part)).map(|(number, _)| number).collect();
        owing.into_iter().collect()
    }

    /// The work dealt out to several shards. Groups that are a large part of the whole are cut; then each piece, the
    /// dearest first, goes to the shard that has the least to do. Pieces in their order, each with the number of its shard.
    fn dealt(&self, of: usize) -> Vec<(usize, Part)> {
        let costs: Vec<Vec<f64>> = self.groups.iter().map(|group| self.costs(group)).collect();
        let total: f64 = costs.iter().flatten().sum();
        let most = total / (4.0 * of as f64);
        let mut pieces: Vec<(f64, Part)> = Vec::new();
        for (group, costs) in costs.iter().enumerate() {
            let whole: f64 = costs.iter().sum();
            let count = ((whole / most).ceil() as usize).clamp(1, self.groups[group].cases.len());
            let first = costs.first().copied().unwrap_or(0.0);
            // A cut costs a mesh; without gain the group stays whole.
            let count = if whole < 2.0 * first { 1 } else { count };
            let size = self.groups[group].cases.len().div_ceil(count);
            for (cases, costs) in self.groups[group].cases.chunks(size).zip(costs.chunks(size)) {
                let cost = first + costs.iter().skip(1).sum::<f64>();
                pieces.push((cost, Part { group, cases: cases.to_vec() }));
            }
        }
        let mut order: Vec<usize> = (0..pieces.len()).collect();
        order.sort_by(|&a, &b| pieces[b].0.total_cmp(&pieces[a].0).then(a.cmp(&b)));
        // What a shard has to do (seconds, never negative: such numbers are ordered as their bits are), and its number.
        let mut loads: BinaryHeap<Reverse<(u64, usize)>> =
            (1..=of).map(|number| Reverse((0.0_f64.to_bits(), number))).collect();
        let mut owners = vec![0; pieces.len()];
        for piece in order {
            let mut least = loads.peek_mut().expect("there is a shard");
            let Reverse((load, number)) = *least;
            owners[piece] = number;
            *least = Reverse(((f64::from_bits(load) + pieces[piece].0).to_bits(), number));
        }
        owners.into_iter().zip(pieces.into_iter().map(|(_, part)| part)).collect()
    }
}

/// Cuts parts in two until there is one for each worker. A cut costs a mesh, so what is cut must have several costly steps;
/// rows are the same however they are cut.
pub(crate) fn for_workers(plan: &Plan, mut parts: Vec<Part>, workers: usize) -> Vec<Part> {
    const FEWEST_STEPS: usize = 4;
    while parts.len() < workers {
        let steps = |part: &Part| -> Vec<usize> {
            let costly = |k: &usize| plan.is_costly(part.group, part.cases[k - 1], part.cases[*k]);
            (1..part.cases.len()).filter(costly).collect()
        };
        let longest = (0..parts.len()).max_by_key(|&k| steps(&parts[k]).len());
        let Some(longest) = longest else { break };
        let cuts = steps(&parts[longest]);
        if cuts.len() + 1 < FEWEST_STEPS {
            break;
        }
        let middle = cuts[cuts.len() / 2];
        let rest = parts[longest].cases.split_off(middle);
        let group = parts[longest].group;
        parts.insert(longest + 1, Part { group, cases: rest });
    }
    parts
}

/// A value as bits, equal for equal values.
fn bits(cell: &Cell) -> u64 {
    match cell {
        Cell::Number(value) => value.to_bits(),
        Cell::Word(word) => word.bytes().fold(0xcbf2_9ce4_8422_2325, |hash: u64, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        }),
    }
}
