use crate::SolidError;
use crate::bore::{self, Bore};
use crate::cut_volume;
use crate::hole::{self, CrossHole, Crossing};
use crate::hollow::{self, Hollow};
use crate::mark::{Mark, MarkPlace};
use crate::measure::{self, Swept};
use crate::path::{self, NOTHING_MM};
use crate::relief::{Fitted, Form, Relief, Surface};
use crate::wall::{self, Wall};
use meridian::{Meridian, Piece};
use quantity::{Note, Noted};

/// What is done to the plain turned shape.
#[derive(Clone, Debug, PartialEq)]
pub enum Feature {
    /// A hole on the axis from the rod end. One at most.
    Bore(Bore),
    /// A hollow open at the rod end. One at most.
    Hollow(Hollow),
    /// Flats, flutes, a knurl, a slot or a thread.
    Relief(Relief),
    /// A hole across.
    CrossHole(CrossHole),
    /// Letters cut into an end face.
    Mark(Mark),
}

/// How thin a wall may be, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Thinner is refused.
    pub least_wall_mm: f64,
    /// Thinner gets a note.
    pub advised_wall_mm: f64,
}

impl Default for Limits {
    /// Supported walls in resin prints: 0.4 mm at least, 1.0 mm advised (service-bureau guides, in `printing_rules` of the trade tables).
    fn default() -> Limits {
        Limits { least_wall_mm: 0.4, advised_wall_mm: 1.0 }
    }
}

/// A turned solid: one chain in the half plane, turned about the axis. The material lies on the right of the chain's travel.
///
/// Without a through bore the chain runs from the axis to the axis; with one it closes on itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    inner: Vec<Piece>,
    /// How many of the inner pieces are the bore's own; a hollow's follow.
    bore_pieces: usize,
    outer: Vec<Piece>,
    through: bool,
    features: Vec<Feature>,
    wall: Option<Wall>,
    reliefs: Vec<Fitted>,
    crossings: Vec<Crossing>,
    marks: Vec<Mark>,
}

/// Reliefs, cross holes and marks at most, each.
const MOST_CUTS: usize = 64;

impl Body {
    /// The body of a meridian and what is done to it. Notes name the thinnest wall where it is below what is advised.
    pub fn new(meridian: &Meridian, features: &[Feature], limits: Limits) -> Result<Noted<Body>, SolidError> {
        Body::from_pieces(meridian.pieces(), features, limits)
    }

    /// The same from bare pieces that run from the axis to the axis.
    pub fn from_pieces(pieces: &[Piece], features: &[Feature], limits: Limits) -> Result<Noted<Body>, SolidError> {
        let outside = checked(pieces)?;
        let mut body = Body {
            inner: Vec::new(),
            bore_pieces: 0,
            outer: outside.clone(),
            through: false,
            features: features.to_vec(),
            wall: None,
            reliefs: Vec::new(),
            crossings: Vec::new(),
            marks: Vec::new(),
        };
        let bores: Vec<&Bore> =
            features.iter().filter_map(|feature| if let Feature::Bore(bore) = feature { Some(bore) } else { None }).collect();
        let hollows: Vec<Hollow> =
            features.iter().filter_map(|feature| if let Feature::Hollow(hollow) = feature { Some(*hollow) } else { None }).collect();
        for (what, found) in
            [("the number of bores (one stepped bore takes their place)", bores.len()), ("the number of hollows", hollows.len())]
        {
            if found > 1 {
                return Err(SolidError::NotASize { what: what.into(), found: found as f64 });
            }
        }
        let bored = match (hollows.first(), bores.first()) {
            (Some(&hollow), bore) => Some(hollow::cut(&outside, bore.copied(), hollow)?),
            (None, Some(bore)) => Some(bore::cut(&outside, bore)?),
            (None, None) => None,
        };
        if let Some(bored) = bored {
            wall::check_inside(&bored.inner, &bored.outer, &outside)?;
            body.wall = wall::thinnest(&bored.inner, &bored.outer, bored.through);
            (body.inner, body.bore_pieces, body.outer, body.through) = (bored.inner, bored.own, bored.outer, bored.through);
        }
        body.cut(features, limits.least_wall_mm)?;
        let notes = body.wall_notes(limits)?;
        Ok(Noted { value: body, notes })
    }

