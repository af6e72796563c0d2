//! A screw against the tolerances of an accuracy class: local pitch, mean pitch of radii, blades and screw, chord, thickness, rake and spacing.
//!
//! Source of the published classes: ISO 484-2:1981, numbers as two secondary pages tabulate them (the standard itself was not seen; `docs/definitions.md`). The way of averaging pitch: ISO 484, from memory.

use std::f64::consts::TAU;

use bladeform_quantity::Measured;

use super::blades::Blades;
use super::{BladeAlone, compare_blades};
use crate::{CompareError, SectionSurface, Spanwise, Station, StationColumn, StationTable};

/// Places on the face, fractions of the chord from the nose, between which local pitch is taken: the outer ones near the edges, inside their rounding (chosen; the standard leaves the number to the user).
pub const FACE_PLACES: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 0.9];
/// A station this close to a radius of the class, as a fraction of the tip radius, stands for it.
const SAME_RADIUS: f64 = 0.021;
/// Farther out than this no station is near the hub.
const NEAR_HUB: f64 = 0.35;
/// Radii of the classes S and I outboard of the one near the hub, over the tip radius; and of II and III.
const FINE: [f64; 7] = [0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95];
const COARSE: [f64; 3] = [0.5, 0.7, 0.9];

/// Diameters of part 2 of the standard, m.
const DIAMETERS_M: [f64; 2] = [0.80, 2.50];

/// A tolerance that is a fraction of the drawing's figure, but no less than a length.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OrLength {
    /// The fraction.
    pub fraction: f64,
    /// The least, m.
    pub least_m: f64,
}

/// Tolerances of one class. What is `None` is not judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ToleranceClass {
    /// Its name for people.
    pub name: String,
    /// Diameters for which it is published, m; `None` for tolerances of the user's own.
    pub diameters_m: Option<[f64; 2]>,
    /// Radii besides the one near the hub, over the tip radius.
    pub radii: Vec<f64>,
    /// Pitch between two places of the face, a fraction.
    pub local_pitch: Option<f64>,
    /// Mean pitch of one radius of one blade.
    pub radius_pitch: Option<f64>,
    /// Mean pitch of one blade.
    pub blade_pitch: Option<f64>,
    /// Mean pitch of the screw.
    pub screw_pitch: Option<f64>,
    /// Chord, either way.
    pub chord: Option<OrLength>,
    /// Thickness, above and below the drawing's.
    pub thickness: Option<[OrLength; 2]>,
    /// Rake, as a fraction of the diameter.
    pub rake: Option<f64>,
    /// Angle between neighbouring blades, deg.
    pub spacing_deg: Option<f64>,
}

impl ToleranceClass {
    /// The published classes S, I, II and III of ISO 484-2:1981 (diameters of 0.80 to 2.50 m); `None` for another name.
    #[must_use]
    pub fn published(name: &str) -> Option<Self> {
        let k = ["S", "I", "II", "III"].iter().position(|n| n.eq_ignore_ascii_case(name))?;
        let of = |all: [f64; 4]| Some(0.01 * all[k]);
        let or = |percent: [f64; 4], least_mm: [f64; 4]| OrLength {
            fraction: 0.01 * percent[k],
            least_m: 1e-3 * least_mm[k],
        };
        let (over, under) = ([2.0, 2.5, 4.0, 6.0], [1.0, 1.5, 2.0, 4.0]);
        Some(Self {
            name: format!("{} of ISO 484-2:1981", ["S", "I", "II", "III"][k]),
            diameters_m: Some(DIAMETERS_M),
            radii: if k < 2 { FINE.to_vec() } else { COARSE.to_vec() },
            // Class III has none.
            local_pitch: of([1.5, 2.0, 3.0, f64::NAN]).filter(|v| v.is_finite()),
            radius_pitch: of([1.0, 1.5, 2.0, 5.0]),
            blade_pitch: of([0.75, 1.0, 1.5, 4.0]),
            screw_pitch: of([0.5, 0.75, 1.0, 3.0]),
            // The least lengths of chords stand on one of the two pages only.
            chord: Some(or([1.5, 2.0, 3.0, 5.0], [7.0, 10.0, 13.0, 15.0])),
            thickness: Some([or(over, over), or(under, under)]),
            rake: of([0.5, 1.0, 1.5, 3.0]),
            spacing_deg: Some([1.0, 1.0, 2.0, 2.0][k]),
        })
    }
}

