//! Hostile scans: invented blades damaged in every ordinary way, and things that are no blades. A wrong figure without a word about it is the worst fault.
//!
//! The study does not know how the estimator works: it knows the exact truth and the codes of `docs/definitions.md`.

mod cases;
mod judge;
mod propellers;
mod things;
mod tools;
mod words;

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;

use bladeform_measure::{ScanInput, Silent, measure};
use bladeform_numeric::parallel;

use crate::markdown::Table;
use cases::{Case, Draw};
use judge::{Errors, Truths, Unsaid, Verdict, WRONG, judged};
use words::{Figure, is_general};

/// Noise of the scans, m.
const NOISE_M: [f64; 2] = [0.0, 1e-4];

/// What one run gave: the code of a refusal, or a verdict.
enum Exit {
    Refused(String),
    Table(Box<Verdict>),
}

/// The runs of one kind and amount, by their noise and seed.
struct Row {
    runs: Vec<(Draw, Exit)>,
}

/// Runs of a case: all, or briefly every other noise, which costs half.
fn run_case(case: &Case, draws: &[Draw], truths: &Truths) -> std::io::Result<Row> {
    let mut runs = Vec::new();
    let all = draws.iter().enumerate();
    for (_, draw) in all.filter(|(k, _)| !case.briefly || k % 4 == 0 || k % 4 == 3) {
        let made = (case.make)(*draw)?;
        let exit = match measure(ScanInput::file(&made.file, "study"), &made.ask, &Silent) {
            Ok(table) => Exit::Table(Box::new(judged(&made.known, &table, truths))),
            Err(e) => Exit::Refused(e.code().to_owned()),
        };
        runs.push((*draw, exit));
    }
    Ok(Row { runs })
}

impl Verdict {
    fn is_silent(&self) -> bool {
        !self.unsaid.is_empty() || !self.faults.is_empty()
    }

    /// The worst error over uncertainty without a word; infinite for a fault of the whole table, 0 for none.
    fn worst_unsaid(&self) -> f64 {
        let figures = self.unsaid.values().map(|u| u.over_u).fold(0.0, f64::max);
        if self.faults.is_empty() { figures } else { f64::INFINITY }
    }
}

impl Row {
    fn verdicts(&self) -> impl Iterator<Item = (&Draw, &Verdict)> {
        self.runs.iter().filter_map(|(draw, exit)| match exit {
            Exit::Table(verdict) => Some((draw, &**verdict)),
            Exit::Refused(_) => None,
        })
    }

    /// Tables, and refusals by code.
    fn exit(&self) -> String {
        let mut refused = BTreeMap::<&str, usize>::new();
        for (_, exit) in &self.runs {
            if let Exit::Refused(code) = exit {
                *refused.entry(code).or_default() += 1;
            }
        }
        let tables = self.verdicts().count();
        let first = (0 < tables).then(|| format!("{tables} tables"));
        let refusals = refused.iter().map(|(code, n)| format!("{n} refused: {code}"));
        first.into_iter().chain(refusals).collect::<Vec<_>>().join(", ")
    }

    /// All runs together.
    fn errors(&self, figure: Figure) -> Errors {
        self.verdicts().filter_map(|(_, v)| v.errors.get(&figure)).fold(Errors::default(), |a, b| Errors {
            judged: a.judged + b.judged,
            over: a.over + b.over,
            worst: if a.worst[0] < b.worst[0] { b.worst } else { a.worst },
        })
    }

    fn cell(&self, figure: Figure) -> String {
        let errors = self.errors(figure);
        if errors.judged == 0 {
            return "none".to_owned();
        }
        let (over_u, amount) = shown(figure, errors.worst);
        format!("{over_u} ({amount}), {} of {}", errors.over, errors.judged)
    }

    /// Codes of warnings that are not general, and of flags at wrong stations with their number.
    fn said(&self) -> String {
        let mut warnings = BTreeMap::<&str, usize>::new();
        let mut flags = BTreeMap::<&str, usize>::new();
        for (_, verdict) in self.verdicts() {
            for code in verdict.warnings.iter().filter(|c| !is_general(c)) {
                *warnings.entry(code).or_default() += 1;
            }
            for (code, n) in &verdict.flags {
                *flags.entry(code).or_default() += n;
            }
        }
        let list = |codes: &BTreeMap<&str, usize>, what: &str| {
            let texts: Vec<String> = codes.iter().map(|(code, n)| format!("{code} {n}")).collect();
            (!texts.is_empty()).then(|| format!("{what}: {}", texts.join(", ")))
        };
        let parts = [list(&warnings, "runs"), list(&flags, "wrong stations")];
        parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
    }

    /// How many runs are silent, and of what.
    fn silent(&self) -> String {
        let runs = self.verdicts().filter(|(_, v)| v.is_silent()).count();
        if runs == 0 {
            return String::new();
        }
        let mut what = BTreeSet::new();
        for (_, verdict) in self.verdicts() {
            what.extend(verdict.unsaid.keys().map(|f| f.shown().0.to_owned()));
            what.extend(verdict.faults.iter().cloned());
        }
        format!("{runs} of {}: {}", self.runs.len(), what.into_iter().collect::<Vec<_>>().join(", "))
    }

    /// The worst run without a word, the first of equals.
    fn worst_silent(&self) -> Option<(&Draw, &Verdict)> {
        let silent = self.verdicts().filter(|(_, v)| v.is_silent());
        silent.reduce(|a, b| if a.1.worst_unsaid() < b.1.worst_unsaid() { b } else { a })
    }

    /// The worst error over uncertainty without a word; infinite for a fault of the whole table, 0 for none.
    fn worst_unsaid(&self) -> f64 {
        self.worst_silent().map_or(0.0, |(_, v)| v.worst_unsaid())
    }
}

