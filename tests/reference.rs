//! The program against results computed apart from it, and against closed forms of whole jobs.
//!
//! Sets of our own making lie in `fixtures/` and always run. The other sets lie in a folder named
//! by `CUTBANK_REFERENCE_DATA`, with their results in `expected/`; a test without it says by name
//! that it did not run. How the results were made: the Delaunay triangulation certified in exact
//! integer arithmetic and without ties, so that it is the only one; volumes by clipping, by
//! boolean operations on solids and in rational numbers, which agree among themselves to 1e-12.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use std::collections::BTreeSet;
use std::f64::consts::PI;
use std::path::Path;

use common::{Folder, Frame, close, inside, moved_by, near, reference_data, run_job};
use cutbank::diag::At;
use cutbank::files::OneThread;
use cutbank::geom::{Origin, P3, Point};
use cutbank::job::{
    Benchmark, GroundSpec, ImportKind, ImportSpec, PlaceList, PlaceListWord, RodKind, SurveyKind,
    SurveySpec,
};
use cutbank::outcome::Outcome;
use cutbank::surface::{
    Contour, CutFill, Surface, contour_pieces, contours, cut_fill, cut_fill_within,
};
use cutbank::survey::{BookStatus, Sources, Survey};
use cutbank::terrain::{Terrain, build};
use cutbank::units::LengthUnit;
use serde_json::Value;

/// Share by which the program may differ from a result of a unique triangulation.
const SAME: f64 = 1.0e-9;

/// Heights and stations of profiles: the same share of a hundred metres.
const SAME_M: f64 = 1.0e-7;

fn fixture(name: &str) -> Folder {
    let directory = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name);
    Folder {
        directory: Some(directory),
        ..Folder::default()
    }
}

