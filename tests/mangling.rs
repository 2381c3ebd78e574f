//! Readers are given what is left of good files after bytes were turned, lost, doubled and moved.
//!
//! Whatever comes, a reader answers with shots or with words that name the file; it does not
//! panic, and it takes no more memory than a small multiple of the file. Whole yards go on from
//! there to the ground, its doubts and its trust, and some to the report. All trials are seeded;
//! `CUTBANK_TRIALS=40000 CUTBANK_SEED=7` asks for more of them, or for others.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use std::collections::BTreeMap;

use common::{Folder, Random, written};
use cutbank::diag::{At, Diagnostic, Failure, Level};
use cutbank::files::OneThread;
use cutbank::job::{
    Adjust, Benchmark, Decimal, Rod, RodKind, SurveyKind, SurveySpec, read as read_job_text,
};
use cutbank::outcome::Outcome;
use cutbank::report;
use cutbank::run::{Answer, answer, check_job, read_job};
use cutbank::surface::{contours, levels_between};
use cutbank::survey::{read_levels, read_points};
use cutbank::terrain::slope_bands;
use cutbank::units::LengthUnit;
use peak_alloc::PeakAlloc;

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

/// Files mangled for every reader, unless `CUTBANK_TRIALS` asks for more.
const TRIALS: u64 = 4_000;
/// Of so many yards with an answer one is written out as a report.
const REPORTED: u64 = 50;
/// Most memory a reader may take for one file: this many times its bytes, and a base for
/// messages and tables.
const TIMES: usize = 200;
const BASE_BYTES: usize = 4 << 20;
/// The same for a whole yard with its surfaces.
const YARD_BYTES: usize = 32 << 20;

const POINTS: &str = "name,x,y,z,code,remark\n\
    1,10.25,20.5,100.04,fence,\n2,30,-4.125,99.5,top1+edge,by the gate\n\
    3,12.5,40.75,98.25,\"to,e\",\n# a remark\n4,1e1,2E1,97,,\n5,60,60,96.5,tree,\"two\nlines\"\n";
const COMMA: &str = "No;North;East;z;Code\n1;10,25;20,5;100,04;toe\n2;30;-4,125;99,5;\n\
    3;0,5;0,25;98,125;wall2\n";
const SPACED: &str = "\u{feff}name x y z code\r\n a  1 2\t3 top\r\n b 4 5 6\r\n c 9 1 2 toe\r\n";
const TYPED: &str = "setup,point,x,y,type,rod,distance,code,remark\n\
    1,BM1,10.6,34.3,BS,4.63,40,bm,\n1,1,3.3,33.1,IS,4.87,,ground,\n1,2,8,9,IS,5.61,,,\n\
    1,TP,20,20,FS,6.01,38,,\n2,TP,20,20,BS,3.12,44,,\n2,3,40,10,IS,-2.5,,lip,\n2,BM1,,,FS,1.73,41,,\n";
const FIELD: &str = "point,bs,is,fs,known,x,y,remark\nBM,4.2,,,100,0,0,\nG1,,3.6,,,5,5,\n\
    T,3.3,,5.1,,9,1,moved\nG2,,4.1,,,10,12,\nBM2,,,2.2,100.4,1,9,\n";
const INCHES: &str = "point,type,rod\nBM1,BS,5-7-3/8\nA,IS,5' 7 3/8\"\nB,IS,-0-6\nC,FS,4 11\n";
const JOB: &str = "[job]\nname = \"yard\"\nunits = \"ft\"\n[[survey]]\npoints = \"shots.csv\"\n\
    columns = [\"name\", \"x\", \"y\", \"z\"]\n[[strike]]\nshot = \"3\"\nwhy = \"stump\"\n\
    [ground]\noutline = \"shots:1-4\"\nbreaklines = [\"code:top\", [\"1\", [2.0, 3.5]]]\n\
    max_edge = 30\n[[feature]]\nkind = \"basin\"\nname = \"Pond\"\noutline = \"code:edge\"\n\
    floor = \"below-benchmark:5.20\"\n[[keep-off]]\nname = \"tree\"\ncentre = \"code:tree\"\n\
    radius = 6.0\n[limits]\nwall_height = 4.0\n";

