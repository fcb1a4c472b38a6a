//! Traces a raw picture for checks by eye and by script: `trace FILE.rgb x1 y1 x2 y2` prints JSON.
//! The file: a line "width height", then rows of 8-bit sRGB.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

use outline::{Clicks, EdgePoint};
use photo::Picture;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let bytes = std::fs::read(&args[1]).unwrap();
    let line = bytes.iter().position(|&b| b == b'\n').unwrap();
    let size: Vec<usize> = std::str::from_utf8(&bytes[..line]).unwrap().split(' ').map(|s| s.parse().unwrap()).collect();
    let srgb = bytes[line + 1..].chunks_exact(3).map(|c| [c[0], c[1], c[2]]).collect();
    let picture = Picture::from_srgb(size[0], size[1], srgb).unwrap();
    let n: Vec<f64> = args[2..].iter().map(|s| s.parse().unwrap()).collect();
    let clicks = (n.len() == 4).then(|| Clicks { rod_entry: [n[0], n[1]], free_end: [n[2], n[3]] });
    let start = std::time::Instant::now();
    let found = outline::find(&picture, clicks);
    let seconds = start.elapsed().as_secs_f64();
    match found {
        Err(e) => println!("{{\"error\": {:?}, \"seconds\": {seconds}}}", e.to_string()),
        Ok(noted) => {
            let o = noted.value;
            let list = |points: &[EdgePoint]| {
                let rows: Vec<String> = points
                    .iter()
                    .map(|p| format!("[{:.4},{:.4},{:.5},{:.5},{:.4}]", p.at_px[0], p.at_px[1], p.normal[0], p.normal[1], p.sigma_px))
                    .collect();
                format!("[{}]", rows.join(","))
            };
            let notes: Vec<String> = noted.notes.iter().map(|n| format!("{:?}", format!("{} -> {}", n.text, n.settle))).collect();
            println!(
                "{{\"seconds\":{seconds},\"part\":{},\"rod_left\":{},\"rod_right\":{},\"rod_joint\":{},\"part_bias\":{},\"rod_bias\":{},\"axis\":[{:?},{:?}],\"notes\":[{}]}}",
                list(&o.part),
                list(&o.rod_left),
                list(&o.rod_right),
                list(&o.rod_joint),
                o.part_bias_sigma_px,
                o.rod_bias_sigma_px,
                o.axis.rod_entry,
                o.axis.free_end,
                notes.join(",")
            );
        }
    }
}
