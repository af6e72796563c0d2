//! Blade sections: published families, the smooth fit of noisy points, and the mean line.
//!
//! ```
//! use bladeform::section::{Family, mean_line};
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let family = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 };
//! let line = mean_line(&family.outline(2000), family.leading_index(2000))?;
//! assert!((line.thickness() - 0.12).abs() < 2e-4);
//! let (camber, position) = line.camber();
//! assert!((camber - 0.04).abs() < 2e-4 && (position - 0.4).abs() < 0.02);
//! # Ok(())
//! # }
//! ```

pub use bladeform_section::{
    BandPoint, Family, FitError, FitSettings, MeanLine, MeanLineError, SectionFit, Shape, fit_section,
    mean_line,
};