/// What is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClassFigure {
    /// Pitch between two places of the face.
    LocalPitch,
    /// Mean pitch of one radius of one blade.
    RadiusPitch,
    /// Mean pitch of one blade.
    BladePitch,
    /// Mean pitch of the screw.
    ScrewPitch,
    /// Chord.
    Chord,
    /// Thickness.
    Thickness,
    /// Axial distance of the outermost section from the innermost one.
    Rake,
    /// Angle to the next blade.
    Spacing,
}

impl ClassFigure {
    /// All of them, in the order of reports.
    pub const ALL: [Self; 8] = [
        Self::LocalPitch,
        Self::RadiusPitch,
        Self::BladePitch,
        Self::ScrewPitch,
        Self::Chord,
        Self::Thickness,
        Self::Rake,
        Self::Spacing,
    ];

    /// The words for people.
    #[must_use]
    pub const fn shown(self) -> &'static str {
        match self {
            Self::LocalPitch => "local pitch",
            Self::RadiusPitch => "mean pitch of a radius of a blade",
            Self::BladePitch => "mean pitch of a blade",
            Self::ScrewPitch => "mean pitch of the screw",
            Self::Chord => "chord",
            Self::Thickness => "thickness",
            Self::Rake => "rake between the innermost and the outermost radius",
            Self::Spacing => "angle to the next blade",
        }
    }

    /// The word of a file.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::LocalPitch => "local_pitch_m",
            Self::RadiusPitch => "radius_pitch_m",
            Self::BladePitch => "blade_pitch_m",
            Self::ScrewPitch => "screw_pitch_m",
            Self::Chord => "chord_m",
            Self::Thickness => "thickness_m",
            Self::Rake => "rake_m",
            Self::Spacing => "spacing_deg",
        }
    }
}

/// The verdict on one figure (JCGM 106:2012, 8: a guard band of the expanded uncertainty on either side of the limit).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClassVerdict {
    /// Within the tolerance, also with 2 u added.
    Within,
    /// Beyond it, also with 2 u taken off.
    Beyond,
    /// Within 2 u of its limit.
    Undecided,
}

impl ClassVerdict {
    fn of(beyond: f64, u: f64) -> Self {
        match beyond {
            b if b + 2.0 * u <= 0.0 => Self::Within,
            b if 2.0 * u < b => Self::Beyond,
            _ => Self::Undecided,
        }
    }

    /// The word for people and files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Beyond => "beyond",
            Self::Undecided => "undecided",
        }
    }
}

/// One figure against its tolerance: m, or deg for the spacing.
#[derive(Clone, Debug, PartialEq)]
pub struct ClassRow {
    /// What.
    pub figure: ClassFigure,
    /// Number of the blade, counted from 0; `None` for the screw.
    pub blade: Option<u64>,
    /// Radius over that of the tip, where it has one.
    pub radius_ratio: Option<f64>,
    /// Places on the face as fractions of the chord, for local pitch.
    pub between: Option<[f64; 2]>,
    /// Measured.
    pub measured: f64,
    /// Standard uncertainty of the measured value, where known.
    pub u: Option<f64>,
    /// Of the drawing, or of the mean of the blades.
    pub design: f64,
    /// Least and greatest that the class allows.
    pub allowed: [f64; 2],
    /// The verdict; without an uncertainty that of the value alone.
    pub verdict: ClassVerdict,
}

/// A screw against a class.
#[derive(Clone, Debug, PartialEq)]
pub struct ClassReport {
    /// The class.
    pub class: ToleranceClass,
    /// Name of the drawing's table; `None`: the mean of the blades stands for it, so that the screw's own mean is not judged.
    pub drawing: Option<String>,
    /// Diameter of the screw, m.
    pub diameter_m: f64,
    /// All rows, in the order of [`ClassFigure::ALL`].
    pub rows: Vec<ClassRow>,
    /// Radii of the class without a station, over the tip radius; 0 stands for the one near the hub.
    pub missing_radii: Vec<f64>,
    /// Whether pitch is that of the line from nose to tail, since not every outline is known.
    pub by_nose_and_tail: bool,
}

