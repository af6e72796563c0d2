//! The blade for the flow computation: elements over the radius, built from a station table.

use crate::FlowError;
use crate::limits::BLUFF_THICKNESS_RATIO;
use crate::notice::FlowNotice;
use crate::shank::{Knot, RootPlan, ShankElement, shank};
use crate::surface::common;
use bladeform_numeric::monotone::MonotoneCubic;
use bladeform_numeric::observe::{Observer, Silent};
use bladeform_polar::{SectionForces, SectionPolar, level};
use bladeform_section::{Family, face_line_angle};
use bladeform_table::{SettingOf, Station, StationColumn, StationTable};
use std::f64::consts::PI;
use std::sync::Arc;

/// Default number of elements. With it thrust and power have converged to about 0.1 %.
pub const DEFAULT_ELEMENTS: usize = 32;
/// Least number of stations. Fewer do not define a curve.
const LEAST_STATIONS: usize = 3;
/// Least radius of the outermost station, as a fraction of R. Without one beyond it the working part of the blade is unknown.
const LEAST_OUTER_RATIO: f64 = 0.7;
/// How far the blade is extrapolated inboard of the first station if its root radius is known, as a fraction of R. Sections
/// there carry little load. If the root is unknown the blade begins at the first station.
const MOST_INBOARD_RATIO: f64 = 0.15;
/// Position of the greatest camber of the substitute four-digit section, as a fraction of the chord.
const STAND_IN_CAMBER_POSITION: f64 = 0.4;
/// Points of the outline of a substitute section.
const STAND_IN_POINTS: usize = 240;
/// Outlines are rounded to this fraction of the chord, so that equal sections of different size share one cached polar.
const FINEST: f64 = 1e-9;
/// Relative tolerance of a chord compared with the length of its outline. Rounded edges and trailing edges account for a hundredth.
const CONTRADICTION: f64 = 0.05;
/// How far inboard of the first angle a setting is still accepted, as a fraction of R.
const SETTING_SLACK: f64 = 0.01;
/// Relative tolerance within which two diameters are the same.
const SAME_DIAMETER: f64 = 1e-4;

/// The section of one station, from which its polar is computed. The chord line is along `x` from 0 to 1.
#[derive(Clone, Debug)]
pub struct SectionShape {
    /// Radius as a fraction of the tip radius.
    pub radius_ratio: f64,
    /// Chord over radius, for the effect of rotation on the section.
    pub chord_over_radius: f64,
    /// Chord, m.
    pub chord_m: f64,
    /// Closed outline, n x 2, fractions of the chord, leading edge at the origin.
    pub outline: Vec<[f64; 2]>,
    /// Thickness as a fraction of the chord.
    pub thickness_ratio: f64,
    /// Camber as a fraction of the chord.
    pub camber_ratio: f64,
    /// Whether the section is a bluff body: a circle or nearly as thick as wide.
    pub is_bluff: bool,
    /// Whether the outline is that of a substitute section, because only the ratios are known.
    pub is_stand_in: bool,
}

/// A source of the polars of a blade's sections.
pub trait PolarSource {
    /// The polars of the sections, in the same order.
    ///
    /// # Errors
    /// [`FlowError::Polar`] for the first section without a polar.
    fn polars(
        &self,
        shapes: &[SectionShape],
        observer: &dyn Observer,
    ) -> Result<Vec<Arc<dyn SectionPolar>>, FlowError>;

    /// A sentence that says where the polars come from.
    fn method(&self) -> String;

    /// Warnings about the polars.
    fn warnings(&self) -> Vec<FlowNotice> {
        Vec::new()
    }
}

/// One element of the blade. SI. Angles are those of the table, before any setting.
#[derive(Clone, Debug)]
pub struct BladeElement {
    /// Radius of its middle, m.
    pub radius_m: f64,
    /// Its width along the span, m.
    pub width_m: f64,
    /// Chord, m.
    pub chord_m: f64,
    /// Blade angle of the table, rad.
    pub table_angle_rad: f64,
    /// Mid-chord point of the table, `x` and `y` in blade axes, m. `None` if the table has none.
    pub mid_chord_m: Option<[f64; 2]>,
    /// The neighbouring stations and the weight of the outer one.
    pub between: (usize, usize, f64),
}

