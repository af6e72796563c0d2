//! A notice as a line of text.

use bladeform_quantity::ShownUnits;
use bladeform_table::Notice;

/// Advice on a notice, by its code: one or more complete sentences that say what the user can do.
pub type Advice<'a> = &'a dyn Fn(&str) -> Option<&'static str>;

/// No advice.
pub(crate) fn no_advice(_: &str) -> Option<&'static str> {
    None
}

/// The code, the sentence and the advice.
///
/// ```
/// use bladeform_table::Notice;
/// let notice = Notice::read("no-length: no length is known");
/// let text = bladeform_words::warning_text(&notice, &|code| (code == "no-length").then_some("Give a length."));
/// assert_eq!(text, "(no-length) no length is known. Give a length.");
/// ```
#[must_use]
pub fn warning_text(notice: &Notice, advice: Advice<'_>) -> String {
    warning_in(notice, ShownUnits::SI, advice)
}

/// As [`warning_text`], with the figures of the sentence in the given units.
#[must_use]
pub fn warning_in(notice: &Notice, units: ShownUnits, advice: Advice<'_>) -> String {
    let code = match notice.code() {
        "" => String::new(),
        code => format!("({code}) "),
    };
    let stop = if notice.sentence().ends_with(['.', '!', '?']) { "" } else { "." };
    let advice = advice(notice.code()).map_or(String::new(), |text| format!(" {text}"));
    format!("{code}{}{stop}{advice}", units.text(notice.sentence()))
}
