//! The units of length of the unit switch.

use bladeform_table::{ColumnUnit, Shown, StationColumn};

/// A unit of length on the page. `assets/page.js` has the same three with the same decimals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum LengthUnit {
    /// Millimetre, the initial unit of the page.
    Millimetre,
    /// Inch.
    Inch,
    /// Metre.
    Metre,
}

impl LengthUnit {
    /// In the order of the switch.
    pub(crate) const ALL: [Self; 3] = [Self::Millimetre, Self::Inch, Self::Metre];

    /// As written after a value.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
            Self::Metre => "m",
        }
    }

    const fn per_metre(self) -> f64 {
        match self {
            Self::Millimetre => 1e3,
            Self::Inch => 1.0 / 0.0254,
            Self::Metre => 1.0,
        }
    }

    /// Additional decimals compared with millimetres. A thousandth of an inch is between a hundredth and a tenth of a millimetre.
    const fn more_decimals(self) -> usize {
        match self {
            Self::Millimetre => 0,
            Self::Inch => 2,
            Self::Metre => 3,
        }
    }

    /// How a column is shown in this unit. A column that is not a length is unchanged.
    pub(crate) fn shown(self, column: StationColumn) -> Shown {
        let shown = crate::words::shown(column);
        if column.unit() != ColumnUnit::Metre {
            return shown;
        }
        Shown {
            unit: self.name(),
            factor: self.per_metre(),
            decimals: shown.decimals + self.more_decimals(),
            ..shown
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inch_is_25_4_millimetres_by_definition() {
        // International yard and pound agreement of 1959.
        let text = |unit: LengthUnit| unit.shown(StationColumn::ChordM).text(Some(0.2032));
        assert_eq!(LengthUnit::ALL.map(text), ["203.2", "8.000", "0.2032"]);
        assert_eq!(LengthUnit::Inch.shown(StationColumn::BladeAngleDeg).unit, "deg");
    }

    #[test]
    fn the_script_of_the_page_has_the_same_units() {
        let script = include_str!("../assets/page.js");
        assert!(script.contains("{ mm: 1e-3, in: 0.0254, m: 1 }"));
        assert!(script.contains("length: { mm: 0, in: 2, m: 3 }"));
    }
}
