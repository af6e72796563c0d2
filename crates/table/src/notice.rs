//! Notices with a code: how the typed outcomes of all crates become text in a document.

use std::fmt;

/// An outcome with one short code and one sentence, both defined with its type and nowhere else.
///
/// Every crate has enums of its own for what it must report. This trait is their way into a document: see [`Notice`].
pub trait Coded {
    /// The short code of lower-case letters and hyphens. Every variant has its own code.
    fn code(&self) -> &str;

    /// The sentence with its figures, without the code, a capital or a full stop.
    fn sentence(&self) -> String;
}

/// A notice in a document: a warning about a whole table or prediction, or a flag of an operating point.
///
/// In the documents it is the text `code: sentence`. A text read from a file is kept word for word, even without a code.
///
/// ```
/// use bladeform_table::{Coded, Notice};
/// enum Remark { Thin { mm: f64 } }
/// impl Coded for Remark {
///     fn code(&self) -> &'static str {
///         match self {
///             Remark::Thin { .. } => "thin",
///         }
///     }
///     fn sentence(&self) -> String {
///         match self {
///             Remark::Thin { mm } => format!("the blade is only {mm:.1} mm thick"),
///         }
///     }
/// }
/// let notice = Notice::from(Remark::Thin { mm: 1.25 });
/// assert_eq!((notice.code(), notice.text().as_str()), ("thin", "thin: the blade is only 1.2 mm thick"));
/// assert_eq!(Notice::read(&notice.text()), notice);
///
/// let seen = Notice::read("Seen by eye: a nick");
/// assert_eq!((seen.code(), seen.text().as_str()), ("", "Seen by eye: a nick"));
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Notice {
    /// Empty for a text without a code.
    code: String,
    sentence: String,
}

impl Notice {
    /// The notice of an outcome.
    #[must_use]
    pub fn of(outcome: &impl Coded) -> Notice {
        Notice { code: outcome.code().to_owned(), sentence: outcome.sentence() }
    }

    /// A notice from its text in a file. Nothing is lost: [`Notice::text`] returns the same text.
    #[must_use]
    pub fn read(text: &str) -> Notice {
        let (code, sentence) = split(text);
        Notice { code: code.to_owned(), sentence: sentence.to_owned() }
    }

    /// The short code. Empty for a text of a file without a code.
    #[must_use]
    pub fn code(&self) -> &str {
        &self.code
    }

    /// The sentence after the code. The whole text if there is no code.
    #[must_use]
    pub fn sentence(&self) -> &str {
        &self.sentence
    }

    /// The whole text as in the documents, `code: sentence`.
    #[must_use]
    pub fn text(&self) -> String {
        if self.code.is_empty() {
            self.sentence.clone()
        } else {
            format!("{}{CODE_END}{}", self.code, self.sentence)
        }
    }
}

impl<C: Coded> From<C> for Notice {
    fn from(outcome: C) -> Notice {
        Notice::of(&outcome)
    }
}

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text())
    }
}

/// Separator between code and sentence.
const CODE_END: &str = ": ";

/// The code and the sentence of a text. The code is empty if the text before the colon does not look like one.
pub(crate) fn split(text: &str) -> (&str, &str) {
    match text.split_once(CODE_END) {
        Some((code, sentence)) if is_code(code) => (code, sentence),
        _ => ("", text),
    }
}

/// Whether a text consists of lower-case letters and hyphens only.
pub(crate) fn is_code(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_lowercase() || b == b'-')
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn any_text_is_kept_word_for_word(text in "[a-z :A-Z0\\-]{0,20}") {
            prop_assert_eq!(Notice::read(&text).text(), text);
        }
    }

    #[test]
    fn a_code_is_told_from_the_beginning_of_a_sentence() {
        let read = |text| {
            let notice = Notice::read(text);
            (notice.code().to_owned(), notice.sentence().to_owned())
        };
        assert_eq!(read("open-edge: 3 of them"), ("open-edge".to_owned(), "3 of them".to_owned()));
        assert_eq!(read("blade 2: bent"), (String::new(), "blade 2: bent".to_owned()));
        assert_eq!(read(": bent"), (String::new(), ": bent".to_owned()));
        assert_eq!(read("bent:no space"), (String::new(), "bent:no space".to_owned()));
    }
}
