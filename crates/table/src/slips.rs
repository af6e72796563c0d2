//! Rows that look like typing errors: a figure that contradicts the trend of its neighbours.

use crate::{StationColumn, StationTable, TableNotice};

/// Least departure of a figure from the line between its neighbours, in its unit or as a fraction of itself (judgement, no source).
const ANGLE_DEG: f64 = 4.0;
/// Of a chord, as a fraction of itself (judgement, no source).
const CHORD: f64 = 0.25;
/// Factor on the least departure next to the first and the last row: the distributions bend sharply at the shank and at the tip.
const AT_ENDS: f64 = 2.0;
/// Least ratio of the departure to the median departure in the rest of the table.
const UNUSUAL: f64 = 6.0;
/// Least opposite departure of the neighbours as a fraction of that of the figure. A wrong figure makes its neighbours depart to the other side by about half as
/// much. A single bend of the real shape does not.
const THROWN: f64 = 0.25;
/// Most unknown columns that are named.
const MOST_NAMED: usize = 12;
/// Least number of rows. Fewer rows show no trend.
const LEAST_ROWS: usize = 5;

impl StationTable {
    /// Notices about rows typed by hand: [`Self::unknown_columns`] and [`Self::likely_slips`].
    #[must_use]
    pub fn row_notices(&self) -> Vec<TableNotice> {
        self.unknown_columns().into_iter().chain(self.likely_slips()).collect()
    }

    /// A notice if the stations have columns that this version does not know. They are ignored.
    #[must_use]
    pub fn unknown_columns(&self) -> Option<TableNotice> {
        let mut keys: Vec<&str> = Vec::new();
        for key in self.stations.iter().flat_map(|s| s.extra.keys()) {
            if !keys.contains(&key.as_str()) && keys.len() < MOST_NAMED {
                keys.push(key);
            }
        }
        (!keys.is_empty())
            .then(|| TableNotice::UnknownColumns { columns: keys.into_iter().map(str::to_owned).collect() })
    }

    /// A notice for every blade angle, chord and thickness ratio that contradicts the stations on both sides, like a mistyped figure. Figures are not
    /// changed. At least five stations with the figure are needed. The first and the last are not checked.
    #[must_use]
    pub fn likely_slips(&self) -> Vec<TableNotice> {
        let judged = [
            (StationColumn::BladeAngleDeg, "blade angle", false),
            (StationColumn::ChordM, "chord", true),
            (StationColumn::ThicknessRatio, "thickness ratio", true),
        ];
        judged.into_iter().flat_map(|(column, name, relative)| self.slips(column, name, relative)).collect()
    }

