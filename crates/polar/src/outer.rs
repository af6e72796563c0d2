//! Effect of boundary layers on the outer flow: edge speeds as a linear function of the mass defect at every station.
//!
//! Sources on surface and wake of strength d(ue delta)/ds displace the flow (M. J. Lighthill, "On displacement thickness", Journal of Fluid Mechanics 4,
//! 1958). Mass defects are signed: positive on the face and the wake, negative on the back, so that the strength is a single difference along the contour.

use std::ops::AddAssign;

use nalgebra::{DMatrix, DVector};

use crate::contour::{direction, distance};
use crate::error::PolarError;
use crate::inviscid::{Panels, tail_direction};
use crate::kernel::Panel;

/// Number of wake stations, and wake length in chords. After one chord the shape factor of the wake is near one.
const WAKE_STATIONS: usize = 22;
/// Length of the wake, chords (chosen for the shape factor at its end).
const WAKE_LENGTH: f64 = 1.0;

/// Response of the surface to sources on it, computed once per outline.
#[derive(Debug, Clone)]
pub(crate) struct SurfaceResponse {
    /// Signed speed at each node per signed mass defect at each node.
    response: DMatrix<f64>,
}

/// Edge speeds at one angle: `plain + influence * signed mass defects`, surface nodes first, then the wake.
#[derive(Debug, Clone)]
pub(crate) struct OuterFlow {
    pub(crate) alpha_rad: f64,
    pub(crate) plain: DVector<f64>,
    pub(crate) influence: DMatrix<f64>,
    /// Its transpose: the influences on one station are contiguous.
    pub(crate) rows: DMatrix<f64>,
    /// Edge speeds for unit vorticity at each wake station.
    pub(crate) by_wake_vorticity: DMatrix<f64>,
    /// Direction of the flow along the wake, of all stations but the first.
    pub(crate) heading: Heading,
    /// Length along the wake from the tail, chords.
    pub(crate) wake_along: Vec<f64>,
}

/// Direction of the flow on the wake line: that of the line, and the speed perpendicular to it for the signed mass defects.
#[derive(Debug, Clone)]
pub(crate) struct Heading {
    pub(crate) line_rad: Vec<f64>,
    pub(crate) plain: DVector<f64>,
    pub(crate) influence: DMatrix<f64>,
}

impl SurfaceResponse {
    pub(crate) fn new(panels: &Panels) -> Result<Self, PolarError> {
        let nodes = &panels.contour.nodes;
        let stream = source_rows(nodes, nodes.len(), |panel, i| panel.source_stream(nodes[i]));
        Ok(Self { response: respond(panels, &stream)? })
    }
}

impl OuterFlow {
    pub(crate) fn new(
        panels: &Panels,
        surface: &SurfaceResponse,
        alpha_rad: f64,
    ) -> Result<Self, PolarError> {
        let nodes = &panels.contour.nodes;
        let n = nodes.len();
        let speeds = panels.speeds(alpha_rad);
        let wake = trace_wake(panels, &speeds, alpha_rad);
        let total = n + wake.len();
        let wake_response =
            respond(panels, &source_rows(&wake, n, |panel, i| panel.source_stream(nodes[i])))?;
        let mut influence = DMatrix::zeros(total, total);
        influence.view_mut((0, 0), (n, n)).copy_from(&surface.response);
        influence.view_mut((0, n), (n, wake.len())).copy_from(&wake_response);
        let mut plain = DVector::zeros(total);
        plain.rows_mut(0, n).copy_from(&speeds);

        let tangents: Vec<_> =
            (1..wake.len()).map(|w| direction(wake[w - 1], wake[(w + 1).min(wake.len() - 1)])).collect();
        let stations = &wake[1..];
        let velocity = vortex_rows(panels, stations);
        let by_vorticity = along(&velocity, &tangents);
        // The speed component in a direction at each station, with and without mass defects.
        let component = |directions: &[[f64; 2]], by_vorticity: &DMatrix<f64>| {
            let kernel = |panel: &Panel, i: usize| {
                let d = directions[i];
                panel.source_velocity(stations[i]).map(|v| v[0] * d[0] + v[1] * d[1])
            };
            let mut rows = by_vorticity * influence.rows(0, n);
            rows.columns_mut(0, n).add_assign(&source_rows(nodes, stations.len(), kernel));
            rows.columns_mut(n, wake.len()).add_assign(&source_rows(&wake, stations.len(), kernel));
            let mut plain = by_vorticity * &speeds;
            for (p, d) in plain.iter_mut().zip(directions) {
                *p += alpha_rad.cos() * d[0] + alpha_rad.sin() * d[1];
            }
            (rows, plain)
        };
        let (rows, onward) = component(&tangents, &by_vorticity);
        let normals: Vec<_> = tangents.iter().map(|t| [-t[1], t[0]]).collect();
        let (across, off) = component(&normals, &along(&velocity, &normals));
        let heading = Heading {
            line_rad: tangents.iter().map(|t| t[1].atan2(t[0])).collect(),
            plain: off,
            influence: across,
        };
        influence.rows_mut(n + 1, stations.len()).copy_from(&rows);
        plain.rows_mut(n + 1, stations.len()).copy_from(&onward);
        // The wake begins at the speed with which the flow on the face leaves the tail.
        plain[n] = plain[n - 1];
        let last = influence.row(n - 1).into_owned();
        influence.row_mut(n).copy_from(&last);
        let mut wake_along = vec![0.0; wake.len()];
        for w in 1..wake.len() {
            wake_along[w] = wake_along[w - 1] + distance(wake[w], wake[w - 1]);
        }
        let rows = influence.transpose();
        let by_wake_vorticity = wake_vorticity_response(panels, &wake, &tangents, &by_vorticity)?;
        Ok(Self { alpha_rad, plain, influence, rows, by_wake_vorticity, heading, wake_along })
    }
}

