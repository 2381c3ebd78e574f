//! Surfaces of another office brought to the benchmark of a job by common points.
//!
//! The surface is a made one; its volumes are closed forms of the job's own frame, so a right
//! placing gives them again, wherever the surface came from.
#![allow(clippy::unwrap_used)]

mod common;

use std::fmt::Write as _;

use common::{Folder, close, near};
use cutbank::files::OneThread;
use cutbank::job::Shift;
use cutbank::outcome::Outcome;
use cutbank::run::{read_job, run};

/// Grid points on a side, and metres between them.
const SIDE: usize = 7;
const APART_M: f64 = 5.0;

/// The true ground in the frame of the job.
fn z(x: f64, y: f64) -> f64 {
    100.0 + 0.05 * x - 0.03 * y
}

/// Where the other office has a place of the job: turned, moved, and counted from another zero.
struct Elsewhere {
    turn_deg: f64,
    by: [f64; 2],
    up: f64,
    /// Their unit in metres, and what LandXML calls it.
    unit: (f64, &'static str),
}

const HERE: Elsewhere = Elsewhere {
    turn_deg: 0.0,
    by: [0.0, 0.0],
    up: 3.25,
    unit: (1.0, "meter"),
};

const THERE: Elsewhere = Elsewhere {
    turn_deg: 25.0,
    by: [500_000.0, 4_100_000.0],
    up: -61.5,
    unit: (1.0, "meter"),
};

impl Elsewhere {
    fn place(&self, x: f64, y: f64) -> [f64; 3] {
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        [
            (cos * x - sin * y + self.by[0]) / self.unit.0,
            (sin * x + cos * y + self.by[1]) / self.unit.0,
            (z(x, y) + self.up) / self.unit.0,
        ]
    }

