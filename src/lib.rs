//! placeholder
pub mod design;
pub mod diag;
pub mod files;
pub mod geom;
pub mod job;
pub mod surface;
pub mod survey;
pub mod units;
