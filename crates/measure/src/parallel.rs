//! Work that is alike for many items, shared out between threads.

use std::sync::atomic::{AtomicUsize, Ordering};

/// `work` of every item, in the items' order; a thread that is done with one takes the next, so that none idles while another has several left.
/// A panic of one thread goes on in the caller.
pub(crate) fn map<T: Sync, R: Send>(items: &[T], threads: usize, work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let threads = threads.clamp(1, items.len().max(1));
    let next = AtomicUsize::new(0);
    let share = || {
        let take = || {
            let place = next.fetch_add(1, Ordering::Relaxed);
            items.get(place).map(|item| (place, item))
        };
        std::iter::from_fn(take).map(|(place, item)| (place, work(item))).collect::<Vec<_>>()
    };
    let mut done: Vec<(usize, R)> = std::thread::scope(|scope| {
        let others: Vec<_> = (1..threads).map(|_| scope.spawn(share)).collect();
        let own = share();
        let joined =
            others.into_iter().map(|w| w.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        own.into_iter().chain(joined.flatten()).collect()
    });
    done.sort_unstable_by_key(|(place, _)| *place);
    done.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_is_that_of_the_items() {
        for threads in [0, 1, 2, 3, 50] {
            let items: Vec<usize> = (0..7).collect();
            assert_eq!(map(&items, threads, |i| i * i), [0, 1, 4, 9, 16, 25, 36], "{threads}");
        }
        assert!(map(&[0_u8; 0], 2, |_| ()).is_empty());
    }
}
