//! The verdict of the page: what was checked against what, what it says of the figures, and what was not checked.

use bladeform_table::{Agreement, CONTRADICTION, Harm, Readings, StationTable};

use crate::escape::html;

/// A known length of a scale that contradicts another.
const DISTANCES_CONTRADICT: &str = "distances-contradict";
/// Several scans of one blade contradict one another.
const REPEATS_DISAGREE: &str = "repeats-disagree";
/// Beyond this many standard uncertainties a single reading contradicts the scan: the 95 % interval of the project.
const LIMIT: f64 = bladeform_quantity::COVERAGE_FACTOR_95;

/// How a check came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// It supports the figures.
    Agrees,
    /// It was not made, or says less than it could.
    Open,
    /// It says that figures may be wrong.
    Contradicts,
}

impl Outcome {
    /// The word before the sentence, which says it without colour.
    const fn word(self) -> &'static str {
        match self {
            Self::Agrees => "in order",
            Self::Open => "open",
            Self::Contradicts => "check this",
        }
    }
}

/// One check: of what, how it came out, and a sentence.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Check {
    of: &'static str,
    outcome: Outcome,
    sentence: String,
}

impl Check {
    /// One check.
    pub(crate) const fn new(of: &'static str, outcome: Outcome, sentence: String) -> Self {
        Self { of, outcome, sentence }
    }
}

/// All checks of a page.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Verdict {
    checks: Vec<Check>,
}

impl Verdict {
    /// The checks that the table reports, and `surface`, that of the scan against the fitted outlines.
    pub(crate) fn of(table: &StationTable, surface: Option<Check>) -> Self {
        let checks = [
            Some(readings(table.readings.as_ref())),
            Some(scale(table)),
            repeats(table),
            surface,
            Some(warnings(table)),
        ];
        Self { checks: checks.into_iter().flatten().collect() }
    }

    /// The verdict in one sentence.
    pub(crate) fn sentence(&self) -> &'static str {
        let any = |outcome| self.checks.iter().any(|c| c.outcome == outcome);
        let by_hand = self.checks.first().map(|c| c.outcome);
        match by_hand {
            _ if any(Outcome::Contradicts) => {
                "A check says that figures may be wrong: resolve it before they are used."
            }
            Some(Outcome::Agrees) => "Nothing contradicts the figures, and readings by hand support them.",
            _ => "Nothing contradicts the figures, but no reading by hand supports them.",
        }
    }

    /// The box on the first screen.
    pub(crate) fn html(&self) -> String {
        let items: String = self
            .checks
            .iter()
            .map(|c| {
                format!(
                    "<li class=\"{}\"><b>{}</b> <span class=\"outcome\">{}</span> {}</li>",
                    match c.outcome {
                        Outcome::Agrees => "agrees",
                        Outcome::Open => "open",
                        Outcome::Contradicts => "contradicts",
                    },
                    c.of,
                    c.outcome.word(),
                    html(&c.sentence)
                )
            })
            .collect();
        format!(
            "<section class=\"verdict\" aria-label=\"Verdict of checks and readings\"><p class=\"sum\">{}</p><ul class=\"checks\">{items}</ul></section>",
            self.sentence()
        )
    }
}

fn readings(readings: Option<&Readings>) -> Check {
    let of = "Readings by hand";
    let Some(readings) = readings.filter(|r| !r.rows.is_empty()) else {
        return Check::new(
            of,
            Outcome::Open,
            "none were given. Read a thickness, a chord and a face angle on the part itself, and measure the scan again beside them.".to_owned(),
        );
    };
    let compared: Vec<f64> = readings.rows.iter().filter_map(|r| r.difference_over_u.map(f64::abs)).collect();
    let worst = compared.iter().copied().fold(0.0, f64::max);
    let n = readings.rows.len();
    if readings.contradict {
        let beyond = compared.iter().filter(|z| LIMIT < **z).count();
        return Check::new(
            of,
            Outcome::Contradicts,
            format!(
                "{n} given, and together they contradict the scan: {beyond} beyond {LIMIT} combined standard uncertainties, the greatest difference {worst:.1} of them."
            ),
        );
    }
    if compared.is_empty() || readings.degrees_of_freedom == 0 {
        return Check::new(
            of,
            Outcome::Open,
            format!("{n} given, but they only set what the scan leaves open and check nothing."),
        );
    }
    Check::new(
        of,
        Outcome::Agrees,
        format!(
            "{n} given; the greatest difference from the scan is {worst:.1} combined standard uncertainties."
        ),
    )
}

