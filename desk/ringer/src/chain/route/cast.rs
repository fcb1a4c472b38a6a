//! Cast in a mould taken from a master: parting, undercuts and draft; how much larger the master is; silicone, resin and its mix.

use super::super::Says;
use super::super::evidence::Evidence;
use super::{fact, short};
use job::document::{self, CastMaterial, Document};
use result::{JobResult, RouteFact, RouteResult};
use sizes::tables::shrinkages;
use solid::{Body, LEAST_DRAFT_DEG};

/// Silicone round a part, mm (common practice, no source).
const USUAL_WALL_MM: f64 = 10.0;
/// Density of rigid polyurethane, g/mL (common practice, no source).
const USUAL_DENSITY: f64 = 1.1;
/// Density of moulding silicone, g/mL (common practice, no source).
const SILICONE_DENSITY: f64 = 1.15;
/// Sprue and what sticks to cups, as a share of the parts (common practice, no source).
const SPRUE_SHARE: f64 = 0.25;
/// Least mix whose components are weighed true, g (trade table `casting_practice`: below about 85 g ratio errors grow).
const LEAST_MIX_G: f64 = 85.0;

/// By how much the master is larger than the part, with its standard doubt: resin and mould shrink, each even within its range.
pub fn master_factor(document: &Document) -> (f64, f64) {
    let cast = document.body.as_ref().and_then(|body| body.cast.as_ref());
    let given = cast.and_then(|cast| cast.shrinkage_percent).map(|range| range.map(|percent| percent / 100.0));
    let resin = given.unwrap_or_else(|| table_range(material(cast).0).unwrap_or([0.0, 0.0]));
    let silicone = table_range("silicone, addition cure").unwrap_or([0.0, 0.0]);
    let middle = |range: [f64; 2]| 0.5 * (range[0] + range[1]);
    let sigma = |range: [f64; 2]| (range[1] - range[0]) / 12.0_f64.sqrt();
    let factor = 1.0 / ((1.0 - middle(resin)) * (1.0 - middle(silicone)));
    (factor, factor * sigma(resin).hypot(sigma(silicone)))
}

/// The material's name in the table of shrinkages, and as it is spoken of.
fn material(cast: Option<&document::Cast>) -> (&'static str, &'static str) {
    match cast.and_then(|cast| cast.material).unwrap_or_default() {
        CastMaterial::Polyurethane => ("cast polyurethane rigid", "rigid polyurethane"),
        CastMaterial::Epoxy => ("cast epoxy", "epoxy"),
        CastMaterial::Polyester => ("polyester casting resin", "polyester"),
    }
}

fn table_range(material: &str) -> Option<[f64; 2]> {
    shrinkages().into_iter().find(|row| row.material == material).map(|row| [row.low, row.high])
}

pub(super) fn facts(evidence: &Evidence, wanted: &document::Body, body: &Body, sheet: &mut JobResult) -> RouteResult {
    let cast = wanted.cast.as_ref();
    let mut facts = mould(body, sheet);
    facts.push(larger(evidence, cast, sheet));
    // The master fills the mould with its bore stopped.
    let outside_mm3 = solid::swept(body.outer()).volume_mm3;
    facts.extend(amounts(evidence, cast, body.bounds_mm(), [outside_mm3, body.volume_mm3()], sheet));
    RouteResult { name: "cast".into(), facts, stance: None, diameters_mm: Vec::new() }
}

/// By how much the master is larger than the part.
pub(super) fn larger(evidence: &Evidence, cast: Option<&document::Cast>, sheet: &mut JobResult) -> RouteFact {
    let (factor, sigma) = master_factor(&evidence.document);
    let basis = match cast.and_then(|cast| cast.shrinkage_percent) {
        Some([low, high]) => format!("{low} to {high} % as job.toml says"),
        None => format!("{} by the trade table", material(cast).1),
    };
    let told = fact(
        "master larger by",
        format!("{factor:.4} \u{b1} {sigma:.4}"),
        format!("shrinkage of {basis}, of an addition-cure silicone 0 to 0.1 %; out/master.stl and out/master.3mf are"),
    );
    if cast.and_then(|cast| cast.shrinkage_percent).is_none() {
        sheet.assume(
            "body",
            format!("The casting resin is {} and shrinks as the trade table says.", material(cast).1),
            "[body] cast shrinkage_percent",
        );
    }
    told
}

