//! How far a large file is read, on a terminal.

use std::io::{IsTerminal as _, Read, Result, Seek, SeekFrom};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressStyle};

/// What is read within this time shows no bar.
const SILENT: Duration = Duration::from_secs(1);

/// A file that says on standard error how far it is read, if that is a terminal and reading takes
/// longer than a second. What it said is gone when it is read.
pub(super) struct Watched<F> {
    file: F,
    name: String,
    length: u64,
    at: u64,
    begun: Instant,
    bar: Option<ProgressBar>,
}

impl<F> Watched<F> {
    pub(super) fn new(file: F, name: &str, length: u64) -> Watched<F> {
        Watched {
            file,
            name: name.to_owned(),
            length,
            at: 0,
            begun: Instant::now(),
            bar: None,
        }
    }

    fn tell(&mut self) {
        if self.bar.is_none() && self.begun.elapsed() > SILENT && std::io::stderr().is_terminal() {
            let style = ProgressStyle::with_template("reading {msg}  {percent} % of {total_bytes}");
            let bar = ProgressBar::new(self.length).with_message(self.name.clone());
            bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
            self.bar = Some(bar);
        }
        // Not by counting what is read: ends of a file are looked at before its middle.
        if let Some(bar) = &self.bar {
            bar.set_position(self.at);
        }
    }
}

impl<F: Read> Read for Watched<F> {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        let count = self.file.read(buffer)?;
        self.at += count as u64;
        self.tell();
        Ok(count)
    }
}

impl<F: Seek> Seek for Watched<F> {
    fn seek(&mut self, to: SeekFrom) -> Result<u64> {
        self.at = self.file.seek(to)?;
        Ok(self.at)
    }
}

impl<F> Drop for Watched<F> {
    fn drop(&mut self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    #[test]
    fn a_place_in_the_file_is_told_after_seeking_too() {
        let mut watched = Watched::new(Cursor::new(vec![0u8; 1000]), "scan.laz", 1000);
        let mut buffer = [0; 50];
        for (to, expected) in [(SeekFrom::End(-50), 1000), (SeekFrom::Start(0), 50)] {
            watched.seek(to).unwrap();
            watched.read_exact(&mut buffer).unwrap();
            assert_eq!(watched.at, expected);
            assert!(watched.bar.is_none());
        }
    }
}
