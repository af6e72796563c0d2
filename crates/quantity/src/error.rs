//! Messages for texts that cannot be read as a quantity.

use thiserror::Error;

/// Why a text is not a quantity. Each message quotes the text, and says what is wrong and what to write instead.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// A number without unit: its unit could be mistaken.
    #[error("`{text}`: {kind} needs a number and a unit ({units}), e.g. {example}")]
    NoUnit {
        /// The text given.
        text: String,
        /// `a length`, `an angle` ...
        kind: &'static str,
        /// The accepted units.
        units: String,
        /// Two valid examples.
        example: &'static str,
    },
    /// The text does not begin with a number, or its number is not finite.
    #[error("`{text}`: {kind} begins with a finite number, then a unit ({units}), e.g. {example}")]
    NoNumber {
        /// The text given.
        text: String,
        /// `a length`, `an angle` ...
        kind: &'static str,
        /// The accepted units.
        units: String,
        /// Two valid examples.
        example: &'static str,
    },
    /// A comma within a number.
    #[error("`{text}`: a number has no comma here; write `{point}` or, if thousands are meant, `{joined}`")]
    Comma {
        /// The text given.
        text: String,
        /// The text with a point.
        point: String,
        /// The text without the comma.
        joined: String,
    },
    /// The number is not above zero.
    #[error("`{text}`: {kind} is above zero")]
    NotPositive {
        /// The text given.
        text: String,
        /// `a density`.
        kind: &'static str,
    },
    /// The unit is not one of those accepted.
    #[error("`{text}`: `{unit}` is no unit of {kind}; accepted are {units}, e.g. {example}")]
    Unit {
        /// The text given.
        text: String,
        /// The text in place of the unit.
        unit: String,
        /// `a length`, `an angle` ...
        kind: &'static str,
        /// The accepted units.
        units: String,
        /// Two valid examples.
        example: &'static str,
    },
    /// A quantity in several parts that is not whole feet and inches.
    #[error(
        "`{text}`: only whole feet followed by 0 to under 12 inches can be joined, e.g. 4ft2in or 4ft 2.5in"
    )]
    Compound {
        /// The text given.
        text: String,
    },
    /// The hand is neither of the two words.
    #[error("`{text}` is no hand of a propeller: write right or left")]
    Hand {
        /// The text given.
        text: String,
    },
    /// The reference radius of a setting is neither a fraction of the tip radius nor the tip.
    #[error(
        "`{text}`: `{radius}` is no reference radius; write a fraction of the tip radius above 0 and at most 1, or tip, e.g. 22.5deg@0.75 or 22.5deg@tip"
    )]
    SettingRadius {
        /// The text given.
        text: String,
        /// The text after the `@`.
        radius: String,
    },
    /// The number of stations is not a whole number in the accepted range.
    #[error("`{text}`: the number of stations is a whole number from {least} to {most}, e.g. 24")]
    StationCount {
        /// The text given.
        text: String,
        /// The smallest accepted number.
        least: usize,
        /// The largest accepted number.
        most: usize,
    },
    /// Some stations are given as fractions and others as lengths.
    #[error(
        "`{text}` mixes fractions of the tip radius with lengths; write all stations one way, e.g. 0.3,0.45,0.75 or 12in,18in"
    )]
    MixedStations {
        /// The text given.
        text: String,
    },
    /// A station is not a radius.
    #[error(
        "`{item}` is no station: a fraction lies above 0 and is at most 1, a length is above 0, e.g. 0.3,0.45,0.75 or 12in,18in"
    )]
    Station {
        /// The station as written; empty between two commas.
        item: String,
    },
    /// Two stations are the same.
    #[error("station `{item}` is given twice (also as `{earlier}`); write each station once")]
    DuplicateStation {
        /// The second one as written.
        item: String,
        /// The first one as written.
        earlier: String,
    },
    /// The range is not three finite numbers.
    #[error("`{text}`: a range is first:last:step, three finite numbers, e.g. 0.2:1.2:0.05")]
    Range {
        /// The text given.
        text: String,
    },
    /// The step of a range does not lead from its first value to its last.
    #[error(
        "`{text}`: the step {step} does not lead from {first} to {last}; write a step of the right sign that is not 0"
    )]
    RangeStep {
        /// The text given.
        text: String,
        /// The first value.
        first: f64,
        /// The last value.
        last: f64,
        /// The step.
        step: f64,
    },
    /// The range has more values than are accepted.
    #[error("`{text}` has more than {most} values; write a larger step")]
    RangeLength {
        /// The text given.
        text: String,
        /// The maximum accepted number of values.
        most: usize,
    },
    /// A matrix is not a similarity: scale, rotation or reflection, translation.
    #[error(
        "the matrix is not a similarity with a last row 0 0 0 1 (one scale, rotation or reflection, translation): {reason}"
    )]
    NotASimilarity {
        /// The violated condition.
        reason: &'static str,
    },
}
