//! A station's figures on the smooth blade, beside its own.

use std::collections::BTreeMap;

use bladeform_quantity::{Measured, root_sum_square};

use crate::{Map, Station, StationColumn, Value};

/// Figures of the smooth blade at a station, each in the unit of its column with its standard uncertainty. The station's own figures are what calipers read there; these are what all
/// stations together say.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SmoothFigures {
    /// The figures.
    pub figures: BTreeMap<StationColumn, Measured>,
    /// The keys that this version does not know, kept as they were read.
    pub extra: Map<String, Value>,
}

impl SmoothFigures {
    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.figures.is_empty() && self.extra.is_empty()
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
        Self { figures: first.smooth.figures.keys().filter_map(mean).collect(), extra: Map::new() }
    }
}
