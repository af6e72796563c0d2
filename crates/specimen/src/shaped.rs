//! Blades of uncommon shape by exact sections (square-edged plates, wide skewed blades, rising twist, hollow back, camber of both signs), and ordinary blades that are
//! bent, turned or have a foreign foot at the root.

use bladeform_section::Family;

use crate::blade::Blade;
use crate::drawn::DrawnBlade;
use crate::photogrammetry::Lofted;
use crate::truth::{ExactSection, Truth, mean_line_of};

/// Corners of the outlines from which truths are made.
const N_TRUTH: usize = 3200;
/// Corners of the outlines from which surfaces are made: those of [`Blade::outline`].
const N_SURFACE: usize = 1600;

/// Shape of a [`ShapedBlade`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Form {
    /// A sheet of one thickness with square edges, like a fan's blade; without a shank.
    Plate {
        /// Thickness, m.
        thickness_m: f64,
        /// Height of the arc over the chord.
        camber: f64,
    },
    /// Wide, with the tip swept far back, on a short round shank.
    Skewed,
    /// The blade angle rises towards the tip.
    RisingTwist,
    /// Sections hollow near the tail on back and face.
    HollowBack,
    /// Camber is negative inboard and positive outboard.
    CamberOfBothSigns,
}

/// A right-handed lone blade of uncommon shape, in its own axes, with a round shank unless it is a plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapedBlade {
    /// Its shape.
    pub form: Form,
    /// Tip radius, m.
    pub radius_m: f64,
    /// Distance of the root end from the axis, m.
    pub root_radius_m: f64,
}

/// End of the round shank and begin of the full sections, fractions of the tip radius.
const TRANSITION: [f64; 2] = [0.13, 0.26];

impl ShapedBlade {
    /// Fraction of the tip radius outside which the sections are those of the form.
    #[must_use]
    pub const fn sections_from(&self) -> f64 {
        match self.form {
            Form::Plate { .. } => self.root_radius_m / self.radius_m,
            _ => TRANSITION[1],
        }
    }

    fn chord_m(&self, r: f64) -> f64 {
        let s = r / self.radius_m;
        // An elliptic end over the last tenth rounds the tip; a plate is cut off square.
        let end = (1.0 - ((s - 0.9) / 0.1).clamp(0.0, 1.0).powi(4)).max(0.0).sqrt();
        match self.form {
            Form::Plate { .. } => self.radius_m * (0.36 - 0.08 * s),
            Form::Skewed => self.radius_m * (0.42 - 0.35 * (s - 0.65).powi(2)) * end,
            _ => self.radius_m * (0.17 - 0.14 * (s - 0.45).powi(2)) * end,
        }
    }

    fn angle_rad(&self, r: f64) -> f64 {
        let s = r / self.radius_m;
        let deg = match self.form {
            Form::RisingTwist => 12.0 + 14.0 * s,
            Form::Plate { .. } => 38.0 - 16.0 * s,
            _ => (1.1 / (std::f64::consts::TAU * s.max(0.05))).atan().to_degrees(),
        };
        deg.to_radians()
    }

    /// The section in fractions of its own chord, from the tail over the back to the nose and along the face, and the corner at the nose.
    fn section(&self, r: f64, n: usize) -> (Vec<[f64; 2]>, usize) {
        let s = (r / self.radius_m).clamp(0.0, 1.0);
        let thickness = 0.17 - 0.10 * s;
        let family = |camber| {
            let family = Family::FourDigit { camber, position: 0.4, thickness };
            (family.outline(n), family.leading_index(n))
        };
        match self.form {
            Form::Plate { thickness_m, camber } => plate(0.5 * thickness_m / self.chord_m(r), camber, n),
            Form::Skewed | Form::RisingTwist => family(0.03),
            Form::HollowBack => hollow(0.5 * thickness, n),
            Form::CamberOfBothSigns => family(-0.03 + 0.07 * s),
        }
    }

    /// Puts points of the section into blade axes, m.
    fn placed(&self, r: f64) -> impl Fn([f64; 2]) -> [f64; 2] {
        let (chord, s) = (self.chord_m(r), r / self.radius_m);
        let (sin, cos) = self.angle_rad(r).sin_cos();
        let (centre, swept) = match self.form {
            // The centroid of an arc is two thirds of its height above the chord: it lies on the axis, as the rule for blades without a shank has it.
            Form::Plate { camber, .. } => ([0.5, 2.0 / 3.0 * camber], 0.0),
            Form::Skewed => ([0.45, 0.0], 0.30 * self.radius_m * s * s),
            _ => ([0.40, 0.0], 0.01 * self.radius_m * s * s),
        };
        move |p| {
            let (along, across) = ((p[0] - centre[0]) * chord, (p[1] - centre[1]) * chord);
            [-along * cos - across * sin - swept, -along * sin + across * cos]
        }
    }
}

