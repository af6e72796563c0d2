//! Bodies and pieces of a scan, and how a message names them.

use bladeform_mesh::Component;

/// How many bodies a message names one by one; a longer list would not be read (chosen).
const NAMED: usize = 4;

/// A connected piece of the scan, in the axes and the unit of the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// Size along each principal axis, largest spread first.
    pub extents: [f64; 3],
    /// Centroid of its surface.
    pub centroid: [f64; 3],
    /// Its surface area as a fraction of that of all pieces.
    pub area_ratio: f64,
}

impl Body {
    /// The piece of a mesh whose pieces have `total_area` together.
    pub(crate) fn of(piece: &Component, total_area: f64) -> Self {
        Self {
            extents: piece.principal_extents,
            centroid: piece.centroid,
            area_ratio: piece.area / total_area,
        }
    }
}

impl std::fmt::Display for Body {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let size = self.extents.map(short).join(" x ");
        let at = place_text(self.centroid);
        write!(f, "{size} file units about {at}, {:.0} % of the surface", 100.0 * self.area_ratio)
    }
}

/// Bodies as a list; a long list is cut short.
pub(crate) fn bodies_text(bodies: &[Body]) -> String {
    let mut text: Vec<String> = bodies.iter().take(NAMED).map(Body::to_string).collect();
    if NAMED < bodies.len() {
        text.push(format!("{} more", bodies.len() - NAMED));
    }
    text.join("; ")
}

/// A place in the axes of the file.
pub(crate) fn place_text(place: [f64; 3]) -> String {
    format!("({})", place.map(short).join(", "))
}

/// Three significant digits.
fn short(x: f64) -> String {
    let digits = if x == 0.0 { 0 } else { (2 - x.abs().log10().floor() as i32).clamp(0, 9) };
    format!("{x:.*}", digits as usize)
}
