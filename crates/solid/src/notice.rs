//! Everything that a solid must report: what was guessed, changed or left out. One code and one sentence each.

use bladeform_quantity::{COVERAGE_FACTOR_95, Measured};
use bladeform_table::{BoltFigures, Coded, TableNotice, with_details};

use crate::holes::{BoltCircle, Bolts, HoleFault};
use crate::open_outline::LEAST_TAIL;

/// A size of a hub.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HubSize {
    /// Its diameter.
    Diameter,
    /// Its length along the axis of rotation.
    Length,
    /// The diameter of its bore.
    Bore,
}

impl HubSize {
    const fn name(self) -> &'static str {
        match self {
            Self::Diameter => "diameter",
            Self::Length => "length",
            Self::Bore => "bore diameter",
        }
    }
}

/// What was guessed, changed or left out in a solid.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum SolidNotice {
    /// A notice about the table.
    Table(TableNotice),
    /// Another diameter was requested.
    BladeMoved {
        /// Outwards, m; negative is inwards.
        shift_m: f64,
        /// The new tip radius, m.
        tip_m: f64,
    },
    /// The hub's length was chosen.
    HubLengthChosen {
        /// The chosen length, m.
        length_m: f64,
    },
    /// The hub's diameter was chosen.
    HubDiameterChosen {
        /// The chosen diameter, m.
        diameter_m: f64,
    },
    /// The hub is that of the table.
    HubMeasured {
        /// Whether its middle is under the roots of a screw; else it is on the blade axes.
        under_roots: bool,
        /// The diameter that is used, m.
        diameter_m: Option<Measured>,
        /// The length that is used, m.
        length_m: Option<Measured>,
        /// The diameter of the bore that is used, m.
        bore_diameter_m: Option<Measured>,
        /// The diameter of a bore that is not made, as asked, m.
        full_m: Option<Measured>,
        /// Whether the front is flat without being asked for.
        flat: bool,
        /// Whether the table states no bolt holes, and none were asked for.
        no_bolts: bool,
        /// A diameter of the table that cannot hold the blades and is not used, m.
        unfit_m: Option<f64>,
        /// Given sizes that are not those of the scan: which, given and measured, m.
        other: Vec<(HubSize, f64, Measured)>,
    },
    /// The table states bolt holes: whether they are made.
    BoltsMeasured {
        /// Those of the table.
        bolts: BoltFigures,
        /// Which were asked for.
        asked: Bolts,
        /// Why those of the table are not made: the hub has no room for them.
        no_room: Option<HoleFault>,
    },
    /// The angle between bolt holes and blades was not stated.
    BoltsOnBlade,
    /// The setting places relative angles.
    RelativeAngles,
    /// The blade keeps relative angles.
    AnglesOfTable,
    /// The facets are coarser than requested.
    CoarseFacets {
        /// Maximum distance from the smooth surface, m.
        found_m: f64,
        /// The requested one, m.
        requested_m: f64,
    },
    /// The setting applies beyond the stations.
    SettingExtrapolated {
        /// Radius where the setting applies, as a fraction of the tip radius.
        radius_ratio: f64,
        /// Distance beyond the stations, m.
        beyond_m: f64,
        /// Angle of the table there with its uncertainty, deg.
        angle_deg: Measured,
    },
    /// The hub covers a part of the blade.
    RootCovered {
        /// Length of blade inside the hub, m.
        covered_m: f64,
        /// Radius of the root end, m.
        root_m: f64,
    },
    /// The blade is extended into the hub.
    RootExtended {
        /// Radius of the root end, m.
        root_m: f64,
        /// Radius of the hub, m.
        hub_m: f64,
    },
    /// The root is narrowed into a hub that is narrower.
    RootNarrowed {
        /// Greatest width of the root where the narrowing begins, m.
        width_m: f64,
        /// Diameter of the hub, m.
        hub_m: f64,
        /// Least width at which the blade comes out of the hub, m.
        at_hub_m: f64,
        /// Radius from which it is narrowed, m.
        from_m: f64,
    },
    /// The tip was not measured.
    TipExtrapolated {
        /// Radius of the last station, m.
        last_m: f64,
        /// Radius of the tip, m.
        tip_m: f64,
    },
    /// Stations without an outline.
    SubstituteSections {
        /// Number of them.
        count: usize,
        /// Number of all.
        all: usize,
    },
    /// Stations without a mid-chord.
    NoMidChord {
        /// Number of them.
        count: usize,
        /// Number of all.
        all: usize,
    },
    /// Thin trailing edges were thickened.
    TailsOpened {
        /// Number of affected sections.
        count: usize,
        /// Number of all.
        all: usize,
    },
    /// Back and face crossed.
    CrossingsRemoved {
        /// Number of affected sections.
        count: usize,
        /// Number of all.
        all: usize,
        /// Maximum change, m.
        most_m: f64,
    },
    /// Outlines end short of their stated chords.
    OutlinesLengthened {
        /// Number of affected sections.
        count: usize,
        /// Number of all.
        all: usize,
        /// Greatest length added, m.
        most_m: f64,
    },
    /// The hub of a screw is put under the roots of its blades.
    HubUnderRoots {
        /// Height of its middle above the blade axes, m.
        middle_m: f64,
    },
    /// Trailing edges were made flat.
    TailsStraightened {
        /// Number of affected sections.
        count: usize,
        /// Number of all.
        all: usize,
        /// Maximum change, m.
        most_m: f64,
    },
    /// Stations were left out.
    StationsLeftOut {
        /// Their radii, m.
        radii_m: Vec<f64>,
    },
    /// A given shank was built, in place of what the table may hold.
    ShankAdded {
        /// Its diameter, m.
        diameter_m: f64,
        /// From this radius, m.
        from_m: f64,
        /// To this radius, m.
        to_m: f64,
    },
    /// The shank is not round.
    ShankOval {
        /// From this radius, m.
        from_m: f64,
        /// To this radius, m.
        to_m: f64,
    },
    /// A transition was inserted.
    TransitionAdded {
        /// Outer end of the shank, m.
        shank_m: f64,
        /// First section, m.
        first_m: f64,
    },
    /// The blade begins at its first station.
    BeginsAtFirst {
        /// Radius of the first station, m.
        first_m: f64,
    },
    /// The first section continues to the root.
    NoShank {
        /// Radius of the first station, m.
        first_m: f64,
        /// Radius of the root, m.
        root_m: f64,
    },
    /// The root is built through sections of the scan.
    RootMeasured {
        /// Number of them.
        sections: usize,
        /// Sections that could not be used, above all since the scan does not show the whole outline.
        left_out: usize,
        /// Radius of the root end, m.
        root_m: f64,
        /// Radius of the innermost section, m.
        innermost_m: f64,
        /// Radius of the first station, m.
        first_m: f64,
        /// Radii between which sections are round, and their least and greatest diameter, m.
        round: Option<[f64; 4]>,
    },
    /// The surface holds another volume than the scan.
    VolumeDiffers {
        /// Volume of the surface, m3.
        surface_m3: f64,
        /// Volume of the scanned blade, m3.
        scan_m3: f64,
    },
    /// The scan is out of all proportion away from the surface.
    ScanFar {
        /// Root mean square distance, m.
        rms_m: f64,
        /// Longest chord of the table, m.
        chord_m: f64,
    },
    /// Pieces of the scan were not compared.
    ScanFragments {
        /// Number of pieces.
        pieces: usize,
        /// Number of their points among the compared ones.
        points: usize,
        /// The nearest of them is so far from the surface, m.
        nearest_m: f64,
    },
}