const KINDS: &str = "setup,point,rod kind,type,rod,known\n1,BM1,tenths,BS,4.63,\n1,1,,IS,4.87,\n\
    1,TP,,FS,6.01,\n2,TP,inch-eighths,BS,5-7-3/8,\n2,2,,IS,-0-6,\n2,T2,,FS,4 11,\n\
    3,T2,tenths upside-down,BS,3.10,\n3,3,,IS,2.5,\n3,T3,,FS,1,\n4,T3,metric,BS,1.254,\n\
    4,4,,IS,96 cm,\n4,T4,,FS,1204 mm,\n5,T4,mm,BS,1254,\n5,5,,IS,988,\n5,BM2,,FS,1620,104.2\n";
const MILLIMETRES: &str = "point,type,rod,distance\nBM1,BS,1254,20\nA,IS,988,\nB,IS,1104,\n\
    TP,FS,1620,18\nTP,BS,702,21\nC,IS,45,\nBM1,FS,336,20\n";
const DIRECT: &str = "setup,point,rod kind,type,rod\n1,BM1,direct,BS,100.00\n1,1,,IS,99.4\n\
    1,T,,FS,98.25\n2,T,tenths,BS,4.4\n2,2,,IS,5.4\n2,BM1,,FS,2.65\n";
const PAGE: &str = "point,BS,IS,FS,tape A,tape B,tape C,side,known,from,paces\nBM1,3.42,,,,,,,,,\n\
    B,,,,40,,,,,,\nC,,2.55,,50,30,,left,,,\n1,,4.87,,24,32,,left,,,\n2,,5.20,,30,50,40,,,,\n\
    3,,6.10,,25,25,25,,,,\nTP,,,4.00,50,30,,right,,,\nTP,3.00,,,,,,,,,\n4,,1.00,,24,32,,,,BM1,12\n\
    BM1,,,2.42,,,,,,,\n";

/// A job of its own with its files.
struct Yard {
    job: &'static str,
    files: &'static [(&'static str, &'static str)],
}

