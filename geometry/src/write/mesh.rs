//! A mesh as binary glTF (GLB).
//!
//! In: a [`Mesh`] in mm, x aft, y to starboard, z up. Out: one node in metres, as glTF has it: y up, z forward, x to port.

use core::fmt;

use serde_json::{Value, json};

use crate::spline::Mesh;

/// How a mesh is called in its file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GlbOptions<'a> {
    /// Name of the node.
    pub name: &'a str,
    /// What a reader should know of it: which surface, which revision.
    pub description: &'a str,
}

/// Why a mesh could not be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GlbError {
    /// There is no triangle.
    Empty,
    /// A vertex, by its number from 0, has a place or a normal that is no number.
    NotANumber(usize),
    /// The file would be over 4 GB.
    TooLarge,
}

impl fmt::Display for GlbError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(
                f,
                "The mesh has no triangle: give it a body that is not flat."
            ),
            Self::NotANumber(vertex) => write!(
                f,
                "Vertex {vertex} of the mesh lies nowhere: look at the loft's points there."
            ),
            Self::TooLarge => write!(f, "The mesh is over 4 GB: allow a larger deviation."),
        }
    }
}

impl core::error::Error for GlbError {}

/// Metres in a millimetre.
const METRE: f64 = 1e-3;

/// Values of the standard.
const FLOAT: u32 = 5126;
const UNSIGNED_INT: u32 = 5125;
const ARRAY_BUFFER: u32 = 34_962;
const ELEMENT_ARRAY_BUFFER: u32 = 34_963;
const JSON_CHUNK: &[u8; 4] = b"JSON";
const BINARY_CHUNK: &[u8; 4] = b"BIN\0";

/// Writes a mesh as GLB: places, normals and triangles.
///
/// # Units
/// In: mm, x aft, y to starboard, z up. In the file: metres, x to port, y up, z forward; its `extras` say so.
///
/// # Errors
/// [`GlbError`] for a mesh without triangles, with a number that is none, or too large for the form.
///
/// # Accuracy
/// Places are rounded to single precision: 0.0003 mm at 5 m.
///
/// # Source
/// Khronos, *glTF 2.0 Specification* (ISO/IEC 12113).
pub fn write_glb(mesh: &Mesh, options: &GlbOptions<'_>) -> Result<Vec<u8>, GlbError> {
    if mesh.triangles.is_empty() {
        return Err(GlbError::Empty);
    }
    let mut bytes = Vec::new();
    let (mut least, mut most) = ([f32::INFINITY; 3], [f32::NEG_INFINITY; 3]);
    for (number, vertex) in mesh.vertices.iter().enumerate() {
        if !(vertex.position.is_finite() && vertex.normal.is_finite()) {
            return Err(GlbError::NotANumber(number));
        }
        for (axis, value) in turned(vertex.position.to_array(), METRE)
            .into_iter()
            .enumerate()
        {
            least[axis] = least[axis].min(value);
            most[axis] = most[axis].max(value);
            bytes.extend(value.to_le_bytes());
        }
    }
    let normals_at = bytes.len();
    for vertex in &mesh.vertices {
        for value in turned(vertex.normal.to_array(), 1.0) {
            bytes.extend(value.to_le_bytes());
        }
    }
    let triangles_at = bytes.len();
    for number in mesh.triangles.iter().flatten() {
        bytes.extend(number.to_le_bytes());
    }
    let view = |from: usize, to: usize, target: u32| json!({"buffer": 0, "byteOffset": from, "byteLength": to - from, "target": target});
    let vertices = mesh.vertices.len();
    let mut scene = json!({
        "asset": {
            "version": "2.0",
            "generator": "Scrieve Board",
            "extras": {
                "description": options.description,
                "unit": "metre",
                "axes": "x to port, y up, z forward",
                "deviation_mm": mesh.deviation,
            },
        },
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"name": options.name, "mesh": 0}],
        "meshes": [{"name": options.name, "primitives": [{
            "attributes": {"POSITION": 0, "NORMAL": 1}, "indices": 2, "material": 0,
        }]}],
        "materials": [{
            "name": "skin",
            "doubleSided": true,
            "pbrMetallicRoughness": {
                "baseColorFactor": [0.7, 0.7, 0.7, 1.0], "metallicFactor": 0.0, "roughnessFactor": 0.6,
            },
        }],
        "accessors": [
            {"bufferView": 0, "componentType": FLOAT, "count": vertices, "type": "VEC3", "min": least, "max": most},
            {"bufferView": 1, "componentType": FLOAT, "count": vertices, "type": "VEC3"},
            {"bufferView": 2, "componentType": UNSIGNED_INT, "count": 3 * mesh.triangles.len(), "type": "SCALAR"},
        ],
        "bufferViews": [
            view(0, normals_at, ARRAY_BUFFER),
            view(normals_at, triangles_at, ARRAY_BUFFER),
            view(triangles_at, bytes.len(), ELEMENT_ARRAY_BUFFER),
        ],
        "buffers": [{"byteLength": bytes.len()}],
    });
    // Else the order of keys would follow from the features that other crates of a build ask of serde_json.
    scene.sort_all_objects();
    packed(&scene, &bytes)
}

