//! A hub about the axis of rotation with a hole for every blade. Its triangles share the edges of the blades.

use std::f64::consts::{PI, TAU};

use crate::holes::{BoltCircle, Hole};
use crate::joint_fault::{FlatRegion, JointFault};
use crate::plane::fill;

/// A cylinder about the axis of rotation with a rounded nose in the flight direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hub {
    /// Radius, m.
    pub radius_m: f64,
    /// Length of the cylinder, m.
    pub length_m: f64,
    /// Length of the nose, half an ellipsoid ahead of the cylinder, m; 0 for a flat front.
    pub nose_m: f64,
    /// Height of the middle of the cylinder above the blade axes, m: 0, but for screws, whose raked blades stand on it beside their own height.
    pub middle_m: f64,
    /// Radius of the bore, m, straight through hub and nose; 0 without one.
    pub bore_radius_m: f64,
    /// Holes for bolts from one flat end to the other.
    pub bolts: Option<BoltCircle>,
}

/// Triangles of a hub. Vertices are counted from 0 and follow those of the blades.
#[derive(Debug, Clone)]
pub(crate) struct HubFacets {
    /// Vertices of the hub itself, m.
    pub(crate) vertices: Vec<[f64; 3]>,
    /// Corners: a vertex of the hub, or one of a blade ring.
    pub(crate) faces: Vec<[HubCorner; 3]>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum HubCorner {
    Own(u32),
    /// Blade and index in its ring.
    Ring(u32, u32),
}

/// Minimum number of edges around a row. With fewer the hub looks faceted.
const LEAST_AROUND: usize = 12;

/// A hub diameter that is named is so much greater than the least one (chosen: blades widen from the root outwards).
const SPARE: f64 = 1.05;
/// Hub diameters that are tried, each greater by [`SPARE`]: up to seven times the given one.
const SIZES_TRIED: i32 = 40;

impl Hub {
    /// Volume, m^3.
    #[must_use]
    pub fn volume_m3(&self) -> f64 {
        let (outer, bore) = (self.radius_m.powi(2), self.bore_radius_m.powi(2));
        // Half an ellipsoid of revolution outside a cylinder about its axis: the integral of 2 pi r n sqrt(1 - (r/R)^2) from the bore to R.
        let nose = 2.0 / 3.0 * self.nose_m * outer * (1.0 - bore / outer).powf(1.5);
        let bolts = self.bolts.map_or(0.0, |b| f64::from(b.count) * (0.5 * b.hole_diameter_m).powi(2));
        PI * ((outer - bore - bolts) * self.length_m + nose)
    }

    /// Height at which the bore leaves the hub or its nose, m.
    pub(crate) fn bore_end_m(&self) -> f64 {
        self.ends_m()[1] + self.nose_m * (1.0 - (self.bore_radius_m / self.radius_m).powi(2)).sqrt()
    }

    /// Heights of the ends of the cylinder, m.
    pub(crate) fn ends_m(&self) -> [f64; 2] {
        [-0.5, 0.5].map(|s| self.middle_m + s * self.length_m)
    }

    /// Points on the cylinder, unrolled: arc and height, m.
    pub(crate) fn developed(&self, ring: &[[f64; 3]]) -> Vec<[f64; 2]> {
        ring.iter().map(|p| [self.radius_m * p[0].atan2(p[2]), p[1]]).collect()
    }

    /// Edge length of its triangles, m, for a chord error.
    fn edge_m(&self, tolerance_m: f64) -> f64 {
        edge_m(self.radius_m, tolerance_m)
    }

