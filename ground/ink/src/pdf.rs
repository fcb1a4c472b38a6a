//! Pages of figures as a PDF file: real text in embedded font subsets, vector paths, JPEG photos as they are.
//!
//! Every piece of a page has a [`Role`], from which the file's structure (for screen readers and reflow) and its outline are made.
//! Same pages, same bytes: the only date in the file is the one that is given.

use crate::InkError;
use crate::face::{FONT_FACES, Letter, font_bytes, letters};
use crate::mark::{Anchor, Face, Figure, Mark, Paint, Step, Stroke};
use crate::svg::{DEEPEST, FARTHEST_MM, is_drawable};
use krilla::geom::{Path, PathBuilder, Point, Size, Transform};
use krilla::image::Image;
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Identifier, Node, TableHeaderScope, Tag, TagGroup, TagTree};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, color::rgb, destination::XyzDestination};
use std::num::NonZeroU16;

/// Points (1/72 in) in a millimetre.
const POINTS_PER_MM: f64 = 72.0 / 25.4;
/// More pages than any job sheet has.
const MOST_PAGES: usize = 2000;

/// A size of paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 210 x 297 mm (ISO 216).
    A4,
    /// 8 1/2 x 11 in, 215.9 x 279.4 mm (ANSI Y14.1, size A).
    Letter,
}

impl Paper {
    /// Width and height, upright, mm.
    pub fn size_mm(self) -> [f64; 2] {
        match self {
            Paper::A4 => [210.0, 297.0],
            Paper::Letter => [215.9, 279.4],
        }
    }
}

/// A page.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// What stands on it, in reading order.
    pub pieces: Vec<Piece>,
}

/// A figure at its place on a page.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Where the figure's top left corner stands, mm from the page's.
    pub at: [f64; 2],
    /// What it is, to someone who hears the page read out.
    pub role: Role,
    /// What is drawn. A heading's `title` goes into the outline, a picture's `description` is read out in its place.
    pub figure: Figure,
}

/// What a piece of a page is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Not read out: ruling, page furniture.
    Decoration,
    /// A heading; 1 is the title, 2 a section.
    Heading(u16),
    /// Running text.
    Paragraph,
    /// A picture, read out by its description.
    Picture,
    /// A cell of a table. Cells of one table, and of one row in it, follow each other.
    Cell {
        /// Which table.
        table: u32,
        /// Which row of it.
        row: u32,
        /// What it says about others.
        head: Head,
    },
}

/// What a table cell says about others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Head {
    /// Nothing: a datum.
    No,
    /// Names its column.
    Column,
    /// Names its row.
    Row,
}

/// What a file says about itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// Title, shown by readers in place of the file's name.
    pub title: String,
    /// Who made it; empty: not said.
    pub author: String,
    /// What it is, in a sentence; empty: not said.
    pub subject: String,
    /// Language of the text, e.g. "en".
    pub language: String,
    /// Year, month, day; never read from a clock. 1 January 2000 where none is given, as the format wants one.
    pub date: Option<(u16, u8, u8)>,
}

/// Pages as one PDF file.
///
/// Errors: [`InkError::PageSize`], [`InkError::Photo`], [`InkError::TooManyPages`], or [`InkError::Writer`] where the PDF library refuses.
pub fn write(pages: &[Page], facts: &Facts) -> Result<Vec<u8>, InkError> {
    if pages.len() > MOST_PAGES {
        return Err(InkError::TooManyPages { found: pages.len(), most: MOST_PAGES });
    }
    let fonts = fonts()?;
    let mut document = Document::new();
    document.set_metadata(metadata(facts));
    let mut said = Vec::new();
    for (n, page) in pages.iter().enumerate() {
        write_page(&mut document, n, page, &fonts, &mut said)?;
    }
    document.set_outline(outline(&said));
    document.set_tag_tree(tag_tree(said, &facts.language));
    document.finish().map_err(|error| InkError::Writer(error.to_string()))
}

