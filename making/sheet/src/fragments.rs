use crate::page::{assumptions, block, cautions, contents, figures, masthead, parts_of, title_block};
use crate::station::{Block, Station};
use crate::{JobSheet, all};
use ink::{photos_in, photos_on_page};
use rayon::prelude::*;
use std::sync::Arc;

/// Where a part stands in its section.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Before the body: margin and head.
    Head,
    /// In the body: pictures, tables, words, what is wanted.
    Body,
    /// After it: assumptions and doubts.
    Foot,
}

/// A part of a station's section, one element: what did not change need not be sent, read or drawn again.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Where it stands.
    pub place: Place,
    /// Its HTML. A block that stayed as it was is the very same text.
    pub html: Arc<str>,
}

/// The sheet in the pieces that a live page swaps when their text changes. Put together in this order they are the body of [`crate::html`].
#[derive(Clone, Debug, PartialEq)]
pub struct Fragments {
    /// Photos that the pictures refer to.
    pub photos: String,
    /// Title and what the sheet is.
    pub masthead: String,
    /// The folded sheet.
    pub contents: String,
    /// Each station's section in parts, by its id; [`crate::section_html`] puts them together.
    pub stations: Vec<(&'static str, Vec<Part>)>,
    /// Assumptions.
    pub assumptions: String,
    /// Cautions.
    pub cautions: String,
    /// The title block.
    pub block: String,
    /// What the sections were written from, and the HTML of their blocks.
    written: Vec<(Station, Vec<Arc<str>>)>,
}

/// The sheet in pieces. Same sheet, same bytes: blocks that stand in `before`, too, are taken from there, which saves time and changes nothing.
pub fn fragments(sheet: &JobSheet, before: Option<&Fragments>) -> Fragments {
    let stations = all(sheet);
    let photos = shared_photos(&stations, before);
    let contents = contents(&stations).into_string();
    let old = |id: &str| before.and_then(|before| before.written.iter().find(|(station, _)| station.id == id));
    let written: Vec<(Station, Vec<Arc<str>>)> = stations
        .into_par_iter()
        .map(|station| {
            let blocks = written(&station.blocks, old(station.id));
            (station, blocks)
        })
        .collect();
    Fragments {
        photos,
        masthead: masthead(sheet).into_string(),
        contents,
        stations: written.iter().map(|(station, blocks)| (station.id, parts_of(station, blocks))).collect(),
        assumptions: assumptions(sheet).into_string(),
        cautions: cautions(sheet).into_string(),
        block: title_block(sheet).into_string(),
        written,
    }
}

/// HTML of each block; one that stands in the section as it was is not written anew.
fn written(blocks: &[Block], old: Option<&(Station, Vec<Arc<str>>)>) -> Vec<Arc<str>> {
    let known = |n: usize, one: &Block| {
        let (station, html) = old?;
        // Most stand where they stood; after one that came or went they have moved.
        let at = if station.blocks.get(n) == Some(one) { n } else { station.blocks.iter().position(|other| other == one)? };
        html.get(at).cloned()
    };
    blocks.par_iter().enumerate().map(|(n, one)| known(n, one).unwrap_or_else(|| block(one).into_string().into())).collect()
}

fn shared_photos(stations: &[Station], before: Option<&Fragments>) -> String {
    let drawn = figures(stations.iter());
    let same = |before: &&Fragments| photos_in(&figures(before.written.iter().map(|(station, _)| station))) == photos_in(&drawn);
    before.filter(same).map_or_else(|| photos_on_page(&drawn), |before| before.photos.clone())
}
