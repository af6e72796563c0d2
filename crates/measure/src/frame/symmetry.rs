//! A whole propeller shows itself by rotational symmetry: how many blades, and the axis about which the part turns into itself.

use bladeform_mesh::{CleanMesh, Moments};
use kiddo::{ImmutableKdTree, SquaredEuclidean};
use nalgebra::{Matrix3, Matrix4, Rotation3, Unit, Vector3, Vector4};

use super::damaged::{Spokes, spokes};
use crate::vector::{V3, add, cross, dot, norm, scale, sub, unit};
use bladeform_numeric::parallel;

/// The axis of rotation of a propeller in the scan's coordinates.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rotor {
    pub(crate) blades: usize,
    pub(crate) point: V3,
    pub(crate) direction: V3,
    /// Robust distance between the part and its turned image, over the part's size.
    pub(crate) mismatch: f64,
}

/// Points of the surface with normals, thinned on a grid.
struct Cloud {
    points: Vec<V3>,
    normals: Vec<V3>,
    tree: ImmutableKdTree<f64, 3>,
    cell: f64,
}

/// Cells of the thinning grid along the diagonal, for the search and for the last refinement.
const COARSE_CELLS: f64 = 60.0;
const FINE_CELLS: f64 = 160.0;
/// Mismatch, over the diagonal, below which a turned image counts as the part itself.
/// The propellers tried so far (invented ones with 0.2 mm of noise, and four foreign meshes) came out below 0.002.
const SAME: f64 = 0.004;
/// A body that fills more than this share of the cylinder it sweeps is a block or a wheel: a cube fills 0.64, wide-bladed ship screws some 0.2.
const BLOCK: f64 = 0.45;
/// Share of the points whose distance decides: holes and fragments may spoil the rest.
const SHARE: f64 = 0.8;
/// Distance, in cells, beyond which a nearest point is not the same place.
const FAR: f64 = 2.5;

/// Most blades that are looked for: fans and wide screws have up to a dozen (common practice, no source).
pub(crate) const MOST_BLADES: usize = 12;

/// Triangles, evenly taken from all, that a first look needs: some ten in every cell of the coarse grid.
const ENOUGH_FOR_A_LOOK: usize = 200_000;

/// Looks for 2 to [`MOST_BLADES`] blades; `None` for a lone blade.
pub(crate) fn find_rotor(mesh: &CleanMesh, m: &Moments) -> Option<Rotor> {
    // Where thousands of triangles share a cell, a part of them shows as well whether the whole turns into itself.
    let every = (mesh.faces().len() / ENOUGH_FOR_A_LOOK).max(1);
    let coarse = Cloud::of(mesh, m, COARSE_CELLS, every)?;
    let size = mesh.diagonal();
    let candidates = (0..3).flat_map(|axis| (2..=MOST_BLADES).map(move |blades| (axis, blades)));
    let alike = |&(axis, blades): &(usize, usize)| blades < 3 || spreads_alike(m, axis);
    let candidates: Vec<_> = candidates.filter(alike).collect();
    let look = || {
        parallel::map(&candidates, |&(axis, blades)| {
            refine(&coarse, (m.area_centroid, m.principal_axes[axis]), blades, [size, SHARE])
        })
    };
    let (refined, spokes) = parallel::join(look, || spokes(mesh, m, every));
    // Four blades also look like two, twelve like two, three, four and six: the most that fit are meant.
    let best = refined
        .into_iter()
        .flatten()
        .filter(|rotor| rotor.mismatch < SAME && sweeps_like_a_rotor(mesh, m, rotor))
        .max_by(|a, b| a.blades.cmp(&b.blades).then(b.mismatch.total_cmp(&a.mismatch)));
    let found = best.map(|rotor| (rotor, SHARE)).into_iter();
    let (best, share) = found.chain(with_short_blade(mesh, m, &coarse, best, spokes)).last()?;
    let fine = Cloud::of(mesh, m, FINE_CELLS, 1)?;
    refine(&fine, (best.point, best.direction), best.blades, [size, share])
}