/// One figure as a file of its own, its page as large as the figure.
///
/// Errors: as [`write`].
pub fn write_figure(figure: &Figure, facts: &Facts) -> Result<Vec<u8>, InkError> {
    let piece = Piece { at: [0.0, 0.0], role: Role::Picture, figure: figure.clone() };
    write(&[Page { width_mm: figure.width_mm, height_mm: figure.height_mm, pieces: vec![piece] }], facts)
}

fn metadata(facts: &Facts) -> Metadata {
    let (year, month, day) = facts.date.unwrap_or((2000, 1, 1));
    let mut metadata = Metadata::new()
        .title(facts.title.clone())
        .description(facts.subject.clone())
        .language(if facts.language.is_empty() { "en".to_string() } else { facts.language.clone() })
        .creation_date(DateTime::new(year).month(month.clamp(1, 12)).day(day.clamp(1, 31)));
    if !facts.author.is_empty() {
        metadata = metadata.authors(vec![facts.author.clone()]);
    }
    metadata
}

fn fonts() -> Result<Vec<Font>, InkError> {
    let load = |face: Face| Font::new(font_bytes(face).into(), 0).ok_or_else(|| InkError::Writer("a built-in font can't be read".into()));
    FONT_FACES.iter().map(|face| load(*face)).collect()
}

/// A piece as written: what it is, where to find it, its words.
struct Said {
    role: Role,
    tag: Identifier,
    page: usize,
    top_points: f32,
    title: String,
    description: String,
}

fn write_page(document: &mut Document, n: usize, page: &Page, fonts: &[Font], said: &mut Vec<Said>) -> Result<(), InkError> {
    let sensible = |mm: f64| (10.0..=5000.0).contains(&mm);
    let settings = Some(page).filter(|page| sensible(page.width_mm) && sensible(page.height_mm));
    let settings = settings.and_then(|page| PageSettings::from_wh(points(page.width_mm), points(page.height_mm)));
    let Some(settings) = settings else {
        return Err(InkError::PageSize { page: n + 1, width: page.width_mm.to_string(), height: page.height_mm.to_string() });
    };
    let mut sheet = document.start_page_with(settings);
    let mut surface = sheet.surface();
    surface.push_transform(&Transform::from_scale(POINTS_PER_MM as f32, POINTS_PER_MM as f32));
    let mut photo_trouble = None;
    for piece in page.pieces.iter().filter(|piece| piece.at.iter().all(|v| v.is_finite())) {
        let tag = surface.start_tagged(match piece.role {
            Role::Decoration => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
            _ => ContentTag::Other,
        });
        surface.push_transform(&Transform::from_translate(mm(piece.at[0]), mm(piece.at[1])));
        let mut drawing = Drawing { surface: &mut surface, fonts, trouble: None };
        drawing.marks(&piece.figure.marks, 0);
        photo_trouble = photo_trouble.or(drawing.trouble.take());
        surface.pop();
        surface.end_tagged();
        if piece.role != Role::Decoration {
            let (title, description) = (piece.figure.title.clone(), piece.figure.description.clone());
            said.push(Said { role: piece.role, tag, page: n, top_points: points(piece.at[1]), title, description });
        }
    }
    surface.pop();
    surface.finish();
    sheet.finish();
    match photo_trouble {
        Some(why) => Err(InkError::Photo { page: n + 1, why }),
        None => Ok(()),
    }
}

/// Headings of the first two levels, for the reader's side bar.
fn outline(said: &[Said]) -> Outline {
    let mut outline = Outline::new();
    for piece in said {
        if let Role::Heading(2) = piece.role {
            let place = XyzDestination::new(piece.page, Point::from_xy(0.0, piece.top_points));
            outline.push_child(OutlineNode::new(piece.title.clone(), place));
        }
    }
    outline
}

