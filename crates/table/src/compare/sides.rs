//! A figure of one table at a radius with what makes its uncertainty, and the uncertainty of the difference of two such figures.

use bladeform_quantity::root_sum_square;

use super::SAME_RADIUS;
use crate::{Spanwise, Station, StationColumn, StationTable, UncertaintySource};

/// A figure of one table at one radius. All values are in the unit of the column's key.
#[derive(Debug, Clone, Copy)]
pub(super) struct Side {
    pub value: f64,
    /// Standard uncertainty by the noise of the scan, which is anew at each station or at each few.
    noise: f64,
    /// By what errs to one side along the whole blade, and is another in each scan: edges, resolution, axes, long-range errors.
    along: f64,
    /// By the definition, which is the same in both tables.
    definition: f64,
    /// By the known length, which is common to all stations.
    length: f64,
    /// By the section at the reference radius, which is common to all angles.
    reference: f64,
}

impl Side {
    /// A figure of a station.
    pub(super) fn of(s: &Station, column: StationColumn) -> Option<Self> {
        let value = column.get(s)?;
        let part = |source| s.budget.part(column, source);
        let shared = [UncertaintySource::Definition, UncertaintySource::Length, UncertaintySource::Reference];
        let [definition, length, reference] = shared.map(part);
        let of = |is_noise: bool| {
            let own = s.budget.of(column).filter(|(source, _)| !shared.contains(source));
            let parts: Vec<f64> =
                own.filter(|(source, _)| NOISE.contains(source) == is_noise).map(|(_, u)| u).collect();
            root_sum_square(&parts)
        };
        // A table without a budget, typed in for example, does not say what its uncertainty is made of.
        let is_stated = s.budget.of(column).next().is_some();
        let (noise, along) =
            if is_stated { (of(true), of(false)) } else { (0.0, column.u(s).unwrap_or(0.0)) };
        let stated = Self { value, noise, along, definition, length, reference };
        Some(pitch_of(column).and_then(|angle| stated.with_angle(s, column, angle)).unwrap_or(stated))
    }

    /// A pitch with what its angle makes of its uncertainty: the budget of a pitch states only the lengths. `None` if the angle has no budget.
    fn with_angle(self, s: &Station, pitch: StationColumn, angle: StationColumn) -> Option<Self> {
        s.budget.of(angle).next()?;
        let of = Self::of(s, angle)?;
        let slope = std::f64::consts::TAU * s.radius_m / of.value.to_radians().cos().powi(2);
        let with = |own: f64, deg: f64| own.hypot(slope * deg.to_radians());
        // Without a budget of its own the whole uncertainty of the pitch was taken for one along the blade.
        let along = if s.budget.of(pitch).next().is_some() { self.along } else { 0.0 };
        Some(Self {
            value: self.value,
            noise: with(self.noise, of.noise),
            along: with(along, of.along),
            definition: with(self.definition, of.definition),
            length: with(self.length, of.length),
            reference: with(self.reference, of.reference),
        })
    }

    /// A figure of a table at any radius between its first and its last station: the value of the smooth curve, the uncertainties of the neighbours by their distances.
    pub(super) fn read(table: &StationTable, column: StationColumn, radius_m: f64) -> Option<Self> {
        let place = Spanwise::of(&table.stations, column)?.value_at(radius_m);
        // A measured blade continues beyond its last station, but the comparison does not extrapolate.
        if SAME_RADIUS * table.blade.radius_m < place.beyond_m {
            return None;
        }
        let having: Vec<&Station> = table.stations.iter().filter(|s| column.get(s).is_some()).collect();
        let outer = having.partition_point(|s| s.radius_m < radius_m).clamp(1, having.len() - 1);
        let [inside, outside] = [having[outer - 1], having[outer]];
        let share = ((radius_m - inside.radius_m) / (outside.radius_m - inside.radius_m)).clamp(0.0, 1.0);
        let [a, b] = [Self::of(inside, column)?, Self::of(outside, column)?];
        let between = |x: f64, y: f64| x + share * (y - x);
        Some(Self {
            value: place.measured.value,
            noise: between(a.noise, b.noise),
            along: between(a.along, b.along),
            definition: between(a.definition, b.definition),
            length: between(a.length, b.length),
            reference: between(a.reference, b.reference),
        })
    }
}