/// Face pitch of a section with an outline: local between places, the mean from the first to the last place.
struct FacePitch {
    local_m: Vec<f64>,
    mean_m: f64,
}

/// Point of the face at a fraction of the chord in the developed section, m.
fn face_at(s: &Station, share: f64) -> Option<[f64; 2]> {
    let (outline, chord) = (s.outline.as_ref()?, s.chord_m?);
    let points: Vec<[f64; 2]> = outline.points().collect();
    let at = share * chord;
    // Of all sides over the place the lowest: y is positive towards the back.
    let low = points
        .iter()
        .zip(points.iter().cycle().skip(1))
        .filter(|(a, b)| (a[0] <= at) != (b[0] <= at))
        .map(|(a, b)| a[1] + (b[1] - a[1]) * (at - a[0]) / (b[0] - a[0]))
        .min_by(f64::total_cmp)?;
    let (sin, cos) = s.blade_angle_deg?.to_radians().sin_cos();
    let ahead = 0.5 * chord - at;
    Some([ahead * cos - low * sin, ahead * sin + low * cos])
}

fn face_pitch(s: &Station) -> Option<FacePitch> {
    let points: Vec<[f64; 2]> = FACE_PLACES.iter().map(|p| face_at(s, *p)).collect::<Option<_>>()?;
    let pitch = |a: [f64; 2], b: [f64; 2]| TAU * s.radius_m * (b[1] - a[1]) / (b[0] - a[0]);
    Some(FacePitch {
        local_m: points.windows(2).map(|w| pitch(w[0], w[1])).collect(),
        mean_m: pitch(points[0], points[points.len() - 1]),
    })
}

/// Standard uncertainty of the pitch of a line at a station, m, by that of its angle.
fn u_pitch(s: &Station, column: StationColumn) -> Option<f64> {
    let angle = column.measured(s)?;
    let tan = angle.value.to_radians().tan();
    Some(TAU * s.radius_m * (1.0 + tan * tan) * angle.u.to_radians())
}

/// The drawing at a radius.
struct Design {
    local_m: Option<Vec<f64>>,
    pitch_m: f64,
    chord_m: Option<f64>,
    thickness_m: Option<f64>,
    rake_m: Option<f64>,
}

/// How far aft the helix of a section meets the plane of axis and span, m.
fn rake_m(s: &Station) -> Option<f64> {
    Some(s.mid_chord_x_m? * s.blade_angle_deg?.to_radians().tan() - s.mid_chord_y_m?)
}

