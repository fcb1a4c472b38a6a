//! Files beside the part itself: the fit test piece with its list.

use export::Material;
use job::document::Document;
use result::JobResult;
use solid::FitTest;

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
        "fit-test.3mf" | "fit-test.txt" => fit_test(document, result).is_some(),
        _ => false,
    }
}

/// The bytes of such a file.
pub(super) fn bytes(name: &str, document: &Document, result: &JobResult, material: &Material) -> Option<Result<Vec<u8>, String>> {
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
    text += "\nWash and cure it as the parts will be. Try the shaft or gauge pins in each bore, deepest pads last, and measure each bore.\n\
             Write what was measured into bench.toml, one entry a bore:\n\n";
    let process = result.bench.as_ref().map(|bench| bench.process.clone());
    let process = process.or_else(|| document.resin.as_ref().map(|resin| resin.name.clone())).unwrap_or_else(|| "printed".into());
    for bore_mm in test.bores_mm() {
        text += &format!("[[size]]\nprocess = {process:?}\nkind = \"bore\"\ndrawn_mm = {bore_mm:.3}\nmade_mm = \n\n");
    }
    text
}
