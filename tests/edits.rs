//! Edits of a designed surface: compositions taken back, and what that leaves of volumes.
#![allow(clippy::unwrap_used)]

mod common;

use common::{Random, at, surface};
use cutbank::design::shape::{Corners, Ends, RibbonLabels, Sides, floor_with_sides, ribbon};
use cutbank::geom::{Point, Ring};
use cutbank::surface::{Delta, Patch, Rule, Surface};

/// A ground of random shots, 30 m wide.
fn yard(random: &mut Random, shots: usize) -> Surface {
    let points: Vec<_> = (0..shots)
        .map(|_| {
            at(
                random.between(0.0, 30.0),
                random.between(0.0, 30.0),
                random.between(9.0, 11.0),
            )
        })
        .collect();
    surface(&points, 0)
}

/// A basin, a mound or a stream somewhere on the yard or over its edge; labels from `label`.
fn feature(random: &mut Random, label: u32) -> (Patch, Rule) {
    let rule = [Rule::Lower, Rule::Raise][random.below(2) as usize];
    let sides = Sides {
        rule,
        run_per_rise: [0.5, 1.0, 2.0][random.below(3) as usize],
        limit_z_m: if rule == Rule::Lower { 15.0 } else { 5.0 },
        corners: [Corners::Mitre, Corners::Round][random.below(2) as usize],
        chord_m: 0.1,
    };
    let z = if rule == Rule::Lower {
        random.between(8.0, 10.0)
    } else {
        random.between(10.0, 12.0)
    };
    let (x, y) = (random.between(-2.0, 30.0), random.between(-2.0, 30.0));
    if random.below(3) == 0 {
        let line = [(0.0, 0.0), (3.0, 1.0), (5.0, -2.0)].map(|(dx, dy)| at(x + dx, y + dy, z));
        let labels = RibbonLabels {
            middle: label,
            left: label + 1,
            right: label + 2,
            ends: [label + 3; 2],
        };
        return (ribbon(&line, 0.8, [Ends::Slope; 2], labels, &sides), rule);
    }
    let ring: Vec<Point> = (0..5)
        .map(|k| {
            let angle = std::f64::consts::TAU * f64::from(k) / 5.0;
            let r = random.between(0.7, 4.0);
            Point::from_m(x + r * angle.cos(), y + r * angle.sin())
        })
        .collect();
    let ring = Ring::new(&ring).unwrap();
    let patch = floor_with_sides(&ring, z, label, &sides, &mut |_| label + 1);
    (patch, rule)
}

/// Every array, list and cell of a surface, to the last bit.
fn everything(surface: &Surface) -> String {
    format!("{surface:?}")
}

#[test]
fn what_was_taken_back_has_never_been() {
    let (mut laid_in_all, mut taken_back) = (0, 0);
    for seed in 0..60 {
        let mut random = Random(seed);
        let shots = 20 + random.below(60) as usize;
        let ground = yard(&mut random, shots);
        let mut yard = ground.clone();
        let mut laid: Vec<((Patch, Rule), Delta)> = Vec::new();
        for step in 0..12 {
            if random.below(3) == 0 && !laid.is_empty() {
                let (_, delta) = laid.pop().unwrap();
                yard.undo(delta).unwrap();
                taken_back += 1;
            } else {
                let (patch, rule) = feature(&mut random, 10 * step + 1);
                let before = everything(&yard);
                match yard.compose(&patch, rule) {
                    Ok(composed) => laid.push(((patch, rule), composed.delta)),
                    Err(_) => assert_eq!(everything(&yard), before, "seed {seed}"),
                }
                laid_in_all += 1;
            }
            let mut fresh = ground.clone();
            for ((patch, rule), _) in &laid {
                fresh.compose(patch, *rule).unwrap();
            }
            assert!(everything(&yard) == everything(&fresh), "seed {seed}");
        }
        while let Some((_, delta)) = laid.pop() {
            yard.undo(delta).unwrap();
        }
        assert!(everything(&yard) == everything(&ground), "seed {seed}");
        yard.check_consistent().unwrap();
    }
    assert!(laid_in_all > 400 && taken_back > 120);
}

#[test]
fn a_delta_tells_what_changed() {
    for seed in 100..130 {
        let mut random = Random(seed);
        let before = yard(&mut random, 60);
        let mut after = before.clone();
        let (patch, rule) = feature(&mut random, 1);
        let composed = after.compose(&patch, rule).unwrap();
        let delta = &composed.delta;
        assert_eq!(composed.added, delta.added().len());
        assert_eq!(composed.removed, delta.removed().count());
        for (id, (corners, source)) in delta.removed().zip(after.removed_by(delta)) {
            assert_eq!(corners, before.corners(id), "seed {seed}");
            assert_eq!(source, *before.source(id), "seed {seed}");
        }
        for (&id, (corners, source)) in delta.added().iter().zip(after.added_by(delta)) {
            assert_eq!(corners, after.corners(id), "seed {seed}");
            assert_eq!(source, *after.source(id), "seed {seed}");
        }
        // Every facet of either that is not named is the same in both.
        let removed: Vec<u32> = delta.removed().collect();
        for id in before.facets().filter(|id| !removed.contains(id)) {
            assert_eq!(before.corners(id), after.corners(id), "seed {seed}");
        }
        for id in after.facets().filter(|id| !delta.added().contains(id)) {
            assert_eq!(before.corners(id), after.corners(id), "seed {seed}");
        }
    }
}

#[test]
fn only_the_last_composition_can_be_taken_back() {
    let mut random = Random(5);
    let mut yard = yard(&mut random, 80);
    let deltas: Vec<Delta> = (0..2)
        .map(|k| {
            let (patch, rule) = feature(&mut random, 10 * k);
            yard.compose(&patch, rule).unwrap().delta
        })
        .collect();
    assert!(deltas.iter().all(|d| !d.is_empty()));
    let before = everything(&yard);
    let error = yard.undo(deltas[0].clone()).unwrap_err();
    assert_eq!((error.number, error.of), (1, 2));
    assert!(everything(&yard) == before);
    let [first, last] = <[Delta; 2]>::try_from(deltas).unwrap();
    yard.undo(last.clone()).unwrap();
    assert!(yard.undo(last).is_err());
    yard.undo(first).unwrap();
}
