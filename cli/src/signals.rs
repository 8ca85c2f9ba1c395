//! Signals that end the process. The first asks the work to stop, which leaves nothing half-written; the second does not
//! wait: it removes what is half-written and ends at once. A limit on the size of files makes the write fail instead of
//! ending the process, so that this failure is tidied up like any other.

use std::io;
use std::sync::atomic::{AtomicBool, AtomicI32, Ordering};
use std::sync::{Arc, LazyLock};

/// Has a write met the limit on the size of files?
static LIMIT: LazyLock<Arc<AtomicBool>> = LazyLock::new(Arc::default);

/// Was this process asked to end?
static RECEIVED: AtomicBool = AtomicBool::new(false);

/// Was this process asked to end by a signal?
pub(crate) fn are_received() -> bool {
    RECEIVED.load(Ordering::SeqCst)
}

/// The number of the signal that decides how a failed run is told: that of a limit which was met, or the one received.
pub(crate) fn decisive(received: &AtomicI32) -> i32 {
    const FILE_LIMIT: i32 = 25;
    if LIMIT.load(Ordering::SeqCst) { FILE_LIMIT } else { received.load(Ordering::SeqCst) }
}

/// Listens for the signals that end a process. The first one sets `stop` and leaves its number in `signal`.
///
/// A hangup that was ignored when the process began stays ignored: that is how `nohup` asks for it.
///
/// # Errors
/// The system's, if it refuses; then a signal ends the process at once.
pub fn listen(stop: &'static AtomicBool, signal: &'static AtomicI32) -> io::Result<()> {
    #[cfg(unix)]
    return unix::listen(stop, signal);
    #[cfg(not(unix))]
    {
        let _ = (stop, signal);
        Ok(())
    }
}

#[cfg(unix)]
mod unix {
    use std::io;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, AtomicI32, Ordering};

    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM, SIGXFSZ};
    use signal_hook::iterator::Signals;

    use crate::output;

    pub(super) fn listen(stop: &'static AtomicBool, signal: &'static AtomicI32) -> io::Result<()> {
        let ignored = ignored();
        if !is_in(ignored, SIGXFSZ) {
            // The write that met the limit then fails by itself.
            signal_hook::flag::register(SIGXFSZ, Arc::clone(&super::LIMIT))?;
        }
        let mut watched = vec![SIGINT, SIGTERM];
        if !is_in(ignored, SIGHUP) {
            watched.push(SIGHUP);
        }
        let mut signals = Signals::new(watched)?;
        let listen = move || {
            for number in signals.forever() {
                signal.store(number, Ordering::SeqCst);
                super::RECEIVED.store(true, Ordering::SeqCst);
                if stop.swap(true, Ordering::SeqCst) {
                    output::discard_all();
                    #[allow(clippy::exit, reason = "asked again: nobody wants to wait for a step to end")]
                    std::process::exit(128 + number);
                }
            }
        };
        std::thread::Builder::new().name("signals".to_owned()).spawn(listen).map(drop)
    }

    /// The signals that this process was told to ignore, one bit each; none where the system does not say.
    fn ignored() -> u64 {
        let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
        let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
        mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0)
    }

    /// Is a signal in such a mask?
    fn is_in(mask: u64, number: i32) -> bool {
        mask >> (number - 1) & 1 == 1
    }
}
