//! The command line: what can be typed, and the help that explains it.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::study::plan::Shard;

use crate::figure::{Format, Kind, Language, Size, Spot, Theme};

/// How a tooth moves in its ligament when its crown is pushed.
#[derive(Debug, Parser)]
#[command(
    name = "gomphosis",
    version,
    about = "How a tooth moves in its ligament when its crown is pushed",
    long_about = "How a tooth moves in its ligament when its crown is pushed.\n\n\
        Gomphosis builds a finite-element mesh of one tooth in its socket (tooth, periodontal ligament, \
        cancellous and cortical bone), solves six unit loads once, and combines them into any force, height \
        and torque: centre of resistance, centre of rotation, degrees of tip for each millimetre of travel, \
        the torque that makes the tooth translate, and the pressure in the ligament.\n\n\
        The tooth frame has its origin on the long axis at the alveolar crest: x to buccal, y to mesial, \
        z to occlusal. Units are mm, N, MPa and degrees. Buccal root torque is positive when it drives the \
        root to buccal.\n\n\
        It is a model for research and teaching, not a medical device: it knows no biology, no time and no \
        patient. Thin buccal bone, roots and gums can be harmed by tooth movement; licensed clinicians and \
        local rules decide.",
    after_long_help = AFTER_HELP,
    max_term_width = 100,
    propagate_version = false
)]
pub(crate) struct Cli {
    #[command(subcommand)]
    pub(crate) command: Command,
}

const AFTER_HELP: &str = "\
A case is one tooth in a TOML file. Every key has a default from the handbook sizes of the tooth, so
  tooth = \"upper first premolar\"
alone is a valid case. The name of a tooth or its number may stand for a CASE: ISO 3950 (14), Universal (universal:5),
or a quadrant with the place in it (UR4). A bare number is always ISO 3950.

Examples:
  gomphosis map                                      the built-in upper first premolar
  gomphosis map 16 --bodies rigid --out molar        an upper first molar, fast tier
  gomphosis map canine.toml --set bone.loss_mm=4     a case of your own, with one value changed
  gomphosis solve 11 --set load.torque_nmm=8 --json  one load, the whole result as JSON
  gomphosis mesh \"lower first molar\" --out 36.vtu   the mesh and its quality
  gomphosis figure section 13 --size slide --theme dark --out canine.pdf
                                                     one figure, for a slide
  gomphosis sweep study.toml --out results           many cases, one row each
  gomphosis report canine.toml --out canine.html     case, results with their errors and figures in one file
  gomphosis lesson 14 16 --bone-loss 4               a page for students, with and without bone
  gomphosis compensate --all --out rule              the rule of five degrees, all teeth
  gomphosis case 14 > premolar.toml                  every key with its default, ready to edit
  gomphosis teeth                                    the sixteen teeth and their sizes
  gomphosis verify                                   the program against known answers, as a table
  gomphosis validate                                 the model beside published values

Results go to standard output or to the files named with --out (- is standard output); everything else to
standard error. A file that this program did not make is not replaced without --force, and the file that a case
or study is read from never. Devices and pipes are written to, symbolic links are followed.

Exit status:
  0    the work was done
  1    the work was done, but a check of the result failed
  2    the command line or the case is wrong; nothing was written
  3    the mesher or the solver found no result
  4    a file could not be read or written
  129  stopped by a hangup (SIGHUP); nothing half-written is left behind
  130  stopped from the keyboard (SIGINT); nothing half-written is left behind
  143  stopped by another program (SIGTERM); nothing half-written is left behind
  153  stopped by a limit on the size of files (SIGXFSZ); nothing half-written is left behind";

