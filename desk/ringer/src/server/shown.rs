//! A sheet that was made, in the parts that pages ask for: each with a stamp by which a page says what it has.

use crate::chain::{Failure, Made};
use sheet::Fragments;
use std::ops::Deref;

/// The field of the result that holds the outlines.
const PHOTOS: &str = "photos";

/// A sheet with its parts.
pub(super) struct Shown {
    made: Made,
    /// Name of the piece on the page, stamp of its HTML.
    stamps: Vec<(&'static str, String)>,
    /// Name of the field of the result, stamp, JSON.
    fields: Vec<(String, String, String)>,
    /// Files that a person may want.
    pub files: Vec<&'static str>,
}

impl Shown {
    /// Works out stamps once, for all who will ask. What did not change since `before` is taken from there.
    ///
    /// # Errors
    /// The result can't be written as JSON; an error of ours.
    pub fn new(mut made: Made, before: Option<&Shown>) -> Result<Self, Failure> {
        let fragments = made.fragments.clone();
        let written = |(id, html): (&'static str, &str)| {
            let known = before.and_then(|before| before.pieces().find(|(other, _, text)| *other == id && *text == html));
            (id, known.map_or_else(|| stamp(html), |(_, stamp, _)| stamp.to_string()))
        };
        let stamps = pieces(&fragments).into_iter().map(written).collect();
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
        Ok(Shown { made, stamps, fields, files })
    }

    /// Name, stamp and HTML of each piece, in the order of the page.
    pub fn pieces(&self) -> impl Iterator<Item = (&'static str, &str, &str)> {
        self.stamps.iter().zip(pieces(&self.made.fragments)).map(|((id, stamp), (_, html))| (*id, stamp.as_str(), html))
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
fn pieces(fragments: &Fragments) -> Vec<(&'static str, &str)> {
    let before = [("photos", &fragments.photos), ("masthead", &fragments.masthead), ("contents", &fragments.contents)];
    let after = [("assumptions", &fragments.assumptions), ("cautions", &fragments.cautions), ("block", &fragments.block)];
    let stations = fragments.stations.iter().map(|(id, html)| (*id, html.as_str()));
    before
        .into_iter()
        .map(|(id, html)| (id, html.as_str()))
        .chain(stations)
        .chain(after.into_iter().map(|(id, html)| (id, html.as_str())))
        .collect()
}
