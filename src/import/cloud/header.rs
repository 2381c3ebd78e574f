//! The header of a LAS file and the records behind it, held against the length of the file.
//!
//! Takes a stream, gives a [`Header`] whose counts and offsets fit into the file: what comes after
//! may trust them. A number in a header leads to no allocation by itself.
//!
//! # Source
//!
//! American Society for Photogrammetry and Remote Sensing, LAS Specification 1.4 R15 (2019),
//! tables 3 (public header block), 5 and 6 (variable length records)

use std::io::{Read, SeekFrom};

use las::point::Format;
use las::raw;

use super::words::{cut_off, refused, thousands};
use crate::diag::Failure;
use crate::files::Stream;

/// Length of the shortest header, LAS 1.0 to 1.2, bytes.
const SHORTEST: u64 = 227;
/// Length of what stands before the data of a variable length record, bytes.
const RECORD_HEAD: u64 = 54;
/// The same for an extended one.
const EXTENDED_HEAD: u64 = 60;
/// Most bytes of one record that are read: a coordinate system is a few thousand.
const MOST_RECORD_BYTES: u64 = 1 << 20;
/// Largest scale taken, units of the file: coarser coordinates tell no ground.
const LARGEST_SCALE: f64 = 10.0;
/// Smallest scale taken: finer than any coordinate is stored.
const SMALLEST_SCALE: f64 = 1.0e-12;
/// Largest offset taken; the reader's limit in metres is held at the points.
const LARGEST_OFFSET: f64 = 1.0e10;

/// Records whose user is this say where on Earth the points are, and in which unit.
const PROJECTION: &str = "LASF_Projection";

/// What the header of a file says.
#[derive(Clone, Debug)]
pub(super) struct Header {
    /// Minor version: 4 of LAS 1.4.
    pub(super) minor: u8,
    /// Number of the point format.
    pub(super) format: u8,
    /// True for LAZ.
    pub(super) packed: bool,
    /// True if the points stand in the order of a COPC octree.
    pub(super) copc: bool,
    /// Bytes of a point.
    pub(super) record_len: usize,
    /// Points that the header claims.
    pub(super) points: u64,
    /// Points by return number, from the first; all nought if the header does not say.
    pub(super) by_return: [u64; 15],
    /// Scale of x, y and z.
    pub(super) scale: [f64; 3],
    /// Offset of x, y and z.
    pub(super) offset: [f64; 3],
    /// Lowest x, y and z.
    pub(super) low: [f64; 3],
    /// Highest x, y and z.
    pub(super) high: [f64; 3],
    /// The header says that its coordinate system is the one in WKT.
    pub(super) wkt_rules: bool,
    /// Where the points begin.
    pub(super) points_at: u64,
    /// Where they end at the latest.
    pub(super) points_end: u64,
    /// Records that say how the points are packed, and what the coordinates are.
    pub(super) records: Vec<Record>,
}

/// A variable length record.
#[derive(Clone, Debug)]
pub(super) struct Record {
    /// What it holds.
    pub(super) id: u16,
    /// True if it is about the coordinate system; else about the packing.
    pub(super) projection: bool,
    /// Its content.
    pub(super) data: Vec<u8>,
}

