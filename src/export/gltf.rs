//! glTF 2.0: surfaces to look at, one binary file or one of text.
//!
//! Takes a parcel, gives metres: x east, y up, z south. Positions are 32-bit numbers about a
//! whole-metre middle of each surface; the node moves them back into the frame of the parcel, and
//! the scene says where that begins. Each label is a material. There are no normals: a program
//! must then draw facets flat, as they are.
//!
//! # Source
//!
//! The Khronos Group, "glTF 2.0 Specification" (2021), ISO/IEC 12113:2022; section 3.7.2.1 on
//! normals that are not given

use std::collections::BTreeMap;
use std::io::{self, Write};

use base64::engine::general_purpose::STANDARD;
use base64::write::EncoderWriter;
use serde_json::{Value, json};

use crate::geom::P3;
use crate::surface::{Label, Surface};
use crate::units::NM_PER_M;

use super::stated::{Numbered, corners_off_planes_m3};
use super::{Leaving, Look, Named, Parcel};

/// "glTF", 2, "JSON" and "BIN" as little-endian words.
const MAGIC: u32 = 0x4654_6C67;
const VERSION: u32 = 2;
const JSON_CHUNK: u32 = 0x4E4F_534A;
const BIN_CHUNK: u32 = 0x004E_4942;
/// What a view of the buffer is for, and the kinds of number in it.
const ARRAY_BUFFER: u32 = 34_962;
const ELEMENT_ARRAY_BUFFER: u32 = 34_963;
const UNSIGNED_INT: u32 = 5125;
const FLOAT: u32 = 5126;
/// Bytes of a position and of a triangle.
const POSITION_BYTES: u64 = 12;
const TRIANGLE_BYTES: u64 = 12;

/// Writes one binary file.
///
/// # Errors
///
/// as the writer gives them; more than the 4 GiB such a file can hold
pub fn write_glb(parcel: &Parcel, out: &mut dyn Write) -> io::Result<()> {
    let meshes = meshes(parcel);
    let bytes: u64 = meshes.iter().map(Mesh::bytes).sum();
    let mut head = serde_json::to_string(&document(parcel, &meshes, bytes, None))?;
    // Chunks are as long as whole words of four bytes.
    while head.len() % 4 != 0 {
        head.push(' ');
    }
    let whole = 12 + 8 + head.len() as u64 + 8 + bytes;
    let whole = u32::try_from(whole).map_err(|_| {
        io::Error::other("a glb file holds at most 4 GiB; this surface is too large for one")
    })?;
    for word in [MAGIC, VERSION, whole, head.len() as u32, JSON_CHUNK] {
        out.write_all(&word.to_le_bytes())?;
    }
    out.write_all(head.as_bytes())?;
    for word in [bytes as u32, BIN_CHUNK] {
        out.write_all(&word.to_le_bytes())?;
    }
    meshes.iter().try_for_each(|mesh| mesh.write(out))
}

/// Writes one file of text, the numbers in it as base64.
///
/// # Errors
///
/// as the writer gives them
pub fn write_gltf(parcel: &Parcel, out: &mut dyn Write) -> io::Result<()> {
    /// Where the numbers go; stands nowhere else, since text has no control characters.
    const HERE: &str = "\u{1}";
    let meshes = meshes(parcel);
    let bytes = meshes.iter().map(Mesh::bytes).sum();
    let uri = format!("data:application/octet-stream;base64,{HERE}");
    let text = serde_json::to_string(&document(parcel, &meshes, bytes, Some(&uri)))?;
    let escaped = "\\u0001";
    let (before, behind) = text.rsplit_once(escaped).unwrap_or((&text, ""));
    out.write_all(before.as_bytes())?;
    let mut encoder = EncoderWriter::new(&mut *out, &STANDARD);
    meshes
        .iter()
        .try_for_each(|mesh| mesh.write(&mut encoder))?;
    encoder.finish()?;
    drop(encoder);
    out.write_all(behind.as_bytes())
}

/// A surface as it is written.
struct Mesh<'a> {
    leaving: &'a Leaving<'a>,
    numbered: Numbered,
    /// Whole metres east, north and up.
    middle_m: [i64; 3],
    /// Least and greatest position.
    range: [[f32; 3]; 2],
    /// The most any coordinate is rounded by, metres.
    rounding_m: f64,
    /// Facets with area by label, ascending.
    facets: BTreeMap<Label, Vec<u32>>,
    /// Facets whose corners fall together, or in line, when they are rounded.
    without_area: u64,
    /// Facets that are turned over in plan when their corners are rounded.
    turned: u64,
}

fn meshes<'a>(parcel: &'a Parcel) -> Vec<Mesh<'a>> {
    parcel.surfaces.iter().map(Mesh::of).collect()
}

