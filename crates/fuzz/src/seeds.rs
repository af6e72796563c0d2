//! The first inputs of each reader: small files from the project's own writers and fixtures, each whole and slightly damaged.
//!
//! All numbers are of the invented Quarry Mill blade or of plain bodies.

use std::path::Path;

use bladeform_flow::{EngineCurve, Flight, PredictPlan, ThinSections, predict};
use bladeform_measure::{MeasurePlan, measure};
use bladeform_mesh::{
    RawMesh, write_obj, write_ply_ascii, write_ply_binary, write_stl_ascii, write_stl_binary,
};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_blade, scan_of_propeller};
use bladeform_table::StationTable;

/// One seed: a descriptive name and its bytes.
pub type Seed = (String, Vec<u8>);

/// The reason why no seeds could be made.
type Problem = Box<dyn std::error::Error + Send + Sync>;

/// The seeds of a reader by the name of its program. None for an unknown name.
///
/// # Errors
/// If a fixture cannot be read or one of the project's writers fails. A test must notice this.
pub fn seeds(program: &str) -> Result<Vec<Seed>, Problem> {
    let whole = match program {
        "mesh" => meshes()?,
        "measurement" => scans()?,
        "stations_json" => tables_json()?,
        "stations_csv" => tables_csv()?,
        "prediction_json" => predictions()?,
        "polar_csv" => named(&POLARS),
        "engine_csv" => named(&ENGINES),
        _ => Vec::new(),
    };
    Ok(whole.iter().flat_map(with_damage).collect())
}

/// A seed and typical damage to its file.
fn with_damage((name, bytes): &Seed) -> Vec<Seed> {
    let n = bytes.len();
    let mut windows = Vec::with_capacity(n + n / 16);
    for &b in bytes {
        if b == b'\n' {
            windows.push(b'\r');
        }
        windows.push(b);
    }
    let mut swapped = bytes.clone();
    swapped.rotate_left(n / 3);
    let damages = [
        ("whole", bytes.clone()),
        ("half", bytes[..n / 2].to_vec()),
        ("without its last byte", bytes[..n.saturating_sub(1)].to_vec()),
        ("with more behind", [bytes, &bytes[..n.min(40)]].concat()),
        ("with a byte order mark", [b"\xef\xbb\xbf", &bytes[..]].concat()),
        ("with carriage returns", windows),
        ("with its last third first", swapped),
    ];
    damages.into_iter().map(|(what, bytes)| (format!("{name}, {what}"), bytes)).collect()
}

fn named(texts: &[(&str, &str)]) -> Vec<Seed> {
    texts.iter().map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec())).collect()
}

type MeshWriter = fn(&RawMesh, &mut Vec<u8>) -> std::io::Result<()>;
const MESH_WRITERS: [(&str, MeshWriter); 5] = [
    ("ascii ply", |mesh, out| write_ply_ascii(mesh, out)),
    ("binary ply", |mesh, out| write_ply_binary(mesh, out)),
    ("ascii stl", |mesh, out| write_stl_ascii(mesh, out)),
    ("binary stl", |mesh, out| write_stl_binary(mesh, out)),
    ("obj", |mesh, out| write_obj(mesh, out)),
];

/// A mesh in every format that the project writes.
fn in_all_formats(name: &str, mesh: &RawMesh) -> Result<Vec<Seed>, Problem> {
    let write = |(format, writer): &(&str, MeshWriter)| {
        let mut bytes = Vec::new();
        writer(mesh, &mut bytes)?;
        Ok((format!("{name} {format}"), bytes))
    };
    MESH_WRITERS.iter().map(write).collect()
}

/// The fixtures, in all formats, and bodies that are difficult for a reader or the repair.
fn meshes() -> Result<Vec<Seed>, Problem> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fixtures");
    let mut files: Vec<_> =
        std::fs::read_dir(folder)?.map(|entry| Ok(entry?.path())).collect::<std::io::Result<_>>()?;
    files.retain(|file| file.extension().is_some_and(|e| e != "md"));
    files.sort();
    let mut seeds = Vec::new();
    for file in files {
        let name = file.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        seeds.push((name, std::fs::read(&file)?));
    }
    let corners = vec![[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1e-30]];
    let awkward =
        RawMesh { vertices: corners, faces: vec![[0, 1, 2], [0, 2, 1], [0, 1, 1], [0, 1, 3], [0, 1, 2]] };
    seeds.extend(in_all_formats("doubled and flat triangles", &awkward)?);
    seeds.extend(in_all_formats("no triangle", &RawMesh::default())?);
    Ok(seeds)
}

