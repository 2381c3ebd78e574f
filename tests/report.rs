//! Reports and drawings of an invented yard: what they must say, and that a millimetre on the
//! sheet is a millimetre.
#![allow(clippy::unwrap_used, missing_docs)]

use cutbank::checks::Severity;
use cutbank::drawing::{ground, plan, profiles, sections, slopes};
use cutbank::files::Content;
use cutbank::outcome::Outcome;
use cutbank::report::{SCHEMA, files, html, json, text, wall_stations_csv, walls_csv};

#[path = "common/yard.rs"]
mod yard;

fn garden() -> Outcome {
    yard::outcome(yard::garden("Community garden"))
}

/// The files of a report with their bytes.
fn written(outcome: &Outcome) -> Vec<(String, Vec<u8>)> {
    let bytes = |content: &Content| {
        let mut bytes = Vec::new();
        content(&mut bytes).unwrap();
        bytes
    };
    let files = files(outcome).into_iter();
    files.map(|(name, c)| (name, bytes(&c))).collect()
}

/// Level ground at 100 m, 12 by 12 m, with a basin of vertical sides: 4 by 2 m, 1 m deep.
fn pit() -> Outcome {
    let job = "[job]\nname = \"Pit\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n\
               [[feature]]\nkind = \"basin\"\nname = \"Pit\"\n\
               outline = [[4.0, 5.0], [8.0, 5.0], [8.0, 7.0], [4.0, 7.0]]\n\
               floor = \"depth:1.0\"\nside_run_per_rise = 0\n\
               [[section]]\nname = \"Along\"\nline = [[1.0, 6.0], [11.0, 6.0]]\n";
    let shots = "name,x,y,z\n1,0,0,100\n2,12,0,100\n3,12,12,100\n4,0,12,100\n";
    yard::outcome(vec![
        ("job.toml".to_owned(), job.to_owned()),
        ("shots.csv".to_owned(), shots.to_owned()),
    ])
}

/// Level ground and no feature at all.
fn bare() -> Outcome {
    let job = "[job]\nname = \"Bare\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n";
    let shots = "name,x,y,z\n1,0,0,100\n2,12,0,100\n3,12,12,100\n4,0,12,100\n";
    yard::outcome(vec![
        ("job.toml".to_owned(), job.to_owned()),
        ("shots.csv".to_owned(), shots.to_owned()),
    ])
}