/// Lengths are shown in millimetres.
const MM_PER_M: f64 = 1e3;
/// Volumes are shown in cubic centimetres.
const CM3_PER_M3: f64 = 1e6;
/// Fractions are shown in per cent.
const PERCENT: f64 = 100.0;

impl Coded for SolidNotice {
    fn code(&self) -> &str {
        match self {
            Self::Table(notice) => notice.code(),
            Self::BladeMoved { .. } => "blade-moved",
            Self::HubLengthChosen { .. } => "hub-length-chosen",
            Self::HubDiameterChosen { .. } => "hub-diameter-chosen",
            Self::HubMeasured { .. } => "hub-measured",
            Self::BoltsMeasured { .. } => "bolts-measured",
            Self::BoltsOnBlade => "bolts-on-blade",
            Self::RelativeAngles => "relative-angles-placed",
            Self::AnglesOfTable => "angles-of-table",
            Self::CoarseFacets { .. } => "coarse-facets",
            Self::SettingExtrapolated { .. } => "setting-extrapolated",
            Self::RootCovered { .. } => "root-covered",
            Self::RootExtended { .. } => "root-extended",
            Self::RootNarrowed { .. } => "root-narrowed",
            Self::TipExtrapolated { .. } => "tip-extrapolated",
            Self::SubstituteSections { .. } => "substitute-sections",
            Self::NoMidChord { .. } => "no-mid-chord",
            Self::TailsOpened { .. } => "tails-opened",
            Self::CrossingsRemoved { .. } => "crossings-removed",
            Self::OutlinesLengthened { .. } => "outlines-lengthened",
            Self::HubUnderRoots { .. } => "hub-under-roots",
            Self::TailsStraightened { .. } => "tails-straightened",
            Self::StationsLeftOut { .. } => "stations-left-out",
            Self::ShankAdded { .. } => "shank-added",
            Self::ShankOval { .. } => "shank-oval",
            Self::TransitionAdded { .. } => "transition-added",
            Self::BeginsAtFirst { .. } => "begins-at-first-station",
            Self::NoShank { .. } => "no-shank",
            Self::RootMeasured { .. } => "root-measured",
            Self::VolumeDiffers { .. } => "volume-differs",
            Self::ScanFar { .. } => "scan-far",
            Self::ScanFragments { .. } => "scan-fragments",
        }
    }