/// A propeller of more blades than were found, one of which is so short that the whole does not turn into itself: the blades still stand evenly near the hub. Also the share of the points that
/// must turn into the part: of `n` blades one leaves its place and another the place of that one, so that `n - 2` of the `n - 1` others do, less scraps.
fn with_short_blade(
    mesh: &CleanMesh,
    m: &Moments,
    coarse: &Cloud,
    found: Option<Rotor>,
    spokes: Option<Spokes>,
) -> Option<(Rotor, f64)> {
    let spokes = spokes?;
    let n = spokes.blades as f64;
    let share = SHARE.min(UNSPOILT * (n - 2.0) / (n - 1.0));
    if found.is_some_and(|rotor| spokes.blades <= rotor.blades) {
        return None;
    }
    let rotor = refine(coarse, (spokes.point, spokes.direction), spokes.blades, [mesh.diagonal(), share])?;
    (rotor.mismatch < SAME && sweeps_like_a_rotor(mesh, m, &rotor)).then_some((rotor, share))
}

/// Share of the whole blades' points that holes and scraps leave.
const UNSPOILT: f64 = 0.9;

/// What turns into itself by a third of a turn or less spreads alike in all directions across its axis. Holes and scraps disturb that, though hardly by
/// a half; a lone blade's length and width differ far more.
fn spreads_alike(m: &Moments, axis: usize) -> bool {
    let [a, b] = [(axis + 1) % 3, (axis + 2) % 3].map(|other| m.principal_variances[other]);
    LEAST_ALIKE * a.max(b) < a.min(b)
}

/// Ratio of the mean squared distances across an axis from which they count as alike.
const LEAST_ALIKE: f64 = 0.5;

/// Whether the cylinder swept about the axis is wider than long, as a propeller's is, and mostly air.
///
/// A slender blade nearly turns into itself about its own span: the difference between its edges is small compared with its length.
fn sweeps_like_a_rotor(mesh: &CleanMesh, m: &Moments, rotor: &Rotor) -> bool {
    let (mut radius, mut low, mut high) = (0.0f64, f64::INFINITY, f64::NEG_INFINITY);
    for &p in mesh.vertices() {
        let d = sub(p, rotor.point);
        let along = dot(d, rotor.direction);
        radius = radius.max(norm(sub(d, scale(rotor.direction, along))));
        (low, high) = (low.min(along), high.max(along));
    }
    let filling = m.volume.abs() / (std::f64::consts::PI * radius * radius * (high - low));
    filling < BLOCK && high - low < 2.0 * radius
}

impl Cloud {
    /// `every`: of so many triangles one is taken.
    fn of(mesh: &CleanMesh, m: &Moments, cells_along: f64, every: usize) -> Option<Self> {
        let cell = mesh.diagonal() / cells_along;
        let mut cells = Cells::default();
        // Samples are made in parallel, a batch at a time, and summed up in the order of the triangles.
        for batch in mesh.faces().chunks(BATCH * every) {
            // Each part begins with a triangle that is taken.
            let part = batch.len().div_ceil(BATCH_PARTS).next_multiple_of(every);
            let parts: Vec<_> = batch.chunks(part).collect();
            let sampled = parallel::map(&parts, |faces| samples(mesh, m, faces.iter().step_by(every), cell));
            sampled.iter().flatten().for_each(|sample| cells.add(sample));
        }
        let (points, normals): (Vec<_>, Vec<_>) = cells.points().unzip();
        let tree = ImmutableKdTree::new_from_slice(&points).ok()?;
        Some(Self { points, normals, tree, cell })
    }

    /// Nearest point's index.
    fn nearest(&self, p: &V3) -> usize {
        self.tree.query(p).nearest_one::<SquaredEuclidean<f64>>().execute().item as usize
    }
}