/// Every tag of an XML text is closed in order, and no bare ampersand stands in it.
fn assert_well_formed(name: &str, text: &str) {
    let mut open: Vec<String> = Vec::new();
    let mut rest = text;
    while let Some(start) = rest.find('<') {
        assert_entities(name, &rest[..start]);
        let end = rest[start..]
            .find('>')
            .unwrap_or_else(|| panic!("{name}: a tag is not closed"))
            + start;
        let tag = &rest[start + 1..end];
        assert_eq!(tag.matches('"').count() % 2, 0, "{name}: quotes in <{tag}>");
        assert!(!tag.contains('<'), "{name}: <{tag}>");
        assert_entities(name, tag);
        let word = |t: &str| {
            t.split([' ', '/', '\n'])
                .next()
                .unwrap_or_default()
                .to_owned()
        };
        if let Some(closing) = tag.strip_prefix('/') {
            assert_eq!(open.pop().as_deref(), Some(closing), "{name}: </{closing}>");
        } else if !tag.ends_with('/') {
            open.push(word(tag));
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty(), "{name}: left open {open:?}");
}

fn assert_entities(name: &str, text: &str) {
    for (at, _) in text.match_indices('&') {
        let end = text[at..].find(';').map_or(0, |e| e + at);
        let entity = text.get(at + 1..end).unwrap_or_default();
        assert!(
            ["lt", "gt", "amp", "quot", "apos", "#39"].contains(&entity),
            "{name}: & at {:?}",
            &text[at..(at + 12).min(text.len())]
        );
    }
}

fn attribute(tag: &str, name: &str) -> Option<f64> {
    let start = tag.find(&format!("{name}=\""))? + name.len() + 2;
    let value = &tag[start..];
    value[..value.find('"')?]
        .trim_end_matches("mm")
        .parse()
        .ok()
}

#[test]
fn every_svg_is_well_formed_and_counts_millimetres() {
    let outcome = garden();
    let mut sheets = vec![
        ("plan".to_owned(), plan(&outcome), 1.0),
        ("ground".to_owned(), ground(&outcome), 1.0),
        ("slopes".to_owned(), slopes(&outcome), 1.0),
    ];
    for (k, svg) in sections(&outcome).into_iter().enumerate() {
        sheets.push((format!("section {k}"), svg, 100.0));
    }
    for (k, svg) in profiles(&outcome).into_iter().enumerate() {
        sheets.push((format!("profile {k}"), svg, 100.0));
    }
    assert_eq!(sheets.len(), 3 + 3 + 1);
    for (name, svg, units_per_mm) in sheets {
        assert_well_formed(&name, &svg);
        let head = &svg[..svg.find('>').unwrap()];
        let width = attribute(head, "width").unwrap();
        let height = attribute(head, "height").unwrap();
        assert!(head.contains(&format!(
            "viewBox=\"0 0 {} {}\"",
            width * units_per_mm,
            (height * units_per_mm).round()
        )));
        assert!([297.0, 420.0].contains(&width), "{name}: {width}");
        assert!(height <= 297.0);
    }
}

/// Corners of the polygons of a colour in a drawing of plotters.
fn polygons(svg: &str, colour: &str) -> Vec<Vec<[f64; 2]>> {
    svg.lines()
        .filter(|l| l.starts_with("<polygon") && l.contains(colour))
        .map(|l| {
            let from = l.find("points=\"").unwrap() + 8;
            let to = from + l[from..].find('"').unwrap();
            l[from..to]
                .split_whitespace()
                .map(|p| {
                    let (x, y) = p.split_once(',').unwrap();
                    [x.parse().unwrap(), y.parse().unwrap()]
                })
                .collect()
        })
        .collect()
}

fn area(ring: &[[f64; 2]]) -> f64 {
    (0..ring.len())
        .map(|k| {
            let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
            a[0] * b[1] - a[1] * b[0]
        })
        .sum::<f64>()
        .abs()
        / 2.0
}

#[test]
fn a_section_is_drawn_true_to_scale() {
    let outcome = pit();
    let svg = &sections(&outcome)[0];
    // 10 m of section at 1 : 50 are 200 mm; the pit, 4 m by 1 m, is 80 mm by 20 mm.
    assert!(svg.contains("True scale, heights and lengths alike: 1 : 50"));
    let cut = polygons(svg, "#F6D9B3");
    assert_eq!(cut.len(), 1);
    let span = |k: usize| {
        let values = || cut[0].iter().map(|p| p[k]);
        values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min)
    };
    // Vertical sides lean by the kernel's least step, far below a hundredth of a millimetre.
    assert_eq!([span(0), span(1)], [8000.0, 2000.0]);
    assert!(polygons(svg, "#D4CBEB").is_empty());
    assert!(svg.contains("Cut C 4.0 m2, fill F none"), "{svg}");
}

#[test]
fn a_plan_is_drawn_true_to_scale() {
    let svg = plan(&pit());
    // 12 m of ground: 240 mm at 1 : 50 fit the frame of A3 (420 mm) but not its height of
    // 259 mm less the sections' letters; the sheet says which scale it took.
    assert!(svg.contains(">1 : 50<"), "scale");
    // The edge of the survey is the only ring of four corners that is 240 mm wide.
    let width_mm = 12.0 * 1000.0 / 50.0;
    let rings: Vec<[f64; 2]> = svg
        .lines()
        .filter(|l| l.starts_with("<path d=\"M") && l.contains("stroke=\"#000000\""))
        .filter_map(|l| {
            let data = l.split('"').nth(1)?;
            let data = data.strip_suffix('Z')?;
            let corners: Vec<Vec<f64>> = data
                .split(['M', 'L'])
                .filter(|p| !p.is_empty())
                .map(|p| p.split(' ').filter_map(|v| v.parse().ok()).collect())
                .collect();
            let span = |k: usize| {
                let values = || corners.iter().filter_map(|c| c.get(k).copied());
                values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min)
            };
            Some([span(0), span(1)])
        })
        .collect();
    assert!(
        rings
            .iter()
            .any(|r| (r[0] - width_mm).abs() < 0.011 && (r[1] - width_mm).abs() < 0.011),
        "{rings:?}"
    );
}

