//! Strips and tiles of a TIFF as numbers: compression, predictor, byte order, kind of number.
//!
//! The library that reads the directories would do this too, but loses the end of LZW tiles that
//! reach over the edge of the page.
//!
//! # Source
//!
//! TIFF Revision 6.0 (1992), sections 9 (PackBits), 13 (LZW), 14 (horizontal differencing);
//! Adobe Photoshop TIFF Technical Note 3 (2005) for floating point

use std::io::Read;

/// How the bytes of a strip or tile are packed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Packing {
    None,
    Lzw,
    Deflate,
    PackBits,
}

impl Packing {
    /// By the number of the tag; the name of a compression that is not read.
    pub(super) fn of(compression: u64) -> Result<Packing, &'static str> {
        match compression {
            1 => Ok(Packing::None),
            5 => Ok(Packing::Lzw),
            8 | 32946 => Ok(Packing::Deflate),
            32773 => Ok(Packing::PackBits),
            2..=4 => Err("fax"),
            6 | 7 => Err("JPEG"),
            34712 => Err("JPEG 2000"),
            34887 => Err("LERC"),
            34925 => Err("LZMA"),
            50000 => Err("Zstandard"),
            50001 => Err("WebP"),
            50002 => Err("JPEG XL"),
            _ => Err("an unknown"),
        }
    }

    /// In words.
    pub(super) fn name(self) -> &'static str {
        match self {
            Packing::None => "not compressed",
            Packing::Lzw => "LZW",
            Packing::Deflate => "deflate",
            Packing::PackBits => "PackBits",
        }
    }

    /// How many bytes one byte of the file can hold at most.
    ///
    /// # Source
    ///
    /// deflate: J. Gailly, M. Adler, zlib technical details (1032 to 1); LZW: codes of up to 12
    /// bits for strings of up to 4096 - 258 bytes; PackBits: 128 bytes in two
    pub(super) fn ratio(self) -> u64 {
        match self {
            Packing::None => 1,
            Packing::Lzw => 2560,
            Packing::Deflate => 1032,
            Packing::PackBits => 64,
        }
    }

    /// The first `wanted` bytes of what is packed; `None` if it holds fewer, or is damaged.
    pub(super) fn unpack(self, packed: &[u8], wanted: usize) -> Option<Vec<u8>> {
        let bytes = match self {
            Packing::None => packed.get(..wanted)?.to_vec(),
            Packing::Deflate => {
                let mut bytes = Vec::with_capacity(wanted);
                let mut unpacked = flate2::read::ZlibDecoder::new(packed).take(wanted as u64);
                unpacked.read_to_end(&mut bytes).ok()?;
                bytes
            }
            Packing::Lzw => unpack_lzw(packed, wanted),
            Packing::PackBits => unpack_bits(packed, wanted),
        };
        (bytes.len() == wanted).then_some(bytes)
    }
}

fn unpack_lzw(packed: &[u8], wanted: usize) -> Vec<u8> {
    let mut bytes = vec![0; wanted];
    let mut decoder = weezl::decode::Decoder::with_tiff_size_switch(weezl::BitOrder::Msb, 8);
    let (mut from, mut to) = (0, 0);
    while to < wanted {
        let step = decoder.decode_bytes(&packed[from..], &mut bytes[to..]);
        from += step.consumed_in;
        to += step.consumed_out;
        let is_over = !matches!(step.status, Ok(weezl::LzwStatus::Ok));
        if is_over || step.consumed_in + step.consumed_out == 0 {
            break;
        }
    }
    bytes.truncate(to);
    bytes
}

fn unpack_bits(packed: &[u8], wanted: usize) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(wanted);
    let mut rest = packed;
    while bytes.len() < wanted
        && let Some((&head, behind)) = rest.split_first()
    {
        rest = behind;
        let room = wanted - bytes.len();
        match head.cast_signed() {
            count @ 0.. => {
                let count = (count.unsigned_abs() as usize + 1).min(rest.len());
                bytes.extend_from_slice(&rest[..count.min(room)]);
                rest = &rest[count..];
            }
            -128 => {}
            count => {
                let Some((&byte, behind)) = rest.split_first() else {
                    break;
                };
                let count = count.unsigned_abs() as usize + 1;
                bytes.resize(bytes.len() + count.min(room), byte);
                rest = behind;
            }
        }
    }
    bytes
}

/// What was written instead of the numbers of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Predictor {
    /// The numbers themselves.
    None,
    /// The difference from the number before.
    Horizontal,
    /// The bytes of all numbers, first ones first, each as the difference from the byte before.
    FloatingPoint,
}

