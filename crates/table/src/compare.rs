//! Comparison of two tables: differences beyond the combined uncertainty, and differences beyond a tolerance given by the user.

mod balance;
mod blade_words;
mod blades;
mod sides;
mod tolerance_class;
mod verdict;
mod whole_blades;

use bladeform_quantity::{COVERAGE_FACTOR_95, Measured};

use crate::{CompareError, ComparisonNotice, Notice, SectionSurface, Station, StationColumn, StationTable};
use sides::{OfDifference, Side, of_difference};

pub use balance::{Balance, BladeMoment, MomentBy, Weight};
pub use blades::{
    BLADE_FIGURES, BladeDeparture, BladeRow, BladesComparison, BladesVerdict, Departing, SeenFrom,
    compare_blades,
};
pub use tolerance_class::{
    ClassFigure, ClassReport, ClassRow, ClassVerdict, FACE_PLACES, OrLength, ToleranceClass, against_class,
};
pub use verdict::{FigureVerdict, UnlikePlace, Verdict};
pub use whole_blades::{BladeAlone, WholeFigure};

/// The figures compared, in the order of the documents.
pub const COMPARED: [StationColumn; 7] = [
    StationColumn::ChordM,
    StationColumn::BladeAngleDeg,
    StationColumn::FaceAngleDeg,
    StationColumn::ThicknessM,
    StationColumn::ThicknessRatio,
    StationColumn::CamberRatio,
    StationColumn::PitchM,
];
/// Stations closer together than this fraction of the tip radius are at the same radius.
const SAME_RADIUS: f64 = 1e-4;
/// Tip radii that differ by more than this fraction are reported.
const SAME_SIZE: f64 = 2e-3;
/// A reference section whose angles are known worse than usual by this factor would widen every interval of the twist.
const MOST_OF_USUAL: f64 = 1.5;
/// Fewer sections with an angle in both tables show no twist, wherever it counts from.
const LEAST_ANGLES: usize = 4;

/// The tolerance of a figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Allowed {
    /// In the unit of the column's key: metres, degrees or a fraction.
    Absolute(f64),
    /// As a fraction of the second table's figure.
    Relative(f64),
}

/// One figure of both tables at one radius. All values are in the unit of the column's key.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ComparedFigure {
    /// The figure.
    pub column: StationColumn,
    /// The values of the first and the second table.
    pub values: [f64; 2],
    /// The first minus the second.
    pub difference: f64,
    /// Standard uncertainty of the difference; `None` if neither table states one.
    pub u: Option<f64>,
    /// The part of `u` that differs from station to station: without the known lengths, and without the reference sections of absolute angles.
    pub u_own: Option<f64>,
    /// The part of `u` by the noise of the scans, which is anew at each station.
    pub u_noise: Option<f64>,
    /// The difference less the one that all stations have in common ([`Verdict`]); `None` if it was not judged.
    pub beyond_shift: Option<Measured>,
    /// Whether the difference exceeds 2 u; `None` without u.
    pub is_significant: Option<bool>,
    /// Whether it exceeds the tolerance; `None` if none was given.
    pub is_beyond_tolerance: Option<bool>,
    /// Whether the second table has no station here, so that its smooth curve was read.
    pub is_between_stations: bool,
}

/// All figures at one radius.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedStation {
    /// Radius, m, of the first table's station.
    pub radius_m: f64,
    /// The same as a fraction of the first table's tip radius.
    pub radius_ratio: f64,
    /// The figures that both tables have.
    pub figures: Vec<ComparedFigure>,
}

/// Two tables compared at the radii of the first.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// Names of the tables.
    pub names: [String; 2],
    /// From root to tip.
    pub stations: Vec<ComparedStation>,
    /// The reference radius ratio at which both angles are zero; `None` if both tables have absolute angles.
    pub twist_about: Option<f64>,
    /// Whether the blades are alike, and where not.
    pub verdict: Verdict,
    /// What a reader must know about the comparison.
    pub notes: Vec<Notice>,
}