    fn landxml(&self) -> String {
        let mut text = format!(
            "<?xml version=\"1.0\"?>\n<LandXML xmlns=\"http://www.landxml.org/schema/LandXML-1.2\" \
             version=\"1.2\" date=\"2024-05-01\" time=\"12:00:00\">\n<Units><{kind} \
             linearUnit=\"{unit}\" areaUnit=\"squareMeter\" volumeUnit=\"cubicMeter\" \
             temperatureUnit=\"celsius\" pressureUnit=\"HPA\"/></Units>\n<Surfaces><Surface \
             name=\"Yard\"><Definition surfType=\"TIN\"><Pnts>\n",
            kind = if self.unit.1 == "meter" {
                "Metric"
            } else {
                "Imperial"
            },
            unit = self.unit.1
        );
        for k in 0..SIDE * SIDE {
            let [east, north, up] =
                self.place((k % SIDE) as f64 * APART_M, (k / SIDE) as f64 * APART_M);
            writeln!(text, "<P id=\"{}\">{north:.9} {east:.9} {up:.9}</P>", k + 1).unwrap();
        }
        text.push_str("</Pnts><Faces>\n");
        for k in 0..(SIDE - 1) * (SIDE - 1) {
            let a = k / (SIDE - 1) * SIDE + k % (SIDE - 1) + 1;
            let (b, c, d) = (a + 1, a + SIDE + 1, a + SIDE);
            writeln!(text, "<F>{a} {b} {c}</F>\n<F>{a} {c} {d}</F>").unwrap();
        }
        text.push_str("</Faces></Definition></Surface></Surfaces></LandXML>\n");
        text
    }
}

/// Control of the job: name, x, y, z; each may be off by some height.
const CONTROL: [(&str, f64, f64); 4] = [
    ("S1", 2.0, 3.0),
    ("S2", 26.0, 4.5),
    ("S3", 21.0, 27.0),
    ("S4", 4.0, 22.0),
];

fn shots(off: &[(&str, f64)]) -> String {
    let mut text = "name,x,y,z\n".to_owned();
    for (name, x, y) in CONTROL {
        let off: f64 = off.iter().filter(|(n, _)| *n == name).map(|(_, o)| o).sum();
        writeln!(text, "{name},{x},{y},{:.9}", z(x, y) + off).unwrap();
    }
    text
}

fn targets(elsewhere: &Elsewhere, scale: f64) -> String {
    let mut text = "name,x,y,z\n".to_owned();
    for (name, x, y) in CONTROL {
        let [east, north, up] = elsewhere.place(x, y).map(|c| c * scale);
        writeln!(text, "{name},{east:.9},{north:.9},{up:.9}").unwrap();
    }
    text
}

const PLACE_HEIGHT: &str = "shift = \"height\"\ncommon = [\"S1\", \"S2\", \"S3\", \"S4\"]\n";
const PLACE_ALL: &str = "shift = \"plan-and-height\"\ncommon = \"targets.csv\"\n";

fn folder(placing: &str, elsewhere: &Elsewhere, shots: &str, targets: &str) -> Folder {
    let job = format!(
        "[job]\nname = \"Placed\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n\
         [[survey]]\nsurface = \"yard.xml\"\n{placing}[[feature]]\nkind = \"basin\"\nname = \
         \"Pond\"\noutline = [[10, 10], [20, 10], [20, 16], [10, 16]]\nfloor = \"level:99.0\"\n\
         side_run_per_rise = 1\ncorners = \"mitre\"\n"
    );
    Folder::default()
        .with("job.toml", &job)
        .with("shots.csv", shots)
        .with("targets.csv", targets)
        .with("yard.xml", &elsewhere.landxml())
}

fn outcome(folder: &Folder) -> Outcome {
    let (job, _) = read_job(folder).unwrap();
    run(job, folder, &OneThread).unwrap_or_else(|e| panic!("{e}"))
}

fn refused(folder: &Folder) -> String {
    let (job, _) = read_job(folder).unwrap();
    run(job, folder, &OneThread).unwrap_err().to_string()
}

/// Volume of the frustum that the pond is below a plane: with 1 across for 1 up the solid below
/// a plane z = h + a x + b y over a rectangle is symmetric about nothing, so it is summed up from
/// the same surface unmoved.
fn unmoved_cut() -> f64 {
    let plain = Elsewhere { up: 0.0, ..HERE };
    let outcome = outcome(&folder("", &plain, &shots(&[]), ""));
    outcome.to_build.cut_m3
}

#[test]
fn heights_are_shifted_to_the_benchmark() {
    let placed = outcome(&folder(PLACE_HEIGHT, &HERE, &shots(&[]), ""));
    let placement = placed.survey.imports[0].placement.as_ref().unwrap();
    assert_eq!(placement.shift, Shift::Height);
    near("shift", placement.up_m, -3.25, 1e-9);
    assert_eq!(placement.turn_deg, 0.0);
    assert_eq!(placement.common.len(), 4);
    for point in &placement.common {
        near(&point.name, point.height_m, 0.0, 2e-9);
        assert_eq!(point.plan_m, 0.0);
    }
    close("cut", placed.to_build.cut_m3, unmoved_cut(), 1e-9);
    close("area", placed.ground_facts.area_m2, 900.0, 1e-12);
    // The shots serve to place it and are no ground.
    assert_eq!(placed.ground_facts.triangles, 72);
    let said: Vec<String> = placed.diagnostics.iter().map(ToString::to_string).collect();
    assert!(
        said.iter()
            .any(|d| d.contains("the 4 shots of the job are no part of it")),
        "{said:?}"
    );
    // Small errors are shared out and told, each at its point.
    let off = [("S1", 0.02), ("S2", -0.02), ("S3", 0.02), ("S4", -0.02)];
    let placed = outcome(&folder(PLACE_HEIGHT, &HERE, &shots(&off), ""));
    let placement = placed.survey.imports[0].placement.as_ref().unwrap();
    near("shift", placement.up_m, -3.25, 1e-9);
    for (point, (name, off)) in placement.common.iter().zip(off) {
        assert_eq!(point.name, name);
        near(name, point.height_m, off, 1e-8);
    }
    // The mean of four is good to half of one.
    near(
        "whole",
        placed.survey.imports[0].whole_error_m(),
        0.01,
        1e-8,
    );
}

#[test]
fn plan_and_height_are_moved_and_turned_together() {
    for elsewhere in [
        THERE,
        Elsewhere {
            unit: (0.3048, "foot"),
            ..THERE
        },
        Elsewhere {
            unit: (1200.0 / 3937.0, "USSurveyFoot"),
            turn_deg: -140.0,
            ..THERE
        },
    ] {
        let files = folder(
            PLACE_ALL,
            &elsewhere,
            &shots(&[]),
            &targets(&elsewhere, 1.0),
        );
        let placed = outcome(&files);
        let placement = placed.survey.imports[0].placement.as_ref().unwrap();
        near("turn", placement.turn_deg, -elsewhere.turn_deg, 1e-7);
        near("shift", placement.up_m, 61.5, 1e-6);
        for point in &placement.common {
            near(&point.name, point.plan_m, 0.0, 1e-7);
            near(&point.name, point.height_m, 0.0, 1e-7);
        }
        // Nine decimals of a foot are 0.3 nm; the lattice rounds to one.
        close("cut", placed.to_build.cut_m3, unmoved_cut(), 1e-7);
        close("area", placed.ground_facts.area_m2, 900.0, 1e-8);
    }
}

#[test]
fn a_bad_fit_is_refused_with_the_point_that_spoils_it() {
    for (name, _, _) in CONTROL {
        let words = refused(&folder(PLACE_HEIGHT, &HERE, &shots(&[(name, 0.5)]), ""));
        assert!(
            words.contains(&format!("without {name} the others agree")),
            "{words}"
        );
        assert!(words.contains("0.500 m (1.64 ft) off them"), "{words}");
        assert!(words.contains("shots.csv line"), "{words}");
    }
    // A place swapped in plan.
    let mixed = targets(&THERE, 1.0)
        .replace("S2", "S9")
        .replace("S3", "S2")
        .replace("S9", "S3");
    let words = refused(&folder(PLACE_ALL, &THERE, &shots(&[]), &mixed));
    assert!(words.contains("it is not one of them alone"), "{words}");
    assert!(words.contains("in plan"), "{words}");
    // Two wrong ones are not pinned on one.
    let off = [("S1", 0.6), ("S2", -0.7)];
    let words = refused(&folder(PLACE_HEIGHT, &HERE, &shots(&off), ""));
    assert!(
        words.contains("it is not one of them alone: S1 +0.625 m; S2 -0.675 m"),
        "{words}"
    );
    // What the job lets pass, passes, and is told.
    let wide = format!("{PLACE_HEIGHT}fit = 0.6\n");
    let placed = outcome(&folder(&wide, &HERE, &shots(&[("S4", 0.5)]), ""));
    let placement = placed.survey.imports[0].placement.as_ref().unwrap();
    near("limit", placement.fit_m, 0.6, 1e-12);
    near("S4", placement.common[3].height_m, 0.375, 1e-9);
}

#[test]
fn wrong_units_and_common_points_are_said() {
    // Targets typed in feet for a surface in metres.
    let feet = targets(
        &Elsewhere {
            by: [20.0, 30.0],
            ..THERE
        },
        1.0 / 0.3048,
    );
    let words = refused(&folder(PLACE_ALL, &THERE, &shots(&[]), &feet));
    assert!(words.contains("0.3048 times as far apart"), "{words}");
    assert!(words.contains("in feet and read as metres"), "{words}");
    for (placing, expected) in [
        (
            "shift = \"height\"\ncommon = [\"S1\", \"S2\"]\n",
            "2 common points bring yard.xml to the benchmark; it takes 3",
        ),
        (
            "shift = \"height\"\ncommon = [\"S1\", \"S2\", \"S7\"]\n",
            "the job has no point S7 with a place and a level",
        ),
    ] {
        let words = refused(&folder(placing, &HERE, &shots(&[]), ""));
        assert!(words.contains(expected), "{words}");
    }
    let words = refused(&folder(PLACE_HEIGHT, &THERE, &shots(&[]), ""));
    assert!(words.contains("S1 lies outside yard.xml"), "{words}");
    assert!(words.contains("plan-and-height"), "{words}");
    // Without any placing a surface far away is doubted.
    let away = folder("", &THERE, &shots(&[]), "");
    let text = refused(&away);
    assert!(text.contains("Pond"), "{text}");
}

/// A surface of another program laid as a feature: a level pad over a tilted ground, cut and filled.
#[test]
fn a_surface_of_another_program_is_laid_as_a_feature() {
    let pad = "<?xml version=\"1.0\"?>\n<LandXML xmlns=\"http://www.landxml.org/schema/LandXML-1.2\" \
               version=\"1.2\" date=\"2024-05-01\" time=\"12:00:00\"><Units><Imperial \
               linearUnit=\"foot\" areaUnit=\"squareFoot\" volumeUnit=\"cubicFeet\" \
               temperatureUnit=\"fahrenheit\" pressureUnit=\"inHG\"/></Units><Surfaces>\
               <Surface name=\"Other\"><Definition surfType=\"TIN\"><Pnts><P id=\"1\">0 0 0</P>\
               <P id=\"2\">0 9 0</P><P id=\"3\">9 0 0</P></Pnts><Faces><F>1 2 3</F></Faces>\
               </Definition></Surface><Surface name=\"Pad\"><Definition surfType=\"TIN\"><Pnts>\
               <P id=\"1\">40 40 330</P><P id=\"2\">40 60 330</P><P id=\"3\">50 60 330</P>\
               <P id=\"4\">50 40 330</P></Pnts><Faces><F>1 2 3</F><F>1 3 4</F></Faces></Definition>\
               </Surface></Surfaces></LandXML>";
    let job = |file: &str| {
        format!(
            "[job]\nname = \"Pad\"\nunits = \"m\"\n[[survey]]\nsurface = \"yard.xml\"\n[[feature]]\n\
             kind = \"surface\"\nname = \"Pad\"\nfile = \"{file}\"\nrule = \"replace\"\n"
        )
    };
    let plain = Elsewhere { up: 0.0, ..HERE };
    let folder = |file: &str| {
        Folder::default()
            .with("job.toml", &job(file))
            .with("yard.xml", &plain.landxml())
            .with("pad.xml", pad)
    };
    let laid = outcome(&folder("pad.xml#Pad"));
    // A plane cut by a level: net is area times the difference in the middle.
    let foot = 0.3048;
    let area = 20.0 * foot * 10.0 * foot;
    let middle = z(50.0 * foot, 45.0 * foot) - 330.0 * foot;
    let net = laid.finished.cut_m3 - laid.finished.fill_m3;
    near("net", net, area * middle, 1e-3 * area);
    assert!(laid.inputs.iter().any(|input| input.file == "pad.xml"));
    let words = refused(&folder("pad.xml"));
    assert!(words.contains("Other") && words.contains("Pad"), "{words}");
    let words = read_job(&folder("pad.csv")).unwrap_err().to_string();
    assert!(words.contains("no format of a surface"), "{words}");
}
