use crate::Picture;

/// Turns stored pixels upright by EXIF orientation 1..8 (CIPA DC-008, tag 0x0112: where the stored row 0 and column 0 lie in the seen
/// picture). `None` when the bytes do not fill the frame.
pub(crate) fn turn(width: usize, height: usize, rgb: Vec<u8>, orientation: u16) -> Option<Picture> {
    if !(2..=8).contains(&orientation) {
        return Picture::from_bytes(width, height, rgb);
    }
    let stored = Picture::from_bytes(width, height, rgb)?;
    let pixels = stored.srgb();
    let (right, bottom) = (width - 1, height - 1);
    let (seen_width, seen_height) = if orientation >= 5 { (height, width) } else { (width, height) };
    let mut seen = Vec::with_capacity(pixels.len() * 3);
    for y in 0..seen_height {
        for x in 0..seen_width {
            let (from_x, from_y) = match orientation {
                2 => (right - x, y),
                3 => (right - x, bottom - y),
                4 => (x, bottom - y),
                5 => (y, x),
                6 => (y, bottom - x),
                7 => (right - y, bottom - x),
                _ => (right - y, x),
            };
            seen.extend(pixels[from_y * width + from_x]);
        }
    }
    Picture::from_bytes(seen_width, seen_height, seen)
}
