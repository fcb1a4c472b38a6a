//! PDF files as another reader of bytes sees them.
#![allow(clippy::unwrap_used)] // a test may stop at the first wrong thing

use ink::pdf::{Facts, Head, Page, Piece, Role, write};
use ink::{Anchor, Face, Figure, InkError, palette};

fn page(figures: Vec<(Role, Figure)>) -> Page {
    let pieces = figures.into_iter().map(|(role, figure)| Piece { at: [20.0, 20.0], role, figure }).collect();
    Page { width_mm: 210.0, height_mm: 297.0, pieces }
}

fn words(text: &str) -> Figure {
    let mut figure = Figure::new(100.0, 10.0, text, text);
    figure.text([0.0, 8.0], 4.0, Face::Text, Anchor::Start, palette::INK, text);
    figure.text([0.0, 14.0], 4.0, Face::Bold, Anchor::Start, palette::INK, text);
    figure.text([0.0, 20.0], 4.0, Face::Columns, Anchor::Start, palette::INK, "22.11 ± 0.04");
    figure
}

fn holds(bytes: &[u8], text: &str) -> usize {
    bytes.windows(text.len()).filter(|window| *window == text.as_bytes()).count()
}

fn sample() -> Vec<Page> {
    let cell = |row, head| Role::Cell { table: 1, row, head };
    vec![
        page(vec![
            (Role::Heading(1), words("Knob")),
            (Role::Heading(2), words("Which sizes were meant?")),
            (Role::Paragraph, words("text")),
        ]),
        page(vec![
            (cell(0, Head::Column), words("name")),
            (cell(0, Head::Column), words("size")),
            (cell(1, Head::Row), words("length")),
            (cell(1, Head::No), words("31.75")),
        ]),
        page(vec![(Role::Picture, words("ruler")), (Role::Decoration, words("rule"))]),
    ]
}

fn facts() -> Facts {
    Facts { title: "Knob".into(), author: "A. Maker".into(), language: "en".into(), date: Some((2026, 3, 14)), ..Facts::default() }
}

#[test]
fn fonts_are_embedded_as_subsets() {
    let bytes = write(&sample(), &facts()).unwrap();
    assert!(bytes.starts_with(b"%PDF-"));
    // ISO 32000-1, 9.9: embedded TrueType programs hang on /FontFile2; a subset's name starts with six capitals and "+".
    assert_eq!(holds(&bytes, "/FontFile2"), 3);
    for name in ["+GentiumBookBasic", "+GentiumBookBasic-Bold", "+BenchFigures"] {
        assert!(holds(&bytes, name) > 0, "{name}");
    }
    assert!(bytes.len() < 100_000, "subsets, not whole fonts: {}", bytes.len());
    assert!(holds(&bytes, "/StructTreeRoot") > 0 && holds(&bytes, "/Outlines") > 0);
    assert_eq!(holds(&bytes, "/S /TH") + holds(&bytes, "/S/TH"), 3);
}

#[test]
fn same_pages_same_bytes() {
    assert_eq!(write(&sample(), &facts()).unwrap(), write(&sample(), &facts()).unwrap());
}

#[test]
fn nonsense_is_left_out_or_refused_without_panic() {
    let mut figure = words("\u{0}\u{202e})) Tj ET (器 \u{e000}");
    figure.line([0.0, f64::NAN], [1.0, 1.0], palette::hair(palette::INK));
    figure.line([0.0, 1e300], [1.0, -1e300], palette::hair(palette::INK));
    figure.circle([0.0, 0.0], f64::INFINITY, None, Some(palette::INK));
    let bytes = write(&[page(vec![(Role::Paragraph, figure)])], &facts()).unwrap();
    assert_eq!(holds(&bytes, "NaN") + holds(&bytes, "inf"), 0);

    let mut broken = Figure::new(10.0, 10.0, "", "");
    broken.marks.push(ink::Mark::Photo { at: [0.0, 0.0], size_mm: [5.0, 5.0], jpeg: b"not a photo".to_vec() });
    assert!(matches!(write(&[page(vec![(Role::Picture, broken)])], &facts()), Err(InkError::Photo { page: 1, .. })));

    let endless = Page { width_mm: f64::NAN, height_mm: 1.0, pieces: Vec::new() };
    assert!(matches!(write(&[endless], &facts()), Err(InkError::PageSize { page: 1, .. })));
    assert!(write(&[], &Facts::default()).is_ok());
}
