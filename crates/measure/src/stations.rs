//! One station: the points of a band around it, the fitted outline, its figures in the table's terms.

use bladeform_mesh::{CleanMesh, PlaneCut};
use bladeform_section::{
    BandPoint, Figure, FitError, FitSettings, Likeness, N_STRIPS, SectionFit, fit_radial, fit_section,
    nearest_sections,
};
use bladeform_table::{
    Flag, NearSection, Outline, PartDeparture, SectionPart, Station, StationColumn, UncertaintySource,
};

use crate::slices::{MainLoop, Slice, main_loop};
use crate::vector::{V3, add, cross, median, norm, scale, sub};

/// A blade in its own span axes (z the span from the axis of rotation or from any origin), file units; turned so that it is right-handed.
pub(crate) struct LocalBlade {
    pub(crate) mesh: CleanMesh,
    /// Vertex normals, area-weighted, outward.
    pub(crate) normals: Vec<V3>,
    /// Whether the mesh is a mirror image, so that its triangles are wound inside out.
    pub(crate) mirrored: bool,
    /// Quick sections, the first end of each chord the leading edge.
    pub(crate) slices: Vec<Slice>,
    /// Typical edge of a triangle.
    pub(crate) edge: f64,
    /// Ends of the span.
    pub(crate) span: (f64, f64),
}

/// Half width of the band, chords: wide enough for some thousand points, narrow enough that sections change straight within it.
const HALF_BAND: f64 = 0.10;
/// Noise, chords, to which that width suits.
const NOISE_OF_BAND: f64 = 7e-4;
/// Least share of it, for scans without noise, and the share from which another fit is not worth its time.
const LEAST_SHARE: f64 = 0.3;
const WORTH_NARROWING: f64 = 0.7;
/// Most points a station is fitted to: more do not lower the uncertainty visibly, but cost time.
const MOST_POINTS: usize = 24_000;
/// Fewest points before triangles are sampled in place of their corners.
const FEWEST_POINTS: usize = 400;
/// What the outline model itself may miss, chords.
const MODEL_ERROR: f64 = 5e-4;
/// A quick section with at least this least width over its longest chord is nearly a circle.
const NEARLY_ROUND: f64 = 0.80;
/// Points farther off the chord line than this many greatest half widths belong to something else.
const OFF_BLADE: f64 = 1.6;
/// Corners of an outline in the table.
const N_OUTLINE: usize = 241;
/// The same around the nose, where little decides much.
const TOLD_NOSE_GAP: f64 = 0.02;
/// Share of the band without a leading edge, from which it is told: a fit with changes straight along the span then leans on one side.
const TOLD_NOSE_MISSING: f64 = 0.25;
/// Points of a band from which a strip without any on the leading edge is no accident.
const ENOUGH_TO_MISS: usize = 3000;
/// A gap along a side, chords, from which it is told.
const TOLD_GAP: f64 = 0.05;

/// Provisional chord line around a station: edges as quadratics of the distance along the span.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ChordFrame {
    leading: [[f64; 3]; 2],
    trailing: [[f64; 3]; 2],
    pub(crate) z: f64,
    pub(crate) flatness: f64,
}

impl ChordFrame {
    /// Leading edge, unit vector towards the trailing edge, and chord at a place along the span.
    fn at(&self, z: f64) -> ([f64; 2], [f64; 2], f64) {
        let d = z - self.z;
        let value = |c: &[[f64; 3]; 2]| [0, 1].map(|k| c[k][0] + d * (c[k][1] + d * c[k][2]));
        let (a, b) = (value(&self.leading), value(&self.trailing));
        let v = [b[0] - a[0], b[1] - a[1]];
        let chord = v[0].hypot(v[1]);
        (a, [v[0] / chord, v[1] / chord], chord)
    }
}

/// A station measured in span axes, before scale and setting.
#[derive(Debug, Clone)]
pub(crate) struct Found {
    pub(crate) z: f64,
    /// Angle of the provisional chord line in span axes, rad, and its length in file units.
    pub(crate) angle: f64,
    pub(crate) chord: f64,
    pub(crate) leading: [f64; 2],
    pub(crate) along: [f64; 2],
    /// Distance of neighbouring scan points, file units.
    pub(crate) spacing: f64,
    pub(crate) outcome: Outcome,
    pub(crate) flags: Vec<Flag>,
    /// Gaps of an open cut: how many, their length in file units, and their share of the outline.
    pub(crate) gap: Option<(usize, f64, f64)>,
    /// Width, file units, of a gap that has taken the trailing edge from the cut.
    pub(crate) tail_gap: Option<f64>,
}

#[derive(Debug, Clone)]
pub(crate) enum Outcome {
    Fitted(Box<SectionFit>),
    Round(bladeform_section::RadialFit, usize),
    Refused(String),
}

