use super::{bare, want, why_missing};
use crate::JobSheet;
use crate::pictures::WIDE_MM;
use crate::station::{Block, Cell, Station, Table};
use crate::words::{bounded, plain};
use result::BodyResult;

/// What do we make? The section drawing, the bore and its fit, volume and surface, the files.
pub fn body(sheet: &JobSheet) -> Station {
    let made = sheet.result.body.as_ref();
    let mut station = bare(sheet, "body", "What do we make?", made.is_some());
    let Some(body) = made else {
        station.blocks = why_missing(sheet, "body");
        station.wants.push(want(
            "A profile with its sizes. How the bore shall sit on the shaft may be said here.",
            "[body]\nfit = \"slides\"        # slides, pushes, pressed or glued\nbore_depth = \"12 mm\"",
        ));
        return station;
    };
    let [low, high] = body.bounds_mm;
    let across = (high[0] - low[0]).max(high[1] - low[1]);
    station.answer = match &body.flat {
        Some(flat) => {
            format!("{} \u{d7} {} \u{d7} {}\u{a0}mm", plain(high[0] - low[0], 2), plain(high[1] - low[1], 2), plain(flat.thickness_mm, 2))
        }
        None => format!("\u{2300}\u{a0}{} \u{d7} {}\u{a0}mm", plain(across, 2), plain(high[2] - low[2], 2)),
    };
    if let Some(section) = sheet.section {
        let shrunk = section.width_mm > WIDE_MM;
        let caption = if body.flat.is_some() {
            "Outline seen from above; sizes in mm."
        } else if shrunk {
            "Section; sizes in mm. Shown smaller than drawn."
        } else {
            "Section; sizes in mm."
        };
        station.blocks.push(Block::Picture { wide: section.clone(), narrow: None, caption: caption.into() });
    }
    station.blocks.extend(body.flat.as_ref().map(|flat| Block::Table(flat_sizes(flat))));
    station.blocks.push(Block::Table(table(body)));
    station.blocks.extend(features(body));
    station.blocks.extend(body.route.iter().flat_map(|told| route(told, body.flat.is_some())));
    if !body.files.is_empty() {
        station.blocks.push(Block::Words("Files made:".into()));
        station.blocks.push(Block::List(body.files.iter().take(40).map(|file| bounded(file, 200)).collect()));
    }
    station
}

/// What is cut into the body, by which files hold it.
fn features(body: &BodyResult) -> Vec<Block> {
    let mut blocks = Vec::new();
    for (words, held) in [
        ("Turned with it:", (true, true)),
        ("Cut into it, exact in STEP; DXF and the section\u{2019}s outline hold the turned shape without it:", (true, false)),
        ("In the meshes alone (STL, 3MF, glTF); STEP, DXF and the section\u{2019}s outline hold the shape without it:", (false, false)),
    ] {
        let own = body.features.iter().take(40).filter(|feature| (feature.exact, feature.turned) == held);
        let told = |feature: &result::FeatureResult| match &feature.why_not {
            Some(why) => bounded(&format!("{}: {why}", feature.what), 300),
            None => bounded(&feature.what, 200),
        };
        let lines: Vec<String> = own.map(told).collect();
        if !lines.is_empty() {
            blocks.extend([Block::Words(words.into()), Block::List(lines)]);
        }
    }
    let alone = body.step_volume_mm3.map(|volume| format!("What STEP holds has a volume of {}\u{a0}mm\u{b3}.", plain(volume, 1)));
    blocks.extend(alone.map(Block::Words));
    blocks
}

/// Sizes of a flat part with their doubt, its thickness, and what its outline is made of.
fn flat_sizes(flat: &result::FlatResult) -> Table {
    let row = |size: &result::FlatSize| {
        let place = size
            .at_mm
            .map_or_else(String::new, |[x, y]| format!("its middle {} from the left, {}\u{a0}mm from below", plain(x, 2), plain(y, 2)));
        vec![Cell::words(bounded(&size.what, 80)), Cell::number(crate::words::doubted(size.value_mm, size.sigma_mm)), Cell::words(place)]
    };
    let mut rows: Vec<Vec<Cell>> = flat.sizes.iter().take(100).map(row).collect();
    rows.push(vec![Cell::words("thickness"), Cell::number(plain(flat.thickness_mm, 3)), Cell::words("as given")]);
    if let Some(edge) = flat.edge_break_mm {
        rows.push(vec![
            Cell::words("edges broken"),
            Cell::number(plain(edge, 2)),
            Cell::words("at 45\u{b0}, both sides of outline and holes; in all files but DXF, which holds the outline"),
        ]);
    }
    rows.push(vec![
        Cell::words("outline and holes"),
        Cell::number(if flat.curves > 0 {
            format!("{} + {} + {}", flat.lines, flat.arcs, flat.curves)
        } else {
            format!("{} + {}", flat.lines, flat.arcs)
        }),
        Cell::words(if flat.curves > 0 { "straight pieces, arcs and free curves" } else { "straight pieces and arcs" }),
    ]);
    Table {
        caption: "Sizes of the flat part, mm".into(),
        columns: ["size", "measured", "where"].map(String::from).into(),
        shares: vec![0.3, 0.25, 0.45],
        rows,
    }
}

