//! Orders of places: along a curve that fills the plane, where near in it is near on the ground,
//! and without any order.

/// How far along Hilbert's curve a cell of a square of 2^`bits` by 2^`bits` cells lies.
///
/// # Source
///
/// D. Hilbert, "Ueber die stetige Abbildung einer Linie auf ein Flächenstück", Mathematische
/// Annalen 38 (1891), 459-460
pub(crate) fn along_hilbert(x: u32, y: u32, bits: u32) -> u64 {
    // The curve in a quarter is turned or mirrored; two bits say how, and the next quarter
    // and its turn follow from them.
    const QUARTER: [[u8; 4]; 4] = [[0, 1, 3, 2], [0, 3, 1, 2], [2, 1, 3, 0], [2, 3, 1, 0]];
    const TURN: [[u8; 4]; 4] = [[1, 0, 2, 0], [0, 3, 1, 1], [2, 2, 0, 3], [3, 1, 3, 2]];
    let mut turn = 0usize;
    let mut along = 0u64;
    for bit in (0..bits).rev() {
        let quarter = (((x >> bit) & 1) << 1 | ((y >> bit) & 1)) as usize;
        along = along << 2 | u64::from(QUARTER[turn][quarter]);
        turn = TURN[turn][quarter] as usize;
    }
    along
}

/// Even bits from a number: near ones have nothing in common.
///
/// # Source
///
/// the finaliser of SplitMix64: G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom
/// number generators", OOPSLA (2014), 453-472
pub(crate) fn scattered(mut bits: u64) -> u64 {
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    bits ^ (bits >> 31)
}

#[cfg(test)]
mod tests {
    use super::along_hilbert;

    #[test]
    fn the_curve_goes_through_every_cell_and_never_jumps() {
        let bits = 5;
        let mut cells: Vec<(u64, i64, i64)> = (0..1 << bits)
            .flat_map(|x| (0..1 << bits).map(move |y| (x, y)))
            .map(|(x, y)| (along_hilbert(x, y, bits), i64::from(x), i64::from(y)))
            .collect();
        cells.sort_unstable();
        for (k, cell) in cells.iter().enumerate() {
            assert_eq!(cell.0, k as u64);
        }
        for pair in cells.windows(2) {
            let step = (pair[0].1 - pair[1].1).abs() + (pair[0].2 - pair[1].2).abs();
            assert_eq!(step, 1);
        }
    }
}
