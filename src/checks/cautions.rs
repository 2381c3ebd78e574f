//! Caution notes, shown beside the numbers wherever their condition is met.

use crate::job::{RouteSpec, limits};
use crate::surface::Rule;

use super::{Context, Finding};

/// A caution with the reason it is shown.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Caution {
    /// Its number, the same on every sheet.
    pub number: u8,
    /// What it is about.
    pub title: &'static str,
    /// What to do.
    pub words: &'static str,
    /// Why it is shown here.
    pub because: String,
}

const TEXTS: [(u8, &str, &str); 12] = [
    (
        1,
        "Buried lines",
        "Services may be here. Have them marked and wait for the marks before digging. Hand tools only inside the band. Private lines (sprinkler, lights, gas grill, drains, pet fence) are not marked for you.",
    ),
    (
        2,
        "Deep dig",
        "At 4 ft: give a way out close by; check sides and weather each morning and after rain. At 5 ft, or shallower where the sides crack, slump or weep: sides can bury a person. Slope, step or support them by a competent person. Stay out until done.",
    ),
    (
        3,
        "Spoil and machines near the edge",
        "Keep soil, stone and machines at least 2 ft back.",
    ),
    (
        4,
        "Walls",
        "A wall that passes a limit you set, or carries a slope, water, vehicles or another wall: ask the permit office and an engineer.",
    ),
    (
        5,
        "Slope on fresh soil",
        "Loose fill slides and washes. Tamp in thin layers, cover before rain, keep people below away.",
    ),
    (9, "Barrow routes", "Lighter loads, fixed boards, one way."),
    (
        10,
        "Trees",
        "Cutting or burying roots here can kill or topple this tree. Ask a tree specialist.",
    ),
    (
        11,
        "Water toward buildings or neighbours",
        "After this change rain reaches a building or the neighbour's land that it did not reach before. Redesign or take advice.",
    ),
    (
        12,
        "Overflow",
        "Look where the overflow ends. Do not send water to another's land without right.",
    ),
    (
        14,
        "Overhead lines, machine reach, slopes",
        "Check clearance and tipping before tracking.",
    ),
    (15, "Standing pockets", "Still water breeds mosquitoes."),
    (
        16,
        "Estimate",
        "Made from the shots on this job, with the range shown. Not a boundary survey and not an engineer's design. Local codes and licensed people decide.",
    ),
];

/// The cautions whose condition holds.
pub fn cautions(context: &Context, findings: &[Finding]) -> Vec<Caution> {
    let digs = context
        .design
        .features
        .iter()
        .filter(|f| f.laid.rule == Rule::Lower);
    let fills = context
        .design
        .features
        .iter()
        .filter(|f| f.laid.rule == Rule::Raise);
    let names = |features: &mut dyn Iterator<Item = &crate::design::Feature>| {
        features
            .map(|f| f.name.clone())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let (digs, fills) = (names(&mut digs.into_iter()), names(&mut fills.into_iter()));
    let of = |number: u8| {
        let mut names: Vec<&str> = Vec::new();
        for finding in findings.iter().filter(|f| f.caution == Some(number)) {
            if let Some(name) = finding.feature.as_deref()
                && !names.contains(&name)
            {
                names.push(name);
            }
        }
        (!names.is_empty()).then(|| names.join(", "))
    };
    // Of water the place tells as much as the feature.
    let met = |number: u8| {
        let mut because: Vec<&str> = Vec::new();
        for finding in findings.iter().filter(|f| f.caution == Some(number)) {
            let one = finding.feature.as_deref().unwrap_or(&finding.place);
            if !because.contains(&one) {
                because.push(one);
            }
        }
        (!because.is_empty()).then(|| because.join("; "))
    };
    TEXTS
        .iter()
        .filter_map(|&(number, title, words)| {
            let because = match number {
                1 | 3 if !digs.is_empty() => format!("digging: {digs}"),
                2 => of(2)?,
                4 => of(4)?,
                5 if !fills.is_empty() => format!("fill: {fills}"),
                9 => of(9)?,
                10 => of(10)?,
                11 | 12 | 15 => met(number)?,
                14 => machine_ways(context).or_else(|| met(number))?,
                16 => format!("{} shots", context.terrain.num_shots),
                _ => return None,
            };
            Some(Caution {
                number,
                title,
                words,
                because,
            })
        })
        .collect()
}

/// Ways too wide for a barrow: something on tracks or wheels comes in.
fn machine_ways(context: &Context) -> Option<String> {
    let barrow_m = context.job.limits.get(&limits::BARROW_WIDTH).value;
    let is_wide = |route: &&RouteSpec| route.width_m.is_some_and(|width_m| width_m > barrow_m);
    let wide: Vec<&str> = context
        .job
        .routes
        .iter()
        .filter(is_wide)
        .map(|r| r.name.as_str())
        .collect();
    (!wide.is_empty()).then(|| format!("wider than a barrow: {}", wide.join(", ")))
}
