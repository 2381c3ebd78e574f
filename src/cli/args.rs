//! What was typed, and nothing else.

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::job::Rod;
use crate::units::MAX_COORDINATE_M;

/// Ground, cut and fill, walls and sections of a yard, from survey shots.
///
/// A SOURCE is a points file (CSV, TSV, XYZ), a level book, ties from corners, a grid of rods, a
/// point cloud (LAS, LAZ, COPC), an elevation grid (GeoTIFF, ASCII), a LandXML surface (FILE#NAME
/// for one of several), JOB:ground, JOB:design or JOB:built of a job folder, level:Z, or plane:Z0,DX,DY
/// (Z0 at the coordinates' origin, rise per unit east, rise per unit north).
///
/// Exit codes: 0 done; 1 done, and at least one finding says stop; 2 could not run.
#[derive(Debug, Parser)]
#[command(name = "cutbank", version, max_term_width = 100)]
pub(super) struct Cli {
    #[command(subcommand)]
    pub(super) command: Command,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// The main job: ground, design, soil, walls, sections; writes a report folder
    ///
    /// With no JOB, the built-in example yard.
    Report {
        /// Job folder with a job.toml
        job: Option<String>,
        /// Folder to write: a new one, or an earlier report; other files in it stay
        #[arg(long, value_name = "DIR", default_value = "report")]
        out: String,
        #[command(flatten)]
        output: Output,
    },
    /// Write a starter job to change: the example yard
    New {
        /// Folder to make
        dir: String,
    },
    /// Read a job and say everything that is wrong with it; compute nothing
    Check {
        /// Job folder with a job.toml
        job: String,
        #[command(flatten)]
        output: Output,
    },
    /// What the findings advise, where it is one value of the job file, and the soil it costs
    Cures {
        /// Job folder with a job.toml
        job: String,
        /// Number of a cure to take; may be given several times
        #[arg(long, value_name = "N")]
        take: Vec<usize>,
        /// Put what was taken into the job file; its comments stay
        #[arg(long, requires = "take")]
        write: bool,
        #[command(flatten)]
        output: Output,
    },
    /// Reduce a level book: elevations, closure, adjustment
    Levels {
        /// Level book: one row a sight, or columns BS, IS, FS
        book: String,
        #[command(flatten)]
        reading: Reading,
        /// How the misclosure is shared out
        #[arg(long, value_enum, default_value_t = AdjustWord::None)]
        adjust: AdjustWord,
        /// How far the book may miss: "0.02 ft per root setup" (if not given), "12 mm per root km",
        /// "0.050 ft per root mile", "0.03 ft"; a bare number is per root set-up
        #[arg(long, value_name = "WORDS", allow_hyphen_values = true)]
        allow: Option<String>,
        #[command(flatten)]
        output: Output,
    },
    /// Build a surface and state its facts
    Ground {
        /// What to build it from
        source: String,
        /// Also state the volumes above and below this level, each by itself
        #[arg(long, value_name = "Z", allow_negative_numbers = true, value_parser = level)]
        above: Option<f64>,
        /// Write the surface to a file for other programs, the format by its ending: .xml or
        /// .landxml, .glb or .gltf, .geojson, .csv (two files: vertices and facets)
        #[arg(long, value_name = "FILE")]
        export: Option<String>,
        /// Also write a picture (SVG) of what the ground filter took away
        #[arg(long, value_name = "FILE")]
        taken_away: Option<String>,
        #[command(flatten)]
        reading: Reading,
        #[command(flatten)]
        output: Output,
    },
    /// Cut and fill between two surfaces; cut where TO is below FROM
    Volume {
        /// The surface there is
        from: String,
        /// The surface there shall be
        to: String,
        /// Write both surfaces to a file for other programs, the format by its ending: .xml or
        /// .landxml, .glb or .gltf, .geojson, .csv (two files each)
        #[arg(long, value_name = "FILE")]
        export: Option<String>,
        #[command(flatten)]
        reading: Reading,
        #[command(flatten)]
        output: Output,
    },
    /// Lines of one level over a surface
    Contours {
        /// Surface to draw them on
        source: String,
        /// Height between two lines, in the unit of heights
        ///
        /// If not given: 0.5 ft, 1 ft where the fall is more than 8 ft, 0.25 ft where it is less
        /// than 2 ft; 0.1 m, 0.25 m where the fall is more than 2.5 m.
        #[arg(long, value_name = "H", value_parser = length)]
        interval: Option<f64>,
        /// These levels only, such as a water line
        #[arg(
            long,
            value_name = "Z,Z",
            conflicts_with = "interval",
            value_delimiter = ',',
            allow_hyphen_values = true,
            value_parser = level
        )]
        levels: Vec<f64>,
        /// Write the lines to a .geojson file for other programs, in local metres
        #[arg(long, value_name = "FILE")]
        export: Option<String>,
        #[command(flatten)]
        reading: Reading,
        #[command(flatten)]
        output: Output,
    },
    /// Walls that a job needs: where a side has no room, how long, how high
    Walls {
        /// Job folder with a job.toml
        job: String,
        /// Only this wall, as a [[feature]] entry to copy into job.toml
        #[arg(long, value_name = "N")]
        entry: Option<usize>,
        #[command(flatten)]
        output: Output,
    },
    /// Heights along a line, at every break
    Section {
        /// Surfaces to cut
        #[arg(required = true)]
        source: Vec<String>,
        /// Points of the line as x,y, two or more
        #[arg(
            long,
            value_name = "X,Y X,Y",
            required = true,
            allow_hyphen_values = true
        )]
        line: String,
        /// Write the lines to a .geojson file for other programs, in local metres
        #[arg(long, value_name = "FILE")]
        export: Option<String>,
        #[command(flatten)]
        reading: Reading,
        #[command(flatten)]
        output: Output,
    },
}

