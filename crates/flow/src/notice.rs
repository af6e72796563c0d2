//! Everything that a prediction must report: notices about the whole, flags of operating points. One code and one sentence each.

use bladeform_table::Coded;

use crate::limits::{BLUFF_THICKNESS_RATIO, LOW_REYNOLDS, MACH_LIMIT, MOST_FREE_WAKES};
use crate::near_rest::MOST_CHANGED;
use crate::shank::ShankSize;

/// A warning about a whole prediction.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum FlowNotice {
    /// Another diameter was requested.
    BladeMoved {
        /// The requested tip radius, m.
        requested_m: f64,
        /// The table's, m.
        table_m: f64,
    },
    /// Stations without chord or blade angle.
    StationsLeftOut {
        /// How many.
        count: usize,
        /// Of how many.
        all: usize,
    },
    /// Stations without an outline that make lift.
    SubstituteSections {
        /// How many.
        count: usize,
        /// Of how many.
        all: usize,
    },
    /// Shank stations without an outline.
    SubstituteShank {
        /// How many.
        count: usize,
        /// Of how many.
        all: usize,
    },
    /// A chord is not the length of its outline.
    ChordContradictsOutline {
        /// The stations in words.
        places: String,
    },
    /// The root is not known, so the blade begins at the first station.
    RootLeftOut {
        /// Whether the root radius is stated, but as 0.
        is_zero: bool,
        /// First station over the tip radius.
        first_ratio: f64,
    },
    /// The first section continues inwards.
    InboardExtrapolated {
        /// From here, over the tip radius.
        from_ratio: f64,
        /// To the first station, over the tip radius.
        first_ratio: f64,
        /// The root over the tip radius, if a part of the blade lies farther inboard.
        left_out_from_ratio: Option<f64>,
    },
    /// The shank has drag and no lift.
    Shank {
        /// From here, over the tip radius.
        from_ratio: f64,
        /// To here, over the tip radius.
        to_ratio: f64,
        /// Its breadth at the inner end, m.
        breadth_m: f64,
        /// Where its size comes from.
        size: ShankSize,
        /// What it begins on, in words.
        on: &'static str,
    },
    /// The last section continues to the tip.
    OutboardExtrapolated {
        /// Last station over the tip radius.
        last_ratio: f64,
    },
    /// Analytic sections replace computed ones.
    AnalyticSections,
    /// The tip is fast.
    TipMach {
        /// Greatest helical tip Mach number.
        mach: f64,
        /// Whether compressibility is serious.
        is_serious: bool,
    },
    /// The blade works where the polars are known to be off.
    LowReynolds {
        /// Least Reynolds number at 0.75 R.
        reynolds: f64,
        /// Points below the limit.
        count: usize,
        /// All points.
        all: usize,
    },
    /// The models differ.
    ModelsDiffer {
        /// Points where they do.
        count: usize,
        /// All points.
        all: usize,
    },
    /// There is no second model at some points.
    NoSecondModel {
        /// Points without one.
        count: usize,
        /// All points.
        all: usize,
        /// Whether the free wake was skipped as requested.
        skipped: bool,
        /// Whether it was skipped because of the number of points.
        too_many: bool,
    },
    /// Points in slow flight are not corrected by the free wake at rest.
    NotCorrected {
        /// Points in slow flight.
        count: usize,
        /// All points.
        all: usize,
        /// Whether the free wake was left out because of the number of settings.
        too_many: bool,
    },
    /// Face angles come from outlines.
    FacesOfOutlines {
        /// At so many stations.
        count: usize,
        /// Of how many.
        all: usize,
    },
    /// The blades overlap near the root.
    Cascade {
        /// Out to this fraction of the tip radius.
        to_ratio: f64,
        /// Number of blades.
        blades: u32,
    },
    /// The setting places relative angles.
    RelativeAngles {
        /// The line of the setting.
        line: &'static str,
        /// Its radius over the tip radius.
        ratio: f64,
    },
    /// The prediction is of an isolated propeller.
    IsolatedPropeller,
    /// A body is behind the propeller.
    Installed {
        /// Whether its drag is taken as that of a streamlined body.
        streamlined: bool,
    },
    /// The same in water.
    IsolatedScrew,
    /// How far predictions in water were from published screws.
    WaterTests,
    /// Water without a depth.
    NoDepth,
    /// The blades come out of the water.
    OutOfWater {
        /// Depth of the shaft, m.
        depth_m: f64,
        /// Tip radius, m.
        radius_m: f64,
    },
    /// Cavitation begins at some points.
    Cavitation {
        /// Points where it does.
        count: usize,
        /// All points.
        all: usize,
    },
}

