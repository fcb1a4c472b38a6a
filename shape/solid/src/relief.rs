use crate::path;
use crate::{Body, SolidError};
use meridian::Piece;
use std::f64::consts::{PI, TAU};

/// What is cut into a turned surface, or left standing in its bore, that is not itself turned. It lives in the mesh; the exact files hold the plain
/// turned shape, which whoever writes them must say.
#[derive(Clone, Debug, PartialEq)]
pub struct Relief {
    /// Which surface.
    pub on: Surface,
    /// From where to where along the axis, mm.
    pub z_mm: [f64; 2],
    /// Its form.
    pub form: Form,
}

impl Relief {
    /// What it is, in words for a drawing's notes.
    pub fn words(&self) -> String {
        let [first, last] = self.z_mm;
        let form = match self.form {
            Form::Flats { count, from_axis_mm } => {
                format!("{count} flat{}, {} mm from the axis", if count == 1 { "" } else { "s" }, plain(from_axis_mm))
            }
            Form::Flutes { count, radius_mm, depth_mm } => {
                format!("{count} flutes, radius {} mm, {} mm deep", plain(radius_mm), plain(depth_mm))
            }
            Form::Knurl { pitch_mm, depth_mm, pattern } => {
                let pattern = if pattern == Knurl::Straight { "Straight" } else { "Diamond" };
                format!("{pattern} knurl, pitch {} mm, {} mm deep", plain(pitch_mm), plain(depth_mm))
            }
            Form::Slot { width_mm, floor_mm } => {
                format!("slot {} mm wide, its floor {} mm from the axis", plain(width_mm), plain(floor_mm))
            }
            Form::Thread { pitch_mm, crest_mm, .. } => {
                format!("thread of {} mm pitch, inner diameter {} mm", plain(pitch_mm), plain(2.0 * crest_mm))
            }
        };
        let place = if self.on == Surface::Bore { " in the bore" } else { "" };
        if self.on == Surface::Bore && first <= 0.0 {
            return format!("{form}{place}, {} mm deep", plain(last));
        }
        format!("{form}{place}, from {} to {} mm", plain(first), plain(last))
    }
}

/// A size in mm, to a micrometre, without idle noughts.
fn plain(mm: f64) -> String {
    let text = format!("{mm:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// The outside or the bore.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surface {
    /// Cut away from the outside.
    Outside,
    /// Left standing in the bore.
    Bore,
}

/// Forms of relief. The first one of several lies toward +x.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Form {
    /// Plane faces parallel to the axis, evenly round it. One in the bore makes a D bore, two a double D; six on the outside a hexagon.
    Flats {
        /// How many.
        count: u32,
        /// How far each plane is from the axis.
        from_axis_mm: f64,
    },
    /// Round grooves along the outside.
    Flutes {
        /// How many.
        count: u32,
        /// Radius of the groove's round.
        radius_mm: f64,
        /// How deep it goes into the surface.
        depth_mm: f64,
    },
    /// A knurl of pointed teeth; the teeth are as many as fit nearest to the pitch.
    Knurl {
        /// From tooth to tooth round the widest place.
        pitch_mm: f64,
        /// How deep the grooves are.
        depth_mm: f64,
        /// Along the axis, or crossed.
        pattern: Knurl,
    },
    /// One slot along the bore, for a key or a pin: the only form that widens its surface.
    Slot {
        /// Across.
        width_mm: f64,
        /// How far its floor is from the axis.
        floor_mm: f64,
    },
    /// A right-handed thread left standing in a bore of its major diameter; flanks straight, rounds drawn as flats.
    Thread {
        /// From turn to turn.
        pitch_mm: f64,
        /// Radius of its crests: half the minor diameter.
        crest_mm: f64,
        /// Shares of the pitch that are flat at crest and root.
        flats: [f64; 2],
    },
}

/// Patterns of knurl (ISO 13444 and DIN 82 name them; from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Knurl {
    /// Grooves along the axis.
    Straight,
    /// Two sets of grooves at 30 degrees to the axis.
    Diamond,
}

/// Parts at most round the axis: keeps a knurl of fine pitch on a wide part within any mesh limit.
const MOST_ROUND: u32 = 720;

/// A relief with what it needs to know of its body.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Fitted {
    pub relief: Relief,
    /// Greatest radius of its surface within its stretch, mm.
    widest_mm: f64,
    /// Teeth round the axis for a knurl, else the count of the form.
    count: u32,
}