/// How files and typed numbers are read.
#[derive(Clone, Debug, Default, Args)]
pub(super) struct Reading {
    /// Unit of plan coordinates and typed numbers: m, ft (0.3048 m) or us-ft (1200/3937 m)
    ///
    /// If not given: that of the job where a source is one; feet for a level book with a foot rod;
    /// else metres.
    #[arg(long, value_enum)]
    pub(super) units: Option<UnitWord>,
    /// Unit of heights, if another
    #[arg(long, value_enum)]
    pub(super) z_units: Option<UnitWord>,
    /// Column names in order, for a file without a head
    #[arg(long, value_name = "name,x,y,z,code", value_delimiter = ',')]
    pub(super) columns: Vec<String>,
    /// Length of one pace, where a level book has distances in paces
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub(super) pace: Option<f64>,
    /// Mark between whole numbers and decimals in files
    #[arg(long, value_enum, default_value_t)]
    pub(super) decimal: DecimalWord,
    /// Lines the surface must follow: a points file whose codes name the lines, or code:NAME
    #[arg(long, value_name = "FILE")]
    pub(super) breaklines: Option<String>,
    /// Limit of the data: a points file in walking order, or code:NAME
    #[arg(long, value_name = "FILE")]
    pub(super) outline: Option<String>,
    /// Take triangles with a longer edge off the rim
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub(super) max_edge: Option<f64>,
    /// What to do with one place shot twice at different heights
    #[arg(long, value_enum, default_value_t)]
    pub(super) duplicates: DuplicatesWord,
    /// The rod: tenths, inch-eighths, metric, millimetres or direct; "tenths upside-down" if it
    /// stood on its head
    ///
    /// The column `rod kind` of a book may name another for a set-up.
    #[arg(long, value_name = "KIND", value_parser = rod)]
    pub(super) rod: Option<Rod>,
    /// Benchmark of a level book or of a grid of rods
    #[arg(long, value_name = "NAME=LEVEL")]
    pub(super) benchmark: Option<String>,
    /// Reading on the benchmark, for a grid of rods
    #[arg(long, value_name = "ROD")]
    pub(super) backsight: Option<String>,
    /// A corner that tapes begin at, with its level behind if tapes lie along the ground
    ///
    /// May be given several times. With none, the first corner is at 0,0 and the second due east.
    #[arg(long, value_name = "NAME=X,Y")]
    pub(super) corner: Vec<String>,
    /// Distance between two corners, where corners are known by their distances
    ///
    /// May be given several times; more than needed is checked.
    #[arg(long, value_name = "A-B=LENGTH")]
    pub(super) distance: Vec<String>,
    /// How far one tape may be off (1 sigma); if not given, 0.1 ft
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub(super) tape_error: Option<f64>,
    /// How tapes were held: level, or along the ground (then reduced with the levels of both ends)
    #[arg(long, value_enum)]
    pub(super) tapes: Option<TapesWord>,
    /// Side of the shots that do not say their own, looking from the first corner to the second
    #[arg(long, value_enum)]
    pub(super) side: Option<SideWord>,
    /// Corners of the baseline; station 0 is at the first
    #[arg(long, value_name = "A,B")]
    pub(super) baseline: Option<String>,
    /// Classes of a point cloud to take; if not given, 2 (ground)
    #[arg(long, value_name = "2,9", value_delimiter = ',')]
    pub(super) classes: Vec<u8>,
    /// Part of a point cloud to take: west, south, east and north end
    #[arg(
        long,
        value_name = "W,S,E,N",
        value_delimiter = ',',
        allow_hyphen_values = true
    )]
    pub(super) bounds: Vec<String>,
    /// How a point cloud is thinned: a point stays when the surface would be off by more than this
    /// without it; "never"
    ///
    /// If not given, clouds of up to a million ground points are not thinned.
    #[arg(long, value_name = "LENGTH", value_parser = thin)]
    pub(super) thin: Option<ThinWord>,
    /// Which height counts where a point cloud has several points at one place
    #[arg(long, value_enum)]
    pub(super) same_place: Option<SamePlaceWord>,
    /// Tell ground from what stands on it by shape; if not given, where nothing is classified
    #[arg(long, value_enum)]
    pub(super) ground_filter: Option<FilterWord>,
    /// Take points too that are flagged as withheld
    #[arg(long)]
    pub(super) keep_withheld: bool,
    /// Take points too that are flagged as overlap of two flight lines
    #[arg(long)]
    pub(super) keep_overlap: bool,
    /// How exact heights of a point cloud, elevation grid or surface are meant to be (1 sigma)
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub(super) height_error: Option<f64>,
    /// True if `units` are those of a job, and were not typed.
    #[arg(skip)]
    pub(super) units_of_job: bool,
    /// Distance between the lines of a grid whose heads are names: columns, or columns,rows
    #[arg(long, value_name = "LENGTH", value_delimiter = ',', value_parser = length)]
    pub(super) spacing: Vec<f64>,
}

