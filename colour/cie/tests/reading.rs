//! Files of instruments: what is read, and the words for what is not.

use cie::*;

fn problems(text: &str) -> Vec<String> {
    match read_readings(text) {
        Err(CieError::Unreadable { problems }) => problems.iter().map(ToString::to_string).collect(),
        other => panic!("{other:?} should be unreadable"),
    }
}

#[test]
fn two_columns() {
    let text: String = (40..=70).map(|i| format!("{}, 0.{}\n", i * 10, i)).collect();
    let sample = &read_readings(&format!("# chip 7\nnm,reflectance\n{text}")).expect("reads").samples[0];
    let (nms, values) = sample.spectrum.clone().expect("spectrum");
    assert_eq!((sample.name.as_str(), nms.len(), nms[0], values[30]), ("reflectance", 31, 400.0, 0.70));
    assert_eq!(read_readings(&text).expect("no heading").samples[0].name, "1");
    assert!(working().lab(&values).is_ok());
}

#[test]
fn percent_is_seen_and_said() {
    let readings = read_readings("400;12.0;55\n500;20;60\n600;30;61\n700;31.5;62\n").expect("reads");
    assert_eq!(readings.samples[1].spectrum.as_ref().expect("spectrum").1, [0.55, 0.60, 0.61, 0.62]);
    let with_commas = read_readings("400;12,0;55\n500;20;60\n600;30;61\n700;31,5;62\n").expect("reads");
    assert_eq!(with_commas, readings, "a decimal comma");
    assert_eq!(readings.notes, ["The largest reflectance is 62; the file was read as percent."]);
    // Declared, nothing needs saying, however dark the part is.
    let dark = read_readings("nm,R %\n400,1.2\n500,1.3\n600,1.1\n").expect("reads");
    assert_eq!((dark.samples[0].spectrum.as_ref().expect("spectrum").1[0], dark.notes.len()), (0.012, 0));
}

#[test]
fn every_problem_of_a_csv_has_its_line() {
    assert_eq!(
        problems("nm,R\n400,0.1\n410,x\n420\n1,0.2\n430,nan\n440,0.1,0.2\n"),
        [
            "line 3: `x` is no number; `nm, reflectance` is expected",
            "line 4: `420` stands alone; `nm, reflectance` is expected",
            "line 5: 1 is no wavelength; nanometres are expected first in the line",
            "line 6: `nan` is no number; `nm, reflectance` is expected",
            "line 7: 3 numbers were found where the lines above have 2",
        ]
    );
    assert_eq!(problems(""), ["no spectrum was found; lines of `nm, reflectance` are expected"]);
    assert_eq!(problems("400,0.1\n400,0.2\n"), ["400 nm stands there twice; list each wavelength once"]);
    assert_eq!(problems("400,-0.4\n410,0.2\n")[0], "sample `1` reflects -0.4 at 400 nm; 0 to 1 is expected (or percent throughout)");
    assert!(problems(&"x".repeat(MOST_BYTES + 1))[0].contains("at most"));
    assert_eq!(problems(&"400,z\n".repeat(50)).len(), 20);
}

const TAGGED: &str = r#"CGATS.17
ORIGINATOR "bench reader"
WEIGHTING_FUNCTION "ILLUMINANT, D65"
WEIGHTING_FUNCTION "OBSERVER, 10 degree"
NUMBER_OF_FIELDS 8
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B
SPECTRAL_DEC420 SPECTRAL_DEC400 SPECTRAL_DEC410
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
1 "sage chip" 66.0 -8.0 8.0 0.3 0.1 0.2
2 bare 94 0.1 2.5 0.8 0.6 0.7
END_DATA
"#;

#[test]
fn tagged_text() {
    let readings = read_readings(TAGGED).expect("reads");
    let chip = &readings.samples[0];
    assert_eq!(
        (chip.name.as_str(), chip.lab, chip.light, chip.observer),
        ("sage chip", Some(Lab::new(66.0, -8.0, 8.0)), Some(Light::D65), Some(Observer::TenDegree))
    );
    assert_eq!(chip.spectrum, Some((vec![400.0, 410.0, 420.0], vec![0.1, 0.2, 0.3])), "wavelengths are set in order");
    assert_eq!(readings.samples[1].name, "bare");
    let percent = TAGGED.replace("SPECTRAL_DEC", "SPECTRAL_PCT").replace("0.3 0.1 0.2", "30 10 20").replace("0.8 0.6 0.7", "1.8 1.6 1.7");
    assert_eq!(read_readings(&percent).expect("reads").samples[1].spectrum.as_ref().expect("spectrum").1[2], 1.8 / 100.0);
}

#[test]
fn every_problem_of_a_tagged_text_has_its_line() {
    assert_eq!(problems(&TAGGED.replace("2 bare 94", "2 bare")), ["line 13: 7 values were found for 8 fields"]);
    assert_eq!(problems(&TAGGED.replace("94 0.1", "94 zero")), ["line 13: `zero` is no number; a Lab coordinate is expected"]);
    assert_eq!(
        problems(&TAGGED.replace("SETS 2", "SETS 3"))[0],
        "line 10: NUMBER_OF_SETS says 3, 2 samples were found: a part of the file may be lost"
    );
    assert!(problems(&TAGGED.replace("END_DATA\n", ""))[0].contains("END_DATA is missing"));
    assert!(problems("BEGIN_DATA\nEND_DATA\n").len() == 2);
    assert!(problems(&TAGGED.replace("LAB_", "RGB_").replace("SPECTRAL_", "X"))[0].contains("neither LAB_L"));
    let twice = TAGGED.replace("END_DATA\n", "END_DATA\nBEGIN_DATA_FORMAT\n");
    assert!(problems(&twice)[0].contains("second table"));
}

/// Whatever comes in, an answer or an error comes out: mangled copies of a good file.
#[test]
fn mangled_files_do_no_harm() {
    let bytes = TAGGED.as_bytes();
    for seed in 0..3000usize {
        let mut mangled = bytes.to_vec();
        for k in 0..4 {
            let at = (seed * 7919 + k * 104_729) % mangled.len();
            mangled[at] = (seed * 31 + k * 17) as u8;
        }
        mangled.truncate(bytes.len() - seed % 200);
        let text = String::from_utf8_lossy(&mangled);
        let _ = read_readings(&text);
        let _ = read_csv(&text);
    }
}

#[test]
fn nasty_numbers() {
    let nasty = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e-300, 1e300, 50.0, 400.0];
    for a in nasty {
        for b in nasty {
            for c in nasty {
                let (lab, xyz) = (Lab::new(a, b, c), Xyz::new(a, b, c));
                let _ = (
                    ciede2000(lab, [b, c, a]),
                    cie76(lab, [b, c, a]),
                    screen(lab),
                    lab.lch().lab(),
                    spectrum_of(lab),
                    guess_under(lab, Light::A),
                );
                let _ =
                    (adapt(xyz, Xyz::new(b, c, a), xyz, Adaptation::Bradford), xyz_to_lab(xyz, Xyz::new(c, b, a)), xyz_to_srgb_linear(xyz));
                let viewing = Viewing { white: Xyz::new(95.0, 100.0, 108.0), adapting_cd_m2: a, background: b, surround: Surround::Dim };
                let _ = (cam16(xyz, &viewing), Weights::new(Light::D65, Observer::TwoDegree, &[a, b, c, 700.0]), direction(lab, [b, c, a]));
                let finite = [a, b, c].iter().all(|v| v.is_finite() && v.abs() < 1e6);
                assert!(!finite || ciede2000(lab, [b, c, a]).is_finite(), "{lab:?}");
            }
        }
    }
}