/// A vector in the file's axes.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the file holds single precision"
)]
fn turned([aft, starboard, up]: [f64; 3], scale: f64) -> [f32; 3] {
    // Adding nothing turns -0 into 0.
    [-starboard, up, -aft].map(|value| (value * scale) as f32 + 0.0)
}

/// The two chunks in one file, each filled to a multiple of four bytes.
fn packed(scene: &Value, binary: &[u8]) -> Result<Vec<u8>, GlbError> {
    let mut json = scene.to_string().into_bytes();
    json.resize(json.len().next_multiple_of(4), b' ');
    let size = |bytes: usize| u32::try_from(bytes).map_err(|_over| GlbError::TooLarge);
    let mut out = b"glTF".to_vec();
    out.extend(2_u32.to_le_bytes());
    out.extend(size(12 + 8 + json.len() + 8 + binary.len())?.to_le_bytes());
    for (kind, chunk) in [(JSON_CHUNK, &json[..]), (BINARY_CHUNK, binary)] {
        out.extend(size(chunk.len())?.to_le_bytes());
        out.extend(kind);
        out.extend(chunk);
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use glam::DVec3;

    use super::*;
    use crate::spline::Vertex;

    const OPTIONS: GlbOptions<'_> = GlbOptions {
        name: "shell",
        description: "",
    };

    fn triangle() -> Mesh {
        let corner = |x: f64, y: f64, z: f64| Vertex {
            position: DVec3::new(x, y, z),
            normal: DVec3::Z,
            ..Vertex::default()
        };
        Mesh {
            vertices: vec![
                corner(0.0, 0.0, 5.0),
                corner(4000.0, 0.0, 5.0),
                corner(4000.0, 250.0, 5.0),
            ],
            triangles: vec![[0, 1, 2]],
            deviation: 0.0,
        }
    }

    #[test]
    fn lengths_are_metres_and_the_nose_points_forward() {
        let bytes = write_glb(&triangle(), &OPTIONS).unwrap();
        let size = u32::from_le_bytes(bytes[12..16].try_into().unwrap()) as usize;
        let scene: Value = serde_json::from_slice(&bytes[20..20 + size]).unwrap();
        let places = &scene["accessors"][0];
        // As single precision has them.
        let single = |value: f32| f64::from(value);
        assert_eq!(places["min"], json!([-0.25, single(0.005), -4.0]));
        assert_eq!(places["max"], json!([0.0, single(0.005), 0.0]));
        assert_eq!(bytes.len() % 4, 0);
    }

    #[test]
    fn a_mesh_that_lies_nowhere_is_refused() {
        let mut mesh = triangle();
        mesh.vertices[1].position.y = f64::NAN;
        assert_eq!(write_glb(&mesh, &OPTIONS), Err(GlbError::NotANumber(1)));
        assert_eq!(write_glb(&Mesh::default(), &OPTIONS), Err(GlbError::Empty));
    }
}
