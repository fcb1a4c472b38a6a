//! Tolerances, readings of made parts and the batch: what is read, and with which words the rest is refused.

use job::{locate, read};

const HEAD: &str = "format = \"ringer-job 1\"\ntitle = \"t\"\n";

#[test]
fn a_batch_and_its_readings_are_read() {
    let text = format!(
        "{HEAD}[tolerance]\nclass = \"m\"\nown = {{ \"greatest diameter\" = \"0.05 mm\", bore = [0, \"0.1 mm\"] }}\n\
         [batch]\nnumber = \"7\"\nlots = {{ resin = \"L2231\" }}\nmade = 12\ngood = 11\nloads = 2\nlost = 0\nmaster = [66.0, -8.0, 8.0]\n\
         [[check]]\npart = \"1\"\nreadings = {{ \"greatest diameter\" = [\"22.18 mm\", 22.2], bore = 6.4 }}\npins = {{ enter = \"6.4 mm\", stay_out = [6.45, 6.5] }}\nlab = [65.8, -7.7, 8.4]\n"
    );
    let document = read(&text).unwrap_or_else(|problems| panic!("{problems:#?}"));
    let part = &document.check[0];
    assert_eq!(part.readings["greatest diameter"].0.iter().map(|size| size.mm).collect::<Vec<_>>(), [22.18, 22.2]);
    assert_eq!(part.readings["bore"].0[0].mm, 6.4);
    assert_eq!(document.tolerance.map(|t| t.own["bore"].0.len()), Some(2));
    assert_eq!(document.batch.and_then(|b| b.good), Some(11));
    assert!(locate(&text, "check[0].lab").is_some());
}

#[track_caller]
fn refused(body: &str, words: &[&str]) {
    let problems = read(&format!("{HEAD}{body}")).expect_err("was accepted");
    let text = problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
    for word in words {
        assert!(text.contains(word), "`{word}` is not in:\n{text}");
    }
}

#[test]
fn what_is_wrong_is_told_with_the_way_out() {
    refused("[tolerance]\nclass = \"q\"\n", &["job.toml:4", "q"]);
    refused("[tolerance]\nown = { bore = \"0 mm\" }\n", &["job.toml:4", "above 0", "0.05 mm"]);
    refused("[tolerance]\nown = { bore = [0.1, -0.1] }\n", &["lower and a greater upper"]);
    refused("[[check]]\npart = \"1\"\n[[check]]\npart = \"1\"\n", &["job.toml:6:8", "the part `1` is taken"]);
    refused("[[check]]\npart = \"1\"\nreadings = { bore = -1 }\n", &["above 0"]);
    refused("[[check]]\npart = \"1\"\nreadings = { bore = \"six\" }\n", &["job.toml:5", "six"]);
    refused("[[check]]\npart = \"1\"\nreadings = { bore = [] }\n", &["0 readings"]);
    refused(
        "[[check]]\npart = \"1\"\npins = { enter = 6.5, stay_out = 6.4 }\n",
        &["a pin of 6.5 mm enters although one of 6.4 mm does not"],
    );
    refused("[batch]\nmade = 4\ngood = 5\n", &["5 good of 4 made"]);
    refused("[batch]\nlost = 1\n", &["`loads` is missing"]);
    refused("[batch]\nscale = 100.5\n", &["1.005"]);
    refused("[[photo]]\nname = \"a\"\nfile = \"a.jpg\"\nmade = \"1\"\n", &["a rod of known size", "no [[check]] is about part `1`"]);
}
