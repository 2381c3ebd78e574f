//! Boxes by cells of a grid, to find those near a place or another box.

use crate::geom::Point;
use crate::surface::grid::Span;

/// Boxes, each in every cell it touches; about one cell a box.
pub(super) struct Boxes {
    low: Point,
    /// Cells a lattice unit.
    per_unit: f64,
    columns: usize,
    rows: usize,
    starts: Vec<u32>,
    entries: Vec<(Span, u32)>,
}

impl Boxes {
    pub(super) fn new(spans: &[Span]) -> Boxes {
        let mut boxes = Boxes {
            low: Point::default(),
            per_unit: 0.0,
            columns: 1,
            rows: 1,
            starts: Vec::new(),
            entries: Vec::new(),
        };
        let Some(all) = Span::of(spans.iter().flat_map(|s| [s.low, s.high])) else {
            boxes.starts = vec![0, 0];
            return boxes;
        };
        let (width, height) = (
            (all.high.x - all.low.x + 1) as f64,
            (all.high.y - all.low.y + 1) as f64,
        );
        let size = (width * height / spans.len() as f64)
            .sqrt()
            .max(width.max(height) / 1.0e3);
        boxes.low = all.low;
        boxes.columns = (width / size) as usize + 1;
        boxes.rows = (height / size) as usize + 1;
        boxes.per_unit = 1.0 / size;
        let mut starts = vec![0u32; boxes.columns * boxes.rows + 1];
        for span in spans {
            boxes.cells(span, |cell| starts[cell + 1] += 1);
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        let count = starts[starts.len() - 1] as usize;
        let mut entries = vec![(all, 0u32); count];
        for (id, span) in spans.iter().enumerate() {
            boxes.cells(span, |cell| {
                entries[next[cell] as usize] = (*span, id as u32);
                next[cell] += 1;
            });
        }
        boxes.starts = starts;
        boxes.entries = entries;
        boxes
    }

    fn cell(&self, p: Point) -> (usize, usize) {
        // A float turned whole is cut off at 0.
        let column = (p.x - self.low.x) as f64 * self.per_unit;
        let row = (p.y - self.low.y) as f64 * self.per_unit;
        (
            (column as usize).min(self.columns - 1),
            (row as usize).min(self.rows - 1),
        )
    }

    fn cells(&self, span: &Span, mut visit: impl FnMut(usize)) {
        let ((c0, r0), (c1, r1)) = (self.cell(span.low), self.cell(span.high));
        for row in r0..=r1 {
            for column in c0..=c1 {
                visit(row * self.columns + column);
            }
        }
    }

    /// Visits the boxes that touch a box, each once, those of one cell in ascending order.
    pub(super) fn near(&self, span: &Span, mut visit: impl FnMut(u32)) {
        self.cells(span, |cell| {
            let entries = self.starts[cell] as usize..self.starts[cell + 1] as usize;
            for &(own, id) in &self.entries[entries] {
                let Some(common) = own.common(span) else {
                    continue;
                };
                let (column, row) = self.cell(common.low);
                if row * self.columns + column == cell {
                    visit(id);
                }
            }
        });
    }
}