/// Where the mould parts and what holds it.
fn mould(body: &Body, sheet: &mut JobResult) -> Vec<RouteFact> {
    let pull = body.pull();
    let mut facts = vec![fact(
        "parting line",
        format!("{:.2} mm from the rod end", pull.parting_z_mm),
        "the middle of the widest stretch, square to the axis",
    )];
    if pull.undercuts_mm.is_empty() {
        facts.push(fact("undercuts", "none", "both halves come off along the axis"));
    } else {
        let list: Vec<String> = pull.undercuts_mm.iter().take(6).map(|[first, last]| format!("{first:.1} to {last:.1}")).collect();
        facts.push(fact(
            "undercuts",
            format!("{} mm", list.join(", ")),
            "heavy on the section: a rigid mould is held; silicone stretches over small ones, or part the mould along the axis instead",
        ));
        sheet.warn(
            "body",
            None,
            format!("A mould parted square to the axis is held by undercuts at {} mm.", list.join(", ")),
            "Use a soft silicone mould, or part it along the axis and let the seam be dressed.",
        );
    }
    let draft = pull.least_draft_deg.map_or_else(|| "no sides".to_string(), |deg| format!("{deg:.2}\u{b0}"));
    let note = match pull.least_draft_deg {
        Some(deg) if deg < LEAST_DRAFT_DEG => {
            "under 0.5\u{b0}: pull from soft silicone with a release agent, or add draft (0.5\u{b0} at least, 1\u{b0} usual)"
        }
        _ => "0.5\u{b0} at least, 1\u{b0} usual (moulders' rules)",
    };
    facts.push(fact("least draft", draft, note));
    if !pull.undrafted_mm.is_empty() {
        let list: Vec<String> = pull.undrafted_mm.iter().take(6).map(|[first, last]| format!("{first:.1} to {last:.1}")).collect();
        facts.push(fact(
            "sides without draft",
            format!("{} mm", list.join(", ")),
            format!("dashes beside the outline on the section; less than {LEAST_DRAFT_DEG}\u{b0} each"),
        ));
    }
    facts.push(fact("bore", "cast round a pin, or drilled after", "a greased pin of the bore's size stands in the mould's rod end"));
    facts
}

/// Silicone for the mould, resin for the parts, and its two components by weight.
pub(super) fn amounts(
    evidence: &Evidence,
    cast: Option<&document::Cast>,
    [low, high]: [[f64; 3]; 2],
    [outside_mm3, part_mm3]: [f64; 2],
    sheet: &mut JobResult,
) -> Vec<RouteFact> {
    let wall_mm = cast.and_then(|cast| cast.mould_wall.as_ref()).map_or(USUAL_WALL_MM, |wall| wall.mm);
    let box_mm3: f64 = (0..3).map(|i| high[i] - low[i] + 2.0 * wall_mm).product();
    let silicone_ml = (box_mm3 - outside_mm3) * 1e-3;
    let parts = evidence.document.run.as_ref().map_or(1, |run| run.wanted);
    let part_ml = part_mm3 * 1e-3;
    let resin_ml = f64::from(parts) * part_ml * (1.0 + SPRUE_SHARE);
    let said = cast.and_then(|cast| cast.density_g_ml).or(evidence.document.resin.as_ref().and_then(|resin| resin.density_g_ml));
    let density = said.unwrap_or(USUAL_DENSITY);
    let resin_g = resin_ml * density;
    let [a, b] = cast.and_then(|cast| cast.mix).unwrap_or([100.0, 100.0]);
    if cast.and_then(|cast| cast.mix).is_none() {
        sheet.assume("body", "The two components are mixed in equal weights; makers differ.", "[body] cast mix");
    }
    if said.is_none() {
        sheet.assume("body", format!("The cured resin weighs {USUAL_DENSITY} g/mL."), "[body] cast density_g_ml");
    }
    if resin_g < LEAST_MIX_G {
        sheet.warn(
            "body",
            None,
            format!("The mix of {resin_g:.0} g is small: under about {LEAST_MIX_G:.0} g errors of the ratio grow and the cure is slow."),
            "Weigh to 0.1 g, or cast several at once.",
        );
    }
    vec![
        fact(
            "silicone",
            format!("{} mL, {} g", short(silicone_ml, 0), short(silicone_ml * SILICONE_DENSITY, 0)),
            format!("a box {} mm wider all round, at {SILICONE_DENSITY} g/mL (common practice)", short(wall_mm, 1)),
        ),
        fact(
            "resin",
            format!("{} mL, {} g", short(resin_ml, 1), short(resin_g, 1)),
            format!("{parts} of {} mL and {:.0} % for sprue and cups (common practice)", short(part_ml, 2), 100.0 * SPRUE_SHARE),
        ),
        fact(
            "weigh",
            format!("{} g + {} g", short(resin_g * a / (a + b), 1), short(resin_g * b / (a + b), 1)),
            format!("{} : {} by weight, within 1 %; the maker's sheet governs", short(a, 1), short(b, 1)),
        ),
    ]
}