    /// The same body with one more relief, cross hole or mark; what was cut before is checked again against it.
    ///
    /// # Errors
    /// As [`Body::new`]; a bore or a hollow belongs to the turned shape and must be there from the start.
    pub fn with(&self, feature: Feature, limits: Limits) -> Result<Body, SolidError> {
        if matches!(feature, Feature::Bore(_) | Feature::Hollow(_)) {
            return Err(SolidError::NotASize { what: "the number of bores and hollows added to a finished body".into(), found: 1.0 });
        }
        if self.reliefs.len().max(self.crossings.len()) >= MOST_CUTS {
            return Err(SolidError::NotASize { what: "the number of reliefs or cross holes".into(), found: MOST_CUTS as f64 + 1.0 });
        }
        let mut body = self.clone();
        body.cut(std::slice::from_ref(&feature), limits.least_wall_mm)?;
        if matches!(feature, Feature::Relief(_)) {
            body.crossings = body.crossings.iter().map(|crossing| Crossing::new(&body, crossing.hole)).collect::<Result<_, _>>()?;
        }
        if !matches!(feature, Feature::Mark(_)) {
            for mark in &body.marks {
                mark.check(&body, limits.least_wall_mm)?;
            }
        }
        body.features.push(feature);
        Ok(body)
    }

    /// What is cut that is not turned: reliefs, then holes across them, then marks.
    fn cut(&mut self, features: &[Feature], least_wall_mm: f64) -> Result<(), SolidError> {
        let count = |what: fn(&Feature) -> bool| features.iter().filter(|feature| what(feature)).count();
        let counts = [
            ("the number of reliefs", count(|feature| matches!(feature, Feature::Relief(_))), MOST_CUTS),
            ("the number of cross holes", count(|feature| matches!(feature, Feature::CrossHole(_))), MOST_CUTS),
            ("the number of marks (one an end)", count(|feature| matches!(feature, Feature::Mark(_))), 2),
        ];
        if let Some((what, found, _)) = counts.into_iter().find(|(_, found, most)| found > most) {
            return Err(SolidError::NotASize { what: what.into(), found: found as f64 });
        }
        for feature in features {
            if let Feature::Relief(relief) = feature {
                self.reliefs.push(Fitted::new(self, relief, least_wall_mm)?);
            }
        }
        for feature in features {
            if let Feature::CrossHole(hole) = feature {
                let crossing = Crossing::new(self, *hole)?;
                if let Some(other) = self.crossings.iter().map(|other| other.hole).find(|other| other.meets(hole)) {
                    return Err(other.refused("another hole meets it; space them wider"));
                }
                self.crossings.push(crossing);
            }
        }
        for feature in features {
            if let Feature::Mark(mark) = feature {
                mark.check(self, least_wall_mm)?;
                if self.marks.iter().any(|other| other.on == mark.on) {
                    return Err(SolidError::Mark { why: "another mark is on the same face; put both lines into one".into() });
                }
                self.marks.push(mark.clone());
            }
        }
        Ok(())
    }

    /// Where the face of an end is flat: its height, and the radii from where to where. `None` where it is not square to the axis.
    pub fn end_face(&self, on: MarkPlace) -> Option<(f64, f64, f64)> {
        let piece = if on == MarkPlace::RodEnd { self.outer.first() } else { self.outer.last() }?;
        let (from, to) = (path::start(piece), path::end(piece));
        if !path::is_line(piece) || (from.z_mm - to.z_mm).abs() > NOTHING_MM {
            return None;
        }
        let slot = |fitted: &Fitted| match fitted.relief.form {
            Form::Slot { width_mm, floor_mm } if (fitted.relief.z_mm[0]..=fitted.relief.z_mm[1]).contains(&from.z_mm) => {
                floor_mm.hypot(0.5 * width_mm)
            }
            _ => 0.0,
        };
        let inner_mm = self.reliefs.iter().map(slot).fold(from.r_mm.min(to.r_mm), f64::max);
        let outer = from.r_mm.max(to.r_mm);
        let looks = (0..720).map(|i| f64::from(i) * std::f64::consts::TAU / 720.0);
        let outer_mm = looks.map(|angle| self.relieved_radius_mm(Surface::Outside, angle, from.z_mm, outer)).fold(outer, f64::min);
        Some((from.z_mm, inner_mm, outer_mm))
    }

    /// Radius of a surface at an angle, its reliefs taken in.
    pub(crate) fn relieved_radius_mm(&self, on: Surface, angle_rad: f64, z_mm: f64, base_mm: f64) -> f64 {
        hole::relieved(&self.reliefs, on, angle_rad, z_mm, base_mm)
    }

