//! The linear equations of one Newton step, reduced to the mass defects.

use nalgebra::{DMatrix, DVector, DVectorView};

use crate::layer::{Equations, State};

/// Change of the state of one station.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Change {
    pub(crate) c: f64,
    pub(crate) theta: f64,
    pub(crate) delta: f64,
    pub(crate) ue: f64,
}

/// Rows over all mass defects, each with a constant at its end: a change as a linear function of the changes of the mass defects.
pub(crate) struct System {
    total: usize,
    pub(crate) speed: Vec<Vec<f64>>,
    c: Vec<Vec<f64>>,
    theta: Vec<Vec<f64>>,
    stagnation: Vec<f64>,
    pub(crate) dead_air: Vec<f64>,
    /// Column `g` is the equation of station `g`.
    transposed: DMatrix<f64>,
    right: DVector<f64>,
    row: Vec<f64>,
}

impl System {
    pub(crate) fn new(total: usize) -> Self {
        let rows = || vec![vec![0.0; total + 1]; total];
        Self {
            total,
            speed: rows(),
            c: rows(),
            theta: rows(),
            stagnation: vec![0.0; total + 1],
            dead_air: vec![0.0; total],
            transposed: DMatrix::zeros(total, total),
            right: DVector::zeros(total),
            row: vec![0.0; total + 1],
        }
    }

    pub(crate) fn stagnation_row(&mut self, [(a, by_a), (b, by_b)]: [(usize, f64); 2]) {
        for (j, v) in self.stagnation.iter_mut().enumerate() {
            *v = by_a * self.speed[a][j] + by_b * self.speed[b][j];
        }
    }

    /// A station whose mass defect is zero and remains zero.
    pub(crate) fn hold(&mut self, g: usize) {
        self.c[g].fill(0.0);
        self.theta[g].fill(0.0);
        self.transposed.column_mut(g).fill(0.0);
        self.transposed[(g, g)] = 1.0;
        self.right[g] = 0.0;
    }

    /// Reduces the equations of a station to rows over the mass defects. The first two give its amplification and momentum thickness, the third is kept.
    /// `sense`: how the distance of the stations changes with the position of the stagnation point.
    pub(crate) fn eliminate(
        &mut self,
        e: &Equations,
        p: Option<usize>,
        g: usize,
        states: &[State],
        sense: f64,
    ) {
        let before = p.unwrap_or(g);
        // Each equation as factors of six rows (amplification, momentum thickness, speed before; speed here; stagnation point) and three single entries.
        let factors = [0, 1, 2].map(|i| {
            let d = &e[i].d;
            let (speed_before, mass_before) =
                p.map_or((0.0, 0.0), |p| self.by_speed_and_mass(d[2], d[3], p, states));
            let (speed_here, mass_here) = self.by_speed_and_mass(d[6], d[7], g, states);
            let of_before = |v: f64| if p.is_some() { v } else { 0.0 };
            [
                of_before(d[0]),
                of_before(d[1]),
                speed_before,
                speed_here,
                sense * d[8],
                mass_before,
                mass_here,
                e[i].v,
            ]
        });
        let (a, b, c, d) = (e[0].d[4], e[0].d[5], e[1].d[4], e[1].d[5]);
        let determinant = a * d - b * c;
        let pair = |k: usize| {
            let (r0, r1) = (factors[0][k], factors[1][k]);
            [-(d * r0 - b * r1) / determinant, -(a * r1 - c * r0) / determinant]
        };
        let (mut of_c, mut of_theta, mut kept) = ([0.0; 8], [0.0; 8], [0.0; 8]);
        for k in 0..8 {
            [of_c[k], of_theta[k]] = pair(k);
            kept[k] = factors[2][k] + e[2].d[4] * of_c[k] + e[2].d[5] * of_theta[k];
        }
        let (mut c, mut theta) = (std::mem::take(&mut self.c[g]), std::mem::take(&mut self.theta[g]));
        let none: &[f64] = &self.stagnation;
        let (old_c, old_theta) =
            if p.is_some() { (&self.c[before][..], &self.theta[before][..]) } else { (none, none) };
        let length = self.total + 1;
        let (old_c, old_theta) = (&old_c[..length], &old_theta[..length]);
        let (old_speed, speed, shift) =
            (&self.speed[before][..length], &self.speed[g][..length], &self.stagnation[..length]);
        let (new_c, new_theta, row) = (&mut c[..length], &mut theta[..length], &mut self.row[..length]);
        for j in 0..length {
            let by = |f: &[f64; 8]| {
                f[0] * old_c[j]
                    + f[1] * old_theta[j]
                    + f[2] * old_speed[j]
                    + f[3] * speed[j]
                    + f[4] * shift[j]
            };
            (new_c[j], new_theta[j], row[j]) = (by(&of_c), by(&of_theta), by(&kept));
        }
        for (row, f) in [(new_c, &of_c), (new_theta, &of_theta), (row, &kept)] {
            row[before] += f[5];
            row[g] += f[6];
            row[length - 1] += f[7];
        }
        (self.c[g], self.theta[g]) = (c, theta);
        self.keep(g);
    }