const POINT_YARD: Yard = Yard {
    job: "[job]\nname = \"Yard\"\nunits = \"ft\"\n[[survey]]\npoints = \"p.csv\"\n[[strike]]\n\
          shot = \"9\"\nfile = \"p.csv\"\nline = 10\nwhy = \"stump\"\n[ground]\n\
          outline = \"shots:1-4\"\nholes = [[[8, 8], [11, 8], [11, 11], [8, 11]]]\n\
          no_data = [\"code:pile\"]\nbreaklines = [\"code:top\", [\"7\", [20.0, 30.5]]]\n\
          max_edge = 60\nduplicates = \"mean\"\ncrossings = \"mean\"\n[[feature]]\nkind = \"basin\"\n\
          name = \"Pond\"\noutline = [[15, 5], [22, 5], [22, 9], [15, 9]]\n\
          floor = \"level:94\"\nside_run_per_rise = 1.5\n[[section]]\nname = \"A\"\n\
          line = [[1, 1], [30, 30]]\n",
    files: &[(
        "p.csv",
        "name,x,y,z,code\n1,0,0,100,\n2,40,0,99.1,\n3,40,40,97.5,\n4,0,40,98.5,\n5,12,21,98.9,top\n\
         6,20,24,98.7,top\n7,31,26,98.4,top\n8,18,12,99,\n9,19,13,93,\n10,5,30,98.6,pile\n\
         11,9,30,98.6,pile\n12,9,36,98.4,pile\n13,31,9,98.8,\n14,33,33,97.6,lip\n15,18,12,99.1,\n",
    )],
};
const PAGE_YARD: Yard = Yard {
    job: "[job]\nname = \"Yard\"\nunits = \"ft\"\n[control]\ncorners = { A = [0, 0], B = [40, 0] }\n\
          side = { C = \"left\" }\n[[survey]]\nlevels = \"page.csv\"\nrod = \"tenths\"\n\
          adjust = \"setups\"\nallow = \"0.02\"\npace = 2.5\n\
          benchmark = { name = \"BM1\", level = 100.0 }\n",
    files: &[("page.csv", PAGE)],
};
const TIE_YARD: Yard = Yard {
    job: "[job]\nname = \"Yard\"\nunits = \"ft\"\n[control]\n\
          corners = { A = [0, 0, 100], B = [40, 0, 100.5] }\ndistances = [\"A-C 50\", \"B-C 30\", \"A - D: 20.5\"]\n\
          side = { C = \"left\" }\nbaseline = [\"A\", \"B\"]\ntapes = \"ground\"\ntape_error = 0.1\n\
          spacing = [10, 8]\n[[survey]]\nties = \"t.csv\"\n[[survey]]\nties = \"w.csv\"\n\
          [[strike]]\nshot = \"3\"\n",
    files: &[
        (
            "t.csv",
            "point,from,tape,bearing,station,offset,side,row,column,z,code\n\
             1,A,24,N45-30E,,,,,,99,\n2,,,,10,5.2 L,,,,98,\n3,A,30,,,,left,,,97,\n3,B,50,,,,,,,,\n\
             4,C,24,12-30,,,,,,96.5,toe\n5,,,,,,,B,2,97.5,\n6,,,,20,3,right,,,96,\n7,A,25.2,,,,left,,,,\n\
             7,B,25.1,,,,,,,,\n7,C,25,,,,,,,,\nD,C,33,,,,right,,,99,\nC,,,,,,,,,98,\n",
        ),
        (
            "w.csv",
            "point,tape A,tape B,tape C (ft),side,z\n8,30,30.5,,left,98\n9,25,25,25,,97\n7,,,,,97.2\n",
        ),
    ],
};
const TURNED_YARD: Yard = Yard {
    job: "[job]\nname = \"Hof\"\nunits = \"m\"\n[control]\ndistances = [\"A-B 40\", \"A-C 50\", \"B-C 30\", \
          \"A-D 30\", \"C-D 40\", \"B-D 50\"]\nside = { C = \"left\" }\nbearing = \"N30E\"\n[[survey]]\n\
          levels = \"l.csv\"\ndecimal = \"comma\"\nbenchmark = { name = \"BM1\", level = 10.5 }\nrod = \"metric\"\n\
          adjust = \"distance\"\n[[survey]]\nties = \"t.csv\"\ndecimal = \"comma\"\n",
    files: &[
        (
            "l.csv",
            "point;BS;IS;FS;distance;known\nBM1;1,254;;;20,5;\n1;;1,5;;;\n2;;1,62;;;\nT;0,9;;1,8;21;\n\
             3;;2,105;;;\n4;;0,35;;;\nBM1;;;0,354;19,5;\n",
        ),
        (
            "t.csv",
            "point;tape A;tape B;tape C;side\n1;24,5;32,25;;left\n2;30;50;40;\n3;25,0;25;;right\n4;12;33,1;;left\n",
        ),
    ],
};
const GRID_YARD: Yard = Yard {
    job: "[job]\nname = \"Yard\"\nunits = \"ft\"\n[control]\ncorners = { P = [100, 0], Q = [100, 50] }\n\
          [[survey]]\ngrid = \"g.csv\"\nrod = \"tenths\"\nbenchmark = { name = \"BM1\", level = 100.0 }\n\
          backsight = \"3.42\"\nspacing = [10, 8]\norigin = \"P\"\ntowards = \"Q\"\nside = \"right\"\n\
          [[survey]]\ngrid = \"h.csv\"\nrod = \"direct\"\norigin = [0, 0]\n[[survey]]\n\
          points = \"l.csv\"\n[[strike]]\nshot = \"8.5-20\"\n",
    files: &[
        (
            "g.csv",
            "row,0,10,20,30,40\nA,3.00,3.10,,3,2.9\nB,4.00,4.10,4.20,4,4.1\nC,5,5.1,5.2,5,5.25\n\
                   D,6,6,6.1,6.2,6\nE,7,7.1,7,6.9,7\n",
        ),
        ("h.csv", "row,0,10,20\n0,95,96,97\n8.5,94,,96\n"),
        (
            "l.csv",
            "name,row,column,x,y,z\nz,,,70,20,95\ny,,,80,20.5,96\n",
        ),
    ],
};
const VISIT_YARD: Yard = Yard {
    job: "[job]\nname = \"Yard\"\nunits = \"ft\"\n[[survey]]\nlevels = \"v.csv\"\nrod = \"tenths\"\npace = 2.5\n\
          benchmark = { name = \"BM1\", level = 100.0 }\n[[survey]]\nlevels = \"k.csv\"\nrod = \"tenths\"\n\
          benchmark = { name = \"BM1\", level = 100.0 }\n",
    files: &[
        (
            "v.csv",
            "point,BS,IS,FS,from,paces,remark\nBM1,3.42,,,,,\n1,,4.4,,BM1,12,\n2,,5.5,,1,8.5,\n3,,2.2,,,,\n",
        ),
        ("k.csv", KINDS),
    ],
};

