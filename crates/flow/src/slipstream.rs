//! The slipstream: axial and swirl velocity over the radius at distances behind the propeller.

use crate::{FlowBlade, FlowError, FlowPropeller, Performance, PolarSource, PredictPlan};
use bladeform_quantity::Hand;
use bladeform_table::StationTable;
use std::f64::consts::TAU;
use std::fmt::Write;

/// Points around the axis in the grid for flow solvers.
const AROUND: usize = 48;

/// The slipstream in one plane behind the propeller, averaged over the circumference. SI.
#[derive(Clone, Debug, PartialEq)]
pub struct SlipstreamPlane {
    /// Distance behind the plane of rotation, m.
    pub distance_m: f64,
    /// The rings from the axis outward.
    pub rings: Vec<SlipstreamRing>,
    /// Thrust from the momentum of the stream far behind the propeller, N.
    pub momentum_thrust_n: f64,
    /// The part of it that is already momentum in this plane, N. The rest is still pressure.
    pub momentum_here_n: f64,
    /// Torque from the angular momentum of the stream in this plane, N m.
    pub momentum_torque_nm: f64,
}

/// One ring of the slipstream.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlipstreamRing {
    /// Radius, m.
    pub radius_m: f64,
    /// Axial velocity relative to the propeller, including the flight speed, m/s.
    pub axial_m_s: f64,
    /// Swirl velocity, positive in the direction of rotation, m/s.
    pub swirl_m_s: f64,
}

/// The slipstream at distances behind the propeller, m. `None` if the stream does not pass through the whole disc from ahead.
///
/// Induced velocities grow behind the disc like those on the axis of a semi-infinite vortex cylinder,
/// `1 + z / sqrt(z^2 + R^2)`. Radii follow from the flow through each annulus, and swirl follows from its angular momentum.
/// The totals are those of the annuli: they reproduce thrust and torque, except for annuli in which a heavily braked stream
/// follows an empirical relation.
///
/// # Source
/// B. W. McCormick, *Aerodynamics of V/STOL Flight*, 1967 (velocity of the semi-infinite vortex cylinder; from memory).
#[must_use]
pub fn slipstream(performance: &Performance, distances_m: &[f64]) -> Option<Vec<SlipstreamPlane>> {
    let v = performance.operation.speed_m_s;
    if performance.elements.iter().any(|e| e.stream_factor * v + e.axial_induced_m_s <= 0.0) {
        return None;
    }
    Some(distances_m.iter().map(|z| plane(performance, *z)).collect())
}

fn plane(performance: &Performance, distance_m: f64) -> SlipstreamPlane {
    let (flight, density) = (performance.operation.speed_m_s, performance.operation.air.density_kg_m3);
    let radius_m = 0.5 * performance.diameter_m;
    let growth = 1.0 + distance_m / distance_m.hypot(radius_m);
    let first = &performance.elements[0];
    // The area inboard of the first element keeps its size: no flow passes there.
    let mut edge_squared = (first.radius_m - 0.5 * first.width_m).max(0.0).powi(2);
    let (mut momentum_thrust_n, mut momentum_here_n, mut momentum_torque_nm) = (0.0, 0.0, 0.0);
    let mut rings = Vec::with_capacity(performance.elements.len());
    for e in &performance.elements {
        // The stream beside a body is taken as that in the disc.
        let (u, v) = (e.axial_induced_m_s, e.stream_factor * flight);
        // The momentum in the balance of the annulus. From it follows the mean velocity over the circumference that carries the same momentum with its own
        // mass flow.
        let carried = e.loss * u * (v + u);
        let root = (v * v + 4.0 * carried).max(0.0).sqrt();
        let mean = if v + root > 0.0 { 2.0 * carried / (v + root) } else { 0.0 };
        let axial = v + growth * mean;
        let area = TAU * e.radius_m * e.width_m;
        let flow = density * area * (v + mean);
        // Continuity: the flow through the annulus is the same here as at the disc.
        let here = e.radius_m * e.width_m * (v + mean) / axial.max(f64::MIN_POSITIVE);
        let middle_squared = edge_squared + here;
        edge_squared += 2.0 * here;
        let ring_m = middle_squared.sqrt();
        let turned = e.loss * e.swirl_induced_m_s * (v + u) / (v + mean).max(f64::MIN_POSITIVE);
        let swirl = 2.0 * turned * e.radius_m / ring_m;
        momentum_thrust_n += flow * 2.0 * mean;
        momentum_here_n += flow * growth * mean;
        momentum_torque_nm += flow * swirl * ring_m;
        rings.push(SlipstreamRing { radius_m: ring_m, axial_m_s: axial, swirl_m_s: swirl });
    }
    SlipstreamPlane { distance_m, rings, momentum_thrust_n, momentum_here_n, momentum_torque_nm }
}

