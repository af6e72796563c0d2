//! What befalls a scan of a lone blade, and meshes of uncommon make: each kind with its amounts.

use std::sync::Arc;

use bladeform_measure::{KnownAngle, MeasurePlan};
use bladeform_mesh::{RawMesh, write_stl_binary};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{
    Blade, Damage, Foot, FootedBlade, Form, Lofted, Pose, Random, ScanPlan, SectionKind, ShapedBlade,
    in_pose, scan_of_blade, scan_of_lofted, scan_of_rows,
};

use super::judge::{Known, TrueBlade};
use super::things::{FOREIGN, cuboid, cylinder, foreign, sheet};
use super::tools::{
    append, cut_closed, cut_open, displace, flip, grow_on, holes, index, into_soup, scramble,
};
use crate::accuracy::bytes;

/// Stations: half of the usual number, which takes half the time.
pub(super) const STATIONS: usize = 12;
/// Triangles of a lone blade.
const TRIANGLES: usize = 80_000;
/// Sections of the mill's blade are those of its truth from here on, fraction of the tip radius: outside the transition from the shank, and as far again as a station
/// looks along the span.
const SECTIONS_FROM: f64 = 0.30;

/// Where patches and stands are, fraction of the tip radius: at a station of the mill's blade.
const PATCH: f64 = 0.577;

/// What is drawn for a run.
#[derive(Debug, Clone, Copy)]
pub(super) struct Draw {
    pub(super) seed: u64,
    pub(super) noise_m: f64,
}

/// A scan with what its owner states and what is true.
pub(super) struct Made {
    pub(super) file: Vec<u8>,
    pub(super) ask: MeasurePlan,
    pub(super) known: Known,
}

type Make = Box<dyn Fn(Draw) -> std::io::Result<Made> + Send + Sync>;

/// One row of the study.
pub(super) struct Case {
    pub(super) kind: &'static str,
    pub(super) amount: String,
    /// Half the runs: the seeds take turns without noise and with it.
    pub(super) briefly: bool,
    pub(super) make: Make,
}

pub(super) fn case(
    kind: &'static str,
    amount: impl Into<String>,
    make: impl Fn(Draw) -> std::io::Result<Made> + Send + Sync + 'static,
) -> Case {
    Case { kind, amount: amount.into(), briefly: false, make: Box::new(make) }
}

impl Draw {
    /// A stream of its own, since that of the scan begins with the seed itself.
    pub(super) fn random(self) -> Random {
        Random::new(self.seed ^ 0x4057_11e0_0000_0000)
    }

    pub(super) fn plan(self, triangles: usize) -> ScanPlan {
        ScanPlan { triangles, noise_m: self.noise_m, ..ScanPlan::clean(self.seed) }
    }
}

/// A mesh in blade axes as a file in a pose, in single precision as scanners write it.
pub(super) fn file(mesh: RawMesh, pose: &Pose) -> std::io::Result<Vec<u8>> {
    bytes(&in_single(in_pose(mesh, pose)))
}

fn in_single(mut mesh: RawMesh) -> RawMesh {
    mesh.vertices.iter_mut().flatten().for_each(|x| *x = f64::from(*x as f32));
    mesh
}

/// The blade of a seed: two section families take turns.
fn mill(draw: Draw) -> Blade {
    let kind = if draw.seed.is_multiple_of(2) { SectionKind::FourDigit } else { SectionKind::ClarkY };
    Blade::quarry_mill().with_kind(kind)
}

/// A lone blade with its truth. `from`: fraction of the tip radius from which its sections are true.
fn truth_of(shape: Arc<dyn Lofted + Send + Sync>, name: String, from: f64) -> TrueBlade {
    let tip = shape.tip_radius_m();
    TrueBlade { shape, name, span_m: [from * tip, tip], outward_m: 0.0, azimuth_deg: 0.0 }
}

