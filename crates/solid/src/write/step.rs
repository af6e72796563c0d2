//! A single blade, or blades and hub as one solid, as boundary representations with B-spline surfaces.
//!
//! The blades of a propeller keep their surfaces. Where a blade emerges from the cylinder of the hub, both are trimmed by one edge, and the blade edges bound a
//! hole in the face of the cylinder.
//!
//! Sources: ISO 10303-21 (exchange structure), ISO 10303-42 (geometry and topology), ISO 10303-214 (its schema AUTOMOTIVE_DESIGN); names of entities
//! and attributes are those of the standards. The header has no time stamp, so that the same table gives the same bytes.

use std::f64::consts::TAU;

use bladeform_table::{CAUTION_SHORT, SectionSurface};

use super::step_blade::BladeParts;
use super::step_entities::{Entities, refs};
use super::step_hub::HubFaces;
use crate::emergence::{Sheet, emergence};
use crate::error::SolidError;
use crate::facets::Start;
use crate::hub::{Hub, Slant};
use crate::surface::BladeSurface;

/// Accuracy of the geometry, m. Edges of back, face and tip share the control points of their surfaces, so that only the printed decimals round them. Edges
/// on the cylinder are closer than this to the cylinder and the blade, or the file declares their distance.
const ACCURACY_M: f64 = 1e-8;

/// Chord at the flat end of the tip as a fraction of the chord at the last station. A surface that shrinks to a point has no normal there, and geometry kernels
/// must guess the missing edge. The length cut off is the square of this fraction times the distance from the last station to the tip: some hundredths of a millimetre.
const TIP_SHARE: f64 = 0.02;

/// By how much a lone blade with sections on cylinders is shorter at its inner end in a file, m.
const ROOT_SHORTENED_M: f64 = 2e-6;

/// Units a file may declare.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepUnit {
    /// Millimetres.
    Millimetre,
    /// Metres.
    Metre,
}

/// A STEP file of one closed solid.
#[derive(Debug, Clone, PartialEq)]
pub struct StepFile {
    /// The content of the file.
    pub text: String,
    /// Maximum distance, m, of the edges between blades and hub from the cylinder of the hub and from the blade surfaces, at the quarters of every edge
    /// piece, and of surfaces with sections on cylinders from the exact ones; 0 for a single blade with plane sections.
    pub edge_error_m: f64,
}

impl BladeSurface {
    /// Length that the flat tip end of a STEP file cuts off the blade, m.
    #[must_use]
    pub fn step_cut_m(&self) -> f64 {
        TIP_SHARE * TIP_SHARE * (self.tip_radius_m() - self.sections_m()[1])
    }

    /// The blade as an ISO 10303-21 file of AP214: one closed solid of five faces (back, face, flat of the tail, root end, a tiny flat end at the tip).
    ///
    /// With a hub and a number of blades it is the propeller: the blades, rotated about the axis of rotation, and the hub as one closed solid. Every blade is
    /// trimmed where it emerges from the cylinder of the hub. The cylinder has a hole there, and both share the edges. The caller must ensure that blades neither
    /// collide nor leave the cylinder: [`crate::PropellerSurface::at`] proves it on triangles.
    ///
    /// `name`: the product name with letters, digits, blanks and `-_.` only; other characters become `-`.
    ///
    /// # Errors
    /// [`SolidError::Joint`] if the inner end of the blade is outside the hub, or the blade does not emerge from it.
    pub fn step(&self, hub: Option<(Hub, u32)>, name: &str, unit: StepUnit) -> Result<StepFile, SolidError> {
        let cut = self.cut_off(self.v_of_radius(self.tip_radius_m() - self.step_cut_m()));
        let is_mirrored = cut.section_area(0.0) < 0.0;
        let (cut, wrap_error_m) = cut.in_blade_axes()?;
        let mut file = Entities::new(unit.per_metre());
        let Some((hub, count)) = hub else {
            let start = match cut.sections() {
                SectionSurface::Plane => Start::Root,
                // The flat of the tail is straight and its inner end on the cylinder curved, so that the end is traced just outside.
                SectionSurface::Cylinder => Start::Cylinder(cut.root_radius_m() + ROOT_SHORTENED_M),
            };
            let parts = BladeParts::new(&cut, start, is_mirrored)?;
            let blade = parts.write(&mut file);
            let root = parts.root_end(&mut file, &blade.rim);
            let faces = [blade.faces, vec![root]].concat();
            let edge_error_m = parts.edge_error_m.max(wrap_error_m);
            let accuracy_m = ACCURACY_M.max(edge_error_m);
            return Ok(StepFile { text: whole(file, "blade", &faces, name, unit, accuracy_m), edge_error_m });
        };
        let parts = BladeParts::new(&cut, Start::Cylinder(hub.radius_m), is_mirrored)?;
        let (mut faces, mut rims) = (Vec::new(), Vec::new());
        for k in 0..count {
            file.turn_by(TAU * f64::from(k) / f64::from(count));
            let blade = parts.write(&mut file);
            faces.extend(blade.faces);
            rims.push(blade.rim);
        }
        file.turn_by(0.0);
        let slant = slant_of(&cut, &hub, count)?;
        // Where the first bolt hole lies is stated in the direction of rotation.
        let bolts = hub.bolts.map(|b| if is_mirrored { b.mirrored() } else { b });
        let hub = Hub { bolts, ..hub };
        faces.extend(HubFaces::new(&hub, count, slant).write(&mut file, &rims));
        let edge_error_m = parts.edge_error_m.max(wrap_error_m);
        let text = whole(file, "propeller", &faces, name, unit, ACCURACY_M.max(edge_error_m));
        Ok(StepFile { text, edge_error_m })
    }
}

