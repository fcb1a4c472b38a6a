//! Appearance, adaptation, metamerism, rebuilt spectra, verdicts.

use cie::*;

fn numbers(line: &str) -> Vec<f64> {
    line.split(',').filter_map(|cell| cell.trim().parse().ok()).collect()
}

/// Name, wavelengths and reflectances of the 24 patches.
fn chart() -> (Vec<f64>, Vec<(String, Vec<f64>)>) {
    let readings = read_csv(include_str!("data/chart24_iso17321-1.csv")).expect("chart reads");
    let patches = readings.samples.into_iter().map(|s| (s.name, s.spectrum.expect("spectra")));
    let (names, spectra): (Vec<_>, Vec<_>) = patches.unzip();
    (spectra[0].0.clone(), names.into_iter().zip(spectra.into_iter().map(|s| s.1)).collect())
}

/// Against colour-science 0.4.7, `tests/data/chart24_lab.csv`.
#[test]
fn chart_lab_values() {
    let (nms, patches) = chart();
    let expected: Vec<&str> = include_str!("data/chart24_lab.csv").lines().skip(2).collect();
    assert_eq!((patches.len(), expected.len()), (24, 24));
    let weights = [(Light::D65, Observer::TwoDegree), (Light::A, Observer::TenDegree), (Light::Fl11, Observer::TwoDegree)]
        .map(|(light, observer)| Weights::new(light, observer, &nms).expect("good"));
    for ((name, spectrum), line) in patches.iter().zip(expected) {
        assert!(line.starts_with(name.as_str()));
        let row = numbers(&line[name.len() + 1..]);
        for (weights, lab) in weights.iter().zip(row.chunks(3)) {
            let found = weights.lab(spectrum).expect("good");
            assert!(cie76(found, [lab[0], lab[1], lab[2]]) < 2e-6, "{name} {found:?} {lab:?}");
        }
    }
}

/// Colour-science 0.4.7, `XYZ_to_CAM16` and `JMh_CAM16_to_CAM16UCS`; the first row is its documentation's own example.
#[test]
fn cam16_worked() {
    let rows = [
        (
            (19.01, 20.0, 21.78),
            (95.05, 108.88),
            318.31,
            20.0,
            Surround::Average,
            [41.7312079051, 0.1033557387, 217.0679597674, 2.3450150730, 195.3717089928, 0.1074367723],
            [54.9044502427, -0.0856212456, -0.0646796048],
        ),
        (
            (57.06, 43.06, 31.96),
            (95.05, 108.88),
            31.83,
            20.0,
            Surround::Average,
            [65.4282806871, 49.6795641976, 17.4865924276, 52.9430886763, 152.0698526794, 42.6247332074],
            [76.2882252600, 28.4031623851, 8.9481759684],
        ),
        (
            (3.53, 6.56, 2.14),
            (109.85, 35.58),
            318.31,
            20.0,
            Surround::Average,
            [21.3605289258, 50.9938189524, 178.8672426589, 61.5795309188, 139.7858276764, 53.0073258221],
            [31.5895175502, -34.7451340624, 0.6870128079],
        ),
        (
            (19.01, 20.0, 21.78),
            (109.85, 35.58),
            31.83,
            20.0,
            Surround::Average,
            [41.0656178632, 49.0859940831, 259.0337034210, 59.0864603624, 120.6328363552, 42.1154540263],
            [54.2242764564, -5.6156934052, -28.9812447592],
        ),
        (
            (30.0, 36.0, 32.0),
            (96.42, 82.52),
            20.0,
            18.0,
            Surround::Dim,
            [61.6702958117, 22.5094896691, 185.8810856674, 34.0820579557, 159.9487082899, 18.5794288152],
            [73.2276898272, -15.4095440584, -1.5872803648],
        ),
        (
            (5.0, 3.0, 20.0),
            (95.05, 108.88),
            4.0,
            20.0,
            Surround::Dark,
            [23.5661555265, 51.7168314417, 284.2511014402, 68.9191235031, 78.5920639391, 37.3300167872],
            [34.3894710348, 6.6487282771, -26.1773209398],
        ),
        (
            (40.0, 36.0, 2.0),
            (95.05, 108.88),
            64.0,
            20.0,
            Surround::Average,
            [58.0246742186, 65.6539736176, 78.3149615107, 60.0947125403, 165.3297432288, 59.7067614704],
            [70.1492389957, 7.6324056034, 36.9040193151],
        ),
    ];
    for ((x, y, z), (xw, zw), adapting_cd_m2, background, surround, expected, uniform) in rows {
        let viewing = Viewing { white: Xyz::new(xw, 100.0, zw), adapting_cd_m2, background, surround };
        let seen = cam16(Xyz::new(x, y, z), &viewing).expect("fine");
        let found = [seen.lightness, seen.chroma, seen.hue_deg, seen.saturation, seen.brightness, seen.colourfulness];
        for (f, e) in found.iter().zip(expected).chain(seen.uniform().iter().zip(uniform)) {
            assert!((f - e).abs() < 1e-8, "{found:?} {expected:?}");
        }
    }
}