impl LocalBlade {
    /// The provisional chord line at `z`: tricube-weighted quadratics through the quick sections' ends (W. S. Cleveland, 1979), made robust.
    fn frame(&self, z: f64) -> Option<ChordFrame> {
        let reach = 0.07 * (self.span.1 - self.span.0);
        let near: Vec<_> = self.slices.iter().filter(|s| (s.z - z).abs() < reach).collect();
        if near.len() < 4 {
            return None;
        }
        let curve = |end: usize, k: usize| {
            // Slices whose edge lies in a hole do not tell where it is, as long as enough others do.
            let place = |s: &&Slice| (s.z - z, s.ends[end][k]);
            let seen: Vec<_> = near.iter().filter(|s| s.seen[end]).map(place).collect();
            if LEAST_SEEN <= seen.len() {
                quadratic(&seen, reach)
            } else {
                quadratic(&near.iter().map(place).collect::<Vec<_>>(), reach)
            }
        };
        let closest = near.iter().min_by(|a, b| (a.z - z).abs().total_cmp(&(b.z - z).abs()))?;
        Some(ChordFrame {
            leading: [curve(0, 0)?, curve(0, 1)?],
            trailing: [curve(1, 0)?, curve(1, 1)?],
            z,
            flatness: closest.flatness,
        })
    }

    /// Measures one station whose plane has been cut.
    pub(crate) fn measure(&self, plane: &PlaneCut) -> Found {
        let z = plane.offset;
        let refused = |reason: String| Found {
            z,
            angle: 0.0,
            chord: 0.0,
            leading: [0.0; 2],
            along: [1.0, 0.0],
            spacing: 0.0,
            outcome: Outcome::Refused(reason),
            flags: vec![],
            gap: None,
            tail_gap: None,
        };
        let Some(cut) = main_loop(plane) else {
            return refused("no surface of the scan crosses the station's plane".to_owned());
        };
        let Some(frame) = self.frame(z) else {
            return refused("too few sections around the station have an outline".to_owned());
        };
        let (leading, along, chord) = frame.at(z);
        let mut flags = vec![];
        if 0 < cut.others {
            flags.push(Flag::SeveralLoops { loops: cut.others + 1, left_out_share: cut.others_share });
        }
        let outcome = if NEARLY_ROUND < frame.flatness {
            self.round(z, chord)
        } else {
            self.fit(&frame, chord, &mut flags)
        };
        let tail_gap = gap_at_tail(&cut, leading, along, chord);
        let gap = (!cut.closed).then(|| (cut.gaps, cut.gap, cut.gap / perimeter(&cut)));
        Found {
            z,
            angle: (-along[1]).atan2(-along[0]),
            chord,
            leading,
            along,
            spacing: self.edge,
            outcome,
            flags,
            gap,
            tail_gap,
        }
    }

    fn round(&self, z: f64, width: f64) -> Outcome {
        let half = (0.1 * width).max(2.0 * self.edge);
        let points: Vec<_> =
            self.mesh.vertices().iter().filter(|p| (p[2] - z).abs() < half).map(|p| [p[0], p[1]]).collect();
        match fit_radial(&points) {
            Some(fit) => Outcome::Round(fit, points.len()),
            None => Outcome::Refused(
                "the nearly circular section has points on less than two thirds of its turn".to_owned(),
            ),
        }
    }

    fn fit(&self, frame: &ChordFrame, chord: f64, flags: &mut Vec<Flag>) -> Outcome {
        let ends = (self.span.1 - frame.z).min(frame.z - self.span.0);
        let mut half = (HALF_BAND * chord).min(0.8 * ends);
        let mut points = self.band(frame, half);
        if MOST_POINTS < points.len() {
            half *= MOST_POINTS as f64 / points.len() as f64;
            points.retain(|p| (p.0 - frame.z).abs() < half);
        }
        let vertices = points.len();
        if vertices < FEWEST_POINTS {
            points = self.sampled_band(frame, half);
            flags.push(Flag::Coarse { spacing_m: self.edge, chord_m: chord });
        }
        let samples_per_vertex = points.len() as f64 / vertices.max(1) as f64;
        let mut fit = fit_band(&points, frame.z, half, chord);
        let share = fit.as_ref().ok().and_then(|fit| narrower(fit.quality.rms));
        if let Some(narrow) = share.filter(|_| FEWEST_POINTS <= vertices).map(|share| share * half) {
            points.retain(|p| (p.0 - frame.z).abs() < narrow);
            if FEWEST_POINTS <= points.len()
                && let Ok(closer) = fit_band(&points, frame.z, narrow, chord)
            {
                fit = Ok(closer);
            }
        }
        match fit {
            Ok(mut fit) => {
                if let Some(reason) = not_one_outline(&fit) {
                    return Outcome::Refused(reason);
                }
                let off = stray_share(&fit);
                if TOLD_STRAY < off {
                    flags.push(Flag::StrayPoints { fraction: off });
                }
                if vertices < FEWEST_POINTS {
                    // Samples of one triangle repeat its three corners, and corners their neighbours, which too few of them show.
                    let repeated = samples_per_vertex * COARSE_CORRELATION;
                    fit.set_correlation(repeated.max(fit.quality.correlation));
                }
                Outcome::Fitted(Box::new(fit))
            }
            Err(e) => Outcome::Refused(e.to_string()),
        }
    }

