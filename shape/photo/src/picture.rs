/// An upright picture. Kept as encoded 8-bit sRGB (3 bytes a pixel); linear light is looked up when asked for.
///
/// Pixel (x, y) covers [x, x+1) x [y, y+1) in continuous coordinates: its centre is (x + 0.5, y + 0.5).
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    width_px: usize,
    height_px: usize,
    // Flat, so that a decoder's buffer becomes a picture without a copy.
    bytes: Vec<u8>,
}

impl Picture {
    /// A picture from rows of encoded sRGB, top to bottom. `None` unless `srgb.len() == width_px * height_px` and neither is 0.
    pub fn from_srgb(width_px: usize, height_px: usize, srgb: Vec<[u8; 3]>) -> Option<Self> {
        Picture::from_bytes(width_px, height_px, srgb.into_flattened())
    }

    /// A picture from flat bytes R, G, B, R, G, B ... in rows, top to bottom. `None` unless there are `3 * width_px * height_px` of them and
    /// neither side is 0.
    pub fn from_bytes(width_px: usize, height_px: usize, bytes: Vec<u8>) -> Option<Self> {
        let expected = width_px.checked_mul(height_px)?.checked_mul(3)?;
        (width_px > 0 && height_px > 0 && expected == bytes.len()).then_some(Picture { width_px, height_px, bytes })
    }

    /// Width, px.
    pub fn width_px(&self) -> usize {
        self.width_px
    }

    /// Height, px.
    pub fn height_px(&self) -> usize {
        self.height_px
    }

    /// All pixels, encoded sRGB, row by row.
    pub fn srgb(&self) -> &[[u8; 3]] {
        self.bytes.as_chunks().0
    }

    /// Encoded sRGB of a pixel; outside the picture the nearest edge pixel.
    pub fn srgb_at(&self, x: isize, y: isize) -> [u8; 3] {
        let x = x.clamp(0, self.width_px as isize - 1) as usize;
        let y = y.clamp(0, self.height_px as isize - 1) as usize;
        self.srgb()[y * self.width_px + x]
    }

    /// Linear sRGB (0..1) of a pixel; outside the picture the nearest edge pixel.
    pub fn linear_at(&self, x: isize, y: isize) -> [f32; 3] {
        self.srgb_at(x, y).map(|v| LINEAR[v as usize])
    }
}

/// IEC 61966-2-1 decoding of all 256 codes.
pub(crate) static LINEAR: std::sync::LazyLock<[f32; 256]> = std::sync::LazyLock::new(|| {
    std::array::from_fn(|code| {
        let v = code as f64 / 255.0;
        (if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }) as f32
    })
});

/// IEC 61966-2-1 encoding of linear light to the nearest code.
pub(crate) fn encode(linear: f32) -> u8 {
    let v = f64::from(linear).clamp(0.0, 1.0);
    let encoded = if v <= 0.0031308 { v * 12.92 } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
    (encoded * 255.0).round() as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_comes_back_from_linear_light() {
        for code in 0..=255u8 {
            assert_eq!(encode(LINEAR[usize::from(code)]), code);
        }
    }

    #[test]
    fn a_picture_needs_all_its_pixels() {
        assert!(Picture::from_srgb(2, 2, vec![[0; 3]; 3]).is_none());
        assert!(Picture::from_srgb(0, 0, vec![]).is_none());
        assert!(Picture::from_bytes(usize::MAX, 2, vec![]).is_none());
        let picture = Picture::from_srgb(2, 1, vec![[1, 2, 3], [4, 5, 6]]).expect("fits");
        assert_eq!((picture.srgb_at(-5, 9), picture.srgb_at(7, 0)), ([1, 2, 3], [4, 5, 6]));
    }
}
