//! The same work on many items, on two threads: what a machine with two cores gains, and the result does not depend on it.

/// `f` of every item, in their order.
pub(crate) fn each<T: Sync, R: Send>(items: &[T], f: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let (first, second) = items.split_at(items.len() / 2);
    std::thread::scope(|scope| {
        let other = scope.spawn(|| second.iter().map(&f).collect::<Vec<R>>());
        let mut all: Vec<R> = first.iter().map(&f).collect();
        match other.join() {
            Ok(rest) => all.extend(rest),
            // A panic of the other thread is one of this.
            Err(panic) => std::panic::resume_unwind(panic),
        }
        all
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn order_is_kept() {
        for n in 0..5 {
            let items: Vec<usize> = (0..n).collect();
            assert_eq!(each(&items, |k| k * k), items.iter().map(|k| k * k).collect::<Vec<_>>());
        }
    }
}
