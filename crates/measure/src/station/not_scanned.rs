//! Edges that were not scanned: what the part beyond an open rim can do to every figure, or which figures are withheld.

use bladeform_quantity::RECTANGULAR;
use bladeform_section::{Figure, Figures, SectionFit, face_line_angle};
use bladeform_table::{Edge, Flag, Station, StationColumn, UncertaintySource};

use crate::band::rim::Rim;

/// A figure lies anywhere between that of the scanned part and that of an edge where the sides meet: the root mean square of the difference, a rectangular
/// distribution (JCGM 100:2008, 4.3.7), as a part of the greatest.
const ANYWHERE: f64 = RECTANGULAR;
/// How far the fit of a nose leaves its place across an open rim uncertain, in widths of the rim: the judgement of `edges` for a gap around the nose.
const OFF_PER_WIDTH: f64 = 0.1;
/// What the same fit makes of the greatest thickness, per width of the rim. A judgement (JCGM 100:2008, 4.3) after seeded scans.
const THICKNESS_PER_WIDTH: f64 = 2e-3;
/// What a rim at the tail leaves uncertain of the leading-edge radius, as a part of it: its jagged points coarsen the whole fit. A judgement (JCGM 100:2008, 4.3)
/// after seeded scans, whose radii were off by up to 0.33 of them.
const RADIUS_PART: f64 = 0.25;
/// Part of the chord over which slope and curvature of the mean line at an end are taken: more than the part that the missing edge distorts.
const END_PART: f64 = 0.1;
/// Curvature of the mean line below which the place of the greatest camber is not determined, per chord.
const LEAST_CURVATURE: f64 = 1e-2;
/// Samples of the face line.
const FACE_SAMPLES: usize = 61;

/// Figures that need both edges.
const WITHHELD: [StationColumn; 14] = [
    StationColumn::ChordM,
    StationColumn::BladeAngleDeg,
    StationColumn::FaceAngleDeg,
    StationColumn::ThicknessRatio,
    StationColumn::ThicknessPosition,
    StationColumn::CamberRatio,
    StationColumn::CamberPosition,
    StationColumn::LeadingEdgeRadiusM,
    StationColumn::TrailingEdgeThicknessM,
    StationColumn::LongestChordM,
    StationColumn::LongestChordAngleDeg,
    StationColumn::AreaM2,
    StationColumn::MidChordXM,
    StationColumn::MidChordYM,
];

/// Adds what edges that were not scanned leave uncertain, or withholds the figures that need them, and flags them. `rims`: at the nose and at the tail.
pub(super) fn add_not_scanned(
    s: &mut Station,
    fit: &SectionFit,
    f: &Figures,
    rims: [Option<Rim>; 2],
    chord_m: f64,
) {
    for (edge, rim) in [Edge::Leading, Edge::Trailing].into_iter().zip(rims) {
        let Some(Rim { width, beyond }) = rim else { continue };
        match beyond {
            Some(beyond) => add_beyond(s, fit, f, &Missing::of(fit, edge, width, beyond), chord_m),
            None => withhold(s),
        }
        if edge == Edge::Leading {
            withhold_column(s, StationColumn::LeadingEdgeRadiusM);
            let bent = THICKNESS_PER_WIDTH * width * chord_m;
            s.add_uncertainty(StationColumn::ThicknessM, UncertaintySource::Edge, bent);
        } else {
            let radius_m = s.leading_edge_radius_m.unwrap_or(0.0);
            s.add_uncertainty(
                StationColumn::LeadingEdgeRadiusM,
                UncertaintySource::Edge,
                RADIUS_PART * radius_m,
            );
            withhold_column(s, StationColumn::TrailingEdgeThicknessM);
        }
        let beyond_m = beyond.map(|b| b * chord_m);
        s.flags.push(Flag::EdgeNotScanned { edge, width_m: width * chord_m, beyond_m });
    }
}

fn withhold(s: &mut Station) {
    WITHHELD.into_iter().for_each(|column| withhold_column(s, column));
    s.outline = None;
    s.near_sections.clear();
}

fn withhold_column(s: &mut Station, column: StationColumn) {
    column.set(s, None);
    column.set_u(s, None);
    s.budget.remove(column);
}

/// The part that is missing at one edge, in chords.
struct Missing {
    edge: Edge,
    width: f64,
    beyond: f64,
    /// How far across the chord line the edge may lie from where it was found.
    across: f64,
}

