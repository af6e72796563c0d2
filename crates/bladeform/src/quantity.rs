//! Quantities as people type them: newtypes over SI that read and print texts with units.
//!
//! ```
//! use bladeform::quantity::{Hand, Length, SettingRadius, SettingText};
//! # fn main() -> Result<(), bladeform::quantity::QuantityError> {
//! assert_eq!(Length::parse("4ft2in")?.m(), 1.27);
//! assert_eq!(SettingText::parse("22.5deg@tip")?.at, SettingRadius::Tip);
//! assert_eq!(Hand::parse("left")?, Hand::Left);
//! // A number without unit could be mistaken.
//! assert!(Length::parse("50").is_err());
//! # Ok(())
//! # }
//! ```

pub use bladeform_quantity::{
    Angle, Conversion, Density, Hand, Length, Measured, Power, PowerUnit, QuantityError, Range,
    SettingRadius, SettingText, ShownUnits, Speed, SpeedUnit, StationRadii, UnitFamily,
};
