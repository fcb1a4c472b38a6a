//! One function a station, in the job's order.

mod body;
mod check;
mod colour;
mod evidence;
mod outline;
mod pot;
mod pot_book;
mod profile;
mod run;
mod sizes;
mod vat;

pub use body::body;
pub use check::check;
pub use colour::colour;
pub use evidence::evidence;
pub(crate) use evidence::reading_words;
pub use outline::outline;
pub use pot::pot;
pub use profile::profile;
pub use run::run;
pub use sizes::sizes;

use crate::JobSheet;
use crate::pictures::{NARROW_MM, WIDE_MM};
use crate::station::{Block, Doubt, State, Station, Want};
use crate::words::bounded;
use ink::Figure;
use rayon::prelude::*;

/// From here on a size that was taken is said to contradict the photos: 3 sigma, which chance alone exceeds 3 times in 1000.
const AGAINST_SIGMAS: f64 = 3.0;

/// Whether the size that was taken can't be what the photos show.
pub(crate) fn is_contradicted(size: &result::Dimension) -> bool {
    size.chosen.is_some() && size.against_sigmas.is_some_and(|off| off.abs() > AGAINST_SIGMAS)
}

/// Names of the stations, also their addresses on the page.
const IDS: [&str; 9] = ["evidence", "outline", "profile", "sizes", "body", "colour", "pot", "run", "check"];

/// Most characters of a text from outside.
pub(crate) const LONGEST: usize = 600;

/// What draws a station.
type Draw = fn(&JobSheet) -> Station;

/// All stations in the job's order, side by side: they read the same results and know nothing of each other.
pub fn all(sheet: &JobSheet) -> Vec<Station> {
    let each: [Draw; 9] = [evidence, outline, profile, sizes, body, colour, pot, run, check];
    each.par_iter().map(|draw| draw(sheet)).collect()
}

/// A station without content: its number, its state by what is missing and assumed, its doubts.
fn bare(sheet: &JobSheet, id: &'static str, question: &'static str, answered: bool) -> Station {
    let number = IDS.iter().position(|known| *known == id).map_or(0, |n| n + 1);
    let assumed = assumed_by(sheet, id);
    let state = match (answered, !assumed.is_empty()) {
        (false, _) => State::Waiting,
        (true, true) => State::Assumed,
        (true, false) => State::Answered,
    };
    let mut doubts = doubts_of(sheet, id);
    doubts.truncate(12);
    Station { id, number, question, state, answer: "not yet".into(), blocks: Vec::new(), assumed, doubts, wants: Vec::new() }
}

fn assumed_by(sheet: &JobSheet, id: &str) -> Vec<[String; 2]> {
    let own = sheet.result.assumptions.iter().filter(|assumption| assumption.station == id);
    own.take(12).map(|assumption| [bounded(&assumption.text, LONGEST), bounded(&assumption.switch, 120)]).collect()
}

/// Warnings of a station; those of no known station are told with the evidence.
fn doubts_of(sheet: &JobSheet, id: &str) -> Vec<Doubt> {
    let belongs = |station: &str| station == id || (id == "evidence" && !IDS.contains(&station));
    let warnings = sheet.result.warnings.iter().filter(|warning| belongs(&warning.station));
    warnings
        .map(|warning| {
            let place = warning.photo.as_ref().map_or_else(String::new, |photo| format!("photo {}: ", bounded(photo, 60)));
            Doubt { text: bounded(&format!("{place}{}", warning.text), LONGEST), settle: bounded(&warning.settle, LONGEST) }
        })
        .collect()
}

/// Why a station has no answer, as the result says it.
fn why_missing(sheet: &JobSheet, id: &str) -> Vec<Block> {
    let of_id = |text: &String| text.split_once(':').filter(|(station, _)| station.trim() == id).map(|(_, why)| why.trim().to_string());
    sheet.result.missing.iter().filter_map(of_id).take(8).map(|why| Block::Words(crate::words::sentence(&bounded(&why, LONGEST)))).collect()
}

fn want(text: &str, example: &str) -> Want {
    Want { text: text.into(), example: example.into() }
}

/// A picture drawn for both widths.
fn picture(draw: impl Fn(f64) -> Option<Figure>, caption: impl Into<String>) -> Option<Block> {
    Some(Block::Picture { wide: draw(WIDE_MM)?, narrow: draw(NARROW_MM), caption: caption.into() })
}
