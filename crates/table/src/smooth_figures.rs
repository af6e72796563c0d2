//! A station's figures on the smooth blade, beside its own.

use std::collections::BTreeMap;

use bladeform_quantity::{Measured, root_sum_square};

use crate::mean::mean_of_outlines;
use crate::{
    Map, Notice, SectionOutline, Station, StationColumn, StationTable, TableNotice, Value, geometric_pitch_m,
};

/// Figures of the smooth blade at a station, each in the unit of its column with its standard uncertainty. The station's own figures are what calipers read there; these are what all
/// stations together say.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SmoothFigures {
    /// The figures.
    pub figures: BTreeMap<StationColumn, Measured>,
    /// The outline of the smooth blade, as that of a station.
    pub outline: Option<SectionOutline>,
    /// The keys that this version does not know, kept as they were read.
    pub extra: Map<String, Value>,
}

impl SmoothFigures {
    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.figures.is_empty() && self.outline.is_none() && self.extra.is_empty()
    }

    /// The mean over the blades of a propeller, with errors that are independent from blade to blade. A figure that one blade lacks has none.
    #[must_use]
    pub(crate) fn mean(blades: &[&Station]) -> Self {
        let Some(first) = blades.first() else { return Self::default() };
        let n = blades.len() as f64;
        let mean = |column: &StationColumn| {
            let all: Vec<Measured> =
                blades.iter().map(|s| s.smooth.figures.get(column).copied()).collect::<Option<_>>()?;
            let u: Vec<f64> = all.iter().map(|m| m.u).collect();
            Some((
                *column,
                Measured::new(all.iter().map(|m| m.value).sum::<f64>() / n, root_sum_square(&u) / n),
            ))
        };
        let outlines: Option<Vec<_>> = blades.iter().map(|s| s.smooth.outline.as_ref()).collect();
        Self {
            figures: first.smooth.figures.keys().filter_map(mean).collect(),
            outline: outlines.and_then(|all| mean_of_outlines(&all)),
            extra: Map::new(),
        }
    }
}

impl StationTable {
    /// The table with the figures and outlines of the smooth blade in place of the stations' own; where a station has none, its own stay. `None` if the table has no smooth blade.
    #[must_use]
    pub fn on_smooth_blade(&self) -> Option<Self> {
        let mut table = self.clone();
        let has_smooth = table.stations.iter().any(|s| !s.smooth.figures.is_empty());
        table.warnings.push(Notice::of(&TableNotice::SmoothBlade));
        let blades = table.blades.iter_mut().flat_map(|b| &mut b.stations);
        table.stations.iter_mut().chain(blades).for_each(take_smooth);
        has_smooth.then_some(table)
    }
}

fn take_smooth(s: &mut Station) {
    for (column, figure) in s.smooth.figures.clone() {
        column.set_measured(s, Some(figure));
        s.budget.remove(column);
    }
    for (pitch, angle) in [
        (StationColumn::PitchM, StationColumn::BladeAngleDeg),
        (StationColumn::FacePitchM, StationColumn::FaceAngleDeg),
    ] {
        if pitch.get(s).is_some()
            && let Some(deg) = angle.get(s)
        {
            pitch.set(s, Some(geometric_pitch_m(s.radius_m, deg)));
        }
    }
    if let Some(outline) = &s.smooth.outline {
        s.outline = Some(outline.clone());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_smooth_blade_takes_the_place_of_what_the_stations_show() {
        let mut s = Station::at(0.5, 1.0);
        StationColumn::ChordM.set_measured(&mut s, Some(Measured::new(0.2, 1e-3)));
        StationColumn::BladeAngleDeg.set_measured(&mut s, Some(Measured::new(20.0, 0.1)));
        StationColumn::ThicknessM.set_measured(&mut s, Some(Measured::new(0.02, 1e-4)));
        s.pitch_m = Some(geometric_pitch_m(0.5, 20.0));
        let table = StationTable { stations: vec![s], ..StationTable::default() };
        assert_eq!(table.on_smooth_blade(), None);
        let mut smooth = table.clone();
        smooth.stations[0].smooth.figures.insert(StationColumn::ChordM, Measured::new(0.201, 5e-4));
        smooth.stations[0].smooth.figures.insert(StationColumn::BladeAngleDeg, Measured::new(20.5, 0.05));
        let smooth = smooth.on_smooth_blade().unwrap();
        let s = &smooth.stations[0];
        assert_eq!((s.chord_m, s.u.chord_m, s.thickness_m), (Some(0.201), Some(5e-4), Some(0.02)));
        assert_eq!(s.pitch_m, Some(geometric_pitch_m(0.5, 20.5)));
    }
}