/// The slipstream of one operating point.
#[derive(Clone, Debug, PartialEq)]
pub struct SlipstreamPoint {
    /// Setting, deg. `None` if the table's own angles are used.
    pub setting_deg: Option<f64>,
    /// Speed of flight, m/s.
    pub speed_m_s: f64,
    /// Rotational speed, revolutions per minute.
    pub rpm: f64,
    /// Thrust of the propeller, N.
    pub thrust_n: f64,
    /// Its torque, N m.
    pub torque_nm: f64,
    /// Whether the propeller is left-hand. Its grid is the mirror image of that of a right-hand propeller, like its solid.
    pub is_left_hand: bool,
    /// The planes behind it; none if the stream does not pass through the whole disc from ahead.
    pub planes: Vec<SlipstreamPlane>,
}

/// The slipstream of every operating point of a plan, settings first, at distances behind the disc in diameters, each zero or more.
///
/// Thrust, torque and velocities are those of the blade elements, also at zero speed.
///
/// # Errors
/// [`FlowError`] if the table or the plan cannot be used.
///
/// ```
/// use bladeform_flow::{Flight, PredictPlan, ThinSections, slipstreams};
/// let text = r#"{"blade": {"radius_m": 1.4}, "stations": [
///   {"radius_m": 0.42, "chord_m": 0.18, "blade_angle_deg": 35.0, "thickness_ratio": 0.2, "camber_ratio": 0.03},
///   {"radius_m": 0.90, "chord_m": 0.19, "blade_angle_deg": 19.0, "thickness_ratio": 0.12, "camber_ratio": 0.035},
///   {"radius_m": 1.33, "chord_m": 0.12, "blade_angle_deg": 13.0, "thickness_ratio": 0.08, "camber_ratio": 0.035}]}"#;
/// let table = bladeform_document::read_json(text.as_bytes()).unwrap();
/// let plan = PredictPlan { rpm: 1_750.0, flight: Flight::Speed(40.0), settings_deg: vec![16.0, 18.0], ..PredictPlan::default() };
/// let points = slipstreams(&table, &plan, &ThinSections, &[0.0, 1.0]).unwrap();
/// assert_eq!((points.len(), points[1].setting_deg), (2, Some(18.0)));
/// assert!((points[0].planes[1].distance_m - 2.8).abs() < 1e-12);
/// assert!((points[0].planes[1].momentum_thrust_n / points[0].thrust_n - 1.0).abs() < 0.01);
/// ```
pub fn slipstreams(
    table: &StationTable,
    plan: &PredictPlan,
    source: &dyn PolarSource,
    distances_per_diameter: &[f64],
) -> Result<Vec<SlipstreamPoint>, FlowError> {
    let root = &plan.installed.root;
    let blade = FlowBlade::rooted(
        table,
        plan.diameter_m,
        plan.elements,
        source,
        &bladeform_numeric::observe::Silent,
        root,
    )?;
    let propeller = FlowPropeller::installed(blade, plan.blades, &plan.installed)?;
    let air = plan.fluid()?;
    let ratio = plan.setting_radius_ratio.unwrap_or_else(|| propeller.blade.reference_radius_ratio());
    let distances_m: Vec<f64> = distances_per_diameter.iter().map(|d| d * propeller.diameter_m()).collect();
    let operations = plan.operations(propeller.diameter_m(), air)?;
    let settings_deg: Vec<Option<f64>> = match plan.settings_deg.as_slice() {
        [] => vec![None],
        given => given.iter().copied().map(Some).collect(),
    };
    let mut points = Vec::with_capacity(settings_deg.len() * operations.len());
    for setting_deg in settings_deg {
        let turned = setting_deg.map(|s| propeller.blade.turn_rad(s, plan.setting_of, ratio));
        let turn_rad = turned.transpose()?.unwrap_or(0.0);
        for operation in &operations {
            let performance = propeller.performance(turn_rad, operation);
            points.push(SlipstreamPoint {
                setting_deg,
                speed_m_s: operation.speed_m_s,
                rpm: plan.rpm,
                thrust_n: performance.thrust_n,
                torque_nm: performance.torque_nm,
                is_left_hand: table.hand() == Hand::Left,
                planes: slipstream(&performance, &distances_m).unwrap_or_default(),
            });
        }
    }
    Ok(points)
}

