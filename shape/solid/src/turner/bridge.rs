//! Walls of cross holes, between the edges trimmed out of the surfaces they pass.

use super::{Opening, Row, TrimmedPass, Turner};
use crate::SolidError;
use crate::lathe::Mesh;
use std::f64::consts::TAU;

impl Turner<'_> {
    /// The wall of a cross hole: from the edge it leaves in one surface to that in the next inward.
    pub(super) fn bridge(&mut self, index: usize) -> Result<(), SolidError> {
        let Some(crossing) = self.body.crossings().get(index) else { return Ok(()) };
        let broken = || crossing.hole.refused("its edge does not close; move it a little");
        let mut edges: [Vec<(f64, Row)>; 2] = [Vec::new(), Vec::new()];
        for opening in self.openings.iter().filter(|opening| opening.index == index) {
            for pass in &opening.passes {
                let edge = self.edge(opening, pass).ok_or_else(broken)?;
                let far = edge.iter().filter_map(|(_, corner)| self.mesh.vertices_mm.get(*corner as usize)).map(|at| at[0].hypot(at[1]));
                edges[opening.side].push((far.fold(0.0, f64::max), edge));
            }
        }
        for side in &mut edges {
            side.sort_by(|a, b| b.0.total_cmp(&a.0));
        }
        let [near, far] = &edges;
        // Each wall with the way its inner edge opens it: toward the axis, or away from it where that edge lies beyond the axis.
        let mut walls: Vec<(Row, Row, f64)> = Vec::new();
        for side in [near, far] {
            walls.extend(side.chunks_exact(2).map(|pair| (pair[0].1.clone(), pair[1].1.clone(), -1.0)));
        }
        if near.len() % 2 == 1 {
            // Straight through: on the far side across runs the other way.
            let (Some(here), Some(there)) = (near.last(), far.last()) else { return Err(broken()) };
            let full = (TAU * 1e7).round() / 1e7;
            let turned = there.1.iter().rev().map(|&(angle, corner)| (((full - angle) * 1e7).round() / 1e7, corner)).collect();
            walls.push((here.1.clone(), turned, 1.0));
        }
        for (outside, inside, opening) in walls {
            // Seen from within the hole the outer edge runs on, the inner one back.
            self.zip_edges(&outside, &inside, opening);
        }
        Ok(())
    }

    /// As [`Turner::zip`], for two edges of a hole. Where an edge runs along the hole (over a step of the surface) two corners share their angle: a step that opens the wall waits
    /// until the other edge is beyond it, one that closes it comes first; else triangles would fold back.
    fn zip_edges(&mut self, outside: &[(f64, u32)], inside: &[(f64, u32)], opening: f64) {
        let far = |mesh: &Mesh, corner: u32| mesh.vertices_mm.get(corner as usize).map_or(0.0, |at| at[0].hypot(at[1]));
        let opens = |mesh: &Mesh, edge: &[(f64, u32)], i: usize, outward: f64| {
            let pair = edge.get(i).zip(edge.get(i + 1)).filter(|(a, b)| (a.0 - b.0).abs() < 1e-12);
            pair.is_some_and(|(a, b)| (far(mesh, b.1) - far(mesh, a.1)) * outward > 0.0)
        };
        let outside = &self.cut_steps(outside, inside, &opens);
        let (mut i, mut j) = (0, 0);
        while i + 1 < outside.len() || j + 1 < inside.len() {
            let mut step_outside = j + 1 >= inside.len() || (i + 1 < outside.len() && outside[i + 1].0 <= inside[j + 1].0);
            if step_outside && i + 1 < outside.len() && j + 1 < inside.len() {
                let waits = opens(&self.mesh, outside, i, 1.0) && inside[j].0 <= outside[i].0;
                let late = opens(&self.mesh, inside, j, -opening) && outside[i].0 < inside[j].0;
                let ahead = outside[i + 1].0 == inside[j + 1].0 && opens(&self.mesh, inside, j + 1, -opening);
                step_outside = !(waits || late || ahead);
            } else if !step_outside && i + 1 < outside.len() {
                step_outside = opens(&self.mesh, inside, j, opening) && outside[i].0 <= inside[j].0;
            }
            if step_outside {
                self.triangle(outside[i].1, outside[i + 1].1, inside[j].1);
                i += 1;
            } else {
                self.triangle(outside[i].1, inside[j + 1].1, inside[j].1);
                j += 1;
            }
        }
    }

    /// Where both edges step at one angle all four corners lie on one line: the outer edge's step is filled by itself, with its neighbour beyond (or before) it.
    fn cut_steps(
        &mut self,
        outside: &[(f64, u32)],
        inside: &[(f64, u32)],
        opens: &impl Fn(&Mesh, &[(f64, u32)], usize, f64) -> bool,
    ) -> Row {
        let steps_inside = |angle: f64| inside.windows(2).any(|pair| pair[0].0 == angle && pair[1].0 == angle);
        let mut kept: Row = Vec::with_capacity(outside.len());
        let mut i = 0;
        while i < outside.len() {
            let (here, next) = (outside[i], outside.get(i + 1).copied());
            let both = next.is_some_and(|next| next.0 == here.0) && steps_inside(here.0);
            match (both, next, outside.get(i + 2).copied(), kept.last().copied()) {
                (true, Some(next), Some(beyond), _) if opens(&self.mesh, outside, i, 1.0) => {
                    self.triangle(here.1, next.1, beyond.1);
                    kept.push(here);
                    i += 2;
                }
                (true, Some(next), _, Some(before)) if !opens(&self.mesh, outside, i, 1.0) => {
                    self.triangle(before.1, here.1, next.1);
                    i += 1;
                }
                _ => {
                    kept.push(here);
                    i += 1;
                }
            }
        }
        kept
    }

    /// A trimmed edge as corners with their angles about the hole's own axis, 0 to 2 pi: from its lowest place up the right and down the left.
    fn edge(&self, opening: &Opening, pass: &TrimmedPass) -> Option<Vec<(f64, u32)>> {
        let (right, left) = (&pass.right, &pass.left);
        if right.len() < 3 || left.len() < 3 || right.first() != left.first() || right.last() != left.last() {
            return None;
        }
        let about = |corner: u32| {
            let z = self.mesh.vertices_mm.get(corner as usize)?[2];
            let angle = ((opening.hole.z_mm - z) / opening.hole.radius_mm()).clamp(-1.0, 1.0).acos();
            // To a ten-millionth: the two ends of a hole are then in step where their heights are.
            Some((angle * 1e7).round() / 1e7)
        };
        let rising = about(*right.first()?)? < about(*right.last()?)?;
        let upward = |side: &[u32]| -> Vec<u32> { if rising { side.to_vec() } else { side.iter().rev().copied().collect() } };
        let (right, left) = (upward(right), upward(left));
        let full = (TAU * 1e7).round() / 1e7;
        let mut edge: Vec<(f64, u32)> = Vec::new();
        for (place, &corner) in right.iter().enumerate() {
            let angle = if place == 0 { 0.0 } else { about(corner)? };
            edge.push((angle, corner));
        }
        for (place, &corner) in left.iter().rev().enumerate().skip(1) {
            let angle = if place + 1 == left.len() { full } else { ((full - about(corner)?) * 1e7).round() / 1e7 };
            edge.push((angle, corner));
        }
        Some(edge)
    }
}
