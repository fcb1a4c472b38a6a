use result::JobResult;
use std::fmt::Write;
use std::path::Path;

/// The job in a dozen lines for a terminal: answers with their doubt, then what is missing, then the files.
pub fn summary(result: &JobResult, files: &[&str], dir: &Path) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", result.title);
    for line in [shape(result), body(result), colour(result), pot(result), run(result)].into_iter().flatten() {
        let _ = writeln!(out, "{line}");
    }
    for missing in &result.missing {
        let _ = writeln!(out, "  missing    {missing}");
    }
    if !result.warnings.is_empty() {
        let _ = writeln!(out, "  doubts     {}, each with what would settle it, on the sheet", result.warnings.len());
    }
    let _ = writeln!(out, "\nFiles");
    for file in files {
        let _ = writeln!(out, "  {}", dir.join("out").join(file).display());
    }
    let _ = writeln!(out, "\nNext: open {} in a browser, or run\n  ringer open {}", dir.join("out/sheet.html").display(), dir.display());
    out
}

fn shape(result: &JobResult) -> Option<String> {
    if result.dimensions.is_empty() {
        return None;
    }
    let mut out = String::new();
    for size in &result.dimensions {
        let best = size.candidates.first().map_or(String::new(), |c| format!("{} in 100", (100.0 * c.odds).round()));
        let chosen = size.chosen.clone().unwrap_or_else(|| "as measured".into());
        let _ = writeln!(out, "  {:<26} {:>8.2} +/- {:.2} mm   ->  {chosen:<12} {best}", size.name, size.value_mm, size.sigma_mm);
    }
    let system: Vec<String> = result.system.iter().map(|(name, odds)| format!("{name} {:.0}", 100.0 * odds)).collect();
    let _ = write!(out, "  system     in 100: {}", system.join(", "));
    Some(out)
}

fn body(result: &JobResult) -> Option<String> {
    let body = result.body.as_ref()?;
    let bore = body
        .bore
        .as_ref()
        .map_or("no bore".to_string(), |bore| format!("bore {:.2} x {:.1} mm, {}", bore.diameter_mm, bore.depth_mm, bore.fit));
    Some(format!("  body       {:.2} mL, {bore}", body.volume_mm3 / 1000.0))
}

fn colour(result: &JobResult) -> Option<String> {
    let colour = result.colour.as_ref()?;
    let part = |i: usize| format!("{:.1} +/- {:.1}", colour.lab[i], colour.sigma[i]);
    Some(format!("  colour     L* {}  a* {}  b* {}  (from {})", part(0), part(1), part(2), colour.source))
}

fn pot(result: &JobResult) -> Option<String> {
    let pot = result.pot.as_ref()?;
    let mut out = String::new();
    if let Some(recipe) = pot.recipes.first() {
        let drops: Vec<String> = recipe.drops.iter().map(|(name, n)| format!("{n} {name}")).collect();
        let grams: Vec<String> = recipe.grams.iter().map(|(name, g)| format!("{g:.3} g {name}")).collect();
        let drops = if drops.is_empty() { grams.join(", ") } else { drops.join(", ") };
        let drops = if drops.is_empty() { "no drops".into() } else { drops };
        let _ = write!(
            out,
            "  recipe     {drops} in {} mL: CIEDE2000 {:.2}, 95 in 100 below {:.2}",
            recipe.volume_ml, recipe.de00, recipe.de00_95
        );
    }
    if let Some(next) = &pot.next {
        let drops: Vec<String> = next.drops.iter().map(|(name, n)| format!("{n} {name}")).collect();
        let drops = if drops.is_empty() { "bare resin".into() } else { drops.join(", ") };
        let _ = write!(out, "{}  next chip  {drops} in {} mL: {}", if out.is_empty() { "" } else { "\n" }, next.volume_ml, next.why);
    }
    (!out.is_empty()).then_some(out)
}

fn run(result: &JobResult) -> Option<String> {
    let run = result.run.as_ref()?;
    let resin = run.resin_ml.map_or(String::new(), |ml| format!(", {ml:.0} mL of tinted resin"));
    Some(format!(
        "  run        start {} for {} good ones ({:.0} in 100), {} loads{resin}",
        run.start,
        run.wanted,
        100.0 * run.chance,
        run.loads
    ))
}
