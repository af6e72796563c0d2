//! The static unbalance of a propeller at a uniform density, and what would balance it.

use bladeform_quantity::{Hand, Measured, root_sum_square};

use super::blades::OfBlade;
use crate::mean::same_station;
use crate::{
    AxisBy, ComparisonNotice, RotatingVolume, SectionSurface, Station, StationColumn, StationTable,
    VolumeSource,
};

/// A vector across the axis of which chance exceeds this many of its standard uncertainties, by length, in one of twenty cases: the square root of the 0.95 quantile of chi-square with two
/// degrees of freedom, `2 ln 20` (exact for two).
const BEYOND_CHANCE: f64 = 2.447_746_83;
/// Share of the space between the last station and the tip that a blade fills at the area of that station: between one half (it runs out evenly) and all of it (it is cut off square), and the standard deviation
/// of a rectangular distribution between them (JCGM 100:2008, 4.3.7).
const TIP_SHARE: Measured = Measured { value: 0.75, u: 0.144_337_567 };
/// Noise lies anywhere along the chord: this part of it from the middle as a standard deviation (a rectangular distribution, JCGM 100:2008, 4.3.7).
const ACROSS: f64 = 0.288_675_135;
/// A blade carries weight beside another if both are needed by more than this part of the whole: less is rounding.
const LEAST_SHARE: f64 = 1e-9;

/// From what the moment of mass was computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MomentBy {
    /// The closed surface of the scan, with hub.
    Surface,
    /// The section areas along each blade, from the innermost common station to its tip, without hub.
    Sections,
}

impl MomentBy {
    /// The word of a file.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Surface => "surface",
            Self::Sections => "sections",
        }
    }
}

/// The first moment of mass of one blade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BladeMoment {
    /// The number of the blade, counted from 0.
    pub index: u64,
    /// Mass, kg: with its part of the hub, or from the innermost common station outwards.
    pub mass_kg: f64,
    /// First moment about the axis along its own span, kg m.
    pub moment_kg_m: Measured,
}

/// A mass on a blade that balances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weight {
    /// The number of the blade, counted from 0.
    pub index: u64,
    /// The mass, kg.
    pub mass_kg: Measured,
}

/// The static unbalance of a propeller of one density.
#[derive(Clone, Debug, PartialEq)]
pub struct Balance {
    /// Density, kg/m3.
    pub density_kg_m3: f64,
    /// From what it was computed.
    pub by: MomentBy,
    /// Mass of what was computed, kg.
    pub mass_kg: f64,
    /// The moments of the blades.
    pub blades: Vec<BladeMoment>,
    /// The unbalance, kg m: along the span of the first blade, and a quarter of a turn on in the direction of rotation; standard uncertainties.
    pub unbalance_kg_m: [Measured; 2],
    /// Parts of those uncertainties, kg m, by source.
    pub u_from: Vec<(VolumeSource, [f64; 2])>,
    /// Radius of the weights, m.
    pub weight_radius_m: f64,
    /// The weights that balance, on one blade or two neighbours.
    pub weights: Vec<Weight>,
    /// What weights on the blades of a propeller of two cannot balance, kg m: across them, positive a quarter of a turn on from the first blade in the direction of rotation. `None` for more blades.
    pub across_kg_m: Option<Measured>,
}

impl Balance {
    /// The size of the unbalance, kg m, and its standard uncertainty in its own direction.
    #[must_use]
    pub fn size_kg_m(&self) -> Measured {
        let [a, b] = self.unbalance_kg_m;
        let size = a.value.hypot(b.value);
        let u = if 0.0 < size { (a.value / size * a.u).hypot(b.value / size * b.u) } else { a.u.max(b.u) };
        Measured::new(size, u)
    }

    /// Azimuth of the heavy side, deg, from the first blade in the direction of rotation.
    #[must_use]
    pub fn heavy_deg(&self) -> f64 {
        let [a, b] = self.unbalance_kg_m;
        b.value.atan2(a.value).to_degrees().rem_euclid(360.0)
    }

    /// Whether the unbalance is beyond what its uncertainties explain in 19 of 20 balanced propellers; `None` without any.
    #[must_use]
    pub fn is_beyond_chance(&self) -> Option<bool> {
        let [a, b] = self.unbalance_kg_m;
        (0.0 < a.u && 0.0 < b.u).then(|| BEYOND_CHANCE < (a.value / a.u).hypot(b.value / b.u))
    }
}