fn truth_of_mill(blade: &Blade) -> TrueBlade {
    truth_of(Arc::new(blade.clone()), format!("{blade:?}"), SECTIONS_FROM)
}

/// What the owner of a lone blade states: length, diameter and one angle, all true.
fn ask_of(shape: &dyn Lofted) -> MeasurePlan {
    let (root, tip) = (shape.root_radius_m(), shape.tip_radius_m());
    let angle_deg = shape.exact_truth(0.75).blade_angle_deg;
    MeasurePlan {
        length_m: Some(tip - root),
        diameter_m: Some(2.0 * tip),
        setting: Some(KnownAngle { angle_deg, radius_ratio: None }),
        stations: StationRadii::Count(STATIONS),
        ..MeasurePlan::default()
    }
}

fn lone(blade: &TrueBlade, mesh: RawMesh, pose: Pose) -> std::io::Result<Made> {
    let known = Known { pose, blades: vec![blade.clone()] };
    Ok(Made { file: file(mesh, &pose)?, ask: ask_of(&*blade.shape), known })
}

/// The mill's blade with a damage to its mesh, which is in blade axes and metres.
fn damaged(
    kind: &'static str,
    amount: impl Into<String>,
    damage: impl Fn(&mut RawMesh, &Blade, &mut Random) + Send + Sync + 'static,
) -> Case {
    case(kind, amount, move |draw| {
        let (blade, mut random) = (mill(draw), draw.random());
        let mut mesh = scan_of_blade(&blade, &draw.plan(TRIANGLES)).mesh;
        damage(&mut mesh, &blade, &mut random);
        lone(&truth_of_mill(&blade), mesh, Pose::random(&mut random))
    })
}

/// All kinds of this file.
pub(super) fn all() -> Vec<Case> {
    let lists = [
        sound(),
        outliers(),
        feet(),
        told(),
        missing(),
        gaps(),
        torn(),
        second_surfaces(),
        shapes(),
        super::propellers::all(),
        meshes(),
        things(),
    ];
    lists.into_iter().flatten().collect()
}

fn sound() -> Vec<Case> {
    vec![damaged("nothing", "80,000 triangles", |_, _, _| {})]
}

fn outliers() -> Vec<Case> {
    let mut cases = Vec::new();
    for mm in [5, 20, 50] {
        cases.push(damaged("one vertex pulled past the tip", format!("{mm} mm"), move |mesh, blade, _| {
            let far = (0..mesh.vertices.len())
                .max_by(|&a, &b| mesh.vertices[a][2].total_cmp(&mesh.vertices[b][2]))
                .unwrap_or(0);
            mesh.vertices[far][2] = blade.radius_m + 1e-3 * f64::from(mm);
        }));
    }
    for mm in [20, 50] {
        cases.push(damaged("one vertex pulled past the root", format!("{mm} mm"), move |mesh, blade, _| {
            mesh.vertices[0][2] = blade.root_radius_m - 1e-3 * f64::from(mm);
        }));
    }
    for (bit, what) in [
        (22, "highest of the fraction"),
        (24, "second of the exponent"),
        (30, "highest of the exponent"),
        (31, "sign"),
    ] {
        cases.push(case("one bit of an STL coordinate flipped", what, move |draw| {
            let (blade, mut random) = (mill(draw), draw.random());
            let mesh = scan_of_blade(&blade, &draw.plan(TRIANGLES)).mesh;
            let pose = Pose::random(&mut random);
            let mut made = lone(&truth_of_mill(&blade), mesh.clone(), pose)?;
            made.file = Vec::new();
            write_stl_binary(&in_pose(mesh.clone(), &pose), &mut made.file)?;
            // 84 bytes of header, 50 for each triangle of which 12 are its normal.
            let at = 84 + 50 * index(&mut random, mesh.faces.len()) + 12 + 4 * index(&mut random, 9);
            made.file[at + bit / 8] ^= 1 << (bit % 8);
            Ok(made)
        }));
    }
    for (count, mm) in [(3, 10), (20, 30), (200, 30)] {
        cases.push(damaged("spikes", format!("{count}, to {mm} mm"), move |mesh, _, random| {
            let n = mesh.vertices.len();
            let chosen: Vec<usize> = (0..count).map(|_| index(random, n)).collect();
            let mut at = 0;
            displace(mesh, |_, _| {
                at += 1;
                let is_spike = chosen.contains(&(at - 1));
                if is_spike { 1e-3 * f64::from(mm) * random.between(0.3, 1.0) } else { 0.0 }
            });
        }));
    }
    cases
}

