//! A whole invented job, every kind of fault with its message, and mangled bytes.

use super::*;
use crate::files::Input;
use crate::job::{
    Adjust, Allowance, Benchmark, CloudSpec, Common, LevelWord, Place, PlaceListWord, RodKind,
    SamePlace, Shift, SurveyKind, Thin,
};

/// An invented yard that uses every section.
const YARD: &str = r#"# An invented yard.
[job]
name  = "Garden of three drops"   # on every sheet
units = "ft"

[soil]
kind = "loam"
loose_per_bank = 1.25
tamped_per_bank = 0.9
barrow_volume = 6
barrow_weight = 300
truck_volume = 10.0
truck_weight = 20_000

[[survey]]
levels = "levels.csv"
rod = "inch-eighths"
benchmark = { name = "BM1", level = 100.00, words = "bolt in the lower step" }
adjust = "setups"
allow = "5 mm per root setup"

[[survey]]
points = "data/shots.csv"
units = "m"
columns = ["name", "x", "y", "z", "code"]

[ground]
outline = "code:fence"
holes = ["code:house", [[15.3, 0], [15.3, 10], [0, 1e1]]]
breaklines = ["shots:31-33,40"]
max_edge = 30
duplicates = "mean"

[[feature]]
kind = "basin"
name = "Reservoir"
outline = [31, "32", [15.3, -0.001]]
floor = "below-benchmark:5.20"
layers = [ { name = "stone", thick = 0.5 } ]

[[feature]]
kind = "berm"

[[keep-off]]
name = "Old apple tree"
kind = "roots"
centre = "T1"
radius = 12.0

[[keep-off]]
name = "Water line"
kind = "service"
line = ["1", "2"]
half_width = 2

[[keep-off]]
name = "Shed"
area = "code:shed"

[[section]]
name = "Through the basin"
line = ["31", [0, 0]]

[[view]]
from = "seat"

[limits]
cut_run_per_rise = 2
fill_percent = 40.0
temporary_degrees = 45
wall_height = 3
"#;

fn notes(diags: &[Diagnostic]) -> Vec<String> {
    diags.iter().map(Diagnostic::to_string).collect()
}

/// A small job around the lines under test; they begin in line 6.
fn with(lines: &str) -> Result<(Job, Vec<Diagnostic>), Failure> {
    read(
        "job.toml",
        &format!("[job]\nname = \"A\"\nunits = \"ft\"\n[[survey]]\npoints = \"a.csv\"\n{lines}"),
    )
}

/// Every diagnostic for the lines under test.
fn refused(lines: &str) -> Vec<String> {
    notes(&with(lines).map(|(job, _)| panic!("{job:?}")).unwrap_err().0)
}