/// The balance of a propeller, and what must be known about it; `None` where neither surface nor sections give a moment. `weight_radius_m`: where weights would be put.
pub(super) fn balance_of(
    table: &StationTable,
    density_kg_m3: f64,
    weight_radius_m: f64,
) -> Option<(Balance, Vec<ComparisonNotice>)> {
    let rotation = table.rotation.as_ref();
    let mut notes = vec![ComparisonNotice::UniformDensity];
    let surface = rotation.and_then(|r| r.volume.as_ref()).filter(|v| v.blades.len() == table.blades.len());
    // They also show what the noise of the surface does.
    let sections = Moments::of_sections(table)?;
    let moments = match surface {
        Some(volume) => {
            if 1 < volume.bodies {
                notes.push(ComparisonNotice::BodiesOverlap { bodies: volume.bodies });
            }
            sections.replaced_by(table, volume)
        }
        None => {
            notes.push(ComparisonNotice::MomentBySections);
            sections
        }
    };
    if rotation.is_none_or(|r| r.axis_by == AxisBy::Symmetry) {
        notes.push(ComparisonNotice::BalanceAboutSymmetry);
    }
    let is_stated = moments.u_from.iter().any(|(s, u)| *s == VolumeSource::LongRange && 0.0 < u[0].max(u[1]));
    if !is_stated {
        notes.push(ComparisonNotice::BalanceWithoutAccuracy);
    }
    let scale = table.scale.as_ref().and_then(|s| s.relative_uncertainty).unwrap_or(0.0);
    Some((moments.balance(table, density_kg_m3, weight_radius_m, scale), notes))
}

/// First moments of volume about the axis, m4, in the direction of rotation.
struct Moments {
    by: MomentBy,
    volume_m3: f64,
    /// Of each blade: volume, and moment along its span.
    blades: Vec<(f64, Measured)>,
    /// Standard uncertainty of the moment of each by noise and edges of the surface.
    u_scan: Vec<f64>,
    /// Direction of each blade.
    spans: Vec<[f64; 2]>,
    total: [f64; 2],
    u_from: Vec<(VolumeSource, [f64; 2])>,
}

/// Directions of the blades, in the direction of rotation.
fn spans(table: &StationTable) -> Vec<[f64; 2]> {
    let count = table.blades.len() as f64;
    let moves = if table.hand() == Hand::Left { -1.0 } else { 1.0 };
    let span = |(k, b): (usize, &crate::BladeRows)| {
        let (sin, cos) = b.azimuth_deg.unwrap_or(360.0 * k as f64 / count).to_radians().sin_cos();
        [cos, moves * sin]
    };
    table.blades.iter().enumerate().map(span).collect()
}

impl Moments {
    /// The moments of the closed surface, with the noise of the sections.
    fn replaced_by(self, table: &StationTable, volume: &RotatingVolume) -> Self {
        let moves = if table.hand() == Hand::Left { -1.0 } else { 1.0 };
        let [along, across] = volume.first_moment_m4;
        Self {
            by: MomentBy::Surface,
            volume_m3: volume.volume_m3,
            blades: volume
                .blades
                .iter()
                .zip(&self.u_scan)
                .map(|(b, scan)| {
                    (b.volume_m3, Measured::new(b.first_moment_m4, b.u_first_moment_m4.hypot(*scan)))
                })
                .collect(),
            total: [along, moves * across],
            u_from: self
                .u_from
                .iter()
                .filter(|(source, _)| *source == VolumeSource::Scan)
                .chain(&volume.u_from)
                .copied()
                .collect(),
            ..self
        }
    }