/// An error over uncertainty and the error itself as texts.
fn shown(figure: Figure, [over_u, error]: [f64; 2]) -> (String, String) {
    let (_, unit, factor) = figure.shown();
    let digits = |x: f64| if x.abs() < 10.0 { 2 } else { 0 };
    let over_u = if over_u < 1000.0 { format!("{over_u:.1}") } else { format!("{over_u:.0e}") };
    let error = factor * error;
    let error = if error.abs() < 1e5 { format!("{error:.*}", digits(error)) } else { format!("{error:.0e}") };
    (over_u, format!("{error} {unit}"))
}

/// One line about a silent run.
fn line(case: &Case, draw: &Draw, verdict: &Verdict) -> String {
    let figure = |(figure, unsaid): (&Figure, &Unsaid)| {
        let (over_u, amount) = shown(*figure, [unsaid.over_u, unsaid.error]);
        let more = match unsaid.count - 1 {
            0 => String::new(),
            n => format!(" and at {n} more"),
        };
        format!("{} {over_u} u ({amount}) at {:.2} R{more}", figure.shown().0, unsaid.radius_ratio)
    };
    let texts: Vec<String> =
        verdict.faults.iter().cloned().chain(verdict.unsaid.iter().map(figure)).collect();
    format!(
        "- {}, {}, noise {} mm, seed {}: {}",
        case.kind,
        case.amount,
        1e3 * draw.noise_m,
        draw.seed,
        texts.join("; ")
    )
}

/// Runs all kinds in parallel, and reports each on standard error with its seconds when it is done.
fn collect(cases: &[Case], draws: &[Draw]) -> std::io::Result<Vec<Row>> {
    let truths = Truths::default();
    let rows = parallel::indices(cases.len(), |k| {
        let before = std::time::Instant::now();
        let row = run_case(&cases[k], draws, &truths);
        // Nothing can be reported when standard error is closed.
        let _ = writeln!(
            std::io::stderr(),
            "{:6.1} s  {}, {}",
            before.elapsed().as_secs_f64(),
            cases[k].kind,
            cases[k].amount
        );
        row
    });
    rows.into_iter().collect()
}

/// Prints one row for each kind and amount, then the worst silent run of each. `only`: parts of the names of the rows to run, with bars between them.
pub(crate) fn run(seeds: usize, first: u64, only: &str) -> std::io::Result<()> {
    let is_chosen = |c: &Case| {
        let name = format!("{}, {}", c.kind, c.amount);
        only.split('|').any(|part| name.contains(part))
    };
    let cases: Vec<Case> = cases::all().into_iter().filter(is_chosen).collect();
    let draws: Vec<Draw> =
        (first..).take(seeds).flat_map(|seed| NOISE_M.map(|noise_m| Draw { seed, noise_m })).collect();
    // Threads of this pool have room for several nested cases.
    let rows = parallel::with_threads(0, || collect(&cases, &draws))?;
    let mut out = std::io::stdout();
    let title = format!(
        "Hostile scans: {seeds} seeds from {first}, each without noise and with 0.1 mm; for each figure the greatest error over u (and the error there), and at how many of the stations it is over {WRONG}"
    );
    let names = Figure::ALL.map(|f| f.shown().0);
    let headings: Vec<&str> =
        ["damage", "exit"].into_iter().chain(names).chain(["said", "silent runs"]).collect();
    let table = Table::begin(&mut out, &title, &headings)?;
    for (case, row) in cases.iter().zip(&rows) {
        let cells = [format!("{}: {}", case.kind, case.amount), row.exit()]
            .into_iter()
            .chain(Figure::ALL.map(|f| row.cell(f)))
            .chain([row.said(), row.silent()]);
        table.row(&mut out, &cells.collect::<Vec<_>>())?;
    }
    summary(&mut out, &cases, &rows)
}

/// Numbers over all rows, and a line for the worst silent run of each row.
fn summary(out: &mut impl Write, cases: &[Case], rows: &[Row]) -> std::io::Result<()> {
    let silent = |limit: f64| rows.iter().filter(|r| limit < r.worst_unsaid()).count();
    let figures = Figure::ALL
        .map(|f| rows.iter().map(|r| r.errors(f)).fold((0, 0), |(a, b), e| (a + e.over, b + e.judged)));
    let (over, judged) = figures.iter().fold((0, 0), |(a, b), f| (a + f.0, b + f.1));
    writeln!(
        out,
        "\n{} rows; {over} of {judged} figures are off by more than {WRONG} u; silent: {} rows, of which {} by more than 4 u, {} by more than 6 u, {} by more than 20 u or in the whole table (goal: none)\n",
        rows.len(),
        silent(0.0),
        silent(4.0),
        silent(6.0),
        silent(20.0),
    )?;
    let mut order: Vec<usize> = (0..rows.len()).filter(|&k| 0.0 < rows[k].worst_unsaid()).collect();
    order.sort_by(|&a, &b| rows[b].worst_unsaid().total_cmp(&rows[a].worst_unsaid()));
    for k in order {
        if let Some((draw, verdict)) = rows[k].worst_silent() {
            writeln!(out, "{}", line(&cases[k], draw, verdict))?;
        }
    }
    let unknown: BTreeSet<&str> =
        rows.iter().flat_map(Row::verdicts).flat_map(|(_, v)| v.unknown.iter().map(String::as_str)).collect();
    if !unknown.is_empty() {
        let unknown: Vec<&str> = unknown.into_iter().collect();
        writeln!(out, "\nCodes without a line in `words.rs`, taken for no word: {}", unknown.join(", "))?;
    }
    Ok(())
}
