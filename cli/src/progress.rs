//! Progress of long work on standard error: a moving line on a terminal, one plain line a stage elsewhere,
//! nothing when asked to be quiet. Also the clock of the stages, and the ear for the interrupt key.

use std::io::Write;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use gomphosis_mesh_gen::{Event, Observer, Stage};
use indicatif::{ProgressBar, ProgressStyle};

use crate::terminal::one_line;

/// How progress is shown.
pub(crate) enum Show<'a> {
    /// Not at all.
    Nothing,
    /// One line for each finished stage.
    Lines(&'a mut (dyn Write + Send)),
    /// A line that moves.
    Terminal,
}

enum Face<'a> {
    Nothing,
    Lines(Mutex<&'a mut (dyn Write + Send)>),
    Terminal(ProgressBar),
}

/// Observer of mesher and solver.
pub(crate) struct Progress<'a> {
    face: Face<'a>,
    stop: &'a AtomicBool,
    running: Mutex<Vec<(Stage, Instant)>>,
    finished: Mutex<Vec<(Stage, Duration)>>,
}

/// Observer that shows nothing and stops when asked.
pub(crate) struct Ear<'a>(&'a AtomicBool);

impl Observer for Ear<'_> {
    fn on_event(&self, _: Event) -> ControlFlow<()> {
        if self.0.load(Ordering::Relaxed) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}

/// What a stage does, in words.
pub(crate) const fn words(stage: Stage) -> &'static str {
    match stage {
        Stage::Lattice => "cutting the tooth from the lattice",
        Stage::Improve => "smoothing tooth and bone",
        Stage::Ligament => "inserting the ligament",
        Stage::Curve => "curving the elements",
        Stage::Assembly => "assembling the system",
        Stage::Factor => "factoring the system",
        Stage::Solve => "solving six unit loads",
        Stage::Mechanics => "finding centres and stresses",
        Stage::Figures => "drawing the figures",
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl<'a> Progress<'a> {
    /// Starts to watch.
    pub(crate) fn new(show: Show<'a>, stop: &'a AtomicBool) -> Self {
        let face = match show {
            Show::Nothing => Face::Nothing,
            Show::Lines(stream) => Face::Lines(Mutex::new(stream)),
            Show::Terminal => {
                let bar = ProgressBar::new_spinner();
                if let Ok(style) = ProgressStyle::with_template("{spinner} {msg} {elapsed:>4}") {
                    bar.set_style(style);
                }
                bar.enable_steady_tick(Duration::from_millis(120));
                Face::Terminal(bar)
            }
        };
        Self { face, stop, running: Mutex::new(Vec::new()), finished: Mutex::new(Vec::new()) }
    }

    /// Seconds of all stages of a list.
    pub(crate) fn seconds(&self, stages: &[Stage]) -> f64 {
        let finished = lock(&self.finished);
        finished.iter().filter(|(s, _)| stages.contains(s)).map(|(_, d)| d.as_secs_f64()).sum()
    }

    /// Was the interrupt key pressed?
    pub(crate) fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// Runs the rest of a stage whose first part was announced already.
    pub(crate) fn rest_of<T>(&self, stage: Stage, work: impl FnOnce() -> T) -> T {
        let begin = Instant::now();
        let result = work();
        lock(&self.finished).push((stage, begin.elapsed()));
        result
    }

    /// Says what is running now, where a moving line shows it.
    pub(crate) fn announce(&self, what: &str) {
        if let Face::Terminal(bar) = &self.face {
            bar.set_message(one_line(what).into_owned());
        }
    }

    /// Says something once, before the work goes on.
    pub(crate) fn say(&self, text: &str) {
        match &self.face {
            Face::Nothing => {}
            Face::Lines(stream) => {
                let _ = writeln!(lock(stream), "{text}");
            }
            Face::Terminal(bar) => bar.suspend(|| bar.println(one_line(text))),
        }
    }

    /// Says what was done, where plain lines show it.
    pub(crate) fn done(&self, elapsed: Duration, what: &str) {
        if let Face::Lines(stream) = &self.face {
            // Progress is a courtesy: a stream that takes none is no failure.
            let _ = writeln!(lock(stream), "{:7.2} s  {what}", elapsed.as_secs_f64());
        }
    }

    /// Runs one of many like works, shown as one stage; `work` gets a watch of its own that shows nothing.
    pub(crate) fn one_of<T>(
        &self,
        what: &str,
        [number, of]: [usize; 2],
        work: impl FnOnce(&Progress<'a>) -> T,
    ) -> T {
        let begin = Instant::now();
        self.announce(&format!("{what} ({number} of {of})"));
        let result = work(&Progress::new(Show::Nothing, self.stop));
        self.done(begin.elapsed(), what);
        result
    }

    /// An observer that only hears the interrupt key, for work whose stages are too many to show.
    pub(crate) fn ear(&self) -> Ear<'_> {
        Ear(self.stop)
    }

    /// Runs work of our own as a stage.
    pub(crate) fn stage<T>(&self, stage: Stage, work: impl FnOnce() -> T) -> T {
        // Whether to stop is asked by the caller after the work.
        let _ = self.on_event(Event::Started(stage));
        let result = work();
        let _ = self.on_event(Event::Finished(stage));
        result
    }
}

impl Drop for Progress<'_> {
    fn drop(&mut self) {
        if let Face::Terminal(bar) = &self.face {
            bar.finish_and_clear();
        }
    }
}

impl Observer for Progress<'_> {
    fn on_event(&self, event: Event) -> ControlFlow<()> {
        match event {
            Event::Started(stage) => {
                lock(&self.running).push((stage, Instant::now()));
                if let Face::Terminal(bar) = &self.face {
                    bar.set_message(words(stage));
                }
            }
            Event::Progress { stage, done, total } => {
                if let Face::Terminal(bar) = &self.face {
                    bar.set_message(format!("{} ({done} of {total})", words(stage)));
                }
            }
            Event::Finished(stage) => {
                let mut running = lock(&self.running);
                if let Some(k) = running.iter().rposition(|(s, _)| *s == stage) {
                    let elapsed = running.remove(k).1.elapsed();
                    lock(&self.finished).push((stage, elapsed));
                    self.done(elapsed, words(stage));
                }
            }
        }
        if self.is_stopped() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}
