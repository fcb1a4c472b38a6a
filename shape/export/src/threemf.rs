use crate::ExportError;
use solid::Mesh;
use std::fmt::Write as _;
use std::io::{Cursor, Write as _};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

/// What a part is made of, as a viewer shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Its name: "sage green resin".
    pub name: String,
    /// Its colour, encoded sRGB.
    pub srgb: [u8; 3],
}

/// A copy of the part on the plate.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Placed {
    /// Where the part's z = 0 on its axis comes to lie, mm.
    pub at_mm: [f64; 3],
}

/// One part, as often as it is placed, as a 3MF package in millimetres.
///
/// Core specification only: one mesh object, its colour as a base material, one build item a copy. Parts are stored, not deflated, with fixed times: the bytes do
/// not depend on a compressor's version. Read back by the format's reference reader in `proof/solid_second_opinion.py`.
pub fn threemf(mesh: &Mesh, title: &str, material: &Material, copies: &[Placed]) -> Result<Vec<u8>, ExportError> {
    if copies.is_empty() || mesh.triangles.is_empty() {
        return Err(ExportError::Empty { format: "3MF" });
    }
    let limit = (1 << 31) - 1;
    if mesh.vertices_mm.len() > limit {
        return Err(ExportError::TooMuch { format: "3MF", what: "corners", found: mesh.vertices_mm.len(), limit });
    }
    let archive = |reason: String| ExportError::Archive { format: "3MF", reason };
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored).last_modified_time(DateTime::default());
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let model = model(mesh, title, material, copies);
    for (name, text) in [("[Content_Types].xml", CONTENT_TYPES), ("_rels/.rels", RELATIONSHIPS), ("3D/3dmodel.model", &model)] {
        zip.start_file(name, options).map_err(|error| archive(error.to_string()))?;
        zip.write_all(text.as_bytes()).map_err(|error| archive(error.to_string()))?;
    }
    Ok(zip.finish().map_err(|error| archive(error.to_string()))?.into_inner())
}

const CONTENT_TYPES: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
</Types>
"#;

const RELATIONSHIPS: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>
"#;

fn model(mesh: &Mesh, title: &str, material: &Material, copies: &[Placed]) -> String {
    let [red, green, blue] = material.srgb;
    let mut text = String::with_capacity(mesh.vertices_mm.len() * 60 + mesh.triangles.len() * 45);
    // Writing to a String can't fail.
    let _ = write!(
        text,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model unit=\"millimeter\" xml:lang=\"en\" xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\n\
         <metadata name=\"Title\">{}</metadata>\n<metadata name=\"Application\">ringer</metadata>\n<resources>\n\
         <basematerials id=\"1\"><base name=\"{}\" displaycolor=\"#{red:02X}{green:02X}{blue:02X}FF\"/></basematerials>\n\
         <object id=\"2\" type=\"model\" name=\"{}\" pid=\"1\" pindex=\"0\">\n<mesh>\n<vertices>\n",
        escaped(title),
        escaped(&material.name),
        escaped(title)
    );
    for [x, y, z] in &mesh.vertices_mm {
        let _ = writeln!(text, "<vertex x=\"{}\" y=\"{}\" z=\"{}\"/>", decimal(*x), decimal(*y), decimal(*z));
    }
    text.push_str("</vertices>\n<triangles>\n");
    for [a, b, c] in &mesh.triangles {
        let _ = writeln!(text, "<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>");
    }
    text.push_str("</triangles>\n</mesh>\n</object>\n</resources>\n<build>\n");
    for Placed { at_mm: [x, y, z] } in copies {
        let _ = writeln!(text, "<item objectid=\"2\" transform=\"1 0 0 0 1 0 0 0 1 {} {} {}\"/>", decimal(*x), decimal(*y), decimal(*z));
    }
    text.push_str("</build>\n</model>\n");
    text
}

/// Nanometres are enough for any printer and keep the file short.
fn decimal(value: f64) -> String {
    let text = format!("{value:.6}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// XML 1.0: the five entities; characters it does not allow are left out.
pub(crate) fn escaped(text: &str) -> String {
    let mut written = String::new();
    for c in text.chars() {
        match c {
            '&' => written.push_str("&amp;"),
            '<' => written.push_str("&lt;"),
            '>' => written.push_str("&gt;"),
            '"' => written.push_str("&quot;"),
            '\'' => written.push_str("&apos;"),
            '\t' | '\n' | '\r' => written.push(' '),
            c if c < ' ' || matches!(c, '\u{fffe}' | '\u{ffff}') => {}
            c => written.push(c),
        }
    }
    written
}
