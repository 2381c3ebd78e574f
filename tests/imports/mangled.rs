//! Every reader on files damaged by chance: words or a sound import, no panic, bounded memory.
//!
//! All trials are seeded; `CUTBANK_TRIALS=400000 CUTBANK_SEED=7` asks for more, or for others.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use cutbank::diag::{Diagnostic, Failure, Level};
use cutbank::import::{Content, Import};
use peak_alloc::PeakAlloc;

use super::common::Random;
use super::{adds_up, faces, import};

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

/// Files damaged for each kind, unless `CUTBANK_TRIALS` asks for more.
const TRIALS: u64 = 12_000;

/// Most memory a reader may take for one file: this many times its bytes, and a base for buffers
/// and tables.
const TIMES: usize = 200;
const BASE_BYTES: usize = 4 << 20;

/// What a byte can hold of packed heights becomes 52 bytes of faces and a row: deflate holds a
/// thousand bytes in one, and a file of a kilobyte may honestly be a level megabyte.
const PACKED_TIMES: usize = 32_000;

fn asked(variable: &str, usual: u64) -> u64 {
    let text = std::env::var(variable).ok();
    text.map_or(usual, |text| text.parse().unwrap())
}

/// A file after a few accidents: bits turned, bytes set, lost, doubled, moved, numbers of two,
/// four and eight bytes set to what is rarely thought of, text put in.
fn damaged(seed: &[u8], other: &[u8], random: &mut Random) -> Vec<u8> {
    const TEXTS: [&str; 18] = [
        "nan",
        "inf",
        "-",
        "1e300",
        "1e-300",
        "0",
        "-9999",
        "99999999999999999999",
        "<",
        ">",
        "&",
        "\"",
        "<F>1 2 3</F>",
        "<!--",
        "]]>",
        "\0",
        "\r\n",
        "\u{e9}",
    ];
    const NUMBERS: [u64; 10] = [
        0,
        1,
        2,
        7,
        0x7f,
        0xff,
        0x7fff,
        0xffff,
        0xffff_ffff,
        u64::MAX,
    ];
    let mut bytes = seed.to_vec();
    for _ in 0..1 + random.below(3) {
        if bytes.is_empty() {
            return bytes;
        }
        // Half of the accidents happen where headers are.
        let reach = if random.below(2) == 0 {
            bytes.len().min(400)
        } else {
            bytes.len()
        };
        let at = random.below(reach as u64) as usize;
        let to = (at + random.below(24) as usize).min(bytes.len());
        match random.below(9) {
            0 | 1 => bytes[at] ^= 1 << random.below(8),
            2 => bytes[at] = random.below(256) as u8,
            3 => drop(bytes.drain(at..to)),
            4 => bytes.truncate(at),
            5 => {
                let again = bytes[at..to].to_vec();
                bytes.splice(at..at, again);
            }
            6 => {
                let from = random.below(other.len() as u64) as usize;
                let end = (from + random.below(64) as usize).min(other.len());
                bytes.splice(at..to, other[from..end].iter().copied());
            }
            7 => {
                let number = NUMBERS[random.below(10) as usize];
                let size = [1, 2, 4, 8][random.below(4) as usize];
                let end = (at + size).min(bytes.len());
                bytes[at..end].copy_from_slice(&number.to_le_bytes()[..end - at]);
            }
            _ => {
                let text = TEXTS[random.below(18) as usize];
                bytes.splice(at..to, text.bytes());
            }
        }
    }
    bytes
}

/// What is given on is what every room behind may rely on.
fn sound(import: &Import) {
    adds_up(import);
    assert!(import.facts.height_error_m > 0.0);
    for p in import.content.points() {
        assert!(p.z.is_finite() && p.z.abs() <= 4.0e8, "{p:?}");
        assert!(p.p.x.abs() <= 1 << 60 && p.p.y.abs() <= 1 << 60, "{p:?}");
    }
    if let Content::Faces(mesh) = &import.content {
        faces(import);
        for line in &mesh.breaklines {
            assert!(line.len() > 1);
            assert!(line.iter().all(|&v| (v as usize) < mesh.vertices.len()));
        }
    }
}