    fn sentence(&self) -> String {
        match self {
            Self::Table(notice) => notice.sentence(),
            Self::BladeMoved { shift_m, tip_m } => format!("the blade is moved {:.1} mm {} along its own axis to the diameter of {:.1} mm; its sections keep their size", MM_PER_M * shift_m.abs(), if *shift_m < 0.0 { "inwards" } else { "outwards" }, 2.0 * MM_PER_M * tip_m),
            Self::HubLengthChosen { length_m } => format!("the length of the hub was not given; {:.0} mm is used", (MM_PER_M * length_m).ceil()),
            Self::HubDiameterChosen { diameter_m } => format!("the diameter of the hub was not given; {:.1} mm is used", MM_PER_M * diameter_m),
            Self::HubMeasured { .. } => self.hub_text(),
            Self::BoltsMeasured { bolts, asked, no_room } => bolts_text(bolts, asked, no_room.as_ref()),
            Self::BoltsOnBlade => "the angle between bolt holes and blades was not given: the first hole is put on the axis of the first blade. If the part has another angle, these blades stand wrong against its bolts; state the angle".to_owned(),
            Self::RelativeAngles => "the table's angles are relative: only the given setting makes them absolute, and an error there turns the whole blade".to_owned(),
            Self::AnglesOfTable => "the table's angles are relative and no setting was given: the blade has the angles of the table".to_owned(),
            Self::CoarseFacets { found_m, requested_m } => format!("the facets are up to {:.4} mm from the smooth surface, more than the requested {:.4} mm", MM_PER_M * found_m, MM_PER_M * requested_m),
            Self::SettingExtrapolated { radius_ratio, beyond_m, angle_deg } => format!("the angle at {radius_ratio} R is extrapolated {:.1} mm beyond the stations; there the table's angle is {:.2} deg, +/- {:.2} deg", MM_PER_M * beyond_m, angle_deg.value, 2.0 * angle_deg.u),
            Self::RootCovered { covered_m, root_m } => format!("the hub covers {:.1} mm of the blade beyond its root end at {:.1} mm", MM_PER_M * covered_m, MM_PER_M * root_m),
            Self::RootExtended { root_m, hub_m } => format!("the blade ends at {:.1} mm and the hub at {:.1} mm: the root end is extended straight into the hub", MM_PER_M * root_m, MM_PER_M * hub_m),
            Self::RootNarrowed { width_m, hub_m, at_hub_m, from_m } => format!("the blade is {:.1} mm wide at {:.1} mm radius, too wide to go straight into the hub of {:.1} mm: from there inwards it is narrowed evenly, and where it comes out of the hub it may be only {:.1} mm wide. This shape was not measured; look at it before use", MM_PER_M * width_m, MM_PER_M * from_m, MM_PER_M * hub_m, MM_PER_M * at_hub_m),
            Self::TipExtrapolated { last_m, tip_m } => format!("the last station is at {:.1} mm and the tip at {:.1} mm: the planform between them is extrapolated to a rounded tip and was not measured", MM_PER_M * last_m, MM_PER_M * tip_m),
            Self::SubstituteSections { count, all } => format!("{count} of {all} stations have no outline: NACA four-digit sections of their thickness and camber are used"),
            Self::NoMidChord { count, all } => format!("{count} of {all} stations do not state the place of their mid-chord: it is put on the pitch-change axis"),
            Self::TailsOpened { count, all } => format!("{count} of {all} sections have a trailing edge thinner than {:.2} % of the chord: it is thickened to that over the rear half of the chord", PERCENT * LEAST_TAIL),
            Self::CrossingsRemoved { count, all, most_m } => format!("back and face cross at the trailing edge of {count} of {all} sections, by {:.4} mm at most: small loops are cut off, larger ones are moved apart", MM_PER_M * most_m),
            Self::OutlinesLengthened { count, all, most_m } => format!("the outlines of {count} of {all} sections end up to {:.3} mm short of the stated chord, since the scan does not show their very ends: they are stretched along the chord to its length", MM_PER_M * most_m),
            Self::HubUnderRoots { middle_m } => format!("the table does not state where the hub lies along the axis of rotation: its middle is put under the roots of the blades, {:.1} mm {} the blade axes", MM_PER_M * middle_m.abs(), if *middle_m < 0.0 { "behind" } else { "ahead of" }),
            Self::TailsStraightened { count, all, most_m } => format!("the last 0.25 % to 1 % of the chord of {count} of {all} sections is replaced by straight lines to a flat trailing edge, which moves it by {:.3} mm at most", MM_PER_M * most_m),
            Self::StationsLeftOut { radii_m } => stations_left_out(radii_m),
            Self::ShankAdded { diameter_m, from_m, to_m } => format!("the given round shank of {:.1} mm diameter extends from {:.1} mm to {:.1} mm radius; what the table may hold there is not used", MM_PER_M * diameter_m, MM_PER_M * from_m, MM_PER_M * to_m),
            Self::ShankOval { from_m, to_m } => format!("the shank is not quite round from {:.1} to {:.1} mm, and the table does not state the direction of its longest chord there: it is put along the first section's chord", MM_PER_M * from_m, MM_PER_M * to_m),
            Self::TransitionAdded { shank_m, first_m } => format!("nothing was measured between the round shank at {:.1} mm and the first section at {:.1} mm: a smooth transition is inserted", MM_PER_M * shank_m, MM_PER_M * first_m),
            Self::BeginsAtFirst { first_m } => format!("the table has neither a root radius nor a shank: the blade begins at its first station, {:.1} mm", MM_PER_M * first_m),
            Self::NoShank { first_m, root_m } => format!("the table has no shank: the first section, at {:.1} mm, is extended straight inwards to the root at {:.1} mm. A real shank is thinner there, so volume and weight come out wrong", MM_PER_M * first_m, MM_PER_M * root_m),
            Self::RootMeasured { .. } => self.root_text(),
            Self::VolumeDiffers { surface_m3, scan_m3 } => format!(
                "the surface holds {:.0} cm3 and the scanned blade {:.0} cm3, {:+.0} %: what lies between and beyond the stations is not as scanned, above all at the root. Mass and moments come out wrong by as much; measure more stations there",
                CM3_PER_M3 * surface_m3,
                CM3_PER_M3 * scan_m3,
                PERCENT * (surface_m3 / scan_m3 - 1.0)
            ),
            Self::ScanFar { rms_m, chord_m } => format!("the scan is {:.1} mm away from the smooth surface (RMS), against a longest chord of {:.1} mm: it is no scan of this blade, or frame.scan_to_blade does not place it; the distances say nothing about the surface. Measure the scan again and use that table", MM_PER_M * rms_m, MM_PER_M * chord_m),
            Self::ScanFragments { pieces, points, nearest_m } => format!("{pieces} {} of the scan with {points} of the compared points, {:.1} mm or more away from the smooth surface, {} no part of the blade and not in the distances; look at the scan if the blade should be there", if *pieces == 1 { "piece" } else { "pieces" }, MM_PER_M * nearest_m, if *pieces == 1 { "is" } else { "are" }),
        }
    }
}

