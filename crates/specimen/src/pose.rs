//! Where a part lies in the file: any rotation, shift and unit.

use crate::random::Random;

/// A rotation, a uniform scale and a shift: file point = scale * rotation * metre point + shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    /// Rows of the rotation.
    pub rotation: [[f64; 3]; 3],
    /// File units per metre.
    pub scale: f64,
    /// Shift, file units.
    pub shift: [f64; 3],
}

impl Pose {
    /// Nothing moved; the file's unit is the metre.
    pub const IDENTITY: Self =
        Self { rotation: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], scale: 1.0, shift: [0.0; 3] };

    /// A rotation drawn evenly from all (K. Shoemake, "Uniform random rotations", Graphics Gems III, 1992), a scale of 0.05 to 20 and a shift of some units.
    pub fn random(random: &mut Random) -> Self {
        let (u, v, w) = (random.uniform(), random.uniform(), random.uniform());
        let (a, b) = ((1.0 - u).sqrt(), u.sqrt());
        let turn = std::f64::consts::TAU;
        let q = [a * (turn * v).sin(), a * (turn * v).cos(), b * (turn * w).sin(), b * (turn * w).cos()];
        let scale = random.between(0.05_f64.ln(), 20.0_f64.ln()).exp();
        Self { rotation: of_quaternion(q), scale, shift: [0; 3].map(|_| scale * random.between(-2.0, 2.0)) }
    }

    /// A point in metres, in the file's coordinates.
    #[must_use]
    pub fn apply(&self, p: [f64; 3]) -> [f64; 3] {
        std::array::from_fn(|i| {
            self.scale * (0..3).map(|j| self.rotation[i][j] * p[j]).sum::<f64>() + self.shift[i]
        })
    }
}

fn of_quaternion([x, y, z, w]: [f64; 4]) -> [[f64; 3]; 3] {
    [
        [1.0 - 2.0 * (y * y + z * z), 2.0 * (x * y - z * w), 2.0 * (x * z + y * w)],
        [2.0 * (x * y + z * w), 1.0 - 2.0 * (x * x + z * z), 2.0 * (y * z - x * w)],
        [2.0 * (x * z - y * w), 2.0 * (y * z + x * w), 1.0 - 2.0 * (x * x + y * y)],
    ]
}
