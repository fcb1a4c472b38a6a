//! A sheet that was made, in the parts that pages ask for: each with a stamp by which a page says what it has.

use crate::chain::{Failure, Made};
use sheet::{Fragments, Part, Place};
use std::ops::Deref;
use std::sync::Arc;

/// The field of the result that holds the outlines.
const PHOTOS: &str = "photos";

/// A sheet with its parts.
pub(super) struct Shown {
    made: Made,
    /// In the order of the page.
    pieces: Vec<Piece>,
    /// Name of the field of the result, stamp, JSON.
    fields: Vec<(String, String, String)>,
    /// Files that a person may want.
    pub files: Vec<&'static str>,
}

/// A piece of the page.
pub(super) struct Piece {
    /// Its name.
    pub id: &'static str,
    /// Stamp of all of it.
    pub stamp: String,
    /// Its HTML, or its parts.
    pub holds: Holds,
}

/// What a piece is made of.
pub(super) enum Holds {
    /// It is swapped whole.
    Whole(String),
    /// A station's section, swapped part by part: stamp and part.
    Parts(Vec<(String, Part)>),
}

impl Piece {
    /// All of it.
    pub fn html(&self) -> String {
        match &self.holds {
            Holds::Whole(html) => html.clone(),
            Holds::Parts(parts) => sheet::section_html(self.id, &parts.iter().map(|(_, part)| part.clone()).collect::<Vec<_>>()),
        }
    }

    fn whole(id: &'static str, html: &str) -> Self {
        Piece { id, stamp: stamp(html), holds: Holds::Whole(html.into()) }
    }

    /// Stamps of parts that are the very same text as `before` are taken from there.
    fn of_station(id: &'static str, parts: &[Part], before: Option<&Shown>) -> Self {
        let old = before.and_then(|before| before.pieces.iter().find(|piece| piece.id == id)).map(|piece| &piece.holds);
        let known = |part: &Part| match old {
            Some(Holds::Parts(old)) => old.iter().find(|(_, one)| Arc::ptr_eq(&one.html, &part.html)).map(|(stamp, _)| stamp.clone()),
            _ => None,
        };
        let parts: Vec<_> = parts.iter().map(|part| (known(part).unwrap_or_else(|| stamp(&part.html)), part.clone())).collect();
        let all: String = parts.iter().map(|(stamp, part)| format!("{}{stamp}", place(part.place))).collect();
        Piece { id, stamp: stamp(&all), holds: Holds::Parts(parts) }
    }
}

/// Where a part stands, as the page calls it.
pub(super) fn place(place: Place) -> &'static str {
    match place {
        Place::Head => "head",
        Place::Body => "body",
        Place::Foot => "foot",
    }
}

impl Shown {
    /// Works out stamps once, for all who will ask. What did not change since `before` is taken from there.
    ///
    /// # Errors
    /// The result can't be written as JSON; an error of ours.
    pub fn new(mut made: Made, before: Option<&Shown>) -> Result<Self, Failure> {
        let pieces = pieces(&made.fragments, before);
        // How long a photo took is no part of what a page shows: with it, nothing would ever be as it was.
        made.result.photos.iter_mut().for_each(|photo| photo.seconds = None);
        let known = before.filter(|before| before.made.result.photos == made.result.photos);
        let known = known.and_then(|before| before.fields.iter().find(|field| field.0 == PHOTOS));
        let unwritten = |e: serde_json::Error| Failure::Ours(format!("error: the result could not be written as JSON: {e}"));
        // Outlines are nine tenths of a result: they are not written again.
        let photos = if known.is_some() { std::mem::take(&mut made.result.photos) } else { Vec::new() };
        let value = serde_json::to_value(&made.result).map_err(unwritten)?;
        if known.is_some() {
            made.result.photos = photos;
        }
        let serde_json::Value::Object(result) = value else {
            return Err(Failure::Ours("error: the result is no JSON object".into()));
        };
        let fields = result
            .into_iter()
            .map(|(name, value)| match known {
                Some(known) if name == PHOTOS => known.clone(),
                _ => {
                    let json = value.to_string();
                    (name, stamp(&json), json)
                }
            })
            .collect();
        let files = made.offered();
        Ok(Shown { made, pieces, fields, files })
    }

    /// The pieces, in the order of the page.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Name, stamp and JSON of each field of the result.
    pub fn fields(&self) -> impl Iterator<Item = (&str, &str, &str)> {
        self.fields.iter().map(|(name, stamp, json)| (name.as_str(), stamp.as_str(), json.as_str()))
    }
}

impl Deref for Shown {
    type Target = Made;

    fn deref(&self) -> &Made {
        &self.made
    }
}

/// FNV-1a, 64 bits: tells parts apart on one page; nobody gains by making two alike.
fn stamp(text: &str) -> String {
    let hash = text.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3));
    format!("{hash:016x}")
}

/// The pieces in the order of the page.
fn pieces(fragments: &Fragments, before: Option<&Shown>) -> Vec<Piece> {
    let first = [("photos", &fragments.photos), ("masthead", &fragments.masthead), ("contents", &fragments.contents)];
    let last = [("assumptions", &fragments.assumptions), ("cautions", &fragments.cautions), ("block", &fragments.block)];
    let stations = fragments.stations.iter().map(|(id, parts)| Piece::of_station(id, parts, before));
    let whole = |list: [(&'static str, &String); 3]| list.map(|(id, html)| Piece::whole(id, html));
    whole(first).into_iter().chain(stations).chain(whole(last)).collect()
}
