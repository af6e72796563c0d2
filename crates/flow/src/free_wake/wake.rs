//! The vortices that leave one blade: strengths, release radii and shapes. Lengths are in tip radii, circulation is in tip radius times tip speed.

use super::FreeWakeSettings;
use super::load::Load;
use super::vortex::{Line, Vector, place};
use std::f64::consts::TAU;

/// Turns of the far wake beyond the free turns.
const FAR_TURNS: usize = 8;
/// Steps per turn of the far wake: in its first turns and beyond. The later turns are far from all points at which velocities are computed.
const FAR_STEPS: [usize; 2] = [24, 12];
/// Number of those first turns. Chosen; no check of this value is on record.
const FAR_FINE_TURNS: usize = 3;
/// Least radius of a vortex point.
pub(crate) const LEAST_RADIUS: f64 = 0.02;

/// Vortices of one blade: the tip vortex first, then from the root outward. The second is the innermost. It has the shape of the third, scaled towards the axis.
#[derive(Clone, Debug)]
pub(crate) struct Wake {
    pub(crate) turns: usize,
    pub(crate) steps: usize,
    pub(crate) radius: Vec<Vec<f64>>,
    pub(crate) height: Vec<Vec<f64>>,
    pub(crate) strength: Vec<f64>,
    pub(crate) released: Vec<f64>,
    /// Radius of the greatest circulation. The circulation that leaves outboard of it rolls up into the tip vortex.
    pub(crate) peak: f64,
}

/// Parameters of the helix beyond the free turns.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Far {
    pub(crate) mean_radius: f64,
    pub(crate) last_radius: f64,
    pub(crate) last_height: f64,
    /// Change of height per radian.
    pub(crate) descent: f64,
}

impl Far {
    fn radius(&self, past: f64) -> f64 {
        self.mean_radius + (self.last_radius - self.mean_radius) * (-past).exp()
    }

    /// The parameters with one of them changed.
    pub(crate) fn moved(&self, which: usize, by: f64) -> Far {
        let mut far = *self;
        match which {
            0 => far.mean_radius += by,
            1 => far.last_radius += by,
            2 => far.last_height += by,
            _ => far.descent += by,
        }
        far
    }

    /// Points of the helix. `end` is the age at the end of the free turns.
    pub(crate) fn points(&self, end: f64, turns: usize) -> Vec<Vector> {
        // A polygon is enlarged to the area of its circle.
        far_ages(turns)
            .iter()
            .map(|(past, wider)| {
                place(self.radius(*past) * wider, self.last_height + self.descent * past, end + past)
            })
            .collect()
    }
}

/// Ages of the far wake's points since the last free point, and the factor by which the polygon is enlarged to the area of the circle.
pub(crate) fn far_ages(turns: usize) -> Vec<(f64, f64)> {
    let wider = |steps: usize| {
        let step = TAU / steps as f64;
        (step / step.sin()).sqrt()
    };
    let mut ages = vec![(0.0, 1.0)];
    for turn in 0..turns {
        let steps = FAR_STEPS[usize::from(FAR_FINE_TURNS <= turn)];
        // The free turns are inscribed polygons, and so are the turns that follow them.
        let factor = if turn < FAR_FINE_TURNS { 1.0 } else { wider(steps) / wider(FAR_STEPS[0]) };
        ages.extend((1..=steps).map(|k| (TAU * (turn as f64 + k as f64 / steps as f64), factor)));
    }
    ages
}

impl Wake {
    /// An initial wake with the speeds of momentum theory for a load and a thrust coefficient (over density, disc area and tip speed squared). The solution does not
    /// depend on it.
    pub(crate) fn guess(load: &Load, thrust: f64, blades: u32, settings: &FreeWakeSettings) -> Wake {
        let (strength, released) = load.vortices(settings.vortices);
        let mut wake = Wake {
            turns: settings.turns,
            steps: settings.steps,
            radius: Vec::new(),
            height: Vec::new(),
            strength,
            released,
            peak: load.peak_radius(),
        };
        let speed = (0.5 * thrust).sqrt();
        let gap = TAU / f64::from(blades);
        let contracted = |age: f64| 0.78 + 0.22 * (-0.27 * age).exp();
        let ages: Vec<f64> = (0..=wake.last()).map(|k| wake.age(k)).collect();
        for (f, r) in wake.released.iter().enumerate() {
            let descent = |age: f64| match f {
                0 => 0.2 * age + 1.2 * (age - gap).max(0.0),
                _ => 2.0 * r * age,
            };
            wake.radius.push(ages.iter().map(|age| r * contracted(*age)).collect());
            wake.height.push(ages.iter().map(|age| -speed * descent(*age)).collect());
        }
        wake.follow();
        wake
    }

