//! A fault of the program itself: reported in one sentence, and no half-written file is left.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Mutex, PoisonError};

use crate::failure::Failure;

/// Message and place of the first panic.
static FIRST: Mutex<Option<String>> = Mutex::new(None);

/// Does the work; a panic in it or in its threads becomes a failure.
///
/// # Errors
/// Those of the work, and [`Failure::Input`] for a panic: the input cannot be used as things are.
pub(crate) fn guarded<T>(work: impl FnOnce() -> Result<T, Failure>) -> Result<T, Failure> {
    let usual = std::panic::take_hook();
    let wants_trace = std::env::var_os("RUST_BACKTRACE").is_some_and(|v| v != "0");
    std::panic::set_hook(Box::new(move |info| {
        let text = info.to_string().replace('\n', " ");
        FIRST.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(text);
        if wants_trace {
            usual(info);
        }
    }));
    // The state that the work leaves behind is not used again.
    let done = catch_unwind(AssertUnwindSafe(work));
    let _ = std::panic::take_hook();
    done.unwrap_or_else(|_| {
        crate::interrupt::take_away(&mut crate::interrupt::under_way());
        let message = FIRST.lock().unwrap_or_else(PoisonError::into_inner).take().unwrap_or_default();
        Err(Failure::Input(format!(
            "this is a fault in bladeform ({message}); nothing was written; please report it with the command line and the input"
        )))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_in_a_thread_is_one_sentence() {
        let failed = guarded(|| -> Result<(), Failure> {
            std::thread::scope(|scope| {
                let worker = scope.spawn(|| panic!("out of\nbounds"));
                worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            })
        });
        let Err(Failure::Input(text)) = failed else { panic!("{failed:?}") };
        assert!(
            text.contains("out of bounds") && text.contains("fault.rs") && !text.contains('\n'),
            "{text}"
        );
        assert_eq!(guarded(|| Ok(1)), Ok(1));
    }
}
