//! Work on several threads.

use std::sync::atomic::{AtomicUsize, Ordering};

use clap::Args;

/// The choice of threads.
#[derive(Debug, Args)]
pub struct Jobs {
    /// Threads to compute on; as many as there are cores unless stated
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=512))]
    jobs: Option<u16>,
}

impl Jobs {
    /// The number of threads.
    pub fn count(&self) -> usize {
        match self.jobs {
            Some(jobs) => usize::from(jobs),
            None => std::thread::available_parallelism().map_or(1, usize::from),
        }
    }
}

/// The results of `work` for 0 to `count − 1`, in that order, whatever thread did which. `None` for one whose thread
/// did not come back.
pub fn in_order<T: Send>(
    jobs: usize,
    count: usize,
    work: impl Fn(usize) -> T + Sync,
) -> Vec<Option<T>> {
    let next = AtomicUsize::new(0);
    let take = || {
        let mut done = Vec::new();
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= count {
                return done;
            }
            done.push((number, work(number)));
        }
    };
    let mut results: Vec<Option<T>> = (0..count).map(|_| None).collect();
    std::thread::scope(|scope| {
        // A system that grants no more threads is worked on with those that it has granted, or with this one.
        let threads: Vec<_> = (0..jobs.min(count))
            .map_while(|_| std::thread::Builder::new().spawn_scoped(scope, take).ok())
            .collect();
        let own = if threads.is_empty() { take() } else { Vec::new() };
        let done = threads.into_iter().filter_map(|thread| thread.join().ok()).chain([own]);
        for (number, result) in done.flatten() {
            results[number] = Some(result);
        }
    });
    results
}
