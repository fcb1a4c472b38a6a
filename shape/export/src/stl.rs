use crate::ExportError;
use solid::Mesh;

/// A mesh as binary STL, millimetres. The 80 byte header holds `name` cut to 70 ASCII characters.
///
/// STL keeps single precision: places within a few 1e-6 mm fall together there. Triangles that shrink to a line are left out, which keeps the surface closed because the
/// corners they joined have become one.
pub fn stl(mesh: &Mesh, name: &str) -> Result<Vec<u8>, ExportError> {
    let corners: Vec<[f32; 3]> = mesh.vertices_mm.iter().map(|v| v.map(|x| x as f32 + 0.0)).collect();
    let at = |corner: u32| corners.get(corner as usize).copied();
    let triangles: Vec<[[f32; 3]; 3]> = mesh
        .triangles
        .iter()
        .filter_map(|&[a, b, c]| Some([at(a)?, at(b)?, at(c)?]))
        .filter(|[a, b, c]| a != b && b != c && c != a)
        .collect();
    if triangles.is_empty() {
        return Err(ExportError::Empty { format: "STL" });
    }
    let count = u32::try_from(triangles.len()).map_err(|_| ExportError::TooMuch {
        format: "STL",
        what: "triangles",
        found: triangles.len(),
        limit: u32::MAX as usize,
    })?;
    // Not "solid ...", which readers take for the text form.
    let mut bytes = format!("ringer mm {}", name.chars().filter(|c| (' '..='~').contains(c)).take(70).collect::<String>()).into_bytes();
    bytes.resize(80, b' ');
    bytes.extend(count.to_le_bytes());
    for triangle in &triangles {
        for row in std::iter::once(&normal(triangle)).chain(triangle) {
            bytes.extend(row.iter().flat_map(|x| x.to_le_bytes()));
        }
        bytes.extend([0, 0]);
    }
    Ok(bytes)
}

fn normal(corners: &[[f32; 3]; 3]) -> [f32; 3] {
    let [a, b, c] = corners.map(|corner| corner.map(f64::from));
    let (u, v) = ([b[0] - a[0], b[1] - a[1], b[2] - a[2]], [c[0] - a[0], c[1] - a[1], c[2] - a[2]]);
    let n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    let length = (n[0] * n[0] + n[1] * n[1] + n[2] * n[2]).sqrt();
    if length > 0.0 { n.map(|x| (x / length) as f32) } else { [0.0; 3] }
}
