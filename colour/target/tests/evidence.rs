//! Charts, several readings, age and drift.

mod made_up;

use made_up::{Scene, encode, lab, uniform};
use photo::Picture;
use target::{
    ColourEstimate, ColourReading, Correction, Drift, KnownPatch, Light, NeutralPatch, PartView, Polygon, TargetError, aged, aim_for,
    combine, read_part,
};

/// 24 seeded colours as a chart of 6 x 4 fields, seen by a camera whose channels bleed into each other (`mix`) and that answers a little
/// more than linearly between channels (`root`).
fn chart(mix: f64, root: f64) -> (Picture, Vec<KnownPatch>, NeutralPatch) {
    let mut state = 11;
    let colours: Vec<[f64; 3]> = (0..24).map(|_| [0, 1, 2].map(|_| 0.04 + 0.7 * uniform(&mut state).powi(2))).collect();
    let camera = |c: [f64; 3]| {
        let [r, g, b] = c;
        let mixed = [r + mix * (g - r), g + mix * (0.5 * r + 0.5 * b - g), b + mix * (g - b)];
        let seen = [mixed[0] + root * ((r * g).sqrt() - r), mixed[1], mixed[2] + root * ((g * b).sqrt() - b)];
        [seen[0] * 0.9, seen[1] * 0.8, seen[2] * 0.6]
    };
    let field = |x: usize, y: usize| if y >= 200 { [0.18; 3] } else { colours[(y / 50) * 6 + x / 50] };
    let pixels = (0..300).flat_map(|y| (0..300).map(move |x| (x, y))).map(|(x, y)| camera(field(x, y)).map(encode)).collect();
    let square = |x: f64, y: f64, side: f64| {
        Polygon::new(&[[x, y], [x + side, y], [x + side, y + side], [x, y + side]], "a field").expect("a region")
    };
    let patches = (0..24)
        .map(|i| KnownPatch { polygon: square(50.0 * (i % 6) as f64 + 8.0, 50.0 * (i / 6) as f64 + 8.0, 34.0), lab: lab(colours[i]) })
        .collect();
    (Picture::from_srgb(300, 300, pixels).expect("fits"), patches, NeutralPatch { polygon: square(100.0, 210.0, 80.0), reflectance: 0.18 })
}

#[test]
fn the_correction_is_as_rich_as_the_camera_needs_and_the_chart_allows() {
    let kind = |mix: f64, root: f64, count: usize| {
        let (picture, patches, neutral) = chart(mix, root);
        Light::find(&picture, Some(&neutral), &patches[..count]).expect("finds").value
    };
    let true_camera = kind(0.0, 0.0, 24);
    assert_eq!(true_camera.correction, Correction::Balance);
    assert!(true_camera.residual_de00.is_some_and(|r| r < 0.5), "{true_camera:?}");
    let bleeding = kind(0.2, 0.0, 24);
    assert!(matches!(bleeding.correction, Correction::Matrix(_)), "{bleeding:?}");
    assert!(bleeding.residual_de00.is_some_and(|r| r < 0.5), "{bleeding:?}");
    let bent = kind(0.2, 0.15, 24);
    assert!(matches!(bent.correction, Correction::RootPolynomial(_)), "{bent:?}");
    assert!(bent.residual_de00.is_some_and(|r| r < 0.6), "{bent:?}");
    // Three patches can't tell a camera's bleeding: the balance stays, and the miss is shown.
    let few = kind(0.2, 0.0, 3);
    assert_eq!(few.correction, Correction::Balance);
    assert!(few.residual_de00.is_some_and(|r| r > 2.0));
    // More light changes nothing: root polynomials keep colours.
    let more = |k: f64| bent.reflectance([0.3 * k, 0.2 * k, 0.1 * k], bent.at);
    assert!((0..3).all(|i| (more(2.0)[i] - 2.0 * more(1.0)[i]).abs() < 1e-12));
}

/// A camera that steepens the picture by a power 1.3: six grey steps among the patches show it, and it is undone.
#[test]
fn grey_steps_show_the_cameras_contrast() {
    let greys: [f64; 6] = [0.03, 0.09, 0.18, 0.36, 0.59, 0.9];
    let steep = |v: f64| 0.8 * v.powf(1.3);
    let field = |x: usize| if x >= 300 { [0.25, 0.4, 0.3] } else { [greys[x / 50]; 3] };
    let pixels = (0..60).flat_map(|_| 0..360).map(|x| field(x).map(steep).map(encode)).collect();
    let picture = Picture::from_srgb(360, 60, pixels).expect("fits");
    let square = |x: f64| Polygon::new(&[[x + 8.0, 8.0], [x + 42.0, 8.0], [x + 42.0, 52.0], [x + 8.0, 52.0]], "a step").expect("a region");
    let patches: Vec<KnownPatch> =
        greys.iter().enumerate().map(|(i, g)| KnownPatch { polygon: square(50.0 * i as f64), lab: lab([*g; 3]) }).collect();
    let neutral = NeutralPatch { polygon: square(100.0), reflectance: 0.18 };
    let found = Light::find(&picture, Some(&neutral), &patches).expect("finds");
    assert!((found.value.tone - 1.3).abs() < 0.02, "{:?}", found.value);
    assert!(found.notes.iter().any(|n| n.text.contains("steeper")));
    let read = lab(found.value.reflectance([0.25, 0.4, 0.3].map(steep), [330.0, 30.0]));
    assert!(cie::ciede2000(read, lab([0.25, 0.4, 0.3])) < 1.0, "{read:?}");
    let untold = Light::find(&picture, Some(&neutral), &patches[..3]).expect("finds").value;
    assert_eq!(untold.tone, 1.0);
}