/// Things that have grown onto the root, of which the owner says nothing.
fn feet() -> Vec<Case> {
    [
        ("rod, 20 mm wide, 100 mm long", Foot::Round(0.010), 0.1),
        ("rod, 20 mm wide, 300 mm long", Foot::Round(0.010), 0.3),
        ("stub as wide as the shank, 20 mm long", Foot::Round(0.045), 0.02),
        ("stub as wide as the shank, 100 mm long", Foot::Round(0.045), 0.1),
        ("block, 140 mm by 140 mm, 60 mm long", Foot::Rectangle([0.07, 0.07]), 0.06),
        ("plate, 400 mm by 400 mm, 15 mm thick", Foot::Rectangle([0.2, 0.2]), 0.015),
        ("bar, 300 mm by 30 mm, 30 mm thick", Foot::Rectangle([0.15, 0.015]), 0.03),
    ]
    .into_iter()
    .map(|(what, foot, foot_length_m)| {
        case("grown onto the root", what, move |draw| {
            let blade = mill(draw);
            let footed = FootedBlade { blade: blade.clone(), foot, foot_length_m };
            let mesh = scan_of_lofted(&footed, &draw.plan(TRIANGLES)).mesh;
            lone(&truth_of_mill(&blade), mesh, Pose::random(&mut draw.random()))
        })
    })
    .collect()
}

/// What the owner states, and the unit of the file.
fn told() -> Vec<Case> {
    type Tell = fn(&mut MeasurePlan, &Blade);
    let told: [(&'static str, &'static str, Option<f64>, Tell); 9] = [
        ("stated", "the diameter alone", None, |ask, _| ask.length_m = None),
        ("stated", "the length alone", None, |ask, _| ask.diameter_m = None),
        ("stated", "half the diameter as length, and the diameter", None, |ask, b| {
            ask.length_m = Some(b.radius_m)
        }),
        ("stated", "half the diameter as length, alone", None, |ask, b| {
            (ask.length_m, ask.diameter_m) = (Some(b.radius_m), None);
        }),
        ("file in mm", "with a length", Some(1e3), |_, _| {}),
        ("file in mm", "without a length", Some(1e3), |ask, _| (ask.length_m, ask.diameter_m) = (None, None)),
        ("file in inches", "with a length", Some(1.0 / 0.0254), |_, _| {}),
        ("file in inches", "without a length", Some(1.0 / 0.0254), |ask, _| {
            (ask.length_m, ask.diameter_m) = (None, None);
        }),
        ("file in inches", "the diameter alone", Some(1.0 / 0.0254), |ask, _| ask.length_m = None),
    ];
    told.into_iter()
        .map(|(kind, what, unit, tell)| {
            case(kind, what, move |draw| {
                let blade = mill(draw);
                let mesh = scan_of_blade(&blade, &draw.plan(TRIANGLES)).mesh;
                let mut pose = Pose::random(&mut draw.random());
                if let Some(scale) = unit {
                    pose.shift = pose.shift.map(|s| s * scale / pose.scale);
                    pose.scale = scale;
                }
                let mut made = lone(&truth_of_mill(&blade), mesh, pose)?;
                tell(&mut made.ask, &blade);
                Ok(made)
            })
        })
        .collect()
}