/// A blade ready for computation.
#[derive(Clone)]
pub struct FlowBlade {
    /// Tip radius, m.
    pub radius_m: f64,
    /// Radius at which the computed blade begins, m.
    pub inner_radius_m: f64,
    /// The elements from the root to the tip.
    pub elements: Vec<BladeElement>,
    /// The part inboard of the elements, which has drag and no lift, from the root outwards.
    pub(crate) shank: Vec<ShankElement>,
    /// Length of the hub, m, if the table has it.
    pub(crate) hub_length_m: Option<f64>,
    /// The sections at the usable stations.
    pub shapes: Vec<SectionShape>,
    /// Warnings about the blade.
    pub warnings: Vec<FlowNotice>,
    pub(crate) polars: Vec<Arc<dyn SectionPolar>>,
    pub(crate) stations: Vec<Station>,
    angle_deg: MonotoneCubic,
    face_deg: Option<MonotoneCubic>,
    /// Number of stations whose face angle is read from their outline, measured or substitute, because the table has none.
    pub(crate) faces_of_outlines: usize,
    reference_ratio: f64,
    is_relative: bool,
}

impl std::fmt::Debug for FlowBlade {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("FlowBlade")
            .field("radius_m", &self.radius_m)
            .field("elements", &self.elements)
            .finish()
    }
}

/// The polar of an element: those of the two neighbouring stations, interpolated linearly over the radius.
pub(crate) struct BlendedPolar<'a> {
    pub(crate) inner: &'a dyn SectionPolar,
    pub(crate) outer: &'a dyn SectionPolar,
    pub(crate) share: f64,
    /// Part of the drag that rotation adds to a stalled section, by the blade angle.
    pub(crate) level: f64,
}

impl BlendedPolar<'_> {
    /// Without the drag that rotation adds.
    fn own(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> (SectionForces, bool) {
        let outer = self.outer.forces(alpha_rad, reynolds, mach);
        if self.share >= 1.0 {
            return (outer, outer.stalled);
        }
        let inner = self.inner.forces(alpha_rad, reynolds, mach);
        let mix = |a: f64, b: f64| a + self.share * (b - a);
        let nearer = if self.share < 0.5 { inner } else { outer };
        let mixed = SectionForces {
            lift: mix(inner.lift, outer.lift),
            drag: mix(inner.drag, outer.drag),
            moment: mix(inner.moment, outer.moment),
            ..nearer
        };
        (mixed, inner.stalled || outer.stalled)
    }
}