fn json(path: &Path) -> Value {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap()
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

fn numbers<const N: usize>(value: &Value) -> [f64; N] {
    std::array::from_fn(|k| number(&value[k]))
}

/// A set read and built, held against its results.
struct Set {
    name: String,
    expected: Value,
    file: String,
    folder: Folder,
    frame: Frame,
    survey: Survey,
    terrain: Terrain,
    /// Largest share found between a number of the program and the result.
    worst: (f64, String),
    compared: usize,
}

impl Set {
    fn read(
        name: &str,
        folder: Folder,
        expected: Value,
        spec: SurveySpec,
        ground: &GroundSpec,
    ) -> Set {
        let unit = spec.units;
        assert_eq!(expected["unit"], unit.name(), "{name}");
        let (file, specs) = (spec.file.clone(), [spec]);
        let (survey, _) = Survey::read(&specs, &folder).unwrap_or_else(|e| panic!("{name}: {e}"));
        let (terrain, _) = build(&survey, ground).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!(
            survey.shots.len() as f64,
            number(&expected["points"]),
            "{name}"
        );
        Set {
            name: name.to_owned(),
            expected,
            file,
            folder,
            frame: Frame {
                origin: terrain.origin,
                unit,
            },
            survey,
            terrain,
            worst: (0.0, String::new()),
            compared: 0,
        }
    }

    /// A set that comes in as a file of another program, in the frame its results count from.
    fn import(data: &Path, name: &str, kind: ImportKind, file: &str) -> Set {
        let expected = json(&data.join("expected").join(format!("{name}.json")));
        let folder = Folder {
            directory: Some(data.to_owned()),
            ..Folder::default()
        };
        let imports = [ImportSpec::new(kind, file, LengthUnit::Metre)];
        let sources = Sources {
            imports: &imports,
            ..Sources::default()
        };
        let (survey, _) =
            Survey::read_with(&sources, &folder).unwrap_or_else(|e| panic!("{name}: {e}"));
        let ground = GroundSpec::default();
        let (mut terrain, _) = build(&survey, &ground).unwrap_or_else(|e| panic!("{name}: {e}"));
        let import = &survey.imports[0].import;
        let unit = import.facts.plan_unit.unit;
        assert_eq!(import.facts.height_unit.unit, unit, "{name}");
        let words = match unit {
            LengthUnit::UsSurveyFoot => "US survey ft",
            other => other.name(),
        };
        assert_eq!(expected["unit"], words, "{name}");
        let points = import.content.points().len();
        assert_eq!(points as f64, number(&expected["points"]), "{name}");
        let nm = |k: usize| {
            let text = expected["origin_subtracted"][k].to_string();
            unit.parse_nm(&text).unwrap()
        };
        let by = terrain.origin.local(nm(0), nm(1)).unwrap();
        terrain.surface = terrain.surface.moved(Point::new(-by.x, -by.y));
        terrain.origin = Origin::default();
        Set {
            name: name.to_owned(),
            expected,
            file: file.to_owned(),
            folder,
            frame: Frame {
                origin: terrain.origin,
                unit,
            },
            survey,
            terrain,
            worst: (0.0, String::new()),
            compared: 0,
        }
    }

    /// A set of points outside the repository.
    fn outside(data: &Path, name: &str, file: &str, unit: LengthUnit, ground: &GroundSpec) -> Set {
        let folder = Folder {
            directory: Some(data.to_owned()),
            ..Folder::default()
        };
        let expected = json(&data.join("expected").join(format!("{name}.json")));
        Set::read(name, folder, expected, points(file, unit), ground)
    }

    fn close(&mut self, what: &str, got: f64, want: f64) {
        let words = format!("{}, {what}", self.name);
        let off = close(&words, got, want, SAME);
        self.compared += 1;
        if off > self.worst.0 {
            self.worst = (off, what.to_owned());
        }
    }

    fn area(&self, m2: f64) -> f64 {
        m2 / self.frame.unit.area_m2()
    }

    fn volume(&self, m3: f64) -> f64 {
        m3 / self.frame.unit.metres().powi(3)
    }

    fn volumes(&mut self, what: &str, got: &CutFill, want: &Value) {
        self.close(
            &format!("{what} cut"),
            self.volume(got.cut_m3),
            number(&want["cut"]),
        );
        self.close(
            &format!("{what} fill"),
            self.volume(got.fill_m3),
            number(&want["fill"]),
        );
    }

    /// Counts, areas, heights, slopes and the volume above a level.
    fn measures(&mut self) {
        let want = self.expected["measures"].clone();
        let facts = self.terrain.surface.facts().unwrap();
        let unit = self.frame.unit;
        let triangles = &self.expected["triangulation"]["triangles"];
        assert_eq!(facts.triangles as f64, number(triangles), "{}", self.name);
        let above = self
            .terrain
            .surface
            .volume_above_m3(unit.to_m(number(&want["z_ref"])));
        for (what, got, key) in [
            ("plan area", self.area(facts.area_m2), "plan_area"),
            (
                "area along the slope",
                self.area(facts.surface_area_m2),
                "surface_area_3d",
            ),
            ("lowest", unit.from_m(facts.min_z_m), "z_min"),
            ("highest", unit.from_m(facts.max_z_m), "z_max"),
            (
                "volume above a level",
                self.volume(above),
                "volume_above_z_ref",
            ),
            (
                "mean slope",
                facts.mean_slope_rise_per_run,
                "slope_mean_plan_area_weighted",
            ),
            ("steepest", facts.max_slope_rise_per_run, "slope_max"),
        ] {
            self.close(what, got, number(&want[key]));
        }
        self.contours();
    }

    /// Contours: lengths, pieces, and how many lines are closed.
    fn contours(&mut self) {
        let unit = self.frame.unit;
        let Some(wants) = self.expected["contours"].as_array().cloned() else {
            return;
        };
        for want in wants {
            let level_m = unit.to_m(number(&want["level"]));
            let surface = &self.terrain.surface;
            let lines = contours(surface, &[level_m], &|_| true);
            let pieces = contour_pieces(surface, &[level_m]);
            let closed = lines.iter().filter(|l| l.closed).count();
            let counts = [pieces, closed, lines.len() - closed].map(|n| n as f64);
            let keys = ["segments", "closed_lines", "open_lines"];
            let words = format!("{} at {}", self.name, want["level"]);
            assert_eq!(counts, keys.map(|key| number(&want[key])), "{words}");
            let length_m: f64 = lines.iter().map(Contour::length_m).sum();
            let what = format!("contour at {}", want["level"]);
            self.close(&what, unit.from_m(length_m), number(&want["length"]));
            self.compared += 3;
        }
    }

    /// The triangles themselves: without ties there is only one set of them.
    fn triangles(&self, want: &[[u32; 3]]) {
        let turned = |t: &[u32; 3]| {
            let first = (0..3).min_by_key(|&k| t[k]).unwrap();
            [t[first], t[(first + 1) % 3], t[(first + 2) % 3]]
        };
        let surface = &self.terrain.surface;
        let got: BTreeSet<[u32; 3]> = surface
            .facets()
            .map(|f| turned(&surface.vertex_ids(f)))
            .collect();
        let want: BTreeSet<[u32; 3]> = want.iter().map(turned).collect();
        assert_eq!(got, want, "{}", self.name);
    }

    fn triangles_listed(&self, data: &Path) {
        let file = self.expected["triangle_list"].as_str().unwrap();
        let text = std::fs::read_to_string(data.join("expected").join(file)).unwrap();
        let rows = text
            .lines()
            .filter(|l| l.starts_with(|c: char| c.is_ascii_digit()));
        let triangles: Vec<[u32; 3]> = rows
            .map(|row| {
                let corners: Vec<u32> = row.split(',').map(|n| n.parse().unwrap()).collect();
                [corners[0], corners[1], corners[2]]
            })
            .collect();
        self.triangles(&triangles);
    }

    fn plane(&self, case: &Value) -> Surface {
        let plane = ["a", "b", "c"].map(|k| number(&case["plane_z"][k]));
        self.frame.plane(plane, &self.terrain.surface)
    }

    /// Cut and fill to a plane everywhere.
    fn plane_case(&mut self, key: &str) {
        let want = self.expected[key].clone();
        let got = cut_fill(&self.terrain.surface, &self.plane(&want), &OneThread).total;
        self.volumes(key, &got, &want);
    }

    /// Cut and fill to a plane inside a ring.
    fn pad_case(&mut self, key: &str) {
        let want = self.expected[key].clone();
        let corners: Vec<[f64; 2]> = want["pad_ring"]
            .as_array()
            .unwrap()
            .iter()
            .map(numbers)
            .collect();
        let within = inside(&self.frame.ring(&corners));
        let got = cut_fill_within(
            &self.terrain.surface,
            &self.plane(&want),
            &within,
            &OneThread,
        )
        .total;
        self.volumes(key, &got, &want);
        self.close(
            &format!("{key} area"),
            self.area(got.common_area_m2),
            number(&want["area"]),
        );
    }

    /// A job with one feature over the same file.
    fn job(&self, feature: &str) -> Outcome {
        let job = format!(
            "[job]\nname = \"{}\"\nunits = \"{}\"\n[[survey]]\npoints = \"{}\"\n[[feature]]\n{feature}",
            self.name,
            self.frame.unit.name(),
            self.file
        );
        let folder = Folder {
            directory: self.folder.directory.clone(),
            ..Folder::default()
        };
        run_job(folder, &job)
    }

    fn pit_case(&mut self) {
        let want = self.expected["pit"].clone();
        let outcome = self.job(&format!(
            "kind = \"basin\"\nname = \"Pit\"\noutline = {}\nfloor = \"level:{}\"\nside_run_per_rise = {}\n",
            outline(&want["bottom_rect"]),
            want["bottom_z"],
            want["side_slope_run_per_rise"]
        ));
        let volumes = &outcome.finished;
        self.close("pit cut", self.volume(volumes.cut_m3), number(&want["cut"]));
        let area = self.area(volumes.features[0].cut_area_m2);
        self.close("pit area", area, number(&want["plan_area_at_daylight"]));
        near("pit fill", volumes.fill_m3, 0.0, 1e-9 * volumes.cut_m3);
    }

    fn mound_case(&mut self) {
        let want = self.expected["mound"].clone();
        let outcome = self.job(&format!(
            "kind = \"berm\"\nname = \"Mound\"\noutline = {}\ncrest = \"level:{}\"\nside_run_per_rise = {}\n",
            outline(&want["crest_rect"]),
            want["crest_z"],
            want["side_slope_run_per_rise"]
        ));
        let volumes = &outcome.finished;
        self.close(
            "mound fill",
            self.volume(volumes.fill_m3),
            number(&want["fill"]),
        );
        let area = self.area(volumes.features[0].fill_area_m2);
        self.close("mound area", area, number(&want["plan_area_at_toe"]));
        near("mound cut", volumes.cut_m3, 0.0, 1e-9 * volumes.fill_m3);
    }

    /// Every break of every profile.
    fn profiles(&mut self) {
        let unit = self.frame.unit;
        for want in self.expected["profiles"].as_array().unwrap().clone() {
            let line = ["start", "end"].map(|k| {
                let [x, y] = numbers(&want[k]);
                self.frame.point(x, y)
            });
            let profile = self.terrain.surface.profile(&line);
            assert_eq!(profile.runs.len(), 1, "{}", self.name);
            let count = profile.points().count();
            assert_eq!(count as f64, number(&want["break_points"]), "{}", self.name);
            let datum_m = unit.to_m(number(&want["datum"]));
            let area_m2: f64 = profile.runs[0]
                .windows(2)
                .map(|w| {
                    let mean = (w[0].z_m + w[1].z_m) / 2.0 - datum_m;
                    mean * (w[1].distance_m - w[0].distance_m)
                })
                .sum();
            let area = self.area(area_m2);
            self.close(
                "section area",
                area,
                number(&want["section_area_above_datum"]),
            );
            let heights = || profile.points().map(|p| p.z_m);
            let low = unit.from_m(heights().fold(f64::INFINITY, f64::min));
            let high = unit.from_m(heights().fold(f64::NEG_INFINITY, f64::max));
            self.close("lowest of a profile", low, number(&want["z_min"]));
            self.close("highest of a profile", high, number(&want["z_max"]));
            // Large sets list no single breaks.
            let Some(breaks) = want["station_z"].as_array() else {
                continue;
            };
            for (got, want) in profile.points().zip(breaks) {
                let [station, z] = numbers(want);
                near("station", got.distance_m, unit.to_m(station), SAME_M);
                near("height", got.z_m, unit.to_m(z), SAME_M);
                self.compared += 2;
            }
        }
    }

    /// Cut and fill to another survey of the same place.
    fn against(&mut self, key: &str, later: &Set) {
        let want = self.expected[key].clone();
        let (own, other) = (self.frame.origin, later.frame.origin);
        let later = moved_by(
            &later.terrain.surface,
            other.x_m - own.x_m,
            other.y_m - own.y_m,
        );
        let got = cut_fill(&self.terrain.surface, &later, &OneThread).total;
        self.volumes(key, &got, &want);
        self.close(
            "common area",
            self.area(got.common_area_m2),
            number(&want["common_plan_area"]),
        );
    }
}

impl Drop for Set {
    fn drop(&mut self) {
        if self.compared == 0 {
            return;
        }
        let (worst, what) = &self.worst;
        println!(
            "{}: {} numbers, farthest off {worst:.1e} ({what})",
            self.name, self.compared
        );
    }
}

fn points(file: &str, unit: LengthUnit) -> SurveySpec {
    SurveySpec::new(SurveyKind::Points, file, unit)
}

/// A rectangle `[x0, x1, y0, y1]` as corners in a job.
fn outline(rectangle: &Value) -> String {
    let [x0, x1, y0, y1] = numbers(rectangle);
    format!("[[{x0:?}, {y0:?}], [{x1:?}, {y0:?}], [{x1:?}, {y1:?}], [{x0:?}, {y1:?}]]")
}

fn triangles_of(expected: &Value) -> Vec<[u32; 3]> {
    let rows = expected["triangles"].as_array().unwrap();
    rows.iter()
        .map(|row| numbers::<3>(row).map(|v| v as u32))
        .collect()
}

fn expected_of(folder: &Folder) -> Value {
    json(&folder.directory.as_ref().unwrap().join("expected.json"))
}

fn topo_after() -> Set {
    let folder = fixture("topo_after");
    let expected = expected_of(&folder);
    let spec = points("shots.csv", LengthUnit::Foot);
    Set::read("topo_after", folder, expected, spec, &GroundSpec::default())
}

fn level_book_yard() -> Set {
    let folder = fixture("level_book_yard");
    let expected = expected_of(&folder);
    let spec = SurveySpec {
        kind: SurveyKind::Levels,
        benchmark: Some(Benchmark {
            name: "BM1".to_owned(),
            level_m: LengthUnit::Foot.to_m(100.0),
            words: String::new(),
        }),
        rod: RodKind::Tenths.into(),
        ..points("levels.csv", LengthUnit::Foot)
    };
    Set::read(
        "level_book_yard",
        folder,
        expected,
        spec,
        &GroundSpec::default(),
    )
}

#[test]
fn a_later_survey_of_a_hill() {
    let mut set = topo_after();
    set.triangles(&triangles_of(&set.expected));
    set.measures();
}

#[test]
fn a_yard_from_its_level_book() {
    let mut set = level_book_yard();
    let ft = LengthUnit::Foot;
    let book = &set.survey.books[0];
    assert_eq!(book.setups.len(), 1);
    let plane = ft.from_m(book.setups[0].plane_m.unwrap());
    let misclosure = ft.from_m(book.misclosure_m.unwrap());
    near(
        "misclosure",
        misclosure,
        number(&set.expected["misclosure_ft"]),
        1e-12,
    );
    assert_eq!(book.status, BookStatus::Closed);
    let levels = set.expected["reduced_levels"].clone();
    assert_eq!(levels.as_object().unwrap().len(), set.survey.shots.len());
    let got: Vec<(String, f64)> = set
        .survey
        .shots
        .iter()
        .map(|s| (s.name.clone(), ft.from_m(s.z_m)))
        .collect();
    for (name, level) in got {
        set.close(&format!("level of {name}"), level, number(&levels[&name]));
    }
    set.close(
        "plane of the laser",
        plane,
        number(&set.expected["height_of_instrument"]),
    );
    set.triangles(&triangles_of(&set.expected));
    set.measures();
    set.plane_case("level_pad");
    set.plane_case("inclined_plane");
    set.pad_case("pad");
}

/// The shots of the level book with their numbers read as metres, as an exchange file of another
/// hand holds them: far from the origin, with its own list of triangles.
#[test]
fn a_yard_far_out_with_triangles_of_its_own() {
    let yard = level_book_yard();
    let directory = fixture("yard_metric").directory.unwrap();
    let text = std::fs::read_to_string(directory.join("yard.landxml.xml")).unwrap();
    let inner = |line: &str| {
        let (_, rest) = line.split_once('>').unwrap();
        let words = rest.split('<').next().unwrap().split_whitespace();
        words.map(str::to_owned).collect::<Vec<String>>()
    };
    let metre = LengthUnit::Metre;
    let vertices: Vec<P3> = text
        .lines()
        .filter(|l| l.trim().starts_with("<P id="))
        .map(|line| {
            // Northing stands before easting.
            let words = inner(line.trim());
            let [y, x] = [0, 1].map(|k| metre.parse_nm(&words[k]).unwrap());
            P3 {
                p: Point::new(x, y),
                z: words[2].parse().unwrap(),
            }
        })
        .collect();
    let triangles: Vec<[u32; 3]> = text
        .lines()
        .filter(|l| l.trim().starts_with("<F>"))
        .map(|line| {
            let v: Vec<u32> = inner(line.trim())
                .iter()
                .map(|n| n.parse::<u32>().unwrap() - 1)
                .collect();
            let [a, b, c] = [0, 1, 2].map(|k| vertices[v[k] as usize].p);
            if cutbank::geom::orient_sign(a, b, c) > 0 {
                [v[0], v[1], v[2]]
            } else {
                [v[0], v[2], v[1]]
            }
        })
        .collect();
    yard.triangles(&triangles);
    let surface = Surface::from_triangles(vertices, &triangles, 0).unwrap();
    let want = &yard.expected["measures"];
    let facts = surface.facts().unwrap();
    close("plan area", facts.area_m2, number(&want["plan_area"]), SAME);
    close(
        "area along the slope",
        facts.surface_area_m2,
        number(&want["surface_area_3d"]),
        SAME,
    );
    let above = surface.volume_above_m3(number(&want["z_ref"]));
    close("volume", above, number(&want["volume_above_z_ref"]), SAME);
}

#[test]
fn a_surveyed_hill() {
    let Some(data) = reference_data("a_surveyed_hill") else {
        return;
    };
    let mut set = Set::outside(
        &data,
        "topo_ft",
        "topo_ft.csv",
        LengthUnit::Foot,
        &GroundSpec::default(),
    );
    set.triangles_listed(&data);
    set.measures();
    set.plane_case("level_pad");
    set.plane_case("inclined_plane");
    set.pad_case("pad");
    set.pad_case("pad_turned_inclined");
    set.pit_case();
    set.mound_case();
    set.profiles();
    set.against("against_topo_after", &topo_after());
}

#[test]
fn a_surveyed_hill_with_a_breakline() {
    let Some(data) = reference_data("a_surveyed_hill_with_a_breakline") else {
        return;
    };
    let ground = GroundSpec {
        breaklines: vec![PlaceList {
            word: PlaceListWord::Shots(["1", "7", "11", "28"].map(str::to_owned).to_vec()),
            at: At::default(),
        }],
        ..GroundSpec::default()
    };
    let mut set = Set::outside(
        &data,
        "topo_ft_breakline",
        "topo_ft.csv",
        LengthUnit::Foot,
        &ground,
    );
    set.triangles_listed(&data);
    set.measures();
    set.plane_case("level_pad");
}

#[test]
fn five_thousand_shots_of_a_hill() {
    let Some(data) = reference_data("five_thousand_shots_of_a_hill") else {
        return;
    };
    let metre = LengthUnit::Metre;
    let later = {
        let mut set = Set::outside(
            &data,
            "volcano_after",
            "volcano_after.csv",
            metre,
            &GroundSpec::default(),
        );
        set.measures();
        set
    };
    let mut set = Set::outside(
        &data,
        "volcano_jitter",
        "volcano_jitter.csv",
        metre,
        &GroundSpec::default(),
    );
    set.triangles_listed(&data);
    set.measures();
    set.plane_case("level_pad");
    set.plane_case("inclined_plane");
    set.pad_case("pad");
    set.pad_case("pad_l_shaped");
    set.pit_case();
    set.profiles();
    set.against("against_volcano_after", &later);
}

/// Class 2 of two clouds without ties: one triangulation, all numbers the same.
#[test]
fn ground_points_of_clouds() {
    let Some(data) = reference_data("ground_points_of_clouds") else {
        return;
    };
    let mut hills = Set::import(&data, "hills_mtm7", ImportKind::Cloud, "hills_mtm7.laz");
    hills.triangles_listed(&data);
    hills.measures();
    hills.plane_case("inclined_plane");
    hills.pad_case("pad");
    hills.profiles();
    let mut autzen = Set::import(&data, "autzen_feet", ImportKind::Cloud, "autzen_feet.laz");
    autzen.measures();
    autzen.plane_case("inclined_plane");
    autzen.pad_case("pad");
    autzen.profiles();
}

/// A cloud with two places that two triangulations share: within the bound stated for them.
#[test]
fn ground_points_of_a_cloud_in_us_survey_feet() {
    let Some(data) = reference_data("ground_points_of_a_cloud_in_us_survey_feet") else {
        return;
    };
    let set = Set::import(
        &data,
        "field_usft_14",
        ImportKind::Cloud,
        "field_usft_14.las",
    );
    let want = set.expected["measures"].clone();
    let bound = number(&set.expected["triangulation"]["bound_on_volume_change_by_ties"]);
    let facts = set.terrain.surface.facts().unwrap();
    let unit = set.frame.unit;
    let above = set
        .terrain
        .surface
        .volume_above_m3(unit.to_m(number(&want["z_ref"])));
    near(
        "volume",
        set.volume(above),
        number(&want["volume_above_z_ref"]),
        bound,
    );
    close(
        "plan area",
        set.area(facts.area_m2),
        number(&want["plan_area"]),
        SAME,
    );
    close(
        "area along the slope",
        set.area(facts.surface_area_m2),
        number(&want["surface_area_3d"]),
        SAME,
    );
    for key in ["inclined_plane", "pad"] {
        let case = &set.expected[key];
        let got = match key {
            "pad" => {
                let corners: Vec<[f64; 2]> = case["pad_ring"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(numbers)
                    .collect();
                let within = inside(&set.frame.ring(&corners));
                let plane = set.plane(case);
                cut_fill_within(&set.terrain.surface, &plane, &within, &OneThread).total
            }
            _ => cut_fill(&set.terrain.surface, &set.plane(case), &OneThread).total,
        };
        near(key, set.volume(got.cut_m3), number(&case["cut"]), bound);
        near(key, set.volume(got.fill_m3), number(&case["fill"]), bound);
    }
}

/// An elevation grid in three formats: the diagonals are one of the two that the results give.
#[test]
fn an_elevation_grid_in_three_formats() {
    let Some(data) = reference_data("an_elevation_grid_in_three_formats") else {
        return;
    };
    let expected = json(&data.join("expected/volcano_grid.json"));
    for file in ["volcano.asc", "volcano.tif"] {
        let imports = [ImportSpec::new(
            ImportKind::Elevations,
            file,
            LengthUnit::Metre,
        )];
        let sources = Sources {
            imports: &imports,
            ..Sources::default()
        };
        let folder = Folder {
            directory: Some(data.clone()),
            ..Folder::default()
        };
        let (survey, _) = Survey::read_with(&sources, &folder).unwrap();
        let (terrain, _) = build(&survey, &GroundSpec::default()).unwrap();
        let case = &expected["diagonal_sw_ne"];
        let frame = Frame {
            origin: terrain.origin,
            unit: LengthUnit::Metre,
        };
        let mut set = Set {
            name: file.to_owned(),
            expected: case.clone(),
            file: file.to_owned(),
            folder,
            frame,
            survey,
            terrain,
            worst: (0.0, String::new()),
            compared: 0,
        };
        set.measures();
        set.plane_case("level_pad");
        set.pad_case("pad");
    }
}

/// A job on a plane `z = z0 + gx x + gy y`, given by four shots.
fn on_a_plane([z0, gx, gy]: [f64; 3], feature: &str) -> Outcome {
    let mut shots = "name,x,y,z\n".to_owned();
    for (k, [x, y]) in [[-150, -150], [200, -150], [200, 150], [-150, 150]]
        .iter()
        .enumerate()
    {
        let z = z0 + gx * f64::from(*x) + gy * f64::from(*y);
        shots += &format!("{},{x},{y},{z:.6}\n", k + 1);
    }
    let job = format!(
        "[job]\nname = \"Plane\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n{feature}"
    );
    run_job(Folder::default().with("shots.csv", &shots), &job)
}

const SLOPE: [f64; 3] = [100.0, 0.02, -0.03];

fn basin(corners: &str, chord: f64) -> String {
    format!(
        "[[feature]]\nkind = \"basin\"\nname = \"Basin\"\n\
         outline = [[10, 20], [40, 20], [40, 38], [10, 38]]\nfloor = \"level:96\"\n\
         side_run_per_rise = 3\ncorners = \"{corners}\"\n[limits]\nchord = {chord:?}\n"
    )
}

/// Closed form: a floor of 30 x 18 m at 96 under the plane, sides 3 across for 1 up in straight
/// hips: the integral over each face in rational numbers is 88865948772/19532405 m3, confirmed by
/// the volume of the convex body from half-spaces; plan area 2107.4503421365675 m2.
#[test]
fn a_basin_with_straight_hips_under_a_slope() {
    let outcome = on_a_plane(SLOPE, &basin("mitre", 0.005));
    let volumes = &outcome.finished;
    let off = close("cut", volumes.cut_m3, 88_865_948_772.0 / 19_532_405.0, SAME);
    println!("basin with straight hips: off {off:.1e}");
    close(
        "area",
        volumes.features[0].cut_area_m2,
        2_107.450_342_136_567_5,
        SAME,
    );
    let floor = volumes.features[0]
        .parts
        .iter()
        .find(|p| p.part == "floor")
        .unwrap();
    close("floor", floor.area_m2, 30.0 * 18.0, SAME);
    near("fill", volumes.fill_m3, 0.0, 1e-9);
}

/// Errors of a volume for chords that fall by four each time: they must fall by 3.5 at least,
/// as far as they are errors of the chords.
fn closes_in(what: &str, chords: &[f64], want: f64, bound: f64, volume: impl Fn(f64) -> f64) {
    let errors: Vec<f64> = chords
        .iter()
        .map(|&c| (volume(c) - want).abs() / want)
        .collect();
    println!("{what}: chords {chords:?}, errors {errors:?}");
    for pair in errors.windows(2) {
        assert!(pair[0] >= 3.5 * pair[1], "{what}: {errors:?}");
    }
    let last = errors[errors.len() - 1];
    assert!(last <= bound, "{what}: {last:.2e}");
}

/// Closed form, by quadrature of strips and cone sectors to 18 digits: the same basin, its
/// corners cones: 4405.20623923787712 m3 (two other ways agree to 2e-9 and 2e-7).
#[test]
fn a_basin_with_round_corners_closes_in_on_its_cones() {
    closes_in(
        "basin",
        &[0.064, 0.016, 0.004, 0.001],
        4_405.206_279_237_877,
        1e-5,
        |chord| on_a_plane(SLOPE, &basin("round", chord)).finished.cut_m3,
    );
}

/// Closed form: a cone of fill, its tip at 104 over (30, 20), 2 across for 1 down, on the plane
/// 100 + 0.05 x - 0.02 y: an ellipse of 107.549 m2 times a third of the height over the axis:
/// 103.964123843013801 m3, confirmed by quadrature in polar coordinates. The tip here is a
/// square of a micrometre.
#[test]
fn a_berm_with_round_corners_closes_in_on_a_cone() {
    closes_in(
        "cone",
        &[0.032, 0.008, 0.002, 0.0005],
        103.964_123_843_013_8,
        1e-4,
        |chord| {
            let berm = format!(
                "[[feature]]\nkind = \"berm\"\nname = \"Cone\"\n\
             outline = [[29.9999995, 19.9999995], [30.0000005, 19.9999995], [30.0000005, 20.0000005], \
             [29.9999995, 20.0000005]]\ncrest = \"level:104\"\nside_run_per_rise = 2\n\
             corners = \"round\"\n[limits]\nchord = {chord:?}\n"
            );
            on_a_plane([100.0, 0.05, -0.02], &berm).finished.fill_m3
        },
    );
}

/// Closed form: a trench along x from 0 to 60 m under the plane, bed 1.2 m wide falling from 97 to
/// 96.4, sides 1.5: 1677.4259475437761 m3 between vertical ends, by quadrature of the section.
///
/// The ends of the program lean outward by 1e-4. At an end the depth over the section is `d + gy t`
/// over the bed and falls along the sides to nothing over `e / (1/s -+ gy)`, `e` the depth at the
/// edge of the bed. Going outward by `u` the ground gains `k u` and the face `u / 1e-4`, so each
/// depth `D` gives a triangle of `D^2 / 2 / (1e4 - k)`, and the wedge is the integral of that:
/// `(d^2 b + gy^2 b^3/12 + sum of e^3 / 3 / (1/s -+ gy)) / 2 / (1e4 - k)`.
#[test]
fn a_straight_trench_with_square_ends() {
    let outcome = on_a_plane(
        SLOPE,
        "[[feature]]\nkind = \"stream\"\nname = \"Trench\"\nline = [[0, 0], [60, 0]]\n\
         levels = [\"level:97\", \"level:96.4\"]\nwidth = 1.2\nside_run_per_rise = 1.5\nends = \"square\"\n",
    );
    let (b, s, gy) = (1.2f64, 1.5, SLOPE[2]);
    let wedge = |d: f64, k: f64| {
        let side = |toward: f64| {
            let edge = d + toward * gy * b / 2.0;
            edge.powi(3) / 3.0 / (1.0 / s - toward * gy)
        };
        (d * d * b + gy * gy * b.powi(3) / 12.0 + side(1.0) + side(-1.0)) / 2.0 / (1.0e4 - k)
    };
    let ends = wedge(3.0, -SLOPE[1]) + wedge(100.0 + 60.0 * SLOPE[1] - 96.4, SLOPE[1]);
    let volumes = &outcome.finished;
    let want = 1_677.425_947_543_776_1 + ends;
    let off = close("cut", volumes.cut_m3, want, SAME);
    println!("straight trench: off {off:.1e}");
    assert!(ends > 1e-6 * volumes.cut_m3, "the wedges count: {ends}");
}

// Not held against the program: the bent trench with vertical walls of the same set of closed
// forms. Its beds meet at the bisector of a bend; the program lays a level wedge outside the bend,
// so the two are different shapes.

/// Closed form: the paraboloid 50 + (x^2 + y^2)/200 over 40 x 40 m in cells of a metre. A facet
/// lies over it by h^2/3/200 on average, so the volume between it and 51 is 533.333 + 2.667 = 536
/// net. Cut 849.1131917055498 and fill 313.1131917055500 of that very triangulation by clipping and
/// by solids apart from this program; the smooth bowl under 51 holds 100 pi.
#[test]
fn a_paraboloid_in_cells() {
    let n = 40u32;
    let height = |x: f64, y: f64| 50.0 + (x * x + y * y) / 200.0;
    let place = |k: u32| f64::from(k) - 20.0;
    let vertices: Vec<P3> = (0..=n)
        .flat_map(|i| (0..=n).map(move |j| (place(i), place(j))))
        .map(|(x, y)| common::at(x, y, height(x, y)))
        .collect();
    let triangles: Vec<[u32; 3]> = (0..n)
        .flat_map(|i| (0..n).map(move |j| (i, j)))
        .flat_map(|(i, j)| {
            let at = |i: u32, j: u32| i * (n + 1) + j;
            let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            [[a, b, c], [a, c, d]]
        })
        .collect();
    let ground = Surface::from_triangles(vertices, &triangles, 0).unwrap();
    close("above", ground.volume_above_m3(51.0), 536.0, 1e-12);
    let pad = common::plane_over([-20.0, -20.0], [20.0, 20.0], |_, _| 51.0);
    let got = cut_fill(&ground, &pad, &OneThread).total;
    close("cut", got.cut_m3, 849.113_191_705_549_8, 1e-12);
    close("fill", got.fill_m3, 313.113_191_705_550_04, 1e-12);
    close("bowl", got.fill_m3, 100.0 * PI, 4e-3);
}
