use crate::ExportError;
use solid::ViewMesh;
use std::fmt::Write as _;

/// A mesh for viewing as binary glTF 2.0 (.glb): one opaque, slightly rough material of the given colour (encoded sRGB).
///
/// The format wants metres and y up: z along our axis becomes y, and millimetres are divided by 1,000.
pub fn gltf(view: &ViewMesh, name: &str, srgb: [u8; 3]) -> Result<Vec<u8>, ExportError> {
    if view.triangles.is_empty() {
        return Err(ExportError::Empty { format: "glTF" });
    }
    let limit = u32::MAX as usize / 64;
    if view.vertices_mm.len() > limit {
        return Err(ExportError::TooMuch { format: "glTF", what: "corners", found: view.vertices_mm.len(), limit });
    }
    let places: Vec<[f32; 3]> = view.vertices_mm.iter().map(|&v| upright(v).map(|x| x / 1000.0)).collect();
    let normals: Vec<[f32; 3]> = view.normals.iter().map(|&n| upright(n)).collect();
    let mut data: Vec<u8> = view.triangles.iter().flatten().flat_map(|corner| corner.to_le_bytes()).collect();
    let places_at = data.len();
    data.extend(places.iter().flatten().flat_map(|x| x.to_le_bytes()));
    let normals_at = data.len();
    data.extend(normals.iter().flatten().flat_map(|x| x.to_le_bytes()));
    let json = description(name, srgb, &places, [view.triangles.len() * 3, places_at, normals_at, data.len()]);
    Ok(container(json.into_bytes(), data))
}

/// Our axis upright: (x, y, z) to (x, z, -y), which keeps right-handedness.
fn upright([x, y, z]: [f32; 3]) -> [f32; 3] {
    [x, z, 0.0 - y]
}

fn description(name: &str, srgb: [u8; 3], places: &[[f32; 3]], [indices, places_at, normals_at, end]: [usize; 4]) -> String {
    let (low, high) = places.iter().fold(([f32::INFINITY; 3], [f32::NEG_INFINITY; 3]), |(low, high), place| {
        (std::array::from_fn(|i| low[i].min(place[i])), std::array::from_fn(|i| high[i].max(place[i])))
    });
    let [red, green, blue] = srgb.map(linear);
    let (count, name) = (places.len(), json_string(name));
    let mut json = format!("{{\"asset\":{{\"version\":\"2.0\",\"generator\":\"ringer {}\"}},", env!("CARGO_PKG_VERSION"));
    // Writing to a String can't fail.
    let _ = write!(json, "\"scene\":0,\"scenes\":[{{\"nodes\":[0]}}],\"nodes\":[{{\"mesh\":0,\"name\":{name}}}],");
    let _ = write!(
        json,
        "\"meshes\":[{{\"name\":{name},\"primitives\":[{{\"attributes\":{{\"POSITION\":1,\"NORMAL\":2}},\"indices\":0,\"material\":0}}]}}],"
    );
    let _ = write!(
        json,
        "\"materials\":[{{\"pbrMetallicRoughness\":{{\"baseColorFactor\":[{red:.6},{green:.6},{blue:.6},1],\"metallicFactor\":0,\"roughnessFactor\":0.5}}}}],"
    );
    let _ = write!(
        json,
        "\"accessors\":[{{\"bufferView\":0,\"componentType\":5125,\"count\":{indices},\"type\":\"SCALAR\"}},\
         {{\"bufferView\":1,\"componentType\":5126,\"count\":{count},\"type\":\"VEC3\",\"min\":{low:?},\"max\":{high:?}}},\
         {{\"bufferView\":2,\"componentType\":5126,\"count\":{count},\"type\":\"VEC3\"}}],"
    );
    let _ = write!(
        json,
        "\"bufferViews\":[{{\"buffer\":0,\"byteOffset\":0,\"byteLength\":{places_at},\"target\":34963}},\
         {{\"buffer\":0,\"byteOffset\":{places_at},\"byteLength\":{},\"target\":34962}},\
         {{\"buffer\":0,\"byteOffset\":{normals_at},\"byteLength\":{},\"target\":34962}}],\"buffers\":[{{\"byteLength\":{end}}}]}}",
        normals_at - places_at,
        end - normals_at
    );
    json
}

/// Header, JSON chunk padded with blanks, data chunk padded with zeros (glTF 2.0, binary container).
fn container(mut json: Vec<u8>, mut data: Vec<u8>) -> Vec<u8> {
    json.resize(json.len().next_multiple_of(4), b' ');
    data.resize(data.len().next_multiple_of(4), 0);
    let mut bytes = Vec::with_capacity(28 + json.len() + data.len());
    bytes.extend(b"glTF");
    for word in [2, (28 + json.len() + data.len()) as u32, json.len() as u32] {
        bytes.extend(word.to_le_bytes());
    }
    bytes.extend(b"JSON");
    bytes.extend(json);
    bytes.extend((data.len() as u32).to_le_bytes());
    bytes.extend(b"BIN\0");
    bytes.extend(data);
    bytes
}

/// IEC 61966-2-1: the format wants linear light.
fn linear(code: u8) -> f64 {
    let v = f64::from(code) / 255.0;
    if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
}

fn json_string(text: &str) -> String {
    let mut written = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => written.push_str("\\\""),
            '\\' => written.push_str("\\\\"),
            c if c < ' ' => written.push(' '),
            c => written.push(c),
        }
    }
    written.push('"');
    written
}
