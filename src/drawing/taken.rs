//! What a ground filter took away from a cloud, as a sheet: where it stood and how high.
//!
//! Takes the cells of an import, gives one SVG sheet. Bands are of the highest point taken away in
//! a cell; counts are in the legend.

use super::banded::{LETTER_MM2, Shade};
use super::ink::{Anchor, Look, Svg};
use super::legend::{
    LIST_ROW_MM, Sample, TEXT_MM, bar_scale, legend, legend_height, letter, north, title_block,
};
use super::region::Path;
use super::scale::{Paper, Scale};
use super::sheet::{COLUMN_MM, MARGIN_MM};
use super::width_mm;
use crate::import::{TakenAway, TakenCell};
use crate::show::Show;
use crate::units::LengthUnit;

/// Ends of the bands above the ground: metres, and feet.
const ENDS: [[f64; 3]; 2] = [[0.5, 2.0, 5.0], [2.0, 6.0, 15.0]];
/// Letters of the bands: what lies below the ground first.
const LETTERS: [char; 5] = ['A', 'B', 'C', 'D', 'E'];

/// The points of `source` that were not taken for ground.
///
/// # Units
///
/// the SVG's user unit is a millimetre on paper; heights and coordinates in `unit`
pub fn taken_away(picture: &TakenAway, source: &str, unit: LengthUnit) -> String {
    let paper = Paper::A4;
    let room = [
        paper.width_mm - COLUMN_MM - 3.0 * MARGIN_MM,
        paper.height_mm - 2.0 * MARGIN_MM,
    ];
    let size_m = [picture.columns, picture.rows].map(|n| f64::from(n) * picture.cell_m);
    let scale = Scale::fitting(unit, size_m, room);
    let k = scale.mm_per_m();
    let mut svg = Svg::new(
        paper.width_mm,
        paper.height_mm,
        &format!("What was taken away from {source}, {}", scale.words),
    );
    let [width, height] = size_m.map(|m| m * k);
    let bottom = MARGIN_MM + height;
    let cell_mm = picture.cell_m * k;
    let corner = |column: u32, row: u32| {
        [
            MARGIN_MM + f64::from(column) * cell_mm,
            bottom - f64::from(row) * cell_mm,
        ]
    };
    let ends = ENDS[usize::from(unit.is_foot())];
    let band_of = |cell: &TakenCell| {
        let above = unit.from_m(cell.highest_m);
        match cell.highest_m > 0.0 {
            false => 0,
            true => 1 + ends.iter().filter(|&&end| above > end).count(),
        }
    };
    let words = [
        "below the ground".to_owned(),
        format!("up to {} {} above it", ends[0], unit.name()),
        format!("{} to {}", ends[0], ends[1]),
        format!("{} to {}", ends[1], ends[2]),
        format!("higher than {}", ends[2]),
    ];
    let mut entries = Vec::new();
    svg.group("taken away");
    for (band, (letter_of, words)) in LETTERS.into_iter().zip(words).enumerate() {
        let shade = Shade::new(letter_of, band, LETTERS.len());
        let cells: Vec<&TakenCell> = picture
            .cells
            .iter()
            .filter(|c| band_of(c) == band)
            .collect();
        let count: u64 = cells.iter().map(|c| u64::from(c.count)).sum();
        let runs = runs(&cells);
        let paths: Vec<Path> = runs
            .iter()
            .map(|&[first, end, row]| {
                let ([west, south], [east, north]) = (corner(first, row), corner(end, row + 1));
                vec![[west, south], [east, south], [east, north], [west, north]]
            })
            .collect();
        shade.fill(&mut svg, &paths);
        // A letter in the longest run of each stretch of rows that is large enough.
        for &[first, end, row] in &longest(&runs, cell_mm) {
            let ([west, south], [east, north]) = (corner(first, row), corner(end, row + 1));
            let middle = [(west + east) / 2.0, (south + north) / 2.0 + 1.0];
            letter(&mut svg, &letter_of.to_string(), "#000000", middle, 3.0);
        }
        let words = if count == 0 {
            format!("{words}: none")
        } else {
            format!("{words}: {count} points")
        };
        entries.push((Sample::Band(shade), words));
    }
    svg.end_group();
    let frame = "fill=\"none\" stroke=\"#000000\" stroke-width=\"0.35\"";
    svg.rect([MARGIN_MM, MARGIN_MM], [width, height], frame);
    beside(&mut svg, picture, source, Show::new(unit), &scale, &entries);
    svg.finish()
}