/// What is asked of a comparison.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ComparePlan {
    /// Allowed differences.
    pub tolerances: Vec<(StationColumn, Allowed)>,
    /// Radius over the first table's tip radius at which both angles are zero where twist is compared. `None`: the first table's reference radius, or a station whose angles
    /// are much better known.
    pub reference: Option<f64>,
}

/// Compares two tables at the stations of the first that lie between the second's stations.
///
/// Between the second's stations its smooth curve ([`crate::Spanwise`]) is read. If either table has relative angles, both are taken minus their own
/// value at one radius: the twist is compared. Uncertainties add in quadrature (JCGM 100:2008, equation 10); what the definitions leave open is common to both tables, and
/// what the reference sections do is left out of a twist. Two tables of one scan have its errors in common. The same tape used for both counts twice.
///
/// # Errors
/// [`CompareError::OtherSections`] for plane sections beside sections on cylinders; [`CompareError::NoCommonRadius`] if no station of the first table is within the second's; [`CompareError::NoReference`] if the tables have no angle at the wanted radius.
pub fn compare(
    tables: [&StationTable; 2],
    names: [&str; 2],
    plan: &ComparePlan,
) -> Result<Comparison, CompareError> {
    let [first_on, second_on] = tables.map(StationTable::sections);
    // A drawing that was typed in says nothing of its sections.
    let is_stated = |t: &StationTable| {
        t.frame.as_ref().is_some_and(|f| f.scan_to_blade.is_some() || f.sections != SectionSurface::default())
    };
    if first_on != second_on && tables.iter().all(|t| is_stated(t)) {
        let [first, second] = names.map(ToOwned::to_owned);
        return Err(CompareError::OtherSections { first, first_on, second, second_on });
    }
    let (pair, chosen) = Pair::of(tables, names, plan)?;
    let mut without_reference = None;
    let compared = |s| pair.station(s, &mut without_reference);
    let stations: Vec<ComparedStation> = tables[0].stations.iter().filter_map(compared).collect();
    if stations.is_empty() {
        return Err(CompareError::NoCommonRadius { first: names[0].to_owned(), second: names[1].to_owned() });
    }
    let mut notes = pair.differences_of_the_whole();
    notes.extend(chosen);
    notes.extend(pair.missing_from(&stations));
    notes.extend(pair.notices_of_the_tables());
    if let Some(name) = without_reference {
        notes.push(ComparisonNotice::NoReferenceAngle { name: name.to_owned(), radius_m: pair.reference_m });
    }
    notes.extend(pair.stations_left_out(&stations));
    let notes = notes.iter().map(Notice::of).collect();
    let twist_about = pair.relative.then(|| pair.reference_m / tables[0].blade.radius_m);
    let names = names.map(str::to_owned);
    let mut comparison = Comparison { names, stations, twist_about, verdict: Verdict::default(), notes };
    comparison.verdict = verdict::judge(&mut comparison);
    Ok(comparison)
}

