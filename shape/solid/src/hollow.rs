use crate::bore::{self, Bore, Bored};
use crate::path::{self, NOTHING_MM, point};
use crate::wall;
use crate::{BoreEnd, SolidError};
use meridian::Piece;

/// A hollow open at the rod end, round a boss that carries the bore: less material, even walls, nothing trapped inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hollow {
    /// Least wall to the outside, and of the boss round the bore.
    pub wall_mm: f64,
    /// How deep it goes from z = 0.
    pub depth_mm: f64,
}

/// Cuts the widest straight-walled hollow that keeps the wall. With a blind bore a boss stays round it; without a bore it is a plain cup.
pub(crate) fn cut(outside: &[Piece], bore: Option<&Bore>, hollow: Hollow) -> Result<Bored, SolidError> {
    for (what, found) in [("the hollow's wall", hollow.wall_mm), ("the hollow's depth", hollow.depth_mm)] {
        if !(found.is_finite() && found > 10.0 * NOTHING_MM) {
            return Err(SolidError::NotASize { what: what.into(), found });
        }
    }
    let inner = bore.map(|bore| bore::cut(outside, bore)).transpose()?;
    if let Some(Bore { end: BoreEnd::Through { .. }, .. }) = bore {
        return Err(SolidError::NotASize {
            what: "the number of through bores in a hollow part (a blind bore or none is expected)".into(),
            found: 1.0,
        });
    }
    // The boss stands round the bore's mouth.
    let boss_mm = inner.as_ref().and_then(|bored| bored.inner.last()).map_or(0.0, |last| path::end(last).r_mm + hollow.wall_mm);
    let widest_mm = outside.iter().map(|piece| path::start(piece).r_mm).fold(0.0, f64::max);
    let fits = |radius_mm: f64| {
        let cup = bore::cut(outside, &Bore::blind(2.0 * radius_mm, hollow.depth_mm)).ok()?;
        wall::check_inside(&cup.inner, &cup.outer, outside).ok()?;
        let thin = wall::thinnest(&cup.inner, &cup.outer, false).is_some_and(|wall| wall.thickness_mm < hollow.wall_mm - 1e-6);
        (!thin).then_some(cup)
    };
    // Halving: the wall shrinks as the hollow widens. 24 halvings come to a micrometre on a part of 10 m; the size is then rounded down to tenths of that.
    let (mut low, mut high) = (boss_mm, widest_mm);
    for _ in 0..24 {
        let middle = 0.5 * (low + high);
        if fits(middle).is_some() { low = middle } else { high = middle }
    }
    let low = (0.5 * (low + high) * 1e4 + 0.01).floor() / 1e4;
    let best = fits(low);
    // A gap of half a millimetre round the boss is the least that prints and cleans (hole of 0.5 mm in `printing_rules` of the trade tables).
    match best {
        Some(cup) if low >= boss_mm + 0.5 => Ok(with_boss(cup, inner, boss_mm)),
        _ => Err(SolidError::HollowTooTight { wall_mm: hollow.wall_mm, boss_mm: 2.0 * boss_mm, left_mm: 2.0 * low }),
    }
}

/// The bore's wall, the boss's face and side, then the cup's bottom and wall.
fn with_boss(cup: Bored, inner: Option<Bored>, boss_mm: f64) -> Bored {
    let Some(bored) = inner else { return cup };
    let (Some(mouth), Some(bottom)) = (bored.inner.last().map(path::end), cup.inner.first().map(path::start)) else { return cup };
    let (rim, foot) = (point(mouth.z_mm, boss_mm), point(bottom.z_mm, boss_mm));
    let (own, mut chain) = (bored.inner.len(), bored.inner);
    chain.extend([Piece::Line { from: mouth, to: rim }, Piece::Line { from: rim, to: foot }]);
    chain.extend(cup.inner.iter().enumerate().map(|(index, piece)| if index == 0 { path::with_start(piece, foot) } else { *piece }));
    Bored { inner: chain, own, outer: cup.outer, through: false }
}