    /// Triangles of a hub of `count` blades. `ring`: points where the first blade (about `z`) emerges, m, clockwise seen from its tip. `slanted`: whether the sectors of the hub may follow the blades
    /// where upright ones are too narrow: wide roots of a screw lie beside one another along helices.
    pub(crate) fn facets(
        &self,
        count: u32,
        ring: &[[f64; 3]],
        tolerance_m: f64,
        slanted: bool,
    ) -> Result<HubFacets, JointFault> {
        let upright = self.developed(ring);
        let half = PI / f64::from(count) * self.radius_m;
        let slant = if slanted { Slant::of(&upright, half) } else { Slant::default() };
        // Slanted triangles are longer around the hub.
        let edge = self.edge_m(tolerance_m) / (1.0 + slant.slope.abs());
        let hole: Vec<[f64; 2]> = upright.iter().map(|p| slant.upright(*p)).collect();
        self.check(count, &hole, half, tolerance_m)?;
        let [low, high] = self.ends_m();
        let around = ((2.0 * half / edge).ceil() as usize).max(LEAST_AROUND.div_ceil(count as usize));
        let up = ((self.length_m / edge).ceil() as usize).max(2);
        let border = Border { half, low, high, around, up };
        let filled = fill(&[border.outline(), hole.clone()], edge)
            .map_err(|fault| JointFault::Fill { region: FlatRegion::Hub, fault })?;
        let mut made = HubFacets { vertices: Vec::new(), faces: Vec::new() };
        let rings = self.cylinder(count, &border, (&hole, slant), &filled, &mut made);
        if self.holes().is_empty() {
            self.cap(&rings.0, low, 0.0, edge, &mut made, true);
            self.cap(&rings.1, high, self.nose_m, edge, &mut made, false);
        } else {
            self.drilled([&rings.0, &rings.1], edge, tolerance_m, &mut made)?;
        }
        Ok(made)
    }

    /// Closes the ends and adds the walls of the holes. `rings`: the rear and the front border of the cylinder.
    fn drilled(
        &self,
        [rear, front]: [&[u32]; 2],
        edge: f64,
        tolerance_m: f64,
        made: &mut HubFacets,
    ) -> Result<(), JointFault> {
        let [low, high] = self.ends_m();
        let holes = self.holes();
        // Rows that are sewn to one another begin at the same angle.
        let start = made.vertices[front[0] as usize];
        let start = start[0].atan2(start[2]);
        let around = |hole: &Hole| {
            ((TAU * hole.radius_m / edge_m(hole.radius_m, tolerance_m)).ceil() as usize).max(LEAST_AROUND)
        };
        let is_nosed = 0.0 < self.nose_m;
        let mut rows_low = Vec::new();
        for hole in &holes {
            rows_low.push(circle(hole, around(hole), start, low, made));
        }
        self.flat(rear, &rows_low, edge, made, true)?;
        let mut rows_high = Vec::new();
        for hole in &holes {
            let y = if is_nosed { self.bore_end_m() } else { high };
            rows_high.push(circle(hole, around(hole), start, y, made));
        }
        if is_nosed {
            self.nose_to(front, &rows_high[0], edge, made);
        } else {
            self.flat(front, &rows_high, edge, made, false)?;
        }
        for (hole, (below, above)) in holes.iter().zip(rows_low.iter().zip(&rows_high)) {
            wall(hole, below, above, start, made);
        }
        Ok(())
    }

    /// A flat end of the hub around its holes.
    fn flat(
        &self,
        border: &[u32],
        holes: &[Vec<u32>],
        edge: f64,
        made: &mut HubFacets,
        is_rear: bool,
    ) -> Result<(), JointFault> {
        let y = made.vertices[border[0] as usize][1];
        // Seen from the front: `z` to the right and `x` upwards.
        let flat = |row: &[u32]| -> Vec<[f64; 2]> {
            row.iter().map(|&i| made.vertices[i as usize]).map(|p| [p[2], p[0]]).collect()
        };
        let loops: Vec<_> = [border].into_iter().chain(holes.iter().map(Vec::as_slice)).map(flat).collect();
        let filled =
            fill(&loops, edge).map_err(|fault| JointFault::Fill { region: FlatRegion::HubEnd, fault })?;
        let mut ids: Vec<u32> = border.iter().chain(holes.iter().flatten()).copied().collect();
        let first = made.vertices.len() as u32;
        ids.extend((0..filled.inside.len() as u32).map(|i| first + i));
        made.vertices.extend(filled.inside.iter().map(|p| [p[1], y, p[0]]));
        made.faces.extend(filled.faces.iter().map(|f| {
            let [a, b, c] = f.map(|i| ids[i as usize]);
            if is_rear { [a, c, b] } else { [a, b, c] }.map(HubCorner::Own)
        }));
        Ok(())
    }