impl<'a> Mesh<'a> {
    fn of(leaving: &'a Leaving) -> Mesh<'a> {
        let surface = leaving.surface;
        let numbered = Numbered::of(surface);
        let mut mesh = Mesh {
            leaving,
            middle_m: middle_m(surface, &numbered.used),
            numbered,
            range: [[f32::INFINITY; 3], [f32::NEG_INFINITY; 3]],
            rounding_m: 0.0,
            facets: BTreeMap::new(),
            without_area: 0,
            turned: 0,
        };
        for k in 0..mesh.numbered.used.len() {
            let vertex = surface.vertices()[mesh.numbered.used[k] as usize];
            let exact = mesh.exact(vertex);
            let position = exact.map(|m| m as f32);
            for axis in 0..3 {
                let value = position[axis];
                mesh.range[0][axis] = mesh.range[0][axis].min(value);
                mesh.range[1][axis] = mesh.range[1][axis].max(value);
                let off = (f64::from(value) - exact[axis]).abs();
                mesh.rounding_m = mesh.rounding_m.max(off);
            }
        }
        for f in surface.facets() {
            let [a, b, c] = surface.corners(f).map(|corner| mesh.position(corner));
            let [_, up, _] = match cross(a, b, c) {
                [0.0, 0.0, 0.0] => {
                    mesh.without_area += 1;
                    continue;
                }
                normal => normal,
            };
            mesh.turned += u64::from(up < 0.0);
            mesh.facets.entry(surface.label(f)).or_default().push(f);
        }
        mesh
    }

    /// East, up and south of the middle, metres.
    fn exact(&self, vertex: P3) -> [f64; 3] {
        let [east, north, up] = self.middle_m;
        let nm = |whole_m: i64| whole_m * NM_PER_M as i64;
        [
            (vertex.p.x - nm(east)) as f64 / NM_PER_M,
            vertex.z - up as f64,
            (nm(north) - vertex.p.y) as f64 / NM_PER_M,
        ]
    }

    fn position(&self, vertex: P3) -> [f32; 3] {
        self.exact(vertex).map(|m| m as f32)
    }

    fn num_facets(&self) -> u64 {
        self.facets.values().map(|f| f.len() as u64).sum()
    }

    fn bytes(&self) -> u64 {
        self.numbered.used.len() as u64 * POSITION_BYTES + self.num_facets() * TRIANGLE_BYTES
    }

    /// Positions, then the triangles of each label.
    fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        let surface = self.leaving.surface;
        for &v in &self.numbered.used {
            for value in self.position(surface.vertices()[v as usize]) {
                out.write_all(&value.to_le_bytes())?;
            }
        }
        for &f in self.facets.values().flatten() {
            for number in self.numbered.corners(surface, f) {
                out.write_all(&(number - 1).to_le_bytes())?;
            }
        }
        Ok(())
    }
}

/// The whole metre nearest to the middle of the box round vertices: east, north, up.
fn middle_m(surface: &Surface, used: &[u32]) -> [i64; 3] {
    let mut low = [f64::INFINITY; 3];
    let mut high = [f64::NEG_INFINITY; 3];
    for &v in used {
        let vertex = surface.vertices()[v as usize];
        for (axis, m) in [vertex.p.x_m(), vertex.p.y_m(), vertex.z]
            .into_iter()
            .enumerate()
        {
            low[axis] = low[axis].min(m);
            high[axis] = high[axis].max(m);
        }
    }
    if used.is_empty() {
        return [0; 3];
    }
    std::array::from_fn(|axis| ((low[axis] + high[axis]) / 2.0).round() as i64)
}

/// Normal of a triangle, as long as twice its area; computed from the numbers as written.
fn cross(a: [f32; 3], b: [f32; 3], c: [f32; 3]) -> [f64; 3] {
    let side = |to: [f32; 3]| -> [f64; 3] {
        std::array::from_fn(|axis| f64::from(to[axis]) - f64::from(a[axis]))
    };
    let (u, v) = (side(b), side(c));
    [
        u[1] * v[2] - u[2] * v[1],
        u[2] * v[0] - u[0] * v[2],
        u[0] * v[1] - u[1] * v[0],
    ]
}

