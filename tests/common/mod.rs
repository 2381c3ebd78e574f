//! Helpers shared by the tests: a seeded generator, made grounds, an oracle for heights.
#![allow(
    dead_code,
    missing_docs,
    unreachable_pub,
    clippy::unwrap_used,
    clippy::print_stdout
)]

use std::collections::BTreeMap;
use std::path::PathBuf;

use cutbank::files::{Content, Files, OneThread, Workers};
use cutbank::geom::{Origin, P3, Point, Ring, orient_sign, triangulate, triangulate_rings};
use cutbank::outcome::Outcome;
use cutbank::run::{read_job, run};
use cutbank::surface::{Surface, Within};
use cutbank::units::LengthUnit;

/// A small seeded generator (splitmix64), so that every run sees the same numbers.
///
/// Source: S. Vigna, "Further scramblings of Marsaglia's xorshift generators" (2017), which
/// gives splitmix64 as seeding generator.
#[derive(Clone)]
pub struct Random(pub u64);

impl Random {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n.max(1)
    }

    /// Evenly in `low..high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// A surface over the Delaunay triangulation of points; doubled places keep the first height.
pub fn surface(points: &[P3], label: u32) -> Surface {
    let mut points = points.to_vec();
    let mut seen = std::collections::BTreeSet::new();
    points.retain(|p| seen.insert(p.p));
    let plan: Vec<Point> = points.iter().map(|p| p.p).collect();
    let t = triangulate(&plan, &[]).unwrap();
    Surface::from_triangles(points, &t.triangles, label).unwrap()
}

/// Height of a surface at a place, by trying every facet: the oracle.
pub fn slow_z(surface: &Surface, p: Point) -> Option<f64> {
    surface
        .facets()
        .find_map(|f| height_in(surface.corners(f), p))
}

/// Height in a triangle, barycentric; `None` outside.
pub fn height_in(corners: [P3; 3], p: Point) -> Option<f64> {
    let [a, b, c] = corners;
    let inside = orient_sign(a.p, b.p, p) >= 0
        && orient_sign(b.p, c.p, p) >= 0
        && orient_sign(c.p, a.p, p) >= 0;
    inside.then(|| {
        let [bx, by] = b.p.relative_m(a.p);
        let [cx, cy] = c.p.relative_m(a.p);
        let [x, y] = p.relative_m(a.p);
        let det = bx * cy - cx * by;
        let (u, v) = ((x * cy - cx * y) / det, (bx * y - x * by) / det);
        a.z + u * (b.z - a.z) + v * (c.z - a.z)
    })
}

/// A level quadrangle ground or one tilted: `z = z0 + gx x + gy y` over a square.
pub fn plane_ground(z0: f64, gx: f64, gy: f64, low: f64, high: f64) -> Surface {
    let corner = |x: f64, y: f64| P3 {
        p: Point::from_m(x, y),
        z: z0 + gx * x + gy * y,
    };
    surface(
        &[
            corner(low, low),
            corner(high, low),
            corner(high, high),
            corner(low, high),
        ],
        0,
    )
}

/// A point from metres.
pub fn at(x: f64, y: f64, z: f64) -> P3 {
    P3 {
        p: Point::from_m(x, y),
        z,
    }
}

/// A plane over a rectangle, from its lower left to its upper right corner.
pub fn plane_over(low: [f64; 2], high: [f64; 2], z: impl Fn(f64, f64) -> f64) -> Surface {
    let corner = |x: f64, y: f64| at(x, y, z(x, y));
    let corners = vec![
        corner(low[0], low[1]),
        corner(high[0], low[1]),
        corner(high[0], high[1]),
        corner(low[0], high[1]),
    ];
    Surface::from_triangles(corners, &[[0, 1, 2], [0, 2, 3]], 0).unwrap()
}

/// A section drawn out sideways: `line` gives x and z, the surface runs from `y[0]` to `y[1]`.
pub fn drawn_out(line: &[[f64; 2]], y: [f64; 2]) -> Surface {
    let vertices: Vec<P3> = line
        .iter()
        .flat_map(|&[x, z]| [at(x, y[0], z), at(x, y[1], z)])
        .collect();
    let triangles: Vec<[u32; 3]> = (0..line.len() as u32 - 1)
        .flat_map(|k| {
            let [a, b, c, d] = [2 * k, 2 * k + 2, 2 * k + 3, 2 * k + 1];
            [[a, b, c], [a, c, d]]
        })
        .collect();
    Surface::from_triangles(vertices, &triangles, 0).unwrap()
}

/// A ring from corners in metres.
pub fn ring(corners: &[[f64; 2]]) -> Ring {
    let corners: Vec<Point> = corners.iter().map(|&[x, y]| Point::from_m(x, y)).collect();
    Ring::new(&corners).unwrap()
}

/// The inside of a ring, for [`cutbank::surface::cut_fill_within`].
pub fn inside(ring: &Ring) -> Within {
    Within(triangulate_rings(std::slice::from_ref(ring)).unwrap())
}

/// Corners of a rectangle.
pub fn rectangle(low: [f64; 2], high: [f64; 2]) -> [[f64; 2]; 4] {
    [low, [high[0], low[1]], high, [low[0], high[1]]]
}

/// Panics unless two numbers agree to a share of the wanted one; gives the share they differ by.
#[track_caller]
pub fn close(what: &str, got: f64, want: f64, relative: f64) -> f64 {
    let off = (got - want).abs() / want.abs();
    assert!(
        off <= relative,
        "{what}: {got} instead of {want}, off by {off:.2e}"
    );
    off
}

/// Panics unless two numbers agree to a distance.
#[track_caller]
pub fn near(what: &str, got: f64, want: f64, distance: f64) {
    let off = (got - want).abs();
    assert!(
        off <= distance,
        "{what}: {got} instead of {want}, off by {off:.2e}"
    );
}

