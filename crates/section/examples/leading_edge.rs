//! Compares definitions of the leading edge, and prints Markdown: `cargo run --release -p bladeform-section --example leading_edge`.
#![allow(clippy::print_stdout, reason = "a table for people")]

use bladeform_section::{Family, MeanLine, mean_line};

type P = [f64; 2];

/// A way to carry the mean line on to the nose. Positions are chords behind the leading edge.
#[derive(Clone, Copy)]
enum Way {
    /// Straight on from the first circle, along the tangent of a parabola through the circles within two radii of it.
    Tangent,
    /// A polynomial through circles from one position to another.
    Circles(f64, f64, usize),
    /// The same between multiples of the radius of the first circle.
    Radii(f64, f64, usize),
    /// The same from the circle of a fraction of the greatest radius to that of another.
    Shares(f64, f64, usize),
    /// A polynomial through the middles of lines at right angles to it.
    Middles(f64, f64, usize),
    /// The point of the outline that is farthest from the trailing edge.
    Farthest,
    /// `mean_line` itself.
    Library,
}

/// Number of positions, as in the library.
const N: usize = 6;

fn sub(a: P, b: P) -> P {
    [a[0] - b[0], a[1] - b[1]]
}

/// Coefficients, constant first, of the polynomial through points by least squares: normal equations, solved by elimination.
fn polynomial(points: &[P], degree: usize) -> Vec<f64> {
    let n = degree + 1;
    let mut a = vec![vec![0.0; n + 1]; n];
    for [x, y] in points {
        for (i, row) in a.iter_mut().enumerate() {
            for (j, slot) in row.iter_mut().enumerate() {
                *slot += x.powi(i as i32) * if j < n { x.powi(j as i32) } else { *y };
            }
        }
    }
    for i in 0..n {
        for k in 0..n {
            if k != i {
                let share = a[k][i] / a[i][i];
                let pivot = a[i].clone();
                a[k].iter_mut().zip(pivot).for_each(|(v, p)| *v -= share * p);
            }
        }
    }
    (0..n).map(|i| a[i][n] / a[i][i]).collect()
}

fn value(c: &[f64], x: f64) -> f64 {
    c.iter().rev().fold(0.0, |sum, k| sum * x + k)
}

fn slope(c: &[f64], x: f64) -> f64 {
    c.iter().enumerate().skip(1).map(|(i, k)| i as f64 * k * x.powi(i as i32 - 1)).sum()
}

fn even(from: f64, to: f64) -> impl Iterator<Item = f64> {
    (0..N).map(move |i| from + (to - from) * i as f64 / (N - 1) as f64)
}

/// Ordinate at `x` of points in rising order; the end pieces go on beyond the ends.
fn between(points: &[P], x: f64) -> f64 {
    let i = points.partition_point(|p| p[0] < x).clamp(1, points.len() - 1);
    let (a, b) = (points[i - 1], points[i]);
    a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0])
}

/// Foremost crossing of a closed polygon with a polynomial, ahead of `limit`.
fn foremost(local: &[P], c: &[f64], limit: f64) -> Option<P> {
    let off = |p: P| p[1] - value(c, p[0]);
    (0..local.len())
        .filter_map(|i| {
            let (a, b) = (local[i], local[(i + 1) % local.len()]);
            let (at_a, at_b) = (off(a), off(b));
            let share = at_a / (at_a - at_b);
            ((at_a < 0.0) != (at_b < 0.0) && a[0].min(b[0]) < limit)
                .then(|| [0, 1].map(|k| a[k] + share * (b[k] - a[k])))
        })
        .min_by(|a, b| a[0].total_cmp(&b[0]))
}

/// An outline and its mean line.
type Lined = (Vec<P>, Option<MeanLine>);

fn lined(outline: Vec<P>) -> Lined {
    let line = mean_line(&outline, nearest_to_nose(&outline)).ok();
    (outline, line)
}

/// Angle of the chord line, deg, positive if it falls towards the nose; `NaN` if there is none.
fn angle_deg((outline, line): &Lined, way: Way) -> f64 {
    let Some(line) = line else { return f64::NAN };
    let mut leading = line.leading_edge;
    if !matches!(way, Way::Library) {
        for _ in 0..4 {
            let Some(next) = once(outline, line, leading, way) else { return f64::NAN };
            leading = next;
        }
    }
    let v = sub(line.trailing_edge, leading);
    v[1].atan2(v[0]).to_degrees()
}

