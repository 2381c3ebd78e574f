//! From a typed SOURCE to a surface.

use std::cell::RefCell;
use std::path::Path;

use crate::design::lay;
use crate::diag::{At, Diagnostic, Failure};
use crate::files::Files;
use crate::geom::{P3, Point};
use crate::job::{
    Adjust, Allowance, Benchmark, ControlSpec, CornerSpec, Decimal, Duplicates, GridSpec,
    GroundSpec, Limits, Place, PlaceList, PlaceListWord, RodKind, Side, SurveyKind, SurveySpec,
    Tapes,
};
use crate::show::Show;
use crate::surface::Surface;
use crate::survey::{Origin, Survey};
use crate::terrain::{GROUND, LeaveOut, NotTrusted, Terrain, Trust, build, doubts};
use crate::units::{LengthUnit, MAX_COORDINATE_M, NM_PER_M};

use super::args::{DecimalWord, DuplicatesWord, Reading, SideWord, TapesWord, UnitWord};
use super::disk::{Disk, Example};

impl UnitWord {
    fn unit(self) -> LengthUnit {
        match self {
            UnitWord::M => LengthUnit::Metre,
            UnitWord::Ft => LengthUnit::Foot,
            UnitWord::UsFt => LengthUnit::UsSurveyFoot,
        }
    }
}

impl Reading {
    /// Unit of typed numbers and plan coordinates.
    pub(super) fn unit(&self) -> LengthUnit {
        self.units.map_or(LengthUnit::Metre, UnitWord::unit)
    }

    /// Unit of heights.
    pub(super) fn z_unit(&self) -> LengthUnit {
        self.z_units.map_or(self.unit(), UnitWord::unit)
    }

    /// For a level book: a foot rod means feet, unless another unit is named.
    pub(super) fn for_book(&self) -> Reading {
        let foot_rod = self.rod.is_some_and(|rod| rod.kind.is_foot());
        let mut reading = self.clone();
        if self.units.is_none() && foot_rod {
            reading.units = Some(UnitWord::Ft);
        }
        if self.rod.is_none() {
            let heights = reading.z_unit();
            let kind = if heights.is_foot() {
                RodKind::Tenths
            } else {
                RodKind::Metric
            };
            reading.rod = Some(kind.into());
        }
        reading
    }

    /// How a file is to be read as a survey.
    pub(super) fn spec(&self, file: &str, kind: SurveyKind) -> Result<SurveySpec, Failure> {
        let reading = match &kind {
            SurveyKind::Levels | SurveyKind::Grid(_) => self.for_book(),
            SurveyKind::Points | SurveyKind::Ties => self.clone(),
        };
        let z_units = reading.z_unit();
        Ok(SurveySpec {
            kind,
            file: file.to_owned(),
            at: At::cell("command line", 0, "", file),
            units: reading.unit(),
            z_units,
            columns: (!reading.columns.is_empty()).then(|| reading.columns.clone()),
            pace_m: reading.pace.map(|pace| reading.unit().to_m(pace)),
            decimal: match reading.decimal {
                DecimalWord::Point => Decimal::Point,
                DecimalWord::Comma => Decimal::Comma,
            },
            benchmark: self
                .benchmark
                .as_deref()
                .map(|b| benchmark(b, z_units))
                .transpose()?,
            rod: reading.rod.unwrap_or_default(),
            adjust: Adjust::None,
            allow: Allowance::default(),
        })
    }

    /// How a grid of rods was read.
    fn grid(&self) -> GridSpec {
        let typed = |text: &String| {
            let at = At::cell("command line", 0, "--backsight", text);
            (text.clone(), at)
        };
        GridSpec {
            backsight: self.backsight.as_ref().map(typed),
            side: self.side().unwrap_or_default(),
            ..GridSpec::default()
        }
    }

    fn side(&self) -> Option<Side> {
        self.side.map(|side| match side {
            SideWord::Left => Side::Left,
            SideWord::Right => Side::Right,
        })
    }

