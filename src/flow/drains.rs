//! What drains where: every part of every facet by the place its water ends at.
//!
//! # Method
//!
//! A facet sheds its water over one or two sides, in parallel lines. What becomes of water that
//! runs in over a side is therefore known by stretches as soon as it is known of the sides it
//! leaves over, down to the pits and the rim. Catchments so end where the water parts, inside
//! facets, not at their edges.
//!
//! # Accuracy
//!
//! exact for the planes of the facets, up to rounding. Where facets, each falling into the next,
//! go round in a ring, so that none of their sides can be the first, water takes the steepest
//! edges from the lower end of one side; [`Drains::guessed_m2`] is the area of the facets there.

use super::descent::{Next, Over};
use super::label::{Label, Labels, Sink};
use super::pits::Pits;
use super::strips::{Stretch, push, share_up_to};
use super::tin::Tin;

/// Not known yet.
const OPEN: u32 = u32::MAX;
/// Being found out.
const BUSY: u32 = u32::MAX - 1;

/// A place whose answer others wait for.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Spot {
    /// A vertex.
    Vertex(u32),
    /// Water that runs into a facet over a side: `3 f + side`.
    Side(u32),
}

/// What drains where.
#[derive(Clone, Debug, Default)]
pub struct Drains {
    labels: Labels,
    areas: Vec<f64>,
    /// Label of every facet: that of its largest part.
    facets: Vec<u32>,
    guessed_m2: f64,
}

/// The work of finding it.
struct Finding<'a> {
    tin: &'a Tin,
    pits: &'a Pits,
    least_depth_m: f64,
    labels: Labels,
    vertices: Vec<u32>,
    /// Where the stretches of a side begin, and how many there are.
    sides: Vec<[u32; 2]>,
    stretches: Vec<Stretch>,
    stack: Vec<Spot>,
    guessed_m2: f64,
}

impl Drains {
    /// Every facet by where its water ends. Pits shallower than `least_depth_m` are taken to be
    /// full, and what reaches them runs on over their lips.
    ///
    /// # Cost
    ///
    /// O(n + k) for n facets and k crossings of their sides by lines where water parts
    pub fn of(tin: &Tin, pits: &Pits, least_depth_m: f64) -> Drains {
        let mut work = Finding {
            tin,
            pits,
            least_depth_m,
            labels: Labels::default(),
            vertices: vec![OPEN; tin.vertices.len()],
            sides: vec![[OPEN, 0]; tin.corners.len() * 3],
            stretches: Vec::with_capacity(tin.corners.len() * 2),
            stack: Vec::new(),
            guessed_m2: 0.0,
        };
        let mut found = Drains {
            facets: Vec::with_capacity(tin.corners.len()),
            ..Drains::default()
        };
        let mut strips = Vec::new();
        let mut parts: Vec<(f64, u32)> = Vec::new();
        for f in 0..tin.corners.len() as u32 {
            work.strips(f, &mut strips);
            let area = tin.area_m2(f as usize);
            let beside = tin.beside(f);
            let mut before = 0.0;
            parts.clear();
            for (k, strip) in strips.iter().enumerate() {
                let share = match k + 1 == strips.len() {
                    true => 1.0,
                    false => share_up_to(beside, strip.end),
                };
                parts.push((share - before, strip.label));
                before = share;
            }
            found.areas.resize(work.labels.all.len(), 0.0);
            let mut most = (-1.0, 0);
            for &(share, label) in &parts {
                found.areas[label as usize] += area * share;
                if share > most.0 {
                    most = (share, label);
                }
            }
            found.facets.push(most.1);
        }
        found.guessed_m2 = work.guessed_m2;
        found.labels = work.labels;
        found
    }

    /// Every label with the plan area that carries it, square metres.
    pub fn areas(&self) -> impl Iterator<Item = (&Label, f64)> {
        self.labels.all.iter().zip(self.areas.iter().copied())
    }

    /// Plan area of what a question about its label is true for, square metres.
    pub fn area_m2(&self, of: impl Fn(&Label) -> bool) -> f64 {
        self.areas()
            .filter(|(label, _)| of(label))
            .fold(0.0, |sum, (_, area)| sum + area)
    }

    /// The label of the largest part of a facet.
    pub fn label(&self, facet: usize) -> &Label {
        &self.labels.all[self.facets[facet] as usize]
    }

    /// Plan area of facets whose water goes round in a ring of facets, square metres.
    pub fn guessed_m2(&self) -> f64 {
        self.guessed_m2
    }
}