fn once(outline: &[P], line: &MeanLine, leading: P, way: Way) -> Option<P> {
    let v = sub(line.trailing_edge, leading);
    let chord = v[0].hypot(v[1]);
    let (c, s) = (v[0] / chord, v[1] / chord);
    let to_local = |p: P| {
        let d = sub(p, leading);
        [(d[0] * c + d[1] * s) / chord, (d[1] * c - d[0] * s) / chord]
    };
    let local: Vec<P> = outline.iter().map(|p| to_local(*p)).collect();
    let centres: Vec<P> = line.circles.iter().map(|k| to_local(k.centre)).collect();
    let radii: Vec<f64> = line.circles.iter().map(|k| k.radius / chord).collect();
    let by_circles = |from: f64, to: f64, degree: usize| {
        let points: Vec<P> = even(from, to).map(|x| [x, between(&centres, x)]).collect();
        foremost(&local, &polynomial(&points, degree), from)
    };
    let found = match way {
        Way::Tangent => {
            let reach = 2.0 * radii[0];
            let n = centres.iter().take_while(|p| p[0] - centres[0][0] <= reach).count().max(5);
            let own: Vec<P> = centres[..n].iter().map(|p| sub(*p, centres[0])).collect();
            // A parabola through the first centre itself.
            let over: Vec<P> = own.iter().skip(1).map(|p| [p[0], p[1] / p[0]]).collect();
            let tangent = polynomial(&over, 1)[0];
            foremost(&local, &[centres[0][1] - tangent * centres[0][0], tangent], centres[0][0])
        }
        Way::Circles(from, to, degree) => by_circles(from, to, degree),
        Way::Radii(from, to, degree) => by_circles(from * radii[0], to * radii[0], degree),
        Way::Shares(from, to, degree) => {
            let greatest = radii.iter().copied().fold(0.0, f64::max);
            let at = |share: f64| {
                let i = radii.iter().position(|r| share * greatest <= *r).unwrap_or(0);
                centres[i][0]
            };
            by_circles(at(from), at(to), degree)
        }
        Way::Middles(from, to, degree) => {
            let tail = (0..local.len()).max_by(|&a, &b| local[a][0].total_cmp(&local[b][0]))?;
            let nose = (0..local.len())
                .min_by(|&a, &b| local[a][0].hypot(local[a][1]).total_cmp(&local[b][0].hypot(local[b][1])))?;
            let chain = |a: usize, b: usize| -> Vec<P> {
                let n = local.len();
                (0..=(b + n - a) % n).map(|k| local[(a + k) % n]).collect()
            };
            let sides = [chain(nose, tail), chain(tail, nose)];
            let mut poly = vec![0.0; degree + 1];
            for _ in 0..30 {
                let middle = |x: f64| {
                    let (y, t) = (value(&poly, x), slope(&poly, x));
                    let off = |p: P| p[0] - x + t * (p[1] - y);
                    let hit = |side: &Vec<P>| {
                        side.windows(2)
                            .filter(|w| (off(w[0]) < 0.0) != (off(w[1]) < 0.0))
                            .map(|w| w[0][1] + off(w[0]) / (off(w[0]) - off(w[1])) * (w[1][1] - w[0][1]))
                            .min_by(|a, b| (a - y).abs().total_cmp(&(b - y).abs()))
                    };
                    Some([x, 0.5 * (hit(&sides[0])? + hit(&sides[1])?)])
                };
                let points: Option<Vec<P>> = even(from, to).map(middle).collect();
                poly = polynomial(&points?, degree);
            }
            foremost(&local, &poly, from)
        }
        Way::Farthest => {
            let far = |p: &&P| (p[0] - 1.0).hypot(p[1]);
            local.iter().max_by(|a, b| far(a).total_cmp(&far(b))).copied()
        }
        Way::Library => Some([0.0; 2]),
    }?;
    Some([
        leading[0] + chord * (found[0] * c - found[1] * s),
        leading[1] + chord * (found[0] * s + found[1] * c),
    ])
}

