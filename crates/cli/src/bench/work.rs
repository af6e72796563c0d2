//! The work of the bench: one thing at a time, with its progress, and an end that the user can call.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use bladeform::work::{Observer, Stage, parallel};
use serde_json::{Value, json};

use crate::failure::Failure;
use crate::feedback::{self, Progress, Shares};

/// What is done now, and how the last ended.
#[derive(Default)]
pub(super) struct Work {
    /// Counts what was begun.
    number: u64,
    /// The word of the step.
    step: String,
    now: Option<Arc<Running>>,
    last: Option<Ended>,
}

/// How a step ended.
struct Ended {
    step: String,
    /// The text of the command, or the sentence of its failure.
    said: Result<String, (String, String)>,
    seconds: f64,
}

/// A step that is under way.
struct Running {
    begun: Instant,
    progress: Mutex<Progress>,
    stop: AtomicBool,
}

impl Observer for Running {
    fn at(&self, stage: Stage<'_>) -> ControlFlow<()> {
        self.progress.lock().unwrap_or_else(PoisonError::into_inner).at(stage);
        match self.stop.load(Ordering::Relaxed) {
            true => ControlFlow::Break(()),
            false => ControlFlow::Continue(()),
        }
    }
}

impl Work {
    /// Whether something is being done.
    pub(super) fn is_running(&self) -> bool {
        self.now.is_some()
    }

    /// Asks what is being done to end.
    pub(super) fn stop(&self) {
        if let Some(now) = &self.now {
            now.stop.store(true, Ordering::Relaxed);
        }
    }

    /// What the page shows.
    pub(super) fn shown(&self) -> Value {
        let now = self.now.as_ref().map(|now| {
            let progress = now.progress.lock().unwrap_or_else(PoisonError::into_inner);
            json!({
                "step": self.step,
                "line": progress.line(),
                "share": progress.share(),
                "seconds": now.begun.elapsed().as_secs_f64(),
                "stopping": now.stop.load(Ordering::Relaxed),
            })
        });
        let last = self.last.as_ref().map(|last| {
            let (text, code) = match &last.said {
                Ok(text) => (text, None),
                Err((code, text)) => (text, Some(code)),
            };
            json!({ "step": last.step, "ok": code.is_none(), "code": code, "text": text, "seconds": last.seconds })
        });
        json!({ "number": self.number, "now": now, "last": last })
    }
}

/// Waits for the end of what is being done, but not for ever, and not longer than until `is_over`.
pub(super) fn wait(shop: &super::Shop, most: Duration, is_over: impl Fn() -> bool) {
    let begun = Instant::now();
    while shop.work().is_running() && begun.elapsed() < most && !is_over() {
        std::thread::sleep(Duration::from_millis(10));
    }
}

/// Begins a step on a thread of its own; false if another is under way. `done`: called with its success before the step counts as ended.
pub(super) fn begin(
    shop: &Arc<super::Shop>,
    step: &str,
    shares: Shares,
    threads: usize,
    task: impl FnOnce(&dyn Observer) -> Result<String, Failure> + Send + 'static,
    done: impl FnOnce(&super::Shop) + Send + 'static,
) -> bool {
    let running = Arc::new(Running {
        begun: Instant::now(),
        progress: Mutex::new(Progress::new(shares)),
        stop: AtomicBool::new(false),
    });
    {
        let mut work = shop.work();
        if work.is_running() {
            return false;
        }
        work.number += 1;
        work.step = step.to_owned();
        work.now = Some(Arc::clone(&running));
    }
    let (shop, step) = (Arc::clone(shop), step.to_owned());
    std::thread::spawn(move || {
        // The command's own stages are heard as well as those of the libraries.
        feedback::hear(Some(Arc::clone(&running) as Arc<dyn Observer + Send + Sync>));
        let said = crate::fault::guarded(|| parallel::with_threads(threads, || task(&*running)));
        feedback::hear(None);
        let said = said.map_err(|failure| match failure {
            Failure::Coded { code, text } => (code.to_owned(), text),
            Failure::Usage(text) => ("option".to_owned(), text),
            Failure::Input(text) => ("input".to_owned(), text),
        });
        if said.is_ok() {
            done(&shop);
        }
        let mut work = shop.work();
        work.last = Some(Ended { step, said, seconds: running.begun.elapsed().as_secs_f64() });
        work.now = None;
    });
    true
}
