//! Where water runs, before and after the work.

use super::{Checked, Context};

/// Where water runs.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Drainage {}

pub(super) fn check(_context: &Context, _out: &mut Checked) {}
