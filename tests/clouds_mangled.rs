//! Clouds after accidents: LAS, LAZ and COPC files with bytes turned, lost, doubled and moved, and
//! with odd numbers in their headers.
//!
//! Whatever comes is read or refused in words that name the file, without a panic and within a
//! small multiple of the file in memory. All trials are seeded; `CUTBANK_TRIALS=400000
//! CUTBANK_SEED=7` asks for more of them, or for others.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod common;

use common::{Folder, Random, package};
use cutbank::diag::Level;
use cutbank::import::read;
use cutbank::job::{GroundFilter, ImportKind, ImportSpec};
use cutbank::units::LengthUnit;
use peak_alloc::PeakAlloc;

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

/// Files mangled, unless `CUTBANK_TRIALS` asks for more.
const TRIALS: u64 = 6_000;
/// Most memory that reading a file may take: this many times its bytes, and a base for the
/// unpacker's tables.
const TIMES: usize = 200;
const BASE_BYTES: usize = 16 << 20;
/// Where numbers of the header stand, and their bytes: LAS Specification 1.4 R15, table 3.
const FIELDS: [(usize, usize); 34] = [
    (6, 2),
    (24, 1),
    (25, 1),
    (94, 2),
    (96, 4),
    (100, 4),
    (104, 1),
    (105, 2),
    (107, 4),
    (111, 4),
    (131, 8),
    (139, 8),
    (147, 8),
    (155, 8),
    (163, 8),
    (171, 8),
    (179, 8),
    (187, 8),
    (195, 8),
    (203, 8),
    (211, 8),
    (219, 8),
    (227, 8),
    (235, 8),
    (243, 4),
    (247, 8),
    (255, 8),
    // The first record behind a header of 227 or 375 bytes: number and length, then its content.
    (245, 2),
    (247, 2),
    (281, 2),
    (393, 2),
    (395, 2),
    (429, 2),
    (431, 4),
];

/// A file after a few accidents.
fn mangled(seed: &[u8], other: &[u8], random: &mut Random) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..1 + random.below(3) {
        let length = bytes.len() as u64;
        // Headers are small; half of the accidents happen there.
        let at = match random.below(2) {
            0 => random.below(length.min(700) + 1),
            _ => random.below(length + 1),
        } as usize;
        let to = (at + random.below(24) as usize).min(bytes.len());
        match random.below(10) {
            0..=1 if at < bytes.len() => bytes[at] ^= 1 << random.below(8),
            2 if at < bytes.len() => bytes[at] = random.below(256) as u8,
            3 => drop(bytes.drain(at..to)),
            4 => bytes.truncate(at),
            5 => {
                let from = random.below(other.len() as u64) as usize;
                let piece = other[from..].iter().take(to - at).copied();
                bytes.splice(at..to, piece);
            }
            6 => {
                let again = bytes[at..to].to_vec();
                bytes.splice(at..at, again);
            }
            7 => odd_number(&mut bytes, at, 1 << random.below(4), random),
            _ => {
                let (at, size) = FIELDS[random.below(FIELDS.len() as u64) as usize];
                odd_number(&mut bytes, at, size, random);
            }
        }
    }
    bytes
}

/// Writes a number that nobody expects.
fn odd_number(bytes: &mut [u8], at: usize, size: usize, random: &mut Random) {
    let floats = [
        f64::NAN,
        f64::INFINITY,
        -1.0,
        1e300,
        -1e300,
        1e-300,
        0.0,
        1e9,
    ];
    let whole = [
        0,
        1,
        2,
        3,
        0x7f,
        0x80,
        0xff,
        0x7fff_ffff,
        0xffff_ffff,
        u64::MAX,
    ];
    let odd = match random.below(4) {
        0 => random.next(),
        1 if size == 8 => floats[random.below(8) as usize].to_bits(),
        2 => random.below(100_000),
        _ => whole[random.below(10) as usize],
    };
    if let Some(place) = bytes.get_mut(at..at + size) {
        place.copy_from_slice(&odd.to_le_bytes()[..size]);
    }
}

