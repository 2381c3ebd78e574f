//! Edits of a designed surface: compositions taken back, and what that leaves of volumes.
#![allow(clippy::unwrap_used)]

mod common;

use common::{
    Random, Threads, at, close, drawn_out, near, plane_over, rectangle, ring, slow_z, surface,
};
use cutbank::design::shape::{Corners, Ends, RibbonLabels, Sides, floor_with_sides, ribbon};
use cutbank::files::OneThread;
use cutbank::geom::{Point, Ring};
use cutbank::surface::{Delta, Patch, Rule, Surface, Tally, cut_fill, cut_fill_raised};

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
            assert_eq!(source, before.source(id), "seed {seed}");
        }
        for (&id, (corners, source)) in delta.added().iter().zip(after.added_by(delta)) {
            assert_eq!(corners, after.corners(id), "seed {seed}");
            assert_eq!(source, after.source(id), "seed {seed}");
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

/// A second ground over the same yard that has nothing to do with the first.
fn other_yard(random: &mut Random) -> Surface {
    let points: Vec<_> = (0..70)
        .map(|_| {
            at(
                random.between(-5.0, 33.0),
                random.between(-5.0, 33.0),
                random.between(9.0, 11.0),
            )
        })
        .collect();
    surface(&points, 7)
}

#[test]
fn a_tally_kept_up_to_date_is_that_of_a_fresh_run() {
    let (mut exchanged, mut missed) = (0, 0);
    for seed in 200..240 {
        let mut random = Random(seed);
        let ground = yard(&mut random, 80);
        let by_m = [0.0, 0.15, -0.1][random.below(3) as usize];
        // Every other time over a ground the design was not made from.
        let from = if seed % 2 == 0 {
            ground.clone()
        } else {
            other_yard(&mut random)
        };
        let mut design = ground.clone();
        let mut tally = Tally::between(&from, by_m, &design, &OneThread);
        let mut laid: Vec<Delta> = Vec::new();
        for step in 0..10 {
            if random.below(3) == 0 && !laid.is_empty() {
                let delta = laid.pop().unwrap();
                let removed = Tally::of(&from, by_m, design.added_by(&delta));
                let added = Tally::of(&from, by_m, design.removed_by(&delta));
                design.undo(delta).unwrap();
                tally.exchange(&from, &design, &removed, &added);
            } else {
                let (patch, rule) = feature(&mut random, 10 * step + 1);
                let Ok(composed) = design.compose(&patch, rule) else {
                    continue;
                };
                let delta = composed.delta;
                let removed = Tally::of(&from, by_m, design.removed_by(&delta));
                let added = Tally::of(&from, by_m, design.added_by(&delta));
                tally.exchange(&from, &design, &removed, &added);
                laid.push(delta);
            }
            exchanged += 1;
            let fresh = Tally::between(&from, by_m, &design, &Threads(2));
            assert!(tally == fresh, "seed {seed}, step {step}");
            missed += usize::from(tally.result().extremes.len() > 2);
        }
    }
    assert!(exchanged > 300 && missed > 100);
}

#[test]
fn raising_the_first_surface_raises_every_column() {
    for seed in 300..320 {
        let mut random = Random(seed);
        let ground = yard(&mut random, 60);
        let mut design = ground.clone();
        let (patch, rule) = feature(&mut random, 1);
        design.compose(&patch, rule).unwrap();
        let level = cut_fill(&ground, &design, &OneThread).total;
        for by_m in [0.3, -0.2, 5.0] {
            let raised = cut_fill_raised(&ground, by_m, &design, &OneThread).total;
            close("area", raised.common_area_m2, level.common_area_m2, 1e-12);
            let want = level.net_m3() + by_m * level.common_area_m2;
            close("net", raised.net_m3(), want, 1e-11);
            if by_m >= 5.0 {
                assert_eq!(raised.fill_m3, 0.0);
            }
        }
    }
}

#[test]
fn a_layer_over_a_mound_with_known_sides() {
    // A cone frustum would need circles: a wedge instead. Ground level at 0, a ridge 2 m high with
    // sides 1 in 2 over 10 m: above 0.5 m the section is a triangle 1.5 m high and 6 m wide.
    let ground = plane_over([0.0, 0.0], [20.0, 10.0], |_, _| 0.0);
    let ridge = drawn_out(
        &[
            [0.0, 0.0],
            [6.0, 0.0],
            [10.0, 2.0],
            [14.0, 0.0],
            [20.0, 0.0],
        ],
        [0.0, 10.0],
    );
    let above = cut_fill_raised(&ground, 0.5, &ridge, &OneThread);
    close(
        "fill above the layer",
        above.total.fill_m3,
        1.5 * 6.0 / 2.0 * 10.0,
        1e-12,
    );
    let extremes = above.extremes_of([0]).unwrap();
    let top = extremes.highest_fill.unwrap();
    close("highest", top.by_m, 1.5, 1e-12);
    // The ridge is as high at both its ends: the one farther south counts.
    assert_eq!((top.at.p, top.at.z), (Point::from_m(10.0, 0.0), 2.0));
    assert_eq!(extremes.highest, at(10.0, 0.0, 2.0));
    assert_eq!(extremes.lowest, at(0.0, 0.0, 0.0));
    close("deepest", extremes.deepest_cut.unwrap().by_m, 0.5, 1e-12);
}

/// Extremes against a look at many places, none of which may be farther, and against the place
/// itself.
#[test]
fn extremes_are_where_they_are_said_to_be() {
    for seed in 400..430 {
        let mut random = Random(seed);
        let ground = yard(&mut random, 60);
        let mut design = ground.clone();
        for step in 0..3 {
            let (patch, rule) = feature(&mut random, 10 * step + 1);
            let _ = design.compose(&patch, rule);
        }
        let found = cut_fill(&ground, &design, &OneThread);
        let mut seen = 0;
        for (&label, extremes) in &found.extremes {
            let volumes = found.by_label[&label];
            // The area of a sliver may be less than a grain.
            assert!(extremes.deepest_cut.is_some() || volumes.cut_area_m2 <= 0.0);
            for (extreme, sign) in [(extremes.deepest_cut, 1.0), (extremes.highest_fill, -1.0)] {
                let Some(extreme) = extreme else { continue };
                // Rounded, a place on the rim may lie beside it.
                let Some(under) = slow_z(&ground, extreme.at.p) else {
                    continue;
                };
                // The place is rounded to a nanometre, and slivers at the rim are steep.
                near("depth", sign * (under - extreme.at.z), extreme.by_m, 1e-6);
                seen += 1;
            }
            let corners: Vec<_> = design
                .facets()
                .filter(|&f| design.label(f) == label)
                .flat_map(|f| design.corners(f))
                .collect();
            for c in &corners {
                let Some(under) = slow_z(&ground, c.p) else {
                    continue;
                };
                let depth = under - c.z;
                let deepest = extremes.deepest_cut.map_or(0.0, |e| e.by_m);
                let highest = extremes.highest_fill.map_or(0.0, |e| e.by_m);
                assert!(
                    depth <= deepest + 1e-6 && -depth <= highest + 1e-6,
                    "{seed}"
                );
                assert!(c.z >= extremes.lowest.z && c.z <= extremes.highest.z);
            }
            assert!(corners.contains(&extremes.lowest) && corners.contains(&extremes.highest));
        }
        assert!(seen > 0, "seed {seed}");
    }
}

#[test]
fn facts_of_a_basin_by_label() {
    // Closed forms: floor 4 m by 3 m, 1 m deep, sides 1 in 2: a frustum with a mouth 8 m by 7 m.
    let ground = plane_over([-10.0, -10.0], [10.0, 10.0], |_, _| 0.0);
    let mut design = ground.clone();
    let sides = Sides {
        rule: Rule::Lower,
        run_per_rise: 2.0,
        limit_z_m: 1.0,
        corners: Corners::Mitre,
        chord_m: 0.1,
    };
    let floor = ring(&rectangle([0.0, 0.0], [4.0, 3.0]));
    let patch = floor_with_sides(&floor, -1.0, 1, &sides, &mut |_| 2);
    design.compose(&patch, Rule::Lower).unwrap();
    let of = |labels: &[u32]| {
        let group = |l| labels.contains(&l).then_some(0);
        design.facts_by(1, group)[0].unwrap()
    };
    let (floor, banks, both) = (of(&[1]), of(&[2]), of(&[1, 2]));
    close("floor", floor.area_m2, 12.0, 1e-12);
    close("floor along", floor.surface_area_m2, 12.0, 1e-12);
    close("floor round", floor.perimeter_m, 14.0, 1e-12);
    close("banks", banks.area_m2, 56.0 - 12.0, 1e-12);
    // On a slope of 1 in 2 the length along it is sqrt(5) / 2 of the plan.
    close(
        "banks along",
        banks.surface_area_m2,
        44.0 * 5f64.sqrt() / 2.0,
        1e-8,
    );
    close("banks round", banks.perimeter_m, 30.0 + 14.0, 1e-8);
    close("both", both.area_m2, 56.0, 1e-12);
    close("both round", both.perimeter_m, 30.0, 1e-8);
    assert_eq!(both.lowest, at(0.0, 0.0, -1.0));
    assert_eq!(
        (both.highest.p, both.highest.z),
        (Point::from_m(-2.0, -2.0), 0.0)
    );
    assert_eq!(design.facts_by(1, |l| (l == 9).then_some(0)), [None]);
    let all = of(&[0, 1, 2]);
    close("rim", all.perimeter_m, 80.0, 1e-12);
}
