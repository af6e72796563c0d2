//! Known lengths: from file units to metres, with the uncertainty that the user's own figure brings.

use bladeform_quantity::{Measured, StationRadii};
use bladeform_table::{KnownLengthOf, Scale};

use crate::error::{LengthFault, MeasureError};
use crate::frame::known::{Beside, KnownFit, fit};
use crate::notice::MeasureNotice;
use crate::plan::MeasurePlan;

/// Metres per file unit and where they come from.
#[derive(Debug, Clone)]
pub(crate) struct Known {
    pub(crate) metres_per_unit: f64,
    pub(crate) relative_uncertainty: f64,
    basis: String,
    known: bool,
    /// The known lengths, where a distance is among them.
    fit: Option<KnownFit>,
}

impl Known {
    pub(crate) fn document(&self) -> Scale {
        Scale {
            metres_per_unit: Some(self.metres_per_unit),
            basis: self.basis.clone(),
            relative_uncertainty: self.known.then_some(self.relative_uncertainty),
            known_lengths: self.fit.as_ref().map(|f| f.known.clone()).unwrap_or_default(),
            chi_square: self.fit.as_ref().and_then(|f| f.chi_square).map(|(chi_square, _)| chi_square),
            degrees_of_freedom: self.fit.as_ref().and_then(|f| f.chi_square).map(|(_, freedom)| freedom),
            birge_ratio: self.fit.as_ref().and_then(|f| f.birge_ratio),
            ..Scale::default()
        }
    }

    /// The parts of the scale of a whole propeller, whose radii count from the axis.
    pub(crate) fn about_the_axis(&self) -> Vec<ScalePart> {
        let part = ScalePart { fixed_m: 0.0, relative: self.relative_uncertainty };
        self.known.then_some(part).into_iter().collect()
    }

    /// By the known distances of the plan and one more length.
    fn by_distances(
        plan: &MeasurePlan,
        more: Option<Beside>,
        notices: &mut Vec<MeasureNotice>,
    ) -> Result<Self, MeasureError> {
        let beside = match more.as_ref().map(|m| (m.of, m.stated.value)) {
            None => String::new(),
            Some((KnownLengthOf::Diameter, d)) => format!(" and the diameter {d:.4} m, {}", tape(plan)),
            Some((_, l)) => format!(" and the overall length {l:.4} m, {}", tape(plan)),
        };
        let fit = fit(plan, more, notices)?;
        let distances = match plan.distances.len() {
            1 => "1 known distance".to_owned(),
            n => format!("{n} known distances"),
        };
        let known = Self {
            metres_per_unit: fit.metres_per_unit,
            relative_uncertainty: fit.relative_uncertainty,
            basis: format!("{distances} between points of the scan{beside}"),
            known: true,
            fit: Some(fit),
        };
        compare_unit(plan, &known, notices);
        Ok(known)
    }
}

/// A root end nearer to the axis than this share of the length leaves no room for a hub: the length was probably taken from the axis (common practice, no source).
const ROOT_ON_AXIS: f64 = 0.01;

/// Scale and radii of a lone blade.
pub(crate) struct Scaling {
    pub(crate) known: Known,
    pub(crate) root_radius_m: f64,
    /// Its standard uncertainty: as stated, or what a diameter and a length leave.
    pub(crate) root_u_m: Option<f64>,
    pub(crate) radius_m: f64,
    /// What the scale's relative uncertainty is made of; none where the scale is not known.
    pub(crate) parts: Vec<ScalePart>,
    /// Standard uncertainty of all radii together at a fixed scale, m.
    pub(crate) shift_u_m: f64,
}

/// A cause that changes the scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ScalePart {
    /// Radius that stays where it is when the scale changes by this cause, m.
    pub(crate) fixed_m: f64,
    /// Standard uncertainty, relative.
    pub(crate) relative: f64,
}

/// Length of a lone blade in its scan, and how surely its ends are known, file units.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SpanLength {
    pub(crate) value: f64,
    pub(crate) root_u: f64,
    pub(crate) tip_u: f64,
}

impl SpanLength {
    fn measured(&self) -> Measured {
        Measured::new(self.value, self.root_u.hypot(self.tip_u))
    }
}

