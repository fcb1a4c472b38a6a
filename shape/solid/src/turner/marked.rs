//! Faces with letters cut into them.

use super::{Ring, Turner};
use crate::plane::{self, Corner};
use crate::{Mark, MarkPlace, SolidError};

impl Turner<'_> {
    /// A face with letters cut into it: the land round them, the lands in their counters, their walls and floors.
    pub(super) fn marked(&mut self, from: &Ring, to: &Ring, mark: &Mark) -> Result<(), SolidError> {
        let refused = || SolidError::Mark { why: "its letters come too near the edge of the face; make it lower or shorter".into() };
        let up = if mark.on == MarkPlace::RodEnd { -1.0 } else { 1.0 };
        // The wider ring runs counter-clockwise seen from +z.
        let (wide, narrow) = if up < 0.0 { (to, from) } else { (from, to) };
        let (face_z, floor_z) = (wide.z_mm, wide.z_mm - up * mark.depth_mm);
        let lines = mark.placed();
        let depths = plane::depths(&lines);
        let tops: Vec<Vec<u32>> = lines.iter().map(|line| line.iter().map(|[x, y]| self.corner([*x, *y, face_z])).collect()).collect();
        let floors: Vec<Vec<u32>> = lines.iter().map(|line| line.iter().map(|[x, y]| self.corner([*x, *y, floor_z])).collect()).collect();
        let mut land = vec![wide.corners.clone()];
        if narrow.corners.len() > 1 {
            land.push(narrow.corners.iter().rev().copied().collect());
        }
        let reversed = |line: &Vec<u32>| line.iter().rev().copied().collect::<Vec<u32>>();
        land.extend(tops.iter().zip(&depths).filter(|(_, depth)| **depth == 0).map(|(line, _)| reversed(line)));
        self.flat(&land, up).ok_or_else(refused)?;
        for (index, line) in lines.iter().enumerate() {
            let children = |tops: &[Vec<u32>], depth: usize| -> Vec<Vec<u32>> {
                let own = |j: &usize| depths[*j] == depth + 1 && lines[*j].first().is_some_and(|&at| plane::contains(line, at));
                (0..lines.len()).filter(own).map(|j| tops[j].clone()).collect()
            };
            // Letters have a floor; what lies within them stands at the face's height.
            let depth = depths[index];
            let letter = depth.is_multiple_of(2);
            let level = if letter { &floors } else { &tops };
            let outline = if letter { level[index].clone() } else { reversed(&level[index]) };
            let holes = children(level, depth).into_iter().map(|hole| if letter { hole } else { reversed(&hole) });
            let all: Vec<Vec<u32>> = std::iter::once(outline).chain(holes).collect();
            self.flat(&all, up).ok_or_else(refused)?;
            self.walls(&tops[index], &floors[index], up);
        }
        Ok(())
    }

    /// Walls of a letter, seen from within it; `placed` runs its lines with the letter on their left, seen from +z.
    fn walls(&mut self, top: &[u32], floor: &[u32], up: f64) {
        for i in 0..top.len() {
            let next = (i + 1) % top.len();
            let [a, b, c, d] = [floor[i], floor[next], top[next], top[i]];
            if up > 0.0 {
                self.mesh.triangles.extend([[a, c, b], [a, d, c]]);
            } else {
                self.mesh.triangles.extend([[a, b, c], [a, c, d]]);
            }
        }
    }

    /// A flat piece of face: the first line round it, the others holes, by their corners' numbers; turned to look up (+z) or down.
    fn flat(&mut self, lines: &[Vec<u32>], up: f64) -> Option<()> {
        let places: Vec<Vec<Corner>> = lines
            .iter()
            .map(|line| line.iter().filter_map(|&corner| self.mesh.vertices_mm.get(corner as usize)).map(|at| [at[0], at[1]]).collect())
            .collect();
        if plane::any_meet(&places) {
            return None;
        }
        let (outer, holes) = places.split_first()?;
        let numbers: Vec<u32> = lines.iter().flatten().copied().collect();
        for [a, b, c] in plane::triangles(outer, holes)? {
            let [a, b, c] = [*numbers.get(a)?, *numbers.get(b)?, *numbers.get(c)?];
            self.mesh.triangles.push(if up > 0.0 { [a, b, c] } else { [a, c, b] });
        }
        Some(())
    }
}
