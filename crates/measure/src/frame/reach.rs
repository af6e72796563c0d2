//! Where a noisy surface ends: its outermost point lies too far out, since the noise of many points is at its greatest there.

use bladeform_mesh::CleanMesh;

use bladeform_quantity::RECTANGULAR;

use crate::frame::noise::Noise;
use crate::vector::{V3, add, cross, dot, norm, sub};

/// How far the outermost point is expected to lie beyond the surface's own end.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Overreach {
    /// Expected excess, file units.
    pub(crate) excess: f64,
    /// Its standard uncertainty, file units.
    pub(crate) u: f64,
}

/// Noise below this part of the size is rounding of the file's numbers.
const ROUNDING: f64 = 3e-8;
/// Points farther below the outermost one than this many deviations are never the greatest.
const DEPTH: f64 = 10.0;
/// Points that are averaged over, for each group that goes as one.
const AVERAGED: f64 = 4.0;
/// Rings of neighbours at most.
const MOST_RINGS: usize = 8;
/// How far below the points that may be the greatest their rings are looked for at first, as a part of the diagonal.
const NEIGHBOURHOOD: f64 = 0.03;
/// Steps of the integral over one deviation, and its reach to both sides of the greatest height.
const STEPS: f64 = 40.0;
const BEYOND: f64 = 7.0;
/// No normal of a noisy surface looks so exactly aside that nothing of the noise goes outwards.
const LEAST_SHARE: f64 = 0.05;

/// Excess of the greatest of the `heights` of a mesh's vertices, those above `top` left out. `outwards`: the unit direction in which a
/// vertex' height grows.
///
/// The greatest of independent heights `z_i + e_i` has the distribution `prod Phi((t - z_i) / s_i)` (H. A. David, H. N. Nagaraja, *Order
/// Statistics*, 3rd ed. 2003, chapter 5); points `k` of which go as one count with the exponent `1/k`. The noise `s_i` is that of the scan along
/// its normal, as far as the normal looks outwards. The heights `z_i` without noise are means over neighbours, what these take off the shape put
/// back by the means of what is left (twicing: J. W. Tukey, *Exploratory Data Analysis*, 1977, chapter 16). Heights as seen are spread by
/// noise already and give too little, smooth ones too much where the shape is finer than the neighbourhood; and a point that stands out by shape
/// alone has hardly any excess. Both steps, from none to that of the heights as seen and on to that of the smooth ones, are half widths
/// of rectangular distributions.
pub(crate) fn overreach(
    mesh: &CleanMesh,
    heights: &[f64],
    outwards: impl Fn(V3) -> V3,
    top: f64,
    noise: &Noise,
) -> Overreach {
    if noise.deviation <= ROUNDING * mesh.diagonal() {
        return Overreach::default();
    }
    let points = Near::new(mesh, heights, top, noise).ends(mesh, heights, outwards, noise);
    let (seen, smooth) = (greatest(&points, |p| p.seen, noise), greatest(&points, |p| p.smooth, noise));
    let open = (smooth.0 - seen.0).hypot(seen.0) * RECTANGULAR;
    Overreach { excess: smooth.0, u: smooth.1.hypot(open).hypot(smooth.0 * noise.relative_u) }
}

/// A vertex near the end: its height as seen and without noise, and the deviation of its noise outwards.
struct End {
    seen: f64,
    smooth: f64,
    deviation: f64,
}

/// Vertices around some, twice so many rings of them.
struct Rings {
    vertices: Vec<u32>,
    /// How many of them lie within the first half of the rings.
    averaged: usize,
    /// The triangles at all but the last ring.
    corners: Vec<[u32; 3]>,
    /// Of every vertex of the mesh its place among those found, or the greatest number.
    place: Vec<u32>,
}

impl Rings {
    /// `count`: vertices of the mesh.
    fn new(faces: &[[u32; 3]], mut vertices: Vec<u32>, count: usize, rings: usize) -> Self {
        let mut place = vec![u32::MAX; count];
        vertices.iter().enumerate().for_each(|(k, &v)| place[v as usize] = k as u32);
        let mut corners: Vec<[u32; 3]> = Vec::new();
        let mut taken = vec![false; faces.len()];
        let mut averaged = vertices.len();
        for round in 0..2 * rings {
            if round == rings {
                averaged = vertices.len();
            }
            let known = vertices.len() as u32;
            for (i, f) in faces.iter().enumerate() {
                if !taken[i] && f.iter().any(|&v| place[v as usize] < known) {
                    taken[i] = true;
                    corners.push(*f);
                    for &v in f {
                        if place[v as usize] == u32::MAX {
                            place[v as usize] = vertices.len() as u32;
                            vertices.push(v);
                        }
                    }
                }
            }
        }
        Self { vertices, averaged, corners, place }
    }
}

/// The vertices near the end and their neighbours.
struct Near {
    /// Vertices of the mesh: first those near enough to be the greatest, then those that means of their heights need, then these ones' neighbours.
    vertices: Vec<u32>,
    inner: usize,
    averaged: usize,
    neighbours: Vec<Vec<u32>>,
    /// Sums of the area-weighted normals of the triangles at each.
    normals: Vec<V3>,
    rings: usize,
}

