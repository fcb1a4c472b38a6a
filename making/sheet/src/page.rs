//! The sheet as one page of HTML that needs nothing else: style, fonts, pictures and photos are inside it.

use crate::JobSheet;
use crate::cautions::GOVERNS;
use crate::fragments::{Part, Place};
use crate::pictures::{NARROW_MM, state_sign};
use crate::station::{Block, Cell, Doubt, Emphasis, State, Station, Table, Want};
use crate::stations::{LONGEST, all};
use crate::words::{bounded, sentence};
use ink::{Face, Figure, Photos, Reading, SvgOptions, font_face_css, palette, photos_on_page};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use std::sync::Arc;

/// The whole page. Same sheet, same bytes.
pub fn html(sheet: &JobSheet) -> String {
    let stations = all(sheet);
    let title = bounded(&sheet.document.title, 200);
    let fonts = font_face_css(&[Face::Text, Face::Bold, Face::Figures]);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content={ "ringer " (sheet.result.ringer) };
                title { (title) " \u{2013} job sheet" }
                style { (PreEscaped(fonts)) (PreEscaped(style())) }
            }
            body {
                a.skip href="#evidence" { "To the first station" }
                (shared_photos(&stations))
                main {
                    (masthead(sheet))
                    (contents(&stations))
                    @for station in &stations { (section(station)) }
                    (assumptions(sheet))
                    (cautions(sheet))
                }
                (title_block(sheet))
            }
        }
    };
    page.into_string()
}

/// The style of the sheet, without the fonts. Colours are named properties; at night they change, pictures included.
pub fn style() -> &'static str {
    include_str!("style.css")
}

/// Title and what the sheet is.
pub fn masthead(sheet: &JobSheet) -> Markup {
    let document = sheet.document;
    let facts: Vec<String> = [
        document.maker.as_ref().map(|maker| format!("made by {}", bounded(maker, 100))),
        document.date.as_ref().map(|date| bounded(date, 40)),
        document.revision.as_ref().map(|revision| format!("revision {}", bounded(revision, 20))),
    ]
    .into_iter()
    .flatten()
    .collect();
    html! {
        header.masthead {
            p.kind { "Job sheet" @if sheet.sample { span.notice { "Sample data: the numbers are invented" } } }
            h1 { (bounded(&document.title, 200)) }
            @if !facts.is_empty() { p.facts { (facts.join(", ")) } }
        }
    }
}

/// The folded sheet: every question with its answer.
pub fn contents(stations: &[Station]) -> Markup {
    html! {
        nav.contents aria-label="The job in short" {
            ol {
                @for station in stations {
                    li {
                        a href={ "#" (station.id) } {
                            span.number { (station.number) }
                            (sign(station.state))
                            span.question { (station.question) }
                            span.word { (station.state.word()) }
                            span.answer { (station.answer) }
                        }
                    }
                }
            }
        }
    }
}

/// One station. Its id is the station's name.
pub fn section(station: &Station) -> Markup {
    let blocks: Vec<Arc<str>> = station.blocks.iter().map(|one| block(one).into_string().into()).collect();
    PreEscaped(section_html(station.id, &parts_of(station, &blocks)))
}

/// A station's section of its parts.
pub fn section_html(id: &str, parts: &[Part]) -> String {
    let of = |place: Place| parts.iter().filter(move |part| part.place == place);
    let section = html! {
        section.station id=(id) aria-labelledby=(heading(id)) {
            @for part in of(Place::Head) { (PreEscaped(&part.html)) }
            div.body { @for part in of(Place::Body) { (PreEscaped(&part.html)) } }
            @for part in of(Place::Foot) { (PreEscaped(&part.html)) }
        }
    };
    section.into_string()
}

fn heading(id: &str) -> String {
    format!("{id}-question")
}

