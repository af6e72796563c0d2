//! What is typed, and what it means: the only place where options meet.

use std::path::PathBuf;

use bladeform::{Hand, Length, MeasurePlan, SettingOf, SettingRadius, SettingText, StationRadii};
use clap::{Args, Parser, Subcommand, ValueEnum};

/// From a scan of a propeller blade to numbers that can be defended.
#[derive(Debug, Parser)]
#[command(name = "bladeform", version, about, after_help = bladeform::CAUTION)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Measure a scan of one blade or of a whole propeller: stations.json, stations.csv and the page record.html.
    #[command(
        after_help = "Example: bladeform measure blade.ply --length 52in --diameter 110in --out blade-record"
    )]
    Measure(Box<Measure>),
    /// Predict thrust, power and efficiency from a station table: prediction.json, prediction.csv and the page record.html.
    #[command(
        after_help = "Example: bladeform predict stations.json --blades 2 --rpm 1900 --speed 130mph --setting 5:40:1 --out blade-record"
    )]
    Predict(Box<crate::predict::Predict>),
    /// Build a clean propeller at any setting: closed solids, section templates, distance of the scan.
    #[command(
        after_help = "Example: bladeform solid stations.json --blades 2 --hub-diameter 280mm --setting 20deg@0.75 -o propeller.stl"
    )]
    Solid(Box<crate::solid::Solid>),
    /// Compare two tables: before and after, left and right blade, scan and drawing: comparison.csv.
    #[command(
        after_help = "Example: bladeform compare worn/stations.json drawing.csv --tolerance chord=2mm --tolerance angle=0.5deg"
    )]
    Compare(Box<crate::compare::Compare>),
    /// Show the whole job on an invented scan and how far each figure is from the truth.
    #[command(after_help = "Example: bladeform demo --out bladeform-demo")]
    Demo {
        /// Folder for the results.
        #[arg(long, value_name = "DIR", default_value = "bladeform-demo")]
        out: PathBuf,
    },
    /// Put a station table, its scan and predictions on one page that opens anywhere and prints.
    #[command(after_help = "Example: bladeform record stations.json --title \"Port blade\" -o blade.html")]
    Record(Box<crate::record::RecordArguments>),
}

#[derive(Debug, Args)]
pub(crate) struct Measure {
    /// The scan: PLY, STL, OBJ or GLB, recognised by its content.
    #[arg(value_name = "SCAN")]
    pub(crate) scan: PathBuf,
    /// Overall length of the lone blade, e.g. 52in or 4ft4in.
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    length: Option<Length>,
    /// Diameter of the propeller, e.g. 110in.
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    diameter: Option<Length>,
    /// Standard uncertainty of the known length [default: 0.5mm].
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    length_uncertainty: Option<Length>,
    /// Distance of the lone blade's root end from the axis of rotation.
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    root_radius: Option<Length>,
    /// Number of evenly spaced stations [default: 24].
    #[arg(long, value_name = "COUNT", value_parser = StationRadii::parse_count, conflicts_with = "at")]
    stations: Option<StationRadii>,
    /// Stations by fraction of the tip radius (0.3,0.45,0.75) or by radius (12in,18in).
    #[arg(long, value_name = "LIST", value_parser = StationRadii::parse)]
    at: Option<StationRadii>,
    /// A known absolute angle of the lone blade, e.g. 22.5deg@0.75.
    #[arg(long, value_name = "ANGLE[@RADIUS]", value_parser = SettingText::parse)]
    setting: Option<SettingText>,
    /// Which line of the section the setting is of.
    #[arg(long, value_name = "LINE", default_value = "chord")]
    setting_of: Line,
    /// The hand, when you know it: right turns clockwise seen from behind.
    #[arg(long, value_name = "right|left", value_parser = Hand::parse)]
    hand: Option<Hand>,
    /// Overrule what the shape was taken to show.
    #[arg(long, value_name = "WHAT")]
    swap: Vec<Swap>,
    /// Threads to work with; the result does not depend on it [default: 2].
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u8).range(1..=64))]
    threads: Option<u8>,
    #[command(flatten)]
    pub(crate) page: crate::record::PageAlong,
    /// Folder for stations.json, stations.csv and record.html.
    #[arg(long, value_name = "DIR", default_value = ".")]
    pub(crate) out: PathBuf,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Line {
    /// The chord line.
    Chord,
    /// The straight line of the face.
    Face,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Swap {
    /// The other end is the tip.
    Ends,
    /// The other edge leads.
    Edges,
    /// The other side is the back.
    Sides,
}

impl Measure {
    /// The checked plan, or a sentence about what does not go together.
    pub(crate) fn plan(&self) -> Result<MeasurePlan, String> {
        let defaults = MeasurePlan::default();
        let positive = |name: &str, length: Option<Length>| match length {
            Some(l) if l.m() <= 0.0 => Err(format!("--{name}: the length must be greater than zero")),
            other => Ok(other.map(Length::m)),
        };
        let setting = match self.setting {
            None => None,
            Some(s) => Some((s.angle.deg(), match s.at {
                SettingRadius::Default => None,
                SettingRadius::Ratio(r) => Some(r),
                SettingRadius::Tip => return Err("--setting: a setting at the tip cannot be measured here; give a radius such as @0.75".to_owned()),
            })),
        };
        let swap = |what| self.swap.contains(&what);
        Ok(MeasurePlan {
            length_m: positive("length", self.length)?,
            diameter_m: positive("diameter", self.diameter)?,
            length_uncertainty_m: positive("length-uncertainty", self.length_uncertainty)?
                .unwrap_or(defaults.length_uncertainty_m),
            root_radius_m: self.root_radius.map(Length::m),
            stations: self.at.clone().or_else(|| self.stations.clone()).unwrap_or(defaults.stations),
            setting,
            setting_of: if self.setting_of == Line::Face { SettingOf::Face } else { SettingOf::Chord },
            hand: self.hand,
            swap_ends: swap(Swap::Ends),
            swap_edges: swap(Swap::Edges),
            swap_sides: swap(Swap::Sides),
            threads: self.threads.map_or(defaults.threads, usize::from),
        })
    }
}
