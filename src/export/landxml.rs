//! LandXML 1.2: surfaces face by face, with their breaklines.
//!
//! Takes a parcel, gives text in its unit: northing before easting, plan decimals that come back
//! to the same nanometre, heights with every digit.
//!
//! # Source
//!
//! LandXML-1.2.xsd, 2008-07-29

use std::io::{self, Write};

use quick_xml::escape::escape;

use crate::geom::{P3, Point, joined};
use crate::units::LengthUnit;

use super::stated::{Numbered, corners_off_planes_m3};
use super::{Leaving, Parcel, breaklines};

/// Writes surfaces, each under its name.
///
/// # Errors
///
/// as the writer gives them; a surface without facets, which LandXML cannot hold
pub fn write(parcel: &Parcel, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, r#"<?xml version="1.0" encoding="UTF-8"?>"#)?;
    writeln!(
        out,
        r#"<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2" date="{}" time="00:00:00">"#,
        text(&parcel.date)
    )?;
    writeln!(out, " <Units>{}</Units>", units(parcel.unit))?;
    writeln!(
        out,
        r#" <Application name="{}" version="{}"/>"#,
        env!("CARGO_PKG_NAME"),
        env!("CARGO_PKG_VERSION")
    )?;
    writeln!(out, " <Surfaces>")?;
    for leaving in &parcel.surfaces {
        surface(parcel, leaving, out)?;
    }
    writeln!(out, " </Surfaces>\n</LandXML>")
}

fn units(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Metre => {
            r#"<Metric linearUnit="meter" areaUnit="squareMeter" volumeUnit="cubicMeter" temperatureUnit="celsius" pressureUnit="milliBars"/>"#
        }
        LengthUnit::Foot => {
            r#"<Imperial linearUnit="foot" areaUnit="squareFoot" volumeUnit="cubicYard" temperatureUnit="fahrenheit" pressureUnit="inchHG"/>"#
        }
        LengthUnit::UsSurveyFoot => {
            r#"<Imperial linearUnit="USSurveyFoot" areaUnit="squareFoot" volumeUnit="cubicYard" temperatureUnit="fahrenheit" pressureUnit="inchHG"/>"#
        }
    }
}

fn surface(parcel: &Parcel, leaving: &Leaving, out: &mut dyn Write) -> io::Result<()> {
    let (surface, unit) = (leaving.surface, parcel.unit);
    let Some(facts) = surface.facts() else {
        return Err(io::Error::other(format!(
            "the surface {} has no facet",
            leaving.name
        )));
    };
    let numbered = Numbered::of(surface);
    let vanished: Vec<u32> = surface
        .facets()
        .filter(|&f| vanishes(parcel, surface.corners(f)))
        .collect();
    writeln!(
        out,
        r#"  <Surface name="{}" state="{}" desc="{}">"#,
        text(&leaving.name),
        leaving.state.word(),
        text(&words(leaving, &vanished))
    )?;
    let edges = breaklines::marked(leaving);
    let point = |vertex: P3| {
        let p = parcel.origin.absolute(vertex.p);
        let (north, east) = (unit.decimal(p.y), unit.decimal(p.x));
        format!("{north} {east} {}", unit.number_of_m(vertex.z))
    };
    let at = |v: u32| point(surface.vertices()[v as usize]);
    if !edges.is_empty() {
        writeln!(out, "   <SourceData><Breaklines>")?;
        for line in joined(&edges) {
            write!(out, r#"    <Breakline brkType="standard"><PntList3D>"#)?;
            for (k, &v) in line.iter().enumerate() {
                write!(out, "{}{}", if k > 0 { " " } else { "" }, at(v))?;
            }
            writeln!(out, "</PntList3D></Breakline>")?;
        }
        writeln!(out, "   </Breaklines></SourceData>")?;
    }
    writeln!(
        out,
        r#"   <Definition surfType="TIN" area2DSurf="{}" area3DSurf="{}" elevMax="{}" elevMin="{}">"#,
        facts.area_m2 / unit.area_m2(),
        facts.surface_area_m2 / unit.area_m2(),
        unit.number_of_m(facts.max_z_m),
        unit.number_of_m(facts.min_z_m)
    )?;
    writeln!(out, "    <Pnts>")?;
    for (k, &v) in numbered.used.iter().enumerate() {
        writeln!(out, r#"     <P id="{}">{}</P>"#, k + 1, at(v))?;
    }
    writeln!(out, "    </Pnts>\n    <Faces>")?;
    let mut left_out = vanished.iter().peekable();
    for f in surface.facets() {
        if left_out.next_if_eq(&&f).is_some() {
            continue;
        }
        let [a, b, c] = numbered.corners(surface, f);
        match breaklines::bits(&edges, surface.vertex_ids(f)) {
            0 => writeln!(out, "     <F>{a} {b} {c}</F>")?,
            bits => writeln!(out, r#"     <F b="{bits}">{a} {b} {c}</F>"#)?,
        }
    }
    writeln!(out, "    </Faces>\n   </Definition>\n  </Surface>")
}

/// What is to be known of the facets, in words.
fn words(leaving: &Leaving, vanished: &[u32]) -> String {
    let surface = leaving.surface;
    let mut words = "the facets volumes are counted from, not welded; coordinates are absolute, \
                     nothing is taken off; "
        .to_owned();
    words += &match corners_off_planes_m3(surface) {
        0.0 => "faces through their corners are the planes volumes are counted with".to_owned(),
        off_m3 => format!(
            "faces through their corners differ by at most {off_m3:.1e} m3 from the planes volumes \
             are counted with"
        ),
    };
    if !vanished.is_empty() {
        let area_m2: f64 = vanished.iter().map(|&f| surface.area_m2(f)).sum();
        words += &format!(
            "; left out: {} facets of {area_m2:.1e} m2 in all, thinner than a billionth of the unit",
            vanished.len()
        );
    }
    words
}

/// True for a facet that has no area, or is turned over, in the decimals of the unit.
fn vanishes(parcel: &Parcel, corners: [P3; 3]) -> bool {
    // Metres hold the lattice itself.
    if parcel.unit == LengthUnit::Metre {
        return false;
    }
    let billionths = |nm: i64| parcel.unit.decimal(nm).billionths();
    let [a, b, c] = corners.map(|corner| {
        let p = parcel.origin.absolute(corner.p);
        Point::new(billionths(p.x), billionths(p.y))
    });
    crate::geom::orient_sign(a, b, c) <= 0
}

/// Text as it may stand in an attribute; what XML does not allow becomes a space.
fn text(text: &str) -> String {
    let is_allowed = |c: char| !c.is_control() && c != '\u{fffe}' && c != '\u{ffff}';
    let clean: String = text
        .chars()
        .map(|c| if is_allowed(c) { c } else { ' ' })
        .collect();
    escape(&clean).into_owned()
}
