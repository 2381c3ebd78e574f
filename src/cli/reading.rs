//! What typed options say of how a file is read.
//!
//! Takes options as typed, gives the entries that a job would hold for the same file.

use crate::diag::{At, Diagnostic, Failure};
use crate::job::{
    Adjust, Allowance, Benchmark, CloudSpec, ControlSpec, CornerSpec, Decimal, DistanceSpec,
    GridSpec, GroundFilter, ImportKind, ImportSpec, RodKind, SamePlace, Side, SurveyKind,
    SurveySpec, Tapes, Thin, read_distance,
};
use crate::units::{LengthUnit, MAX_COORDINATE_M, NM_PER_M};

use super::args::{
    DecimalWord, FilterWord, Reading, SamePlaceWord, SideWord, TapesWord, ThinWord, UnitWord,
};

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

    /// What is taken for granted of a book or grid whose rod and unit are not named.
    pub(super) fn taken_for_granted(&self, file: &str, kind: &SurveyKind) -> Option<Diagnostic> {
        let has_rod = matches!(kind, SurveyKind::Levels | SurveyKind::Grid(_));
        let is_said = self.rod.is_some() || self.units.is_some() || self.z_units.is_some();
        (has_rod && !is_said).then(|| {
            let message = "heights are taken as metres, and a rod that is not named as metric: \
                           neither --rod nor --units is given";
            Diagnostic::note("metres-assumed", message)
                .at(At::file(file))
                .help("say --rod tenths or --rod inch-eighths for a rod in feet, --rod metric for this")
        })
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
            at: At::file(file),
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

    /// How a file of another program is to be read.
    pub(super) fn import(&self, file: &str, kind: ImportKind) -> Result<ImportSpec, Failure> {
        let named = ImportSpec::named(kind, file, self.unit());
        let typed = |unit: Option<UnitWord>| match self.units_of_job {
            true => None,
            false => unit.map(UnitWord::unit),
        };
        let units = typed(self.units);
        Ok(ImportSpec {
            at: At::file(&named.file),
            units,
            z_units: self.z_units.map(UnitWord::unit).or(units),
            cloud: CloudSpec {
                classes: (!self.classes.is_empty()).then(|| self.classes.clone()),
                bounds_nm: self.bounds_nm()?,
                keep_withheld: self.keep_withheld,
                keep_overlap: self.keep_overlap,
                same_place: match self.same_place {
                    Some(SamePlaceWord::Highest) => SamePlace::Highest,
                    Some(SamePlaceWord::Mean) => SamePlace::Mean,
                    Some(SamePlaceWord::First) => SamePlace::First,
                    Some(SamePlaceWord::Lowest) | None => SamePlace::Lowest,
                },
                thin: match self.thin {
                    Some(ThinWord::Never) => Thin::Never,
                    Some(ThinWord::Within(length)) => Thin::Within(self.z_unit().to_m(length)),
                    None => Thin::IfLarge,
                },
                filter: match self.ground_filter {
                    Some(FilterWord::Always) => GroundFilter::Always,
                    Some(FilterWord::Never) => GroundFilter::Never,
                    None => GroundFilter::IfUnclassified,
                },
                ..CloudSpec::default()
            },
            height_error_m: self.height_error.map(|length| self.z_unit().to_m(length)),
            ..named
        })
    }

    /// West, south, east and north end as typed.
    fn bounds_nm(&self) -> Result<Option<[i64; 4]>, Failure> {
        if self.bounds.is_empty() {
            return Ok(None);
        }
        let unit = self.unit();
        let ends: Option<Vec<i64>> = self.bounds.iter().map(|end| unit.parse_nm(end)).collect();
        match ends.as_deref() {
            Some(&[west, south, east, north]) if west < east && south < north => {
                Ok(Some([west, south, east, north]))
            }
            _ => Err(Diagnostic::error(
                "bad-bounds",
                "bounds are the west, south, east and north end, in this order",
            )
            .at(At::cell(
                "command line",
                0,
                "--bounds",
                self.bounds.join(","),
            ))
            .help("write for example --bounds 500100,4100200,500160,4100240")
            .into()),
        }
    }

    /// Options that only a point cloud understands, and whether they are given.
    pub(super) fn cloud_options(&self) -> [(&'static str, bool); 7] {
        [
            ("--classes", !self.classes.is_empty()),
            ("--bounds", !self.bounds.is_empty()),
            ("--thin", self.thin.is_some()),
            ("--same-place", self.same_place.is_some()),
            ("--ground-filter", self.ground_filter.is_some()),
            ("--keep-withheld", self.keep_withheld),
            ("--keep-overlap", self.keep_overlap),
        ]
    }

    /// How a grid of rods was read.
    pub(super) fn grid(&self) -> GridSpec {
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
    pub(super) fn control(&self, unit: LengthUnit) -> Result<ControlSpec, Failure> {
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
        for text in &self.distance {
            control.distances.push(distance(text, unit)?);
        }
        control.tape_error_m = self.tape_error.map(|length| unit.to_m(length));
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
            place_nm: (unit.parse_length_nm(x)?, unit.parse_length_nm(y)?),
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

/// Reads `A-B=28.40`.
fn distance(text: &str, unit: LengthUnit) -> Result<DistanceSpec, Failure> {
    let at = At::cell("command line", 0, "--distance", text);
    let parted = text
        .rsplit_once('=')
        .map(|(corners, length)| format!("{corners}: {length}"));
    let read = parted.map(|parted| read_distance(&parted, unit));
    match read {
        Some(Ok((from, to, length_m))) => Ok(DistanceSpec {
            from,
            to,
            length_m,
            at,
        }),
        Some(Err((message, help))) => Err((message, help)),
        None => Err((
            "a distance between corners is A-B=LENGTH".to_owned(),
            "write for example --distance A-B=28.40, or \"gate post - shed=28.40\"".to_owned(),
        )),
    }
    .map_err(|(message, help)| {
        Diagnostic::error("bad-distance", message)
            .at(At::cell("command line", 0, "--distance", text))
            .help(help)
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
                .help(
                    "write for example --benchmark BM1=100.00; more known levels go into a column \
                     `known` of the book",
                )
                .into(),
        ),
    }
}
