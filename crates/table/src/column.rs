//! Units of columns and how columns are displayed.

use bladeform_quantity::ShownUnits;

/// The unit of a column in the documents. The end of its key states it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ColumnUnit {
    /// Metres.
    Metre,
    /// Square metres.
    SquareMetre,
    /// Degrees.
    Degree,
    /// A fraction of another figure.
    Ratio,
    /// A position along the chord from the leading edge, as a fraction of the chord.
    Position,
    /// A count.
    Count,
}

impl ColumnUnit {
    /// The end of every key with this unit. A count has none.
    #[must_use]
    pub const fn key_suffix(self) -> &'static str {
        match self {
            ColumnUnit::Metre => "_m",
            ColumnUnit::SquareMetre => "_m2",
            ColumnUnit::Degree => "_deg",
            ColumnUnit::Ratio => "_ratio",
            ColumnUnit::Position => "_position",
            ColumnUnit::Count => "",
        }
    }

    /// The unit in words, as in the documentation.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            ColumnUnit::Metre => "m",
            ColumnUnit::SquareMetre => "m2",
            ColumnUnit::Degree => "deg",
            ColumnUnit::Ratio => "a fraction",
            ColumnUnit::Position => "a fraction of the chord",
            ColumnUnit::Count => "a count",
        }
    }
}

/// How a column is displayed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown {
    /// The name above the column.
    pub label: &'static str,
    /// The unit displayed; `-` for a pure number.
    pub unit: &'static str,
    /// Factor from the unit of the key to the unit displayed.
    pub factor: f64,
    /// The number of decimals.
    pub decimals: usize,
}

impl Shown {
    /// How a figure is displayed: label, unit, factor and decimals.
    #[must_use]
    pub const fn new(label: &'static str, unit: &'static str, factor: f64, decimals: usize) -> Shown {
        Shown { label, unit, factor, decimals }
    }

    /// The same figure in other units, with as many decimals as its last digit needs there.
    #[must_use]
    pub fn in_units(self, units: ShownUnits) -> Shown {
        units.of(self.unit).map_or(self, |to| Shown {
            unit: to.unit,
            factor: self.factor * to.factor,
            decimals: to.decimals(self.decimals),
            ..self
        })
    }

    /// The value of one step of the last decimal, in the unit displayed.
    #[must_use]
    pub fn last_digit(&self) -> f64 {
        10_f64.powi(-(self.decimals as i32))
    }

    /// The figure as text without its unit, or `-` if it is missing or not finite.
    #[must_use]
    pub fn text(&self, value: Option<f64>) -> String {
        match value.filter(|v| v.is_finite()) {
            Some(value) => without_negative_zero(crate::number_text(Some(value), self.factor, self.decimals)),
            None => "-".to_owned(),
        }
    }
}

/// Removes the sign of a figure that rounds to zero: `-0.00` looks like an error.
fn without_negative_zero(text: String) -> String {
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| b == b'0' || b == b'.') => digits.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Station, StationColumn};

    #[test]
    fn every_key_ends_in_its_unit() {
        for column in StationColumn::all() {
            assert!(column.key().ends_with(column.unit().key_suffix()), "{}", column.key());
            if column.unit() == ColumnUnit::Count {
                assert_eq!(column.key(), "points", "a new count needs a decision here");
            }
        }
    }

    #[test]
    fn the_columns_are_those_of_the_contract_in_its_order() {
        let keys: Vec<&str> = StationColumn::all().map(StationColumn::key).collect();
        let contract = "radius_m radius_ratio chord_m blade_angle_deg face_angle_deg thickness_m thickness_ratio \
            thickness_position camber_ratio camber_position leading_edge_radius_m trailing_edge_thickness_m \
            longest_chord_m longest_chord_angle_deg area_m2 mid_chord_x_m mid_chord_y_m pitch_m face_pitch_m \
            points residual_rms_m";
        assert_eq!(keys, contract.split_whitespace().collect::<Vec<_>>());
    }

    #[test]
    fn every_column_reaches_a_field_of_its_own() {
        let mut station = Station::default();
        for (k, column) in StationColumn::all().enumerate() {
            column.set(&mut station, Some(k as f64));
            column.set_u(&mut station, Some(k as f64 + 0.5));
        }
        for (k, column) in StationColumn::all().enumerate() {
            assert_eq!(column.get(&station), Some(k as f64));
            let u = StationColumn::FIGURES.contains(&column).then_some(k as f64 + 0.5);
            assert_eq!(column.u(&station), u);
            assert_eq!(StationColumn::of_key(column.key()), Some(column));
        }
    }

    #[test]
    fn a_position_cannot_be_taken_away() {
        let mut station = Station::at(0.5, 1.0);
        StationColumn::RadiusM.set(&mut station, None);
        assert_eq!(StationColumn::RadiusM.get(&station), Some(0.5));
    }

    #[test]
    fn figures_are_shown_in_their_unit_and_zero_has_no_sign() {
        assert_eq!(StationColumn::ChordM.shown().text(Some(0.15234)), "152.3");
        assert_eq!(StationColumn::CamberRatio.shown().text(Some(-0.00001)), "0.00");
        assert_eq!(StationColumn::CamberRatio.shown().text(None), "-");
        assert_eq!(StationColumn::CamberRatio.shown().text(Some(f64::NAN)), "-");
    }

    #[test]
    fn a_figure_of_three_hundred_digits_is_a_short_cell() {
        let shown = Shown::new("chord", "mm", 1e3, 1);
        assert_eq!(shown.text(Some(0.0625)), "62.5");
        assert_eq!(shown.text(Some(-1e300)), "-1.0e303");
        assert!(shown.text(Some(9.9e11)).len() < 20, "{}", shown.text(Some(9.9e11)));
    }
}
