//! A lone blade, or blades and their hub as solids side by side, as boundary representations with B-spline surfaces.
//!
//! Sources: ISO 10303-21 (exchange structure), ISO 10303-42 (geometry and topology), ISO 10303-214 (its schema AUTOMOTIVE_DESIGN); names of entities
//! and attributes are those of the standards. The header has no clock, so that the same table gives the same bytes.

use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::io::{self, Write};

use crate::hub::Hub;
use crate::spline::Knots;
use crate::surface::BladeSurface;

/// Accuracy of the geometry, m: curves and surfaces share their control points, so only the printed decimals round them.
const ACCURACY_M: f64 = 1e-8;

/// Chord at the flat end of the tip as a share of the last station's: a surface that shrinks to a point there has no normal in the point, and kernels
/// must guess the missing edge. The end that is cut off is this share's square of the way from the last station to the tip, some hundredths of a millimetre.
const TIP_SHARE: f64 = 0.02;

/// Parts into which the surface is divided around a section, at knots: kernels integrate volumes with a limited number of nodes a face.
const PARTS: usize = 2;

/// Units a file may declare.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepUnit {
    /// Millimetres.
    Millimetre,
    /// Metres.
    Metre,
}

impl BladeSurface {
    /// Length that a STEP file's flat tip end takes off the blade, m.
    #[must_use]
    pub fn step_cut_m(&self) -> f64 {
        TIP_SHARE * TIP_SHARE * (self.tip_radius_m() - self.sections_m()[1])
    }

    /// Writes the blade as one closed solid of five faces (back, face, flat of the tail, root end, a tiny flat end at the tip) to an ISO 10303-21 file of AP214.
    /// `name`: of the product, letters, digits, blanks and `-_.` only; others become `-`.
    ///
    /// # Errors
    /// What `out` reports.
    pub fn write_step(&self, name: &str, unit: StepUnit, out: &mut impl Write) -> io::Result<()> {
        write_solids(self, None, name, unit, out)
    }

    /// Writes a propeller as closed solids of their own: `blade-1`, `blade-2`, ... about the axis of rotation, each as [`Self::write_step`] has it and reaching
    /// into the hub, and `hub`. They overlap inside the hub and are not united: that is left to the program that reads them.
    ///
    /// # Errors
    /// What `out` reports.
    pub fn write_step_propeller(
        &self,
        hub: Hub,
        count: u32,
        name: &str,
        unit: StepUnit,
        out: &mut impl Write,
    ) -> io::Result<()> {
        write_solids(self, Some((hub, count)), name, unit, out)
    }
}

fn write_solids(
    blade: &BladeSurface,
    hub: Option<(Hub, u32)>,
    name: &str,
    unit: StepUnit,
    out: &mut impl Write,
) -> io::Result<()> {
    let factor = if unit == StepUnit::Metre { 1.0 } else { 1e3 };
    let mut file = Entities { text: String::new(), count: 0, factor, turn: (0.0, 1.0) };
    let cut = blade.cut_off(blade.v_of_radius(blade.tip_radius_m() - blade.step_cut_m()));
    let mut shells = Vec::new();
    let count = hub.map_or(1, |(_, count)| count);
    for k in 0..count {
        file.turn = (TAU * f64::from(k) / f64::from(count)).sin_cos();
        let called = if hub.is_some() { format!("blade-{}", k + 1) } else { "blade".to_owned() };
        shells.push((called, file.shell(&cut)));
    }
    file.turn = (0.0, 1.0);
    if let Some((hub, _)) = hub {
        shells.push(("hub".to_owned(), file.hub_shell(&hub)));
    }
    let product = file.product(&plain(name), unit);
    file.representation(&shells, product);
    write!(
        out,
        "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(('Propeller blade, smooth surface through measured stations. Not airworthy.'),'2;1');\n\
         FILE_NAME('{}','1970-01-01T00:00:00',(''),(''),'bladeform','bladeform','');\n\
         FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 1 1 1 1 }}'));\nENDSEC;\nDATA;\n{}ENDSEC;\nEND-ISO-10303-21;\n",
        plain(name),
        file.text
    )
}