/// Everything but the numbers.
fn document(parcel: &Parcel, meshes: &[Mesh], bytes: u64, uri: Option<&str>) -> Value {
    let mut written = Written::default();
    let mut offset = 0;
    for mesh in meshes {
        written.add(mesh, &mut offset);
    }
    let mut buffer = json!({ "byteLength": bytes });
    if let Some(uri) = uri {
        buffer["uri"] = json!(uri);
    }
    let nodes: Vec<usize> = (0..meshes.len()).collect();
    json!({
        "asset": {
            "version": "2.0",
            "generator": concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION")),
        },
        "scene": 0,
        "scenes": [{
            "nodes": nodes,
            "extras": {
                "unit": "m",
                "axes": "x east, y up, z south",
                "origin_east_m": parcel.origin.x_m,
                "origin_north_m": parcel.origin.y_m,
                "origin_height_m": 0,
                "date": parcel.date,
            },
        }],
        "nodes": written.nodes,
        "meshes": written.meshes,
        "materials": written.materials,
        "accessors": written.accessors,
        "bufferViews": written.views,
        "buffers": [buffer],
    })
}

/// The lists of a document, as they grow from surface to surface.
#[derive(Default)]
struct Written {
    nodes: Vec<Value>,
    meshes: Vec<Value>,
    materials: Vec<Value>,
    accessors: Vec<Value>,
    views: Vec<Value>,
}

impl Written {
    fn add(&mut self, mesh: &Mesh, offset: &mut u64) {
        let leaving = mesh.leaving;
        let positions = self.accessors.len();
        let num_vertices = mesh.numbered.used.len();
        let vertex_bytes = num_vertices as u64 * POSITION_BYTES;
        let facet_bytes = mesh.num_facets() * TRIANGLE_BYTES;
        let [low, high] = mesh.range;
        self.accessors.push(json!({
            "bufferView": self.views.len(),
            "componentType": FLOAT,
            "count": num_vertices,
            "type": "VEC3",
            "min": low,
            "max": high,
        }));
        self.view(offset, vertex_bytes, ARRAY_BUFFER);
        let triangles = self.views.len();
        self.view(offset, facet_bytes, ELEMENT_ARRAY_BUFFER);
        let mut primitives = Vec::new();
        let mut inside = 0;
        for (&label, facets) in &mesh.facets {
            primitives.push(json!({
                "attributes": { "POSITION": positions },
                "indices": self.accessors.len(),
                "material": self.material(&leaving.named(label), label),
            }));
            self.accessors.push(json!({
                "bufferView": triangles,
                "byteOffset": inside,
                "componentType": UNSIGNED_INT,
                "count": facets.len() * 3,
                "type": "SCALAR",
            }));
            inside += facets.len() as u64 * TRIANGLE_BYTES;
        }
        let [east, north, up] = mesh.middle_m;
        self.nodes.push(json!({
            "name": leaving.name,
            "mesh": self.meshes.len(),
            "translation": [east, up, -north],
            "extras": {
                "state": leaving.state.word(),
                "facets": mesh.num_facets(),
                "largest_rounding_m": mesh.rounding_m,
                "facets_left_out_without_area": mesh.without_area,
                "facets_turned_by_rounding": mesh.turned,
                "corners_off_planes_m3": corners_off_planes_m3(leaving.surface),
            },
        }));
        self.meshes
            .push(json!({ "name": leaving.name, "primitives": primitives }));
    }

    fn view(&mut self, offset: &mut u64, bytes: u64, target: u32) {
        self.views.push(json!({
            "buffer": 0,
            "byteOffset": *offset,
            "byteLength": bytes,
            "target": target,
        }));
        *offset += bytes;
    }

    /// The number of a material, which is new unless another surface has the same part.
    fn material(&mut self, named: &Named, label: Label) -> usize {
        let material = json!({
            "name": named.whole(),
            "pbrMetallicRoughness": {
                "baseColorFactor": colour(named.look, label),
                "metallicFactor": 0,
                "roughnessFactor": 1,
            },
            // A face that leans over, or was turned by rounding, is to be seen all the same.
            "doubleSided": true,
        });
        let known = self.materials.iter().position(|other| *other == material);
        known.unwrap_or_else(|| {
            self.materials.push(material);
            self.materials.len() - 1
        })
    }
}

/// Red, green and blue as light, and opaque. Parts next to each other get another shade of the
/// colours cut and fill have on paper.
fn colour(look: Look, label: Label) -> [f64; 4] {
    let shades: [u32; 3] = match look {
        Look::Ground => [0x8C_8C_80; 3],
        Look::Dug => [0xB0_59_15, 0xEA_9E_51, 0xF6_D9_B3],
        Look::Filled => [0x4A_1C_84, 0x8E_77_C0, 0xD4_CB_EB],
    };
    let shade = shades[label as usize % 3];
    let light = |shift: u32| {
        let share = f64::from(shade >> shift & 0xFF) / 255.0;
        // From the scale of screens to light (IEC 61966-2-1:1999, section 4.2).
        let light = if share <= 0.040_45 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        };
        (light * 1.0e4).round() / 1.0e4
    };
    [light(16), light(8), light(0), 1.0]
}
