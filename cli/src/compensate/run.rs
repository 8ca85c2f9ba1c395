//! Computes the findings: for each tooth one elastic case, then rigid ones for the spread and for lost bone.

use gomphosis_mesh_gen::{DEFAULT_ELEMENT_SIZE_MM, mesh_tooth};
use gomphosis_solver::{Bodies, Material, PUBLISHED_LIGAMENTS, PlanarResistance, Plane, solve_unit_loads};

use super::spread::{self, ATTACHMENT_MM, CREST_MM, DRAWN, DRAWS, HEIGHTS};
use super::{Finding, Numbers, Source, Spread};
use crate::accuracy::Accuracy;
use crate::case::Case;
use crate::commands;
use crate::exit::Failure;
use crate::study::missing;
use crate::study::sample::{Design, Sample};
use crate::study::sensitivity::percentile;
use crate::study::watch::Watch;
use crate::study::workers;

/// Bone lost beyond the case's own, mm.
const LOSSES_MM: [f64; 4] = [1.0, 2.0, 4.0, 6.0];
/// Share of the root in the bone that may be lost.
const MOST_LOSS: f64 = 0.6;
/// Share of a sample that an interval holds, where it has teeth enough.
const HELD: f64 = 0.9;
/// Teeth from which the ends of the middle 90 % are more than the smallest and largest: two lie beyond each.
const ENOUGH: usize = 40;
/// Layers of elements through the ligament where only the spread is read: one changes the tip per millimetre of an incisor, a
/// premolar and a molar by less than 0.1 % at Poisson ratios from 0.3 to 0.49.
const SPREAD_LAYERS: u32 = 1;
/// Element size where only the spread is read, mm: the root is meshed as at the default, crown and bone, which do not deform
/// there, with fewer elements.
const SPREAD_SIZE_MM: f64 = 3.0;

/// How to compute.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Options {
    /// Teeth drawn for each tooth.
    pub(crate) samples: usize,
    /// Seed of the draws.
    pub(crate) seed: u64,
    /// Threads.
    pub(crate) threads: usize,
}

/// What a computation is for.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Purpose {
    Centre,
    Rigid,
    Crest,
    ShortRoot,
    Loss(f64),
    Anatomy(usize),
    All(usize),
}

/// One tooth to mesh, with one or more ligaments.
#[derive(Debug, Clone)]
struct Job {
    tooth: usize,
    purpose: Purpose,
    case: Case,
    laws: Vec<Material>,
}

/// What a job gave.
struct Solved {
    resistances: Vec<PlanarResistance>,
    cusp_mm: f64,
    error_percent: [Option<f64>; 5],
}

/// Number of jobs of a tooth, so that progress has an end.
fn jobs(tooth: usize, case: &Case, options: &Options) -> Vec<Job> {
    let job = |purpose, case: Case, bodies| {
        let laws = vec![case.materials.ligament];
        let mut case = case;
        case.bodies = bodies;
        Job { tooth, purpose, case, laws }
    };
    let rigid = |purpose, case: Case| {
        let mut case = case;
        if purpose != Purpose::Rigid {
            case.specimen.ligament.layers = SPREAD_LAYERS;
            let size = &mut case.specimen.mesh.element_size_mm;
            if *size >= DEFAULT_ELEMENT_SIZE_MM {
                *size = size.max(SPREAD_SIZE_MM);
            }
        }
        job(purpose, case, Bodies::Rigid)
    };
    let mut all =
        vec![job(Purpose::Centre, case.clone(), Bodies::Elastic), rigid(Purpose::Rigid, case.clone())];
    // Beside its own ligament, those of the literature.
    all[1].laws.extend(PUBLISHED_LIGAMENTS.map(|set| set.material));
    for level in CREST_MM {
        all.push(rigid(Purpose::Crest, spread::with_crest(case, level)));
    }
    all.push(rigid(Purpose::ShortRoot, spread::with_short_root(case)));
    let root = case.specimen.bony_root_mm();
    for loss in LOSSES_MM.into_iter().filter(|loss| *loss <= MOST_LOSS * root) {
        all.push(rigid(Purpose::Loss(loss), spread::with_loss(case, loss)));
    }
    let sample = sample(options);
    for k in 0..options.samples {
        let shares = std::array::from_fn(|key| sample.share(k, key));
        all.push(rigid(Purpose::Anatomy(k), spread::anatomy(case, &shares)));
        let mut together = rigid(Purpose::All(k), spread::with_sizes_and_crest(case, &shares));
        together.laws = PUBLISHED_LIGAMENTS.map(|set| set.material).to_vec();
        all.push(together);
    }
    all
}

/// The computations that some teeth need.
pub(crate) struct Work<'a> {
    cases: &'a [Case],
    jobs: Vec<Job>,
    options: Options,
}

