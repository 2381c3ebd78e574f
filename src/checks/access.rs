//! Gates, ways, trees, buried lines and piles.

use super::{Checked, Context};

/// Gates and ways.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Access {}

pub(super) fn check(_context: &Context, _out: &mut Checked) {}