impl Header {
    /// Reads the header and what stands before the points.
    pub(super) fn read(stream: &mut dyn Stream, file: &str) -> Result<Header, Failure> {
        let refuse = |code, message: String, help: &str| refused(file, code, message, help);
        let io = |e: std::io::Error| refuse("cloud-unreadable", format!("cannot be read: {e}"), "");
        let length = stream.seek(SeekFrom::End(0)).map_err(io)?;
        stream.seek(SeekFrom::Start(0)).map_err(io)?;
        let mut head = Vec::new();
        let most = u64::from(u16::MAX) + 1;
        (&mut *stream)
            .take(most)
            .read_to_end(&mut head)
            .map_err(io)?;
        if !head.starts_with(b"LASF") {
            let first: String = head.iter().take(4).map(|&b| shown(b)).collect();
            return Err(refuse(
                "not-a-cloud",
                format!("this is no LAS or LAZ file: it begins with \"{first}\" in place of LASF"),
                "look whether the right file was copied, and copy it again",
            ));
        }
        if (head.len() as u64) < SHORTEST {
            return Err(cut_off(file, "within its header".to_owned()));
        }
        let raw = raw::Header::read_from(&head[..]).map_err(|_| {
            cut_off(
                file,
                "within its header, or the header is damaged".to_owned(),
            )
        })?;
        let (major, minor) = (raw.version.major, raw.version.minor);
        if major != 1 || minor > 4 {
            return Err(refuse(
                "cloud-version",
                format!("LAS version {major}.{minor} is not known"),
                "write it again as LAS 1.0 to 1.4",
            ));
        }
        let points_at = u64::from(raw.offset_to_point_data);
        if raw.header_size < raw.version.header_size() || points_at < u64::from(raw.header_size) {
            return Err(refuse(
                "cloud-header",
                format!(
                    "the header says it is {} bytes long and that points begin at byte {points_at}; in LAS 1.{minor} it is {} bytes long",
                    raw.header_size,
                    raw.version.header_size()
                ),
                DAMAGED,
            ));
        }
        let points = points_claimed(&raw, file)?;
        if points_at > length || (points_at == length && points > 0) {
            return Err(refuse(
                "cloud-count",
                format!(
                    "the header claims {} points, the file ends before the first: only a header is there",
                    thousands(points)
                ),
                "copy the file again; the points are not in it",
            ));
        }
        if points == 0 {
            return Err(refuse(
                "cloud-empty",
                "the header says that the file holds no point".to_owned(),
                "look whether the right file was written",
            ));
        }
        let (format, record_len) = format_of(&raw, file)?;
        scales_hold(&raw, file)?;
        let extended = raw.evlr.filter(|e| e.number_of_evlrs > 0);
        let mut records = Vec::new();
        let copc = before_the_points(&raw, stream, file, &mut records)?;
        let mut points_end = length;
        if let Some(extended) = extended {
            let at = extended.start_of_first_evlr;
            if at < points_at || at > length {
                return Err(refuse(
                    "cloud-records",
                    format!("the header says that records begin at byte {at} of {length}"),
                    CUT_OR_DAMAGED,
                ));
            }
            points_end = at;
            behind_the_points(extended, length, stream, file, &mut records)?;
        }
        Ok(Header {
            minor,
            format,
            packed: raw.point_data_record_format & 0x80 != 0,
            copc,
            record_len,
            points,
            by_return: by_return(&raw),
            scale: [raw.x_scale_factor, raw.y_scale_factor, raw.z_scale_factor],
            offset: [raw.x_offset, raw.y_offset, raw.z_offset],
            low: [raw.min_x, raw.min_y, raw.min_z],
            high: [raw.max_x, raw.max_y, raw.max_z],
            wkt_rules: raw.global_encoding & 16 != 0,
            points_at,
            points_end,
            records,
        })
    }

    /// True for the point formats of LAS 1.4, whose flags stand elsewhere.
    pub(super) fn is_extended(&self) -> bool {
        self.format >= 6
    }

    /// What the file is, in words.
    pub(super) fn words(&self) -> String {
        let packed = match (self.copc, self.packed) {
            (true, _) => "COPC (LAZ)",
            (false, true) => "LAZ",
            (false, false) => "LAS",
        };
        format!("{packed} 1.{}, point format {}", self.minor, self.format)
    }

    /// The content of a record of the coordinate system.
    pub(super) fn projection(&self, id: u16) -> Option<&[u8]> {
        let record = self.records.iter().find(|r| r.projection && r.id == id)?;
        Some(&record.data)
    }
}

/// What to do with a file that contradicts itself.
pub(super) const DAMAGED: &str = "the file is damaged: copy it again from where it came";
/// The same where it may be too short.
const CUT_OR_DAMAGED: &str = "the file was cut off or is damaged: copy it again from where it came";

/// A byte as it may be shown in a message.
fn shown(byte: u8) -> char {
    match byte {
        b' '..=b'~' => byte as char,
        _ => '.',
    }
}

/// The number of points; a header of LAS 1.4 holds it twice.
fn points_claimed(raw: &raw::Header, file: &str) -> Result<u64, Failure> {
    let old = u64::from(raw.number_of_point_records);
    let new = raw.large_file.map_or(0, |l| l.number_of_point_records);
    if old != 0 && new != 0 && old != new {
        return Err(refused(
            file,
            "cloud-count",
            format!(
                "the header gives the number of points twice, as {} and as {}",
                thousands(old),
                thousands(new)
            ),
            DAMAGED,
        ));
    }
    Ok(old.max(new))
}

fn by_return(raw: &raw::Header) -> [u64; 15] {
    let mut counts = raw
        .large_file
        .map_or([0; 15], |l| l.number_of_points_by_return);
    if counts.iter().all(|&n| n == 0) {
        for (count, &old) in counts.iter_mut().zip(&raw.number_of_points_by_return) {
            *count = u64::from(old);
        }
    }
    counts
}

/// Number of the point format and bytes of a point.
fn format_of(raw: &raw::Header, file: &str) -> Result<(u8, usize), Failure> {
    let stored = raw.point_data_record_format;
    // LAZ marks the format by the highest bit; a format with the second bit was never finished.
    let number = stored & 0x7f;
    let Some(format) = Format::new(number).ok().filter(|_| number <= 10) else {
        return Err(refused(
            file,
            "cloud-format",
            format!("point format {number} is not known; LAS 1.4 has 0 to 10"),
            "write it again as LAS or LAZ with point format 0 to 10",
        ));
    };
    let (len, least) = (raw.point_data_record_length, format.len());
    if len < least {
        return Err(refused(
            file,
            "cloud-format",
            format!(
                "the header says that a point is {len} bytes long; one of format {number} has {least} at least"
            ),
            DAMAGED,
        ));
    }
    Ok((number, usize::from(len)))
}

