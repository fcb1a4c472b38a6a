//! Thumbnails for the sheet.

use photo::{Crop, Limits, Picture, decode, jpeg_thumbnail};

fn picture(width: usize, height: usize, pixel: impl Fn(usize, usize) -> [u8; 3]) -> Picture {
    let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| pixel(x, y)).collect();
    Picture::from_srgb(width, height, pixels).expect("fits")
}

fn small(picture: &Picture, crop: Crop, max_side_px: usize) -> Picture {
    let jpeg = jpeg_thumbnail(picture, crop, max_side_px, 100).expect("encodes");
    assert_eq!(jpeg, jpeg_thumbnail(picture, crop, max_side_px, 100).expect("encodes"), "same picture, same bytes");
    decode(&jpeg, &Limits { min_side_px: 1, ..Limits::default() }).expect("reads").picture
}

/// Black and white in turn average to half the light, code 188 (closed form: 0.5 linear is 187.5), not to code 128.
#[test]
fn fine_texture_keeps_its_light() {
    let chequered = picture(200, 100, |x, y| [if (x + y) % 2 == 0 { 0 } else { 255 }; 3]);
    let small = small(&chequered, Crop::whole(&chequered), 50);
    assert_eq!((small.width_px(), small.height_px()), (50, 25));
    assert!(small.srgb().iter().all(|p| p[1].abs_diff(188) <= 1), "{:?}", small.srgb_at(7, 7));
}

#[test]
fn an_odd_ratio_keeps_an_even_field_even_and_the_crop_is_kept_in_the_picture() {
    let even = picture(101, 67, |_, _| [120, 130, 140]);
    let odd = small(&even, Crop::whole(&even), 37);
    assert!(odd.srgb().iter().all(|p| p.iter().zip([120u8, 130, 140]).all(|(a, b)| a.abs_diff(b) <= 1)));
    let halves = picture(100, 60, |x, _| if x < 50 { [200, 30, 30] } else { [30, 30, 200] });
    let right = small(&halves, Crop { left_px: 60, top_px: 5, width_px: 1000, height_px: 1000 }, 4000);
    assert_eq!((right.width_px(), right.height_px()), (40, 55));
    assert!(right.srgb_at(20, 20)[2] > 190);
    let outside = small(&halves, Crop { left_px: 900, top_px: 900, width_px: 0, height_px: 0 }, 0);
    assert_eq!((outside.width_px(), outside.height_px()), (1, 1));
}