impl Fitted {
    /// Checks a relief against the body it is cut into.
    pub fn new(body: &Body, relief: &Relief, least_wall_mm: f64) -> Result<Fitted, SolidError> {
        let relief = Relief { z_mm: [relief.z_mm[0].min(relief.z_mm[1]), relief.z_mm[0].max(relief.z_mm[1])], ..relief.clone() };
        let bad = |what: &str, found: f64| Err(SolidError::NotASize { what: what.into(), found });
        let [first, last] = relief.z_mm;
        if !(first.is_finite() && last.is_finite() && last - first > 1e-3) {
            return bad("the length of a relief along the axis", last - first);
        }
        let outside = relief.on == Surface::Outside;
        let radius_at = |z: f64| if outside { body.outer_radius_mm(z) } else { body.bore_radius_mm(z) };
        let looks: Vec<f64> = (0..=200).map(|i| first + (last - first) * (1e-6 + (1.0 - 2e-6) * f64::from(i) / 200.0)).collect();
        let widest_mm = looks.iter().filter_map(|&z| radius_at(z)).fold(0.0, f64::max);
        let count = relief.form.count_round(widest_mm);
        let fitted = Fitted { relief, widest_mm, count };
        let deepest = fitted.deepest_mm();
        if let Form::Slot { width_mm, floor_mm } = fitted.relief.form {
            fitted.check_slot(body, &looks, [width_mm, floor_mm], least_wall_mm)?;
            return Ok(fitted);
        }
        if widest_mm <= 0.0 || count == 0 || count > MOST_ROUND || !deepest.is_finite() || deepest <= 0.0 || deepest >= widest_mm - 1e-6 {
            return bad("what a relief leaves between the axis and its surface (more than 0, less than the surface's radius)", deepest);
        }
        let form = fitted.relief.form;
        if matches!(form, Form::Flutes { .. } | Form::Knurl { .. }) && fitted.relief.on == Surface::Bore {
            return bad("the number of flutes or knurls in a bore (flats, a slot or a thread are made there)", f64::from(count));
        }
        if let Form::Thread { pitch_mm, flats: [crest, root], .. } = form
            && (fitted.relief.on == Surface::Outside || !(pitch_mm > 0.05 && crest > 0.0 && root > 0.0 && crest + root < 1.0))
        {
            return bad("the pitch of a thread in a bore (0.05 mm or more, flats and flanks within it)", pitch_mm);
        }
        if fitted.relief.on == Surface::Outside {
            for &z in &looks {
                // A knurl goes as deep into narrower places as into the widest.
                let left_mm = match (form, radius_at(z)) {
                    (Form::Knurl { depth_mm, .. }, Some(base)) => base - knurled_mm(depth_mm, base),
                    _ => deepest,
                };
                let bore_mm = body.bore_radius_mm(z).unwrap_or(0.0);
                let wall_mm = if bore_mm > 0.0 || !matches!(form, Form::Knurl { .. }) { left_mm - bore_mm } else { f64::INFINITY };
                if wall_mm < least_wall_mm {
                    return Err(SolidError::WallTooThin { wall_mm, z_mm: z, least_mm: least_wall_mm });
                }
            }
        }
        Ok(fitted)
    }

    fn check_slot(&self, body: &Body, looks: &[f64], [width_mm, floor_mm]: [f64; 2], least_wall_mm: f64) -> Result<(), SolidError> {
        let bad = |what: &str, found: f64| Err(SolidError::NotASize { what: what.into(), found });
        if self.relief.on == Surface::Outside || self.widest_mm <= 0.0 {
            return bad("the bore under a slot", self.widest_mm);
        }
        if !(width_mm > 0.0 && width_mm < 1.9 * self.widest_mm) {
            return bad("the slot's width (less than the bore's diameter)", width_mm);
        }
        if !(floor_mm.is_finite() && floor_mm > self.widest_mm + 1e-3) {
            return bad("how far the slot's floor is from the axis (more than the bore's radius)", floor_mm);
        }
        let corner_mm = floor_mm.hypot(0.5 * width_mm);
        let [low, high] = body.bounds_mm().map(|corner| corner[2]);
        for &z in looks.iter().filter(|z| (low + 1e-6..high - 1e-6).contains(*z)) {
            let wall_mm = body.outer_radius_mm(z).unwrap_or(0.0) - corner_mm;
            if wall_mm < least_wall_mm {
                return Err(SolidError::WallTooThin { wall_mm, z_mm: z, least_mm: least_wall_mm });
            }
        }
        Ok(())
    }

    /// Whether it takes material from a bore rather than leave some standing.
    pub fn widens(&self) -> bool {
        matches!(self.relief.form, Form::Slot { .. })
    }