/// Standard deviation of the height of the leading edge for one of each height from which it is carried on: the root of the sum of the squared weights.
fn gain(from: f64, to: f64, degree: usize) -> f64 {
    let xs: Vec<f64> = even(from, to).collect();
    let weight = |k: usize| {
        let points: Vec<P> = xs.iter().enumerate().map(|(i, x)| [*x, f64::from(u8::from(i == k))]).collect();
        polynomial(&points, degree)[0]
    };
    (0..N).map(|k| weight(k).powi(2)).sum::<f64>().sqrt()
}

/// Corners of a smoothed outline, at equal steps of its length.
const N_SMOOTH: usize = 4000;

/// The outline, smoothed along its length by a Gaussian of standard deviation `sigma`.
fn smoothed(outline: &[P], sigma: f64) -> Vec<P> {
    let n = outline.len();
    let mut at = vec![0.0];
    for i in 0..n {
        let d = sub(outline[(i + 1) % n], outline[i]);
        at.push(at[i] + d[0].hypot(d[1]));
    }
    let step = at[n] / N_SMOOTH as f64;
    let mut i = 0;
    let points: Vec<P> = (0..N_SMOOTH)
        .map(|k| {
            let s = k as f64 * step;
            while i + 1 < n && at[i + 1] <= s {
                i += 1;
            }
            let share = (s - at[i]) / (at[i + 1] - at[i]);
            [0, 1].map(|j| outline[i][j] + share * (outline[(i + 1) % n][j] - outline[i][j]))
        })
        .collect();
    let reach = (5.0 * sigma / step).ceil() as i64;
    let weights: Vec<f64> =
        (-reach..=reach).map(|k| (-0.5 * (k as f64 * step / sigma).powi(2)).exp()).collect();
    let total: f64 = weights.iter().sum();
    (0..N_SMOOTH as i64)
        .map(|i| {
            let mut sum = [0.0; 2];
            for (k, w) in (-reach..=reach).zip(&weights) {
                let p = points[(i + k).rem_euclid(N_SMOOTH as i64) as usize];
                sum = [sum[0] + w * p[0] / total, sum[1] + w * p[1] / total];
            }
            sum
        })
        .collect()
}

fn nearest_to_nose(outline: &[P]) -> usize {
    (0..outline.len())
        .min_by(|&a, &b| outline[a][0].hypot(outline[a][1]).total_cmp(&outline[b][0].hypot(outline[b][1])))
        .unwrap_or(0)
}

const THICKNESSES: [f64; 6] = [0.06, 0.09, 0.12, 0.15, 0.18, 0.20];
/// Smoothing of a scan, chords: 1 mm on a chord of 200 mm.
const SIGMA: f64 = 0.005;

fn families(thickness: f64) -> [Vec<Family>; 4] {
    let arcs = |edge_radius: f64| Family::CircularArcs {
        back_height: thickness - 2.0 * edge_radius,
        face_height: 0.0,
        edge_radius,
    };
    let digits = [(0.0, 0.4), (0.02, 0.4), (0.04, 0.4), (0.06, 0.4), (0.03, 0.3), (0.06, 0.5)];
    [
        digits.map(|(camber, position)| Family::FourDigit { camber, position, thickness }).to_vec(),
        vec![Family::ClarkY { thickness }],
        vec![Family::Raf6 { thickness }],
        vec![arcs(0.004), arcs(0.008)],
    ]
}