    /// The corners that were typed, and how tapes lead to places; lengths in `unit`.
    fn control(&self, unit: LengthUnit) -> Result<ControlSpec, Failure> {
        let mut control = ControlSpec {
            side: self.side(),
            tapes: match self.tapes {
                Some(TapesWord::Ground) => Tapes::Ground,
                Some(TapesWord::Level) | None => Tapes::Level,
            },
            ..ControlSpec::default()
        };
        for text in &self.corner {
            let corner = corner(text, unit, self.z_unit_of(unit))?;
            if let Some(other) = control.corners.iter().find(|c| c.name == corner.name) {
                let message = format!("the corner {} is given twice", other.name);
                return Err(Diagnostic::error("corner-twice", message)
                    .at(other.at.clone())
                    .at(corner.at)
                    .help("keep the one that is right")
                    .into());
            }
            control.corners.push(corner);
        }
        if let Some(text) = &self.baseline {
            let at = At::cell("command line", 0, "--baseline", text);
            let ends = text.split_once(',').map(|(a, b)| (a.trim(), b.trim()));
            let Some((from, to)) = ends.filter(|(a, b)| !a.is_empty() && !b.is_empty() && a != b)
            else {
                return Err(Diagnostic::error(
                    "bad-baseline",
                    "a baseline runs from one corner to another",
                )
                .at(at)
                .help("write for example --baseline A,B: station 0 is at A")
                .into());
            };
            control.baseline = Some((from.to_owned(), to.to_owned(), at));
        }
        control.spacing_m = match self.spacing[..] {
            [] => None,
            [one] => Some((unit.to_m(one), unit.to_m(one))),
            [columns, rows] => Some((unit.to_m(columns), unit.to_m(rows))),
            _ => {
                return Err(Diagnostic::error(
                    "bad-spacing",
                    "the spacing of a grid is one or two lengths",
                )
                .at(At::cell("command line", 0, "--spacing", ""))
                .help("write for example --spacing 10, or --spacing 10,8")
                .into());
            }
        };
        Ok(control)
    }

    /// Unit of heights where plan lengths are in `unit`.
    fn z_unit_of(&self, unit: LengthUnit) -> LengthUnit {
        self.z_units.map_or(unit, UnitWord::unit)
    }
}

/// Reads `NAME=X,Y` or `NAME=X,Y,LEVEL`.
fn corner(text: &str, unit: LengthUnit, z_unit: LengthUnit) -> Result<CornerSpec, Failure> {
    let at = At::cell("command line", 0, "--corner", text);
    let parsed = text.split_once('=').and_then(|(name, rest)| {
        let parts: Vec<&str> = rest.split(',').collect();
        let (x, y, level) = match parts[..] {
            [x, y] => (x, y, None),
            [x, y, level] => (x, y, Some(z_unit.parse_nm(level)?)),
            _ => return None,
        };
        Some(CornerSpec {
            name: Some(name.trim())
                .filter(|name| !name.is_empty())?
                .to_owned(),
            place_nm: (unit.parse_nm(x)?, unit.parse_nm(y)?),
            level_m: level.map(|nm| nm as f64 / NM_PER_M),
            at: at.clone(),
        })
    });
    parsed.ok_or_else(|| {
        Diagnostic::error("bad-corner", "a corner is NAME=X,Y or NAME=X,Y,LEVEL")
            .at(at)
            .help("write for example --corner A=0,0 --corner B=28.4,0")
            .into()
    })
}

fn benchmark(text: &str, unit: LengthUnit) -> Result<Benchmark, Failure> {
    let parsed = text.split_once('=').and_then(|(name, level)| {
        let level: f64 = level.trim().parse().ok()?;
        (level.abs() <= MAX_COORDINATE_M && !name.trim().is_empty()).then(|| (name.trim(), level))
    });
    match parsed {
        Some((name, level)) => Ok(Benchmark {
            name: name.to_owned(),
            level_m: unit.to_m(level),
            words: String::new(),
        }),
        None => Err(
            Diagnostic::error("bad-benchmark", "a benchmark is NAME=LEVEL")
                .at(At::cell("command line", 0, "--benchmark", text))
                .help("write for example --benchmark BM1=100.00")
                .into(),
        ),
    }
}