impl SectionPolar for BlendedPolar<'_> {
    fn forces(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> SectionForces {
        let (forces, stalled) = self.own(alpha_rad, reynolds, mach);
        if !stalled {
            return forces;
        }
        SectionForces {
            drag: forces.drag + self.level * self.rotating_drag(alpha_rad, reynolds, mach),
            ..forces
        }
    }

    fn rotating_drag(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> f64 {
        let of = |polar: &dyn SectionPolar| polar.rotating_drag(alpha_rad, reynolds, mach);
        let outer = of(self.outer);
        if self.share >= 1.0 { outer } else { of(self.inner) * (1.0 - self.share) + self.share * outer }
    }

    fn lift(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> f64 {
        let outer = self.outer.lift(alpha_rad, reynolds, mach);
        if self.share >= 1.0 {
            return outer;
        }
        let inner = self.inner.lift(alpha_rad, reynolds, mach);
        inner + self.share * (outer - inner)
    }

    fn without_lift(&self) -> Option<[f64; 2]> {
        let outer = self.outer.without_lift();
        if self.share >= 1.0 { outer } else { common(self.inner.without_lift(), outer) }
    }

    fn least_pressure(&self, alpha_rad: f64, reynolds: f64) -> Option<f64> {
        let outer = self.outer.least_pressure(alpha_rad, reynolds);
        if self.share >= 1.0 {
            return outer;
        }
        let inner = self.inner.least_pressure(alpha_rad, reynolds)?;
        Some(inner + self.share * (outer? - inner))
    }
}

impl FlowBlade {
    /// The blade of a table, divided into `elements` elements.
    ///
    /// If `diameter_m` differs from that of the table, the blade keeps its size and moves along its span until its tip is at the
    /// new radius. This is meant for the scan of a single blade whose root radius was unknown.
    ///
    /// # Errors
    /// [`FlowError`] if too few stations can be used, none lies outboard, or a section gives no polar.
    pub fn of_table(
        table: &StationTable,
        diameter_m: Option<f64>,
        elements: usize,
        source: &dyn PolarSource,
    ) -> Result<FlowBlade, FlowError> {
        Self::observed(table, diameter_m, elements, source, &Silent)
    }

    /// As [`FlowBlade::of_table`], with the stage "section polars" reported to an observer.
    ///
    /// # Errors
    /// As [`FlowBlade::of_table`], and [`FlowError::Stopped`].
    pub fn observed(
        table: &StationTable,
        diameter_m: Option<f64>,
        elements: usize,
        source: &dyn PolarSource,
        observer: &dyn Observer,
    ) -> Result<FlowBlade, FlowError> {
        Self::rooted(table, diameter_m, elements, source, observer, &RootPlan::default())
    }

    /// As [`FlowBlade::observed`], with a spinner, a blunt hub or a round shank.
    ///
    /// # Errors
    /// As [`FlowBlade::observed`].
    pub fn rooted(
        table: &StationTable,
        diameter_m: Option<f64>,
        elements: usize,
        source: &dyn PolarSource,
        observer: &dyn Observer,
        root: &RootPlan,
    ) -> Result<FlowBlade, FlowError> {
        let mut warnings = Vec::new();
        let (table, moved) = placed(table, diameter_m)?;
        warnings.extend(moved);
        let radius_m = table.blade.radius_m;
        let usable: Vec<Station> =
            table.stations.iter().filter(|s| !s.is_refused()).filter_map(usable_station).collect();
        let angled: Vec<(f64, f64)> =
            usable.iter().filter_map(|s| s.blade_angle_deg.map(|a| (s.radius_m, a))).collect();
        if angled.len() < LEAST_STATIONS {
            return Err(FlowError::FewStations { usable: angled.len(), all: table.stations.len() });
        }
        let last_ratio = angled[angled.len() - 1].0 / radius_m;
        if last_ratio < LEAST_OUTER_RATIO {
            return Err(FlowError::NothingOutboard { last_ratio });
        }
        warnings.extend(left_out(&table, usable.len()));
        let shapes = shapes(&usable)?;
        warnings.extend(substitutes(&shapes));
        warnings.extend(contradictions(&usable));
        let few = || FlowError::FewStations { usable: angled.len(), all: table.stations.len() };
        let angle_deg = MonotoneCubic::through(&angled).ok_or_else(few)?;
        let chords: Vec<(f64, f64)> =
            usable.iter().zip(&shapes).map(|(s, shape)| (s.radius_m, shape.chord_m)).collect();
        let chord_m = MonotoneCubic::through(&chords).ok_or_else(few)?;
        let face_deg = MonotoneCubic::through(&face_angles(&usable, &shapes));
        let faces_of_outlines = usable
            .iter()
            .zip(&shapes)
            .filter(|(s, shape)| s.face_angle_deg.is_none() && !shape.is_bluff)
            .count();
        let inner_radius_m = inner_radius(&table, chords[0].0, root, &mut warnings);
        let first = Knot {
            radius_m: chords[0].0,
            breadth_m: chords[0].1,
            depth_m: chords[0].1 * shapes[0].thickness_ratio.clamp(0.0, 1.0),
            angle_rad: angle_deg.value(angled[0].0).to_radians(),
        };
        let (shank, told) = shank(&table, root, inner_radius_m, first);
        warnings.extend(told);
        tell_outer(&chords, radius_m, &mut warnings);
        let polars = source.polars(&shapes, observer)?;
        warnings.extend(source.warnings());
        let radii: Vec<f64> = chords.iter().map(|(r, _)| *r).collect();
        let mid_chord_m = mid_chord(&usable);
        let elements = cut(inner_radius_m, radius_m, elements)
            .map(|(r, width_m)| BladeElement {
                radius_m: r,
                width_m,
                chord_m: carried(&chord_m, &chords, r),
                // Inboard of the first angle the blade is a shank, and a further twist there has no meaning.
                table_angle_rad: angle_deg.value(r.max(angled[0].0)).to_radians(),
                mid_chord_m: mid_chord_m.as_ref().map(|c| [0, 1].map(|k| c[k].value(r.max(angled[0].0)))),
                between: between(&radii, r),
            })
            .collect();
        Ok(FlowBlade {
            radius_m,
            inner_radius_m,
            elements,
            shank,
            hub_length_m: table.hub.as_ref().and_then(|h| h.length_m.as_ref()).map(|l| l.value),
            shapes,
            warnings,
            polars,
            stations: usable,
            angle_deg,
            face_deg,
            faces_of_outlines,
            reference_ratio: table.blade.reference_radius_ratio,
            is_relative: table.angles_are_relative(),
        })
    }

    /// The reference radius of the table as a fraction of the tip radius.
    #[must_use]
    pub fn reference_radius_ratio(&self) -> f64 {
        self.reference_ratio
    }

    /// Whether the table's angles are relative, so that a setting is needed.
    #[must_use]
    pub fn angles_are_relative(&self) -> bool {
        self.is_relative
    }

    /// The angle, deg, of a line of the section at a radius ratio, from the smooth distribution of the table, extrapolated to the tip.
    ///
    /// # Errors
    /// [`FlowError::NoFaceAngle`] if the face angle is not known.
    pub fn table_angle_deg(&self, of: SettingOf, radius_ratio: f64) -> Result<f64, FlowError> {
        let curve = match of {
            SettingOf::Chord => Some(&self.angle_deg),
            SettingOf::Face => self.face_deg.as_ref(),
        };
        curve.map(|curve| curve.value(radius_ratio * self.radius_m)).ok_or(FlowError::NoFaceAngle)
    }

    /// The turn of the whole blade from the table's angles, rad, that gives a line at a radius ratio an angle, deg.
    ///
    /// # Errors
    /// [`FlowError::SettingPlace`] inboard of the first angle, [`FlowError::NoFaceAngle`], or [`FlowError::Setting`] beyond -90 to 90 deg.
    pub fn turn_rad(&self, setting_deg: f64, of: SettingOf, radius_ratio: f64) -> Result<f64, FlowError> {
        let first = self.angle_deg.range().0 / self.radius_m;
        if radius_ratio < first - SETTING_SLACK {
            return Err(FlowError::SettingPlace { ratio: radius_ratio, first });
        }
        if !(-90.0..=90.0).contains(&setting_deg) {
            return Err(FlowError::Setting { setting_deg });
        }
        Ok((setting_deg - self.table_angle_deg(of, radius_ratio)?).to_radians())
    }

    /// The same blade with a smooth and with a worn surface. `None` if the surface is known.
    pub(crate) fn surfaces(&self) -> Option<[FlowBlade; 2]> {
        if self.polars.iter().all(|p| p.surfaces().is_none()) {
            return None;
        }
        Some([0, 1].map(|k| {
            let of = |p: &Arc<dyn SectionPolar>| {
                p.surfaces().map_or_else(|| Arc::clone(p), |both| Arc::clone(&both[k]))
            };
            FlowBlade { polars: self.polars.iter().map(of).collect(), ..self.clone() }
        }))
    }

    /// Radii of the element boundaries, m: one more than elements.
    pub(crate) fn edges_m(&self) -> Vec<f64> {
        let (half, middle) =
            (0.5 * (self.radius_m - self.inner_radius_m), 0.5 * (self.radius_m + self.inner_radius_m));
        let n = self.elements.len();
        (0..=n).map(|k| middle - half * (PI * k as f64 / n as f64).cos()).collect()
    }

    /// Quarter-chord points of the elements, m, with the whole blade turned by `turn_rad` from the table. `x` is positive in the direction of rotation, `y` in
    /// the direction of flight. The points are on the pitch-change axis if the table has no mid-chord points.
    pub(crate) fn quarter_chord_m(&self, turn_rad: f64) -> Vec<[f64; 2]> {
        let (sin, cos) = turn_rad.sin_cos();
        let point = |e: &BladeElement| {
            let [x, y] = e.mid_chord_m?;
            let (up, ahead) = (e.table_angle_rad + turn_rad).sin_cos();
            let quarter = 0.25 * e.chord_m;
            Some([x * cos - y * sin + quarter * ahead, x * sin + y * cos + quarter * up])
        };
        self.elements.iter().map(|e| point(e).unwrap_or([0.0; 2])).collect()
    }

    /// Chord over tip radius of the element nearest to a radius ratio.
    pub(crate) fn chord_ratio_at(&self, ratio: f64) -> f64 {
        let off = |e: &&BladeElement| (e.radius_m / self.radius_m - ratio).abs();
        let nearest = self.elements.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.map_or(0.0, |e| e.chord_m / self.radius_m)
    }

    /// The polar of an element of the blade turned by `turn_rad` from the table's angles.
    pub(crate) fn polar(&self, element: &BladeElement, turn_rad: f64) -> BlendedPolar<'_> {
        let (inner, outer, share) = element.between;
        let level = level(element.table_angle_rad + turn_rad);
        BlendedPolar { inner: &*self.polars[inner], outer: &*self.polars[outer], share, level }
    }
}

/// The table at the requested diameter, and a notice if the blade was moved.
fn placed(
    table: &StationTable,
    diameter_m: Option<f64>,
) -> Result<(StationTable, Option<FlowNotice>), FlowError> {
    let mut table = table.clone();
    let Some(diameter_m) = diameter_m else { return Ok((table, None)) };
    if !(diameter_m > 0.0 && diameter_m.is_finite()) {
        return Err(FlowError::Diameter { diameter_m });
    }
    let (old_m, new_m) = (table.blade.radius_m, 0.5 * diameter_m);
    if (new_m / old_m - 1.0).abs() < SAME_DIAMETER {
        return Ok((table, None));
    }
    let shift_m = new_m - old_m;
    table.blade.radius_m = new_m;
    table.blade.root_radius_m = table.blade.root_radius_m.map(|r| (r + shift_m).max(0.0));
    let had_enough = LEAST_STATIONS <= table.stations.len();
    table.stations.retain(|s| s.radius_m + shift_m > 0.0);
    if had_enough && table.stations.len() < LEAST_STATIONS {
        return Err(FlowError::DiameterFar { diameter_m, radius_m: old_m });
    }
    table.root_sections.retain(|s| s.radius_m + shift_m > 0.0);
    for section in &mut table.root_sections {
        section.radius_m += shift_m;
    }
    for station in &mut table.stations {
        station.radius_m += shift_m;
        station.radius_ratio = station.radius_m / new_m;
    }
    Ok((table, Some(FlowNotice::BladeMoved { requested_m: new_m, table_m: old_m })))
}

/// A station with a chord. For a round section without a chord line it is the longest chord.
fn usable_station(station: &Station) -> Option<Station> {
    let mut station = station.clone();
    let thick = station.thickness_ratio.is_some_and(|t| t >= BLUFF_THICKNESS_RATIO);
    if station.chord_m.is_none() || (thick && station.blade_angle_deg.is_none()) {
        station.chord_m = Some(station.longest_chord_m.or(station.thickness_m)?);
        station.blade_angle_deg = None;
    } else if station.blade_angle_deg.is_none() {
        return None;
    }
    Some(station)
}

fn left_out(table: &StationTable, usable: usize) -> Option<FlowNotice> {
    let out = table.stations.len() - usable;
    (out > 0).then_some(FlowNotice::StationsLeftOut { count: out, all: table.stations.len() })
}

fn shapes(usable: &[Station]) -> Result<Vec<SectionShape>, FlowError> {
    usable.iter().map(shape).collect()
}

fn shape(station: &Station) -> Result<SectionShape, FlowError> {
    let no_section = || FlowError::NoSection { radius_ratio: station.radius_ratio };
    let chord_m = station.chord_m.ok_or_else(no_section)?;
    let measured = station.outline.as_ref().filter(|o| !o.is_empty());
    let is_bluff = station.blade_angle_deg.is_none()
        || station.thickness_ratio.is_some_and(|t| t >= BLUFF_THICKNESS_RATIO);
    let (outline, is_stand_in) = match measured {
        Some(outline) => {
            (outline.points().map(|p| p.map(|v| (v / chord_m / FINEST).round() * FINEST)).collect(), false)
        }
        None if is_bluff => {
            let thickness = station.thickness_ratio.unwrap_or(1.0).clamp(0.5, 1.0);
            (Family::Ellipse { thickness }.outline(STAND_IN_POINTS), true)
        }
        None => {
            let (thickness, camber) = station
                .thickness_ratio
                .zip(station.camber_ratio)
                .filter(|(thickness, _)| *thickness > 0.0)
                .ok_or_else(no_section)?;
            let family = Family::FourDigit { camber, position: STAND_IN_CAMBER_POSITION, thickness };
            (family.outline(STAND_IN_POINTS), true)
        }
    };
    Ok(SectionShape {
        radius_ratio: station.radius_ratio,
        chord_over_radius: chord_m / station.radius_m,
        chord_m,
        thickness_ratio: station
            .thickness_ratio
            .unwrap_or_else(|| if is_bluff { 1.0 } else { height(&outline) }),
        camber_ratio: station.camber_ratio.unwrap_or(0.0),
        outline,
        is_bluff,
        is_stand_in,
    })
}

fn height(outline: &[[f64; 2]]) -> f64 {
    let (low, high) = outline.iter().fold((f64::MAX, f64::MIN), |(l, h), p| (l.min(p[1]), h.max(p[1])));
    high - low
}

fn substitutes(shapes: &[SectionShape]) -> Vec<FlowNotice> {
    let count = |is_bluff| shapes.iter().filter(|s| s.is_stand_in && s.is_bluff == is_bluff).count();
    let (lifting, round) = (count(false), count(true));
    let mut notices = Vec::new();
    if lifting > 0 {
        notices.push(FlowNotice::SubstituteSections { count: lifting, all: shapes.len() });
    }
    if round > 0 {
        notices.push(FlowNotice::SubstituteShank { count: round, all: shapes.len() });
    }
    notices
}

/// Stations whose chord is not the length of their own outline.
fn contradictions(usable: &[Station]) -> Option<FlowNotice> {
    let length = |s: &Station| {
        let points: Vec<f64> = s.outline.as_ref()?.points().map(|p| p[0]).collect();
        let (low, high) = points.iter().fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(*x), h.max(*x)));
        (low < high).then_some(high - low)
    };
    let wrong: Vec<String> = usable
        .iter()
        .filter_map(|s| {
            let (chord, length) = (s.chord_m?, length(s)?);
            let is_wrong = s.blade_angle_deg.is_some() && (chord / length - 1.0).abs() > CONTRADICTION;
            is_wrong.then(|| {
                format!(
                    "{:.3} R (chord {:.1} mm, outline {:.1} mm)",
                    s.radius_ratio,
                    1e3 * chord,
                    1e3 * length
                )
            })
        })
        .collect();
    // The other rows can be found in the table.
    const MOST_NAMED: usize = 4;
    let more = match wrong.len().saturating_sub(MOST_NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let named = wrong[..wrong.len().min(MOST_NAMED)].join(", ");
    (!wrong.is_empty()).then(|| FlowNotice::ChordContradictsOutline { places: named + &more })
}

