//! How the figures of a drawn blade run along its span.

use crate::random::Random;

use super::bernstein::value;

/// Courses by control values from axis (0) to tip (1).
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Courses {
    /// Chord over the greatest chord, without the rounding of the tip.
    chord: [f64; 6],
    /// Geometric pitch over the nominal one.
    pitch: [f64; 5],
    /// Thickness ratio.
    thickness: [f64; 5],
    /// Shift of the mid-chord point along `x`, fractions of the radius.
    sweep: [f64; 4],
    /// Its shift along `y`.
    rake: [f64; 4],
    /// Place of the axis along the chord, fraction of it from the middle.
    axis_place: f64,
    /// Where the rounding of the tip begins, fraction of the radius, and its power: 2 is an ellipse, more is squarer.
    tip: [f64; 2],
}

impl Courses {
    /// Random courses of a plausible blade.
    pub(super) fn drawn(random: &mut Random) -> Self {
        let chord = [
            random.between(0.6, 1.0),
            random.between(0.7, 1.1),
            random.between(0.95, 1.3),
            random.between(0.85, 1.25),
            random.between(0.5, 1.0),
            random.between(0.3, 0.7),
        ];
        let pitch = [
            random.between(0.7, 1.0),
            random.between(0.8, 1.05),
            random.between(0.9, 1.05),
            1.0,
            random.between(0.85, 1.05),
        ];
        let tip = random.between(0.05, 0.09);
        let root = random.between(0.18, 0.35);
        let thickness = [root, 0.7 * root, random.between(0.07, 0.13), random.between(0.06, 0.10), tip];
        let bend = |size: f64, random: &mut Random| {
            [0.0, size * random.normal(), size * random.normal(), 2.0 * size * random.normal()]
        };
        Self {
            chord,
            pitch,
            thickness,
            sweep: bend(0.012, random),
            rake: bend(0.006, random),
            axis_place: random.between(0.0, 0.12),
            tip: [random.between(0.84, 0.96), random.between(2.0, 6.0)],
        }
    }

    /// Chord over the greatest chord at the fraction `s` of the radius; 0 at the tip.
    pub(super) fn chord(&self, s: f64) -> f64 {
        let [from, power] = self.tip;
        let end = ((s - from) / (1.0 - from)).clamp(0.0, 1.0);
        value(&self.chord, s) * (1.0 - end.powf(power)).max(0.0).sqrt()
    }
    /// Pitch over the nominal one.
    pub(super) fn pitch(&self, s: f64) -> f64 {
        value(&self.pitch, s)
    }
    /// Thickness ratio.
    pub(super) fn thickness(&self, s: f64) -> f64 {
        value(&self.thickness, s)
    }
    /// Shift of the mid-chord point, fractions of the radius.
    pub(super) fn shift(&self, s: f64) -> [f64; 2] {
        [-value(&self.sweep, s), value(&self.rake, s)]
    }
    /// How far the middle of the chord lies behind the axis, fraction of the chord.
    pub(super) const fn axis_place(&self) -> f64 {
        self.axis_place
    }
}
