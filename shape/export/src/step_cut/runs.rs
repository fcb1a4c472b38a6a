//! The planes of flats and slots, and the walls where they end.

use super::segments::{Cut, Segment};
use super::{Builder, Z, is_gapped, reversed};
use crate::brep::Side;
use solid::Surface;

/// A flat or slot on its way along the axis.
struct Run {
    from: usize,
    to: usize,
    /// Joints of its ends; none where it only touches the surface.
    ends: [Option<usize>; 2],
    right: Vec<Side>,
    left: Vec<Side>,
}

impl Builder<'_> {
    /// Walls square to the axis where a relief begins or ends inside the body.
    pub(super) fn walls(&mut self) -> Option<()> {
        let count = self.segments.len();
        for joint in 0..count {
            if joint == 0 && !self.through {
                continue;
            }
            let (before, after) = (self.segments[(joint + count - 1) % count], self.segments[joint]);
            let r = self.joint(joint).r_mm;
            let open = |segment: &Segment| segment.cut.filter(|(_, cut)| is_gapped(segment, *cut, r));
            match (open(&before), open(&after)) {
                (None, None) => {}
                (Some((one, _)), Some((other, _))) => {
                    if one != other {
                        return None;
                    }
                }
                (None, Some((_, cut))) => self.wall(joint, cut, true),
                (Some((_, cut)), None) => self.wall(joint, cut, false),
            }
        }
        Some(())
    }

    fn wall(&mut self, joint: usize, cut: Cut, begins: bool) {
        let (r, z) = (self.joint(joint).r_mm, self.joint(joint).z_mm);
        // Flats lie within the circle, slots beyond it; the wall looks as a step that goes there would.
        let outward = matches!(cut, Cut::Slot { .. }) == begins;
        let normal = [0.0, 0.0, if outward { -1.0 } else { 1.0 }];
        let half = cut.half_gap(r);
        let turned = |sides: Vec<Side>, as_is: bool| if as_is { sides } else { reversed(sides) };
        if r >= cut.corner_mm() {
            let circle = self.circle(joint);
            let mut polygon = Vec::new();
            for member in 0..cut.count() {
                polygon.extend(self.across(cut, member, joint));
            }
            let loops = [turned(circle, begins), turned(polygon, !begins)];
            return self.brep.plane_face(&loops, [0.0, 0.0, z], normal, super::X);
        }
        for member in 0..cut.count() {
            let arcs = self.arcs(joint, [cut.angle(member) - half, cut.angle(member) + half]);
            let across = self.across(cut, member, joint);
            let mut sides = turned(arcs, begins);
            sides.extend(turned(across, !begins));
            self.brep.plane_face(&[sides], [0.0, 0.0, z], normal, super::X);
        }
    }

    /// All planes along the axis.
    pub(super) fn runs(&mut self) -> Option<()> {
        let mut cuts: Vec<(usize, Cut)> = self.segments.iter().filter_map(|segment| segment.cut).collect();
        cuts.sort_by_key(|(relief, _)| *relief);
        cuts.dedup_by_key(|(relief, _)| *relief);
        for (relief, cut) in cuts {
            for member in 0..cut.count() {
                for run in self.member_runs(relief, cut, member)? {
                    match cut {
                        Cut::Flats { from_axis_mm, .. } => self.flat(cut, member, from_axis_mm, run),
                        Cut::Slot { width_mm, floor_mm } => self.slot(cut, [width_mm, floor_mm], &run)?,
                    }
                }
            }
        }
        Some(())
    }

    fn member_runs(&mut self, relief: usize, cut: Cut, member: u32) -> Option<Vec<Run>> {
        let (mut done, mut open): (Vec<Run>, Option<Run>) = (Vec::new(), None);
        for index in 0..self.segments.len() {
            let segment = self.segments[index];
            let own = segment.cut.is_some_and(|(other, _)| other == relief) && !is_end_face(&segment, cut);
            if !own {
                done.extend(open.take().map(|run| Run { ends: [run.ends[0], Some(index)], ..run }));
                continue;
            }
            let [starts, ends] = [segment.start(), segment.end()].map(|at| is_gapped(&segment, cut, at.r_mm));
            let begun = |joint: Option<usize>| Run { from: index, to: index, ends: [joint, None], right: Vec::new(), left: Vec::new() };
            if let Some(run) = &mut open {
                run.to = index;
            }
            if segment.is_square() {
                if starts {
                    let run = open.get_or_insert_with(|| begun(Some(index)));
                    if ends {
                        let sides = [1.0, -1.0].map(|side| self.step_line(&segment, cut, member, side));
                        run.right.extend(sides[0]);
                        run.left.extend(sides[1]);
                    }
                } else {
                    open = Some(begun(Some(index + 1)));
                }
                if !ends {
                    done.extend(open.take().map(|run| Run { ends: [run.ends[0], Some(index)], ..run }));
                }
                continue;
            }
            let run = open.get_or_insert_with(|| begun(starts.then_some(index)));
            run.right.push(self.gap_edge(&segment, cut, member, 1.0)?);
            run.left.push(self.gap_edge(&segment, cut, member, -1.0)?);
            if !ends {
                done.extend(open.take());
            }
        }
        let last = self.segments.len();
        done.extend(open.take().map(|run| Run { ends: [run.ends[0], Some(last)], ..run }));
        Some(done)
    }

    fn flat(&mut self, cut: Cut, member: u32, from_axis_mm: f64, run: Run) {
        let segments = run.from..=run.to;
        let outside = self.segments[run.from].surface == Surface::Outside;
        let mut sides = run.ends[0].map_or_else(Vec::new, |joint| self.across(cut, member, joint));
        sides.extend(run.right);
        sides.extend(run.ends[1].map_or_else(Vec::new, |joint| reversed(self.across(cut, member, joint))));
        sides.extend(reversed(run.left));
        let mut loops = vec![sides];
        loops.extend(
            self.taken(|mouth| segments.contains(&mouth.segment) && mouth.flat == Some(member)).into_iter().map(|(_, sides)| sides),
        );
        let at = self.turned_place(cut, member, [from_axis_mm, 0.0, 0.0]);
        let normal = self.turned_place(cut, member, [if outside { 1.0 } else { -1.0 }, 0.0, 0.0]);
        self.brep.plane_face(&loops, at, normal, Z);
    }

    /// Both sides and the floor.
    fn slot(&mut self, cut: Cut, [width_mm, floor_mm]: [f64; 2], run: &Run) -> Option<()> {
        let [first, last] = [run.ends[0]?, run.ends[1]?];
        let z = [first, last].map(|joint| self.joint(joint).z_mm);
        let floor = |side: f64| z.map(|z| [floor_mm, 0.5 * side * width_mm, z]);
        let [right, left] = [floor(1.0), floor(-1.0)];
        let [right, left] = [self.brep.line(right[0], right[1])?, self.brep.line(left[0], left[1])?];
        // From the left of the bore's wall over the floor to its right: three lines.
        let [from, to] = [self.across(cut, 0, first), self.across(cut, 0, last)];
        let ([from_left, from_floor, from_right], [to_left, to_floor, to_right]) = (three(&from)?, three(&to)?);
        let back = |(edge, forward): Side| (edge, !forward);
        let half = 0.5 * width_mm;
        let mut side = run.right.clone();
        side.extend([back(to_right), back(right), from_right]);
        self.brep.plane_face(&[side], [0.0, half, 0.0], [0.0, -1.0, 0.0], Z);
        let mut side = reversed(run.left.clone());
        side.extend([from_left, left, back(to_left)]);
        self.brep.plane_face(&[side], [0.0, -half, 0.0], [0.0, 1.0, 0.0], Z);
        self.brep.plane_face(&[vec![from_floor, right, back(to_floor), back(left)]], [floor_mm, 0.0, 0.0], [-1.0, 0.0, 0.0], Z);
        Some(())
    }
}

fn three(sides: &[Side]) -> Option<[Side; 3]> {
    <[Side; 3]>::try_from(sides).ok()
}

/// A slot opens in an end face; its planes end there.
fn is_end_face(segment: &Segment, cut: Cut) -> bool {
    matches!(cut, Cut::Slot { .. }) && segment.surface != Surface::Bore
}