/// North, bar scale, legend and title block, right of the frame.
fn beside(
    svg: &mut Svg,
    picture: &TakenAway,
    source: &str,
    show: Show,
    scale: &Scale,
    entries: &[(Sample, String)],
) {
    let paper = Paper::A4;
    let x = paper.width_mm - COLUMN_MM - MARGIN_MM;
    north(svg, [x, MARGIN_MM]);
    let bar = [x + 12.0, MARGIN_MM + 3.0];
    let height = bar_scale(svg, bar, scale.mm_per_m(), show);
    let below = [x + 12.0, bar[1] + height + 2.6];
    svg.text(below, TEXT_MM, Anchor::Start, Look::plain(&scale.words));
    let start = MARGIN_MM + 21.0;
    legend(svg, [x, start], COLUMN_MM, entries, false);
    let unit = show.unit();
    let corner = |origin_m: i64, nm: i64| unit.from_m(origin_m as f64 + nm as f64 / 1e9);
    let rows = [
        format!(
            "South-west corner {:.0} E, {:.0} N",
            corner(picture.origin.x_m, picture.low.x),
            corner(picture.origin.y_m, picture.low.y)
        ),
        format!("One cell is {} square", show.length(picture.cell_m)),
        "White: every point was taken for ground,".to_owned(),
        "or there is none.".to_owned(),
    ];
    let mut y = start + legend_height(entries.len(), false) + 1.0;
    for row in &rows {
        y += LIST_ROW_MM;
        svg.text([x, y], TEXT_MM, Anchor::Start, Look::plain(row));
    }
    let lines = [
        "Taken away by the ground filter".to_owned(),
        format!("{} points stand on the ground", picture.above),
        format!("{} points lie below it", picture.below),
        format!(
            "{}, true to scale on {} at full size",
            scale.words, paper.name
        ),
        "Look whether a wall, a bank or a step of the ground is among them.".to_owned(),
    ];
    let corner = [x, paper.height_mm - MARGIN_MM];
    title_block(svg, corner, COLUMN_MM, source, &lines);
    svg.rect(
        [MARGIN_MM / 2.0, MARGIN_MM / 2.0],
        [paper.width_mm - MARGIN_MM, paper.height_mm - MARGIN_MM],
        &format!(
            "fill=\"none\" stroke=\"#6B6B6B\" stroke-width=\"{}\"",
            width_mm::THIN
        ),
    );
}

/// Cells side by side in a row as one: first column, end and row.
fn runs(cells: &[&TakenCell]) -> Vec<[u32; 3]> {
    cells
        .chunk_by(|a, b| a.row == b.row && a.column + 1 == b.column)
        .filter_map(|run| {
            let (first, last) = (run.first()?, run.last()?);
            Some([first.column, last.column + 1, first.row])
        })
        .collect()
}

/// The runs that carry a letter: where runs lie on each other, the longest of them, if they are
/// large enough together.
fn longest(runs: &[[u32; 3]], cell_mm: f64) -> Vec<[u32; 3]> {
    // Stretches that grow row by row: their last run, their longest, and their cells.
    let mut stretches: Vec<([u32; 3], [u32; 3], u32)> = Vec::new();
    for &run in runs {
        let touches = |last: &[u32; 3]| {
            (last[2] + 1 == run[2] || last[2] == run[2]) && last[0] < run[1] && run[0] < last[1]
        };
        match stretches
            .iter_mut()
            .rev()
            .find(|(last, _, _)| touches(last))
        {
            Some((last, longest, cells)) => {
                *last = run;
                *cells += run[1] - run[0];
                if run[1] - run[0] > longest[1] - longest[0] {
                    *longest = run;
                }
            }
            None => stretches.push((run, run, run[1] - run[0])),
        }
    }
    stretches
        .into_iter()
        .filter(|&(_, run, cells)| {
            f64::from(cells) * cell_mm * cell_mm >= LETTER_MM2
                && f64::from(run[1] - run[0]) * cell_mm >= LETTER_MM2.sqrt()
        })
        .map(|(_, longest, _)| longest)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Origin, Point};

    fn cell(column: u32, row: u32, highest_m: f64) -> TakenCell {
        TakenCell {
            column,
            row,
            count: 7,
            highest_m,
        }
    }

    #[test]
    fn a_house_stands_where_it_stood() {
        let house = (10..14).flat_map(|row| (20..26).map(move |column| cell(column, row, 6.0)));
        let mut cells: Vec<TakenCell> = house.collect();
        cells.insert(0, cell(2, 1, 0.0));
        let picture = TakenAway {
            origin: Origin { x_m: 500, y_m: 700 },
            low: Point::new(0, 0),
            cell_m: 1.0,
            columns: 60,
            rows: 40,
            above: 168,
            below: 7,
            cells,
        };
        let svg = taken_away(&picture, "yard <1>.laz", LengthUnit::Metre);
        // 1 : 500 on A4: 2 mm a metre; the house is 12 mm wide and 8 mm high, 40 mm from the west.
        assert!(svg.contains("1 : 500"), "{svg:.300}");
        assert!(svg.contains("yard &lt;1&gt;.laz"));
        assert!(svg.contains("M50 70L62 70L62 68L50 68Z"), "{svg}");
        assert!(svg.contains("higher than 5: 168 points"));
        assert!(svg.contains("below the ground: 7 points"));
        assert!(svg.contains("0.5 to 2: none"));
        assert!(svg.contains(">E</text>"));
        let feet = taken_away(&picture, "yard.laz", LengthUnit::Foot);
        assert!(feet.contains("higher than 15: 168 points"));
    }

    #[test]
    fn runs_that_lie_on_each_other_have_one_letter() {
        let runs = [[0, 3, 0], [10, 12, 0], [0, 5, 1], [2, 4, 2], [10, 11, 5]];
        assert_eq!(longest(&runs, 4.0), [[0, 5, 1], [10, 12, 0], [10, 11, 5]]);
        assert_eq!(longest(&runs, 1.5), [[0, 5, 1]]);
    }
}
