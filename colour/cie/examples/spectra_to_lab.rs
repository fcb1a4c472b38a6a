//! Spectra on stdin to XYZ and Lab on stdout, for second opinions: `spectra_to_lab D65 2 < spectra.csv`.
//! First line: wavelengths; then one spectrum a line.
#![allow(clippy::print_stdout)] // An example talks to its caller; the crate itself does not.

use cie::{Light, Observer, Weights};
use std::io::{BufRead, Write};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().collect();
    let light = Light::by_name(arguments.get(1).map_or("D65", String::as_str))?;
    let observer = if arguments.get(2).is_some_and(|text| text == "10") { Observer::TenDegree } else { Observer::TwoDegree };
    let mut lines = std::io::stdin().lock().lines();
    let numbers = |line: String| line.split(',').map(|cell| cell.trim().parse()).collect::<Result<Vec<f64>, _>>();
    let nms = numbers(lines.next().ok_or("no wavelengths")??)?;
    let weights = Weights::new(light, observer, &nms)?;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for line in lines {
        let spectrum = numbers(line?)?;
        let (xyz, lab) = (weights.xyz(&spectrum)?, weights.lab(&spectrum)?);
        writeln!(out, "{},{},{},{},{},{}", xyz.x, xyz.y, xyz.z, lab.l, lab.a, lab.b)?;
    }
    out.flush()?;
    Ok(())
}