/// The parts of a station's section, its blocks already written. Each is one element.
pub(crate) fn parts_of(station: &Station, blocks: &[Arc<str>]) -> Vec<Part> {
    let part = |place: Place| move |markup: Markup| Part { place, html: markup.into_string().into() };
    let head = [
        html! { div.margin { span.number aria-hidden="true" { (station.number) } (sign(station.state)) span.word { (station.state.word()) } } },
        html! { div.head { h2 id=(heading(station.id)) { (station.question) } p.answer { (station.answer) } } },
    ];
    let body = blocks.iter().map(|html| Part { place: Place::Body, html: html.clone() });
    let foot = station.assumed.iter().flat_map(|[text, switch]| assumed(text, switch)).chain(station.doubts.iter().flat_map(doubt));
    let wants = station.wants.iter().map(want).map(part(Place::Body));
    head.map(part(Place::Head)).into_iter().chain(body).chain(wants).chain(foot.map(part(Place::Foot))).collect()
}

fn sign(state: State) -> Markup {
    html! { span class={ "sign " (class_of(state)) } title=(state.word()) { (silent(&state_sign(state))) } }
}

fn class_of(state: State) -> &'static str {
    match state {
        State::Answered => "answered",
        State::Assumed => "assumed",
        State::Waiting => "waiting",
        State::Contradicted => "contradicted",
    }
}

pub(crate) fn block(block: &Block) -> Markup {
    match block {
        Block::Picture { wide, narrow, caption } => picture(wide, narrow.as_ref(), caption),
        Block::Table(table) => self::table(table),
        Block::Words(words) => html! { p { (words) } },
        Block::List(lines) => html! { ul { @for line in lines { li { (line) } } } },
    }
}

fn picture(wide: &Figure, narrow: Option<&Figure>, caption: &str) -> Markup {
    html! {
        figure {
            @match narrow {
                Some(narrow) => { div.wide { (svg(wide)) } div.narrow { (svg(narrow)) } }
                // Without a narrow drawing it may be moved sideways on a narrow screen.
                None if wide.width_mm > NARROW_MM => { div.large tabindex="0" role="group" aria-label=(wide.title) { (svg(wide)) } }
                None => { div { (svg(wide)) } }
            }
            @if !caption.is_empty() { figcaption { (caption) } }
        }
    }
}

fn svg(figure: &Figure) -> Markup {
    let options = SvgOptions { photos: Photos::OnPage, named_colours: &palette::NAMED, ..SvgOptions::default() };
    PreEscaped(figure.to_svg_with(options))
}

/// A sign whose meaning stands beside it in words.
fn silent(figure: &Figure) -> Markup {
    let options = SvgOptions { reading: Reading::Silent, named_colours: &palette::NAMED, ..SvgOptions::default() };
    PreEscaped(figure.to_svg_with(options))
}

fn shared_photos(stations: &[Station]) -> Markup {
    PreEscaped(photos_on_page(&figures(stations.iter())))
}

/// Every picture of some stations.
pub(crate) fn figures<'a>(stations: impl Iterator<Item = &'a Station>) -> Vec<&'a Figure> {
    stations
        .flat_map(|station| &station.blocks)
        .flat_map(|block| match block {
            Block::Picture { wide, narrow, .. } => [Some(wide), narrow.as_ref()],
            _ => [None, None],
        })
        .flatten()
        .collect()
}

/// Explicit roles, since the narrow style sets rows as blocks, which makes some readers forget that it is a table.
fn table(table: &Table) -> Markup {
    html! {
        table role="table" class=[is_wide(table).then_some("stacked")] {
            caption { (table.caption) }
            thead role="rowgroup" { tr role="row" { @for name in &table.columns { th scope="col" role="columnheader" { (name) } } } }
            tbody role="rowgroup" {
                @for row in &table.rows {
                    tr role="row" {
                        @for (n, cell) in row.iter().enumerate() {
                            @if n == 0 { th scope="row" role="rowheader" class=(cell_class(cell)) { (cell.text) } }
                            @else { td role="cell" class=(cell_class(cell)) data-label=(table.columns.get(n).map_or("", String::as_str)) { (cell.text) } }
                        }
                    }
                }
            }
        }
    }
}

/// On a screen as narrow as a hand, many columns, or three of which one holds sentences, leave no room for words.
fn is_wide(table: &Table) -> bool {
    let sentences = || table.rows.iter().flatten().any(|cell| cell.text.chars().count() > 40);
    table.columns.len() > 3 || (table.columns.len() == 3 && sentences())
}

