//! A figure as SVG 1.1 text.

use crate::base64::base64;
use crate::face::font_bytes;
use crate::mark::{Anchor, Face, Figure, Mark, Paint, Step, Stroke};
use std::fmt::Write;

/// Where the letters of an SVG come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Fonts {
    /// By name: the page around it has them.
    #[default]
    Named,
    /// In the file itself, so that it shows right alone.
    Embedded,
}

/// Where the photos in an SVG stand. A photo that is shown twice, as under a loupe, is written once.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Photos {
    /// In the file itself.
    #[default]
    InFile,
    /// Elsewhere on the page, by [`photos_on_page`], so that several pictures can share them.
    OnPage,
}

/// Whether a screen reader says what a figure shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Reading {
    /// Its title and description are read out.
    #[default]
    Aloud,
    /// It is passed over: the words beside it say the same.
    Silent,
}

/// How an SVG is written.
#[derive(Clone, Copy, Debug, Default)]
pub struct SvgOptions<'a> {
    /// Where the photos stand.
    pub photos: Photos,
    /// Whether it is read out.
    pub reading: Reading,
    /// Where the letters come from.
    pub fonts: Fonts,
    /// Colours that are written as CSS properties with the colour as fallback, e.g. `([30, 28, 26], "--ink")`, so that a page can change them.
    pub named_colours: &'a [([u8; 3], &'a str)],
}

/// Family names in SVG and CSS, with what stands in for them.
pub const FACES: [(Face, &str); 3] = [
    (Face::Text, "'Gentium Book Basic','Bench Figures',Charter,Georgia,serif"),
    (Face::Bold, "'Gentium Book Basic','Bench Figures',Charter,Georgia,serif"),
    (Face::Figures, "'Bench Figures','Routed Gothic','Gentium Book Basic',sans-serif"),
];

impl Figure {
    /// The figure as SVG, fonts by name. Same figure, same bytes; marks with numbers that are not finite are left out.
    pub fn to_svg(&self) -> String {
        self.to_svg_with(SvgOptions::default())
    }

    /// The figure as SVG.
    pub fn to_svg_with(&self, options: SvgOptions) -> String {
        let mut writer = Writer { out: String::new(), options, prefix: format!("f{:08x}", fingerprint(self)), windows: 0 };
        let (width, height) = (extent(self.width_mm), extent(self.height_mm));
        let prefix = writer.prefix.clone();
        let [wide, high] = [number(width), number(height)];
        let _ = write!(
            writer.out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" width=\"{wide}mm\" height=\"{high}mm\""
        );
        let _ = match options.reading {
            Reading::Silent => write!(writer.out, " aria-hidden=\"true\">"),
            Reading::Aloud => write!(
                writer.out,
                " role=\"img\" aria-labelledby=\"{prefix}t {prefix}d\"><title id=\"{prefix}t\">{}</title><desc id=\"{prefix}d\">{}</desc>",
                escaped(&self.title),
                escaped(&self.description)
            ),
        };
        if options.fonts == Fonts::Embedded {
            let _ = write!(writer.out, "<style>{}</style>", font_face_css(&faces_used(&self.marks, 0)));
        }
        if options.photos == Photos::InFile {
            writer.out.push_str(&photo_definitions(&[self]));
        }
        writer.marks(&self.marks, 0);
        writer.out.push_str("</svg>\n");
        writer.out
    }
}

/// A hidden SVG that holds every photo of some figures once, for pages whose figures are written with [`Photos::OnPage`].
pub fn photos_on_page(figures: &[&Figure]) -> String {
    let definitions = photo_definitions(figures);
    if definitions.is_empty() {
        return definitions;
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"0\" height=\"0\" style=\"position:absolute\" aria-hidden=\"true\">{definitions}</svg>"
    )
}

/// The photos of some figures, in the order in which they are met.
pub fn photos_in<'a>(figures: &[&'a Figure]) -> Vec<&'a [u8]> {
    figures.iter().flat_map(|figure| photos_of(&figure.marks, 0)).collect()
}