#[test]
fn a_whole_job_is_read_in_si() {
    let (job, diags) = read("job.toml", YARD).unwrap();
    assert_eq!(
        notes(&diags),
        [
            "note: job.toml line 41, \"feature\": feature 2 has no name and is called \"berm 1\"\n  \
         help: give it a name that the crew will understand",
            "note: job.toml line 64, \"view\": \"[[view]]\": views are not used yet",
        ]
    );
    assert_eq!(
        (job.name.as_str(), job.units),
        ("Garden of three drops", LengthUnit::Foot)
    );

    assert_eq!(job.soil.kind.as_ref().unwrap().0, "loam");
    assert_eq!(job.soil.kind.as_ref().unwrap().1.line, 7);
    assert_eq!(
        (job.soil.loose_per_bank, job.soil.tamped_per_bank),
        (Some(1.25), Some(0.9))
    );
    // 1 ft3 = 0.3048^3 m3 and 1 lb = 0.45359237 kg, both exact by the agreement of 1959.
    assert_eq!(job.soil.barrow_m3, Some(6.0 * 0.028_316_846_592));
    assert_eq!(job.soil.barrow_kg, Some(300.0 * 0.453_592_37));
    assert_eq!(job.soil.truck_m3, Some(10.0 * 27.0 * 0.028_316_846_592));
    assert_eq!(job.soil.truck_kg, Some(20_000.0 * 0.453_592_37));

    let [book, shots] = &job.surveys[..] else {
        panic!("{:?}", job.surveys)
    };
    assert_eq!(
        (&book.kind, book.file.as_str()),
        (&SurveyKind::Levels, "levels.csv")
    );
    assert_eq!(
        (book.rod, book.adjust),
        (RodKind::InchEighths.into(), Adjust::Setups)
    );
    assert_eq!(
        book.benchmark,
        Some(Benchmark {
            name: "BM1".to_string(),
            level_m: 100.0 * 0.3048,
            words: "bolt in the lower step".to_string(),
        })
    );
    assert_eq!(
        book.allow,
        Allowance::from_words("5 mm per root setup", LengthUnit::Foot).unwrap()
    );
    assert_eq!(
        (&shots.kind, shots.file.as_str()),
        (&SurveyKind::Points, "data/shots.csv")
    );
    assert_eq!(
        (shots.units, shots.z_units),
        (LengthUnit::Metre, LengthUnit::Metre)
    );
    assert_eq!(shots.columns.as_ref().unwrap().len(), 5);
    assert_eq!(shots.at.line, 23);

    assert_eq!(
        job.ground.outline.as_ref().unwrap().word,
        PlaceListWord::Code("fence".to_string())
    );
    // 15.3 ft is 4.66344 m exactly.
    assert_eq!(
        job.ground.holes[1].word,
        PlaceListWord::Places(vec![
            Place::Coordinates(4_663_440_000, 0),
            Place::Coordinates(4_663_440_000, 3_048_000_000),
            Place::Coordinates(0, 3_048_000_000),
        ])
    );
    let names = ["31-33", "40"].map(String::from).to_vec();
    assert_eq!(job.ground.breaklines[0].word, PlaceListWord::Shots(names));
    assert_eq!(job.ground.max_edge_m, Some(30.0 * 0.3048));
    assert_eq!(job.ground.duplicates, Duplicates::Mean);
    assert_eq!(job.ground.crossings, Crossings::Refuse);

    let [basin, berm] = &job.features[..] else {
        panic!("{:?}", job.features)
    };
    assert_eq!(
        (basin.kind.as_str(), basin.name.as_str(), basin.at.line),
        ("basin", "Reservoir", 34)
    );
    assert_eq!(
        (berm.kind.as_str(), berm.name.as_str(), berm.at.line),
        ("berm", "berm 1", 41)
    );
    let (mut table, mut diags) = (basin.table.clone(), Vec::new());
    assert_eq!(
        table.places("outline", &mut diags).unwrap().word,
        PlaceListWord::Places(vec![
            Place::Shot("31".to_string()),
            Place::Shot("32".to_string()),
            Place::Coordinates(4_663_440_000, -304_800),
        ])
    );
    let floor = table.level("floor", &mut diags).unwrap();
    assert_eq!(floor.word, LevelWord::BelowBenchmark(5.2 * 0.3048));
    assert_eq!(
        floor.at,
        At::cell("job.toml", 38, "feature.floor", "below-benchmark:5.20")
    );
    let mut layers = table.tables("layers", &mut diags);
    assert_eq!(
        layers[0].title(),
        "layers \"stone\" of feature \"Reservoir\""
    );
    assert_eq!(
        layers[0].length_m("thick", &mut diags).unwrap().0,
        0.5 * 0.3048
    );
    table.finish(&mut diags);
    assert_eq!(diags, []);

    let [tree, line, shed] = &job.keep_offs[..] else {
        panic!("{:?}", job.keep_offs)
    };
    assert_eq!((tree.kind, tree.at.line), (KeepOffKind::Roots, 44));
    let KeepOffShape::Circle { centre, radius, .. } = &tree.shape else {
        panic!("{tree:?}")
    };
    assert_eq!(
        (centre, *radius),
        (
            &Place::Shot("T1".to_string()),
            super::Radius::Given(12.0 * 0.3048)
        )
    );
    assert_eq!(line.kind, KeepOffKind::Service);
    assert!(
        matches!(line.shape, KeepOffShape::Band { half_width_m, .. } if half_width_m == 2.0 * 0.3048)
    );
    assert_eq!(shed.kind, KeepOffKind::Other);
    assert!(matches!(shed.shape, KeepOffShape::Area(_)));
    assert_eq!(job.sections[0].name, "Through the basin");

    assert_eq!(job.limits.cut, Some(Slope::from_rise_per_run(0.5)));
    assert_eq!(job.limits.fill, Slope::from_rise_per_run(0.4));
    // The tangent of 45 degrees is 1.
    assert!((job.limits.temporary.rise_per_run() - 1.0).abs() < 1e-15);
    assert_eq!(job.limits.wall_height_m, 3.0 * 0.3048);
    assert_eq!(job.limits.chord_m, Limits::default().chord_m);
    assert_eq!(
        job.limits.set_by_user,
        [
            "cut_run_per_rise",
            "fill_percent",
            "temporary_degrees",
            "wall_height"
        ]
    );
}

