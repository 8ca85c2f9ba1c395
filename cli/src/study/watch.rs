//! Progress of a study on standard error: cases done, rate, time left; and the ear for a stop.

use std::fmt::Write as _;
use std::io::Write;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use gomphosis_mesh_gen::{Event, Observer};
use indicatif::{ProgressBar, ProgressStyle};

use crate::progress::Show;
use crate::terminal::one_line;

/// Least time between two plain lines.
const BETWEEN_LINES: Duration = Duration::from_secs(5);

enum Face<'a> {
    Nothing,
    Lines { stream: &'a mut (dyn Write + Send), last: Instant },
    Terminal(ProgressBar),
}

/// Watches a study.
pub(crate) struct Watch<'a> {
    face: Mutex<Face<'a>>,
    stop: &'a AtomicBool,
    /// Set when a row could not be kept.
    halt: AtomicBool,
    begin: Instant,
    before: usize,
    total: usize,
    done: AtomicUsize,
    failed: AtomicUsize,
}

impl<'a> Watch<'a> {
    /// Starts to watch; `before` of `total` cases are there from an earlier run.
    pub(crate) fn new(show: Show<'a>, stop: &'a AtomicBool, before: usize, total: usize) -> Self {
        let face = match show {
            Show::Nothing => Face::Nothing,
            Show::Lines(stream) => Face::Lines { stream, last: Instant::now() },
            Show::Terminal => {
                let bar = ProgressBar::new(total as u64).with_position(before as u64);
                if let Ok(style) = ProgressStyle::with_template("{wide_bar} {msg}") {
                    bar.set_style(style);
                }
                bar.enable_steady_tick(Duration::from_millis(250));
                Face::Terminal(bar)
            }
        };
        Self {
            face: Mutex::new(face),
            stop,
            halt: AtomicBool::new(false),
            begin: Instant::now(),
            before,
            total,
            done: AtomicUsize::new(0),
            failed: AtomicUsize::new(0),
        }
    }

    /// Some cases are kept, some of them without a result.
    pub(crate) fn kept(&self, cases: usize, failed: usize) {
        let done = self.done.fetch_add(cases, Ordering::Relaxed) + cases;
        let failed = self.failed.fetch_add(failed, Ordering::Relaxed) + failed;
        let text = self.text(done, failed);
        match &mut *self.face.lock().unwrap_or_else(PoisonError::into_inner) {
            Face::Nothing => {}
            Face::Terminal(bar) => {
                bar.set_position((self.before + done) as u64);
                bar.set_message(text);
            }
            Face::Lines { stream, last } => {
                if last.elapsed() >= BETWEEN_LINES || self.before + done == self.total {
                    *last = Instant::now();
                    // Progress is a courtesy: a stream that takes none is no failure.
                    let _ = writeln!(stream, "{:7.1} s  {text}", self.begin.elapsed().as_secs_f64());
                }
            }
        }
    }

    fn text(&self, done: usize, failed: usize) -> String {
        let seconds = self.begin.elapsed().as_secs_f64().max(1e-3);
        let rate = done as f64 / seconds;
        let left = (self.total - self.before).saturating_sub(done);
        let mut text = format!("{} of {} cases", self.before + done, self.total);
        if failed > 0 {
            let _ = write!(text, ", {failed} failed");
        }
        let _ = write!(text, ", {}", rate_text(rate));
        if left > 0 {
            let _ = write!(text, ", {} left", duration_text(left as f64 / rate));
        }
        text
    }

    /// Says something once.
    pub(crate) fn say(&self, text: &str) {
        match &mut *self.face.lock().unwrap_or_else(PoisonError::into_inner) {
            Face::Nothing => {}
            Face::Terminal(bar) => bar.suspend(|| bar.println(one_line(text))),
            Face::Lines { stream, .. } => {
                let _ = writeln!(stream, "{text}");
            }
        }
    }

    /// Cases kept in this run.
    pub(crate) fn done(&self) -> usize {
        self.done.load(Ordering::Relaxed)
    }

    /// Makes every worker stop.
    pub(crate) fn halt(&self) {
        self.halt.store(true, Ordering::Relaxed);
    }

    /// Must the work end?
    pub(crate) fn is_over(&self) -> bool {
        self.stop.load(Ordering::Relaxed) || self.halt.load(Ordering::Relaxed)
    }
}

impl Observer for Watch<'_> {
    fn on_event(&self, _: Event) -> ControlFlow<()> {
        if self.is_over() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}

impl Drop for Watch<'_> {
    fn drop(&mut self) {
        if let Face::Terminal(bar) = &*self.face.lock().unwrap_or_else(PoisonError::into_inner) {
            bar.finish_and_clear();
        }
    }
}

/// Cases a second, or a minute where they are slow.
fn rate_text(rate: f64) -> String {
    if rate >= 10.0 {
        format!("{rate:.0} a second")
    } else if rate >= 2.0 {
        format!("{rate:.1} a second")
    } else {
        format!("{:.0} a minute", 60.0 * rate)
    }
}

/// A time in two units at most.
fn duration_text(seconds: f64) -> String {
    let whole = seconds.ceil().min(1e9) as u64;
    match whole {
        0..60 => format!("{whole} s"),
        60..3600 => format!("{} min {:02} s", whole / 60, whole % 60),
        _ => format!("{} h {:02} min", whole / 3600, whole / 60 % 60),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_and_times_are_short() {
        assert_eq!(rate_text(12_345.6), "12346 a second");
        assert_eq!(rate_text(0.51), "31 a minute");
        assert_eq!(duration_text(59.2), "1 min 00 s");
        assert_eq!(duration_text(4.0), "4 s");
        assert_eq!(duration_text(7384.0), "2 h 03 min");
    }

    #[test]
    fn lines_are_written_at_the_end() {
        let (mut out, stop) = (Vec::new(), AtomicBool::new(false));
        {
            let watch = Watch::new(Show::Lines(&mut out), &stop, 2, 4);
            watch.kept(1, 0);
            watch.kept(1, 1);
            assert!(!watch.is_over());
            stop.store(true, Ordering::Relaxed);
            assert!(watch.is_over());
        }
        let text = String::from_utf8(out).expect("text");
        assert!(text.contains("4 of 4 cases, 1 failed, "), "{text}");
        assert_eq!(text.lines().count(), 1);
    }
}
