//! Work shared out between threads so that the result does not depend on their number.

use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Parts into which long lists are divided, however many threads there are: sums over them come out the same.
const GROUPS: usize = 32;

/// Items that are worth a group of their own.
const LEAST_IN_GROUP: usize = 1 << 13;

/// Groups begin at multiples of this: whoever takes their items in blocks of such a size, or a part of it, has the same blocks in all.
pub(crate) const GROUP_STEP: usize = 1 << 10;

/// Runs `job` on every item, each in a thread of its own unless there is only one; results in the order of the items.
pub(crate) fn in_threads<T: Sync, R: Send>(items: &[T], job: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let Some((last, others)) = items.split_last() else { return Vec::new() };
    thread::scope(|scope| {
        let job = &job;
        let running: Vec<_> = others.iter().map(|item| scope.spawn(move || job(item))).collect();
        let own = job(last);
        let join = |thread: thread::ScopedJoinHandle<'_, R>| {
            thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        };
        running.into_iter().map(join).chain(std::iter::once(own)).collect()
    })
}

/// Runs `job` on the numbers `0..count`, a thread taking the next one when it is done with the last; results in order.
pub(crate) fn in_turn<R: Send>(count: usize, threads: usize, job: impl Fn(usize) -> R + Sync) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let shares: Vec<()> = vec![(); threads.clamp(1, count.max(1))];
    let done = in_threads(&shares, |()| {
        let take = || Some(next.fetch_add(1, Ordering::Relaxed)).filter(|item| *item < count);
        std::iter::from_fn(take).map(|item| (item, job(item))).collect::<Vec<_>>()
    });
    let mut done: Vec<_> = done.into_iter().flatten().collect();
    done.sort_unstable_by_key(|(item, _)| *item);
    done.into_iter().map(|(_, result)| result).collect()
}

/// Runs `job` on neighbouring parts of `0..count`; results in their order. The parts depend on `count` alone.
pub(crate) fn in_groups<R: Send>(
    count: usize,
    threads: usize,
    job: impl Fn(Range<usize>) -> R + Sync,
) -> Vec<R> {
    let size = count.div_ceil(GROUPS).max(LEAST_IN_GROUP).next_multiple_of(GROUP_STEP);
    let begin = |group: usize| (group * size).min(count);
    in_turn(count.div_ceil(size), threads, |group| job(begin(group)..begin(group + 1)))
}

/// Changes neighbouring parts of a list, each in a thread of its own; results in their order. `job` gets the place of its part's first item.
pub(crate) fn in_parts<T: Send, R: Send>(
    items: &mut [T],
    threads: usize,
    job: impl Fn(usize, &mut [T]) -> R + Sync,
) -> Vec<R> {
    let size = items.len().div_ceil(threads.max(1)).max(LEAST_IN_GROUP);
    thread::scope(|scope| {
        let job = &job;
        let running: Vec<_> = items
            .chunks_mut(size)
            .enumerate()
            .map(|(part, items)| scope.spawn(move || job(part * size, items)))
            .collect();
        let join = |thread: thread::ScopedJoinHandle<'_, R>| {
            thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        };
        running.into_iter().map(join).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_depends_on_the_number_of_threads() {
        for count in [0, 1, 5, 100_000, 1_000_003] {
            let parts = in_groups(count, 1, |range| range);
            assert_eq!(parts.iter().map(ExactSizeIterator::len).sum::<usize>(), count);
            assert!(parts.windows(2).all(|pair| pair[0].end == pair[1].start));
            for threads in [0, 2, 3, 7] {
                assert_eq!(in_groups(count, threads, |range| range), parts, "{count} on {threads}");
                assert_eq!(
                    in_turn(count.min(50), threads, |item| item),
                    (0..count.min(50)).collect::<Vec<_>>()
                );
            }
        }
    }

    #[test]
    fn every_part_is_changed_once() {
        for threads in [0, 1, 2, 5] {
            let mut items = vec![0_usize; 50_000];
            let counts = in_parts(&mut items, threads, |first, part| {
                part.iter_mut().enumerate().for_each(|(place, item)| *item += first + place);
                part.len()
            });
            assert_eq!(counts.iter().sum::<usize>(), items.len());
            assert!(items.iter().enumerate().all(|(place, item)| place == *item));
        }
        assert!(in_parts(&mut [0_u8; 0], 2, |_, _| ()).is_empty());
    }
}
