//! Areas of the ground in bands of some number: shaded in grey steps, hatched, lettered.
//!
//! Takes the band of each facet, gives ink on a sheet. Knows not what the bands are of. Grey,
//! hatch and letter each tell the bands apart by themselves, so a grey print or a wet one still
//! reads.

use super::ink::Svg;
use super::legend::Sample;
use super::region::{Path, areas, dots, hatch, inside, is_inside, rings};
use super::sheet::{Sheet, Words};
use super::squares::{Banding, Squares};
use super::width_mm;
use crate::geom::twice_area_of;

/// A band to be shown.
pub(super) struct Band {
    /// Its letter.
    pub(super) letter: char,
    /// What the legend says of it.
    pub(super) words: String,
}

/// How a band looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shade {
    pub(super) letter: char,
    grey: &'static str,
    ink: Ink,
}

/// What lies on the grey of a band.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Ink {
    Bare,
    Dots(f64),
    Rising(f64),
    Crossed(f64),
}

/// Grey and hatch from the first band to the last; spacing of the hatch in mm.
const LOOKS: [(&str, Ink); 7] = [
    ("#FFFFFF", Ink::Bare),
    ("#F7F7F7", Ink::Dots(3.0)),
    ("#ECECEC", Ink::Rising(4.0)),
    ("#DEDEDE", Ink::Rising(1.8)),
    ("#CDCDCD", Ink::Crossed(3.2)),
    ("#BABABA", Ink::Crossed(1.7)),
    ("#9C9C9C", Ink::Crossed(0.9)),
];

/// Smallest area on paper that carries its letter, square mm.
pub(super) const LETTER_MM2: f64 = 12.0;

/// Half the width of the narrowest area that carries its letter, mm.
const NARROWEST_MM: f64 = 0.6;

/// Colour of the hatch.
const HATCH_GREY: &str = "#4A4A4A";

impl Shade {
    /// The look of one of so many bands: fewer are spread over all looks.
    pub(super) fn new(letter: char, band: usize, bands: usize) -> Shade {
        let last = LOOKS.len() - 1;
        let look = match bands {
            0 | 1 => 0,
            n => (band.min(n - 1) * last + (n - 1) / 2) / (n - 1),
        };
        let (grey, ink) = LOOKS[look];
        Shade { letter, grey, ink }
    }

    /// Fills rings, by the even-odd rule.
    pub(super) fn fill(&self, svg: &mut Svg, rings: &[Path]) {
        svg.fill(rings, self.grey);
        let mut lines = |spacing_mm: f64, rising: bool| {
            svg.lines(
                &hatch(rings, spacing_mm, rising),
                width_mm::HATCH,
                HATCH_GREY,
            );
        };
        match self.ink {
            Ink::Bare => {}
            Ink::Dots(spacing_mm) => svg.dots(&dots(rings, spacing_mm), 0.35, HATCH_GREY),
            Ink::Rising(spacing_mm) => lines(spacing_mm, true),
            Ink::Crossed(spacing_mm) => {
                lines(spacing_mm, true);
                lines(spacing_mm, false);
            }
        }
    }
}

impl Sheet<'_> {
    /// The measured ground in bands: neighbouring facets of one band make one area.
    ///
    /// # Input
    ///
    /// seven bands at most, from the first to the last of what they are of; `banding` gives the place in `bands` of every facet of the ground. Bands that have no
    /// facet stand in the legend all the same: none of it is an answer too. A ground too dense to
    /// be seen facet by facet is drawn in squares, and the sheet says so.
    pub(super) fn bands(&mut self, bands: &[Band], banding: &Banding) {
        let measured = &self.outcome.terrain.surface;
        let squares = Squares::of(measured, self.scale.mm_per_m(), banding);
        let (ground, band_of): (_, &dyn Fn(u32) -> usize) = match &squares {
            Some(squares) => (&squares.surface, &|f| squares.band_of[f as usize]),
            None => (measured, &|f| banding.of(measured, f)),
        };
        if let Some(squares) = &squares {
            let side = self.show.length(squares.side_m);
            self.notes.push(match banding {
                Banding::Middle(_) => format!(
                    "Drawn in squares of {side}: each has the band that the middle of its area has"
                ),
                Banding::Slope(_) => format!(
                    "Drawn in squares of {side}, by the mean plane of each. Areas in the legend are \
                     of single triangles, which lean with every error of a height"
                ),
            });
        }
        self.svg.group("bands");
        for (k, band) in bands.iter().enumerate() {
            let shade = Shade::new(band.letter, k, bands.len());
            let rings = rings(ground, &|f| band_of(f) == k);
            let paths: Vec<Path> = rings.iter().map(|r| self.path(r)).collect();
            shade.fill(&mut self.svg, &paths);
            for path in &paths {
                self.svg.line(path, true, width_mm::HATCH, "#000000", "");
            }
            for area in areas(&rings) {
                let paths: Vec<Path> = area.iter().map(|r| self.path(r)).collect();
                if twice_area_of(&paths[0]).abs() / 2.0 < LETTER_MM2 {
                    continue;
                }
                // Where all of a letter would stand outside, it would be read as another's.
                let is_in = |at: &[f64; 2]| {
                    [[-1.0, 0.0], [1.0, 0.0], [0.0, -1.0], [0.0, 1.0]]
                        .into_iter()
                        .all(|[dx, dy]| {
                            let p = [at[0] + dx * NARROWEST_MM, at[1] + dy * NARROWEST_MM];
                            paths.iter().filter(|path| is_inside(path, p)).count() % 2 == 1
                        })
                };
                if let Some(at) = inside(&paths).filter(is_in) {
                    self.words.push(Words {
                        size_mm: 3.0,
                        gaps_mm: &[],
                        ..Words::bold(vec![band.letter.to_string()], at, true)
                    });
                }
            }
            self.explain(Sample::Band(shade), band.words.clone());
        }
        self.svg.end_group();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_bands_look_alike() {
        for bands in 2..=LOOKS.len() {
            let shades: Vec<Shade> = (0..bands).map(|k| Shade::new('A', k, bands)).collect();
            assert_eq!(shades[0].ink, Ink::Bare);
            assert_eq!(shades[bands - 1].grey, LOOKS[LOOKS.len() - 1].0);
            for pair in shades.windows(2) {
                // Darker from band to band, and hatched otherwise.
                assert!(pair[0].grey > pair[1].grey, "{pair:?}");
                assert_ne!(pair[0].ink, pair[1].ink);
            }
        }
    }
}
