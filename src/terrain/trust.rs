//! The trust map: how far the ground may be off at each place, from measured to guessed.
//!
//! Takes the ground and what its shots say of each other, gives half ranges of height. Knows
//! nothing of a blunder: a wrong shot is a matter of its own.

use crate::geom::{Origin, P3, Point, distance_m, orient};
use crate::survey::Survey;

use super::fan::Near;
use super::grade::{Grade, GradeArea};
use super::leave_out::{Guess, LeaveOut};
use super::{GROUND, Terrain};

/// Fewest shots with neighbours all round that calibrate the map: with 20, the share that is
/// covered is itself known to 9 in a hundred (one standard deviation of a count of 20 at 0.8).
const MIN_CHECKS: usize = 20;

/// The roughness of the whole ground counts like so many shots beside those near a place: a
/// mean of few shots says little. Tried from 1 to 8 on the sets of `tests/trust.rs`: the share
/// covered stays, and with fewer the rough and the smooth parts are covered more alike.
const SHRINK: f64 = 2.0;

/// A single shot counts at most this many times the typical roughness, so that a spike does not
/// spread over its surroundings.
const MOST_ROUGH: f64 = 5.0;

/// Each facet is divided so often along its sides to sum areas by grade; over the number of
/// facets its centre stands for it.
const DIVISIONS: i64 = 4;
const MOST_DIVIDED: usize = 20_000;

/// Most places named to shoot next.
const MOST_PLACES: usize = 3;

/// A place with its half range.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct TrustPlace {
    /// East, metres, absolute.
    pub x_m: f64,
    /// North, metres, absolute.
    pub y_m: f64,
    /// Half range of the height there, metres.
    pub half_range_80_m: f64,
}

/// Why there is no trust map.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error, serde::Serialize)]
pub enum NotTrusted {
    /// Too few shots can be held against their neighbours.
    #[error(
        "{} neighbours all round to be checked by; it takes {MIN_CHECKS}", few(*checks)
    )]
    FewChecks {
        /// Shots that can.
        checks: usize,
    },
    /// A scan, whose points are not held against each other one by one.
    #[error(
        "points of a scan, whose heights are as exact as their source: {error_m:.2} m; no map is drawn"
    )]
    Dense {
        /// How exact heights of the coarsest source are meant to be, metres.
        error_m: f64,
    },
}

/// How far the ground may be off: in four of five places it is meant to lie within the half
/// range, as a further shot there would show.
#[derive(Clone, Debug, PartialEq)]
pub struct Trust {
    /// By vertex: accuracy of its shot, metres.
    accuracy_m: Vec<f64>,
    /// By vertex: distance to what was shot, metres; zero at a shot.
    unshot_m: Vec<f64>,
    /// By vertex: height off per distance, calibrated.
    roughness: Vec<f64>,
    /// By facet id: half range at the centre, metres.
    pub at_centres_m: Vec<f64>,
    /// Shots that calibrated it.
    pub checks: usize,
    /// Share of them within their half range.
    pub covered: f64,
    /// Mean half range by plan area, metres.
    pub mean_m: f64,
    /// Areas by grade, from measured to guessed; they add up to the ground.
    pub grades: [GradeArea; 4],
    /// Where a further shot would tell most: the least known places well apart, worst first.
    pub shoot_next: Vec<TrustPlace>,
}

/// "no shot has", "only 1 shot has", "only 7 shots have".
fn few(checks: usize) -> String {
    match checks {
        0 => "no shot has".to_owned(),
        1 => "only 1 shot has".to_owned(),
        n => format!("only {n} shots have"),
    }
}

impl Trust {
    /// Share of the places at which the ground is to lie within the half range.
    pub const SHARE: f64 = 0.8;

