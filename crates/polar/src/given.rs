//! A polar given by the user as a text table.

use std::f64::consts::PI;

use bladeform_numeric::rows::{Row, rows as cell_rows};

use crate::beyond_stall::{self, Edge};
use crate::curve::{FullCirclePolar, Node};
use crate::error::PolarError;
use crate::forces::{PolarRegion, SectionForces, SectionPolar};
use crate::table::{SectionTable, most_lift};

/// A given polar. Compressibility is corrected as in a computed one. Angles that it does not cover have the forces of a plate and are marked as beyond stall.
#[derive(Debug, Clone, PartialEq)]
pub struct GivenPolar {
    table: SectionTable,
}

impl GivenPolar {
    /// Reads comma-separated lines `angle in degrees, lift, drag, Reynolds number` with the moment as an optional fifth column. A heading line may come first.
    /// Empty lines and text after `#` are skipped. Each Reynolds number needs at least three different angles. `thickness_ratio` is used for
    /// compressibility.
    ///
    /// ```
    /// use bladeform_polar::{GivenPolar, PolarRegion, SectionPolar};
    /// let text = "angle_deg,lift,drag,reynolds\n-4,-0.4,0.01,1e6\n0,0,0.008,1e6\n4,0.4,0.01,1e6\n";
    /// let forces = GivenPolar::from_csv(text, 0.12)?.forces(0.0, 1e6, 0.0);
    /// assert_eq!(forces.region, PolarRegion::Given);
    /// assert!((forces.drag - 0.008).abs() < 1e-12);
    /// # Ok::<(), bladeform_polar::PolarError>(())
    /// ```
    ///
    /// # Errors
    /// [`PolarError::Given`] with the line number.
    pub fn from_csv(text: &str, thickness_ratio: f64) -> Result<Self, PolarError> {
        let mut rows: Vec<(f64, Node)> = Vec::new();
        let mut last_line = 0;
        let plain: Vec<&str> = text.lines().map(|l| l.split('#').next().unwrap_or("")).collect();
        for Row { line, cells } in cell_rows(&plain.join("\n")) {
            last_line = line;
            if rows.is_empty()
                && cells[0].parse::<f64>().is_err()
                && cells[0].starts_with(char::is_alphabetic)
            {
                continue;
            }
            rows.push(row(line, &cells)?);
        }
        rows.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.alpha_rad.total_cmp(&b.1.alpha_rad)));
        let mut curves = Vec::new();
        for group in rows.chunk_by(|a, b| (b.0 / a.0 - 1.0).abs() < 1e-6) {
            let nodes: Vec<Node> = group.iter().map(|r| r.1).collect();
            if nodes.len() < 3 {
                let problem =
                    format!("Reynolds number {} has {} angles, fewer than 3", group[0].0, nodes.len());
                return Err(PolarError::Given { line: last_line, problem });
            }
            if let Some(w) = nodes.windows(2).find(|w| w[1].alpha_rad - w[0].alpha_rad < LEAST_STEP_RAD) {
                let (angle, reynolds) = (w[0].alpha_rad.to_degrees(), group[0].0);
                let problem = format!("the angle {angle:.4} deg occurs twice for Reynolds number {reynolds}");
                return Err(PolarError::Given { line: last_line, problem });
            }
            curves.push((group[0].0.ln(), completed(nodes)));
        }
        if curves.is_empty() {
            return Err(PolarError::Given {
                line: last_line,
                problem: "there is no line with numbers".to_owned(),
            });
        }
        let (zero, slope) = lift_line(&curves[0].1);
        let table = SectionTable {
            key: 0,
            thickness_ratio,
            unseparated: [slope, zero],
            most_lift: most_lift(&curves),
            without_lift: None,
            curves,
            pressures: Vec::new(),
            convergence: Vec::new(),
        };
        Ok(Self { table })
    }

    /// Smallest and largest given Reynolds number.
    #[must_use]
    pub fn reynolds_range(&self) -> [f64; 2] {
        self.table.reynolds_range()
    }
}

