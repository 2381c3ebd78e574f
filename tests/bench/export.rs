//! Writing surfaces of up to five million facets, beside the bare formatting of as many numbers by
//! the standard library in the same run: time and bytes a facet, and memory beyond the surface.
//!
//! `cargo bench --bench export` prints one table: best of several runs on one thread, into nothing.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::print_stdout,
    unreachable_pub
)]

#[path = "../common/mod.rs"]
mod common;
#[path = "stopwatch.rs"]
mod stopwatch;

use std::io::Write;

use common::Random;
use cutbank::export::{Format, Leaving, Named, Parcel, State, files};
use cutbank::geom::{Origin, P3, Point};
use cutbank::surface::Surface;
use cutbank::units::LengthUnit;
use stopwatch::best;

#[global_allocator]
static ALLOCATOR: peak_alloc::PeakAlloc = peak_alloc::PeakAlloc;

/// Counts what is written to it.
struct Nothing(u64);

impl Write for Nothing {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0 += bytes.len() as u64;
        Ok(bytes.len())
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Shots some half metre apart, two facets for each.
fn ground(side: i64) -> Surface {
    let mut random = Random(7);
    let vertices: Vec<P3> = (0..side * side)
        .map(|k| {
            let mut off = || (random.below(200_000_000) as i64) - 100_000_000;
            let p = Point::new(
                k % side * 500_000_000 + off(),
                k / side * 500_000_000 + off(),
            );
            P3 {
                p,
                z: random.between(95.0, 105.0),
            }
        })
        .collect();
    let side = side as u32;
    let triangles: Vec<[u32; 3]> = (0..(side - 1) * (side - 1))
        .flat_map(|k| {
            let a = k / (side - 1) * side + k % (side - 1);
            [[a, a + 1, a + side + 1], [a, a + side + 1, a + side]]
        })
        .collect();
    Surface::from_triangles(vertices, &triangles, 0).unwrap()
}

fn main() {
    println!(
        "{:>8}  {:<16} | {:>8} {:>10} {:>8} | {:>10} {:>9}",
        "facets", "format", "s", "ns/facet", "ratio", "B/facet", "memory B"
    );
    for side in [225, 708, 1_582] {
        let surface = ground(side);
        let count = surface.num_facets() as f64;
        let runs = if count > 1e6 { 1 } else { 3 };
        let (bare, _) = best(runs, || {
            let mut out = std::io::BufWriter::new(Nothing(0));
            for v in surface.vertices() {
                writeln!(out, "{} {} {}", v.p.x_m(), v.p.y_m(), v.z).unwrap();
            }
            for f in surface.facets() {
                let [a, b, c] = surface.vertex_ids(f);
                writeln!(out, "{a} {b} {c}").unwrap();
            }
        });
        let line = (0..side as u32 - 1).map(|k| surface.vertices()[(k * side as u32) as usize]);
        for (format, name, unit) in [
            (Format::LandXml, "LandXML, m", LengthUnit::Metre),
            (Format::LandXml, "LandXML, ft", LengthUnit::Foot),
            (Format::Csv, "CSV, both", LengthUnit::Metre),
            (Format::Glb, "glb", LengthUnit::Metre),
            (Format::Gltf, "gltf", LengthUnit::Metre),
            (Format::GeoJson, "GeoJSON, outline", LengthUnit::Metre),
        ] {
            let parcel = Parcel {
                origin: Origin {
                    x_m: 500_000,
                    y_m: 4_200_000,
                },
                surfaces: vec![Leaving {
                    name: "ground".to_owned(),
                    surface: &surface,
                    labels: vec![Named::ground()],
                    breaklines: vec![line.clone().collect()],
                    state: State::Existing,
                }],
                unit,
                date: "2024-05-01".to_owned(),
            };
            let before = ALLOCATOR.current_usage();
            ALLOCATOR.reset_peak_usage();
            let (ms, bytes) = best(runs, || {
                let mut out = std::io::BufWriter::with_capacity(1 << 16, Nothing(0));
                for (_, content) in files(&parcel, format, "a.csv") {
                    content(&mut out).unwrap();
                }
                out.into_inner().map_err(|e| e.into_error()).unwrap().0
            });
            let memory = ALLOCATOR.peak_usage().saturating_sub(before) as f64;
            println!(
                "{count:>8}  {name:<16} | {:>8.2} {:>10.0} {:>8.2} | {:>10.1} {:>9.1}",
                ms / 1e3,
                ms * 1e6 / count,
                ms / bare,
                bytes as f64 / count,
                memory / count
            );
        }
    }
}
