//! A hash map by plan position. The standard hasher withstands chosen keys and is slow for
//! short ones; nobody gains by slowing down a map of his own yard.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use super::point::Point;

/// Something by plan position. Never iterated over: its order means nothing.
pub(crate) type PointMap<V> = HashMap<Point, V, BuildHasherDefault<PointHasher>>;

/// Hashes the two whole numbers of a point.
///
/// # Source
///
/// multiplication by 2^64 over the golden ratio: D. E. Knuth, "The Art of Computer Programming",
/// vol. 3, 2nd ed. (1998), section 6.4
#[derive(Clone, Copy, Default)]
pub(crate) struct PointHasher(u64);

impl Hasher for PointHasher {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.write_u64(u64::from(byte));
        }
    }

    fn write_i64(&mut self, value: i64) {
        self.write_u64(value.cast_unsigned());
    }

    fn write_u64(&mut self, value: u64) {
        // Both halves of the product, so that low and high bits depend on all of the key.
        let product = u128::from(self.0.rotate_left(23) ^ value) * 0x9E37_79B9_7F4A_7C15;
        self.0 = (product as u64) ^ ((product >> 64) as u64);
    }
}