/// What the way of making asks for.
fn route(route: &result::RouteResult, flat: bool) -> Vec<Block> {
    let way = match route.name.as_str() {
        "turn" if flat => "Cut from sheet",
        "cast" => "Cast from a master",
        "turn" => "Turned from bar",
        _ => "Printed in resin",
    };
    let row = |fact: &result::RouteFact| {
        vec![Cell::words(bounded(&fact.what, 80)), Cell::number(bounded(&fact.value, 80)), Cell::words(bounded(&fact.note, 300))]
    };
    let facts = Table {
        caption: way.into(),
        columns: ["what", "how much", "why, and how surely"].map(String::from).into(),
        shares: vec![0.24, 0.24, 0.52],
        rows: route.facts.iter().take(60).map(row).collect(),
    };
    let mut blocks = vec![Block::Table(facts)];
    if !route.diameters_mm.is_empty() {
        let row = |(z, diameter, joint): &(f64, f64, bool)| {
            let note = if *joint { "edge or joint of the profile" } else { "" };
            vec![Cell::number(plain(*z, 2)), Cell::number(plain(*diameter, 2)), Cell::words(note)]
        };
        blocks.push(Block::Table(Table {
            caption: "Diameters along the axis, from the rod end, mm".into(),
            columns: ["at", "diameter", ""].map(String::from).into(),
            shares: vec![0.3, 0.3, 0.4],
            rows: route.diameters_mm.iter().take(200).map(row).collect(),
        }));
    }
    blocks
}

fn table(body: &BodyResult) -> Table {
    let cut = body.features.iter().any(|feature| !feature.turned);
    let drawn = "exact for the body as drawn";
    let [volume, surface] = if cut {
        ["summed over sections; good to 1 in 1,000,000 of the body as drawn", "by its mesh, as it is cut; good to 1 in 1000"]
    } else {
        [drawn; 2]
    };
    let mut rows: Vec<[String; 3]> = vec![
        ["volume, bore taken out".into(), format!("{}\u{a0}mm\u{b3}", plain(body.volume_mm3, 1)), volume.into()],
        ["whole surface".into(), format!("{}\u{a0}mm\u{b2}", plain(body.area_mm2, 1)), surface.into()],
        ["centre of mass".into(), format!("{}\u{a0}mm", plain(body.centre_z_mm, 2)), centre_words(body)],
    ];
    if let Some(mass_g) = body.mass_g {
        rows.push(["mass".into(), format!("{}\u{a0}g", plain(mass_g, 2)), "volume times the material's density".into()]);
    }
    if let Some(bore) = &body.bore {
        rows.push([
            "bore".into(),
            format!("\u{2300} {}\u{a0}mm", plain(bore.diameter_mm, 3)),
            match &bore.thread {
                Some(_) => bounded(&bore.fit, 200),
                None => format!("the shaft and {}\u{a0}mm: {}", plain(bore.allowance_mm, 3), bounded(&bore.fit, 200)),
            },
        ]);
        let end = if bore.through { "from end to end".into() } else { format!("{} bottom", bounded(&bore.bottom, 40)) };
        rows.push(["depth of full diameter".into(), format!("{}\u{a0}mm", plain(bore.depth_mm, 2)), end]);
        if let Some([expected, worst, allowed]) = bore.hoop_mpa {
            rows.push([
                "hoop stress at the bore".into(),
                format!("{}\u{a0}MPa", plain(expected, 1)),
                format!("1 part in 20 has {}\u{a0}MPa or more; {}\u{a0}MPa is borne for long", plain(worst, 0), plain(allowed, 0)),
            ]);
        }
    }
    Table {
        caption: "The body".into(),
        columns: ["what", "how much", "note"].map(String::from).into(),
        shares: vec![0.3, 0.25, 0.45],
        rows: rows.into_iter().map(|[what, much, note]| vec![Cell::words(what), Cell::number(much), Cell::words(note)]).collect(),
    }
}

fn centre_words(body: &BodyResult) -> String {
    match body.centre_mm {
        Some([x, y, z]) if body.flat.is_some() => {
            format!("at {}, {}, {}\u{a0}mm in the photo's square", plain(x, 2), plain(y, 2), plain(z, 2))
        }
        Some([x, y, _]) => format!("from the rod end; {}\u{a0}mm off the axis", plain(x.hypot(y), 3)),
        None => "on the axis, from the rod end".into(),
    }
}