fn scale(table: &StationTable) -> Check {
    let of = "Scale";
    let has = |code: &str| table.warnings.iter().any(|w| w.code() == code);
    let u = table.scale.as_ref().and_then(|s| s.relative_uncertainty);
    let known = table.scale.as_ref().map_or(0, |s| s.known_lengths.len());
    let per_cent = u.map(|u| format!("± {:.3} %", 100.0 * LIMIT * u)).unwrap_or_default();
    let (outcome, sentence) = match u {
        _ if has(DISTANCES_CONTRADICT) => (
            Outcome::Contradicts,
            format!("{known} known lengths contradict one another; the scale is uncertain by {per_cent}."),
        ),
        None if table.source.is_none() => (Outcome::Open, "lengths are as written in the table.".to_owned()),
        None => (
            Outcome::Contradicts,
            "no length is known, so every length may be wrong by a common factor.".to_owned(),
        ),
        Some(_) if 1 < known => {
            (Outcome::Agrees, format!("{per_cent}, from {known} known lengths that agree."))
        }
        Some(_) => {
            (Outcome::Open, format!("{per_cent}, from one known length; a second one would check it."))
        }
    };
    Check::new(of, outcome, sentence)
}

fn repeats(table: &StationTable) -> Option<Check> {
    let repeats = table.repeats.as_ref()?;
    let outcome = if repeats.raised().next().is_some() {
        Outcome::Contradicts
    } else if repeats.quantities.iter().all(|q| q.agreement == Agreement::NotTested) {
        Outcome::Open
    } else {
        Outcome::Agrees
    };
    Some(Check::new(
        "Several scans",
        outcome,
        format!("{} of them: {}.", repeats.scans.len(), repeats.verdict()),
    ))
}

/// The warnings that make figures wrong, as far as no other check has told of them.
fn warnings(table: &StationTable) -> Check {
    let told = [CONTRADICTION, DISTANCES_CONTRADICT, REPEATS_DISAGREE];
    let others = || table.warnings.iter().filter(|w| !told.contains(&w.code()));
    let wrong: Vec<_> = others().filter(|w| w.harm() == Harm::Wrong).collect();
    let less = others().filter(|w| w.harm() == Harm::Less).count();
    let limit = match less {
        0 => "none limits what they mean".to_owned(),
        1 => "1 limits what they mean (below)".to_owned(),
        n => format!("{n} limit what they mean (below)"),
    };
    match wrong.as_slice() {
        [] => Check::new("Warnings", Outcome::Agrees, format!("none says that figures are wrong; {limit}.")),
        [first, rest @ ..] => {
            let more = if rest.is_empty() {
                String::new()
            } else {
                format!(" And {} more of this kind (below).", rest.len())
            };
            Check::new("Warnings", Outcome::Contradicts, crate::head::sentence(first.sentence()) + &more)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::{Notice, Reading, ReadingOf, Scale};

    #[test]
    fn without_readings_nothing_supports_the_figures_and_a_contradiction_is_the_verdict() {
        let mut table = StationTable::default();
        assert!(Verdict::of(&table, None).sentence().contains("no reading by hand supports them"));
        let reading =
            Reading { difference_over_u: Some(0.7), ..Reading::new(ReadingOf::Chord, 0.2, None, 0.6) };
        table.readings = Some(Readings { rows: vec![reading], degrees_of_freedom: 1, ..Readings::default() });
        assert!(Verdict::of(&table, None).sentence().contains("readings by hand support them"));
        table.readings.as_mut().unwrap().contradict = true;
        let verdict = Verdict::of(&table, None);
        assert!(verdict.sentence().starts_with("A check says"), "{verdict:?}");
        // A reading that only sets a relative angle checks nothing.
        table.readings.as_mut().unwrap().contradict = false;
        table.readings.as_mut().unwrap().degrees_of_freedom = 0;
        assert!(Verdict::of(&table, None).html().contains("check nothing"));
    }

    #[test]
    fn a_scale_without_a_known_length_and_a_grave_warning_are_told() {
        let mut table =
            StationTable { source: Some(bladeform_table::Source::default()), ..StationTable::default() };
        assert!(Verdict::of(&table, None).sentence().starts_with("A check says"));
        table.scale = Some(Scale { relative_uncertainty: Some(5e-4), ..Scale::default() });
        assert!(Verdict::of(&table, None).sentence().starts_with("Nothing contradicts"));
        assert!(Verdict::of(&table, None).html().contains("± 0.100 %"));
        table.warnings.push(Notice::read("tip-open: the <tip> is open"));
        table.warnings.push(Notice::read("pieces: two pieces"));
        let page = Verdict::of(&table, None).html();
        assert!(page.contains("The &lt;tip&gt; is open. And 1 more of this kind (below)."), "{page}");
    }
}
