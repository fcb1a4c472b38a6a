//! What a picture is made of.

/// A colour as sRGB 8 bit, with the share of what is behind that it covers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Paint {
    /// Red, green, blue.
    pub srgb: [u8; 3],
    /// 0 clear .. 1 covering.
    pub opacity: f64,
}

/// A line's look.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// Colour.
    pub paint: Paint,
    /// Width, mm.
    pub width_mm: f64,
    /// Dash lengths, mm: on, off, on, off ...; empty for a full line.
    pub dash_mm: Vec<f64>,
}

/// A step of a path, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// Lift the pen and go.
    Move([f64; 2]),
    /// Draw straight.
    Line([f64; 2]),
    /// Draw a cubic Bezier curve: control, control, end.
    Cubic([f64; 2], [f64; 2], [f64; 2]),
    /// Close to the last `Move`.
    Close,
}

/// Which face type is set in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// Running text (Gentium Book Basic).
    Text,
    /// Headings (Gentium Book Basic, bold).
    Bold,
    /// Figures and drawing lettering (Bench Figures, after Routed Gothic).
    Figures,
    /// The same with the 1 as wide as the other digits, for numbers in columns.
    Columns,
}

/// Where a line of type hangs on its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Starts there.
    Start,
    /// Centred there.
    Middle,
    /// Ends there.
    End,
}

/// One thing drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// An open or closed path.
    Path {
        /// The steps.
        steps: Vec<Step>,
        /// The line, if any.
        stroke: Option<Stroke>,
        /// The filling, if any (non-zero rule).
        fill: Option<Paint>,
    },
    /// One line of type.
    Text {
        /// Where its base line starts, is centred or ends.
        at: [f64; 2],
        /// Size of the em, mm.
        size_mm: f64,
        /// Turned clockwise on screen about `at`, degrees.
        turn_deg: f64,
        /// How it hangs.
        anchor: Anchor,
        /// Its face.
        face: Face,
        /// Its colour.
        paint: Paint,
        /// What it says.
        text: String,
    },
    /// A JPEG picture.
    Photo {
        /// Top left, mm.
        at: [f64; 2],
        /// Width and height on the sheet, mm.
        size_mm: [f64; 2],
        /// The JPEG file's bytes (baseline, RGB).
        jpeg: Vec<u8>,
    },
    /// Marks shown only inside a path.
    Clipped {
        /// The window.
        window: Vec<Step>,
        /// What is seen through it.
        marks: Vec<Mark>,
    },
}

/// A picture with its size and what it says in words.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// Name, for screen readers.
    pub title: String,
    /// What the picture shows, in a sentence or two, for those who don't see it.
    pub description: String,
    /// The marks, back to front.
    pub marks: Vec<Mark>,
}
