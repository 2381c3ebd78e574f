//! placeholder
pub mod checks;
pub mod cli;
pub mod design;
pub mod diag;
pub mod earthwork;
pub mod files;
pub mod geom;
pub mod job;
pub mod outcome;
pub mod report;
pub mod run;
pub mod section;
pub mod show;
pub mod surface;
pub mod survey;
pub mod terrain;
pub mod units;
