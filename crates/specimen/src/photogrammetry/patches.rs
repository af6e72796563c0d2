//! Noise in patches: overlapping round pieces of the surface, each off by its own amount.

use super::kernel::Kernel;
use super::noise::Noise;
use super::sheet::{Place, Sheet};
use crate::random::Random;

/// Round patches of one radius and the offset of each.
#[derive(Debug)]
pub(super) struct Patches {
    patches: Vec<Patch>,
    radius: f64,
    /// Deviation of the blurred border, m.
    border: f64,
    /// Of the mean of some offsets to the wanted deviation.
    gain: f64,
}

#[derive(Debug)]
struct Patch {
    centre: Place,
    offset: f64,
}

/// Patches over a place, on average.
const COVER: f64 = 4.0;
/// Least deviation of a border, m: a step that a mesh shows as a step.
const LEAST_BORDER: f64 = 2e-5;
/// Places at which the deviation is taken so that it is the wanted one.
const N_PROBES: usize = 4000;
/// The normal distribution's integral is nearly `1 / (1 + exp(-1.702 x))` (error below 0.01).
const LOGISTIC: f64 = 1.702;

impl Patches {
    /// Patches of one layer over a sheet.
    pub(super) fn new(layer: &Noise, kernel: &Kernel, sheet: &Sheet, random: &mut Random) -> Self {
        let radius = layer.length_m;
        let count = (COVER * sheet.area() / (std::f64::consts::PI * radius * radius)).ceil().max(3.0);
        let patches = (0..count as usize)
            .map(|_| Patch { centre: sheet.random_place(random), offset: random.normal() })
            .collect();
        let border = kernel.deviation_m.max(LEAST_BORDER);
        let mut all = Self { patches, radius, border, gain: 1.0 };
        let probes = (0..N_PROBES).map(|_| all.at(&sheet.random_place(random)));
        let square = probes.map(|v| v * v).sum::<f64>() / N_PROBES as f64;
        all.gain = layer.deviation_m / square.sqrt().max(1e-12);
        all
    }

    /// Offset at a place, m.
    pub(super) fn at(&self, place: &Place) -> f64 {
        let (mut sum, mut weight) = (0.0, 0.0);
        let mut nearest = (f64::INFINITY, 0.0);
        for patch in &self.patches {
            let distance = place.distance(&patch.centre);
            if distance < nearest.0 {
                nearest = (distance, patch.offset);
            }
            let inside = (self.radius - distance) / self.border;
            if -8.0 < inside {
                let w = 1.0 / (1.0 + (-LOGISTIC * inside).exp());
                sum += w * patch.offset;
                weight += w;
            }
        }
        // Where no patch reaches, the nearest one does.
        self.gain * if weight < 1e-3 { nearest.1 } else { sum / weight }
    }
}