    /// From the section areas of each blade: trapezoids from the innermost station that all have to the tip, where the area runs out.
    fn of_sections(table: &StationTable) -> Option<Self> {
        let common: Vec<f64> = table.blades[0]
            .stations
            .iter()
            .map(|s| s.radius_m)
            .filter(|r| {
                let has = |b: &crate::BladeRows| {
                    same_station(&b.stations, *r)
                        .is_some_and(|s| s.area_m2.is_some() && s.mid_chord_x_m.is_some())
                };
                table.blades.iter().all(has)
            })
            .collect();
        if common.len() < 2 {
            return None;
        }
        let raised = table.rotation.as_ref().and_then(|r| r.raised_to_scatter.get(&StationColumn::AreaM2));
        let spans = spans(table);
        let (mut volume, mut total) = (0.0, [0.0; 2]);
        let (mut blades, mut u_scan, mut scan) = (Vec::new(), Vec::new(), [0.0f64; 2]);
        let (mut long, mut beyond) = ([0.0f64; 2], [0.0f64; 2]);
        for (b, e) in table.blades.iter().zip(&spans) {
            let stations: Vec<&Station> =
                common.iter().filter_map(|r| same_station(&b.stations, *r)).collect();
            let tip = b.tip_radius_m.unwrap_or(table.blade.radius_m);
            let of = of_blade(&stations, tip, raised.copied().unwrap_or(1.0), table.sections())?;
            volume += of.volume;
            // Across the span a quarter of a turn on in the direction of rotation, which is that of x.
            let t = [-e[1], e[0]];
            for k in 0..2 {
                total[k] += of.along * e[k] + of.across * t[k];
                scan[k] = scan[k].hypot(of.u_scan * e[k]).hypot(of.u_across * t[k]);
                long[k] = long[k].hypot(of.u_long_range * e[k]);
                beyond[k] = beyond[k].hypot(of.u_tip * e[k]);
            }
            let u = root_sum_square(&[of.u_scan, of.u_tip, of.u_long_range]);
            u_scan.push(of.u_scan);
            blades.push((of.volume, Measured::new(of.along, u)));
        }
        let place = table.rotation.as_ref().and_then(|r| r.u_axis_place_m).unwrap_or(0.0);
        Some(Self {
            by: MomentBy::Sections,
            volume_m3: volume,
            blades,
            u_scan,
            spans,
            total,
            u_from: vec![
                (VolumeSource::Scan, scan),
                (VolumeSource::Tip, beyond),
                (VolumeSource::LongRange, long),
                (VolumeSource::Axis, [place * volume; 2]),
            ],
        })
    }

    fn balance(&self, table: &StationTable, density: f64, radius: f64, scale: f64) -> Balance {
        // A moment of volume goes with the fourth power of lengths.
        let of = |value: f64, u: f64| Measured::new(density * value, density * u.hypot(4.0 * scale * value));
        let u = |k: usize| root_sum_square(&self.u_from.iter().map(|(_, u)| u[k]).collect::<Vec<_>>());
        let unbalance = [0, 1].map(|k| of(self.total[k], u(k)));
        let index = |k: usize| table.blades[k].index;
        let blades = self.blades.iter().enumerate().map(|(k, (volume, moment))| BladeMoment {
            index: index(k),
            mass_kg: density * volume,
            moment_kg_m: of(moment.value, moment.u),
        });
        let weights = weights(&self.spans, unbalance, radius);
        let across = (self.spans.len() == 2).then(|| {
            let [a, b] = self.spans[0];
            part(unbalance, [-b, a])
        });
        Balance {
            density_kg_m3: density,
            by: self.by,
            mass_kg: density * self.volume_m3,
            blades: blades.collect(),
            unbalance_kg_m: unbalance,
            u_from: self.u_from.iter().map(|(s, u)| (*s, u.map(|u| density * u))).collect(),
            weight_radius_m: radius,
            weights: weights.into_iter().map(|(k, mass_kg)| Weight { index: index(k), mass_kg }).collect(),
            across_kg_m: across,
        }
    }
}

/// The component of a vector along a direction.
fn part(of: [Measured; 2], e: [f64; 2]) -> Measured {
    Measured::new(of[0].value * e[0] + of[1].value * e[1], (of[0].u * e[0]).hypot(of[1].u * e[1]))
}

/// The masses at a radius that balance an unbalance: of two blades on the light one; of more on the two neighbours between which the light side lies, or on one.
fn weights(spans: &[[f64; 2]], unbalance: [Measured; 2], radius: f64) -> Vec<(usize, Measured)> {
    let needed = unbalance.map(|m| Measured::new(-m.value / radius, m.u / radius));
    let size = needed[0].value.hypot(needed[1].value);
    if let [first, _] = spans {
        let along = part(needed, *first);
        let light = usize::from(along.value < 0.0);
        return vec![(light, Measured::new(along.value.abs(), along.u))];
    }
    let mut best: Option<Vec<(usize, Measured)>> = None;
    for i in 0..spans.len() {
        for j in i + 1..spans.len() {
            let ([a, b], [c, d]) = (spans[i], spans[j]);
            let det = a * d - b * c;
            if det.abs() < LEAST_SHARE {
                continue;
            }
            // needed = m_i (a, b) + m_j (c, d).
            let m = [part(needed, [d / det, -c / det]), part(needed, [-b / det, a / det])];
            let sum = m[0].value + m[1].value;
            let less = best.as_ref().is_none_or(|b| sum < b.iter().map(|w| w.1.value).sum::<f64>());
            if m.iter().all(|m| -LEAST_SHARE * size <= m.value) && less {
                best = Some(vec![(i, m[0]), (j, m[1])]);
            }
        }
    }
    let mut best = best.unwrap_or_default();
    best.retain(|w| LEAST_SHARE * size < w.1.value);
    best
}