    /// Vertices of the band in the chord frame of their own place along the span, with projected normals.
    fn band(&self, frame: &ChordFrame, half: f64) -> Vec<(f64, [f64; 2], [f64; 2])> {
        let vertices = self.mesh.vertices().iter().zip(&self.normals);
        vertices
            .filter(|(p, _)| (p[2] - frame.z).abs() < half)
            .filter_map(|(p, n)| in_frame(frame, *p, *n))
            .collect()
    }

    /// Points inside the triangles that reach into the band, about a twentieth of the band apart across and along.
    fn sampled_band(&self, frame: &ChordFrame, half: f64) -> Vec<(f64, [f64; 2], [f64; 2])> {
        let step = half / 4.0;
        let mut points = Vec::new();
        for f in self.mesh.faces() {
            let [a, b, c] = f.map(|i| self.mesh.vertices()[i as usize]);
            let (low, high) = (a[2].min(b[2]).min(c[2]), a[2].max(b[2]).max(c[2]));
            if high < frame.z - half || frame.z + half < low {
                continue;
            }
            let n = scale(cross(sub(b, a), sub(c, a)), if self.mirrored { -1.0 } else { 1.0 });
            let longest = norm(sub(b, a)).max(norm(sub(c, b))).max(norm(sub(a, c)));
            let parts = (longest / step).ceil().clamp(1.0, 400.0) as usize;
            for i in 0..=parts {
                for j in 0..=parts - i {
                    let (u, v) = (i as f64 / parts as f64, j as f64 / parts as f64);
                    let p = add(a, add(scale(sub(b, a), u), scale(sub(c, a), v)));
                    if (p[2] - frame.z).abs() < half {
                        points.extend(in_frame(frame, p, n));
                    }
                }
            }
        }
        points
    }
}

type SpanPoint = (f64, [f64; 2], [f64; 2]);

fn fit_band(points: &[SpanPoint], z: f64, half: f64, chord: f64) -> Result<SectionFit, FitError> {
    let band: Vec<_> =
        points.iter().map(|&(at_z, at, normal)| BandPoint { at, normal, span: (at_z - z) / half }).collect();
    fit_section(&band, &FitSettings { half_band: half / chord, model_error: MODEL_ERROR })
}

/// Share of the usual band that suits a scan of little noise, if it is clearly narrower: the error by chance goes as the noise over the square root of the width,
/// that of straight changes along the span as the width's square, and their sum is least where the width goes as the noise to the power of 2/5
/// (J. Fan, I. Gijbels, "Local polynomial modelling and its applications", Chapman & Hall, 1996, section 3.2, from memory).
fn narrower(rms: f64) -> Option<f64> {
    let share = (rms / NOISE_OF_BAND).powf(0.4).max(LEAST_SHARE);
    (share < WORTH_NARROWING).then_some(share)
}

/// Share of the points near a station that lie off the outline, from which it is told, and from which there is no telling which of them are the blade.
const TOLD_STRAY: f64 = 0.1;
const MOST_STRAY: f64 = 0.35;
/// The fitted chord and the extent of the cut, which is its longest chord, differ by a percent or two on any blade.
const AGREED_CHORD: f64 = 0.12;
/// Corners of a coarse mesh that count as one: noise that goes together over two edges, which they are too few to show.
const COARSE_CORRELATION: f64 = 12.0;

fn stray_share(fit: &SectionFit) -> f64 {
    let stray = fit.quality.stray as f64;
    stray / (stray + fit.quality.points as f64)
}

/// Why a fit is not believed, if it is not.
fn not_one_outline(fit: &SectionFit) -> Option<String> {
    let off = stray_share(fit);
    if MOST_STRAY < off {
        return Some(format!(
            "{:.0} % of the scan points near the station do not lie on one outline: the surface stands twice, or something has grown onto it",
            100.0 * off
        ));
    }
    // The provisional chord is one.
    let chord = fit.shape.chord();
    if AGREED_CHORD < (chord - 1.0).abs() {
        return Some(format!(
            "the outline fitted to the points around the station is {:.0} % as long as the cut is wide: they do not belong to one section",
            100.0 * chord
        ));
    }
    None
}

/// Part of the chord within which loose ends of the cut mean that the trailing edge itself is missing.
const TAIL_PART: f64 = 0.07;
/// A point of the cut beyond this fraction of the provisional chord is the trailing edge.
const TAIL_SEEN: f64 = 0.993;

