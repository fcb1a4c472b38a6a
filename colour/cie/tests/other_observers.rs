//! Readings of another observer or light, and how they look on a screen.

use cie::*;

fn patches() -> (Vec<f64>, Vec<Vec<f64>>) {
    let readings = read_csv(include_str!("data/chart24_iso17321-1.csv")).expect("chart reads");
    let spectra: Vec<_> = readings.samples.into_iter().map(|s| s.spectrum.expect("spectra")).collect();
    (spectra[0].0.clone(), spectra.into_iter().map(|s| s.1).collect())
}

/// Truth is a Lab summed from the measured spectra of 24 patches (ISO 17321-1); the guess knows only the Lab of another observer or light.
#[test]
fn another_observers_lab_is_guessed_within_its_doubt() {
    let (nms, spectra) = patches();
    let day = Weights::new(Light::D65, Observer::TwoDegree, &nms).expect("good");
    let other = [
        (Light::D65, Observer::TenDegree),
        (Light::D50, Observer::TwoDegree),
        (Light::D50, Observer::TenDegree),
        (Light::A, Observer::TwoDegree),
        (Light::Fl11, Observer::TwoDegree),
        (Light::LedB3, Observer::TwoDegree),
    ];
    for (light, observer) in other {
        let there = Weights::new(light, observer, &nms).expect("good");
        let (mut within, mut total, mut worst, mut sum) = (0, 0, 0.0f64, 0.0);
        for spectrum in &spectra {
            let truth = day.lab(spectrum).expect("good");
            let (guess, sigma) =
                guess_reference(LabReading { lab: there.lab(spectrum).expect("good"), light, observer }).expect("a surface");
            for (k, s) in sigma.iter().enumerate() {
                within += usize::from((guess.array()[k] - truth.array()[k]).abs() <= 2.0 * s);
                total += 1;
            }
            let off = ciede2000(guess, truth);
            worst = worst.max(off);
            sum += off / spectra.len() as f64;
        }
        // Two sigma hold 95 %; at least 90 and not all by far.
        assert!(10 * within >= 9 * total, "{} {}: {within} of {total}", light.name(), observer.words());
        let most = if light == Light::D65 { 1.0 } else { 2.0 };
        assert!(sum < most, "{} {}: mean {sum:.2}, worst {worst:.2}", light.name(), observer.words());
    }
}

/// White looks white under every light, and the working light's own Lab is shown as it is.
#[test]
fn proofs_adapt_to_the_screens_white() {
    for &light in Light::ALL {
        assert_eq!(proof([100.0, 0.0, 0.0], light, Observer::TwoDegree).rgb, [255; 3], "{}", light.name());
    }
    let sage = [66.0, -8.0, 8.0];
    assert_eq!(proof(sage, Light::D65, Observer::TwoDegree), screen(sage));
    // colour-science 0.4.7, chromatic_adaptation_VonKries with CAT16: 145.1, 166.0, 147.0.
    assert_eq!(proof(sage, Light::A, Observer::TwoDegree).rgb, [145, 166, 147]);
    assert!(proof([50.0, 0.0, 120.0], Light::A, Observer::TwoDegree).out_of_gamut);
    assert!(proof([f64::NAN, 0.0, 0.0], Light::A, Observer::TwoDegree).out_of_gamut);
}
