//! Jobs as somebody types them: points of a square yard, and text of features.
#![allow(dead_code, missing_docs, unreachable_pub)]

use std::fmt::Write as _;

use cutbank::diag::{Diagnostic, Failure};
use cutbank::files::OneThread;
use cutbank::geom::Point;
use cutbank::outcome::Outcome;
use cutbank::run::{read_job, run};

use crate::common::Folder;

/// A square of 60 m at the level of `z(x, y)` in its corners and on a 10 m grid.
pub fn square(z: impl Fn(f64, f64) -> f64) -> String {
    let mut csv = String::from("name,x,y,z\n");
    for i in 0..=6 {
        for j in 0..=6 {
            // Off the grid a little, so that the triangulation is unique.
            let (x, y) = (
                f64::from(i) * 10.0 + f64::from(j) * 0.013,
                f64::from(j) * 10.0,
            );
            let _ = writeln!(csv, "{i}-{j},{x},{y},{}", z(x, y));
        }
    }
    csv
}

/// The head of a job in metres over `points.csv`.
pub const HEAD: &str =
    "[job]\nname = \"test\"\nunits = \"m\"\n[[survey]]\npoints = \"points.csv\"\n";

/// Runs features on points; more files may lie in the folder.
pub fn try_outcome(folder: Folder, points: &str, features: &str) -> Result<Outcome, Failure> {
    let folder = folder
        .with("points.csv", points)
        .with("job.toml", &format!("{HEAD}{features}"));
    let (job, _) = read_job(&folder)?;
    run(job, &folder, &OneThread)
}

/// The same, where every fault stops the test.
#[track_caller]
pub fn outcome(points: &str, features: &str) -> Outcome {
    try_outcome(Folder::default(), points, features).unwrap_or_else(|fault| panic!("{fault}"))
}

/// The fault of a code that a job is refused with.
#[track_caller]
pub fn refused(points: &str, features: &str, code: &str) -> Diagnostic {
    match try_outcome(Folder::default(), points, features) {
        Ok(_) => panic!("this was not refused:\n{features}"),
        Err(Failure(faults)) => faults
            .iter()
            .find(|d| d.code == code)
            .cloned()
            .unwrap_or_else(|| panic!("no {code} in {faults:#?}")),
    }
}

/// A place of the yard in the frame of its surfaces.
pub fn place(o: &Outcome, x: f64, y: f64) -> Point {
    let origin = o.terrain.origin;
    Point::from_m(x - origin.x_m as f64, y - origin.y_m as f64)
}
