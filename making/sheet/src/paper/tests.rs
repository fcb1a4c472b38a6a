use super::*;
use ink::{Anchor, Mark, text_width_mm};
use job::Document;
use result::JobResult;

fn demo() -> (Document, JobResult) {
    let text = "format = \"ringer-job 1\"\ntitle = \"A knob with a title that is so long that it has to be broken into lines and then some more of them\"";
    let document = job::read(text).unwrap_or_else(|problems| panic!("{problems:?}"));
    let result = serde_json::from_str(include_str!("../../examples/sample_result.json")).unwrap_or_else(|error| panic!("{error}"));
    (document, result)
}

fn each_sheet(check: impl Fn(&[Page], Paper)) {
    let (document, full) = demo();
    let mut crowded = full.clone();
    crowded.dimensions = full.dimensions.iter().cycle().take(50).cloned().collect();
    crowded.warnings = full.warnings.iter().cycle().take(30).cloned().collect();
    let section = Figure::new(297.0, 210.0, "Section", "A section drawing on A4.");
    for result in [&full, &crowded, &JobResult::default()] {
        for section in [None, Some(&section)] {
            for paper in [Paper::A4, Paper::Letter] {
                let sheet =
                    JobSheet { document: &document, result, photos: &[], section, materials: crate::Material::PRINTED, sample: true };
                check(&pages(&sheet, paper), paper);
            }
        }
    }
}

/// Left, right and base line of every line of type, mm on its page.
fn lines(piece: &Piece) -> Vec<[f64; 3]> {
    let of_mark = |mark: &Mark| match mark {
        Mark::Text { at, size_mm, turn_deg, anchor, face, text, .. } if *turn_deg == 0.0 => {
            let wide = text_width_mm(*face, *size_mm, text.trim_end());
            let left = match anchor {
                Anchor::Start => at[0],
                Anchor::Middle => at[0] - wide / 2.0,
                Anchor::End => at[0] - wide,
            };
            Some([piece.at[0] + left, piece.at[0] + left + wide, piece.at[1] + at[1]])
        }
        _ => None,
    };
    piece.figure.marks.iter().filter_map(of_mark).collect()
}

#[test]
fn all_type_stays_inside_its_page() {
    each_sheet(|pages, _| {
        for (n, page) in pages.iter().enumerate() {
            for piece in &page.pieces {
                for [left, right, y] in lines(piece) {
                    assert!(left >= 5.0 && right <= page.width_mm - 5.0, "page {}: {left:.1}..{right:.1} in {}", n + 1, piece.figure.title);
                    assert!(y > 5.0 && y < page.height_mm - 5.0, "page {}: {y:.1} in {}", n + 1, piece.figure.title);
                }
            }
        }
    });
}

#[test]
fn nothing_runs_into_the_title_block() {
    each_sheet(|pages, paper| {
        for page in pages.iter().filter(|page| page.width_mm == paper.size_mm()[0] && page.pieces.len() > 1) {
            let top = flow::block_corner(page)[1];
            for piece in page.pieces.iter().filter(|piece| piece.figure.title != "Title block") {
                assert!(
                    piece.at[1] + piece.figure.height_mm <= top,
                    "{} reaches {:.1} of {top}",
                    piece.figure.title,
                    piece.at[1] + piece.figure.height_mm
                );
            }
        }
    });
}

#[test]
fn no_heading_stands_alone() {
    each_sheet(|pages, _| {
        for page in pages {
            for heading in page.pieces.iter().filter(|piece| piece.role == Role::Heading(2)) {
                let follows = |piece: &&Piece| {
                    piece.at[1] > heading.at[1] + 5.0 && piece.at[0] >= heading.at[0] - 1.0 && piece.role != Role::Decoration
                };
                assert!(page.pieces.iter().any(|piece| follows(&piece)), "{} stands alone", heading.figure.title);
            }
        }
    });
}

#[test]
fn every_page_says_which_of_how_many() {
    each_sheet(|pages, paper| {
        let own: Vec<&Page> = pages.iter().filter(|page| page.width_mm == paper.size_mm()[0]).collect();
        for (n, page) in own.iter().enumerate() {
            let block = page
                .pieces
                .iter()
                .find(|piece| piece.figure.title == "Title block")
                .unwrap_or_else(|| panic!("page {} has no title block", n + 1));
            let says = |text: &str| block.figure.marks.iter().any(|mark| matches!(mark, Mark::Text { text: said, .. } if said == text));
            assert!(says(&format!("{} of {}", n + 1, pages.len())));
        }
    });
}

#[test]
fn a_large_section_gets_a_page_of_its_own() {
    let (document, result) = demo();
    let section = Figure::new(297.0, 210.0, "Section", "A section drawing on A4.");
    let sheet = JobSheet { document: &document, result: &result, photos: &[], section: Some(&section), materials: &[], sample: false };
    let pages = pages(&sheet, Paper::A4);
    let last = &pages[pages.len() - 1];
    assert_eq!((last.width_mm, last.height_mm), (297.0, 210.0), "true to scale");
}

#[test]
fn dates_are_read_only_where_they_are_dates() {
    assert_eq!(calendar_date("2026-11-25"), Some((2026, 11, 25)));
    for text in ["25 November 2026", "", "2026-13-01", "2026-11-00", "2026-11", "99999-01-01"] {
        assert_eq!(calendar_date(text), None, "{text}");
    }
}

/// The margin column holds one thing below the other: number and state, "Wanted", "Doubt".
#[test]
fn nothing_overlaps_in_the_margin() {
    each_sheet(|pages, paper| {
        for page in pages.iter().filter(|page| page.width_mm == paper.size_mm()[0]) {
            let left = flow::block_corner(page)[0];
            let margin: Vec<&Piece> = page.pieces.iter().filter(|piece| piece.at[0] == left && piece.figure.width_mm == 22.0).collect();
            for (n, a) in margin.iter().enumerate() {
                for b in &margin[n + 1..] {
                    let apart = a.at[1] + a.figure.height_mm <= b.at[1] + 0.01 || b.at[1] + b.figure.height_mm <= a.at[1] + 0.01;
                    assert!(apart, "{} and {}", a.figure.title, b.figure.title);
                }
            }
        }
    });
}