#[test]
fn line_ends_and_remarks_change_nothing() {
    let plain = read("job.toml", YARD).unwrap();
    let crlf = YARD.replace('\n', "\r\n");
    let marked = format!("\u{feff}{}", YARD.replace("]\n", "] # remark\n"));
    for text in [&crlf, &marked] {
        let mut other = read("job.toml", text).unwrap();
        // Only the digest knows the difference.
        assert_eq!(other.0.input, Input::of("job.toml", text.as_bytes()));
        assert_ne!(other.0.input, plain.0.input);
        other.0.input = plain.0.input.clone();
        assert_eq!(format!("{plain:?}"), format!("{other:?}"));
    }
}

#[test]
fn metres_and_survey_feet() {
    let (job, _) = read("job.toml", &YARD.replace("units = \"ft\"", "units = \"m\"")).unwrap();
    assert_eq!(job.soil.barrow_m3, Some(6.0));
    assert_eq!(job.soil.truck_kg, Some(20_000.0));
    assert_eq!(job.ground.max_edge_m, Some(30.0));
    let survey = YARD
        .replace("units = \"ft\"", "units = \"us-ft\"")
        .replace("15.3", "3937");
    let (job, _) = read("job.toml", &survey).unwrap();
    // 3937 US survey feet are 1200 m by definition.
    let PlaceListWord::Places(places) = &job.ground.holes[1].word else {
        panic!("no places")
    };
    assert_eq!(places[0], Place::Coordinates(1_200_000_000_000, 0));
}

#[test]
fn all_faults_come_at_once_in_the_order_of_the_file() {
    let found = refused(
        "unit = \"m\"\n[soil]\nloose_per_bank = 25\n[grund]\nmax_edge = 3\n\
         [[feature]]\nname = \"Pond\"\n[limits]\nchord = \"0,01\"\nwall_heigt = 4\n",
    );
    assert_eq!(
        found,
        [
            "error: job.toml line 6, \"survey.unit\": \"m\": survey 1 has no key `unit`\n  \
         help: perhaps `units` is meant",
            "error: job.toml line 8, \"soil.loose_per_bank\": \"25\": `loose_per_bank` lies between \
         0.5 and 2.5: it is the volume that one of bank becomes\n  \
         help: write for example loose_per_bank = 1.25, not a percentage",
            "error: job.toml line 9, \"grund\": \"[grund]\": the job has no key `grund`\n  \
         help: perhaps `ground` is meant",
            "error: job.toml line 11: feature \"Pond\" needs `kind`\n  \
         help: write for example kind = \"basin\"",
            "error: job.toml line 14, \"limits.chord\": \"0,01\": `chord` must be a number, not text\n  \
         help: use a decimal point: chord = 0.01",
            "error: job.toml line 15, \"limits.wall_heigt\": \"4\": [limits] has no key `wall_heigt`\n  \
         help: perhaps `wall_height` is meant",
        ]
    );
}