#[test]
fn areas_in_section_drawings_are_those_of_the_outcome() {
    let outcome = garden();
    for (svg, section) in sections(&outcome).iter().zip(&outcome.sections) {
        let denominator: f64 = svg
            .split("(1 : ")
            .nth(1)
            .and_then(|t| t.split(')').next())
            .unwrap()
            .parse()
            .unwrap();
        // A unit is 0.01 mm on paper; corners are rounded to whole units, so the slack is half
        // a unit along the outline, here up to some 300 mm long.
        let m_per_unit = denominator * 1.0e-5;
        for (colour, m2) in [("#F6D9B3", section.cut_m2), ("#D4CBEB", section.fill_m2)] {
            let drawn: f64 = polygons(svg, colour).iter().map(|r| area(r)).sum();
            let drawn_m2 = drawn * m_per_unit * m_per_unit;
            let slack_m2 = 0.5 * 30_000.0 * m_per_unit * m_per_unit;
            assert!((drawn_m2 - m2).abs() <= slack_m2, "{drawn_m2} {m2}");
        }
    }
}

#[test]
fn the_page_loads_nothing_and_holds_every_finding() {
    let outcome = garden();
    let page = html(&outcome);
    for word in [
        "http://", "https://", "src=", "url(", "@import", "<script", "<link",
    ] {
        assert!(!page.contains(word), "{word}");
    }
    assert!(page.contains("default-src 'none'"));
    for href in page.split("href=\"").skip(1) {
        assert!(href.starts_with('#'), "{}", &href[..20]);
        let id = &href[1..href.find('"').unwrap()];
        assert!(page.contains(&format!("id=\"{id}\"")), "{id}");
    }
    assert!(outcome.count(Severity::Stop) > 0);
    for severity in Severity::ALL {
        let count = format!("{} {}", outcome.count(severity), severity.word());
        assert!(page.contains(&format!(">{count}</li>")), "{count}");
    }
    for finding in &outcome.findings {
        let words = cutbank::drawing::escape(finding.words.trim_end_matches('.'));
        assert!(page.contains(&words), "{words}");
        assert!(page.contains(&cutbank::drawing::escape(&finding.cure)));
        assert!(page.contains(&cutbank::drawing::escape(&finding.limit_from)));
    }
    for input in &outcome.inputs {
        assert!(page.contains(&input.digest));
    }
    let body = page
        .split_once("</head>")
        .map(|(_, body)| body.replace("</html>", ""))
        .unwrap();
    assert_well_formed("page", &body);
}

#[test]
fn a_hostile_name_is_only_a_name() {
    let name = "<b>&\"'</script><script>alert(1)</script>";
    let outcome = yard::outcome(yard::garden(name));
    assert_eq!(outcome.job.name, name);
    for (file, bytes) in written(&outcome) {
        let text = String::from_utf8_lossy(&bytes);
        if file.ends_with(".svg") || file.ends_with(".html") {
            assert!(!text.contains("<b>"), "{file}");
            assert!(!text.contains("<script"), "{file}");
        }
        if file.ends_with(".svg") {
            assert_well_formed(&file, &text);
        }
    }
    assert!(html(&outcome).contains("<h1>&lt;b&gt;&amp;&quot;&#39;&lt;/script&gt;"));
}

