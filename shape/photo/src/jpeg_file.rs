use crate::decode::Stored;
use crate::{Limits, PhotoError};
use quantity::Note;
use std::io::Cursor;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

/// Reads a JPEG strictly. The header and the end mark are checked by [`Frame::find`] first: the decoder itself takes memory before it
/// misses anything, and lets the last rows of a cut file pass.
pub(crate) fn read(bytes: &[u8], limits: &Limits) -> Result<Stored, PhotoError> {
    let frame = Frame::find(bytes)?;
    frame.check_kind()?;
    limits.check_size(frame.width_px, frame.height_px)?;
    if !frame.complete {
        let detail = format!("its {} bytes stop before the end mark of the picture", bytes.len());
        return Err(PhotoError::Truncated { format: "JPEG", detail });
    }
    let (mut stored, stray) = match decode(bytes, limits, &frame, Strictness::Strict) {
        // Some writers leave bytes between the headers; nothing of the picture is missing then.
        Err(PhotoError::Damaged { detail, .. }) if detail.contains("Extra bytes between headers") => {
            (decode(bytes, limits, &frame, Strictness::Lenient)?, true)
        }
        read => (read?, false),
    };
    stored.notes.extend(stray.then(|| Note::new("The JPEG has stray bytes between its headers; it was read all the same.", "")));
    Ok(stored)
}

#[derive(Clone, Copy, PartialEq)]
enum Strictness {
    Strict,
    Lenient,
}

fn decode(bytes: &[u8], limits: &Limits, frame: &Frame, strictness: Strictness) -> Result<Stored, PhotoError> {
    let options = DecoderOptions::default()
        .set_strict_mode(strictness == Strictness::Strict)
        .set_max_width(limits.max_side_px)
        .set_max_height(limits.max_side_px)
        .jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = JpegDecoder::new_with_options(Cursor::new(bytes), options);
    let damaged = |error: zune_jpeg::errors::DecodeErrors| PhotoError::Damaged { format: "JPEG", detail: error.to_string() };
    decoder.decode_headers().map_err(damaged)?;
    let rgb = decoder.decode().map_err(damaged)?;
    if rgb.len() != 3 * frame.width_px * frame.height_px {
        return Err(PhotoError::Damaged { format: "JPEG", detail: "it decodes to another size than its header says".into() });
    }
    let (exif, icc) = (decoder.exif().cloned(), decoder.icc_profile());
    Ok(Stored { width_px: frame.width_px, height_px: frame.height_px, rgb, exif, icc, says_srgb: false, notes: Vec::new() })
}

/// What the marker segments say (ITU-T T.81, annex B).
struct Frame {
    /// Second byte of the frame header's marker: 0xc0 baseline, 0xc1 extended, 0xc2 progressive, others rare.
    start_of_frame: u8,
    bits: u8,
    components: u8,
    width_px: usize,
    height_px: usize,
    /// The end mark was met.
    complete: bool,
}

impl Frame {
    /// Walks the segments up to the end mark or the end of the bytes.
    fn find(bytes: &[u8]) -> Result<Frame, PhotoError> {
        let mut frame: Option<Frame> = None;
        let mut at = 2;
        while let Some((marker, after)) = next_marker(bytes, at) {
            at = after;
            match marker {
                0xd9 => {
                    let frame = frame.map(|frame| Frame { complete: true, ..frame });
                    return frame.ok_or_else(|| PhotoError::Damaged { format: "JPEG", detail: "it ends without a picture in it".into() });
                }
                // Restarts and TEM stand alone; a second start mark is noise.
                0x01 | 0xd0..=0xd8 => continue,
                _ => {}
            }
            let Some(&[high, low]) = bytes.get(at..at + 2) else { break };
            let body = bytes.get(at + 2..).unwrap_or_default();
            if is_start_of_frame(marker) && frame.is_none() {
                let &[bits, h1, h0, w1, w0, components] = body.get(..6).and_then(|b| <&[u8; 6]>::try_from(b).ok()).ok_or_else(no_header)?;
                let (width_px, height_px) = (usize::from(u16::from_be_bytes([w1, w0])), usize::from(u16::from_be_bytes([h1, h0])));
                frame = Some(Frame { start_of_frame: marker, bits, components, width_px, height_px, complete: false });
            }
            at += usize::from(u16::from_be_bytes([high, low])).max(2);
        }
        frame.ok_or_else(no_header)
    }

    fn check_kind(&self) -> Result<(), PhotoError> {
        let kind = match (self.start_of_frame, self.components, self.bits) {
            (_, 4, _) => "it is in CMYK, four printing inks, which mean a colour only together with a press",
            (_, _, bits) if bits != 8 => "it has more than 8 bits a channel",
            (0xc0..=0xc2, 1 | 3, _) => return Ok(()),
            (0xc0..=0xc2, ..) => "it has neither one nor three channels",
            (0xc3 | 0xc7 | 0xcb | 0xcf, ..) => "it is a lossless JPEG",
            (0xc9 | 0xca | 0xcd | 0xce, ..) => "it is an arithmetic-coded JPEG",
            _ => "it is a hierarchical JPEG",
        };
        Err(PhotoError::Unsupported { format: "JPEG", kind: kind.into() })
    }
}

fn no_header() -> PhotoError {
    PhotoError::Truncated { format: "JPEG", detail: "it stops before the header that says how large the picture is".into() }
}

fn is_start_of_frame(marker: u8) -> bool {
    matches!(marker, 0xc0..=0xcf) && !matches!(marker, 0xc4 | 0xc8 | 0xcc)
}

/// The next marker at or after `at`, and the place behind it. Skips entropy-coded data: there a 0xff is followed by 0 (stuffing) or is
/// itself a fill byte before a marker.
fn next_marker(bytes: &[u8], mut at: usize) -> Option<(u8, usize)> {
    loop {
        at += bytes.get(at..)?.iter().position(|&b| b == 0xff)?;
        match *bytes.get(at + 1)? {
            0x00 => at += 2,
            0xff => at += 1,
            marker => return Some((marker, at + 2)),
        }
    }
}
