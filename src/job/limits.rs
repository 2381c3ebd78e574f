//! The user's limits: each with the figure that holds if nothing is said, and where that is from.
//!
//! A limit is a key of `[limits]` and a row of [`KEYS`]. Limits belong to the user; a usual figure
//! is the one of a model code or of habit, and what is said beside it names which.

use std::collections::BTreeMap;

use crate::units::{LengthUnit, M3_PER_YD3, Slope};

use super::Limits;

/// What a limit is a number of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LimitKind {
    /// A length in the job's unit.
    Length,
    /// A slope: three keys, `..._run_per_rise`, `..._percent`, `..._degrees`.
    Slope,
    /// A volume in the job's unit of soil.
    Volume,
    /// A bare number.
    Number,
    /// Whole days.
    Days,
}

/// A limit that can be set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitKey {
    /// Its key in `[limits]`; of a slope the part before the notation.
    pub key: &'static str,
    /// What it is a number of.
    pub kind: LimitKind,
    /// What holds if nothing is said: SI; a slope as rise over run.
    pub usual: f64,
    /// Where the usual figure is from.
    pub source: &'static str,
}

/// A limit as it holds for a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// SI; a slope as rise over run.
    pub value: f64,
    /// Whose it is, and where it is from.
    pub from: String,
}

const FT: f64 = 0.3048;
const IN: f64 = 0.0254;

