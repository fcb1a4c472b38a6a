//! Sets a sheet of invented numbers: `cargo run --release -p sheet --example sample_sheet OUTDIR`. Photos are those of the demo case.

use sheet::{JobSheet, Material, Paper, SheetPhoto};
use std::{error::Error, fs, path::Path};

fn main() -> Result<(), Box<dyn Error>> {
    let out = std::env::args().nth(1).ok_or("which folder shall the sheet go to?")?;
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let demo = here.join("../../cases/demo");
    let mut document = job::read(&fs::read_to_string(demo.join("job.toml"))?).map_err(|error| format!("{error:?}"))?;
    document.size.push(decision("collar length", 4.7625));
    document.size.push(decision("grip start", 8.73125));
    let result: result::JobResult = serde_json::from_slice(&fs::read(here.join("examples/sample_result.json"))?)?;
    let photos = [
        ("front", [420.0, 520.0, 840.0, 600.0]),
        ("side", [450.0, 130.0, 700.0, 880.0]),
        ("far", [380.0, 330.0, 860.0, 440.0]),
        ("chips", [0.0, 250.0, 1600.0, 760.0]),
    ];
    let photos = photos.map(|(name, crop_px)| cut_out(&demo, name, crop_px));
    let photos = photos.into_iter().collect::<Result<Vec<_>, _>>()?;
    fs::create_dir_all(&out)?;
    let sheet =
        JobSheet { document: &document, result: &result, photos: &photos, section: None, materials: Material::PRINTED, sample: true };
    fs::write(Path::new(&out).join("sheet.html"), sheet::html(&sheet))?;
    fs::write(Path::new(&out).join("sheet-a4.pdf"), sheet::pdf(&sheet, Paper::A4)?)?;
    fs::write(Path::new(&out).join("sheet-letter.pdf"), sheet::pdf(&sheet, Paper::Letter)?)?;
    let blank = job::read("format = \"ringer-job 1\"\ntitle = \"Nothing known yet\"\n").map_err(|error| format!("{error:?}"))?;
    let nothing = result::JobResult { ringer: "0.1.0".into(), ..Default::default() };
    let empty = JobSheet { document: &blank, result: &nothing, photos: &[], section: None, materials: &[], sample: false };
    fs::write(Path::new(&out).join("empty.html"), sheet::html(&empty))?;
    fs::write(Path::new(&out).join("empty-a4.pdf"), sheet::pdf(&empty, Paper::A4)?)?;
    Ok(())
}

fn decision(name: &str, mm: f64) -> job::document::SizeDecision {
    job::document::SizeDecision { name: name.into(), choose: Some(job::Size::from_mm(mm)), refuse: Vec::new(), reading: None, sigma: None }
}

/// A part of a demo photo, encoded again as the sheet wants it.
fn cut_out(demo: &Path, name: &str, [left, top, width, height]: [f64; 4]) -> Result<SheetPhoto, Box<dyn Error>> {
    let file = fs::read(demo.join(format!("photos/{name}.jpg")))?;
    let mut decoder = zune_jpeg::JpegDecoder::new(zune_jpeg::zune_core::bytestream::ZCursor::new(file));
    let pixels = decoder.decode().map_err(|error| format!("{error:?}"))?;
    let (wide, _) = decoder.dimensions().ok_or("no size")?;
    let row = |y: usize| {
        pixels.get(((top as usize + y) * wide + left as usize) * 3..).and_then(|rest| rest.get(..width as usize * 3)).unwrap_or(&[])
    };
    let cut: Vec<u8> = (0..height as usize).flat_map(|y| row(y).to_vec()).collect();
    let mut jpeg = Vec::new();
    jpeg_encoder::Encoder::new(&mut jpeg, 84).encode(&cut, width as u16, height as u16, jpeg_encoder::ColorType::Rgb)?;
    Ok(SheetPhoto { name: name.into(), jpeg, crop_px: [left, top, width, height] })
}