/// The two tables and what holds at every station.
struct Pair<'a> {
    tables: [&'a StationTable; 2],
    names: [&'a str; 2],
    tolerances: &'a [(StationColumn, Allowed)],
    /// Whether either table has relative angles, so that the twist is compared.
    relative: bool,
    /// Radius at which both angles of a twist are zero, m.
    reference_m: f64,
    /// Whether both tables were measured from one scan.
    same_scan: bool,
}

impl<'a> Pair<'a> {
    fn of(
        tables: [&'a StationTable; 2],
        names: [&'a str; 2],
        plan: &'a ComparePlan,
    ) -> Result<(Self, Option<ComparisonNotice>), CompareError> {
        let blade = &tables[0].blade;
        let scans = tables.map(|t| t.source.as_ref().map_or("", |s| s.sha256.as_str()));
        let mut pair = Self {
            tables,
            names,
            tolerances: &plan.tolerances,
            relative: tables.iter().any(|t| t.angles_are_relative()),
            reference_m: plan.reference.unwrap_or(blade.reference_radius_ratio) * blade.radius_m,
            same_scan: !scans[0].is_empty() && scans[0] == scans[1],
        };
        let Some(ratio) = plan.reference else {
            let chosen = pair.sound_reference();
            return Ok((pair, chosen));
        };
        if pair.relative && pair.zeros(StationColumn::BladeAngleDeg).is_err() {
            return Err(CompareError::NoReference { ratio });
        }
        Ok((pair, None))
    }

    /// Moves the zero of the twist to the station whose angles are known best, if those at the reference radius are known much worse than usual; the notice says so.
    fn sound_reference(&mut self) -> Option<ComparisonNotice> {
        let column = StationColumn::BladeAngleDeg;
        let own = |r: f64| {
            let sides = self.tables.map(|t| Side::read(t, column, r));
            let [Some(a), Some(b)] = sides else { return None };
            Some(of_difference([a, b], None, self.same_scan).own)
        };
        let angled = self.tables[0].stations.iter().filter(|s| column.get(s).is_some());
        let mut known: Vec<(f64, f64)> =
            angled.filter_map(|s| Some((own(s.radius_m)?, s.radius_m))).collect();
        known.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (usual, best) = (known.get(known.len() / 2)?.0, known.first()?.1);
        let there = own(self.reference_m);
        if !self.relative || known.len() < LEAST_ANGLES || there.is_some_and(|u| u <= MOST_OF_USUAL * usual) {
            return None;
        }
        let radius_m = self.tables[0].blade.radius_m;
        let from = self.reference_m / radius_m;
        self.reference_m = best;
        Some(ComparisonNotice::OtherReference { from, to: best / radius_m })
    }

    /// Notices about size, hand and kind of angle of the two blades.
    fn differences_of_the_whole(&self) -> Vec<ComparisonNotice> {
        let mut notes = Vec::new();
        let radii = self.tables.map(|t| t.blade.radius_m);
        if SAME_SIZE * radii[0] < (radii[0] - radii[1]).abs() {
            notes.push(ComparisonNotice::TipRadiiDiffer { radii_m: radii });
        }
        let hands = self.tables.map(|t| t.frame.as_ref().map(|f| f.hand));
        if let [Some(a), Some(b)] = hands
            && a != b
        {
            notes.push(ComparisonNotice::HandsDiffer { hands: [a, b] });
        }
        if self.relative {
            let ratio = self.reference_m / self.tables[0].blade.radius_m;
            notes.push(ComparisonNotice::TwistCompared { ratio });
        }
        if self.same_scan {
            notes.push(ComparisonNotice::SameScan);
        }
        notes
    }

    /// The figures at a station of the first table; `None` if there are none. `without_reference` receives the name of a table that has no
    /// angle at the reference radius.
    fn station(&self, s: &Station, without_reference: &mut Option<&'a str>) -> Option<ComparedStation> {
        let mut figures = Vec::new();
        for column in COMPARED {
            match self.values(column, s) {
                Ok(Some((values, u))) => figures.push(self.judged(column, s.radius_m, values, u)),
                Ok(None) => {}
                Err(NoReference(name)) => *without_reference = Some(name),
            }
        }
        (!figures.is_empty()).then(|| ComparedStation {
            radius_m: s.radius_m,
            radius_ratio: s.radius_m / self.tables[0].blade.radius_m,
            figures,
        })
    }

    /// The values of both tables at a station of the first, and the standard uncertainty of their difference, 0 if none is stated.
    /// `None` if the figure cannot be compared here.
    fn values(
        &self,
        column: StationColumn,
        s: &Station,
    ) -> Result<Option<([f64; 2], OfDifference)>, NoReference<'a>> {
        let [first, second] = self.tables;
        let (Some(a), Some(b)) = (Side::of(s, column), Side::read(second, column, s.radius_m)) else {
            return Ok(None);
        };
        if self.relative && is_angle(column) {
            let zeros = self.zeros(column)?;
            // The reference station relative to itself has no uncertainty and no difference.
            if (s.radius_m - self.reference_m).abs() < SAME_RADIUS * first.blade.radius_m {
                return Ok(None);
            }
            let values = [a.value - zeros[0].value, b.value - zeros[1].value];
            return Ok(Some((values, of_difference([a, b], Some(zeros), self.same_scan))));
        }
        // Pitch at an unknown setting has no meaning.
        if self.relative && column == StationColumn::PitchM {
            return Ok(None);
        }
        Ok(Some(([a.value, b.value], of_difference([a, b], None, self.same_scan))))
    }

    /// The difference of two values against its uncertainty and its tolerance.
    fn judged(
        &self,
        column: StationColumn,
        radius_m: f64,
        values: [f64; 2],
        of: OfDifference,
    ) -> ComparedFigure {
        let difference = values[0] - values[1];
        let stated = |u: f64| (0.0 < u && u.is_finite()).then_some(u);
        let (u, u_own) = (stated(of.all), stated(of.own));
        let given = self.tolerances.iter().find(|(c, _)| *c == column);
        let allowed = given.map(|(_, allowed)| match allowed {
            Allowed::Absolute(most) => *most,
            Allowed::Relative(share) => share * values[1].abs(),
        });
        ComparedFigure {
            column,
            values,
            difference,
            u,
            u_own,
            u_noise: u.map(|_| of.noise),
            beyond_shift: None,
            is_significant: u.map(|u| COVERAGE_FACTOR_95 * u < difference.abs()),
            is_beyond_tolerance: allowed.map(|most| most < difference.abs()),
            is_between_stations: !self.second_has(column, radius_m),
        }
    }

    /// An angle of both tables at the reference radius.
    fn zeros(&self, column: StationColumn) -> Result<[Side; 2], NoReference<'a>> {
        match self.tables.map(|t| Side::read(t, column, self.reference_m)) {
            [Some(x), Some(y)] => Ok([x, y]),
            [None, _] => Err(NoReference(self.names[0])),
            [Some(_), None] => Err(NoReference(self.names[1])),
        }
    }

    /// Whether the second table has a station with this figure at this radius.
    fn second_has(&self, column: StationColumn, radius_m: f64) -> bool {
        let second = self.tables[1];
        second.stations.iter().any(|t| {
            column.get(t).is_some() && (t.radius_m - radius_m).abs() < SAME_RADIUS * second.blade.radius_m
        })
    }

    /// Notices about tolerances without a figure and figures without an uncertainty.
    fn missing_from(&self, stations: &[ComparedStation]) -> Vec<ComparisonNotice> {
        let figures = || stations.iter().flat_map(|s| &s.figures);
        let columns = self.tolerances.iter().map(|(column, _)| *column);
        let unused = columns.filter(|column| figures().all(|f| f.column != *column));
        let mut notes: Vec<_> = unused.map(|column| ComparisonNotice::ToleranceUnused { column }).collect();
        if figures().any(|f| f.u.is_none()) {
            notes.push(ComparisonNotice::WithoutUncertainty);
        }
        notes
    }

    /// What each table tells about its own rows.
    fn notices_of_the_tables(&self) -> Vec<ComparisonNotice> {
        let told = |(table, name): (&StationTable, &str)| {
            let of = |notice| ComparisonNotice::OfTable { name: name.to_owned(), notice };
            table.row_notices().into_iter().map(of).collect::<Vec<_>>()
        };
        self.tables.into_iter().zip(self.names).flat_map(told).collect()
    }

    /// Stations of the first table that are not compared, and stations of the second beyond the compared ones.
    fn stations_left_out(&self, stations: &[ComparedStation]) -> Vec<ComparisonNotice> {
        let near = |a: f64, b: f64| (a - b).abs() < SAME_RADIUS * self.tables[0].blade.radius_m;
        let is_compared = |r: f64| stations.iter().any(|c| near(c.radius_m, r));
        let [low, high] = [stations.first(), stations.last()].map(|s| s.map_or(f64::NAN, |s| s.radius_m));
        let outside = |r: f64| !is_compared(r) && (r < low || high < r);
        let first = left_out(self.names[0], self.tables[0], |r| !is_compared(r));
        first.into_iter().chain(left_out(self.names[1], self.tables[1], outside)).collect()
    }
}

/// The name of a table that has no angle at the reference radius.
struct NoReference<'a>(&'a str);