    /// The nose from the front border of the cylinder to the rim of the bore.
    fn nose_to(&self, front: &[u32], rim: &[u32], edge: f64, made: &mut HubFacets) {
        let y = self.ends_m()[1];
        let whole = (self.bore_radius_m / self.radius_m).acos();
        let rows = ((whole * self.radius_m.max(self.nose_m) / edge).ceil() as usize).max(2);
        let start = made.vertices[front[0] as usize];
        let start = start[0].atan2(start[2]);
        let mut below = front.to_vec();
        for r in 1..=rows {
            let (sin, cos) = (whole * r as f64 / rows as f64).sin_cos();
            let above = if r == rows {
                rim.to_vec()
            } else {
                let row = Hole { centre_m: [0.0; 2], radius_m: self.radius_m * cos };
                let n = ((TAU * row.radius_m / edge).ceil() as usize).max(rim.len()).min(below.len());
                circle(&row, n, start, y + self.nose_m * sin, made)
            };
            sew_closed(&below, &above, made, false);
            below = above;
        }
    }

    fn check(&self, count: u32, hole: &[[f64; 2]], half: f64, tolerance_m: f64) -> Result<(), JointFault> {
        let edge = self.edge_m(tolerance_m);
        let widest = hole.iter().map(|p| p[0].abs()).fold(0.0, f64::max);
        if half - 0.5 * edge < widest {
            let most_blades = (PI * self.radius_m / (widest + 0.5 * edge)).floor().max(1.0) as u32;
            return Err(JointFault::BladesTooWide {
                blades: count,
                width_m: 2.0 * widest,
                diameter_m: 2.0 * self.radius_m,
                room_m: 2.0 * half,
                least_m: self.diameter_for(count, widest, tolerance_m),
                most_blades: most_blades.min(count.saturating_sub(1)).max(1),
            });
        }
        let highest = hole.iter().map(|p| (p[1] - self.middle_m).abs()).fold(0.0, f64::max);
        if 0.5 * self.length_m < highest + 0.3 * edge {
            return Err(JointFault::HubTooShort {
                reach_m: highest,
                length_m: self.length_m,
                least_m: 2.0 * (highest + 0.3 * edge),
            });
        }
        Ok(())
    }

    /// Diameter of a hub that holds `count` blades which are no wider farther out, m; `widest`: the greatest arc of this hub that one covers on a side, m.
    fn diameter_for(&self, count: u32, widest: f64, tolerance_m: f64) -> Option<f64> {
        let across = self.radius_m * (widest / self.radius_m).min(0.5 * PI).sin();
        let holds = |radius_m: &f64| {
            let half = PI / f64::from(count) * radius_m;
            let edge = Self { radius_m: *radius_m, ..*self }.edge_m(tolerance_m);
            *radius_m * (across / radius_m).min(1.0).asin() < half - 0.5 * edge
        };
        let sizes = (1..=SIZES_TRIED).map(|k| self.radius_m * SPARE.powi(k));
        sizes.into_iter().find(holds).map(|radius_m| 2.0 * SPARE * radius_m)
    }

    /// The cylinder, sector by sector. Returns its lower and upper row.
    fn cylinder(
        &self,
        count: u32,
        border: &Border,
        (hole, slant): (&[[f64; 2]], Slant),
        filled: &crate::plane::Filled,
        made: &mut HubFacets,
    ) -> (Vec<u32>, Vec<u32>) {
        let outline = border.outline();
        let (around, up) = (border.around, border.up);
        // The right border of a sector outline belongs to the next sector.
        let own_of_outline = 2 * around + up - 1;
        let per_sector = (own_of_outline + filled.inside.len()) as u32;
        let mut own_index = vec![None; outline.len()];
        let mut own = Vec::new();
        for (i, p) in outline.iter().enumerate() {
            if !border.is_right(i) {
                own_index[i] = Some(own.len() as u32);
                own.push(*p);
            }
        }
        own.extend(&filled.inside);
        for k in 0..count {
            let turn = TAU * f64::from(k) / f64::from(count);
            made.vertices.extend(own.iter().map(|p| {
                let a = slant.slanted(*p)[0] / self.radius_m + turn;
                [self.radius_m * a.sin(), p[1], self.radius_m * a.cos()]
            }));
        }
        let (n_outline, n_hole) = (outline.len() as u32, hole.len() as u32);
        let id = |k: u32, i: u32| {
            if i < n_outline {
                let own = match own_index[i as usize] {
                    Some(own) => k * per_sector + own,
                    // The same height on the left border of the next sector.
                    None => {
                        (k + 1) % count * per_sector + own_index[border.opposite(i as usize)].unwrap_or(0)
                    }
                };
                HubCorner::Own(own)
            } else if i < n_outline + n_hole {
                HubCorner::Ring(k, i - n_outline)
            } else {
                HubCorner::Own(k * per_sector + own_of_outline as u32 + i - n_outline - n_hole)
            }
        };
        for k in 0..count {
            made.faces.extend(filled.faces.iter().map(|f| f.map(|i| id(k, i))));
        }
        let row = |indices: &dyn Fn(usize) -> usize| -> Vec<u32> {
            (0..count)
                .flat_map(|k| (0..around).map(move |i| (k, i)))
                .filter_map(|(k, i)| own_index[indices(i)].map(|own| k * per_sector + own))
                .collect()
        };
        // The upper side of the outline runs from right to left.
        (row(&|i| i), row(&|i| 2 * around + up - i))
    }

