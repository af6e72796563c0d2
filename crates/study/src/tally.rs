//! Errors of one quantity, and how often its stated uncertainty covers them.

use std::io::Write;

/// Errors of one quantity with their stated standard uncertainties.
#[derive(Debug, Default)]
pub(crate) struct Tally {
    errors: Vec<(f64, Option<f64>)>,
}

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

    /// Share of errors within two standard uncertainties, %, and root mean square of error over uncertainty.
    pub(crate) fn coverage(&self) -> String {
        let ratios = || self.errors.iter().filter_map(|e| Some(e.0 / e.1?));
        let covered = mean(ratios().map(|r| f64::from(u8::from(r.abs() <= 2.0))));
        if ratios().next().is_none() {
            return "none".to_owned();
        }
        format!("{:.1} ({:.2})", 100.0 * covered, mean(ratios().map(|r| r * r)).sqrt())
    }

    /// Fraction of errors within two standard uncertainties, of those that have one; 0 where none has.
    #[cfg(test)]
    pub(crate) fn covered(&self) -> f64 {
        let ratios = self.errors.iter().filter_map(|e| Some(e.0 / e.1?));
        mean(ratios.map(|r| f64::from(u8::from(r.abs() <= 2.0))))
    }

    /// Error, stated uncertainty and coverage in a few words.
    pub(crate) fn short(&self) -> String {
        let worst = self.errors.iter().map(|e| e.0.abs()).fold(0.0, f64::max);
        let covered =
            mean(self.errors.iter().map(|e| f64::from(u8::from(e.1.is_some_and(|u| e.0.abs() <= 2.0 * u)))));
        format!("{:.3} ({worst:.3}) | {:.3} | {:.0} %", self.rms(), self.rms_u(), 100.0 * covered)
    }

    /// One line: goal beside figure, and the share of errors within two standard uncertainties (95 % would be right).
    /// `worst_goal`: goal of the largest error, where there is one.
    pub(crate) fn print(
        &self,
        out: &mut impl Write,
        name: &str,
        goal: f64,
        worst_goal: Option<f64>,
    ) -> std::io::Result<()> {
        let rms = self.rms();
        let worst = self.errors.iter().map(|e| e.0.abs()).fold(0.0, f64::max);
        let stated: Vec<_> = self.errors.iter().filter_map(|e| Some((e.0, e.1?))).collect();
        let covered = stated.iter().filter(|(e, u)| e.abs() <= 2.0 * u).count() as f64;
        let verdict = if rms <= goal { "met" } else { "MISSED" };
        write!(out, "  {name:22} goal {goal:.5}  rms {rms:.5}  worst {worst:.5}  {verdict:6}")?;
        if let Some(most) = worst_goal {
            write!(out, " (worst, goal {most:.2}: {})", if worst <= most { "met" } else { "MISSED" })?;
        }
        if stated.is_empty() {
            return writeln!(out);
        }
        let share = 100.0 * covered / stated.len() as f64;
        writeln!(out, "  stated u {:.5}, covered by 2 u {share:5.1} % of {}", self.rms_u(), stated.len())
    }
}

/// Mean of some numbers; 0 of none.
fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(s, n), v| (s + v, n + 1.0));
    if n == 0.0 { 0.0 } else { sum / n }
}