/// A screw whose blades are judged against a drawing, or without one against their mean.
///
/// Pitch is measured on the face, between [`FACE_PLACES`], of blades and drawing alike. A drawing without outlines at the radii does not show how its face is curved, so that the line from nose to tail is taken of
/// both, and local pitch is not judged: the straight line of a curved face depends on how far along the chord it is taken.
///
/// # Errors
/// [`CompareError::NoBlades`] for a table without blades, [`CompareError::NotOnCylinders`] for plane sections: pitch by planes is not that of a class.
pub fn against_class(
    screw: &StationTable,
    name: &str,
    drawing: Option<(&StationTable, &str)>,
    class: &ToleranceClass,
) -> Result<ClassReport, CompareError> {
    if screw.sections() != SectionSurface::Cylinder {
        return Err(CompareError::NotOnCylinders { name: name.to_owned() });
    }
    let by_blades = compare_blades(screw, name)?;
    let all = Blades::of(screw);
    let tip = screw.blade.radius_m;
    let common: Vec<f64> = all.common.iter().map(|s| s[0].radius_m).collect();
    let mut missing_radii = Vec::new();
    let nearest = |wanted: f64| {
        let off = |r: &f64| (r / tip - wanted).abs();
        common.iter().copied().min_by(|a, b| off(a).total_cmp(&off(b))).filter(|r| off(r) <= SAME_RADIUS)
    };
    let mut radii: Vec<f64> = Vec::new();
    match common.first().filter(|r| **r < NEAR_HUB * tip) {
        Some(r) => radii.push(*r),
        None => missing_radii.push(0.0),
    }
    for wanted in &class.radii {
        match nearest(*wanted) {
            Some(r) if radii.iter().all(|have| (have - r).abs() > 1e-9) => radii.push(r),
            Some(_) => {}
            None => missing_radii.push(*wanted),
        }
    }
    let sections = |r: f64| all.common.iter().find(|s| (s[0].radius_m - r).abs() < 1e-9);
    // One line for all: that of the face only where every radius shows it on both sides.
    let has_face = match drawing {
        Some((table, _)) => radii.iter().all(|r| has_face(table, *r, tip)),
        None => radii.iter().all(|r| sections(*r).is_some_and(|s| s.iter().all(|s| face_pitch(s).is_some()))),
    };
    let designs: Vec<Option<Design>> = radii
        .iter()
        .map(|r| match drawing {
            Some((table, _)) => drawn(table, *r, tip, has_face),
            None => sections(*r).and_then(|s| mean_of(s, has_face)),
        })
        .collect();
    let mut rows = Vec::new();
    let mut means: Vec<Vec<(Measured, f64)>> = vec![Vec::new(); all.count()];
    for (r, design) in radii.iter().zip(&designs) {
        let (Some(sections), Some(design)) = (sections(*r), design) else { continue };
        for (k, s) in sections.iter().enumerate() {
            let at = At { blade: Some(screw.blades[k].index), ratio: Some(r / tip) };
            let face = face_pitch(s).filter(|_| has_face);
            let line = if has_face { StationColumn::FaceAngleDeg } else { StationColumn::BladeAngleDeg };
            let u = u_pitch(s, line).or_else(|| u_pitch(s, StationColumn::BladeAngleDeg));
            if let (Some(face), Some(designed), Some(tolerance)) = (&face, &design.local_m, class.local_pitch)
            {
                for (i, (local, wanted)) in face.local_m.iter().zip(designed).enumerate() {
                    let wanted = *wanted;
                    let allowed = [1.0 - tolerance, 1.0 + tolerance].map(|f| f * wanted);
                    // Between places a quarter of the way apart the same noise turns the line more (a judgement: twice).
                    let u = u.map(|u| LOCAL_NOISE * u);
                    let mut row = at.row(ClassFigure::LocalPitch, *local, u, wanted, allowed);
                    row.between = Some([FACE_PLACES[i], FACE_PLACES[i + 1]]);
                    rows.push(row);
                }
            }
            let pitch = face.map(|f| f.mean_m).or_else(|| StationColumn::PitchM.get(s));
            if let Some(pitch) = pitch {
                means[k].push((Measured::new(pitch, u.unwrap_or(0.0)), design.pitch_m));
                if let Some(t) = class.radius_pitch {
                    let allowed = [1.0 - t, 1.0 + t].map(|f| f * design.pitch_m);
                    rows.push(at.row(ClassFigure::RadiusPitch, pitch, u, design.pitch_m, allowed));
                }
            }
            let measured = |column: StationColumn| column.measured(s);
            if let (Some(t), Some(chord), Some(m)) =
                (class.chord, design.chord_m, measured(StationColumn::ChordM))
            {
                let room = (t.fraction * chord).max(t.least_m);
                rows.push(at.row(
                    ClassFigure::Chord,
                    m.value,
                    Some(m.u),
                    chord,
                    [chord - room, chord + room],
                ));
            }
            if let (Some([over, under]), Some(thick), Some(m)) =
                (class.thickness, design.thickness_m, measured(StationColumn::ThicknessM))
            {
                let [over, under] = [over, under].map(|t| (t.fraction * thick).max(t.least_m));
                let allowed = [thick - under, thick + over];
                rows.push(at.row(ClassFigure::Thickness, m.value, Some(m.u), thick, allowed));
            }
        }
    }
    of_blades(screw, class, &means, drawing.is_some(), &mut rows);
    if let Some(t) = class.rake {
        let ends: Vec<usize> = (0..radii.len()).filter(|i| designs[*i].is_some()).collect();
        if let (Some(&a), Some(&b)) = (ends.first(), ends.last())
            && a != b
            && let (Some(inner), Some(outer)) = (sections(radii[a]), sections(radii[b]))
            && let [Some(from), Some(to)] = [a, b].map(|i| designs[i].as_ref().and_then(|d| d.rake_m))
        {
            for (k, (s, o)) in inner.iter().zip(outer).enumerate() {
                let (Some(i), Some(o_m)) = (rake_m(s), rake_m(o)) else { continue };
                let u = StationColumn::MidChordYM.measured(o).map(|m| m.u);
                let at = At { blade: Some(screw.blades[k].index), ratio: None };
                let room = 2.0 * tip * t;
                let wanted = to - from;
                rows.push(at.row(ClassFigure::Rake, o_m - i, u, wanted, [wanted - room, wanted + room]));
            }
        }
    }
    if let Some(t) = class.spacing_deg {
        let even = 360.0 / all.count() as f64;
        let mut around: Vec<_> = by_blades.blades.iter().collect();
        let azimuth = |b: &BladeAlone| b.azimuth_deg.map_or(0.0, |a| a.0.rem_euclid(360.0));
        around.sort_by(|a, b| azimuth(a).total_cmp(&azimuth(b)));
        // The first blade may read 359.9 deg.
        let offs: Vec<_> = around.iter().map(|b| (b.index, b.off_even_spacing_deg)).collect();
        for (i, (index, off)) in offs.iter().enumerate() {
            let (Some((a, u)), Some((b, v))) = (off, offs[(i + 1) % offs.len()].1) else { continue };
            let at = At { blade: Some(*index), ratio: None };
            let u = u.zip(v).map(|(u, v)| u.hypot(v));
            rows.push(at.row(ClassFigure::Spacing, even + b - a, u, even, [even - t, even + t]));
        }
    }
    let place = |f: ClassFigure| ClassFigure::ALL.iter().position(|g| *g == f);
    rows.sort_by_key(|r| place(r.figure));
    Ok(ClassReport {
        class: class.clone(),
        drawing: drawing.map(|(_, name)| name.to_owned()),
        diameter_m: 2.0 * tip,
        rows,
        missing_radii,
        by_nose_and_tail: !has_face,
    })
}

