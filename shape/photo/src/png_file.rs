use crate::decode::Stored;
use crate::{Limits, PhotoError};
use png::{BitDepth, ColorType, Decoder, DecodingError, Transformations};
use quantity::Note;
use std::io::{Cursor, ErrorKind};

/// Reads a PNG of any colour type to 8-bit RGB over white.
pub(crate) fn read(bytes: &[u8], limits: &Limits) -> Result<Stored, PhotoError> {
    // Room for the rows of an interlaced 16-bit RGBA picture, the worst there is, and as much again as the crate's default for chunks.
    let budget = limits.max_pixels.saturating_mul(8).saturating_add(64 << 20);
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), png::Limits { bytes: budget });
    decoder.set_ignore_text_chunk(true);
    decoder.set_transformations(Transformations::EXPAND);
    let header = decoder.read_header_info().map_err(explain)?;
    limits.check_size(header.width as usize, header.height as usize)?;
    let mut reader = decoder.read_info().map_err(explain)?;
    let (color, depth) = reader.output_color_type();
    let (width_px, height_px) = (reader.info().width as usize, reader.info().height as usize);
    let layout = Layout {
        channels: color.samples(),
        wide: depth == BitDepth::Sixteen,
        grey: matches!(color, ColorType::Grayscale | ColorType::GrayscaleAlpha),
    };
    let mut rgb = Vec::with_capacity(3 * width_px * height_px);
    if reader.info().interlaced {
        let size = reader.output_buffer_size().ok_or_else(|| PhotoError::Damaged { format: "PNG", detail: "its size overflows".into() })?;
        let mut all = vec![0; size];
        reader.next_frame(&mut all).map_err(explain)?;
        layout.append(&all, &mut rgb);
    } else {
        while rgb.len() < 3 * width_px * height_px {
            let Some(row) = reader.next_row().map_err(explain)? else { break };
            layout.append(row.data(), &mut rgb);
        }
    }
    reader.finish().map_err(explain)?;
    if rgb.len() != 3 * width_px * height_px {
        return Err(PhotoError::Truncated { format: "PNG", detail: "it has fewer rows than its header says".into() });
    }
    let info = reader.info();
    let own = |chunk: &Option<std::borrow::Cow<'_, [u8]>>| chunk.as_ref().map(|bytes| bytes.to_vec());
    let (exif, icc, says_srgb) = (own(&info.exif_metadata), own(&info.icc_profile), info.srgb.is_some());
    Ok(Stored { width_px, height_px, rgb, exif, icc, says_srgb, notes: gamma_note(info).into_iter().collect() })
}

/// How a row's samples lie after expansion of palettes and low bit depths.
struct Layout {
    channels: usize,
    wide: bool,
    grey: bool,
}

impl Layout {
    fn append(&self, samples: &[u8], rgb: &mut Vec<u8>) {
        let pixel_bytes = self.channels * if self.wide { 2 } else { 1 };
        for pixel in samples.chunks_exact(pixel_bytes) {
            let colour = if self.grey { [self.sample(pixel, 0); 3] } else { [0, 1, 2].map(|i| self.sample(pixel, i)) };
            let alpha = if self.channels.is_multiple_of(2) { self.sample(pixel, self.channels - 1) } else { 255 };
            rgb.extend(colour.map(|c| over_white(c, alpha)));
        }
    }

    fn sample(&self, pixel: &[u8], i: usize) -> u8 {
        if !self.wide {
            return pixel[i];
        }
        let value = u32::from(u16::from_be_bytes([pixel[2 * i], pixel[2 * i + 1]]));
        ((value * 255 + 32_767) / 65_535) as u8
    }
}

fn over_white(encoded: u8, alpha: u8) -> u8 {
    let (c, a) = (u32::from(encoded), u32::from(alpha));
    ((c * a + 255 * (255 - a) + 127) / 255) as u8
}

/// A gamma far from sRGB's without a profile is met in old scans; it is told rather than guessed at.
fn gamma_note(info: &png::Info) -> Option<Note> {
    let gamma = info.gama_chunk?.into_value();
    let odd = info.icc_profile.is_none() && info.srgb.is_none() && (gamma - 0.454_55).abs() > 0.03;
    odd.then(|| {
        Note::new(
            format!("The PNG states a gamma of {gamma:.3} and has no colour profile; it was read as sRGB, so its colours may be off."),
            "Export the photo again as sRGB.",
        )
    })
}

fn explain(error: DecodingError) -> PhotoError {
    match error {
        DecodingError::IoError(io) if io.kind() == ErrorKind::UnexpectedEof => {
            PhotoError::Truncated { format: "PNG", detail: "its data ends before the picture does".into() }
        }
        DecodingError::LimitsExceeded => {
            PhotoError::Damaged { format: "PNG", detail: "it unpacks to far more data than its size tells".into() }
        }
        other => PhotoError::Damaged { format: "PNG", detail: other.to_string() },
    }
}
