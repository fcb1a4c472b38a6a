//! What is read, and with which words the rest is refused.

use job::{locate, read, schema};

const HEAD: &str = "format = \"ringer-job 1\"\ntitle = \"t\"\n";

/// The document of the contract, whole.
const CONTRACT: &str = include_str!("contract.toml");

#[test]
fn the_contracts_document_is_read() {
    let document = read(CONTRACT).unwrap_or_else(|problems| panic!("{problems:#?}"));
    assert_eq!(document.known[0].value.mm, 6.35);
    assert_eq!(document.sample[0].drops.get("black"), Some(&1));
    assert_eq!(document.run.map(|run| run.wanted), Some(24));
}

/// One line a case: what is written below the head, and words that the refusal must hold.
#[track_caller]
fn refused(body: &str, words: &[&str]) {
    let problems = read(&format!("{HEAD}{body}")).expect_err("was accepted");
    let text = problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
    for word in words {
        assert!(text.contains(word), "`{word}` is not in:\n{text}");
    }
}

#[test]
fn what_is_wrong_is_told_with_its_line_and_the_way_out() {
    refused("[[known]]\nname = \"shaft\"\nvalue = \"6 furlongs\"\n", &["job.toml:5:9", "furlongs", "use mm"]);
    refused("[[known]]\nname = \"shaft\"\nvalue = -6\n", &["job.toml:5:9", "above 0", "known[0].value"]);
    refused("[[known]]\nname = \"shaft\"\nvalue = nan\n", &["job.toml:5", "finite"]);
    refused("[[known]]\nname = \"shaft\"\nvalue = \"6 mm\"\nsigma = \"-1 mm\"\n", &["job.toml:6:9", "uncertainty"]);
    refused(
        "[[photo]]\nname = \"a\"\nfile = \"a.jpg\"\n[[photo]]\nname = \"a\"\nfile = \"b.jpg\"\n",
        &["job.toml:7:8", "taken by [[photo]] number 1"],
    );
    refused("[[photo]]\nname = \"a\"\nfile = \"../../secret\"\n", &["job.toml:5:8", "inside the job folder"]);
    refused("[[photo]]\nname = \"a\"\nfile = \"/etc/passwd\"\n", &["inside the job folder"]);
    refused("[[photo]]\nname = \"a\"\nfile = \"a.jpg\"\nshaft = \"rod\"\n", &["no [[known]] size is named `rod`"]);
    refused("[[photo]]\nname = \"a\"\nfile = \"a.jpg\"\naxis = [[1.0, nan], [2.0, 3.0]]\n", &["photo[0].axis[0]", "no place in a picture"]);
    refused("[[photo]]\nname = \"a\"\nfile = \"a.jpg\"\naxis = [[1.0, 2.0]]\n", &["job.toml:6"]);
    refused("colour = 3\n", &["colour", "ringer schema"]);
    refused("[run]\nwanted = 4\nmade = 3\ngood = 5\n", &["5 good of 3 made"]);
    refused("[target]\nlab = [50.0, 0.0, 0.0]\nfrom = \"photo\"\n", &["2 colours are wanted"]);
    refused(
        "[[sample]]\nname = \"s\"\nvolume_ml = 5\ndrops = { black = 1 }\nlab = [50.0, 0.0, inf]\n",
        &["no [[colourant]] is named `black`", "no colour"],
    );
    refused("[[reading]]\nname = \"a\"\n", &["no colour is given", "instrument's file"]);
    refused("[[reading]]\nname = \"a\"\nlab = [50, 0, 0]\nobserver = 5\n", &["job.toml:6:12", "2 or 10"]);
    refused("[target]\nlab = [50, 0, 0]\nby_weight = true\n", &["job.toml:5", "no balance", "balance_g"]);
    refused(
        "[target]\nlab = [50, 0, 0]\ndrift = [{ lab = [0, 0, 90], sigma = 0.1, source = \"\" }]\n",
        &["no shift", "without its source"],
    );
    refused("[[book]]\npot = \"A\"\nadd = { resin = 5 }\ntake = \"load\"\nml = 3\n", &["2 things were done", "one line each"]);
    refused("[[book]]\npot = \"A\"\nadd = { green = 5 }\n", &["job.toml:5", "no [[colourant]] is named `green`"]);
    refused("[[book]]\npot = \"A\"\npour_into = \"B\"\n", &["how much was poured"]);
    refused("[scale_up]\nfrom = \"s\"\nresin_ml = -1\n", &["no [[sample]] is named `s`", "mL of bare resin"]);
    refused("[[strip]]\nexposure = 0\ndepth_um = 10\n", &["job.toml:4:12", "exposure"]);
    refused("[run\n", &["job.toml:3"]);
}

