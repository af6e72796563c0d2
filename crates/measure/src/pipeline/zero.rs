//! Where the angles of a lone blade count from: the section at the reference radius, or what its neighbours say of it.

use bladeform_numeric::monotone::MonotoneCubic;
use bladeform_quantity::{Measured, RECTANGULAR};
use bladeform_table::{Setting, Station, StationColumn, UncertaintySource};

use crate::notice::MeasureNotice;
use crate::plan::{KnownAngle, MeasurePlan};

/// The sections between which a reference section that was not measured is interpolated lie this close to it, as parts of the tip radius: the twist of a blade is smooth over such a distance.
const REACH: f64 = 0.1;
/// Sections on either side through which the curve is laid.
const ASIDE: usize = 2;
/// Radii this close, as a fraction of themselves, are one place.
const SAME_PLACE: f64 = 1e-9;

/// The section from which the angles count.
pub(super) struct Zero {
    /// Its angles and their uncertainties, in the axes of the scan.
    pub(super) station: Station,
    /// Its radius over the tip radius.
    pub(super) ratio: f64,
    /// The angle that counts.
    column: StationColumn,
    /// Whether it lies where the plan wants it.
    wanted: bool,
}

impl Zero {
    /// From the section at the wanted radius; where that has no angle, from the sections beside it; where those are far, the nearest section that has one.
    /// `stations`: in any order; `at`: the section at the wanted radius; `ratio`: that radius over the tip radius.
    pub(super) fn find(
        stations: &[Station],
        at: &Station,
        ratio: f64,
        plan: &MeasurePlan,
        notices: &mut Vec<MeasureNotice>,
    ) -> Self {
        let column =
            if plan.setting.is_some() { plan.setting_of.column() } else { StationColumn::BladeAngleDeg };
        let here = |station: Station| Self { station, ratio, column, wanted: true };
        if column.get(at).is_some() {
            return here(at.clone());
        }
        let mut sound: Vec<&Station> = stations.iter().filter(|s| column.get(s).is_some()).collect();
        sound.sort_by(|a, b| a.radius_m.total_cmp(&b.radius_m));
        sound.dedup_by(|a, b| (a.radius_m - b.radius_m).abs() <= SAME_PLACE * b.radius_m);
        if let Some((station, between)) = interpolated(&sound, at, ratio, column) {
            let u_deg = column.u(&station).unwrap_or(0.0);
            notices.push(MeasureNotice::ReferenceBetween { ratio, between, u_deg });
            return here(station);
        }
        let distance = |s: &&&Station| (s.radius_ratio - ratio).abs();
        match sound.iter().min_by(|a, b| distance(a).total_cmp(&distance(b))) {
            Some(nearest) => {
                let instead = nearest.radius_ratio;
                notices.push(MeasureNotice::NoReference { ratio, instead: Some(instead) });
                Self { station: (*nearest).clone(), ratio: instead, column, wanted: false }
            }
            None => {
                notices.push(MeasureNotice::NoReference { ratio, instead: None });
                here(at.clone())
            }
        }
    }

    /// The angle that is added so that the setting holds, rad, and the setting for the table.
    pub(super) fn turn(
        &self,
        plan: &MeasurePlan,
        notices: &mut Vec<MeasureNotice>,
    ) -> (f64, Option<Setting>) {
        let Some(measured) = self.column.get(&self.station) else { return (0.0, None) };
        match plan.setting {
            Some(KnownAngle { angle_deg, .. }) if self.wanted => {
                let setting = Setting {
                    angle_deg,
                    radius_ratio: self.ratio,
                    of: plan.setting_of,
                    extra: Default::default(),
                };
                ((angle_deg - measured).to_radians(), Some(setting))
            }
            _ => {
                notices.push(MeasureNotice::RelativeAngles { ratio: self.ratio });
                (-measured.to_radians(), None)
            }
        }
    }

    /// The angles of stations, turned already, share the uncertainty of the one from which they count; there the angle itself is exact, by convention or as
    /// given. The smooth blade is turned so that its own angle there is the same.
    pub(super) fn refer(&self, stations: &mut [Station], turn: f64) {
        if let Some(u) = self.column.u(&self.station) {
            stations.iter_mut().for_each(|s| self.share(s, u));
        }
        let zero = self.station.smooth.figures.get(&self.column).copied();
        let angle_deg = self.column.get(&self.station).map_or(0.0, |a| a + turn.to_degrees());
        for s in stations {
            let exact = self.is_at(s);
            match zero {
                None => s.smooth.figures.retain(|column, _| !StationColumn::ANGLES.contains(column)),
                Some(zero) => {
                    for angle in StationColumn::ANGLES {
                        if let Some(own) = s.smooth.figures.get_mut(&angle) {
                            // Neighbouring errors of the smooth blade are alike; to take them for independent is cautious.
                            let u = if exact && angle == self.column { 0.0 } else { own.u.hypot(zero.u) };
                            *own = Measured::new(own.value - zero.value + angle_deg, u);
                        }
                    }
                }
            }
        }
    }

    fn share(&self, s: &mut Station, u: f64) {
        for angle in StationColumn::ANGLES {
            if angle == self.column && self.is_at(s) {
                angle.set_u(s, Some(0.0));
            } else {
                s.add_uncertainty(angle, UncertaintySource::Reference, u);
            }
        }
    }

    fn is_at(&self, s: &Station) -> bool {
        (s.radius_m - self.station.radius_m).abs() < SAME_PLACE * self.station.radius_m
    }
}

/// The angle at a section from those beside it, and how far out the two next of them lie. `sound`: sections that have it, by rising radius.
fn interpolated(
    sound: &[&Station],
    at: &Station,
    ratio: f64,
    column: StationColumn,
) -> Option<(Station, [f64; 2])> {
    let outer = sound.partition_point(|s| s.radius_m < at.radius_m);
    let (inside, outside) = (sound.get(outer.checked_sub(1)?)?, sound.get(outer)?);
    let between = [inside.radius_ratio, outside.radius_ratio];
    if between.iter().any(|r| REACH < (r - ratio).abs()) {
        return None;
    }
    let near = &sound[outer.saturating_sub(ASIDE)..(outer + ASIDE).min(sound.len())];
    let value = |figure: &dyn Fn(&Station) -> Option<Measured>| {
        let points: Vec<(f64, f64)> =
            near.iter().filter_map(|s| Some((s.radius_m, figure(s)?.value))).collect();
        let curve = MonotoneCubic::through(&points)?.value(at.radius_m);
        let ends = [figure(inside)?, figure(outside)?];
        let share = (at.radius_m - inside.radius_m) / (outside.radius_m - inside.radius_m);
        let line = (1.0 - share) * ends[0].value + share * ends[1].value;
        // Errors of neighbours may be alike. Between a chord of the twist and the curve through it lies what the interpolation can miss.
        let u = ((1.0 - share) * ends[0].u + share * ends[1].u).hypot(RECTANGULAR * (curve - line));
        Some(Measured::new(curve, u))
    };
    let own = value(&|s| Some(Measured::new(column.get(s)?, column.u(s).unwrap_or(0.0))))?;
    let mut station = at.clone();
    column.set(&mut station, Some(own.value));
    column.set_u(&mut station, Some(own.u));
    if let Some(smooth) = value(&|s| s.smooth.figures.get(&column).copied()) {
        station.smooth.figures.insert(column, smooth);
    }
    Some((station, between))
}
