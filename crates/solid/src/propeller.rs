//! Blades at a setting around a hub, as one closed surface.

use bladeform_numeric::observe::{Observer, Stage, report};
use bladeform_quantity::{Hand, Measured};
use bladeform_table::{BoltFigures, SectionSurface, SettingOf, StationTable};

use crate::error::SolidError;
use crate::facets::{Facets, Start, facets_of};
use crate::fault::{ConnectionFault, SurfaceFault};
use crate::holes::{BoltCircle, Bolts, HoleFault};
use crate::hub::{Hub, HubCorner};
use crate::joint::volume_outside_m3;
use crate::joint_fault::JointFault;
use crate::notice::{HubSize, SolidNotice};
use crate::plan_fault::{MovesSections, PlanFault, PlanLength};
use crate::rows::RowPlan;
use crate::surface::BladeSurface;
use crate::taper::Taper;
use crate::watertight::{Group, WatertightSolid};

/// Specification of a solid. Lengths in m.
#[derive(Debug, Clone, PartialEq)]
pub struct SolidPlan {
    /// Number of blades.
    pub blades: u32,
    /// Diameter of the propeller. The blade is moved along its own axis to match it, without scaling.
    pub diameter_m: Option<f64>,
    /// Diameter of the hub; by default that of the table, or just large enough to hold the blades.
    pub hub_diameter_m: Option<f64>,
    /// Length of the cylinder of the hub; by default that of the table, or just long enough to hold the blades.
    pub hub_length_m: Option<f64>,
    /// Length of the nose of the hub; by default the hub radius, or none where the table states the length between flat end faces and where the hub has holes.
    pub nose_length_m: Option<f64>,
    /// Diameter of the bore of the hub; by default that of the table, if it states one; 0 for none.
    pub bore_diameter_m: Option<f64>,
    /// Holes for bolts in the hub; by default those of the table, if it states any.
    pub bolts: Bolts,
    /// Diameter of a round shank. It is built in place of what the table holds of the root.
    pub shank_diameter_m: Option<f64>,
    /// Maximum distance of the facets from the smooth surface.
    pub tolerance_m: f64,
    /// Metres per unit of the files.
    pub metres_per_unit: f64,
    /// The line to which setting angles refer.
    pub setting_of: SettingOf,
}

/// Default chord error: a tenth of what photogrammetry resolves (common practice, no source).
const TOLERANCE_M: f64 = 5e-5;
/// Minimum and maximum accepted chord error.
pub const TOLERANCES_M: [f64; 2] = [1e-6, 5e-3];
/// Maximum number of blades.
const MOST_BLADES: u32 = 16;
/// Maximum width of a root end as a fraction of the hub radius. The hub could hardly hold a wider blade.
const WIDEST_ROOT: f64 = 0.95;
/// A diameter that differs by less than twice this, m, is that of the table: it was typed with fewer digits.
const SAME_DIAMETER_M: f64 = 1e-6;
/// Places around the section of a root.
const ROUND: u32 = 120;
/// How far inside the hub a blade with sections on cylinders ends, as a fraction of the hub radius: it is cut all around at one radius.
const INSIDE_HUB: f64 = 0.03;
/// Fraction of a chosen hub length that the blades may occupy.
const LENGTH_TAKEN: f64 = 0.8;

impl Default for SolidPlan {
    fn default() -> Self {
        Self {
            blades: 1,
            diameter_m: None,
            hub_diameter_m: None,
            hub_length_m: None,
            nose_length_m: None,
            bore_diameter_m: None,
            bolts: Bolts::AsMeasured,
            shank_diameter_m: None,
            tolerance_m: TOLERANCE_M,
            metres_per_unit: 1e-3,
            setting_of: SettingOf::Chord,
        }
    }
}

/// A propeller whose blades can be set to any angle; a single blade if it has no hub.
#[derive(Debug, Clone)]
pub struct PropellerSurface<'a> {
    table: &'a StationTable,
    plan: SolidPlan,
    surface: BladeSurface,
    hub: Option<Hub>,
    hand: Hand,
    shift_m: f64,
    warnings: Vec<SolidNotice>,
}