    /// Index of the last free point.
    pub(crate) fn last(&self) -> usize {
        self.turns * self.steps
    }

    pub(crate) fn age(&self, k: usize) -> f64 {
        TAU * k as f64 / self.steps as f64
    }

    /// Radius of the innermost vortex over that of its neighbour.
    pub(crate) fn drawn(&self) -> f64 {
        self.released[1] / self.released[2]
    }

    /// Gives the innermost vortex the scaled shape of its neighbour.
    pub(crate) fn follow(&mut self) {
        let drawn = self.drawn();
        self.radius[1] = self.radius[2].iter().map(|r| r * drawn).collect();
        self.height[1] = self.height[2].iter().map(|h| h * drawn).collect();
    }

    /// Takes strengths and release radii from a load. The points near the blade move with them.
    pub(crate) fn take(&mut self, load: &Load) {
        let (strength, released) = load.vortices(self.strength.len());
        let last = self.last();
        for (radius, (new, old)) in self.radius.iter_mut().zip(released.iter().zip(&self.released)) {
            for (k, r) in radius.iter_mut().enumerate() {
                *r += (new - old) * (1.0 - k as f64 / last as f64);
            }
        }
        (self.strength, self.released, self.peak) = (strength, released, load.peak_radius());
        self.follow();
    }

    pub(crate) fn far(&self, f: usize) -> Far {
        let (last, turn) = (self.last(), self.steps);
        let (radius, height) = (&self.radius[f], &self.height[f]);
        Far {
            mean_radius: radius[last + 1 - turn..].iter().sum::<f64>() / turn as f64,
            last_radius: radius[last],
            last_height: height[last],
            descent: (height[last] - height[last - turn]) / TAU,
        }
    }

    pub(crate) fn free_points(&self, f: usize) -> Vec<Vector> {
        (0..=self.last()).map(|k| place(self.radius[f][k], self.height[f][k], self.age(k))).collect()
    }

    /// The free part and the far part of a vortex.
    pub(crate) fn lines(&self, f: usize, core: f64) -> [Line; 2] {
        let far = self.far(f);
        let points = far.points(self.age(self.last()), FAR_TURNS);
        [Line::new(self.free_points(f), core), Line::without_end(points, core, far.descent)]
    }

    /// Radius and height of a vortex at any age: cubic interpolation between points, and the helix beyond them.
    pub(crate) fn at(&self, f: usize, age: f64) -> [f64; 2] {
        let last = self.last();
        let x = age / TAU * self.steps as f64;
        if last as f64 <= x {
            let (far, past) = (self.far(f), age - self.age(last));
            return [far.radius(past), far.last_height + far.descent * past];
        }
        let k = (x as usize).min(last - 1);
        let t = x - k as f64;
        let u = 1.0 - t;
        [&self.radius[f], &self.height[f]].map(|v| {
            let rise = v[k + 1] - v[k];
            let first = if 0 < k { 0.5 * (v[k + 1] - v[k - 1]) } else { rise };
            let second = if k + 2 <= last { 0.5 * (v[k + 2] - v[k]) } else { rise };
            v[k] * u * u * (1.0 + 2.0 * t)
                + v[k + 1] * t * t * (3.0 - 2.0 * t)
                + t * u * (first * u - second * t)
        })
    }

    /// Ages of the points of lines that leave the element boundaries. They are fine just behind the blade.
    pub(crate) fn ages(&self) -> Vec<f64> {
        let end = self.age(self.last());
        let mut ages = vec![0.0];
        let (mut age, mut step) = (0.0_f64, 0.01_f64);
        while age < end - 1e-9 {
            step = (1.25 * step).min(0.5 * self.age(1));
            age = (age + step).min(end);
            ages.push(age);
        }
        ages.extend(far_ages(FAR_TURNS)[1..].iter().map(|(past, _)| end + past));
        ages
    }

    /// Thrust coefficient (over density, disc area and tip speed squared) from the momentum of the far wake. The helices are cylinders of their mean vorticity, and
    /// the pressure reduction due to swirl is neglected.
    pub(crate) fn momentum(&self, blades: u32) -> f64 {
        let mut rings: Vec<(f64, f64)> = (0..self.strength.len())
            .map(|f| {
                let far = self.far(f);
                (far.mean_radius, f64::from(blades) * self.strength[f] / (-TAU * far.descent))
            })
            .collect();
        rings.sort_by(|a, b| b.0.total_cmp(&a.0));
        let (mut speed, mut sum) = (0.0, 0.0);
        for (k, (radius, jump)) in rings.iter().enumerate() {
            speed += jump;
            let inner = rings.get(k + 1).map_or(0.0, |r| r.0);
            sum += speed * speed * (radius * radius - inner * inner);
        }
        sum
    }
}