/// The commands.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Map of the centre of rotation over attachment height and torque, with figures
    #[command(long_about = "Map of the centre of rotation over attachment height and torque.\n\n\
        Writes map.csv, result.json, case.toml and the figures (SVG and PNG) into a directory, and prints the \
        headline numbers. Without CASE, a built-in upper first premolar. With --json and without --out \
        nothing is written but the JSON document.")]
    Map(MapArgs),
    /// One load: motion, centres, compliance, ligament stress
    Solve(SolveArgs),
    /// Any one figure, for a slide, a column or a page, light or dark
    #[command(long_about = "Any one figure, for a slide, a column or a page, light or dark.\n\n\
        A slide is 13.33 inches wide (16:9), a column 85 mm and without a title, since the caption has it. Colours keep \
        their meaning on both grounds. A PDF has its letters embedded; an SVG names them.")]
    Figure(FigureArgs),
    /// A page for students: move the attachment and the torque, and see where the tooth turns
    #[command(
        long_about = "A page for students: move the attachment and the torque, and see where the tooth turns.\n\n\
        One HTML file that needs nothing else. It holds the six solutions of each tooth and computes every load from them: \
        the section with the ligament's pressure, the curve of the centre of rotation, the map, a view in space, and guided \
        questions with answers from the model. Without CASE, the built-in upper first premolar, healthy and with 4 mm of \
        bone loss."
    )]
    Lesson(LessonArgs),
    /// A report to attach to a paper: every parameter with its source, results with their errors, figures
    #[command(
        long_about = "A report to attach to a paper: every parameter with its source, results with their errors, figures.\n\n\
        One HTML file that prints well: the case with every value and where it comes from, the mesh and its quality, the \
        checks of the run, results in both planes with the estimated error of the mesh, figures, what the model leaves out, \
        and the commands that make everything again. It holds no date and no time: the same case gives the same file."
    )]
    Report(ReportArgs),
    /// The mesh and its quality
    Mesh(MeshArgs),
    /// Many cases: any key of a case over lists, ranges, grids or distributions
    #[command(long_about = "Many cases: any key of a case over lists, ranges, grids or distributions.\n\n\
        Runs the cases of a study file and writes one row a case, with every headline number and the error of its mesh, as \
        table.csv and table.parquet, and the study's figures. Finished cases are kept as they finish: after a kill, a full \
        disk or an interrupt, --resume goes on and ends with the same bytes. A case that fails is a row with its reason. \
        With --shard the cases are split over several processes or machines; `gomphosis gather` joins them.")]
    Sweep(SweepArgs),
    /// Join the shards of a study, check that none is missing, and write its tables and figures
    Gather(GatherArgs),
    /// Root torque for each millimetre of expansion per side, tooth by tooth, against the rule of five degrees
    #[command(
        long_about = "Root torque for each millimetre of expansion per side, tooth by tooth, against the rule of five degrees.\n\n\
        For each tooth: the tip of a push without torque for each mm that the attachment, the cusp tip and the crest travel, \
        which is the root torque that undoes it; the torque that makes the tooth translate, and how much of the travel it leaves \
        under the same push; the spread of these numbers over \
        anatomy, level of the crest, ligament and height of the attachment; and a sentence on where the rule of five degrees \
        holds, where it fails, by how much and why. Assumed: the appliance delivers the push but not the couple, and the \
        aligner's own stiffness is not in the model. Without CASE, the built-in upper first premolar; all sixteen teeth take a \
        few minutes.\n\n\
        It is a model for research and teaching, not a medical device; a number of degrees from it is no prescription. Thin \
        buccal bone, roots and gums can be harmed; licensed clinicians and local rules decide."
    )]
    Compensate(CompensateArgs),
    /// Print a complete case file, every default written out
    Case(CaseArgs),
    /// List the teeth that are known, with their sizes
    Teeth(TeethArgs),
    /// Check the program on this machine against answers known without it
    #[command(long_about = "Check the program on this machine against answers known without it.\n\n\
        Runs the verification cases (closed forms, handbook benchmarks, an independent axisymmetric computation, \
        identities of mechanics) and prints for each comparison what was expected, what came out, the error, its \
        tolerance and, where a series of meshes was run, the observed order of convergence. Takes about a minute. A \
        comparison outside its tolerance gives exit status 1.")]
    Verify(VerifyArgs),
    /// Set the model beside published positions, movements and sizes
    #[command(long_about = "Set the model beside published positions, movements and sizes.\n\n\
        Rebuilds the teeth of each source, with the source's own parameters where they are known, and prints for each \
        value what is published, what comes out here, and whether that lies inside the published band. A value outside \
        is a finding, not a failure: the exit status is 0, and --markdown and --json tell the likely reason. Takes about a \
        minute.")]
    Validate(ValidateArgs),
}

