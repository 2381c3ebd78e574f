//! An invented sloping yard for the drawings and reports: a basin, a stream with drops, a berm
//! against the boundary, a shed, a tree and a buried line.
#![allow(clippy::expect_used, missing_docs, unreachable_pub)]

use std::fmt::Write as _;

use cutbank::files::{Files, OneThread};
use cutbank::outcome::Outcome;

/// Files from memory.
pub struct Memory(pub Vec<(String, String)>);

impl Files for Memory {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        self.0
            .iter()
            .find(|(file, _)| file == name)
            .map(|(_, text)| text.clone().into_bytes())
            .ok_or_else(|| format!("there is no file {name}"))
    }

    fn today(&self) -> String {
        "2024-05-01".to_owned()
    }
}

/// Runs a job with its files; the first is the job.
pub fn outcome(files: Vec<(String, String)>) -> Outcome {
    let files = Memory(files);
    let (job, _) = cutbank::run::read_job(&files).expect("a job that can be read");
    match cutbank::run::run(job, &files, &OneThread) {
        Ok(outcome) => outcome,
        Err(failure) => panic!("{failure}"),
    }
}

/// The yard in feet, with a name.
pub fn garden(name: &str) -> Vec<(String, String)> {
    let name = name.replace('\\', "\\\\").replace('"', "\\\"");
    let job = format!(
        r#"[job]
name = "{name}"
units = "ft"
[soil]
kind = "common earth (loam)"
[[survey]]
levels = "levels.csv"
rod = "tenths"
benchmark = {{ name = "BM1", level = 100.00, words = "brass bolt in the lower step" }}
[ground]
holes = [[[50.0, 30.0], [58.0, 30.0], [58.0, 38.0], [50.0, 38.0]]]
breaklines = [[[2.0, 2.0], [30.0, 4.0], [58.0, 3.0]]]
[[feature]]
kind = "basin"
name = "Reservoir"
outline = [[12.0, 10.0], [22.0, 9.0], [23.0, 16.0], [13.0, 17.0]]
floor = "depth:3.0"
side_run_per_rise = 1.0
[[feature]]
kind = "stream"
name = "Stream"
line = [[50.0, 26.0], [42.0, 22.0], [36.0, 22.0], [25.0, 14.0]]
start = "depth:0.5"
fall_percent = 2.0
drops = [{{ at = 6.0, height = 0.7 }}, {{ at = 13.0, height = 0.8 }}, {{ at = 20.0, height = 0.6 }}]
width = 2.0
side_run_per_rise = 1.0
[[feature]]
kind = "berm"
name = "Berm"
line = [[6.0, 36.0], [24.0, 39.0], [40.0, 38.0]]
width = 2.0
crest = "height:2.0"
side_run_per_rise = 2.0
settlement_percent = 8.0
[[keep-off]]
kind = "boundary"
name = "North boundary"
line = [[0.0, 41.0], [60.0, 41.5]]
[[keep-off]]
kind = "building"
name = "Shed"
area = [[50.0, 30.0], [58.0, 30.0], [58.0, 38.0], [50.0, 38.0]]
[[keep-off]]
kind = "roots"
name = "Old apple tree"
centre = [30.0, 30.0]
radius = 5.0
[[keep-off]]
kind = "service"
name = "Cable to the shed"
line = [[46.0, 1.0], [47.0, 20.0], [54.0, 30.0]]
half_width = 2.0
"#
    );
    vec![
        ("job.toml".to_owned(), job),
        ("levels.csv".to_owned(), book()),
    ]
}

/// A level book over a slope of 1 in 6 with a hollow and a swell.
fn book() -> String {
    let plane = 105.37;
    let mut text = String::from("setup,point,x,y,type,rod\n1,BM1,-3.0,-1.0,BS,5.37\n");
    let mut number = 0;
    for j in 0..8 {
        for i in 0..11 {
            number += 1;
            let (i, j) = (f64::from(i), f64::from(j));
            // Off the grid by up to a foot, so that no four shots are on one circle.
            let x = i * 6.0 + (number * 37 % 10) as f64 * 0.1;
            let y = j * 6.0 + (number * 53 % 10) as f64 * 0.1;
            let z = 95.0 + x * 0.10 + y * 0.05 + (x * 0.21).sin() * 0.35 + (y * 0.27).cos() * 0.3;
            let _ = writeln!(text, "1,{number},{x:.1},{y:.1},IS,{:.2}", plane - z);
        }
    }
    text.push_str("1,BM1,,,FS,5.36\n");
    text
}