impl Near {
    fn new(mesh: &CleanMesh, heights: &[f64], top: f64, noise: &Noise) -> Self {
        let low = top - DEPTH * noise.deviation;
        let ends: Vec<u32> = (0..heights.len() as u32)
            .filter(|&i| low < heights[i as usize] && heights[i as usize] <= top)
            .collect();
        let inner = ends.len();
        let rings = (2..MOST_RINGS)
            .find(|r| AVERAGED * noise.together <= (3 * r * (r + 1) + 1) as f64)
            .unwrap_or(MOST_RINGS);
        // All triangles at the vertices looked for lie near the end, unless a mesh is so coarse that the search leaves the neighbourhood.
        let border = low - NEIGHBOURHOOD * mesh.diagonal();
        let is_near = |v: &u32| border < heights[*v as usize];
        let near: Vec<[u32; 3]> = mesh.faces().iter().filter(|f| f.iter().any(is_near)).copied().collect();
        let mut around = Rings::new(&near, ends.clone(), heights.len(), rings);
        if !around.vertices.iter().all(is_near) {
            around = Rings::new(mesh.faces(), ends, heights.len(), rings);
        }
        let Rings { vertices, averaged, corners, place } = around;
        let mut neighbours = vec![Vec::new(); vertices.len()];
        let mut normals = vec![[0.0; 3]; vertices.len()];
        for f in corners {
            let [a, b, c] = f.map(|v| mesh.vertices()[v as usize]);
            let n = cross(sub(b, a), sub(c, a));
            for k in 0..3 {
                let (one, next) = (place[f[k] as usize], place[f[(k + 1) % 3] as usize]);
                neighbours[one as usize].push(next);
                neighbours[next as usize].push(one);
                normals[one as usize] = add(normals[one as usize], n);
            }
        }
        neighbours.iter_mut().for_each(|list| {
            list.sort_unstable();
            list.dedup();
        });
        Self { vertices, inner, averaged, neighbours, normals, rings }
    }

    /// A vertex and those within so many rings of it.
    fn around(&self, k: usize, stamp: &mut [u32]) -> Vec<usize> {
        let mut found = vec![k];
        stamp[k] = k as u32;
        let mut begin = 0;
        for _ in 0..self.rings {
            let end = found.len();
            for i in begin..end {
                for &next in &self.neighbours[found[i]] {
                    if stamp[next as usize] != k as u32 {
                        stamp[next as usize] = k as u32;
                        found.push(next as usize);
                    }
                }
            }
            begin = end;
        }
        found
    }

    fn ends(
        &self,
        mesh: &CleanMesh,
        heights: &[f64],
        outwards: impl Fn(V3) -> V3,
        noise: &Noise,
    ) -> Vec<End> {
        let height: Vec<f64> = self.vertices.iter().map(|&v| heights[v as usize]).collect();
        let mut stamp = vec![u32::MAX; self.vertices.len()];
        let around: Vec<Vec<usize>> = (0..self.averaged).map(|k| self.around(k, &mut stamp)).collect();
        let mean_of = |values: &[f64], k: usize| {
            around[k].iter().map(|&j| values[j]).sum::<f64>() / around[k].len() as f64
        };
        let mean: Vec<f64> = (0..self.averaged).map(|k| mean_of(&height, k)).collect();
        let rest: Vec<f64> =
            height.iter().enumerate().map(|(k, z)| mean.get(k).map_or(0.0, |m| z - m)).collect();
        let end = |k: usize| {
            let out = outwards(mesh.vertices()[self.vertices[k] as usize]);
            let normal = self.normals[k];
            let share = dot(normal, out).abs() / norm(normal).max(f64::MIN_POSITIVE);
            End {
                seen: height[k],
                smooth: mean[k] + mean_of(&rest, k),
                deviation: noise.deviation * share.max(LEAST_SHARE),
            }
        };
        (0..self.inner).map(end).collect()
    }
}

/// Expected excess of the greatest noisy height over the greatest height, and its deviation.
fn greatest(points: &[End], z: fn(&End) -> f64, noise: &Noise) -> (f64, f64) {
    let Some(top) = points.iter().map(z).max_by(f64::total_cmp) else { return (0.0, 0.0) };
    let step = noise.deviation / STEPS;
    let (mut before, mut first, mut second) = (0.0, 0.0, 0.0);
    for i in 0..=(2.0 * BEYOND * STEPS) as usize {
        let t = (i as f64 / STEPS - BEYOND) * noise.deviation;
        let log: f64 = points
            .iter()
            .map(|p| (t + top - z(p)) / p.deviation)
            .filter(|x| *x < BEYOND)
            .map(|x| below(x).max(f64::MIN_POSITIVE).ln())
            .sum();
        let share = (log / noise.together).exp();
        let middle = t - 0.5 * step;
        first += (share - before) * middle;
        second += (share - before) * middle * middle;
        before = share;
    }
    (first, (second - first * first).max(0.0).sqrt())
}

/// The normal distribution function, to 1e-7: M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, 1964, 7.1.26.
fn below(x: f64) -> f64 {
    const A: [f64; 5] = [0.254829592, -0.284496736, 1.421413741, -1.453152027, 1.061405429];
    let s = x.abs() / std::f64::consts::SQRT_2;
    let t = 1.0 / (1.0 + 0.3275911 * s);
    let tail = 0.5 * t * A.iter().rev().fold(0.0, |sum, a| sum * t + a) * (-s * s).exp();
    if x < 0.0 { tail } else { 1.0 - tail }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_greatest_of_equal_normal_heights_is_as_tabled() {
        // H. L. Harter, "Expected values of normal order statistics", Biometrika 48, 1961: the greatest of 10 and of 100.
        let noise = Noise { deviation: 0.1, relative_u: 0.0, together: 1.0 };
        for (n, expected) in [(10, 1.53875), (100, 2.50759)] {
            let points: Vec<End> = (0..n).map(|_| End { seen: 2.0, smooth: 2.0, deviation: 0.1 }).collect();
            let (excess, _) = greatest(&points, |p| p.smooth, &noise);
            assert!((excess / 0.1 - expected).abs() < 1e-3, "{n}: {excess}");
        }
        assert!((below(1.96) - 0.975).abs() < 1e-5 && (below(-1.0) - 0.158655).abs() < 1e-6);
    }
}
