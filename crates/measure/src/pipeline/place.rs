//! What an uncertain place and direction of the cuts leave uncertain in the figures of the sections: the known length, the root radius, the tilt of the span axis.

use bladeform_numeric::vector::{cross_in_plane, dot, sub};
use bladeform_table::{ColumnUnit, Station, StationColumn, UncertaintySource};

use crate::frame::scale::ScalePart;

/// Neighbouring stations through which a line is laid to find how a figure changes along the span.
const NEIGHBOURS: usize = 5;
/// Fewest that show it.
const FEWEST: usize = 3;

/// Each angle of a section, and the pitch that follows from two of them.
const PITCH_OF: [(StationColumn, Option<StationColumn>); 3] = [
    (StationColumn::BladeAngleDeg, Some(StationColumn::PitchM)),
    (StationColumn::FaceAngleDeg, Some(StationColumn::FacePitchM)),
    (StationColumn::LongestChordAngleDeg, None),
];

/// How surely the cuts lie where the table says. By default as on a propeller whose axis is exact.
#[derive(Debug, Clone, Default)]
pub(super) struct Places {
    /// What the scale's uncertainty is made of.
    pub(super) scale: Vec<ScalePart>,
    /// Standard uncertainty of all radii together at a fixed scale, m.
    pub(super) shift_u_m: f64,
    /// Standard uncertainty of the direction of the span axis, rad, each of both ways across it.
    pub(super) tilt: f64,
    /// Standard uncertainty of the height from which `y` counts, m.
    pub(super) height_u_m: f64,
    /// The radius to whose section angles are referred, m.
    pub(super) reference_m: Option<f64>,
}

impl Places {
    /// Adds the parts to some stations. `along`: the stations of their blade, which show how its figures change.
    ///
    /// If the scale is greater by a part `e`, a section cut at the radius `r` lies at `r + (r - fixed) e` and is greater by `e`. The figure at the stated
    /// radius is then off by `power figure e - (r - fixed) slope e`: both at once, since they have one cause (JCGM 100:2008, 5.2).
    pub(super) fn add(&self, along: &Along, stations: &mut [Station]) {
        for s in stations {
            let r = s.radius_m;
            // Where the section really lies; what that does to its figures follows.
            s.add_uncertainty(
                StationColumn::RadiusM,
                UncertaintySource::Length,
                self.by_scale(|fixed_m| r - fixed_m),
            );
            s.add_uncertainty(StationColumn::RadiusM, UncertaintySource::Radius, self.shift_u_m);
            for &column in StationColumn::FIGURES {
                let Some(value) = column.get(s).filter(|_| !is_apart(column)) else { continue };
                let slope = along.slope(column, r);
                let grown = power(column) * value;
                let by_scale = self.by_scale(|fixed_m| grown - (r - fixed_m) * slope);
                s.add_uncertainty(column, UncertaintySource::Length, by_scale);
                s.add_uncertainty(column, UncertaintySource::Radius, slope.abs() * self.shift_u_m);
            }
            for (angle, pitch) in PITCH_OF {
                let by_scale = self
                    .by_scale(|fixed_m| self.less_reference(r, |r| along.slope(angle, r) * (r - fixed_m)));
                let of_radius = self.less_reference(r, |r| along.slope(angle, r));
                let parts = [
                    (UncertaintySource::Length, by_scale),
                    (UncertaintySource::Radius, of_radius.abs() * self.shift_u_m),
                ];
                let steep =
                    angle.get(s).map_or(0.0, |a| std::f64::consts::TAU * r / a.to_radians().cos().powi(2));
                for (source, u_deg) in parts {
                    if angle.get(s).is_some() {
                        s.add_uncertainty(angle, source, u_deg);
                    }
                    if let Some(pitch) = pitch.filter(|p| p.get(s).is_some()) {
                        s.add_uncertainty(pitch, source, steep * u_deg.to_radians());
                    }
                }
            }
            self.add_tilt(along, s);
            if s.mid_chord_y_m.is_some() {
                s.add_uncertainty(StationColumn::MidChordYM, UncertaintySource::Axes, self.height_u_m);
            }
        }
    }

    /// Standard uncertainty by all causes of a wrong scale. `change`: by a unit of relative error, for the radius that stays where it is.
    fn by_scale(&self, change: impl Fn(f64) -> f64) -> f64 {
        self.scale.iter().map(|part| part.relative * change(part.fixed_m)).fold(0.0, f64::hypot)
    }

    /// A quantity at a radius, less that at the reference radius if there is one.
    fn less_reference(&self, r: f64, at: impl Fn(f64) -> f64) -> f64 {
        at(r) - self.reference_m.map_or(0.0, &at)
    }