    /// Closes an end with rows of a half ellipsoid of the given depth, or of a disc, down to a point.
    fn cap(&self, first: &[u32], y: f64, depth_m: f64, edge: f64, made: &mut HubFacets, is_rear: bool) {
        let quarter = (0.25 * PI * (self.radius_m + depth_m)).max(self.radius_m);
        let rows = ((quarter / edge).ceil() as usize).max(2);
        let mut below = first.to_vec();
        for r in 1..=rows {
            let share = r as f64 / rows as f64;
            let (radius, height) = if depth_m > 0.0 {
                let (sin, cos) = (0.5 * PI * share).sin_cos();
                (self.radius_m * cos, y + depth_m * sin)
            } else {
                (self.radius_m * (1.0 - share), y)
            };
            let begin = made.vertices.len() as u32;
            let n = if r == rows {
                1
            } else {
                ((TAU * radius / edge).ceil() as usize).max(LEAST_AROUND / 2).min(below.len())
            };
            let start = made.vertices[below[0] as usize];
            let start = start[0].atan2(start[2]);
            made.vertices.extend((0..n).map(|i| {
                let a = start + TAU * i as f64 / n as f64;
                let radius = if r == rows { 0.0 } else { radius };
                [radius * a.sin(), height, radius * a.cos()]
            }));
            let above: Vec<u32> = (begin..begin + n as u32).collect();
            sew_closed(&below, &above, made, is_rear);
            below = above;
        }
    }
}

/// Edge length of triangles on a cylinder, m, for a chord error.
fn edge_m(radius_m: f64, tolerance_m: f64) -> f64 {
    // The sag of a chord over the angle a is R (1 - cos(a/2)). Triangles are up to 1.3 times as wide as requested.
    2.0 * (1.0 - (0.6 * tolerance_m / radius_m).min(0.2)).acos() * radius_m
}

/// Adds a row of points around a hole, from `z` towards `x`; returns their numbers.
fn circle(hole: &Hole, around: usize, start: f64, y: f64, made: &mut HubFacets) -> Vec<u32> {
    let first = made.vertices.len() as u32;
    let angle = |i: usize| start + TAU * i as f64 / around as f64;
    made.vertices.extend((0..around).map(|i| hole.at(angle(i), y)));
    (first..first + around as u32).collect()
}

/// Triangles of a wall are so many times as long as they are wide around it: a wall is straight along its axis.
const WALL_LENGTH: f64 = 3.0;

/// The wall of a hole between two rows of equally many points that begin at the same angle; it faces the axis of the hole.
fn wall(hole: &Hole, below: &[u32], above: &[u32], start: f64, made: &mut HubFacets) {
    let [low, high] = [below[0], above[0]].map(|i| made.vertices[i as usize][1]);
    let step = WALL_LENGTH * TAU * hole.radius_m / below.len() as f64;
    let rows = ((high - low) / step).ceil().max(1.0) as usize;
    let mut from = below.to_vec();
    for r in 1..=rows {
        let y = low + (high - low) * r as f64 / rows as f64;
        let to = if r == rows { above.to_vec() } else { circle(hole, below.len(), start, y, made) };
        sew_closed(&from, &to, made, true);
        from = to;
    }
}

/// Triangles between two closed rows that begin at the same angle.
fn sew_closed(below: &[u32], above: &[u32], made: &mut HubFacets, is_rear: bool) {
    let at = |row: &[u32], i: usize| row[i % row.len()];
    let steps_above = if above.len() == 1 { 0 } else { above.len() };
    let (mut i, mut j) = (0, 0);
    while i < below.len() || j < steps_above {
        let a = [at(below, i), at(below, i + 1), at(above, j)];
        let b = [at(above, j), at(below, i), at(above, j + 1)];
        // Both rows are evenly spaced. The row whose next vertex comes first advances.
        let takes_below =
            j == steps_above || (i < below.len() && (i + 1) * steps_above <= (j + 1) * below.len());
        let [p, q, r] = if takes_below { a } else { b };
        made.faces.push(if is_rear { [p, r, q] } else { [p, q, r] }.map(HubCorner::Own));
        if takes_below {
            i += 1;
        } else {
            j += 1;
        }
    }
}

/// How the sectors of the unrolled cylinder follow the blades: their borders lean, and stand beside the middle between two blade axes.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Slant {
    /// Arc for each unit of height.
    pub(crate) slope: f64,
    /// Arc at no height, m.
    pub(crate) aside_m: f64,
}

