//! Rows of lines and arcs that smooth curves tell with less.
//!
//! Which is less is told as the turned profile tells it: squared distances in units of the places' own noise, and for each parameter the logarithm of the count of places (Schwarz 1978).

use crate::row::{self, End, Row};
use crate::segment::{Fit, Place, arc, distance, line, off_squared};

/// What a piece pays for: a line by where it lies, its direction and its end; an arc by its bend too; a curve by two control points and its end.
const LINE_PAYS: f64 = 3.0;
const ARC_PAYS: f64 = 4.0;
const CURVE_PAYS: f64 = 6.0;
/// Two arcs are a maker's radii; three pieces in a row that flow into each other may be a free curve.
const LEAST_ROW: usize = 2;
/// A row gives way to curves only where the evidence is very strong (Kass and Raftery 1995: a difference of 10).
const VERY_STRONG: f64 = 10.0;
/// No curve runs over a joint of the row near which the outline bends more than this, radians, over so many places to either side: a corner bends as much however near one looks.
const CORNER_RAD: f64 = 0.7;
const REACH: usize = 2;
/// Curves flow into what stands beside them where they meet at less than this, radians.
const FLOWS_RAD: f64 = 0.3;
/// Fewest places that make an arc, and a curve.
const ARC_PLACES: usize = 5;
const CURVE_PLACES: usize = 9;
/// Stops at most round an outline beside the ends of pieces, and misses after which a curve is not tried longer.
const STOPS: usize = 60;
const MISSES: usize = 3;
/// A place is never surer than this share of the tolerance, nor less sure than half of it.
const LEAST_SIGMA: f64 = 1.0 / 12.0;
const MOST_SIGMA: f64 = 0.5;
/// Places at each end of a piece that blur may have pulled off it, and what each may count: all together less than what a curve pays more than a line.
const BLURRED: usize = 2;
const BLUR_MISFIT: f64 = 4.0;
/// Places moved at most when the end of a curve is settled.
const SETTLE: usize = 14;

/// A stretch of places and what tells it: a line, an arc, or (`None`) a curve.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Span {
    pub first: usize,
    pub last: usize,
    pub fit: Option<Fit>,
    /// Whether the span before it (round the outline) runs on into this one.
    pub flows: bool,
}

/// Each piece of the row as it is.
pub(crate) fn plain(places: &[Place], cuts: &[usize], fits: &[Fit]) -> Vec<Span> {
    let n = places.len() - 1;
    let bend = |at: usize| {
        let [a, b, c] = [n - REACH, 0, REACH].map(|k| places[(at + k) % n]);
        turn([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]])
    };
    let is_corner = |at: usize| [n - 1, 0, 1].iter().any(|k| bend(at + k) > CORNER_RAD);
    let span = |i: usize| Span { first: cuts[i], last: cuts[i + 1], fit: Some(fits[i]), flows: n > 2 * REACH && !is_corner(cuts[i]) };
    (0..fits.len()).map(span).collect()
}

pub(crate) fn turn(a: Place, b: Place) -> f64 {
    (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]).abs()
}

/// Standard deviation of places about a smooth line through them: the middle of their fourth differences square to it (of independent noise these have a variance 70 times as large).
fn noise(places: &[Place]) -> f64 {
    let n = places.len() - 1;
    let mut offs: Vec<f64> = (0..n)
        .map(|i| {
            let p = [n - 2, n - 1, 0, 1, 2].map(|k| places[(i + k) % n]);
            let d = [0, 1].map(|c| p[0][c] - 4.0 * p[1][c] + 6.0 * p[2][c] - 4.0 * p[3][c] + p[4][c]);
            let along = [p[4][0] - p[0][0], p[4][1] - p[0][1]];
            (d[0] * along[1] - d[1] * along[0]).abs() / along[0].hypot(along[1]).max(1e-12)
        })
        .collect();
    offs.sort_by(f64::total_cmp);
    offs.get(n / 2).copied().unwrap_or(0.0) / (0.6745 * 70f64.sqrt())
}

