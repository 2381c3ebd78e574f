//! Which points of a cloud are ground, and an account of all others.
//!
//! Takes records as they are stored, gives points of the frame and a [`Tally`] that adds up: what
//! was read is what was taken and, reason by reason, what was not.

use std::sync::atomic::{AtomicBool, Ordering};

use super::header::Header;
use super::lattice::Lattice;
use super::words::class;
use crate::geom::P3;
use crate::import::facts::LeftOut;
use crate::job::CloudSpec;

/// Class of ground.
pub(super) const GROUND: u8 = 2;
/// Classes of noise, below and above the ground: taken only where they are asked for.
const NOISE: [u8; 2] = [7, 18];
/// Class of points in the overlap of two flight lines, in point formats 0 to 5.
const OVERLAP: u8 = 12;
/// Points outside the box of the header that are named.
const NAMED: usize = 3;

/// What is taken of a cloud.
#[derive(Debug)]
pub(super) struct Pick {
    lattice: Lattice,
    /// Classes that are taken, by number.
    classes: Vec<bool>,
    keep_withheld: bool,
    keep_overlap: bool,
    /// Bounds, whole nanometres in the frame.
    bounds_nm: Option<[i64; 4]>,
    /// The box of the header in stored integers, a step wider.
    header_box: Option<[[i32; 2]; 3]>,
    extended: bool,
    record_len: usize,
    /// As long as no point of ground has been met, other points are given too.
    spare: Option<AtomicBool>,
}

/// Which classes are asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wanted<'a> {
    /// These.
    Classes(&'a [u8]),
    /// All but noise, and overlap where it is a class.
    All,
}

/// Points of some records, and what became of the others.
#[derive(Clone, Debug, Default)]
pub(super) struct Batch {
    /// Points taken, in the order of the file.
    pub(super) points: Vec<P3>,
    /// Points of other classes but noise, for a ground filter; none once ground was met, so what
    /// is given then is of no use.
    pub(super) spare: Vec<P3>,
    /// The account.
    pub(super) tally: Tally,
}

/// An account of points.
#[derive(Clone, Debug)]
pub(super) struct Tally {
    /// How many were read.
    pub(super) read: u64,
    /// How many of each class were read.
    pub(super) of_class: Vec<u64>,
    /// How many of each class were left out for it.
    left_class: Vec<u64>,
    left_withheld: u64,
    left_overlap: u64,
    left_bounds: u64,
    /// How many were read of each return number.
    pub(super) by_return: [u64; 16],
    /// Points outside the box of the header: how many, and the first few.
    pub(super) outside: u64,
    /// Number of the point in the file, from 1, and its stored integers.
    pub(super) outside_first: Vec<(u64, [i32; 3])>,
    /// The first point whose coordinates are beyond all limits.
    pub(super) too_far: Option<u64>,
}

impl Default for Tally {
    fn default() -> Tally {
        Tally {
            read: 0,
            of_class: vec![0; 256],
            left_class: vec![0; 256],
            left_withheld: 0,
            left_overlap: 0,
            left_bounds: 0,
            by_return: [0; 16],
            outside: 0,
            outside_first: Vec::new(),
            too_far: None,
        }
    }
}

impl Pick {
    /// What a job asks for.
    pub(super) fn new(
        spec: &CloudSpec,
        wanted: Wanted<'_>,
        spare: bool,
        header: &Header,
        lattice: Lattice,
    ) -> Pick {
        let mut classes = vec![false; 256];
        match wanted {
            Wanted::Classes(asked) => asked.iter().for_each(|&c| classes[usize::from(c)] = true),
            Wanted::All => {
                classes.fill(true);
                NOISE.iter().for_each(|&c| classes[usize::from(c)] = false);
                if !header.is_extended() && !spec.keep_overlap {
                    classes[usize::from(OVERLAP)] = false;
                }
            }
        }
        let origin = lattice.origin;
        let bounds_nm = spec.bounds_nm.map(|[west, south, east, north]| {
            let local = |nm: i64, origin_m: i64| nm.saturating_sub(origin_m.saturating_mul(NM));
            [
                local(west, origin.x_m),
                local(south, origin.y_m),
                local(east, origin.x_m),
                local(north, origin.y_m),
            ]
        });
        Pick {
            lattice,
            classes,
            keep_withheld: spec.keep_withheld,
            keep_overlap: spec.keep_overlap,
            bounds_nm,
            header_box: header_box(header),
            extended: header.is_extended(),
            record_len: header.record_len,
            spare: spare.then(|| AtomicBool::new(true)),
        }
    }