/// What a reader must know about one operating point.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum PointFlag {
    /// The thrust is negative.
    NegativeThrust {
        /// Whether the air drives the propeller.
        is_driven: bool,
    },
    /// Much of the span is stalled.
    Stalled {
        /// Fraction of the span.
        fraction: f64,
    },
    /// Helical tip Mach number above 0.6, 0.9 or 1.
    Mach {
        /// The number.
        mach: f64,
    },
    /// Force and momentum did not balance.
    NoBalance {
        /// On this fraction of the span.
        fraction: f64,
    },
    /// An empirical relation replaces momentum theory.
    BrakedStream {
        /// On this fraction of the span.
        fraction: f64,
    },
    /// Cavitation begins.
    Cavitation {
        /// On this fraction of the span.
        fraction: f64,
        /// From this fraction of the tip radius.
        from_ratio: f64,
        /// To this one.
        to_ratio: f64,
    },
    /// Cavitation was not looked for.
    CavitationUnchecked {
        /// On this fraction of the span.
        fraction: f64,
    },
    /// Polars are interpolated over angles that did not converge.
    BridgedPolar {
        /// On this fraction of the span.
        fraction: f64,
    },
    /// The lifting line differs.
    LiftingLineDiffers {
        /// Its thrust relative to that of the blade elements, less 1.
        thrust: f64,
        /// The same for power.
        power: f64,
    },
    /// The free wake differs.
    FreeWakeDiffers {
        /// Its thrust relative to that of the blade elements, less 1.
        thrust: f64,
        /// The same for power.
        power: f64,
    },
    /// The figures come from the free wake.
    ByFreeWake,
    /// Figures near rest are between blade elements and free wake.
    NearRest {
        /// Thrust relative to that of the blade elements, less 1.
        thrust: f64,
        /// The same for power.
        power: f64,
    },
    /// The free wake has no answer.
    NoFreeWake {
        /// Why.
        why: String,
    },
    /// The engine would turn the propeller too fast.
    Overspeed {
        /// The greatest rotational speed allowed, revolutions per minute.
        most_rpm: f64,
        /// The part of the engine's torque that is used there.
        torque_part: f64,
    },
    /// The power jumps over the requested one.
    PowerStep {
        /// Requested, W.
        requested_w: f64,
        /// Found, W.
        found_w: f64,
    },
}

/// The code of [`PointFlag::NoFreeWake`].
pub(crate) const NO_FREE_WAKE: &str = "no-free-wake";
/// The code of [`PointFlag::ByFreeWake`].
pub(crate) const BY_FREE_WAKE: &str = "by-free-wake";
/// Code of [`PointFlag::NearRest`].
pub(crate) const NEAR_REST: &str = "near-rest";
/// Fractions are shown in per cent.
const PERCENT: f64 = 100.0;
/// Powers are shown in kilowatts.
const W_PER_KW: f64 = 1e3;
/// Diameters are shown in millimetres.
const MM_PER_M: f64 = 1e3;
/// A smaller fraction would be rounded to zero.
const HALF_PER_CENT: f64 = 0.005;

/// A fraction that is not zero, in words that never read zero.
fn per_cent(fraction: f64) -> String {
    if fraction < HALF_PER_CENT { "less than 1 %".to_owned() } else { format!("{:.0} %", PERCENT * fraction) }
}

/// A Reynolds number in whole thousands, with a comma, such as 200,000; below 1000 as it is.
fn thousands(reynolds: f64) -> String {
    if reynolds < 1e3 { format!("{reynolds:.0}") } else { format!("{:.0},000", reynolds / 1e3) }
}

