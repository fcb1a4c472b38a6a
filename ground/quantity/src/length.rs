use serde::Serialize;

/// Millimetres in one inch, exact since 1959 (international yard and pound agreement).
pub const MM_PER_INCH: f64 = 25.4;

/// Where a number came from, in words for the sheet: "measured on a second machine", "photo front".
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Source(pub String);

/// A length with its standard uncertainty (one sigma) and its source.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Length {
    /// Value, mm.
    pub mm: f64,
    /// Standard uncertainty, mm; 0 only where the value is exact by definition.
    pub sigma_mm: f64,
    /// Where it came from.
    pub source: Source,
}

/// Something weak about an answer, and what would settle it. Not an error: the answer stands, wide as it is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Note {
    /// What is doubtful, in a full sentence.
    pub text: String,
    /// The action that would settle it, as an instruction to the person; empty when nothing would.
    pub settle: String,
}

impl Note {
    /// A note from its two sentences.
    pub fn new(text: impl Into<String>, settle: impl Into<String>) -> Self {
        Note { text: text.into(), settle: settle.into() }
    }
}

/// A value with the notes that came up on the way.
#[derive(Clone, Debug, PartialEq)]
pub struct Noted<T> {
    /// The answer.
    pub value: T,
    /// What is doubtful about it, most important first.
    pub notes: Vec<Note>,
}

/// An inch size as trade writes it: "1 1/4 in", "7/8 in", or "0.255 in" where no 64th fits to 1e-6 in.
pub fn inch_label(mm: f64) -> String {
    let inches = mm / MM_PER_INCH;
    let sixty_fourths = (inches * 64.0).round();
    if (inches * 64.0 - sixty_fourths).abs() > 6.4e-5 || sixty_fourths <= 0.0 || sixty_fourths > 1e9 {
        let text = format!("{inches:.4}");
        return format!("{} in", text.trim_end_matches('0').trim_end_matches('.'));
    }
    let (mut numerator, mut denominator) = (sixty_fourths as u64, 64u64);
    while numerator % 2 == 0 && denominator > 1 {
        numerator /= 2;
        denominator /= 2;
    }
    match (numerator / denominator, numerator % denominator) {
        (whole, 0) => format!("{whole} in"),
        (0, part) => format!("{part}/{denominator} in"),
        (whole, part) => format!("{whole} {part}/{denominator} in"),
    }
}

/// A millimetre size without needless zeros: "22 mm", "12.5 mm", "6.35 mm".
pub fn mm_label(mm: f64) -> String {
    let text = format!("{mm:.4}");
    format!("{} mm", text.trim_end_matches('0').trim_end_matches('.'))
}