    /// The same on a body `factor` times as large.
    pub fn scaled(&self, factor: f64) -> Fitted {
        let form = match self.relief.form {
            Form::Flats { count, from_axis_mm } => Form::Flats { count, from_axis_mm: from_axis_mm * factor },
            Form::Flutes { count, radius_mm, depth_mm } => {
                Form::Flutes { count, radius_mm: radius_mm * factor, depth_mm: depth_mm * factor }
            }
            Form::Knurl { pitch_mm, depth_mm, pattern } => {
                Form::Knurl { pitch_mm: pitch_mm * factor, depth_mm: depth_mm * factor, pattern }
            }
            Form::Slot { width_mm, floor_mm } => Form::Slot { width_mm: width_mm * factor, floor_mm: floor_mm * factor },
            Form::Thread { pitch_mm, crest_mm, flats } => Form::Thread { pitch_mm: pitch_mm * factor, crest_mm: crest_mm * factor, flats },
        };
        let z_mm = self.relief.z_mm.map(|z| z * factor);
        Fitted { relief: Relief { on: self.relief.on, z_mm, form }, widest_mm: self.widest_mm * factor, count: self.count }
    }

    /// Radius left at an angle, of a surface that was `base_mm` there; of a slot, the radius it opens to.
    pub fn radius_mm(&self, angle_rad: f64, z_mm: f64, base_mm: f64) -> f64 {
        let part = TAU / f64::from(self.count);
        // Angle from the middle of the nearest member.
        let off = angle_rad - part * (angle_rad / part).round();
        let left = match self.relief.form {
            Form::Flats { from_axis_mm, .. } => from_axis_mm / off.cos().max(1e-9),
            Form::Flutes { radius_mm, depth_mm, .. } => {
                let centre = self.widest_mm - depth_mm + radius_mm;
                let under = radius_mm * radius_mm - (centre * off.sin()).powi(2);
                if under >= 0.0 { centre * off.cos() - under.sqrt() } else { f64::INFINITY }
            }
            Form::Knurl { depth_mm, pattern: Knurl::Straight, .. } => base_mm - knurled_mm(depth_mm, base_mm) * tooth(off / part),
            Form::Knurl { depth_mm, pattern: Knurl::Diamond, .. } => {
                let lean = (z_mm - self.relief.z_mm[0]) * 30f64.to_radians().tan() / self.widest_mm;
                base_mm - knurled_mm(depth_mm, base_mm) * tooth((angle_rad + lean) / part).max(tooth((angle_rad - lean) / part))
            }
            Form::Slot { width_mm, floor_mm } => {
                let (sin, cos) = off.sin_cos();
                let open = if cos > 1e-9 { (floor_mm / cos).min(0.5 * width_mm / sin.abs().max(1e-12)) } else { 0.0 };
                return open.max(base_mm);
            }
            Form::Thread { pitch_mm, crest_mm, flats: [crest, root] } => {
                let turns = z_mm / pitch_mm - angle_rad / TAU;
                let from_crest = (turns - turns.round()).abs();
                let up = ((from_crest - 0.5 * crest) / (0.5 - 0.5 * root - 0.5 * crest)).clamp(0.0, 1.0);
                crest_mm + up * (self.widest_mm - crest_mm)
            }
        };
        left.min(base_mm)
    }

    /// Angles where the surface bends sharply or steps are needed for the chord, radians in 0..2 pi. True to the widest radius.
    pub fn angles(&self, chord_mm: f64) -> Vec<f64> {
        let part = TAU / f64::from(self.count);
        let offsets: Vec<f64> = match self.relief.form {
            Form::Flats { from_axis_mm, .. } => {
                let half = (from_axis_mm / self.widest_mm).acos().min(0.5 * part);
                vec![-half, half]
            }
            Form::Flutes { radius_mm, depth_mm, .. } => {
                let (r, centre) = (self.widest_mm, self.widest_mm - depth_mm + radius_mm);
                let half = ((centre * centre + r * r - radius_mm * radius_mm) / (2.0 * centre * r)).clamp(-1.0, 1.0).acos();
                let half = half.min(0.5 * part);
                let steps = (half / (chord_mm / radius_mm).min(0.5).sqrt() * self.widest_mm / radius_mm).ceil().clamp(4.0, 64.0) as i32;
                (-steps..=steps).map(|i| half * f64::from(i) / f64::from(steps)).collect()
            }
            Form::Knurl { pattern: Knurl::Straight, .. } => vec![0.0, 0.5 * part],
            Form::Knurl { pattern: Knurl::Diamond, .. } => (0..8).map(|i| part * f64::from(i) / 8.0).collect(),
            Form::Slot { width_mm, floor_mm } => {
                let [foot, rim] = [(0.5 * width_mm / floor_mm).atan(), (0.5 * width_mm / self.widest_mm).asin()];
                let side = |sign: f64| (0..=6).map(move |i| sign * (foot + (rim - foot) * f64::from(i) / 6.0));
                side(-1.0).chain(side(1.0)).chain([0.0]).collect()
            }
            Form::Thread { .. } => (0..96).map(|i| part * f64::from(i) / 96.0).collect(),
        };
        (0..self.count).flat_map(|member| offsets.iter().map(move |off| (f64::from(member) * part + off).rem_euclid(TAU))).collect()
    }