/// One absolute angle, deg, and the radius where it applies, as a fraction of the tip radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SettingAngle {
    /// The angle, deg.
    pub angle_deg: f64,
    /// The radius as a fraction; 1 is the tip.
    pub radius_ratio: f64,
}

/// A finished solid with its data and warnings.
#[derive(Debug, Clone)]
pub struct MadeSolid {
    /// The checked triangles.
    pub solid: WatertightSolid,
    /// The smooth blade at this setting, in the axes of the first blade; mirrored for a left-hand propeller.
    pub blade: BladeSurface,
    /// Maximum distance of the blade facets from the smooth surface, m.
    pub chord_error_m: f64,
    /// Volume from the integral of the section areas and the formula of the hub, m^3.
    pub section_volume_m3: f64,
    /// Rotation of the blade relative to the angles of the table, deg.
    pub turned_deg: f64,
    /// Notices for the user about this setting.
    pub warnings: Vec<SolidNotice>,
}

impl<'a> PropellerSurface<'a> {
    /// Makes the smooth blade and the hub.
    ///
    /// # Errors
    /// [`SolidError`] if the table has too few or unusable sections, or the hub does not fit the blade.
    pub fn new(table: &'a StationTable, plan: SolidPlan) -> Result<Self, SolidError> {
        check_plan(&plan)?;
        let mut warnings = Vec::new();
        let of_table = table.other_blades(u64::from(plan.blades)).into_iter().chain(table.row_notices());
        warnings.extend(of_table.map(SolidNotice::Table));
        let shift_m = plan.diameter_m.map_or(0.0, |d| 0.5 * d - table.blade.radius_m);
        let on_cylinders = table.sections() == SectionSurface::Cylinder;
        if on_cylinders {
            must_keep_sections(&plan, shift_m)?;
        }
        if 1e-6 < shift_m.abs() {
            warnings.push(SolidNotice::BladeMoved { shift_m, tip_m: table.blade.radius_m + shift_m });
        }
        let innermost_m = table.stations.first().map_or(table.blade.radius_m, |s| s.radius_m);
        let innermost_m =
            table.blade.root_radius_m.filter(|r| 0.0 < *r).map_or(innermost_m, |r| r.min(innermost_m));
        if innermost_m + shift_m <= 0.0 {
            return Err(PlanFault::AcrossAxis {
                diameter_m: 2.0 * (table.blade.radius_m + shift_m),
                innermost_m,
                least_m: 2.0 * (table.blade.radius_m - innermost_m),
            }
            .into());
        }
        let mut rows =
            RowPlan { shift_m, shank_radius_m: plan.shank_diameter_m.map(|d| 0.5 * d), ..RowPlan::default() };
        let mut surface = BladeSurface::planned(table, &rows)?;
        warnings.extend(compare_volumes(table, &surface, shift_m)?);
        let mut hub = None;
        if 1 < plan.blades || plan.hub_diameter_m.is_some() {
            let mut measured = MeasuredHub::of(table, &plan, &surface);
            let radius_m = match measured.diameter_m {
                Some(diameter) => 0.5 * diameter.value,
                None => hub_radius(&plan, &surface, &mut warnings)?,
            };
            (rows.reach_m, rows.narrow) = reach(&surface, radius_m, plan.blades, &mut warnings)?;
            if rows.reach_m.is_some() {
                surface = BladeSurface::planned(table, &rows)?;
            }
            let stands = stands_on(&surface, radius_m);
            let length_m = plan.hub_length_m.or(measured.length_m.map(|l| l.value)).unwrap_or_else(|| {
                let to_v = surface.v_of_radius(1.05 * radius_m);
                let reach =
                    if on_cylinders { 0.5 * (stands[1] - stands[0]) } else { widest(&surface, 0.0, to_v) };
                let length = 2.0 * reach / LENGTH_TAKEN;
                warnings.push(SolidNotice::HubLengthChosen { length_m: length });
                1e-3 * (1e3 * length).ceil()
            });
            let bore_m = plan.bore_diameter_m.or(measured.bore_diameter_m.map(|b| b.value)).unwrap_or(0.0);
            let mut bolts = match plan.bolts {
                Bolts::Given(bolts) => Some(bolts),
                Bolts::AsMeasured => measured.bolts.as_ref().and_then(BoltCircle::measured),
                Bolts::None => None,
            };
            let is_drilled = 0.0 < bore_m || bolts.is_some();
            measured.flat = plan.nose_length_m.is_none() && (measured.length_m.is_some() || is_drilled);
            let nose_m = plan.nose_length_m.unwrap_or(if measured.flat { 0.0 } else { radius_m });
            let middle_m = if on_cylinders { 0.5 * (stands[0] + stands[1]) } else { 0.0 };
            let mut made = Hub { radius_m, length_m, nose_m, middle_m, bore_radius_m: 0.5 * bore_m, bolts };
            let mut no_room = None;
            let mut fault = made.check_holes(plan.bore_diameter_m.is_none(), plan.tolerance_m).err();
            if fault.is_some() && plan.bolts == Bolts::AsMeasured && bolts.is_some() {
                // A hub that was asked for otherwise need not have room for what was measured.
                (bolts, made.bolts) = (None, None);
                let without = made.check_holes(plan.bore_diameter_m.is_none(), plan.tolerance_m).err();
                (no_room, fault) = (fault.filter(|_| without.is_none()), without);
            }
            if let Some(fault) = fault {
                return Err(fault.into());
            }
            hub = Some(made);
            if on_cylinders {
                warnings.push(SolidNotice::HubUnderRoots { middle_m });
            }
            if bolts.is_some_and(|b| b.first_deg.is_none()) {
                warnings.push(SolidNotice::BoltsOnBlade);
            }
            let of_bolts = measured.bolts.take();
            warnings.extend(measured.notice());
            warnings.extend(of_bolts.and_then(|b| SolidNotice::of_bolts(b, plan.bolts, no_room)));
        } else if plan.bore_diameter_m.is_some() || matches!(plan.bolts, Bolts::Given(_)) {
            return Err(HoleFault::NoHub.into());
        }
        warnings.extend(surface.warnings().iter().cloned());
        if table.angles_are_relative() && hub.is_some() {
            warnings.push(SolidNotice::RelativeAngles);
        }
        let hand = table.hand();
        Ok(Self { table, plan, surface, hub, hand, shift_m, warnings })
    }

