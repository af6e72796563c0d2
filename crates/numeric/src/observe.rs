//! Progress of a long call, and a way to stop it.
//!
//! A long call takes `&dyn Observer` and reports each stage to it. The observer may answer [`ControlFlow::Break`]; the call
//! then ends with an error made from [`Stopped`]. Calls in the same process do not mix, because each has its own observer.
//!
//! ```
//! use bladeform_numeric::observe::{Observer, Silent, Stage, Stopped, report};
//! use std::ops::ControlFlow;
//!
//! fn sum_of_squares(count: usize, observer: &dyn Observer) -> Result<usize, Stopped> {
//!     let mut sum = 0;
//!     for done in 0..count {
//!         report(observer, Stage { name: "squares", done, total: count })?;
//!         sum += done * done;
//!     }
//!     Ok(sum)
//! }
//!
//! // Any closure of the right form is an observer.
//! let until_three = |stage: Stage<'_>| {
//!     if stage.done < 3 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
//! };
//! assert_eq!(sum_of_squares(5, &Silent), Ok(30));
//! assert_eq!(sum_of_squares(5, &until_three), Err(Stopped));
//! ```

use std::ops::ControlFlow;

/// Where a call is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stage<'a> {
    /// Name of the stage, e.g. "measuring stations".
    pub name: &'a str,
    /// Items of the stage that are finished or, for stages that report at the start of an item, begun. Items that run in
    /// parallel may report in any order.
    pub done: usize,
    /// Items of the stage; 0 for a stage that does not count.
    pub total: usize,
}

impl<'a> Stage<'a> {
    /// A stage that does not count items.
    #[must_use]
    pub const fn named(name: &'a str) -> Self {
        Self { name, done: 0, total: 0 }
    }
}

/// Listens to a long call and may stop it. It is called from several threads at once.
pub trait Observer: Sync {
    /// Called whenever a stage begins or an item of it is done. [`ControlFlow::Break`] asks the call to end soon.
    fn at(&self, stage: Stage<'_>) -> ControlFlow<()>;
}

impl<F: Fn(Stage<'_>) -> ControlFlow<()> + Sync> Observer for F {
    fn at(&self, stage: Stage<'_>) -> ControlFlow<()> {
        self(stage)
    }
}

/// Ignores every stage and never stops a call.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Silent;

impl Observer for Silent {
    fn at(&self, _: Stage<'_>) -> ControlFlow<()> {
        ControlFlow::Continue(())
    }
}

/// The observer ended the call.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the work was stopped before it was done")]
pub struct Stopped;

/// Reports a stage, so that `?` ends the call when the observer says so.
///
/// # Errors
/// [`Stopped`] when the observer answers [`ControlFlow::Break`].
pub fn report(observer: &dyn Observer, stage: Stage<'_>) -> Result<(), Stopped> {
    match observer.at(stage) {
        ControlFlow::Continue(()) => Ok(()),
        ControlFlow::Break(()) => Err(Stopped),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parallel;
    use std::sync::Mutex;

    /// Reports each of ten items, from all threads.
    fn long_call(observer: &dyn Observer) -> Result<Vec<usize>, Stopped> {
        report(observer, Stage::named("begin"))?;
        let items = parallel::indices(10, |done| {
            report(observer, Stage { name: "items", done, total: 10 })?;
            Ok(done)
        });
        items.into_iter().collect()
    }

    #[test]
    fn every_stage_is_reported_once() {
        let seen = Mutex::new(Vec::new());
        let listen = |stage: Stage<'_>| {
            seen.lock().unwrap().push((stage.name.to_owned(), stage.done, stage.total));
            ControlFlow::Continue(())
        };
        let result = parallel::with_threads(3, || long_call(&listen));
        assert_eq!(result, Ok((0..10).collect()));
        let mut seen = seen.into_inner().unwrap();
        assert_eq!(seen.remove(0), ("begin".to_owned(), 0, 0));
        seen.sort();
        let items: Vec<_> = (0..10).map(|done| ("items".to_owned(), done, 10)).collect();
        assert_eq!(seen, items);
    }

    #[test]
    fn a_break_ends_the_call() {
        let at_the_seventh = |stage: Stage<'_>| {
            if stage.done == 7 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        assert_eq!(long_call(&at_the_seventh), Err(Stopped));
        assert_eq!(long_call(&Silent).map(|items| items.len()), Ok(10));
    }
}