fn plain(name: &str) -> String {
    name.chars().map(|c| if c.is_ascii_alphanumeric() || " -_.".contains(c) { c } else { '-' }).collect()
}

/// Entity numbers of what the representation needs.
struct Product {
    shape: usize,
    context: usize,
}

pub(super) struct Entities {
    text: String,
    count: usize,
    factor: f64,
    /// Sine and cosine of the angle about the axis of rotation by which everything is turned.
    turn: (f64, f64),
}

impl Entities {
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

    /// A length in the file's unit.
    pub(super) fn length(&self, metres: f64) -> String {
        Self::number(metres * self.factor)
    }

    pub(super) fn number(x: f64) -> String {
        // Twelve decimals of a millimetre; the standard asks for a decimal point.
        format!("{x:.12}")
    }

    pub(super) fn point(&mut self, p: [f64; 3]) -> usize {
        let [x, y, z] = self.turned(p).map(|c| Self::number(c * self.factor));
        self.add(&format!("CARTESIAN_POINT('',({x},{y},{z}))"))
    }

    pub(super) fn direction(&mut self, d: [f64; 3]) -> usize {
        let [x, y, z] = self.turned(d);
        self.add(&format!("DIRECTION('',({x:.15},{y:.15},{z:.15}))"))
    }

    pub(super) fn vertex(&mut self, p: [f64; 3]) -> usize {
        let point = self.point(p);
        self.add(&format!("VERTEX_POINT('',#{point})"))
    }

    pub(super) fn edge(&mut self, from: usize, to: usize, curve: usize) -> usize {
        self.add(&format!("EDGE_CURVE('',#{from},#{to},#{curve},.T.)"))
    }

    fn spline_curve(&mut self, points: &[[f64; 3]], knots: &Knots) -> usize {
        let ids: Vec<_> = points.iter().map(|&p| self.point(p)).collect();
        self.add(&format!(
            "B_SPLINE_CURVE_WITH_KNOTS('',3,({}),.UNSPECIFIED.,.F.,.F.,({}),({}),.UNSPECIFIED.)",
            refs(&ids),
            counts(&knots.multiplicities()),
            reals(knots.breaks())
        ))
    }

    /// `points[i][j]`: `i` over the first parameter.
    fn spline_surface(&mut self, points: &[Vec<[f64; 3]>], u: (usize, &[usize], &[f64]), v: &Knots) -> usize {
        let rows: Vec<String> = points
            .iter()
            .map(|row| {
                let ids: Vec<_> = row.iter().map(|&p| self.point(p)).collect();
                format!("({})", refs(&ids))
            })
            .collect();
        let (degree, multiplicities, breaks) = u;
        self.add(&format!(
            "B_SPLINE_SURFACE_WITH_KNOTS('',{degree},3,({}),.UNSPECIFIED.,.F.,.F.,.F.,({}),({}),({}),({}),.UNSPECIFIED.)",
            rows.join(","),
            counts(multiplicities),
            counts(&v.multiplicities()),
            reals(breaks),
            reals(v.breaks())
        ))
    }

    /// A face on a surface. `edges`: with their senses, anticlockwise about the outward normal; `is_mirrored` turns them round.
    pub(super) fn face(
        &mut self,
        surface: usize,
        edges: &[(usize, bool)],
        same_sense: bool,
        is_mirrored: bool,
    ) -> usize {
        let mut edges = edges.to_vec();
        if is_mirrored {
            edges.reverse();
            edges.iter_mut().for_each(|e| e.1 = !e.1);
        }
        let ids: Vec<_> = edges
            .iter()
            .map(|&(e, sense)| self.add(&format!("ORIENTED_EDGE('',*,*,#{e},{})", logical(sense))))
            .collect();
        let edge_loop = self.add(&format!("EDGE_LOOP('',({}))", refs(&ids)));
        let bound = self.add(&format!("FACE_OUTER_BOUND('',#{edge_loop},.T.)"));
        self.add(&format!("ADVANCED_FACE('',(#{bound}),#{surface},{})", logical(same_sense)))
    }

