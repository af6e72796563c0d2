//! Errors of one quantity, and how often its stated uncertainty covers them.

use std::io::Write;

use crate::markdown::{Table, verdict};

/// Errors of one quantity with their stated standard uncertainties.
#[derive(Debug, Default)]
pub(crate) struct Tally {
    errors: Vec<(f64, Option<f64>)>,
}

/// The headings of [`Tally::print`], after the study's own headings.
pub(crate) const HEADINGS: [&str; 7] =
    ["quantity", "goal, rms", "rms", "goal, worst", "worst", "stated u, rms", "within 2 u"];

impl Tally {
    /// Adds an error and its standard uncertainty.
    pub(crate) fn add(&mut self, error: f64, u: Option<f64>) {
        self.errors.push((error, u));
    }

    /// Root mean square error.
    pub(crate) fn rms(&self) -> f64 {
        mean(self.errors.iter().map(|e| e.0 * e.0)).sqrt()
    }

    /// Root mean square error about the mean error.
    pub(crate) fn scatter(&self) -> f64 {
        let bias = mean(self.errors.iter().map(|e| e.0));
        mean(self.errors.iter().map(|e| (e.0 - bias).powi(2))).sqrt()
    }

    /// Root mean square of the stated standard uncertainties.
    pub(crate) fn rms_u(&self) -> f64 {
        mean(self.errors.iter().filter_map(|e| Some(e.1? * e.1?))).sqrt()
    }

    /// The largest error.
    pub(crate) fn worst(&self) -> f64 {
        self.errors.iter().map(|e| e.0.abs()).fold(0.0, f64::max)
    }

    /// Fraction of errors within two standard uncertainties, %, and root mean square of error over uncertainty.
    pub(crate) fn coverage(&self) -> String {
        let ratios = || self.errors.iter().filter_map(|e| Some(e.0 / e.1?));
        let covered = mean(ratios().map(|r| f64::from(u8::from(r.abs() <= 2.0))));
        if ratios().next().is_none() {
            return "none".to_owned();
        }
        format!("{:.1} ({:.2})", 100.0 * covered, mean(ratios().map(|r| r * r)).sqrt())
    }

    /// Fraction of errors within two standard uncertainties, of the errors that have one. 0 if none has.
    pub(crate) fn covered(&self) -> f64 {
        let ratios = self.errors.iter().filter_map(|e| Some(e.0 / e.1?));
        mean(ratios.map(|r| f64::from(u8::from(r.abs() <= 2.0))))
    }

    /// Root mean square of error over uncertainty.
    pub(crate) fn error_over_u(&self) -> f64 {
        mean(self.errors.iter().filter_map(|e| Some((e.0 / e.1?).powi(2)))).sqrt()
    }

    /// Mean error.
    pub(crate) fn mean_error(&self) -> f64 {
        mean(self.errors.iter().map(|e| e.0))
    }

    /// One cell: error rms and worst, stated uncertainty, and the fraction of errors within two of it. An error without a stated uncertainty counts as outside.
    pub(crate) fn short(&self) -> String {
        let covered =
            mean(self.errors.iter().map(|e| f64::from(u8::from(e.1.is_some_and(|u| e.0.abs() <= 2.0 * u)))));
        format!("{:.3} ({:.3}), u {:.3}, {:.0} %", self.rms(), self.worst(), self.rms_u(), 100.0 * covered)
    }

    /// One row with the headings [`HEADINGS`] after `first`: goal next to figure, and the fraction of errors within two standard uncertainties (95 % would be
    /// right). `worst_goal`: goal of the largest error, if there is one.
    pub(crate) fn print(
        &self,
        out: &mut impl Write,
        table: &Table,
        first: &[&str],
        name: &str,
        [goal, worst_goal]: [Option<f64>; 2],
    ) -> std::io::Result<()> {
        let figure = |value: f64, goal: Option<f64>| match goal {
            Some(goal) => format!("{value:.5} {}", verdict(value <= goal)),
            None => format!("{value:.5}"),
        };
        let shown = |goal: Option<f64>| goal.map_or_else(String::new, |g| format!("{g:.5}"));
        let stated: Vec<_> = self.errors.iter().filter_map(|e| Some((e.0, e.1?))).collect();
        let covered = stated.iter().filter(|(e, u)| e.abs() <= 2.0 * u).count() as f64;
        let (u, within) = if stated.is_empty() {
            (String::new(), String::new())
        } else {
            let percent = 100.0 * covered / stated.len() as f64;
            (format!("{:.5}", self.rms_u()), format!("{percent:.1} % of {}", stated.len()))
        };
        let own = [
            name.to_owned(),
            shown(goal),
            figure(self.rms(), goal),
            shown(worst_goal),
            figure(self.worst(), worst_goal),
            u,
            within,
        ];
        let cells: Vec<String> = first.iter().map(|c| (*c).to_owned()).chain(own).collect();
        table.row(out, &cells)
    }
}

/// Mean of some numbers. 0 if there are none.
fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(s, n), v| (s + v, n + 1.0));
    if n == 0.0 { 0.0 } else { sum / n }
}