/// A kind of number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Unsigned,
    Signed,
    Decimal,
}

/// Numbers as they are stored.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stored {
    pub(super) kind: Kind,
    /// Bytes of a number: 1, 2, 4 or 8.
    pub(super) size: usize,
    pub(super) predictor: Predictor,
    pub(super) is_little: bool,
}

impl Stored {
    /// Gives the numbers of a row, one after the other; `row` is used up.
    pub(super) fn numbers(&self, row: &mut [u8], give: impl FnMut(f64)) {
        match self.size {
            1 => self.numbers_of::<1>(row, give),
            2 => self.numbers_of::<2>(row, give),
            4 => self.numbers_of::<4>(row, give),
            _ => self.numbers_of::<8>(row, give),
        }
    }

    fn numbers_of<const N: usize>(&self, row: &mut [u8], mut give: impl FnMut(f64)) {
        let number = |bits: u64| match (self.kind, N) {
            (Kind::Unsigned, _) => bits as f64,
            (Kind::Signed, 1) => f64::from((bits as u8).cast_signed()),
            (Kind::Signed, 2) => f64::from((bits as u16).cast_signed()),
            (Kind::Signed, 4) => f64::from((bits as u32).cast_signed()),
            (Kind::Signed, _) => bits.cast_signed() as f64,
            (Kind::Decimal, 2) => half(bits as u16),
            (Kind::Decimal, 4) => f64::from(f32::from_bits(bits as u32)),
            (Kind::Decimal, _) => f64::from_bits(bits),
        };
        let add = |sum: u64, byte: u8| sum << 8 | u64::from(byte);
        if self.predictor == Predictor::FloatingPoint {
            for i in 1..row.len() {
                row[i] = row[i].wrapping_add(row[i - 1]);
            }
            let count = row.len() / N;
            for i in 0..count {
                give(number(
                    (0..N).fold(0, |sum, k| add(sum, row[k * count + i])),
                ));
            }
            return;
        }
        let mut before = 0u64;
        for bytes in row.chunks_exact(N) {
            let mut bits = if self.is_little {
                bytes.iter().rev().fold(0, |sum, &byte| add(sum, byte))
            } else {
                bytes.iter().fold(0, |sum, &byte| add(sum, byte))
            };
            if self.predictor == Predictor::Horizontal {
                bits = bits.wrapping_add(before);
                before = bits;
            }
            give(number(bits & (u64::MAX >> (64 - 8 * N))));
        }
    }
}

/// A decimal of 16 bits.
///
/// # Source
///
/// IEEE 754-2008, binary16: 5 bits of exponent, 10 of fraction
fn half(bits: u16) -> f64 {
    let fraction = f64::from(bits & 0x3ff) / 1024.0;
    let magnitude = match (bits >> 10) & 0x1f {
        0 => fraction / 16384.0,
        31 if fraction > 0.0 => f64::NAN,
        31 => f64::INFINITY,
        exponent => (1.0 + fraction) * f64::from(1u32 << exponent) / 32768.0,
    };
    if bits >> 15 == 1 {
        -magnitude
    } else {
        magnitude
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pack_bits_as_published() {
        // TIFF 6.0, section 9: the example of the routine's author.
        let packed = [
            0xFE, 0xAA, 0x02, 0x80, 0x00, 0x2A, 0xFD, 0xAA, 0x03, 0x80, 0x00, 0x2A, 0x22, 0xF7,
            0xAA,
        ];
        let mut plain = vec![0xAA, 0xAA, 0xAA, 0x80, 0x00, 0x2A];
        plain.extend([0xAA; 4]);
        plain.extend([0x80, 0x00, 0x2A, 0x22]);
        plain.extend([0xAA; 10]);
        assert_eq!(Packing::PackBits.unpack(&packed, 24), Some(plain));
        assert_eq!(Packing::PackBits.unpack(&packed, 25), None);
    }

    #[test]
    fn halves_are_exact() {
        // IEEE 754-2008, table 3.5: smallest, largest, and one.
        for (bits, value) in [
            (0x0001, 2f64.powi(-24)),
            (0x0400, 2f64.powi(-14)),
            (0x3c00, 1.0),
            (0x7bff, 65504.0),
            (0xc000, -2.0),
            (0xfc00, f64::NEG_INFINITY),
        ] {
            assert_eq!(half(bits).to_bits(), value.to_bits());
        }
        assert!(half(0x7e00).is_nan());
    }
}
