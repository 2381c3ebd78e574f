//! A square yard whose ground is one plane, and jobs typed for it.
#![allow(dead_code, missing_docs, unreachable_pub, clippy::unwrap_used)]

use cutbank::files::OneThread;
use cutbank::geom::Point;
use cutbank::outcome::Outcome;
use cutbank::run::{read_job, run};

use crate::common::{Folder, run_job};

/// From `-half` to `half`, its ground the plane `100 + gx x + gy y`, all in the unit.
pub fn yard(unit: &str, half: f64, gx: f64, gy: f64, features: &str) -> (Folder, String) {
    let mut csv = "name,east,north,level\n".to_owned();
    let corners = [(-half, -half), (half, -half), (half, half), (-half, half)];
    for (k, (x, y)) in corners.iter().enumerate() {
        csv += &format!("{k},{x},{y},{}\n", 100.0 + gx * x + gy * y);
    }
    let job = format!(
        "[job]\nname = \"test\"\nunits = \"{unit}\"\n[limits]\nchord = 0.0001\n\
         [[survey]]\npoints = \"points.csv\"\n{features}"
    );
    (Folder::default().with("points.csv", &csv), job)
}

/// What the job gives; every fault stops the test.
pub fn outcome(unit: &str, half: f64, gx: f64, gy: f64, features: &str) -> Outcome {
    let (folder, job) = yard(unit, half, gx, gy, features);
    run_job(folder, &job)
}

/// The words with which the job is refused.
pub fn refusal(unit: &str, half: f64, gx: f64, gy: f64, features: &str) -> String {
    let (folder, job) = yard(unit, half, gx, gy, features);
    let folder = folder.with("job.toml", &job);
    match read_job(&folder).and_then(|(job, _)| run(job, &folder, &OneThread)) {
        Ok(_) => panic!("laid: {features}"),
        Err(failure) => failure.to_string(),
    }
}

/// A place of the yard in the frame of the outcome, metres.
pub fn at(o: &Outcome, x: f64, y: f64) -> Point {
    let origin = o.terrain.origin;
    Point::from_m(x - origin.x_m as f64, y - origin.y_m as f64)
}
