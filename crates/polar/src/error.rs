//! The sentences said when a section cannot be computed or read.

/// Why no polar can be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PolarError {
    /// The outline is no closed contour of a section.
    #[error(
        "the outline cannot be used: {0}; give a closed contour, leading edge first along x, of at least 20 different points"
    )]
    Outline(&'static str),
    /// A setting lies outside the range of the method.
    #[error("{name} is {value}, outside {least} to {greatest}, the range of the method")]
    Setting {
        /// Which setting.
        name: &'static str,
        /// What was given.
        value: f64,
        /// Least value that can be used.
        least: f64,
        /// Greatest value that can be used.
        greatest: f64,
    },
    /// The equations have no solution for this outline.
    #[error(
        "the panel equations of this outline are singular; it may cross itself or have points on top of each other"
    )]
    Singular,
    /// Stored bytes are not a polar of this version, or were damaged.
    #[error("the stored polar is refused: {0}; compute it again")]
    Stored(&'static str),
    /// A line of a given polar cannot be read.
    #[error(
        "line {line} of the polar: {problem}; each line needs angle in degrees, lift, drag and a Reynolds number"
    )]
    Given {
        /// Line of the file, counted from 1.
        line: usize,
        /// What is wrong there.
        problem: String,
    },
}

/// Refuses a setting outside its range, NaN included.
pub(crate) fn check(name: &'static str, value: f64, least: f64, greatest: f64) -> Result<(), PolarError> {
    if (least..=greatest).contains(&value) {
        Ok(())
    } else {
        Err(PolarError::Setting { name, value, least, greatest })
    }
}
