//! A first visit: rods and paced distances of a few named points, and no coordinates.
//!
//! Expected values are arithmetic on the readings, worked out beside each test.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{Folder, written};
use cutbank::diag::{Diagnostic, Failure, Level};
use cutbank::files::OneThread;
use cutbank::outcome::VisitOutcome;
use cutbank::report::{visit_files, visit_report, visit_report_json};
use cutbank::run::{Answer, answer, check_job, read_job, run};

const BOOK: &str = "point,BS,IS,FS,from,paced,paces,tape,remark\n\
    step,3.42,,,,,,,lower step\n\
    head,,2.10,,,,,,where the fall would begin\n\
    basin,,5.50,,head,34,,,\n\
    seat,,4.00,,basin,,11,,\n\
    P1,,4.00,,seat,,,20.0,\n\
    step,,,3.42,,,,,\n";

/// A job over a level book, in feet, a pace of 2.5 ft.
fn folder(book: &str, more: &str) -> Folder {
    let job = format!(
        "[job]\nname = \"First visit\"\nunits = \"ft\"\n[[survey]]\nlevels = \"visit.csv\"\n\
         rod = \"tenths\"\npace = 2.5\n\
         benchmark = {{ name = \"step\", level = 100.0, words = \"back door\" }}\n{more}"
    );
    Folder::default()
        .with("job.toml", &job)
        .with("visit.csv", book)
}

fn answered(book: &str, more: &str) -> Result<Answer, Failure> {
    let folder = folder(book, more);
    let (job, _) = read_job(&folder)?;
    answer(job, &folder, &OneThread)
}

#[track_caller]
fn visit(book: &str) -> VisitOutcome {
    match answered(book, "") {
        Ok(Answer::Visit(visit)) => *visit,
        Ok(Answer::Yard(_)) => panic!("a yard"),
        Err(Failure(all)) => panic!("{all:#?}"),
    }
}

#[track_caller]
fn has(all: &[Diagnostic], code: &str, level: Level, words: &[&str]) {
    let found: Vec<&Diagnostic> = all.iter().filter(|d| d.code == code).collect();
    assert_eq!(found.len(), 1, "{code} in {all:#?}");
    assert_eq!(found[0].level, level);
    for word in words {
        assert!(found[0].to_string().contains(word), "{word}: {}", found[0]);
    }
}

#[test]
fn how_far_apart_and_how_steep_in_words() {
    let outcome = visit(BOOK);
    let text = visit_report(&outcome);
    let text: Vec<&str> = text.split_whitespace().collect();
    let text = text.join(" ");
    for words in [
        // 5.50 - 2.10 = 3.40 ft over 34 ft is 10 %; 34 ft paced may be 35.7 or 32.3.
        "The head is 3.4 ft above the basin, 34 ft apart, 10 % (10.0 across : 1 up, 1.2 in per ft); paced, so 9.5 to 11 %.",
        // 11 paces of 2.5 ft are 27.5 ft; 1.5 / 27.5 is 5.45 %.
        "The seat is 1.5 ft above the basin",
        "5.5 % (18.3 across : 1 up, 0.7 in per ft)",
        // Taped, and at one level.
        "The seat and P1 are at one level, 20.0 ft apart.",
        "Highest is the head, lowest the basin: 3.4 ft between them.",
        "1.32 ft higher than step",
        "2.08 ft lower than step",
        "the book closes on step without a difference.",
        "there is no ground",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    let json = visit_report_json(&outcome);
    let leg = &json["visit"]["legs"][0];
    let number = |key: &str| leg[key].as_f64().unwrap();
    assert!((number("rise_m") - 3.4 * 0.3048).abs() < 1e-9);
    assert!((number("distance_m") - 34.0 * 0.3048).abs() < 1e-9);
    assert!((number("slope_rise_per_run") - 0.1).abs() < 1e-9);
    assert_eq!(
        (&leg["upper"], &leg["way"]),
        (&"head".into(), &"paced".into())
    );
    assert!(json["ground"].is_null());
    assert_eq!(json["program"], "cutbank");
    let files = visit_files(&outcome);
    assert_eq!(files[0].0, "index.html");
    let page = String::from_utf8(written(&files[0].1)).unwrap();
    assert!(page.contains("<p>The head is 3.4 ft above the basin, 34 ft apart"));
    assert!(page.contains("Levels count from step (back door)"));
}

#[test]
fn what_is_no_visit_is_a_yard_or_is_refused() {
    // Features need a ground.
    let basin = "[[feature]]\nkind = \"basin\"\nname = \"Pond\"\noutline = \"shots:head,basin,seat\"\n\
                 floor = \"depth:2\"\nside_run_per_rise = 1\n";
    let Err(Failure(all)) = answered(BOOK, basin) else {
        panic!("not refused");
    };
    has(&all, "few-shots", Level::Error, &["no shot has a place"]);
    // The engine call for a yard says the same.
    let folder = folder(BOOK, "");
    let (job, _) = read_job(&folder).unwrap();
    let Err(Failure(all)) = run(job, &folder, &OneThread) else {
        panic!("not refused");
    };
    has(&all, "few-shots", Level::Error, &["visit.csv"]);
    let said = check_job(&folder).unwrap();
    has(&said, "visit", Level::Note, &["no ground"]);
    // With coordinates it is a yard, and paces place nothing.
    let yard = "point,BS,IS,FS,x,y,from,paced\nstep,3.42,,,0,0,,\na,,2,,0,10,,\nb,,3,,10,0,a,14\n\
                c,,4,,10,10,,\nstep,,,3.42,,,,\n";
    match answered(yard, "") {
        Ok(Answer::Yard(outcome)) => {
            assert_eq!(outcome.terrain.num_shots, 3);
            has(&outcome.diagnostics, "paced", Level::Note, &["not used"]);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn bad_paces_are_named() {
    let fails = |book: &str| {
        let Err(Failure(all)) = answered(book, "") else {
            panic!("not refused: {book}");
        };
        all
    };
    let row = |cells: &str| {
        format!("point,BS,IS,FS,from,paced,paces\nstep,3.42,,,,,\nhead,,2.1,,{cells}\n")
    };
    let said = |cells: &str, words: &[&str]| {
        has(&fails(&row(cells)), "bad-pace", Level::Error, words);
    };
    said("step,0,", &["line 3", "\"paced\": \"0\"", "above 0"]);
    said("step,nan,", &["\"nan\""]);
    said("step,,1e300", &["\"paces\": \"1e300\""]);
    said("step,12,5", &["keep one of them"]);
    said(",12,", &["where the paces begin", "`from`"]);
    // A pace without a length.
    let no_pace = Folder::default().with("visit.csv", &row("step,,5")).with(
        "job.toml",
        "[job]\nname = \"a\"\nunits = \"ft\"\n[[survey]]\nlevels = \"visit.csv\"\n\
             rod = \"tenths\"\nbenchmark = { name = \"step\", level = 100.0 }\n",
    );
    let Err(Failure(all)) = check_job(&no_pace) else {
        panic!("not refused");
    };
    has(&all, "bad-pace", Level::Error, &["`pace = 2.5`", "--pace"]);
    // A distance to a point nobody read.
    let outcome = visit("point,BS,IS,FS,from,paced\nstep,3.42,,,,\nhead,,2.1,,gate,30\n");
    has(
        &outcome.diagnostics,
        "no-level",
        Level::Warn,
        &["gate has no level", "visit.csv line 3"],
    );
}