#[test]
fn json_has_its_keys_and_the_numbers_of_the_outcome() {
    let outcome = garden();
    let value = json(&outcome);
    assert_eq!(value["schema"], SCHEMA);
    for key in [
        "program_version",
        "date",
        "job",
        "inputs",
        "soil",
        "survey",
        "ground",
        "features",
        "finished",
        "to_build",
        "second_method",
        "balance",
        "counts",
        "findings",
        "walls",
        "cautions",
        "sections",
        "profiles",
        "diagnostics",
    ] {
        assert!(value.get(key).is_some(), "{key}");
    }
    assert_eq!(value["to_build"]["cut_m3"], outcome.to_build.cut_m3);
    assert_eq!(value["counts"]["stop"], outcome.count(Severity::Stop));
    assert_eq!(
        value["counts"]["not_checked"],
        outcome.count(Severity::NotChecked)
    );
    assert_eq!(value["sections"][0]["cut_m2"], outcome.sections[0].cut_m2);
    // Parts add up to the whole, also in what is written.
    let sum = |key: &str| -> f64 {
        value["features"]
            .as_array()
            .unwrap()
            .iter()
            .flat_map(|f| f["to_build"]["parts"].as_array().unwrap())
            .map(|p| p[key].as_f64().unwrap())
            .sum()
    };
    assert!((sum("cut_m3") - outcome.to_build.cut_m3).abs() < 1.0e-9);
    assert!((sum("fill_m3") - outcome.to_build.fill_m3).abs() < 1.0e-9);
    // Ground points stand in absolute coordinates: within the shots, which start at 0 ft.
    let x = value["sections"][0]["ground"][0][0]["x_m"]
        .as_f64()
        .unwrap();
    assert!((-0.5..20.0).contains(&x), "{x}");
    let wall = &value["walls"][0];
    assert_eq!(wall["max_height_m"], outcome.walls[0].max_height_m);
    assert!(wall["stations"][0]["height_m"].is_number());
}

#[test]
fn the_summary_fits_a_screen_and_answers_first() {
    let outcome = garden();
    let text = text(&outcome);
    assert!(text.lines().count() <= 40, "{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    let lines: Vec<&str> = text.lines().collect();
    assert!(
        lines[1].starts_with("Dig ") && lines[1].contains(" bank"),
        "{text}"
    );
    assert!(lines[2].starts_with("Place ") && lines[2].contains(" tamped"));
    assert!(text.contains("Surplus ") || text.contains("Short "));
    for severity in Severity::ALL {
        let count = format!("{} {}", outcome.count(severity), severity.word());
        assert!(text.contains(&count), "{count}");
    }
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("straight lines between 41 sections"),
        "{text}"
    );
    for caution in &outcome.cautions {
        assert!(
            text.split_whitespace()
                .collect::<Vec<_>>()
                .join(" ")
                .contains(caution.title)
        );
    }
}

#[test]
fn the_pit_is_counted_in_words() {
    // 4 by 2 by 1 m, and the lean of a "vertical" face: 0.1 mm in a metre round 12 m.
    let outcome = pit();
    assert!((outcome.to_build.cut_m3 - (8.0 + 12.0 * 1.0e-4 / 2.0)).abs() < 1.0e-6);
    let summary = text(&outcome);
    assert!(summary.contains("Dig 8.0 m3"), "{summary}");
    assert!(summary.contains("Place none"), "{summary}");
    assert!(summary.contains("Walls needed: not computed"), "{summary}");
    let page = html(&outcome);
    assert!(page.contains("not computed, the job has no level book"));
    assert!(page.contains("None: the job has no stream."));
}