/// Part of its sector that an opening may take before the sectors lean.
const ROOMY: f64 = 0.9;
/// Greatest slope of a border; a blade root lies no flatter around a hub.
const MOST_SLOPE: f64 = 4.0;
/// Steps of the search for the slope, each of which leaves two thirds of the interval.
const SLOPE_STEPS: usize = 60;

impl Slant {
    /// The slant that leaves the most room beside an opening, on the unrolled cylinder, m; none where upright sectors of this half width hold it.
    pub(crate) fn of(hole: &[[f64; 2]], half: f64) -> Self {
        if hole.iter().all(|p| p[0].abs() < ROOMY * half) {
            return Self::default();
        }
        let ends = |slope: f64| {
            hole.iter()
                .map(|p| p[0] - slope * p[1])
                .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], x| [l.min(x), h.max(x)])
        };
        let width = |slope: f64| ends(slope)[1] - ends(slope)[0];
        // The width is convex in the slope: a greatest value of linear functions less a least one.
        let (mut low, mut high) = (-MOST_SLOPE, MOST_SLOPE);
        for _ in 0..SLOPE_STEPS {
            let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            if width(a) < width(b) { high = b } else { low = a }
        }
        let slope = 0.5 * (low + high);
        Self { slope, aside_m: 0.5 * (ends(slope)[0] + ends(slope)[1]) }
    }

    fn upright(self, p: [f64; 2]) -> [f64; 2] {
        [p[0] - self.slope * p[1] - self.aside_m, p[1]]
    }

    fn slanted(self, p: [f64; 2]) -> [f64; 2] {
        [p[0] + self.slope * p[1] + self.aside_m, p[1]]
    }
}

/// Outline of one sector of the unrolled cylinder.
struct Border {
    half: f64,
    low: f64,
    high: f64,
    around: usize,
    up: usize,
}

impl Border {
    /// Anticlockwise: lower side, right border, upper side, left border.
    fn outline(&self) -> Vec<[f64; 2]> {
        let (around, up) = (self.around as f64, self.up as f64);
        let x = |i: usize| self.half * (2.0 * i as f64 / around - 1.0);
        let y = |j: usize| self.low + (self.high - self.low) * j as f64 / up;
        let lower = (0..self.around).map(|i| [x(i), self.low]);
        let right = (0..self.up).map(|j| [self.half, y(j)]);
        let upper = (1..=self.around).rev().map(|i| [x(i), self.high]);
        let left = (1..=self.up).rev().map(|j| [-self.half, y(j)]);
        lower.chain(right).chain(upper).chain(left).collect()
    }

    fn is_right(&self, i: usize) -> bool {
        (self.around..=self.around + self.up).contains(&i)
    }

    /// The index on the left border at the height of an index on the right.
    fn opposite(&self, i: usize) -> usize {
        let height = i - self.around;
        if height == 0 { 0 } else { 2 * self.around + 2 * self.up - height }
    }
}
