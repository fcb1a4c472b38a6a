use exif::{Exif, In, Reader, Tag, Value};
use quantity::Note;

/// What the camera wrote into the file (EXIF, CIPA DC-008). A tag that is absent, zero or senseless is `None`: zero means unknown there.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CameraFacts {
    /// 1..8, already applied to the picture.
    pub orientation: Option<u16>,
    /// True focal length of the lens, mm.
    pub focal_mm: Option<f64>,
    /// Focal length that would show the same on 35 mm film, mm; cameras round it to whole mm.
    pub focal_35mm: Option<f64>,
    /// Pixels per mm on the sensor, along the stored rows and columns.
    pub sensor_px_per_mm: Option<[f64; 2]>,
    /// Size the picture had when the camera wrote it, along the stored rows and columns, px.
    pub recorded_px: Option<[usize; 2]>,
    /// Above 1 when the camera enlarged a part of its sensor.
    pub digital_zoom: Option<f64>,
    /// Maker of the camera.
    pub make: Option<String>,
    /// Model of the camera.
    pub model: Option<String>,
    /// When it was taken, as written: "2026:11:21 16:42:09".
    pub taken: Option<String>,
    /// Aperture.
    pub f_number: Option<f64>,
    /// Sensitivity.
    pub iso: Option<u32>,
    /// Exposure time, s.
    pub exposure_s: Option<f64>,
    /// 1: sRGB; 0xffff: something else.
    pub colour_space: Option<u16>,
}

/// Reads raw EXIF (a TIFF structure). What can be read is kept; a note tells when some could not be.
pub(crate) fn read(raw: Vec<u8>) -> (CameraFacts, Option<Note>) {
    let note = || Note::new("Part of the camera's data (EXIF) is damaged; what could be read was kept.", "");
    let mut reader = Reader::new();
    reader.continue_on_error(true);
    let mut lost = false;
    let read = reader.read_raw(raw).or_else(|error| error.distill_partial_result(|errors| lost = errors.iter().any(|e| !is_harmless(e))));
    match read {
        Ok(exif) => (facts(&exif), lost.then(note)),
        Err(_) => (CameraFacts::default(), Some(note())),
    }
}

/// Common writers leave a stray pointer behind the camera's directory; nothing is lost by it. (The crate names the case by text alone.)
fn is_harmless(error: &exif::Error) -> bool {
    error.to_string() == "Unexpected next IFD"
}

fn facts(exif: &Exif) -> CameraFacts {
    CameraFacts {
        orientation: integer(exif, Tag::Orientation).and_then(|v| u16::try_from(v).ok()).filter(|v| (1..=8).contains(v)),
        focal_mm: number(exif, Tag::FocalLength).filter(|v| (0.5..=5000.0).contains(v)),
        focal_35mm: number(exif, Tag::FocalLengthIn35mmFilm).filter(|v| (1.0..=10_000.0).contains(v)),
        sensor_px_per_mm: sensor_px_per_mm(exif),
        recorded_px: recorded_px(exif),
        digital_zoom: number(exif, Tag::DigitalZoomRatio).filter(|v| *v > 0.0),
        make: text(exif, Tag::Make),
        model: text(exif, Tag::Model),
        taken: text(exif, Tag::DateTimeOriginal),
        f_number: number(exif, Tag::FNumber).filter(|v| *v > 0.0),
        iso: integer(exif, Tag::PhotographicSensitivity).filter(|v| *v > 0),
        exposure_s: number(exif, Tag::ExposureTime).filter(|v| *v > 0.0),
        colour_space: integer(exif, Tag::ColorSpace).and_then(|v| u16::try_from(v).ok()),
    }
}

fn sensor_px_per_mm(exif: &Exif) -> Option<[f64; 2]> {
    let unit_mm = match integer(exif, Tag::FocalPlaneResolutionUnit) {
        Some(3) => 10.0,
        Some(4) => 1.0,
        Some(5) => 0.001,
        // Inches are the standard's default, and what 2 says.
        None | Some(2) => 25.4,
        _ => return None,
    };
    let along = |tag| number(exif, tag).map(|per_unit| per_unit / unit_mm).filter(|v| (1.0..=100_000.0).contains(v));
    let x = along(Tag::FocalPlaneXResolution)?;
    Some([x, along(Tag::FocalPlaneYResolution).unwrap_or(x)])
}

fn recorded_px(exif: &Exif) -> Option<[usize; 2]> {
    let side = |tag| integer(exif, tag).map(|v| v as usize).filter(|v| (1..=1_000_000).contains(v));
    Some([side(Tag::PixelXDimension)?, side(Tag::PixelYDimension)?])
}

fn value(exif: &Exif, tag: Tag) -> Option<&Value> {
    exif.get_field(tag, In::PRIMARY).map(|field| &field.value)
}

fn integer(exif: &Exif, tag: Tag) -> Option<u32> {
    value(exif, tag)?.get_uint(0)
}

fn number(exif: &Exif, tag: Tag) -> Option<f64> {
    let number = match value(exif, tag)? {
        Value::Rational(list) => list.first()?.to_f64(),
        Value::SRational(list) => list.first()?.to_f64(),
        Value::Float(list) => f64::from(*list.first()?),
        Value::Double(list) => *list.first()?,
        other => f64::from(other.get_uint(0)?),
    };
    number.is_finite().then_some(number)
}

/// Text of a tag, trimmed, without control characters, at most 120 characters: it goes onto the sheet.
fn text(exif: &Exif, tag: Tag) -> Option<String> {
    let Value::Ascii(parts) = value(exif, tag)? else { return None };
    let all = String::from_utf8_lossy(parts.first()?).chars().filter(|c| !c.is_control()).take(120).collect::<String>();
    let trimmed = all.trim();
    (!trimmed.is_empty()).then(|| trimmed.to_owned())
}