    fn wall_notes(&self, limits: Limits) -> Result<Vec<Note>, SolidError> {
        let Some(wall) = self.wall.filter(|wall| wall.thickness_mm < limits.advised_wall_mm) else { return Ok(Vec::new()) };
        if wall.thickness_mm < limits.least_wall_mm {
            return Err(SolidError::WallTooThin { wall_mm: wall.thickness_mm, z_mm: wall.inside.z_mm, least_mm: limits.least_wall_mm });
        }
        Ok(vec![Note::new(
            format!(
                "The wall between bore and outside is only {:.2} mm at z = {:.2} mm; {:.1} mm is advised.",
                wall.thickness_mm, wall.inside.z_mm, limits.advised_wall_mm
            ),
            "Make the bore narrower or shallower, or choose a tougher material.",
        )])
    }

    /// The whole boundary: the bore's wall from its inner end to the mouth, then the outside to the free end.
    pub fn boundary(&self) -> Vec<Piece> {
        self.inner.iter().chain(&self.outer).copied().collect()
    }

    /// The bore's wall, from its inner end (or the free end) to the mouth. Empty without a bore.
    pub fn inner(&self) -> &[Piece] {
        &self.inner
    }

    /// The boundary by what it is a surface of, in the order of [`Body::boundary`].
    pub fn surfaces(&self) -> [(Surface, &[Piece]); 3] {
        let (bore, hollow) = self.inner.split_at(self.bore_pieces.min(self.inner.len()));
        [(Surface::Bore, bore), (Surface::Hollow, hollow), (Surface::Outside, &self.outer)]
    }

    /// The outside, from the mouth (or the axis) at the rod end to the free end.
    pub fn outer(&self) -> &[Piece] {
        &self.outer
    }

    /// Whether a hole runs from end to end, so that the boundary closes on itself.
    pub fn is_through(&self) -> bool {
        self.through
    }

    /// What was done to the plain shape.
    pub fn features(&self) -> &[Feature] {
        &self.features
    }

    /// The thinnest wall between bore and outside; `None` without a bore.
    pub fn wall(&self) -> Option<Wall> {
        self.wall
    }

    /// Volume, all cuts taken out: closed forms for what is turned, adaptive quadrature to 1e-8 of the body for what is cut into it; where cuts meet, what both take counts once.
    pub fn volume_mm3(&self) -> f64 {
        let plain = self.swept().volume_mm3;
        let holes: f64 = self.crossings.iter().map(|crossing| cut_volume::crossing_mm3(self, crossing, plain)).sum();
        let marks: f64 = self.marks.iter().map(|mark| mark.area_mm2() * mark.depth_mm).sum();
        plain + cut_volume::reliefs_mm3(self, plain) - holes - marks
    }

    /// Whether the body is nothing but turned: then the exact files hold all of it.
    pub fn is_plain(&self) -> bool {
        self.reliefs.is_empty() && self.crossings.is_empty() && self.marks.is_empty()
    }

    /// The turned shape alone, nothing cut into it.
    pub fn turned(&self) -> Body {
        let turned = |feature: &&Feature| matches!(feature, Feature::Bore(_) | Feature::Hollow(_));
        let features = self.features.iter().filter(turned).cloned().collect();
        Body { features, reliefs: Vec::new(), crossings: Vec::new(), marks: Vec::new(), ..self.clone() }
    }

    /// The reliefs cut into it, first end first.
    pub fn cut_reliefs(&self) -> impl Iterator<Item = &Relief> {
        self.reliefs.iter().map(|fitted| &fitted.relief)
    }

    /// The holes across it.
    pub fn cross_holes(&self) -> impl Iterator<Item = CrossHole> {
        self.crossings.iter().map(|crossing| crossing.hole)
    }

    pub(crate) fn crossings(&self) -> &[Crossing] {
        &self.crossings
    }

    pub(crate) fn marks(&self) -> &[Mark] {
        &self.marks
    }

    pub(crate) fn reliefs(&self) -> &[Fitted] {
        &self.reliefs
    }

    /// Area of the whole surface, bore and end faces included; of the plain turned shape.
    pub fn area_mm2(&self) -> f64 {
        self.swept().area_mm2
    }

    /// Where on the axis the plain turned shape balances.
    pub fn centre_of_mass_z_mm(&self) -> f64 {
        let swept = self.swept();
        swept.moment_mm4 / swept.volume_mm3
    }

    fn swept(&self) -> Swept {
        measure::swept(&self.boundary())
    }

