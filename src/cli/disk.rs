//! The outside world: disk, clock, threads, and the built-in example.

use std::io::{BufReader, Read as _};
use std::path::PathBuf;

use rayon::prelude::*;

use crate::files::{Files, Stream, Workers};

use super::progress::Watched;

/// Files of a folder on disk; `-` is the standard input.
pub(super) struct Disk {
    folder: PathBuf,
}

/// Larger files are refused: a survey of a yard has a few kilobytes, a scan comes another way.
const LARGEST_FILE: u64 = 1 << 30;

impl Disk {
    pub(super) fn new(folder: impl Into<PathBuf>) -> Disk {
        Disk {
            folder: folder.into(),
        }
    }
}

/// Bytes read ahead of a streamed file.
const BUFFER: usize = 1 << 20;

impl Disk {
    /// Path and length of a file.
    fn find(&self, name: &str) -> Result<(PathBuf, u64), String> {
        let path = self.folder.join(name);
        let shown = path.display();
        let facts = std::fs::metadata(&path).map_err(|e| match e.kind() {
            std::io::ErrorKind::NotFound => format!("there is no file {shown}"),
            _ => format!("{shown} could not be read: {e}"),
        })?;
        if facts.is_dir() {
            return Err(format!("{shown} is a folder; name a file in it"));
        }
        Ok((path, facts.len()))
    }
}

impl Files for Disk {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        if name == "-" {
            let mut bytes = Vec::new();
            std::io::stdin()
                .take(LARGEST_FILE)
                .read_to_end(&mut bytes)
                .map_err(|e| format!("the standard input could not be read: {e}"))?;
            return Ok(bytes);
        }
        let (path, length) = self.find(name)?;
        let shown = path.display();
        if length > LARGEST_FILE {
            return Err(format!("{shown} is larger than 1 GiB"));
        }
        std::fs::read(&path).map_err(|e| format!("{shown} could not be read: {e}"))
    }

    fn open(&self, name: &str) -> Result<Box<dyn Stream>, String> {
        if name == "-" {
            return Ok(Box::new(std::io::Cursor::new(self.read(name)?)));
        }
        let (path, length) = self.find(name)?;
        let file = std::fs::File::open(&path)
            .map_err(|e| format!("{} could not be read: {e}", path.display()))?;
        let watched = Watched::new(file, name, length);
        Ok(Box::new(BufReader::with_capacity(BUFFER, watched)))
    }

    fn workers(&self) -> &dyn Workers {
        &Cores
    }

    fn today(&self) -> String {
        let seconds = std::time::SystemTime::now()
            .duration_since(std::time::UNIX_EPOCH)
            .map_or(0, |d| d.as_secs());
        civil_date(seconds / 86_400)
    }
}

/// `YYYY-MM-DD` of a day counted from 1970-01-01.
///
/// # Source
///
/// E. G. Richards, "Calendars", in Explanatory Supplement to the Astronomical Almanac,
/// 3rd ed. (2013), section 15.11: Julian day number to Gregorian date
fn civil_date(days: u64) -> String {
    let julian = days as i64 + 2_440_588;
    let f = julian + 1401 + (4 * julian + 274_277) / 146_097 * 3 / 4 - 38;
    let e = 4 * f + 3;
    let h = 5 * (e % 1461 / 4) + 2;
    let day = h % 153 / 5 + 1;
    let month = (h / 153 + 2) % 12 + 1;
    let year = e / 1461 - 4716 + (14 - month) / 12;
    format!("{year:04}-{month:02}-{day:02}")
}

/// The example yard, built into the program.
pub(super) struct Example;

/// Files of the example, as `cutbank new` writes them.
pub(super) const EXAMPLE_FILES: [(&str, &str); 2] = [
    ("job.toml", include_str!("../../fixtures/garden/job.toml")),
    (
        "levels.csv",
        include_str!("../../fixtures/garden/levels.csv"),
    ),
];

impl Files for Example {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        EXAMPLE_FILES
            .iter()
            .find(|(file, _)| *file == name)
            .map(|(_, text)| text.as_bytes().to_vec())
            .ok_or_else(|| format!("the example has no file {name}"))
    }

    fn today(&self) -> String {
        Disk::new(".").today()
    }
}

/// All cores of this machine.
pub(super) struct Cores;

impl Workers for Cores {
    fn for_each(&self, count: usize, work: &(dyn Fn(usize) + Sync)) {
        (0..count).into_par_iter().for_each(work);
    }
}

#[cfg(test)]
mod tests {
    use super::civil_date;

    #[test]
    fn days_become_dates() {
        assert_eq!(civil_date(0), "1970-01-01");
        assert_eq!(civil_date(11_016), "2000-02-29");
        assert_eq!(civil_date(20_454), "2026-01-01");
    }
}
