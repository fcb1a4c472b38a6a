use super::{LONGEST, bare, picture, want, why_missing};
use crate::JobSheet;
use crate::pictures;
use crate::station::{Block, Cell, Station, Table};
use crate::words::{bounded, count, percent, plain};

/// How many, in how many loads? Starts for enough good parts, the plate, the resin.
pub fn run(sheet: &JobSheet) -> Station {
    let found = sheet.result.run.as_ref();
    let mut station = bare(sheet, "run", "How many, in how many loads?", found.is_some());
    let Some(run) = found else {
        station.blocks = why_missing(sheet, "run");
        station.wants.push(want(
            "How many good parts are wanted, the plate, and what experience there is.",
            "[run]\nwanted = 24\nplate = { width_mm = 130.0, depth_mm = 80.0, gap_mm = 4.0 }\nmade = 10\ngood = 8",
        ));
        return station;
    };
    station.answer = format!("start {} in {}", run.start, count(run.loads as usize, "load"));
    let plate = picture(|width| pictures::plate(run, width), "The fullest plate from above, each part in the circle that it keeps clear.");
    let curve = picture(|width| pictures::chance_curve(run, width), "Chance of enough good parts against the number started.");
    station.blocks.extend(curve.into_iter().chain(plate));
    let loads: Vec<String> = run.per_load.iter().take(60).map(u32::to_string).collect();
    let mut rows = vec![
        ["good parts wanted".into(), run.wanted.to_string()],
        ["parts to start".into(), run.start.to_string()],
        ["chance of enough good ones".into(), percent(run.chance)],
        ["loads".into(), if loads.is_empty() { run.loads.to_string() } else { format!("{}: {}", run.loads, loads.join(" + ")) }],
    ];
    if let Some(ml) = run.resin_ml {
        rows.push(["tinted resin for all of it".into(), format!("{}\u{a0}mL", plain(ml, 0))]);
    }
    station.blocks.push(Block::Table(Table {
        caption: "The run".into(),
        columns: vec!["what".into(), "how many".into()],
        shares: vec![0.45, 0.55],
        rows: rows.into_iter().map(|[what, many]| vec![Cell::words(what), Cell::number(many)]).collect(),
    }));
    if !run.basis.is_empty() {
        station.blocks.push(Block::Words(crate::words::sentence(&bounded(&run.basis, LONGEST))));
    }
    station.blocks.extend(sheet.result.vat.as_ref().map_or(Vec::new(), super::vat::vat));
    station
}
