//! `cargo bench --bench scan`: clouds read and thinned, triangulated, and made a yard's ground.
//!
//! `CUTBANK_CLOUDS` names a folder with `c1m.las`, `c1m.laz`, `c10m.las`, `c100m.las` (those that
//! are there are read); without it a cloud of a million points is written and read. Times are
//! ratios in the same run: to the bare decode of all points by the `las` crate on one thread, and
//! to the `delaunator` crate on the points kept. Two threads read, one triangulates.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    unreachable_pub,
    missing_docs
)]

#[path = "../common/mod.rs"]
mod common;
#[path = "stopwatch.rs"]
mod stopwatch;

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use common::Random;
use cutbank::files::{Files, Stream, Workers};
use cutbank::geom::{Point, triangulate};
use cutbank::import;
use cutbank::job::{GroundSpec, ImportKind, ImportSpec};
use cutbank::survey::{Sources, Survey};
use cutbank::terrain;
use cutbank::units::LengthUnit;
use las::{Builder, Reader, Transform, Writer};
use peak_alloc::PeakAlloc;
use stopwatch::best;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

const MIB: f64 = 1_048_576.0;

/// The aims: times as ratios, bytes a point kept, and a limit for all.
const READ: f64 = 1.5;
const TRIANGULATE: f64 = 1.5;
const BYTES_A_POINT: f64 = 150.0;
const ALL_MIB: f64 = 2_048.0;

/// Two threads of the standard library.
struct Threads;

impl Workers for Threads {
    fn for_each(&self, count: usize, work: &(dyn Fn(usize) + Sync)) {
        let next = AtomicUsize::new(0);
        std::thread::scope(|scope| {
            for _ in 0..2 {
                scope.spawn(|| {
                    loop {
                        let index = next.fetch_add(1, Ordering::Relaxed);
                        if index >= count {
                            break;
                        }
                        work(index);
                    }
                });
            }
        });
    }
}

struct Clouds(PathBuf);

impl Files for Clouds {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        std::fs::read(self.0.join(name)).map_err(|e| e.to_string())
    }

    fn open(&self, name: &str) -> Result<Box<dyn Stream>, String> {
        let file = File::open(self.0.join(name)).map_err(|e| e.to_string())?;
        Ok(Box::new(BufReader::with_capacity(1 << 20, file)))
    }

    fn workers(&self) -> &dyn Workers {
        &Threads
    }

    fn today(&self) -> String {
        "2024-05-01".to_owned()
    }
}

/// Rolling ground with 20 mm of noise, 40 points a square metre, all of class 2.
fn write_cloud(path: &Path, n: usize) {
    let mut builder = Builder::from((1, 4));
    builder.point_format = las::point::Format::new(6).unwrap();
    builder.transforms = las::Vector {
        x: Transform {
            scale: 0.001,
            offset: 500_000.0,
        },
        y: Transform {
            scale: 0.001,
            offset: 4_100_000.0,
        },
        z: Transform {
            scale: 0.001,
            offset: 0.0,
        },
    };
    let mut writer = Writer::from_path(path, builder.into_header().unwrap()).unwrap();
    let mut random = Random(1);
    let side = (n as f64 / 40.0).sqrt();
    for _ in 0..n {
        let (x, y) = (random.between(0.0, side), random.between(0.0, side));
        let noise: f64 = (0..12).map(|_| random.between(-0.02, 0.02)).sum::<f64>() / 2.0;
        let point = las::Point {
            x: x + 500_000.0,
            y: y + 4_100_000.0,
            z: 100.0 + 0.02 * x + 1.5 * (x / 13.0).sin() * (y / 18.0).cos() + noise,
            classification: las::point::Classification::Ground,
            ..las::Point::default()
        };
        writer.write_point(point).unwrap();
    }
    writer.close().unwrap();
}

/// Every point of a file, owned, as the crate gives them.
fn decode(path: &Path) -> u64 {
    let mut reader = Reader::from_path(path).unwrap();
    let mut count = 0;
    loop {
        let some = reader.read_points(1 << 16).unwrap();
        if some.is_empty() {
            return count;
        }
        for point in some.points() {
            count += u64::from(std::hint::black_box(point.unwrap()).x.is_finite());
        }
    }
}