    /// Draws the map.
    ///
    /// The half range at a place is `sqrt(a^2 + (k d)^2)`: `a` the accuracy of the shots round
    /// it, `d` the distance to them, both weighted as the facet weights them, `k` how much
    /// height the ground near by gains or loses against its own interpolation per distance. The
    /// roughness `k` near a place is a mean over the near shots, each left out and held against
    /// its neighbours, drawn towards that of the whole ground. One factor on all `k` is then
    /// chosen so that four of five left-out shots lie within.
    ///
    /// # Input
    ///
    /// `soil_m`: how exact soil shots are meant to be
    /// # Errors
    ///
    /// [`NotTrusted`]
    /// # Source
    ///
    /// the factor is a quantile of conformity scores, here by leaving out: V. Vovk, A. Gammerman,
    /// G. Shafer, "Algorithmic Learning in a Random World" (2005); R. F. Barber, E. J. Candes,
    /// A. Ramdas, R. J. Tibshirani, "Predictive inference with the jackknife+", Annals of
    /// Statistics 49 (2021) (both from memory). The form of the half range is our own.
    pub fn of(
        terrain: &Terrain,
        survey: &Survey,
        left_out: &LeaveOut,
        soil_m: f64,
    ) -> Result<Trust, NotTrusted> {
        if terrain.is_dense() {
            let errors = terrain.imported.iter().map(|from| from.height_error_m);
            return Err(NotTrusted::Dense {
                error_m: errors.fold(0.0, f64::max),
            });
        }
        let vertices = terrain.surface.vertices();
        let near = Near::new(&terrain.surface);
        let accuracy_m: Vec<f64> = (0..vertices.len() as u32)
            .map(|v| terrain.accuracy_m(survey, v, soil_m))
            .collect();
        let unshot_m = unshot_m(vertices, &near, terrain.num_measured());
        let checks = checks(terrain, left_out, &accuracy_m, &unshot_m);
        let count = checks.iter().flatten().count();
        if count < MIN_CHECKS {
            return Err(NotTrusted::FewChecks { checks: count });
        }
        let mut map = Trust {
            roughness: vec![0.0; vertices.len()],
            accuracy_m,
            unshot_m,
            at_centres_m: Vec::new(),
            checks: count,
            covered: 0.0,
            mean_m: 0.0,
            grades: Grade::ALL.map(|grade| GradeArea {
                grade,
                area_m2: 0.0,
            }),
            shoot_next: Vec::new(),
        };
        map.calibrate(&near, &checks);
        map.sum_up(terrain);
        Ok(map)
    }

    /// Half range of the height at a place of a facet, metres.
    ///
    /// # Input
    ///
    /// the terrain the map was drawn of; a place in the facet, its sides included
    pub fn half_range_80_m(&self, terrain: &Terrain, facet: u32, p: Point) -> f64 {
        let ids = terrain.surface.vertex_ids(facet);
        let corners = terrain.surface.corners(facet);
        let weights = barycentric(corners, p);
        let (mut accuracy, mut distance, mut roughness) = (0.0, 0.0, 0.0);
        for ((v, corner), weight) in ids.into_iter().zip(corners).zip(weights) {
            let v = v as usize;
            accuracy += weight * self.accuracy_m[v];
            distance += weight * (distance_m(corner.p, p) + self.unshot_m[v]);
            roughness += weight * self.roughness[v];
        }
        accuracy.hypot(roughness * distance)
    }

    /// Half range of the height at a place, metres; `None` off the ground.
    pub fn at_m(&self, terrain: &Terrain, p: Point) -> Option<f64> {
        let facet = terrain.surface.facet_at(p)?;
        Some(self.half_range_80_m(terrain, facet, p))
    }

    /// The least known place, slivers of ground left out.
    pub fn worst(&self) -> Option<&TrustPlace> {
        self.shoot_next.first()
    }

