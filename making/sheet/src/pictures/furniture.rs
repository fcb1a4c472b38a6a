//! What every sheet has: the signs of a station's state, the projection symbol, the title block.

use crate::station::State;
use ink::palette::{BLUE, BRICK, GREY, INK, hair, outline};
use ink::{Anchor, Face, Figure, Paint, fits_mm};

/// The sign of a state, 4.4 mm square: a full square (answered), a half-full one (answered with an assumption), a dashed empty one
/// (waiting), a crossed one (contradicted).
pub fn state_sign(state: State) -> Figure {
    let mut figure = Figure::new(4.4, 4.4, state.word(), format!("Sign of the state: {}.", state.word()));
    let ([x, y], side) = ([0.5, 0.5], 3.4);
    let frame = |paint: Paint| outline(paint).width(0.4);
    match state {
        State::Answered => figure.rect([x, y], [side, side], Some(frame(INK)), Some(INK)),
        State::Assumed => {
            figure.polygon(&[[x, y + side], [x + side, y], [x + side, y + side]], BLUE);
            figure.rect([x, y], [side, side], Some(frame(BLUE)), None);
        }
        State::Waiting => {
            let mut dashed = frame(GREY);
            dashed.dash_mm = vec![1.0, 0.7];
            figure.rect([x, y], [side, side], Some(dashed), None);
        }
        State::Contradicted => {
            figure.rect([x, y], [side, side], Some(frame(BRICK)), None);
            figure.line([x, y], [x + side, y + side], frame(BRICK));
            figure.line([x + side, y], [x, y + side], frame(BRICK));
        }
    }
    figure
}

/// First angle projection (ISO 5456-2): a truncated cone from the side, and seen from its small end at the right of it.
pub fn projection_symbol() -> Figure {
    let mut figure =
        Figure::new(17.0, 8.0, "First angle projection", "Symbol of first angle projection: a truncated cone and its view from the left.");
    let middle = 4.0;
    figure.path(
        ink::polygon_steps(&[[1.0, middle - 1.5], [7.0, middle - 3.0], [7.0, middle + 3.0], [1.0, middle + 1.5]]),
        Some(outline(INK).width(0.35)),
        None,
    );
    figure.circle([12.5, middle], 3.0, Some(outline(INK).width(0.35)), None);
    figure.circle([12.5, middle], 1.5, Some(outline(INK).width(0.35)), None);
    let centre = ink::palette::chain(INK).width(0.18);
    figure.line([0.0, middle], [8.0, middle], centre.clone());
    figure.line([8.8, middle], [16.2, middle], centre.clone());
    figure.line([12.5, 0.3], [12.5, 7.7], centre);
    figure
}

/// What stands in the title block.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cartouche {
    /// What paper this is: "Job sheet".
    pub document: &'static str,
    /// What is made.
    pub title: String,
    /// Who made the sheet; "not said" where empty.
    pub maker: String,
    /// Date of issue, as text.
    pub date: String,
    /// Revision.
    pub revision: String,
    /// "2 of 5".
    pub page: String,
    /// Version of the program.
    pub made_with: String,
}

/// The title block, 180 x 20 mm, with the fields that ISO 7200:2004 asks for and those a drawing needs: scale, projection, units.
pub fn title_block(facts: &Cartouche) -> Figure {
    let mut figure = Figure::new(
        180.0,
        20.0,
        "Title block",
        format!("{}, {}, revision {}, page {}", facts.title, facts.date, facts.revision, facts.page),
    );
    figure.rect([0.25, 0.25], [179.5, 19.5], Some(outline(INK)), None);
    for (x, y0, y1) in [(38.0, 0.25, 10.0), (38.0, 10.0, 19.75), (118.0, 0.25, 19.75), (149.0, 0.25, 19.75), (133.0, 10.0, 19.75)] {
        figure.line([x, y0], [x, y1], hair(INK));
    }
    figure.line([0.25, 10.0], [38.0, 10.0], hair(INK));
    figure.line([118.0, 10.0], [179.75, 10.0], hair(INK));
    let said = |text: &str| if text.is_empty() { "not said".to_string() } else { text.to_string() };
    let mut field = |x: f64, y: f64, width: f64, name: &str, value: String| {
        figure.text([x + 1.5, y + 3.2], 2.4, Face::Text, Anchor::Start, GREY, name);
        figure.text([x + 1.5, y + 8.0], LETTER, Face::Figures, Anchor::Start, INK, fits_mm(Face::Figures, LETTER, width - 3.0, &value));
    };
    field(0.0, 0.0, 38.0, "Document", facts.document.into());
    field(0.0, 10.0, 38.0, "Made by", said(&facts.maker));
    field(118.0, 0.0, 31.0, "Date of issue", said(&facts.date));
    field(149.0, 0.0, 31.0, "Page", facts.page.clone());
    field(118.0, 10.0, 15.0, "Revision", if facts.revision.is_empty() { "\u{2013}".into() } else { facts.revision.clone() });
    field(133.0, 10.0, 16.0, "Units", "mm".into());
    figure.text([150.5, 13.2], 2.4, Face::Text, Anchor::Start, GREY, "Projection");
    figure.put(&projection_symbol().scaled(0.95), [162.6, 11.1]);
    figure.text([39.5, 3.2], 2.4, Face::Text, Anchor::Start, GREY, "Title");
    figure.text([39.5, 11.0], 5.6, Face::Bold, Anchor::Start, INK, fits_mm(Face::Bold, 5.6, 77.0, &facts.title));
    let foot = format!("Scale as noted at each picture. Made with ringer {}", facts.made_with);
    figure.text([39.5, 17.4], 3.0, Face::Text, Anchor::Start, GREY, fits_mm(Face::Text, 3.0, 77.0, &foot));
    figure
}

const LETTER: f64 = 3.8;
