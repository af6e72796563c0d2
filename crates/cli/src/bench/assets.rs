//! The files of the page: its own, and the 3-D view and the look that it shares with the record page.

use bladeform::record::assets::{SCRIPTS, STYLES};

/// The page.
pub(super) const PAGE: &str = include_str!("../../assets/bench/index.html");

const OWN: &[(&str, &str)] = &[
    ("bench.css", include_str!("../../assets/bench/bench.css")),
    ("main.js", include_str!("../../assets/bench/main.js")),
    ("ask.js", include_str!("../../assets/bench/ask.js")),
    ("fields.js", include_str!("../../assets/bench/fields.js")),
    ("form.js", include_str!("../../assets/bench/form.js")),
    ("picture.js", include_str!("../../assets/bench/picture.js")),
    ("pose.js", include_str!("../../assets/bench/pose.js")),
    ("results.js", include_str!("../../assets/bench/results.js")),
    ("span.js", include_str!("../../assets/bench/span.js")),
    ("sliders.js", include_str!("../../assets/bench/sliders.js")),
];

/// A file of the page by its name, with its kind.
pub(super) fn asset(name: &str) -> Option<(&'static str, &'static str)> {
    let all = OWN.iter().chain(&SCRIPTS).chain(&STYLES);
    let text = all.clone().find(|(own, _)| *own == name)?.1;
    Some((
        if name.ends_with(".css") { "text/css; charset=utf-8" } else { "text/javascript; charset=utf-8" },
        text,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_that_the_page_names_is_there() {
        let mut count = 0;
        for part in PAGE.split("assets/").skip(1) {
            let name = part.split('"').next().unwrap();
            assert!(asset(name).is_some(), "{name} is missing");
            count += 1;
        }
        assert!(5 < count, "the page was not read");
        for (name, text) in OWN.iter().filter(|(name, _)| name.ends_with(".js")) {
            for part in text.split("from './").skip(1) {
                let used = part.split('\'').next().unwrap();
                assert!(asset(used).is_some(), "{name} needs {used}");
            }
        }
    }

    #[test]
    fn nothing_is_loaded_from_elsewhere() {
        for (name, text) in OWN.iter().chain(&[("index.html", PAGE)]) {
            for address in ["http:", "https:", "//cdn"] {
                let found = text
                    .match_indices(address)
                    .find(|(at, _)| !text[*at..].starts_with("http://www.w3.org/"));
                assert!(found.is_none(), "{name} names {address}");
            }
        }
    }
}
