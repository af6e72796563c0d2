//! Stream function and velocity of straight panels with linearly varying vorticity or sources.
//!
//! Integrals of `ln r` and of the polar angle along a panel, as in J. Katz, A. Plotkin, "Low-Speed Aerodynamics", Cambridge, 2001, chapter 10.
//! Local axes: `u` along the panel, `y` to its left. The angle of a source is measured so that its branch cut is to the right of the panel,
//! which is outside an anticlockwise outline. Inside, the stream function has no jump.

use std::f64::consts::PI;

/// Smallest squared distance, square chords. It keeps the logarithm finite at the end of the panel itself, where its factor is zero.
const TINY: f64 = 1e-24;

/// A panel between two points.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Panel {
    from: [f64; 2],
    tangent: [f64; 2],
    length: f64,
}

impl Panel {
    /// `None` if both ends coincide.
    pub(crate) fn between(from: [f64; 2], to: [f64; 2]) -> Option<Self> {
        let length = (to[0] - from[0]).hypot(to[1] - from[1]);
        (1e-12 < length).then(|| Self {
            from,
            tangent: [(to[0] - from[0]) / length, (to[1] - from[1]) / length],
            length,
        })
    }

    pub(crate) fn length(&self) -> f64 {
        self.length
    }

    fn local(&self, p: [f64; 2]) -> (f64, f64) {
        let d = [p[0] - self.from[0], p[1] - self.from[1]];
        (d[0] * self.tangent[0] + d[1] * self.tangent[1], d[1] * self.tangent[0] - d[0] * self.tangent[1])
    }

    /// Splits the integrals of a kernel `K(x - t)` and of `t K(x - t)` into the parts for unit strength at each end.
    fn ends(&self, x: f64, zeroth: f64, first: f64) -> [f64; 2] {
        let at_end = (x * zeroth - first) / self.length;
        [zeroth - at_end, at_end]
    }

    /// Stream function at `p` of unit vorticity (anticlockwise per length) at the first and at the second end.
    pub(crate) fn vortex_stream(&self, p: [f64; 2]) -> [f64; 2] {
        let (x, y) = self.local(p);
        let moments = |u: f64| {
            let r2 = (u * u + y * y).max(TINY);
            let ln = r2.ln();
            [0.5 * u * ln - u + y * arc(u, y), 0.25 * r2 * (ln - 1.0)]
        };
        let (a, b) = (moments(x), moments(x - self.length));
        self.ends(x, a[0] - b[0], a[1] - b[1]).map(|v| -v / (2.0 * PI))
    }

    /// Stream function at `p` of unit source strength at each end, up to a constant.
    pub(crate) fn source_stream(&self, p: [f64; 2]) -> [f64; 2] {
        let (x, y) = self.local(p);
        let moments = |u: f64| {
            let (r2, angle) = ((u * u + y * y).max(TINY), u.atan2(y));
            [u * angle - 0.5 * y * r2.ln(), 0.5 * (u * u * angle + y * y * arc(u, y) - y * u)]
        };
        let (a, b) = (moments(x), moments(x - self.length));
        self.ends(x, a[0] - b[0], a[1] - b[1]).map(|v| -v / (2.0 * PI))
    }

    /// Velocity at `p` of unit vorticity at each end.
    pub(crate) fn vortex_velocity(&self, p: [f64; 2]) -> [[f64; 2]; 2] {
        let [radial, turned] = self.moments_of_velocity(p);
        // The field of a vortex is that of a source rotated by a right angle.
        [self.global(-turned[0], radial[0]), self.global(-turned[1], radial[1])]
    }

    /// Velocity at `p` of unit source strength at each end. At an end of the panel itself the logarithm is left out, because the neighbouring panel cancels it.
    pub(crate) fn source_velocity(&self, p: [f64; 2]) -> [[f64; 2]; 2] {
        let [radial, turned] = self.moments_of_velocity(p);
        [self.global(radial[0], turned[0]), self.global(radial[1], turned[1])]
    }

