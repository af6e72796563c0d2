//! The verdict on the blades of a propeller in sentences.

use bladeform_quantity::{COVERAGE_FACTOR_95, Measured};

use super::verdict::{amount, shift_amount, shift_text, side};
use super::{Balance, BladeDeparture, BladesComparison, Departing, MomentBy, UnlikePlace, WholeFigure};
use crate::StationColumn;

const MM_PER_M: f64 = 1e3;

impl BladesComparison {
    /// The verdict in sentences: first whether the blades are alike, then each departure, then what would have counted. Blades are counted from 1.
    #[must_use]
    pub fn verdict_sentences(&self) -> Vec<String> {
        let v = &self.verdict;
        let Some(alike) = v.is_alike() else {
            return vec![
                "No verdict: no figure with a stated uncertainty is at four stations of every blade, and no tip radius, track or azimuth has one.".to_owned(),
            ];
        };
        let explained = format!(
            "than chance explains in 19 of 20 propellers of equal blades ({:.1} standard uncertainties at a station, {:.1} along a whole blade, {:.1} in tip radius, track and spacing)",
            v.limit, v.shift_limit, v.whole_limit
        );
        let mut lines = vec![if alike {
            format!("Alike: no blade differs from the others by more {explained}.")
        } else {
            format!("Not alike: blades differ by more {explained}.")
        }];
        if !alike && !v.has_accuracy {
            lines.push("That does not contain errors of the scan over long distances, which are not stated: a bent scan of equal blades says the same.".to_owned());
        }
        for departure in &v.departures {
            lines.extend(departure.sentences());
        }
        if v.departures.iter().any(|d| d.others.len() == 1) {
            lines.push(
                "Two blades do not show which of them departs: a drawing or a third blade does.".to_owned(),
            );
        }
        lines.extend(self.not_found());
        lines.extend(self.seen());
        lines
    }

    /// What would have counted.
    fn seen(&self) -> Vec<String> {
        let seen = &self.verdict.seen_from;
        let shape: Vec<String> = seen
            .iter()
            .map(|s| format!("{} {}", s.column.shown().label, amount(s.column, s.shape)))
            .collect();
        let shift: Vec<String> = seen
            .iter()
            .filter_map(|s| Some(format!("{} {}", s.column.shown().label, shift_amount(s.column, s.shift?))))
            .collect();
        let line = |what: &str, of: Vec<String>| {
            (!of.is_empty()).then(|| format!("{what} counts from: {}.", of.join(", ")))
        };
        [
            line("At a usual station a difference in shape", shape),
            line("A difference along a whole blade", shift),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// The figures without a departure, if others have one; and those that were not judged.
    fn not_found(&self) -> Vec<String> {
        let v = &self.verdict;
        let departs = |c: StationColumn| {
            v.departures.iter().any(|d| matches!(&d.what, Departing::Figure(f) if f.column == c))
        };
        let departs_whole = |w: WholeFigure| {
            v.departures.iter().any(|d| matches!(&d.what, Departing::Whole(of, _) if *of == w))
        };
        let figures = v.seen_from.iter().map(|s| s.column).filter(|c| !departs(*c)).map(|c| c.shown().label);
        let wholes = v.wholes.iter().filter(|w| !departs_whole(**w)).map(|w| w.name());
        let alike: Vec<&str> = figures.chain(wholes).collect();
        let shifts = v.seen_from.iter().filter(|s| s.shift.is_none());
        let shifts = shifts.map(|s| format!("{} along a whole blade", s.column.shown().label));
        let unjudged = WholeFigure::ALL.into_iter().filter(|w| !v.wholes.contains(w));
        let unjudged: Vec<String> = shifts.chain(unjudged.map(|w| w.name().to_owned())).collect();
        let mut lines = Vec::new();
        if !v.departures.is_empty() && !alike.is_empty() {
            lines.push(format!("No difference was found in: {}.", alike.join(", ")));
        }
        if !unjudged.is_empty() {
            lines.push(format!("Not judged, since no uncertainty is known: {}.", unjudged.join(", ")));
        }
        lines
    }
}

/// A moment of mass: 1 kg m is 100,000 g cm.
const GCM_PER_KGM: f64 = 1e5;
const G_PER_KG: f64 = 1e3;

impl Balance {
    /// The unbalance and what would balance it, in sentences. Blades are counted from 1.
    #[must_use]
    pub fn sentences(&self) -> Vec<String> {
        let by = match self.by {
            MomentBy::Surface => "the closed surface of the scan, with hub",
            MomentBy::Sections => "section areas along the blades, without hub",
        };
        let mut lines = vec![format!(
            "Balance at {} kg/m3 throughout, from {by}: mass {:.3} kg.",
            self.density_kg_m3, self.mass_kg
        )];
        let moments = self
            .blades
            .iter()
            .map(|b| format!("blade {} {} ({:.3} kg)", b.index + 1, moment(b.moment_kg_m), b.mass_kg));
        lines.push(format!("Moments about the axis: {}.", moments.collect::<Vec<_>>().join(", ")));
        let size = self.size_kg_m();
        if self.is_beyond_chance() == Some(false) {
            lines.push(format!(
                "Unbalance: {}: no more than chance explains in 19 of 20 balanced propellers, so that no heavy side and no weight is stated.",
                moment(size)
            ));
            return lines;
        }
        let known = if self.is_beyond_chance().is_some() {
            "beyond what chance explains in 19 of 20 balanced propellers"
        } else {
            "without an interval, since no uncertainty is known"
        };
        lines.push(format!(
            "Unbalance: {}, heavy at {:.0} deg from blade 1 in the direction of rotation; {known}.",
            moment(size),
            self.heavy_deg()
        ));
        lines.extend(self.weight_sentence());
        lines
    }

    fn weight_sentence(&self) -> Option<String> {
        let weights: Vec<String> = self
            .weights
            .iter()
            .map(|w| {
                format!(
                    "{:.1} g (± {:.1} g, 2 u) on blade {}",
                    G_PER_KG * w.mass_kg.value,
                    G_PER_KG * COVERAGE_FACTOR_95 * w.mass_kg.u,
                    w.index + 1
                )
            })
            .collect();
        let across = self.across_kg_m.map_or_else(String::new, |m| {
            format!(
                "; {} remain across the blades, which only a weight on the hub balances",
                moment(Measured::new(m.value.abs(), m.u))
            )
        });
        (!weights.is_empty()).then(|| {
            format!(
                "It would be balanced by {} at a radius of {:.1} mm{across}.",
                weights.join(" and "),
                MM_PER_M * self.weight_radius_m
            )
        })
    }
}

/// A moment of mass with its interval.
fn moment(m: Measured) -> String {
    format!("{:.0} g cm (± {:.0}, 2 u)", GCM_PER_KGM * m.value, GCM_PER_KGM * COVERAGE_FACTOR_95 * m.u)
}

impl WholeFigure {
    /// The name of the figure.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::TipRadius => "tip radius",
            Self::Track => "track",
            Self::Azimuth => "spacing around the axis",
        }
    }

