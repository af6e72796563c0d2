//! Work that is alike for many items, shared out between threads.

/// `work` of every item, in the items' order; thread `t` of `n` takes every `n`th. A panic of one thread goes on in the caller.
pub(crate) fn map<T: Sync, R: Send>(items: &[T], threads: usize, work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let threads = threads.clamp(1, items.len().max(1));
    let mut parts: Vec<std::vec::IntoIter<R>> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|t| {
                let work = &work;
                scope.spawn(move || items.iter().skip(t).step_by(threads).map(work).collect::<Vec<_>>())
            })
            .collect();
        let joined =
            workers.into_iter().map(|w| w.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        joined.map(Vec::into_iter).collect()
    });
    (0..items.len()).filter_map(|i| parts[i % threads].next()).collect()
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