/// Refuses scales and offsets that make no coordinates.
fn scales_hold(raw: &raw::Header, file: &str) -> Result<(), Failure> {
    let scales = [raw.x_scale_factor, raw.y_scale_factor, raw.z_scale_factor];
    let offsets = [raw.x_offset, raw.y_offset, raw.z_offset];
    for ((axis, scale), offset) in ["x", "y", "z"].iter().zip(scales).zip(offsets) {
        let wrong = if scale == 0.0 {
            format!("the scale of {axis} in the header is 0: every point would lie at one place")
        } else if !(SMALLEST_SCALE..=LARGEST_SCALE).contains(&scale) {
            format!(
                "the scale of {axis} in the header is {}; it is the step of coordinates, such as 0.001",
                number(scale)
            )
        } else if !offset.is_finite() || offset.abs() > LARGEST_OFFSET {
            format!("the offset of {axis} in the header is {}", number(offset))
        } else {
            continue;
        };
        return Err(refused(file, "cloud-scale", wrong, DAMAGED));
    }
    Ok(())
}

/// A number of a header in words: also where it is none.
fn number(value: f64) -> String {
    if value.is_finite() {
        format!("{value:e}")
    } else {
        "no number".to_owned()
    }
}

/// Reads the records between header and points; true if one of them marks a COPC file.
fn before_the_points(
    raw: &raw::Header,
    stream: &mut dyn Stream,
    file: &str,
    records: &mut Vec<Record>,
) -> Result<bool, Failure> {
    let (mut at, end) = (
        u64::from(raw.header_size),
        u64::from(raw.offset_to_point_data),
    );
    let mut copc = false;
    for number in 1..=u64::from(raw.number_of_variable_length_records) {
        let length = record_at(stream, at, false);
        let Some((user, id, length)) = length.filter(|r| at + RECORD_HEAD + r.2 <= end) else {
            return Err(refused(
                file,
                "cloud-records",
                format!(
                    "record {number} of the {} that the header claims reaches beyond byte {end}, where points begin",
                    raw.number_of_variable_length_records
                ),
                CUT_OR_DAMAGED,
            ));
        };
        copc |= number == 1 && user == "copc" && id == 1;
        take(stream, &user, id, length, file, records)?;
        at += RECORD_HEAD + length;
    }
    Ok(copc)
}

/// Reads the extended records behind the points.
fn behind_the_points(
    extended: raw::header::Evlr,
    end: u64,
    stream: &mut dyn Stream,
    file: &str,
    records: &mut Vec<Record>,
) -> Result<(), Failure> {
    let mut at = extended.start_of_first_evlr;
    for number in 1..=extended.number_of_evlrs {
        let found = record_at(stream, at, true).filter(|r| r.2 <= end.saturating_sub(at));
        let Some((user, id, length)) =
            found.filter(|r| at.saturating_add(EXTENDED_HEAD + r.2) <= end)
        else {
            return Err(refused(
                file,
                "cloud-records",
                format!(
                    "record {number} of the {} behind the points reaches beyond the end of the file at byte {end}",
                    extended.number_of_evlrs
                ),
                CUT_OR_DAMAGED,
            ));
        };
        take(stream, &user, id, length, file, records)?;
        at += EXTENDED_HEAD + length;
    }
    Ok(())
}

/// User, number and length of the record that begins at a byte; the stream stands at its data.
fn record_at(stream: &mut dyn Stream, at: u64, extended: bool) -> Option<(String, u16, u64)> {
    stream.seek(SeekFrom::Start(at)).ok()?;
    let mut head = [0; EXTENDED_HEAD as usize];
    let size = if extended { EXTENDED_HEAD } else { RECORD_HEAD } as usize;
    stream.read_exact(&mut head[..size]).ok()?;
    let user = head[2..18].split(|&b| b == 0).next().unwrap_or_default();
    let id = u16::from_le_bytes([head[18], head[19]]);
    let mut length = [0; 8];
    let bytes = if extended { 8 } else { 2 };
    length[..bytes].copy_from_slice(&head[20..20 + bytes]);
    let user = String::from_utf8_lossy(user).into_owned();
    Some((user, id, u64::from_le_bytes(length)))
}

/// Keeps a record if it is one of those that are needed.
fn take(
    stream: &mut dyn Stream,
    user: &str,
    id: u16,
    length: u64,
    file: &str,
    records: &mut Vec<Record>,
) -> Result<(), Failure> {
    let projection = user == PROJECTION;
    let packing = user == laz::LazVlr::USER_ID && id == laz::LazVlr::RECORD_ID;
    let known = records
        .iter()
        .any(|r| r.id == id && r.projection == projection);
    if !(projection || packing) || known {
        return Ok(());
    }
    if length > MOST_RECORD_BYTES {
        return Err(refused(
            file,
            "cloud-records",
            format!("the record of the coordinate system is {length} bytes long"),
            DAMAGED,
        ));
    }
    let mut data = Vec::new();
    let got = (&mut *stream).take(length).read_to_end(&mut data);
    if got.ok() != Some(length as usize) {
        return Err(cut_off(file, "within the records of its header".to_owned()));
    }
    records.push(Record {
        id,
        projection,
        data,
    });
    Ok(())
}