    /// The smooth blade at the angles of the table, right-handed.
    #[must_use]
    pub fn blade(&self) -> &BladeSurface {
        &self.surface
    }

    /// The hub, if there is one.
    #[must_use]
    pub fn hub(&self) -> Option<Hub> {
        self.hub
    }

    /// Notices about assumptions that do not depend on the setting.
    #[must_use]
    pub fn warnings(&self) -> &[SolidNotice] {
        &self.warnings
    }

    /// The solid at a setting; `None` keeps the angles of the table.
    ///
    /// # Errors
    /// [`SolidError`] if the setting has no meaning for the table, blades collide, or the surface fails the check;
    /// [`SolidError::Stopped`] if the observer ends the call.
    pub fn at(
        &self,
        setting: Option<SettingAngle>,
        observer: &dyn Observer,
    ) -> Result<MadeSolid, SolidError> {
        // Triangles of the blade, hub, check.
        let step = |done| Stage { name: "making solids", done, total: 3 };
        report(observer, step(0))?;
        if setting.is_some() && self.surface.sections() == SectionSurface::Cylinder {
            return Err(PlanFault::SectionsOnCylinders(MovesSections::Setting).into());
        }
        let mut warnings = Vec::new();
        let turned_deg = self.turn_deg(setting, &mut warnings)?;
        let blade = self.surface.turned(turned_deg.to_radians());
        let tolerance = self.plan.tolerance_m;
        let start = self.hub.map_or(Start::Root, |hub| Start::Cylinder(hub.radius_m));
        let facets = facets_of(&blade, tolerance, start, observer, step(0))?;
        if tolerance < facets.error_m {
            warnings.push(SolidNotice::CoarseFacets { found_m: facets.error_m, requested_m: tolerance });
        }
        report(observer, step(1))?;
        let (mut vertices, mut faces, groups) = self.assemble(&facets)?;
        if self.hand == Hand::Left {
            vertices.iter_mut().for_each(|p| p[0] = -p[0]);
            faces.iter_mut().for_each(|f| f.swap(1, 2));
        }
        report(observer, step(2))?;
        let solid = WatertightSolid::check(&vertices, faces, groups, self.plan.metres_per_unit)
            .map_err(|fault| self.refused(setting, fault))?;
        let section_volume_m3 = match self.hub {
            None => blade.volume_m3(),
            Some(hub) => {
                hub.volume_m3() + f64::from(self.plan.blades) * volume_outside_m3(&blade, hub.radius_m)
            }
        };
        let blade = if self.hand == Hand::Left { blade.mirrored() } else { blade };
        Ok(MadeSolid { solid, blade, chord_error_m: facets.error_m, section_volume_m3, turned_deg, warnings })
    }

