//! The entities of a STEP file that represent blade and hub.
//!
//! Sources: ISO 10303-21 (exchange structure), ISO 10303-42 (geometry and topology); names of entities and attributes are those of the standards.

use std::fmt::Write as _;

use bladeform_numeric::vector::{norm, sub};

/// An edge, and whether a bound runs in its direction.
pub(super) type Oriented = (usize, bool);

pub(super) struct Entities {
    pub(super) text: String,
    count: usize,
    /// File units per metre.
    factor: f64,
    /// Sine and cosine of the current rotation about the axis of rotation.
    turn: (f64, f64),
}

impl Entities {
    pub(super) fn new(factor: f64) -> Self {
        Self { text: String::new(), count: 0, factor, turn: (0.0, 1.0) }
    }

    /// Sets the rotation of all further entities about the axis of rotation, rad, positive from `z` towards `x`.
    pub(super) fn turn_by(&mut self, angle_rad: f64) {
        self.turn = angle_rad.sin_cos();
    }

    fn turned(&self, p: [f64; 3]) -> [f64; 3] {
        let (sin, cos) = self.turn;
        [cos * p[0] + sin * p[2], p[1], cos * p[2] - sin * p[0]]
    }

    pub(super) fn add(&mut self, entity: &str) -> usize {
        self.count += 1;
        // Writing to a string cannot fail.
        let _ = writeln!(self.text, "#{}={entity};", self.count);
        self.count
    }

    /// A length in the unit of the file.
    pub(super) fn length(&self, metres: f64) -> String {
        // Twelve decimals of a millimetre; the standard requires a decimal point.
        format!("{:.12}", metres * self.factor)
    }

    pub(super) fn point(&mut self, p: [f64; 3]) -> usize {
        let [x, y, z] = self.turned(p).map(|c| self.length(c));
        self.add(&format!("CARTESIAN_POINT('',({x},{y},{z}))"))
    }

    pub(super) fn direction(&mut self, d: [f64; 3]) -> usize {
        let [x, y, z] = self.turned(d);
        self.add(&format!("DIRECTION('',({x:.15},{y:.15},{z:.15}))"))
    }

    /// A placement: origin, direction of its axis, direction of its first coordinate.
    pub(super) fn placement(&mut self, at: [f64; 3], axis: [f64; 3], first: [f64; 3]) -> usize {
        let (point, axis, first) = (self.point(at), self.direction(axis), self.direction(first));
        self.add(&format!("AXIS2_PLACEMENT_3D('',#{point},#{axis},#{first})"))
    }

    pub(super) fn plane(&mut self, at: [f64; 3], normal: [f64; 3], first: [f64; 3]) -> usize {
        let placement = self.placement(at, normal, first);
        self.add(&format!("PLANE('',#{placement})"))
    }

    pub(super) fn vertex(&mut self, p: [f64; 3]) -> usize {
        let point = self.point(p);
        self.add(&format!("VERTEX_POINT('',#{point})"))
    }

    /// `same_sense`: whether the curve runs from the first vertex to the second.
    pub(super) fn edge(&mut self, from: usize, to: usize, curve: usize, same_sense: bool) -> usize {
        self.add(&format!("EDGE_CURVE('',#{from},#{to},#{curve},{})", logical(same_sense)))
    }

    pub(super) fn straight(&mut self, from: [f64; 3], to: [f64; 3]) -> usize {
        let d = sub(to, from);
        let length = norm(d);
        let point = self.point(from);
        let direction = self.direction(d.map(|c| c / length));
        let vector = self.add(&format!("VECTOR('',#{direction},1.)"));
        self.add(&format!("LINE('',#{point},#{vector})"))
    }

    /// A cubic B-spline; `knots`: multiplicities and distinct knots.
    pub(super) fn spline_curve(&mut self, points: &[[f64; 3]], knots: (&[usize], &[f64])) -> usize {
        let ids: Vec<_> = points.iter().map(|&p| self.point(p)).collect();
        self.add(&format!(
            "B_SPLINE_CURVE_WITH_KNOTS('',3,({}),.UNSPECIFIED.,.F.,.F.,({}),({}),.UNSPECIFIED.)",
            refs(&ids),
            counts(knots.0),
            reals(knots.1)
        ))
    }

    /// `points[i][j]`: `i` runs along the first parameter, of any degree; the second is cubic.
    pub(super) fn spline_surface(
        &mut self,
        points: &[Vec<[f64; 3]>],
        first: (usize, &[usize], &[f64]),
        second: (&[usize], &[f64]),
    ) -> usize {
        let rows: Vec<String> = points
            .iter()
            .map(|row| {
                let ids: Vec<_> = row.iter().map(|&p| self.point(p)).collect();
                format!("({})", refs(&ids))
            })
            .collect();
        self.add(&format!(
            "B_SPLINE_SURFACE_WITH_KNOTS('',{},3,({}),.UNSPECIFIED.,.F.,.F.,.F.,({}),({}),({}),({}),.UNSPECIFIED.)",
            first.0,
            rows.join(","),
            counts(first.1),
            counts(second.0),
            reals(first.2),
            reals(second.1)
        ))
    }

    /// A face on a surface. `outer`: its border, anticlockwise about the outward normal; `holes`: inner borders, clockwise.
    /// `same_sense`: whether the surface's normal points outwards.
    pub(super) fn face(
        &mut self,
        surface: usize,
        outer: &[Oriented],
        holes: &[Vec<Oriented>],
        same_sense: bool,
    ) -> usize {
        let mut bounds = vec![self.bound("FACE_OUTER_BOUND", outer)];
        bounds.extend(holes.iter().map(|edges| self.bound("FACE_BOUND", edges)));
        self.add(&format!("ADVANCED_FACE('',({}),#{surface},{})", refs(&bounds), logical(same_sense)))
    }

    fn bound(&mut self, kind: &str, edges: &[Oriented]) -> usize {
        let ids: Vec<_> = edges
            .iter()
            .map(|&(e, sense)| self.add(&format!("ORIENTED_EDGE('',*,*,#{e},{})", logical(sense))))
            .collect();
        let edge_loop = self.add(&format!("EDGE_LOOP('',({}))", refs(&ids)));
        self.add(&format!("{kind}('',#{edge_loop},.T.)"))
    }
}

/// A border in the opposite direction.
pub(super) fn reversed(edges: &[Oriented]) -> Vec<Oriented> {
    edges.iter().rev().map(|&(e, sense)| (e, !sense)).collect()
}

pub(super) fn refs(ids: &[usize]) -> String {
    ids.iter().map(|i| format!("#{i}")).collect::<Vec<_>>().join(",")
}

fn counts(counts: &[usize]) -> String {
    counts.iter().map(ToString::to_string).collect::<Vec<_>>().join(",")
}

fn reals(values: &[f64]) -> String {
    values.iter().map(|v| format!("{v:.15}")).collect::<Vec<_>>().join(",")
}

const fn logical(value: bool) -> &'static str {
    if value { ".T." } else { ".F." }
}