    fn shell(&mut self, blade: &BladeSurface) -> usize {
        // Seen from the tip a section of a right-hand blade runs clockwise, so du x dv points inwards.
        let is_mirrored = blade.section_area(0.0) < 0.0;
        let parts = parts(blade);
        let rim = |row: usize| -> Vec<[f64; 3]> {
            let starts = parts.iter().map(|part| part.net[0][row]);
            starts.chain(parts.last().map(|part| part.net[part.net.len() - 1][row])).collect()
        };
        let (roots, ends) = (rim(0), rim(blade.along.count() - 1));
        let root_vertices: Vec<_> = roots.iter().map(|&p| self.vertex(p)).collect();
        let end_vertices: Vec<_> = ends.iter().map(|&p| self.vertex(p)).collect();
        // Edges along the span, from the tail's corner on the back round the nose to that on the face.
        let columns: Vec<&Vec<[f64; 3]>> = parts
            .iter()
            .map(|part| &part.net[0])
            .chain(parts.last().map(|p| &p.net[p.net.len() - 1]))
            .collect();
        let mut span_edges = Vec::new();
        for (k, column) in columns.iter().enumerate() {
            let curve = self.spline_curve(column, &blade.along);
            span_edges.push(self.edge(root_vertices[k], end_vertices[k], curve));
        }
        let (mut faces, mut root_edges, mut end_edges) = (Vec::new(), Vec::new(), Vec::new());
        for (k, part) in parts.iter().enumerate() {
            let row = |j: usize| -> Vec<[f64; 3]> { part.net.iter().map(|column| column[j]).collect() };
            let root_curve = self.spline_curve(&row(0), &part.knots);
            let root_edge = self.edge(root_vertices[k], root_vertices[k + 1], root_curve);
            let end_curve = self.spline_curve(&row(blade.along.count() - 1), &part.knots);
            let end_edge = self.edge(end_vertices[k], end_vertices[k + 1], end_curve);
            let across = (3, &part.knots.multiplicities()[..], part.knots.breaks());
            let surface = self.spline_surface(&part.net, across, &blade.along);
            let bound =
                [(span_edges[k], true), (end_edge, true), (span_edges[k + 1], false), (root_edge, false)];
            faces.push(self.face(surface, &bound, is_mirrored, is_mirrored));
            root_edges.push((root_edge, true));
            end_edges.push((end_edge, true));
        }
        let last = parts.len();
        let root_flat = self.straight(roots[0], roots[last]);
        let root_flat = self.edge(root_vertices[0], root_vertices[last], root_flat);
        let end_flat = self.straight(ends[0], ends[last]);
        let end_flat = self.edge(end_vertices[0], end_vertices[last], end_flat);
        let strip_net = [columns[last].clone(), columns[0].clone()];
        let strip = self.spline_surface(&strip_net, (1, &[2, 2], &[0.0, 1.0]), &blade.along);
        let bound = [(span_edges[last], true), (end_flat, false), (span_edges[0], false), (root_flat, true)];
        faces.push(self.face(strip, &bound, is_mirrored, is_mirrored));
        let (root_plane, end_plane) = (self.plane(roots[0], -1.0), self.plane(ends[0], 1.0));
        root_edges.push((root_flat, false));
        faces.push(self.face(root_plane, &root_edges, true, is_mirrored));
        let end_bound: Vec<_> = [(end_flat, true)]
            .into_iter()
            .chain(end_edges.into_iter().rev().map(|(e, _)| (e, false)))
            .collect();
        faces.push(self.face(end_plane, &end_bound, true, is_mirrored));
        self.add(&format!("CLOSED_SHELL('',({}))", refs(&faces)))
    }