/// Width of the gap around the trailing edge, if loose ends on both sides say that there is one.
fn gap_at_tail(cut: &MainLoop, leading: [f64; 2], along: [f64; 2], chord: f64) -> Option<f64> {
    let x = |p: &[f64; 2]| ((p[0] - leading[0]) * along[0] + (p[1] - leading[1]) * along[1]) / chord;
    if cut.points.iter().any(|p| TAIL_SEEN < x(p)) {
        return None;
    }
    let near: Vec<_> = cut.loose.iter().filter(|p| 1.0 - TAIL_PART < x(p)).collect();
    let [first, .., last] = near[..] else { return None };
    let farthest = near.iter().map(|p| 1.0 - x(p)).fold(0.0, f64::max) * chord;
    Some((last[0] - first[0]).hypot(last[1] - first[1]).max(farthest))
}

fn perimeter(cut: &MainLoop) -> f64 {
    let length: f64 = cut.points.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).sum();
    (length + cut.gap).max(f64::MIN_POSITIVE)
}

/// A point and its normal in the chord frame; `None` far from the blade.
fn in_frame(frame: &ChordFrame, p: V3, n: V3) -> Option<(f64, [f64; 2], [f64; 2])> {
    let (leading, along, chord) = frame.at(p[2]);
    // Towards the back: a quarter turn clockwise from the direction towards the tail, since the frame runs from nose to tail.
    let back = [along[1], -along[0]];
    let d = [p[0] - leading[0], p[1] - leading[1]];
    let at = [(d[0] * along[0] + d[1] * along[1]) / chord, (d[0] * back[0] + d[1] * back[1]) / chord];
    let near = (-0.08..1.08).contains(&at[0]) && at[1].abs() < OFF_BLADE * frame.flatness.max(0.03);
    near.then(|| (p[2], at, [n[0] * along[0] + n[1] * along[1], n[0] * back[0] + n[1] * back[1]]))
}

/// Quadratic through weighted points, constant term first: first by least absolute deviations (reweighted least squares; P. J. Huber, "Robust statistics",
/// 1981, from memory), then by least squares with what lies far off weighed down. Neighbouring outliers in the middle can still bend it.
fn quadratic(points: &[(f64, f64)], reach: f64) -> Option<[f64; 3]> {
    let near = |p: &(f64, f64)| (1.0 - (p.0.abs() / reach).powi(3)).powi(3);
    let mut weights: Vec<f64> = points.iter().map(near).collect();
    let mut c = solve_quadratic(points, &weights, reach)?;
    for round in 0..ABSOLUTE_ROUNDS + BIWEIGHT_ROUNDS {
        let rest: Vec<f64> = points.iter().map(|p| (p.1 - c[0] - p.0 * (c[1] + p.0 * c[2])).abs()).collect();
        let mut sizes = rest.clone();
        let median = median(&mut sizes);
        let bound = 6.0 * median + 1e-9 * reach;
        for ((w, p), rest) in weights.iter_mut().zip(points).zip(&rest) {
            let share = if round < ABSOLUTE_ROUNDS {
                // A deviation far below the typical one counts no more than that.
                1.0 / rest.max(0.1 * median + 1e-9 * reach)
            } else {
                (1.0 - (rest / bound).powi(2)).max(0.0).powi(2)
            };
            *w = near(p) * share;
        }
        c = solve_quadratic(points, &weights, reach)?;
    }
    Some(c)
}

/// Slices that a provisional edge is drawn through at the least.
const LEAST_SEEN: usize = 5;
/// Rounds of each kind; both settle in a few.
const ABSOLUTE_ROUNDS: usize = 12;
const BIWEIGHT_ROUNDS: usize = 3;

fn solve_quadratic(points: &[(f64, f64)], weights: &[f64], reach: f64) -> Option<[f64; 3]> {
    let (mut a, mut b) = (nalgebra::Matrix3::zeros(), nalgebra::Vector3::zeros());
    for (p, w) in points.iter().zip(weights) {
        let x = p.0 / reach;
        let row = nalgebra::Vector3::new(1.0, x, x * x);
        a += row * row.transpose() * *w;
        b += row * p.1 * *w;
    }
    let c = a.lu().solve(&b)?;
    Some([c[0], c[1] / reach, c[2] / (reach * reach)])
}

/// How a station's figures go from span axes and file units to the table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ToTable {
    pub(crate) metres_per_unit: f64,
    /// Radius in m of span coordinate 0.
    pub(crate) radius_at_origin_m: f64,
    pub(crate) tip_radius_m: f64,
}

impl Found {
    /// The station's row.
    pub(crate) fn station(&self, to: &ToTable) -> Station {
        let radius_m = to.radius_at_origin_m + to.metres_per_unit * self.z;
        let mut station = match &self.outcome {
            Outcome::Refused(reason) => Station::refused(radius_m, to.tip_radius_m, reason),
            Outcome::Round(fit, points) => self.round_station(fit, *points, radius_m, to),
            Outcome::Fitted(fit) => self.fitted_station(fit, radius_m, to),
        };
        if let Some((gaps, length, share)) = self.gap {
            station.flags.push(Flag::Bridged { gaps, length_m: length * to.metres_per_unit, share });
        }
        station.flags.extend(self.flags.iter().map(|f| match f {
            Flag::Coarse { spacing_m, chord_m } => Flag::Coarse {
                spacing_m: spacing_m * to.metres_per_unit,
                chord_m: chord_m * to.metres_per_unit,
            },
            other => other.clone(),
        }));
        station
    }