    /// What the result of the check means for the user.
    fn refused(&self, setting: Option<SettingAngle>, fault: SurfaceFault) -> SolidError {
        let blades = self.plan.blades;
        match (fault, self.hub) {
            (SurfaceFault::CutsItself { .. }, Some(_)) if 1 < blades => {
                JointFault::Collision { setting, blades, fault }.into()
            }
            // Sheets touch at a point if the blade edge and the border of the hub are closer than the digits of the file resolve.
            (SurfaceFault::Connection { fault: ConnectionFault::TouchingSheets, .. }, Some(hub)) => {
                JointFault::HubEdge { setting, diameter_m: 2.0 * hub.radius_m, length_m: hub.length_m, fault }
                    .into()
            }
            _ => SolidError::NotSolid { setting, fault },
        }
    }

    /// Rotation angle of the blade, deg.
    fn turn_deg(
        &self,
        setting: Option<SettingAngle>,
        warnings: &mut Vec<SolidNotice>,
    ) -> Result<f64, SolidError> {
        let Some(SettingAngle { angle_deg, radius_ratio }) = setting else {
            if self.table.angles_are_relative() {
                if self.hub.is_some() {
                    return Err(PlanFault::RelativeAngles.into());
                }
                warnings.push(SolidNotice::AnglesOfTable);
            }
            return Ok(0.0);
        };
        let radius_m = radius_ratio * (self.table.blade.radius_m + self.shift_m) - self.shift_m;
        let column = self.plan.setting_of.column();
        let found =
            self.table.value_at(column, radius_m).ok_or(PlanFault::NoSettingAngle(self.plan.setting_of))?;
        if found.is_extrapolated() {
            let (beyond_m, angle_deg) = (found.beyond_m, found.measured);
            warnings.push(SolidNotice::SettingExtrapolated { radius_ratio, beyond_m, angle_deg });
        }
        Ok(angle_deg - found.measured.value)
    }

    /// Vertices, triangles and groups of all blades and the hub, right-handed.
    #[allow(clippy::type_complexity, reason = "three lists that go straight into the check")]
    fn assemble(&self, facets: &Facets) -> Result<(Vec<[f64; 3]>, Vec<[u32; 3]>, Vec<Group>), SolidError> {
        let (mut vertices, mut faces, mut groups) = (Vec::new(), Vec::new(), Vec::new());
        let per_blade = facets.vertices.len() as u32;
        for k in 0..self.plan.blades {
            let (sin, cos) = (std::f64::consts::TAU * f64::from(k) / f64::from(self.plan.blades)).sin_cos();
            vertices.extend(
                facets.vertices.iter().map(|p| [cos * p[0] + sin * p[2], p[1], cos * p[2] - sin * p[0]]),
            );
            let shifted = |f: &[u32; 3]| f.map(|i| i + k * per_blade);
            let begin = faces.len();
            faces.extend(facets.faces[..facets.tip_from].iter().map(shifted));
            faces.extend(facets.faces[facets.root_from..].iter().map(shifted));
            let tip = faces.len();
            faces.extend(facets.faces[facets.tip_from..facets.root_from].iter().map(shifted));
            groups.push(Group { name: format!("blade-{}", k + 1), faces: begin..tip });
            groups.push(Group { name: format!("tip-{}", k + 1), faces: tip..faces.len() });
        }
        if let Some(hub) = self.hub {
            let ring: Vec<_> = facets.first_row.iter().map(|&i| facets.vertices[i as usize]).collect();
            let slanted = self.surface.sections() == SectionSurface::Cylinder;
            let made = hub.facets(self.plan.blades, &ring, self.plan.tolerance_m, slanted)?;
            let first = vertices.len() as u32;
            vertices.extend(made.vertices);
            let begin = faces.len();
            faces.extend(made.faces.iter().map(|f| {
                f.map(|corner| match corner {
                    HubCorner::Own(i) => first + i,
                    HubCorner::Ring(k, i) => k * per_blade + facets.first_row[i as usize],
                })
            }));
            groups.push(Group { name: "hub".to_owned(), faces: begin..faces.len() });
        }
        Ok((vertices, faces, groups))
    }
}

