//! Quantities: lengths, angles, speeds and powers as people type them, and values with their uncertainty.
//! The crate does not depend on blades, meshes or files.
//!
//! - [`Length`], [`Angle`], [`Speed`], [`Power`]: newtypes over SI that read and print texts with units. A number without
//!   unit is refused if its unit could be mistaken.
//! - [`SettingText`], [`StationRadii`], [`Range`], [`Hand`]: other quantities that people type.
//! - [`ShownUnits`]: the units in which figures are shown to people, and sentences in them.
//! - [`Measured`]: a value with its standard uncertainty.
//!
//! The main entry is `parse` of each quantity, e.g. [`Length::parse`]. Printed texts read back to the same value.
//!
//! ```
//! use bladeform_quantity::{Length, Measured, SettingRadius, SettingText};
//!
//! let length = Length::parse("4ft2in").unwrap();
//! assert_eq!(length.m(), 1.27);
//!
//! let refused = Length::parse("50").unwrap_err();
//! assert_eq!(
//!     refused.to_string(),
//!     "`50`: a length needs a number and a unit (m mm cm in ft), e.g. 50in or 1.27m"
//! );
//!
//! let setting = SettingText::parse("22.5deg@tip").unwrap();
//! assert_eq!(setting.at, SettingRadius::Tip);
//!
//! let chord = Measured::new(0.150, 0.0003);
//! assert_eq!(chord.half_width_95(), 0.0006);
//! ```

mod angle;
mod density;
mod error;
mod factor;
mod hand;
mod length;
mod measured;
mod power;
mod range;
mod setting;
mod shown;
mod speed;
mod stations;
mod text;

pub use angle::Angle;
pub use density::Density;
pub use error::QuantityError;
pub use hand::Hand;
pub use length::Length;
pub use measured::{COVERAGE_FACTOR_95, Measured, RECTANGULAR, root_sum_square};
pub use power::Power;
pub use range::{MOST_RANGE_VALUES, Range};
pub use setting::{SettingRadius, SettingText};
pub use shown::{Conversion, PowerUnit, ShownUnits, SpeedUnit, UnitFamily};
pub use speed::Speed;
pub use stations::{LEAST_STATIONS, MOST_STATIONS, StationRadii};