/// Scans of the Quarry Mill blade and propeller with so few triangles that a measurement takes a fraction of a second. Two formats are enough, because the
/// readers have seeds of their own.
fn scans() -> Result<Vec<Seed>, Problem> {
    let blade = Blade::quarry_mill();
    let clean = ScanPlan { triangles: SCAN_TRIANGLES, ..ScanPlan::clean(1) };
    let noisy = ScanPlan { noise_m: 2e-4, holes: 3, fragments: 2, any_pose: true, ..clean };
    let mut seeds = Vec::new();
    for (name, mesh) in [
        ("clean blade", scan_of_blade(&blade, &clean).mesh),
        ("noisy blade", scan_of_blade(&blade, &noisy).mesh),
        ("blade on a bench", on_a_bench(scan_of_blade(&blade, &clean).mesh)),
        ("propeller", scan_of_propeller(&quarry_mill_propeller(), &clean).mesh),
    ] {
        let all = in_all_formats(name, &mesh)?;
        seeds.extend(
            all.into_iter().filter(|(name, _)| name.ends_with("binary ply") || name.ends_with("obj")),
        );
    }
    Ok(seeds)
}

/// Adds a flat sheet below the part, which lies in its own axes.
fn on_a_bench(mut mesh: RawMesh) -> RawMesh {
    const SQUARES: u32 = 8;
    let first = mesh.vertices.len() as u32;
    let low = mesh.vertices.iter().map(|v| v[1]).fold(f64::INFINITY, f64::min);
    let place = |k: u32| f64::from(k) / f64::from(SQUARES);
    for (i, j) in (0..=SQUARES).flat_map(|i| (0..=SQUARES).map(move |j| (i, j))) {
        mesh.vertices.push([place(i) - 0.5, low - 0.01, 0.3 + 0.8 * place(j)]);
        if i < SQUARES && j < SQUARES {
            let corner = first + i * (SQUARES + 1) + j;
            mesh.faces.push([corner, corner + 1, corner + SQUARES + 2]);
            mesh.faces.push([corner, corner + SQUARES + 2, corner + SQUARES + 1]);
        }
    }
    mesh
}

/// Triangles of a scan that is measured under the fuzzer.
const SCAN_TRIANGLES: usize = 500;
/// Triangles of a scan whose table is a seed.
const TABLE_TRIANGLES: usize = 20_000;

/// Two Quarry Mill blades without shanks on a hub.
fn quarry_mill_propeller() -> SpecimenPropeller {
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, ..Blade::quarry_mill() };
    SpecimenPropeller { blade, count: 2, hub_radius_m: 0.16, hub_length_m: 0.2 }
}

/// A table written by hand, without the optional parts.
const TABLE_BY_HAND: &str = r#"{"blade": {"radius_m": 1.42, "setting": {"angle_deg": 17.0, "radius_ratio": 0.75, "of": "chord"}}, "stations": [
  {"radius_m": 0.426, "chord_m": 0.18, "blade_angle_deg": 33.0, "thickness_ratio": 0.20, "camber_ratio": 0.03},
  {"radius_m": 0.85, "chord_m": 0.20, "blade_angle_deg": 20.0, "thickness_ratio": 0.12, "camber_ratio": 0.03, "u": {"chord_m": 0.0004}, "flags": ["seen: by hand"]},
  {"radius_m": 1.30, "chord_m": 0.13, "blade_angle_deg": 13.0, "outline": {"x": [1.0, 0.5, 0.0, 0.5], "y": [0.0, 0.08, 0.0, -0.01]}, "note": "kept"}]}"#;

/// CSV tables written by hand.
const COLUMNS: [(&str, &str); 3] = [
    (
        "columns by hand",
        "radius_m,chord_m,u_chord_m,blade_angle_deg,thickness_ratio,camber_ratio,flags\n0.426,0.18,0.0004,33,0.2,0.03,\"a; b\"\n1.3,0.13,,13,0.08,0.03,\n",
    ),
    (
        "ratios and columns that are not known",
        "radius_ratio,chord_m,blade_angle_deg,thickness_ratio,camber_ratio,carver\n0.3,0.18,33,0.2,0.03,\"M., \"\"Quarry\"\"\"\n0.9,0.13,13,0.08,0.03,\n",
    ),
    ("headings alone", "radius_m,chord_m,blade_angle_deg,thickness_ratio,camber_ratio\n"),
];

const POLARS: [(&str, &str); 5] = [
    (
        "one Reynolds number",
        "angle_deg,lift,drag,reynolds\n-4,-0.4,0.01,1e6\n0,0,0.008,1e6\n4,0.4,0.01,1e6\n",
    ),
    (
        "two Reynolds numbers and moments",
        "-4,-0.4,0.012,5e5,0\n0,0,0.009,5e5,0\n4,0.4,0.012,5e5,0\n-4,-0.42,0.01,2e6,-0.01\n0,0,0.008,2e6,0\n4,0.42,0.01,2e6,0.01\n",
    ),
    (
        "comments and empty lines",
        "# carved section\n\n-6,-0.1,0.02,1e6 # low\n0,0.35,0.01,1e6\n\n8,1.1,0.02,1e6\n",
    ),
    ("all round", "-180,0,0.02,1e6\n-90,0,1.9,1e6\n0,0.3,0.01,1e6\n90,0,1.9,1e6\n180,0,0.02,1e6\n"),
    ("too few angles", "angle_deg,lift,drag,reynolds\n0,0,0.008,1e6\n4,0.4,0.01,1e6\n"),
];