#[test]
fn none_and_not_computed_differ() {
    let outcome = bare();
    let summary = text(&outcome);
    // Only a survey: the ground is the answer, and no number of soil is shown.
    assert!(
        summary.contains(
            "The ground is level at 100.000 m.\nThe job lays no feature: nothing is dug or placed."
        ),
        "{summary}"
    );
    assert!(
        summary.contains("Trust in the ground: not computed"),
        "{summary}"
    );
    assert!(!summary.contains("Dig "), "{summary}");
    let page = html(&outcome);
    assert!(
        page.contains("<p>Nothing over, nothing short.</p>"),
        "{page}"
    );
    assert!(page.contains("not computed"), "{page}");
    assert!(json(&outcome)["second_method"].is_null());
    assert_eq!(json(&outcome)["to_build"]["cut_m3"], 0.0);
    // A plan is there all the same.
    assert_well_formed("plan", &plan(&outcome));
    let names: Vec<String> = files(&outcome).into_iter().map(|f| f.0).collect();
    assert_eq!(
        names,
        [
            "index.html",
            "report.json",
            "plan.svg",
            "ground.svg",
            "slopes.svg",
            "drainage.svg",
            "walls.csv",
            "rules.csv",
            "wall-stations.csv",
            "walls.toml",
            "ground.xml",
            "ground.glb",
            "ground-vertices.csv",
            "ground-facets.csv",
            "lines.geojson"
        ]
    );
}

#[test]
fn files_come_in_a_fixed_order_and_are_the_same_each_time() {
    let (first, second) = (written(&garden()), written(&garden()));
    assert_eq!(first, second);
    let names: Vec<&str> = first.iter().map(|f| f.0.as_str()).collect();
    assert_eq!(
        names,
        [
            "index.html",
            "report.json",
            "plan.svg",
            "ground.svg",
            "slopes.svg",
            "drainage.svg",
            "trust.svg",
            "access.svg",
            "section-1.svg",
            "section-2.svg",
            "section-3.svg",
            "profile-1.svg",
            "walls.svg",
            "walls-2.svg",
            "walls.csv",
            "rules.csv",
            "wall-stations.csv",
            "walls.toml",
            "ground.xml",
            "ground.glb",
            "ground-vertices.csv",
            "ground-facets.csv",
            "design.xml",
            "design.glb",
            "design-vertices.csv",
            "design-facets.csv",
            "built.xml",
            "built.glb",
            "built-vertices.csv",
            "built-facets.csv",
            "lines.geojson"
        ]
    );
}

#[test]
fn the_wall_sheet_is_in_the_units_of_the_job() {
    let outcome = garden();
    let sheet = wall_stations_csv(&outcome);
    let mut reader = csv::Reader::from_reader(sheet.as_bytes());
    let head = reader.headers().unwrap().clone();
    assert_eq!(head.get(4), Some("station_ft"));
    assert_eq!(head.get(9), Some("height_ft"));
    assert_eq!(head.get(10), Some("finished_below_benchmark_ft"));
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), outcome.walls[0].stations.len());
    let highest = rows
        .iter()
        .map(|r| r[9].parse::<f64>().unwrap())
        .fold(0.0, f64::max);
    // 0.3048 m to the foot; heights are written to 0.01 ft.
    assert!((highest - outcome.walls[0].max_height_m / 0.3048).abs() <= 0.005 + 1.0e-9);
    assert!(wall_stations_csv(&pit()).starts_with("wall,feature,keep_off,holds,station_m,"));
    assert!(walls_csv(&pit()).starts_with("wall,feature,along,kind_of_line,holds,"));
}

/// Ground falling 4 m over 16 m, with what a test adds to its job.
fn slope(job_name: &str, more: &str) -> Outcome {
    let job = format!(
        "[job]\nname = \"{job_name}\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n{more}"
    );
    let shots = "name,x,y,z\n1,0,0,97\n2,16,0,97\n3,16,16,101\n4,0,16,101\n";
    yard::outcome(vec![
        ("job.toml".to_owned(), job),
        ("shots.csv".to_owned(), shots.to_owned()),
    ])
}

/// A basin 6 by 4 m across the middle of the slope.
fn basin(name: &str) -> String {
    format!(
        "[[feature]]\nkind = \"basin\"\nname = \"{name}\"\n\
         outline = [[5.0, 5.0], [11.0, 5.0], [11.0, 9.0], [5.0, 9.0]]\n\
         floor = \"level:97.3\"\nside_run_per_rise = 1\n"
    )
}