/// Moments of one blade by its sections, m3 and m4.
struct OfSections {
    volume: f64,
    along: f64,
    across: f64,
    u_scan: f64,
    u_across: f64,
    u_tip: f64,
    u_long_range: f64,
}

/// Place of the middle of a section along the span and across it, m. That of a section on a cylinder lies inside its arc: the mean over an arc `w` to either side is `sin(w)/w` of its radius.
fn place_of(s: &Station, sections: SectionSurface) -> Option<[f64; 2]> {
    let (r, x) = (s.radius_m, s.mid_chord_x_m?);
    if sections == SectionSurface::Plane {
        return Some([r, x]);
    }
    let half = s.blade_angle_deg.map_or(0.0, |a| 0.5 * s.chord_m.unwrap_or(0.0) * a.to_radians().cos() / r);
    let inside = if half.abs() < 1e-6 { r } else { r * half.sin() / half };
    let (sin, cos) = (x / r).sin_cos();
    Some([inside * cos, inside * sin])
}

fn of_blade(stations: &[&Station], tip_m: f64, raised: f64, sections: SectionSurface) -> Option<OfSections> {
    let mut of = OfSections {
        volume: 0.0,
        along: 0.0,
        across: 0.0,
        u_scan: 0.0,
        u_across: 0.0,
        u_tip: 0.0,
        u_long_range: 0.0,
    };
    let (mut edge, mut long) = (0.0, 0.0);
    for (i, s) in stations.iter().enumerate() {
        let area = OfBlade::of(s, StationColumn::AreaM2, raised)?;
        // A station stands for half the way to each neighbour, the last for its share of that to the tip.
        let before = if i == 0 { 0.0 } else { 0.5 * (s.radius_m - stations[i - 1].radius_m) };
        let beyond = (tip_m - s.radius_m).max(0.0);
        let after =
            stations.get(i + 1).map_or(TIP_SHARE.value * beyond, |next| 0.5 * (next.radius_m - s.radius_m));
        let width = before + after;
        if i + 1 == stations.len() {
            of.u_tip = TIP_SHARE.u * beyond * area.value * s.radius_m;
        }
        let [along, across] = place_of(s, sections)?;
        of.volume += width * area.value;
        of.along += width * area.value * along;
        of.across += width * area.value * across;
        of.u_scan = of.u_scan.hypot(width * s.radius_m * area.noise);
        of.u_across =
            of.u_across.hypot(width * ACROSS * s.chord_m.unwrap_or(0.0) * area.noise.hypot(area.edge));
        edge += width * s.radius_m * area.edge;
        long += width * s.radius_m * area.long_range;
    }
    of.u_scan = of.u_scan.hypot(edge);
    of.u_long_range = long;
    Some(of)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The centroid of an arc of half angle `w` lies at `r sin(w)/w` (a published formula of statics; here by a sum over a thousand parts).
    #[test]
    fn the_middle_of_a_section_on_a_cylinder_lies_inside_its_arc() {
        let s = Station {
            chord_m: Some(0.30),
            blade_angle_deg: Some(25.0),
            mid_chord_x_m: Some(-0.05),
            ..Station::at(0.3, 0.5)
        };
        let half = 0.15 * 25f64.to_radians().cos() / 0.3;
        let parts = (0..1000).map(|k| -0.05 / 0.3 + half * ((f64::from(k) + 0.5) / 500.0 - 1.0));
        let sums = parts.fold([0.0; 2], |t, a| [t[0] + 3e-4 * a.cos(), t[1] + 3e-4 * a.sin()]);
        let found = place_of(&s, SectionSurface::Cylinder).unwrap();
        assert!((found[0] - sums[0]).abs() < 1e-7 && (found[1] - sums[1]).abs() < 1e-7, "{found:?} {sums:?}");
        // A plane section would have its middle a twentieth farther out.
        assert_eq!(place_of(&s, SectionSurface::Plane), Some([0.3, -0.05]));
        assert!(found[0] < 0.97 * 0.3);
    }
}