/// Reads a file; how much memory that took at most, bytes.
fn measured(file: &str, bytes: &[u8]) -> (Result<(Import, Vec<Diagnostic>), Failure>, usize) {
    let before = ALLOCATOR.current_usage();
    ALLOCATOR.reset_peak_usage();
    let answer = import(file, bytes);
    (answer, ALLOCATOR.peak_usage().saturating_sub(before))
}

fn judged(file: &str, bytes: &[u8], times: usize) -> bool {
    let given = BASE_BYTES + times * bytes.len();
    let (answer, mut taken) = measured(file, bytes);
    // Other tests of this program run beside and take what they take: a fault shows every time.
    for _ in 0..20 {
        if taken > given {
            std::thread::sleep(std::time::Duration::from_millis(20));
            taken = measured(file, bytes).1;
        }
    }
    assert!(
        taken <= given,
        "{taken} bytes for a file of {}",
        bytes.len()
    );
    match answer {
        Ok((import, said)) => {
            assert!(said.iter().all(|d| d.level != Level::Error));
            sound(&import);
            true
        }
        Err(Failure(said)) => {
            assert!(said.iter().any(|d| d.level == Level::Error));
            let lines = bytes.iter().filter(|&&b| b == b'\n').count() + 1;
            for d in &said {
                assert!(
                    !d.message.is_empty() && !d.help.is_empty() && !d.at.is_empty(),
                    "{d}"
                );
                assert!(
                    d.at.iter().all(|at| at.file == file && at.line <= lines),
                    "{d}"
                );
            }
            false
        }
    }
}

fn trials(file: &str, seeds: &[Vec<u8>], times: usize) {
    let seed = asked("CUTBANK_SEED", 0x5EED);
    let mut random = Random(seed + file.len() as u64);
    let (mut good, mut refused) = (0, 0);
    for seed in seeds {
        assert!(judged(file, seed, times), "a whole file is refused");
    }
    for trial in 0..asked("CUTBANK_TRIALS", TRIALS) {
        let pick = |random: &mut Random| &seeds[random.below(seeds.len() as u64) as usize];
        let (first, other) = (pick(&mut random), pick(&mut random));
        let bytes = damaged(first, other, &mut random);
        let run = catch_unwind(AssertUnwindSafe(|| judged(file, &bytes, times)));
        match run {
            Ok(true) => good += 1,
            Ok(false) => refused += 1,
            Err(panic) => {
                let kept = std::env::temp_dir().join(format!("cutbank-{trial}-{file}"));
                std::fs::write(&kept, &bytes).unwrap();
                println!("---- {file}, trial {trial} of {seed}: {}", kept.display());
                std::panic::resume_unwind(panic);
            }
        }
    }
    println!("{file}: {good} read, {refused} refused in words");
    assert!(good > 0 && refused > 0, "{good} read, {refused} refused");
}

#[test]
fn damaged_ascii_grids() {
    let seeds = [
        "ncols 5\nnrows 4\nxllcorner 100.5\nyllcorner -3\ncellsize 0.5\nNODATA_value -9999\n\
         1 2 3 4 5\n6 7 -9999 9 10\n11 12 13 14 15.25\n1e1 17 18 nan 20\n",
        "NCOLS 3\r\nNROWS 3\r\nXLLCENTER 0\r\nYLLCENTER 0\r\nDX 2\r\nDY 1\r\n-1.5 2 3 \r\n4 5 6 \r\n7 8 9 \r\n",
    ];
    let seeds: Vec<Vec<u8>> = seeds.iter().map(|s| s.as_bytes().to_vec()).collect();
    trials("g.asc", &seeds, TIMES);
}