#[test]
fn patches_alone_give_the_light_and_wrong_ones_are_found_out() {
    let (picture, mut patches, _) = chart(0.0, 0.0);
    let light = Light::find(&picture, None, &patches[..5]).expect("finds").value;
    for (found, truth) in light.white.iter().zip([0.9, 0.8, 0.6]) {
        assert!((found / truth - 1.0).abs() < 0.02, "{:?}", light.white);
    }
    let first = patches[0].lab;
    (0..23).for_each(|i| patches[i].lab = patches[i + 1].lab);
    patches[23].lab = first;
    assert!(matches!(Light::find(&picture, None, &patches), Err(TargetError::PatchesContradict { .. })));
}

/// A reading like one from a photo, with its numbers set.
fn reading(lab: [f64; 3], own: f64, source: &str) -> ColourReading {
    static BASE: std::sync::LazyLock<ColourReading> = std::sync::LazyLock::new(|| {
        let scene = Scene { seed: 3, ..Scene::default() };
        let (picture, outline, neutral) = (scene.picture(), scene.outline(), scene.neutral());
        let (name, neutral) = ("base", Some(&neutral));
        let view = PartView { picture: &picture, name, outline: &outline, axis: None, focal_px: None, region: None, neutral, patches: &[] };
        read_part(&view).expect("reads").value
    });
    let square = |v: f64| [[v * v, 0.0, 0.0], [0.0, v * v, 0.0], [0.0, 0.0, v * v]];
    ColourReading { lab, own_covariance: square(own), covariance: square(own.hypot(1.0)), source: source.into(), ..BASE.clone() }
}

#[test]
fn several_photos_lessen_the_doubt_and_several_spots_only_their_own() {
    let spots: Vec<ColourReading> = (0..9).map(|i| reading([66.0 + 0.1 * f64::from(i % 3), -8.0, 8.0], 1.0, "one")).collect();
    let photos: Vec<ColourReading> =
        (0..9).map(|i| reading([66.0 + 0.1 * f64::from(i % 3), -8.0, 8.0], 1.0, &format!("photo {i}"))).collect();
    let (of_spots, of_photos) = (combine(&spots).expect("joins"), combine(&photos).expect("joins"));
    assert!((of_photos.value.lab[0] - 66.1).abs() < 0.01);
    // Nine independent readings of sigma sqrt(2): a third of it. Spots keep the camera's doubt, at least 0.5, whole.
    assert!((of_photos.value.sigma()[1] - 2f64.sqrt() / 3.0).abs() < 0.01, "{:?}", of_photos.value.sigma());
    assert!(of_spots.value.sigma()[1] > spots[0].camera_sigma, "{:?}", of_spots.value.sigma());
    assert!(of_spots.notes.is_empty() && of_photos.notes.is_empty());

    let torn = combine(&[reading([60.0, -8.0, 8.0], 0.3, "a"), reading([70.0, 4.0, 8.0], 0.3, "b")]).expect("joins");
    assert!(torn.notes.iter().any(|n| n.text.contains("disagree")));
    assert!(torn.value.sigma()[0] > 3.0);
    assert_eq!(combine(&[]), Err(TargetError::NoReadings));
}

#[test]
fn a_place_between_new_and_now_and_entered_drift() {
    let new = ColourEstimate::entered([70.0, -10.0, 4.0], [1.0, 0.5, 0.5]).expect("plain");
    let now = ColourEstimate::entered([62.0, -6.0, 12.0], [2.0, 1.0, 1.0]).expect("plain");
    assert_eq!(aged(&new, &now, 0.0).expect("in range"), new);
    assert_eq!(aged(&new, &now, 1.0).expect("in range"), now);
    let middle = aged(&new, &now, 0.5).expect("in range");
    assert_eq!(middle.lab, [66.0, -8.0, 8.0]);
    assert!((middle.sigma()[0] - (0.25f64 + 1.0).sqrt()).abs() < 1e-12);
    for bad in [-0.1, 1.1, f64::NAN] {
        assert!(matches!(aged(&new, &now, bad), Err(TargetError::BadNumber { .. })));
    }
    let cure = Drift { lab: [-0.5, 0.2, 1.5], sigma: [0.2, 0.1, 0.4], source: "three chips, first hour".into() };
    let aim = aim_for(&middle, std::slice::from_ref(&cure)).expect("plain");
    assert_eq!(aim.lab, [66.5, -8.2, 6.5]);
    assert!(aim.sigma()[2] > middle.sigma()[2]);
    assert_eq!(aim_for(&middle, &[]).expect("plain"), middle);
    assert!(aim_for(&middle, &[Drift { sigma: [f64::NAN; 3], ..cure }]).is_err());
    assert!(ColourEstimate::entered([50.0, 0.0, f64::INFINITY], [0.1; 3]).is_err());
}