/// Triangles whose samples are held at a time.
const BATCH: usize = 1 << 15;

/// Parts of a batch that are sampled in parallel: 32 keep the threads of an ordinary machine busy to the end.
const BATCH_PARTS: usize = 32;

/// A place on the surface: its cell and the side it faces, the place, its triangle's normal and its share of the area.
struct Sample {
    key: [i64; 4],
    place: V3,
    normal: V3,
    weight: f64,
}

/// Places on some triangles: one on each, or more, evenly, on large ones, so that a coarse mesh has as many points as a fine one.
fn samples<'a>(
    mesh: &CleanMesh,
    m: &Moments,
    faces: impl ExactSizeIterator<Item = &'a [u32; 3]>,
    cell: f64,
) -> Vec<Sample> {
    let mut samples = Vec::with_capacity(faces.len());
    for &[a, b, c] in faces {
        let [a, b, c] =
            [mesh.vertices()[a as usize], mesh.vertices()[b as usize], mesh.vertices()[c as usize]];
        let normal = cross(sub(b, a), sub(c, a));
        let square = |p: V3, q: V3| dot(sub(q, p), sub(q, p));
        let longest = square(a, b).max(square(b, c)).max(square(c, a)).sqrt();
        let parts = if longest <= cell { 1 } else { (longest / cell).ceil().clamp(1.0, 200.0) as usize };
        // Back and face of a thin blade share a cell but not a normal.
        let facing =
            m.principal_axes.iter().fold(0, |code, axis| 2 * code + i64::from(0.0 <= dot(*axis, normal)));
        let weight = norm(normal) / (parts * parts) as f64;
        samples.extend(triangle_places(parts).map(|(u, v)| {
            let place = add(a, add(scale(sub(b, a), u), scale(sub(c, a), v)));
            let d = sub(place, m.area_centroid);
            let [x, y, z] = m.principal_axes;
            let key = [below(dot(x, d) / cell), below(dot(y, d) / cell), below(dot(z, d) / cell), facing];
            Sample { key, place, normal, weight }
        }));
    }
    samples
}

/// Centres of the `n * n` small triangles of a triangle, in its two coordinates.
fn triangle_places(n: usize) -> impl Iterator<Item = (f64, f64)> {
    let step = 1.0 / n as f64;
    (0..n).flat_map(move |i| {
        (0..n - i).flat_map(move |j| {
            let up = ((i as f64 + 1.0 / 3.0) * step, (j as f64 + 1.0 / 3.0) * step);
            let down = ((i as f64 + 2.0 / 3.0) * step, (j as f64 + 2.0 / 3.0) * step);
            [Some(up), (i + j + 1 < n).then_some(down)].into_iter().flatten()
        })
    })
}

/// The greatest whole number that is not above a number of moderate size: `floor` is a call of the library here.
#[inline]
fn below(x: f64) -> i64 {
    let cut = x as i64;
    cut.saturating_sub(i64::from(x < cut as f64))
}

/// Cells that are remembered: neighbours in the mesh are mostly neighbours in space, so that one of the last cells is nearly always the one. The coarse grid of a blade has some thousand.
const REMEMBERED: usize = 1 << 12;
/// Spreads the coordinates of a cell over the places of those that are remembered: Knuth's multiplier, 2^32 over the golden section (D. E. Knuth, "The art of computer programming", volume 3, section 6.4).
const SPREAD: i64 = 2_654_435_769;

/// Sums over the cells of a grid: weight, weighted place, normal.
struct Cells {
    places: std::collections::BTreeMap<[i64; 4], usize>,
    sums: Vec<(f64, V3, V3)>,
    /// By some bits of the cell.
    last: Vec<([i64; 4], usize)>,
}

impl Default for Cells {
    fn default() -> Self {
        Self { places: Default::default(), sums: Vec::new(), last: vec![([i64::MIN; 4], 0); REMEMBERED] }
    }
}