/// A file after a few accidents.
fn mangled(seed: &[u8], other: &[u8], random: &mut Random) -> Vec<u8> {
    const ODD: [&[u8]; 14] = [
        b"nan",
        b"inf",
        b"1e300",
        b"-",
        b",,",
        b"\"",
        b"\r",
        b"\0",
        b"\xff",
        b"\xef\xbb\xbf",
        b"99999999999999999999",
        b"'",
        b"=",
        b"\n\n#",
    ];
    let mut bytes = seed.to_vec();
    for _ in 0..1 + random.below(3) {
        let at = random.below(bytes.len() as u64 + 1) as usize;
        let to = (at + random.below(12) as usize).min(bytes.len());
        if random.below(2) == 0 {
            misread(&mut bytes, random);
            continue;
        }
        match random.below(9) {
            0 if at < bytes.len() => bytes[at] ^= 1 << random.below(8),
            1 if at < bytes.len() => bytes[at] = random.below(256) as u8,
            2 => drop(bytes.drain(at..to)),
            3 => bytes.truncate(at),
            4 => {
                let again = bytes[at..to].to_vec();
                bytes.splice(at..at, again);
            }
            5 => {
                let from = random.below(other.len() as u64) as usize;
                bytes.splice(at..to, other[from..].iter().copied());
            }
            6 => {
                let odd = ODD[random.below(ODD.len() as u64) as usize];
                bytes.splice(at..to, odd.iter().copied());
            }
            7 => bytes.rotate_left(at),
            _ => {
                let lines: Vec<&[u8]> = seed.split_inclusive(|&b| b == b'\n').collect();
                let line = lines[random.below(lines.len() as u64) as usize];
                bytes.splice(at..at, line.iter().copied());
            }
        }
    }
    bytes
}

/// Changes, adds or loses a digit, which leaves a file that can mostly be read.
fn misread(bytes: &mut Vec<u8>, random: &mut Random) {
    let digits: Vec<usize> = (0..bytes.len())
        .filter(|&at| bytes[at].is_ascii_digit())
        .collect();
    let pick = random.below(digits.len() as u64) as usize;
    let Some(&at) = digits.get(pick) else { return };
    let digit = b'0' + random.below(10) as u8;
    match random.below(4) {
        0 => drop(bytes.remove(at)),
        1 => bytes.insert(at, digit),
        _ => bytes[at] = digit,
    }
}

fn spec(kind: SurveyKind, rod: RodKind, decimal: Decimal) -> SurveySpec {
    let unit = match rod {
        RodKind::Metric | RodKind::Millimetres => LengthUnit::Metre,
        RodKind::Tenths | RodKind::InchEighths | RodKind::Direct => LengthUnit::Foot,
    };
    SurveySpec {
        decimal,
        at: At::line("shots.csv", 1),
        pace_m: Some(0.75),
        benchmark: (kind == SurveyKind::Levels).then(|| Benchmark {
            name: "BM1".into(),
            level_m: 30.48,
            words: String::new(),
        }),
        rod: rod.into(),
        adjust: Adjust::Setups,
        ..SurveySpec::new(kind, "shots.csv", unit)
    }
}

/// What a reader says of a file: how many things it read.
type Read<'a> = &'a dyn Fn(&[u8]) -> Result<(usize, Vec<Diagnostic>), Failure>;