/// A surface with where it lies and what was doubtful about it.
pub(super) struct Loaded {
    pub(super) name: String,
    pub(super) surface: Kind,
    /// The shots it rests on, if it rests on shots.
    pub(super) survey: Option<Survey>,
    pub(super) diagnostics: Vec<Diagnostic>,
    /// For measured ground.
    pub(super) trust: Option<Result<Trust, NotTrusted>>,
}

/// What ground says of its own shots, and how far it is to be trusted.
fn judged(
    survey: &Survey,
    spec: &GroundSpec,
    terrain: &Terrain,
    show: Show,
    soil_m: f64,
) -> (Vec<Diagnostic>, Result<Trust, NotTrusted>) {
    let left_out = LeaveOut::of(terrain);
    (
        doubts(survey, spec, terrain, &left_out, show, soil_m),
        Trust::of(terrain, survey, &left_out, soil_m),
    )
}

impl Loaded {
    /// A level, metres, as wide as the surfaces it is aligned with.
    pub(super) fn level(name: &str, z0_m: f64) -> Loaded {
        Loaded {
            name: name.to_owned(),
            surface: Kind::Plane {
                z0_m,
                east: 0.0,
                north: 0.0,
            },
            survey: None,
            diagnostics: Vec::new(),
            trust: None,
        }
    }
}

/// A surface, or a plane that takes its extent from another surface.
pub(super) enum Kind {
    Surface {
        surface: Box<Surface>,
        origin: Origin,
    },
    Plane {
        z0_m: f64,
        east: f64,
        north: f64,
    },
}

/// The job folder and the surface of it that a SOURCE names, if it does.
fn job_of(source: &str) -> Option<(&str, &str)> {
    let (job, which) = source.rsplit_once(':')?;
    ["ground", "design", "dug", "built"]
        .contains(&which)
        .then_some((job, which))
}

/// The reading for these sources: typed numbers and answers are in the unit of the first job
/// among them, unless the command line names one.
///
/// # Errors
///
/// options that say how a file is read, where there is no file; a job that cannot be read
pub(super) fn for_sources(reading: &Reading, sources: &[&str]) -> Result<Reading, Failure> {
    let is_file =
        |s: &&str| job_of(s).is_none() && !s.starts_with("level:") && !s.starts_with("plane:");
    let unused = [
        ("--columns", !reading.columns.is_empty()),
        ("--decimal", reading.decimal == DecimalWord::Comma),
        ("--pace", reading.pace.is_some()),
        ("--breaklines", reading.breaklines.is_some()),
        ("--outline", reading.outline.is_some()),
        ("--max-edge", reading.max_edge.is_some()),
        ("--rod", reading.rod.is_some()),
        ("--benchmark", reading.benchmark.is_some()),
        ("--backsight", reading.backsight.is_some()),
        ("--corner", !reading.corner.is_empty()),
        ("--tapes", reading.tapes.is_some()),
        ("--side", reading.side.is_some()),
        ("--baseline", reading.baseline.is_some()),
        ("--spacing", !reading.spacing.is_empty()),
    ];
    if let Some((option, _)) = unused.iter().find(|(_, is_given)| *is_given)
        && !sources.iter().any(is_file)
    {
        return Err(Diagnostic::error(
            "no-file-to-read",
            format!("{option} says how a file is read, but no source is a file"),
        )
        .help("a job says in its job.toml how its files are read")
        .into());
    }
    let mut reading = reading.clone();
    if let (None, Some((job, _))) = (reading.units, sources.iter().find_map(|s| job_of(s))) {
        let disk = Disk::new(job);
        let files: &dyn Files = if job.is_empty() { &Example } else { &disk };
        let (job, _) = crate::run::read_job(files)?;
        reading.units = Some(match job.units {
            LengthUnit::Metre => UnitWord::M,
            LengthUnit::Foot => UnitWord::Ft,
            LengthUnit::UsSurveyFoot => UnitWord::UsFt,
        });
    }
    Ok(reading)
}