    /// Local roughness, and the one factor on it.
    fn calibrate(&mut self, near: &Near, checks: &[Option<Check>]) {
        let mut rough: Vec<f64> = checks.iter().flatten().map(Check::roughness).collect();
        rough.sort_unstable_by(f64::total_cmp);
        // Above the middle, so that ground smoother than its shots are exact does not come out
        // as without any roughness.
        let typical = rough[rough.len() * 3 / 4].max(Check::least(checks));
        let most = MOST_ROUGH * typical;
        let whole = rough.iter().map(|r| r.min(most)).sum::<f64>() / rough.len() as f64;
        let whole = whole.max(typical / MOST_ROUGH);
        // Sums over the shots near each vertex, itself included, so that any of them can be
        // taken out again.
        let own = |v: u32| {
            checks[v as usize]
                .as_ref()
                .map(|check| check.roughness().min(most))
        };
        let sums: Vec<(f64, f64)> = (0..checks.len() as u32)
            .map(|v| {
                let around = std::iter::once(v).chain(near.of(v).iter().copied());
                around
                    .filter_map(own)
                    .fold((0.0, 0.0), |(sum, count), r| (sum + r, count + 1.0))
            })
            .collect();
        let mean = |(sum, count): (f64, f64)| (sum + SHRINK * whole) / (count + SHRINK);
        // A left-out shot must not have told how rough its own place is.
        let mut scores = Vec::with_capacity(self.checks);
        for (v, check) in checks.iter().enumerate() {
            let Some(check) = check else { continue };
            let mut roughness = 0.0;
            for &(u, weight) in &check.weights {
                let (mut sum, mut count) = sums[u as usize];
                if near.is_near(u, v as u32)
                    && let Some(own) = own(v as u32)
                {
                    (sum, count) = (sum - own, count - 1.0);
                }
                roughness += weight * mean((sum.max(0.0), count));
            }
            scores.push(check.excess_m / (roughness * check.distance_m));
        }
        scores.sort_unstable_by(f64::total_cmp);
        let rank = ((scores.len() + 1) as f64 * Trust::SHARE).ceil() as usize;
        let factor = scores[rank.min(scores.len()) - 1];
        let within = scores.iter().filter(|&&s| s <= factor).count();
        self.covered = within as f64 / scores.len() as f64;
        self.roughness = sums.into_iter().map(|sum| factor * mean(sum)).collect();
    }

    /// Half range of each facet, areas by grade, and where to shoot next.
    fn sum_up(&mut self, terrain: &Terrain) {
        let surface = &terrain.surface;
        let parts = if surface.num_facets() <= MOST_DIVIDED {
            DIVISIONS
        } else {
            1
        };
        let mut at_centres = vec![f64::NAN; surface.facet_slots()];
        let (mut whole, mut weighted) = (0.0, 0.0);
        for f in surface.facets() {
            debug_assert_eq!(surface.label(f), GROUND);
            let area = surface.area_m2(f);
            let corners = surface.corners(f).map(|c| c.p);
            at_centres[f as usize] = self.half_range_80_m(terrain, f, centre(corners));
            let share = area / (parts * parts) as f64;
            each_part(corners, parts, |p| {
                let half = self.half_range_80_m(terrain, f, p);
                weighted += half * share;
                whole += share;
                self.grades[Grade::of(half) as usize].area_m2 += share;
            });
        }
        self.mean_m = weighted / whole;
        self.at_centres_m = at_centres;
        self.shoot_next = self.least_known(terrain);
    }

    fn least_known(&self, terrain: &Terrain) -> Vec<TrustPlace> {
        let surface = &terrain.surface;
        // Slivers at the rim reach far and hold no ground worth a shot.
        let least_area = 0.25 * mean_area_m2(terrain);
        let mut facets: Vec<u32> = surface
            .facets()
            .filter(|&f| surface.area_m2(f) >= least_area)
            .collect();
        let half = |f: u32| self.at_centres_m[f as usize];
        facets.sort_by(|&a, &b| half(b).total_cmp(&half(a)).then(a.cmp(&b)));
        let mut chosen: Vec<(Point, f64, f64)> = Vec::new();
        for f in facets {
            let corners = surface.corners(f).map(|c| c.p);
            let p = centre(corners);
            let reach = corners.iter().map(|&c| distance_m(c, p)).sum::<f64>() / 3.0;
            // A shot there tells of its surroundings too.
            let is_apart = |&(other, _, other_reach): &(Point, f64, f64)| {
                distance_m(other, p) > 1.5 * (reach + other_reach)
            };
            if chosen.iter().all(is_apart) {
                chosen.push((p, half(f), reach));
            }
            if chosen.len() == MOST_PLACES {
                break;
            }
        }
        let place = |(p, half_range_80_m, _): (Point, f64, f64)| {
            let Origin { x_m, y_m } = terrain.origin;
            TrustPlace {
                x_m: p.x_m() + x_m as f64,
                y_m: p.y_m() + y_m as f64,
                half_range_80_m,
            }
        };
        chosen.into_iter().map(place).collect()
    }
}

/// A shot held against its neighbours.
struct Check {
    /// What it is off beyond the accuracy of the shots, as a side of a right triangle, metres.
    excess_m: f64,
    /// Weighted distance to the neighbours, metres.
    distance_m: f64,
    accuracy_m: f64,
    weights: Vec<(u32, f64)>,
}