/// From this difference on the volumes of surface and scan are worth a word, as a part of the scan's.
const REPORTED_VOLUME: f64 = 0.03;
/// And from this one on a root that was only carried on is refused.
const MOST_VOLUME: f64 = 0.2;
/// Ends of blade and surface this close, as a part of the tip radius, are the same.
const SAME_ROOT: f64 = 0.01;

/// Compares the volume of the surface with that of a scanned lone blade, where both run from the same root to the same tip.
fn compare_volumes(
    table: &StationTable,
    surface: &BladeSurface,
    shift_m: f64,
) -> Result<Option<SolidNotice>, SolidError> {
    let blade = &table.blade;
    let (Some(scan_m3), Some(root_m), Some(first)) =
        (blade.volume_m3.filter(|v| 0.0 < *v), blade.root_radius_m, table.stations.first())
    else {
        return Ok(None);
    };
    let same_root = (surface.root_radius_m() - shift_m - root_m).abs() < SAME_ROOT * blade.radius_m;
    if blade.blades_in_scan != Some(1) || !same_root {
        return Ok(None);
    }
    let surface_m3 = surface.volume_m3();
    let difference = (surface_m3 / scan_m3 - 1.0).abs();
    let carried_on = surface.warnings().iter().any(|w| matches!(w, SolidNotice::NoShank { .. }));
    if carried_on && MOST_VOLUME < difference {
        return Err(SolidError::RootUnknown { surface_m3, scan_m3, first_m: first.radius_m, root_m });
    }
    Ok((REPORTED_VOLUME < difference).then_some(SolidNotice::VolumeDiffers { surface_m3, scan_m3 }))
}

fn check_plan(plan: &SolidPlan) -> Result<(), SolidError> {
    if !(1..=MOST_BLADES).contains(&plan.blades) {
        return Err(PlanFault::Blades { blades: plan.blades, most: MOST_BLADES }.into());
    }
    let lengths = [
        (PlanLength::Diameter, plan.diameter_m),
        (PlanLength::HubDiameter, plan.hub_diameter_m),
        (PlanLength::HubLength, plan.hub_length_m),
        (PlanLength::ShankDiameter, plan.shank_diameter_m),
    ];
    for (length, value) in lengths {
        if value.is_some_and(|v| !(v > 0.0 && v.is_finite())) {
            return Err(PlanFault::NotPositive(length).into());
        }
    }
    if plan.nose_length_m.is_some_and(|v| !(v >= 0.0 && v.is_finite())) {
        return Err(PlanFault::NegativeNose.into());
    }
    if plan.bore_diameter_m.is_some_and(|v| !(v >= 0.0 && v.is_finite())) {
        return Err(HoleFault::Size.into());
    }
    if !(TOLERANCES_M[0]..=TOLERANCES_M[1]).contains(&plan.tolerance_m) {
        let fault = PlanFault::Tolerance { tolerance_m: plan.tolerance_m, allowed_m: TOLERANCES_M };
        return Err(fault.into());
    }
    Ok(())
}

/// Refuses what would move developed sections off the cylinders on which they were measured.
fn must_keep_sections(plan: &SolidPlan, shift_m: f64) -> Result<(), PlanFault> {
    let moved = if SAME_DIAMETER_M < shift_m.abs() {
        MovesSections::Diameter
    } else if plan.shank_diameter_m.is_some() {
        MovesSections::Shank
    } else {
        return Ok(());
    };
    Err(PlanFault::SectionsOnCylinders(moved))
}

