//! Details at the end of a sentence: numbers that documents keep and that nobody reads on a terminal or a page.

use std::borrow::Cow;

/// What begins the details in a text. They end at the next `]`.
const BEGIN: &str = " [details: ";

/// A sentence with details behind it.
///
/// ```
/// use bladeform_table::{with_details, without_details};
/// let text = with_details("three bodies were left out", "1 x 2 x 3 about (0, 0, 0)");
/// assert_eq!(text, "three bodies were left out [details: 1 x 2 x 3 about (0, 0, 0)]");
/// assert_eq!(without_details(&format!("{text}. Cut them out")), "three bodies were left out. Cut them out");
/// ```
#[must_use]
pub fn with_details(sentence: &str, details: &str) -> String {
    format!("{sentence}{BEGIN}{}]", details.replace(['[', ']'], "|"))
}

/// A text without the details in it.
#[must_use]
pub fn without_details(text: &str) -> Cow<'_, str> {
    if !text.contains(BEGIN) {
        return Cow::Borrowed(text);
    }
    let (mut shown, mut rest) = (String::new(), text);
    while let Some((before, after)) = rest.split_once(BEGIN) {
        shown.push_str(before);
        // Details without an end are a text of somebody else: all of it is shown.
        let Some((_, behind)) = after.split_once(']') else {
            return Cow::Owned(shown + &rest[before.len()..]);
        };
        rest = behind;
    }
    Cow::Owned(shown + rest)
}

/// The details of a text, if there are any.
#[must_use]
pub fn details_of(text: &str) -> Option<&str> {
    Some(text.split_once(BEGIN)?.1.split_once(']')?.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_closed_details_are_left_out() {
        assert_eq!(without_details("a [details: b"), "a [details: b");
        assert_eq!(without_details("a [details: b] c [details: d]."), "a c.");
        assert_eq!(details_of("a [details: b] c"), Some("b"));
        assert_eq!(details_of("file [1].ply"), None);
        assert_eq!(details_of(&with_details("a", "x[3]")), Some("x|3|"));
    }
}