/// What to run, and how.
#[derive(Debug, Clone, Args)]
pub(crate) struct CaseOptions {
    /// Case file (TOML), or a tooth's name or number: ISO 3950 (14), universal:5, UR4
    #[arg(value_name = "CASE")]
    pub(crate) case: Option<PathBuf>,
    /// A tooth by name or number, without a file
    #[arg(long, value_name = "NAME", conflicts_with = "case", help_heading = "Case")]
    pub(crate) tooth: Option<String>,
    /// Change one key of the case, for example `--set root.length_mm=12`; may be repeated
    #[arg(long, value_name = "KEY=VALUE", help_heading = "Case")]
    pub(crate) set: Vec<String>,
    /// Which bodies deform: elastic (the reference) or rigid (ligament only, fast)
    #[arg(long, value_name = "BODIES", help_heading = "Case")]
    pub(crate) bodies: Option<String>,
    /// Element of the ligament; `displacement` is the plain one, for comparison with other programs
    #[arg(long, value_name = "ELEMENT", help_heading = "Case")]
    pub(crate) formulation: Option<String>,
    /// Threads, at most 16 or 4 a processor; the result does not depend on it
    #[arg(long, value_name = "N", value_parser = threads, help_heading = "Running")]
    pub(crate) threads: Option<u16>,
}

/// Threads that are allowed for each processor. More only wait for each other, and each holds memory of its own.
const THREADS_A_PROCESSOR: usize = 4;
/// Threads that are allowed on the smallest machine, so that one command line serves several machines.
const THREADS_ALWAYS: usize = 16;

/// Most threads that a command may use on a machine with some processors.
fn most_threads(processors: usize) -> usize {
    THREADS_ALWAYS.max(THREADS_A_PROCESSOR.saturating_mul(processors)).min(usize::from(u16::MAX))
}

fn threads(text: &str) -> Result<u16, String> {
    let processors = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let most = most_threads(processors);
    let number = text.trim().parse().ok().filter(|n| (1..=most).contains(&usize::from(*n)));
    number.ok_or_else(|| {
        let has = if processors == 1 { "1 processor".to_owned() } else { format!("{processors} processors") };
        format!("a whole number from 1 to {most} is wanted (this machine has {has})")
    })
}

/// Travel that a picture is drawn for, mm.
fn drawn_travel(text: &str) -> Result<f64, String> {
    let number = text.trim().parse().ok().filter(|mm| (0.01..=10.0).contains(mm));
    number.ok_or_else(|| "a number of mm from 0.01 to 10 is wanted".to_owned())
}

/// How to report.
#[derive(Debug, Args)]
pub(crate) struct ReportOptions {
    /// Print one JSON document on standard output and nothing else
    #[arg(long, help_heading = "Running")]
    pub(crate) json: bool,
    /// No progress and no notes on standard error
    #[arg(long, short, help_heading = "Running")]
    pub(crate) quiet: bool,
}

/// What may be replaced.
#[derive(Debug, Clone, Copy, Args)]
pub(crate) struct WriteOptions {
    /// Replace files that are there already and that this program did not make
    #[arg(long, help_heading = "Running")]
    pub(crate) force: bool,
}

/// `gomphosis map`.
#[derive(Debug, Args)]
pub(crate) struct MapArgs {
    #[command(flatten)]
    pub(crate) case: CaseOptions,
    /// Directory for map.csv, result.json, case.toml and the figures
    #[arg(long, value_name = "DIR", help = "Directory for the results [default: gomphosis-out]")]
    pub(crate) out: Option<PathBuf>,
    /// Solve on two finer meshes too, and report the observed order and the grid convergence index
    #[arg(long, help_heading = "Running")]
    pub(crate) verify: bool,
    #[command(flatten)]
    pub(crate) write: WriteOptions,
    #[command(flatten)]
    pub(crate) report: ReportOptions,
}