impl Scaling {
    /// The root radius is as stated (or unknown), or half the diameter less the length; then the diameter says where the tip is (JCGM 100:2008, 5.1.2).
    /// A wrong end in the scan stretches everything from the other end. `by_length`: whether the length of the blade gives the scale.
    fn new(
        known: Known,
        [root_radius_m, length_m]: [f64; 2],
        plan: &MeasurePlan,
        ends: &SpanLength,
        by_length: bool,
    ) -> Self {
        let radius_m = root_radius_m + length_m;
        let by_diameter = plan.diameter_m.is_some() && (plan.length_m.is_some() || !by_length);
        let stated = match (by_diameter, plan.root_radius_m) {
            (true, _) => 0.5 * plan.length_uncertainty_m,
            (false, Some(_)) => plan.root_radius_uncertainty_m,
            (false, None) => 0.0,
        };
        let [root_end, tip_end] = [ends.root_u, ends.tip_u].map(|u| u / ends.value);
        let fixed_m = if by_diameter { radius_m } else { root_radius_m };
        let all = known.relative_uncertainty;
        let mut parts = vec![ScalePart { fixed_m, relative: all }];
        let mut shift_u_m = stated;
        if by_length {
            // What is left is by the length itself.
            let rest = (all * all - root_end * root_end - tip_end * tip_end).max(0.0).sqrt();
            parts = vec![
                ScalePart { fixed_m, relative: rest },
                ScalePart { fixed_m: root_radius_m, relative: tip_end },
                ScalePart { fixed_m: radius_m, relative: root_end },
            ];
        } else {
            // The scale is known apart: radii count from the end that gives them.
            shift_u_m = stated.hypot(length_m * if by_diameter { tip_end } else { root_end });
        }
        if !known.known {
            parts.clear();
        }
        let root_u_m = if by_diameter { stated.hypot(all * length_m) } else { stated };
        let root_u_m = (0.0 < root_u_m).then_some(root_u_m);
        Self { known, root_radius_m, root_u_m, radius_m, parts, shift_u_m }
    }
}

/// The uncertainty of the known length in words: it is assumed unless the user gives it.
fn tape(plan: &MeasurePlan) -> String {
    format!("its standard uncertainty taken as {:.2} mm", 1e3 * plan.length_uncertainty_m)
}

/// From what the user knows of a lone blade, and its length in the scan.
pub(crate) fn lone_scale(
    plan: &MeasurePlan,
    ends: &SpanLength,
    notices: &mut Vec<MeasureNotice>,
) -> Result<Scaling, MeasureError> {
    let length = ends.measured();
    if !plan.distances.is_empty() {
        return lone_by_distances(plan, ends, notices);
    }
    let root = plan.root_radius_m;
    let (length_m, root_m, basis) = match (plan.length_m, plan.diameter_m) {
        (Some(l), Some(d)) => {
            let rest = d / 2.0 - l;
            if rest < 0.0 {
                return Err(MeasureError::Lengths(LengthFault::LongerThanRadius {
                    length_m: l,
                    diameter_m: d,
                }));
            }
            if let Some(r) = root.filter(|r| plan.length_uncertainty_m.max(1e-3) < (r - rest).abs()) {
                return Err(MeasureError::Lengths(LengthFault::OtherRootRadius { left_m: rest, given_m: r }));
            }
            if root.is_none() && rest < ROOT_ON_AXIS * l {
                notices.push(MeasureNotice::RootOnAxis { root_m: rest });
            }
            (l, rest, format!("overall length {l:.4} m, {}; root radius from diameter {d:.4} m", tape(plan)))
        }
        (Some(l), None) => {
            (l, unknown_root(root, notices), format!("overall length {l:.4} m, {}", tape(plan)))
        }
        (None, Some(d)) => {
            let r = root.ok_or(MeasureError::RootRadiusNeeded { diameter_m: d })?;
            (d / 2.0 - r, r, format!("diameter {d:.4} m less the root radius"))
        }
        (None, None) => {
            let known = scale_without_length(plan, notices);
            let r = unknown_root(root, notices);
            let length_m = known.metres_per_unit * length.value;
            return Ok(Scaling::new(known, [r, length_m], plan, ends, false));
        }
    };
    if length_m <= 0.0 {
        return Err(MeasureError::Lengths(LengthFault::RootBeyondTip));
    }
    // A length that is half the diameter less the root radius is as uncertain as both.
    let by_root = if plan.length_m.is_none() { plan.root_radius_uncertainty_m } else { 0.0 };
    let known = Known {
        metres_per_unit: length_m / length.value,
        relative_uncertainty: (plan.length_uncertainty_m.hypot(by_root) / length_m)
            .hypot(length.u / length.value),
        basis,
        known: true,
        fit: None,
    };
    compare_unit(plan, &known, notices);
    Ok(Scaling::new(known, [root_m, length_m], plan, ends, true))
}

