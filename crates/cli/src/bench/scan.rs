//! The scan as the page shows it before anything is measured: a thinned copy for the picture, and the whole scan for the points that are picked.

use std::collections::HashMap;
use std::path::Path;
use std::sync::OnceLock;

use bladeform::mesh::{RawMesh, read};
use serde_json::{Value, json};

use crate::failure::Failure;
use crate::input::bytes_of;

/// Triangles of the picture, about: as many as a computer without a graphics card turns smoothly.
const ABOUT_TRIANGLES: f64 = 60_000.0;

/// A scan that was read.
pub(super) struct Scan {
    pub(super) mesh: RawMesh,
    pub(super) sha256: String,
    pub(super) bytes: u64,
    format: &'static str,
    triangles: usize,
    vertices: usize,
    normals: OnceLock<Vec<[f64; 3]>>,
}

impl Scan {
    /// Reads a scan.
    ///
    /// # Errors
    /// The sentence of the reader, with the file.
    pub(super) fn read(path: &Path) -> Result<Self, Failure> {
        let bytes = bytes_of(path, "a scan: a PLY, STL, OBJ or GLB file")?;
        let (found, sha256) =
            bladeform::work::parallel::join(|| read(&bytes), || bladeform::document::sha256_hex(&bytes));
        let found = found.map_err(|e| Failure::Input(format!("{}: {e}", path.display())))?;
        Ok(Self {
            mesh: found.mesh,
            sha256,
            bytes: bytes.len() as u64,
            format: found.format.name(),
            triangles: found.triangles_in_file,
            vertices: found.vertices_in_file,
            normals: OnceLock::new(),
        })
    }

    /// Normals of the vertices: sums over their triangles, weighted by area, outward if the scan is wound so.
    pub(super) fn normals(&self) -> &[[f64; 3]] {
        self.normals.get_or_init(|| normals(&self.mesh))
    }

    /// Facts of the scan as read.
    pub(super) fn facts(&self) -> Value {
        json!({ "format": self.format, "triangles": self.triangles, "vertices": self.vertices })
    }