impl Check {
    fn roughness(&self) -> f64 {
        self.excess_m / self.distance_m
    }

    /// A roughness so small that it adds little to the accuracy of the shots.
    fn least(checks: &[Option<Check>]) -> f64 {
        let all = checks.iter().flatten();
        let (mut sum, mut count) = (0.0, 0.0);
        for check in all {
            sum += check.accuracy_m / check.distance_m;
            count += 1.0;
        }
        0.1 * sum / count
    }
}

fn checks(
    terrain: &Terrain,
    left_out: &LeaveOut,
    accuracy_m: &[f64],
    unshot_m: &[f64],
) -> Vec<Option<Check>> {
    let vertices = terrain.surface.vertices();
    let check = |v: u32| {
        let Guess {
            weights,
            distance_m,
        } = left_out.guesses[v as usize].as_ref()?;
        let off_m = left_out.residual_m(vertices, v)?;
        let mean = |of: &[f64]| {
            weights
                .iter()
                .map(|&(u, w)| w * of[u as usize])
                .sum::<f64>()
        };
        // The map counts on shots alone, so a left-out shot is held to what its neighbours are.
        let accuracy = mean(accuracy_m);
        Some(Check {
            excess_m: (off_m * off_m - accuracy * accuracy).max(0.0).sqrt(),
            distance_m: distance_m + mean(unshot_m),
            accuracy_m: accuracy,
            weights: weights.clone(),
        })
    };
    let num_shots = terrain.num_measured();
    (0..vertices.len())
        .map(|v| (v < num_shots).then(|| check(v as u32)).flatten())
        .collect()
}

/// Distance of each vertex to the shots it takes its height from, metres.
fn unshot_m(vertices: &[P3], near: &Near, num_shots: usize) -> Vec<f64> {
    let mut far: Vec<f64> = (0..vertices.len())
        .map(|v| if v < num_shots { 0.0 } else { f64::INFINITY })
        .collect();
    // Vertices of lines hang together in chains; each pass carries one link further.
    let mut changed = true;
    while changed {
        changed = false;
        for v in num_shots..far.len() {
            let p = vertices[v].p;
            let least = near
                .of(v as u32)
                .iter()
                .map(|&u| far[u as usize] + distance_m(vertices[u as usize].p, p))
                .fold(f64::INFINITY, f64::min);
            if least < far[v] {
                far[v] = least;
                changed = true;
            }
        }
    }
    // A vertex without a facet holds no place.
    far.into_iter()
        .map(|m| if m.is_finite() { m } else { 0.0 })
        .collect()
}

fn mean_area_m2(terrain: &Terrain) -> f64 {
    let surface = &terrain.surface;
    let area: f64 = surface.facets().map(|f| surface.area_m2(f)).sum();
    area / surface.num_facets() as f64
}

fn centre([a, b, c]: [Point; 3]) -> Point {
    Point::new((a.x + b.x + c.x) / 3, (a.y + b.y + c.y) / 3)
}

/// Weights of the corners at a place, none below zero: in a facet a few nanometres wide the
/// centre, rounded to the lattice, may lie outside.
fn barycentric([a, b, c]: [P3; 3], p: Point) -> [f64; 3] {
    let parts = [
        orient(b.p, c.p, p),
        orient(c.p, a.p, p),
        orient(a.p, b.p, p),
    ]
    .map(|part| part.max(0) as f64);
    let all: f64 = parts.iter().sum();
    parts.map(|part| part / all)
}

/// Centres of the `n * n` equal parts of a triangle.
fn each_part([a, b, c]: [Point; 3], n: i64, mut visit: impl FnMut(Point)) {
    // Thirds of parts, counted from the first corner.
    let mut at = |i: i64, j: i64| {
        let on = |a: i64, b: i64, c: i64| {
            let (b, c) = (i128::from(b - a), i128::from(c - a));
            // Back in the range of the corners, which it lies between.
            a + ((i128::from(i) * b + i128::from(j) * c) / i128::from(3 * n)) as i64
        };
        visit(Point::new(on(a.x, b.x, c.x), on(a.y, b.y, c.y)));
    };
    for i in 0..n {
        for j in 0..n - i {
            at(3 * i + 1, 3 * j + 1);
            if i + j + 1 < n {
                at(3 * i + 2, 3 * j + 2);
            }
        }
    }
}