fn tag_tree(said: Vec<Said>, language: &str) -> TagTree {
    let mut tree = TagTree::new().with_lang((!language.is_empty()).then(|| language.to_string()));
    let mut tables: Option<(u32, TagGroup, u32, TagGroup)> = None;
    for piece in said {
        if let Role::Cell { table, row, head } = piece.role {
            let cell = cell_group(head, piece.tag);
            tables = Some(match tables.take() {
                Some((at_table, group, at_row, mut row_group)) if at_table == table && at_row == row => {
                    row_group.push(cell);
                    (table, group, row, row_group)
                }
                Some((at_table, mut group, _, row_group)) if at_table == table => {
                    group.push(row_group);
                    (table, group, row, TagGroup::with_children(Tag::TR, vec![Node::Group(cell)]))
                }
                before => {
                    close_table(&mut tree, before);
                    (table, TagGroup::new(Tag::Table), row, TagGroup::with_children(Tag::TR, vec![Node::Group(cell)]))
                }
            });
            continue;
        }
        close_table(&mut tree, tables.take());
        tree.push(TagGroup::with_children(plain_tag(&piece), vec![Node::Leaf(piece.tag)]));
    }
    close_table(&mut tree, tables);
    tree
}

fn close_table(tree: &mut TagTree, table: Option<(u32, TagGroup, u32, TagGroup)>) {
    if let Some((_, mut group, _, row)) = table {
        group.push(row);
        tree.push(group);
    }
}

fn cell_group(head: Head, tag: Identifier) -> TagGroup {
    let children = vec![Node::Leaf(tag)];
    match head {
        Head::No => TagGroup::with_children(Tag::TD, children),
        Head::Column => TagGroup::with_children(Tag::TH(TableHeaderScope::Column), children),
        Head::Row => TagGroup::with_children(Tag::TH(TableHeaderScope::Row), children),
    }
}

fn plain_tag(piece: &Said) -> krilla::tagging::TagKind {
    match piece.role {
        Role::Heading(level) => Tag::Hn(NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN), Some(piece.title.clone())).into(),
        Role::Picture => Tag::Figure(Some(format!("{}. {}", piece.title, piece.description))).into(),
        _ => Tag::P.into(),
    }
}

/// Marks going onto a page whose unit is the millimetre.
struct Drawing<'s, 'd> {
    surface: &'s mut Surface<'d>,
    fonts: &'s [Font],
    /// What the first unreadable photo said.
    trouble: Option<String>,
}

impl Drawing<'_, '_> {
    fn marks(&mut self, marks: &[Mark], depth: usize) {
        for mark in marks.iter().filter(|mark| is_drawable(mark)) {
            match mark {
                Mark::Path { steps, stroke, fill } => self.path(steps, stroke.as_ref(), fill.as_ref()),
                Mark::Text { .. } => self.text(mark),
                Mark::Photo { at, size_mm, jpeg } => self.photo(*at, *size_mm, jpeg),
                Mark::Clipped { window, marks } if depth < DEEPEST => self.clipped(window, marks, depth),
                Mark::Clipped { .. } => {}
            }
        }
    }

    fn path(&mut self, steps: &[Step], stroke: Option<&Stroke>, fill: Option<&Paint>) {
        let Some(path) = krilla_path(steps) else { return };
        self.surface.set_fill(fill.map(krilla_fill));
        self.surface.set_stroke(stroke.map(krilla_stroke));
        if fill.is_some() || stroke.is_some() {
            self.surface.draw_path(&path);
        }
    }

    fn clipped(&mut self, window: &[Step], marks: &[Mark], depth: usize) {
        let Some(path) = krilla_path(window) else { return };
        self.surface.push_clip_path(&path, &FillRule::NonZero);
        self.marks(marks, depth + 1);
        self.surface.pop();
    }