impl Lofted for ShapedBlade {
    fn root_radius_m(&self) -> f64 {
        self.root_radius_m
    }

    fn tip_radius_m(&self) -> f64 {
        self.radius_m
    }

    fn is_left_handed(&self) -> bool {
        false
    }

    fn exact_outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        let mut outline: Vec<_> =
            self.section(radius_m, N_SURFACE).0.into_iter().map(self.placed(radius_m)).collect();
        if matches!(self.form, Form::Plate { .. }) {
            return outline;
        }
        let s =
            ((radius_m / self.radius_m - TRANSITION[0]) / (TRANSITION[1] - TRANSITION[0])).clamp(0.0, 1.0);
        let weight = 1.0 - s * s * s * (10.0 - s * (15.0 - 6.0 * s));
        let (n, angle) = (outline.len(), self.angle_rad(radius_m));
        for (i, p) in outline.iter_mut().enumerate() {
            let c = on_circle(0.035 * self.radius_m, i, n, angle);
            *p = [0, 1].map(|k| p[k] + weight * (c[k] - p[k]));
        }
        outline
    }

    fn exact_truth(&self, radius_ratio: f64) -> Truth {
        let r = radius_ratio * self.radius_m;
        let (outline, nose) = self.section(r, N_TRUTH);
        let line = mean_line_of(&outline, nose, None);
        let (chord_m, angle_rad) = (self.chord_m(r), self.angle_rad(r));
        let section = ExactSection { outline, line, nose_radius: f64::NAN, chord_m, angle_rad };
        section.truth(self.placed(r))
    }
}

/// Point `i` of `n` of a circle, from the tail's side over the back to the nose's side and on along the face.
fn on_circle(radius_m: f64, i: usize, n: usize, angle_rad: f64) -> [f64; 2] {
    let t = std::f64::consts::PI - std::f64::consts::TAU * i as f64 / n as f64 + angle_rad;
    [radius_m * t.cos(), radius_m * t.sin()]
}

/// Abscissae from 0 to 1, finer at both ends.
fn abscissae(n: usize) -> impl DoubleEndedIterator<Item = f64> + Clone {
    (0..=n).map(move |i| 0.5 * (1.0 - (std::f64::consts::PI * i as f64 / n as f64).cos()))
}

/// A circular arc of the given height, grown to both sides by `half` at right angles, with square ends.
fn plate(half: f64, camber: f64, n: usize) -> (Vec<[f64; 2]>, usize) {
    let (side, end) = (n / 2 - n / 32, n / 32);
    let at = |x: f64, up: f64| {
        let u = x - 0.5;
        if camber == 0.0 {
            return [x, up * half];
        }
        // Radius and height of the centre of the arc through (0, 0), (1, 0) and (0.5, camber).
        let radius = (0.25 + camber * camber) / (2.0 * camber);
        let turn = 2.0 * u * (0.5 / radius).asin();
        let r = radius + up * half;
        [0.5 + r * turn.sin(), camber - radius + r * turn.cos()]
    };
    let across = |x: f64, from: f64| (1..end).map(move |k| (x, from * (1.0 - 2.0 * k as f64 / end as f64)));
    let mut outline: Vec<_> = abscissae(side).rev().map(|x| at(x, 1.0)).collect();
    let nose = outline.len() + end / 2 - 1;
    outline.extend(across(0.0, 1.0).map(|(x, up)| at(x, up)));
    outline.extend(abscissae(side).map(|x| at(x, -1.0)));
    outline.extend(across(1.0, -1.0).map(|(x, up)| at(x, up)));
    (outline, nose)
}

/// A section whose thickness falls off so fast that back and face are hollow towards the tail, which is 0.3 % of the chord thick.
fn hollow(half: f64, n: usize) -> (Vec<[f64; 2]>, usize) {
    // The greatest value of sqrt(x) (1 - x)^2 is 0.2862, at x = 0.2.
    let thick = |x: f64| half / 0.2862 * x.sqrt() * (1.0 - x).powi(2) + 0.0015 * x;
    let bent = |x: f64| 4.0 * 0.012 * x * (1.0 - x);
    let side = n / 2;
    let mut outline: Vec<_> = abscissae(side).rev().map(|x| [x, bent(x) + thick(x)]).collect();
    let nose = outline.len() - 1;
    outline.extend(abscissae(side).skip(1).map(|x| [x, bent(x) - thick(x)]));
    (outline, nose)
}