/// A notice about the stations of a table that are not compared.
fn left_out(
    name: &str,
    table: &StationTable,
    takes_no_part: impl Fn(f64) -> bool,
) -> Option<ComparisonNotice> {
    let radii: Vec<String> = table
        .stations
        .iter()
        .filter(|s| takes_no_part(s.radius_m))
        .map(|s| format!("{:.1} mm", 1e3 * s.radius_m))
        .collect();
    (!radii.is_empty()).then(|| ComparisonNotice::StationsLeftOut {
        name: name.to_owned(),
        count: radii.len(),
        radii: radii.join(", "),
    })
}

fn is_angle(column: StationColumn) -> bool {
    matches!(column, StationColumn::BladeAngleDeg | StationColumn::FaceAngleDeg)
}

/// One figure of a comparison over all radii, in the unit of the column's key.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ComparisonSummary {
    /// Mean of the differences.
    pub mean: f64,
    /// Root mean square of the differences.
    pub rms: f64,
    /// Number of differences above 2 u, and number with u.
    pub significant: (usize, usize),
    /// Number of differences above the tolerance, and number with a tolerance.
    pub beyond_tolerance: (usize, usize),
}

impl Comparison {
    /// A column at all radii that have it, from root to tip.
    #[must_use]
    pub fn of(&self, column: StationColumn) -> Vec<(&ComparedStation, &ComparedFigure)> {
        let found = |s: &'_ ComparedStation| s.figures.iter().position(|f| f.column == column);
        self.stations.iter().filter_map(|s| Some((s, &s.figures[found(s)?]))).collect()
    }