#[test]
fn a_job_needs_a_heading_a_unit_and_a_survey() {
    let refused = |text: &str| notes(&read("job.toml", text).unwrap_err().0);
    assert_eq!(
        refused(""),
        [
            "error: job.toml: the job has no [job]\n  help: begin the file with\n    [job]\n    \
         name = \"Garden\"\n    units = \"ft\"    # ft, us-ft or m",
            "error: job.toml: the job has no [[survey]]\n  help: say where the shots are:\n    \
         [[survey]]\n    points = \"shots.csv\"    # or levels = \"levels.csv\", a level book",
        ]
    );
    assert_eq!(refused("survey = []\n[job]\nname = \" \"\n").len(), 3);
    let survey = "[[survey]]\npoints = \"a.csv\"\n";
    assert_eq!(
        refused(&format!("[job]\n{survey}")),
        [
            "note: job.toml line 1, \"job\": the job has no name; sheets say \"Unnamed job\"\n  \
         help: write for example name = \"Garden\"",
            "error: job.toml line 1: [job] needs `units`\n  \
         help: write units = \"ft\", \"us-ft\" (US survey feet) or \"m\"",
        ]
    );
    assert_eq!(
        refused(&format!("[job]\nname = \"A\"\nunits = \"feet\"\n{survey}")),
        [
            "error: job.toml line 3, \"job.units\": \"feet\": `units` does not know this word\n  \
         help: perhaps \"ft\" is meant; one of \"m\", \"ft\", \"us-ft\" is taken",
        ]
    );
    assert_eq!(
        refused(&format!("name = \"A\"\n[[job]]\nunits = \"m\"\n{survey}")),
        [
            "error: job.toml line 1, \"name\": \"A\": `name` stands before the first heading\n  \
         help: it takes `job`, `soil`, `survey`, `feature`, `control`, `strike`, `ground`, `gate`, `route`, `keep-off`, `area`, \
         `section`, `limits`, `view`",
            "error: job.toml line 2, \"job\": \"[[job]]\": `job` must be one group of keys, not a list\n  \
         help: write it once, under the heading [job]",
        ]
    );
}

#[test]
fn surveys_name_one_file_in_the_folder() {
    for (lines, expected) in [
        (
            "levels = \"b.csv\"\n",
            "error: job.toml line 5, \"survey.points\": \"a.csv\" and job.toml line 6, \
             \"survey.levels\": \"b.csv\": survey 1 has `points`, `levels` at once\n  \
             help: keep one of them",
        ),
        (
            "[[survey]]\nrod = \"metric\"\n",
            "error: job.toml line 6: survey 2 needs one of `points`, `levels`, `ties`, `grid`, `cloud`, \
             `elevations`, `surface`\n  \
             help: write for example points = \"shots.csv\"",
        ),
        (
            "[[survey]]\ncloud = \"scan.laz\"\nclasses = [2, 300]\n",
            "error: job.toml line 8, \"survey.classes\": \"[2, 300]\": classes are whole numbers \
             from 0 to 255\n  help: write for example classes = [2]; 2 is ground",
        ),
        (
            "[[survey]]\ncloud = \"scan.laz\"\nbounds = [0, 10, 60, 4]\n",
            "error: job.toml line 8, \"survey.bounds\": \"[0, 10, 60, 4]\": bounds are the west, \
             south, east and north end, in this order\n  help: write for example bounds = \
             [0, 0, 60, 40], in the unit of the file",
        ),
        (
            "[[survey]]\nsurface = \"a.xml\"\nshift = \"plan-and-height\"\ncommon = [\"A\"]\n",
            "error: job.toml line 9, \"survey.common\": \"[\"A\"]\": a shift in plan needs a file \
             that says where the import has the common points\n  help: write shift = \"height\" and \
             common = [\"S1\", \"S4\", \"S9\"], shots of this job, or common = \"targets.csv\" \
             with name, x, y, z of the same points as the file has them",
        ),
        (
            "[[survey]]\npoints = \"../a.csv\"\n",
            "error: job.toml line 7, \"survey.points\": \"../a.csv\": a file of a job does not lie \
             above its folder\n  \
             help: put the file into the folder of the job and write its name only",
        ),
        (
            "[[survey]]\npoints = 7\n",
            "error: job.toml line 7, \"survey.points\": \"7\": `points` must be text in quotes, \
             not a number\n  help: write points = \"7\"",
        ),
        (
            "[[survey]]\nlevels = \"b.csv\"\nrod = \"inch-eights\"\n",
            "error: job.toml line 8, \"survey.rod\": \"inch-eights\": `rod` does not know this \
             word\n  help: perhaps \"inch-eighths\" is meant; write tenths, \
             inch-eighths, metric, millimetres or direct, and `tenths upside-down` for a rod that \
             stood on its head",
        ),
        (
            "[[survey]]\nlevels = \"b.csv\"\nrod = \"tenths\"\nbenchmark = { name = \"B\" }\n",
            "error: job.toml line 9: benchmark \"B\" of survey 2 needs `level`\n  \
             help: write for example level = 100.00",
        ),
        (
            "columns = [\"x\", 3]\n",
            "error: job.toml line 6, \"survey.columns\": \"3\": `columns` must be a list of texts, \
             not a number\n  help: write for example columns = [\"name\", \"x\", \"y\"]",
        ),
    ] {
        assert_eq!(refused(lines), [expected]);
    }
    for path in [
        "/etc/a.csv",
        "\\\\host\\a",
        "C:\\a.csv",
        "x/../../a",
        "..",
        "",
        "a\u{7}",
    ] {
        let found =
            refused(&format!("[[survey]]\npoints = {path:?}\n").replace("\\u{7}", "\\u0007"));
        assert_eq!(found.len(), 1, "{path}");
        assert!(found[0].contains("job.toml line 7"), "{found:?}");
    }
    assert!(with("[[survey]]\npoints = \"more/a..b.csv\"\n").is_ok());
}