/// `gomphosis solve`.
#[derive(Debug, Args)]
pub(crate) struct SolveArgs {
    #[command(flatten)]
    pub(crate) case: CaseOptions,
    /// Write the result as JSON
    #[arg(long, value_name = "FILE.json")]
    pub(crate) out: Option<PathBuf>,
    /// Write mesh, unit loads and unit motions as a VTK XML unstructured grid
    #[arg(long, value_name = "FILE.vtu")]
    pub(crate) export: Option<PathBuf>,
    /// Solve on two finer meshes too, and report the observed order and the grid convergence index
    #[arg(long, help_heading = "Running")]
    pub(crate) verify: bool,
    #[command(flatten)]
    pub(crate) write: WriteOptions,
    #[command(flatten)]
    pub(crate) report: ReportOptions,
}

/// `gomphosis figure`.
#[derive(Debug, Args)]
pub(crate) struct FigureArgs {
    /// Which figure
    #[arg(value_name = "KIND", value_enum)]
    pub(crate) kind: Kind,
    #[command(flatten)]
    pub(crate) case: CaseOptions,
    /// File; its ending says the format [default: KIND.svg]
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Enlarge the movement so that a place of the tooth travels this far, mm (section and movement; in a movement under the
    /// push without torque)
    #[arg(long, value_name = "MM", value_parser = drawn_travel, allow_negative_numbers = true, help_heading = "Look")]
    pub(crate) for_mm: Option<f64>,
    /// The place that travels so far, on the long axis
    #[arg(
        long,
        value_enum,
        value_name = "PLACE",
        default_value_t,
        requires = "for_mm",
        help_heading = "Look"
    )]
    pub(crate) at: Spot,
    /// Format of the file, where its name does not end in it
    #[arg(long, value_enum, value_name = "FORMAT", help_heading = "Look")]
    pub(crate) format: Option<Format>,
    /// Figure `lines`: a column of the study's table to draw, for example `--y bucco_lingual_tip_deg`; may be repeated
    #[arg(long, value_name = "COLUMN", help_heading = "Look")]
    pub(crate) y: Vec<String>,
    /// What it is made for
    #[arg(long, value_enum, value_name = "SIZE", default_value_t, help_heading = "Look")]
    pub(crate) size: Size,
    /// The ground it stands on
    #[arg(long, value_enum, value_name = "THEME", default_value_t, help_heading = "Look")]
    pub(crate) theme: Theme,
    /// Language of its labels
    #[arg(long, value_enum, value_name = "LANGUAGE", default_value_t, help_heading = "Look")]
    pub(crate) language: Language,
    #[command(flatten)]
    pub(crate) write: WriteOptions,
    /// No progress and no notes on standard error
    #[arg(long, short, help_heading = "Running")]
    pub(crate) quiet: bool,
}

/// `gomphosis lesson`.
#[derive(Debug, Args)]
pub(crate) struct LessonArgs {
    /// Teeth to choose from: case files (TOML), names or ISO 3950 numbers, for example `14 16 13 11`
    #[arg(value_name = "CASE")]
    pub(crate) cases: Vec<PathBuf>,
    /// File
    #[arg(long, value_name = "FILE.html", help = "File [default: lesson.html]")]
    pub(crate) out: Option<PathBuf>,
    /// Show each tooth with this much bone loss too, mm
    #[arg(long = "bone-loss", value_name = "MM", help_heading = "Case")]
    pub(crate) bone_loss_mm: Option<f64>,
    /// Change one key of every case, for example `--set ligament.thickness_mm=0.25`; may be repeated
    #[arg(long, value_name = "KEY=VALUE", help_heading = "Case")]
    pub(crate) set: Vec<String>,
    /// Which bodies deform: elastic (the reference) or rigid (ligament only, fast)
    #[arg(long, value_name = "BODIES", help_heading = "Case")]
    pub(crate) bodies: Option<String>,
    /// Language of the page
    #[arg(long, value_enum, value_name = "LANGUAGE", default_value_t, help_heading = "Look")]
    pub(crate) language: Language,
    /// Threads, at most 16 or 4 a processor; the result does not depend on it
    #[arg(long, value_name = "N", value_parser = threads, help_heading = "Running")]
    pub(crate) threads: Option<u16>,
    #[command(flatten)]
    pub(crate) write: WriteOptions,
    /// No progress and no notes on standard error
    #[arg(long, short, help_heading = "Running")]
    pub(crate) quiet: bool,
}

