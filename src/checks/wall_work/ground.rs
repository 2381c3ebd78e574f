//! What a wall stands on, and the water behind it.

use crate::statics::Class;

use super::super::{Change, Checked, Finding, Measure, Severity};
use super::above::Around;
use super::numbers::{WallSection, class};
use super::{Drawn, metres};

/// Stone in soil of another feature less than this is not worth a word, m3.
const LEAST_OVERLAP_M3: f64 = 0.01;

impl Drawn<'_> {
    /// WL-8.
    pub(super) fn under(&self, around: &Around, out: &mut Checked) {
        let soil = self.context.soil;
        let filled = around.fill_under(self.plan, &self.work.quantities);
        if let Some((depth, station, names)) = &filled {
            let whose = match names.is_empty() {
                true => "over ground that lies lower, with nothing drawn between".to_owned(),
                false => format!("on fill of {}", names.join(", ")),
            };
            out.find(Finding {
                measured: Some(metres(*depth)),
                cure: format!(
                    "lower its base by {} to the ground as it was measured, or ask an engineer",
                    self.height(*depth)
                ),
                ..self.find(
                    &["WL-8"],
                    Severity::Stop,
                    *station,
                    format!(
                        "{} stands {whose}, {} above the ground as it was measured: fill has no presumed bearing",
                        self.name(),
                        self.height(*depth)
                    ),
                )
            });
        }
        if class(soil) == Class::Fill {
            out.find(Finding {
                cure: "dig the base down to soil that was never moved, name that soil in [soil], or ask a geotechnical engineer".to_owned(),
                ..self.find(
                    &["WL-8"],
                    Severity::Warn,
                    0.0,
                    format!("{} stands on {}: fill, topsoil, mud and peat have no presumed bearing", self.name(), soil.name),
                )
            });
        } else if filled.is_none() {
            out.looked(
                "WL-8",
                format!("{} stands in the ground as it was measured", self.name()),
            );
        }
    }

    /// WL-10 and WL-12.
    pub(super) fn water(&self, out: &mut Checked) {
        let station = self.highest(|p| p.body_m).map_or(0.0, |p| p.station_m);
        let ratio = self
            .work
            .sections
            .first()
            .and_then(WallSection::water_ratio);
        let times = match ratio {
            Some(ratio) => format!("full of water the soil behind pushes {ratio:.1} times as hard"),
            None => "water behind it pushes more than the soil does".to_owned(),
        };
        match (&self.plan.drain_stone, &self.plan.pipe) {
            (None, _) => {
                let show = self.context.show();
                let foot = if show.unit().is_foot() { "1.0" } else { "0.3" };
                let value = format!(
                    "{{ width = {foot}, soil_cap = {} }}",
                    if show.unit().is_foot() { "0.5" } else { "0.15" }
                );
                out.find(Finding {
                    measured: ratio.map(|value| Measure {
                        value,
                        unit: "ratio",
                    }),
                    cure: format!(
                        "put stone behind it over {foot} {}, with a pipe that comes out lower",
                        show.length_unit()
                    ),
                    change: Some(Change {
                        feature: self.name().to_owned(),
                        key: "drain_stone".to_owned(),
                        value,
                    }),
                    ..self.find(
                        &["WL-10"],
                        Severity::Warn,
                        station,
                        format!("no drain is drawn behind {}: {times}", self.name()),
                    )
                });
            }
            (Some(_), None) => {
                out.looked("WL-10", format!("{} has stone behind it", self.name()));
                out.find(Finding {
                    cure: "write pipe = { outlet = \"end\" }, or leave the lowest joints of the face open".to_owned(),
                    ..self.find(
                        &["WL-10"],
                        Severity::Note,
                        station,
                        format!("{} has stone behind it and no pipe: its water needs a way out through the face", self.name()),
                    )
                });
            }
            (Some(_), Some(_)) => self.outlet(out),
        }
        out.looked(
            "WL-12",
            format!(
                "{} was looked at for water before and behind it",
                self.name()
            ),
        );
        if let Some((what, station_m)) = &self.work.holds_water {
            out.find(Finding {
                cure: "have it designed for water, or move it a foot or more from the water and let the ground in between carry the liner".to_owned(),
                ..self.find(
                    &["WL-12"],
                    Severity::Warn,
                    *station_m,
                    format!("{} holds the water of {what}: that is no garden wall", self.name()),
                )
            });
        }
    }

    /// Where the drain pipe comes out.
    fn outlet(&self, out: &mut Checked) {
        let wall = &self.work.quantities;
        let Some(&(station, z)) = wall.pipe_levels.first() else {
            return;
        };
        out.looked(
            "WL-10",
            format!("{} has stone and a pipe behind it", self.name()),
        );
        if let Some(deep) = wall.outlet_below_ground_m.filter(|m| *m > 0.0) {
            out.find(Finding {
                measured: Some(metres(deep)),
                cure: format!(
                    "lead it on to where the ground lies at {} or lower",
                    self.height(z)
                ),
                ..self.find(
                    &["WL-10"],
                    Severity::Note,
                    station,
                    format!(
                        "the drain pipe of {} comes out {} below the ground before the wall",
                        self.name(),
                        self.height(deep)
                    ),
                )
            });
        }
    }

    /// Soil of a feature listed after the wall, where its stone goes.
    pub(super) fn order(&self, out: &mut Checked) {
        let wall = &self.work.quantities;
        let show = self.context.show();
        if wall.drain_in_fill_m3 > LEAST_OVERLAP_M3 {
            out.find(Finding {
                measured: Some(Measure { value: wall.drain_in_fill_m3, unit: "m3" }),
                cure: format!("list \"{}\" after the features that it holds", wall.name),
                caution: None,
                ..self.find(
                    &[],
                    Severity::Warn,
                    0.0,
                    format!(
                        "a feature listed after {} places soil where its drain stone goes: {} are counted as both",
                        wall.name,
                        show.volume_or_none(wall.drain_in_fill_m3)
                    ),
                )
            });
        }
    }
}
