use crate::FlatError;

/// A picture's brightness, row by row from the top left; any scale, linear light.
#[derive(Clone, Debug, PartialEq)]
pub struct Grey {
    /// Pixels a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// One value a pixel.
    pub values: Vec<f32>,
}

/// Smallest hole, as a share of the part's area; smaller ones are specks.
const SMALLEST_HOLE: f64 = 0.0015;
/// Pixels at most within the polygon.
const MOST_PIXELS: usize = 60_000_000;

impl Grey {
    fn at(&self, x: usize, y: usize) -> f32 {
        self.values.get(y * self.width + x).copied().unwrap_or(0.0)
    }
}

/// The part's outline and its holes in px, within a polygon drawn round it on plain ground: where brightness crosses the level that parts the two best (Otsu 1979), followed to a fraction of a
/// pixel. The outline first.
///
/// # Errors
/// A polygon outside the picture, no contrast, nothing closed within it.
pub fn found_outlines(grey: &Grey, within_px: &[[f64; 2]]) -> Result<Vec<Vec<[f64; 2]>>, FlatError> {
    if grey.values.len() != grey.width * grey.height || grey.values.len() > MOST_PIXELS || within_px.len() < 3 {
        return Err(FlatError::outline("the polygon has fewer than three corners, or the picture is none"));
    }
    let mask = inside(grey, within_px);
    let values: Vec<f32> = grey.values.iter().zip(&mask).filter(|(v, m)| **m && v.is_finite()).map(|(v, _)| *v).collect();
    if values.len() < 100 {
        return Err(FlatError::outline("the polygon holds hardly any picture; draw it round the part"));
    }
    let (level, contrast) = level(&values);
    if contrast < 0.4 {
        return Err(FlatError::outline(
            "part and ground are too much alike; trace the outline yourself, or take the photo on other ground",
        ));
    }
    // The ground is what the polygon's own border runs over.
    let border: Vec<f32> = border(grey, within_px);
    let dark_ground = border.iter().filter(|v| **v < level).count() * 2 > border.len();
    let sign = if dark_ground { 1.0 } else { -1.0 };
    let ground = level - sign * 1.0;
    let high = |x: usize, y: usize| {
        let own = mask[y * grey.width + x];
        f64::from(sign * (if own { grey.at(x, y) } else { ground } - level))
    };
    let mut lines = marched(grey.width, grey.height, &high);
    let area = |line: &[[f64; 2]]| {
        (0..line.len()).map(|i| line[i][0] * line[(i + 1) % line.len()][1] - line[(i + 1) % line.len()][0] * line[i][1]).sum::<f64>() * 0.5
    };
    lines.sort_by(|a, b| area(b).abs().total_cmp(&area(a).abs()));
    let Some(outline) = lines.first().cloned() else { return Err(FlatError::outline("nothing closed lies within the polygon")) };
    let (whole, way) = (area(&outline).abs(), area(&outline).signum());
    let hole = |line: &Vec<[f64; 2]>| {
        area(line) * way < 0.0 && area(line).abs() > SMALLEST_HOLE * whole && line.first().is_some_and(|&p| contains(&outline, p))
    };
    let holes: Vec<Vec<[f64; 2]>> = lines.into_iter().skip(1).filter(hole).take(200).collect();
    Ok(std::iter::once(outline).chain(holes).collect())
}

