/// What a size measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SizeKind {
    /// Along the axis, on the outside.
    Length,
    /// Across, on the outside.
    Diameter,
    /// Across, of the bore.
    Bore,
    /// Along the axis, in the bore.
    Depth,
}

/// A size to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnSize {
    /// What it says over the line, as chosen: "7/8 in", "22.2". A diameter sign is put before it where it belongs; empty for the value in mm.
    pub label: String,
    /// What it says under the line: the measured value and its doubt; empty for none.
    pub measured: String,
    /// What it measures.
    pub kind: SizeKind,
    /// Where along the axis: from, to, mm. For a diameter the stretch that has it.
    pub z_mm: [f64; 2],
    /// The chosen size, mm.
    pub value_mm: f64,
}

impl DrawnSize {
    /// The words over the line.
    pub(crate) fn over(&self) -> String {
        // Millimetres are the sheet's unit: the title block says so once.
        let label = self.label.trim();
        let label = label.strip_suffix("mm").map_or(label, str::trim_end);
        let label = if label.is_empty() { plain(self.value_mm) } else { label.to_string() };
        match self.kind {
            SizeKind::Diameter | SizeKind::Bore if !label.starts_with('\u{2300}') => format!("\u{2300}{label}"),
            _ => label,
        }
    }

    /// Whether every number in it can be drawn.
    pub(crate) fn is_drawable(&self) -> bool {
        self.value_mm.is_finite() && self.value_mm > 0.0 && self.z_mm.iter().all(|z| z.is_finite())
    }

    /// The size in a sentence, for those who don't see the drawing.
    pub(crate) fn words(&self) -> String {
        let kind = match self.kind {
            SizeKind::Length => "Length",
            SizeKind::Diameter => "Diameter",
            SizeKind::Bore => "Bore diameter",
            SizeKind::Depth => "Bore depth",
        };
        let measured = if self.measured.is_empty() { String::new() } else { format!(", measured {}", self.measured) };
        format!("{kind} {}{measured}", self.over().trim_start_matches('\u{2300}'))
    }
}

fn plain(mm: f64) -> String {
    let text = format!("{mm:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_say_the_sign_and_leave_the_sheets_unit_out() {
        let size =
            |kind, label: &str| DrawnSize { label: label.into(), measured: String::new(), kind, z_mm: [0.0, 1.0], value_mm: 22.2250 };
        for (kind, label, over) in [
            (SizeKind::Diameter, "7/8 in", "\u{2300}7/8 in"),
            (SizeKind::Diameter, "27 mm", "\u{2300}27"),
            (SizeKind::Bore, "", "\u{2300}22.225"),
            (SizeKind::Length, "46.79mm", "46.79"),
            (SizeKind::Length, "mm", "22.225"),
        ] {
            assert_eq!(size(kind, label).over(), over);
        }
    }
}