/// A blade whose outer part is bent towards flight: everything beyond a radius is turned about the line `y = 0` there.
#[derive(Debug, Clone, PartialEq)]
pub struct BentBlade {
    /// The straight blade, right-handed.
    pub blade: DrawnBlade,
    /// Where the bend is, m.
    pub from_m: f64,
    /// By how much, deg.
    pub angle_deg: f64,
}

/// Distance of the outlines between which a bent section is interpolated, m: ten times less than the blade changes over.
const STEP_M: f64 = 4e-3;
/// Rounds of the search for the place along the straight blade: each gains two digits.
const N_ROUNDS: usize = 4;

impl BentBlade {
    fn bent_outline(&self, r: f64, outline: impl Fn(f64) -> Vec<[f64; 2]>) -> Vec<[f64; 2]> {
        if r <= self.from_m {
            return outline(r);
        }
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let middle = self.from_m + (r - self.from_m) / cos;
        let rows: Vec<_> = (-2..=2).map(|k| outline(middle + STEP_M * f64::from(k))).collect();
        (0..rows[0].len())
            .map(|i| {
                let at = |z: f64| {
                    let t = ((z - middle) / STEP_M + 2.0).clamp(0.0, 3.999_999);
                    let (k, part) = (t as usize, t.fract());
                    [0, 1].map(|c| rows[k][i][c] + part * (rows[k + 1][i][c] - rows[k][i][c]))
                };
                let mut z = middle;
                for _ in 0..N_ROUNDS {
                    z = self.from_m + (r - self.from_m + at(z)[1] * sin) / cos;
                }
                let p = at(z);
                [p[0], p[1] * cos + (z - self.from_m) * sin]
            })
            .collect()
    }
}

impl Lofted for BentBlade {
    fn root_radius_m(&self) -> f64 {
        self.blade.root_radius_m
    }

    fn tip_radius_m(&self) -> f64 {
        self.from_m + (self.blade.radius_m - self.from_m) * self.angle_deg.to_radians().cos()
    }

    fn is_left_handed(&self) -> bool {
        false
    }

    fn exact_outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        self.bent_outline(radius_m, |r| self.blade.outline(r, N_SURFACE))
    }

    fn exact_truth(&self, radius_ratio: f64) -> Truth {
        let r = radius_ratio * self.tip_radius_m();
        let (chord_m, angle_rad) = (self.blade.chord_m(r), self.blade.angle_rad(r));
        let (sin, cos) = angle_rad.sin_cos();
        let outline = self.exact_outline(r);
        // The corner at the nose is about the foremost one.
        let ahead = |p: &[f64; 2]| p[0] * cos + p[1] * sin;
        let nose = (0..outline.len())
            .max_by(|&a, &b| ahead(&outline[a]).total_cmp(&ahead(&outline[b])))
            .unwrap_or(0);
        let origin = outline[nose];
        // Into fractions of the nominal chord, from the nose along the nominal chord line, and back.
        let own = |p: &[f64; 2]| {
            let d = [p[0] - origin[0], p[1] - origin[1]];
            [-(d[0] * cos + d[1] * sin) / chord_m, (d[1] * cos - d[0] * sin) / chord_m]
        };
        let outline: Vec<_> = outline.iter().map(own).collect();
        let line = mean_line_of(&outline, nose, None);
        ExactSection { outline, line, nose_radius: f64::NAN, chord_m, angle_rad }.truth(|p| {
            let (along, across) = (p[0] * chord_m, p[1] * chord_m);
            [origin[0] - along * cos - across * sin, origin[1] - along * sin + across * cos]
        })
    }
}

/// A blade that is set coarser than it should be: turned about its own axis.
#[derive(Debug, Clone, PartialEq)]
pub struct TurnedBlade {
    /// The blade, right-handed.
    pub blade: DrawnBlade,
    /// By how much its blade angles are greater, deg.
    pub angle_deg: f64,
}

impl Lofted for TurnedBlade {
    fn root_radius_m(&self) -> f64 {
        self.blade.root_radius_m
    }

    fn tip_radius_m(&self) -> f64 {
        self.blade.radius_m
    }

    fn is_left_handed(&self) -> bool {
        false
    }