    fn round_station(
        &self,
        fit: &bladeform_section::RadialFit,
        points: usize,
        radius_m: f64,
        to: &ToTable,
    ) -> Station {
        let k = to.metres_per_unit;
        let mut s = Station::at(radius_m, to.tip_radius_m);
        s.thickness_m = Some(fit.thickness * k);
        s.longest_chord_m = Some(fit.longest_chord * k);
        s.area_m2 = Some(fit.area * k * k);
        s.points = Some(points as f64);
        s.residual_rms_m = Some(fit.rms * k);
        let u = fit.rms * k / (points as f64 / 20.0).max(1.0).sqrt();
        s.u.thickness_m = Some(u);
        s.u.longest_chord_m = Some(u);
        s.u.area_m2 = Some(u * fit.longest_chord * k * std::f64::consts::PI / 2.0);
        s.flags.push(Flag::NearlyCircular { thickness_ratio: fit.thickness / fit.longest_chord });
        s
    }

    fn fitted_station(&self, fit: &SectionFit, radius_m: f64, to: &ToTable) -> Station {
        let f = fit.figures();
        let c = self.chord * to.metres_per_unit;
        let mut s = Station::at(radius_m, to.tip_radius_m);
        let mut length = |column: StationColumn, figure: Figure, power: i32| {
            let (value, u) = (f.value(figure) * c.powi(power), f.u(figure) * c.powi(power));
            column.set(&mut s, Some(value));
            s.add_uncertainty(column, UncertaintySource::Scan, u);
        };
        length(StationColumn::ChordM, Figure::Chord, 1);
        length(StationColumn::ThicknessM, Figure::Thickness, 1);
        length(StationColumn::LeadingEdgeRadiusM, Figure::LeadingEdgeRadius, 1);
        length(StationColumn::TrailingEdgeThicknessM, Figure::TrailingEdgeThickness, 1);
        length(StationColumn::LongestChordM, Figure::LongestChord, 1);
        length(StationColumn::AreaM2, Figure::Area, 2);
        length(StationColumn::ThicknessRatio, Figure::ThicknessRatio, 0);
        length(StationColumn::ThicknessPosition, Figure::ThicknessPosition, 0);
        length(StationColumn::CamberRatio, Figure::CamberRatio, 0);
        length(StationColumn::CamberPosition, Figure::CamberPosition, 0);
        for (column, figure) in [
            (StationColumn::BladeAngleDeg, Figure::Angle),
            (StationColumn::FaceAngleDeg, Figure::FaceAngle),
            (StationColumn::LongestChordAngleDeg, Figure::LongestChordAngle),
        ] {
            column.set(&mut s, Some((self.angle + f.value(figure)).to_degrees()));
            s.add_uncertainty(column, UncertaintySource::Scan, f.u(figure).to_degrees());
        }
        self.set_mid_chord(&mut s, &f, to);
        self.add_unseen_tail(&mut s, fit, to);
        add_two_readings(&mut s, fit, &f, c);
        for (column, u) in [
            (StationColumn::ThicknessM, MISSED_THICKNESS * c),
            (StationColumn::ThicknessRatio, MISSED_THICKNESS),
            (StationColumn::AreaM2, MISSED_AREA * c * c),
            (StationColumn::FaceAngleDeg, MISSED_FACE_ANGLE_DEG),
        ] {
            s.add_uncertainty(column, UncertaintySource::Definition, u);
        }
        let edges = [StationColumn::LeadingEdgeRadiusM, StationColumn::TrailingEdgeThicknessM];
        let read_otherwise = fit.edges_read_otherwise().map(|apart| EITHER_READING * apart.abs());
        for (column, u) in edges.into_iter().zip(read_otherwise) {
            s.add_uncertainty(column, UncertaintySource::Definition, u * c);
        }
        // Back and face are seen, the round between them is not: with another radius it stands higher above the face by as much, and the longest chord ends there.
        s.add_uncertainty(
            StationColumn::LongestChordAngleDeg,
            UncertaintySource::Definition,
            read_otherwise[0].to_degrees(),
        );
        s.add_uncertainty(
            StationColumn::TrailingEdgeThicknessM,
            UncertaintySource::Scan,
            fit.quality.shut_tail * c,
        );
        if s.u.trailing_edge_thickness_m.is_none_or(|u| u <= 0.0) {
            // Neither equations nor readings say anything: up to one point's noise it may be anything (a rectangular distribution, JCGM 100:2008, 4.3.7).
            let u = fit.quality.rms / 3f64.sqrt();
            s.add_uncertainty(StationColumn::TrailingEdgeThicknessM, UncertaintySource::Scan, u * c);
        }
        add_missing_nose(&mut s, fit, &f, c);
        s.points = Some(fit.quality.points as f64);
        s.residual_rms_m = Some(fit.quality.rms * c);
        let own = outline(fit, c);
        s.near_sections = near_sections(&own, &s);
        s.outline = Some(own);
        add_departures(&mut s, fit, c, self.is_coarse());
        for (side, gap) in
            [(SectionPart::Back, fit.quality.back_gap), (SectionPart::Face, fit.quality.face_gap)]
        {
            if TOLD_GAP < gap {
                s.flags.push(Flag::GapInBand { side, fraction: gap });
            }
        }
        if let Some(gap) = self.tail_gap {
            let gap_m = gap * to.metres_per_unit;
            for column in [StationColumn::ChordM, StationColumn::LongestChordM] {
                s.add_uncertainty(column, UncertaintySource::Edge, SHORT_PER_GAP * gap_m);
            }
            for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
                s.add_uncertainty(column, UncertaintySource::Edge, 0.5 * SHORT_PER_GAP * gap_m);
            }
            let ratio = s.thickness_ratio.unwrap_or(0.0) * SHORT_PER_GAP * gap_m / c;
            s.add_uncertainty(StationColumn::ThicknessRatio, UncertaintySource::Edge, ratio);
            s.flags.push(Flag::GapAtTail { width_m: gap_m });
        }
        if TOLD_NOSE_GAP < fit.quality.nose_gap {
            s.flags.push(Flag::GapAtNose { width_m: c * fit.quality.nose_gap });
        }
        if is_nose_missing(fit) {
            s.flags.push(Flag::NoseMissing { fraction: fit.quality.nose_missing });
        }
        s
    }

    /// The last but one of `k` scan points scattered evenly over one spacing lies on average two (k + 1)ths of it inside the tail's end, and nothing else
    /// shows where the blade ends. Whether a scan has points on the edge itself is not known: the shortfall lies anywhere between nil and twice that,
    /// which is added as a rectangular distribution (JCGM 100:2008, 4.3.7) to what hangs on the chord. `k` rows lie in the band, and the fit ends
    /// where the last but one of its strips does.
    fn add_unseen_tail(&self, s: &mut Station, fit: &SectionFit, to: &ToTable) {
        let strip = 2.0 * fit.quality.half_band * self.chord / N_STRIPS as f64;
        let rows = N_STRIPS as f64 * (strip / self.spacing).max(1.0);
        let half_width_m = 2.0 * self.spacing / (1.0 + rows) * to.metres_per_unit;
        let unseen_m = half_width_m / 3f64.sqrt();
        let chord_m = self.chord * to.metres_per_unit;
        let ratio = s.thickness_ratio.unwrap_or(0.0) * unseen_m / chord_m;
        for (column, u) in [
            (StationColumn::ChordM, unseen_m),
            (StationColumn::LongestChordM, unseen_m),
            (StationColumn::ThicknessRatio, ratio),
        ] {
            s.add_uncertainty(column, UncertaintySource::Edge, u);
        }
    }

    fn is_coarse(&self) -> bool {
        self.flags.iter().any(|flag| matches!(flag, Flag::Coarse { .. }))
    }

    fn set_mid_chord(&self, s: &mut Station, f: &bladeform_section::Figures, to: &ToTable) {
        let (k, c) = (to.metres_per_unit, self.chord * to.metres_per_unit);
        let back = [self.along[1], -self.along[0]];
        let (x, y) = (f.value(Figure::MidChordX) * c, f.value(Figure::MidChordY) * c);
        let p = [0, 1].map(|i| self.leading[i] * k + self.along[i] * x + back[i] * y);
        let u = (f.u(Figure::MidChordX) * c).max(f.u(Figure::MidChordY) * c);
        s.mid_chord_x_m = Some(p[0]);
        s.mid_chord_y_m = Some(p[1]);
        for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
            s.add_uncertainty(column, UncertaintySource::Scan, u);
        }
    }
}