/// Places around a section from which the slant of the hub's sectors is found.
const PLACES: u32 = 400;

/// How the sectors of the hub must lean for the openings of screws to lie within them.
fn slant_of(blade: &BladeSurface, hub: &Hub, count: u32) -> Result<Slant, SolidError> {
    if blade.sections() == SectionSurface::Plane {
        return Ok(Slant::default());
    }
    let ring = (0..=PLACES)
        .map(|k| f64::from(k) / f64::from(PLACES))
        .map(|u| Ok(blade.point(u, emergence(blade, Sheet::Sides, u, hub.radius_m)?)))
        .collect::<Result<Vec<_>, SolidError>>()?;
    let half = std::f64::consts::PI / f64::from(count) * hub.radius_m;
    Ok(Slant::of(&hub.developed(&ring), half))
}

impl StepUnit {
    const fn per_metre(self) -> f64 {
        match self {
            Self::Millimetre => 1e3,
            Self::Metre => 1.0,
        }
    }
}

/// The file of one closed shell of faces. `called`: the name of the solid; `name`: the name of the product.
fn whole(
    mut file: Entities,
    called: &str,
    faces: &[usize],
    name: &str,
    unit: StepUnit,
    accuracy_m: f64,
) -> String {
    let described = if called == "blade" { "Propeller blade" } else { "Propeller" };
    let shell = file.add(&format!("CLOSED_SHELL('',({}))", refs(faces)));
    let solid = file.add(&format!("MANIFOLD_SOLID_BREP('{called}',#{shell})"));
    let name: String =
        name.chars().map(|c| if c.is_ascii_alphanumeric() || " -_.".contains(c) { c } else { '-' }).collect();
    let shape = shape_of_product(&mut file, &name);
    let context = context(&mut file, unit, accuracy_m);
    let placement = file.placement([0.0; 3], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]);
    let representation =
        file.add(&format!("ADVANCED_BREP_SHAPE_REPRESENTATION('',(#{placement},#{solid}),#{context})"));
    file.add(&format!("SHAPE_DEFINITION_REPRESENTATION(#{shape},#{representation})"));
    format!(
        "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(('{described}, smooth surface through measured stations. {CAUTION_SHORT}'),'2;1');\n\
         FILE_NAME('{name}','1970-01-01T00:00:00',(''),(''),'bladeform','bladeform','');\n\
         FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 1 1 1 1 }}'));\nENDSEC;\nDATA;\n{}ENDSEC;\nEND-ISO-10303-21;\n",
        file.text
    )
}

fn shape_of_product(file: &mut Entities, name: &str) -> usize {
    let application = file.add("APPLICATION_CONTEXT('core data for automotive mechanical design processes')");
    file.add(&format!(
        "APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,#{application})"
    ));
    let context = file.add(&format!("PRODUCT_CONTEXT('',#{application},'mechanical')"));
    let product = file.add(&format!("PRODUCT('{name}','{name}','',(#{context}))"));
    file.add(&format!("PRODUCT_RELATED_PRODUCT_CATEGORY('part',$,(#{product}))"));
    let formation = file.add(&format!("PRODUCT_DEFINITION_FORMATION('','',#{product})"));
    let design = file.add(&format!("PRODUCT_DEFINITION_CONTEXT('part definition',#{application},'design')"));
    let definition = file.add(&format!("PRODUCT_DEFINITION('design','',#{formation},#{design})"));
    file.add(&format!("PRODUCT_DEFINITION_SHAPE('','',#{definition})"))
}

fn context(file: &mut Entities, unit: StepUnit, accuracy_m: f64) -> usize {
    let prefix = if unit == StepUnit::Metre { "$" } else { ".MILLI." };
    let length = file.add(&format!("(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT({prefix},.METRE.))"));
    let angle = file.add("(NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.))");
    let solid_angle = file.add("(NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT())");
    let accuracy = file.add(&format!(
        "UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE({}),#{length},'distance_accuracy_value','')",
        file.length(accuracy_m)
    ));
    file.add(&format!(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3) GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{accuracy})) GLOBAL_UNIT_ASSIGNED_CONTEXT((#{length},#{angle},#{solid_angle})) REPRESENTATION_CONTEXT('',''))"
    ))
}