impl<'a> Work<'a> {
    /// Lists them.
    pub(crate) fn new(cases: &'a [Case], options: &Options) -> Self {
        let jobs = cases.iter().enumerate().flat_map(|(tooth, case)| jobs(tooth, case, options)).collect();
        Self { cases, jobs, options: *options }
    }

    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        self.jobs.len()
    }

    /// Computes the findings, tooth by tooth.
    pub(crate) fn run(&self, watch: &Watch<'_>) -> Result<Vec<Finding>, Failure> {
        // Tooth by tooth: each begins with its elastic case, so that the time left can be told from the rate.
        let order: Vec<&Job> = self.jobs.iter().collect();
        let solved = workers::each(&order, self.options.threads, |job| {
            if watch.is_over() {
                return Err("stopped".to_owned());
            }
            let solved = solve(job, watch);
            watch.kept(1, usize::from(solved.is_err()));
            solved
        })?;
        if watch.is_over() {
            return Err(Failure::Interrupted);
        }
        let results: Vec<(&Job, Result<Solved, String>)> = order.into_iter().zip(solved).collect();
        self.cases
            .iter()
            .enumerate()
            .map(|(tooth, case)| {
                // The order of a tooth's own jobs is that of the list.
                let mine: Vec<(&Job, &Result<Solved, String>)> =
                    results.iter().filter(|(job, _)| job.tooth == tooth).map(|(job, r)| (*job, r)).collect();
                finding(case, &mine, &self.options)
            })
            .collect()
    }
}

fn solve(job: &Job, watch: &Watch<'_>) -> Result<Solved, String> {
    job.case.specimen.check().map_err(|e| e.to_string())?;
    let tooth = mesh_tooth(&job.case.specimen, watch).map_err(|e| e.to_string())?;
    let mut resistances = Vec::with_capacity(job.laws.len());
    let mut error_percent = [None; 5];
    for (k, law) in job.laws.iter().enumerate() {
        // Between rigid bodies a modulus only scales the motion: ratios stay.
        let same = job.laws[..k].iter().position(|before| {
            job.case.bodies == Bodies::Rigid && before.poisson_ratio.to_bits() == law.poisson_ratio.to_bits()
        });
        if let Some(same) = same {
            resistances.push(resistances[same]);
            continue;
        }
        let mut case = job.case.clone();
        case.materials.ligament = *law;
        let problem = commands::problem(&case, &tooth);
        let solutions = solve_unit_loads(&problem, watch).map_err(|e| e.to_string())?;
        if k == 0 && case.bodies == Bodies::Elastic {
            // The error of a push without torque.
            case.load = crate::case::LoadSpec { force_n: 1.0, torque_nmm: 0.0 };
            let accuracy =
                Accuracy::estimate(&case, &tooth, &problem, &solutions).map_err(|e| e.to_string())?;
            error_percent = [
                "tip_deg_per_mm_attachment",
                "tip_deg_per_mm_cusp_tip",
                "tip_deg_per_mm_crest",
                "torque_for_translation_mm",
                "travel_left_percent",
            ]
            .map(|name| accuracy.percent(Plane::BuccoLingual, name));
        }
        resistances.push(PlanarResistance::new(&solutions.compliance, Plane::BuccoLingual));
    }
    Ok(Solved { resistances, cusp_mm: tooth.landmarks.cusp_tip.z, error_percent })
}

pub(super) fn numbers(resistance: &PlanarResistance, height_mm: f64, cusp_mm: f64) -> Numbers {
    let tip_rates = [height_mm, cusp_mm, 0.0].map(|at| resistance.compensation_deg_per_mm(height_mm, at));
    let lever = resistance.torque_for_translation_mm(height_mm);
    let depth = resistance.centre_depth_mm();
    Numbers {
        tip_rates,
        translation_mm: lever,
        travel_left_percent: 100.0 * resistance.travel_left(height_mm),
        rotation_depth_mm: depth + resistance.sigma_squared_mm2() / lever,
        resistance_depth_mm: depth,
        heights_mm: [height_mm, cusp_mm],
    }
}

fn of(job: &Job, solved: &Solved) -> Numbers {
    numbers(&solved.resistances[0], job.case.specimen.attachment.height_mm, solved.cusp_mm)
}

/// The numbers of a drawn tooth with each of its ligaments at each height of the attachment.
fn each(job: &Job, solved: &Solved) -> impl Iterator<Item = Numbers> {
    let height = job.case.specimen.attachment.height_mm;
    let heights = spread::heights();
    solved
        .resistances
        .iter()
        .flat_map(move |resistance| heights.map(|up| numbers(resistance, height + up, solved.cusp_mm)))
}

/// The draws of a tooth.
fn sample(options: &Options) -> Sample {
    Sample::new(Design::LatinHypercube, DRAWS, options.samples, options.seed)
}