/// Texts of a plan with their places and sizes.
fn texts(svg: &str) -> Vec<(String, [f64; 2])> {
    svg.lines()
        .filter(|l| l.starts_with("<text "))
        .map(|l| {
            let at = [attribute(l, " x").unwrap(), attribute(l, " y").unwrap()];
            let words = l[l.find('>').unwrap() + 1..l.rfind('<').unwrap()].to_owned();
            (words, at)
        })
        .collect()
}

#[test]
fn contour_labels_are_exact_and_stay_off_new_floors() {
    // A section off to the side: none runs along the contour.
    let section = "[[section]]\nname = \"Side\"\nline = [[15.9, 1.0], [15.9, 15.0]]\n";
    let outcome = slope("Slope", &format!("{}{section}", basin("Pond")));
    let svg = plan(&outcome);
    assert!(svg.contains("Contours every 0.25 m"), "{svg}");
    let levels: Vec<(f64, [f64; 2])> = texts(&svg)
        .into_iter()
        .filter(|(words, _)| words.len() >= 5 && words.contains('.'))
        .filter_map(|(words, at)| Some((words.parse().ok()?, at)))
        .collect();
    assert!(levels.iter().any(|(z, _)| *z == 98.75), "{levels:?}");
    for (z, _) in &levels {
        // Every fifth contour: multiples of five quarters.
        assert!((z / 1.25).fract() == 0.0, "{z}");
    }
    assert!(!svg.contains(">98.8<"));
    // Sixteen metres at 1 : 100 stand in the middle of the frame of A4, which runs from 10 to
    // 221 mm across and from 10 to 200 mm down. The old 98.75 runs along y = 7 m; there the basin
    // with its sides of 1 : 1 up from 97.3 reaches from x = 3.55 m to 12.45 m.
    assert!(svg.contains(">1 : 100<"));
    let metres = |at: [f64; 2]| [8.0 + (at[0] - 115.5) / 10.0, 8.0 - (at[1] - 105.0) / 10.0];
    let old: Vec<f64> = levels
        .iter()
        .filter(|(z, _)| *z == 98.75)
        .map(|(_, at)| metres(*at))
        .filter(|p| (p[1] - 7.0).abs() < 0.2)
        .map(|p| p[0])
        .collect();
    assert!(!old.is_empty(), "{levels:?}");
    assert!(old.iter().all(|x| !(3.55..12.45).contains(x)), "{old:?}");
}

#[test]
fn a_long_name_is_broken_over_lines_and_keeps_its_volume() {
    let name = "The upper settling basin beside the old stone stairs, which takes the water of \
                both roofs and of the whole paved yard in front of the long barn";
    let svg = plan(&slope("Names", &basin(name)));
    let words: Vec<String> = texts(&svg).into_iter().map(|t| t.0).collect();
    let first = words
        .iter()
        .position(|w| w.starts_with("The upper"))
        .unwrap();
    assert!(words[first + 2].ends_with("..."), "{words:?}");
    assert!(words[first + 3].starts_with("C "), "{words:?}");
}

#[test]
fn what_finds_no_room_stands_in_the_notes() {
    // Forty basins closer than their names are long: the names cannot all stand there.
    let mut more = String::new();
    for k in 0..40 {
        let (x, y) = (1.0 + f64::from(k % 20) * 0.7, 5.0 + f64::from(k / 20) * 2.0);
        more.push_str(&format!(
            "[[feature]]\nkind = \"basin\"\nname = \"Basin with a rather long name {k}\"\n\
             outline = [[{x}, {y}], [{a}, {y}], [{a}, {b}], [{x}, {b}]]\n\
             floor = \"depth:0.2\"\nside_run_per_rise = 0\n",
            a = x + 0.4,
            b = y + 0.4
        ));
    }
    let svg = plan(&slope("Crowd", &more));
    let words: Vec<String> = texts(&svg).into_iter().map(|t| t.0).collect();
    assert!(words.iter().any(|w| w == "Notes"), "{words:?}");
    assert!(
        words
            .iter()
            .any(|w| w.starts_with("(1) Basin with a rather")),
        "{words:?}"
    );
    assert_well_formed("crowd", &svg);
}