/// Reads a SOURCE.
///
/// # Errors
///
/// in words: what cannot be read, and what to type instead
pub(super) fn load(source: &str, reading: &Reading) -> Result<Loaded, Failure> {
    let typed = || At::cell("command line", 0, "SOURCE", source);
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|n| n.is_finite());
    if let Some(rest) = source.strip_prefix("level:") {
        let z = number(rest).ok_or_else(|| {
            Failure::from(
                Diagnostic::error("bad-level", "a level is level:Z")
                    .at(typed())
                    .help("write for example level:100"),
            )
        })?;
        return Ok(Loaded::level(source, reading.z_unit().to_m(z)));
    }
    if let Some(rest) = source.strip_prefix("plane:") {
        let parts: Vec<Option<f64>> = rest.split(',').map(number).collect();
        let &[Some(z0), Some(east), Some(north)] = parts.as_slice() else {
            return Err(Diagnostic::error("bad-plane", "a plane is plane:Z0,DX,DY")
                .at(typed())
                .help("Z0 is its height at 0,0; DX and DY its rise per unit east and north: plane:101,-0.02,0")
                .into());
        };
        // Rise per unit: of height units for one plan unit.
        let ratio = reading.z_unit().metres() / reading.unit().metres();
        return Ok(Loaded {
            name: source.to_owned(),
            surface: Kind::Plane {
                z0_m: reading.z_unit().to_m(z0),
                east: east * ratio,
                north: north * ratio,
            },
            survey: None,
            diagnostics: Vec::new(),
            trust: None,
        });
    }
    if let Some((job, which)) = job_of(source) {
        return load_job(source, job, which);
    }
    load_file(source, reading)
}

/// A surface of a job folder; an empty JOB is the built-in example.
fn load_job(source: &str, job: &str, which: &str) -> Result<Loaded, Failure> {
    let disk = Disk::new(job);
    let files: &dyn Files = if job.is_empty() { &Example } else { &disk };
    let (job, mut diagnostics) = crate::run::read_job(files)?;
    let (survey, more) = Survey::of(&job, files)?;
    diagnostics.extend(more);
    let (terrain, more) = build(&survey, &job.ground)?;
    diagnostics.extend(more);
    let mut trust = None;
    let surface = if which == "ground" {
        let (show, soil_m) = (Show::new(job.units), job.limits.shot_height_m);
        let (more, map) = judged(&survey, &job.ground, &terrain, show, soil_m);
        diagnostics.extend(more);
        trust = Some(map);
        terrain.surface
    } else {
        let (design, more) = lay(&job, &survey, &terrain)?;
        diagnostics.extend(more);
        match which {
            "built" => design.to_build().clone(),
            _ => design.surface,
        }
    };
    Ok(Loaded {
        name: source.to_owned(),
        surface: Kind::Surface {
            surface: Box::new(surface),
            origin: terrain.origin,
        },
        survey: Some(survey),
        diagnostics,
        trust,
    })
}

