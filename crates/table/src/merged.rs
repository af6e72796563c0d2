//! Flags of several stations and blades as one line each, for people. Documents keep every flag of every station.

use crate::{Flag, Station, without_details};

/// The flags of one kind of all stations together.
#[derive(Clone, Debug, PartialEq)]
pub struct MergedFlag {
    /// What they share.
    kind: Kind,
    /// The sentence of the first, without its details.
    first: String,
    /// The stations that have it: index and radius ratio, each once, in order.
    stations: Vec<(usize, f64)>,
    /// The blades or scans that have it, from 1, each once, in order; empty for flags of the stations themselves.
    members: Vec<usize>,
    /// Whether the sentences differ.
    differ: bool,
}

/// Flags of one kind: the code, or the whole text of one without a code; and what has them.
#[derive(Clone, Debug, PartialEq)]
struct Kind {
    name: String,
    of: Option<Member>,
}

/// Whether a flag was copied from a blade or from a scan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Member {
    Blade,
    Scan,
}

/// The member of a flag and its number, from 1.
fn member(flag: &Flag) -> Option<(Member, usize)> {
    match flag {
        Flag::OfBlade { index, .. } => Some((Member::Blade, *index)),
        Flag::OfScan { index, .. } => Some((Member::Scan, *index)),
        Flag::Text(text) => {
            let (word, rest) = text.split_once(' ')?;
            let of = match word {
                "blade" => Member::Blade,
                "scan" => Member::Scan,
                _ => return None,
            };
            Some((of, rest.split_once(": ")?.0.parse().ok()?))
        }
        _ => None,
    }
}

fn kind(flag: &Flag) -> Kind {
    let name = if flag.code().is_empty() { flag.text() } else { flag.code().to_owned() };
    Kind { name, of: member(flag).map(|(of, _)| of) }
}

/// Numbers up to ten in words, as in running text.
const COUNTS: [&str; 11] =
    ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];

/// Numbers as a list: `1`, `1 and 2`, `1, 2 and 5`.
fn list(numbers: &[usize]) -> String {
    let texts: Vec<String> = numbers.iter().map(ToString::to_string).collect();
    match texts.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
        None => String::new(),
    }
}

impl MergedFlag {
    /// Whether a flag is of this kind.
    #[must_use]
    pub fn holds(&self, flag: &Flag) -> bool {
        kind(flag) == self.kind
    }

    /// Where the flags are: `12 stations, 0.31 to 0.62 R, all three blades`. `all`: the number of blades or scans.
    fn place(&self, all: usize) -> String {
        let ratio = |at: Option<&(usize, f64)>| at.map_or(f64::NAN, |(_, ratio)| *ratio);
        let (from, to) = (ratio(self.stations.first()), ratio(self.stations.last()));
        let stations = match self.stations.len() {
            1 => format!("{from:.2} R"),
            count => format!("{count} stations, {from:.2} to {to:.2} R"),
        };
        let word = match self.kind.of {
            None => return stations,
            Some(Member::Blade) => "blade",
            Some(Member::Scan) => "scan",
        };
        let members = match self.members.len() {
            1 => format!("{word} {}", list(&self.members)),
            count if count == all && 1 < all => {
                let count = COUNTS.get(count).map_or_else(|| count.to_string(), |c| (*c).to_owned());
                if all == 2 { format!("both {word}s") } else { format!("all {count} {word}s") }
            }
            _ => format!("{word}s {}", list(&self.members)),
        };
        format!("{stations}, {members}")
    }

    /// One line: the code, where, and the sentence of the first with a note if the others have other figures. `all`: the number of blades or scans of the table.
    #[must_use]
    pub fn text(&self, all: usize) -> String {
        let place = self.place(all);
        let note = match (self.differ, self.stations.first()) {
            (true, Some((_, ratio))) => {
                format!(" (figures of {ratio:.2} R; the record has those of each station)")
            }
            _ => String::new(),
        };
        if self.kind.name == self.first {
            return format!("{} ({place})", self.first);
        }
        format!("{}, {place}: {}{note}", self.kind.name, self.first)
    }
}