/// Turns a station about the span by an angle in rad.
pub(crate) fn turn_station(s: &mut Station, turn: f64) {
    for angle in
        [StationColumn::BladeAngleDeg, StationColumn::FaceAngleDeg, StationColumn::LongestChordAngleDeg]
    {
        let turned = angle.get(s).map(|a| a + turn.to_degrees());
        angle.set(s, turned);
    }
    if let Some((x, y)) = s.mid_chord_x_m.zip(s.mid_chord_y_m) {
        let (sin, cos) = turn.sin_cos();
        s.mid_chord_x_m = Some(x * cos - y * sin);
        s.mid_chord_y_m = Some(x * sin + y * cos);
    }
}

/// A departure, averaged over neighbouring points, is told from this multiple of the scan's residual on: chance hardly makes half of it.
const TOLD_DEPARTURE: f64 = 2.5;
/// And from this much on, m: less is nobody's damage.
const LEAST_DEPARTURE_M: f64 = 1e-4;

fn add_departures(s: &mut Station, fit: &SectionFit, chord_m: f64, coarse: bool) {
    let least = (TOLD_DEPARTURE * fit.quality.rms * chord_m).max(LEAST_DEPARTURE_M);
    for (part, d) in SectionPart::ALL.into_iter().zip(&fit.quality.departures) {
        if d.points == 0 {
            continue;
        }
        let largest_m = d.largest * chord_m;
        // Flat triangles of a coarse mesh depart from any smooth outline.
        if least < largest_m.abs() && !coarse {
            s.flags.push(Flag::DepartsFromOutline { part, amount_m: largest_m, position: d.at });
        }
        let departure = PartDeparture {
            rms_m: Some(d.rms * chord_m),
            largest_m: Some(largest_m),
            position: Some(d.at),
            ..PartDeparture::default()
        };
        s.departures.parts.insert(part, departure);
    }
}

