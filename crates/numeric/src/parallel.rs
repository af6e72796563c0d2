//! The same work on many items, on the threads of the current pool. Results never depend on the number of threads.
//!
//! Outside [`with_threads`] the pool has one thread for each core the machine offers. Calls may be nested: a thread that waits
//! for its items works on others meanwhile. So a closure given to this module must not hold a lock while it calls this
//! module again: the item taken up meanwhile could ask for the same lock on the same thread, and wait forever.
//!
//! A panic in one item goes on in the caller.
//!
//! ```
//! use bladeform_numeric::parallel;
//!
//! let squares = |threads| parallel::with_threads(threads, || parallel::indices(5, |k| k * k));
//! assert_eq!(squares(1), [0, 1, 4, 9, 16]);
//! assert_eq!(squares(4), squares(1));
//! ```

use std::ops::Range;

use rayon::prelude::*;

/// Groups into which long lists are divided, whatever the number of threads, so that sums over groups are always the same.
/// 32 keep the threads of an ordinary machine busy to the end.
const GROUPS: usize = 32;

/// Least number of items in a group: below about 8,000 cheap items, dividing the work costs more than it gains.
const LEAST_IN_GROUP: usize = 1 << 13;

/// Groups begin at multiples of this. Code that takes the items of its groups in blocks, whose size divides this one, always
/// has the same blocks.
pub const GROUP_STEP: usize = 1 << 10;

/// Tasks into which [`map`] and [`indices`] divide long lists, at least: enough to keep 16 threads evenly busy.
const TASKS: usize = 256;

/// Stack of a pool's thread, bytes, as much as a main thread usually has. A thread that waits takes up other items on top of
/// its stack, so it needs more than the 2 MiB that threads get by default.
const STACK_BYTES: usize = 8 << 20;

/// Runs `work` in a pool of `threads` threads; 0 means one for each core the machine offers. All calls to this module from
/// `work`, however deep, use that pool. If the system refuses the threads, `work` runs in the current pool.
pub fn with_threads<R: Send>(threads: usize, work: impl FnOnce() -> R + Send) -> R {
    match rayon::ThreadPoolBuilder::new().num_threads(threads).stack_size(STACK_BYTES).build() {
        Ok(pool) => pool.install(work),
        Err(_) => work(),
    }
}

/// Threads of the current pool. For reports, and for the size of temporary storage; no result may depend on it.
#[must_use]
pub fn threads() -> usize {
    rayon::current_num_threads()
}

/// `work` of every item, in the order of the items.
pub fn map<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    items.par_iter().with_max_len((items.len() / TASKS).max(1)).map(&work).collect()
}

/// `work` on every item, each of which it may change.
pub fn each<T: Send>(items: &mut [T], work: impl Fn(&mut T) + Sync) {
    items.par_iter_mut().with_max_len(1).for_each(&work);
}

/// `work` of the numbers `0..count`, in their order.
pub fn indices<R: Send>(count: usize, work: impl Fn(usize) -> R + Sync) -> Vec<R> {
    (0..count).into_par_iter().with_max_len((count / TASKS).max(1)).map(&work).collect()
}

/// `work` of neighbouring ranges of `0..count`, in their order. The ranges depend on `count` alone and begin at multiples of
/// [`GROUP_STEP`].
pub fn groups<R: Send>(count: usize, work: impl Fn(Range<usize>) -> R + Sync) -> Vec<R> {
    let size = group_size(count);
    let begin = |group: usize| (group * size).min(count);
    indices(count.div_ceil(size), |group| work(begin(group)..begin(group + 1)))
}

/// `work` of neighbouring parts of a list that it may change, in their order. It gets the place of the part's first item. The
/// parts are those of [`groups`].
pub fn parts<T: Send, R: Send>(items: &mut [T], work: impl Fn(usize, &mut [T]) -> R + Sync) -> Vec<R> {
    let size = group_size(items.len());
    let numbered = items.par_chunks_mut(size).enumerate().with_max_len(1);
    numbered.map(|(part, items)| work(part * size, items)).collect()
}

/// Sorts a list in place; equal items may change places.
pub fn sort<T: Ord + Send>(items: &mut [T]) {
    items.par_sort_unstable();
}

/// Items of a group.
fn group_size(count: usize) -> usize {
    count.div_ceil(GROUPS).max(LEAST_IN_GROUP).next_multiple_of(GROUP_STEP)
}

/// Results of two jobs, which run at the same time if a thread is free and one after the other if none is.
pub fn join<A: Send, B: Send>(a: impl FnOnce() -> A + Send, b: impl FnOnce() -> B + Send) -> (A, B) {
    rayon::join(a, b)
}

/// Runs `main`, which may start one job at the same time by calling the [`Aside`] it gets. Returns when both are done, with the
/// results of both.
///
/// ```
/// use bladeform_numeric::parallel;
///
/// let (sum, product) = parallel::with_aside(|aside| {
///     let items = vec![2, 3, 4];
///     let copy = items.clone();
///     aside.start(move || copy.into_iter().product::<i32>());
///     items.into_iter().sum::<i32>()
/// });
/// assert_eq!((sum, product), (9, Some(24)));
/// ```
pub fn with_aside<A: Send, B: Send>(main: impl FnOnce(Aside<'_, '_, B>) -> A + Send) -> (A, Option<B>) {
    let result = std::sync::Mutex::new(None);
    let done = rayon::scope(|scope| main(Aside { scope, result: &result }));
    (done, result.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner))
}

