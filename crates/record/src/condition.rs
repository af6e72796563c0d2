//! The condition of the part and of its scan in a few words: what is missing, and what is flagged at how many stations.

use bladeform_table::{Flag, StationTable};

/// Warnings about the part or its scan, in a few words.
const MISSING: [(&str, &str); 10] = [
    ("tip-open", "tip open"),
    ("tip-square", "tip square, perhaps cut off"),
    ("open-surface", "holes in the surface"),
    ("pieces", "in several pieces"),
    ("step-at-root", "step near the root"),
    ("spike-at-end", "spike at an end"),
    ("ring-at-tips", "ring at the tips"),
    ("beyond-tips", "something beyond the tips"),
    ("blades-differ", "blades differ"),
    ("bodies-left-out", "small bodies left out"),
];

/// Flags in a few words.
const FLAGGED: [(&str, &str); 22] = [
    ("mean-of-some", "with a figure that not every blade has"),
    ("refused", "not measured"),
    ("bridged", "with a hole"),
    ("gap-in-band", "with a gap"),
    ("gap-at-nose", "without its leading edge"),
    ("gap-at-tail", "without its trailing edge"),
    ("nose-missing", "without a part of its nose"),
    ("edge-unseen", "with an edge that was not seen"),
    ("departs", "off the smooth blade"),
    ("departs-from-outline", "off its outline in one part"),
    ("misfit", "with an uneven outline"),
    ("unlike-blades", "where the blades differ"),
    ("cut-differs", "where cut and outline differ"),
    ("resolution-not-corrected", "too small for the resolution of the scan"),
    ("radius-not-resolved", "with an edge too sharp for the scan"),
    ("stray-points", "with stray points"),
    ("coarse", "coarsely scanned"),
    ("few-points", "with few points"),
    ("several-loops", "in several loops"),
    ("extrapolated", "with an extrapolated figure"),
    ("measured-by-cuts", "measured by cuts alone"),
    ("stand-in", "with a substitute outline"),
];

/// Most kinds of flags that are named; the rest is counted, and all are listed below on the page.
const MOST_KINDS: usize = 3;

/// What is missing and flagged. `damage`: areas that were found on the surface, in a few words.
pub(crate) fn condition(table: &StationTable, damage: Option<&str>) -> String {
    let mut words: Vec<String> = MISSING
        .iter()
        .filter(|(code, _)| table.warnings.iter().any(|w| w.code() == *code))
        .map(|(_, words)| (*words).to_owned())
        .collect();
    words.extend(damage.map(ToOwned::to_owned));
    let all = table.stations.len();
    let flagged = table.stations.iter().filter(|s| !s.flags.is_empty()).count();
    if 0 < flagged {
        words.push(format!("{flagged} of {all} stations flagged ({})", kinds(table).join(", ")));
    }
    if words.is_empty() {
        return "nothing missing, no station flagged".to_owned();
    }
    words.join("; ")
}

/// Each kind of flag with the number of stations that have it, the most frequent first.
fn kinds(table: &StationTable) -> Vec<String> {
    let mut found: Vec<(&str, usize)> = Vec::new();
    for station in &table.stations {
        let mut codes: Vec<&str> = station.flags.iter().map(Flag::code).collect();
        codes.sort_unstable();
        codes.dedup();
        for code in codes {
            match found.iter_mut().find(|(known, _)| *known == code) {
                Some((_, count)) => *count += 1,
                None => found.push((code, 1)),
            }
        }
    }
    found.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let words = |code: &str| {
        let known = FLAGGED.iter().find(|(flag, _)| *flag == code).map(|(_, words)| (*words).to_owned());
        known.unwrap_or_else(|| if code.is_empty() { "noted".to_owned() } else { code.replace('-', " ") })
    };
    let more = found.len().saturating_sub(MOST_KINDS);
    let told = found.into_iter().take(MOST_KINDS).map(|(code, count)| format!("{count} {}", words(code)));
    told.chain((0 < more).then(|| format!("{more} more kinds").replace("1 more kinds", "1 more kind")))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loft::tests::elliptic_table;
    use bladeform_table::Notice;

    #[test]
    fn what_is_missing_comes_first_and_flags_are_counted_by_station() {
        let mut table = elliptic_table();
        assert_eq!(condition(&table, None), "nothing missing, no station flagged");
        table.warnings.push(Notice::read("tip-open: the tip ends in an open edge"));
        table.stations[0].flags.push(Flag::read("bridged: one hole"));
        table.stations[0].flags.push(Flag::read("bridged: another hole"));
        table.stations[1].flags.push(Flag::read("bridged: one hole"));
        table.stations[2].flags.push(Flag::read("radius-not-resolved: too sharp"));
        table.stations[2].flags.push(Flag::read("nearly-circular: a shank"));
        assert_eq!(
            condition(&table, Some("1 dent")),
            "tip open; 1 dent; 3 of 6 stations flagged (2 with a hole, 1 nearly circular, 1 with an edge too sharp for the scan)"
        );
        table.stations[3].flags.push(Flag::read("coarse: far apart"));
        assert!(condition(&table, None).ends_with(", 1 more kind)"));
    }
}
