//! The sources of the standard uncertainty of a figure: the budget that JCGM 100:2008, clause 7.2.7, requires to be reported.

use std::collections::BTreeMap;

use bladeform_quantity::root_sum_square;

use serde_json::{Map, Value};

use crate::{Station, StationColumn};

/// A source of the uncertainty of a station's figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum UncertaintySource {
    /// Noise of the scan points with its correlation, and gaps: the uncertainty of the fit of the outline.
    Scan,
    /// Two readings of the definition. On a thick leading edge the mean line of inscribed circles and that of thickness at right angles end at different points.
    Definition,
    /// Departure of the scan from the fitted outline beyond its noise.
    Misfit,
    /// An edge beyond the last scan points, which no point shows.
    Edge,
    /// The resolution of the scan, which draws edges back and flattens noses.
    Resolution,
    /// Long-range errors of the scan, which its own points do not show: two sides put together with an offset, a bow, a scale that differs by direction.
    LongRange,
    /// The span axes found from the scan.
    Axes,
    /// The section at the reference radius, to which the angles refer.
    Reference,
    /// The known length: size, and place along the span.
    Length,
    /// The radii of all sections at a fixed scale: the root radius.
    Radius,
    /// Scatter between several scans of one blade beyond what the other parts explain.
    Repeats,
    /// Spread between the blades of a propeller beyond what the other parts explain, in the mean of them.
    Blades,
}

impl UncertaintySource {
    /// All sources, in the order of the documents.
    pub const ALL: [Self; 12] = [
        Self::Scan,
        Self::Definition,
        Self::Misfit,
        Self::Edge,
        Self::Resolution,
        Self::LongRange,
        Self::Axes,
        Self::Reference,
        Self::Length,
        Self::Radius,
        Self::Repeats,
        Self::Blades,
    ];

    /// The key in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Scan => "scan",
            Self::Definition => "definition",
            Self::Misfit => "misfit",
            Self::Edge => "edge",
            Self::Resolution => "resolution",
            Self::LongRange => "long-range",
            Self::Axes => "axes",
            Self::Reference => "reference",
            Self::Length => "length",
            Self::Radius => "radius",
            Self::Repeats => "repeats",
            Self::Blades => "blades",
        }
    }

    /// The meaning in words.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::Scan => "noise of the scan points and gaps between them",
            Self::Definition => "where a definition can be read in two ways",
            Self::Misfit => "departure of the scan from the fitted outline beyond its noise",
            Self::Edge => "edge not shown by any scan point",
            Self::Resolution => "resolution of the scan, which draws edges back",
            Self::LongRange => "long-range errors of the scan as stated",
            Self::Axes => "span axes found from the scan",
            Self::Reference => "section at the reference radius",
            Self::Length => "known length",
            Self::Radius => "root radius, from which all radii count",
            Self::Repeats => "scatter between scans beyond the other parts",
            Self::Blades => "spread between the blades beyond the other parts",
        }
    }

    /// Whether it is common to all blades of a propeller or to all stations of a blade. A mean does not reduce a common source, and a difference cancels it.
    #[must_use]
    pub const fn is_shared(self) -> bool {
        !matches!(self, Self::Scan | Self::Misfit | Self::Edge | Self::Repeats | Self::Blades)
    }
}

/// Parts of the standard uncertainties of a station's figures, each in the unit of its figure.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct UncertaintyBudget {
    parts: BTreeMap<StationColumn, BTreeMap<UncertaintySource, f64>>,
    /// Parts of kinds that this version does not know, kept as they were read.
    pub unknown: BTreeMap<StationColumn, Map<String, Value>>,
    /// The keys that this version does not know, kept as they were read.
    pub extra: Map<String, Value>,
}

impl UncertaintyBudget {
    /// Whether nothing is stated.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty() && self.unknown.is_empty() && self.extra.is_empty()
    }

    /// The parts of one figure. Empty if none are stated.
    pub fn of(&self, column: StationColumn) -> impl Iterator<Item = (UncertaintySource, f64)> + '_ {
        self.parts.get(&column).into_iter().flatten().map(|(source, u)| (*source, *u))
    }

    /// One part of one figure. Zero if it is not stated.
    #[must_use]
    pub fn part(&self, column: StationColumn, source: UncertaintySource) -> f64 {
        self.parts.get(&column).and_then(|parts| parts.get(&source)).copied().unwrap_or(0.0)
    }

    /// The columns that have parts.
    pub fn columns(&self) -> impl Iterator<Item = StationColumn> + '_ {
        StationColumn::FIGURES
            .iter()
            .copied()
            .filter(|column| self.parts.contains_key(column) || self.unknown.contains_key(column))
    }

    /// Forgets the parts of a figure.
    pub fn remove(&mut self, column: StationColumn) {
        self.parts.remove(&column);
    }

    /// Sets a part. Zero is not stored.
    pub fn set(&mut self, column: StationColumn, source: UncertaintySource, u: f64) {
        if 0.0 < u {
            self.parts.entry(column).or_default().insert(source, u);
        }
    }
}