fn contains(line: &[[f64; 2]], at: [f64; 2]) -> bool {
    let mut inside = false;
    for i in 0..line.len() {
        let (a, b) = (line[i], line[(i + 1) % line.len()]);
        if (a[1] > at[1]) != (b[1] > at[1]) && a[0] + (at[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) > at[0] {
            inside = !inside;
        }
    }
    inside
}

/// Which pixels' middles lie in the polygon, row by row.
fn inside(grey: &Grey, polygon: &[[f64; 2]]) -> Vec<bool> {
    let mut mask = vec![false; grey.values.len()];
    for y in 0..grey.height {
        let row = y as f64 + 0.5;
        let mut cuts: Vec<f64> = (0..polygon.len())
            .map(|i| (polygon[i], polygon[(i + 1) % polygon.len()]))
            .filter(|(a, b)| (a[1] > row) != (b[1] > row))
            .map(|(a, b)| a[0] + (row - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
            .collect();
        cuts.sort_by(f64::total_cmp);
        for pair in cuts.chunks_exact(2) {
            let (from, to) = ((pair[0] - 0.5).ceil().max(0.0) as usize, (pair[1] - 0.5).ceil().clamp(0.0, grey.width as f64) as usize);
            mask[y * grey.width..(y + 1) * grey.width].iter_mut().take(to).skip(from).for_each(|inside| *inside = true);
        }
    }
    mask
}

fn border(grey: &Grey, polygon: &[[f64; 2]]) -> Vec<f32> {
    let middle = [0, 1].map(|i| polygon.iter().map(|p| p[i]).sum::<f64>() / polygon.len() as f64);
    let mut values = Vec::new();
    for i in 0..polygon.len() {
        let (a, b) = (polygon[i], polygon[(i + 1) % polygon.len()]);
        for step in 0..200 {
            let t = f64::from(step) / 200.0;
            // A little inside, so that the border's own pixels count.
            let [x, y] = [0, 1].map(|k| (a[k] + t * (b[k] - a[k])) * 0.995 + 0.005 * middle[k]);
            if x >= 0.0 && y >= 0.0 && (x as usize) < grey.width && (y as usize) < grey.height {
                values.push(grey.at(x as usize, y as usize));
            }
        }
    }
    values
}

/// The level that parts values best, half way between the means of both sides, and how much of their variance it explains.
fn level(values: &[f32]) -> (f32, f64) {
    let (low, high) = values.iter().fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
    let width = f64::from(high - low).max(1e-12);
    let mut counts = [0.0_f64; 256];
    values.iter().for_each(|v| counts[((f64::from(*v - low) / width * 255.0) as usize).min(255)] += 1.0);
    let total: f64 = counts.iter().sum();
    let mean = counts.iter().enumerate().map(|(i, c)| i as f64 * c).sum::<f64>() / total;
    let variance = counts.iter().enumerate().map(|(i, c)| (i as f64 - mean).powi(2) * c).sum::<f64>() / total;
    let (mut below, mut sum, mut best) = (0.0, 0.0, (0.0, 0.0));
    for (i, count) in counts.iter().enumerate() {
        below += count;
        sum += i as f64 * count;
        if below > 0.0 && below < total {
            let (m0, m1) = (sum / below, (mean * total - sum) / (total - below));
            let between = below * (total - below) / (total * total) * (m0 - m1).powi(2);
            if between > best.1 {
                best = (0.5 * (m0 + m1) + 0.5, between);
            }
        }
    }
    ((f64::from(low) + best.0 / 255.0 * width) as f32, if variance > 0.0 { best.1 / variance } else { 0.0 })
}

/// Closed lines where a field crosses 0 (marching squares on pixel middles, straight between them), what is above 0 on one side throughout.
fn marched(width: usize, height: usize, field: &impl Fn(usize, usize) -> f64) -> Vec<Vec<[f64; 2]>> {
    // Each crossing of the grid's sides is a place; cells say which follows which.
    let mut next = std::collections::BTreeMap::<(usize, usize, bool), ((usize, usize, bool), [f64; 2])>::new();
    let place = |x: usize, y: usize, across: bool| {
        let (a, b) = (field(x, y), if across { field(x + 1, y) } else { field(x, y + 1) });
        let t = a / (a - b);
        if across { [x as f64 + t + 0.5, y as f64 + 0.5] } else { [x as f64 + 0.5, y as f64 + t + 0.5] }
    };
    for y in 0..height.saturating_sub(1) {
        for x in 0..width.saturating_sub(1) {
            let corner = [field(x, y) > 0.0, field(x + 1, y) > 0.0, field(x + 1, y + 1) > 0.0, field(x, y + 1) > 0.0];
            if corner.iter().all(|c| *c) || !corner.iter().any(|c| *c) {
                continue;
            }
            // Sides in order round the cell: top, right, bottom, left; the line enters where low turns to high going round, leaves where high turns to low.
            let sides = [(x, y, true), (x + 1, y, false), (x, y + 1, true), (x, y, false)];
            let turns: Vec<(usize, bool)> =
                (0..4).filter(|&i| corner[i] != corner[(i + 1) % 4]).map(|i| (i, corner[(i + 1) % 4])).collect();
            for (index, &(side, rises)) in turns.iter().enumerate() {
                if rises {
                    let (to, _) = turns[(index + 1) % turns.len()];
                    let (from, to) = (sides[side], sides[to]);
                    next.insert(from, (to, place(from.0, from.1, from.2)));
                }
            }
        }
    }
    let mut lines = Vec::new();
    while let Some((&start, _)) = next.iter().next() {
        let (mut line, mut here) = (Vec::new(), start);
        while let Some((to, at)) = next.remove(&here) {
            line.push(at);
            here = to;
        }
        if here == start && line.len() >= 8 {
            lines.push(line);
        }
    }
    lines
}