    fn photo(&mut self, at: [f64; 2], size_mm: [f64; 2], jpeg: &[u8]) {
        let size = Size::from_wh(mm(size_mm[0]), mm(size_mm[1]));
        match (Image::from_jpeg(jpeg.to_vec().into(), true), size) {
            (Ok(image), Some(size)) => {
                self.surface.push_transform(&Transform::from_translate(mm(at[0]), mm(at[1])));
                self.surface.draw_image(image, size);
                self.surface.pop();
            }
            (Err(why), _) => self.trouble = self.trouble.take().or(Some(why)),
            (Ok(_), None) => {}
        }
    }

    fn text(&mut self, mark: &Mark) {
        let Mark::Text { at, size_mm, turn_deg, anchor, face, paint, text } = mark else { return };
        let letters = letters(*face, text);
        let width_mm = letters.iter().map(|letter| letter.advance_em).sum::<f64>() * size_mm;
        let mut x = match anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -width_mm / 2.0,
            Anchor::End => -width_mm,
        };
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(krilla_fill(paint)));
        self.surface.push_transform(&Transform::from_translate(mm(at[0]), mm(at[1])));
        self.surface.push_transform(&Transform::from_rotate(*turn_deg as f32));
        for run in letters.chunk_by(|a, b| a.font == b.font) {
            self.run(run, x, *size_mm, text);
            x += run.iter().map(|letter| letter.advance_em).sum::<f64>() * size_mm;
        }
        self.surface.pop();
        self.surface.pop();
    }

    /// Letters that one font has.
    fn run(&mut self, run: &[Letter], x: f64, size_mm: f64, text: &str) {
        let Some(font) = run.first().and_then(|letter| self.fonts.get(letter.font)) else { return };
        let glyphs: Vec<KrillaGlyph> = run
            .iter()
            .map(|letter| {
                KrillaGlyph::new(GlyphId::new(letter.glyph.into()), letter.advance_em as f32, 0.0, 0.0, 0.0, letter.bytes.clone(), None)
            })
            .collect();
        self.surface.draw_glyphs(Point::from_xy(mm(x), 0.0), &glyphs, font.clone(), text, mm(size_mm), false);
    }
}

fn krilla_path(steps: &[Step]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for step in steps {
        match step {
            Step::Move(p) => path.move_to(mm(p[0]), mm(p[1])),
            Step::Line(p) => path.line_to(mm(p[0]), mm(p[1])),
            Step::Cubic(a, b, c) => path.cubic_to(mm(a[0]), mm(a[1]), mm(b[0]), mm(b[1]), mm(c[0]), mm(c[1])),
            Step::Close => path.close(),
        }
    }
    path.finish()
}

fn krilla_fill(paint: &Paint) -> Fill {
    Fill { paint: colour(paint).into(), opacity: opacity(paint), rule: FillRule::NonZero }
}

fn krilla_stroke(stroke: &Stroke) -> krilla::paint::Stroke {
    let dashes: Vec<f32> = stroke.dash_mm.iter().map(|d| mm(*d)).collect();
    let dashed = dashes.len() > 1 && dashes.iter().sum::<f32>() > 0.0;
    krilla::paint::Stroke {
        paint: colour(&stroke.paint).into(),
        width: mm(stroke.width_mm.max(0.0)),
        opacity: opacity(&stroke.paint),
        dash: dashed.then_some(krilla::paint::StrokeDash { array: dashes, offset: 0.0 }),
        ..Default::default()
    }
}

fn colour(paint: &Paint) -> rgb::Color {
    rgb::Color::new(paint.srgb[0], paint.srgb[1], paint.srgb[2])
}

fn opacity(paint: &Paint) -> NormalizedF32 {
    NormalizedF32::new(paint.opacity.clamp(0.0, 1.0) as f32).unwrap_or(NormalizedF32::ONE)
}

fn mm(value: f64) -> f32 {
    value.clamp(-FARTHEST_MM, FARTHEST_MM) as f32
}

fn points(value_mm: f64) -> f32 {
    (value_mm * POINTS_PER_MM) as f32
}
