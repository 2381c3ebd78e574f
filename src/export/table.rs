//! Vertices and facets as CSV.
//!
//! Takes a surface, gives two tables: SI, absolute coordinates, the unit in every key. Facets
//! name the numbers of their vertices, counter-clockwise.

use std::io::{self, Write};

use crate::geom::Origin;
use crate::units::LengthUnit;

use super::Leaving;
use super::stated::Numbered;

/// `id,x_m,y_m,z_m`: plan to the nanometre, heights with every digit.
///
/// # Errors
///
/// as the writer gives them
pub fn write_vertices(origin: Origin, leaving: &Leaving, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "id,x_m,y_m,z_m")?;
    let metres = |nm: i64| LengthUnit::Metre.decimal(nm);
    let vertices = leaving.surface.vertices();
    for (k, &v) in Numbered::of(leaving.surface).used.iter().enumerate() {
        let vertex = vertices[v as usize];
        let p = origin.absolute(vertex.p);
        writeln!(
            out,
            "{},{},{},{}",
            k + 1,
            metres(p.x),
            metres(p.y),
            vertex.z
        )?;
    }
    Ok(())
}

/// `id,a,b,c,label,feature,part`; the ground has no feature.
///
/// # Errors
///
/// as the writer gives them
pub fn write_facets(leaving: &Leaving, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "id,a,b,c,label,feature,part")?;
    let surface = leaving.surface;
    let numbered = Numbered::of(surface);
    let mut tails: Vec<String> = Vec::new();
    for (k, f) in surface.facets().enumerate() {
        let label = surface.label(f);
        while tails.len() <= label as usize {
            tails.push(tail(leaving, tails.len() as u32)?);
        }
        let [a, b, c] = numbered.corners(surface, f);
        write!(out, "{},{a},{b},{c},{}", k + 1, tails[label as usize])?;
    }
    Ok(())
}

/// The end of a row: label, feature and part, quoted where they must be.
fn tail(leaving: &Leaving, label: u32) -> io::Result<String> {
    let named = leaving.named(label);
    let mut writer = csv::Writer::from_writer(Vec::new());
    let feature = named.feature.unwrap_or_default();
    writer.write_record([&label.to_string(), &feature, &named.part])?;
    let bytes = writer.into_inner().map_err(|e| e.into_error())?;
    String::from_utf8(bytes).map_err(io::Error::other)
}
