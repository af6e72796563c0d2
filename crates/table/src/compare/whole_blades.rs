//! Figures of whole blades of a propeller: tip radius, track, and where each stands around the axis.

use bladeform_quantity::{Measured, root_sum_square};

use super::blades::Blades;
use super::verdict::TOGETHER;
use crate::{SectionSurface, StationColumn};

/// A figure of a whole blade that is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum WholeFigure {
    /// Distance of the tip from the axis, m.
    TipRadius,
    /// Height of the mid-chord at the outermost common station, m.
    Track,
    /// Azimuth less that of even spacing, deg.
    Azimuth,
}

impl WholeFigure {
    /// All of them, in the order of the documents.
    pub const ALL: [Self; 3] = [Self::TipRadius, Self::Track, Self::Azimuth];

    /// The key in the documents.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::TipRadius => "tip_radius_m",
            Self::Track => "track_m",
            Self::Azimuth => "off_even_spacing_deg",
        }
    }
}

/// A value whose uncertainty may not be known.
type Told = (f64, Option<f64>);

/// What is said of one blade as a whole; each figure with its standard uncertainty, which is missing where it is not known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BladeAlone {
    /// The number of the blade, counted from 0.
    pub index: u64,
    /// Distance of its tip from the axis of rotation, m; the uncertainty without that of the scale.
    pub tip_radius_m: Option<(f64, Option<f64>)>,
    /// Height of its mid-chord at the outermost common station above the mean plane of all blades, m, positive towards flight.
    pub track_m: Option<(f64, Option<f64>)>,
    /// Azimuth of its mid-chords from those of the first blade, in the direction in which the blades move, deg.
    pub azimuth_deg: Option<(f64, Option<f64>)>,
    /// The same less even spacing, about the mean of all blades, deg.
    pub off_even_spacing_deg: Option<(f64, Option<f64>)>,
}

/// One figure of all blades.
struct OfAll {
    /// Value and own standard uncertainty by blade.
    blades: Vec<Measured>,
    /// What a unit error of the axis across itself does to it, times the uncertainty of the axis; `None` where that is not known.
    axis: Option<f64>,
}

/// The figures of whole blades.
pub(super) struct Wholes<'a> {
    all: &'a Blades<'a>,
    of: [Option<OfAll>; 3],
}

impl<'a> Wholes<'a> {
    pub(super) fn of(all: &'a Blades<'a>) -> Self {
        let of = WholeFigure::ALL.map(|figure| match figure {
            WholeFigure::TipRadius => tips(all),
            WholeFigure::Track => tracks(all),
            WholeFigure::Azimuth => azimuths(all),
        });
        Self { all, of }
    }

    fn get(&self, figure: WholeFigure) -> Option<&OfAll> {
        WholeFigure::ALL.iter().position(|f| *f == figure).and_then(|at| self.of[at].as_ref())
    }

    /// The figures that have an uncertainty.
    pub(super) fn judged(&self) -> Vec<WholeFigure> {
        let has_u = |figure: &WholeFigure| {
            self.get(*figure)
                .is_some_and(|f| f.axis.is_some_and(|axis| f.blades.iter().all(|b| 0.0 < b.u.hypot(axis))))
        };
        WholeFigure::ALL.into_iter().filter(has_u).collect()
    }

    /// A figure of blade `k` less the mean of others; `None` where its uncertainty is not known.
    pub(super) fn difference(&self, figure: WholeFigure, k: usize, others: &[usize]) -> Option<Measured> {
        let of = self.get(figure)?;
        let n = others.len() as f64;
        let mean = others.iter().map(|&j| of.blades[j].value).sum::<f64>() / n;
        let spread = root_sum_square(&others.iter().map(|&j| of.blades[j].u).collect::<Vec<_>>()) / n;
        let u = root_sum_square(&[of.blades[k].u, spread, of.axis? * self.all.lever(k, others)]);
        Some(Measured::new(of.blades[k].value - mean, u))
    }