impl Missing {
    fn of(fit: &SectionFit, edge: Edge, width: f64, beyond: f64) -> Self {
        let h = |part: f64| fit.shape.mean_height(if edge == Edge::Leading { part } else { 1.0 - part });
        let slope = (h(END_PART) - h(0.0)).abs() / END_PART;
        let bend = (h(0.0) - 2.0 * h(END_PART) + h(2.0 * END_PART)).abs() / (END_PART * END_PART);
        let off = if edge == Edge::Leading { OFF_PER_WIDTH * width } else { 0.0 };
        Self { edge, width, beyond, across: beyond * (slope + bend * (END_PART + beyond)) + off }
    }
}

fn add_beyond(s: &mut Station, fit: &SectionFit, f: &Figures, m: &Missing, chord_m: f64) {
    let Missing { width, beyond, across, .. } = *m;
    // Positions count from the leading edge: those near the other edge move least.
    let moved = |place: f64| if m.edge == Edge::Leading { 1.0 - place } else { place };
    let [thickness_at, camber_at] =
        [Figure::ThicknessPosition, Figure::CamberPosition].map(|p| moved(f.value(p)));
    let [_, bend] = fit.curvatures_at_peaks(f);
    let camber = f.value(Figure::CamberRatio);
    let corner = 0.5 * width;
    for (column, most) in [
        (StationColumn::ChordM, beyond * chord_m),
        (StationColumn::LongestChordM, (beyond + corner * corner) * chord_m),
        (StationColumn::ThicknessRatio, beyond * f.value(Figure::ThicknessRatio)),
        (StationColumn::ThicknessPosition, beyond * thickness_at),
        (StationColumn::CamberRatio, across * camber_at + beyond * camber.abs()),
        (StationColumn::CamberPosition, beyond * camber_at + across / bend.max(LEAST_CURVATURE)),
        (StationColumn::LeadingEdgeRadiusM, beyond * f.value(Figure::LeadingEdgeRadius) * chord_m),
        (StationColumn::BladeAngleDeg, across.to_degrees()),
        (StationColumn::LongestChordAngleDeg, (across + corner).to_degrees()),
        (StationColumn::FaceAngleDeg, face_turn(fit, m).to_degrees()),
        (StationColumn::AreaM2, 0.5 * width * beyond * chord_m * chord_m),
        (StationColumn::MidChordXM, 0.5 * beyond.hypot(across) * chord_m),
        (StationColumn::MidChordYM, 0.5 * beyond.hypot(across) * chord_m),
    ] {
        s.add_uncertainty(column, UncertaintySource::Edge, ANYWHERE * most);
    }
}

/// How far the face line turns if the chord, and with it the part of the face that it is fitted to, is longer by the missing part, rad.
fn face_turn(fit: &SectionFit, m: &Missing) -> f64 {
    let own = fit.shape.chord_vector();
    let (chord, nose) = (own[0].hypot(own[1]), fit.shape.leading_edge());
    let line = |start: f64, length: f64| {
        let points: Vec<[f64; 2]> = (0..FACE_SAMPLES)
            .map(|i| start + length * (0.3 + 0.6 * i as f64 / (FACE_SAMPLES - 1) as f64))
            .map(|x| fit.shape.point(-(1.0 - 2.0 * x.clamp(0.0, 1.0)).acos()))
            .map(|p| [p[0] - nose[0], p[1] - nose[1]])
            .map(|d| [(d[0] * own[0] + d[1] * own[1]) / chord, (d[1] * own[0] - d[0] * own[1]) / chord])
            .map(|d| [d[0] - start * chord, d[1]])
            .collect();
        face_line_angle(&points, length * chord)
    };
    let longer = 1.0 + m.beyond;
    let start = if m.edge == Edge::Leading { -m.beyond } else { 0.0 };
    line(0.0, 1.0).zip(line(start, longer)).map_or(0.0, |(a, b)| (a - b).abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_station_without_an_edge_keeps_its_thickness_and_no_figure_that_needs_the_edge() {
        let mut s = Station::at(0.5, 1.0);
        for column in WITHHELD.into_iter().chain([StationColumn::ThicknessM]) {
            column.set(&mut s, Some(1.0));
            column.set_u(&mut s, Some(0.1));
        }
        withhold(&mut s);
        assert!(WITHHELD.into_iter().all(|c| c.get(&s).is_none() && c.u(&s).is_none()));
        assert_eq!(s.thickness_m, Some(1.0));
    }
}