/// Each photo as an image one unit wide and high, to be stretched where it is used.
fn photo_definitions(figures: &[&Figure]) -> String {
    let mut written: Vec<String> = Vec::new();
    let mut definitions = String::new();
    for jpeg in figures.iter().flat_map(|figure| photos_of(&figure.marks, 0)) {
        let id = photo_id(jpeg);
        if !written.contains(&id) {
            let data = base64(jpeg);
            let _ = write!(
                definitions,
                "<image id=\"{id}\" width=\"1\" height=\"1\" preserveAspectRatio=\"none\" href=\"data:image/jpeg;base64,{data}\"/>"
            );
            written.push(id);
        }
    }
    if definitions.is_empty() { definitions } else { format!("<defs>{definitions}</defs>") }
}

fn photos_of(marks: &[Mark], depth: usize) -> Vec<&[u8]> {
    let mut photos = Vec::new();
    for mark in marks {
        match mark {
            Mark::Photo { jpeg, .. } if !jpeg.is_empty() => photos.push(jpeg.as_slice()),
            Mark::Clipped { marks, .. } if depth < DEEPEST => photos.extend(photos_of(marks, depth + 1)),
            _ => {}
        }
    }
    photos
}

/// A name for a photo made of its bytes (FNV-1a, 64 bit).
fn photo_id(jpeg: &[u8]) -> String {
    let hash = jpeg.iter().fold(0xcbf2_9ce4_8422_2325u64, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3));
    format!("p{hash:016x}")
}

/// `@font-face` rules for faces, the font files inside them as data.
pub fn font_face_css(faces: &[Face]) -> String {
    let mut css = String::new();
    for (face, family, weight) in
        [(Face::Text, "Gentium Book Basic", 400), (Face::Bold, "Gentium Book Basic", 700), (Face::Figures, "Bench Figures", 400)]
    {
        if faces.contains(&face) || (face == Face::Figures && faces.contains(&Face::Columns)) {
            let data = base64(font_bytes(face));
            let _ = write!(
                css,
                "@font-face{{font-family:'{family}';font-weight:{weight};font-style:normal;src:url(data:font/ttf;base64,{data}) format('truetype')}}"
            );
        }
    }
    css
}

/// Nesting of windows that is still drawn.
pub(crate) const DEEPEST: usize = 16;

fn faces_used(marks: &[Mark], depth: usize) -> Vec<Face> {
    let mut faces = Vec::new();
    for mark in marks {
        match mark {
            Mark::Text { face, .. } => faces.push(*face),
            Mark::Clipped { marks, .. } if depth < DEEPEST => faces.extend(faces_used(marks, depth + 1)),
            _ => {}
        }
    }
    faces
}

struct Writer<'a> {
    out: String,
    options: SvgOptions<'a>,
    /// Makes the ids of this figure its own among several on one page.
    prefix: String,
    windows: usize,
}