    /// Least and greatest x, y, z; z along the axis. Exact for lines and arcs, to 1e-6 mm for curves.
    pub fn bounds_mm(&self) -> [[f64; 3]; 2] {
        let (mut low, mut high, mut radius) = (f64::INFINITY, f64::NEG_INFINITY, 0.0_f64);
        for piece in self.inner.iter().chain(&self.outer) {
            for t in path::extremes(piece) {
                let place = path::at(piece, t);
                (low, high, radius) = (low.min(place.z_mm), high.max(place.z_mm), radius.max(place.r_mm));
            }
        }
        [[-radius, -radius, low], [radius, radius, high]]
    }

    /// Greatest distance of the outside from the axis at `z_mm`; `None` beyond the ends. Good to 1e-9 mm on lines and arcs.
    pub fn outer_radius_mm(&self, z_mm: f64) -> Option<f64> {
        path::greatest_radius_at(&self.outer, z_mm)
    }

    /// Greatest radius of the bore at `z_mm`; `None` where there is no bore.
    pub fn bore_radius_mm(&self, z_mm: f64) -> Option<f64> {
        path::greatest_radius_at(&self.inner, z_mm)
    }

    /// The body `factor` times as large, e.g. a master that shrinks to size: factor 1/(1 - s) for linear shrinkage s.
    pub fn scaled(&self, factor: f64) -> Result<Body, SolidError> {
        if !(factor.is_finite() && (1e-3..=1e3).contains(&factor)) {
            return Err(SolidError::NotASize { what: "the scale (0.001 to 1000)".into(), found: factor });
        }
        let grow = |pieces: &[Piece]| pieces.iter().map(|piece| path::scaled(piece, factor)).collect::<Vec<_>>();
        let (inner, outer) = (grow(&self.inner), grow(&self.outer));
        let wall = wall::thinnest(&inner, &outer, self.through);
        let reliefs = self.reliefs.iter().map(|fitted| fitted.scaled(factor)).collect();
        let crossings = self.crossings.iter().map(|crossing| crossing.scaled(factor)).collect();
        let marks = self.marks.iter().map(|mark| mark.scaled(factor)).collect();
        Ok(Body {
            inner,
            bore_pieces: self.bore_pieces,
            outer,
            through: self.through,
            features: self.features.clone(),
            wall,
            reliefs,
            crossings,
            marks,
        })
    }
}

/// Finite, joined, from the axis to the axis, nowhere below it; pieces without length left out.
fn checked(pieces: &[Piece]) -> Result<Vec<Piece>, SolidError> {
    let bad = |what: &str| Err(SolidError::BadMeridian { what: what.into() });
    if pieces.len() > 10_000 {
        return bad("it has more than 10,000 pieces");
    }
    let kept: Vec<Piece> = pieces
        .iter()
        .copied()
        .filter(|piece| path::distance(path::start(piece), path::end(piece)) > NOTHING_MM || !path::is_line(piece))
        .collect();
    let (Some(first), Some(last)) = (kept.first(), kept.last()) else { return bad("it is empty") };
    if !kept.iter().flat_map(path::points).all(|p| p.z_mm.is_finite() && p.r_mm.is_finite() && p.z_mm.abs() < 1e5 && p.r_mm.abs() < 1e9) {
        return bad("a point is not finite or farther than 100 m");
    }
    if path::start(first).r_mm.abs() > 1e-6 || path::end(last).r_mm.abs() > 1e-6 {
        return bad("it does not start and end on the axis");
    }
    // A meridian's pieces join to 1e-6 mm; here they are made to join exactly.
    let joined: Option<Vec<Piece>> = (0..kept.len())
        .map(|index| {
            let from = if index == 0 { path::start(first) } else { path::end(&kept[index - 1]) };
            (path::distance(from, path::start(&kept[index])) <= 1e-6).then(|| path::with_start(&kept[index], from))
        })
        .collect();
    let Some(kept) = joined else { return bad("two pieces do not meet") };
    let joints_touch = kept.iter().skip(1).any(|piece| path::start(piece).r_mm <= NOTHING_MM);
    let below = kept.iter().any(|piece| (1..16).any(|i| path::at(piece, f64::from(i) / 16.0).r_mm <= 0.0));
    if joints_touch || below {
        return bad("it touches or crosses the axis between its ends");
    }
    if measure::swept(&kept).volume_mm3 <= 0.0 {
        return bad("it encloses no material; it must run from the rod end over the outside to the free end");
    }
    Ok(kept)
}