#[test]
fn damaged_points_as_text() {
    let seeds = [
        "500000.5 4100000.25 100\n500001 4100000 101.5\n500000 4100001 99\n500002 4100002 98e0\n",
        "# made by a machine\r\nX;Y;Z;I\r\n0;0;1;7\r\n9;0;2;7\r\n0;9;3;7\r\n\r\n9;9;-4.125;7\r\n",
        "\u{feff}0,0,1\n// beside\n1,0,1\n0,0,0.5\n0,1,1\n1\t1 1\n",
    ];
    let seeds: Vec<Vec<u8>> = seeds.iter().map(|s| s.as_bytes().to_vec()).collect();
    trials("p.xyz", &seeds, TIMES);
}

#[test]
fn damaged_tiffs() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/grids");
    let seeds: Vec<Vec<u8>> = [
        "f32_none_strips.tif",
        "f32_deflate_p3_tiles.tif",
        "f64_deflate_p2_tiles.tif",
        "f64_lzw_p3_strips.tif",
        "i16_lzw_p2_tiles.tif",
        "u16_packbits_strips.tif",
        "i32_deflate_p2_big_endian.tif",
        "f64_none_bigtiff_big_endian.tif",
        "f32_deflate_bigtiff.tif",
        "f16_deflate_p3.tif",
        "f32_sparse_tiles.tif",
        "f32_turned.tif",
        "f32_point.tif",
        "f32_us_feet.tif",
        "two_pages.tif",
        "with_overviews.tif",
    ]
    .iter()
    .map(|name| std::fs::read(folder.join(name)).unwrap())
    .collect();
    trials("g.tif", &seeds, PACKED_TIMES);
}

#[test]
fn damaged_surfaces() {
    let yard = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/yard_metric/yard.landxml.xml");
    let square = "<?xml version=\"1.0\"?>\n<LandXML version=\"1.2\">\n<Units><Imperial linearUnit=\"USSurveyFoot\"/></Units>\n\
        <Surfaces><Surface name=\"a &amp; b\" state=\"existing\">\n<SourceData><Breaklines><Breakline><PntList3D>0 0 1 9 9 3</PntList3D></Breakline></Breaklines>\n\
        <DataPoints><PntList3D>0 0 1 0 9 2</PntList3D></DataPoints></SourceData>\n<Definition surfType=\"TIN\">\n<Pnts>\n\
        <P id=\"1\">0 0 1</P>\n<P id=\"2\">0 9 2</P>\n<P id=\"7\">9 9 3</P>\n<P id=\"4\">9 0 1.5</P>\n<P id=\"5\">18 0 1.5</P></Pnts>\n<Faces>\n\
        <F b=\"3\" n=\"0 0 2\">1 2 7</F>\n<F>1 4 7</F>\n<F i=\"1\">4 5 7</F><F>1 2 2</F></Faces></Definition></Surface></Surfaces>\n</LandXML>\n";
    let points = "<LandXML version=\"1.2\">\n<CgPoints>\n<CgPoint name=\"1\">0 0 1</CgPoint>\n<CgPoint>0 9 2</CgPoint>\n<CgPoint>9 0 3</CgPoint>\
        <CgPoint>7 7</CgPoint>\n</CgPoints><Units><Metric linearUnit=\"millimeter\"/></Units></LandXML>\n";
    let four = square
        .replace("\"TIN\"", "\"grid\"")
        .replace("1 2 7", "1 2 7 4")
        .replace("<F>1 4 7</F>", "");
    let source = square
        .replace("<Definition", "<Other")
        .replace("</Definition", "</Other")
        .replace("0 9 2</PntL", "0 9 2 5 5 5</PntL");
    let seeds = vec![
        std::fs::read(yard).unwrap(),
        square.into(),
        points.into(),
        four.into(),
        source.into(),
    ];
    trials("s.xml", &seeds, TIMES);
}
