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
                format!("{count} flat{}, {from_axis_mm} mm from the axis", if count == 1 { "" } else { "s" })
            }
            Form::Flutes { count, radius_mm, depth_mm } => format!("{count} flutes, radius {radius_mm} mm, {depth_mm} mm deep"),
            Form::Knurl { pitch_mm, depth_mm, pattern } => {
                let pattern = if pattern == Knurl::Straight { "Straight" } else { "Diamond" };
                format!("{pattern} knurl, pitch {pitch_mm} mm, {depth_mm} mm deep")
            }
        };
        let place = if self.on == Surface::Bore { " in the bore" } else { "" };
        format!("{form}{place}, from {first} to {last} mm")
    }
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
        let radius_at = |z: f64| if relief.on == Surface::Outside { body.outer_radius_mm(z) } else { body.bore_radius_mm(z) };
        let looks: Vec<f64> = (0..=200).map(|i| first + (last - first) * (1e-6 + (1.0 - 2e-6) * f64::from(i) / 200.0)).collect();
        let widest_mm = looks.iter().filter_map(|&z| radius_at(z)).fold(0.0, f64::max);
        let count = relief.form.count_round(widest_mm);
        let fitted = Fitted { relief, widest_mm, count };
        let deepest = fitted.deepest_mm();
        if widest_mm <= 0.0 || count == 0 || count > MOST_ROUND || !deepest.is_finite() || deepest <= 0.0 || deepest >= widest_mm - 1e-6 {
            return bad("what a relief leaves between the axis and its surface (more than 0, less than the surface's radius)", deepest);
        }
        let form = fitted.relief.form;
        if matches!(form, Form::Flutes { .. } | Form::Knurl { .. }) && fitted.relief.on == Surface::Bore {
            return bad("the number of flutes or knurls in a bore (only flats are made there)", f64::from(count));
        }
        if fitted.relief.on == Surface::Outside {
            for &z in &looks {
                let wall_mm = deepest - body.bore_radius_mm(z).unwrap_or(0.0);
                if wall_mm < least_wall_mm {
                    return Err(SolidError::WallTooThin { wall_mm, z_mm: z, least_mm: least_wall_mm });
                }
            }
        }
        Ok(fitted)
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
        };
        let z_mm = self.relief.z_mm.map(|z| z * factor);
        Fitted { relief: Relief { on: self.relief.on, z_mm, form }, widest_mm: self.widest_mm * factor, count: self.count }
    }

    /// Radius left at an angle, of a surface that was `base_mm` there.
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
            Form::Knurl { depth_mm, pattern: Knurl::Straight, .. } => base_mm - depth_mm * tooth(off / part),
            Form::Knurl { depth_mm, pattern: Knurl::Diamond, .. } => {
                let lean = (z_mm - self.relief.z_mm[0]) * 30f64.to_radians().tan() / self.widest_mm;
                base_mm - depth_mm * tooth((angle_rad + lean) / part).max(tooth((angle_rad - lean) / part))
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
        };
        (0..self.count).flat_map(|member| offsets.iter().map(move |off| (f64::from(member) * part + off).rem_euclid(TAU))).collect()
    }

    /// Steps along the axis that the form itself needs, mm; infinite where its section stays the same.
    pub fn pitch_along_mm(&self) -> f64 {
        match self.relief.form {
            Form::Knurl { pattern: Knurl::Diamond, .. } => TAU / f64::from(self.count) * self.widest_mm / 30f64.to_radians().tan() / 8.0,
            _ => f64::INFINITY,
        }
    }

    /// Volume between the plain surface and the relief, mm^3, above 0. Flats and flutes by quadrature across (1,440 angles a member) and along;
    /// knurls by the mean of their teeth.
    pub fn volume_mm3(&self, chain: &[Piece]) -> f64 {
        let [first, last] = self.relief.z_mm;
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
            _ => f64::NAN,
        }
    }
}

impl Form {
    fn count_round(&self, widest_mm: f64) -> u32 {
        match *self {
            Form::Flats { count, .. } | Form::Flutes { count, .. } => count,
            Form::Knurl { pitch_mm, .. } => {
                let teeth = (TAU * widest_mm / pitch_mm).round();
                if (3.0..=f64::from(MOST_ROUND)).contains(&teeth) { teeth as u32 } else { 0 }
            }
        }
    }
}

/// Depth of a pointed groove, 1 at whole numbers, 0 half way between.
fn tooth(turns: f64) -> f64 {
    1.0 - 2.0 * (turns - turns.round()).abs()
}