impl Writer<'_> {
    fn marks(&mut self, marks: &[Mark], depth: usize) {
        let mut marks = marks.iter().filter(|mark| is_drawable(mark)).peekable();
        while let Some(mark) = marks.next() {
            match mark {
                Mark::Path { steps, stroke: Some(stroke), fill: None } => {
                    let mut data = path_data(steps);
                    while let Some(more) = marks.next_if(|next| is_drawn_by(next, stroke)) {
                        data.push_str(&lines_of(more));
                    }
                    self.path(&data, Some(stroke), None);
                }
                Mark::Path { steps, stroke, fill } => self.path(&path_data(steps), stroke.as_ref(), fill.as_ref()),
                Mark::Text { .. } => self.text(mark),
                Mark::Photo { at, size_mm, jpeg } => self.photo(*at, *size_mm, jpeg),
                Mark::Clipped { window, marks } if depth < DEEPEST => self.clipped(window, marks, depth),
                Mark::Clipped { .. } => {}
            }
        }
    }

    fn path(&mut self, data: &str, stroke: Option<&Stroke>, fill: Option<&Paint>) {
        let _ = write!(self.out, "<path d=\"{data}\"");
        match fill {
            Some(paint) => self.paint("fill", paint),
            None => self.out.push_str(" fill=\"none\""),
        }
        if let Some(stroke) = stroke {
            self.paint("stroke", &stroke.paint);
            let _ = write!(self.out, " stroke-width=\"{}\"", number(stroke.width_mm));
            if !stroke.dash_mm.is_empty() {
                let dashes: Vec<String> = stroke.dash_mm.iter().map(|d| number(*d)).collect();
                let _ = write!(self.out, " stroke-dasharray=\"{}\"", dashes.join(" "));
            }
        }
        self.out.push_str("/>");
    }

    fn text(&mut self, mark: &Mark) {
        let Mark::Text { at, size_mm, turn_deg, anchor, face, paint, text } = mark else { return };
        let _ = write!(self.out, "<text x=\"{}\" y=\"{}\" font-size=\"{}\"", number(at[0]), number(at[1]), number(*size_mm));
        let family = FACES.iter().find(|(known, _)| known == face).map_or(FACES[2].1, |(_, family)| family);
        let _ = write!(self.out, " font-family=\"{family}\"");
        self.out.push_str(match face {
            Face::Bold => " font-weight=\"700\" style=\"white-space:pre;font-kerning:none\"",
            Face::Columns => " style=\"white-space:pre;font-kerning:none;font-variant-numeric:tabular-nums\"",
            Face::Text | Face::Figures => " style=\"white-space:pre;font-kerning:none\"",
        });
        match anchor {
            Anchor::Start => {}
            Anchor::Middle => self.out.push_str(" text-anchor=\"middle\""),
            Anchor::End => self.out.push_str(" text-anchor=\"end\""),
        }
        self.paint("fill", paint);
        if *turn_deg != 0.0 {
            let _ = write!(self.out, " transform=\"rotate({} {} {})\"", number(*turn_deg), number(at[0]), number(at[1]));
        }
        let _ = write!(self.out, ">{}</text>", escaped(text));
    }

    fn photo(&mut self, at: [f64; 2], size_mm: [f64; 2], jpeg: &[u8]) {
        let place = [at[0], at[1], size_mm[0], size_mm[1]].map(number);
        let id = photo_id(jpeg);
        let _ =
            write!(self.out, "<use href=\"#{id}\" transform=\"translate({} {}) scale({} {})\"/>", place[0], place[1], place[2], place[3]);
    }

    fn clipped(&mut self, window: &[Step], marks: &[Mark], depth: usize) {
        let id = format!("{}w{}", self.prefix, self.windows);
        self.windows += 1;
        let _ = write!(self.out, "<clipPath id=\"{id}\"><path d=\"{}\"/></clipPath><g clip-path=\"url(#{id})\">", path_data(window));
        self.marks(marks, depth + 1);
        self.out.push_str("</g>");
    }

    fn paint(&mut self, what: &str, paint: &Paint) {
        let [r, g, b] = paint.srgb;
        let _ = match self.options.named_colours.iter().find(|(srgb, _)| *srgb == paint.srgb) {
            Some((_, name)) => write!(self.out, " {what}=\"var({},#{r:02x}{g:02x}{b:02x})\"", escaped(name)),
            None => write!(self.out, " {what}=\"#{r:02x}{g:02x}{b:02x}\""),
        };
        if paint.opacity < 1.0 {
            let _ = write!(self.out, " {what}-opacity=\"{}\"", number(paint.opacity.max(0.0)));
        }
    }
}

/// Whether a mark is a line of that very stroke. Opaque lines of one stroke look the same drawn one by one or together, and a rule has a hundred.
fn is_drawn_by(mark: &Mark, stroke: &Stroke) -> bool {
    matches!(mark, Mark::Path { stroke: Some(own), fill: None, .. } if own == stroke && own.paint.opacity >= 1.0)
}

fn lines_of(mark: &Mark) -> String {
    if let Mark::Path { steps, .. } = mark { path_data(steps) } else { String::new() }
}

