//! Long work without the interpreter's lock: progress to a callback, Ctrl-C within a moment, every refusal and fault as one exception.

use std::any::Any;
use std::ops::ControlFlow;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use bladeform::work::{Observer, Stage};
use bladeform_cli::calls::{Refusal, RefusalKind};
use pyo3::prelude::*;

/// How often Ctrl-C is looked for: well within the half second in which a user expects an answer.
const PATIENCE: Duration = Duration::from_millis(40);
/// Progress is told at most this often, so that a callback does not slow the work; a new stage is told at once.
const BETWEEN: Duration = Duration::from_millis(20);
/// Stack of the thread that works, bytes: as much as a main thread usually has.
const STACK_BYTES: usize = 8 << 20;

/// The first panic of a call.
static FIRST: Mutex<Option<String>> = Mutex::new(None);

/// Faults are told by an exception and not printed. The hook is that of this module alone: it has its own copy of the standard library.
pub(crate) fn keep_panics_quiet() {
    std::panic::set_hook(Box::new(|info| {
        let text = info.to_string().replace('\n', " ");
        FIRST.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(text);
    }));
}

/// What the working thread says.
enum Said<T> {
    Stage(String, usize, usize),
    Done(Result<T, Refusal>),
    Fault,
}

/// Where stages go, and the last one that went there.
struct Told<T> {
    sender: Sender<Said<T>>,
    last: Option<(String, Instant)>,
}

/// Passes stages on, and stops the work when it was told to.
struct Listener<T> {
    told: Mutex<Told<T>>,
    stop: Arc<AtomicBool>,
    is_wanted: bool,
}

impl<T: Send> Observer for Listener<T> {
    fn at(&self, stage: Stage<'_>) -> ControlFlow<()> {
        if self.stop.load(Ordering::Relaxed) {
            return ControlFlow::Break(());
        }
        if self.is_wanted {
            let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
            let last = told.last.as_ref();
            let is_due = last.is_none_or(|(name, at)| name != stage.name || BETWEEN <= at.elapsed());
            if is_due {
                told.last = Some((stage.name.to_owned(), Instant::now()));
                // A caller that is gone has set the flag.
                let _ = told.sender.send(Said::Stage(stage.name.to_owned(), stage.done, stage.total));
            }
        }
        ControlFlow::Continue(())
    }
}

/// Does the work on a thread of its own. `progress` is called on the calling thread with stage, steps done and all steps.
///
/// # Errors
/// The refusal of the work as an exception of the package; `KeyboardInterrupt`, or what `progress` raised, at once: the work then ends by itself at its next step.
pub(crate) fn run<T: Send + 'static>(
    py: Python<'_>,
    progress: Option<Py<PyAny>>,
    work: impl FnOnce(&dyn Observer) -> Result<T, Refusal> + Send + 'static,
) -> PyResult<T> {
    let stop = Arc::new(AtomicBool::new(false));
    let (sender, receiver) = channel();
    let listener = Listener {
        told: Mutex::new(Told { sender: sender.clone(), last: None }),
        stop: Arc::clone(&stop),
        is_wanted: progress.is_some(),
    };
    let job = move || {
        // The state that a fault leaves behind is not used again.
        let done: Result<_, Box<dyn Any + Send>> = catch_unwind(AssertUnwindSafe(|| work(&listener)));
        let _ = sender.send(done.map_or_else(|_| Said::Fault, Said::Done));
    };
    std::thread::Builder::new().name("bladeform".to_owned()).stack_size(STACK_BYTES).spawn(job)?;
    // One receiver is used by one thread at a time.
    let waited = wait(py, &Mutex::new(receiver), progress.as_ref());
    if waited.is_err() {
        stop.store(true, Ordering::Relaxed);
    }
    waited?.map_err(|refusal| failed(py, refusal))
}

/// Waits for the end of the work.
fn wait<T: Send>(
    py: Python<'_>,
    receiver: &Mutex<Receiver<Said<T>>>,
    progress: Option<&Py<PyAny>>,
) -> PyResult<Result<T, Refusal>> {
    loop {
        let heard =
            py.detach(|| receiver.lock().unwrap_or_else(PoisonError::into_inner).recv_timeout(PATIENCE));
        match heard {
            Ok(Said::Stage(name, done, total)) => {
                if let Some(progress) = progress {
                    progress.call1(py, (name, done, total))?;
                }
                py.check_signals()?;
            }
            Ok(Said::Done(result)) => return Ok(result),
            Ok(Said::Fault) | Err(RecvTimeoutError::Disconnected) => return Err(fault(py)),
            Err(RecvTimeoutError::Timeout) => py.check_signals()?,
        }
    }
}

/// A refusal as an exception of the package.
pub(crate) fn failed(py: Python<'_>, refusal: Refusal) -> PyErr {
    let class = match refusal.kind {
        RefusalKind::Options => "OptionError",
        RefusalKind::Input => "InputError",
        RefusalKind::Stopped => "StoppedError",
    };
    exception(py, class, &refusal.code, &refusal.sentence)
}

/// A fault of ours as an exception.
fn fault(py: Python<'_>) -> PyErr {
    let first = FIRST.lock().unwrap_or_else(PoisonError::into_inner).take().unwrap_or_default();
    let sentence =
        format!("this is a fault in bladeform ({first}); please report it with the call and the input");
    exception(py, "FaultError", "fault", &sentence)
}

fn exception(py: Python<'_>, class: &str, code: &str, sentence: &str) -> PyErr {
    let made = py
        .import("bladeform._errors")
        .and_then(|module| module.getattr(class))
        .and_then(|class| class.call1((code, sentence)));
    made.map_or_else(|e| e, PyErr::from_value)
}