/// The angle from which a pitch follows; `None` for other figures.
fn pitch_of(column: StationColumn) -> Option<StationColumn> {
    match column {
        StationColumn::PitchM => Some(StationColumn::BladeAngleDeg),
        StationColumn::FacePitchM => Some(StationColumn::FaceAngleDeg),
        _ => None,
    }
}

/// What is anew at each station.
const NOISE: [UncertaintySource; 3] =
    [UncertaintySource::Scan, UncertaintySource::Misfit, UncertaintySource::Repeats];

/// Standard uncertainty of a difference.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct OfDifference {
    /// By the noise, which is anew at each station.
    pub noise: f64,
    /// By the noise and by what errs to one side along the blade, but not equally at all stations.
    pub own: f64,
    /// With what all stations have in common.
    pub all: f64,
}

/// What the uncertainties of two figures make of their difference (JCGM 100:2008, 5.2.2). `same_scan`: both come from one scan, so that their errors are the same but for what was
/// asked of the scan. `zeros`: the angles of both at the reference radius, if these are subtracted.
pub(super) fn of_difference(sides: [Side; 2], zeros: Option<[Side; 2]>, same_scan: bool) -> OfDifference {
    let joint = |part: fn(&Side) -> f64, is_common: bool| {
        let of = |[a, b]: &[Side; 2]| {
            if is_common { (part(a) - part(b)).abs() } else { part(a).hypot(part(b)) }
        };
        of(&sides).hypot(zeros.as_ref().map_or(0.0, of))
    };
    let noise = joint(|s| s.noise, same_scan);
    let along = joint(|s| s.along, same_scan);
    let definition = joint(|s| s.definition, true);
    let length = joint(|s| s.length, same_scan);
    // An angle less another of the same table does not contain the reference of both.
    let reference = if zeros.is_some() { 0.0 } else { joint(|s| s.reference, same_scan) };
    let own = noise.hypot(along).hypot(definition);
    OfDifference { noise, own, all: own.hypot(length).hypot(reference) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pitch_is_as_uncertain_as_its_angle_makes_it() {
        let mut s = Station {
            blade_angle_deg: Some(20.0),
            pitch_m: Some(crate::geometric_pitch_m(0.8, 20.0)),
            ..Station::at(0.8, 1.0)
        };
        s.add_uncertainty(StationColumn::BladeAngleDeg, UncertaintySource::Scan, 0.1);
        s.add_uncertainty(StationColumn::BladeAngleDeg, UncertaintySource::Reference, 0.2);
        s.add_uncertainty(StationColumn::PitchM, UncertaintySource::Length, 1e-3);
        let side = Side::of(&s, StationColumn::PitchM).unwrap();
        // A step of the angle by hand.
        let slope = (crate::geometric_pitch_m(0.8, 20.001) - crate::geometric_pitch_m(0.8, 19.999)) / 0.002;
        assert!((side.noise / (0.1 * slope) - 1.0).abs() < 1e-6, "{side:?}");
        assert!((side.reference / (0.2 * slope) - 1.0).abs() < 1e-6, "{side:?}");
        assert!((side.length - 1e-3).abs() < 1e-12 && side.along == 0.0, "{side:?}");
        let both = of_difference([side, side], None, false).all;
        let expected = std::f64::consts::SQRT_2 * (0.1 * slope).hypot(0.2 * slope).hypot(1e-3);
        assert!((both / expected - 1.0).abs() < 1e-6, "{both} {expected}");
    }
}