    /// A tilted plane cuts each edge at another place along the span, by as much as the edge lies off the axis.
    fn add_tilt(&self, along: &Along, s: &mut Station) {
        if self.tilt <= 0.0 {
            return;
        }
        let at = along.tilted(s.radius_m);
        let zero = self.reference_m.map_or([[0.0; 3]; 2], |r| along.tilted(r));
        let both =
            |of: fn([f64; 3], [f64; 3]) -> f64| self.tilt * of(at[0], zero[0]).hypot(of(at[1], zero[1]));
        let parts: [(&[StationColumn], f64); 3] = [
            (&[StationColumn::ChordM, StationColumn::LongestChordM], both(|at, _| at[0])),
            (&StationColumn::ANGLES, both(|at, zero| at[1] - zero[1]).to_degrees()),
            (&[StationColumn::ThicknessM], both(|at, _| at[2])),
        ];
        for (columns, u) in parts {
            for column in columns.iter().filter(|c| c.get(s).is_some()).copied().collect::<Vec<_>>() {
                s.add_uncertainty(column, UncertaintySource::Axes, u);
            }
        }
    }
}

/// The power of the length that a figure's unit holds.
fn power(column: StationColumn) -> f64 {
    match column.unit() {
        ColumnUnit::Metre => 1.0,
        ColumnUnit::SquareMetre => 2.0,
        _ => 0.0,
    }
}

/// Columns that are not treated as the others: the radius itself, angles, and the pitch that follows from them.
fn is_apart(column: StationColumn) -> bool {
    column == StationColumn::RadiusM
        || PITCH_OF.iter().any(|(angle, pitch)| *angle == column || *pitch == Some(column))
}

/// Figures and edges of a blade along its span.
pub(super) struct Along {
    columns: Vec<(StationColumn, Vec<[f64; 2]>)>,
    /// Abscissa and ordinate of the leading edge, then of the trailing edge.
    edges: [Vec<[f64; 2]>; 4],
}

impl Along {
    pub(super) fn of(stations: &[Station]) -> Self {
        let rising = |mut points: Vec<[f64; 2]>| {
            points.sort_by(|a, b| a[0].total_cmp(&b[0]));
            points
        };
        let column = |c: &StationColumn| {
            let points = stations.iter().filter_map(|s| Some([s.radius_m, c.get(s)?]));
            (*c, rising(points.collect()))
        };
        let edges = [(0, 1.0), (1, 1.0), (0, -1.0), (1, -1.0)].map(|(k, end)| {
            let points = stations.iter().filter_map(|s| Some([s.radius_m, edge(s, end)?[k]]));
            rising(points.collect())
        });
        Self { columns: StationColumn::FIGURES.iter().map(column).collect(), edges }
    }

    /// Change of a figure per m of radius, in its unit; 0 where too few stations show it.
    fn slope(&self, column: StationColumn, radius_m: f64) -> f64 {
        self.columns.iter().find(|(c, _)| *c == column).map_or(0.0, |(_, points)| line_at(points, radius_m).1)
    }

    /// What a unit tilt about each axis across the span does to chord (m), angles (rad) and thickness (m) at a radius.
    fn tilted(&self, radius_m: f64) -> [[f64; 3]; 2] {
        let [lx, ly, tx, ty] = self.edges.each_ref().map(|points| line_at(points, radius_m));
        let (leading, trailing) = ([lx.0, ly.0], [tx.0, ty.0]);
        let (of_leading, of_trailing) = ([lx.1, ly.1], [tx.1, ty.1]);
        let chord = sub(leading, trailing);
        let length = chord[0].hypot(chord[1]).max(f64::MIN_POSITIVE);
        let along = chord.map(|c| c / length);
        let thinner = self.slope(StationColumn::ThicknessM, radius_m);
        [0, 1].map(|k| {
            let moved = [0, 1].map(|i| of_leading[i] * leading[k] - of_trailing[i] * trailing[k]);
            let middle = 0.5 * (leading[k] + trailing[k]);
            [dot(moved, along), cross_in_plane(along, moved) / length, thinner * middle]
        })
    }
}

/// Leading (`end` 1) or trailing (-1) edge in blade axes, m.
fn edge(s: &Station, end: f64) -> Option<[f64; 2]> {
    let half = 0.5 * end * s.chord_m?;
    let (sin, cos) = s.blade_angle_deg?.to_radians().sin_cos();
    Some([s.mid_chord_x_m? + half * cos, s.mid_chord_y_m? + half * sin])
}