    fn exact_outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let turned = |p: [f64; 2]| [p[0] * cos - p[1] * sin, p[0] * sin + p[1] * cos];
        self.blade.outline(radius_m, N_SURFACE).into_iter().map(turned).collect()
    }

    fn exact_truth(&self, radius_ratio: f64) -> Truth {
        let own = self.blade.truth(radius_ratio);
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let [x, y] = own.mid_chord_m;
        Truth {
            blade_angle_deg: own.blade_angle_deg + self.angle_deg,
            face_angle_deg: own.face_angle_deg + self.angle_deg,
            longest_chord_angle_deg: own.longest_chord_angle_deg + self.angle_deg,
            mid_chord_m: [x * cos - y * sin, x * sin + y * cos],
            ..own
        }
    }
}

/// Cross-section of a foot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Foot {
    /// A round one of this radius, m.
    Round(f64),
    /// A rectangle with these half widths along `x` and `y`, m.
    Rectangle([f64; 2]),
}

/// A blade with something foreign that has grown onto its root end in the scan: one closed surface.
#[derive(Debug, Clone, PartialEq)]
pub struct FootedBlade {
    /// The blade, right-handed.
    pub blade: Blade,
    /// What it stands on.
    pub foot: Foot,
    /// Length of the foot along the span, m.
    pub foot_length_m: f64,
}

impl Lofted for FootedBlade {
    /// That of the foot's end, which may lie beyond the axis.
    fn root_radius_m(&self) -> f64 {
        self.blade.root_radius_m - self.foot_length_m
    }

    fn tip_radius_m(&self) -> f64 {
        self.blade.radius_m
    }

    fn is_left_handed(&self) -> bool {
        false
    }

    fn exact_outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        let root = self.blade.root_radius_m;
        if root <= radius_m {
            return self.blade.outline(radius_m);
        }
        let angle = self.blade.angle_rad(root);
        (0..N_SURFACE)
            .map(|i| match self.foot {
                Foot::Round(radius_m) => on_circle(radius_m, i, N_SURFACE, angle),
                Foot::Rectangle(half) => {
                    let d = on_circle(1.0, i, N_SURFACE, angle);
                    let stretch = (half[0] / d[0].abs().max(1e-12)).min(half[1] / d[1].abs().max(1e-12));
                    d.map(|x| x * stretch)
                }
            })
            .collect()
    }

    fn exact_truth(&self, radius_ratio: f64) -> Truth {
        self.blade.truth(radius_ratio)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawn::{Axis, Sections};

    #[test]
    fn a_plate_has_its_thickness_camber_and_angle() {
        let form = Form::Plate { thickness_m: 0.003, camber: 0.06 };
        let blade = ShapedBlade { form, radius_m: 0.4, root_radius_m: 0.06 };
        let truth = blade.exact_truth(0.5);
        // Constant thickness across a thin arc: circles are as wide as the sheet. The arc's height is the camber.
        assert!((truth.thickness_m - 0.003).abs() < 2e-5, "{truth:?}");
        assert!((truth.camber_ratio - 0.06).abs() < 1e-3, "{truth:?}");
        assert!((truth.blade_angle_deg - 30.0).abs() < 0.2, "{truth:?}");
        assert!((truth.chord_m - blade.chord_m(0.2)).abs() < 5e-4, "{truth:?}");
    }

    fn drawn() -> DrawnBlade {
        let blade = DrawnBlade::drawn(3, Sections::ClarkY, Axis::Propeller, 2.0);
        if blade.left_handed { blade.mirrored() } else { blade }
    }

    #[test]
    fn a_blade_bent_by_nothing_is_the_blade() {
        let bent = BentBlade { blade: drawn(), from_m: 0.4, angle_deg: 0.0 };
        let (a, b) = (bent.exact_truth(0.6), drawn().truth(0.6));
        assert!((a.chord_m - b.chord_m).abs() < 2e-5, "{a:?} {b:?}");
        assert!((a.blade_angle_deg - b.blade_angle_deg).abs() < 5e-3, "{a:?} {b:?}");
        assert!((a.camber_ratio - b.camber_ratio).abs() < 5e-5, "{a:?} {b:?}");
    }

    #[test]
    fn a_bent_blade_rises_by_the_tangent_of_the_bend() {
        let bent = BentBlade { blade: drawn(), from_m: 0.4, angle_deg: 3.0 };
        let y = |r: f64| bent.exact_truth(r / bent.tip_radius_m()).mid_chord_m[1];
        let straight = |r: f64| bent.blade.truth(r).mid_chord_m[1];
        let rise = (y(0.9) - straight(0.9)) - (y(0.6) - straight(0.6));
        assert!((rise - 0.3 * 3f64.to_radians().tan()).abs() < 5e-4, "{rise}");
    }
}
