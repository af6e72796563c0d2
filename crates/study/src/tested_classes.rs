//! How far predictions are from published tests by kind of propeller and state of flow, and whether the interval stated from the other propellers covers each one.
//!
//! The points of one propeller are off together, so a propeller is the unit: each has the same weight in a root mean square, however many points it has, and the interval is tested by leaving
//! one propeller out: `u` from the others' points as predictions state it, and the share of its points within `2 u`. A state that one propeller alone has been tested in cannot be tested so.

use crate::markdown::Table;
use bladeform_flow::{Tested, TestedState};
use std::collections::BTreeSet;
use std::error::Error;
use std::fmt::Write as _;
use std::io::Write;

/// The differences of all published points, as the study wrote them.
#[cfg(test)]
const RECORDED: &str = include_str!("../data/found_differences.csv");
/// The headings of the record.
const HEAD: &str = "# Differences of predictions from published tests, written by the study `published_propellers` (third argument); not to be edited.\n# difference: of thrust and power as a fraction of the published (of the dynamic pressure on the blades, state `lightly loaded or slightly braking`), of the efficiency as it is.\nstate,propeller,run,J,quantity,difference\n";

/// The quantities: thrust, power, efficiency.
pub(crate) const QUANTITIES: [&str; 3] = ["thrust", "power", "efficiency"];

/// One difference.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Found {
    pub(crate) state: TestedState,
    /// The propeller or the series of propellers of one blade.
    pub(crate) propeller: String,
    /// Its setting or rotational speed.
    pub(crate) run: String,
    pub(crate) advance_ratio: f64,
    /// Index to [`QUANTITIES`].
    pub(crate) quantity: usize,
    pub(crate) difference: f64,
}

/// All differences.
#[derive(Clone, Debug, Default)]
pub(crate) struct Classes(Vec<Found>);

/// Which part of the points is left out.
#[derive(Clone, Copy)]
enum Part {
    Propeller,
    Run,
}

impl Part {
    fn of(self, f: &Found) -> &str {
        match self {
            Self::Propeller => &f.propeller,
            Self::Run => &f.run,
        }
    }
}

/// What is stated of a quantity.
fn stated(state: TestedState, quantity: usize) -> Option<Tested> {
    let a = state.agreement();
    [a.thrust, a.power, a.efficiency][quantity]
}

/// Root mean square over parts of equal weight, with their number. `None` without any.
fn rms<'a>(found: impl Iterator<Item = &'a Found> + Clone, part: Part) -> Option<Tested> {
    let parts: BTreeSet<&str> = found.clone().map(|f| part.of(f)).collect();
    let square = |name: &str| {
        let of = found.clone().filter(|f| part.of(f) == name);
        let (sum, n) = of.fold((0.0, 0.0), |(sum, n), f| (sum + f.difference * f.difference, n + 1.0));
        sum / n
    };
    let mean = parts.iter().map(|p| square(p)).sum::<f64>() / parts.len() as f64;
    (!parts.is_empty()).then(|| Tested { rms: mean.sqrt(), propellers: parts.len() })
}

impl Classes {
    /// Adds a difference that is a number.
    pub(crate) fn add(&mut self, found: Found) {
        if found.difference.is_finite() {
            self.0.push(found);
        }
    }

    fn of(&self, state: TestedState, quantity: usize) -> impl Iterator<Item = &Found> + Clone {
        self.0.iter().filter(move |f| f.state == state && f.quantity == quantity)
    }

    fn names(&self, state: TestedState, quantity: usize, part: Part) -> BTreeSet<&str> {
        self.of(state, quantity).map(|f| part.of(f)).collect()
    }

    /// Points within twice the uncertainty that the other parts give, and all points. `None` if there is one part only.
    fn within(&self, state: TestedState, quantity: usize, part: Part) -> Option<[usize; 2]> {
        let names = self.names(state, quantity, part);
        if names.len() < 2 {
            return None;
        }
        let mut count = [0, 0];
        for name in names {
            let others = self.of(state, quantity).filter(|f| part.of(f) != name);
            let u = rms(others, part)?.u();
            for f in self.of(state, quantity).filter(|f| part.of(f) == name) {
                count[0] += usize::from(f.difference.abs() <= 2.0 * u);
                count[1] += 1;
            }
        }
        Some(count)
    }

    /// Prints the table of all states.
    pub(crate) fn print(&self, out: &mut impl Write) -> Result<(), Box<dyn Error>> {
        let title = "The interval of the methods by kind of propeller and state of flow, from all published points (of Report 640 those of at least half the greatest power of a setting). Every propeller has the same weight in a root mean square. u: the root mean square with an allowance for the number of propellers by Student's distribution. Within 2 u: share of the points of each propeller within twice the u of the others; one propeller alone cannot be tested so, and then its settings or speeds take turns, which are of one blade and no independent test. Lightly loaded: parts of the dynamic pressure on the blades";
        let headings = [
            "state",
            "figure",
            "propellers",
            "points",
            "mean",
            "rms",
            "stated rms",
            "stated u",
            "within 2 u",
        ];
        let table = Table::begin(out, title, &headings)?;
        for state in TestedState::ALL {
            for (quantity, name) in QUANTITIES.iter().enumerate() {
                let found = || self.of(state, quantity);
                let Some(size) = rms(found(), Part::Propeller) else { continue };
                let points = found().count();
                let mean = found().map(|f| f.difference).sum::<f64>() / points as f64;
                let per_cent = quantity < 2;
                let shown = |v: f64| if per_cent { format!("{:.1} %", 100.0 * v) } else { format!("{v:.3}") };
                let signed = if mean < 0.0 { shown(mean) } else { format!("+{}", shown(mean)) };
                let share = |[n, all]: [usize; 2]| format!("{:.0} % of {all}", 100.0 * n as f64 / all as f64);
                let names: Vec<&str> = self.names(state, quantity, Part::Propeller).into_iter().collect();
                let within = match self.within(state, quantity, Part::Propeller) {
                    Some(count) => share(count),
                    None => {
                        self.within(state, quantity, Part::Run).map_or("one run, untested".to_owned(), |c| {
                            format!("untested; its runs: {}", share(c))
                        })
                    }
                };
                let told = |of: fn(Tested) -> f64| {
                    stated(state, quantity).map_or("none".to_owned(), |t| shown(of(t)))
                };
                let cells = [
                    state.name().to_owned(),
                    (*name).to_owned(),
                    names.join(", "),
                    points.to_string(),
                    signed,
                    shown(size.rms),
                    told(|t| t.rms),
                    told(Tested::u),
                    within,
                ];
                table.row(out, &cells)?;
            }
        }
        Ok(())
    }