/// Whether a mark has only finite numbers and something to draw.
pub(crate) fn is_drawable(mark: &Mark) -> bool {
    let fine = |values: &[f64]| values.iter().all(|v| v.is_finite());
    match mark {
        Mark::Path { steps, stroke, fill } => {
            steps_are_fine(steps)
                && stroke
                    .as_ref()
                    .is_none_or(|s| fine(&[s.width_mm, s.paint.opacity]) && s.dash_mm.iter().all(|d| d.is_finite() && *d >= 0.0))
                && fill.as_ref().is_none_or(|f| f.opacity.is_finite())
        }
        Mark::Text { at, size_mm, turn_deg, paint, text, .. } => {
            fine(&[at[0], at[1], *size_mm, *turn_deg, paint.opacity]) && *size_mm > 0.0 && !text.is_empty()
        }
        Mark::Photo { at, size_mm, jpeg } => fine(&[at[0], at[1]]) && size_mm.iter().all(|s| s.is_finite() && *s > 0.0) && !jpeg.is_empty(),
        Mark::Clipped { window, .. } => steps_are_fine(window),
    }
}

fn steps_are_fine(steps: &[Step]) -> bool {
    let fine = |p: &[f64; 2]| p[0].is_finite() && p[1].is_finite();
    matches!(steps.first(), Some(Step::Move(_)))
        && steps.len() > 1
        && steps.iter().all(|step| match step {
            Step::Move(p) | Step::Line(p) => fine(p),
            Step::Cubic(a, b, c) => fine(a) && fine(b) && fine(c),
            Step::Close => true,
        })
}

fn path_data(steps: &[Step]) -> String {
    let mut data = String::new();
    for step in steps {
        let _ = match step {
            Step::Move(p) => write!(data, "M{} {}", number(p[0]), number(p[1])),
            Step::Line(p) => write!(data, "L{} {}", number(p[0]), number(p[1])),
            Step::Cubic(a, b, c) => {
                write!(data, "C{} {} {} {} {} {}", number(a[0]), number(a[1]), number(b[0]), number(b[1]), number(c[0]), number(c[1]))
            }
            Step::Close => write!(data, "Z"),
        };
    }
    data
}

/// Farthest place that is written, mm; what lies beyond is off any sheet.
pub(crate) const FARTHEST_MM: f64 = 1e5;

/// A number in micrometres' detail, without needless zeros.
fn number(value: f64) -> String {
    let value = if value.is_finite() { value.clamp(-FARTHEST_MM, FARTHEST_MM) } else { 0.0 };
    match micrometres(value) {
        Some(whole) => decimal(whole),
        None => exact(value),
    }
}

/// The nearest thousandth, where it is plain which: rounding of the product errs by less than 1e-7 below [`FARTHEST_MM`].
fn micrometres(value: f64) -> Option<i64> {
    let scaled = value * 1000.0;
    ((scaled - scaled.floor() - 0.5).abs() > 1e-6).then(|| scaled.round() as i64)
}

/// Thousandths as a decimal number; ten times as fast as the exact printing of a float, which is most of what a large drawing costs.
fn decimal(thousandths: i64) -> String {
    let (whole, rest) = (thousandths.unsigned_abs() / 1000, thousandths.unsigned_abs() % 1000);
    let mut text = String::with_capacity(12);
    if thousandths < 0 {
        text.push('-');
    }
    text.push_str(&whole.to_string());
    if rest > 0 {
        text.push('.');
        for digit in [rest / 100, rest / 10 % 10, rest % 10] {
            text.push(char::from(b'0' + digit as u8));
        }
        text.truncate(text.trim_end_matches('0').len());
    }
    text
}

fn exact(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_string() } else { text.to_string() }
}

fn extent(value: f64) -> f64 {
    if value.is_finite() { value.clamp(0.1, FARTHEST_MM) } else { 1.0 }
}

/// Text safe between tags and in quoted attributes; signs that XML 1.0 forbids become spaces.
pub(crate) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\u{fffe}' | '\u{ffff}' => safe.push(' '),
            sign if sign.is_control() => safe.push(' '),
            sign => safe.push(sign),
        }
    }
    safe
}

/// A short name made of all that a figure shows (FNV-1a, 32 bit): the same for the same figure, on every machine.
fn fingerprint(figure: &Figure) -> u32 {
    let mut hash = 0x811c_9dc5u32;
    let mut eat = |bytes: &[u8]| bytes.iter().for_each(|byte| hash = (hash ^ u32::from(*byte)).wrapping_mul(0x0100_0193));
    eat(figure.title.as_bytes());
    eat(figure.description.as_bytes());
    eat(&figure.width_mm.to_le_bytes());
    eat(&(figure.marks.len() as u64).to_le_bytes());
    eat_marks(&figure.marks, &mut eat, 0);
    hash
}