    pub(super) fn straight(&mut self, from: [f64; 3], to: [f64; 3]) -> usize {
        let d = [0, 1, 2].map(|k| to[k] - from[k]);
        let length = (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt();
        let point = self.point(from);
        let direction = self.direction(d.map(|c| c / length));
        let vector = self.add(&format!("VECTOR('',#{direction},1.)"));
        self.add(&format!("LINE('',#{point},#{vector})"))
    }

    /// The plane of constant `z` through a point, its normal along `z` times `sign`.
    fn plane(&mut self, at: [f64; 3], sign: f64) -> usize {
        let point = self.point(at);
        let (axis, reference) = (self.direction([0.0, 0.0, sign]), self.direction([1.0, 0.0, 0.0]));
        let placement = self.add(&format!("AXIS2_PLACEMENT_3D('',#{point},#{axis},#{reference})"));
        self.add(&format!("PLANE('',#{placement})"))
    }

    fn product(&mut self, name: &str, unit: StepUnit) -> Product {
        let application =
            self.add("APPLICATION_CONTEXT('core data for automotive mechanical design processes')");
        self.add(&format!("APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,#{application})"));
        let context = self.add(&format!("PRODUCT_CONTEXT('',#{application},'mechanical')"));
        let product = self.add(&format!("PRODUCT('{name}','{name}','',(#{context}))"));
        self.add(&format!("PRODUCT_RELATED_PRODUCT_CATEGORY('part',$,(#{product}))"));
        let formation = self.add(&format!("PRODUCT_DEFINITION_FORMATION('','',#{product})"));
        let design =
            self.add(&format!("PRODUCT_DEFINITION_CONTEXT('part definition',#{application},'design')"));
        let definition = self.add(&format!("PRODUCT_DEFINITION('design','',#{formation},#{design})"));
        let shape = self.add(&format!("PRODUCT_DEFINITION_SHAPE('','',#{definition})"));
        let prefix = if unit == StepUnit::Metre { "$" } else { ".MILLI." };
        let length = self.add(&format!("(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT({prefix},.METRE.))"));
        let angle = self.add("(NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.))");
        let solid_angle = self.add("(NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT())");
        let accuracy = self.add(&format!(
            "UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE({:.10}),#{length},'distance_accuracy_value','')",
            ACCURACY_M * self.factor
        ));
        let context = self.add(&format!(
            "(GEOMETRIC_REPRESENTATION_CONTEXT(3) GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{accuracy})) GLOBAL_UNIT_ASSIGNED_CONTEXT((#{length},#{angle},#{solid_angle})) REPRESENTATION_CONTEXT('',''))"
        ));
        Product { shape, context }
    }

    fn representation(&mut self, shells: &[(String, usize)], product: Product) {
        let origin = self.point([0.0; 3]);
        let (axis, reference) = (self.direction([0.0, 0.0, 1.0]), self.direction([1.0, 0.0, 0.0]));
        let placement = self.add(&format!("AXIS2_PLACEMENT_3D('',#{origin},#{axis},#{reference})"));
        let breps: Vec<_> = shells
            .iter()
            .map(|(name, shell)| self.add(&format!("MANIFOLD_SOLID_BREP('{name}',#{shell})")))
            .collect();
        let representation = self.add(&format!(
            "ADVANCED_BREP_SHAPE_REPRESENTATION('',(#{placement},{}),#{})",
            refs(&breps),
            product.context
        ));
        self.add(&format!("SHAPE_DEFINITION_REPRESENTATION(#{},#{representation})", product.shape));
    }
}

/// A part of the surface between two values of `u`.
struct Part {
    knots: Knots,
    /// Control points, columns along the span.
    net: Vec<Vec<[f64; 3]>>,
}

fn parts(blade: &BladeSurface) -> Vec<Part> {
    let intervals = blade.across.breaks().len() - 1;
    (0..PARTS)
        .map(|k| {
            let (from, to) = (k * intervals / PARTS, (k + 1) * intervals / PARTS);
            let knots = blade.across.piece(from, to);
            let mut net = vec![vec![[0.0; 3]; blade.along.count()]; knots.count()];
            for (j, row) in blade.control.iter().enumerate() {
                for c in 0..3 {
                    let line: Vec<f64> = row.iter().map(|p| p[c]).collect();
                    let made = blade.across.piece_coefficients(&line, from, to);
                    net.iter_mut().zip(made).for_each(|(column, value)| column[j][c] = value);
                }
            }
            Part { knots, net }
        })
        .collect()
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