/// Face angles, deg: measured, or read from the outlines.
fn face_angles(usable: &[Station], shapes: &[SectionShape]) -> Vec<(f64, f64)> {
    let of = |(station, shape): (&Station, &SectionShape)| {
        let angle = station.blade_angle_deg?;
        let face = station.face_angle_deg.or_else(|| {
            let turn = face_line_angle(&face_points(&shape.outline), 1.0)?;
            (!shape.is_bluff).then_some(angle + turn.to_degrees())
        });
        face.map(|face| (station.radius_m, face))
    };
    usable.iter().zip(shapes).filter_map(of).collect()
}

/// Mid-chord point over the radius, `x` and `y`. `None` if fewer than two stations with an angle have one.
fn mid_chord(usable: &[Station]) -> Option<[MonotoneCubic; 2]> {
    let of = |s: &Station| {
        s.blade_angle_deg?;
        Some((s.radius_m, s.mid_chord_x_m?, s.mid_chord_y_m?))
    };
    let points: Vec<(f64, f64, f64)> = usable.iter().filter_map(of).collect();
    let x = MonotoneCubic::through(&points.iter().map(|p| (p.0, p.1)).collect::<Vec<_>>())?;
    let y = MonotoneCubic::through(&points.iter().map(|p| (p.0, p.2)).collect::<Vec<_>>())?;
    Some([x, y])
}