const ENGINES: [(&str, &str); 5] = [
    ("torque", "rpm,torque_nm\n1000,850\n1400,930\n1750,975\n2000,940\n"),
    ("columns in another order", "torque_nm,note,rpm\n850,idle,1000\n975,\"cruise\",1750\n"),
    ("spaces and empty lines", "rpm , torque_nm\n\n 1000 , 850\n1750 , 975 \n"),
    ("one row", "rpm,torque_nm\n1750,975\n"),
    ("falling rotation", "rpm,torque_nm\n1750,975\n1000,850\n"),
];

/// Sections of the root that a seed keeps: each has an outline, and the fuzzer runs short seeds only.
const ROOT_SECTIONS: usize = 1;

/// Tables measured by the project: of a single blade and of a propeller, with few stations and sections of the root, because each has an outline.
fn measured_tables() -> Result<Vec<(&'static str, StationTable)>, Problem> {
    let blade = Blade::quarry_mill();
    let plan = ScanPlan { triangles: TABLE_TRIANGLES, ..ScanPlan::usual(2) };
    let ask = |ratios: &[f64]| MeasurePlan {
        diameter_m: Some(2.0 * blade.radius_m),
        stations: StationRadii::Ratios(ratios.to_vec()),
        ..MeasurePlan::default()
    };
    // A table of a propeller also has the stations of each blade.
    let (lone, both) = (ask(&[0.2, 0.75, 0.95]), ask(&[0.75]));
    let lone = MeasurePlan {
        length_m: Some(blade.length_m()),
        setting: Some(bladeform_measure::KnownAngle { angle_deg: 17.0, radius_ratio: None }),
        ..lone
    };
    let of = |mesh: &RawMesh, ask: &MeasurePlan| -> Result<StationTable, Problem> {
        let mut bytes = Vec::new();
        write_stl_binary(mesh, &mut bytes)?;
        let scan = bladeform_measure::ScanInput::file(&bytes, "quarry-mill.stl");
        let mut table = measure(scan, ask, &bladeform_measure::Silent)?;
        table.root_sections.truncate(ROOT_SECTIONS);
        Ok(table)
    };
    Ok(vec![
        ("table of a blade", of(&scan_of_blade(&blade, &plan).mesh, &lone)?),
        ("table of a propeller", of(&scan_of_propeller(&quarry_mill_propeller(), &plan).mesh, &both)?),
        ("table by hand", bladeform_document::read_json(TABLE_BY_HAND.as_bytes())?),
    ])
}

fn tables_json() -> Result<Vec<Seed>, Problem> {
    let mut seeds = named(&[("text by hand", TABLE_BY_HAND)]);
    for (name, table) in measured_tables()? {
        let mut bytes = Vec::new();
        bladeform_document::write_json(&table, &mut bytes)?;
        seeds.push((name.to_owned(), bytes));
    }
    Ok(seeds)
}

fn tables_csv() -> Result<Vec<Seed>, Problem> {
    let mut seeds = named(&COLUMNS);
    for (name, table) in measured_tables()? {
        let mut bytes = Vec::new();
        bladeform_document::write_csv(&table, &mut bytes)?;
        seeds.push((name.to_owned(), bytes));
    }
    Ok(seeds)
}

/// Predictions of the table written by hand with analytic sections, which are fast: in flight, at zero speed, with a power, with an engine.
fn predictions() -> Result<Vec<Seed>, Problem> {
    let mut table = bladeform_document::read_json(TABLE_BY_HAND.as_bytes())?;
    for station in &mut table.stations {
        station.thickness_ratio = station.thickness_ratio.or(Some(0.08));
        station.camber_ratio = station.camber_ratio.or(Some(0.03));
    }
    let plan = PredictPlan {
        rpm: 1750.0,
        // 120 mph.
        flight: Flight::Speed(53.6448),
        settings_deg: vec![15.0, 17.0],
        // Few elements keep the documents short.
        elements: 6,
        free_wake: false,
        ..PredictPlan::default()
    };
    let engine = Some(EngineCurve::read_csv(ENGINES[0].1)?);
    let one = PredictPlan { settings_deg: vec![17.0], ..plan.clone() };
    let mut seeds = Vec::new();
    for (name, plan) in [
        ("two settings", plan.clone()),
        ("the table's setting", PredictPlan { settings_deg: vec![], ..plan }),
        ("advance ratios", PredictPlan { flight: Flight::Advance(vec![0.0, 0.4]), ..one.clone() }),
        ("zero speed", PredictPlan { flight: Flight::Speed(0.0), ..one.clone() }),
        ("power", PredictPlan { power_w: Some(179e3), ..one.clone() }),
        ("engine", PredictPlan { engine, ..one }),
    ] {
        let mut bytes = Vec::new();
        bladeform_document::write_prediction_json(
            &predict(&table, &plan, &ThinSections, &bladeform_flow::Silent)?,
            &mut bytes,
        )?;
        seeds.push((name.to_owned(), bytes));
    }
    Ok(seeds)
}
