//! A zero of a function of one number between two bounds.

/// A place between `low` and `high` where `f` is within `tolerance` of 0, or, at a jump, next to
/// it. `f` rises from less than 0 at `low` to more than 0 at `high`.
///
/// Regula falsi; an end that stays where it is twice has its value halved (the Illinois rule),
/// and every third step halves the interval, so that it shrinks whatever `f` does.
///
/// # Errors
///
/// whatever `f` fails with
/// # Source
///
/// M. Dowell, P. Jarratt, "A modified regula falsi method for computing the root of an
/// equation", BIT 11 (1971), 168-174
pub(super) fn rising_root<E>(
    [mut low, mut high]: [f64; 2],
    [mut below, mut above]: [f64; 2],
    tolerance: f64,
    mut f: impl FnMut(f64) -> Result<f64, E>,
) -> Result<f64, E> {
    let mut kept = 0;
    let mut step = 0;
    loop {
        step += 1;
        let share = -below / (above - below);
        let x = match step % 3 {
            0 => low + (high - low) / 2.0,
            _ => low + (high - low) * share.clamp(1.0e-3, 1.0 - 1.0e-3),
        };
        let at_rest = x <= low || x >= high;
        let y = f(x)?;
        if y.abs() <= tolerance || at_rest {
            return Ok(x);
        }
        if y < 0.0 {
            (low, below) = (x, y);
            above = if kept == 1 { above / 2.0 } else { above };
            kept = 1;
        } else {
            (high, above) = (x, y);
            below = if kept == -1 { below / 2.0 } else { below };
            kept = -1;
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_cube_root_and_a_jump() {
        let mut count = 0;
        let cube = |x: f64| {
            count += 1;
            Ok::<_, ()>(x * x * x - 10.0)
        };
        let root = rising_root([0.0, 8.0], [-10.0, 502.0], 1.0e-12, cube).unwrap();
        assert!((root - 10.0f64.cbrt()).abs() < 1.0e-12, "{root}");
        assert!(count < 40, "{count}");
        let jump = |x: f64| Ok::<_, ()>(if x < 0.25 { -1.0 } else { 1.0 });
        let root = rising_root([0.0, 1.0], [-1.0, 1.0], 1.0e-12, jump).unwrap();
        assert!((root - 0.25).abs() < 1.0e-12, "{root}");
    }
}