impl Coded for FlowNotice {
    fn code(&self) -> &'static str {
        match self {
            Self::BladeMoved { .. } => "blade-moved",
            Self::StationsLeftOut { .. } => "stations-left-out",
            Self::SubstituteSections { .. } => "substitute-sections",
            Self::SubstituteShank { .. } => "substitute-shank",
            Self::ChordContradictsOutline { .. } => "chord-contradicts-outline",
            Self::RootLeftOut { .. } => "root-left-out",
            Self::InboardExtrapolated { .. } => "inboard-extrapolated",
            Self::Shank { .. } => "shank-drag",
            Self::OutboardExtrapolated { .. } => "outboard-extrapolated",
            Self::AnalyticSections => "analytic-sections",
            Self::TipMach { .. } => "tip-mach",
            Self::LowReynolds { .. } => "low-reynolds",
            Self::ModelsDiffer { .. } => "models-differ",
            Self::NoSecondModel { .. } => "no-second-model",
            Self::NotCorrected { .. } => "not-corrected-near-rest",
            Self::FacesOfOutlines { .. } => "faces-of-outlines",
            Self::Cascade { .. } => "cascade",
            Self::RelativeAngles { .. } => "relative-angles-placed",
            Self::IsolatedPropeller | Self::IsolatedScrew => "isolated-propeller",
            Self::Installed { .. } => "body-behind",
            Self::WaterTests => "water-tests",
            Self::NoDepth => "no-depth",
            Self::OutOfWater { .. } => "out-of-water",
            Self::Cavitation { .. } => "cavitation",
        }
    }

    fn sentence(&self) -> String {
        match self {
            Self::BladeMoved { requested_m, table_m } => format!(
                "the given diameter, {:.1} mm, is not the table's {:.1} mm: the blade keeps its size and its stations move by {:+.1} mm along the span",
                2.0 * MM_PER_M * requested_m,
                2.0 * MM_PER_M * table_m,
                MM_PER_M * (requested_m - table_m)
            ),
            Self::StationsLeftOut { count, all } => {
                format!("{count} of {all} stations have no chord or no blade angle and were left out")
            }
            Self::SubstituteSections { count, all } => format!(
                "{count} of {all} stations have no outline: NACA four-digit sections of their thickness and camber are used, with the greatest camber at 40 % of the chord. Blade angles are taken as those of the chord lines"
            ),
            Self::SubstituteShank { count, all } => format!(
                "{count} of {all} stations are a shank, or thicker than {:.0} %, and have no outline: ellipses of their thickness are used, circles if it is not known",
                PERCENT * BLUFF_THICKNESS_RATIO
            ),
            Self::ChordContradictsOutline { places } => format!(
                "chord and outline contradict each other at {places}: the chord was used and the outline scaled to it. Correct the row"
            ),
            Self::RootLeftOut { is_zero, first_ratio } => format!(
                "{}: the part inboard of the first station, at {first_ratio:.3} R, is left out, and so is its drag; a round shank there costs some per cent of the power. Give the root radius, or the diameter of spinner or hub",
                if *is_zero { "the root radius is given as 0" } else { "the root radius is not known" }
            ),
            Self::InboardExtrapolated { from_ratio, first_ratio, left_out_from_ratio } => format!(
                "inboard of the first station, from {from_ratio:.3} to {first_ratio:.3} R, its section is continued{}",
                left_out_from_ratio.map_or(String::new(), |root| format!(
                    "; the part farther inboard, from the root at {root:.3} R, has no lift"
                ))
            ),
            Self::Shank { from_ratio, to_ratio, breadth_m, size, on } => format!(
                "from {from_ratio:.3} to {to_ratio:.3} R the blade is a shank with the drag of a bar across the stream and no lift: {}. It begins on {on}",
                match size {
                    ShankSize::Measured => "its sections are the measured ones of the root".to_owned(),
                    ShankSize::Given => format!(
                        "round and {:.1} mm thick where it begins, from the given diameter there evenly to the first section",
                        MM_PER_M * breadth_m
                    ),
                    ShankSize::Assumed => format!(
                        "the table does not show it, so it is taken as round and as thick as the first section, {:.1} mm; its drag grows with that thickness. Measure or state it",
                        MM_PER_M * breadth_m
                    ),
                }
            ),
            Self::OutboardExtrapolated { last_ratio } => format!(
                "outboard of the last station, from {last_ratio:.3} R to the tip, chord and angle are extrapolated and the last section's polar is used"
            ),
            Self::AnalyticSections => {
                "sections are analytic ones of the table's thickness and camber, not computed from the outlines".to_owned()
            }
            Self::TipMach { mach, is_serious: true } => format!(
                "the helical tip Mach number reaches {mach:.2}: above 0.3 compressibility matters, above 0.6 it is serious (common practice, no source). Thrust and power are then less certain"
            ),
            Self::TipMach { mach, is_serious: false } => format!(
                "the helical tip Mach number reaches {mach:.2}: above 0.3 compressibility matters (common practice, no source)"
            ),
            Self::LowReynolds { reynolds, count, all } => format!(
                "at {count} of {all} points the Reynolds number at 0.75 R is below {}, down to {}: long laminar bubbles form there, and computed sections were off a wind tunnel's by 0.06 in lift and -5 % in drag at 200,000, 0.13 and -18 % at 100,000, 0.20 and -20 % at 60,000 (Clark Y, smooth). The efficiency comes out too high. Use polars measured at such Reynolds numbers, or compare with a test",
                thousands(LOW_REYNOLDS),
                thousands(*reynolds)
            ),
            Self::ModelsDiffer { count, all } => {
                format!("at {count} of {all} points the two models differ by more than 5 % in thrust or power")
            }
            Self::NoSecondModel { count, all, skipped, too_many } => {
                let more = if *skipped {
                    ", or the free wake was skipped as requested".to_owned()
                } else if *too_many {
                    format!(
                        ", or the free wake was skipped: with more than {MOST_FREE_WAKES} settings at zero speed or in slow flight only the answers have it, so request fewer"
                    )
                } else {
                    String::new()
                };
                format!(
                    "at {count} of {all} points there is no second model: the flow is reversed, much of the blade is stalled, or the wake did not converge or passes too close to the next blade{more}"
                )
            }
            Self::NotCorrected { count, all, too_many } => format!(
                "at {count} of {all} points, in flight below an advance ratio of 0.2, the figures are those of blade elements, whose wake does not contract: thrust may be up to 15 % too high there. The free wake that corrects it {}",
                if *too_many {
                    format!("is solved for up to {MOST_FREE_WAKES} settings, so request fewer")
                } else {
                    "was skipped as requested".to_owned()
                }
            ),
            Self::FacesOfOutlines { count, all } => format!(
                "the setting refers to the face, but {count} of {all} stations have no face angle in the table: it is read from their outlines or from substitute sections"
            ),
            Self::Cascade { to_ratio, blades } => format!(
                "out to {to_ratio:.2} R the chords of {blades} blades add up to more than the circumference: sections in such a cascade behave differently from single ones"
            ),
            Self::RelativeAngles { line, ratio } => format!(
                "the table's blade angles are relative: the given setting places the {line} line at {ratio} R, and an error there turns the whole blade"
            ),
            Self::IsolatedScrew => {
                "this is an isolated propeller in a uniform stream of water: the speed is that of advance V_A, without hull, wake, thrust deduction, shaft or rudder. Compare with a measured thrust or power before any use".to_owned()
            }
            Self::WaterTests => crate::tested::water_sentence(),
            Self::NoDepth => {
                "the depth of the shaft is not known, so cavitation was not looked for: the figures hold only if there is none. Give the depth".to_owned()
            }
            Self::OutOfWater { depth_m, radius_m } => format!(
                "the shaft is {:.1} mm below the surface and the tip radius is {:.1} mm: the blades come out of the water and draw air, and thrust and power are less than shown. The figures are those of a propeller fully under water",
                MM_PER_M * depth_m,
                MM_PER_M * radius_m
            ),
            Self::Cavitation { count, all } => format!(
                "at {count} of {all} points cavitation begins on a part of the blades: thrust and efficiency are those without it and fall where it spreads, and blades may be eroded. A deeper shaft, a lower rotational speed or wider blades put it off"
            ),
            Self::IsolatedPropeller => {
                "this is an isolated propeller in uniform air, without body, spinner drag or yaw. Compare with a measured thrust or power before any use".to_owned()
            }
            Self::Installed { streamlined } => format!(
                "a body is behind the propeller: thrust and efficiency are those of the force on the shaft, and the propulsive ones are less by the rise of the body's drag in the slipstream{}. Yaw and what lies beside the body are left out. Compare with a measured thrust or power before any use",
                if *streamlined {
                    ". Its drag is taken as that of a streamlined body without cooling, gear or wing, the least there is, so that the propulsive thrust is too high. State its drag coefficient"
                } else {
                    ""
                }
            ),
        }
    }
}