/// Least and greatest height at which the blade leaves a hub, m.
fn stands_on(surface: &BladeSurface, radius_m: f64) -> [f64; 2] {
    let v = surface.v_of_radius(radius_m);
    let heights = (0..=ROUND).map(|i| surface.point(f64::from(i) / f64::from(ROUND), v)[1]);
    heights.fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], y| [l.min(y), h.max(y)])
}

/// Maximum distance of the blade from its own axis between two parameters, m.
pub(crate) fn widest(surface: &BladeSurface, from_v: f64, to_v: f64) -> f64 {
    let mut widest = 0.0_f64;
    for j in 0..=20 {
        let v = from_v + (to_v - from_v) * f64::from(j) / 20.0;
        for i in 0..=60 {
            let p = surface.point(f64::from(i) / 60.0, v);
            widest = widest.max(p[0].hypot(p[1]));
        }
    }
    widest
}

/// What the table knows of the hub and the plan does not state.
struct MeasuredHub {
    under_roots: bool,
    diameter_m: Option<Measured>,
    length_m: Option<Measured>,
    /// The bore of the table, if the plan states none.
    bore_diameter_m: Option<Measured>,
    /// The bore of the table where the plan asks for a full hub.
    full_m: Option<Measured>,
    /// Whether the front is flat without being asked for.
    flat: bool,
    /// Bolt holes of the table.
    bolts: Option<BoltFigures>,
    /// Whether there are none, and none are asked for.
    no_bolts: bool,
    /// A measured diameter that cannot hold the blades, m.
    unfit_m: Option<f64>,
    /// Given sizes that are not those of the scan.
    other: Vec<(HubSize, f64, Measured)>,
}

/// A given size of the hub differs from the measured one from this fraction of it on (chosen: beyond what a caliper or a fit leaves open).
const OTHER_HUB: f64 = 0.01;

impl MeasuredHub {
    fn of(table: &StationTable, plan: &SolidPlan, surface: &BladeSurface) -> Self {
        let known = table.hub.clone().unwrap_or_default();
        let diameter = known.diameter_m.filter(|_| plan.hub_diameter_m.is_none());
        let wide = widest(surface, 0.0, 1e-6);
        let on_cylinders = surface.sections() == SectionSurface::Cylinder;
        let fits = |d: &Measured| {
            let radius = 0.5 * d.value;
            let holds =
                on_cylinders || wide <= WIDEST_ROOT * radius || Taper::of(surface, radius).fits(plan.blades);
            radius < surface.sections_m()[0] && holds
        };
        Self {
            under_roots: on_cylinders,
            diameter_m: diameter.filter(fits),
            length_m: known.length_m.filter(|_| plan.hub_length_m.is_none()),
            bore_diameter_m: known.bore_diameter_m.filter(|_| plan.bore_diameter_m.is_none()),
            full_m: known.bore_diameter_m.filter(|_| plan.bore_diameter_m.is_some_and(|b| b <= 0.0)),
            flat: false,
            no_bolts: known.bolts.is_none() && plan.bolts == Bolts::AsMeasured,
            bolts: known.bolts,
            unfit_m: diameter.filter(|d| !fits(d)).map(|d| d.value),
            other: [
                (HubSize::Diameter, plan.hub_diameter_m, known.diameter_m),
                (HubSize::Length, plan.hub_length_m, known.length_m),
                (HubSize::Bore, plan.bore_diameter_m.filter(|b| 0.0 < *b), known.bore_diameter_m),
            ]
            .into_iter()
            .filter_map(|(size, given, seen)| Some((size, given?, seen?)))
            .filter(|(_, given, seen)| OTHER_HUB * seen.value + 2.0 * seen.u < (given - seen.value).abs())
            .collect(),
        }
    }

    fn notice(self) -> Option<SolidNotice> {
        let Self {
            under_roots,
            diameter_m,
            length_m,
            bore_diameter_m,
            full_m,
            flat,
            no_bolts,
            unfit_m,
            other,
            ..
        } = self;
        let is_some =
            [diameter_m, length_m, bore_diameter_m, full_m].iter().any(Option::is_some) || unfit_m.is_some();
        (is_some || !other.is_empty()).then_some(SolidNotice::HubMeasured {
            under_roots,
            diameter_m,
            length_m,
            bore_diameter_m,
            full_m,
            flat,
            no_bolts,
            unfit_m,
            other,
        })
    }
}