#[test]
fn walls_are_numbered_on_the_plan_and_listed_beside_it() {
    let outcome = garden();
    assert!(!outcome.walls.is_empty());
    let svg = plan(&outcome);
    let page = html(&outcome);
    for (k, wall) in outcome.walls.iter().enumerate() {
        assert!(svg.contains(&format!(">W{}<", k + 1)));
        // A foot is 0.3048 m; lengths are written to 0.1 ft, heights to 0.01 ft.
        let words = format!(
            "W{}: {:.1} ft long, up to {:.2} ft high",
            k + 1,
            wall.length_m / 0.3048,
            wall.max_height_m / 0.3048
        );
        assert!(svg.contains(&words), "{words}");
        assert!(page.contains(&format!("<li>{words}</li>")), "{words}");
        assert!(page.contains(&format!("<h3>Wall W{}: ", k + 1)));
    }
}

#[test]
fn a_benchmark_without_words_ends_without_a_colon() {
    let mut files = yard::garden("Garden");
    files[0].1 = files[0]
        .1
        .replace(", words = \"brass bolt in the lower step\"", "");
    let svg = plan(&yard::outcome(files));
    assert!(svg.contains(">Benchmark BM1, level 100.00 ft<"), "{svg}");
}

#[test]
fn a_section_off_the_survey_says_so_and_moves_nothing() {
    let here = "[[section]]\nname = \"Here\"\nline = [[8.0, -2.0], [8.0, 19.0]]\n";
    let away = "[[section]]\nname = \"Away\"\nline = [[500.0, 500.0], [520.0, 500.0]]\n";
    let outcome = slope("Off", &format!("{here}{away}"));
    let drawn = sections(&outcome);
    assert!(
        drawn[1].contains("no ground along this line"),
        "{}",
        drawn[1]
    );
    assert!(!drawn[1].contains("level, m") && !drawn[1].contains("Cut C none"));
    assert_well_formed("away", &drawn[1]);
    // 2 m before the ground begins and 3 m behind it.
    assert_eq!(drawn[0].matches("no surface").count(), 2, "{}", drawn[0]);
    assert!(html(&outcome).contains("<h3>B-B': Away (no ground along this line)</h3>"));
    let value = json(&outcome);
    assert!(value["sections"][1]["cut_m2"].is_null());
    assert_eq!(value["sections"][0]["cut_m2"], 0.0);
    let scale = |o: &Outcome| {
        let svg = plan(o);
        svg[..svg.find('>').unwrap()].to_owned()
    };
    assert_eq!(scale(&outcome), scale(&slope("Off", here)));
    assert!(plan(&outcome).contains("section B-B&#39; is off the survey"));
}

#[test]
fn machines_read_one_word_for_not_checked_and_no_minus_zero() {
    let outcome = garden();
    let csv = cutbank::report::findings_csv(&outcome);
    assert!(outcome.count(Severity::NotChecked) > 0);
    let rows = csv
        .lines()
        .filter(|l| l.starts_with("not-checked,"))
        .count();
    assert_eq!(rows, outcome.count(Severity::NotChecked));
    assert!(!csv.contains("not checked,"));
    let text = format!("{:#}", json(&outcome));
    assert_eq!(
        text.matches("\"severity\": \"not-checked\"").count(),
        outcome.count(Severity::NotChecked)
    );
    for outcome in [outcome, pit(), bare()] {
        let text = format!("{:#}", json(&outcome));
        assert!(
            !text.contains("-0.0,") && !text.contains("-0.0\n"),
            "{text}"
        );
    }
}

#[test]
fn nothing_carries_no_number_and_no_alarm() {
    let outcome = pit();
    let page = html(&outcome);
    assert_eq!(outcome.count(Severity::Stop), 0);
    assert!(page.contains("<li class=\"zero\">0 stop</li>"), "{page}");
    assert!(!page.contains("takes 0.0") && !page.contains("takes none"));
    assert!(!html(&bare()).contains("0 barrows"));
    let summary = text(&outcome);
    let summary = summary.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(summary.contains(", fill none by average"), "{summary}");
    assert!(!summary.contains("(not computed"), "{summary}");
}