fn load_file(source: &str, reading: &Reading) -> Result<Loaded, Failure> {
    let files = Disk::new("");
    if Path::new(source).is_dir() {
        return Err(Diagnostic::error("folder", "this is a folder")
            .at(At::file(source))
            .help(format!(
                "for a job folder write {source}:ground, {source}:design or {source}:built"
            ))
            .into());
    }
    let ending = Path::new(source)
        .extension()
        .map(|e| e.to_string_lossy().to_lowercase())
        .unwrap_or_default();
    if ["las", "laz", "xml", "tif", "tiff", "asc", "gz", "zip"].contains(&ending.as_str()) {
        return Err(Diagnostic::error(
            "not-yet",
            format!(".{ending} files are not read by this version"),
        )
        .at(At::file(source))
        .help("give points as CSV: name, x, y, z, code")
        .into());
    }
    let held = Held::read(&files, source)?;
    let kind = held.kind(reading);
    let mut specs = vec![reading.spec(source, kind)?];
    let named_code = |option: &Option<String>| {
        option
            .as_deref()
            .and_then(|o| o.strip_prefix("code:"))
            .map(str::to_owned)
    };
    let file_of = |option: &Option<String>| {
        option
            .as_deref()
            .filter(|o| !o.starts_with("code:"))
            .map(str::to_owned)
    };
    for file in [file_of(&reading.breaklines), file_of(&reading.outline)]
        .into_iter()
        .flatten()
    {
        let plain = Reading {
            columns: Vec::new(),
            ..reading.clone()
        };
        specs.push(plain.spec(&file, SurveyKind::Points)?);
    }
    let (survey, mut diagnostics) =
        Survey::read_with(&specs, &reading.control(specs[0].units)?, &[], &held)?;
    let by_code = |code: String, option: &str| PlaceList {
        at: At::cell("command line", 0, option, format!("code:{code}")),
        word: PlaceListWord::Code(code),
    };
    let spec = GroundSpec {
        outline: match (named_code(&reading.outline), file_of(&reading.outline)) {
            (Some(code), _) => Some(by_code(code, "--outline")),
            (None, Some(file)) => lines_of(&survey, &file, "--outline", true).pop(),
            (None, None) => None,
        },
        holes: Vec::new(),
        breaklines: match (
            named_code(&reading.breaklines),
            file_of(&reading.breaklines),
        ) {
            (Some(code), _) => vec![by_code(code, "--breaklines")],
            (None, Some(file)) => lines_of(&survey, &file, "--breaklines", false),
            (None, None) => Vec::new(),
        },
        max_edge_m: reading.max_edge.map(|l| reading.unit().to_m(l)),
        duplicates: match reading.duplicates {
            DuplicatesWord::Refuse => Duplicates::Refuse,
            DuplicatesWord::First => Duplicates::First,
            DuplicatesWord::Mean => Duplicates::Mean,
        },
        ..GroundSpec::default()
    };
    let (terrain, more) = build(&survey, &spec)?;
    diagnostics.extend(more);
    let (show, soil_m) = (Show::new(reading.z_unit()), Limits::default().shot_height_m);
    let (more, trust) = judged(&survey, &spec, &terrain, show, soil_m);
    diagnostics.extend(more);
    Ok(Loaded {
        name: source.to_owned(),
        surface: Kind::Surface {
            surface: Box::new(terrain.surface),
            origin: terrain.origin,
        },
        survey: Some(survey),
        diagnostics,
        trust: Some(trust),
    })
}

/// Lines of a points file: one for every run of rows with the same code, or all as one.
fn lines_of(survey: &Survey, file: &str, option: &str, is_one: bool) -> Vec<PlaceList> {
    let shots: Vec<_> = survey.shots.iter().filter(|s| s.at.file == file).collect();
    let (x, y) = (
        survey.origin.x_m * 1_000_000_000,
        survey.origin.y_m * 1_000_000_000,
    );
    shots
        .chunk_by(|a, b| is_one || a.code == b.code)
        .map(|run| PlaceList {
            at: At::cell(file, run[0].at.line, option, run[0].code.clone()),
            word: PlaceListWord::Places(
                run.iter()
                    .map(|s| Place::Coordinates(s.p.x + x, s.p.y + y))
                    .collect(),
            ),
        })
        .collect()
}

/// Files of which one is already read, so that a pipe is read only once. It is handed on once:
/// a large file is not held twice.
struct Held<'a> {
    files: &'a dyn Files,
    name: String,
    bytes: RefCell<Option<Vec<u8>>>,
}

impl<'a> Held<'a> {
    fn read(files: &'a dyn Files, name: &str) -> Result<Held<'a>, Failure> {
        let bytes = files.read(name).map_err(|words| {
            Failure::from(
                Diagnostic::error("no-file", words)
                    .at(At::file(name))
                    .help("check the name, or write level:Z, plane:Z0,DX,DY or JOB:ground"),
            )
        })?;
        Ok(Held {
            files,
            name: name.to_owned(),
            bytes: RefCell::new(Some(bytes)),
        })
    }

    /// How the file is read, from its head: a level book if it names rod readings, a grid of rods
    /// if it begins with `row` and names no column.
    fn kind(&self, reading: &Reading) -> SurveyKind {
        let bytes = self.bytes.borrow();
        let bytes = bytes.as_deref().unwrap_or_default();
        let text = String::from_utf8_lossy(&bytes[..bytes.len().min(4096)]);
        let head = text
            .trim_start_matches('\u{feff}')
            .lines()
            .map(str::trim)
            .find(|line| !line.is_empty() && !line.starts_with('#'))
            .unwrap_or_default()
            .to_lowercase();
        let cells: Vec<&str> = head
            .split([',', ';', '\t', ' '])
            .map(|c| c.trim().trim_matches('"'))
            .collect();
        let has = |name: &str| cells.contains(&name);
        if (has("rod") && has("type")) || (has("bs") && (has("fs") || has("is"))) {
            SurveyKind::Levels
        } else if cells.first() == Some(&"row") && !has("column") && !has("col") {
            SurveyKind::Grid(Box::new(reading.grid()))
        } else {
            SurveyKind::Points
        }
    }
}

impl Files for Held<'_> {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        let held = if name == self.name {
            self.bytes.borrow_mut().take()
        } else {
            None
        };
        held.map_or_else(|| self.files.read(name), Ok)
    }

    fn today(&self) -> String {
        self.files.today()
    }
}

