//! What a job says of a file that another program or machine made.

use crate::diag::At;
use crate::units::LengthUnit;

/// One `[[survey]]` that brings in a scan, an elevation grid or a surface.
#[derive(Clone, Debug, PartialEq)]
pub struct ImportSpec {
    /// What the file holds.
    pub kind: ImportKind,
    /// File name in the job folder.
    pub file: String,
    /// Which of several surfaces in the file (`FILE#NAME`).
    pub surface: Option<String>,
    /// Where the job names it.
    pub at: At,
    /// Unit of plan coordinates; wins over what the file states.
    pub units: Option<LengthUnit>,
    /// Unit of heights; wins over what the file states.
    pub z_units: Option<LengthUnit>,
    /// Unit taken where neither the user nor the file says one.
    pub if_silent: LengthUnit,
    /// How a cloud is read.
    pub cloud: CloudSpec,
    /// How exact heights of this source are meant to be, metres; that of its kind if not given.
    pub height_error_m: Option<f64>,
    /// How it is brought to the benchmark of the job; `None` if it has the job's coordinates.
    pub placing: Option<Placing>,
}

/// How an import is brought into the frame of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Placing {
    /// What is moved.
    pub shift: Shift,
    /// Points that the job and the import both know.
    pub common: Common,
    /// Farthest a common point may be off after the shift, metres; twice what heights of both
    /// may be off if not given.
    pub fit_m: Option<f64>,
    /// Where the job says so.
    pub at: At,
}

/// What is moved to make an import fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shift {
    /// Heights only.
    Height,
    /// Heights, and the plan as a whole: moved and turned, never stretched.
    PlanAndHeight,
}

impl Shift {
    /// The words a job may use.
    pub const NAMES: [&'static str; 2] = ["height", "plan-and-height"];
}

/// Common points of a job and an import.
#[derive(Clone, Debug, PartialEq)]
pub enum Common {
    /// Shots of the job; the height of the import is that of its surface at their places.
    Shots(Vec<String>),
    /// A file of points as the import has them, named as the shots of the job.
    File(String),
}

impl ImportSpec {
    /// A file read the usual way.
    pub fn new(kind: ImportKind, file: impl Into<String>, if_silent: LengthUnit) -> ImportSpec {
        ImportSpec {
            kind,
            file: file.into(),
            surface: None,
            at: At::default(),
            units: None,
            z_units: None,
            if_silent,
            cloud: CloudSpec::default(),
            height_error_m: None,
            placing: None,
        }
    }

    /// A file as the user writes it: of one that may hold several surfaces, `FILE#NAME` names one.
    pub fn named(kind: ImportKind, name: &str, if_silent: LengthUnit) -> ImportSpec {
        match (kind, name.split_once('#')) {
            (ImportKind::Surface, Some((file, surface))) => ImportSpec {
                surface: Some(surface.to_owned()),
                ..ImportSpec::new(kind, file, if_silent)
            },
            _ => ImportSpec::new(kind, name, if_silent),
        }
    }

    /// The file, with the surface in it if one is named: as the user writes it.
    pub fn source(&self) -> String {
        match &self.surface {
            Some(name) => format!("{}#{name}", self.file),
            None => self.file.clone(),
        }
    }
}

/// What a file of another program holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ImportKind {
    /// A point cloud: LAS, LAZ, COPC, or x, y and z as text.
    Cloud,
    /// A grid of elevations: GeoTIFF, ASCII grid.
    Elevations,
    /// A surface face by face: LandXML.
    Surface,
}

impl ImportKind {
    /// What the ending of a file name says it holds; `None` for files of points and books.
    pub fn of_name(file: &str) -> Option<ImportKind> {
        let (_, ending) = file.rsplit_once('.')?;
        match ending.to_ascii_lowercase().as_str() {
            "las" | "laz" | "xyz" => Some(ImportKind::Cloud),
            "tif" | "tiff" | "asc" => Some(ImportKind::Elevations),
            "xml" | "landxml" => Some(ImportKind::Surface),
            _ => None,
        }
    }
}

/// How a cloud is read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CloudSpec {
    /// Classes to take; class 2 (ground) if not given, and the ground filter where the file has
    /// no point of class 2.
    pub classes: Option<Vec<u8>>,
    /// West, south, east and north end of what is taken, whole nanometres, absolute.
    pub bounds_nm: Option<[i64; 4]>,
    /// Points flagged withheld are taken too.
    pub keep_withheld: bool,
    /// Points flagged as overlap of two flight lines are taken too.
    pub keep_overlap: bool,
    /// What is done with points at one place.
    pub same_place: SamePlace,
    /// How many points are left out.
    pub thin: Thin,
    /// When the ground is told from what stands on it by its shape.
    pub filter: GroundFilter,
    /// How it is told.
    pub sieve: Sieve,
}

/// Which height counts where a cloud has several points at one place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SamePlace {
    /// The lowest: what stands on the ground is above it.
    #[default]
    Lowest,
    /// The highest.
    Highest,
    /// Their mean.
    Mean,
    /// That of the first in the file.
    First,
}

/// How a cloud is thinned.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Thin {
    /// Not below a size that any machine bears; beyond, by a tolerance that is told.
    #[default]
    IfLarge,
    /// Never.
    Never,
    /// A point is kept when the surface without it would be off by more than this, metres.
    Within(f64),
}

impl SamePlace {
    /// The words a job may use, in the order of [`SamePlace::ALL`].
    pub const NAMES: [&'static str; 4] = ["lowest", "highest", "mean", "first"];
    /// All of them.
    pub const ALL: [SamePlace; 4] = [
        SamePlace::Lowest,
        SamePlace::Highest,
        SamePlace::Mean,
        SamePlace::First,
    ];
}

/// When a ground filter is used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum GroundFilter {
    /// Where no class is asked for and the file has no point of class 2.
    #[default]
    IfUnclassified,
    /// On all points taken, whatever their class.
    Always,
    /// Never: what is taken is ground.
    Never,
}

/// How a ground filter tells ground by its shape.
///
/// # Source
///
/// usual values: T. J. Pingel, K. C. Clarke, W. A. McBride, ISPRS Journal of Photogrammetry and
/// Remote Sensing 77 (2013), 21-30 (one set of parameters for all sites). The two heights are
/// tighter than theirs, 0.5 m and 1.25 m: on a yard, grass of half a metre is no ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sieve {
    /// Side of a cell whose lowest point is looked at, metres.
    pub cell_m: f64,
    /// Widest thing that stands on the ground, metres.
    pub widest_m: f64,
    /// Steepest ground, rise over run: what rises more over a cell is a thing that stands on it.
    pub slope_rise_per_run: f64,
    /// Points so close to the ground are ground, metres.
    pub height_m: f64,
    /// What is added to that for each unit of slope, metres.
    pub height_per_slope_m: f64,
}

impl Default for Sieve {
    fn default() -> Sieve {
        Sieve {
            cell_m: 1.0,
            widest_m: 36.0,
            slope_rise_per_run: 0.15,
            height_m: 0.3,
            height_per_slope_m: 0.5,
        }
    }
}
