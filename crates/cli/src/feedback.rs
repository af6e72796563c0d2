//! What is printed while a command works: progress with the time left on a terminal, stage times and choices for `--verbose`, nothing in a
//! pipe. The libraries report their stages through the facade `log`; this is its only listener.

use std::fmt::Write as _;
use std::io::{IsTerminal, Write as _};
use std::ops::ControlFlow;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use crate::failure::Failure;
use bladeform::work::{Observer, Stage, Stopped};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};

/// Log target of stages and their steps.
const PROGRESS: &str = "bladeform::progress";
/// Log target of what was read, chosen and written: printed by `--verbose`.
pub(crate) const CHOSEN: &str = "bladeform::chosen";

/// Shorter work shows no progress line.
const PATIENCE: Duration = Duration::from_secs(1);
/// Time between two drawings.
const TICK: Duration = Duration::from_millis(200);
/// Before this fraction of the work is done, the time left cannot be estimated.
const LEAST_SHARE: f64 = 0.03;
/// Steps of the bar.
const BAR: u64 = 1000;

/// How much is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Loudness {
    /// Warnings and errors.
    Quiet,
    /// Also the results, and progress on a terminal.
    Usual,
    /// Also stage times and choices.
    Verbose,
}

/// Stages of a command with the fraction of time that each takes on ordinary inputs. They only weight the time left.
pub(crate) type Shares = &'static [(&'static str, f64)];

static LISTENER: OnceLock<Listener> = OnceLock::new();

struct Listener {
    work: Mutex<Work>,
    bar: Option<ProgressBar>,
    verbose: bool,
}

/// Listens from here on.
pub(crate) fn begin(loudness: Loudness, shares: Shares) {
    let is_terminal = std::io::stderr().is_terminal() && std::env::var_os("TERM").is_none_or(|t| t != "dumb");
    let bar = (loudness != Loudness::Quiet && is_terminal).then(hidden_bar);
    let verbose = loudness == Loudness::Verbose;
    if bar.is_none() && !verbose {
        return;
    }
    let listener = LISTENER.get_or_init(|| Listener { work: Mutex::new(Work::new(shares)), bar, verbose });
    if log::set_logger(listener).is_ok() {
        log::set_max_level(if verbose { log::LevelFilter::Debug } else { log::LevelFilter::Info });
    }
    if listener.bar.is_some() {
        std::thread::spawn(|| {
            std::thread::sleep(PATIENCE);
            listener.show();
        });
    }
}

/// Who hears the stages besides the log, and may stop the command. A process does one command at a time, so there is one.
static HEARER: Mutex<Option<Arc<dyn Observer + Send + Sync>>> = Mutex::new(None);

/// From here on another observer hears the stages of commands, and may stop them; `None`: nobody does.
pub(crate) fn hear(observer: Option<Arc<dyn Observer + Send + Sync>>) {
    *HEARER.lock().unwrap_or_else(PoisonError::into_inner) = observer;
}

/// Passes the stages of a library's call on to the progress line.
pub(crate) struct ToLog;

impl Observer for ToLog {
    fn at(&self, stage: Stage<'_>) -> ControlFlow<()> {
        log::info!(target: PROGRESS, done = stage.done, total = stage.total; "{}", stage.name);
        let hearer = HEARER.lock().unwrap_or_else(PoisonError::into_inner).clone();
        hearer.map_or(ControlFlow::Continue(()), |hearer| hearer.at(stage))
    }
}

/// Passes the steps of one of several equal calls on to the progress line, as steps of all of them.
pub(crate) struct OneOf {
    /// Calls that are finished.
    pub(crate) done: usize,
    /// All calls.
    pub(crate) all: usize,
}

impl Observer for OneOf {
    fn at(&self, stage: Stage<'_>) -> ControlFlow<()> {
        ToLog.at(Stage { done: self.done * stage.total + stage.done, total: self.all * stage.total, ..stage })
    }
}

/// Reports a stage of the command itself. Who wants to stop it is heard at the next stage of a library, or before files are written.
pub(crate) fn stage(name: &str) {
    let _ = ToLog.at(Stage::named(name));
}

/// Whether the command may still write its files: nobody has stopped it.
///
/// # Errors
/// The failure of a command that was stopped.
pub(crate) fn may_write() -> Result<(), Failure> {
    match ToLog.at(Stage::named("writing")) {
        ControlFlow::Continue(()) => Ok(()),
        ControlFlow::Break(()) => Err(Failure::of("stopped", Stopped.to_string())),
    }
}