/// Distance of a point ahead of the middle of the chord, m, and the chord there.
fn ahead(blade: &Blade, p: &[f64; 3]) -> (f64, f64) {
    let (sin, cos) = blade.angle_rad(p[2]).sin_cos();
    let mid = blade.mid_chord(p[2]);
    ((p[0] - mid[0]) * cos + (p[1] - mid[1]) * sin, blade.chord_m(p[2]))
}

/// Cosine between a normal and the direction of the back.
fn towards_back(blade: &Blade, p: &[f64; 3], n: &[f64; 3]) -> f64 {
    let (sin, cos) = blade.angle_rad(p[2]).sin_cos();
    n[1] * cos - n[0] * sin
}

/// Edges and tips that the scan does not show, and rows too far apart.
fn missing() -> Vec<Case> {
    let mut cases = Vec::new();
    for percent in [0.3, 1.0, 3.0, 5.0] {
        cases.push(damaged(
            "tail missing all along",
            format!("{percent} % of the chord"),
            move |mesh, blade, _| {
                cut_open(mesh, |p| {
                    let (ahead, chord) = ahead(blade, p);
                    -ahead - (0.5 - 0.01 * percent) * chord
                });
            },
        ));
    }
    for percent in [0.5, 2.0, 6.0] {
        cases.push(damaged(
            "nose missing all along",
            format!("{percent} % of the chord"),
            move |mesh, blade, _| {
                cut_open(mesh, |p| {
                    let (ahead, chord) = ahead(blade, p);
                    ahead - (0.5 - 0.01 * percent) * chord
                });
            },
        ));
    }
    for percent in [1.0, 5.0] {
        let end = move |blade: &Blade| blade.radius_m - 0.01 * percent * blade.length_m();
        cases.push(damaged(
            "tip missing in the scan, open",
            format!("{percent} % of the length"),
            move |mesh, blade, _| {
                cut_open(mesh, |p| p[2] - end(blade));
            },
        ));
        cases.push(damaged(
            "tip missing in the scan, closed",
            format!("{percent} % of the length"),
            move |mesh, blade, _| {
                cut_closed(mesh, |p| p[2] - end(blade));
            },
        ));
    }
    for mm in [20, 60] {
        cases.push(case("coarse rows inboard of 0.55 R", format!("{mm} mm apart"), move |draw| {
            let blade = mill(draw);
            let (change, step) = (0.55 * blade.radius_m, 1e-3 * f64::from(mm));
            let inboard =
                (0..).map(|i| blade.root_radius_m + step * f64::from(i)).take_while(|r| *r < change);
            let outboard =
                (0..).map(|i| change + 2.5e-3 * f64::from(i)).take_while(|r| *r < blade.radius_m - 1e-4);
            let radii: Vec<f64> = inboard.chain(outboard).chain([blade.radius_m - 5e-5]).collect();
            let mesh = scan_of_rows(&blade, &radii, 150, &draw.plan(TRIANGLES)).mesh;
            lone(&truth_of_mill(&blade), mesh, Pose::random(&mut draw.random()))
        }));
    }
    cases
}

/// Bands, sides and round pieces that the scan does not show.
fn gaps() -> Vec<Case> {
    let mut cases = Vec::new();
    for (from, to) in [(0.50, 0.52), (0.50, 0.60), (0.30, 0.60)] {
        cases.push(damaged(
            "band of the span missing",
            format!("{from} to {to} R"),
            move |mesh, blade, _| {
                cut_open(mesh, |p| (p[2] - from * blade.radius_m).min(to * blade.radius_m - p[2]));
            },
        ));
    }
    for (what, sign) in [("back", 1.0), ("face", -1.0)] {
        for (place, from, to) in [("all along", 0.0, 1.1), ("0.4 to 0.7 R", 0.4, 0.7)] {
            cases.push(damaged("side missing", format!("{what}, {place}"), move |mesh, blade, _| {
                let normals = super::tools::normals(mesh);
                let is_gone = |v: &u32| {
                    let (p, n) = (&mesh.vertices[*v as usize], &normals[*v as usize]);
                    let within = (from * blade.radius_m..to * blade.radius_m).contains(&p[2]);
                    within && 0.5 < sign * towards_back(blade, p, n)
                };
                let faces = mesh.faces.iter().copied().filter(|f| !f.iter().any(is_gone)).collect();
                mesh.faces = faces;
            }));
        }
    }
    for (count, mm) in [(60, 5), (20, 15), (8, 40), (4, 100)] {
        cases.push(damaged("holes", format!("{count}, {mm} mm in radius"), move |mesh, blade, random| {
            holes(mesh, count, 1e-3 * f64::from(mm), [0.25 * blade.radius_m, 0.97 * blade.radius_m], random);
        }));
    }
    cases
}