    /// Writes each difference less the common one. `beyond`: of the figures with an uncertainty of their own, from root to tip.
    fn set_beyond_shift(&mut self, column: StationColumn, beyond: &[Measured]) {
        let figures = self.stations.iter_mut().flat_map(|s| &mut s.figures).filter(|f| f.column == column);
        let judged = figures.filter(|f| f.u.is_some() && f.u_own.is_some());
        judged.zip(beyond).for_each(|(f, b)| f.beyond_shift = Some(*b));
    }

    /// Summary of a column over all radii. `None` for a column that is not compared.
    #[must_use]
    pub fn summary(&self, column: StationColumn) -> Option<ComparisonSummary> {
        let found = self.of(column);
        let n = found.len() as f64;
        let count = |pick: fn(&ComparedFigure) -> Option<bool>| {
            let judged: Vec<bool> = found.iter().filter_map(|(_, f)| pick(f)).collect();
            (judged.iter().filter(|yes| **yes).count(), judged.len())
        };
        (!found.is_empty()).then(|| ComparisonSummary {
            mean: found.iter().map(|(_, f)| f.difference).sum::<f64>() / n,
            rms: (found.iter().map(|(_, f)| f.difference.powi(2)).sum::<f64>() / n).sqrt(),
            significant: count(|f| f.is_significant),
            beyond_tolerance: count(|f| f.is_beyond_tolerance),
        })
    }