fn finding(
    case: &Case,
    mine: &[(&Job, &Result<Solved, String>)],
    options: &Options,
) -> Result<Finding, Failure> {
    let one = |purpose: Purpose| {
        let found = mine.iter().find(|(job, _)| job.purpose == purpose);
        found.ok_or_else(|| Failure::NoResult("no result".to_owned())).and_then(
            |(job, solved)| match solved {
                Ok(solved) => Ok((*job, solved)),
                Err(reason) => Err(Failure::NoResult(format!("{}: {reason}", case.title()))),
            },
        )
    };
    let (job, elastic) = one(Purpose::Centre)?;
    let centre = of(job, elastic);
    let (job, rigid) = one(Purpose::Rigid)?;
    let base = of(job, rigid);
    let rigid_percent =
        (0..3).map(|k| 100.0 * (base.tip_rates[k] / centre.tip_rates[k] - 1.0).abs()).fold(0.0, f64::max);
    let height = case.specimen.attachment.height_mm;
    let gather = |purpose: Purpose| -> Vec<Numbers> {
        mine.iter()
            .filter(|(job, _)| job.purpose == purpose)
            .filter_map(|(job, solved)| solved.as_ref().ok().map(|solved| of(job, solved)))
            .collect()
    };
    let mut crest = gather(Purpose::Crest);
    crest.push(base);
    let ligament: Vec<Numbers> =
        rigid.resistances.iter().map(|resistance| numbers(resistance, height, rigid.cusp_mm)).collect();
    // The range itself, both ends among them.
    let attachment: Vec<Numbers> = (0..HEIGHTS)
        .map(|k| ATTACHMENT_MM * (2.0 * k as f64 / (HEIGHTS - 1) as f64 - 1.0))
        .map(|up| numbers(&rigid.resistances[0], height + up, rigid.cusp_mm))
        .collect();
    let drawn =
        mine.iter().filter_map(|(job, solved)| solved.as_ref().ok().map(|solved| (job.purpose, job, solved)));
    let (mut anatomy, mut all) = (Vec::new(), Vec::new());
    for (purpose, job, solved) in drawn {
        match purpose {
            Purpose::Anatomy(_) => anatomy.push(of(job, solved)),
            Purpose::All(_) => all.extend(each(job, solved)),
            _ => {}
        }
    }
    let teeth_of_all = all.len() / (PUBLISHED_LIGAMENTS.len() * HEIGHTS);
    let sample = sample(options);
    let lost = mine.iter().filter_map(|(job, solved)| match (job.purpose, solved) {
        (Purpose::All(k), Err(reason)) => {
            Some((reason.as_str(), (0..DRAWS).map(|key| sample.share(k, key)).collect()))
        }
        _ => None,
    });
    let dropped = missing::by_cause(&DRAWN, lost);
    let spreads = Source::ALL.map(|source| match source {
        Source::All => held(&all, teeth_of_all),
        Source::Anatomy => held(&anatomy, anatomy.len()),
        // Few cases that stand for the ends themselves.
        Source::Crest => ends(&crest, crest.len()),
        Source::Ligament => ends(&ligament, 1),
        Source::Attachment => ends(&attachment, 1),
    });
    let short_root = gather(Purpose::ShortRoot).pop();
    let mut losses = vec![(0.0, base)];
    losses.extend(mine.iter().filter_map(|(job, solved)| match (job.purpose, solved) {
        (Purpose::Loss(loss), Ok(solved)) => Some((loss, of(job, solved))),
        _ => None,
    }));
    Ok(Finding {
        case: case.clone(),
        centre,
        error_percent: elastic.error_percent,
        rigid_percent,
        spreads,
        losses,
        short_root,
        dropped,
    })
}

/// Share that the interval of a sample of so many teeth holds: the middle, or all where they are few.
pub(super) fn share_held(teeth: usize) -> f64 {
    if teeth < ENOUGH { 1.0 } else { HELD }
}

/// The middle of a sample.
fn held(cases: &[Numbers], teeth: usize) -> Spread {
    let outside = 0.5 * (1.0 - share_held(teeth));
    spread_between(cases, teeth, [outside, 1.0 - outside])
}

/// Smallest and largest.
fn ends(cases: &[Numbers], teeth: usize) -> Spread {
    spread_between(cases, teeth, [0.0, 1.0])
}

fn spread_between(cases: &[Numbers], teeth: usize, shares: [f64; 2]) -> Spread {
    let between = |of: &dyn Fn(&Numbers) -> f64| {
        let mut sorted: Vec<f64> = cases.iter().map(of).filter(|v| v.is_finite()).collect();
        sorted.sort_by(f64::total_cmp);
        shares.map(|share| percentile(&sorted, share))
    };
    Spread {
        tip_rates: std::array::from_fn(|k| between(&|n: &Numbers| n.tip_rates[k])),
        translation_mm: between(&|n: &Numbers| n.translation_mm),
        travel_left_percent: between(&|n: &Numbers| n.travel_left_percent),
        teeth,
        cases: cases.len(),
    }
}