fn torn() -> Vec<Case> {
    let mut cases = Vec::new();
    for percent in [1, 10, 50] {
        cases.push(damaged("triangles flipped at random", format!("{percent} %"), move |mesh, _, random| {
            flip(mesh, |_| random.uniform() < 0.01 * f64::from(percent));
        }));
    }
    cases.push(damaged("inside out", "all of it", |mesh, _, _| flip(mesh, |_| true)));
    cases.push(damaged("inside out", "a connected band, 0.4 to 0.6 R", |mesh, blade, _| {
        flip(mesh, |p| (0.4..0.6).contains(&(p[2] / blade.radius_m)));
    }));
    cases.push(damaged("inside out", "three bands, open seams of 1 mm", |mesh, blade, _| {
        let seams = [0.35, 0.45, 0.55, 0.65, 0.75, 0.85].map(|s| s * blade.radius_m);
        let from_seam = |z: f64| seams.iter().map(|s| (z - s).abs()).fold(f64::INFINITY, f64::min);
        cut_open(mesh, |p| 5e-4 - from_seam(p[2]));
        flip(mesh, |p| seams.chunks(2).any(|band| band[0] < p[2] && p[2] < band[1]));
    }));
    for percent in [1, 5, 20] {
        cases.push(damaged(
            "torn: triangles lost at random",
            format!("{percent} %"),
            move |mesh, _, random| {
                mesh.faces.retain(|_| 0.01 * f64::from(percent) < random.uniform());
            },
        ));
    }
    for um in [1, 50] {
        cases.push(damaged(
            "torn: corners of triangles apart",
            format!("{um} µm"),
            move |mesh, _, random| {
                into_soup(mesh);
                for v in &mut mesh.vertices {
                    v.iter_mut().for_each(|x| *x += 1e-6 * f64::from(um) * random.normal());
                }
            },
        ));
    }
    cases
}