/// A number from the environment, or the usual one.
fn asked(variable: &str, usual: u64) -> u64 {
    let text = std::env::var(variable).ok();
    text.map_or(usual, |text| text.parse().unwrap())
}

/// Holds what is said of files against them: it names places that exist, in words, with numbers
/// that are numbers.
fn judge(files: &BTreeMap<String, Vec<u8>>, answer: Result<&[Diagnostic], &[Diagnostic]>) {
    let has_error = |said: &[Diagnostic]| said.iter().any(|d| d.level == Level::Error);
    let said = match answer {
        Ok(said) => {
            assert!(!has_error(said), "an error beside an answer");
            said
        }
        Err(said) => {
            assert!(has_error(said), "a failure without an error");
            said
        }
    };
    let texts: BTreeMap<&str, String> = files
        .iter()
        .map(|(name, bytes)| (name.as_str(), String::from_utf8_lossy(bytes).into_owned()))
        .collect();
    let holds = |word: &str| texts.values().any(|text| text.contains(word));
    for d in said {
        assert!(!d.message.is_empty(), "{d}");
        for at in &d.at {
            let Some(text) = texts.get(at.file.as_str()) else {
                panic!("there is no file {:?}: {d}", at.file);
            };
            let lines = text.lines().count() + text.matches('\r').count() + 1;
            assert!(at.line <= lines, "{} has {lines} lines: {d}", at.file);
        }
        assert!(
            d.level != Level::Error || !d.at.is_empty(),
            "no place is named: {d}"
        );
        // The reader of TOML says which letters it expected.
        let words = format!("{} {}", d.message, d.help).replace("`inf`", "");
        for word in words.split(|c: char| !c.is_alphanumeric()) {
            let is_number = !["NaN", "inf"].contains(&word) || holds(word);
            assert!(is_number, "a number that is none: {d}");
        }
    }
}

/// Gives a reader all its mangled files; how many it read, and how many it refused.
fn trials(name: &str, file: &str, seeds: &[&str], read: Read<'_>) {
    let seed = asked("CUTBANK_SEED", 0x5EED);
    let mut random = Random(seed + name.len() as u64);
    let (mut good, mut refused) = (0, 0);
    for trial in 0..asked("CUTBANK_TRIALS", TRIALS) {
        let pick =
            |random: &mut Random| seeds[random.below(seeds.len() as u64) as usize].as_bytes();
        let (first, other) = (pick(&mut random), pick(&mut random));
        let bytes = mangled(first, other, &mut random);
        let files = BTreeMap::from([(file.to_owned(), bytes.clone())]);
        let shown = format!("{name}, trial {trial} of {seed}");
        let answer = survived(&shown, &files, BASE_BYTES, || read(&bytes));
        match answer {
            Ok(_) => good += 1,
            Err(_) => refused += 1,
        }
        let said = answer.as_ref().map(|(_, said)| &said[..]);
        told(&shown, &files, || judge(&files, said.map_err(|f| &f.0[..])));
    }
    println!("{name}: {good} read, {refused} refused in words");
    assert!(
        good > 0 && refused > 0,
        "{name}: {good} read, {refused} refused"
    );
}

/// Runs something; if it panics, shows the files that made it.
fn told<T>(shown: &str, files: &BTreeMap<String, Vec<u8>>, run: impl FnOnce() -> T) -> T {
    let run = std::panic::AssertUnwindSafe(run);
    std::panic::catch_unwind(run).unwrap_or_else(|panic| {
        println!("---- {shown}");
        for (name, bytes) in files {
            println!("---- {name}\n{}", String::from_utf8_lossy(bytes));
        }
        std::panic::resume_unwind(panic)
    })
}

/// Runs something on files within the memory that is granted for them.
fn survived<T>(
    shown: &str,
    files: &BTreeMap<String, Vec<u8>>,
    base: usize,
    run: impl FnOnce() -> T,
) -> T {
    told(shown, files, || {
        let before = ALLOCATOR.current_usage();
        ALLOCATOR.reset_peak_usage();
        let answer = run();
        let taken = ALLOCATOR.peak_usage().saturating_sub(before);
        let given: usize = files.values().map(Vec::len).sum();
        assert!(
            taken <= base + TIMES * given,
            "{taken} bytes for files of {given}"
        );
        answer
    })
}

