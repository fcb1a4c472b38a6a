use crate::page::{assumptions, cautions, contents, masthead, section, shared_photos, title_block};
use crate::{JobSheet, all};
use rayon::prelude::*;

/// The sheet in the pieces that a live page swaps when their text changes. Put together in this order they are the body of [`crate::html`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fragments {
    /// Photos that the pictures refer to.
    pub photos: String,
    /// Title and what the sheet is.
    pub masthead: String,
    /// The folded sheet.
    pub contents: String,
    /// Each station's section, by its id.
    pub stations: Vec<(&'static str, String)>,
    /// Assumptions.
    pub assumptions: String,
    /// Cautions.
    pub cautions: String,
    /// The title block.
    pub block: String,
}

/// The sheet in pieces. Same sheet, same bytes.
pub fn fragments(sheet: &JobSheet) -> Fragments {
    let stations = all(sheet);
    Fragments {
        photos: shared_photos(&stations).into_string(),
        masthead: masthead(sheet).into_string(),
        contents: contents(&stations).into_string(),
        stations: stations.par_iter().map(|station| (station.id, section(station).into_string())).collect(),
        assumptions: assumptions(sheet).into_string(),
        cautions: cautions(sheet).into_string(),
        block: title_block(sheet).into_string(),
    }
}
