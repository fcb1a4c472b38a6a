use crate::coarse::coarse;
use crate::contour::{Contour, line_of};
use crate::frame::{AxisFrame, minus, norm};
use crate::light::Light;
use crate::notes::notes;
use crate::refine::{Rough, refined};
use crate::rodlines::{Known, Line, rod_lines};
use crate::search::{guesses, reduction};
use crate::{Clicks, Outline, OutlineError, Sketch};
use photo::Picture;
use quantity::{Note, Noted};

/// Least size of a picture each way, px: a part in a smaller one has too few edge points to be measured.
const LEAST_SIDE_PX: usize = 64;
/// Least distance of the two clicks, px.
const LEAST_CLICKS_PX: f64 = 16.0;
/// A guess must show a rod this solid and a border that stands out this far, of 1: a card, a shadow or a rod taken for a part do not.
const LEAST_ROD: f64 = 0.8;
const LEAST_SUPPORT: f64 = 0.75;
/// Fewest points of a trace, and of a found outline, that tell a shape.
const LEAST_TRACE: usize = 8;
/// Most points of an outline; beyond that neighbours tell nothing new.
const MOST_POINTS: f64 = 3000.0;

/// Finds the outline of a part and of its rod from two clicks, or from none.
///
/// - **Needs** clicks good to about 1 % of the picture's width: where the rod enters the part, and the part's free end.
/// - **Good to** 0.2 px or so along plain edges (see the points' own sigmas and the two biases); tests in `tests/`.
/// - Weak evidence comes back as notes, lost edges as gaps in the lists of points.
pub fn find(picture: &Picture, clicks: Option<Clicks>) -> Result<Noted<Outline>, OutlineError> {
    big_enough(picture)?;
    match clicks {
        Some(clicks) => from_clicks(picture, checked(picture, clicks)?),
        None => from_nothing(picture),
    }
}

/// Every guess is followed as far as a rough outline; the one whose rod and border stand out most is kept.
fn from_nothing(picture: &Picture) -> Result<Noted<Outline>, OutlineError> {
    let size_px = [picture.width_px() as f64, picture.height_px() as f64];
    let light = Light::reduced(picture, reduction(picture.width_px()));
    let guesses: Vec<Clicks> = guesses(&light, size_px).into_iter().filter(|&g| checked(picture, g).is_ok()).collect();
    let judged: Vec<(f64, Clicks)> = guesses
        .into_iter()
        .filter_map(|guess| {
            let (frame, lines) = rod_of(picture, AxisFrame::new(guess)).ok()?;
            let light = Light::reduced(picture, factor(frame));
            let rough = coarse(&light, size_px, frame, lines);
            // Evidence as in the choice of the rod's lines: both solid counts as much as a border that stands out all the way.
            let rod = lines.iter().map(|l| l.evidence.clamp(0.0, 15.0)).fold(15.0, f64::min) / 15.0;
            (rod > LEAST_ROD && rough.support > LEAST_SUPPORT).then_some((rod + rough.support, guess))
        })
        .collect();
    let best = judged.into_iter().reduce(|a, b| if b.0 > a.0 { b } else { a });
    let (_, mut guess) = best.ok_or(OutlineError::NothingFound { reason: "nothing in it looks like a round part with a thinner rod" })?;
    // A guess may be a fifth of the length off; clicks are expected to be good to a fiftieth.
    for _ in 0..2 {
        let Ok((frame, lines)) = rod_of(picture, AxisFrame::new(guess)) else { break };
        let better = coarse(&Light::reduced(picture, factor(frame)), size_px, frame, lines).clicks();
        let moved = norm(minus(better.rod_entry, guess.rod_entry));
        if checked(picture, better).is_err()
            || !(0.02..0.6).contains(&(moved / frame.length_px))
            || rod_of(picture, AxisFrame::new(better)).is_err()
        {
            break;
        }
        guess = better;
    }
    let mut noted = from_clicks(picture, guess)?;
    noted.notes.insert(
        0,
        Note::new(
            "The part and its rod were found without a click; another thing in the picture may have been taken for them.",
            "Look at the outline; if it is wrong, click where the rod enters the part, then the part's free end.",
        ),
    );
    Ok(noted)
}