#[test]
fn an_assumed_soil_is_said_in_the_summary() {
    assert!(text(&pit()).contains("Soil assumed, because the job names none: "));
    assert!(!text(&garden()).contains("Soil assumed"));
}

#[test]
fn a_long_wall_is_told_in_a_dozen_stations() {
    let outcome = garden();
    let wall = &outcome.walls[0];
    assert!(wall.stations.len() > 12, "{}", wall.stations.len());
    let page = html(&outcome);
    let table = page.split("Wall W1 by station</caption>").nth(1).unwrap();
    let table = &table[..table.find("</table>").unwrap()];
    let rows = table.matches("<tr class").count();
    assert!((6..=12).contains(&rows), "{rows}");
    assert!(page.contains(&format!("{rows} of {} stations", wall.stations.len())));
    let highest = format!("<td class=\"n\">{:.2}</td>", wall.max_height_m / 0.3048);
    assert!(table.contains(&highest), "{table}");
}

/// A square of 12 m with shots of every fate: used, struck out, outside, by tape with two answers.
fn fates() -> Outcome {
    let job = "[job]\nname = \"Fates\"\nunits = \"m\"\n[[survey]]\npoints = \"shots.csv\"\n\
               [[survey]]\nties = \"ties.csv\"\n[control]\ncorners = { A = [2.0, 6.0], B = [10.0, 6.0] }\n\
               [[strike]]\nshot = \"S\"\nwhy = \"rod on a stump\"\n\
               [ground]\noutline = \"shots:1-4\"\n";
    let shots =
        "name,x,y,z\n1,0,0,100\n2,12,0,100\n3,12,12,101\n4,0,12,101\nS,3,3,105\nO,14,6,100\n";
    let ties = "point,tape A,tape B,side,z\nT1,5,5,,100.2\nT2,5,5,left,100.6\n";
    yard::outcome(vec![
        ("job.toml".to_owned(), job.to_owned()),
        ("shots.csv".to_owned(), shots.to_owned()),
        ("ties.csv".to_owned(), ties.to_owned()),
    ])
}

#[test]
fn shots_that_make_no_ground_stay_visible() {
    let outcome = fates();
    // 3-4-5: both T1 and T2 lie 3 m beside the middle of A and B; only T2 says on which side.
    assert_eq!(outcome.terrain.num_shots, 5);
    assert_eq!(outcome.survey.unplaced.len(), 1);
    let svg = cutbank::drawing::ground(&outcome);
    assert_well_formed("ground", &svg);
    assert_eq!(svg.matches(">T1?<").count(), 2, "both places of T1");
    for words in [
        "S: struck out",
        "shot struck out by the job",
        "shot outside: not used",
        "shot by tape: not decided",
        "not placed, and no part of the ground: T1",
    ] {
        let flat = svg.replace("</text>\n<text", "");
        assert!(flat.contains(words) || svg.contains(words), "{words}");
    }
    let summary = text(&outcome);
    for words in ["Not placed by tape: T1:", "Struck out: S."] {
        assert!(summary.contains(words), "{words}\n{summary}");
    }
    let page = html(&outcome);
    for words in [
        "Placed by tape",
        "Not placed, and no part of the ground",
        "Struck out by the job",
        "rod on a stump",
        // Tapes of 5 from 8 m apart cross at 2 asin(4/5), a sine of 0.96: 74 degrees.
        "74 degrees",
    ] {
        assert!(page.contains(words), "{words}");
    }
    let json = json(&outcome);
    assert_eq!(json["survey"]["struck"][0]["why"], "rod on a stump");
    assert_eq!(json["survey"]["struck"][0]["z_m"], 105.0);
}

#[test]
fn every_limit_is_in_the_readme() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).unwrap();
    for key in cutbank::job::limits::KEYS {
        let name = match key.kind {
            cutbank::job::LimitKind::Slope => format!("`{}_...`", key.key),
            _ => format!("`{}`", key.key),
        };
        assert!(readme.contains(&name), "{name}");
    }
}