/// Surfaces that do not belong to the blade.
fn second_surfaces() -> Vec<Case> {
    let mut cases = Vec::new();
    for (from, to, mm) in [(0.45, 0.65, 0.5), (0.45, 0.65, 2.0), (0.0, 1.1, 0.5)] {
        cases.push(damaged(
            "second layer below",
            format!("{mm} mm, {from} to {} R", f64::min(to, 1.0)),
            move |mesh, blade, random| {
                let damage = Damage::DoubleLayer { from, to, depth_m: 1e-3 * mm };
                *mesh = damage.apply(std::mem::take(mesh), blade, random);
            },
        ));
    }
    for (mm, width) in [(2.0, 30.0), (8.0, 60.0)] {
        for (what, sign) in [("back", 1.0), ("face", -1.0)] {
            cases.push(damaged(
                "clay",
                format!("{mm} mm high, {width} mm wide, on the {what} at 0.577 R"),
                move |mesh, blade, _| {
                    let r = PATCH * blade.radius_m;
                    let [x, y] = blade.mid_chord(r);
                    displace(mesh, |p, n| {
                        let off = ((p[0] - x).powi(2) + (p[1] - y).powi(2) + (p[2] - r).powi(2)).sqrt();
                        let share = (1.0 - (off / (0.5e-3 * width)).powi(2)).max(0.0);
                        let here = 0.0 < sign * towards_back(blade, p, n);
                        if here { 1e-3 * mm * share.sqrt() } else { 0.0 }
                    });
                },
            ));
        }
    }
    for mm in [0.3, 1.0] {
        cases.push(damaged(
            "tape around the blade",
            format!("{mm} mm thick, 50 mm wide, at 0.577 R"),
            move |mesh, blade, _| {
                displace(
                    mesh,
                    |p, _| if (p[2] - PATCH * blade.radius_m).abs() < 0.025 { 1e-3 * mm } else { 0.0 },
                );
            },
        ));
        cases.push(damaged(
            "tape along the leading edge",
            format!("{mm} mm thick, 20 mm to each side, 0.4 to 0.8 R"),
            move |mesh, blade, _| {
                displace(mesh, |p, _| {
                    let (ahead, chord) = ahead(blade, p);
                    let within = (0.4..0.8).contains(&(p[2] / blade.radius_m)) && 0.5 * chord - 0.02 < ahead;
                    if within { 1e-3 * mm } else { 0.0 }
                });
            },
        ));
    }
    cases.push(damaged("bench plate", "a sheet 1 mm below", |mesh, _, _| add_bench(mesh, 1e-3, false)));
    cases.push(damaged("bench plate", "a sheet that touches and has grown on", |mesh, blade, random| {
        *mesh = Damage::BenchFused.apply(std::mem::take(mesh), blade, random);
    }));
    cases.push(damaged("bench plate", "a closed plate that cuts 1 mm in", |mesh, _, _| {
        add_bench(mesh, -1e-3, true)
    }));
    for (what, mm) in [
        ("rod of 10 mm across the middle, grown on", 5.0),
        ("post of 60 mm across the middle, grown on", 30.0),
    ] {
        cases.push(damaged("stand", what, move |mesh, blade, _| {
            let r = PATCH * blade.radius_m;
            let [x, y] = blade.mid_chord(r);
            let mut post = cylinder(1e-3 * mm, 0.005, 0.4, 4e-3);
            // From the face away from flight.
            post.vertices.iter_mut().for_each(|p| *p = [x + p[0], y - p[2], r + p[1]]);
            grow_on(mesh, &post);
        }));
    }
    cases
}

/// A bench below the lowest point, m lower than it.
fn add_bench(mesh: &mut RawMesh, gap_m: f64, closed: bool) {
    let low = mesh.vertices.iter().map(|p| p[1]).fold(f64::INFINITY, f64::min);
    let bench = if closed {
        cuboid([0.0, low - gap_m - 0.01, 0.75], [0.3, 0.01, 0.8], 0.01)
    } else {
        let mut plane = sheet([0.6, 1.6], 0.005, |_, _| 0.0);
        plane.vertices.iter_mut().for_each(|p| *p = [p[0], low - gap_m, 0.75 + p[1]]);
        plane
    };
    append(mesh, &bench);
}

/// Blades of uncommon shape.
fn shapes() -> Vec<Case> {
    let plate = |thickness_m, camber| Form::Plate { thickness_m, camber };
    [
        ("square-edged plate", "flat, 3 mm", plate(3e-3, 0.0), 0.4),
        ("square-edged plate", "camber 6 %, 3 mm", plate(3e-3, 0.06), 0.4),
        ("square-edged plate", "camber 6 %, 10 mm", plate(1e-2, 0.06), 0.4),
        ("wide skewed blade, short shank", "0.8 m in diameter", Form::Skewed, 0.4),
        ("wide skewed blade, short shank", "3 m in diameter", Form::Skewed, 1.5),
        ("twist that rises to the tip", "15 to 26 deg", Form::RisingTwist, 1.0),
        ("hollow back", "17 to 7 % thick", Form::HollowBack, 1.0),
        ("camber of both signs", "-3 to 4 %", Form::CamberOfBothSigns, 1.0),
    ]
    .into_iter()
    .map(|(kind, what, form, radius_m)| {
        case(kind, what, move |draw| {
            let shape = ShapedBlade { form, radius_m, root_radius_m: 0.1 * radius_m };
            let mesh = scan_of_lofted(&shape, &draw.plan(TRIANGLES)).mesh;
            let truth = truth_of(Arc::new(shape), format!("{shape:?}"), shape.sections_from() + 0.03);
            lone(&truth, mesh, Pose::random(&mut draw.random()))
        })
    })
    .collect()
}