impl Coded for PointFlag {
    fn code(&self) -> &'static str {
        match self {
            Self::NegativeThrust { .. } => "negative-thrust",
            Self::Stalled { .. } => "stalled",
            Self::Mach { mach } if *mach > 1.0 => "supersonic",
            Self::Mach { mach } if *mach > MACH_LIMIT => "transonic",
            Self::Mach { .. } => "compressible",
            Self::NoBalance { .. } => "no-balance",
            Self::BrakedStream { .. } => "braked-stream",
            Self::BridgedPolar { .. } => "bridged-polar",
            Self::Cavitation { .. } => "cavitation",
            Self::CavitationUnchecked { .. } => "cavitation-unchecked",
            Self::LiftingLineDiffers { .. } | Self::FreeWakeDiffers { .. } => "models-differ",
            Self::ByFreeWake => BY_FREE_WAKE,
            Self::NearRest { .. } => NEAR_REST,
            Self::NoFreeWake { .. } => NO_FREE_WAKE,
            Self::Overspeed { .. } => "overspeed",
            Self::PowerStep { .. } => "power-step",
        }
    }

    fn sentence(&self) -> String {
        match self {
            Self::NegativeThrust { is_driven: true } => "the stream drives the propeller".to_owned(),
            Self::NegativeThrust { is_driven: false } => "the propeller brakes".to_owned(),
            Self::Stalled { fraction } => {
                format!("{} of the span is stalled: all figures are rough", per_cent(*fraction))
            }
            Self::Mach { mach } if *mach > 1.0 => {
                format!("the helical tip Mach number is {mach:.2}, beyond the range of the methods")
            }
            Self::Mach { mach } if *mach > MACH_LIMIT => {
                format!("the helical tip Mach number is {mach:.2}; the methods hold up to 0.9")
            }
            Self::Mach { mach } => format!("the helical tip Mach number is {mach:.2}; above 0.6 compressibility is serious"),
            Self::NoBalance { fraction } => format!(
                "force and momentum did not balance on {} of the span; no induced velocity is applied there",
                per_cent(*fraction)
            ),
            Self::BrakedStream { fraction } => format!(
                "an empirical relation for windmills replaces momentum theory on {} of the span",
                per_cent(*fraction)
            ),
            Self::Cavitation { fraction, from_ratio, to_ratio } => format!(
                "cavitation begins on {} of the span, between {from_ratio:.2} and {to_ratio:.2} R: the least pressure there is below that of the vapour where the blade points up. The figures are those without cavitation",
                per_cent(*fraction)
            ),
            Self::CavitationUnchecked { fraction } => format!(
                "on {} of the span the least pressure is not known (stalled, a shank, or a given polar): cavitation was not looked for there",
                per_cent(*fraction)
            ),
            Self::BridgedPolar { fraction } => format!(
                "on {} of the span the polar is interpolated, because its boundary layer did not converge",
                per_cent(*fraction)
            ),
            Self::LiftingLineDiffers { thrust, power } => format!(
                "the lifting line gives {:+.1} % thrust and {:+.1} % power compared with the blade elements",
                PERCENT * thrust,
                PERCENT * power
            ),
            Self::FreeWakeDiffers { thrust, power } => format!(
                "the free wake gives {:+.1} % thrust and {:+.1} % power compared with the blade elements; at zero speed it is the better model, since its wake contracts",
                PERCENT * thrust,
                PERCENT * power
            ),
            Self::ByFreeWake => {
                "thrust, torque and power come from the free wake; what the uncertainty of the geometry does to them is that of the blade elements".to_owned()
            }
            Self::NearRest { thrust, power } => format!(
                "thrust is changed by {:+.1} % and power by {:+.1} % from the blade elements towards the free wake at zero speed, whose wake contracts; half of that is in the interval of the methods",
                PERCENT * thrust,
                PERCENT * power
            ),
            Self::NoFreeWake { why } => format!(
                "{why}; near rest the figures are those of the blade elements, which may give up to {:.0} % too much thrust and {:.0} % too much power: plan with less or measure it",
                PERCENT * MOST_CHANGED[0],
                PERCENT * MOST_CHANGED[1]
            ),
            Self::Overspeed { most_rpm, torque_part } => format!(
                "at full throttle the engine would turn the propeller faster than {most_rpm:.0} rpm: the throttle holds it there at {:.0} % of its torque",
                100.0 * torque_part
            ),
            Self::PowerStep { requested_w, found_w } => format!(
                "the power jumps over the requested {:.1} kW at this setting, because the flow separates from or reattaches to a part of the blade at once; the point shown absorbs {:.1} kW",
                requested_w / W_PER_KW,
                found_w / W_PER_KW
            ),
        }
    }
}
