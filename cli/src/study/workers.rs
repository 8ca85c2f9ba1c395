//! Workers that take one item after the other, each with one thread, so that whole cases run side by side: more is done in
//! the same time than with all threads on one case.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use crate::exit::Failure;

/// Does some work on every item with `threads` workers; results in the order of the items.
pub(crate) fn each<T: Sync, R: Send>(
    items: &[T],
    threads: usize,
    work: impl Fn(&T) -> R + Sync,
) -> Result<Vec<R>, Failure> {
    crate::memory::enough(threads)?;
    let pools = (0..threads.min(items.len()).max(1))
        .map(|_| {
            rayon::ThreadPoolBuilder::new()
                .num_threads(1)
                .build()
                .map_err(|e| Failure::NoResult(format!("cannot start {threads} threads: {e}")))
        })
        .collect::<Result<Vec<_>, _>>()?;
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, R)>> = Mutex::new(Vec::with_capacity(items.len()));
    std::thread::scope(|scope| {
        for pool in &pools {
            let (next, done, work) = (&next, &done, &work);
            scope.spawn(move || {
                pool.install(|| {
                    loop {
                        let at = next.fetch_add(1, Ordering::Relaxed);
                        let Some(item) = items.get(at) else { break };
                        let result = work(item);
                        done.lock().unwrap_or_else(PoisonError::into_inner).push((at, result));
                    }
                });
            });
        }
    });
    let mut done = done.into_inner().unwrap_or_else(PoisonError::into_inner);
    done.sort_by_key(|(at, _)| *at);
    Ok(done.into_iter().map(|(_, result)| result).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_keep_the_order_of_the_items() {
        let items: Vec<u64> = (0..100).collect();
        for threads in [1, 3] {
            let squares = each(&items, threads, |x| x * x).expect("threads");
            assert_eq!(squares, items.iter().map(|x| x * x).collect::<Vec<_>>());
        }
        assert!(each(&[] as &[u64], 2, |x| *x).expect("threads").is_empty());
    }
}
