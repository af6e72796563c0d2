//! What is asked of a measurement, after the command line or a caller has been checked.

use bladeform_quantity::{Hand, StationRadii};
use bladeform_table::{ReadingOf, SectionSurface, SettingOf, StationTable};

/// An absolute angle that the user knows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownAngle {
    /// The angle to the plane of rotation, deg.
    pub angle_deg: f64,
    /// Where it holds, as a fraction of the tip radius; `None` is the reference radius, 0.75.
    pub radius_ratio: Option<f64>,
}

/// A reading by hand: what calipers, a protractor or a tape show on the part itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HandReading {
    /// What was read.
    pub of: ReadingOf,
    /// The reading, m, or deg for an angle.
    pub value: f64,
    /// Its standard uncertainty in the same unit; `None` takes the resolution of the usual tool.
    pub u: Option<f64>,
    /// The station.
    pub at: ReadingPlace,
    /// The second station of a length along the span; `None` for any other reading.
    pub to: Option<ReadingPlace>,
}

/// A known distance between two points of the scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownDistance {
    /// The two points, in the coordinates of the scan's file. They need not lie on the blade: a scale bar beside it serves as well.
    pub between: [[f64; 3]; 2],
    /// The distance, m.
    pub length_m: f64,
    /// Its standard uncertainty, m, with that of picking the points; `None` takes that of a tape, 0.5 mm.
    pub u_m: Option<f64>,
}

impl KnownDistance {
    /// The distance of the points, file units.
    pub(crate) fn in_file(&self) -> f64 {
        let [a, b] = self.between;
        (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f64>().sqrt()
    }
}

/// Where a reading was taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReadingPlace {
    /// A fraction of the tip radius.
    Ratio(f64),
    /// A distance from the axis of rotation, m.
    Radius(f64),
}

impl ReadingPlace {
    /// The radius, m.
    pub(crate) fn radius_m(self, tip_radius_m: f64) -> f64 {
        match self {
            Self::Ratio(ratio) => ratio * tip_radius_m,
            Self::Radius(radius_m) => radius_m,
        }
    }
}

/// Everything that the user states. Lengths in m, angles in deg.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasurePlan {
    /// Overall length of the lone blade.
    pub length_m: Option<f64>,
    /// Diameter of the propeller.
    pub diameter_m: Option<f64>,
    /// Standard uncertainty of the known length or diameter.
    pub length_uncertainty_m: f64,
    /// Known distances between points of the scan.
    pub distances: Vec<KnownDistance>,
    /// Distance of the root end from the axis of rotation.
    pub root_radius_m: Option<f64>,
    /// Its standard uncertainty; 0 if it is taken as exact.
    pub root_radius_uncertainty_m: f64,
    /// What one unit of the scan's coordinates is, m.
    pub unit_m: Option<f64>,
    /// Resolution of the scan: the full width at half maximum of the kernel that smoothed its surface.
    pub resolution_m: Option<f64>,
    /// Standard uncertainty of a place on the surface against places far from it, as the report of a scan states it: it stands for errors that the scan itself does
    /// not show.
    pub scan_accuracy_m: Option<f64>,
    /// On what sections are cut. Cylinders need a whole propeller, since a lone blade does not show its axis of rotation.
    pub sections: SectionSurface,
    /// Where to measure.
    pub stations: StationRadii,
    /// Readings by hand to compare with the scan.
    pub readings: Vec<HandReading>,
    /// A known absolute angle.
    pub setting: Option<KnownAngle>,
    /// The line of the section that has this angle.
    pub setting_of: SettingOf,
    /// The hand, when the user knows it.
    pub hand: Option<Hand>,
    /// Takes the other end for the tip.
    pub swap_ends: bool,
    /// Takes the other edge for the leading edge.
    pub swap_edges: bool,
    /// Takes the other side for the back.
    pub swap_sides: bool,
}

/// Stations when none are asked for.
const DEFAULT_STATIONS: usize = 24;
/// Standard uncertainty of a tape's reading when none is given: half a millimetre (common practice, no source).
pub(crate) const TAPE_UNCERTAINTY_M: f64 = 5e-4;

impl Default for MeasurePlan {
    fn default() -> Self {
        Self {
            length_m: None,
            diameter_m: None,
            length_uncertainty_m: TAPE_UNCERTAINTY_M,
            distances: Vec::new(),
            root_radius_m: None,
            root_radius_uncertainty_m: 0.0,
            unit_m: None,
            resolution_m: None,
            scan_accuracy_m: None,
            sections: SectionSurface::default(),
            stations: StationRadii::Count(DEFAULT_STATIONS),
            readings: Vec::new(),
            setting: None,
            setting_of: SettingOf::Chord,
            hand: None,
            swap_ends: false,
            swap_edges: false,
            swap_sides: false,
        }
    }
}

/// Full width at half maximum of a Gaussian over its standard deviation: `2 sqrt(2 ln 2)`.
pub(crate) const WIDTH_OF_GAUSSIAN: f64 = 2.354_820_045;

impl MeasurePlan {
    /// This plan at the stations of a table: the plan for another scan of the same blade. The stations are the same fractions of the tip radius, also where the
    /// root of the blades is found in each scan. Known distances are left out: their points are those of one scan.
    #[must_use]
    pub fn at_stations_of(&self, table: &StationTable) -> Self {
        let ratios = table.stations.iter().map(|s| s.radius_ratio).collect();
        Self { stations: StationRadii::Ratios(ratios), distances: Vec::new(), ..self.clone() }
    }

    /// Standard deviation, m, of the kernel that smoothed the surface; `None` where the user states no resolution.
    pub(crate) fn kernel_m(&self) -> Option<f64> {
        self.resolution_m.map(|width| width / WIDTH_OF_GAUSSIAN)
    }
}
