//! The torque of an engine over its rotational speed.

use crate::FlowError;
use bladeform_numeric::monotone::MonotoneCubic;
use bladeform_numeric::rows::{Row, rows};

/// Torque over rotational speed, read from CSV.
#[derive(Clone, Debug, PartialEq)]
pub struct EngineCurve {
    torque_nm: MonotoneCubic,
}

impl EngineCurve {
    /// The curve through points of rotational speed, revolutions per minute, and torque, N m.
    ///
    /// # Errors
    /// [`FlowError::Engine`] for fewer than two points, rotational speeds that do not increase from above 0, or numbers that are not finite.
    pub fn new(points: &[(f64, f64)]) -> Result<EngineCurve, FlowError> {
        let problem = |problem: &str| FlowError::Engine { problem: problem.to_owned() };
        if points.first().is_some_and(|(rpm, _)| *rpm <= 0.0) {
            return Err(problem("begins at a rotational speed of 0 or less; give rpm above 0"));
        }
        let torque_nm = MonotoneCubic::through(points)
            .ok_or_else(|| problem("needs at least two rows of finite numbers with increasing rpm"))?;
        Ok(EngineCurve { torque_nm })
    }

    /// Reads CSV text with the headings `rpm,torque_nm` in any order. Other columns are ignored.
    ///
    /// # Errors
    /// [`FlowError::Engine`] with the line.
    ///
    /// ```
    /// let curve = bladeform_flow::EngineCurve::read_csv("rpm,torque_nm\n1000,400\n2000,420\n").unwrap();
    /// assert!((curve.torque_nm(1500.0) - 410.0).abs() < 1e-9);
    /// ```
    pub fn read_csv(text: &str) -> Result<EngineCurve, FlowError> {
        let fail = |problem: String| FlowError::Engine { problem };
        let rows = rows(text);
        let headings = rows.first().map_or(&[][..], |row| &row.cells);
        let column = |name: &str| {
            headings.iter().position(|h| *h == name).ok_or_else(|| {
                fail(format!("has no heading `{name}`; the first line must be `rpm,torque_nm`"))
            })
        };
        let (rpm, torque) = (column("rpm")?, column("torque_nm")?);
        let mut points = Vec::new();
        for Row { line, cells } in rows.iter().skip(1) {
            let number =
                |c: usize| cells.get(c).and_then(|t| t.parse::<f64>().ok()).filter(|v| v.is_finite());
            let row = number(rpm).zip(number(torque));
            points.push(row.ok_or_else(|| {
                fail(format!("does not have two numbers in line {line}; correct the line"))
            })?);
        }
        EngineCurve::new(&points)
    }

    /// An engine known by its rated power, W, at a rotational speed, revolutions per minute: the same torque from a third of that speed up to it. A piston engine's torque changes little
    /// over that range (common practice, no source).
    ///
    /// # Errors
    /// [`FlowError::Engine`] if power or speed are not above zero.
    pub fn of_rated_power(power_w: f64, rpm: f64) -> Result<EngineCurve, FlowError> {
        let torque_nm = power_w / (rpm * std::f64::consts::TAU / 60.0);
        if !(0.0 < torque_nm && 0.0 < rpm) {
            return Err(FlowError::Engine { problem: "needs a power and a speed above 0".to_owned() });
        }
        EngineCurve::new(&[(rpm / 3.0, torque_nm), (rpm, torque_nm)])
    }

    /// Torque, N m, at a rotational speed, revolutions per minute.
    #[must_use]
    pub fn torque_nm(&self, rpm: f64) -> f64 {
        self.torque_nm.value(rpm)
    }

    /// The lowest and the highest rotational speed of the curve, revolutions per minute.
    #[must_use]
    pub fn range_rpm(&self) -> (f64, f64) {
        self.torque_nm.range()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn problem(text: &str) -> String {
        EngineCurve::read_csv(text).unwrap_err().to_string()
    }

    #[test]
    fn a_line_that_cannot_be_read_is_named() {
        let text = problem("rpm , torque_nm\r\n\r\n 1000 , 850\r\n1750 , wide\r\n");
        assert!(text.contains("does not have two numbers in line 4; correct the line"), "{text}");
        assert!(problem("\nrpm,torque_nm\n1000\n").contains("line 3"));
        assert!(problem("rpm,torque\n1000,850\n").contains("no heading `torque_nm`"));
        assert!(problem("").contains("no heading `rpm`"));
    }

    #[test]
    fn columns_stand_in_any_order_and_numbers_may_be_quoted() {
        let plain = EngineCurve::read_csv("rpm,torque_nm\n1000,850\n1750,975\n");
        let quoted = "\u{feff}torque_nm,note,rpm\n850,\"idle, cold\",1000\n\"975\",cruise,1750\n";
        assert_eq!(EngineCurve::read_csv(quoted), plain);
    }
}