/// What becomes of the bolt holes of a table.
fn bolts_text(bolts: &BoltFigures, asked: &Bolts, no_room: Option<&HoleFault>) -> String {
    let mm = |m: &Measured| {
        format!("{:.1} mm ± {:.1} mm", MM_PER_M * m.value, MM_PER_M * COVERAGE_FACTOR_95 * m.u)
    };
    let unseen =
        if bolts.seen < bolts.count { format!(" (seen at {} places)", bolts.seen) } else { String::new() };
    let holes = format!(
        "{} bolt holes{unseen} of {} on a circle of {}",
        bolts.count,
        mm(&bolts.hole_diameter_m),
        mm(&bolts.circle_diameter_m)
    );
    match (asked, no_room) {
        (Bolts::AsMeasured, Some(fault)) => {
            format!("the measured {holes} are not made, since this hub has no room for them: {fault}")
        }
        (Bolts::AsMeasured, None) => format!(
            "the bolt holes are as measured: {holes}, the first at {:.1} deg ± {:.1} deg from the first blade in the direction of rotation. They go straight through: depth, threads and countersinks are not made",
            bolts.first_deg.value,
            COVERAGE_FACTOR_95 * bolts.first_deg.u
        ),
        (Bolts::None, _) => format!(
            "the {holes} that the scan shows are not made, as asked: mass and moments are those of a hub without them"
        ),
        (Bolts::Given(_), _) => format!(
            "the bolt holes are as given; the scan shows {holes}, the first at {:.1} deg from the first blade: the hub is not drilled as the part is",
            bolts.first_deg.value
        ),
    }
}

