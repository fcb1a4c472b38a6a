//! The body station, remembered. It is given a document without the lines that are none of its business: what can't be read can't be missing in the
//! key by which its answer is kept.

use super::body;
use super::evidence::Evidence;
use super::memory::Memory;
use job::document::{Document, Route};
use meridian::Meridian;
use result::JobResult;
use solid::Body;
use std::collections::BTreeMap;

/// What the station came to: the body, and what it told.
pub struct BodyWork {
    body: Option<Body>,
    told: JobResult,
}

pub(super) fn work_out(evidence: &Evidence, meridian: &Meridian, sheet: &mut JobResult, memory: &mut Memory) -> Option<Body> {
    let document = of_the_body(&evidence.document);
    let before = JobResult {
        bench: sheet.bench.clone(),
        dimensions: sheet.dimensions.clone(),
        assumptions: sheet.assumptions.clone(),
        ..JobResult::default()
    };
    let key = format!("{document:?} {:?} {meridian:?} {before:?}", evidence.bench);
    let work = memory.bodies.get(key, || {
        let evidence = Evidence { document, photos: Vec::new(), spectra: BTreeMap::new(), bench: evidence.bench.clone(), shelf: None };
        let mut told = before.clone();
        let body = body::work_out(&evidence, meridian, &mut told);
        told.assumptions.drain(..before.assumptions.len());
        BodyWork { body, told }
    });
    let told = work.told.clone();
    sheet.missing.extend(told.missing);
    sheet.warnings.extend(told.warnings);
    sheet.assumptions.extend(told.assumptions);
    sheet.body = told.body;
    work.body.clone()
}

/// The document without colour, pot and check, and without the run unless a mix is worked out for it.
fn of_the_body(document: &Document) -> Document {
    let mut own = document.clone();
    own.reading.clear();
    own.colourant.clear();
    own.sample.clear();
    own.book.clear();
    own.strip.clear();
    own.check.clear();
    (own.target, own.tools, own.scale_up, own.lamp) = (None, None, None, None);
    if document.body.as_ref().and_then(|body| body.route) != Some(Route::Cast) {
        own.run = None;
    }
    own
}
