//! Design
pub mod shape;
