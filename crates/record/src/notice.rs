//! What must be reported about the page itself: one code and one sentence each, made here and nowhere else.

use bladeform_table::Coded;

/// A notice about the page. It is also on the page.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum RecordNotice {
    /// The page has no scan.
    NoScan(NoScan),
    /// Photographs that the table names are not on the page.
    PhotographsMissing {
        /// Their files, as the table names them.
        files: Vec<String>,
    },
    /// The table has no outlines.
    NoOutlines,
    /// Scan and outlines are far apart.
    FarApart,
    /// Curves over the setting are drawn for some of the advance ratios.
    AdvanceRatiosThinned {
        /// Advance ratios that are drawn.
        shown: usize,
        /// All advance ratios.
        all: usize,
    },
    /// Curves over a fixed setting are drawn for some of the flight speeds.
    SpeedsThinned {
        /// Speeds that are drawn.
        shown: usize,
        /// All speeds.
        all: usize,
    },
    /// Curves over the advance ratio are drawn for some of the settings.
    SettingsThinned {
        /// Settings that are drawn.
        shown: usize,
        /// All settings.
        all: usize,
    },
    /// The velocity triangle has some of the advance ratios.
    TriangleThinned {
        /// Advance ratios that are shown.
        shown: usize,
        /// All advance ratios.
        all: usize,
    },
}

/// What a program must report that keeps a page next to its files; the page itself does not say it.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum KeptNotice {
    /// A page was kept since it shows the scan, which the new one would not.
    ScanKept {
        /// The page that was kept.
        kept: String,
        /// The page that was written instead.
        written: String,
        /// The scan as the table names it.
        scan: String,
    },
    /// A prediction in the folder was made from another table and is not on the page.
    PredictionLeftOut {
        /// The file of the prediction.
        file: String,
    },
}

impl Coded for KeptNotice {
    fn code(&self) -> &'static str {
        match self {
            Self::ScanKept { .. } => "scan-kept",
            Self::PredictionLeftOut { .. } => "prediction-left-out",
        }
    }

    fn sentence(&self) -> String {
        match self {
            Self::ScanKept { kept, written, scan } => format!(
                "the scan {scan} was not found, so {kept}, which shows it, was kept without this prediction, and {written} shows the prediction without the scan; put the scan next to the table and predict again for one page of both"
            ),
            Self::PredictionLeftOut { file } => format!(
                "{file} in the same folder was made from another table than this one, so its figures may not be those of this blade as measured now, and the page does not show them; predict again from this table"
            ),
        }
    }
}

/// Why a page has no scan.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum NoScan {
    /// The table names no scan.
    NotNamed,
    /// There is no such file in the folder of the table.
    NotInFolder {
        /// The file as the table names it.
        file: String,
    },
    /// The file is another scan.
    OtherScan {
        /// The file as the table names it.
        file: String,
    },
    /// The table does not state the position of the scan.
    NotPlaced {
        /// The file as the table names it.
        file: String,
    },
}

impl NoScan {
    fn sentence(&self) -> String {
        const SO: &str = "so the page shows only the fitted outlines; make the page again with the measured scan to add it";
        match self {
            Self::NotNamed => {
                "the table names no scan, so the page shows only the fitted outlines".to_owned()
            }
            Self::NotInFolder { file } => format!("the scan {file} is not in the folder of the table, {SO}"),
            Self::OtherScan { file } => format!(
                "the scan {file} in the folder of the table is not the one that was measured (its SHA-256 differs), {SO}"
            ),
            Self::NotPlaced { file } => format!(
                "the scan {file} cannot be placed, because the table has no frame.scan_to_blade, so the page shows only the fitted outlines; measure the scan again to add it"
            ),
        }
    }
}

impl Coded for RecordNotice {
    fn code(&self) -> &'static str {
        match self {
            Self::NoScan(NoScan::NotNamed) => "no-scan-named",
            Self::NoScan(NoScan::NotInFolder { .. }) => "scan-not-found",
            Self::NoScan(NoScan::OtherScan { .. }) => "scan-differs",
            Self::NoScan(NoScan::NotPlaced { .. }) => "scan-not-placed",
            Self::PhotographsMissing { .. } => "photographs-missing",
            Self::NoOutlines => "no-outlines",
            Self::FarApart => "scan-far-from-outlines",
            Self::AdvanceRatiosThinned { .. } | Self::SettingsThinned { .. } | Self::SpeedsThinned { .. } => {
                "curves-thinned"
            }
            Self::TriangleThinned { .. } => "triangle-thinned",
        }
    }

    fn sentence(&self) -> String {
        match self {
            Self::NoScan(why) => why.sentence(),
            Self::PhotographsMissing { files } => format!(
                "{} of the record {} not found as the table knows {} (by name and SHA-256), so the page does not show {}: {}; put the files into the folder photographs beside the table, or name them again",
                if files.len() == 1 { "a photograph" } else { "photographs" },
                if files.len() == 1 { "was" } else { "were" },
                if files.len() == 1 { "it" } else { "them" },
                if files.len() == 1 { "it" } else { "them" },
                files.join(", ")
            ),
            Self::NoOutlines => {
                "the table has no outlines; section drawings and the 3-D view are left out".to_owned()
            }
            Self::FarApart => {
                "scan and outlines are far apart; check that the table was measured from this scan".to_owned()
            }
            Self::AdvanceRatiosThinned { shown, all } => format!(
                "{shown} of {all} advance ratios are drawn over setting; the files of the prediction contain all of them"
            ),
            Self::SpeedsThinned { shown, all } => format!(
                "{shown} of {all} flight speeds are drawn over the fixed setting; the files of the prediction contain all of them"
            ),
            Self::SettingsThinned { shown, all } => format!(
                "{shown} of {all} settings are drawn over advance ratio; the files of the prediction contain all of them"
            ),
            Self::TriangleThinned { shown, all } => {
                format!("the velocity triangle shows {shown} of {all} advance ratios, to keep the page small")
            }
        }
    }
}
