//! Threads in bores: the tables of `sizes` and the ISO fine series, and the form that is cut.

use crate::SolidError;
use sizes::tables::{self, Form as Profile};

const FINE: &str = include_str!("../data/threads_iso_fine.csv");

/// A screw thread as a nut has it.
#[derive(Clone, Debug, PartialEq)]
pub struct Thread {
    /// "M6", "M8x1", "1/4-20 UNC", "2BA", "1/4 BSW".
    pub name: String,
    /// Outside diameter of the screw.
    pub major_mm: f64,
    /// Pitch.
    pub pitch_mm: f64,
    /// Effective (pitch) diameter.
    pub effective_mm: f64,
    /// Basic minor diameter of the nut.
    pub minor_mm: f64,
    /// The usual tap drill.
    pub tap_drill_mm: f64,
    /// Angle between the flanks, degrees.
    pub angle_deg: f64,
}

impl Thread {
    /// A thread by the name people use. Coarse metric M1.6 to M20, the ISO 262 fine series, UNC and UNF #4 to 1/2, BA 0 to 12, BSW and BSF 1/16 to 1/2.
    ///
    /// # Errors
    /// [`SolidError::NoSuchThread`] with near ones.
    pub fn named(name: &str) -> Result<Thread, SolidError> {
        if let Some(found) = tables::thread(name) {
            return Ok(Thread::listed(found));
        }
        let wanted = plain(name);
        let own = |(own, ..): &(&str, f64, f64)| plain(own) == wanted;
        match fine().find(own) {
            Some((own, major_mm, pitch_mm)) => Ok(Thread {
                name: own.into(),
                major_mm,
                pitch_mm,
                effective_mm: major_mm - 0.649_519 * pitch_mm,
                minor_mm: major_mm - 1.082_532 * pitch_mm,
                tap_drill_mm: major_mm - pitch_mm,
                angle_deg: Profile::Iso.angle_deg(),
            }),
            None => Err(SolidError::NoSuchThread { name: name.chars().take(40).collect(), near: near(&wanted) }),
        }
    }

    fn listed(found: &tables::Thread) -> Thread {
        Thread {
            name: found.name.into(),
            major_mm: found.major_mm,
            pitch_mm: found.pitch_mm,
            effective_mm: found.effective_mm,
            minor_mm: found.minor_mm,
            tap_drill_mm: found.tap_drill_mm,
            angle_deg: found.form.angle_deg(),
        }
    }

    /// Share of the full depth of thread that a hole leaves, 0..1: (d - hole) / (d - D1). 0.75 is usual; under 0.5 strips in plastic (common practice).
    pub fn engagement(&self, hole_mm: f64) -> f64 {
        ((self.major_mm - hole_mm) / (self.major_mm - self.minor_mm)).clamp(0.0, 1.0)
    }

    /// Shares of the pitch that are flat at the crest of the nut's thread (its minor diameter) and at its root (its major diameter). For ISO and Unified
    /// 1/4 and 1/8 (ISO 68-1); rounded forms are drawn with flats of equal length where their rounds are.
    pub fn flats(&self) -> [f64; 2] {
        let depth_mm = 0.5 * (self.major_mm - self.minor_mm);
        let flanks = 2.0 * depth_mm * (0.5 * self.angle_deg).to_radians().tan() / self.pitch_mm;
        let left = (1.0 - flanks).max(0.0);
        if self.angle_deg == 60.0 { [left * 2.0 / 3.0, left / 3.0] } else { [0.5 * left, 0.5 * left] }
    }
}

/// Rows of the fine series: name, outside diameter, pitch.
fn fine() -> impl Iterator<Item = (&'static str, f64, f64)> {
    FINE.lines().filter(|line| !line.starts_with('#')).skip(1).filter_map(|line| {
        let mut cells = line.split(',');
        Some((cells.next()?, cells.next()?.parse().ok()?, cells.next()?.parse().ok()?))
    })
}

/// Threads that begin alike: of the same letter and outside diameter where that can be read, else a few of each kind.
fn near(wanted: &str) -> String {
    let head: String = wanted.chars().take_while(|c| *c != 'X' && *c != '-').collect();
    let all = tables::threads().iter().map(|thread| thread.name).chain(fine().map(|(name, ..)| name));
    let alike: Vec<&str> = all.filter(|name| head.len() > 1 && plain(name).starts_with(&head)).take(8).collect();
    if alike.is_empty() { "M3, M6, M8x1, 1/4-20 UNC, 10-32 UNF, 2BA, 1/4 BSW".into() } else { alike.join(", ") }
}

fn plain(name: &str) -> String {
    name.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_uppercase().replace('\u{d7}', "X")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every row of the trade tables is found by its name and keeps its numbers; every fine one follows ISO 724.
    #[test]
    fn every_row_is_found_by_its_name() {
        for listed in tables::threads() {
            let found = Thread::named(listed.name).expect("listed");
            assert_eq!((found.major_mm, found.minor_mm, found.tap_drill_mm), (listed.major_mm, listed.minor_mm, listed.tap_drill_mm));
        }
        assert_eq!(fine().count(), 27);
        for (name, major, pitch) in fine() {
            let found = Thread::named(&name.to_lowercase()).expect("listed");
            assert!((found.minor_mm - (major - 1.082_532 * pitch)).abs() < 1e-12 && found.tap_drill_mm > found.minor_mm, "{name}");
            // 60 degrees: flats of 1/4 and 1/8 of the pitch (ISO 68-1).
            let [crest, root] = found.flats();
            assert!((crest - 0.25).abs() < 1e-5 && (root - 0.125).abs() < 1e-5, "{name}: {crest} {root}");
        }
    }

    #[test]
    fn an_unknown_thread_is_told_with_near_ones() {
        let Err(SolidError::NoSuchThread { near, .. }) = Thread::named("M8x1.1") else { panic!("found one") };
        assert!(near.contains("M8x1"), "{near}");
        assert!(Thread::named("").is_err() && Thread::named("\u{1f600}").is_err());
    }

    /// M6: 5 mm drill leaves (6 - 5) / 1.0825 = 92 % (the table says 92.4).
    #[test]
    fn engagement_by_hand() {
        let m6 = Thread::named("M6").expect("listed");
        assert!((m6.engagement(5.0) - 0.924).abs() < 1e-3 && m6.engagement(7.0) == 0.0);
    }
}