/// How much less well local pitch is known than that of the whole face (a judgement: its two places are a quarter as far apart, and their noise partly goes together).
const LOCAL_NOISE: f64 = 2.0;

/// Where a row belongs.
struct At {
    blade: Option<u64>,
    ratio: Option<f64>,
}

impl At {
    fn row(
        &self,
        figure: ClassFigure,
        measured: f64,
        u: Option<f64>,
        design: f64,
        allowed: [f64; 2],
    ) -> ClassRow {
        let beyond = (allowed[0] - measured).max(measured - allowed[1]);
        let verdict = ClassVerdict::of(beyond, u.unwrap_or(0.0));
        ClassRow {
            figure,
            blade: self.blade,
            radius_ratio: self.ratio,
            between: None,
            measured,
            u,
            design,
            allowed,
            verdict,
        }
    }
}

/// Mean pitch of every blade over the radii, and of the screw.
fn of_blades(
    screw: &StationTable,
    class: &ToleranceClass,
    means: &[Vec<(Measured, f64)>],
    has_drawing: bool,
    rows: &mut Vec<ClassRow>,
) {
    // What all radii have in common counts whole, so the uncertainties are averaged as they are.
    let mean = |f: &dyn Fn(&(Measured, f64)) -> f64, of: &[(Measured, f64)]| {
        of.iter().map(f).sum::<f64>() / of.len() as f64
    };
    let found: Vec<(u64, f64, f64, f64)> = screw
        .blades
        .iter()
        .zip(means)
        .filter(|(_, of)| !of.is_empty())
        .map(|(b, of)| (b.index, mean(&|m| m.0.value, of), mean(&|m| m.0.u, of), mean(&|m| m.1, of)))
        .collect();
    if let Some(t) = class.blade_pitch {
        for (index, value, u, design) in &found {
            let at = At { blade: Some(*index), ratio: None };
            let allowed = [1.0 - t, 1.0 + t].map(|f| f * design);
            rows.push(at.row(ClassFigure::BladePitch, *value, Some(*u), *design, allowed));
        }
    }
    // Against their own mean the blades as a whole are always right.
    if let (Some(t), true, false) = (class.screw_pitch, has_drawing, found.is_empty()) {
        let n = found.len() as f64;
        let [value, u, design] = [
            found.iter().map(|f| f.1).sum::<f64>() / n,
            found.iter().map(|f| f.2).sum::<f64>() / n,
            found.iter().map(|f| f.3).sum::<f64>() / n,
        ];
        let at = At { blade: None, ratio: None };
        let allowed = [1.0 - t, 1.0 + t].map(|f| f * design);
        rows.push(at.row(ClassFigure::ScrewPitch, value, Some(u), design, allowed));
    }
}

