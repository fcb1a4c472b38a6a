use crate::{CameraFacts, PhotoError, Picture, exif_facts, jpeg_file, png_file, profile_to_srgb, upright};
use quantity::Note;

/// What a file may be at most, and must be at least. The header alone is judged, before memory is taken for pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of the file.
    pub max_bytes: usize,
    /// Width times height.
    pub max_pixels: usize,
    /// Either side, px.
    pub max_side_px: usize,
    /// Either side, px: below this nothing can be measured.
    pub min_side_px: usize,
}

impl Default for Limits {
    /// 200 MB, 100 Mpx, 20 000 px a side: above the largest cameras sold to amateurs, and 300 MB of memory at most. 16 px: smaller than
    /// any thumbnail.
    fn default() -> Self {
        Limits { max_bytes: 200_000_000, max_pixels: 100_000_000, max_side_px: 20_000, min_side_px: 16 }
    }
}

impl Limits {
    pub(crate) fn check_size(&self, width_px: usize, height_px: usize) -> Result<(), PhotoError> {
        let pixels = width_px.saturating_mul(height_px);
        if width_px < self.min_side_px || height_px < self.min_side_px {
            return Err(PhotoError::TooSmall { width_px, height_px, min_side_px: self.min_side_px });
        }
        if pixels > self.max_pixels || width_px.max(height_px) > self.max_side_px {
            let (max_side_px, max_pixels) = (self.max_side_px, self.max_pixels);
            return Err(PhotoError::TooLarge { width_px, height_px, max_side_px, max_pixels });
        }
        Ok(())
    }
}

/// A photo as evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct Photo {
    /// The picture, upright, in sRGB.
    pub picture: Picture,
    /// What the camera wrote down; all empty where there was no EXIF.
    pub facts: CameraFacts,
    /// What is doubtful about the picture itself.
    pub notes: Vec<Note>,
}

/// What a format's reader hands over: pixels as stored, and the attachments still raw.
pub(crate) struct Stored {
    pub width_px: usize,
    pub height_px: usize,
    /// R, G, B of each pixel, in the file's own colour space.
    pub rgb: Vec<u8>,
    pub exif: Option<Vec<u8>>,
    pub icc: Option<Vec<u8>>,
    /// The file itself says it is sRGB.
    pub says_srgb: bool,
    pub notes: Vec<Note>,
}

/// Reads a JPEG or PNG into an upright sRGB picture with the camera's facts.
///
/// - JPEG: 8 bits, baseline, extended or progressive, grey or colour. CMYK and other rare kinds are refused with words.
/// - PNG: all colour types and depths; alpha is laid over white (mixed in encoded values, as viewers do); 16 bits are rounded to 8.
/// - A file that is cut short or damaged is refused, however little is missing.
/// - An embedded colour profile is converted (relative colorimetric); a broken one is ignored and said so.
/// - Same bytes, same picture. Never panics, whatever the bytes; test `two_thousand_mutations_never_panic`.
pub fn decode(bytes: &[u8], limits: &Limits) -> Result<Photo, PhotoError> {
    if bytes.is_empty() {
        return Err(PhotoError::Empty);
    }
    if bytes.len() > limits.max_bytes {
        return Err(PhotoError::TooManyBytes { bytes: bytes.len(), limit: limits.max_bytes });
    }
    let mut stored = match kind_of(bytes) {
        Kind::Jpeg => guarded("JPEG", || jpeg_file::read(bytes, limits))?,
        Kind::Png => guarded("PNG", || png_file::read(bytes, limits))?,
        Kind::Other(looks_like) => return Err(PhotoError::NotAPicture { looks_like }),
    };
    let mut notes = std::mem::take(&mut stored.notes);
    let (facts, exif_note) = stored.exif.take().map_or((CameraFacts::default(), None), exif_facts::read);
    notes.extend(exif_note);
    notes.extend(profile_to_srgb::convert(&mut stored, &facts));
    let picture = upright::turn(stored.width_px, stored.height_px, stored.rgb, facts.orientation.unwrap_or(1));
    let picture = picture.ok_or_else(|| PhotoError::Damaged { format: "picture", detail: "its pixels do not fill its frame".into() })?;
    Ok(Photo { picture, facts, notes })
}

enum Kind {
    Jpeg,
    Png,
    Other(String),
}

fn kind_of(bytes: &[u8]) -> Kind {
    let starts = |magic: &[u8]| bytes.starts_with(magic);
    let brand = bytes.get(4..12).unwrap_or_default();
    let looks_like = match () {
        () if starts(&[0xff, 0xd8]) => return Kind::Jpeg,
        () if starts(b"\x89PNG\r\n\x1a\n") => return Kind::Png,
        () if brand.starts_with(b"ftyp") && matches!(&brand[4..], b"heic" | b"heix" | b"mif1" | b"msf1" | b"hevc") => "it looks like HEIC",
        () if brand.starts_with(b"ftypavi") => "it looks like AVIF",
        () if brand.starts_with(b"ftyp") => "it looks like a film or a raw file",
        () if starts(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") => "it looks like WebP",
        () if starts(b"GIF8") => "it looks like GIF",
        () if starts(b"II*\0") || starts(b"MM\0*") => "it looks like TIFF or a camera's raw file",
        () if starts(b"BM") => "it looks like BMP",
        () if starts(b"%PDF") => "it looks like PDF",
        () if starts(b"\xff\x0a") || starts(b"\0\0\0\x0cJXL ") => "it looks like JPEG XL",
        () if starts(b"\0\0\0\x0cjP  ") => "it looks like JPEG 2000",
        () if starts(b"<") || starts(b"\xef\xbb\xbf<") => "it looks like a web page or other text",
        () if bytes.iter().all(|&b| b == 0) => "it holds nothing but zeros",
        () => "its first bytes are those of no common picture format",
    };
    Kind::Other(looks_like.into())
}

/// A decoder from outside that trips over a bad file must not take the program with it; its panic becomes a damaged file.
fn guarded<T>(format: &'static str, read: impl FnOnce() -> Result<T, PhotoError>) -> Result<T, PhotoError> {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(read))
        .unwrap_or_else(|_| Err(PhotoError::Damaged { format, detail: "the decoder gave up on it".into() }))
}
