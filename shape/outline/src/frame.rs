use crate::Clicks;

/// The picture seen along the part's axis: `t` runs from the rod entry (0) to the free end (`length_px`), `w` to the left of it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AxisFrame {
    pub origin: [f64; 2],
    pub along: [f64; 2],
    pub left: [f64; 2],
    pub length_px: f64,
}

impl AxisFrame {
    /// The clicks must differ (checked by the caller).
    pub fn new(clicks: Clicks) -> Self {
        let [dx, dy] = minus(clicks.free_end, clicks.rod_entry);
        let length_px = dx.hypot(dy).max(1e-9);
        let along = [dx / length_px, dy / length_px];
        AxisFrame { origin: clicks.rod_entry, along, left: [along[1], -along[0]], length_px }
    }

    pub fn to_px(self, t: f64, w: f64) -> [f64; 2] {
        [self.origin[0] + t * self.along[0] + w * self.left[0], self.origin[1] + t * self.along[1] + w * self.left[1]]
    }

    /// `[t, w]` of a point of the picture.
    pub fn place(self, at: [f64; 2]) -> [f64; 2] {
        let d = minus(at, self.origin);
        [dot(d, self.along), dot(d, self.left)]
    }

    pub fn clicks(self) -> Clicks {
        Clicks { rod_entry: self.origin, free_end: self.to_px(self.length_px, 0.0) }
    }

    /// How far the axis can be followed from the rod entry away from the part before it leaves the picture, px.
    pub fn room_behind_px(self, width_px: f64, height_px: f64) -> f64 {
        let mut room = f64::INFINITY;
        for (at, step, size) in [(self.origin[0], -self.along[0], width_px), (self.origin[1], -self.along[1], height_px)] {
            if step > 1e-12 {
                room = room.min((size - at) / step);
            } else if step < -1e-12 {
                room = room.min(at / -step);
            }
        }
        room.max(0.0)
    }
}

pub(crate) fn minus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

pub(crate) fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

pub(crate) fn norm(a: [f64; 2]) -> f64 {
    a[0].hypot(a[1])
}
