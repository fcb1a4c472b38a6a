use crate::picture::{LINEAR, encode};
use crate::{PhotoError, Picture};
use jpeg_encoder::{ColorType, Encoder};

/// A part of a picture, px. What lies outside the picture is cut off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Crop {
    /// First column.
    pub left_px: usize,
    /// First row.
    pub top_px: usize,
    /// Columns.
    pub width_px: usize,
    /// Rows.
    pub height_px: usize,
}

impl Crop {
    /// All of a picture.
    pub fn whole(picture: &Picture) -> Crop {
        Crop { left_px: 0, top_px: 0, width_px: picture.width_px(), height_px: picture.height_px() }
    }

    /// The part of it that lies in the picture, at least one pixel.
    pub fn within(self, picture: &Picture) -> Crop {
        let left_px = self.left_px.min(picture.width_px() - 1);
        let top_px = self.top_px.min(picture.height_px() - 1);
        let width_px = self.width_px.clamp(1, picture.width_px() - left_px);
        let height_px = self.height_px.clamp(1, picture.height_px() - top_px);
        Crop { left_px, top_px, width_px, height_px }
    }
}

/// A small JPEG of a part of a picture for the sheet: its longer side at most `max_side_px` (never enlarged), averaged over areas in linear
/// light so that fine texture keeps its brightness. `quality` 1..100 is clamped. Same picture, same bytes.
pub fn jpeg_thumbnail(picture: &Picture, crop: Crop, max_side_px: usize, quality: u8) -> Result<Vec<u8>, PhotoError> {
    let crop = crop.within(picture);
    // 65 500 is what the format holds.
    let long = crop.width_px.max(crop.height_px);
    let most = max_side_px.clamp(1, 65_500).min(long);
    let scaled = |side: usize| ((side as f64 * most as f64 / long as f64).round() as usize).max(1);
    let (width, height) = (scaled(crop.width_px), scaled(crop.height_px));
    let small =
        if (width, height) == (crop.width_px, crop.height_px) { cut(picture, crop) } else { averaged(picture, crop, width, height) };
    let failed = |error: jpeg_encoder::EncodingError| PhotoError::Thumbnail { detail: error.to_string() };
    let mut jpeg = Vec::new();
    Encoder::new(&mut jpeg, quality.clamp(1, 100)).encode(&small, width as u16, height as u16, ColorType::Rgb).map_err(failed)?;
    Ok(jpeg)
}

fn cut(picture: &Picture, crop: Crop) -> Vec<u8> {
    rows(picture, crop).flat_map(|row| row.as_flattened().iter().copied()).collect()
}

fn rows(picture: &Picture, crop: Crop) -> impl Iterator<Item = &[[u8; 3]]> {
    let rows = picture.srgb().chunks_exact(picture.width_px()).skip(crop.top_px).take(crop.height_px);
    rows.map(move |row| &row[crop.left_px..crop.left_px + crop.width_px])
}

fn averaged(picture: &Picture, crop: Crop, width: usize, height: usize) -> Vec<u8> {
    let across = Shares::new(crop.width_px, width);
    let down = Shares::new(crop.height_px, height);
    let mut sums = vec![[0f32; 3]; width * height];
    let mut line = vec![[0f32; 3]; width];
    for (y, row) in rows(picture, crop).enumerate() {
        line.fill([0.0; 3]);
        for (x, pixel) in row.iter().enumerate() {
            let linear = pixel.map(|code| LINEAR[usize::from(code)]);
            across.of(x).for_each(|(to, share)| add(&mut line[to], linear, share));
        }
        down.of(y)
            .for_each(|(to, share)| sums[to * width..(to + 1) * width].iter_mut().zip(&line).for_each(|(sum, v)| add(sum, *v, share)));
    }
    sums.iter().flat_map(|sum| sum.map(encode)).collect()
}

fn add(sum: &mut [f32; 3], value: [f32; 3], share: f32) {
    for i in 0..3 {
        sum[i] += value[i] * share;
    }
}

/// How `from` cells fall into `to` fewer ones: each into one or two, by overlap.
struct Shares {
    ratio: f64,
    to: usize,
}

impl Shares {
    fn new(from: usize, to: usize) -> Self {
        Shares { ratio: to as f64 / from as f64, to }
    }

    fn of(&self, cell: usize) -> impl Iterator<Item = (usize, f32)> {
        let (start, end) = (cell as f64 * self.ratio, (cell + 1) as f64 * self.ratio);
        let first = (start as usize).min(self.to - 1);
        let border = (first + 1) as f64;
        let spill = if first + 1 < self.to && end > border { end - border } else { 0.0 };
        let main = (first, (end - start - spill) as f32);
        [Some(main), (spill > 0.0).then_some((first + 1, spill as f32))].into_iter().flatten()
    }
}