/// The mean of all blades at a radius.
fn mean_of(sections: &[&Station], by_face: bool) -> Option<Design> {
    let mean = |f: &dyn Fn(&Station) -> Option<f64>| {
        let found: Vec<f64> = sections.iter().filter_map(|s| f(s)).collect();
        (found.len() == sections.len()).then(|| found.iter().sum::<f64>() / found.len() as f64)
    };
    let faces: Option<Vec<FacePitch>> =
        if by_face { sections.iter().map(|s| face_pitch(s)).collect() } else { None };
    let n = sections.len() as f64;
    let local_m = faces.as_ref().map(|all| {
        (0..FACE_PLACES.len() - 1).map(|i| all.iter().map(|f| f.local_m[i]).sum::<f64>() / n).collect()
    });
    let pitch_m = match &faces {
        Some(all) => all.iter().map(|f| f.mean_m).sum::<f64>() / n,
        None => mean(&|s| StationColumn::PitchM.get(s))?,
    };
    Some(Design {
        local_m,
        pitch_m,
        chord_m: mean(&|s| s.chord_m),
        thickness_m: mean(&|s| StationColumn::ThicknessM.get(s)),
        rake_m: mean(&rake_m),
    })
}

fn own_station(table: &StationTable, r: f64, tip: f64) -> Option<&Station> {
    table.stations.iter().find(|s| (s.radius_m - r).abs() < 1e-4 * tip)
}

fn has_face(table: &StationTable, r: f64, tip: f64) -> bool {
    own_station(table, r, tip).is_some_and(|s| face_pitch(s).is_some())
}