#[test]
fn files_of_other_programs_are_read_with_their_keys() {
    let (job, said) = with(
        "[[survey]]\ncloud = \"scan.laz\"\nunits = \"us-ft\"\nclasses = [2, 9]\n\
         bounds = [-1, 0, 60, 40]\nkeep_overlap = true\nsame_place = \"mean\"\nthin = 0.1\nsieve = { cell = 2, height = 1 }\n\
         height_error = 0.2\nshift = \"height\"\ncommon = [\"A\", \"B\", \"C\"]\n\
         [[survey]]\nsurface = \"yard.xml#Pad 1\"\nshift = \"plan-and-height\"\n\
         common = \"targets.csv\"\nfit = 0.5\nthin = \"never\"\n",
    )
    .unwrap();
    assert_eq!(
        notes(&said),
        [
            "warning: job.toml line 23, \"survey.thin\": \"never\": `thin` has no effect on surface\n  \
          help: it belongs to a cloud: cloud = \"scan.laz\""
        ]
    );
    let [cloud, surface] = &job.imports[..] else {
        panic!("{:?}", job.imports)
    };
    assert_eq!(job.surveys.len(), 1);
    let us_foot = 1200.0 / 3937.0;
    assert_eq!(cloud.source(), "scan.laz");
    assert_eq!(
        (cloud.units, cloud.z_units),
        (Some(LengthUnit::UsSurveyFoot), None)
    );
    assert_eq!(cloud.cloud.classes, Some(vec![2, 9]));
    let nm = |feet: f64| (feet * us_foot * 1.0e9).round() as i64;
    assert_eq!(
        cloud.cloud.bounds_nm,
        Some([nm(-1.0), 0, nm(60.0), nm(40.0)])
    );
    assert!(cloud.cloud.keep_overlap && !cloud.cloud.keep_withheld);
    assert_eq!(cloud.cloud.same_place, SamePlace::Mean);
    // Lengths of the entry that say nothing of the file are in the unit of the job.
    assert_eq!(cloud.cloud.thin, Thin::Within(0.1 * 0.3048));
    assert_eq!(cloud.cloud.sieve.cell_m, 2.0 * 0.3048);
    assert_eq!(cloud.cloud.sieve.height_m, 0.3048);
    assert_eq!(cloud.cloud.sieve.widest_m, 36.0);
    assert_eq!(cloud.height_error_m, Some(0.2 * 0.3048));
    let placing = cloud.placing.as_ref().unwrap();
    assert_eq!(placing.shift, Shift::Height);
    assert_eq!(
        placing.common,
        Common::Shots(["A", "B", "C"].map(String::from).to_vec())
    );
    assert_eq!(surface.source(), "yard.xml#Pad 1");
    assert_eq!(surface.cloud, CloudSpec::default());
    let placing = surface.placing.as_ref().unwrap();
    assert_eq!(placing.shift, Shift::PlanAndHeight);
    assert_eq!(placing.common, Common::File("targets.csv".to_owned()));
    assert_eq!(placing.fit_m, Some(0.5 * 0.3048));
}