impl Finding<'_> {
    /// What becomes of the water of a facet, from right to left across its fall.
    fn strips(&mut self, f: u32, strips: &mut Vec<Stretch>) {
        let mut waits = Vec::new();
        self.waits_of_facet(f, &mut waits);
        for spot in waits {
            self.settle(spot);
        }
        self.strips_now(f, strips);
    }

    /// Finds out about a spot and all it waits for.
    fn settle(&mut self, spot: Spot) {
        if !self.is_open(spot) {
            return;
        }
        let mut waits = Vec::new();
        let mut strips = Vec::new();
        self.stack.push(spot);
        while let Some(&spot) = self.stack.last() {
            waits.clear();
            match spot {
                Spot::Vertex(v) => self.waits_of_vertex(v, &mut waits),
                Spot::Side(side) => self.waits_of_facet(side / 3, &mut waits),
            }
            waits.retain(|w| self.is_open(*w));
            let is_first = self.is_open(spot);
            if is_first && !waits.is_empty() {
                self.set_busy(spot);
                self.stack.extend(&waits);
                continue;
            }
            self.stack.pop();
            if !is_first && !self.is_busy(spot) {
                continue;
            }
            match spot {
                Spot::Vertex(v) => {
                    let label = self.vertex_now(v);
                    self.vertices[v as usize] = label;
                }
                Spot::Side(side) => self.side_now(side, &mut strips),
            }
        }
    }

    fn is_open(&self, spot: Spot) -> bool {
        self.state(spot) == OPEN
    }

    fn is_busy(&self, spot: Spot) -> bool {
        self.state(spot) == BUSY
    }

    fn state(&self, spot: Spot) -> u32 {
        match spot {
            Spot::Vertex(v) => self.vertices[v as usize],
            Spot::Side(side) => self.sides[side as usize][0],
        }
    }

    fn set_busy(&mut self, spot: Spot) {
        match spot {
            Spot::Vertex(v) => self.vertices[v as usize] = BUSY,
            Spot::Side(side) => self.sides[side as usize][0] = BUSY,
        }
    }

    fn waits_of_facet(&self, f: u32, waits: &mut Vec<Spot>) {
        if self.holds(f) {
            return;
        }
        let outlets = self.tin.outlets(f);
        if outlets[0].is_none() {
            waits.push(Spot::Vertex(self.tin.lowest(f)));
        }
        for side in outlets.into_iter().flatten() {
            self.waits_over(f, side, waits);
        }
    }

    fn waits_over(&self, f: u32, side: usize, waits: &mut Vec<Spot>) {
        match self.tin.over(f, side) {
            Over::Into(g, _) if self.holds(g) => {}
            Over::Into(g, k) => waits.push(Spot::Side(3 * g + k as u32)),
            Over::To(v) => waits.push(Spot::Vertex(v)),
            Over::Rim => {}
        }
    }

    fn waits_of_vertex(&self, v: u32, waits: &mut Vec<Spot>) {
        match self.tin.from_vertex(v) {
            Next::Through { facet, .. } if self.holds(facet) => {}
            Next::Through { facet, side, .. } => self.waits_over(facet, side, waits),
            Next::Along(w) => waits.push(Spot::Vertex(w)),
            Next::Stands => waits.extend(self.runs_over(v).map(Spot::Vertex)),
            Next::Off => {}
        }
    }

    fn holds(&self, f: u32) -> bool {
        let mark = self.tin.mark_of(f as usize);
        mark.is_some_and(|mark| self.tin.is_holding(mark))
    }

    /// The vertex a pit runs over to, if it is shallow.
    fn runs_over(&self, bottom: u32) -> Option<u32> {
        let pit = &self.pits[self.pits.widest(self.pits.below(bottom)?) as usize];
        let is_shallow = pit.depth_m() < self.least_depth_m;
        (is_shallow && pit.spill != OPEN).then_some(pit.spill)
    }

    fn vertex_now(&mut self, v: u32) -> u32 {
        let tin = self.tin;
        let mut label = match tin.from_vertex(v) {
            Next::Through { facet, side, at } => {
                let mut own = Vec::new();
                self.beyond(facet, side, &mut own);
                let place = own.iter().position(|s| at <= s.end);
                let place = place.unwrap_or(own.len() - 1);
                own[place].label
            }
            Next::Along(w) => self.vertex_label(w),
            Next::Stands => match self.runs_over(v) {
                Some(w) => self.vertex_label(w),
                None => self.stands(v),
            },
            Next::Off => self.labels.sink(Sink::Rim),
        };
        for &f in tin.fan(v) {
            if let Some(mark) = tin.mark_of(f as usize) {
                label = match tin.is_holding(mark) {
                    true => return self.labels.sink(Sink::Held(mark)),
                    false => self.labels.with(label, mark),
                };
            }
        }
        for &mark in tin.lines_at(v) {
            label = self.labels.with(label, mark);
        }
        label
    }

    /// A pit that is deep, or one that runs over the rim.
    fn stands(&mut self, bottom: u32) -> u32 {
        let pit = self.pits.below(bottom).map(|pit| self.pits.widest(pit));
        match pit {
            Some(pit) if self.pits[pit as usize].depth_m() >= self.least_depth_m => {
                self.labels.sink(Sink::Pit(pit))
            }
            _ => self.labels.sink(Sink::Rim),
        }
    }

    /// The label of a vertex, or, in a ring, where the steepest edges lead.
    fn vertex_label(&mut self, v: u32) -> u32 {
        match self.vertices[v as usize] {
            OPEN | BUSY => {
                let fan = self.tin.fan(v);
                let area = fan.iter().map(|&f| self.tin.area_m2(f as usize));
                self.guessed_m2 += area.fold(0.0, |sum, area| sum + area);
                self.along_edges(v)
            }
            label => label,
        }
    }

    fn along_edges(&mut self, mut v: u32) -> u32 {
        // Lips come lower and lower, so this ends.
        while let Some(pit) = self.pits.below(v) {
            let pit = self.pits.widest(pit);
            let of = &self.pits[pit as usize];
            if of.depth_m() >= self.least_depth_m {
                return self.labels.sink(Sink::Pit(pit));
            }
            if of.spill == OPEN {
                break;
            }
            v = of.spill;
        }
        self.labels.sink(Sink::Rim)
    }

    /// Water that runs in over a side of a facet.
    fn side_now(&mut self, side: u32, strips: &mut Vec<Stretch>) {
        let (f, k) = (side / 3, (side % 3) as usize);
        self.strips_now(f, strips);
        let beside = self.tin.beside(f);
        let (a, b) = (beside[k], beside[(k + 1) % 3]);
        let start = self.stretches.len() as u32;
        // Seen from the side the strips come from the other end.
        let mut own: Vec<Stretch> = Vec::with_capacity(strips.len());
        for (n, strip) in strips.iter().enumerate().rev() {
            let right = match n {
                0 => f64::NEG_INFINITY,
                n => strips[n - 1].end,
            };
            // At distance `s` the side is `(s - a) / (b - a)` along; `b` lies to the right.
            let end = ((right - a) / (b - a)).clamp(0.0, 1.0);
            if end > 0.0 {
                push(&mut own, end, strip.label);
            }
            if end >= 1.0 {
                break;
            }
        }
        if own.is_empty() {
            own.push(Stretch {
                end: 1.0,
                label: strips[0].label,
            });
        }
        self.stretches.extend(&own);
        self.sides[side as usize] = [start, own.len() as u32];
    }

    /// The strips of a facet from what is known.
    fn strips_now(&mut self, f: u32, strips: &mut Vec<Stretch>) {
        strips.clear();
        let tin = self.tin;
        let mark = tin.mark_of(f as usize);
        if let Some(mark) = mark.filter(|mark| tin.is_holding(*mark)) {
            let label = self.labels.sink(Sink::Held(mark));
            strips.push(Stretch {
                end: f64::INFINITY,
                label,
            });
            return;
        }
        let beside = tin.beside(f);
        let mut own = Vec::new();
        for side in tin.outlets(f).into_iter().flatten() {
            let (p, q) = (beside[side], beside[(side + 1) % 3]);
            own.clear();
            self.beyond(f, side, &mut own);
            for stretch in &own {
                push(strips, p + stretch.end * (q - p), stretch.label);
            }
        }
        if strips.is_empty() {
            let label = self.vertex_label(tin.lowest(f));
            strips.push(Stretch {
                end: f64::INFINITY,
                label,
            });
        }
        if let Some(mark) = mark {
            for strip in strips {
                strip.label = self.labels.with(strip.label, mark);
            }
        }
    }

    /// What becomes of water that leaves a facet over a side, by shares of the side from its first
    /// end.
    fn beyond(&mut self, f: u32, side: usize, own: &mut Vec<Stretch>) {
        let tin = self.tin;
        let t = tin.corners[f as usize];
        let one = |label: u32| Stretch { end: 1.0, label };
        match tin.over(f, side) {
            Over::Rim => own.push(one(self.labels.sink(Sink::Rim))),
            Over::To(v) => own.push(one(self.vertex_label(v))),
            Over::Into(g, k) => {
                let mark = tin.mark_of(g as usize);
                match mark.filter(|mark| tin.is_holding(*mark)) {
                    Some(mark) => own.push(one(self.labels.sink(Sink::Held(mark)))),
                    None => self.run_in(g, k, own),
                }
            }
        }
        if let Some(mark) = tin.line_on(t[side], t[(side + 1) % 3]) {
            for stretch in own {
                stretch.label = self.labels.with(stretch.label, mark);
            }
        }
    }

    /// Stretches of a side from outside: the other way round.
    fn run_in(&mut self, g: u32, k: usize, own: &mut Vec<Stretch>) {
        let [start, count] = self.sides[3 * g as usize + k];
        if start >= BUSY {
            self.guessed_m2 += self.tin.area_m2(g as usize);
            let t = self.tin.corners[g as usize];
            let (a, b) = (t[k], t[(k + 1) % 3]);
            let low = if self.tin.is_below(a, b) { a } else { b };
            let label = self.along_edges(low);
            own.push(Stretch { end: 1.0, label });
            return;
        }
        let of = &self.stretches[start as usize..(start + count) as usize];
        for n in (0..of.len()).rev() {
            let begin = if n == 0 { 0.0 } else { of[n - 1].end };
            push(own, 1.0 - begin, of[n].label);
        }
    }
}
