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

    /// One line: goal beside figure, and the share of errors within two standard uncertainties (95 % would be right).
    pub(crate) fn print(&self, out: &mut impl Write, name: &str, goal: f64) -> std::io::Result<()> {
        let n = self.errors.len().max(1) as f64;
        let rms = (self.errors.iter().map(|e| e.0 * e.0).sum::<f64>() / n).sqrt();
        let worst = self.errors.iter().map(|e| e.0.abs()).fold(0.0, f64::max);
        let stated: Vec<_> = self.errors.iter().filter_map(|e| Some((e.0, e.1?))).collect();
        let covered = stated.iter().filter(|(e, u)| e.abs() <= 2.0 * u).count() as f64;
        let mean_u = (stated.iter().map(|s| s.1 * s.1).sum::<f64>() / stated.len().max(1) as f64).sqrt();
        let verdict = if rms <= goal { "met" } else { "MISSED" };
        writeln!(
            out,
            "  {name:22} goal {goal:.5}  rms {rms:.5}  worst {worst:.5}  {verdict:6}  stated u {mean_u:.5}, covered by 2 u {:5.1} % of {}",
            100.0 * covered / stated.len().max(1) as f64,
            stated.len()
        )
    }
}
