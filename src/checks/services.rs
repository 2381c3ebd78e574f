//! Buried lines: which digs and fills come into their bands, and what is dug by hand.
//!
//! The band of a line is what lies within its hand-dig distance: its own `hand_dig`, else the
//! wider of the band as drawn and the limit.

use crate::design::KeepOffPlace;
use crate::geom::{Point, Ring, Union, distance_m, nearest_on};
use crate::job::{KeepOffKind, KeepOffShape, limits};
use crate::route::least_move;
use crate::surface::Within;

use super::footprint::{Footprint, is_dig};
use super::notice;
use super::piles::move_words;
use super::roots::{work_inside, work_of};
use super::stream::along;
use super::{Checked, Context, Finding, Measure, Severity};

/// Work on less than this of a band is a brush with its line, m2.
const SMALLEST_TOUCHED_M2: f64 = 0.01;

/// Corners of the round end of a band. The straight sides lie outside of the circle.
const END_CORNERS: usize = 32;

/// Stretches along a line closer than this are one, metres.
const JOINED_M: f64 = 0.05;

/// A buried line.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Service {
    /// Its name.
    pub name: String,
    /// What it carries, as the job says.
    pub carries: Option<String>,
    /// What that is known as, for colour and letter.
    pub kind: ServiceKind,
    /// The line, absolute, metres; the rim of an area.
    pub line_m: Vec<[f64; 2]>,
    /// Width that is dug by hand on each side, metres.
    pub hand_m: f64,
    /// Lines round what is dug by hand, absolute, metres.
    pub rims_m: Vec<Vec<[f64; 2]>>,
    /// What comes into the band, by feature.
    pub touched: Vec<InBand>,
    /// Day the locating service was told.
    pub notified: Option<String>,
    /// Earliest day to dig by the notice.
    pub earliest_dig: Option<String>,
}

/// Work of a feature in the band of a buried line.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct InBand {
    /// The feature.
    pub feature: String,
    /// True if it digs there, false if it only covers the line.
    pub is_dug: bool,
    /// Area in the band, m2.
    pub area_m2: f64,
    /// Length along the line, metres.
    pub length_m: f64,
    /// Stretches along the line: stations from its start, metres.
    pub stations_m: Vec<[f64; 2]>,
    /// Deepest cut in the band, metres; 0 if nothing is cut.
    pub deepest_cut_m: f64,
}

/// What a buried line carries, as locators mark it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ServiceKind {
    /// Electric power.
    Power,
    /// Gas, oil, steam.
    Gas,
    /// Telephone, data.
    Communications,
    /// Drinking water.
    Water,
    /// Irrigation, reclaimed water.
    Irrigation,
    /// Sewer and drains.
    Sewer,
    /// Not known.
    Unknown,
}

impl ServiceKind {
    /// From the words of a job: what it carries, or its name.
    pub fn from_words(words: &str) -> ServiceKind {
        use ServiceKind::{Communications, Gas, Irrigation, Power, Sewer, Water};
        const WORDS: [(&str, ServiceKind); 23] = [
            // "storm water" and "waste water" are drains, "irrigation water" is irrigation.
            ("irrigat", Irrigation),
            ("reclaim", Irrigation),
            ("sprinkl", Irrigation),
            ("sewer", Sewer),
            ("drain", Sewer),
            ("storm", Sewer),
            ("waste", Sewer),
            ("septic", Sewer),
            ("water", Water),
            ("gas", Gas),
            ("oil", Gas),
            ("steam", Gas),
            ("phone", Communications),
            ("data", Communications),
            ("fibre", Communications),
            ("fiber", Communications),
            ("communic", Communications),
            ("television", Communications),
            ("power", Power),
            ("electric", Power),
            ("lamp", Power),
            ("light", Power),
            ("pump cable", Power),
        ];
        let words = words.to_lowercase();
        let known = WORDS.iter().find(|(word, _)| words.contains(word));
        known.map_or(ServiceKind::Unknown, |(_, kind)| *kind)
    }

    /// The letter that goes with its colour on every sheet.
    pub fn letter(self) -> &'static str {
        match self {
            ServiceKind::Power => "P",
            ServiceKind::Gas => "G",
            ServiceKind::Communications => "T",
            ServiceKind::Water => "W",
            ServiceKind::Irrigation => "I",
            ServiceKind::Sewer => "S",
            ServiceKind::Unknown => "?",
        }
    }

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            ServiceKind::Power => "power",
            ServiceKind::Gas => "gas",
            ServiceKind::Communications => "communications",
            ServiceKind::Water => "water",
            ServiceKind::Irrigation => "irrigation",
            ServiceKind::Sewer => "sewer or drain",
            ServiceKind::Unknown => "buried line, what it carries is not said",
        }
    }
}