macro_rules! limits {
    ($($(#[$doc:meta])* $name:ident = $key:literal, $kind:ident, $usual:expr, $source:literal;)*) => {
        $($(#[$doc])* pub const $name: LimitKey = LimitKey {
            key: $key,
            kind: LimitKind::$kind,
            usual: $usual,
            source: $source,
        };)*
        /// All of them, in the order of the documentation.
        pub const KEYS: &[LimitKey] = &[$($name),*];
    };
}

limits! {
    /// Steepest slope that is mown by a mower on wheels.
    MOWING = "mowing", Slope, 1.0 / 3.0, "3 across : 1 up for mowing in an extension bulletin";
    /// Steepest planted slope.
    PLANTED = "planted", Slope, 1.0 / 2.0, "2 across : 1 up, common practice, no source";
    /// Steepest path.
    PATH = "path", Slope, 1.0 / 12.0, "1 in 12 as for ramps, from memory";
    /// Flattest paving beside a house.
    PAVING = "paving", Slope, 0.02, "IRC R401.3";
    /// Flattest lawn.
    LAWN = "lawn", Slope, 0.01, "common practice, no source";
    /// Flattest swale beside a house.
    SWALE = "swale", Slope, 0.02, "IRC R401.3, 2006-era text";
    /// Steepest stream bed between drops.
    STREAM = "stream", Slope, 0.02, "1 to 2 percent between drops, common practice, no source";
    /// Depth from which a way out is asked for.
    WAY_OUT_DEPTH = "way_out_depth", Length, 4.0 * FT, "29 CFR 1926.651(c)(2)";
    /// Farthest walk to a way out.
    WAY_OUT_REACH = "way_out_reach", Length, 25.0 * FT, "29 CFR 1926.651(c)(2)";
    /// Depth from which faces need protection.
    PROTECT_DEPTH = "protect_depth", Length, 5.0 * FT, "29 CFR 1926.652(a)(1)";
    /// Depth from which an engineer designs the protection.
    ENGINEER_DEPTH = "engineer_depth", Length, 20.0 * FT, "29 CFR 1926 subpart P, appendix B";
    /// How far spoil, stone and machines stay back from an edge.
    EDGE_SETBACK = "edge_setback", Length, 2.0 * FT, "29 CFR 1926.651(j)(2)";
    /// Slope of the line under a footing that a dig stays above.
    FOOTING = "footing", Slope, 1.0, "1 to 1 from the bottom edge of the footing, common practice, no source";
    /// Fall of the ground away from a house.
    HOUSE_FALL = "house_fall", Length, 6.0 * IN, "IRC R401.3";
    /// Over what distance it falls so much.
    HOUSE_REACH = "house_reach", Length, 10.0 * FT, "IRC R401.3";
    /// How much lower the overflow is than the rest of the rim.
    SPILL_BELOW_RIM = "spill_below_rim", Length, 0.25 * FT, "common practice, no source";
    /// Ground under a fill from which it is cut in steps first.
    BENCHED = "benched", Slope, 1.0 / 5.0, "IBC appendix J107.3, from memory";
    /// Least distance of the top and the toe of a slope from a lot line.
    LINE_SETBACK = "line_setback", Length, 2.0 * FT, "IBC appendix J108, from memory";
    /// The same as a share of the height of the slope, at the top of a cut.
    TOP_SETBACK = "top_setback_per_height", Number, 0.2, "IBC appendix J108, from memory: about a fifth of the height";
    /// The same at the toe of a fill.
    TOE_SETBACK = "toe_setback_per_height", Number, 0.5, "IBC appendix J108, from memory: half the height";
    /// Share of its exposed height by which a wall stands in the ground.
    WALL_BURIED = "wall_buried_per_height", Number, 1.0 / 8.0, "1 in for 8 in of height, common practice, no source";
    /// Volume at which many places want to be told.
    GRADING_VOLUME = "grading_volume", Volume, 50.0 * M3_PER_YD3, "several city amendments to J103.2; each city differs";
    /// The same: depth of a cut.
    GRADING_CUT = "grading_cut", Length, 2.0 * FT, "several city amendments to J103.2; each city differs";
    /// The same: depth of a fill.
    GRADING_FILL = "grading_fill", Length, 3.0 * FT, "several city amendments to J103.2; each city differs";
    /// Height a wall may hold before it must be designed.
    DESIGNED_WALL = "designed_wall", Length, 48.0 * IN, "IRC R404.4, later editions (24 in in the 2009 edition), from memory";
    /// Walls closer than so many times the lower one count as one.
    TIERS = "tiers", Number, 2.0, "a coastal city's permit page; others alike";
    /// What stands closer behind a wall than so many times its height loads it.
    SURCHARGE_REACH = "surcharge_reach", Number, 1.0, "1 across to 1 up from the base of the wall, common practice, no source";
    /// Drop beside a walking surface from which a guard is asked for.
    GUARD_DROP = "guard_drop", Length, 30.0 * IN, "IRC R312, from memory";
    /// Depth of water against a berm that makes it a dam.
    DAM_DEPTH = "dam_depth", Length, 3.0 * FT, "NRCS practice 378";
    /// Steepest side of a berm towards the water it holds.
    DAM_UPSTREAM = "dam_upstream", Slope, 1.0 / 2.5, "2.5 across : 1 up, NRCS practice 378, filed state edition";
    /// Steepest side of such a berm away from the water.
    DAM_DOWNSTREAM = "dam_downstream", Slope, 1.0 / 2.0, "2 across : 1 up, NRCS practice 378, filed state edition";
    /// Least sum of both sides of such a berm, across for one up.
    DAM_SIDES = "dam_sides", Number, 5.0, "5 across : 1 up in sum, NRCS practice 378, filed state edition";
    /// Narrowest crest of a berm that holds no water.
    CREST_WIDTH = "crest_width", Length, 2.0 * FT, "2 to 3 ft for a berm under 3 ft that holds no water, common practice, no source";
    /// Thickest layer of fill that is tamped at once.
    LIFT = "lift", Length, 9.0 * IN, "common practice, no source";
    /// Steepest slope of a sheet liner under a cover.
    LINER = "liner", Slope, 1.0 / 2.5, "NRCS 521A state specification";
    /// Depth of open water from which a barrier is asked about.
    OPEN_WATER = "open_water", Length, 24.0 * IN, "model residential pool appendix, from memory";
    /// Width beside a buried line that is dug by hand, on each side.
    HAND_DIG = "hand_dig", Length, 24.0 * IN, "state one-call laws, from memory";
    /// Days between the notice and the first dig.
    NOTICE_DAYS = "notice_days", Days, 3.0, "state one-call laws, from memory: 2 to 3 days";
    /// Radius of the root circle for one of trunk diameter.
    ROOTS_PER_TRUNK = "roots_per_trunk", Number, 12.0, "1 ft per inch of trunk, common practice, no source";
    /// Width a loaded barrow takes.
    BARROW_WIDTH = "barrow_width", Length, 36.0 * IN, "common practice, no source";
    /// Steepest barrow run.
    BARROW = "barrow", Slope, 1.0 / 8.0, "common practice, no source";
    /// Steepest ground a barrow is brought over at all.
    BARROW_BANK = "barrow_bank", Slope, 1.0 / 2.0, "2 across : 1 up, common practice, no source";
    /// Steepest cross slope of a barrow run.
    BARROW_CROSS = "barrow_cross", Slope, 1.0 / 10.0, "common practice, no source";
}

impl Limits {
    /// A limit as it holds for the job.
    pub fn get(&self, key: &LimitKey) -> Limit {
        match self.set.get(key.key) {
            Some(&value) => Limit {
                value,
                from: "your limit".to_owned(),
            },
            None => Limit {
                value: key.usual,
                from: format!("{}; yours to change in [limits]", key.source),
            },
        }
    }

    /// The same of a slope.
    pub fn slope(&self, key: &LimitKey) -> Slope {
        Slope::from_rise_per_run(self.get(key).value)
    }

    /// What two limits say against each other, if the first is above the second: a rule that
    /// rests on them is not judged.
    pub fn contradiction(&self, lesser: &LimitKey, greater: &LimitKey) -> Option<String> {
        (self.get(lesser).value > self.get(greater).value).then(|| {
            format!(
                "[limits] contradicts itself: {} is above {}",
                lesser.key, greater.key
            )
        })
    }
}

/// Limits by key, SI; slopes as rise over run.
pub(super) type Set = BTreeMap<&'static str, f64>;

impl LimitKind {
    /// SI for one of the job's unit; 1 for what has none.
    pub(super) fn si(self, units: LengthUnit) -> f64 {
        match self {
            LimitKind::Length => units.metres(),
            LimitKind::Volume => units.volume_m3(),
            LimitKind::Slope | LimitKind::Number | LimitKind::Days => 1.0,
        }
    }
}
