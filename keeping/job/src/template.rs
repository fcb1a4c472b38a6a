use crate::document::FORMAT;
use std::collections::BTreeSet;

/// The document that `ringer new` writes: the photos named, everything else as comments that tell how to go on.
///
/// `photos` are pairs of a photo's name and its file under `photos/`.
pub fn new_document(title: &str, photos: &[(String, String)]) -> String {
    let mut text = format!("format = {}\ntitle = {}\n{HOW_KNOWN}", quoted(FORMAT), quoted(title));
    for (name, file) in photos {
        text.push_str(&format!(
            "\n[[photo]]\nname = {}\nfile = {}\nshaft = \"shaft\"\n{HOW_AXIS}",
            quoted(name),
            quoted(&format!("photos/{file}"))
        ));
    }
    if photos.is_empty() {
        text.push_str(HOW_PHOTO);
    }
    text.push_str(HOW_REST);
    text
}

/// A name for a photo out of its file's name, different from all in `taken`.
pub fn photo_name(file: &str, taken: &BTreeSet<String>) -> String {
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem).trim();
    let stem = if stem.is_empty() { "photo" } else { stem };
    let mut name = stem.to_string();
    let mut number = 2;
    while taken.contains(&name) {
        name = format!("{stem} {number}");
        number += 1;
    }
    name
}

fn quoted(text: &str) -> String {
    toml_edit::Value::from(text).to_string().trim().to_string()
}

const HOW_KNOWN: &str = r#"
# A size known for sure: the rod that the part sits on. Set it first: every other size hangs on it.
[[known]]
name = "shaft"
value = "6 mm"          # or "1/4 in", "0.25 in"  <- CHANGE THIS to the size of your rod
# sigma = "0.02 mm"     # how well it is known
source = "not yet said" # e.g. "measured with a caliper on a second machine"
"#;

const HOW_AXIS: &str = "# axis = [[x, y], [x, y]]   # pixels: where the rod enters the part, then the part's free end\n\
# neutral = { polygon = [[x, y], [x, y], [x, y], [x, y]], reflectance = 0.18 }   # a grey card in the same light\n";

const HOW_PHOTO: &str = r#"
# [[photo]]
# name = "front"
# file = "photos/front.jpg"
# shaft = "shaft"
# axis = [[812.0, 1190.5], [430.2, 310.0]]   # pixels: where the rod enters the part, then the part's free end
"#;

const HOW_REST: &str = r#"
# [body]
# fit = "slides"          # slides, pushes, pressed or glued
# bore_depth = "12 mm"

# [resin]
# name = "white"
# thickness_mm = 3.0      # of the sample chips
# backing = "white"

# [[colourant]]
# name = "black"
# drop_ul = 25.0
# max_percent = 2.0

# [[sample]]              # a cured chip; without drops it is the bare resin
# name = "bare"
# volume_ml = 5.0
# lab = [93.0, 0.0, 2.0]
# sigma = 0.3

# [target]
# from = "photo"          # or lab = [66.0, -8.0, 8.0]
# sample_ml = 20.0

# [run]
# wanted = 24
# plate = { width_mm = 130.0, depth_mm = 80.0, gap_mm = 4.0 }
"#;
