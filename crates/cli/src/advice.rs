//! What the user can type about a notice or an error. The libraries name no options, since a program that calls them has none.

use bladeform::table::Notice;

/// Codes of notices and errors with the options that help.
const ADVICE: &[(&str, &str)] = &[
    ("relative-angles", "Give --setting ANGLE@RADIUS, e.g. 17deg@0.75, for absolute angles."),
    ("no-length", "Give --length, --diameter or --unit."),
    ("unlikely-size", "Give --length, --diameter or --unit."),
    ("no-root-radius", "Give --root-radius, or both --length and --diameter."),
    ("root-radius-needed", "Give --root-radius or --length."),
    ("resolution-estimated", "Give --resolution, e.g. 2mm."),
    ("resolution-doubtful", "Give --resolution, e.g. 2mm; 0mm for a computed surface."),
    ("long-range-unknown", "Give --scan-accuracy, e.g. 0.2mm."),
    ("blades-without-accuracy", "Give `measure` --scan-accuracy, e.g. 0.2mm."),
    ("balance-without-accuracy", "Give `measure` --scan-accuracy, e.g. 0.2mm."),
    ("ends-uncertain", "If the other end is the tip, give --swap ends."),
    ("wide-planes", "Give --sections cylinder."),
    ("hand-doubtful", "Give --hand, or --swap edges, sides or ends."),
    ("step-at-root", "Those are --length and --root-radius."),
    ("edge-by-rule", "In that case give --hand or --swap edges."),
    ("back-by-rule", "In that case give --hand or --swap sides."),
    ("sides-uncertain", "Give --hand, or --swap edges or --swap sides."),
    ("swap-changes-hand", "To keep the hand, give --swap edges --swap sides."),
    ("lone-by-size", "For a whole propeller give --diameter without --length."),
    ("setting-unused", "Omit --setting."),
    ("root-radius-unused", "Omit --root-radius."),
    ("length-unused", "Omit --length."),
    ("station-unusable", "To leave it out, give --without with its radius."),
    ("root-unknown", "Give `measure` --at with radii nearer to the root, or --shank-diameter here."),
    ("volume-differs", "Give `measure` --at with radii nearer to the root, or --shank-diameter here."),
    ("no-shank", "If the blade has a round shank, give --shank-diameter."),
    ("hub-length-chosen", "To choose it, give --hub-length."),
    ("hub-diameter-chosen", "To choose it, give --hub-diameter."),
    ("angles-of-table", "To set them, give --setting ANGLE@RADIUS."),
    ("coarse-facets", "Give a greater --tolerance, or accept it."),
    ("low-reynolds", "Give --polar RADIUS=FILE."),
    ("not-corrected-near-rest", "Give fewer settings in --setting, or omit --no-free-wake."),
    ("no-setting", "Give --setting with a known angle, e.g. 20deg@0.75."),
    ("root-left-out", "Those are `measure` --root-radius, and --spinner or --blunt-hub here."),
    ("shank-drag", "See --spinner, --blunt-hub and --shank-diameter."),
    ("body-behind", "The drag coefficient is --body-drag."),
    ("isolated-propeller", "For a body behind it give --body, or --stream-factor."),
    ("no-depth", "Give --depth, e.g. 1.5m."),
    ("hub-contradicts-blades", "See --hub-diameter, --hub-length, --blades and --setting."),
    (
        "holes-contradict-hub",
        "See --bore (0mm for a full hub), --bolts (none for none), --hub-diameter and --nose-length.",
    ),
    ("bolts-on-blade", "To state it, give --bolts with an angle, e.g. 8x10mm@114mm@22.5deg."),
    ("bolts-measured", "See --bolts (none for a hub without)."),
    ("hub-measured", "See --bore and --bolts."),
    ("plan-contradicts-table", "See --setting, --setting-of and --diameter."),
    ("scan-not-found", "`bladeform record` and `bladeform predict` with --scan do that."),
    ("scan-kept", "Or name it with --scan."),
    ("scan-differs", "`bladeform record` with --scan does that."),
    ("photographs-missing", "Name them with --photograph."),
    ("length-as-diameter", "To state it, give --diameter."),
];

/// The options that help with a notice or an error, as one or more sentences.
pub(crate) fn advice(code: &str) -> Option<&'static str> {
    ADVICE.iter().find(|(of, _)| *of == code).map(|(_, text)| *text)
}

/// A notice as one line for standard error: its code, its sentence, and the options that help.
pub(crate) fn line(notice: &Notice) -> String {
    bladeform::words::warning_text(notice, &advice)
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn every_option_that_is_advised_exists() {
        let command = crate::arguments::Arguments::command();
        let known: Vec<String> = command
            .get_subcommands()
            .flat_map(|c| c.get_arguments())
            .filter_map(|a| a.get_long())
            .map(|long| format!("--{long}"))
            .collect();
        for (code, text) in ADVICE {
            for option in text.split([' ', ',', '.']).filter(|word| word.starts_with("--")) {
                assert!(known.iter().any(|k| k == option), "{code}: {option} does not exist");
            }
            assert!(text.ends_with('.'), "{code}: {text}");
        }
    }
}
