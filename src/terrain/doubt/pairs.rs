//! Places shot twice a hair apart, and codes of lines that no line joins.

use std::collections::BTreeMap;

use crate::diag::Diagnostic;
use crate::geom::distance_m;
use crate::survey::PointClass;
use crate::terrain::build::MAX_LISTED;

use super::Looked;

/// Places closer than this in plan are likely to be one: a rod's foot is held no better.
const ONE_PLACE_M: f64 = 0.05;

/// Codes that say a shot lies on a line. Common practice, no source.
const LINE_CODES: [&str; 19] = [
    "top", "toe", "foot", "edge", "wall", "crest", "bank", "brow", "ridge", "ditch", "swale",
    "curb", "kerb", "terrace", "step", "rim", "path", "channel", "break",
];

/// Two shots within a few centimetres at clearly different heights. Top and foot of a wall are
/// like that: where both are hard or on lines, nothing is said.
pub(super) fn near_places(looked: &Looked) -> Vec<Diagnostic> {
    let surface = &looked.terrain.surface;
    let vertices = surface.vertices();
    let mut pairs = Vec::new();
    for a in 0..looked.terrain.shots.len() as u32 {
        for &b in looked.near.of(a) {
            let (Some(one), Some(other)) = (looked.shot(a), looked.shot(b)) else {
                continue;
            };
            let apart_m = distance_m(one.p, other.p);
            // Each pair once; the nearest shot is always a neighbour.
            if b < a || apart_m > ONE_PLACE_M {
                continue;
            }
            let [is_wall, is_other] = [(a, one), (b, other)]
                .map(|(v, shot)| looked.on_line[v as usize] || shot.class == PointClass::Hard);
            let height_m = (vertices[a as usize].z - vertices[b as usize].z).abs();
            let scatter_m = looked.accuracy_m(a).hypot(looked.accuracy_m(b));
            if height_m > 3.0 * scatter_m && !(is_wall && is_other) {
                pairs.push((one, other, apart_m, height_m));
            }
        }
    }
    let mut said: Vec<Diagnostic> = pairs
        .iter()
        .take(MAX_LISTED)
        .map(|(one, other, apart_m, height_m)| {
            let words = format!(
                "shots {} and {} lie {:.0} mm apart in plan and {} in height",
                one.name,
                other.name,
                apart_m * 1.0e3,
                looked.height(*height_m)
            );
            Diagnostic::warn("near-place", words)
                .at(one.at.clone())
                .at(other.at.clone())
                .help(
                    "if they are one place, strike the wrong one; if they are top and foot of a \
                     wall, put both on breaklines",
                )
        })
        .collect();
    if pairs.len() > MAX_LISTED {
        let more = pairs.len() - MAX_LISTED;
        let words = format!("and {more} more pairs like these");
        said.push(Diagnostic::warn("near-place", words));
    }
    said
}

/// Shots coded as lying on a line, none of which any line of the job joins.
pub(super) fn unjoined_codes(looked: &Looked) -> Option<Diagnostic> {
    // By code: shots, and whether a line runs through any of them.
    let mut codes: BTreeMap<String, (Vec<usize>, bool)> = BTreeMap::new();
    for (v, &s) in looked.terrain.shots.iter().enumerate() {
        let code = looked.survey.shots[s].code.trim().to_lowercase();
        let is_line = |word: &str| LINE_CODES.contains(&word);
        if code.split(|c: char| !c.is_alphabetic()).any(is_line) {
            let entry = codes.entry(code).or_default();
            entry.0.push(s);
            entry.1 |= looked.on_line[v];
        }
    }
    codes.retain(|_, (shots, is_joined)| shots.len() > 1 && !*is_joined);
    if codes.is_empty() {
        return None;
    }
    let counts: Vec<String> = codes
        .iter()
        .map(|(code, (shots, _))| format!("{} with \"{code}\"", shots.len()))
        .collect();
    let lines: Vec<String> = codes.keys().map(|c| format!("\"code:{c}\"")).collect();
    let mut note = Diagnostic::note(
        "unjoined-code",
        format!(
            "shots carry the code of a line, but no line joins them: {}; the ground may cut across \
             the edge they mark",
            counts.join(", ")
        ),
    )
    .help(format!(
        "join these? In [ground]: breaklines = [{}]; a code joins its shots in the order they were \
         shot",
        lines.join(", ")
    ));
    let first = codes.values().filter_map(|(shots, _)| shots.first());
    note.at = first
        .map(|&s| looked.survey.shots[s].at.clone())
        .take(MAX_LISTED)
        .collect();
    Some(note)
}