/// The drawing at a radius: its own station's face, or its smooth curves.
fn drawn(table: &StationTable, r: f64, tip: f64, by_face: bool) -> Option<Design> {
    let value = |column: StationColumn| {
        let place = Spanwise::of(&table.stations, column)?.value_at(r);
        (place.beyond_m <= 1e-4 * tip).then_some(place.measured.value)
    };
    let pitch_of = |column: StationColumn| value(column).map(|deg| TAU * r * deg.to_radians().tan());
    let face = own_station(table, r, tip).and_then(face_pitch).filter(|_| by_face);
    let pitch_m = match &face {
        Some(face) => face.mean_m,
        None => pitch_of(StationColumn::BladeAngleDeg)?,
    };
    let rake = || {
        let (x, y) = (value(StationColumn::MidChordXM)?, value(StationColumn::MidChordYM)?);
        Some(x * value(StationColumn::BladeAngleDeg)?.to_radians().tan() - y)
    };
    Some(Design {
        local_m: face.map(|f| f.local_m),
        pitch_m,
        chord_m: value(StationColumn::ChordM),
        thickness_m: value(StationColumn::ThicknessM)
            .or_else(|| Some(value(StationColumn::ThicknessRatio)? * value(StationColumn::ChordM)?)),
        rake_m: rake(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 30 deg of azimuth on a helix of 1 m pitch rise by 83.333 mm (arithmetic); a straight face turned from its chord line keeps the pitch of the helix it lies on.
    #[test]
    fn local_pitch_is_that_of_the_helix_of_the_face() {
        let (r, pitch): (f64, f64) = (0.35, 1.0);
        assert!((pitch * 30.0 / 360.0 - 83.333e-3).abs() < 1e-6);
        let face_rad = (pitch / (TAU * r)).atan();
        let raised: f64 = 0.01;
        // The chord line is steeper than the face by `raised`, so that the face falls towards the tail in its axes.
        let chord = 0.3;
        let outline = [[0.0, 0.0], [0.0, -0.01], [chord, -0.01 + raised.tan() * chord], [chord, 0.02]];
        let s = Station {
            chord_m: Some(chord),
            blade_angle_deg: Some((face_rad + raised).to_degrees()),
            outline: Some(crate::SectionOutline::from_points(&outline)),
            ..Station::at(r, 0.5)
        };
        let found = face_pitch(&s).unwrap();
        for p in found.local_m.iter().chain([&found.mean_m]) {
            assert!((p - pitch).abs() < 1e-9, "{p}");
        }
    }

    #[test]
    fn the_published_classes_are_typed_as_tabulated() {
        let of = |name: &str| ToleranceClass::published(name).unwrap();
        assert_eq!(of("s").local_pitch, Some(0.015));
        assert_eq!(of("III").local_pitch, None);
        assert_eq!(of("II").radii, COARSE);
        assert_eq!(of("I").screw_pitch, Some(0.0075));
        assert_eq!(of("III").thickness.unwrap()[1], OrLength { fraction: 0.04, least_m: 0.004 });
        assert!(ToleranceClass::published("IV").is_none());
    }

    /// Two blades whose pitch differs by 2 %: each is 1 % off their mean, which class S allows at a radius but not of a blade.
    #[test]
    fn blades_are_judged_against_a_drawing_and_against_their_mean() {
        let tip = 0.5;
        let blade = |index: u64, pitch: f64, u_deg: f64| {
            let stations = [0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95].map(|ratio| {
                let mut s = Station::at(ratio * tip, tip);
                let angle = (pitch / (TAU * ratio * tip)).atan().to_degrees();
                StationColumn::BladeAngleDeg.set_measured(&mut s, Some(Measured::new(angle, u_deg)));
                StationColumn::ChordM.set_measured(&mut s, Some(Measured::new(0.2, 1e-4)));
                StationColumn::ThicknessM.set_measured(&mut s, Some(Measured::new(0.01, 1e-5)));
                s.pitch_m = Some(pitch);
                (s.mid_chord_x_m, s.mid_chord_y_m) = (Some(0.0), Some(-0.1 * ratio));
                s
            });
            crate::BladeRows {
                index,
                azimuth_deg: Some(180.0 * index as f64),
                stations: stations.to_vec(),
                ..Default::default()
            }
        };
        let screw = |pitches: [f64; 2], u_deg| {
            let blades: Vec<_> = (0..2).map(|k| blade(k, pitches[k as usize], u_deg)).collect();
            StationTable {
                frame: Some(crate::Frame { sections: SectionSurface::Cylinder, ..Default::default() }),
                blade: crate::BladeFigures { radius_m: tip, ..Default::default() },
                stations: blades[0].stations.clone(),
                blades,
                ..StationTable::default()
            }
        };
        let class = ToleranceClass::published("S").unwrap();
        let unlike = screw([0.99, 1.01], 1e-4);
        let own = against_class(&unlike, "screw", None, &class).unwrap();
        let verdicts = |report: &ClassReport, figure: ClassFigure| -> Vec<ClassVerdict> {
            report.rows.iter().filter(|r| r.figure == figure).map(|r| r.verdict).collect()
        };
        assert_eq!(verdicts(&own, ClassFigure::BladePitch), [ClassVerdict::Beyond; 2]);
        assert_eq!(verdicts(&own, ClassFigure::RadiusPitch).len(), 16);
        assert!(verdicts(&own, ClassFigure::ScrewPitch).is_empty() && own.by_nose_and_tail);
        // The drawing has the mean: the screw is right as a whole.
        let drawing = screw([1.0, 1.0], 0.0);
        let drawn = against_class(&unlike, "screw", Some((&drawing, "drawing")), &class).unwrap();
        assert_eq!(verdicts(&drawn, ClassFigure::ScrewPitch), [ClassVerdict::Within]);
        assert!(verdicts(&drawn, ClassFigure::Chord).iter().all(|v| *v == ClassVerdict::Within));
        assert!(verdicts(&drawn, ClassFigure::Rake).iter().all(|v| *v == ClassVerdict::Within));
        // Badly known angles decide nothing.
        let vague =
            against_class(&screw([0.99, 1.01], 0.5), "screw", Some((&drawing, "drawing")), &class).unwrap();
        assert_eq!(verdicts(&vague, ClassFigure::ScrewPitch), [ClassVerdict::Undecided]);
        let mut plane = unlike;
        plane.frame = None;
        assert!(against_class(&plane, "screw", None, &class).is_err());
    }
}