    pub(super) fn alone(&self) -> Vec<BladeAlone> {
        let count = self.all.count();
        let n = count as f64;
        let told = |figure, k| -> Option<Told> {
            let of = self.get(figure)?;
            // Less the mean of all: (n - 1) / n of the difference from the others.
            let others: Vec<usize> = (0..count).filter(|j| *j != k).collect();
            let mean = of.blades.iter().map(|b| b.value).sum::<f64>() / n;
            let u = self.difference(figure, k, &others).map(|d| (n - 1.0) / n * d.u);
            Some((of.blades[k].value - mean, u))
        };
        let one = |k: usize| {
            let tip = self.get(WholeFigure::TipRadius);
            BladeAlone {
                index: self.all.table.blades[k].index,
                tip_radius_m: tip.map(|f| (f.blades[k].value, f.axis.map(|axis| f.blades[k].u.hypot(axis)))),
                track_m: told(WholeFigure::Track, k),
                azimuth_deg: self.azimuth(k),
                off_even_spacing_deg: told(WholeFigure::Azimuth, k),
            }
        };
        (0..count).map(one).collect()
    }

    /// Azimuth of blade `k` from the first, 0 to 360 deg.
    fn azimuth(&self, k: usize) -> Option<Told> {
        let of = self.get(WholeFigure::Azimuth)?;
        let even = self.all.moves * (self.all.even_deg(k)? - self.all.even_deg(0)?);
        let from_first = (even + of.blades[k].value - of.blades[0].value).rem_euclid(360.0);
        let u = if k == 0 { Some(0.0) } else { self.difference(WholeFigure::Azimuth, k, &[0]).map(|d| d.u) };
        Some((from_first, u))
    }
}

fn tips(all: &Blades<'_>) -> Option<OfAll> {
    let of = |b: &crate::BladeRows| Some(Measured::new(b.tip_radius_m?, b.u_tip_radius_m?));
    let blades = all.table.blades.iter().map(of).collect::<Option<Vec<_>>>()?;
    Some(OfAll { blades, axis: all.u_place_m })
}

fn tracks(all: &Blades<'_>) -> Option<OfAll> {
    let outermost = all.common.last()?;
    let of = |k: usize| {
        let m = all.figure(outermost, k, StationColumn::MidChordYM)?;
        Some(Measured::new(m.value, m.noise.hypot(m.along())))
    };
    let blades = (0..all.count()).map(of).collect::<Option<Vec<_>>>()?;
    Some(OfAll { blades, axis: all.u_tilt.map(|tilt| tilt * outermost[0].radius_m) })
}

/// Azimuth of the mid-chords of each blade, the mean over the common stations, less that of even spacing.
fn azimuths(all: &Blades<'_>) -> Option<OfAll> {
    let of = |(k, b): (usize, &crate::BladeRows)| {
        let span = b.azimuth_deg?;
        let at = |stations: &Vec<&crate::Station>| {
            let x = all.figure(stations, k, StationColumn::MidChordXM)?;
            let r = stations[k].radius_m;
            // On a cylinder the place is an arc.
            let angle = match all.table.sections() {
                SectionSurface::Plane => x.value.atan2(r),
                SectionSurface::Cylinder => x.value / r,
            };
            Some((angle, x.noise / r, x.along() / r))
        };
        let found = all.common.iter().map(at).collect::<Option<Vec<_>>>()?;
        let n = found.len() as f64;
        let mean = found.iter().map(|f| f.0).sum::<f64>() / n;
        let noise = TOGETHER * root_sum_square(&found.iter().map(|f| f.1).collect::<Vec<_>>()) / n;
        let along = found.iter().map(|f| f.2).sum::<f64>() / n;
        // Turned by the azimuth of the span, which rises about flight.
        let off = all.moves * (span - all.even_deg(k)?) + mean.to_degrees();
        Some(Measured::new((off + 180.0).rem_euclid(360.0) - 180.0, noise.hypot(along).to_degrees()))
    };
    let blades = all.table.blades.iter().enumerate().map(of).collect::<Option<Vec<_>>>()?;
    // The same shift of the axis turns an inner station by more.
    let inverse = all.common.iter().map(|s| 1.0 / s[0].radius_m).sum::<f64>() / all.common.len() as f64;
    Some(OfAll { blades, axis: all.u_place_m.map(|u| (u * inverse).to_degrees()) })
}