fn eat_marks(marks: &[Mark], eat: &mut dyn FnMut(&[u8]), depth: usize) {
    for mark in marks {
        match mark {
            Mark::Path { steps, .. } => eat(path_data(steps).as_bytes()),
            Mark::Text { text, .. } => eat(text.as_bytes()),
            Mark::Photo { jpeg, .. } => eat(&(jpeg.len() as u64).to_le_bytes()),
            Mark::Clipped { window, marks } => {
                eat(path_data(window).as_bytes());
                if depth < DEEPEST {
                    eat_marks(marks, eat, depth + 1);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::palette;

    fn hostile() -> Figure {
        let mut figure = Figure::new(40.0, 20.0, "<script>alert('x')</script>", "a & b \"c\" ]]> \u{0}\u{8}");
        figure.text([1.0, 5.0], 3.0, Face::Figures, Anchor::Start, palette::INK, "</text><script>\"&'");
        figure.line([0.0, 0.0], [10.0, f64::NAN], palette::hair(palette::INK));
        figure.line([0.0, 0.0], [f64::INFINITY, 1.0], palette::hair(palette::INK));
        figure.line([0.0, 0.0], [1e300, 1.0], palette::hair(palette::INK));
        figure
    }

    /// The quick way against the standard library's exact one, on ties and their neighbours above all.
    #[test]
    fn numbers_are_those_of_exact_printing() {
        let ties = (-3000..3000).map(|n| f64::from(n) * 0.0005);
        let near = ties.clone().flat_map(|tie| [tie.next_down(), tie.next_up(), tie + 1e-9, tie - 1e-10]);
        let far = (0..2000).map(|n| FARTHEST_MM - f64::from(n) * 0.37017);
        let small = [0.0, -0.0, 1e-300, -1e-9, -0.0004, -0.0005, -0.0006, 99.9995, 1e5 - 6e-4, -FARTHEST_MM, FARTHEST_MM];
        for value in ties.chain(near).chain(far).chain(small) {
            assert_eq!(number(value), exact(value), "{value:e}");
        }
    }

    #[test]
    fn hostile_words_stay_words() {
        let svg = hostile().to_svg();
        assert!(!svg.contains("<script"), "{svg}");
        assert!(svg.contains("&lt;script&gt;alert(&#39;x&#39;)"));
        assert!(!svg.chars().any(|c| c.is_control() && c != '\n'));
        assert_eq!(svg.matches("<text").count(), 1);
    }

    #[test]
    fn no_number_is_other_than_finite() {
        let svg = hostile().to_svg();
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        assert_eq!(svg.matches("<path").count(), 1, "only the finite line is left: {svg}");
    }

    #[test]
    fn a_lone_file_has_its_fonts_and_a_page_can_recolour() {
        let mut figure = Figure::new(10.0, 10.0, "t", "d");
        figure.text([1.0, 5.0], 3.0, Face::Figures, Anchor::Start, palette::INK, "12");
        let alone = figure.to_svg_with(SvgOptions { fonts: Fonts::Embedded, ..SvgOptions::default() });
        assert_eq!(alone.matches("@font-face").count(), 1, "only the face in use");
        let live = figure.to_svg_with(SvgOptions { named_colours: &palette::NAMED, ..SvgOptions::default() });
        assert!(live.contains("fill=\"var(--ink,#1e1c1a)\""), "{live}");
    }

    #[test]
    fn same_figure_same_bytes_and_ids_differ_between_figures() {
        assert_eq!(hostile().to_svg(), hostile().to_svg());
        let mut one = Figure::new(10.0, 10.0, "a", "b");
        one.hatch(crate::rect_steps([0.0, 0.0], [5.0, 5.0]), 45.0, 1.0, palette::hair(palette::INK));
        let mut two = one.clone();
        two.title = "c".into();
        let id = |svg: String| svg.split("clipPath id=\"").nth(1).map(|rest| rest.split('"').next().unwrap_or("").to_string());
        assert_ne!(id(one.to_svg()), id(two.to_svg()));
    }
}
