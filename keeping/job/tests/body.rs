//! The body's features: what is read, and with which words the rest is refused.

use job::document::{EdgePlace, Feel, Fit, ThreadMade};
use job::{read, schema};

const HEAD: &str = "format = \"ringer-job 1\"\ntitle = \"t\"\n";

const ALL: &str = r#"[body]
fit = "H7/g6"
bore_depth = "12 mm"
mouth_chamfer = 0.4
step = [{ diameter = "9 mm", depth = "2 mm" }, { diameter = "8 mm", depth = "4 mm" }]
flat = "5.5 mm"
slot = { width = "2 mm", depth = "1 mm" }
cross_hole = { at = "6 mm", thread = "M3", angle_deg = 90 }
flutes = { count = 12, radius = "1.5 mm", depth = "0.5 mm", from = "2 mm", to = "8 mm" }
knurl = { pattern = "diamond", pitch = 1, depth = 0.3, from = 10, to = 14 }
hollow = { wall = "2 mm", depth = "10 mm" }
edge = [{ at = "free end", fillet = "0.5 mm" }, { at = 4, diameter = 12.7, chamfer = "1/64 in" }]
mark = { text = "R 26", on = "free end", height = "2.5 mm" }
fit_test = {}
"#;

#[test]
fn every_feature_is_read_and_in_the_schema() {
    let body = read(&format!("{HEAD}{ALL}")).unwrap_or_else(|problems| panic!("{problems:#?}")).body.expect("a body");
    assert_eq!(body.fit, Some(Fit::Iso("H7/g6".into())));
    assert_eq!((body.step.len(), body.edge.len()), (2, 2));
    assert!(matches!(&body.edge[0].at, EdgePlace::FreeEnd) && matches!(&body.edge[1].at, EdgePlace::At(size) if size.mm == 4.0));
    let schema = schema();
    for key in [
        "through",
        "exit_chamfer",
        "thread",
        "flat",
        "slot",
        "cross_hole",
        "flutes",
        "knurl",
        "edge",
        "hollow",
        "mark",
        "fit_test",
        "route",
    ] {
        assert!(schema.contains(&format!("\"{key}\"")), "{key} is not in the schema");
    }
    let threaded = read(&format!("{HEAD}[body]\nthread = {{ size = \"M6\", made = \"cut\" }}\nthrough = true\n")).expect("sound").body;
    assert_eq!(threaded.and_then(|body| body.thread).and_then(|thread| thread.made), Some(ThreadMade::Cut));
    let plain = read(&format!("{HEAD}[body]\nfit = \"glued\"\n")).expect("sound").body;
    assert_eq!(plain.and_then(|body| body.fit), Some(Fit::Feel(Feel::Glued)));
}

#[test]
fn nonsense_is_refused_with_the_way_out() {
    for (body, words) in [
        ("fit = \"tight\"", vec!["no fit", "slides", "H7/g6"]),
        ("fit = \"h7/G6\"", vec!["hole in capitals"]),
        ("through = true\nbore_depth = 5", vec!["no depth of its own"]),
        ("exit_chamfer = 1", vec!["no exit", "through = true"]),
        ("bore = false\nflat = 5", vec!["needs a bore"]),
        ("step = [{ diameter = 8, depth = 2 }, { diameter = 9, depth = 4 }]", vec!["narrower and deeper"]),
        ("thread = { size = \"\" }", vec!["no name of a thread", "M8x1"]),
        ("thread = { size = \"M6\", made = \"insert\" }", vec!["inserts differ", "hole"]),
        ("thread = { size = \"M6\" }\nfit = \"slides\"", vec!["plain shaft"]),
        ("slot = { width = -1, depth = 1 }", vec!["above 0"]),
        ("cross_hole = { at = 3 }", vec!["either `diameter` or `thread`"]),
        ("flutes = { count = 0, radius = 1, depth = 2, from = 5, to = 3 }", vec!["0 flutes", "wider inside", "beyond `from`"]),
        ("knurl = { pattern = \"spiral\", pitch = 1, depth = 0.3, from = 1, to = 2 }", vec!["spiral", "diamond"]),
        ("edge = [{ at = \"free end\" }]", vec!["either `chamfer` or `fillet`"]),
        ("edge = [{ at = \"middle\", fillet = 1 }]", vec!["rod end", "free end"]),
        ("hollow = { wall = 0, depth = 5 }", vec!["above 0"]),
        ("mark = { text = \"\" }", vec!["0 letters"]),
        ("mark = { text = \"x\", height = 0.1 }", vec!["0.8 to 50"]),
        ("fit_test = { count = 1 }", vec!["2 to 12"]),
        ("route = \"weld\"", vec!["weld", "cast"]),
    ] {
        let text = read(&format!("{HEAD}[body]\n{body}\n")).expect_err(body).iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        for word in words {
            assert!(text.contains(word), "{body}: `{word}` is not in:\n{text}");
        }
    }
}