/// Edge speeds, surface and wake, for unit anticlockwise vorticity at each wake station, linear between stations. At the tail the wake
/// vorticity is the difference of the speeds with which the flow on face and back leaves it.
fn wake_vorticity_response(
    panels: &Panels,
    wake: &[[f64; 2]],
    tangents: &[[f64; 2]],
    by_vorticity: &DMatrix<f64>,
) -> Result<DMatrix<f64>, PolarError> {
    let nodes = &panels.contour.nodes;
    let (n, count) = (nodes.len(), wake.len());
    let mut right = DMatrix::zeros(n + 1, count);
    let mut own = DMatrix::zeros(count - 1, count);
    for (w, ends) in wake.windows(2).enumerate() {
        let Some(panel) = Panel::between(ends[0], ends[1]) else { continue };
        for (i, &p) in nodes.iter().enumerate() {
            let [a, b] = panel.vortex_stream(p);
            right[(i, w)] -= a;
            right[(i, w + 1)] -= b;
        }
        for (i, t) in tangents.iter().enumerate() {
            for (end, v) in panel.vortex_velocity(wake[i + 1]).into_iter().enumerate() {
                own[(i, w + end)] += v[0] * t[0] + v[1] * t[1];
            }
        }
    }
    if panels.contour.is_sharp() {
        right.row_mut(n - 1).fill(0.0);
    }
    right[(n, 0)] = 1.0;
    let solved = panels.factored.solve(&right).ok_or(PolarError::Singular)?;
    let surface = solved.rows(0, n);
    let mut out = DMatrix::zeros(n + count, count);
    out.rows_mut(0, n).copy_from(&surface);
    let first = (surface.row(n - 1) - surface.row(0)) * 0.5;
    out.row_mut(n).copy_from(&first);
    out.rows_mut(n + 1, count - 1).copy_from(&(by_vorticity * surface + own));
    Ok(out)
}

/// Vorticity at the nodes that keeps the stream function constant inside, for given stream functions of sources.
fn respond(panels: &Panels, stream: &DMatrix<f64>) -> Result<DMatrix<f64>, PolarError> {
    let n = panels.contour.nodes.len();
    let mut right = DMatrix::zeros(n + 1, stream.ncols());
    right.rows_mut(0, n).copy_from(&(-stream));
    if panels.contour.is_sharp() {
        right.row_mut(n - 1).fill(0.0);
    }
    let solved = panels.factored.solve(&right).ok_or(PolarError::Singular)?;
    Ok(solved.rows(0, n).into_owned())
}

/// Half a panel: the two panels and weights that give the strength at its node, its own panel, and whether the node is at its start.
type Half = (Panel, [(usize, f64); 2], usize, bool);

