use super::{bare, picture, want, why_missing};
use crate::JobSheet;
use crate::pictures;
use crate::station::{Block, Cell, Station, Table};
use crate::words::{bounded, doubted, percent, plain};
use result::{Doubted, PhotoResult};

/// What shape is it truly? The profile that throws those outlines, with parallax and tilt taken out.
pub fn profile(sheet: &JobSheet) -> Station {
    let found = sheet.result.profile.as_ref();
    let mut station = bare(sheet, "profile", "What shape is it truly?", found.is_some_and(|profile| !profile.points.is_empty()));
    let Some(profile) = found else {
        station.blocks = why_missing(sheet, "profile");
        station.wants.push(want(
            "At least one photo with a rod of known size in it. Two photos from different distances or tilts tell length and tilt apart.",
            "[[known]]\nname = \"shaft\"\nvalue = \"1/4 in\"\n\n[[photo]]\nname = \"front\"\nfile = \"photos/front.jpg\"\nshaft = \"shaft\"",
        ));
        return station;
    };
    station.answer = answer(sheet, profile);
    station.blocks.extend(picture(
        |width| pictures::profile(profile, width),
        "Profile, parallax and tilt taken out. Above the axis what the photos say, below it what is to be made.",
    ));
    station.blocks.extend(picture(|width| pictures::deviation(profile, width), "Measured less meant, in mm, square to the profile. The band is the doubt (95 in 100): where it leaves zero, photos and meant sizes differ."));
    station.blocks.extend(pose_table(&sheet.result.photos).map(Block::Table));
    station
}

fn answer(sheet: &JobSheet, profile: &result::ProfileResult) -> String {
    let greatest = |k: usize| profile.points.iter().map(|p| p[k]).filter(|v| v.is_finite()).fold(0.0, f64::max);
    // The named size closes a dome that no photo shows whole; the points end where the photos end.
    let named = |name: &str| sheet.result.dimensions.iter().find(|size| size.name == name).map(|size| size.value_mm);
    let length = named("overall length").unwrap_or_else(|| greatest(0));
    let unseen = profile.seen.iter().filter(|seen| !**seen).count();
    let seen =
        if unseen == 0 { "seen all along".into() } else { format!("{} seen", percent(1.0 - unseen as f64 / profile.seen.len() as f64)) };
    format!("{}\u{a0}mm long, {} across, {seen}", plain(length, 1), plain(2.0 * greatest(1), 1))
}

fn pose_table(photos: &[PhotoResult]) -> Option<Table> {
    let said = |number: &Option<Doubted>, unit: &str| {
        number.map_or_else(|| "\u{2013}".into(), |n| format!("{}\u{a0}{unit}", doubted(n.value, n.sigma)))
    };
    let row = |photo: &PhotoResult| {
        vec![
            Cell::words(bounded(&photo.name, 60)),
            Cell::number(said(&photo.tilt_deg, "\u{b0}")),
            Cell::number(said(&photo.distance_mm, "mm")),
            Cell::number(said(&photo.focal_px, "px")),
        ]
    };
    (!photos.is_empty()).then(|| Table {
        caption: "Where the camera stood".into(),
        columns: ["photo", "tilt, free end away", "distance", "focal length"].map(String::from).into(),
        shares: vec![0.22, 0.28, 0.25, 0.25],
        rows: photos.iter().take(40).map(row).collect(),
    })
}
