//! Lines of type set into figures.

use crate::station::{Cell, Emphasis};
use ink::palette::{BLUE, BRICK, INK};
use ink::{Anchor, Face, Figure, Paint, wrap_mm};

/// How a paragraph is set.
#[derive(Clone, Copy, Debug)]
pub struct Setting {
    pub face: Face,
    /// Size of the em, mm.
    pub size_mm: f64,
    /// From base line to base line, mm.
    pub lead_mm: f64,
    pub paint: Paint,
}

/// Running text: 3.9 mm is 11 points.
pub const BODY: Setting = Setting { face: Face::Text, size_mm: 3.9, lead_mm: 5.3, paint: INK };
/// Text in tables.
pub const CELL: Setting = Setting { face: Face::Text, size_mm: 3.6, lead_mm: 4.7, paint: INK };

impl Setting {
    pub const fn face(self, face: Face) -> Self {
        Setting { face, ..self }
    }

    pub const fn paint(self, paint: Paint) -> Self {
        Setting { paint, ..self }
    }

    pub const fn size(self, size_mm: f64, lead_mm: f64) -> Self {
        Setting { size_mm, lead_mm, ..self }
    }

    pub fn lines(&self, width_mm: f64, text: &str) -> Vec<String> {
        wrap_mm(self.face, self.size_mm, width_mm, text)
    }

    /// Lines below each other, the first base line one size below the top.
    pub fn figure(&self, width_mm: f64, lines: &[String], anchor: Anchor) -> Figure {
        let whole = lines.join(" ");
        let mut figure = Figure::new(width_mm, self.lead_mm * lines.len() as f64, whole.clone(), whole);
        let x = match anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => width_mm / 2.0,
            Anchor::End => width_mm,
        };
        for (n, line) in lines.iter().enumerate() {
            // A space ends each line but the last, so that words stay apart when the text is copied or read out.
            let line = if n + 1 < lines.len() && anchor == Anchor::Start { format!("{line} ") } else { line.clone() };
            figure.text([x, self.size_mm + self.lead_mm * n as f64], self.size_mm, self.face, anchor, self.paint, line);
        }
        figure
    }
}

/// How a cell of a table is set.
pub fn cell_setting(cell: &Cell) -> Setting {
    let plain = if cell.figures { CELL.face(Face::Columns) } else { CELL };
    match cell.emphasis {
        Emphasis::Plain => plain,
        Emphasis::Used => CELL.face(Face::Bold),
        Emphasis::Decided => CELL.face(Face::Bold).paint(BLUE),
        Emphasis::Contradicted => CELL.face(Face::Bold).paint(BRICK),
    }
}