/// Reduction that leaves about 160 px between rod entry and free end.
fn factor(frame: AxisFrame) -> usize {
    (frame.length_px / 160.0).floor().clamp(1.0, 64.0) as usize
}

/// The outline from a person's own trace: a polygon around the part, in px, in either direction, begun anywhere.
///
/// The trace is refined to the edges within 1 % of the picture's width of it; where there are none it stands as it is, with a doubt of 0.4 % of
/// the width.
pub fn from_trace(picture: &Picture, clicks: Clicks, trace: &[[f64; 2]]) -> Result<Noted<Outline>, OutlineError> {
    big_enough(picture)?;
    let clicks = checked(picture, clicks)?;
    let (width, height) = (picture.width_px() as f64, picture.height_px() as f64);
    let near = |p: &[f64; 2]| (-0.1 * width..1.1 * width).contains(&p[0]) && (-0.1 * height..1.1 * height).contains(&p[1]);
    let usable: Vec<[f64; 2]> = trace.iter().copied().filter(near).collect();
    if usable.len() < LEAST_TRACE {
        return Err(OutlineError::BadTrace { usable: usable.len() });
    }
    let (frame, lines) = rod_of(picture, AxisFrame::new(clicks))?;
    let line = opened(frame, &usable);
    let contour = Contour::along(&line, spacing_px(&line), 2.0);
    let rough = Rough { frame, lines, contour, doubt_px: (0.01 * width).max(6.0), stands_px: Some((0.004 * width).max(1.0)) };
    let outline = refined(picture, rough);
    let notes = notes(&outline, true);
    Ok(Noted { value: outline, notes })
}

fn from_clicks(picture: &Picture, clicks: Clicks) -> Result<Noted<Outline>, OutlineError> {
    let (width, height) = (picture.width_px(), picture.height_px());
    let frame = AxisFrame::new(clicks);
    let light = Light::reduced(picture, factor(frame));
    let (frame, lines) = rod_of(picture, frame)?;
    let rough = coarse(&light, [width as f64, height as f64], frame, lines);
    let line = line_of(&rough);
    let contour = Contour::along(&line, spacing_px(&line), rough.step_px);
    let outline = refined(picture, Rough { frame, lines, contour, doubt_px: 2.5 * rough.step_px + 2.0, stands_px: None });
    if outline.part.len() < LEAST_TRACE {
        return Err(OutlineError::NothingFound { reason: "no edge of the part stands out from what surrounds it" });
    }
    let notes = notes(&outline, false);
    Ok(Noted { value: outline, notes })
}

/// Distance between points along a line that keeps their number within bounds, px.
fn spacing_px(line: &[[f64; 2]]) -> f64 {
    let length: f64 = line.windows(2).map(|p| norm(minus(p[1], p[0]))).sum();
    (length / MOST_POINTS).max(1.0)
}

/// Finds the outline roughly, for a hand that still moves a click: in a tenth of the time of [`find`], good to a few pixels.
///
/// - **Needs** what [`find`] needs of clicks.
/// - **Good to** two cells of a grid that has 160 of them between the clicks (a pixel each in a small picture); test
///   `sketches_lie_near_what_is_found`.
pub fn sketch(picture: &Picture, clicks: Clicks) -> Result<Sketch, OutlineError> {
    big_enough(picture)?;
    let (width, height) = (picture.width_px() as f64, picture.height_px() as f64);
    let frame = AxisFrame::new(checked(picture, clicks)?);
    let light = Light::reduced(picture, factor(frame));
    let (frame, lines) = rod_of(picture, frame)?;
    let rough = coarse(&light, [width, height], frame, lines);
    // As far back as the rod is seen.
    let back_px = -frame.room_behind_px(width, height);
    let rod = lines.map(|line| [0.0, back_px].map(|t| frame.to_px(t, line.at(t))));
    // The grid's stairs would look like steps of the part.
    let part = Contour::along(&line_of(&rough), rough.step_px, rough.step_px).points;
    Ok(Sketch { part, rod })
}

