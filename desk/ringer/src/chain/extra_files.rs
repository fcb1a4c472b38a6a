//! Files beside the part itself: the fit test piece with its list, the master of a casting, a whole plate.

use super::route::{master_factor, print_factor};
use export::{Material, Placed};
use job::document::{Document, Route};
use result::JobResult;
use solid::{Body, DEFAULT_TRIANGLE_LIMIT, FitTest, MarkPlace, Mesh, Plate, SolidError, Stance};

/// Steps and number of bores where the document does not say: the row then spans the usual offset of an unmeasured printer both ways.
const USUAL_STEP_MM: f64 = 0.05;
const USUAL_COUNT: u32 = 7;
/// Bores deeper than this fit no differently (common practice, no source), mm.
const DEEPEST_MM: f64 = 10.0;
/// Greatest distance of the bores from their circles, mm.
const CHORD_MM: f64 = 0.002;

/// Whether such a file can be made.
pub(super) fn has(name: &str, document: &Document, result: &JobResult) -> bool {
    match name {
        "fit-test.3mf" | "fit-test.txt" => document.flat.is_none() && fit_test(document, result).is_some(),
        "master.3mf" | "master.stl" => result.body.is_some() && route(document) == Route::Cast,
        "plate.3mf" => {
            let places = result.run.as_ref().map_or(0, |run| run.places_mm.len());
            result.body.is_some() && route(document) == Route::Print && places > 0
        }
        _ => false,
    }
}

/// A part to be made, and how near its mesh keeps to it.
#[derive(Clone, Copy)]
pub(super) enum Part<'a> {
    Turned(&'a Body, f64),
    Flat(&'a Plate, f64),
}

impl Part<'_> {
    /// Its mesh, larger by a factor.
    fn mesh(self, factor: f64) -> Result<Mesh, SolidError> {
        match self {
            Part::Turned(body, chord_mm) => body.scaled(factor)?.mesh(chord_mm, DEFAULT_TRIANGLE_LIMIT),
            Part::Flat(plate, chord_mm) => plate.scaled(factor)?.mesh(chord_mm),
        }
    }
}

/// As the route has it stand on the plate, its lowest place at 0; upright on its rod end where it says nothing.
fn stood(mesh: &Mesh, result: &JobResult) -> Mesh {
    let told = result.body.as_ref().and_then(|body| body.route.as_ref()).and_then(|route| route.stance.as_ref());
    let toward_plate = if told.is_none_or(|told| told.rod_end_down) { MarkPlace::RodEnd } else { MarkPlace::FreeEnd };
    let lean_deg = told.map_or(0.0, |told| told.lean_deg);
    Stance { toward_plate, lean_deg, seen_mm2: 0.0, hidden_mm2: 0.0, height_mm: 0.0, footprint_mm: 0.0 }.stood(mesh)
}

/// The bytes of such a file.
pub(super) fn bytes(
    name: &str,
    document: &Document,
    result: &JobResult,
    part: Part,
    material: &Material,
) -> Option<Result<Vec<u8>, String>> {
    if !has(name, document, result) {
        return None;
    }
    let larger = |factor: f64| part.mesh(factor).map_err(|e| e.to_string());
    match name {
        "master.stl" => {
            return Some(
                larger(master_factor(document).0)
                    .and_then(|mesh| export::stl(&mesh, &format!("master, {}", document.title)).map_err(|e| e.to_string())),
            );
        }
        "master.3mf" => {
            return Some(larger(master_factor(document).0).and_then(|mesh| {
                let title = format!("Master, {}", document.title);
                export::threemf(&mesh, &title, material, &[Placed::default()]).map_err(|e| e.to_string())
            }));
        }
        "plate.3mf" => {
            let places = &result.run.as_ref()?.places_mm;
            let copies: Vec<Placed> = places.iter().map(|[x, y]| Placed { at_mm: [*x, *y, 0.0] }).collect();
            return Some(
                larger(print_factor(document, result).unwrap_or(1.0))
                    .and_then(|mesh| export::threemf(&stood(&mesh, result), &document.title, material, &copies).map_err(|e| e.to_string())),
            );
        }
        _ => {}
    }
    let test = fit_test(document, result)?;
    match name {
        "fit-test.3mf" => Some(test.mesh(CHORD_MM).map_err(|e| e.to_string()).and_then(|mesh| {
            let title = format!("Fit test piece, {}", document.title);
            export::threemf(&mesh, &title, material, &[export::Placed::default()]).map_err(|e| e.to_string())
        })),
        "fit-test.txt" => Some(Ok(list(&test, document, result).into_bytes())),
        _ => None,
    }
}

fn route(document: &Document) -> Route {
    document.body.as_ref().and_then(|body| body.route).unwrap_or_default()
}

/// The row of bores about the one that is drawn, as deep as it.
fn fit_test(document: &Document, result: &JobResult) -> Option<FitTest> {
    let asked = document.body.as_ref()?.fit_test.as_ref()?;
    let bore = result.body.as_ref()?.bore.as_ref()?;
    let step_mm = asked.step.as_ref().map_or(USUAL_STEP_MM, |step| step.mm);
    let test = FitTest::around(bore.diameter_mm, step_mm, asked.count.unwrap_or(USUAL_COUNT), bore.depth_mm.min(DEEPEST_MM));
    test.mesh(0.1).ok().map(|_| test)
}

fn list(test: &FitTest, document: &Document, result: &JobResult) -> String {
    let mut text = format!("Fit test piece for {}\n\nPads  drawn bore, mm\n", document.title);
    for (index, bore_mm) in test.bores_mm().iter().enumerate() {
        text += &format!("{:>4}  {bore_mm:.3}\n", index + 1);
    }
    if let Some(fit) = result.body.as_ref().and_then(|body| body.bore.as_ref()).map(|bore| &bore.fit) {
        text += &format!("\nMeant for the part: {fit}.\n");
    }
    text += "\nThe file is true to these sizes: it is not sent larger for shrinkage, so that shrinkage can be learnt from it.\n\
             Wash and cure it as the parts will be. Try the shaft or gauge pins in each bore, the one with most pads last, and measure each bore and the bar's length and width:\n\
             outer sizes tell shrinkage from the bores' own offset. Write what was measured into bench.toml, one entry a size:\n\n";
    let process = result.bench.as_ref().map(|bench| bench.process.clone());
    let process = process.or_else(|| document.resin.as_ref().map(|resin| resin.name.clone())).unwrap_or_else(|| "printed".into());
    for bore_mm in test.bores_mm() {
        text += &format!("[[size]]\nprocess = {process:?}\nkind = \"bore\"\ndrawn_mm = {bore_mm:.3}\nmade_mm = \n\n");
    }
    for outer_mm in test.size_mm() {
        text += &format!("[[size]]\nprocess = {process:?}\nkind = \"outer\"\ndrawn_mm = {outer_mm:.3}\nmade_mm = \n\n");
    }
    text
}