impl Cells {
    fn add(&mut self, sample: &Sample) {
        let [x, y, z, facing] = sample.key;
        let mixed = (x + 128 * y + 8192 * z + 64 * facing).wrapping_mul(SPREAD) >> 20;
        let last = &mut self.last[mixed as usize % REMEMBERED];
        if last.0 != sample.key {
            *last = (sample.key, *self.places.entry(sample.key).or_insert(self.sums.len()));
        }
        let place = last.1;
        if place == self.sums.len() {
            self.sums.push((0.0, [0.0; 3], [0.0; 3]));
        }
        let sum = &mut self.sums[place];
        sum.0 += sample.weight;
        sum.1 = add(sum.1, scale(sample.place, sample.weight));
        sum.2 = add(sum.2, sample.normal);
    }

    /// Mean place and normal of every cell, in the order of space.
    fn points(&self) -> impl Iterator<Item = (V3, V3)> {
        self.places.values().map(|&place| self.sums[place]).map(|(w, p, n)| (scale(p, 1.0 / w), unit(n)))
    }
}

/// Turns the part by its share of the full turn about an axis, and moves the axis until the image lies on the part
/// (point-to-plane pairs: Y. Chen, G. Medioni, "Object modelling by registration of multiple range images", 1992).
/// The angle is held: a free motion would run back to rest, where every part lies on itself. `[size, share]`: the part's size, and the share of the points that decides.
fn refine(
    cloud: &Cloud,
    (point, direction): (V3, V3),
    blades: usize,
    [size, share]: [f64; 2],
) -> Option<Rotor> {
    let turn = std::f64::consts::TAU / blades as f64;
    let (mut centre, mut axis) = (Vector3::from(point), Vector3::from(direction).normalize());
    let mut mismatch = f64::INFINITY;
    for round in 0..MAX_ROUNDS {
        let rotation = *Rotation3::from_axis_angle(&Unit::new_normalize(axis), turn).matrix();
        let pairs = pairs(cloud, &rotation, centre);
        let mut sizes: Vec<f64> = pairs.iter().map(|p| p.2.abs()).collect();
        let cut = ((share * sizes.len() as f64) as usize).min(sizes.len().checked_sub(1)?);
        let bound = *sizes.select_nth_unstable_by(cut, f64::total_cmp).1;
        mismatch = bound / size;
        // A wrong number of blades shows at once.
        if (round == 3 && HOPELESS < mismatch) || (round == 8 && NOT_NEAR < mismatch) {
            return None;
        }
        let step = motion(&pairs, &rotation, &axis, bound)?;
        axis = (axis + step.0.cross(&axis)).normalize();
        centre += step.1;
        if step.0.norm() < 1e-10 && step.1.norm() < 1e-10 * size {
            break;
        }
    }
    Some(Rotor { blades, point: centre.into(), direction: axis.into(), mismatch })
}

/// Rounds of the refinement; it converges in ten to twenty.
const MAX_ROUNDS: usize = 25;
/// Mismatch after a few rounds from which no refinement recovers.
const HOPELESS: f64 = 0.02;
/// The same after twice as many, when what fits has nearly arrived.
const NOT_NEAR: f64 = 1.5 * SAME;

/// A turned point relative to the centre, the normal of its nearest point (zero where that is another place), and the distance.
type Pair = (Vector3<f64>, Vector3<f64>, f64);

fn pairs(cloud: &Cloud, rotation: &Matrix3<f64>, centre: Vector3<f64>) -> Vec<Pair> {
    let pair = |(p, n): (&V3, &V3)| {
        let arm = rotation * (Vector3::from(*p) - centre);
        let moved = arm + centre;
        let turned = rotation * Vector3::from(*n);
        let i = cloud.nearest(&moved.into());
        let (gap, normal) = (moved - Vector3::from(cloud.points[i]), Vector3::from(cloud.normals[i]));
        if 0.3 < turned.dot(&normal) && gap.norm() < FAR * cloud.cell {
            (arm, normal, normal.dot(&gap))
        } else {
            (arm, Vector3::zeros(), gap.norm())
        }
    };
    cloud.points.iter().zip(&cloud.normals).map(pair).collect()
}

