//! Messages for sections that cannot be computed or read.

/// Why a polar cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PolarError {
    /// The outline is not a closed contour of a section.
    #[error(
        "the outline cannot be used: {0}; give a closed contour, leading edge first along x, of at least 20 different points"
    )]
    Outline(&'static str),
    /// A setting is outside the range of the method.
    #[error("{name} is {value}, outside {least} to {greatest}, the range of the method")]
    Setting {
        /// The setting.
        name: &'static str,
        /// The given value.
        value: f64,
        /// Smallest accepted value.
        least: f64,
        /// Largest accepted value.
        greatest: f64,
    },
    /// The equations have no solution for this outline.
    #[error(
        "the panel equations of this outline are singular; it may cross itself or have coincident points"
    )]
    Singular,
    /// Stored bytes are not a polar of this version, or are damaged.
    #[error("the stored polar cannot be used: {0}; compute it again")]
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

impl PolarError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Outline(_) => "polar-outline",
            Self::Setting { .. } => "polar-setting",
            Self::Singular => "polar-singular",
            Self::Stored(_) => "polar-stored",
            Self::Given { .. } => "polar-given",
        }
    }
}

/// Refuses a setting outside its range, NaN included.
pub(crate) fn check(name: &'static str, value: f64, least: f64, greatest: f64) -> Result<(), PolarError> {
    if (least..=greatest).contains(&value) {
        Ok(())
    } else {
        Err(PolarError::Setting { name, value, least, greatest })
    }
}
