//! Densities as people type them: `680kg/m3`, `0.68g/cm3`.

use crate::QuantityError;
use crate::factor::POUND_PER_CUBIC_FOOT;
use crate::text::{Kind, Unit};

/// A density, stored in kilograms per cubic metre.
///
/// Accepted units are `kg/m3 g/cm3 lb/ft3`: the avoirdupois pound of 0.453 592 37 kg and the international foot.
///
/// # Source
/// A. Thompson, B. N. Taylor, NIST Special Publication 811, 2008, appendix B.8 (pound, foot).
///
/// ```
/// use bladeform_quantity::Density;
/// assert_eq!(Density::parse("0.68g/cm3").unwrap().kg_m3(), 680.0);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Density {
    kg_m3: f64,
}

const KIND: Kind = Kind {
    name: "a density",
    units: &[Unit::new("kg/m3", 1.0, 1.0), Unit::new("g/cm3", 1000.0, 1.0), POUND_PER_CUBIC_FOOT],
    example: "680kg/m3 or 0.68g/cm3",
};

impl Density {
    /// The density in kilograms per cubic metre.
    #[must_use]
    pub const fn kg_m3(self) -> f64 {
        self.kg_m3
    }

    /// Reads a density such as `680kg/m3`, above zero.
    ///
    /// # Errors
    /// [`QuantityError`] for a number without unit, an unknown unit, or no finite number above zero.
    pub fn parse(text: &str) -> Result<Density, QuantityError> {
        let kg_m3 = KIND.parse(text)?;
        if 0.0 < kg_m3 {
            Ok(Density { kg_m3 })
        } else {
            Err(QuantityError::NotPositive { text: text.to_owned(), kind: KIND.name })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_units_have_their_sizes() {
        for (text, expected) in [("700kg/m3", 700.0), ("1g/cm3", 1000.0), ("1lb/ft3", 16.018_463_373_960_14)]
        {
            let found = Density::parse(text).unwrap().kg_m3();
            assert!((found - expected).abs() < 1e-12 * expected, "{text}: {found}");
        }
        for wrong in ["700", "0kg/m3", "-1kg/m3", "heavy"] {
            assert!(Density::parse(wrong).unwrap_err().to_string().contains("density"), "{wrong}");
        }
    }
}