/// A yard or a visit; everything that is computed of a yard is a number.
fn whole(folder: &Folder, reported: bool) -> Result<Vec<Diagnostic>, Failure> {
    let (job, mut said) = read_job(folder)?;
    match answer(job, folder, &OneThread)? {
        Answer::Visit(visit) => {
            assert!(visit.visit.points.iter().all(|p| p.level_m.is_finite()));
            assert!(!report::visit_files(&visit).is_empty());
            said.extend(visit.diagnostics);
        }
        Answer::Yard(outcome) => {
            sound(&outcome, reported);
            said.extend(outcome.diagnostics);
        }
    }
    Ok(said)
}

fn sound(outcome: &Outcome, reported: bool) {
    let survey = &outcome.survey;
    let surface = &outcome.terrain.surface;
    assert!(survey.shots.iter().all(|s| s.z_m.is_finite()));
    assert!(surface.num_facets() > 0);
    for tie in &survey.ties {
        let numbers = [tie.sin_crossing, tie.times_error, tie.largest_residual_m];
        assert!(numbers.iter().flatten().all(|n| n.is_finite()), "{tie:?}");
        let axes = tie.ellipse.map(|e| [e.semi_major_m, e.semi_minor_m]);
        assert!(axes.iter().flatten().all(|n| n.is_finite()), "{tie:?}");
    }
    let area_m2 = surface.facets().map(|f| surface.area_m2(f)).sum::<f64>();
    let banded_m2: f64 = slope_bands(surface).iter().map(|b| b.area_m2()).sum();
    assert!((banded_m2 - area_m2).abs() <= 1e-9 * area_m2);
    if let Ok(trust) = &outcome.trust {
        assert!(trust.at_centres_m.iter().all(|m| m.is_finite() && *m > 0.0));
        let graded_m2: f64 = trust.grades.iter().map(|g| g.area_m2).sum();
        assert!(
            (graded_m2 - area_m2).abs() <= 1e-6 * area_m2,
            "{graded_m2} of {area_m2}"
        );
    }
    let heights = surface.vertices().iter().map(|v| v.z);
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), z| {
        (l.min(z), h.max(z))
    });
    let levels: Vec<f64> = levels_between(low, high, (high - low).max(0.01) / 7.0)
        .iter()
        .map(|level| level.1)
        .collect();
    for line in contours(surface, &levels, &|_| true) {
        assert!(line.points.iter().flatten().all(|m| m.is_finite()));
    }
    if reported {
        for (name, content) in report::files(outcome) {
            // Numbers of a binary file stand in its head too.
            let text = String::from_utf8_lossy(&written(&content)).into_owned();
            assert!(!text.contains("NaN"), "{name}");
        }
        assert!(!report::text(outcome).contains("NaN"));
    }
}

/// Mangles the job or a file of a yard and runs the whole of it.
fn yards(name: &str, yard: &Yard, count: u64) {
    let seed = asked("CUTBANK_SEED", 0x5EED);
    let mut random = Random(seed ^ (name.len() as u64) << 32);
    let mut files: Vec<(&str, &str)> = vec![("job.toml", yard.job)];
    files.extend(yard.files);
    let (mut good, mut refused) = (0, 0);
    for trial in 0..count {
        let mut folder = Folder::default();
        for (name, text) in &files {
            folder = folder.with(name, text);
        }
        if trial > 0 {
            // The job is damaged less often than what is measured.
            let first = usize::from(random.below(4) > 0);
            let at = first * (1 + random.below(files.len() as u64 - 1) as usize);
            let other = files[random.below(files.len() as u64) as usize].1;
            let (name, text) = files[at];
            let bytes = mangled(text.as_bytes(), other.as_bytes(), &mut random);
            folder.files.insert(name.to_owned(), bytes);
        }
        let shown = format!("{name}, trial {trial} of {seed}");
        let reported = good % REPORTED == 0;
        let answer = survived(&shown, &folder.files, YARD_BYTES, || {
            whole(&folder, reported)
        });
        told(&shown, &folder.files, || {
            judge(&folder.files, answer.as_deref().map_err(|f| &f.0[..]));
            let checked = check_job(&folder);
            judge(&folder.files, checked.as_deref().map_err(|f| &f.0[..]));
            assert!(
                trial > 0 || answer.is_ok(),
                "the undamaged yard: {answer:?}"
            );
        });
        match answer {
            Ok(_) => good += 1,
            Err(_) => refused += 1,
        }
    }
    println!("{name}: {good} yards, {refused} refused in words");
}