/// The cheapest telling of a row of lines and arcs with curves among them. The first place, which is the last one too, may be another afterwards.
pub(crate) fn chosen(places: &mut Vec<Place>, row: Vec<Span>, tolerance: f64) -> Vec<Span> {
    if places.len() < 2 * CURVE_PLACES || row.len() < LEAST_ROW {
        return row;
    }
    let evidence = Evidence {
        sigma: noise(places).clamp(LEAST_SIGMA * tolerance, MOST_SIGMA * tolerance),
        pay: (places.len() as f64).ln(),
        tolerance,
    };
    let (before, as_it_was) = (places.clone(), row);
    // A piece may have swallowed more than its own where the outline was begun amid a smooth row; at a corner it ends.
    let row = match as_it_was.iter().position(|span| !span.flows) {
        Some(corner) if corner > 0 => begun_at(places, &as_it_was, as_it_was[corner].first),
        _ => as_it_was.clone(),
    };
    let mut spans = evidence.kept(places, &row, &evidence.cheapest(places, &row));
    if spans.iter().all(|span| span.fit.is_some()) {
        *places = before;
        return as_it_was;
    }
    if let Some(start) = other_end(&spans) {
        // A smooth outline was begun anywhere: it is told anew from an end that was found.
        let mut again = places.clone();
        let cut = parted(&row, start);
        let turned = begun_at(&mut again, &cut, start);
        let anew = evidence.kept(&again, &turned, &evidence.cheapest(&again, &turned));
        let cost = |places: &[Place], spans: &[Span]| spans.iter().map(|span| evidence.of_span(places, span)).sum::<f64>();
        if cost(&again, &anew) < cost(places, &spans) {
            (*places, spans) = (again, anew);
        }
    }
    begin_at_an_end(places, &mut spans);
    settle(places, &mut spans, tolerance);
    if let Some(start) = other_end(&spans) {
        // The end where a smooth outline was begun is settled like the rest.
        spans = begun_at(places, &spans, start);
        settle(places, &mut spans, tolerance);
        begin_at_an_end(places, &mut spans);
    }
    meet(places, &mut spans);
    spans
}

/// Whether an arc is none so flat that which way it turns is noise: that one is a line.
fn bows(fit: &Fit, stretch: &[Place], tolerance: f64) -> bool {
    match (fit, stretch.first().zip(stretch.last())) {
        (Fit::Arc { radius, .. }, Some((a, b))) => distance(*a, *b).powi(2) / (8.0 * radius) > tolerance,
        _ => false,
    }
}

struct Evidence {
    sigma: f64,
    pay: f64,
    tolerance: f64,
}

impl Evidence {
    fn of_span(&self, places: &[Place], span: &Span) -> f64 {
        let stretch = &places[span.first..=span.last];
        match &span.fit {
            Some(fit) => self.of_fit(fit, stretch),
            None => self.of_curve(stretch).unwrap_or(f64::INFINITY),
        }
    }

    fn of_fit(&self, fit: &Fit, stretch: &[Place]) -> f64 {
        let pays = if matches!(fit, Fit::Line { .. }) { LINE_PAYS } else { ARC_PAYS };
        self.misfit(stretch.iter().map(|p| fit.off(p)), stretch.len()) + pays * self.pay
    }

    /// Squared distances in units of the noise; at the ends no more than blur at a corner accounts for.
    fn misfit(&self, offs: impl Iterator<Item = f64>, count: usize) -> f64 {
        let square = |(i, off): (usize, f64)| {
            let square = (off / self.sigma).powi(2);
            if i < BLURRED || i + BLURRED >= count { square.min(BLUR_MISFIT) } else { square }
        };
        offs.enumerate().map(square).sum()
    }

    /// What a curve over a stretch costs; `None` where it keeps outside the tolerance.
    fn of_curve(&self, stretch: &[Place]) -> Option<f64> {
        let row = row::fitted(stretch, &[0, stretch.len() - 1], End::FREE, false)?;
        (row.farthest <= self.tolerance).then(|| self.misfit(row.offs.iter().copied(), stretch.len()) + CURVE_PAYS * self.pay)
    }