    /// Integrals of `u/r^2` and `y/r^2` weighted with the strengths of both ends, divided by 2 pi.
    fn moments_of_velocity(&self, p: [f64; 2]) -> [[f64; 2]; 2] {
        let (x, y) = self.local(p);
        let half_ln = |u: f64| {
            let r2 = u * u + y * y;
            if r2 < 1e-18 { 0.0 } else { 0.5 * r2.ln() }
        };
        let (u0, u1) = (x, x - self.length);
        let (ln, angle) = (half_ln(u0) - half_ln(u1), arc(u0, y) - arc(u1, y));
        let along = self.ends(x, ln, self.length - y * angle);
        let across = self.ends(x, angle, y * ln);
        [along.map(|v| v / (2.0 * PI)), across.map(|v| v / (2.0 * PI))]
    }

    fn global(&self, along: f64, across: f64) -> [f64; 2] {
        let t = self.tangent;
        [along * t[0] - across * t[1], along * t[1] + across * t[0]]
    }
}

/// `atan(u / y)`, zero on the line of the panel.
fn arc(u: f64, y: f64) -> f64 {
    if y.abs() < 1e-14 { 0.0 } else { (u / y).atan() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A fine midpoint rule, because it is simpler than Gauss-Legendre.
    fn midpoint(panel: &Panel, at_end: bool, f: impl Fn(f64) -> f64) -> f64 {
        let n = 20_000;
        (0..n)
            .map(|i| {
                let t = panel.length * (f64::from(i) + 0.5) / f64::from(n);
                let w = t / panel.length;
                f(t) * if at_end { w } else { 1.0 - w } * panel.length / f64::from(n)
            })
            .sum()
    }

    #[test]
    fn closed_forms_equal_the_summed_point_vortices_and_sources() {
        let panel = Panel::between([0.2, 0.1], [0.5, 0.4]).unwrap();
        for p in [[0.1, 0.3], [0.4, 0.2], [0.9, -0.5], [0.3, 0.3]] {
            let (x, y) = panel.local(p);
            for end in [0, 1] {
                let stream = midpoint(&panel, end == 1, |t| -((x - t).hypot(y)).ln() / (2.0 * PI));
                assert!((panel.vortex_stream(p)[end] - stream).abs() < 1e-7);
                let source = midpoint(&panel, end == 1, |t| -(x - t).atan2(y) / (2.0 * PI));
                assert!((panel.source_stream(p)[end] - source).abs() < 1e-4, "{p:?}");
                let along = midpoint(&panel, end == 1, |t| (x - t) / (2.0 * PI * ((x - t).powi(2) + y * y)));
                let across = midpoint(&panel, end == 1, |t| y / (2.0 * PI * ((x - t).powi(2) + y * y)));
                let expected = panel.global(along, across);
                let got = panel.source_velocity(p)[end];
                assert!((got[0] - expected[0]).abs() < 1e-6 && (got[1] - expected[1]).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn velocity_is_the_derivative_of_the_stream_function() {
        let panel = Panel::between([0.0, 0.0], [0.3, -0.1]).unwrap();
        let h = 1e-6;
        for p in [[0.2, 0.2], [0.5, 0.1], [-0.4, 0.3]] {
            for end in [0, 1] {
                let dy = (panel.vortex_stream([p[0], p[1] + h])[end]
                    - panel.vortex_stream([p[0], p[1] - h])[end])
                    / (2.0 * h);
                assert!((dy - panel.vortex_velocity(p)[end][0]).abs() < 1e-8);
                let dx = (panel.source_stream([p[0] + h, p[1]])[end]
                    - panel.source_stream([p[0] - h, p[1]])[end])
                    / (2.0 * h);
                assert!((dx + panel.source_velocity(p)[end][1]).abs() < 1e-8);
            }
        }
    }
}