// One test, since the peak of memory belongs to the whole process.
#[test]
fn readers_survive_any_bytes() {
    let file = "shots.csv";
    let points = [POINTS, SPACED];
    trials("points", file, &points, &|bytes| {
        let (shots, said) = read_points(
            &spec(SurveyKind::Points, RodKind::Tenths, Decimal::Point),
            bytes,
        )?;
        Ok((shots.len(), said))
    });
    trials("points with commas", file, &[COMMA, POINTS], &|bytes| {
        let (shots, said) = read_points(
            &spec(SurveyKind::Points, RodKind::Tenths, Decimal::Comma),
            bytes,
        )?;
        Ok((shots.len(), said))
    });
    for decimal in [Decimal::Point, Decimal::Comma] {
        let seeds: Vec<String> = [TIE_YARD, TURNED_YARD]
            .iter()
            .flat_map(|yard| yard.files.iter())
            .filter(|(name, _)| ["t.csv", "w.csv"].contains(name))
            .map(|(_, text)| text.to_string())
            .collect();
        let seeds: Vec<&str> = seeds.iter().map(String::as_str).collect();
        trials(&format!("ties {decimal:?}"), file, &seeds, &|bytes| {
            let (shots, said) =
                read_points(&spec(SurveyKind::Ties, RodKind::Tenths, decimal), bytes)?;
            Ok((shots.len(), said))
        });
    }
    let tenths = Rod::from(RodKind::Tenths);
    let upside_down = Rod {
        upside_down: true,
        ..tenths
    };
    for (rod, decimal, seeds) in [
        (tenths, Decimal::Point, [TYPED, FIELD]),
        (upside_down, Decimal::Point, [TYPED, PAGE]),
        (RodKind::InchEighths.into(), Decimal::Point, [INCHES, KINDS]),
        (RodKind::Direct.into(), Decimal::Point, [TYPED, FIELD]),
        (RodKind::Direct.into(), Decimal::Point, [DIRECT, KINDS]),
        (
            RodKind::Metric.into(),
            Decimal::Comma,
            [TURNED_YARD.files[0].1, KINDS],
        ),
        (
            RodKind::Millimetres.into(),
            Decimal::Point,
            [MILLIMETRES, KINDS],
        ),
        (tenths, Decimal::Point, [PAGE, KINDS]),
    ] {
        trials(&format!("levels {}", rod.words()), file, &seeds, &|bytes| {
            let mut spec = spec(SurveyKind::Levels, rod.kind, decimal);
            spec.rod = rod;
            if bytes.windows(3).any(|w| w == b"bs,") {
                spec.benchmark = None;
            }
            let (book, said) = read_levels(&spec, bytes)?;
            let levels = book.sights.iter().map(|s| s.adjusted_m);
            assert!(levels.chain(book.misclosure_m).all(f64::is_finite));
            Ok((book.sights.len(), said))
        });
    }
    let jobs = [
        JOB,
        TIE_YARD.job,
        TURNED_YARD.job,
        GRID_YARD.job,
        PAGE_YARD.job,
    ];
    trials("job", "job.toml", &jobs, &|bytes| {
        let text = String::from_utf8_lossy(bytes);
        let (job, said) = read_job_text("job.toml", &text)?;
        Ok((job.features.len(), said))
    });
    // What was read makes a ground or is refused in words.
    let count = asked("CUTBANK_TRIALS", TRIALS) / 5;
    for (name, yard) in [
        ("points", POINT_YARD),
        ("a notebook page", PAGE_YARD),
        ("ties", TIE_YARD),
        ("ties, commas", TURNED_YARD),
        ("a grid of rods", GRID_YARD),
        ("a quick visit", VISIT_YARD),
    ] {
        yards(name, &yard, count);
    }
}