impl SectionPolar for GivenPolar {
    fn forces(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> SectionForces {
        self.table.forces(alpha_rad, reynolds, mach)
    }
}

/// Maximum accepted coefficient and Reynolds number, far above those of any section.
const MOST_COEFFICIENT: f64 = 100.0;
/// Maximum accepted Reynolds number (chosen far above any section's).
const MOST_REYNOLDS: f64 = 1e12;
/// Angles closer than this count as one.
const LEAST_STEP_RAD: f64 = 1e-6;

fn row(line: usize, fields: &[String]) -> Result<(f64, Node), PolarError> {
    let bad = |problem: String| PolarError::Given { line, problem };
    if !(4..=5).contains(&fields.len()) {
        return Err(bad(format!("it has {} columns", fields.len())));
    }
    let mut values = [0.0; 5];
    for (v, field) in values.iter_mut().zip(fields) {
        *v = field
            .parse()
            .ok()
            .filter(|v: &f64| v.is_finite())
            .ok_or_else(|| bad(format!("`{field}` is no number")))?;
    }
    let [angle, lift, drag, reynolds, moment] = values;
    if angle.abs() > 180.0 || drag < 0.0 || reynolds < 1.0 {
        return Err(bad(
            "the angle exceeds 180 deg, the drag is negative or the Reynolds number below 1".to_owned()
        ));
    }
    if [lift, drag, moment].iter().any(|c| MOST_COEFFICIENT < c.abs()) || MOST_REYNOLDS < reynolds {
        return Err(bad(format!(
            "no section has a coefficient above {MOST_COEFFICIENT} or a Reynolds number above {MOST_REYNOLDS:e}"
        )));
    }
    Ok((
        reynolds,
        Node { alpha_rad: angle.to_radians(), forces: [lift, drag, moment], region: PolarRegion::Given },
    ))
}

/// Completes the circle with a plate where nothing is given.
fn completed(mut nodes: Vec<Node>) -> FullCirclePolar {
    let (first, last) = (nodes[0], nodes[nodes.len() - 1]);
    let by_lift = |a: &&Node, b: &&Node| a.forces[0].total_cmp(&b.forces[0]);
    // The maximum lift of the attached section is searched within 30 deg, because the second peak of a plate is near 45 deg.
    let near = || nodes.iter().filter(|n| n.alpha_rad.abs() < 0.53);
    let attached = [near().min_by(by_lift), near().max_by(by_lift)].map(|n| n.map_or(0.0, |n| n.alpha_rad));
    if last.alpha_rad < 1.2 && -1.2 < first.alpha_rad && first.alpha_rad < 0.0 && 0.0 < last.alpha_rad {
        let (lower, upper) = (Edge::of(&nodes, -1.0), Edge::of(&nodes, 1.0));
        let least = nodes.iter().map(|n| n.forces[1]).fold(f64::INFINITY, f64::min);
        if let Some(n) = nodes.last_mut() {
            n.region = PolarRegion::BeyondStall;
        }
        nodes.extend(beyond_stall::nodes(lower, upper, least));
    }
    FullCirclePolar::new(nodes.into_iter().filter(|n| -PI + 1e-9 < n.alpha_rad).collect(), attached)
}

/// Zero-lift angle and the slope there.
fn lift_line(curve: &FullCirclePolar) -> (f64, f64) {
    let lift = |a: f64| curve.at::<1>(a)[0];
    let zero = (-300..300)
        .map(|i| 0.001 * f64::from(i))
        .min_by(|a, b| lift(*a).abs().total_cmp(&lift(*b).abs()))
        .unwrap_or(0.0);
    (zero, ((lift(zero + 0.03) - lift(zero - 0.03)) / 0.06).max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn problem(text: &str) -> String {
        GivenPolar::from_csv(text, 0.12).unwrap_err().to_string()
    }

    /// First finding of the fuzzer: a step of zero width made all forces NaN.
    #[test]
    fn an_angle_that_occurs_twice_is_refused() {
        let text = problem("-4,-0.4,0.01,1e6\n0,0,0.008,1e6\n4,0.4,0.01,1e6\n4,0.3,0.01,1e6\n");
        assert!(text.contains("the angle 4.0000 deg occurs twice"), "{text}");
    }

    #[test]
    fn a_line_that_cannot_be_read_is_named() {
        let text = problem(
            "# carved\r\n\r\nangle,lift,drag,reynolds\r\n-4,-0.4,0.01,1e6 # low\r\n\r\n0,wide,0.008,1e6\r\n",
        );
        assert!(text.contains("line 6") && text.contains("`wide` is no number"), "{text}");
        let text = problem("0,0,0.01,1e6\n#\n1,2,3\n");
        assert!(text.contains("line 3") && text.contains("it has 3 columns"), "{text}");
        assert!(problem(" \n# nothing\n").contains("there is no line with numbers"));
    }

    #[test]
    fn what_is_no_coefficient_is_refused() {
        let text = problem("-4,-0.4,0.01,1e6\n0,1e308,0.008,1e6\n4,0.4,0.01,1e6\n");
        assert!(text.contains("coefficient above 100") && text.contains("line 2"), "{text}");
    }
}
