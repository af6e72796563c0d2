//! Back and face reconstructed apart and put together not quite rightly.

use bladeform_numeric::vector::norm;

use super::sheet::{Place, Sheet};
use crate::random::Random;

/// Shift of the back against the face.
#[derive(Debug)]
pub(super) struct Sides {
    shift: [f64; 3],
    /// Phases of the waves by which the joint wanders about the edges.
    phases: [[f64; 3]; 2],
    border: f64,
}

/// Amplitude of each wave of the joint's wandering, m, and the lengths of the waves, m: it keeps near the edges and to no exact line.
const WANDER: f64 = 1e-3;
/// Lengths of the waves, m (chosen: none is a multiple of another).
const WAVES: [f64; 3] = [0.23, 0.11, 0.047];
/// Least deviation of the step across the joint, m.
const LEAST_BORDER: f64 = 1e-4;

impl Sides {
    /// A shift of the given length in a random direction, with a step as wide as the kernel.
    pub(super) fn drawn(offset_m: f64, kernel_m: f64, random: &mut Random) -> Self {
        let d = [0; 3].map(|_| random.normal());
        let length = norm(d).max(1e-12);
        let phases = [0, 1].map(|_| [0; 3].map(|_| random.between(0.0, std::f64::consts::TAU)));
        Self { shift: d.map(|x| offset_m * x / length), phases, border: kernel_m.max(LEAST_BORDER) }
    }

    /// Shift at a place of the sheet, m.
    pub(super) fn at(&self, sheet: &Sheet, place: &Place) -> [f64; 3] {
        if self.shift.iter().all(|&x| x == 0.0) {
            return self.shift;
        }
        let wander = |edge: usize| {
            let wave = |(length, phase): (&f64, &f64)| {
                (std::f64::consts::TAU * place.meridian / length + phase).sin()
            };
            WANDER * WAVES.iter().zip(&self.phases[edge]).map(wave).sum::<f64>()
        };
        // Arc length from tail and nose onto the back; negative on the face, whichever is nearer.
        let nose = sheet.nose(place);
        let from_tail = if place.u < 0.5 * (1.0 + nose) { place.u } else { place.u - 1.0 };
        let inside =
            (from_tail * place.perimeter + wander(0)).min((nose - place.u) * place.perimeter + wander(1));
        let share = 1.0 / (1.0 + (-1.702 * inside / self.border).exp());
        self.shift.map(|x| share * x)
    }
}