#[test]
fn cam16_keeps_its_head() {
    let viewing = Viewing { white: Xyz::new(95.05, 100.0, 108.88), adapting_cd_m2: 20.0, background: 20.0, surround: Surround::Average };
    let black = cam16(Xyz::new(0.0, 0.0, 0.0), &viewing).expect("black");
    assert!(black.lightness.abs() < 1e-3 && black.uniform().iter().all(|v| v.is_finite()), "{black:?}");
    assert!(cam16(Xyz::new(-5.0, 1.0, f64::NAN), &viewing).is_err());
    assert!(cam16(Xyz::new(1.0, 1.0, 1.0), &Viewing { background: 0.0, ..viewing }).is_err());
    let white = cam16(viewing.white, &viewing).expect("white");
    assert!((white.lightness - 100.0).abs() < 1e-9 && white.distance(&white) == 0.0);
}

/// Colour-science 0.4.7, von Kries adaptation with the named transform.
#[test]
fn adaptation_worked() {
    let xyz = Xyz::new(20.654008, 12.197225, 5.136952);
    let (a, d50, d65) = (Xyz::new(109.85, 100.0, 35.58), Xyz::new(96.42, 100.0, 82.52), Xyz::new(95.05, 100.0, 108.88));
    for (from, to, how, expected) in [
        (d65, d50, Adaptation::Bradford, [21.66204158, 12.60337928, 3.85649544]),
        (d65, d50, Adaptation::Cat16, [21.19676328, 12.2368092, 3.81148784]),
        (a, d65, Adaptation::Cat16, [18.70061815, 12.00181686, 15.50283461]),
    ] {
        let found = adapt(xyz, from, to, how).expect("fine").array();
        assert!(found.iter().zip(expected).all(|(f, e)| (f - e).abs() < 1e-7), "{found:?}");
        let there = adapt(from, from, to, how).expect("fine").array();
        assert!(there.iter().zip(to.array()).all(|(f, e)| (f - e).abs() < 1e-12));
    }
    assert!(adapt(xyz, Xyz::new(0.0, 0.0, 0.0), d65, Adaptation::Cat16).is_err());
}

#[test]
fn spectra_have_their_lab() {
    for r in (0..=255u8).step_by(51) {
        for g in (0..=255u8).step_by(51) {
            for b in (0..=255u8).step_by(51) {
                let lab = srgb8_to_lab([r, g, b]);
                match spectrum_of(lab) {
                    Ok(spectrum) => {
                        assert!(spectrum.iter().all(|v| (0.0..=1.0).contains(v)));
                        assert!(cie76(working().lab(&spectrum).expect("fine"), lab) < 1e-5);
                    }
                    // Only the strongest screen colours can outshine a surface.
                    Err(error) => assert!(matches!(error, CieError::NoSurface { .. }) && lab.chroma() > 60.0, "{lab:?} {error}"),
                }
            }
        }
    }
    let grey = spectrum_of(Lab::new(50.0, 0.0, 0.0)).expect("grey");
    assert!(grey.iter().all(|v| (v - grey[0]).abs() < 1e-9), "the smoothest grey is flat");
    assert!(spectrum_of(Lab::new(50.0, 200.0, 0.0)).is_err() && spectrum_of(Lab::new(f64::NAN, 0.0, 0.0)).is_err());
}