    /// Looks at records; `first` is the number of the first of them in the file, from 1.
    pub(super) fn take(&self, records: &[u8], first: u64, batch: &mut Batch) {
        let Batch {
            points,
            spare,
            tally,
        } = batch;
        let wants_spare = self.spare.as_ref().filter(|s| s.load(Ordering::Relaxed));
        tally.read += (records.len() / self.record_len) as u64;
        for (record, number) in records.chunks_exact(self.record_len).zip(first..) {
            let stored = [0, 4, 8].map(|at| {
                i32::from_le_bytes([record[at], record[at + 1], record[at + 2], record[at + 3]])
            });
            let read = Attributes::of(record, self.extended);
            tally.of_class[usize::from(read.class)] += 1;
            tally.by_return[usize::from(read.return_number)] += 1;
            if let Some(limits) = &self.header_box
                && (0..3).any(|k| stored[k] < limits[k][0] || stored[k] > limits[k][1])
            {
                tally.outside += 1;
                if tally.outside_first.len() < NAMED {
                    tally.outside_first.push((number, stored));
                }
            }
            if !self.classes[usize::from(read.class)] {
                tally.left_class[usize::from(read.class)] += 1;
                if wants_spare.is_some() && self.is_spare(&read) {
                    spare.extend(self.lattice.point(stored).filter(|p| self.is_within(p)));
                }
            } else if read.withheld && !self.keep_withheld {
                tally.left_withheld += 1;
            } else if read.overlap && !self.keep_overlap {
                tally.left_overlap += 1;
            } else if let Some(point) = self.lattice.point(stored) {
                if self.is_within(&point) {
                    points.push(point);
                } else {
                    tally.left_bounds += 1;
                }
            } else {
                tally.too_far = tally.too_far.or(Some(number));
            }
        }
        if let Some(wants) = wants_spare
            && tally.of_class[usize::from(GROUND)] > 0
        {
            wants.store(false, Ordering::Relaxed);
            spare.clear();
        }
    }

    fn is_within(&self, point: &P3) -> bool {
        let [x, y] = [point.p.x, point.p.y];
        self.bounds_nm.is_none_or(|[west, south, east, north]| {
            west <= x && x <= east && south <= y && y <= north
        })
    }

    /// True for a point that a ground filter is to look at.
    fn is_spare(&self, read: &Attributes) -> bool {
        let overlap = read.overlap || (!self.extended && read.class == OVERLAP);
        !NOISE.contains(&read.class)
            && (!read.withheld || self.keep_withheld)
            && (!overlap || self.keep_overlap)
    }

    /// West, south, east and north end of what is taken, nanometres in the frame.
    pub(super) fn bounds_nm(&self) -> Option<[i64; 4]> {
        self.bounds_nm
    }
}

/// Nanometres in a metre.
const NM: i64 = 1_000_000_000;

/// What a point is, besides its place.
struct Attributes {
    class: u8,
    return_number: u8,
    withheld: bool,
    overlap: bool,
}

impl Attributes {
    /// # Source
    ///
    /// LAS Specification 1.4 R15 (2019), tables 7, 8 and 10 (formats 0 to 5), 15 and 16 (6 to 10)
    fn of(record: &[u8], extended: bool) -> Attributes {
        if extended {
            Attributes {
                class: record[16],
                return_number: record[14] & 15,
                withheld: record[15] & 4 != 0,
                overlap: record[15] & 8 != 0,
            }
        } else {
            Attributes {
                class: record[15] & 31,
                return_number: record[14] & 7,
                withheld: record[15] & 128 != 0,
                overlap: false,
            }
        }
    }
}

/// The box of a header in stored integers, wider by the step that writers round by; `None` if it is
/// no box.
pub(super) fn header_box(header: &Header) -> Option<[[i32; 2]; 3]> {
    let mut limits = [[0; 2]; 3];
    for (k, limits) in limits.iter_mut().enumerate() {
        let stored = |v: f64| (v - header.offset[k]) / header.scale[k];
        let (low, high) = (stored(header.low[k]), stored(header.high[k]));
        if !(low.is_finite() && high.is_finite() && low <= high) {
            return None;
        }
        // Conversion to an integer stops at its ends.
        *limits = [low.round() as i32, high.round() as i32];
        *limits = [limits[0].saturating_sub(1), limits[1].saturating_add(1)];
    }
    Some(limits)
}

impl Tally {
    /// Adds the account of records that follow.
    pub(super) fn add(&mut self, next: &Tally) {
        self.read += next.read;
        let sum = |a: &mut [u64], b: &[u64]| a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
        sum(&mut self.of_class, &next.of_class);
        sum(&mut self.left_class, &next.left_class);
        sum(&mut self.by_return, &next.by_return);
        self.left_withheld += next.left_withheld;
        self.left_overlap += next.left_overlap;
        self.left_bounds += next.left_bounds;
        self.outside += next.outside;
        let room = NAMED - self.outside_first.len();
        let more = next.outside_first.iter().take(room);
        self.outside_first.extend(more.copied());
        self.too_far = self.too_far.or(next.too_far);
    }

    /// What was left out, by reason, in words.
    pub(super) fn left_out(&self) -> Vec<LeftOut> {
        let classes = self.left_class.iter().zip(0u8..=255);
        let classes = classes.map(|(&count, number)| (class(number), count));
        let others = [
            ("flagged withheld", self.left_withheld),
            ("flagged as overlap of flight lines", self.left_overlap),
            ("outside the bounds", self.left_bounds),
        ];
        let others = others.map(|(why, count)| (why.to_owned(), count));
        classes
            .chain(others)
            .filter(|&(_, count)| count > 0)
            .map(|(why, count)| LeftOut { why, count })
            .collect()
    }
}
