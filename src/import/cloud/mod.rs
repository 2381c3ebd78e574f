//! Point clouds: LAS, LAZ and COPC.

use crate::diag::{At, Diagnostic, Failure};
use crate::files::Files;
use crate::job::ImportSpec;

use super::Import;

/// Reads a file.
///
/// # Errors
///
/// in words: what cannot be read, where, and what to do
pub(super) fn read(
    spec: &ImportSpec,
    _files: &dyn Files,
) -> Result<(Import, Vec<Diagnostic>), Failure> {
    Err(
        Diagnostic::error("not-yet", "files of this kind are not read by this version")
            .at(At::file(spec.source()))
            .help("give points as CSV: name, x, y, z, code")
            .into(),
    )
}