pub(super) fn check(context: &Context, footprints: &[Footprint], out: &mut Checked) {
    let is_service = |(_, k): &(usize, KeepOffPlace)| k.kind == KeepOffKind::Service;
    let services: Vec<(usize, KeepOffPlace)> = out
        .keep_offs
        .iter()
        .cloned()
        .enumerate()
        .filter(is_service)
        .collect();
    let features = &context.design.features;
    let num_digs = features
        .iter()
        .filter(|f| is_dig(f) || f.is_strip())
        .count();
    let known = match services.len() {
        0 => "no buried line is drawn: every dig has to wait until all lines are marked".to_owned(),
        n => format!(
            "buried lines other than the {n} drawn are not known here: wait until all of them are marked, and ask for private ones"
        ),
    };
    out.find(Finding {
        ids: &["EX-13"],
        cure: "ask the locating service before any digging, and draw what is marked as a keep-off of kind \"service\"".to_owned(),
        caution: Some(1),
        ..Finding::new("buried-lines", Severity::NotChecked, known)
    });
    if num_digs == 0 {
        out.missing("EX-13", "nothing is dug");
    } else if services.is_empty() {
        out.missing("EX-13", "no buried line is drawn");
    }
    for (number, keep_off) in services {
        let service = one(context, number, &keep_off, footprints, out);
        out.access.services.push(service);
    }
    notice::check(context, num_digs > 0, out);
}

/// One line: what comes into its band.
fn one(
    context: &Context,
    number: usize,
    keep_off: &KeepOffPlace,
    footprints: &[Footprint],
    out: &mut Checked,
) -> Service {
    let spec = &context.job.keep_offs[number];
    let (hand_m, whose) = hand_dig(context, number);
    let line = match keep_off.middle.len() {
        0 => keep_off.line.clone(),
        _ => keep_off.middle.clone(),
    };
    // An area is in its band as a whole.
    let inner = keep_off
        .middle
        .is_empty()
        .then_some(keep_off.area.as_ref())
        .flatten();
    let band: Vec<Ring> = band(&line, hand_m)
        .into_iter()
        .chain(inner.cloned())
        .collect();
    let union = Union::of(&band).unwrap_or_default();
    let absolute = |rim: &Vec<Point>| rim.iter().map(|p| context.absolute(*p)).collect();
    let words = spec.service.as_deref().unwrap_or(&spec.name);
    let mut service = Service {
        name: keep_off.name.clone(),
        carries: spec.service.clone(),
        kind: ServiceKind::from_words(words),
        line_m: line.iter().map(|p| context.absolute(*p)).collect(),
        hand_m,
        rims_m: union.rims.iter().map(absolute).collect(),
        touched: Vec::new(),
        notified: spec.notified.as_ref().map(|(day, _)| day.clone()),
        earliest_dig: None,
    };
    let found = work_inside(context, &Within(union.triangles));
    for (feature, footprint) in footprints.iter().enumerate() {
        let Some((sum, extremes)) = work_of(context, &found, feature) else {
            continue;
        };
        let area_m2 = sum.cut_area_m2 + sum.fill_area_m2;
        if area_m2 < SMALLEST_TOUCHED_M2 {
            continue;
        }
        let pieces = footprint.pieces_near(context, &line, hand_m);
        let overlap = Union::overlap(&pieces, &band).unwrap_or_default();
        let stations_m = stretches(&line, &overlap.triangles);
        let work = InBand {
            feature: context.design.features[feature].name.clone(),
            is_dug: sum.cut_area_m2 >= SMALLEST_TOUCHED_M2,
            area_m2,
            length_m: stations_m.iter().map(|[a, b]| b - a).sum(),
            stations_m,
            deepest_cut_m: extremes.deepest_cut.map_or(0.0, |e| e.by_m),
        };
        let by = least_move(&footprint.lines(), &[&line], hand_m);
        let mut finding = finding(context, &service, &work, &whose);
        if let Some(by) = by.filter(|_| inner.is_none()) {
            let way_out = move_words(context.show(), by);
            finding.cure = format!(
                "{}, or move {} {way_out}, which clears it",
                finding.cure, work.feature
            );
        }
        let at = match work.stations_m.first() {
            Some([from, to]) => along(&line, (from + to) / 2.0),
            None => extremes.lowest.p,
        };
        finding.at_m = Some(context.absolute(at));
        finding.place = format!("{}, {}", finding.place, context.place(at));
        out.find(finding);
        service.touched.push(work);
    }
    let words = match service.touched.len() {
        0 => format!(
            "{}: nothing is dug or placed within {} of it",
            service.name,
            context.show().length(hand_m)
        ),
        n => format!(
            "{}: {n} feature(s) within {} of it",
            service.name,
            context.show().length(hand_m)
        ),
    };
    out.looked("EX-13", words);
    service
}

