//! The water of a prediction: kind, depth of the shaft and pressure of its vapour.

/// A kind of water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Water {
    /// Fresh water.
    Fresh,
    /// Water of the ocean.
    Sea,
}

impl Water {
    /// The word for documents.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Fresh => "freshwater",
            Self::Sea => "seawater",
        }
    }

    /// The kind in words for readers.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Fresh => "fresh water",
            Self::Sea => "sea water",
        }
    }

    /// The kind of a word of a document.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        [Self::Fresh, Self::Sea].into_iter().find(|w| w.as_str() == word)
    }
}

/// The state of the water beyond density, viscosity and temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WaterState {
    /// Fresh or sea water.
    pub kind: Water,
    /// Depth of the shaft below the surface, m; `None` if not known.
    pub depth_m: Option<f64>,
    /// Pressure of the vapour, Pa.
    pub vapour_pressure_pa: f64,
}
