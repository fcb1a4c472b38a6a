//! What the camera wrote, and what follows for the focal length.

use photo::{CameraFacts, Limits, Photo, decode, focal_from_35mm};

/// One EXIF entry for the test: tag, TIFF type, value already as bytes or words.
enum Entry {
    Short(u16, u16),
    Rational(u16, u32, u32),
    Ascii(u16, &'static str),
}

/// A TIFF block with one directory pointed to as the EXIF directory (TIFF 6.0, big-endian), written by hand.
fn exif(entries: &[Entry]) -> Vec<u8> {
    let mut tiff = b"MM\0*\0\0\0\x08".to_vec();
    // IFD0 holds only the pointer to the EXIF directory, which follows at 26.
    tiff.extend([0, 1, 0x87, 0x69, 0, 4, 0, 0, 0, 1, 0, 0, 0, 26, 0, 0, 0, 0]);
    let data_at = 26 + 2 + 12 * entries.len() + 4;
    let mut data = Vec::new();
    tiff.extend((entries.len() as u16).to_be_bytes());
    for entry in entries {
        let (tag, kind, count, value) = match *entry {
            Entry::Short(tag, v) => (tag, 3u16, 1u32, (u32::from(v) << 16).to_be_bytes()),
            Entry::Rational(tag, top, bottom) => {
                let at = (data_at + data.len()) as u32;
                data.extend(top.to_be_bytes());
                data.extend(bottom.to_be_bytes());
                (tag, 5, 1, at.to_be_bytes())
            }
            Entry::Ascii(tag, text) => {
                let at = (data_at + data.len()) as u32;
                data.extend(text.bytes());
                data.push(0);
                (tag, 2, text.len() as u32 + 1, at.to_be_bytes())
            }
        };
        tiff.extend(tag.to_be_bytes());
        tiff.extend(kind.to_be_bytes());
        tiff.extend(count.to_be_bytes());
        tiff.extend(value);
    }
    tiff.extend([0, 0, 0, 0]);
    tiff.extend(data);
    tiff
}

fn photo(width: u16, height: u16, exif: Option<Vec<u8>>, icc: Option<Vec<u8>>, colour: [u8; 3]) -> Photo {
    let mut jpeg = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut jpeg, 100);
    exif.iter().for_each(|raw| encoder.add_exif_metadata(raw).expect("fits"));
    icc.iter().for_each(|raw| encoder.add_icc_profile(raw).expect("fits"));
    let pixels = colour.repeat(usize::from(width) * usize::from(height));
    encoder.encode(&pixels, width, height, jpeg_encoder::ColorType::Rgb).expect("encodes");
    decode(&jpeg, &Limits::default()).expect("reads")
}

/// exif_a..d of the trade tables: the 35 mm tag by the diagonal and by the width (diagonal of 36 x 24 = 43.27 mm: published).
#[test]
fn the_35_mm_tag_reads_two_ways() {
    for (f35, width, height, by_diagonal, by_width) in [
        (26.0, 4032, 3024, 3028.663, 2912.0),
        (36.0, 1600, 1200, 1664.101, 1600.0),
        (50.0, 6000, 4000, 8333.333, 8333.333),
        (77.0, 4032, 3024, 8969.502, 8624.0),
    ] {
        let facts = CameraFacts { focal_35mm: Some(f35), ..CameraFacts::default() };
        for (w, h) in [(width, height), (height, width)] {
            let guesses = facts.focal_guesses(w, h);
            let found = |focal: f64| guesses.iter().any(|g| (g.focal_px - focal).abs() < 1e-2);
            assert!(found(by_diagonal) && found(by_width), "{guesses:?}");
            assert_eq!(guesses.len(), if width * 2 == height * 3 { 1 } else { 2 });
            assert!((guesses.iter().map(|g| g.odds).sum::<f64>() - 1.0).abs() < 1e-12);
            // Whole mm: sigma at least 1/sqrt(12) mm.
            assert!(guesses.iter().all(|g| g.sigma_px >= g.focal_px * 0.288 / f35));
        }
    }
}

/// A front.jpg of the demo: 25.86 mm, 924.21 px per cm, 1600 x 1200: true 2389.83 px.
#[test]
fn true_focal_length_and_sensor_resolution_win_over_the_35_mm_tag() {
    let raw = exif(&[
        Entry::Rational(0x829d, 56, 10),
        Entry::Short(0x8827, 400),
        Entry::Ascii(0x9003, "2026:11:21 16:42:09"),
        Entry::Rational(0x920a, 2586, 100),
        Entry::Short(0xa002, 1600),
        Entry::Short(0xa003, 1200),
        Entry::Rational(0xa20e, 92_421, 100),
        Entry::Rational(0xa20f, 92_421, 100),
        Entry::Short(0xa210, 3),
        Entry::Short(0xa405, 52),
    ]);
    let photo = photo(64, 48, Some(raw), None, [90; 3]);
    let facts = photo.facts;
    assert_eq!((facts.taken.as_deref(), facts.f_number, facts.iso), (Some("2026:11:21 16:42:09"), Some(5.6), Some(400)));
    let whole = facts.focal_guesses(1600, 1200);
    assert!(whole.len() == 1 && (whole[0].focal_px - 2389.83).abs() < 0.5, "{whole:?}");
    // Scaled to half, and turned: the same in half the px.
    let half = facts.focal_guesses(600, 800);
    assert!(half.len() == 1 && (half[0].focal_px - 1194.9).abs() < 0.3, "{half:?}");
    // Cropped square: unscaled or scaled can't be told apart.
    let square = facts.focal_guesses(1200, 1200);
    assert!(square.iter().any(|g| (g.focal_px - 2389.83).abs() < 0.5), "{square:?}");
}