/// Least-squares tilt and shift of the axis, both across it, that take the distances away.
fn motion(
    pairs: &[Pair],
    rotation: &Matrix3<f64>,
    axis: &Vector3<f64>,
    bound: f64,
) -> Option<(Vector3<f64>, Vector3<f64>)> {
    let side = if axis.x.abs() < 0.6 { Vector3::x() } else { Vector3::y() };
    let first = (side - axis * axis.dot(&side)).normalize();
    let basis = [first, axis.cross(&first)];
    // Tilting the axis by d turns the image by (I - R) d, shifting it by d shifts the image as much.
    let moved = basis.map(|e| e - rotation * e);
    let (mut a, mut b) = (Matrix4::zeros(), Vector4::zeros());
    for (arm, n, d) in pairs.iter().filter(|p| p.2.abs() <= bound) {
        let m = arm.cross(n);
        let row = Vector4::new(m.dot(&moved[0]), m.dot(&moved[1]), n.dot(&moved[0]), n.dot(&moved[1]));
        a += row * row.transpose();
        b -= row * *d;
    }
    let step = a.cholesky()?.solve(&b);
    Some((basis[0] * step[0] + basis[1] * step[1], basis[0] * step[2] + basis[1] * step[3]))
}

#[cfg(test)]
mod tests {
    use bladeform_quantity::StationRadii;
    use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_propeller};
    use bladeform_table::StationTable;

    use crate::{MeasurePlan, ScanInput, Silent, measure};

    fn propeller(count: usize) -> SpecimenPropeller {
        let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, ..Blade::quarry_mill() };
        SpecimenPropeller { blade, count, hub_radius_m: 0.16, hub_length_m: 0.2 }
    }

    fn measured(propeller: &SpecimenPropeller) -> StationTable {
        let plan = ScanPlan { triangles: 20_000 * propeller.count, ..ScanPlan::clean(7) };
        let scan = scan_of_propeller(propeller, &plan);
        let ask = MeasurePlan {
            diameter_m: Some(2.0 * propeller.blade.radius_m),
            resolution_m: Some(0.0),
            stations: StationRadii::Ratios(vec![0.5, 0.75]),
            ..MeasurePlan::default()
        };
        measure(ScanInput::mesh(&scan.mesh, "scan"), &ask, &Silent).expect("a propeller")
    }

    /// Blades beyond six, among them primes, which no smaller number hides: the number, and the sections of the mean blade.
    #[test]
    fn seven_to_twelve_blades_are_counted_and_measured() {
        for count in 7..=12 {
            let propeller = propeller(count);
            let table = measured(&propeller);
            assert_eq!(table.blade.blades_in_scan, Some(count as u64));
            assert_eq!(table.blades.len(), count);
            for station in &table.stations {
                let truth = propeller.blade.truth(station.radius_m / propeller.blade.radius_m);
                let chord_m = station.chord_m.expect("a whole section");
                let u = station.u.chord_m.expect("a whole section");
                let error = chord_m - truth.chord_m;
                // Coarse triangles, some 8 mm long, end short of the edges.
                assert!(
                    error.abs() < (2.0 * u).min(0.02 * chord_m),
                    "{count} blades: {chord_m} m off by {error} m, u {u} m"
                );
            }
        }
    }

    /// The largest number is taken: a propeller of few blades must not pass for one of twice or three times as many.
    #[test]
    fn few_blades_are_not_counted_twice() {
        for count in 2..=6 {
            assert_eq!(measured(&propeller(count)).blade.blades_in_scan, Some(count as u64));
        }
    }
}