/// Slipstreams as CSV, one row per ring: the operating point (`setting_deg`, empty for the table's own angles, `speed_m_s`, `rpm`), then
/// `distance_m,radius_m,axial_m_s,swirl_m_s`.
#[must_use]
pub fn slipstream_csv(points: &[SlipstreamPoint]) -> String {
    let mut text = String::from("setting_deg,speed_m_s,rpm,distance_m,radius_m,axial_m_s,swirl_m_s\n");
    for point in points {
        let setting = point.setting_deg.map_or_else(String::new, |s| format!("{s:.6}"));
        for plane in &point.planes {
            for ring in &plane.rings {
                let _ = writeln!(
                    text,
                    "{setting},{:.6},{:.4},{:.6},{:.6},{:.5},{:.5}",
                    point.speed_m_s,
                    point.rpm,
                    plane.distance_m,
                    ring.radius_m,
                    ring.axial_m_s,
                    ring.swirl_m_s
                );
            }
        }
    }
    text
}

/// A slipstream as a structured grid in VTK XML (`.vts`), with the velocity as a vector field, m/s, and the operating point as field data
/// (without `setting_deg` if the table's own angles are used).
///
/// Units are metres and metres per second. The axis `y` points in the direction of flight, so the stream leaves along `-y`. The first blade of a solid of the
/// same table points along `z`. The blades of a right-hand propeller turn from `z` to `x`, those of a left-hand propeller from `z` to `-x`.
#[must_use]
pub fn slipstream_vts(point: &SlipstreamPoint) -> String {
    let planes = &point.planes;
    let one = |name: &str, value: f64| {
        format!(
            "<DataArray type=\"Float64\" Name=\"{name}\" NumberOfTuples=\"1\" format=\"ascii\">{value:.6}</DataArray>\n"
        )
    };
    let field = point.setting_deg.map_or_else(String::new, |s| one("setting_deg", s))
        + &one("speed_m_s", point.speed_m_s)
        + &one("rpm", point.rpm)
        + &one("thrust_n", point.thrust_n)
        + &one("torque_nm", point.torque_nm);
    let rings = planes.first().map_or(0, |p| p.rings.len());
    let extent = format!("0 {} 0 {} 0 {}", rings.saturating_sub(1), AROUND, planes.len().saturating_sub(1));
    let (mut points, mut velocity) = (String::new(), String::new());
    let sense = if point.is_left_hand { -1.0 } else { 1.0 };
    for plane in planes {
        for k in 0..=AROUND {
            let (sin, cos) = (TAU * k as f64 / AROUND as f64).sin_cos();
            for ring in &plane.rings {
                let _ = writeln!(
                    points,
                    "{:.6} {:.6} {:.6}",
                    sense * ring.radius_m * sin,
                    -plane.distance_m,
                    ring.radius_m * cos
                );
                let _ = writeln!(
                    velocity,
                    "{:.5} {:.5} {:.5}",
                    sense * ring.swirl_m_s * cos,
                    -ring.axial_m_s,
                    -ring.swirl_m_s * sin
                );
            }
        }
    }
    let hand = if point.is_left_hand { "left" } else { "right" };
    format!(
        "<?xml version=\"1.0\"?>\n<!-- metres, m/s; y towards flight, the stream leaves along -y; {hand}-hand propeller -->\n<VTKFile type=\"StructuredGrid\" version=\"0.1\" byte_order=\"LittleEndian\">\n\
         <StructuredGrid WholeExtent=\"{extent}\">\n<FieldData>\n{field}</FieldData>\n<Piece Extent=\"{extent}\">\n\
         <PointData Vectors=\"velocity_m_s\">\n<DataArray type=\"Float64\" Name=\"velocity_m_s\" NumberOfComponents=\"3\" format=\"ascii\">\n\
         {velocity}</DataArray>\n</PointData>\n<Points>\n<DataArray type=\"Float64\" NumberOfComponents=\"3\" format=\"ascii\">\n\
         {points}</DataArray>\n</Points>\n</Piece>\n</StructuredGrid>\n</VTKFile>\n"
    )
}
