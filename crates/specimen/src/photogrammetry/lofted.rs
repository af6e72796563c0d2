//! What a blade must tell so that it can be photographed.

use crate::blade::Blade;
use crate::drawn::DrawnBlade;
use crate::truth::Truth;

/// A blade as exact sections along its span, in its own axes (right-handed; a mirrored part is mirrored last).
pub trait Lofted {
    /// Radius of the root end, m.
    fn root_radius_m(&self) -> f64;
    /// Radius of the tip, m; the section there is a point.
    fn tip_radius_m(&self) -> f64;
    /// Whether the part is the mirror image.
    fn is_left_handed(&self) -> bool;
    /// Exact closed outline at a radius, m: from the tail over the back to the nose and along the face.
    fn exact_outline(&self, radius_m: f64) -> Vec<[f64; 2]>;
    /// Figures by the definitions at a fraction of the tip radius.
    fn exact_truth(&self, radius_ratio: f64) -> Truth;
}

/// Corners of the outlines from which surfaces are made: their sag is below a millionth of the chord on the sides.
const N_SURFACE: usize = 1600;

/// What every kind of blade has in the same form. `$outline`: closed outline of a blade at a radius in m.
macro_rules! lofted {
    ($blade:ty, $outline:expr) => {
        impl $blade {
            /// The mirror image.
            #[must_use]
            pub fn mirrored(mut self) -> Self {
                self.left_handed = !self.left_handed;
                self
            }

            /// Overall length from root end to tip, m.
            #[must_use]
            pub fn length_m(&self) -> f64 {
                self.radius_m - self.root_radius_m
            }
        }

        impl Lofted for $blade {
            fn root_radius_m(&self) -> f64 {
                self.root_radius_m
            }
            fn tip_radius_m(&self) -> f64 {
                self.radius_m
            }
            fn is_left_handed(&self) -> bool {
                self.left_handed
            }
            fn exact_outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
                $outline(self, radius_m)
            }
            fn exact_truth(&self, radius_ratio: f64) -> Truth {
                self.truth(radius_ratio)
            }
        }
    };
}

lofted!(Blade, Blade::outline);
lofted!(DrawnBlade, |blade: &DrawnBlade, radius_m| blade.outline(radius_m, N_SURFACE));