    /// Which way a difference of the figure points.
    const fn way(self, value: f64) -> &'static str {
        match (self, 0.0 < value) {
            (Self::TipRadius, true) => "longer",
            (Self::TipRadius, false) => "shorter",
            (Self::Track, true) => "farther forward",
            (Self::Track, false) => "farther aft",
            (Self::Azimuth, true) => "ahead",
            (Self::Azimuth, false) => "behind",
        }
    }

    /// A difference and its interval, without its sign.
    fn amounts(self, d: &Measured) -> [String; 2] {
        let (value, u) = (d.value.abs(), COVERAGE_FACTOR_95 * d.u);
        match self {
            Self::Azimuth => [format!("{value:.2} deg"), format!("{u:.2}")],
            _ => [format!("{:.1} mm", MM_PER_M * value), format!("{:.1}", MM_PER_M * u)],
        }
    }
}

impl BladeDeparture {
    fn sentences(&self) -> Vec<String> {
        let numbers: Vec<String> = self.others.iter().map(|k| (k + 1).to_string()).collect();
        let than = match &numbers[..] {
            [one] => format!("blade {one}"),
            [first @ .., last] => format!("the mean of blades {} and {last}", first.join(", ")),
            [] => String::new(),
        };
        let who = format!("Blade {}", self.index + 1);
        match &self.what {
            Departing::Whole(figure, d) => {
                let ([by, interval], way) = (figure.amounts(d), figure.way(d.value));
                vec![match figure {
                    WholeFigure::TipRadius => {
                        format!("{who}: {by} {way} than {than} (± {interval}, 2 u).")
                    }
                    WholeFigure::Track => {
                        format!("{who}: track: {by} {way} than {than} (± {interval}, 2 u).")
                    }
                    WholeFigure::Azimuth => format!(
                        "{who}: spacing: {by} {way} of its even place by {than}, in the direction of rotation (± {interval}, 2 u)."
                    ),
                }]
            }
            Departing::Figure(f) => {
                let name = f.column.shown().label;
                let mut lines = Vec::new();
                if let Some(shift) = f.shift.filter(|_| f.is_shifted) {
                    lines.push(format!(
                        "{who}: {name}: {} than {than} along the whole blade.",
                        shift_text(f.column, shift)
                    ));
                }
                lines.extend(f.places.iter().map(|p| place_sentence(&who, &than, f.column, p)));
                lines
            }
        }
    }
}

fn place_sentence(who: &str, than: &str, column: StationColumn, place: &UnlikePlace) -> String {
    let UnlikePlace { from_to: [from, to], at, difference } = place;
    let span = if from.total_cmp(to).is_eq() {
        format!("at {at:.2} R")
    } else {
        format!("from {from:.2} R to {to:.2} R, most at {at:.2} R")
    };
    let shown = column.shown();
    format!(
        "{who}: {}: {span}: {} {} than {than}, beyond what the whole blades differ by (± {}, 2 u).",
        shown.label,
        amount(column, difference.value.abs()),
        side(difference.value),
        shown.text(Some(COVERAGE_FACTOR_95 * difference.u))
    )
}