#[test]
fn rods_and_allowances_are_read_in_words() {
    let book = |lines: &str| {
        let (job, _) = with(&format!("[[survey]]\nlevels = \"b.csv\"\n{lines}")).unwrap();
        job.surveys[1].clone()
    };
    let spec = book("rod = \"tenths upside-down\"\nallow = 0.02\n");
    assert!(spec.rod.upside_down && spec.rod.kind == RodKind::Tenths);
    assert_eq!(spec.allow.words(), "0.02 ft per root set-up");
    assert_eq!(book("rod = \"mm\"\n").rod, RodKind::Millimetres.into());
    assert_eq!(book("rod = \"metric\"\n").allow, Allowance::default());
    let said =
        refused("[[survey]]\nlevels = \"b.csv\"\nrod = \"metric\"\nallow = \"5 mm a day\"\n");
    assert!(
        said[0].starts_with(
            "error: job.toml line 9, \"survey.allow\": \"5 mm a day\": \"a day\" does not say what \
             the allowance grows with\n  help: write for example \"0.02 ft per root setup\""
        ),
        "{}",
        said[0]
    );
    let said = refused("[[survey]]\nlevels = \"b.csv\"\nrod = \"direct upside-down\"\n");
    assert!(
        said[0].contains("`rod` does not know this word"),
        "{}",
        said[0]
    );
    let said = refused("[[survey]]\nlevels = \"b.csv\"\nrod = \"metric\"\nallow = true\n");
    assert!(said[0].contains("text or a number"), "{}", said[0]);
}

#[test]
fn a_level_book_without_rod_is_said_to_be_read_by_its_unit() {
    let (job, diags) = with("[[survey]]\nlevels = \"b.csv\"\nz_units = \"m\"\n").unwrap();
    assert_eq!(job.surveys[1].rod, RodKind::Metric.into());
    assert_eq!(job.surveys[1].units, LengthUnit::Foot);
    assert_eq!(
        notes(&diags),
        [
            "note: job.toml line 6, \"survey\": no `rod` is given; readings are taken as \"metric\"\n  \
         help: write rod = \"metric\", or another of tenths, inch-eighths, metric, millimetres, direct"
        ]
    );
    let (_, diags) = with("adjust = \"setups\"\n").unwrap();
    assert_eq!(
        notes(&diags),
        [
            "warning: job.toml line 6, \"survey.adjust\": \"setups\": `adjust` has no effect on points\n  \
         help: it belongs to a level book: levels = \"levels.csv\""
        ]
    );
}

#[test]
fn names_of_features_are_unique() {
    assert_eq!(
        refused(
            "[[feature]]\nkind = \"pad\"\nname = \"Seat\"\n\
             [[feature]]\nkind = \"berm\"\nname = \" Seat\"\n"
        ),
        [
            "error: job.toml line 9, \"feature\": \"Seat\" and job.toml line 6, \"feature\": \"Seat\": \
             two features are called \"Seat\"\n  \
             help: give each its own name: sheets and soil plans go by it"
        ]
    );
    let (job, _) = with(
        "[[feature]]\nkind = \"pad\"\n[[feature]]\nkind = \"pad\"\n\
         [[feature]]\nkind = \"berm\"\nname = \"pad 1\"\n",
    )
    .unwrap();
    let names: Vec<_> = job
        .features
        .iter()
        .map(|feature| feature.name.as_str())
        .collect();
    assert_eq!(names, ["pad 2", "pad 3", "pad 1"]);
    let error = job.features[0].table.missing("outline", "\"code:seat\"");
    assert_eq!(
        error.to_string(),
        "error: job.toml line 6: feature \"pad 2\" needs `outline`\n  \
         help: write for example outline = \"code:seat\""
    );
    assert_eq!(
        refused("[[feature]]\nkind = \"pad\"\nname = \"two\\nlines\"\n"),
        [
            "error: job.toml line 8, \"feature.name\": \"two.lines\": a name is one line of text that \
          is not empty\n  help: write for example name = \"Pond\""
        ]
    );
    assert_eq!(
        refused("[feature]\nkind = \"pad\"\n"),
        [
            "error: job.toml line 6, \"feature\": \"[feature]\": `feature` must be a list of groups, \
          not a group of keys\n  \
          help: write the heading with two brackets on each side: [[feature]]"
        ]
    );
}