/// The hub radius: given, or just large enough to hold the blades.
fn hub_radius(
    plan: &SolidPlan,
    surface: &BladeSurface,
    warnings: &mut Vec<SolidNotice>,
) -> Result<f64, JointFault> {
    let first = surface.sections_m()[0];
    let root = surface.root_radius_m();
    if let Some(diameter) = plan.hub_diameter_m {
        let radius = 0.5 * diameter;
        if first <= radius {
            return Err(JointFault::CoversStation { diameter_m: diameter, first_m: first });
        }
        if root + 1e-4 < radius {
            warnings.push(SolidNotice::RootCovered { covered_m: radius - root, root_m: root });
        }
        return Ok(radius);
    }
    let on_cylinders = surface.sections() == SectionSurface::Cylinder;
    let wide = widest(surface, 0.0, 1e-6);
    let of = |blades: u32| {
        if on_cylinders {
            return if root < first { root } else { 0.9 * first };
        }
        let side_by_side = wide / (0.8 * std::f64::consts::PI / f64::from(blades)).min(1.4).sin();
        if root < first { root.max(1.2 * wide).max(side_by_side) } else { 0.9 * first }
    };
    let radius = of(plan.blades);
    if first <= radius {
        let most_blades = (1..plan.blades).rev().find(|blades| of(*blades) < first);
        return Err(JointFault::NoRoom { root_m: root, first_m: first, needed_m: 2.0 * radius, most_blades });
    }
    warnings.push(SolidNotice::HubDiameterChosen { diameter_m: 2.0 * radius });
    Ok(radius)
}

/// Radius to which the blade must extend inwards so that the hub cuts it all around, `None` if it already does; and from where it must be narrowed on the way there, and to which part.
#[allow(clippy::type_complexity, reason = "two values that go straight into the plan of the rows")]
fn reach(
    surface: &BladeSurface,
    radius_m: f64,
    blades: u32,
    warnings: &mut Vec<SolidNotice>,
) -> Result<(Option<f64>, Option<[f64; 2]>), JointFault> {
    if surface.sections() == SectionSurface::Cylinder {
        let needed = (1.0 - INSIDE_HUB) * radius_m;
        if radius_m + 1e-4 < surface.root_radius_m() {
            warnings.push(SolidNotice::RootExtended { root_m: surface.root_radius_m(), hub_m: radius_m });
        }
        return Ok(((needed < surface.root_radius_m()).then_some(needed), None));
    }
    let wide = widest(surface, 0.0, 1e-6);
    if WIDEST_ROOT * radius_m < wide {
        let taper = Taper::of(surface, radius_m);
        if !taper.fits(blades) {
            return Err(JointFault::RootTooWide {
                width_m: 2.0 * taper.wide_m,
                diameter_m: 2.0 * radius_m,
                least_m: least_hub(surface, radius_m, blades),
            });
        }
        warnings.push(SolidNotice::RootNarrowed {
            width_m: 2.0 * taper.wide_m,
            hub_m: 2.0 * radius_m,
            at_hub_m: 2.0 * taper.emergence_m(),
            from_m: taper.from_m,
        });
        return Ok((Some(taper.reach_m()), Some([taper.from_m, taper.inner_m() / taper.wide_m])));
    }
    let needed = 0.97 * (radius_m.powi(2) - wide.powi(2)).sqrt();
    if surface.root_radius_m() <= needed {
        return Ok((None, None));
    }
    if radius_m + 1e-4 < surface.root_radius_m() {
        warnings.push(SolidNotice::RootExtended { root_m: surface.root_radius_m(), hub_m: radius_m });
    }
    Ok((Some(needed), None))
}

/// Diameter of the smallest hub that holds the blades, m, to a tenth of a millimetre; `None` if it would cover the first station.
fn least_hub(surface: &BladeSurface, radius_m: f64, blades: u32) -> Option<f64> {
    let rounded = |r: f64| 0.5e-4 * (r / 0.5e-4).ceil();
    std::iter::successors(Some(rounded(radius_m)), |r| Some(rounded(1.01 * r)))
        .take_while(|r| *r < surface.sections_m()[0])
        .find(|r| Taper::of(surface, *r).fits(blades))
        .map(|r| 2.0 * r)
}