/// As [`lone_scale`] where distances between points of the scan are known. The length of the blade is then the scale's, and a diameter gives the root radius.
fn lone_by_distances(
    plan: &MeasurePlan,
    ends: &SpanLength,
    notices: &mut Vec<MeasureNotice>,
) -> Result<Scaling, MeasureError> {
    let length = ends.measured();
    let (given, root) = (plan.length_m, plan.root_radius_m);
    let stated_m = given.or_else(|| Some(plan.diameter_m? / 2.0 - root?));
    if stated_m.is_some_and(|m| m <= 0.0) {
        return Err(MeasureError::Lengths(LengthFault::RootBeyondTip));
    }
    let more = stated_m.map(|m| Beside {
        of: KnownLengthOf::Length,
        stated: Measured::new(m, plan.length_uncertainty_m),
        in_file: length,
    });
    let known = Known::by_distances(plan, more, notices)?;
    let length_m = known.metres_per_unit * length.value;
    let root_m = match plan.diameter_m.map(|d| (d, d / 2.0 - length_m)) {
        None => unknown_root(root, notices),
        Some((diameter_m, rest)) if rest < 0.0 => {
            return Err(MeasureError::Lengths(LengthFault::LongerThanRadius { length_m, diameter_m }));
        }
        Some((_, rest)) => {
            let allowed =
                plan.length_uncertainty_m.max(1e-3).max(2.0 * known.relative_uncertainty * length_m);
            if let Some(given_m) = root.filter(|r| allowed < (r - rest).abs()) {
                return Err(MeasureError::Lengths(LengthFault::OtherRootRadius { left_m: rest, given_m }));
            }
            if root.is_none() && rest < ROOT_ON_AXIS * length_m {
                notices.push(MeasureNotice::RootOnAxis { root_m: rest });
            }
            rest
        }
    };
    Ok(Scaling::new(known, [root_m, length_m], plan, ends, false))
}

/// The scale where no length is known: by the unit of the file, if it was stated.
fn scale_without_length(plan: &MeasurePlan, notices: &mut Vec<MeasureNotice>) -> Known {
    match plan.unit_m {
        Some(unit_m) => Known {
            metres_per_unit: unit_m,
            relative_uncertainty: 0.0,
            basis: format!("the unit of the file as stated, {unit_m} m, taken as exact"),
            known: true,
            fit: None,
        },
        None => {
            notices.push(MeasureNotice::NoLength);
            Known {
                metres_per_unit: 1.0,
                relative_uncertainty: 0.0,
                basis: "none: one file unit taken as one metre".to_owned(),
                known: false,
                fit: None,
            }
        }
    }
}

/// The stated unit and the known length agree within this part: photogrammetry without a scale bar is off by a per cent or two (common practice, no source).
const SAME_SCALE: f64 = 0.03;

/// A notice if the stated unit of the file is not that of the known length.
fn compare_unit(plan: &MeasurePlan, known: &Known, notices: &mut Vec<MeasureNotice>) {
    if let Some(unit_m) = plan.unit_m
        && SAME_SCALE < (known.metres_per_unit / unit_m - 1.0).abs()
    {
        notices.push(MeasureNotice::UnitContradictsLength { unit_m, by_length_m: known.metres_per_unit });
    }
}

fn unknown_root(root: Option<f64>, notices: &mut Vec<MeasureNotice>) -> f64 {
    root.unwrap_or_else(|| {
        notices.push(MeasureNotice::NoRootRadius);
        0.0
    })
}