#[test]
fn keep_offs_have_one_shape() {
    let (job, _) = with("[[keep-off]]\nname = \"Fence\"\nline = \"code:fence\"\n").unwrap();
    assert!(matches!(&job.keep_offs[0].shape, KeepOffShape::Line(_)));
    for (lines, expected) in [
        (
            "radius = 3\n",
            "error: job.toml line 6: keep-off \"Oak\" needs one of `line`, `area`, `centre`\n  \
             help: write for example line = \"code:fence\", or centre = \"31\" with radius = 6.0",
        ),
        (
            "centre = \"31\"\n",
            "error: job.toml line 6: keep-off \"Oak\" needs `radius`\n  \
             help: write for example radius = 6.0",
        ),
        (
            "centre = \"31\"\nradius = 0\n",
            "error: job.toml line 9, \"keep-off.radius\": \"0\": `radius` must be more than 0\n  \
             help: leave the key out if it is not known",
        ),
        (
            "area = \"code:oak\"\nhalf_width = 1\n",
            "error: job.toml line 9, \"keep-off.half_width\": \"1\": `half_width` goes with `line` \
             only\n  help: take it out, or give `line`",
        ),
        (
            "line = \"code:oak\"\narea = \"code:oak\"\n",
            "error: job.toml line 8, \"keep-off.line\": \"code:oak\" and job.toml line 9, \
             \"keep-off.area\": \"code:oak\": keep-off \"Oak\" has `line`, `area` at once\n  \
             help: keep one of them",
        ),
        (
            "line = \"code:oak\"\nkind = \"root\"\n",
            "error: job.toml line 9, \"keep-off.kind\": \"root\": `kind` does not know this word\n  \
             help: perhaps \"roots\" is meant; one of \"boundary\", \"building\", \"roots\", \
             \"service\", \"other\" is taken",
        ),
    ] {
        assert_eq!(
            refused(&format!("[[keep-off]]\nname = \"Oak\"\n{lines}")),
            [expected]
        );
    }
    assert_eq!(
        refused("[[section]]\nname = \"A\"\n"),
        ["error: job.toml line 6: section \"A\" needs `line`\n  \
          help: write for example line = [\"31\", \"38\"]"]
    );
}

#[test]
fn slopes_of_limits_have_one_notation_and_a_sense() {
    assert_eq!(
        refused("[limits]\ncut_percent = 50\ncut_degrees = 30\n"),
        [
            "error: job.toml line 7, \"limits.cut_percent\": \"50\" and job.toml line 8, \
          \"limits.cut_degrees\": \"30\": [limits] has `cut_percent`, `cut_degrees` at once\n  \
          help: keep one of them"
        ]
    );
    for line in [
        "cut_run_per_rise = 0",
        "cut_run_per_rise = -2",
        "cut_run_per_rise = 1e-320",
        "fill_percent = 0",
        "fill_percent = 1e9",
        "temporary_degrees = 90",
        "temporary_degrees = 225",
        "temporary_degrees = -30",
    ] {
        let found = refused(&format!("[limits]\n{line}\n"));
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(
            found[0].contains("no slope that can be a limit"),
            "{found:?}"
        );
    }
    let (job, _) = with("[limits]\nfill_run_per_rise = 1000\ncut_run_per_rise = 0.01\n").unwrap();
    assert_eq!(job.limits.fill.rise_per_run(), 0.001);
    assert_eq!(job.limits.cut.unwrap().rise_per_run(), 100.0);
}

/// Bytes changed, taken out, doubled and swapped at random, always from the same seed.
#[test]
fn no_mangled_job_panics() {
    // xorshift64 (Marsaglia 2003), enough for choosing bytes.
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mut below = |bound: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state % bound as u64) as usize
    };
    let (mut read_well, mut refused) = (0, 0);
    for _ in 0..800 {
        let mut bytes = YARD.as_bytes().to_vec();
        for _ in 0..=below(3) {
            if bytes.is_empty() {
                break;
            }
            let at = below(bytes.len());
            match below(5) {
                0 => bytes[at] = below(256) as u8,
                1 => bytes[at] = b"\"[]{}=.,-0e\n#:' "[below(16)],
                2 => drop(bytes.remove(at)),
                3 => {
                    let end = (at + below(40)).min(bytes.len());
                    let piece = bytes[at..end].to_vec();
                    let to = below(bytes.len());
                    bytes.splice(to..to, piece);
                }
                _ => bytes.truncate(at.max(1)),
            }
        }
        match read("job.toml", &String::from_utf8_lossy(&bytes)) {
            Ok((_, diags)) => {
                assert!(!has_error(&diags));
                read_well += 1;
            }
            Err(failure) => {
                assert!(has_error(&failure.0));
                assert!(
                    failure.0.iter().all(|diag| !diag.at.is_empty()),
                    "{failure}"
                );
                refused += 1;
            }
        }
    }
    // Both outcomes must be met, or the mutations test nothing.
    assert!(
        read_well > 20 && refused > 200,
        "{read_well} read, {refused} refused"
    );
}