/// The rod's edges, roughly, and the frame with its axis on the middle between them.
fn rod_of(picture: &Picture, frame: AxisFrame) -> Result<(AxisFrame, [Line; 2]), OutlineError> {
    // A click is good to about 1 % of the picture's width: a little more than half of that as one sigma.
    let click_sigma_px = 0.006 * picture.width_px() as f64;
    let lines =
        rod_lines(picture, frame, Known::Clicks(click_sigma_px)).ok_or(OutlineError::NothingFound { reason: "no rod leaves the part" })?;
    Ok(on_rod(frame, lines))
}

/// A closed trace as an open line from the rod's left side over the free end to its right side.
fn opened(frame: AxisFrame, trace: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let places: Vec<[f64; 2]> = trace.iter().map(|&p| frame.place(p)).collect();
    let n = places.len();
    let twice_area: f64 = (0..n).map(|i| places[i][0] * places[(i + 1) % n][1] - places[(i + 1) % n][0] * places[i][1]).sum();
    let order: Vec<usize> = if twice_area > 0.0 { (0..n).rev().collect() } else { (0..n).collect() };
    // Where the polygon crosses the axis on the rod's side it is cut open.
    let crossing = |k: usize| {
        let (a, b) = (places[order[k]], places[order[(k + 1) % n]]);
        ((a[1] < 0.0) != (b[1] < 0.0)).then(|| a[0] + (b[0] - a[0]) * a[1] / (a[1] - b[1]))
    };
    let cut = (0..n).filter_map(|k| Some((crossing(k)?, k))).min_by(|a, b| a.0.total_cmp(&b.0));
    let (t, after) = cut.map_or((places[order[0]][0], 0), |(t, k)| (t, k + 1));
    let mut line = vec![frame.to_px(t, 0.0)];
    line.extend((0..n).map(|k| trace[order[(after + k) % n]]));
    line.push(frame.to_px(t, 0.0));
    line
}

fn big_enough(picture: &Picture) -> Result<(), OutlineError> {
    let (width_px, height_px) = (picture.width_px(), picture.height_px());
    if width_px < LEAST_SIDE_PX || height_px < LEAST_SIDE_PX {
        return Err(OutlineError::TooSmall { width_px, height_px, least_px: LEAST_SIDE_PX });
    }
    Ok(())
}

/// The frame with its axis moved onto the middle of the rod where it enters the part; the free end stays.
fn on_rod(frame: AxisFrame, lines: [Line; 2]) -> (AxisFrame, [Line; 2]) {
    let middle = 0.5 * (lines[0].at_joint_px + lines[1].at_joint_px);
    let moved = AxisFrame::new(Clicks { rod_entry: frame.to_px(0.0, middle), free_end: frame.to_px(frame.length_px, 0.0) });
    let lines = lines.map(|line| {
        let (a, b) = (frame.to_px(0.0, line.at(0.0)), frame.to_px(-frame.length_px, line.at(-frame.length_px)));
        let ([ta, wa], [tb, wb]) = (moved.place(a), moved.place(b));
        let slope = (wa - wb) / (ta - tb);
        Line { at_joint_px: wa - slope * ta, slope, evidence: line.evidence }
    });
    (moved, lines)
}

fn checked(picture: &Picture, clicks: Clicks) -> Result<Clicks, OutlineError> {
    for [x, y] in [clicks.rod_entry, clicks.free_end] {
        let inside = (0.0..=picture.width_px() as f64).contains(&x) && (0.0..=picture.height_px() as f64).contains(&y);
        if !inside {
            return Err(OutlineError::ClickOutside { x, y, width_px: picture.width_px(), height_px: picture.height_px() });
        }
    }
    let distance_px = AxisFrame::new(clicks).length_px;
    if distance_px < LEAST_CLICKS_PX {
        return Err(OutlineError::ClicksTooNear { distance_px, least_px: LEAST_CLICKS_PX });
    }
    Ok(clicks)
}
