/// An upright picture. Kept as encoded 8-bit sRGB (3 bytes a pixel); linear light is looked up when asked for.
///
/// Pixel (x, y) covers [x, x+1) x [y, y+1) in continuous coordinates: its centre is (x + 0.5, y + 0.5).
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    width_px: usize,
    height_px: usize,
    srgb: Vec<[u8; 3]>,
}

impl Picture {
    /// A picture from rows of encoded sRGB, top to bottom. `None` unless `srgb.len() == width_px * height_px` and neither is 0.
    pub fn from_srgb(width_px: usize, height_px: usize, srgb: Vec<[u8; 3]>) -> Option<Self> {
        (width_px > 0 && height_px > 0 && width_px.checked_mul(height_px) == Some(srgb.len())).then_some(Picture { width_px, height_px, srgb })
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
        &self.srgb
    }

    /// Encoded sRGB of a pixel; outside the picture the nearest edge pixel.
    pub fn srgb_at(&self, x: isize, y: isize) -> [u8; 3] {
        let x = x.clamp(0, self.width_px as isize - 1) as usize;
        let y = y.clamp(0, self.height_px as isize - 1) as usize;
        self.srgb[y * self.width_px + x]
    }

    /// Linear sRGB (0..1) of a pixel; outside the picture the nearest edge pixel.
    pub fn linear_at(&self, x: isize, y: isize) -> [f32; 3] {
        self.srgb_at(x, y).map(|v| LINEAR[v as usize])
    }
}

/// IEC 61966-2-1 decoding of all 256 codes.
static LINEAR: std::sync::LazyLock<[f32; 256]> = std::sync::LazyLock::new(|| {
    std::array::from_fn(|code| {
        let v = code as f64 / 255.0;
        (if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }) as f32
    })
});
