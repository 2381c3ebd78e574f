//! Walls as they are built.

use super::{Checked, Context};

/// A wall as it is built.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct WallWork {}

pub(super) fn check(_context: &Context, _out: &mut Checked) {}