/// Halves of the panels of a line, and the strength at their ends from the mean strengths of the panels.
/// The strength is linear between the midpoints of neighbouring panels. Without jumps the speed at a node is finite.
fn halves(line: &[[f64; 2]]) -> Vec<Half> {
    let count = line.len() - 1;
    let length = |p: usize| distance(line[p], line[p + 1]);
    // Strength at a node as a weighted mean of its two panels.
    let at_node = |i: usize| {
        if i == 0 || i == count {
            let p = i.min(count - 1);
            [(p, 1.0), (p, 0.0)]
        } else {
            let (a, b) = (length(i - 1), length(i));
            [(i - 1, b / (a + b)), (i, a / (a + b))]
        }
    };
    let mut out = Vec::with_capacity(2 * count);
    for p in 0..count {
        let middle = [0.5 * (line[p][0] + line[p + 1][0]), 0.5 * (line[p][1] + line[p + 1][1])];
        out.extend(Panel::between(line[p], middle).map(|h| (h, at_node(p), p, true)));
        out.extend(Panel::between(middle, line[p + 1]).map(|h| (h, at_node(p + 1), p, false)));
    }
    out
}

/// Influence of the signed mass defects at the nodes of a line on each of `count` points, for a kernel of two end strengths.
fn source_rows(line: &[[f64; 2]], count: usize, kernel: impl Fn(&Panel, usize) -> [f64; 2]) -> DMatrix<f64> {
    let mut strengths = DMatrix::zeros(count, line.len() - 1);
    for (half, node, p, node_first) in &halves(line) {
        for i in 0..count {
            let [a, b] = kernel(half, i);
            let (at_node, at_middle) = if *node_first { (a, b) } else { (b, a) };
            strengths[(i, *p)] += at_middle;
            for (q, weight) in node {
                strengths[(i, *q)] += weight * at_node;
            }
        }
    }
    by_mass(line, &strengths)
}

/// From panel strengths to differences of the mass defect.
fn by_mass(line: &[[f64; 2]], strengths: &DMatrix<f64>) -> DMatrix<f64> {
    let mut out = DMatrix::zeros(strengths.nrows(), line.len());
    for p in 0..line.len() - 1 {
        let column = strengths.column(p) / distance(line[p], line[p + 1]);
        out.column_mut(p).zip_apply(&column, |o, c| *o -= c);
        out.column_mut(p + 1).zip_apply(&column, |o, c| *o += c);
    }
    out
}

/// Both components of the velocity at each point for the vorticity at the surface nodes, including the tail panel.
fn vortex_rows(panels: &Panels, points: &[[f64; 2]]) -> [DMatrix<f64>; 2] {
    let nodes = &panels.contour.nodes;
    let n = nodes.len();
    let mut out = [DMatrix::zeros(points.len(), n), DMatrix::zeros(points.len(), n)];
    for (j, ends) in nodes.windows(2).enumerate() {
        let Some(panel) = Panel::between(ends[0], ends[1]) else { continue };
        for (i, &p) in points.iter().enumerate() {
            let v = panel.vortex_velocity(p);
            for axis in 0..2 {
                out[axis][(i, j)] += v[0][axis];
                out[axis][(i, j + 1)] += v[1][axis];
            }
        }
    }
    if let Some(tail) = panels.tail {
        for (i, &p) in points.iter().enumerate() {
            let v = tail.velocity(p);
            for axis in 0..2 {
                out[axis][(i, n - 1)] += 0.5 * v[axis];
                out[axis][(i, 0)] -= 0.5 * v[axis];
            }
        }
    }
    out
}

fn along(rows: &[DMatrix<f64>; 2], tangents: &[[f64; 2]]) -> DMatrix<f64> {
    DMatrix::from_fn(rows[0].nrows(), rows[0].ncols(), |i, j| {
        tangents[i][0] * rows[0][(i, j)] + tangents[i][1] * rows[1][(i, j)]
    })
}