/// Points of the face at equal steps along the chord: the lowest crossings of the outline.
fn face_points(outline: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let lowest_at = |x: f64| {
        let n = outline.len();
        (0..n)
            .map(|i| (outline[i], outline[(i + 1) % n]))
            .filter(|(a, b)| (a[0] - x) * (b[0] - x) <= 0.0 && (a[0] - b[0]).abs() > 1e-12)
            .map(|(a, b)| a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]))
            .fold(f64::MAX, f64::min)
    };
    (0..=60).map(|i| 0.3 + 0.01 * f64::from(i)).map(|x| [x, lowest_at(x)]).collect()
}

/// The radius at which lifting elements begin: not inside a spinner or a hub, and not on a measured or stated round shank.
fn inner_radius(table: &StationTable, first_m: f64, root: &RootPlan, notices: &mut Vec<FlowNotice>) -> f64 {
    let covered_m =
        [root.spinner_m, root.blunt_hub_m].into_iter().flatten().map(|d| 0.5 * d).fold(0.0, f64::max);
    let radius_m = table.blade.radius_m;
    let begins_m = root.begins_m(table).map_or(0.0, |b| b.0);
    let round_m = root.round_to_m(table, first_m).unwrap_or(0.0);
    let root_m = table.blade.root_radius_m.filter(|r| *r > 0.0 && *r < first_m);
    let Some(root_m) = root_m else {
        let is_zero = match table.blade.root_radius_m {
            None => false,
            Some(r) if r <= 0.0 => true,
            Some(_) => return first_m.max(covered_m),
        };
        if begins_m > 0.0 {
            return first_m.max(covered_m);
        }
        notices.push(FlowNotice::RootLeftOut { is_zero, first_ratio: first_m / radius_m });
        return first_m;
    };
    let inner_m = root_m
        .max(first_m - MOST_INBOARD_RATIO * radius_m)
        .max(begins_m)
        .max(round_m.min(first_m))
        .max(covered_m);
    if first_m - inner_m > 1e-6 * radius_m {
        notices.push(FlowNotice::InboardExtrapolated {
            from_ratio: inner_m / radius_m,
            first_ratio: first_m / radius_m,
            left_out_from_ratio: (inner_m - root_m > 1e-6 * radius_m).then_some(root_m / radius_m),
        });
    }
    inner_m
}