    /// Factors of the speed row of a station and of its own mass defect for `by_delta * d(delta) + by_speed * d(ue)`: the thickness follows from both.
    fn by_speed_and_mass(&self, by_delta: f64, by_speed: f64, g: usize, states: &[State]) -> (f64, f64) {
        let s = &states[g];
        (by_speed - by_delta * (s.delta + self.dead_air[g]) / s.ue, by_delta / s.ue)
    }

    fn keep(&mut self, g: usize) {
        self.transposed.column_mut(g).copy_from_slice(&self.row[..self.total]);
        self.right[g] = -self.row[self.total];
    }

    /// The layers of both sides join at the first station of the wake.
    pub(crate) fn join(&mut self, states: &[State], ends: [usize; 2], g: usize) {
        let [u, l] = ends.map(|e| states[e]);
        let (w, theta) = (states[g], u.theta + l.theta);
        let shear = (u.c * u.theta + l.c * l.theta) / theta;
        for j in 0..=self.total {
            let [tu, tl] = ends.map(|e| self.theta[e][j]);
            let last = f64::from(u8::from(j == self.total));
            self.theta[g][j] = tu + tl + last * (theta - w.theta);
            self.c[g][j] = (u.theta * self.c[ends[0]][j]
                + l.theta * self.c[ends[1]][j]
                + (u.c - shear) * tu
                + (l.c - shear) * tl)
                / theta
                + last * (shear - w.c);
        }
        self.row.fill(0.0);
        self.row[self.total] = w.delta - u.delta - l.delta;
        for (station, sign) in [(g, 1.0), (ends[0], -1.0), (ends[1], -1.0)] {
            let (by_speed, by_mass) = self.by_speed_and_mass(sign, 0.0, station, states);
            for (r, v) in self.row.iter_mut().zip(&self.speed[station]) {
                *r += by_speed * v;
            }
            self.row[station] += by_mass;
        }
        self.keep(g);
    }

    /// Changes of all stations. The equations are ill-conditioned, because a layer near separation amplifies an upstream change many times. So they are
    /// solved directly. With the factors of an earlier step and an iteration Newton's method needs additional steps that cost more than new factors.
    pub(crate) fn solve(&self, states: &[State]) -> Option<Vec<Change>> {
        let mass = self.transposed.transpose().lu().solve(&self.right)?;
        if !mass.iter().all(|v| v.is_finite()) {
            return None;
        }
        let by = |row: &[f64]| {
            row[self.total] + DVectorView::from_slice(&row[..self.total], self.total).dot(&mass)
        };
        let changes: Vec<_> = (0..self.total)
            .map(|g| {
                let ue = by(&self.speed[g]);
                let thickness = states[g].delta + self.dead_air[g];
                let delta = if thickness == 0.0 { 0.0 } else { (mass[g] - thickness * ue) / states[g].ue };
                Change { c: by(&self.c[g]), theta: by(&self.theta[g]), delta, ue }
            })
            .collect();
        changes.iter().all(|d| (d.c + d.theta + d.delta + d.ue).is_finite()).then_some(changes)
    }
}
