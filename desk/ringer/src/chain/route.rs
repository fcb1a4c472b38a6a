//! What the chosen way of making asks for: printed, cast or turned.

mod cast;
mod flat;
mod print;
mod turn;

use super::evidence::Evidence;
use job::document::{self, Route};
use result::{JobResult, RouteFact};
use solid::Body;

/// Works out the facts of the route and lays them beside the body.
pub(super) fn work_out(evidence: &Evidence, wanted: &document::Body, body: &Body, sheet: &mut JobResult) {
    let route = wanted.route.unwrap_or_default();
    let told = match route {
        Route::Print => print::facts(evidence, wanted, body, sheet),
        Route::Cast => cast::facts(evidence, wanted, body, sheet),
        Route::Turn => turn::facts(wanted, body, sheet),
    };
    if let Some(result) = &mut sheet.body {
        result.route = Some(told);
    }
}

pub(super) use cast::master_factor;
pub(super) use flat::work_out as work_out_flat;
pub(super) use print::factor as print_factor;

fn fact(what: &str, value: impl Into<String>, note: impl Into<String>) -> RouteFact {
    RouteFact { what: what.into(), value: value.into(), note: note.into() }
}

/// A number with so many places, without idle noughts.
fn short(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}