fn main() {
    let ways = [
        ("tangent of the first circles (before)", Way::Tangent),
        ("circles, 5 to 10 %, straight", Way::Circles(0.05, 0.10, 1)),
        ("circles, 5 to 20 %, straight", Way::Circles(0.05, 0.20, 1)),
        ("circles, 1 to 5 radii of the first, parabola", Way::Radii(1.0, 5.0, 2)),
        ("circles, 2 to 6 radii of the first, parabola", Way::Radii(2.0, 6.0, 2)),
        ("circles of 50 to 90 % of the greatest radius, parabola", Way::Shares(0.5, 0.9, 2)),
        ("circles, 4 to 24 %, parabola", Way::Circles(0.04, 0.24, 2)),
        ("circles, 8 to 28 %, parabola", Way::Circles(0.08, 0.28, 2)),
        ("middles, 3 to 18 %, parabola", Way::Middles(0.03, 0.18, 2)),
        ("**middles, 4 to 24 %, parabola (chosen)**", Way::Library),
        ("middles, 5 to 20 %, parabola", Way::Middles(0.05, 0.20, 2)),
        ("middles, 4 to 29 %, parabola", Way::Middles(0.04, 0.29, 2)),
        ("middles, 6 to 26 %, parabola", Way::Middles(0.06, 0.26, 2)),
        ("middles, 4 to 29 %, cubic", Way::Middles(0.04, 0.29, 3)),
        ("farthest point from the trailing edge", Way::Farthest),
    ];
    let all: [Vec<[Lined; 4]>; 4] = std::array::from_fn(|kind| {
        let sections = THICKNESSES.iter().flat_map(|&t| families(t)[kind].clone());
        sections
            .map(|family| {
                let smooth = lined(smoothed(&family.outline(4000), SIGMA));
                let [a, b, c] = [2000, 400, 12_000].map(|n| lined(family.outline(n)));
                [a, b, c, smooth]
            })
            .collect()
    });
    println!(
        "Greatest departure of the chord line from the published one, deg; in brackets the greatest change between 400 and 12,000 corners, and the greatest"
    );
    println!(
        "change by a Gaussian of 0.5 % of the chord along the outline. Thickness 6 to 20 %. `cargo run --release -p bladeform-section --example leading_edge`\n"
    );
    println!("| way | four-digit | Clark Y | R.A.F. 6 | flat-faced arcs | noise |");
    println!("|---|---|---|---|---|---|");
    for (name, way) in ways {
        let row: Vec<String> = all
            .iter()
            .map(|sections| {
                let mut worst = [0.0_f64; 3];
                for [middling, few, many, smooth] in sections {
                    let exact = angle_deg(middling, way);
                    let changes =
                        [exact, angle_deg(few, way) - angle_deg(many, way), angle_deg(smooth, way) - exact];
                    for (w, c) in worst.iter_mut().zip(changes) {
                        *w = if c.is_nan() { f64::NAN } else { w.max(c.abs()) };
                    }
                }
                format!("{:.3} ({:.3}, {:.3})", worst[0], worst[1], worst[2])
            })
            .collect();
        let noise = match way {
            Way::Circles(a, b, d) | Way::Middles(a, b, d) => format!("{:.1}", gain(a, b, d)),
            Way::Library => format!("{:.1}", gain(0.04, 0.24, 2)),
            _ => String::new(),
        };
        println!("| {name} | {} | {noise} |", row.join(" | "));
    }
    println!(
        "\nDeparture of the chord line from the published one by thickness, deg (positive: the nose is lower):\n"
    );
    println!("| section | way | {} |", THICKNESSES.map(|t| format!("{:.0} %", 100.0 * t)).join(" | "));
    println!("|---|---|{}", "---|".repeat(THICKNESSES.len()));
    let names = ["four-digit, greatest of six", "Clark Y", "R.A.F. 6", "flat-faced arcs, greatest of two"];
    for (kind, name) in names.into_iter().enumerate() {
        for (way_name, way) in [("before", Way::Tangent), ("chosen", Way::Library)] {
            let own = all[kind].len() / THICKNESSES.len();
            let most = |sections: &[[Lined; 4]]| {
                let angles = sections.iter().map(|s| angle_deg(&s[0], way));
                angles.max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(f64::NAN)
            };
            let cells: Vec<String> = all[kind].chunks(own).map(|s| format!("{:.3}", most(s))).collect();
            println!("| {name} | {way_name} | {} |", cells.join(" | "));
        }
    }
    println!(
        "\nTrailing edge (the mean line carried straight on along the tangent of the last circles), greatest move across the chord as an angle, deg:\n"
    );
    println!("| section | 400 to 12,000 corners | smoothing | from the published end |");
    println!("|---|---|---|---|");
    for (kind, name) in ["four-digit", "Clark Y", "R.A.F. 6", "flat-faced arcs"].into_iter().enumerate() {
        let mut worst = [0.0_f64; 3];
        for sections in &all[kind] {
            let [exact, few, many, smooth] = sections
                .each_ref()
                .map(|(_, line)| line.as_ref().map_or(f64::NAN, |l| l.trailing_edge[1].to_degrees()));
            for (w, c) in worst.iter_mut().zip([few - many, smooth - exact, exact]) {
                *w = w.max(c.abs());
            }
        }
        println!("| {name} | {:.4} | {:.4} | {:.4} |", worst[0], worst[1], worst[2]);
    }
}