    /// The cheapest of line and arc over a stretch, within the tolerance.
    fn simple(&self, stretch: &[Place]) -> Option<(f64, Fit)> {
        let near = |fit: &Fit| stretch.iter().all(|p| fit.off(p) <= self.tolerance);
        let arc = if stretch.len() >= ARC_PLACES { arc(stretch).filter(|arc| bows(arc, stretch, self.tolerance)) } else { None };
        let fits = [Some(line(stretch)), arc].into_iter().flatten().filter(near);
        fits.map(|fit| (self.of_fit(&fit, stretch), fit)).min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// The cheapest telling of all, cut at the ends of the row's pieces and, where these flow, between.
    fn cheapest(&self, places: &[Place], row: &[Span]) -> Vec<Span> {
        let grid = places.len().div_ceil(STOPS);
        // Place, the piece of the row that begins there, whether what comes before flows into it.
        let mut stops: Vec<(usize, Option<usize>, bool)> = Vec::new();
        for (i, span) in row.iter().enumerate() {
            stops.push((span.first, Some(i), span.flows));
            let smooth = span.flows || row.get(i + 1).is_some_and(|next| next.flows);
            let between = (span.first.div_ceil(grid)..=span.last / grid).map(|k| k * grid);
            stops.extend(between.filter(|at| smooth && *at > span.first + 1 && at + 1 < span.last).map(|at| (at, None, true)));
        }
        stops.push((places.len() - 1, None, false));
        let mut best: Vec<(f64, usize, Option<Fit>)> = vec![(f64::INFINITY, 0, None); stops.len()];
        best[0].0 = 0.0;
        for from in 0..stops.len() - 1 {
            let base = best[from].0;
            let mut better = |to: usize, cost: f64, fit: Option<Fit>| {
                if base + cost < best[to].0 {
                    best[to] = (base + cost, from, fit);
                }
            };
            if let Some(piece) = stops[from].1 {
                let span = &row[piece];
                let end = (from + 1..stops.len()).find(|&to| stops[to].0 == span.last);
                end.into_iter().for_each(|to| better(to, self.of_span(places, span), span.fit));
            }
            let mut misses = 0;
            for to in from + 1..stops.len() {
                let stretch = &places[stops[from].0..=stops[to].0];
                let simple = self.simple(stretch);
                // As good as noise lets anything be: no curve can be better.
                let good = simple.is_some_and(|(cost, _)| cost < 1.3 * stretch.len() as f64 + CURVE_PAYS * self.pay);
                if let Some((cost, fit)) = simple {
                    better(to, cost, Some(fit));
                }
                if !good && stretch.len() >= CURVE_PLACES {
                    match self.of_curve(stretch) {
                        Some(cost) => better(to, cost, None),
                        None => misses += 1,
                    }
                }
                if misses >= MISSES || !stops[to].2 {
                    break;
                }
            }
        }
        let (mut spans, mut here) = (Vec::new(), stops.len() - 1);
        while here > 0 {
            let (_, from, fit) = best[here];
            spans.push(Span { first: stops[from].0, last: stops[here].0, fit, flows: stops[from].2 });
            here = from;
        }
        spans.reverse();
        spans
    }

    /// Between cuts that both tellings share, the one with curves where these stand for a row long enough and are far more likely; else the row as it was.
    fn kept(&self, places: &[Place], row: &[Span], found: &[Span]) -> Vec<Span> {
        let amid_curves = |i: usize| i > 0 && found[i].flows && found[i].fit.is_none() && found[i - 1].fit.is_none();
        let shared = |at: usize| {
            row.iter().any(|span| span.first == at) && found.iter().position(|span| span.first == at).is_some_and(|i| !amid_curves(i))
        };
        let ends: Vec<usize> = (0..places.len()).filter(|&at| shared(at)).chain([places.len() - 1]).collect();
        let mut spans = Vec::new();
        for pair in ends.windows(2) {
            let within =
                |spans: &[Span]| spans.iter().filter(|span| span.first >= pair[0] && span.last <= pair[1]).copied().collect::<Vec<_>>();
            let (before, after) = (within(row), within(found));
            let cost = |spans: &[Span]| spans.iter().map(|span| self.of_span(places, span)).sum::<f64>();
            let stay = after.iter().filter(|span| span.fit.is_some()).count();
            let curved = stay < after.len() && before.len() >= stay + LEAST_ROW && cost(&before) - cost(&after) > VERY_STRONG;
            spans.extend(if curved { after } else { before });
        }
        spans
    }
}

/// Another cut of an outline that has curves and no corner.
fn other_end(spans: &[Span]) -> Option<usize> {
    let smooth = spans.iter().all(|span| span.flows) && spans.iter().any(|span| span.fit.is_none());
    spans.get(1).filter(|_| smooth).map(|span| span.first)
}

/// The row cut once more, where a piece of it runs over a place.
fn parted(row: &[Span], at: usize) -> Vec<Span> {
    let parts = |span: &Span| {
        if span.first < at && at < span.last {
            vec![Span { last: at, ..*span }, Span { first: at, flows: true, ..*span }]
        } else {
            vec![*span]
        }
    };
    row.iter().flat_map(parts).collect()
}

/// Places and spans begun at the start of one of the spans.
fn begun_at(places: &mut Vec<Place>, spans: &[Span], start: usize) -> Vec<Span> {
    let n = places.len() - 1;
    places.pop();
    places.rotate_left(start);
    places.push(places[0]);
    let which = spans.iter().position(|span| span.first == start).unwrap_or(0);
    let turned = |at: usize| (at + n - start) % n;
    let place = |k: usize| {
        let span = spans[(which + k) % spans.len()];
        Span { first: turned(span.first), last: if turned(span.last) == 0 { n } else { turned(span.last) }, ..span }
    };
    (0..spans.len()).map(place).collect()
}

/// Begun at a corner, or where there is none, at an end of a row of curves.
fn begin_at_an_end(places: &mut Vec<Place>, spans: &mut Vec<Span>) {
    if spans.iter().all(|span| span.fit.is_some()) {
        return;
    }
    let is_border = |i: &usize| spans[*i].fit.is_some() || spans[(*i + spans.len() - 1) % spans.len()].fit.is_some();
    let start = (0..spans.len()).find(|&i| !spans[i].flows).or_else(|| (0..spans.len()).find(is_border));
    if let Some(start) = start.filter(|start| *start > 0) {
        *spans = begun_at(places, spans, spans[start].first);
    }
}

/// Within the tolerance a line may swallow the start of a curve: each border of line or arc with curve moves to where both fit best.
fn settle(places: &[Place], spans: &mut [Span], tolerance: f64) {
    let off = |span: &Span, first: usize, last: usize| {
        let stretch = &places[first..=last];
        match &span.fit {
            Some(Fit::Line { .. }) => off_squared(&line(stretch), stretch),
            Some(Fit::Arc { .. }) => arc(stretch).map_or(f64::INFINITY, |arc| off_squared(&arc, stretch)),
            None => row::fitted(stretch, &[0, stretch.len() - 1], End::FREE, false).map_or(f64::INFINITY, |row| row.squares),
        }
    };
    for _ in 0..2 {
        for i in 1..spans.len() {
            let (a, b) = (spans[i - 1], spans[i]);
            if a.fit.is_some() == b.fit.is_some() {
                continue;
            }
            let least = |span: &Span| if span.fit.is_some() { 4 } else { CURVE_PLACES };
            let low = a.last.saturating_sub(SETTLE).max(a.first + least(&a));
            let high = (a.last + SETTLE).min(b.last.saturating_sub(least(&b)));
            let cost = |at: usize| off(&a, a.first, at) + off(&b, at, b.last);
            if let Some((at, _)) = (low..=high).map(|at| (at, cost(at))).min_by(|p, q| p.1.total_cmp(&q.1)) {
                (spans[i - 1].last, spans[i].first) = (at, at);
            }
        }
    }
    for span in spans {
        let stretch = &places[span.first..=span.last];
        span.fit = span.fit.map(|fit| match fit {
            Fit::Line { .. } => line(stretch),
            Fit::Arc { .. } => arc(stretch).filter(|arc| bows(arc, stretch, tolerance)).unwrap_or_else(|| line(stretch)),
        });
    }
}

/// Which curves flow into what stands beside them is told by each one fitted alone.
fn meet(places: &[Place], spans: &mut [Span]) {
    // Direction at the start and at the end.
    let headings: Vec<Option<[Place; 2]>> = spans
        .iter()
        .map(|span| {
            let stretch = &places[span.first..=span.last];
            match span.fit {
                Some(fit) => Some([span.first, span.last].map(|at| fit.heading(places[at], stretch))),
                None => row::fitted(stretch, &[0, stretch.len() - 1], End::FREE, false).map(|row| [row.end(0)[1], row.end(1)[1]]),
            }
        })
        .collect();
    let count = spans.len();
    for i in 0..count {
        let before = (i + count - 1) % count;
        if spans[i].fit.is_none() || spans[before].fit.is_none() {
            spans[i].flows = headings[before].zip(headings[i]).is_some_and(|(a, b)| turn(a[1], b[0]) < FLOWS_RAD);
        }
    }
}

/// Rows of curves as cubics that flow into one another, and into lines and arcs beside them where those flow; joints of the rest where their fits cross. `None` where one keeps
/// outside the tolerance so.
pub(crate) fn smooth(places: &[Place], spans: &[Span], tolerance: f64) -> Option<Told> {
    let count = spans.len();
    let starts: Vec<usize> = (0..count).filter(|&i| spans[i].fit.is_none() && begins(spans, i)).collect();
    let mut told = Told::none(count);
    if starts.is_empty() && spans.iter().all(|span| span.fit.is_none()) {
        let breaks: Vec<usize> = spans.iter().map(|span| span.first).chain([places.len() - 1]).collect();
        let row = row::fitted(places, &breaks, End::FREE, true).filter(|row| row.farthest <= tolerance)?;
        told.fill(0, &row);
        return Some(told);
    }
    for first in starts {
        let length = (first + 1..count).take_while(|&i| spans[i].fit.is_none() && !begins(spans, i)).count() + 1;
        let stretch = &places[spans[first].first..=spans[first + length - 1].last];
        let breaks: Vec<usize> = (first..first + length).map(|i| spans[i].first - spans[first].first).chain([stretch.len() - 1]).collect();
        // Free at first: that tells how it meets its neighbours.
        let free = row::fitted(stretch, &breaks, End::FREE, false)?;
        let (before, after) = ((first + count - 1) % count, (first + length) % count);
        let ends = [
            end(places, spans, before, stretch[0], free.end(0), spans[first].flows, tolerance),
            end(places, spans, after, stretch[stretch.len() - 1], free.end(1), spans[after].flows, tolerance),
        ];
        let near = |ends: [End; 2]| row::fitted(stretch, &breaks, ends, false).filter(|row| row.farthest_inside <= tolerance);
        let row = near(ends).or_else(|| near(ends.map(|end| End { along: None, ..end })))?;
        told.fill(first, &row);
        told.joints[after] = ends[1].at;
    }
    Some(told)
}

/// Whether a row of curves begins at a span.
fn begins(spans: &[Span], i: usize) -> bool {
    spans[(i + spans.len() - 1) % spans.len()].fit.is_some() || !spans[i].flows
}

/// How a row ends at its neighbour: on it and in its direction where it flows, else where both cross.
fn end(places: &[Place], spans: &[Span], neighbour: usize, near: Place, own: [Place; 2], flows: bool, tolerance: f64) -> End {
    let span = spans[neighbour];
    let stretch = &places[span.first..=span.last];
    let tangent = Fit::Line { at: own[0], along: own[1] };
    let Some(fit) = span.fit else {
        // Two curves at a corner: it is told by the places themselves.
        return End { at: Some(near), along: None };
    };
    let at = fit.foot(near);
    let along = fit.heading(at, stretch);
    if flows {
        return End { at: Some(at), along: Some(along) };
    }
    let crossing = tangent.meeting(&fit, near, tolerance);
    End { at: Some(if distance(crossing, near) > 0.0 { crossing } else { at }), along: None }
}

/// What rows of curves came to: their cubics, and the joints they fix, each at its span's start.
pub(crate) struct Told {
    pub joints: Vec<Option<Place>>,
    pub cubics: Vec<Option<[Place; 4]>>,
}

impl Told {
    /// No curve among this many spans.
    pub fn none(count: usize) -> Told {
        Told { joints: vec![None; count], cubics: vec![None; count] }
    }

    fn fill(&mut self, first: usize, row: &Row) {
        for (k, cubic) in row.cubics.iter().enumerate() {
            self.joints[first + k] = Some(cubic[0]);
            self.cubics[first + k] = Some(*cubic);
        }
    }
}