fn tell_outer(chords: &[(f64, f64)], radius_m: f64, notices: &mut Vec<FlowNotice>) {
    let last = chords[chords.len() - 1].0 / radius_m;
    if last < 1.0 - 1e-6 {
        notices.push(FlowNotice::OutboardExtrapolated { last_ratio: last });
    }
}

/// The chord at a radius. Inboard of the first station it is constant. Outboard of the last it follows the slope of the curve, but is at least a tenth of the
/// last chord.
fn carried(curve: &MonotoneCubic, chords: &[(f64, f64)], r: f64) -> f64 {
    let (first, last) = (chords[0], chords[chords.len() - 1]);
    if r < first.0 {
        return first.1;
    }
    curve.value(r).max(0.1 * last.1)
}

/// Elements at equal angles of a half circle over the span (cosine spacing). They are finer at both ends, where the circulation falls like a square root.
fn cut(inner_m: f64, outer_m: f64, n: usize) -> impl Iterator<Item = (f64, f64)> {
    let (half, middle) = (0.5 * (outer_m - inner_m), 0.5 * (outer_m + inner_m));
    (0..n).map(move |k| {
        let t = PI * (k as f64 + 0.5) / n as f64;
        (middle - half * t.cos(), half * t.sin() * 2.0 * (0.5 * PI / n as f64).sin())
    })
}