fn cell_class(cell: &Cell) -> String {
    let emphasis = match cell.emphasis {
        Emphasis::Plain => "",
        Emphasis::Used => " used",
        Emphasis::Decided => " decided",
        Emphasis::Contradicted => " contradicted",
    };
    let kind = if cell.text.is_empty() {
        "blank"
    } else if cell.figures {
        "figures"
    } else {
        "words"
    };
    format!("{kind}{emphasis}")
}

fn want(want: &Want) -> Markup {
    html! {
        div.want {
            p { b { "Wanted: " } (want.text) }
            @if !want.example.is_empty() { p.how { "In job.toml:" } pre tabindex="0" { code { (want.example) } } }
        }
    }
}

fn assumed(text: &str, switch: &str) -> [Markup; 2] {
    [
        html! { p.label.decided { "Assumed" } },
        html! { p.doubt { (sentence(text)) @if !switch.is_empty() { " " span.settle { b { "To change it: " } code { (switch) } " in job.toml." } } } },
    ]
}

fn doubt(doubt: &Doubt) -> [Markup; 2] {
    [
        html! { p.label { "Doubt" } },
        html! { p.doubt { (sentence(&doubt.text)) @if !doubt.settle.is_empty() { " " span.settle { b { "To settle it: " } (sentence(&doubt.settle)) } } } },
    ]
}

pub(crate) fn assumptions(sheet: &JobSheet) -> Markup {
    let list = &sheet.result.assumptions;
    html! {
        @if !list.is_empty() {
            section.closing id="assumptions" aria-labelledby="assumptions-h" {
                div.head { h2 id="assumptions-h" { "What was taken for true" } }
                div.body {
                    table role="table" {
                        caption { "Assumptions, and the line of job.toml that changes each" }
                        thead role="rowgroup" { tr role="row" { th scope="col" role="columnheader" { "station" } th scope="col" role="columnheader" { "taken for true" } th scope="col" role="columnheader" { "changed by" } } }
                        tbody role="rowgroup" {
                            @for assumption in list.iter().take(60) {
                                tr role="row" {
                                    th scope="row" role="rowheader" class="words" { (bounded(&assumption.station, 40)) }
                                    td role="cell" class="words" data-label="taken for true" { (sentence(&bounded(&assumption.text, LONGEST))) }
                                    td role="cell" class="words decided" data-label="changed by" { code { (bounded(&assumption.switch, 120)) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

pub(crate) fn cautions(sheet: &JobSheet) -> Markup {
    html! {
        @if !sheet.materials.is_empty() {
            section.closing id="cautions" aria-labelledby="cautions-h" {
                div.head { h2 id="cautions-h" { "What to beware of" } }
                div.body {
                    p { b { (GOVERNS) } }
                    dl.cautions {
                        @for [name, danger, action] in sheet.materials.iter().map(|material| material.reminder()) {
                            dt { (name) }
                            dd { (danger) " " span.action { (action) } }
                        }
                    }
                }
            }
        }
    }
}

/// The title block, with the fields of ISO 7200:2004.
pub fn title_block(sheet: &JobSheet) -> Markup {
    let document = sheet.document;
    let said = |text: &Option<String>| text.as_ref().map_or_else(|| "not said".into(), |text| bounded(text, 100));
    html! {
        footer.block {
            dl {
                div.title { dt { "Title" } dd { (bounded(&document.title, 200)) } }
                div { dt { "Document" } dd { "Job sheet" } }
                div { dt { "Made by" } dd { (said(&document.maker)) } }
                div { dt { "Date of issue" } dd { (said(&document.date)) } }
                div { dt { "Revision" } dd { (said(&document.revision)) } }
                div { dt { "Units" } dd { "mm" } }
                div { dt { "Scale" } dd { "as noted" } }
                div { dt { "Projection" } dd { "first angle " (silent(&crate::pictures::projection_symbol())) } }
                div { dt { "Made with" } dd { "ringer " (sheet.result.ringer) } }
            }
        }
    }
}