/// An export that scaled the picture and rewrote its size, but kept the sensor's resolution: the 35 mm tag contradicts it by half.
#[test]
fn contradicting_tags_give_both_with_odds() {
    let facts = CameraFacts {
        focal_mm: Some(25.86),
        focal_35mm: Some(52.0),
        sensor_px_per_mm: Some([92.421; 2]),
        recorded_px: Some([800, 600]),
        ..CameraFacts::default()
    };
    let guesses = facts.focal_guesses(800, 600);
    assert_eq!(guesses.len(), 3);
    assert!((guesses.iter().map(|g| g.odds).sum::<f64>() - 1.0).abs() < 1e-12);
    let film: f64 = guesses.iter().filter(|g| g.source.contains("35 mm")).map(|g| g.odds).sum();
    assert!(film > 0.5);
}

#[test]
fn senseless_facts_give_no_focal_length() {
    assert!(CameraFacts::default().focal_guesses(1600, 1200).is_empty());
    let raw = exif(&[Entry::Rational(0x920a, 0, 0), Entry::Short(0xa405, 0)]);
    let photo = photo(64, 48, Some(raw), None, [90; 3]);
    assert!(photo.facts.focal_guesses(64, 48).is_empty(), "{:?}", photo.facts);
    for bad in [f64::NAN, f64::INFINITY, 0.0, -3.0] {
        assert!(focal_from_35mm(bad, 1.0, 100.0, 100.0, "").is_empty());
        assert!(focal_from_35mm(50.0, 1.0, bad, 100.0, "").is_empty());
    }
    let facts = CameraFacts { focal_35mm: Some(50.0), ..CameraFacts::default() };
    assert!(facts.focal_guesses(0, 0).is_empty());
}

/// A wide-gamut profile is converted: closed form from the primaries of Display P3 and sRGB (SMPTE EG 432-1, IEC 61966-2-1), both D65 and
/// with the same curve, by hand: linear sRGB = M linear P3.
#[test]
fn a_wide_gamut_profile_is_converted_to_srgb() {
    const M: [[f64; 3]; 3] = [[1.224_940, -0.224_940, 0.0], [-0.042_057, 1.042_057, 0.0], [-0.019_638, -0.078_636, 1.098_274]];
    let icc = moxcms::ColorProfile::new_display_p3().encode().expect("encodes");
    for colour in [[150u8, 160, 140], [180, 120, 90], [90, 140, 170], [128, 128, 128]] {
        let converted = photo(64, 48, None, Some(icc.clone()), colour);
        let linear = colour.map(|c| {
            let v = f64::from(c) / 255.0;
            if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        });
        let expected = M.map(|row| {
            let v: f64 = row.iter().zip(linear).map(|(m, l)| m * l).sum();
            255.0 * (if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 })
        });
        let found = converted.picture.srgb_at(30, 20);
        for i in 0..3 {
            // One code for JPEG's own rounding, one for the conversion's.
            assert!((f64::from(found[i]) - expected[i]).abs() <= 2.0, "{colour:?}: {found:?}, expected {expected:?}");
        }
        assert!(converted.notes.is_empty(), "{:?}", converted.notes);
    }
    let srgb = moxcms::ColorProfile::new_srgb().encode().expect("encodes");
    for colour in [[150u8, 160, 140], [3, 9, 200]] {
        assert_eq!(photo(64, 48, None, Some(srgb.clone()), colour).picture, photo(64, 48, None, None, colour).picture, "sRGB stays itself");
    }
}

#[test]
fn a_broken_profile_is_ignored_and_said_so() {
    let broken = photo(64, 48, None, Some(vec![7; 300]), [150, 160, 140]);
    assert!(broken.notes[0].text.contains("broken"), "{:?}", broken.notes);
    assert_eq!(broken.picture, photo(64, 48, None, None, [150, 160, 140]).picture);
    assert!(photo(64, 48, None, None, [9; 3]).notes[0].text.contains("sRGB is assumed"));
    // Cut EXIF is no reason to lose the photo.
    let raw = exif(&[Entry::Short(0xa405, 52), Entry::Ascii(0x9003, "2026:11:21 16:42:09")]);
    let cut = photo(64, 48, Some(raw[..raw.len() - 8].to_vec()), None, [9; 3]);
    assert!(cut.notes.iter().any(|n| n.text.contains("EXIF")));
    assert_eq!(cut.facts.focal_35mm, Some(52.0));
}