/// Wake stations along the inviscid streamline that leaves the tail, with spacing increasing from the size of the last panel.
fn trace_wake(panels: &Panels, speeds: &DVector<f64>, alpha_rad: f64) -> Vec<[f64; 2]> {
    let nodes = &panels.contour.nodes;
    let n = nodes.len();
    let first = 0.5 * (distance(nodes[0], nodes[1]) + distance(nodes[n - 1], nodes[n - 2]));
    let ratio = widening(first);
    let mut at = [0.5 * (nodes[0][0] + nodes[n - 1][0]), 0.5 * (nodes[0][1] + nodes[n - 1][1])];
    let mut heading = tail_direction(nodes);
    let (mut wake, mut step) = (vec![at], first);
    let velocity = |p: [f64; 2]| {
        let [x, y] = vortex_rows(panels, &[p]);
        [(x * speeds)[0] + alpha_rad.cos(), (y * speeds)[0] + alpha_rad.sin()]
    };
    for w in 1..WAKE_STATIONS {
        if 1 < w {
            let half = [at[0] + 0.5 * step * heading[0], at[1] + 0.5 * step * heading[1]];
            let v = velocity(half);
            // A wake cannot turn back on itself. It is then continued straight.
            if 0.0 < v[0] * heading[0] + v[1] * heading[1] {
                heading = direction([0.0, 0.0], v);
            }
        }
        at = [at[0] + step * heading[0], at[1] + step * heading[1]];
        wake.push(at);
        step *= ratio;
    }
    wake
}

/// Ratio of a geometric series of steps that begins with `first` and covers the wake.
fn widening(first: f64) -> f64 {
    let sum = |q: f64| (0..WAKE_STATIONS - 1).map(|k| first * q.powi(k as i32)).sum::<f64>();
    let (mut low, mut high) = (1.0, 3.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if sum(middle) < WAKE_LENGTH { low = middle } else { high = middle }
    }
    low
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contour::Contour;
    use crate::inviscid::surface_flow;
    use bladeform_section::Family;

    /// Sources for a thin film on the surface have the same effect as the thickened outline.
    #[test]
    fn a_film_on_the_surface_displaces_the_flow_like_a_thicker_outline() {
        let outline = Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 }.outline(2000);
        let panels = Panels::new(&outline, 240).unwrap();
        let nodes = panels.contour.nodes.clone();
        let n = nodes.len();
        let alpha = 4f64.to_radians();
        let surface = SurfaceResponse::new(&panels).unwrap();
        let outer = OuterFlow::new(&panels, &surface, alpha).unwrap();
        let nose = (0..n).min_by(|&a, &b| nodes[a][0].total_cmp(&nodes[b][0])).unwrap();
        for back in [1.0, 0.0] {
            let film = |g: usize| {
                let x = nodes[g][0];
                let side = if g < nose { back } else { 1.0 - back };
                0.002 * side * (x * (1.0 - x) * 4.0).max(0.0).powi(2)
            };
            let plain = panels.speeds(alpha);
            let mass =
                DVector::from_fn(outer.plain.len(), |g, _| if g < n { plain[g] * film(g) } else { 0.0 });
            let with_film = (&outer.plain + &outer.influence * mass).rows(0, n).into_owned();
            let thick: Vec<[f64; 2]> = (0..n)
                .map(|g| {
                    let t = direction(nodes[g.max(1) - 1], nodes[(g + 1).min(n - 1)]);
                    [nodes[g][0] + t[1] * film(g), nodes[g][1] - t[0] * film(g)]
                })
                .collect();
            let along = std::iter::once(0.0)
                .chain(thick.windows(2).scan(0.0, |s, w| {
                    *s += distance(w[0], w[1]);
                    Some(*s)
                }))
                .collect();
            let contour = Contour { nodes: thick, along, depth: 0.12 };
            let thicker = Panels::from_contour(contour).unwrap().speeds(alpha);
            let base = surface_flow(&nodes, plain.as_slice(), alpha);
            let a = surface_flow(&nodes, with_film.as_slice(), alpha);
            let b = surface_flow(&nodes, thicker.as_slice(), alpha);
            // Linear in the film thickness. The remainder is of second order, at most a tenth of the change.
            assert!((0.005..0.01).contains(&(b.lift - base.lift).abs()));
            assert!(
                ((a.lift - b.lift) / (b.lift - base.lift)).abs() < 0.2,
                "{} {} {}",
                base.lift,
                a.lift,
                b.lift
            );
            for g in 5..n - 5 {
                let (by_film, by_shape) = (with_film[g] - plain[g], thicker[g] - plain[g]);
                assert!((by_film - by_shape).abs() < 1e-3, "node {g}: {by_film} {by_shape}");
            }
        }
    }
}