/// Starts the one job that runs at the same time as the main one of [`with_aside`].
pub struct Aside<'a, 'scope, B> {
    scope: &'a rayon::Scope<'scope>,
    result: &'scope std::sync::Mutex<Option<B>>,
}

impl<B> std::fmt::Debug for Aside<'_, '_, B> {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str("Aside")
    }
}

impl<'scope, B: Send> Aside<'_, 'scope, B> {
    /// Starts `job` on the next free thread; with one thread alone it begins when that is free, at the latest after the main job.
    pub fn start(self, job: impl FnOnce() -> B + Send + 'scope) {
        let result = self.result;
        self.scope.spawn(move |_| {
            let done = job();
            *result.lock().unwrap_or_else(std::sync::PoisonError::into_inner) = Some(done);
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pools that are tried; 0 is the machine's own number.
    const POOLS: [usize; 5] = [0, 1, 2, 3, 7];

    #[test]
    fn a_pool_has_the_threads_asked_for() {
        for asked in [1, 2, 5] {
            assert_eq!(with_threads(asked, threads), asked);
        }
        // The innermost pool decides, and the outer one is back afterwards.
        assert_eq!(with_threads(3, || (with_threads(2, threads), threads())), (2, 3));
        let cores = std::thread::available_parallelism().unwrap().get();
        assert_eq!(with_threads(0, threads), cores);
    }

    #[test]
    fn groups_do_not_depend_on_the_number_of_threads() {
        for count in [0, 1, 5, 100_000, 1_000_003] {
            let ranges = with_threads(1, || groups(count, |range| range));
            assert_eq!(ranges.iter().map(ExactSizeIterator::len).sum::<usize>(), count);
            assert!(ranges.windows(2).all(|pair| pair[0].end == pair[1].start));
            assert!(ranges.iter().all(|range| range.start % GROUP_STEP == 0 && !range.is_empty()));
            for pool in POOLS {
                assert_eq!(with_threads(pool, || groups(count, |range| range)), ranges, "{count} on {pool}");
            }
        }
    }

    #[test]
    fn a_sum_over_groups_is_the_same_to_the_last_bit() {
        let values: Vec<f64> = (0..200_000).map(|k| (f64::from(k) * 0.7).sin() / f64::from(k + 1)).collect();
        let sum = || groups(values.len(), |range| values[range].iter().sum::<f64>()).into_iter().sum::<f64>();
        let one = with_threads(1, sum);
        assert!(POOLS.into_iter().all(|pool| with_threads(pool, sum).to_bits() == one.to_bits()));
    }

    #[test]
    fn every_part_is_changed_once() {
        let mut firsts = Vec::new();
        for pool in POOLS {
            let mut items = vec![0_usize; 50_000];
            let places = with_threads(pool, || {
                parts(&mut items, |first, part| {
                    part.iter_mut().enumerate().for_each(|(place, item)| *item += first + place);
                    (first, part.len())
                })
            });
            assert_eq!(places.iter().map(|(_, len)| len).sum::<usize>(), items.len());
            assert!(items.iter().enumerate().all(|(place, item)| place == *item));
            firsts.push(places);
        }
        assert!(1 < firsts[0].len() && firsts.iter().all(|places| *places == firsts[0]));
        assert!(parts(&mut [0_u8; 0], |_, _| ()).is_empty());
    }

    #[test]
    fn the_order_is_that_of_the_items() {
        for pool in POOLS {
            for count in [0, 1, 2, 7, 5_000] {
                let items: Vec<usize> = (0..count).collect();
                let squares: Vec<usize> = items.iter().map(|k| k * k).collect();
                assert_eq!(with_threads(pool, || map(&items, |k| k * k)), squares, "{count} on {pool}");
                assert_eq!(with_threads(pool, || indices(count, |k| k * k)), squares, "{count} on {pool}");
            }
        }
    }

    #[test]
    fn calls_within_calls_end() {
        let table =
            |n: usize| indices(n, |i| indices(n, |j| indices(n, |k| i * j + k).iter().sum::<usize>()));
        let expected = with_threads(1, || table(12));
        for pool in POOLS {
            assert_eq!(with_threads(pool, || table(12)), expected, "{pool}");
        }
    }

    #[test]
    fn two_jobs_and_one_beside_another_give_both_results() {
        for pool in POOLS {
            let (a, b) = with_threads(pool, || join(|| indices(9, |k| k).len(), || "b"));
            assert_eq!((a, b), (9, "b"));
            let both = || {
                with_aside(|aside| {
                    aside.start(|| indices(4, |k| k + 1));
                    indices(3, |k| k)
                })
            };
            assert_eq!(with_threads(pool, both), (vec![0, 1, 2], Some(vec![1, 2, 3, 4])));
            assert_eq!(with_threads(pool, || with_aside(|_: Aside<'_, '_, u8>| 5)), (5, None));
        }
    }

    #[test]
    fn a_panic_goes_on_in_the_caller() {
        for pool in POOLS {
            let caught = std::panic::catch_unwind(|| {
                with_threads(pool, || indices(20, |k| assert!(k != 13, "the thirteenth")))
            });
            assert_eq!(*caught.unwrap_err().downcast::<&str>().unwrap(), "the thirteenth");
        }
    }
}