    /// The record of all differences.
    pub(crate) fn record(&self) -> String {
        let mut text = HEAD.to_owned();
        for f in &self.0 {
            let Found { state, propeller, run, advance_ratio, quantity, difference } = f;
            let (state, quantity) = (state.name(), QUANTITIES[*quantity]);
            // Writing to a text cannot fail.
            let _ =
                writeln!(text, "\"{state}\",{propeller},{run},{advance_ratio:.4},{quantity},{difference:.5}");
        }
        text
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]
    use super::*;

    /// The recorded differences.
    pub(crate) fn recorded() -> Classes {
        let mut classes = Classes::default();
        for line in RECORDED.lines().filter(|l| l.starts_with('"')) {
            let (state, rest) = line[1..].split_once("\",").unwrap();
            let cells: Vec<&str> = rest.split(',').collect();
            classes.add(Found {
                state: TestedState::ALL.into_iter().find(|s| s.name() == state).unwrap(),
                propeller: cells[0].to_owned(),
                run: cells[1].to_owned(),
                advance_ratio: cells[2].parse().unwrap(),
                quantity: QUANTITIES.iter().position(|q| *q == cells[3]).unwrap(),
                difference: cells[4].parse().unwrap(),
            });
        }
        assert!(classes.0.len() > 500);
        classes
    }

    fn found(propeller: &str, difference: f64) -> Found {
        Found {
            state: TestedState::SmallAttached,
            propeller: propeller.to_owned(),
            run: "1".to_owned(),
            advance_ratio: 0.5,
            quantity: 0,
            difference,
        }
    }

    /// By hand: two propellers of 3 and 4 % weigh alike, whatever their points; the third, left out, is covered by them up to 4.30 sqrt(12.5) %.
    #[test]
    fn propellers_weigh_alike_and_the_left_out_one_is_judged_by_the_others() {
        let mut classes = Classes::default();
        for f in [found("a", 0.03), found("a", -0.03), found("a", 0.03), found("b", 0.04)] {
            classes.add(f);
        }
        let size = rms(classes.of(TestedState::SmallAttached, 0), Part::Propeller).unwrap();
        assert!((size.rms - 0.00125_f64.sqrt()).abs() < 1e-12 && size.propellers == 2);
        // Twice the root mean square with half of Student's 4.30.
        classes.add(found("c", 4.30 * 0.0353));
        classes.add(found("c", 4.30 * 0.0354));
        // Of a and b all points are covered, of c the first.
        assert_eq!(classes.within(TestedState::SmallAttached, 0, Part::Propeller), Some([5, 6]));
        assert_eq!(classes.within(TestedState::SmallAttached, 0, Part::Run), None);
    }

    /// Every figure that predictions state is the one found here, rounded upwards by at most 0.01 (efficiency 0.002), with as many propellers, and a figure without a test is not stated.
    #[test]
    fn predictions_state_what_the_study_found() {
        let classes = recorded();
        for state in TestedState::ALL {
            for (quantity, name) in QUANTITIES.iter().enumerate() {
                let size = rms(classes.of(state, quantity), Part::Propeller);
                let told = stated(state, quantity);
                let most = if quantity < 2 { 0.01 } else { 0.002 };
                let fits = match (size, told) {
                    (Some(size), Some(told)) => {
                        (size.rms..=size.rms + most).contains(&told.rms) && size.propellers == told.propellers
                    }
                    (None, None) => true,
                    // Efficiency goes through zero with the thrust.
                    (Some(_), None) => quantity == 2,
                    (None, Some(_)) => false,
                };
                assert!(fits, "{}, {name}: found {size:?}, stated {told:?}", state.name());
            }
        }
    }

    /// Nine of ten published points are within twice the uncertainty that the other propellers give, in every state and quantity with two others or more, and of all together.
    #[test]
    fn the_other_propellers_cover_nine_points_of_ten() {
        let classes = recorded();
        let (mut judged, mut together) = (0, [0, 0]);
        for state in TestedState::ALL {
            for (quantity, name) in QUANTITIES.iter().enumerate() {
                if classes.names(state, quantity, Part::Propeller).len() < 3 {
                    continue;
                }
                let [n, all] = classes.within(state, quantity, Part::Propeller).unwrap();
                let (n, all) = (n as f64, all as f64);
                assert!(0.9 * all <= n, "{}, {name}: {n} of {all}", state.name());
                judged += 1;
                together = [together[0] as f64 + n, together[1] as f64 + all].map(|v| v as usize);
            }
        }
        assert!(judged >= 6 && 0.95 * together[1] as f64 <= together[0] as f64, "{judged} {together:?}");
    }
}