/// How far a command is, for a caller that shows it elsewhere than on a terminal.
pub(crate) struct Progress(Work);

impl Progress {
    pub(crate) fn new(shares: Shares) -> Self {
        Self(Work::new(shares))
    }

    /// A stage was reached.
    pub(crate) fn at(&mut self, stage: Stage<'_>) {
        if self.0.stage != stage.name {
            self.0.enter(stage.name.to_owned());
        }
        self.0.count(stage.done as u64, stage.total as u64);
    }

    /// Fraction of the whole that is done, 0 to 1.
    pub(crate) fn share(&self) -> f64 {
        self.0.share()
    }

    /// The stage, its steps and the time left.
    pub(crate) fn line(&self) -> String {
        self.0.line(Instant::now()).trim_start_matches(", ").to_owned()
    }
}

/// Removes the progress line from the terminal.
pub(crate) fn end() {
    if let Some(listener) = LISTENER.get() {
        let mut work = listener.work();
        work.is_over = true;
        listener.tell_time(&work);
        if let Some(bar) = &listener.bar {
            bar.finish_and_clear();
        }
    }
}

fn hidden_bar() -> ProgressBar {
    let left = |_: &ProgressState, out: &mut dyn std::fmt::Write| {
        if let Some(listener) = LISTENER.get() {
            let _ = out.write_str(&listener.work().line(Instant::now()));
        }
    };
    let plain = ProgressStyle::with_template("{bar:20} {line}");
    let style =
        plain.unwrap_or_else(|_| ProgressStyle::default_bar()).progress_chars("##-").with_key("line", left);
    ProgressBar::with_draw_target(Some(BAR), ProgressDrawTarget::hidden()).with_style(style)
}

impl Listener {
    fn work(&self) -> MutexGuard<'_, Work> {
        // A panic while printing does not make the figures wrong.
        self.work.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn show(&self) {
        let is_over = self.work().is_over;
        if let Some(bar) = self.bar.as_ref().filter(|_| !is_over) {
            bar.set_draw_target(ProgressDrawTarget::stderr());
            bar.enable_steady_tick(TICK);
        }
    }

    /// Prints the time of the stage that ends now.
    fn tell_time(&self, work: &Work) {
        if self.verbose && !work.stage.is_empty() {
            let steps = if 0 < work.total { format!(" ({})", work.total) } else { String::new() };
            self.line(&format!("{:9.3} s  {}{steps}", work.stage_begun.elapsed().as_secs_f64(), work.stage));
        }
    }

    fn line(&self, text: &str) {
        let write = || {
            // Nothing can be printed when standard error is closed.
            let _ = writeln!(std::io::stderr(), "{}", crate::harmless::harmless(text));
        };
        match &self.bar {
            Some(bar) => bar.suspend(write),
            None => write(),
        }
    }
}

impl log::Log for Listener {
    fn enabled(&self, metadata: &log::Metadata<'_>) -> bool {
        [PROGRESS, CHOSEN].contains(&metadata.target())
    }

    fn log(&self, record: &log::Record<'_>) {
        if record.target() == CHOSEN && self.verbose {
            self.line(&format!("             {}", record.args()));
        }
        if record.target() != PROGRESS {
            return;
        }
        let count = |key: &str| record.key_values().get(key.into()).and_then(|v| v.to_u64()).unwrap_or(0);
        let (done, total) = (count("done"), count("total"));
        let name = record.args().to_string();
        let position = {
            let mut work = self.work();
            if work.is_over {
                return;
            }
            if work.stage != name {
                self.tell_time(&work);
                work.enter(name);
            }
            work.count(done, total);
            (BAR as f64 * work.share()) as u64
        };
        if let Some(bar) = &self.bar {
            bar.set_position(position);
        }
    }

    fn flush(&self) {}
}

/// How far the work is.
struct Work {
    shares: Shares,
    begun: Instant,
    stage: String,
    stage_begun: Instant,
    /// Fraction of the whole that was done before this stage.
    before: f64,
    done: u64,
    /// When the last step was counted.
    counted: Instant,
    /// 0: the stage does not count its steps.
    total: u64,
    is_over: bool,
}

