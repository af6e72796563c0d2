//! The surface without the stations that a dent has drawn along: their outlines are fitted to the dent as well, so that a dent is shallower against them than against the blade.

use bladeform_section::signed_distance;
use bladeform_table::{Station, StationTable};

use crate::loft::{Levels, Loft};
use crate::patches::BladeSide;

/// Fewest stations that are left, so that a surface goes through them.
const FEWEST: usize = 4;

/// Two surfaces of a blade: through all stations, and through those that a dent has not drawn along.
pub(crate) struct Without<'a> {
    all: &'a Levels,
    others: Option<Levels>,
    /// Number of stations left out.
    pub(crate) left_out: usize,
}

impl<'a> Without<'a> {
    /// `left_out`: radii of stations, m. Stations at the ends of the surface stay, since nothing lies beyond them, and so do all if too few would be left.
    pub(crate) fn of(stations: &[Station], all: &'a Levels, left_out: &[f64]) -> Self {
        let (first, last) = all.range();
        let drawn = |r: f64| first < r && r < last && left_out.contains(&r);
        let others: Vec<Station> = stations.iter().filter(|s| !drawn(s.radius_m)).cloned().collect();
        let count = stations.len() - others.len();
        if count == 0 || others.len() < FEWEST {
            return Self { all, others: None, left_out: 0 };
        }
        let loft = Loft::through(&StationTable { stations: others, ..StationTable::default() });
        let others = loft.map(|loft| Levels::of(&loft, all.step_m()));
        Self { all, left_out: if others.is_some() { count } else { 0 }, others }
    }

    /// How far the surface through all stations lies outside the other one at a place, m.
    pub(crate) fn drawn_m(&self, radius_m: f64, side: BladeSide, along_m: f64) -> f64 {
        let Some(others) = &self.others else { return 0.0 };
        signed_distance(&others.outline(radius_m), self.all.point(radius_m, side, along_m))
    }
}