/// The stations on either side of a radius and the weight of the outer one. Beyond the ends it is the end station alone.
fn between(radii: &[f64], r: f64) -> (usize, usize, f64) {
    let above = radii.partition_point(|x| *x <= r);
    if above == 0 {
        return (0, 0, 1.0);
    }
    if above == radii.len() {
        return (above - 1, above - 1, 1.0);
    }
    (above - 1, above, (r - radii[above - 1]) / (radii[above] - radii[above - 1]))
}

/// The columns whose uncertainty is propagated.
pub(crate) const UNCERTAIN: [StationColumn; 3] =
    [StationColumn::BladeAngleDeg, StationColumn::ChordM, StationColumn::CamberRatio];

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::SectionOutline;

    #[test]
    fn a_chord_that_is_not_the_length_of_its_outline_is_told() {
        let outline: Vec<[f64; 2]> =
            Family::ClarkY { thickness: 0.1 }.outline(100).iter().map(|p| [0.2 * p[0], 0.2 * p[1]]).collect();
        let station = |chord_m| Station {
            chord_m: Some(chord_m),
            blade_angle_deg: Some(20.0),
            outline: Some(SectionOutline::from_points(&outline)),
            ..Station::at(0.75, 1.0)
        };
        assert!(contradictions(&[station(0.2), station(0.201)]).is_none());
        let told = bladeform_table::Coded::sentence(&contradictions(&[station(0.2), station(2.0)]).unwrap());
        assert!(
            told.contains("0.750 R") && told.contains("2000.0 mm") && told.contains("200.0 mm"),
            "{told}"
        );
    }
}
