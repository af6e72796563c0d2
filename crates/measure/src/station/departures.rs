//! Where the surface departs from the fitted outline, the outline itself, and published sections near it.

use crate::band::averaged_cut::AveragedCut;
use bladeform_section::{Figure, NearestMember, SectionFit, SharpenedEdge, make_simple, nearest_sections};
use bladeform_table::{Edge, Flag, NearSection, PartDeparture, SectionOutline, SectionPart, Station};

/// Corners of an outline in the table.
const N_OUTLINE: usize = 241;
/// A departure, averaged over neighbouring points, is reported from this multiple of the residual on: chance hardly makes half of it.
const REPORTED_DEPARTURE: f64 = 2.5;
/// And from this much on, m: less is no damage to a blade (a judgement).
const LEAST_DEPARTURE_M: f64 = 1e-4;

pub(super) fn add_departures(s: &mut Station, fit: &SectionFit, chord_m: f64, coarse: bool) {
    let least = (REPORTED_DEPARTURE * fit.quality.rms * chord_m).max(LEAST_DEPARTURE_M);
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

/// An edge that was moved by less is not reported, m: no template is cut and no facet laid so finely.
const LEAST_MOVED_M: f64 = 2e-5;

/// Thickness ratio with which the search begins where none was measured: a middling section.
const USUAL_THICKNESS: f64 = 0.1;

/// Published sections near the outline, compared with the noise of the scan.
pub(super) fn near_sections(outline: &SectionOutline, s: &Station) -> Vec<NearSection> {
    let (Some(chord_m), Some(noise_m)) = (s.chord_m, s.residual_rms_m) else { return vec![] };
    let points: Vec<_> = outline.points().map(|p| p.map(|v| v / chord_m)).collect();
    let (thickness, camber) = (s.thickness_ratio.unwrap_or(USUAL_THICKNESS), s.camber_ratio.unwrap_or(0.0));
    let near = |l: NearestMember| NearSection {
        section: l.family.name(),
        rms_m: Some(l.rms * chord_m),
        within_noise: Some(l.rms * chord_m <= noise_m),
        ..NearSection::default()
    };
    nearest_sections(&points, thickness, camber).into_iter().map(near).collect()
}

/// The mean outline of plane cuts in m, with its chord line along x and its leading edge at 0.
pub(super) fn outline_of_cut(cut: &AveragedCut, chord_m: f64) -> SectionOutline {
    let f = &cut.figures;
    let (angle, middle) =
        (f.value(Figure::Angle), [Figure::MidChordX, Figure::MidChordY].map(|k| f.value(k)));
    let half = 0.5 * f.value(Figure::Chord);
    // The angle is positive if the nose is higher, so the chord runs downwards by it.
    let (s, c) = (-angle).sin_cos();
    let leading = [middle[0] - half * c, middle[1] - half * s];
    let turn = |p: &[f64; 2]| {
        let d = [(p[0] - leading[0]) * chord_m, (p[1] - leading[1]) * chord_m];
        [d[0] * c + d[1] * s, d[1] * c - d[0] * s]
    };
    let every = (cut.outline.len() / N_OUTLINE).max(1);
    // From the tail over the back to the nose and back along the face, as other outlines run.
    let n = cut.outline.len();
    let points: Vec<_> = (0..n).step_by(every).map(|i| turn(&cut.outline[(i + n / 2) % n])).collect();
    SectionOutline::from_points(&points)
}

/// Outline in m with its chord line along x and its leading edge at 0: the one that the scan shows. What is restored beyond a rounded edge is known to a fraction only, and a surface through such
/// edges may cross itself.
///
/// Edges whose sides change places are made sharp, which is flagged; one that crosses itself elsewhere is not given, which is flagged too.
pub(super) fn outline(fit: &SectionFit, chord_m: f64) -> (Option<SectionOutline>, Vec<Flag>) {
    let shape = fit.seen.as_ref().unwrap_or(&fit.shape);
    let [le, te] = shape.chord_ends();
    let v = [te[0] - le[0], te[1] - le[1]];
    let length = v[0].hypot(v[1]);
    let (c, s) = (v[0] / length, v[1] / length);
    let turn = |p: [f64; 2]| {
        let d = [(p[0] - le[0]) * chord_m, (p[1] - le[1]) * chord_m];
        [d[0] * c + d[1] * s, d[1] * c - d[0] * s]
    };
    let mut points: Vec<[f64; 2]> = shape.outline(N_OUTLINE).into_iter().map(turn).collect();
    let Ok(mended) = make_simple(&mut points) else { return (None, vec![Flag::OutlineCrosses]) };
    let flag = |(edge, mended): (Edge, Option<SharpenedEdge>)| {
        let SharpenedEdge { length, moved } = mended.filter(|m| LEAST_MOVED_M < m.moved)?;
        Some(Flag::EdgeMadeSharp { edge, length_m: length, moved_m: moved })
    };
    let flags = [Edge::Leading, Edge::Trailing].into_iter().zip(mended).filter_map(flag).collect();
    (Some(SectionOutline::from_points(&points)), flags)
}
