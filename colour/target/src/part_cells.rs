use crate::patch::CLIPPED;
use crate::{Light, Polygon, TargetError};
use nalgebra::Vector3;
use photo::Picture;

/// A square of a few pixels of the part: enough of them to still noise and the JPEG's coarse chroma.
#[derive(Clone, Debug)]
pub(crate) struct Cell {
    /// Place in the grid of cells.
    pub column: usize,
    /// See `column`.
    pub row: usize,
    /// Middle, px.
    pub at: [f64; 2],
    /// Reflectance as it looks if the surface were lit as the neutral patch is, linear sRGB: body, shading and gloss together.
    pub rgb: [f64; 3],
    /// Some of its pixels are burnt out.
    pub clipped: bool,
    /// Which way the surface faces; `None` where the outline does not tell.
    pub normal: Option<Vector3<f64>>,
}

/// Fewest cells that a colour is read from.
const FEWEST_CELLS: usize = 25;

/// Cuts the inside of the part, away from its edge, into cells. `region` narrows it further.
pub(crate) fn cut(
    picture: &Picture,
    outline: &Polygon,
    region: Option<&Polygon>,
    light: &Light,
) -> Result<(Vec<Cell>, usize), TargetError> {
    let area = outline.area_px();
    // About 60 cells across; 2 px at least, for chroma is stored for 2 x 2 px.
    let side = ((area.sqrt() / 60.0) as usize).clamp(2, 64);
    let mut grid = Grid::new(picture, side);
    grid.count(outline.spans(picture.width_px(), picture.height_px()), |cell| &mut cell.in_part);
    if let Some(region) = region {
        grid.count(region.spans(picture.width_px(), picture.height_px()), |cell| &mut cell.in_region);
    }
    let whole = side * side;
    let mut inside: Vec<bool> = grid.cells.iter().map(|cell| cell.in_part == whole).collect();
    // Blur and coarse chroma reach some 4 px over the edge, grazing reflection some percent of the width.
    let mut rounds = ((0.03 * area.sqrt()).max(4.0) / side as f64).ceil() as usize;
    let chosen = loop {
        let mut kept = inside.clone();
        (0..rounds).for_each(|_| kept = grid.eroded(&kept));
        let wanted = |i: usize| kept[i] && (region.is_none() || 2 * grid.cells[i].in_region >= whole);
        let chosen: Vec<usize> = (0..kept.len()).filter(|&i| wanted(i)).collect();
        if chosen.len() >= FEWEST_CELLS || rounds == 0 {
            break chosen;
        }
        rounds -= 1;
    };
    inside.clear();
    if chosen.len() < FEWEST_CELLS {
        let what = if region.is_some() { "the region of the part to read" } else { "the part" };
        let (pixels, needed) = (chosen.len() * whole, FEWEST_CELLS * whole);
        return Err(TargetError::TooSmall { what: what.into(), pixels, needed });
    }
    Ok((chosen.iter().map(|&i| grid.cell(i, picture, light)).collect(), chosen.len() * whole))
}

#[derive(Clone, Copy, Default)]
struct Count {
    in_part: usize,
    in_region: usize,
}

struct Grid {
    side: usize,
    columns: usize,
    rows: usize,
    cells: Vec<Count>,
}

impl Grid {
    fn new(picture: &Picture, side: usize) -> Grid {
        let (columns, rows) = (picture.width_px() / side, picture.height_px() / side);
        Grid { side, columns, rows, cells: vec![Count::default(); columns * rows] }
    }

    fn count(&mut self, spans: Vec<(usize, usize, usize)>, field: impl Fn(&mut Count) -> &mut usize) {
        for (y, first, end) in spans {
            let row = y / self.side;
            for column in first / self.side..end.div_ceil(self.side) {
                let covered = end.min((column + 1) * self.side) - first.max(column * self.side);
                if row < self.rows && column < self.columns {
                    *field(&mut self.cells[row * self.columns + column]) += covered;
                }
            }
        }
    }

    /// Cells whose eight neighbours are all kept.
    fn eroded(&self, kept: &[bool]) -> Vec<bool> {
        let at = |column: isize, row: isize| {
            let inside = (0..self.columns as isize).contains(&column) && (0..self.rows as isize).contains(&row);
            inside && kept[row as usize * self.columns + column as usize]
        };
        let stays = |i: usize| {
            let (column, row) = ((i % self.columns) as isize, (i / self.columns) as isize);
            kept[i] && (-1..=1).all(|dy| (-1..=1).all(|dx| at(column + dx, row + dy)))
        };
        (0..kept.len()).map(stays).collect()
    }

    fn cell(&self, i: usize, picture: &Picture, light: &Light) -> Cell {
        let (column, row) = (i % self.columns, i / self.columns);
        let (mut sum, mut clipped) = ([0.0f64; 3], 0usize);
        for y in row * self.side..(row + 1) * self.side {
            for x in column * self.side..(column + 1) * self.side {
                let pixel = picture.linear_at(x as isize, y as isize);
                clipped += usize::from(pixel.iter().any(|&v| v >= CLIPPED));
                sum.iter_mut().zip(pixel).for_each(|(s, v)| *s += f64::from(v));
            }
        }
        let pixels = (self.side * self.side) as f64;
        let at = [(column as f64 + 0.5) * self.side as f64, (row as f64 + 0.5) * self.side as f64];
        let rgb = light.reflectance(sum.map(|s| s / pixels), at);
        Cell { column, row, at, rgb, clipped: clipped as f64 > 0.05 * pixels, normal: None }
    }
}