fn word(is_met: bool) -> &'static str {
    if is_met { "met" } else { "not met" }
}

fn bench(files: &Clouds, name: &str) {
    let path = files.0.join(name);
    let runs = if std::fs::metadata(&path).unwrap().len() > 1 << 30 {
        1
    } else {
        3
    };
    let (bare, count) = best(runs, || decode(&path));
    let spec = ImportSpec::new(ImportKind::Cloud, name, LengthUnit::Metre);
    let before = MEMORY.current_usage();
    MEMORY.reset_peak_usage();
    let (read, (cloud, _)) = best(runs, || {
        import::read(&spec, files).unwrap_or_else(|fault| panic!("{fault}"))
    });
    let read_peak = (MEMORY.peak_usage() - before) as f64 / MIB;
    let facts = &cloud.facts;
    println!(
        "\n{name}: {count} points, {} kept ({:.2} %)",
        facts.kept,
        facts.kept as f64 / count as f64 * 100.0
    );
    if let Some(loss) = &facts.loss {
        println!(
            "  thinned within {} m: worst {:.3} m, rms {:.4} m, {} of {} looked at beyond",
            loss.tolerance_m, loss.worst_m, loss.rms_m, loss.beyond, loss.looked_at
        );
    }
    println!(
        "  read and thin   {read:9.0} ms  {:5.2} of the bare decode ({bare:.0} ms; {:.0} ns a \
         point)   aim {READ}: {}",
        read / bare,
        read * 1e6 / count as f64,
        word(read <= READ * bare)
    );
    let plan: Vec<Point> = cloud.content.points().iter().map(|point| point.p).collect();
    drop(cloud);
    let (own, triangles) = best(runs, || triangulate(&plan, &[]).unwrap().triangles.len());
    let sites: Vec<delaunator::Point> = plan
        .iter()
        .map(|p| delaunator::Point {
            x: p.x as f64,
            y: p.y as f64,
        })
        .collect();
    let (other, others) = best(runs, || delaunator::triangulate(&sites).triangles.len() / 3);
    println!(
        "  triangulate     {own:9.0} ms  {:5.2} of delaunator ({other:.0} ms)   aim {TRIANGULATE}: \
         {}   {triangles} and {others} triangles",
        own / other,
        word(own <= TRIANGULATE * other)
    );
    let kept = plan.len() as f64;
    drop((plan, sites));
    let sources = Sources {
        imports: std::slice::from_ref(&spec),
        ..Sources::default()
    };
    let before = MEMORY.current_usage();
    let (survey, _) = Survey::read_with(&sources, files).unwrap_or_else(|fault| panic!("{fault}"));
    let of_survey = MEMORY.current_usage();
    MEMORY.reset_peak_usage();
    let (build, ground) = best(1, || {
        terrain::build(&survey, &GroundSpec::default())
            .unwrap_or_else(|fault| panic!("{fault}"))
            .0
    });
    let build_peak = MEMORY.peak_usage() - of_survey;
    let held = MEMORY.current_usage() - of_survey;
    let all = read_peak.max((build_peak + of_survey - before) as f64 / MIB);
    println!(
        "  ground          {build:9.0} ms  {} facets, {:.0} bytes a point, {:.0} at the peak of \
         building   aim {BYTES_A_POINT}: {}",
        ground.surface.num_facets(),
        held as f64 / kept,
        build_peak as f64 / kept,
        word(build_peak as f64 / kept <= BYTES_A_POINT)
    );
    println!(
        "  memory          {read_peak:9.0} MiB to read, {all:.0} MiB in all   aim {ALL_MIB}: {}",
        word(all <= ALL_MIB)
    );
}

fn main() {
    match std::env::var("CUTBANK_CLOUDS") {
        Ok(folder) => {
            let files = Clouds(folder.into());
            for name in ["c1m.las", "c1m.laz", "c10m.las", "c100m.las"] {
                if files.0.join(name).exists() {
                    bench(&files, name);
                }
            }
        }
        Err(_) => {
            let folder = tempfile::tempdir().unwrap();
            write_cloud(&folder.path().join("made.las"), 1_200_000);
            bench(&Clouds(folder.path().to_owned()), "made.las");
        }
    }
}
