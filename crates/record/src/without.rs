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
    /// Radii of all stations, m, and whether each was left out.
    stations: Vec<(f64, bool)>,
}

impl<'a> Without<'a> {
    /// `left_out`: radii of stations, m. Stations at the ends of the surface stay, since nothing lies beyond them, and so do all if too few would be left.
    pub(crate) fn of(stations: &[Station], all: &'a Levels, left_out: &[f64]) -> Self {
        let (first, last) = all.range();
        let drawn = |r: f64| first < r && r < last && left_out.contains(&r);
        let others: Vec<Station> = stations.iter().filter(|s| !drawn(s.radius_m)).cloned().collect();
        let enough = others.len() < stations.len() && FEWEST <= others.len();
        let loft = Loft::through(&StationTable { stations: others, ..StationTable::default() });
        let others = loft.filter(|_| enough).map(|loft| Levels::of(&loft, all.step_m()));
        let left = |r: f64| others.is_some() && drawn(r);
        let stations = stations.iter().map(|s| (s.radius_m, left(s.radius_m))).collect();
        Self { all, others, stations }
    }

    /// Neighbouring stations that stayed around a radius: their radii, m; `None` beyond them.
    pub(crate) fn neighbours(&self, radius_m: f64) -> Option<[f64; 2]> {
        let kept = || self.stations.iter().filter(|s| !s.1).map(|s| s.0);
        Some([kept().rfind(|r| *r < radius_m)?, kept().find(|r| radius_m <= *r)?])
    }

    /// Number of stations in a row that were left out around a radius.
    pub(crate) fn gap(&self, radius_m: f64) -> usize {
        let next = self.stations.partition_point(|s| s.0 < radius_m);
        let before = self.stations[..next].iter().rev().take_while(|s| s.1).count();
        before + self.stations[next..].iter().take_while(|s| s.1).count()
    }

    /// How far the surface through all stations lies outside the other one at a place, m.
    pub(crate) fn drawn_m(&self, radius_m: f64, side: BladeSide, along_m: f64) -> f64 {
        let Some(others) = &self.others else { return 0.0 };
        signed_distance(&others.outline(radius_m), self.all.point(radius_m, side, along_m))
    }
}