/// Width that is dug by hand on each side of a line, metres, and whose it is.
fn hand_dig(context: &Context, number: usize) -> (f64, String) {
    let spec = &context.job.keep_offs[number];
    let limit = context.job.limits.get(&limits::HAND_DIG);
    let drawn = match &spec.shape {
        KeepOffShape::Band { half_width_m, .. } => Some(*half_width_m),
        KeepOffShape::Circle { radius, .. } => Some(radius.metres(&context.job.limits)),
        _ => None,
    };
    match (spec.hand_dig_m, drawn) {
        (Some(own), _) => (own, "hand_dig of this line".to_owned()),
        (None, Some(drawn)) if drawn > limit.value => (drawn, "your band, as drawn".to_owned()),
        _ => (limit.value, limit.from),
    }
}

/// What lies within a distance of a line: one piece for every straight stretch, with round ends.
fn band(line: &[Point], half_m: f64) -> Vec<Ring> {
    // The corners stand so far out that the sides between them touch the circle.
    let out = half_m / (std::f64::consts::PI / END_CORNERS as f64).cos();
    let stretches: Vec<[Point; 2]> = match line {
        [p] => vec![[*p; 2]],
        _ => line.windows(2).map(|w| [w[0], w[1]]).collect(),
    };
    let one = |[a, b]: [Point; 2]| -> Option<Ring> {
        let [dx, dy] = b.relative_m(a);
        let ahead = dy.atan2(dx);
        let step = std::f64::consts::TAU / END_CORNERS as f64;
        let corners = (0..END_CORNERS).map(|k| {
            // Half the corners stand round each end, the first half ahead.
            let (sin, cos) =
                (ahead + (k as f64 + 0.5) * step - std::f64::consts::FRAC_PI_2).sin_cos();
            let from = if k < END_CORNERS / 2 { b } else { a };
            let step = Point::from_m(out * cos, out * sin);
            Point::new(from.x + step.x, from.y + step.y)
        });
        Ring::new(&corners.collect::<Vec<_>>()).ok()
    };
    stretches.into_iter().filter_map(one).collect()
}

/// Stretches along a line over which triangles lie beside it, in order.
fn stretches(line: &[Point], triangles: &[[Point; 3]]) -> Vec<[f64; 2]> {
    let station = |p: Point| {
        let mut start = 0.0;
        let mut best = (f64::INFINITY, 0.0);
        for pair in line.windows(2) {
            let [x, y] = nearest_on([0.0; 2], [pair[0], pair[1]].map(|q| q.relative_m(p)));
            let far = x.hypot(y);
            if far < best.0 {
                let [ax, ay] = pair[0].relative_m(p);
                best = (far, start + (x - ax).hypot(y - ay));
            }
            start += distance_m(pair[0], pair[1]);
        }
        best.1
    };
    let mut stretches: Vec<[f64; 2]> = triangles
        .iter()
        .map(|t| {
            let s = t.map(station);
            [
                s.iter().copied().fold(f64::INFINITY, f64::min),
                s.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            ]
        })
        .collect();
    stretches.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let mut joined: Vec<[f64; 2]> = Vec::new();
    for stretch in stretches {
        match joined.last_mut() {
            Some(last) if stretch[0] <= last[1] + JOINED_M => last[1] = last[1].max(stretch[1]),
            _ => joined.push(stretch),
        }
    }
    joined
}

fn finding(context: &Context, service: &Service, work: &InBand, whose: &str) -> Finding {
    let show = context.show();
    let stations: Vec<String> = work
        .stations_m
        .iter()
        .map(|[a, b]| format!("{} to {}", show.length_number(*a), show.length(*b)))
        .collect();
    let stations = stations.join(", ");
    let hand = show.length(service.hand_m);
    let (what, cure) = if work.is_dug {
        (
            format!(
                "digs up to {} deep over a buried line",
                show.level_with_unit(work.deepest_cut_m)
            ),
            format!(
                "have the line marked, dig by hand {hand} to each side of it from station {stations}, {} in all; a machine only outside of that",
                show.length(work.length_m)
            ),
        )
    } else {
        (
            "fills over a buried line".to_owned(),
            format!(
                "have the line marked, ask its owner before it is buried deeper over {}",
                show.length(work.length_m)
            ),
        )
    };
    Finding {
        ids: &["EX-13"],
        feature: Some(work.feature.clone()),
        place: format!("{}, station {stations}", service.name),
        measured: Some(Measure {
            value: work.area_m2,
            unit: "m2",
        }),
        limit: Some(Measure {
            value: service.hand_m,
            unit: "m",
        }),
        limit_from: whose.to_owned(),
        cure,
        caution: Some(1),
        ..Finding::new(
            "keep-off",
            Severity::Warn,
            format!(
                "{} {what} at \"{}\": {} within {hand} of it, over {} of its length",
                work.feature,
                service.name,
                show.area(work.area_m2),
                show.length(work.length_m)
            ),
        )
    }
}
