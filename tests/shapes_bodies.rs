//! A basin, a pad, a berm and a pile with all they take, on surveyed ground, against booleans on
//! bodies cut out by their planes (`fixtures/shapes/make_expected_bodies.py`). The ground lies
//! outside the repository, see `tests/reference.rs`.
#![allow(clippy::unwrap_used)]

mod common;

use std::path::Path;

use common::{Folder, close, near, reference_data, run_job};
use cutbank::outcome::Outcome;
use serde_json::Value;

/// Share of the volume by which two ways may differ: both round corners to about a nanometre, and
/// faces lean by a ten-thousandth of their height in both.
const SAME: f64 = 1.0e-6;

fn fixture(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/shapes");
    std::fs::read_to_string(folder.join(name)).unwrap()
}

/// A job on the hillside, and what was computed apart from the program.
fn held(kind: &str) -> Option<(Outcome, Value)> {
    let data = reference_data(&format!("a {kind} on a hillside"))?;
    let folder = Folder {
        directory: Some(data),
        ..Folder::default()
    };
    let outcome = run_job(folder, &fixture(&format!("{kind}.toml")));
    let expected = fixture(&format!("expected_{kind}.json"));
    Some((outcome, serde_json::from_str(&expected).unwrap()))
}

fn number(expected: &Value, key: &str) -> f64 {
    expected[key].as_f64().unwrap()
}

#[test]
fn a_basin_on_a_hillside() {
    let Some((o, expected)) = held("basin") else {
        return;
    };
    close("cut", o.finished.cut_m3, number(&expected, "cut_m3"), SAME);
    near("fill", o.finished.fill_m3, 0.0, 1e-6);
}

#[test]
fn a_pad_on_a_hillside() {
    let Some((o, expected)) = held("pad") else {
        return;
    };
    close("cut", o.finished.cut_m3, number(&expected, "cut_m3"), SAME);
    close(
        "fill",
        o.finished.fill_m3,
        number(&expected, "fill_m3"),
        SAME,
    );
}

#[test]
fn a_berm_on_a_hillside() {
    let Some((o, expected)) = held("berm") else {
        return;
    };
    close(
        "fill",
        o.finished.fill_m3,
        number(&expected, "fill_m3"),
        SAME,
    );
    near("cut", o.finished.cut_m3, 0.0, 1e-6);
    // Benches were cut under it, and it was built higher to settle.
    assert!(o.design.parts.iter().any(|p| p.name == "benches"));
    assert!(o.to_build.fill_m3 > o.finished.fill_m3 * 1.03);
}

#[test]
fn a_pile_on_a_hillside() {
    let Some((o, expected)) = held("pile") else {
        return;
    };
    close("fill", o.finished.fill_m3, 60.0, SAME);
    let line = o
        .design
        .surface
        .facets()
        .filter(|&f| o.design.surface.label(f) != 0);
    let top = line
        .flat_map(|f| o.design.surface.corners(f))
        .map(|c| c.z)
        .fold(f64::NEG_INFINITY, f64::max);
    near("top", top, number(&expected, "top_m"), 1e-6);
}
