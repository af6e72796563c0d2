//! The hand of a propeller: its direction of rotation.

use crate::QuantityError;
use std::fmt;
use std::str::FromStr;

/// The hand of a propeller. A right-hand propeller turns clockwise seen from behind, looking in the flight direction.
///
/// ```
/// use bladeform_quantity::Hand;
/// assert_eq!("left".parse::<Hand>().unwrap(), Hand::Left);
/// assert_eq!(Hand::Right.to_string(), "right");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Hand {
    /// Turns clockwise seen from behind, looking in the flight direction.
    #[default]
    Right,
    /// Turns anticlockwise seen from behind; measured in mirrored axes.
    Left,
}

impl Hand {
    /// The word in files and on the command line: `right` or `left`.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Hand::Right => "right",
            Hand::Left => "left",
        }
    }

    /// The other hand.
    #[must_use]
    pub const fn other(self) -> Hand {
        match self {
            Hand::Right => Hand::Left,
            Hand::Left => Hand::Right,
        }
    }

    /// Reads `right` or `left`.
    ///
    /// # Errors
    /// [`QuantityError::Hand`] for any other word.
    pub fn parse(text: &str) -> Result<Hand, QuantityError> {
        match text.trim() {
            "right" => Ok(Hand::Right),
            "left" => Ok(Hand::Left),
            other => Err(QuantityError::Hand { text: other.to_owned() }),
        }
    }
}

impl FromStr for Hand {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Hand, QuantityError> {
        Hand::parse(text)
    }
}

impl fmt::Display for Hand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn printing_and_parsing_agree() {
        for hand in [Hand::Right, Hand::Left] {
            assert_eq!(Hand::parse(&hand.to_string()).unwrap(), hand);
            assert_eq!(hand.other().other(), hand);
        }
    }

    #[test]
    fn another_word_is_refused_with_the_two_that_are_accepted() {
        let message = Hand::parse("clockwise").unwrap_err().to_string();
        assert!(
            message.contains("clockwise") && message.contains("right") && message.contains("left"),
            "{message}"
        );
    }
}
