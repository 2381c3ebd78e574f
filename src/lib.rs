//! Ground, cut and fill, walls and sections of a sloped yard, from survey shots.
//!
//! One way through:
//!
//! ```text
//! job folder -> survey -> terrain -> design -> earthwork -> checks -> section -> Outcome
//! |
//! drawing, report, cli <---+
//! ```
//!
//! [`run::run`] is the whole of it: a [`job::Job`] and [`files::Files`] in, an
//! [`outcome::Outcome`] out. Reports and drawings read the outcome and compute nothing. The
//! engine opens no file, asks no clock and starts no thread of its own.
//!
//! The geometry stands on [`geom`] (exact, on a lattice of whole nanometres) and [`surface`]
//! (surfaces of flat facets: composing, clipping, profiles). Neither knows a trade word.
//! `DEVELOPERS.md` is the map; `tests/architecture.rs` holds it to the sources.
//!
//! ```
//! use cutbank::geom::{P3, Point};
//! use cutbank::surface::Surface;
//!
//! let corner = |x, y, z| P3 { p: Point::from_m(x, y), z };
//! let vertices = vec![corner(0.0, 0.0, 100.0), corner(10.0, 0.0, 102.0), corner(0.0, 10.0, 101.0)];
//! let surface = Surface::from_triangles(vertices, &[[0, 1, 2]], 0)?;
//! let z = surface.z_at(Point::from_m(3.0, 4.0)).ok_or("off the surface")?;
//! assert!((z - 101.0).abs() < 1e-12);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod checks;
pub mod cli;
pub mod design;
pub mod diag;
pub mod drawing;
pub mod earthwork;
pub mod export;
pub mod files;
pub mod flow;
pub mod geom;
pub mod import;
pub mod job;
pub mod outcome;
pub mod report;
pub mod route;
pub mod run;
pub mod section;
pub mod session;
pub mod show;
pub mod statics;
pub mod surface;
pub mod survey;
pub mod terrain;
pub mod units;
