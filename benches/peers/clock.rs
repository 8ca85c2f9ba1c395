//! Wall time, processor time of all threads, and the largest memory of this process (Linux; 0 elsewhere).

use std::fs::read_to_string;
use std::time::Instant;

/// Ticks a second of the times in `/proc`, on every Linux since 2.4.
const TICKS: f64 = 100.0;

/// A running clock.
pub(crate) struct Clock {
    start: Instant,
    cpu_s: f64,
}

impl Clock {
    pub(crate) fn start() -> Self {
        Self { start: Instant::now(), cpu_s: cpu_s() }
    }

    /// Wall and processor seconds since the start.
    pub(crate) fn elapsed(&self) -> (f64, f64) {
        (self.start.elapsed().as_secs_f64(), cpu_s() - self.cpu_s)
    }
}

/// User and system time so far, s: the fields 14 and 15, counted from the state behind the name in brackets.
fn cpu_s() -> f64 {
    let stat = read_to_string("/proc/self/stat").unwrap_or_default();
    let behind_name = stat.rsplit(')').next().unwrap_or_default();
    behind_name.split_whitespace().skip(11).take(2).filter_map(|t| t.parse::<f64>().ok()).sum::<f64>() / TICKS
}

/// Largest resident memory so far, MB.
pub(crate) fn peak_mb() -> f64 {
    let status = read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|kb| kb.parse::<f64>().ok()).unwrap_or(0.0) / 1024.0
}