    /// Heights between two others where the form itself wants a ring; none where its section stays the same along the axis. At most 4,000.
    pub fn heights_mm(&self, low: f64, high: f64) -> Vec<f64> {
        let step = match self.relief.form {
            Form::Knurl { pattern: Knurl::Diamond, .. } => TAU / f64::from(self.count) * self.widest_mm / 30f64.to_radians().tan() / 8.0,
            Form::Thread { pitch_mm, .. } => pitch_mm / 16.0,
            _ => return Vec::new(),
        };
        let [first, last] = [self.relief.z_mm[0].max(low), self.relief.z_mm[1].min(high)];
        let count = ((last - first) / step).ceil().clamp(0.0, 4000.0) as u32;
        (1..count).map(|i| first + (last - first) * f64::from(i) / f64::from(count)).collect()
    }

    /// Volume between the plain surface and the relief, mm^3, above 0 (of a slot, below). Flats and flutes by quadrature across (1,440 angles a member) and along;
    /// knurls by the mean of their teeth.
    pub fn volume_mm3(&self, chain: &[Piece]) -> f64 {
        let reach = chain.iter().flat_map(|piece| [path::start(piece).z_mm, path::end(piece).z_mm]);
        let (low, high) = reach.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)));
        let (first, last) = (self.relief.z_mm[0].max(low), self.relief.z_mm[1].min(high));
        if last <= first {
            return 0.0;
        }
        let steps = 400;
        let width = (last - first) / f64::from(steps);
        let at = |i: i32| {
            let z = first + (f64::from(i) + 0.5) * width;
            path::greatest_radius_at(chain, z).map_or(0.0, |base| self.section_mm2(base))
        };
        (0..steps).map(at).sum::<f64>() * width
    }

    /// Area between the plain circle and the relief's section.
    fn section_mm2(&self, base: f64) -> f64 {
        if let Form::Knurl { depth_mm, pattern, .. } = self.relief.form {
            // Depth shares are even from 0 to 1 (straight), or the greater of two such (diamond).
            let (mean, mean_square) = if pattern == Knurl::Straight { (0.5, 1.0 / 3.0) } else { (2.0 / 3.0, 0.5) };
            let depth_mm = knurled_mm(depth_mm, base);
            return TAU * (base * depth_mm * mean - 0.5 * depth_mm * depth_mm * mean_square);
        }
        let half = PI / f64::from(self.count);
        let steps = 720;
        let lost = |i: i32| {
            let left = self.radius_mm(half * (f64::from(i) + 0.5) / f64::from(steps), 0.0, base);
            0.5 * (base * base - left * left)
        };
        2.0 * f64::from(self.count) * (0..steps).map(lost).sum::<f64>() * half / f64::from(steps)
    }

    fn deepest_mm(&self) -> f64 {
        match self.relief.form {
            Form::Flats { from_axis_mm, .. } => from_axis_mm,
            Form::Flutes { radius_mm, depth_mm, .. } if radius_mm >= depth_mm && radius_mm < 1e4 && depth_mm > 0.0 => {
                self.widest_mm - depth_mm
            }
            Form::Knurl { depth_mm, .. } if depth_mm > 0.0 => self.widest_mm - depth_mm,
            Form::Thread { crest_mm, .. } => crest_mm,
            _ => f64::NAN,
        }
    }
}

impl Form {
    fn count_round(&self, widest_mm: f64) -> u32 {
        match *self {
            Form::Flats { count, .. } | Form::Flutes { count, .. } => count,
            Form::Slot { .. } | Form::Thread { .. } => 1,
            Form::Knurl { pitch_mm, .. } => {
                let teeth = (TAU * widest_mm / pitch_mm).round();
                if (3.0..=f64::from(MOST_ROUND)).contains(&teeth) { teeth as u32 } else { 0 }
            }
        }
    }
}

/// Depth of a knurl at a radius: near the axis its grooves run out, at most half way in.
fn knurled_mm(depth_mm: f64, base_mm: f64) -> f64 {
    depth_mm.min(0.5 * base_mm)
}

/// Depth of a pointed groove, 1 at whole numbers, 0 half way between.
fn tooth(turns: f64) -> f64 {
    1.0 - 2.0 * (turns - turns.round()).abs()
}