#[test]
fn all_that_is_wrong_comes_at_once_in_the_order_of_the_file() {
    let problems = read(&format!("{HEAD}[[known]]\nname = \"\"\nvalue = 0\n[run]\nwanted = 0\n")).expect_err("was accepted");
    let lines: Vec<usize> = problems.iter().filter_map(|p| p.place.map(|place| place.0)).collect();
    assert_eq!(lines, [4, 5, 7]);
}

#[test]
fn another_format_is_named_before_anything_else() {
    let problems = read("format = \"ringer-job 2\"\nwhatever = 1\n").expect_err("was accepted");
    assert!(problems[0].text.contains("ringer-job 2") && problems[0].way_out.contains("nothing was changed"));
    assert!(read("title = \"t\"\n").expect_err("was accepted")[0].text.contains("does not say its format"));
}

/// The schema names every key that the contract's document uses.
#[test]
fn schema_knows_every_key_of_the_contract() {
    let schema = schema();
    for line in CONTRACT.lines() {
        if let Some((key, _)) = line.split_once(" = ") {
            let key = key.trim();
            if key.chars().all(|c| c.is_ascii_lowercase() || c == '_' || c.is_ascii_digit()) {
                assert!(schema.contains(&format!("\"{key}\"")), "{key} is not in the schema");
            }
        }
    }
}

/// Seeded damage to a good document never panics: bytes cut out, doubled or replaced.
#[test]
fn damaged_documents_are_read_or_refused() {
    let mut state = 1u64;
    let mut next = |bound: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % bound
    };
    for _ in 0..2000 {
        let mut bytes = CONTRACT.as_bytes().to_vec();
        for _ in 0..1 + next(4) {
            let at = next(bytes.len());
            match next(3) {
                0 => drop(bytes.drain(at..(at + 1 + next(20)).min(bytes.len()))),
                1 => bytes[at] = b"0123456789.-[]{}\"=\n einf"[next(24)],
                _ => bytes.insert(at, b"\"[]{}=.,e9-"[next(11)]),
            }
        }
        if let Ok(text) = String::from_utf8(bytes) {
            let _ = read(&text);
        }
    }
}

#[test]
fn the_new_document_is_a_document() {
    let text = job::new_document("A \"quoted\" title\n", &[("front".into(), "front.jpg".into())]);
    let document = read(&text).unwrap_or_else(|problems| panic!("{problems:#?}"));
    assert_eq!(document.photo[0].file, "photos/front.jpg");
    // And so it is with every comment that shows a key taken at its word.
    let shown: String = text
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(rest) if rest.starts_with('[') || rest.contains(" = ") && !rest.contains("x, y") && !rest.starts_with("sigma") => {
                format!("{rest}\n")
            }
            _ => format!("{line}\n"),
        })
        .collect();
    read(&shown).unwrap_or_else(|problems| panic!("{problems:#?}\n{shown}"));
}

#[test]
fn a_key_is_located_or_what_stands_above_it() {
    let text = format!("{HEAD}[[photo]]\nname = \"a\"\nfile = \"a.jpg\"\naxis = [[1, 2], [3, 4]]\n");
    assert_eq!(locate(&text, "photo[0].axis[1]"), Some((6, 17)));
    assert_eq!(locate(&text, "photo[0].neutral"), Some((3, 1)));
    assert_eq!(locate(&text, "nothing"), None);
}
