use crate::path;
use crate::{Body, SolidError};
use meridian::Piece;
use std::f64::consts::{PI, TAU};

/// What is cut into a turned surface, or left standing in its bore, that is not itself turned. The mesh has all of it; `export::carried` tells what STEP holds.
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
    /// The hollow round the bore's boss: nothing is cut there but holes.
    Hollow,
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
/// A step round the axis: two angles this far apart.
const STEP_RAD: f64 = 4e-6;

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
        let own: Vec<&[Piece]> = body.surfaces().into_iter().filter(|(on, _)| *on == relief.on).map(|(_, chain)| chain).collect();
        if relief.on == Surface::Hollow {
            return bad("the number of reliefs in a hollow (they are cut outside or in the bore)", 1.0);
        }
        let radius_at = |z: f64| own.iter().filter_map(|chain| path::greatest_radius_at(chain, z)).reduce(f64::max);
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
                let slots = body.reliefs().iter().filter(|other| (other.relief.z_mm[0]..=other.relief.z_mm[1]).contains(&z));
                let bore_mm = slots.map(Fitted::corner_mm).fold(body.bore_radius_mm(z).unwrap_or(0.0), f64::max);
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
            // To the outside, or to the side of the boss in a hollow.
            let hollow = body.surfaces().into_iter().filter(|(on, _)| *on == Surface::Hollow).flat_map(|(_, chain)| chain);
            let boss_mm = hollow.flat_map(|piece| path::heights_at(piece, z).into_iter().map(|t| path::at(piece, t).r_mm));
            let outer_mm = body.outer_radius_mm(z).unwrap_or(0.0);
            // As the outside is cut over the slot.
            let half = (0.5 * width_mm / corner_mm).asin() + 0.05;
            let over = (-16..=16).map(|i| body.relieved_radius_mm(Surface::Outside, half * f64::from(i) / 16.0, z, outer_mm));
            let wall_mm = over.chain(boss_mm).fold(outer_mm, f64::min) - corner_mm;
            if wall_mm < least_wall_mm {
                return Err(SolidError::WallTooThin { wall_mm, z_mm: z, least_mm: least_wall_mm });
            }
        }
        Ok(())
    }

    /// How far a slot's corners are from the axis; 0 for what is no slot.
    fn corner_mm(&self) -> f64 {
        if let Form::Slot { width_mm, floor_mm } = self.relief.form { floor_mm.hypot(0.5 * width_mm) } else { 0.0 }
    }

    /// Whether it is plane.
    pub fn is_flat(&self) -> bool {
        matches!(self.relief.form, Form::Flats { .. })
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
                let lean = self.lean_rad(z_mm);
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
                let half = self.flute_half_rad(radius_mm, depth_mm, self.widest_mm).min(0.5 * part);
                let steps = (half / (chord_mm / radius_mm).min(0.5).sqrt() * self.widest_mm / radius_mm).ceil().clamp(4.0, 64.0) as i32;
                let within = (-steps..=steps).map(|i| half * f64::from(i) / f64::from(steps));
                // Where a line from the axis only touches the round, the surface steps there.
                let beyond = [-half - STEP_RAD, half + STEP_RAD].into_iter().filter(|_| half + STEP_RAD < 0.5 * part);
                within.chain(beyond).collect()
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

    /// Radii of a piece where a flat's edge on it wants a corner: even steps across the flat, as many as keep the edge (a hyperbola on a cone) within the chord. None on cylinders
    /// and faces, where the edge is straight.
    pub fn radii_mm(&self, piece: &Piece, chord_mm: f64) -> Vec<f64> {
        let Form::Flats { from_axis_mm: f, .. } = self.relief.form else { return Vec::new() };
        let reach = path::extremes(piece).into_iter().map(|t| path::at(piece, t).r_mm);
        let (low, high) = reach.fold((f64::INFINITY, 0.0_f64), |(low, high), r| (low.min(r), high.max(r)));
        let along_mm = (path::end(piece).z_mm - path::start(piece).z_mm).abs();
        if high <= f || high - low < 1e-9 || along_mm <= path::NOTHING_MM {
            return Vec::new();
        }
        let across = |r: f64| (r * r - f * f).max(0.0).sqrt();
        let (from, to) = (across(low), across(high));
        let steep = (along_mm / (high - low)).clamp(1.0, 100.0);
        let steps = ((to - from) * (steep / (8.0 * chord_mm * f)).sqrt()).ceil().clamp(1.0, 256.0) as u32;
        (0..=steps).map(|i| f.hypot(from + (to - from) * f64::from(i) / f64::from(steps))).collect()
    }

    /// Half the angle of a flute on a circle of `base_mm`: to where its round meets the circle, or where a line from the axis touches the round if that is within the circle.
    fn flute_half_rad(&self, radius_mm: f64, depth_mm: f64, base_mm: f64) -> f64 {
        let centre = self.widest_mm - depth_mm + radius_mm;
        if base_mm <= centre - radius_mm {
            return 0.0;
        }
        if centre * centre - radius_mm * radius_mm < base_mm * base_mm {
            return (radius_mm / centre).asin();
        }
        ((centre * centre + base_mm * base_mm - radius_mm * radius_mm) / (2.0 * centre * base_mm)).clamp(-1.0, 1.0).acos()
    }

    /// Angles at which the section bends or steps, on a circle of `base_mm`; radians, any turn.
    pub fn bends(&self, z_mm: f64, base_mm: f64) -> Vec<f64> {
        let part = TAU / f64::from(self.count);
        let (own, lean): (Vec<f64>, f64) = match self.relief.form {
            Form::Flats { from_axis_mm, .. } if from_axis_mm >= base_mm => (Vec::new(), 0.0),
            Form::Flats { from_axis_mm, .. } => {
                let half = (from_axis_mm / base_mm).acos().min(0.5 * part);
                (vec![-half, half], 0.0)
            }
            Form::Flutes { radius_mm, depth_mm, .. } => {
                let half = self.flute_half_rad(radius_mm, depth_mm, base_mm).min(0.5 * part);
                (vec![-half, half], 0.0)
            }
            Form::Knurl { pattern: Knurl::Straight, .. } => (vec![0.0, 0.5 * part], 0.0),
            Form::Knurl { pattern: Knurl::Diamond, .. } => {
                let lean = self.lean_rad(z_mm);
                (vec![-lean, lean, 0.5 * part - lean, 0.5 * part + lean, 0.0, 0.5 * part], 0.0)
            }
            Form::Slot { width_mm, floor_mm } => {
                let (foot, rim) = ((0.5 * width_mm / floor_mm).atan(), (0.5 * width_mm / base_mm).min(1.0).asin());
                (vec![-rim, -foot, foot, rim], 0.0)
            }
            Form::Thread { pitch_mm, crest_mm, flats: [crest, root] } => {
                let run = 0.5 - 0.5 * root - 0.5 * crest;
                let clipped = 0.5 * crest + run * ((base_mm - crest_mm) / (self.widest_mm - crest_mm)).clamp(0.0, 1.0);
                let turns = [0.5 * crest, 0.5 - 0.5 * root, clipped];
                (turns.iter().flat_map(|u| [-TAU * u, TAU * u]).collect(), TAU * z_mm / pitch_mm)
            }
        };
        (0..self.count).flat_map(|member| own.iter().map(move |off| f64::from(member) * part + off + lean)).collect()
    }

    /// How far the crossed grooves of a diamond knurl have turned at a height.
    fn lean_rad(&self, z_mm: f64) -> f64 {
        (z_mm - self.relief.z_mm[0]) * 30f64.to_radians().tan() / self.widest_mm
    }

    /// Area of the section at a height within a surface that was a circle of `base_mm`; closed forms all.
    pub fn section_mm2(&self, z_mm: f64, base_mm: f64) -> f64 {
        let (b, count) = (base_mm, f64::from(self.count));
        let circle = PI * b * b;
        match self.relief.form {
            // A sector less its triangle.
            Form::Flats { from_axis_mm: f, .. } => {
                let half = (f / b).min(1.0).acos().min(PI / count);
                circle - count * (b * b * half - f.min(b).powi(2) * half.tan())
            }
            // By Green's theorem along the near side of the round, t counted about its middle.
            Form::Flutes { radius_mm, depth_mm, .. } => {
                let (r, c) = (radius_mm, self.widest_mm - depth_mm + radius_mm);
                let half = self.flute_half_rad(r, depth_mm, b).min(PI / count);
                let t = (c * half.sin() / r).min(1.0).asin() - half;
                circle - count * (b * b * half - (c * r * t.sin() - r * r * t))
            }
            Form::Knurl { depth_mm, pattern, .. } => {
                let (mean, mean_square) = match pattern {
                    // Shares of the depth are even from 0 to 1.
                    Knurl::Straight => (0.5, 1.0 / 3.0),
                    // Teeth stand at two gaps, d and 1 - d of a part; within a gap g the share falls from 1 to 1 - g and rises again.
                    Knurl::Diamond => {
                        let d = (2.0 * self.lean_rad(z_mm) * count / TAU).rem_euclid(1.0);
                        let e = 1.0 - d;
                        (1.0 - 0.5 * (d * d + e * e), (2.0 - d.powi(3) - e.powi(3)) / 3.0)
                    }
                };
                let depth_mm = knurled_mm(depth_mm, b);
                circle - TAU * (b * depth_mm * mean - 0.5 * depth_mm * depth_mm * mean_square)
            }
            // A rectangle less what of it lay in the circle already.
            Form::Slot { width_mm: w, floor_mm: f } => {
                let half = 0.5 * w;
                let inside = if b > half { half * (b * b - half * half).sqrt() + b * b * (half / b).asin() } else { 0.5 * circle };
                circle + (w * f - inside).max(0.0)
            }
            // Round the axis it passes its whole profile once: crest, flank up to the circle, the circle itself.
            Form::Thread { crest_mm, flats: [crest, root], .. } => {
                let (r0, r1) = (crest_mm.min(b), self.widest_mm.min(b));
                let flanks = (1.0 - crest - root) * if self.widest_mm > crest_mm { (r1 - r0) / (self.widest_mm - crest_mm) } else { 0.0 };
                PI * (crest * r0 * r0 + flanks * (r0 * r0 + r0 * r1 + r1 * r1) / 3.0 + (1.0 - crest - flanks) * r1 * r1)
            }
        }
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