/// A folder: files in memory first, then those of a directory.
#[derive(Default)]
pub struct Folder {
    pub files: BTreeMap<String, Vec<u8>>,
    pub directory: Option<PathBuf>,
}

impl Folder {
    pub fn with(self, name: &str, text: &str) -> Folder {
        self.with_bytes(name, text.as_bytes())
    }

    pub fn with_bytes(mut self, name: &str, bytes: &[u8]) -> Folder {
        self.files.insert(name.to_owned(), bytes.to_vec());
        self
    }
}

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        if let Some(bytes) = self.files.get(name) {
            return Ok(bytes.clone());
        }
        match &self.directory {
            Some(directory) => std::fs::read(directory.join(name)).map_err(|e| e.to_string()),
            None => Err(format!("there is no {name}")),
        }
    }

    fn today(&self) -> String {
        "2024-05-01".to_owned()
    }
}

/// Runs a job; every fault stops the test.
pub fn run_job(folder: Folder, job: &str) -> Outcome {
    let folder = folder.with("job.toml", job);
    let (job, _) = read_job(&folder).unwrap_or_else(|fault| panic!("{fault}"));
    run(job, &folder, &OneThread).unwrap_or_else(|fault| panic!("{fault}"))
}

/// The folder of a package this crate is built with, as cargo knows it.
pub fn package(name: &str) -> PathBuf {
    let cargo = |arguments: &[&str]| {
        let run = std::process::Command::new(env!("CARGO"))
            .args(arguments)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&run.stderr);
        assert!(run.status.success(), "cargo {arguments:?}: {said}");
        String::from_utf8(run.stdout).unwrap()
    };
    // Packages of other platforms need not be there, so only those of this one are asked for.
    let version = cargo(&["-vV"]);
    let host = version
        .lines()
        .find_map(|l| l.strip_prefix("host: "))
        .unwrap();
    let text = cargo(&[
        "metadata",
        "--format-version",
        "1",
        "--offline",
        "--filter-platform",
        host,
    ]);
    let metadata: serde_json::Value = serde_json::from_str(&text).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    let package = packages.iter().find(|p| p["name"] == name).unwrap();
    let manifest = PathBuf::from(package["manifest_path"].as_str().unwrap());
    manifest.parent().unwrap().to_owned()
}

/// What a file that is written holds.
pub fn written(content: &Content) -> Vec<u8> {
    let mut bytes = Vec::new();
    content(&mut bytes).unwrap();
    bytes
}

/// The folder of reference data, if this machine has it; says by name what is not run if not.
pub fn reference_data(test: &str) -> Option<PathBuf> {
    let folder = std::env::var_os("CUTBANK_REFERENCE_DATA").map(PathBuf::from);
    if folder.is_none() {
        println!("not run: {test}, set CUTBANK_REFERENCE_DATA");
    }
    folder
}

/// Work on a fixed number of threads, dealt out by index.
pub struct Threads(pub usize);

impl Workers for Threads {
    fn for_each(&self, count: usize, work: &(dyn Fn(usize) + Sync)) {
        std::thread::scope(|scope| {
            for thread in 0..self.0 {
                scope.spawn(move || (thread..count).step_by(self.0).for_each(work));
            }
        });
    }
}

/// Lays out rings and points given in a unit and absolute coordinates in the frame of a survey.
#[derive(Clone, Copy)]
pub struct Frame {
    pub origin: Origin,
    pub unit: LengthUnit,
}

impl Frame {
    /// A plan position.
    pub fn point(&self, x: f64, y: f64) -> Point {
        let nm = |v: f64| self.unit.parse_nm(&v.to_string()).unwrap();
        self.origin.local(nm(x), nm(y)).unwrap()
    }

    /// A ring.
    pub fn ring(&self, corners: &[[f64; 2]]) -> Ring {
        let corners: Vec<Point> = corners.iter().map(|&[x, y]| self.point(x, y)).collect();
        Ring::new(&corners).unwrap()
    }

    /// The plane `z = a x + b y + c` over everything a surface covers.
    pub fn plane(&self, [a, b, c]: [f64; 3], under: &Surface) -> Surface {
        let beside = 1_000_000_000;
        let (x, y): (Vec<i64>, Vec<i64>) = under.vertices().iter().map(|v| (v.p.x, v.p.y)).unzip();
        let (west, east) = (
            x.iter().min().unwrap() - beside,
            x.iter().max().unwrap() + beside,
        );
        let (south, north) = (
            y.iter().min().unwrap() - beside,
            y.iter().max().unwrap() + beside,
        );
        let corners = [(west, south), (east, south), (east, north), (west, north)].map(|(x, y)| {
            let p = Point::new(x, y);
            let x = self.unit.from_m(p.x_m() + self.origin.x_m as f64);
            let y = self.unit.from_m(p.y_m() + self.origin.y_m as f64);
            P3 {
                p,
                z: self.unit.to_m(a * x + b * y + c),
            }
        });
        Surface::from_triangles(corners.to_vec(), &[[0, 1, 2], [0, 2, 3]], 0).unwrap()
    }
}

/// The same surface, its vertices moved; every label 0.
pub fn moved_by(surface: &Surface, x_m: i64, y_m: i64) -> Surface {
    let vertices = surface.vertices().iter().map(|v| P3 {
        p: Point::new(v.p.x + x_m * 1_000_000_000, v.p.y + y_m * 1_000_000_000),
        z: v.z,
    });
    let triangles: Vec<[u32; 3]> = surface.facets().map(|f| surface.vertex_ids(f)).collect();
    Surface::from_triangles(vertices.collect(), &triangles, 0).unwrap()
}