/// The chart's patches under A, guessed from their Lab alone.
#[test]
fn guessed_under_a_lamp() {
    let (nms, patches) = chart();
    let (day, lamp) = [Light::D65, Light::A].map(|light| Weights::new(light, Observer::TwoDegree, &nms).expect("good")).into();
    let errors: Vec<f64> = patches
        .iter()
        .map(|(_, spectrum)| {
            let guess = guess_under(day.lab(spectrum).expect("good"), Light::A).expect("a surface");
            ciede2000(guess, lamp.lab(spectrum).expect("good"))
        })
        .collect();
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    assert!(mean < 1.5 && errors.iter().all(|e| *e < 5.0), "mean {mean:.2} {errors:.2?}");
}

/// A pair made to match under D65 and not under a lamp: the difference is all metamerism there and none here.
#[test]
fn metameric_pair_is_found_out() {
    let grey: Vec<f64> = spectrum_of(Lab::new(60.0, 0.0, 0.0)).expect("grey").to_vec();
    let wavy: Vec<f64> = WORKING_NM.iter().zip(&grey).map(|(nm, r)| r + 0.08 * ((nm - 400.0) / 35.0).cos()).collect();
    let lab = working().lab(&wavy).expect("fine");
    let match_of_wavy: Vec<f64> = spectrum_of(lab).expect("a surface").to_vec();
    let lights = [Light::D65, Light::A, Light::Fl11, Light::LedB1];
    let pairs = under_lights(&WORKING_NM, &wavy, &match_of_wavy, &lights, Observer::TwoDegree).expect("fine");
    assert!(pairs[0].de00 < 1e-4 && pairs[0].metamerism < 1e-9, "{:?}", pairs[0]);
    assert!(pairs[1..].iter().all(|p| p.metamerism > 0.3 && (p.metamerism - p.de00).abs() < 1e-3), "{pairs:?}");
    // A paler copy of the same paint differs, but not by the light.
    let paler: Vec<f64> = grey.iter().map(|r| 1.1 * r).collect();
    let pairs = under_lights(&WORKING_NM, &grey, &paler, &lights, Observer::TwoDegree).expect("fine");
    assert!(pairs.iter().all(|p| p.de00 > 2.0 && p.metamerism < 1e-9), "{pairs:?}");
}

#[test]
fn ten_degrees_become_two_only_by_the_spectrum() {
    let (nms, patches) = chart();
    let reading = |light, observer| Some(LabReading { lab: Lab::new(50.0, 20.0, 10.0), light, observer });
    let words = to_reference(reading(Light::D65, Observer::TenDegree), None).expect_err("refused").to_string();
    assert!(words.contains("10 degrees") && words.contains("spectrum"), "{words}");
    assert!(to_reference(reading(Light::D50, Observer::TwoDegree), None).is_err() && to_reference(None, None).is_err());
    assert_eq!(to_reference(reading(Light::D65, Observer::TwoDegree), None), Ok(Lab::new(50.0, 20.0, 10.0)));
    let exact = to_reference(reading(Light::D65, Observer::TenDegree), Some((&nms, &patches[0].1))).expect("by the spectrum");
    assert!(cie76(exact, [37.303931, 13.690954, 15.563629]) < 1e-5);
}

#[test]
fn verdicts_and_directions() {
    assert_eq!(
        [0.0, 0.8, 0.81, 1.8, 1.9, f64::NAN].map(Verdict::of),
        [Verdict::NotSeen, Verdict::NotSeen, Verdict::Accepted, Verdict::Accepted, Verdict::Refused, Verdict::Refused]
    );
    assert_eq!(direction([50.0, 0.0, 20.0], [52.0, 0.0, 20.0]), "2.0 lighter");
    assert_eq!(direction([66.0, -8.0, 8.0], [65.0, -9.5, 6.5]), "1.8 greener, 0.8 darker, 0.7 more colourful");
    assert_eq!(direction([66.0, -8.0, 8.0], [66.0, -8.05, 8.0]), "no difference to speak of");
    assert!(direction([60.0, 0.0, 30.0], [60.0, 4.0, 30.0]).contains("redder"));
    assert!(direction([60.0, 20.0, 0.0], [60.0, 20.0, -4.0]).contains("bluer"));
}