/// Published sections near the outline, beside the noise of the scan.
fn near_sections(outline: &Outline, s: &Station) -> Vec<NearSection> {
    let (Some(chord_m), Some(noise_m)) = (s.chord_m, s.residual_rms_m) else { return vec![] };
    let points: Vec<_> = outline.points().map(|p| p.map(|v| v / chord_m)).collect();
    let (thickness, camber) = (s.thickness_ratio.unwrap_or(0.1), s.camber_ratio.unwrap_or(0.0));
    let near = |l: Likeness| NearSection {
        section: l.family.name(),
        rms_m: Some(l.rms * chord_m),
        within_noise: Some(l.rms * chord_m <= noise_m),
        ..NearSection::default()
    };
    nearest_sections(&points, thickness, camber).into_iter().map(near).collect()
}

/// What the outline's own smoothness and its straight change along the band miss, chords and square chords: root mean squares over scans without noise of the
/// three families of the study (22 stations from 0.30 R to 0.93 R each). It counts only where the noise is a tenth of a millimetre or less.
const MISSED_THICKNESS: f64 = 3.5e-5;
const MISSED_AREA: f64 = 1.5e-5;
/// The same of the face's angle, deg, of which the station of reference has its part.
const MISSED_FACE_ANGLE_DEG: f64 = 1e-3;

/// The truth may be either reading of the definition: the mean square of the error is then half the square of their difference.
const EITHER_READING: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// How far the mean line's end may lie across the chord line from the fitted one, chords: it is carried straight on through the nose, and the outline within
/// the first 0.3 % of the chord, less than a scan shows, decides on its direction. Nothing for four-digit sections and those drawn with
/// compasses, 0.0014 for the published Clark Y (0.09 to 0.2 thick): the root mean square of the three.
const UNSEEN_NOSE: f64 = 8e-4;

/// The mean line's two readings end at different points of a thick nose: what hangs on the leading edge is uncertain by that.
fn add_two_readings(s: &mut Station, fit: &SectionFit, f: &bladeform_section::Figures, chord_m: f64) {
    let Some(apart) = fit.nose_by_circles() else { return };
    let [along, across] = apart.map(|d| (EITHER_READING * d).abs());
    let across = across.hypot(UNSEEN_NOSE);
    let chord = f.value(Figure::Chord) * chord_m;
    move_leading_edge(s, UncertaintySource::Definition, [along, across], chord, f);
}

/// What a leading edge that lies off by so much, along and across the chord line in chords, does to the figures.
fn move_leading_edge(
    s: &mut Station,
    source: UncertaintySource,
    [along, across]: [f64; 2],
    chord_m: f64,
    f: &bladeform_section::Figures,
) {
    let before = 1.0 - f.value(Figure::CamberPosition);
    for (column, u) in [
        (StationColumn::ChordM, along * chord_m),
        (StationColumn::ThicknessRatio, along * f.value(Figure::ThicknessRatio)),
        (StationColumn::BladeAngleDeg, across.to_degrees()),
        (StationColumn::CamberRatio, across * before),
        (StationColumn::MidChordXM, 0.5 * chord_m * along.hypot(across)),
        (StationColumn::MidChordYM, 0.5 * chord_m * along.hypot(across)),
    ] {
        s.add_uncertainty(column, source, u);
    }
}

/// A chord that ends in a hole is short by something between nothing and half the hole's width: the root mean square of that, a rectangular distribution
/// (JCGM 100:2008, 4.3.7).
const SHORT_PER_GAP: f64 = 0.29;

/// How far a leading edge may lie off where a hole has taken it: shares of the gap around the nose, and chords where the nose is missing on all of the band.
/// A judgement (JCGM 100:2008, 4.3) after seeded scans, in which a fit across a hole at the nose went off by up to 0.04 chords.
const OFF_PER_GAP: f64 = 0.1;
const OFF_PER_MISSING: f64 = 0.02;