impl SolidNotice {
    /// That of the bolt holes of a table; `None` where the given ones are the same.
    pub(crate) fn of_bolts(bolts: BoltFigures, asked: Bolts, no_room: Option<HoleFault>) -> Option<Self> {
        let is_same = |given: &BoltCircle| {
            u64::from(given.count) == bolts.count
                && is_near(given.hole_diameter_m, &bolts.hole_diameter_m)
                && is_near(given.circle_diameter_m, &bolts.circle_diameter_m)
                && given.first_deg.is_none_or(|a| is_at(a, &bolts))
        };
        let is_said = !matches!(&asked, Bolts::Given(given) if is_same(given));
        is_said.then_some(Self::BoltsMeasured { bolts, asked, no_room })
    }
}

/// Whether a given angle is that of a measured hole, to half a degree (chosen: what a protractor reads) and its uncertainty.
fn is_at(given_deg: f64, bolts: &BoltFigures) -> bool {
    let step = 360.0 / bolts.count as f64;
    let off = (given_deg - bolts.first_deg.value + 0.5 * step).rem_euclid(step) - 0.5 * step;
    off.abs() <= 0.5 + COVERAGE_FACTOR_95 * bolts.first_deg.u
}

/// Whether a given size is the measured one, to 1 % and its uncertainty.
fn is_near(given_m: f64, seen: &Measured) -> bool {
    (given_m - seen.value).abs() <= 0.01 * seen.value + COVERAGE_FACTOR_95 * seen.u
}

impl SolidNotice {
    /// The sentence of a measured hub.
    fn hub_text(&self) -> String {
        let Self::HubMeasured {
            under_roots,
            diameter_m,
            length_m,
            bore_diameter_m,
            full_m,
            flat,
            no_bolts,
            unfit_m,
            other,
        } = self
        else {
            return String::new();
        };
        let mm = |m: &Measured| {
            format!("{:.1} mm ± {:.1} mm", MM_PER_M * m.value, MM_PER_M * COVERAGE_FACTOR_95 * m.u)
        };
        let mut parts = Vec::new();
        let used: Vec<String> = [("diameter", diameter_m), ("length", length_m), ("bore", bore_diameter_m)]
            .into_iter()
            .filter_map(|(name, m)| Some(format!("{name} {}", mm(m.as_ref()?))))
            .collect();
        if !used.is_empty() {
            let flat = if *flat { ", with a flat front" } else { "" };
            let place = if *under_roots { "" } else { ", centred on the blades' axes" };
            parts.push(format!("the hub is as measured: {}{flat}{place}", used.join(", ")));
        }
        if let Some(unfit) = unfit_m {
            parts.push(format!(
                "the measured hub of {:.1} mm diameter cannot hold the blades and is not used",
                MM_PER_M * unfit
            ));
        }
        for (size, given, seen) in other {
            let name = size.name();
            parts.push(format!(
                "the hub has the given {name} of {:.1} mm, the scan shows {}: hub, roots and mass are not those of the part",
                MM_PER_M * given,
                mm(seen)
            ));
        }
        if let Some(bore) = full_m {
            parts.push(format!(
                "the bore of {} that the scan shows is not made, as asked: mass and moments are those of a full hub",
                mm(bore)
            ));
        }
        if bore_diameter_m.is_some() {
            parts.push("the bore goes straight through: a taper, steps and keyways are not made".to_owned());
        }
        if *no_bolts {
            parts.push(
                "the table states no bolt holes and none are made: the part may have some that the scan does not show"
                    .to_owned(),
            );
        }
        parts.join("; ")
    }