/// The flags of stations, one entry for each kind, in the order of their first station.
///
/// ```
/// use bladeform_table::{Flag, Station, merged_flags};
/// let mut stations: Vec<Station> = [0.3, 0.5, 0.7].map(|ratio| Station::at(ratio, 1.0)).to_vec();
/// for (k, station) in stations.iter_mut().enumerate() {
///     station.flags.push(Flag::Coarse { spacing_m: 0.002 + 0.001 * k as f64, chord_m: 0.1 });
/// }
/// let merged = merged_flags(&stations);
/// assert_eq!(merged.len(), 1);
/// assert!(merged[0].text(1).starts_with("coarse, 3 stations, 0.30 to 0.70 R: scan points are 2.0 mm apart"));
/// ```
#[must_use]
pub fn merged_flags(stations: &[Station]) -> Vec<MergedFlag> {
    let mut found: Vec<MergedFlag> = Vec::new();
    for (k, station) in stations.iter().enumerate() {
        for flag in &station.flags {
            let kind = kind(flag);
            let own = if flag.code().is_empty() { flag.text() } else { flag.sentence() };
            let sentence = without_details(&own).into_owned();
            let at = found.iter().position(|merged| merged.kind == kind).unwrap_or_else(|| {
                let first = sentence.clone();
                found.push(MergedFlag { kind, first, stations: vec![], members: vec![], differ: false });
                found.len() - 1
            });
            let merged = &mut found[at];
            merged.differ |= merged.first != sentence;
            if merged.stations.last().is_none_or(|(last, _)| *last != k) {
                merged.stations.push((k, station.radius_ratio));
            }
            if let Some((_, index)) = member(flag)
                && let Err(place) = merged.members.binary_search(&index)
            {
                merged.members.insert(place, index);
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flagged(flags: &[&[&str]]) -> Vec<Station> {
        let ratio = |k: usize| 0.3 + 0.1 * k as f64;
        let station = |(k, flags): (usize, &&[&str])| Station {
            flags: flags.iter().map(|text| Flag::read(text)).collect(),
            ..Station::at(ratio(k), 1.0)
        };
        flags.iter().enumerate().map(station).collect()
    }

    #[test]
    fn the_same_flag_is_one_line_with_its_count_and_where() {
        let stations = flagged(&[
            &["blade 1: bridged: over 3.1 mm", "coarse: too coarse"],
            &[
                "blade 1: bridged: over 3.1 mm",
                "blade 2: bridged: over 9 mm",
                "blade 3: bridged: over 3.1 mm",
            ],
            &[],
            &["coarse: too coarse", "seen by eye: a nick", "blade 3: refused: no cut"],
        ]);
        let texts: Vec<String> = merged_flags(&stations).iter().map(|m| m.text(3)).collect();
        assert_eq!(
            texts,
            [
                "bridged, 2 stations, 0.30 to 0.40 R, all three blades: over 3.1 mm (figures of 0.30 R; the record has those of each station)",
                "coarse, 2 stations, 0.30 to 0.60 R: too coarse",
                "seen by eye: a nick (0.60 R)",
                "refused, 0.60 R, blade 3: no cut",
            ]
        );
    }

    #[test]
    fn a_flag_of_the_mean_is_not_one_of_a_blade() {
        let stations =
            flagged(&[&["refused: no blade", "blade 1: refused: no cut", "blade 4: refused: no cut"]]);
        let merged = merged_flags(&stations);
        let texts: Vec<String> = merged.iter().map(|m| m.text(4)).collect();
        assert_eq!(texts, ["refused, 0.30 R: no blade", "refused, 0.30 R, blades 1 and 4: no cut"]);
        assert!(merged[1].holds(&Flag::read("blade 2: refused: other")));
        assert!(!merged[0].holds(&Flag::read("blade 2: refused: other")));
    }
}