/// `gomphosis report`.
#[derive(Debug, Args)]
pub(crate) struct ReportArgs {
    #[command(flatten)]
    pub(crate) case: CaseOptions,
    /// File
    #[arg(long, value_name = "FILE.html", help = "File [default: report.html]")]
    pub(crate) out: Option<PathBuf>,
    /// Solve on two finer meshes too, and report the observed order and the grid convergence index
    #[arg(long, help_heading = "Running")]
    pub(crate) verify: bool,
    #[command(flatten)]
    pub(crate) write: WriteOptions,
    /// No progress and no notes on standard error
    #[arg(long, short, help_heading = "Running")]
    pub(crate) quiet: bool,
}

/// `gomphosis mesh`.
#[derive(Debug, Args)]
pub(crate) struct MeshArgs {
    #[command(flatten)]
    pub(crate) case: CaseOptions,
    /// Write the mesh as a VTK XML unstructured grid
    #[arg(long, value_name = "FILE.vtu")]
    pub(crate) out: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) write: WriteOptions,
    #[command(flatten)]
    pub(crate) report: ReportOptions,
}

/// `gomphosis sweep`.
#[derive(Debug, Args)]
pub(crate) struct SweepArgs {
    /// Study file (TOML)
    #[arg(value_name = "STUDY")]
    pub(crate) study: PathBuf,
    /// Directory for the results [default: the name of the study file without its extension]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Go on with the cases that an earlier run left
    #[arg(long, conflicts_with = "restart", help_heading = "Running")]
    pub(crate) resume: bool,
    /// Forget the cases that are there and begin anew
    #[arg(long, help_heading = "Running")]
    pub(crate) restart: bool,
    /// Run the K-th of N parts of the study, for example 2/4
    #[arg(long, value_name = "K/N", value_parser = Shard::parse, help_heading = "Running")]
    pub(crate) shard: Option<Shard>,
    /// Only say what would be run
    #[arg(long, help_heading = "Running")]
    pub(crate) dry_run: bool,
    /// The tables to write
    #[arg(long, value_name = "FORMAT", value_enum, default_value_t = Tables::Both)]
    pub(crate) format: Tables,
    /// A column of the table to draw in the figure of lines, for example `--y bucco_lingual_tip_deg`; may be repeated
    #[arg(long, value_name = "COLUMN")]
    pub(crate) y: Vec<String>,
    /// Threads, at most 16 or 4 a processor; the result does not depend on it
    #[arg(long, value_name = "N", value_parser = threads, help_heading = "Running")]
    pub(crate) threads: Option<u16>,
    #[command(flatten)]
    pub(crate) write: WriteOptions,
    #[command(flatten)]
    pub(crate) report: ReportOptions,
}

/// `gomphosis gather`.
#[derive(Debug, Args)]
pub(crate) struct GatherArgs {
    /// Directories that hold parts of the study; the first receives the tables
    #[arg(value_name = "DIR", required = true)]
    pub(crate) directories: Vec<PathBuf>,
    /// The tables to write
    #[arg(long, value_name = "FORMAT", value_enum, default_value_t = Tables::Both)]
    pub(crate) format: Tables,
    /// A column of the table to draw in the figure of lines, for example `--y bucco_lingual_tip_deg`; may be repeated
    #[arg(long, value_name = "COLUMN")]
    pub(crate) y: Vec<String>,
    #[command(flatten)]
    pub(crate) write: WriteOptions,
    #[command(flatten)]
    pub(crate) report: ReportOptions,
}