    /// The sentence of a measured root.
    fn root_text(&self) -> String {
        let Self::RootMeasured { sections, left_out, root_m, innermost_m, first_m, round } = self else {
            return String::new();
        };
        let mm = |m: &f64| format!("{:.1} mm", MM_PER_M * m);
        let round = round.as_ref().map_or(String::new(), |[from, to, least, greatest]| {
            let diameter = if MM_PER_M * (greatest - least) < 0.1 {
                mm(greatest)
            } else {
                format!("{} to {}", mm(least), mm(greatest))
            };
            let (from, to) = (mm(from), mm(to));
            format!("; it is round between {from} and {to}, with a diameter of {diameter}")
        });
        let left_out = match left_out {
            0 => String::new(),
            n => format!(
                "; {n} more {} left out, since the scan does not show the whole outline there or the outline crosses itself",
                if *n == 1 { "is" } else { "are" }
            ),
        };
        // The innermost section lies a little outside the end.
        let carried = if 0.1 * (first_m - root_m) < innermost_m - root_m {
            format!(
                "; from {} inwards nothing was measured and the last section goes straight on, so volume and weight may come out wrong",
                mm(innermost_m)
            )
        } else {
            String::new()
        };
        format!(
            "the root from {} to the first station at {} is built through {sections} sections of the scan{round}{left_out}{carried}",
            mm(root_m),
            mm(first_m)
        )
    }
}

/// So many radii are named in a sentence; all are in the details.
const MOST_RADII: usize = 6;

fn stations_left_out(radii_m: &[f64]) -> String {
    let listed = |radii_m: &[f64]| {
        radii_m.iter().map(|r| format!("{:.1}", MM_PER_M * r)).collect::<Vec<_>>().join(", ")
    };
    let named = &radii_m[..radii_m.len().min(MOST_RADII)];
    let more = match radii_m.len() - named.len() {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let sentence = format!(
        "stations without a usable section (no outline and no thickness with camber, no chord, no angle, or at the very tip) are left out: {} mm{more}",
        listed(named)
    );
    if more.is_empty() { sentence } else { with_details(&sentence, &format!("{} mm", listed(radii_m))) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_quantity::Measured;
    use bladeform_table::without_details;

    #[test]
    fn no_sentence_is_long_whatever_its_figures() {
        // Some four lines of a terminal, characters (the project's own limit).
        const LONGEST: usize = 420;
        let far = 12.345_678;
        for notice in [
            SolidNotice::StationsLeftOut { radii_m: vec![far; 1000] },
            SolidNotice::SettingExtrapolated {
                radius_ratio: 0.123_456_789,
                beyond_m: far,
                angle_deg: Measured::new(-89.99, 12.3),
            },
            SolidNotice::VolumeDiffers { surface_m3: 12.3, scan_m3: 1.2 },
            SolidNotice::ScanFar { rms_m: far, chord_m: far },
            SolidNotice::ScanFragments { pieces: 12_345, points: 1_234_567, nearest_m: far },
            SolidNotice::ShankOval { from_m: far, to_m: far },
            SolidNotice::NoShank { first_m: far, root_m: far },
            SolidNotice::TailsStraightened { count: 1000, all: 1000, most_m: far },
        ] {
            let sentence = notice.sentence();
            let shown = without_details(&sentence);
            assert!(shown.chars().count() <= LONGEST, "{}: {shown}", notice.code());
        }
        let six = SolidNotice::StationsLeftOut { radii_m: vec![0.1; 6] }.sentence();
        assert!(six.ends_with("100.0, 100.0 mm"), "{six}");
    }
}
