//! Flat parts: what is read, and with which words the rest is refused.

use job::{read, schema};

const HEAD: &str = "format = \"ringer-job 1\"\ntitle = \"t\"\n";
const PHOTO: &str = "[[photo]]\nname = \"above\"\nfile = \"a.png\"\n";

#[test]
fn a_flat_part_is_read_and_in_the_schema() {
    let text = format!(
        "{HEAD}{PHOTO}square = {{ rectangle = [[0, 0], [100, 0], [100, 70], [0, 70]], width = \"100 mm\", height = 70 }}\n\
         [flat]\nphoto = \"above\"\nthickness = \"1/16 in\"\nwithin = [[5, 5], [95, 5], [95, 65]]\nedge_break = 0.2\n"
    );
    let document = read(&text).unwrap_or_else(|problems| panic!("{problems:#?}"));
    assert!((document.flat.expect("a flat part").thickness.mm - 1.5875).abs() < 1e-12);
    for key in ["square", "rectangle", "circle", "ruler", "flat", "within", "hole", "edge_break", "drawn", "controls"] {
        assert!(schema().contains(&format!("\"{key}\"")), "{key} is not in the schema");
    }
}

#[test]
fn what_is_wrong_with_a_flat_part_is_told() {
    let square = "square = { ruler = [[0, 0], [100, 0]], length = 50 }\n";
    let flat = "[flat]\nphoto = \"above\"\nthickness = 2\n";
    let within = "within = [[5, 5], [95, 5], [95, 65]]\n";
    for (text, words) in [
        (format!("{PHOTO}{square}[flat]\nphoto = \"below\"\nthickness = 2\n{within}"), "no [[photo]] is named `below`"),
        (format!("{PHOTO}{flat}{within}"), "nothing to square it up by"),
        (format!("{PHOTO}{square}{flat}"), "neither a trace nor a polygon"),
        (format!("{PHOTO}{square}{flat}{within}hole = [[[1, 1], [2, 1], [2, 2]]]\n"), "traced only where the outline is"),
        (format!("{PHOTO}{square}[flat]\nphoto = \"above\"\nthickness = 0\n{within}"), "above 0"),
        (format!("{PHOTO}square = {{ ruler = [[0, 0], [100, 0]] }}\n{flat}{within}"), "needs its `length`"),
        (format!("{PHOTO}square = {{}}\n{flat}{within}"), "one of `rectangle`, `circle` and `ruler`"),
        (format!("{PHOTO}square = {{ circle = [[0, 0], [1, 1]], diameter = 5 }}\n{flat}{within}"), "5"),
        (format!("{PHOTO}{square}{flat}{within}drawn = [[{{ to = [0, 0] }}, {{ to = [5, 0], centre = [1, 0] }}]]\n"), "from its centre"),
        (format!("{PHOTO}{square}{flat}{within}drawn = [[]]\n"), "0 pieces were given"),
        (format!("{PHOTO}{square}{flat}{within}drawn = [[{{ to = [0, inf] }}]]\n"), "not finite"),
        (format!("[[known]]\nname = \"s\"\nvalue = 6\n{PHOTO}shaft = \"s\"\n{square}{flat}{within}"), "a turned part or of a flat one"),
    ] {
        let problems = read(&format!("{HEAD}{text}")).expect_err(words);
        let told = problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        assert!(told.contains(words), "`{words}` is not in:\n{told}");
    }
}