    /// The picture: a line of JSON, then positions about `centre` and unit normals as `f32`, then indices as `u32`, all little-endian.
    pub(super) fn picture(&self) -> Vec<u8> {
        let finite = |p: &&[f64; 3]| p.iter().all(|v| v.is_finite());
        let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        for p in self.mesh.vertices.iter().filter(finite) {
            for k in 0..3 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
        if !low[0].is_finite() {
            (low, high) = ([0.0; 3], [0.0; 3]);
        }
        let centre = [0, 1, 2].map(|k| 0.5 * (low[k] + high[k]));
        let Thinned { points, normals, faces } = thinned(&self.mesh, self.normals(), low, high);
        let head = json!({ "centre": centre, "low": low, "high": high, "points": points.len(), "triangles": faces.len() });
        let mut out = head.to_string().into_bytes();
        // Numbers of four bytes begin at a multiple of four.
        while out.len() % 4 != 3 {
            out.push(b' ');
        }
        out.push(b'\n');
        out.reserve(points.len() * 24 + faces.len() * 12);
        for p in points {
            (0..3).for_each(|k| out.extend(((p[k] - centre[k]) as f32).to_le_bytes()));
        }
        for n in normals {
            let size = dot(n, n).sqrt().max(f64::MIN_POSITIVE);
            n.iter().for_each(|v| out.extend(((v / size) as f32).to_le_bytes()));
        }
        faces.iter().flatten().for_each(|v| out.extend(v.to_le_bytes()));
        out
    }

    /// Where a ray first meets the scan, in the coordinates of its file.
    pub(super) fn meets(&self, from: [f64; 3], towards: [f64; 3]) -> Option<[f64; 3]> {
        let mesh = &self.mesh;
        let mut nearest = f64::INFINITY;
        for face in &mesh.faces {
            let [a, b, c] = face.map(|v| mesh.vertices[v as usize]);
            let (u, v, w) = (minus(b, a), minus(c, a), minus(from, a));
            let h = cross(towards, v);
            let det = dot(u, h);
            if det == 0.0 {
                continue;
            }
            let s = dot(w, h) / det;
            let q = cross(w, u);
            let r = dot(towards, q) / det;
            let t = dot(v, q) / det;
            if s >= 0.0 && r >= 0.0 && s + r <= 1.0 && 0.0 < t && t < nearest {
                nearest = t;
            }
        }
        nearest.is_finite().then(|| [0, 1, 2].map(|k| from[k] + nearest * towards[k]))
    }
}

fn minus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// A coarser surface.
struct Thinned {
    points: Vec<[f64; 3]>,
    /// Sums of the normals of the scan; they are lit, since the triangles themselves may be folded.
    normals: Vec<[f64; 3]>,
    faces: Vec<[u32; 3]>,
}

/// A coarser surface: vertices in one cell of a grid become their mean. A tenth of the time of a faithful simplification, for a first picture; nothing is measured on it.
fn thinned(mesh: &RawMesh, normals: &[[f64; 3]], low: [f64; 3], high: [f64; 3]) -> Thinned {
    /// A vertex without a place.
    const NONE: u32 = u32::MAX;
    let corner = |v: u32| mesh.vertices[v as usize];
    let area = |f: &[u32; 3]| {
        let n = cross(minus(corner(f[1]), corner(f[0])), minus(corner(f[2]), corner(f[0])));
        Some(0.5 * dot(n, n).sqrt()).filter(|a| a.is_finite())
    };
    let is_few = (mesh.faces.len() as f64) < 1.2 * ABOUT_TRIANGLES;
    // Two triangles for each cell of the surface, and as many again where a rough surface has several normals in one cell. The numbers of the cells must fit 20 bits each.
    let whole: f64 = if is_few { 0.0 } else { mesh.faces.iter().filter_map(area).sum() };
    let diagonal = dot(minus(high, low), minus(high, low)).sqrt();
    let size = (4.0 * whole / ABOUT_TRIANGLES).sqrt().max(diagonal / f64::from(1 << 19));
    let mut cells: HashMap<u64, u32> = HashMap::new();
    let (mut sums, mut counts, mut turned) = (Vec::new(), Vec::new(), Vec::new());
    let mut place = |(p, n): (&[f64; 3], &[f64; 3])| {
        if !p.iter().all(|v| v.is_finite()) || size <= 0.0 {
            return NONE;
        }
        let cell = (0..3).fold(0_u64, |key, k| key << 20 | ((p[k] - low[k]) / size) as u64);
        let cell = if is_few { cell } else { cell << 3 | octant(n) };
        let at = *cells.entry(cell).or_insert_with(|| {
            sums.push([0.0; 3]);
            turned.push([0.0; 3]);
            counts.push(0.0);
            (counts.len() - 1) as u32
        });
        let i = at as usize;
        (0..3).for_each(|k| sums[i][k] += p[k]);
        (0..3).for_each(|k| turned[i][k] += n[k]);
        counts[i] += 1.0;
        at
    };
    let of_vertex: Vec<u32> = mesh.vertices.iter().zip(normals).map(&mut place).collect();
    let points: Vec<[f64; 3]> =
        sums.iter().zip(&counts).map(|(s, n): (_, &f64)| s.map(|v: f64| v / n)).collect();
    let mut faces: Vec<[u32; 3]> = mesh
        .faces
        .iter()
        .map(|f| f.map(|v| of_vertex[v as usize]))
        .filter(|[a, b, c]| a != b && b != c && c != a && ![*a, *b, *c].contains(&NONE))
        .collect();
    if !is_few {
        for f in &mut faces {
            // A fold is laid back: the triangle faces the way its corners do.
            let [a, b, c] = f.map(|v| points[v as usize]);
            let towards = f.iter().fold([0.0; 3], |s, v| [0, 1, 2].map(|k| s[k] + turned[*v as usize][k]));
            if dot(cross(minus(b, a), minus(c, a)), towards) < 0.0 {
                f.swap(1, 2);
            }
            let least = (0..3).min_by_key(|&k| f[k]).unwrap_or(0);
            f.rotate_left(least);
        }
        // Several triangles may have become the same one.
        faces.sort_unstable();
        faces.dedup();
    }
    Thinned { points, normals: turned, faces }
}

/// Sums of the normals of the triangles at every vertex.
fn normals(mesh: &RawMesh) -> Vec<[f64; 3]> {
    let mut normals = vec![[0.0_f64; 3]; mesh.vertices.len()];
    for f in &mesh.faces {
        let [a, b, c] = f.map(|v| mesh.vertices[v as usize]);
        let n = cross(minus(b, a), minus(c, a));
        for v in f {
            (0..3).for_each(|k| normals[*v as usize][k] += n[k]);
        }
    }
    normals
}

/// The octant of a normal: the two sides of a thin edge must not become one.
fn octant(n: &[f64; 3]) -> u64 {
    (0..3).fold(0, |key, k| key << 1 | u64::from(n[k] < 0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform::mesh::write_stl_binary;
    use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

    fn scan(triangles: usize) -> Scan {
        let made = scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles, ..ScanPlan::usual(3) });
        let mut bytes = Vec::new();
        write_stl_binary(&made.mesh, &mut bytes).unwrap();
        let at = tempfile::tempdir().unwrap();
        let path = at.path().join("scan.stl");
        std::fs::write(&path, bytes).unwrap();
        Scan::read(&path).unwrap()
    }

    #[test]
    fn the_picture_is_thin_and_spans_the_scan() {
        let scan = scan(300_000);
        let picture = scan.picture();
        let end = picture.iter().position(|b| *b == b'\n').unwrap();
        let head: Value = serde_json::from_slice(&picture[..end]).unwrap();
        let (points, triangles) =
            (head["points"].as_u64().unwrap() as usize, head["triangles"].as_u64().unwrap() as usize);
        assert!((20_000..90_000).contains(&triangles), "{triangles}");
        assert_eq!(picture.len(), end + 1 + 24 * points + 12 * triangles);
        assert_eq!((end + 1) % 4, 0);
        let along = |k: usize| head["high"][k].as_f64().unwrap() - head["low"][k].as_f64().unwrap();
        let seen =
            (0..points).map(|i| f32::from_le_bytes(picture[end + 1 + 12 * i..][..4].try_into().unwrap()));
        let (low, high) = seen.fold((f32::MAX, f32::MIN), |(l, h), x| (l.min(x), h.max(x)));
        assert!((f64::from(high - low) / along(0) - 1.0).abs() < 0.02);
    }

    #[test]
    fn a_ray_meets_the_nearest_place_of_the_scan() {
        let corners = vec![
            [0.0, 0.0, 0.0],
            [2.0, 0.0, 0.0],
            [0.0, 2.0, 0.0],
            [0.0, 0.0, 1.0],
            [2.0, 0.0, 1.0],
            [0.0, 2.0, 1.0],
        ];
        let mesh = RawMesh { vertices: corners, faces: vec![[0, 1, 2], [3, 4, 5]] };
        let scan = Scan {
            mesh,
            sha256: String::new(),
            bytes: 0,
            format: "",
            triangles: 2,
            vertices: 6,
            normals: OnceLock::new(),
        };
        assert_eq!(scan.meets([0.5, 0.5, 5.0], [0.0, 0.0, -1.0]), Some([0.5, 0.5, 1.0]));
        assert_eq!(scan.meets([0.5, 0.5, 5.0], [0.0, 0.0, 1.0]), None);
        assert_eq!(scan.meets([3.0, 3.0, 5.0], [0.0, 0.0, -1.0]), None);
    }
}