/// Stations that are flagged for a hole at the nose say less of it.
fn add_missing_nose(s: &mut Station, fit: &SectionFit, f: &bladeform_section::Figures, chord_m: f64) {
    let q = &fit.quality;
    let gap = if TOLD_NOSE_GAP < q.nose_gap { q.nose_gap } else { 0.0 };
    let missing = if is_nose_missing(fit) { q.nose_missing } else { 0.0 };
    let off = OFF_PER_GAP * gap + OFF_PER_MISSING * missing;
    if 0.0 < off {
        let chord = f.value(Figure::Chord) * chord_m;
        move_leading_edge(s, UncertaintySource::Edge, [0.5 * off, off], chord, f);
    }
}

fn is_nose_missing(fit: &SectionFit) -> bool {
    TOLD_NOSE_MISSING < fit.quality.nose_missing && ENOUGH_TO_MISS <= fit.quality.points
}

/// Local estimates that differ by less than this factor from the scan's differ by chance: one station tells its correlation to a third or so.
const LOCAL_CORRELATION: f64 = 2.5;

/// Residuals up to this factor above the scan's usual ones differ by chance and by the sections' own curvature.
const USUAL_RESIDUAL: f64 = 1.3;
/// Nor is anything told below this, m: where a scan has no noise, its median residual is that of the outline model.
const LEAST_MISFIT_M: f64 = 3e-5;

/// Residual of each fit beyond what is usual on the scan (the median of all), as its root mean square, m; zero where there is none. Whatever makes it (a second
/// layer, a bump, filler) may lie to one side of the true surface.
pub(crate) fn excess_residuals_m(stations: &[Station]) -> Vec<f64> {
    let mut all: Vec<f64> = stations.iter().filter_map(|s| s.residual_rms_m).collect();
    if all.is_empty() {
        return vec![0.0; stations.len()];
    }
    let usual = USUAL_RESIDUAL * median(&mut all);
    let excess = |s: &Station| {
        let excess = s.residual_rms_m.map_or(0.0, |r| (r * r - usual * usual).max(0.0).sqrt());
        if excess < LEAST_MISFIT_M { 0.0 } else { excess }
    };
    stations.iter().map(excess).collect()
}

/// What an unusual residual leaves uncertain: each side of the section may lie off by it.
pub(crate) fn add_misfit(s: &mut Station, excess_m: f64) {
    let Some(chord_m) = s.chord_m.filter(|_| 0.0 < excess_m) else { return };
    let angle = (std::f64::consts::SQRT_2 * excess_m / chord_m).to_degrees();
    for (column, u) in [
        (StationColumn::ChordM, 2.0 * excess_m),
        (StationColumn::LongestChordM, 2.0 * excess_m),
        (StationColumn::ThicknessM, 2.0 * excess_m),
        (StationColumn::ThicknessRatio, 2.0 * excess_m / chord_m),
        (StationColumn::CamberRatio, excess_m / chord_m),
        (StationColumn::AreaM2, 2.0 * chord_m * excess_m),
        (StationColumn::BladeAngleDeg, angle),
        (StationColumn::FaceAngleDeg, angle),
        (StationColumn::LongestChordAngleDeg, angle),
    ] {
        s.add_uncertainty(column, UncertaintySource::Misfit, u);
    }
    s.flags.push(Flag::Misfit { rms_m: excess_m });
}

/// Puts the scan's own correlation of the noise, the median of all stations', in the place of each station's, unless that is far greater:
/// then the residuals there hang together by more than noise.
pub(crate) fn share_correlation(found: &mut [Found]) {
    let mut fits: Vec<&mut SectionFit> = found
        .iter_mut()
        .filter(|f| !f.is_coarse())
        .filter_map(|f| if let Outcome::Fitted(fit) = &mut f.outcome { Some(&mut **fit) } else { None })
        .collect();
    let mut all: Vec<f64> = fits.iter().map(|fit| fit.quality.correlation).collect();
    if all.is_empty() {
        return;
    }
    let median = median(&mut all);
    for fit in &mut fits {
        if fit.quality.correlation < LOCAL_CORRELATION * median {
            fit.set_correlation(median);
        }
    }
}

/// Outline in m with the chord line along x and the leading edge at 0.
fn outline(fit: &SectionFit, chord_m: f64) -> Outline {
    let (le, v) = (fit.shape.leading_edge(), fit.shape.chord_vector());
    let length = v[0].hypot(v[1]);
    let (c, s) = (v[0] / length, v[1] / length);
    let turn = |p: [f64; 2]| {
        let d = [(p[0] - le[0]) * chord_m, (p[1] - le[1]) * chord_m];
        [d[0] * c + d[1] * s, d[1] * c - d[0] * s]
    };
    Outline::from_points(&fit.shape.outline(N_OUTLINE).into_iter().map(turn).collect::<Vec<_>>())
}