    fn slips(&self, column: StationColumn, name: &'static str, relative: bool) -> Vec<TableNotice> {
        let rows = self.column(column);
        if rows.len() < LEAST_ROWS {
            return vec![];
        }
        let last = rows.len() - 1;
        let expected = |k: usize| {
            let [(r0, v0), (r, _), (r1, v1)] = [rows[k - 1], rows[k], rows[k + 1]];
            v0 + (v1 - v0) * (r - r0) / (r1 - r0)
        };
        let off: Vec<f64> =
            (0..=last).map(|k| if k == 0 || k == last { 0.0 } else { rows[k].1 - expected(k) }).collect();
        // A wrong figure raises the departures of its neighbours as well. The usual departure is therefore the median of the others.
        let usual = |k: usize| {
            let mut sizes: Vec<f64> = (1..last).filter(|n| 1 < n.abs_diff(k)).map(|n| off[n].abs()).collect();
            sizes.sort_by(f64::total_cmp);
            sizes.get(sizes.len() / 2).copied().unwrap_or(0.0)
        };
        let is_slip = |k: usize| {
            let size = off[k].abs();
            let at_end = k == 1 || k + 1 == last;
            let least = if relative { CHORD * rows[k].1.abs().max(expected(k).abs()) } else { ANGLE_DEG };
            // The ends have no line between neighbours and cannot be checked. A wrong figure departs more than the neighbours that it affects.
            let thrown = |n: usize| {
                n == 0 || n == last || (off[n] * off[k].signum() < -THROWN * size && off[n].abs() < size)
            };
            least * if at_end { AT_ENDS } else { 1.0 } < size
                && UNUSUAL * usual(k) < size
                && thrown(k - 1)
                && thrown(k + 1)
        };
        (1..last)
            .filter(|&k| is_slip(k))
            .map(|k| TableNotice::LikelySlip {
                column,
                name,
                radius_ratio: rows[k].0 / self.blade.radius_m,
                value: rows[k].1,
                expected: expected(k),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Coded, Station};

    /// A blade of 1 m with the angles of a true helix, a shank that widens into the blade, and stations at uneven radii.
    fn table(stations: &[(f64, f64)]) -> StationTable {
        let mut table = StationTable::default();
        table.blade.radius_m = 1.0;
        for (r, chord) in stations {
            let mut station = Station::at(*r, 1.0);
            station.chord_m = Some(*chord);
            station.blade_angle_deg = Some((0.2_f64 / r).atan().to_degrees());
            station.thickness_ratio = Some((0.05 + 0.012 / (r * r)).min(1.0));
            table.stations.push(station);
        }
        table
    }

    const SHANK: [(f64, f64); 4] = [(0.12, 0.06), (0.2, 0.061), (0.26, 0.11), (0.35, 0.15)];
    const COARSE: [(f64, f64); 5] = [(0.5, 0.16), (0.6, 0.155), (0.72, 0.14), (0.85, 0.115), (0.95, 0.07)];
    const CLOSE: [(f64, f64); 9] = [
        (0.42, 0.158),
        (0.5, 0.16),
        (0.57, 0.158),
        (0.64, 0.151),
        (0.7, 0.143),
        (0.77, 0.133),
        (0.84, 0.118),
        (0.9, 0.098),
        (0.95, 0.07),
    ];

    #[test]
    fn unknown_columns_are_named_once() {
        let mut odd = table(&COARSE);
        assert_eq!(odd.unknown_columns(), None);
        for station in &mut odd.stations {
            station.extra.insert("hand".to_owned(), "left".into());
        }
        let notice = odd.unknown_columns().unwrap();
        assert_eq!(notice, TableNotice::UnknownColumns { columns: vec!["hand".to_owned()] });
    }

    #[test]
    fn a_shank_and_a_tip_are_no_slips() {
        for rest in [&COARSE[..], &CLOSE] {
            assert_eq!(table(&[&SHANK, rest].concat()).likely_slips(), Vec::<TableNotice>::new());
        }
    }

    #[test]
    fn only_a_mistyped_figure_gets_a_notice() {
        for stations in [&COARSE[..], &CLOSE[..6], &CLOSE, &[&SHANK[..], &CLOSE].concat()] {
            for k in 1..stations.len() - 1 {
                let mut wrong = table(stations);
                wrong.stations[k].blade_angle_deg = Some(80.0);
                let told: Vec<String> = wrong.likely_slips().iter().map(Coded::sentence).collect();
                let place = format!("{:.3} R is 80.0", wrong.stations[k].radius_m);
                assert!(told.len() == 1 && told[0].contains(&place), "{} {k}: {told:?}", stations.len());
                let mut wrong = table(stations);
                wrong.stations[k].chord_m = wrong.stations[k].chord_m.map(|c| 10.0 * c);
                let told: Vec<String> = wrong.likely_slips().iter().map(Coded::sentence).collect();
                assert!(
                    told.len() == 1 && told[0].starts_with("the chord"),
                    "{} {k}: {told:?}",
                    stations.len()
                );
                let mut wrong = table(stations);
                wrong.stations[k].thickness_ratio = wrong.stations[k].thickness_ratio.map(|t| 10.0 * t);
                let told: Vec<String> = wrong.likely_slips().iter().map(Coded::sentence).collect();
                assert!(
                    told.len() == 1 && told[0].starts_with("the thickness"),
                    "{} {k}: {told:?}",
                    stations.len()
                );
            }
        }
    }
}
