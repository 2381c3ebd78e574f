//! Readers are given what is left of good files after bytes were turned, lost, doubled and moved.
//!
//! Whatever comes, a reader answers with shots or with words that name the file; it does not
//! panic, and it takes no more memory than a small multiple of the file. All trials are seeded.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use common::{Folder, Random};
use cutbank::diag::{Diagnostic, Failure, Level};
use cutbank::job::{
    Adjust, Benchmark, Decimal, RodKind, SurveyKind, SurveySpec, read as read_job_text,
};
use cutbank::survey::{Survey, read_levels, read_points};
use cutbank::terrain::build;
use cutbank::units::LengthUnit;
use peak_alloc::PeakAlloc;

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

/// Files mangled for every reader.
const TRIALS: u64 = 4_000;
/// Most memory a reader may take for one file: this many times its bytes, and a base for
/// messages and tables.
const TIMES: usize = 200;
const BASE_BYTES: usize = 4 << 20;

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

fn spec(kind: SurveyKind, rod: RodKind, decimal: Decimal) -> SurveySpec {
    SurveySpec {
        decimal,
        pace_m: Some(0.75),
        benchmark: (kind == SurveyKind::Levels).then(|| Benchmark {
            name: "BM1".into(),
            level_m: 30.48,
            words: String::new(),
        }),
        rod: rod.into(),
        adjust: Adjust::Setups,
        ..SurveySpec::new(kind, "shots.csv", LengthUnit::Foot)
    }
}

/// What a reader says of a file: how many things it read.
type Read<'a> = &'a dyn Fn(&[u8]) -> Result<(usize, Vec<Diagnostic>), Failure>;

/// Gives a reader all its mangled files; how many it read, and how many it refused.
fn trials(name: &str, seeds: &[&str], read: Read<'_>) -> (usize, usize) {
    let mut random = Random(0x5EED + name.len() as u64);
    let (mut good, mut refused) = (0, 0);
    for trial in 0..TRIALS {
        let pick =
            |random: &mut Random| seeds[random.below(seeds.len() as u64) as usize].as_bytes();
        let (seed, other) = (pick(&mut random), pick(&mut random));
        let bytes = mangled(seed, other, &mut random);
        let before = ALLOCATOR.current_usage();
        ALLOCATOR.reset_peak_usage();
        let answer = read(&bytes);
        let taken = ALLOCATOR.peak_usage().saturating_sub(before);
        let shown = String::from_utf8_lossy(&bytes);
        assert!(
            taken <= BASE_BYTES + TIMES * bytes.len(),
            "{name} trial {trial}: {taken} bytes for {}\n{shown}",
            bytes.len()
        );
        let said = match answer {
            Ok((_, said)) => {
                good += 1;
                assert!(said.iter().all(|d| d.level != Level::Error), "{shown}");
                said
            }
            Err(Failure(said)) => {
                refused += 1;
                assert!(said.iter().any(|d| d.level == Level::Error), "{shown}");
                said
            }
        };
        for d in &said {
            let line = shown.lines().count() + shown.matches('\r').count() + 1;
            assert!(!d.message.is_empty(), "{name} trial {trial}: {d}\n{shown}");
            assert!(
                d.at.iter().all(|at| !at.file.is_empty() && at.line <= line),
                "{name} trial {trial}: {d}\n{shown}"
            );
            assert!(
                d.level != Level::Error || !d.at.is_empty(),
                "{name} trial {trial}: {d} names no place\n{shown}"
            );
        }
    }
    println!("{name}: {good} read, {refused} refused in words");
    assert!(
        good > 0 && refused > 0,
        "{name}: {good} read, {refused} refused"
    );
    (good, refused)
}

// One test, since the peak of memory belongs to the whole process.
#[test]
fn readers_survive_any_bytes() {
    let points = [POINTS, SPACED];
    trials("points", &points, &|bytes| {
        let (shots, said) = read_points(
            &spec(SurveyKind::Points, RodKind::Tenths, Decimal::Point),
            bytes,
        )?;
        Ok((shots.len(), said))
    });
    trials("points with commas", &[COMMA, POINTS], &|bytes| {
        let (shots, said) = read_points(
            &spec(SurveyKind::Points, RodKind::Tenths, Decimal::Comma),
            bytes,
        )?;
        Ok((shots.len(), said))
    });
    for (rod, seeds) in [
        (RodKind::Tenths, [TYPED, FIELD]),
        (RodKind::InchEighths, [INCHES, INCHES]),
        (RodKind::Direct, [TYPED, FIELD]),
    ] {
        trials(&format!("levels {rod:?}"), &seeds, &|bytes| {
            let mut spec = spec(SurveyKind::Levels, rod, Decimal::Point);
            if bytes.windows(3).any(|w| w == b"bs,") {
                spec.benchmark = None;
            }
            let (book, said) = read_levels(&spec, bytes)?;
            Ok((book.sights.len(), said))
        });
    }
    trials("job", &[JOB], &|bytes| {
        let text = String::from_utf8_lossy(bytes);
        let (job, said) = read_job_text("job.toml", &text)?;
        Ok((job.features.len(), said))
    });
    // What was read makes a ground or is refused in words.
    trials("ground", &[POINTS, SPACED], &|bytes| {
        let folder = Folder::default().with_bytes("shots.csv", bytes);
        let spec = spec(SurveyKind::Points, RodKind::Tenths, Decimal::Point);
        let (survey, mut said) = Survey::read(&[spec], &folder)?;
        let (terrain, more) = build(&survey, &cutbank::job::GroundSpec::default())?;
        said.extend(more);
        Ok((terrain.num_shots, said))
    });
}