/// Sound blades in meshes of uncommon make.
fn meshes() -> Vec<Case> {
    let mut cases = vec![
        damaged("mesh", "vertices and triangles in random order", |mesh, _, random| scramble(mesh, random)),
        damaged("mesh", "every triangle twice", |mesh, _, _| mesh.faces.extend_from_within(..)),
        damaged("mesh", "a second surface in the same place", |mesh, _, _| append(mesh, &mesh.clone())),
    ];
    for (rows, around) in [(12, 200), (40, 60), (40, 1000), (500, 24)] {
        cases.push(case("mesh of long triangles", format!("{rows} rings of {around}"), move |draw| {
            let blade = mill(draw);
            let step = (blade.length_m() - 5e-5) / f64::from(rows - 1);
            let radii: Vec<f64> = (0..rows).map(|i| blade.root_radius_m + step * f64::from(i)).collect();
            let mesh = scan_of_rows(&blade, &radii, around, &draw.plan(TRIANGLES)).mesh;
            lone(&truth_of_mill(&blade), mesh, Pose::random(&mut draw.random()))
        }));
    }
    for (what, size) in [
        ("another blade of the same size", 1.0),
        ("a blade of half the size", 0.5),
        ("a blade of a tenth of the size", 0.1),
    ] {
        cases.push(damaged("two bodies apart", what, move |mesh, _, _| {
            let mut other = mesh.clone();
            other.vertices.iter_mut().for_each(|p| *p = [size * p[0] + 0.6, size * p[1], size * p[2]]);
            append(mesh, &other);
        }));
    }
    for (what, scale, shift, single) in [
        ("shifted by 1e6 mm, single precision", 1e3, 1e6, true),
        ("shifted by 1e6 mm, double precision", 1e3, 1e6, false),
        ("shifted by 1e6 m, single precision", 1.0, 1e6, true),
        ("shifted by 1e6 m, double precision", 1.0, 1e6, false),
        ("scaled by 1e-6", 1e-6, 0.0, true),
        ("scaled by 1e6", 1e6, 0.0, true),
    ] {
        cases.push(case("coordinates", what, move |draw| {
            let blade = mill(draw);
            let mesh = scan_of_blade(&blade, &draw.plan(TRIANGLES)).mesh;
            let pose = Pose { scale, shift: [shift; 3], ..Pose::random(&mut draw.random()) };
            let mut made = lone(&truth_of_mill(&blade), mesh.clone(), pose)?;
            if !single {
                made.file = bytes(&in_pose(mesh, &pose))?;
            }
            Ok(made)
        }));
    }
    cases
}

/// Foreign things, measured as a lone blade 1 m long, and without any length.
fn things() -> Vec<Case> {
    FOREIGN
        .into_iter()
        .flat_map(|name| {
            [Some(1.0), None].map(|length_m| {
                let what =
                    format!("{name}, {}", if length_m.is_some() { "1 m stated" } else { "nothing stated" });
                let foreign = case("no blade", what, move |draw| {
                    let mut random = draw.random();
                    let mesh = foreign(name, draw.noise_m, &mut random);
                    let pose = Pose::random(&mut random);
                    let ask = MeasurePlan {
                        length_m,
                        stations: StationRadii::Count(STATIONS),
                        ..MeasurePlan::default()
                    };
                    Ok(Made { file: file(mesh, &pose)?, ask, known: Known { pose, blades: vec![] } })
                });
                Case { briefly: true, ..foreign }
            })
        })
        .collect()
}