/// Scale of a whole propeller whose tip is `radius` file units from its axis.
pub(crate) fn rotor_scale(
    plan: &MeasurePlan,
    radius: Measured,
    blades: usize,
    notices: &mut Vec<MeasureNotice>,
) -> Result<Known, MeasureError> {
    let diameter_m = match (plan.diameter_m, plan.length_m) {
        (Some(d), _) => d,
        (None, Some(l)) if blades == 2 => {
            notices.push(MeasureNotice::LengthAsDiameter);
            l
        }
        (None, None) if !plan.distances.is_empty() => return Known::by_distances(plan, None, notices),
        (None, Some(_)) if !plan.distances.is_empty() => {
            notices.push(MeasureNotice::LengthUnused);
            return Known::by_distances(plan, None, notices);
        }
        (None, Some(_)) => {
            return Err(MeasureError::Lengths(LengthFault::DiameterNeeded { blades }));
        }
        (None, None) => {
            return Ok(scale_without_length(plan, notices));
        }
    };
    if !plan.distances.is_empty() {
        let more = Beside {
            of: KnownLengthOf::Diameter,
            stated: Measured::new(diameter_m, plan.length_uncertainty_m),
            in_file: Measured::new(2.0 * radius.value, 2.0 * radius.u),
        };
        return Known::by_distances(plan, Some(more), notices);
    }
    let known = Known {
        metres_per_unit: diameter_m / (2.0 * radius.value),
        relative_uncertainty: (plan.length_uncertainty_m / diameter_m).hypot(radius.u / radius.value),
        basis: format!("diameter {diameter_m:.4} m, {}", tape(plan)),
        known: true,
        fit: None,
    };
    compare_unit(plan, &known, notices);
    Ok(known)
}

/// Radii in m, rising: evenly spaced between root and tip without the ends, or as given.
pub(crate) fn station_radii(asked: &StationRadii, root_m: f64, tip_m: f64) -> Result<Vec<f64>, MeasureError> {
    let radii: Vec<f64> = match asked {
        StationRadii::Count(n) => {
            (1..=*n).map(|i| root_m + (tip_m - root_m) * i as f64 / (*n + 1) as f64).collect()
        }
        StationRadii::Ratios(list) => list.iter().map(|r| r * tip_m).collect(),
        StationRadii::Lengths(list) => list.iter().map(|l| l.m()).collect(),
    };
    match radii.iter().find(|&&r| r <= root_m || tip_m <= r) {
        Some(&radius_m) => Err(MeasureError::StationOutside { radius_m, root_m, tip_m }),
        None => Ok(radii),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scale_of(plan: &MeasurePlan) -> (Result<Scaling, MeasureError>, Vec<MeasureNotice>) {
        let mut notices = Vec::new();
        let scaling = lone_scale(plan, &SpanLength { value: 1.3, root_u: 0.0, tip_u: 0.0 }, &mut notices);
        (scaling, notices)
    }

    #[test]
    fn a_diameter_alone_is_refused_for_a_lone_blade_and_accepted_with_a_root_radius() {
        let alone = MeasurePlan { diameter_m: Some(2.84), ..MeasurePlan::default() };
        let error = scale_of(&alone).0.err().unwrap();
        assert_eq!(error.code(), "root-radius-needed");
        assert!(error.to_string().contains("root radius") && error.to_string().contains("2.8400 m"));
        let (both, notices) = scale_of(&MeasurePlan { root_radius_m: Some(0.12), ..alone });
        assert!((both.unwrap().known.metres_per_unit - 1.0).abs() < 1e-12 && notices.is_empty());
    }

    #[test]
    fn a_length_of_half_the_diameter_is_said_unless_the_root_is_stated_there() {
        let half = MeasurePlan { length_m: Some(1.42), diameter_m: Some(2.84), ..MeasurePlan::default() };
        assert!(matches!(scale_of(&half).1[..], [MeasureNotice::RootOnAxis { .. }]));
        assert!(scale_of(&MeasurePlan { root_radius_m: Some(0.0), ..half.clone() }).1.is_empty());
        assert!(scale_of(&MeasurePlan { length_m: Some(1.3), ..half }).1.is_empty());
    }

    #[test]
    fn the_unit_of_the_file_gives_the_scale_and_is_compared_with_a_length() {
        let unit = MeasurePlan { unit_m: Some(1e-3), root_radius_m: Some(0.1), ..MeasurePlan::default() };
        let length = SpanLength { value: 1300.0, root_u: 0.0, tip_u: 0.0 };
        let mut notices = Vec::new();
        let scaled = lone_scale(&unit, &length, &mut notices).unwrap();
        assert!((scaled.radius_m - 1.4).abs() < 1e-12 && notices.is_empty(), "{notices:?}");
        let inches = MeasurePlan { length_m: Some(0.0254 * 1300.0), ..unit };
        lone_scale(&inches, &length, &mut notices).unwrap();
        assert!(matches!(notices[..], [MeasureNotice::UnitContradictsLength { .. }]), "{notices:?}");
    }
}