/// Surfaces in one common local frame; planes are given the extent of the others.
///
/// # Errors
///
/// only planes, so that there is no extent; surfaces that lie worlds apart
pub(super) fn align(loaded: Vec<Loaded>) -> Result<(Vec<(String, Surface)>, Origin), Failure> {
    let origin = loaded.iter().find_map(|l| match &l.surface {
        Kind::Surface { origin, .. } => Some(*origin),
        Kind::Plane { .. } => None,
    });
    let Some(origin) = origin else {
        return Err(
            Diagnostic::error("no-extent", "a level or a plane has no end by itself")
                .help("give at least one surface with shots")
                .into(),
        );
    };
    let mut low: Option<Point> = None;
    let mut high: Option<Point> = None;
    let mut found: Vec<(String, Kind)> = Vec::new();
    for Loaded { name, surface, .. } in loaded {
        let kind = match surface {
            Kind::Surface {
                surface,
                origin: own,
            } => {
                let nm = 1_000_000_000i64;
                let by = (own.x_m - origin.x_m)
                    .checked_mul(nm)
                    .zip((own.y_m - origin.y_m).checked_mul(nm));
                let Some((x, y)) = by else {
                    return Err(Diagnostic::error("apart", "the surfaces lie too far apart").into());
                };
                let surface = if x == 0 && y == 0 {
                    surface
                } else {
                    Box::new(surface.moved(Point::new(x, y)))
                };
                for v in surface.vertices() {
                    low = Some(low.map_or(v.p, |l| Point::new(l.x.min(v.p.x), l.y.min(v.p.y))));
                    high = Some(high.map_or(v.p, |h| Point::new(h.x.max(v.p.x), h.y.max(v.p.y))));
                }
                Kind::Surface { surface, origin }
            }
            plane @ Kind::Plane { .. } => plane,
        };
        found.push((name, kind));
    }
    let (low, high) = (low.unwrap_or_default(), high.unwrap_or_default());
    let surfaces = found
        .into_iter()
        .map(|(name, kind)| match kind {
            Kind::Surface { surface, .. } => Ok((name, *surface)),
            Kind::Plane { z0_m, east, north } => {
                let margin = 1_000_000_000;
                let z = |p: Point| {
                    let x = p.x_m() + origin.x_m as f64;
                    let y = p.y_m() + origin.y_m as f64;
                    z0_m + east * x + north * y
                };
                let corners = [
                    Point::new(low.x - margin, low.y - margin),
                    Point::new(high.x + margin, low.y - margin),
                    Point::new(high.x + margin, high.y + margin),
                    Point::new(low.x - margin, high.y + margin),
                ];
                let vertices: Vec<P3> = corners.iter().map(|&p| P3 { p, z: z(p) }).collect();
                if vertices
                    .iter()
                    .any(|v| v.z.is_nan() || v.z.abs() > MAX_COORDINATE_M)
                {
                    return Err(Diagnostic::error(
                        "far-plane",
                        "heights of this plane are far beyond any place on Earth",
                    )
                    .at(At::cell("command line", 0, "SOURCE", name))
                    .help("check Z0 and both rises; a rise is for one unit east or north")
                    .into());
                }
                Surface::from_triangles(vertices, &[[0, 1, 2], [0, 2, 3]], GROUND)
                    .map(|surface| (name, surface))
                    .map_err(|e| Failure::from(Diagnostic::error("plane", e.to_string())))
            }
        })
        .collect::<Result<Vec<_>, Failure>>()?;
    Ok((surfaces, origin))
}