impl Station {
    /// Adds a part to the standard uncertainty of a figure, as independent of the previous parts, and states it in the budget.
    /// A missing figure has no uncertainty and gets none.
    pub fn add_uncertainty(&mut self, column: StationColumn, source: UncertaintySource, u: f64) {
        if column.get(self).is_none() {
            return;
        }
        let before = column.u(self).unwrap_or(0.0);
        column.set_u(self, Some(before.hypot(u)));
        let own = self.budget.part(column, source);
        self.budget.set(column, source, own.hypot(u));
    }

    /// Puts a part of the standard uncertainty of a figure in the place of the one that was stated.
    pub fn replace_uncertainty(&mut self, column: StationColumn, source: UncertaintySource, u: f64) {
        if let Some(rest) = self.u_without(column, source) {
            let rest =
                if self.budget.part(column, source) > 0.0 { rest } else { column.u(self).unwrap_or(0.0) };
            column.set_u(self, Some(rest.hypot(u)));
            self.budget.set(column, source, u);
        }
    }

    /// A figure's standard uncertainty without one of its parts. It is the whole uncertainty if no budget is stated.
    #[must_use]
    pub fn u_without(&self, column: StationColumn, source: UncertaintySource) -> Option<f64> {
        let all = column.u(self)?;
        let rest: Vec<f64> = self.budget.of(column).filter(|(s, _)| *s != source).map(|(_, u)| u).collect();
        let stated = self.budget.of(column).next().is_some();
        Some(if stated { root_sum_square(&rest) } else { all })
    }

    /// The part of a figure's uncertainty that is independent of other blades. It is the whole uncertainty if no budget is stated.
    #[must_use]
    pub fn unshared_u(&self, column: StationColumn) -> Option<f64> {
        let all = column.u(self)?;
        let own: Vec<f64> = self.budget.of(column).filter(|(s, _)| !s.is_shared()).map(|(_, u)| u).collect();
        Some(if own.is_empty() { all } else { root_sum_square(&own) })
    }
}

/// Standard uncertainty of the mean of one figure over several blades, with its parts. Common parts are kept, and independent parts average out.
/// `None` if one blade has none.
pub(crate) fn mean_uncertainty(
    column: StationColumn,
    having: &[&Station],
) -> Option<(f64, Vec<(UncertaintySource, f64)>)> {
    let all: Vec<f64> = having.iter().map(|s| column.u(s)).collect::<Option<_>>()?;
    if all.is_empty() {
        return None;
    }
    let n = having.len() as f64;
    if having.iter().any(|s| s.budget.of(column).next().is_none()) {
        return Some((root_sum_square(&all) / n, vec![]));
    }
    let mean = |source: UncertaintySource| {
        let parts: Vec<f64> = having.iter().map(|s| s.budget.part(column, source)).collect();
        // Triangles cut the same edge of every blade short in the same way: the mean does not average that out, though a difference may differ by it.
        let is_common = source.is_shared() || source == UncertaintySource::Edge;
        let u = if is_common { parts.iter().sum::<f64>() } else { root_sum_square(&parts) };
        (source, u / n)
    };
    let parts: Vec<_> = UncertaintySource::ALL.into_iter().map(mean).collect();
    Some((root_sum_square(&parts.iter().map(|p| p.1).collect::<Vec<_>>()), parts))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_add_up_to_the_whole() {
        let mut s = Station { chord_m: Some(0.1), ..Station::at(0.5, 1.0) };
        s.add_uncertainty(StationColumn::ChordM, UncertaintySource::Scan, 3e-4);
        s.add_uncertainty(StationColumn::ChordM, UncertaintySource::Length, 4e-4);
        s.add_uncertainty(StationColumn::FaceAngleDeg, UncertaintySource::Scan, 1.0);
        assert!(s.u.chord_m.is_some_and(|u| (u - 5e-4).abs() < 1e-15));
        assert_eq!(s.u.face_angle_deg, None);
        assert_eq!(s.budget.columns().count(), 1);
        assert_eq!(s.unshared_u(StationColumn::ChordM), Some(3e-4));
        assert_eq!(s.u_without(StationColumn::ChordM, UncertaintySource::Scan), Some(4e-4));
    }

    #[test]
    fn a_mean_over_blades_averages_the_noise_and_keeps_what_they_share() {
        let mut s = Station { chord_m: Some(0.1), ..Station::at(0.5, 1.0) };
        s.add_uncertainty(StationColumn::ChordM, UncertaintySource::Scan, 4e-4);
        s.add_uncertainty(StationColumn::ChordM, UncertaintySource::Definition, 2e-4);
        let (u, parts) = mean_uncertainty(StationColumn::ChordM, &[&s; 4]).unwrap();
        assert!((u - 2e-4 * 2f64.sqrt()).abs() < 1e-15, "{u}");
        assert!(parts.contains(&(UncertaintySource::Definition, 2e-4)));
        let plain = Station { chord_m: Some(0.1), ..Station::at(0.5, 1.0) };
        assert!(mean_uncertainty(StationColumn::ChordM, &[&s, &plain]).is_none());
    }
}