    /// Whether a column is compared as twist: it is an angle, and either table has relative angles.
    #[must_use]
    pub fn is_twist(&self, column: StationColumn) -> bool {
        is_angle(column) && self.twist_about.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{BladeFigures, Setting, SettingOf, StationUncertainty};

    fn table(setting: bool, chord: f64, shift_deg: f64, u: Option<f64>) -> StationTable {
        let station = |ratio: f64| Station {
            chord_m: Some(chord - 0.05 * ratio),
            blade_angle_deg: Some(40.0 - 30.0 * ratio + shift_deg),
            u: StationUncertainty {
                chord_m: u,
                blade_angle_deg: u.map(|_| 0.05),
                ..StationUncertainty::default()
            },
            ..Station::at(ratio, 1.0)
        };
        StationTable {
            blade: BladeFigures {
                radius_m: 1.0,
                setting: setting.then_some(Setting {
                    angle_deg: 17.5,
                    radius_ratio: 0.75,
                    of: SettingOf::Chord,
                    extra: crate::Map::new(),
                }),
                ..BladeFigures::default()
            },
            stations: [0.3, 0.45, 0.6, 0.75, 0.9].map(station).to_vec(),
            ..StationTable::default()
        }
    }

    fn within(tolerances: &[(StationColumn, Allowed)]) -> ComparePlan {
        ComparePlan { tolerances: tolerances.to_vec(), ..ComparePlan::default() }
    }

    fn chords(c: &Comparison) -> Vec<ComparedFigure> {
        c.stations
            .iter()
            .flat_map(|s| s.figures.iter().copied().filter(|f| f.column == StationColumn::ChordM))
            .collect()
    }

    #[test]
    fn a_chord_that_shrank_is_significant_and_beyond_its_tolerance() {
        let (a, b) = (table(true, 0.198, 0.0, Some(2e-4)), table(true, 0.200, 0.0, Some(2e-4)));
        let tolerances = [
            (StationColumn::ChordM, Allowed::Absolute(1e-3)),
            (StationColumn::BladeAngleDeg, Allowed::Absolute(0.2)),
        ];
        let c = compare([&a, &b], ["worn", "drawing"], &within(&tolerances)).unwrap();
        let figures = chords(&c);
        assert_eq!(figures.len(), 5);
        for f in figures {
            assert!((f.difference + 0.002).abs() < 1e-12);
            assert!((f.u.unwrap() - 2e-4 * 2f64.sqrt()).abs() < 1e-12);
            assert_eq!((f.is_significant, f.is_beyond_tolerance), (Some(true), Some(true)));
            assert!(!f.is_between_stations);
        }
    }

    #[test]
    fn without_a_setting_the_twist_is_compared_and_a_common_turn_is_no_difference() {
        let (a, b) = (table(false, 0.2, 0.0, Some(2e-4)), table(true, 0.2, 3.0, None));
        let c = compare(
            [&a, &b],
            ["scan", "drawing"],
            &within(&[(StationColumn::BladeAngleDeg, Allowed::Relative(0.01))]),
        )
        .unwrap();
        let angles: Vec<_> = c
            .stations
            .iter()
            .flat_map(|s| &s.figures)
            .filter(|f| f.column == StationColumn::BladeAngleDeg)
            .collect();
        assert_eq!((angles.len(), c.twist_about), (4, Some(0.75)));
        assert!(angles.iter().all(|f| f.difference.abs() < 1e-9 && f.is_significant == Some(false)));
    }

    #[test]
    fn tables_that_do_not_overlap_are_refused_and_missing_uncertainty_is_told() {
        let mut far = table(true, 0.2, 0.0, None);
        for s in &mut far.stations {
            s.radius_m += 5.0;
        }
        let near = table(true, 0.2, 0.0, None);
        assert!(
            compare([&near, &far], ["a", "b"], &within(&[]))
                .unwrap_err()
                .to_string()
                .contains("no station of a")
        );
        let face = within(&[(StationColumn::FaceAngleDeg, Allowed::Absolute(1.0))]);
        let c = compare([&near, &near], ["a", "b"], &face).unwrap();
        assert!(
            c.notes.iter().any(|n| n.sentence().contains("no uncertainty"))
                && c.notes.iter().any(|n| n.sentence().contains("face"))
        );
        assert!(chords(&c).iter().all(|f| f.is_significant.is_none()));
    }
}
