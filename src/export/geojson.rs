//! GeoJSON of lines and areas in local metres.
//!
//! Takes what is drawn, gives a collection of features. RFC 7946 means longitude and latitude;
//! its section 4 lets others agree on something else beforehand. Coordinates of a yard know no
//! place on Earth, so the file says in words, and in its keys, that they are local.
//!
//! # Source
//!
//! H. Butler et al., "The GeoJSON Format", RFC 7946 (2016), sections 3.1, 4 and 6.1

use std::io::{self, Write};

use serde_json::{Map, Value, json};

use crate::geom::Origin;
use crate::units::LengthUnit;

use super::lines::{Drawn, Form, Place};

/// Writes a collection.
///
/// # Errors
///
/// as the writer gives them
pub fn write(origin: Origin, drawn: &[Drawn], out: &mut dyn Write) -> io::Result<()> {
    let head = json!({
        "type": "FeatureCollection",
        "name": "local coordinates in metres: east, north, height; not longitude and latitude",
        "coordinates_are": {
            "kind": "local, by prior arrangement (RFC 7946, section 4)",
            "order": "east, north, height above the datum of the job",
            "unit": "m",
        },
    });
    let head = serde_json::to_string(&head)?;
    // Everything but the closing brace.
    out.write_all(&head.as_bytes()[..head.len() - 1])?;
    out.write_all(b",\"features\":[")?;
    for (k, drawn) in drawn.iter().enumerate() {
        out.write_all(if k > 0 { b",\n" } else { b"\n" })?;
        feature(origin, drawn, out)?;
    }
    out.write_all(b"\n]}\n")
}

fn feature(origin: Origin, drawn: &Drawn, out: &mut dyn Write) -> io::Result<()> {
    let mut properties = Map::new();
    properties.insert("kind".to_owned(), json!(drawn.kind));
    properties.insert("name".to_owned(), json!(drawn.name));
    properties.extend(drawn.more.clone());
    let kind = match &drawn.form {
        Form::Lines(_) => "MultiLineString",
        Form::Areas(_) => "MultiPolygon",
    };
    write!(
        out,
        r#"{{"type":"Feature","properties":{},"geometry":{{"type":"{kind}","coordinates":"#,
        Value::Object(properties)
    )?;
    match &drawn.form {
        Form::Lines(lines) => list(lines, out, &mut |line, out| places(origin, line, out))?,
        Form::Areas(areas) => list(areas, out, &mut |rings, out| {
            list(rings, out, &mut |ring, out| places(origin, ring, out))
        })?,
    }
    out.write_all(b"}}")
}

fn places(origin: Origin, line: &[Place], out: &mut dyn Write) -> io::Result<()> {
    list(line, out, &mut |place, out| {
        let p = origin.absolute(place.p);
        let metres = |nm: i64| LengthUnit::Metre.decimal(nm);
        write!(out, "[{},{}", metres(p.x), metres(p.y))?;
        if let Some(z_m) = place.z_m {
            write!(out, ",{z_m}")?;
        }
        out.write_all(b"]")
    })
}

/// Things in brackets with commas between.
fn list<T>(
    things: &[T],
    out: &mut dyn Write,
    write: &mut dyn FnMut(&T, &mut dyn Write) -> io::Result<()>,
) -> io::Result<()> {
    out.write_all(b"[")?;
    for (k, thing) in things.iter().enumerate() {
        if k > 0 {
            out.write_all(b",")?;
        }
        write(thing, out)?;
    }
    out.write_all(b"]")
}