/// How the answer is written.
#[derive(Clone, Copy, Debug, Args)]
pub(super) struct Output {
    /// text for people in the job's unit; json and csv in SI with the unit in every key
    #[arg(long, value_enum, default_value_t)]
    pub(super) format: Format,
    /// Say nothing but the answer
    #[arg(long)]
    pub(super) quiet: bool,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    #[default]
    Text,
    Json,
    Csv,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum UnitWord {
    M,
    Ft,
    UsFt,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum DecimalWord {
    #[default]
    Point,
    Comma,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum DuplicatesWord {
    #[default]
    Refuse,
    First,
    Mean,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum TapesWord {
    Level,
    Ground,
}

/// A tolerance as typed, or never.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum ThinWord {
    Never,
    Within(f64),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum SamePlaceWord {
    Lowest,
    Highest,
    Mean,
    First,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum FilterWord {
    Always,
    Never,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum SideWord {
    Left,
    Right,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum AdjustWord {
    None,
    Setups,
    Distance,
}

/// A rod in the words of a job.
fn rod(text: &str) -> Result<Rod, String> {
    Rod::from_words(text).ok_or_else(|| format!("write {}", Rod::WORDS))
}

/// A level as typed: no `nan`, no `inf`, nothing beyond any place on Earth in any unit.
fn level(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(number) if number.abs() <= MAX_COORDINATE_M => Ok(number),
        Ok(_) => Err("this is far beyond any place on Earth".to_owned()),
        Err(_) => Err("this is not a number; write for example 94.80".to_owned()),
    }
}

/// How a cloud is thinned, as typed.
fn thin(text: &str) -> Result<ThinWord, String> {
    match text {
        "never" => Ok(ThinWord::Never),
        _ => length(text).map(ThinWord::Within),
    }
}

/// A length as typed: more than nothing.
fn length(text: &str) -> Result<f64, String> {
    let number = level(text)?;
    if number > 0.0 {
        Ok(number)
    } else {
        Err("a length is more than 0".to_owned())
    }
}
