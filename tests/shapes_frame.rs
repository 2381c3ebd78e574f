//! What the frame does round every kind (strips, room, layers, a surface of its own file), on
//! surveyed ground, against booleans on bodies (`fixtures/shapes/make_frame.py`). The ground
//! lies outside the repository, see `tests/reference.rs`.
#![allow(clippy::unwrap_used)]

mod common;

use std::path::Path;

use common::{Folder, close, reference_data, run_job};
use cutbank::earthwork::FeatureVolume;
use serde_json::Value;

/// Share of the volume by which two ways may differ: both round corners to about a nanometre, and
/// a face where a feature stops leans by a ten-thousandth of its height in one.
const SAME: f64 = 1.0e-6;

fn fixture(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/shapes");
    std::fs::read_to_string(folder.join(name)).unwrap()
}

#[test]
fn strips_room_layers_and_a_surface_on_a_hillside() {
    let Some(data) = reference_data("strips, room and layers on a hillside") else {
        return;
    };
    let folder = Folder {
        directory: Some(data),
        ..Folder::default()
    };
    let folder = folder.with("terrace.csv", &fixture("terrace.csv"));
    let o = run_job(folder, &fixture("frame.toml"));
    let expected: Value = serde_json::from_str(&fixture("expected_frame.json")).unwrap();
    let number = |key: &str| expected[key].as_f64().unwrap();
    let volume = |name: &str| -> &FeatureVolume {
        o.to_build.features.iter().find(|f| f.name == name).unwrap()
    };
    let part = |name: &str, part: &str| {
        let parts = &volume(name).parts;
        parts.iter().find(|p| p.part == part).unwrap().cut_m3
    };
    close(
        "strip",
        part("Lawn", "stripped ground"),
        number("strip_m3"),
        SAME,
    );
    close("pit", volume("Pit").cut_m3, number("pit_m3"), SAME);
    let beyond = o.walls.iter().find(|w| w.feature == "Pit").unwrap();
    assert!(beyond.is_in_design, "{beyond:?}");
    // Its face is metres high: the lean counts ten times as much.
    close(
        "berm",
        volume("Berm").fill_m3,
        number("berm_soil_m3"),
        10.0 * SAME,
    );
    close("basin", volume("Basin").cut_m3, number("basin_m3"), SAME);
    close(
        "surface",
        part("Terrace", "surface"),
        number("surface_m3"),
        SAME,
    );
    let layer = |name: &str| o.layers.iter().find(|l| l.layer == name).unwrap();
    // Thin: the lean of the face, 0.2 m higher, counts twenty times as much.
    close(
        "topsoil",
        layer("topsoil").volume_m3.unwrap(),
        number("topsoil_m3"),
        20.0 * SAME,
    );
    close(
        "stone",
        layer("stone").volume_m3.unwrap(),
        number("stone_m3"),
        SAME,
    );
    let voids = layer("stone").voids_m3.unwrap();
    close("voids", voids, 0.4 * number("stone_m3"), SAME);
}