/// Value and slope at a radius of the line of least squares through the points nearest to it; zeros if they are fewer than [`FEWEST`].
fn line_at(points: &[[f64; 2]], radius_m: f64) -> (f64, f64) {
    if points.len() < FEWEST {
        return (0.0, 0.0);
    }
    let after = points.partition_point(|p| p[0] < radius_m);
    let first = after.saturating_sub(NEIGHBOURS / 2).min(points.len().saturating_sub(NEIGHBOURS));
    let near = &points[first..(first + NEIGHBOURS).min(points.len())];
    let n = near.len() as f64;
    let mean = [0, 1].map(|k| near.iter().map(|p| p[k]).sum::<f64>() / n);
    let square: f64 = near.iter().map(|p| (p[0] - mean[0]).powi(2)).sum();
    let product: f64 = near.iter().map(|p| (p[0] - mean[0]) * (p[1] - mean[1])).sum();
    let slope = if 0.0 < square { product / square } else { 0.0 };
    (mean[1] + slope * (radius_m - mean[0]), slope)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A blade whose chord, angle and thickness change along straight lines, its leading edge at 0.3 of the chord before the axis.
    fn stations() -> Vec<Station> {
        (0..9)
            .map(|i| {
                let r = 0.3 + 0.1 * f64::from(i);
                let mut s = Station::at(r, 1.2);
                let (chord, angle) = (0.25 - 0.1 * r, (40.0 - 20.0 * r).to_radians());
                s.chord_m = Some(chord);
                s.blade_angle_deg = Some(angle.to_degrees());
                s.thickness_m = Some(0.03 - 0.02 * r);
                (s.mid_chord_x_m, s.mid_chord_y_m) =
                    (Some(-0.2 * chord * angle.cos()), Some(-0.2 * chord * angle.sin()));
                s
            })
            .collect()
    }

    fn added(places: &Places) -> Station {
        let mut stations = stations();
        let along = Along::of(&stations);
        places.add(&along, &mut stations);
        stations.swap_remove(4)
    }

    #[test]
    fn a_scale_moves_the_section_and_makes_it_larger_at_once() {
        let scale = vec![ScalePart { fixed_m: 0.1, relative: 1e-3 }];
        let s = added(&Places { scale: scale.clone(), ..Places::default() });
        // 0.18 m of chord and 0.1 m/m of taper over 0.6 m.
        let chord = s.budget.part(StationColumn::ChordM, UncertaintySource::Length);
        assert!((chord - 1e-3 * (0.18 + 0.06)).abs() < 1e-12, "{chord}");
        let angle = s.budget.part(StationColumn::BladeAngleDeg, UncertaintySource::Length);
        assert!((angle - 1e-3 * 20.0 * 0.6).abs() < 1e-12, "{angle}");
        let referred = Places { scale, reference_m: Some(0.9), ..Places::default() };
        let angle = added(&referred).budget.part(StationColumn::BladeAngleDeg, UncertaintySource::Length);
        assert!((angle - 1e-3 * 20.0 * 0.2).abs() < 1e-12, "{angle}");
    }

    #[test]
    fn an_uncertain_root_radius_moves_all_sections_alike() {
        let s = added(&Places { shift_u_m: 1e-3, ..Places::default() });
        let part = |column| s.budget.part(column, UncertaintySource::Radius);
        assert!((part(StationColumn::ThicknessM) - 2e-5).abs() < 1e-12);
        assert!((part(StationColumn::BladeAngleDeg) - 0.02).abs() < 1e-12);
        // A straight twist has the same slope at the reference.
        let referred = Places { shift_u_m: 1e-3, reference_m: Some(0.9), ..Places::default() };
        assert!(
            added(&referred).budget.part(StationColumn::BladeAngleDeg, UncertaintySource::Radius) < 1e-12
        );
    }

    #[test]
    fn a_tilt_is_that_of_cutting_a_ruled_blade_askew() {
        let tilt = 1e-4;
        let s = added(&Places { tilt, ..Places::default() });
        // The same cut worked out: each edge where the tilted plane meets it, by fixed-point iteration on the exact edges.
        let edges = |r: f64| {
            let (chord, angle) = (0.25 - 0.1 * r, (40.0 - 20.0 * r).to_radians());
            [0.3, -0.7].map(|e| [e * chord * angle.cos(), e * chord * angle.sin()])
        };
        let cut = |k: usize| {
            let [leading, trailing] = [0, 1].map(|e| {
                let mut r = 0.7;
                (0..50).for_each(|_| r = 0.7 + tilt * edges(r)[e][k]);
                edges(r)[e]
            });
            let d = sub(leading, trailing);
            (d[0].hypot(d[1]) - 0.18, d[1].atan2(d[0]) - 26f64.to_radians())
        };
        let (chord, angle) = (cut(0).0.hypot(cut(1).0), cut(0).1.hypot(cut(1).1).to_degrees());
        let part = |column| s.budget.part(column, UncertaintySource::Axes);
        let found = (part(StationColumn::ChordM), part(StationColumn::BladeAngleDeg));
        // The lines through the neighbours stand for curves.
        assert!((found.0 / chord - 1.0).abs() < 0.02, "{found:?} for {chord}");
        assert!((found.1 / angle - 1.0).abs() < 0.02, "{found:?} for {angle}");
    }
}