impl Work {
    fn new(shares: Shares) -> Self {
        let now = Instant::now();
        let (stage, before, done, total, is_over) = (String::new(), 0.0, 0, 0, false);
        Self { shares, begun: now, stage, stage_begun: now, before, done, counted: now, total, is_over }
    }

    fn enter(&mut self, stage: String) {
        let sum: f64 = self.shares.iter().map(|s| s.1).sum();
        let earlier: f64 = self.shares.iter().take_while(|s| s.0 != stage).map(|s| s.1).sum();
        // An unlisted stage does not move the progress.
        self.before = if self.of_stage(&stage).is_some() { earlier / sum } else { self.share() };
        self.stage = stage;
        self.stage_begun = Instant::now();
        (self.done, self.total) = (0, 0);
    }

    fn count(&mut self, done: u64, total: u64) {
        // Threads report their steps in any order.
        if self.done < done {
            self.done = done;
            self.counted = Instant::now();
        }
        self.total = total;
    }

    fn of_stage(&self, stage: &str) -> Option<f64> {
        let sum: f64 = self.shares.iter().map(|s| s.1).sum();
        self.shares.iter().find(|s| s.0 == stage).map(|s| s.1 / sum)
    }

    fn of_steps(&self) -> f64 {
        if self.total == 0 { 0.0 } else { (self.done as f64 / self.total as f64).min(1.0) }
    }

    /// Fraction of the whole work that is done, 0 to 1.
    fn share(&self) -> f64 {
        (self.before + self.of_stage(&self.stage).unwrap_or(0.0) * self.of_steps()).min(1.0)
    }

    /// Seconds left: at the pace of this stage's steps if it counts them, otherwise at the pace up to this stage. Between steps the time
    /// counts down, never below one second. `None`: too early to estimate.
    fn left_s(&self, now: Instant) -> Option<f64> {
        let share = self.share();
        let in_stage = share - self.before;
        let (from, until, part) = if 0.0 < in_stage {
            (self.stage_begun, self.counted, in_stage)
        } else {
            (self.begun, self.stage_begun, self.before)
        };
        let is_known = 0.0 < in_stage || LEAST_SHARE < part;
        let pace_s = until.duration_since(from).as_secs_f64() / part;
        is_known.then(|| (pace_s * (1.0 - share) - now.duration_since(until).as_secs_f64()).max(1.0))
    }

    /// The stage, its steps and the time left.
    fn line(&self, now: Instant) -> String {
        let mut line = self.stage.clone();
        if 0 < self.total {
            let _ = write!(line, " {} of {}", self.done, self.total);
        }
        let _ = match self.left_s(now).map(|s| s.ceil()) {
            None => write!(line, ", time left not known yet"),
            Some(s) if 90.0 < s => write!(line, ", about {:.0} min left", (s / 60.0).ceil()),
            Some(s) => write!(line, ", about {s:.0} s left"),
        };
        line
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHARES: Shares = &[("reading", 1.0), ("fitting", 8.0), ("writing", 1.0)];

    #[test]
    fn time_left_follows_the_pace_of_the_stage() {
        let mut work = Work::new(SHARES);
        assert_eq!(work.left_s(Instant::now()), None);
        work.enter("fitting".to_owned());
        work.count(6, 12);
        work.count(5, 12);
        assert!((work.share() - 0.5).abs() < 1e-12);
        // Half of the stage, 0.4 of the whole, took 4 s: the other half of the whole takes 5 s, and a second later 4 s.
        work.counted = work.stage_begun + Duration::from_secs(4);
        assert!((work.left_s(work.counted).unwrap() - 5.0).abs() < 1e-9);
        assert_eq!(work.line(work.counted + Duration::from_secs(1)), "fitting 6 of 12, about 4 s left");
        assert_eq!(work.left_s(work.counted + Duration::from_secs(60)), Some(1.0));
        // Nine tenths of the whole took 36 s: 4 s are left when the last stage begins.
        work.enter("writing".to_owned());
        assert!((work.share() - 0.9).abs() < 1e-12);
        work.stage_begun = work.begun + Duration::from_secs(36);
        assert!((work.left_s(work.stage_begun).unwrap() - 4.0).abs() < 1e-9);
    }

    #[test]
    fn a_stage_without_a_share_stands_where_the_work_is() {
        let mut work = Work::new(SHARES);
        work.enter("fitting".to_owned());
        work.count(12, 12);
        work.enter("something new".to_owned());
        assert!((work.share() - 0.9).abs() < 1e-12);
    }
}