/// `gomphosis compensate`.
#[derive(Debug, Args)]
pub(crate) struct CompensateArgs {
    /// Case files (TOML), or teeth by name or ISO 3950 number
    #[arg(value_name = "CASE")]
    pub(crate) cases: Vec<PathBuf>,
    /// All sixteen teeth
    #[arg(long, conflicts_with = "cases")]
    pub(crate) all: bool,
    /// Change one key of every case, for example `--set bone.loss_mm=2`; may be repeated
    #[arg(long, value_name = "KEY=VALUE", help_heading = "Case")]
    pub(crate) set: Vec<String>,
    /// Teeth drawn for the spread of each tooth
    #[arg(long, value_name = "N", default_value_t = 64, value_parser = clap::value_parser!(u16).range(4..=4096))]
    pub(crate) samples: u16,
    /// Seed of the draws
    #[arg(long, value_name = "SEED", default_value_t = 1)]
    pub(crate) seed: u32,
    /// Directory for compensation.csv, compensation.json and the figure
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// What the figure is made for
    #[arg(long, value_enum, value_name = "SIZE", default_value_t, help_heading = "Look")]
    pub(crate) size: Size,
    /// The ground the figure stands on
    #[arg(long, value_enum, value_name = "THEME", default_value_t, help_heading = "Look")]
    pub(crate) theme: Theme,
    /// Threads, at most 16 or 4 a processor; the result does not depend on it
    #[arg(long, value_name = "N", value_parser = threads, help_heading = "Running")]
    pub(crate) threads: Option<u16>,
    #[command(flatten)]
    pub(crate) write: WriteOptions,
    #[command(flatten)]
    pub(crate) report: ReportOptions,
}

/// The tables of a study.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Tables {
    /// table.csv
    Csv,
    /// table.parquet
    Parquet,
    /// Both
    Both,
}

/// `gomphosis case`.
#[derive(Debug, Args)]
pub(crate) struct CaseArgs {
    #[command(flatten)]
    pub(crate) case: CaseOptions,
    /// Print JSON instead of TOML
    #[arg(long, help_heading = "Running")]
    pub(crate) json: bool,
    /// Print the table of all keys of the manual (Markdown): unit, default, what is allowed, meaning
    #[arg(long, conflicts_with = "json", help_heading = "Running")]
    pub(crate) reference: bool,
}

/// `gomphosis verify`.
#[derive(Debug, Args)]
pub(crate) struct VerifyArgs {
    /// Cases to run, by the short names of --list [default: all]
    #[arg(value_name = "NAME")]
    pub(crate) names: Vec<String>,
    /// List the cases without running them: source, goal, mesh, tolerance and its reason
    #[arg(long, conflicts_with_all = ["json", "markdown", "into"])]
    pub(crate) list: bool,
    /// Print the table as Markdown
    #[arg(long, conflicts_with = "json")]
    pub(crate) markdown: bool,
    /// Put the Markdown table into a page, between the marks `<!-- verification -->` and `<!-- end of verification -->`
    #[arg(long, value_name = "FILE.md")]
    pub(crate) into: Option<PathBuf>,
    /// Threads, at most 16 or 4 a processor; the result does not depend on it
    #[arg(long, value_name = "N", value_parser = threads, help_heading = "Running")]
    pub(crate) threads: Option<u16>,
    #[command(flatten)]
    pub(crate) report: ReportOptions,
}

/// `gomphosis validate`.
#[derive(Debug, Args)]
pub(crate) struct ValidateArgs {
    /// Studies to run, by their short names in the table [default: all]
    #[arg(value_name = "NAME")]
    pub(crate) names: Vec<String>,
    /// Print the tables as Markdown, with likely reasons and the commands that make the teeth again
    #[arg(long, conflicts_with = "json")]
    pub(crate) markdown: bool,
    /// Put the Markdown into a page, between the marks `<!-- validation -->` and `<!-- end of validation -->`
    #[arg(long, value_name = "FILE.md")]
    pub(crate) into: Option<PathBuf>,
    /// Threads, at most 16 or 4 a processor; the result does not depend on it
    #[arg(long, value_name = "N", value_parser = threads, help_heading = "Running")]
    pub(crate) threads: Option<u16>,
    #[command(flatten)]
    pub(crate) report: ReportOptions,
}

/// `gomphosis teeth`.
#[derive(Debug, Args)]
pub(crate) struct TeethArgs {
    /// Print JSON instead of a table
    #[arg(long, help_heading = "Running")]
    pub(crate) json: bool,
}