/// A small cloud by the `las` crate.
fn made(format: u8, packed: bool, extra: u16) -> Vec<u8> {
    let mut builder = las::Builder::from((1, if format >= 6 { 4 } else { 3 }));
    builder.point_format = las::point::Format::new(format).unwrap();
    builder.point_format.is_compressed = packed;
    builder.point_format.extra_bytes = extra;
    let format = builder.point_format;
    builder.transforms.x.scale = 0.01;
    builder.transforms.y.scale = 0.01;
    builder.transforms.z.scale = 0.01;
    let mut header = builder.into_header().unwrap();
    if format.is_extended {
        header
            .set_wkt_crs(b"PROJCS[\"p\",GEOGCS[\"g\"],UNIT[\"metre\",1]]".to_vec())
            .unwrap();
    }
    let mut writer = las::Writer::new(std::io::Cursor::new(Vec::new()), header).unwrap();
    let mut random = Random(5);
    for k in 0..250 {
        let class = [2, 2, 2, 1, 5, 7][random.below(6) as usize];
        let point = las::Point {
            x: random.between(0.0, 60.0),
            y: random.between(0.0, 60.0),
            z: random.between(10.0, 14.0),
            classification: las::point::Classification::new(class).unwrap(),
            return_number: 1,
            number_of_returns: 1,
            gps_time: format.has_gps_time.then_some(f64::from(k)),
            color: format.has_color.then(las::Color::default),
            nir: format.has_nir.then_some(7),
            waveform: format.has_waveform.then(Default::default),
            extra_bytes: vec![3; usize::from(extra)],
            ..las::Point::default()
        };
        writer.write_point(point).unwrap();
    }
    writer.into_inner().unwrap().into_inner()
}

fn asked(variable: &str, usual: u64) -> u64 {
    let text = std::env::var(variable).ok();
    text.map_or(usual, |text| text.parse().unwrap())
}

#[test]
fn clouds_survive_any_bytes() {
    let shipped = package("las").join("tests/data");
    let mut seeds: Vec<Vec<u8>> = ["autzen.las", "autzen.laz", "autzen.copc.laz"]
        .iter()
        .map(|file| std::fs::read(shipped.join(file)).unwrap())
        .collect();
    for (format, packed, extra) in [
        (0, false, 0),
        (6, false, 3),
        (1, true, 0),
        (2, true, 4),
        (5, true, 0),
        (6, true, 0),
        (8, true, 5),
        (9, true, 0),
    ] {
        seeds.push(made(format, packed, extra));
    }
    let seed = asked("CUTBANK_SEED", 0x5EED);
    let mut random = Random(seed);
    let (mut good, mut refused, mut largest) = (0, 0, 0);
    let mut codes = std::collections::BTreeMap::new();
    for trial in 0..asked("CUTBANK_TRIALS", TRIALS) {
        let pick = |random: &mut Random| random.below(seeds.len() as u64) as usize;
        let (first, other) = (pick(&mut random), pick(&mut random));
        let bytes = mangled(&seeds[first], &seeds[other], &mut random);
        let mut spec = ImportSpec::new(ImportKind::Cloud, "scan.laz", LengthUnit::Metre);
        spec.cloud.filter = match random.below(4) {
            0 => GroundFilter::Always,
            _ => GroundFilter::IfUnclassified,
        };
        if random.below(2) == 0 {
            spec.units = Some(LengthUnit::Foot);
        }
        let given = bytes.len();
        let files = Folder::default().with_bytes("scan.laz", &bytes);
        let before = ALLOCATOR.current_usage();
        ALLOCATOR.reset_peak_usage();
        let run = std::panic::AssertUnwindSafe(|| read(&spec, &files));
        let answer = std::panic::catch_unwind(run)
            .unwrap_or_else(|_| panic!("trial {trial} of seed {seed}, from file {first}"));
        let taken = ALLOCATOR.peak_usage().saturating_sub(before);
        largest = largest.max(taken.saturating_sub(TIMES * given));
        assert!(
            taken <= BASE_BYTES + TIMES * given,
            "trial {trial} of seed {seed}: {taken} bytes for a file of {given}"
        );
        match answer {
            Ok((import, said)) => {
                good += 1;
                let left: u64 = import.facts.left_out.iter().map(|l| l.count).sum();
                assert_eq!(import.facts.read, import.facts.kept + left);
                assert!(import.content.points().iter().all(|p| p.z.is_finite()));
                assert!(said.iter().all(|d| d.level != Level::Error));
            }
            Err(fault) => {
                refused += 1;
                *codes.entry(fault.0[0].code).or_insert(0) += 1;
                for said in &fault.0 {
                    assert!(said.at.iter().any(|at| at.file == "scan.laz"), "{said}");
                    let words = said.to_string();
                    for word in words.split(|c: char| !c.is_alphanumeric()) {
                        assert!(
                            !["NaN", "inf"].contains(&word),
                            "a number that is none: {words}"
                        );
                    }
                }
            }
        }
    }
    println!(
        "{good} read, {refused} refused in words {codes:?}; {largest} bytes at most above {TIMES} times the file"
    );
}
