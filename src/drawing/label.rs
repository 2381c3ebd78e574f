//! Room on a sheet: which places of the paper already carry text.
//!
//! Takes boxes in millimetres, says whether they are free. Knows no words.

use super::ink::{Anchor, text_width_mm};

/// Side of a cell of the paper, mm.
const CELL_MM: f64 = 0.5;

/// The paper by cells.
#[derive(Debug)]
pub(super) struct Room {
    across: usize,
    down: usize,
    taken: Vec<bool>,
    frame: [f64; 4],
}

/// A text that found room.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spot {
    pub(super) at: [f64; 2],
    pub(super) anchor: Anchor,
}

impl Room {
    /// Paper of a size; text stays inside the frame (left, top, right, bottom).
    pub(super) fn new(width_mm: f64, height_mm: f64, frame: [f64; 4]) -> Room {
        let across = (width_mm / CELL_MM).ceil() as usize + 1;
        let down = (height_mm / CELL_MM).ceil() as usize + 1;
        Room {
            across,
            down,
            taken: vec![false; across * down],
            frame,
        }
    }

    fn cells(&self, low: [f64; 2], high: [f64; 2]) -> impl Iterator<Item = usize> + use<> {
        let cell = |v: f64, most: usize| ((v / CELL_MM).floor().max(0.0) as usize).min(most - 1);
        let (x0, x1) = (cell(low[0], self.across), cell(high[0], self.across));
        let (y0, y1) = (cell(low[1], self.down), cell(high[1], self.down));
        let across = self.across;
        (y0..=y1).flat_map(move |y| (x0..=x1).map(move |x| y * across + x))
    }

    /// True if nothing stands in a box that lies inside the frame.
    fn is_free(&self, low: [f64; 2], high: [f64; 2]) -> bool {
        let [left, top, right, bottom] = self.frame;
        low[0] >= left
            && low[1] >= top
            && high[0] <= right
            && high[1] <= bottom
            && self.cells(low, high).all(|c| !self.taken[c])
    }

    /// Marks a box as taken.
    pub(super) fn take(&mut self, low: [f64; 2], high: [f64; 2]) {
        for c in self.cells(low, high) {
            self.taken[c] = true;
        }
    }

    /// Takes a box if it is free.
    pub(super) fn try_take(&mut self, low: [f64; 2], high: [f64; 2]) -> bool {
        let free = self.is_free(low, high);
        if free {
            self.take(low, high);
        }
        free
    }

    /// Finds room for lines of text near a place: centred on it first if `centred`, then round
    /// it at growing distance. The spot is the base line of the first line.
    pub(super) fn place(
        &mut self,
        lines: &[&str],
        (size_mm, bold): (f64, bool),
        near: [f64; 2],
        centred: bool,
        gaps_mm: &[f64],
    ) -> Option<Spot> {
        let width = lines
            .iter()
            .map(|l| text_width_mm(l, size_mm))
            .fold(0.0, f64::max)
            * if bold { BOLD } else { 1.0 };
        let height = size_mm * LINE * lines.len() as f64;
        let [x, y] = near;
        let mut tries: Vec<(Anchor, [f64; 2])> = Vec::new();
        if centred {
            tries.push((Anchor::Middle, [x - width / 2.0, y - height / 2.0]));
        }
        for &gap in gaps_mm {
            let (above, below, beside) = (y - gap - height, y + gap, y - height / 2.0);
            let (right, left, middle) = (x + gap, x - gap - width, x - width / 2.0);
            tries.extend([
                (Anchor::Start, [right, above + gap * 0.5]),
                (Anchor::Start, [right, beside]),
                (Anchor::Start, [right, below - gap * 0.5]),
                (Anchor::Middle, [middle, above]),
                (Anchor::Middle, [middle, below]),
                (Anchor::End, [left, above + gap * 0.5]),
                (Anchor::End, [left, beside]),
                (Anchor::End, [left, below - gap * 0.5]),
            ]);
        }
        tries.into_iter().find_map(|(anchor, corner)| {
            let high = [corner[0] + width, corner[1] + height];
            // Two texts on one line must not read as one.
            let air = size_mm * AIR;
            let free = self.try_take([corner[0] - air, corner[1]], [high[0] + air, high[1]]);
            free.then(|| {
                let x = match anchor {
                    Anchor::Start => corner[0],
                    Anchor::Middle => corner[0] + width / 2.0,
                    Anchor::End => high[0],
                };
                Spot {
                    at: [x, corner[1] + size_mm * 0.95],
                    anchor,
                }
            })
        })
    }
}

/// How much wider bold letters are.
const BOLD: f64 = 1.1;

/// Left free on both sides of a text, for its size.
const AIR: f64 = 0.3;

/// Height of a line of text for its size.
pub(super) const LINE: f64 = 1.25;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_do_not_lie_on_one_another() {
        let mut room = Room::new(100.0, 100.0, [0.0, 0.0, 100.0, 100.0]);
        let gaps = [1.0, 5.0, 10.0];
        let (width, height) = (text_width_mm("shot 12", 2.5), 2.5 * LINE);
        let corner = |spot: &Spot| {
            let left = match spot.anchor {
                Anchor::Start => spot.at[0],
                Anchor::Middle => spot.at[0] - width / 2.0,
                Anchor::End => spot.at[0] - width,
            };
            [left, spot.at[1] - 2.5 * 0.95]
        };
        let spots: Vec<[f64; 2]> = std::iter::from_fn(|| {
            room.place(&["shot 12"], (2.5, false), [50.0, 50.0], true, &gaps)
        })
        .map(|spot| corner(&spot))
        .collect();
        assert!(spots.len() >= 6, "{}", spots.len());
        for (k, a) in spots.iter().enumerate() {
            for b in &spots[..k] {
                let apart = (a[0] - b[0]).abs() >= width || (a[1] - b[1]).abs() >= height;
                assert!(apart, "{a:?} {b:?}");
            }
        }
        let mut edge = Room::new(10.0, 10.0, [0.0, 0.0, 10.0, 10.0]);
        assert!(
            edge.place(
                &["far too long a text"],
                (2.5, false),
                [5.0, 5.0],
                true,
                &[1.0]
            )
            .is_none()
        );
    }
}
