use super::Listed;
use super::csv::{number, rows};
use std::sync::OnceLock;

const ISO: &str = include_str!("../../data/threads_iso_coarse.csv");
const UNIFIED: &str = include_str!("../../data/threads_unified.csv");
const BA: &str = include_str!("../../data/threads_ba.csv");
const WHITWORTH: &str = include_str!("../../data/threads_bsw_bsf.csv");

/// Form of a thread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// ISO metric, 60 degrees.
    Iso,
    /// UNC and UNF, 60 degrees.
    Unified,
    /// British Association, 47.5 degrees.
    BritishAssociation,
    /// BSW and BSF, 55 degrees.
    Whitworth,
}

impl Form {
    /// Angle between the flanks, degrees.
    pub fn angle_deg(self) -> f64 {
        match self {
            Form::Iso | Form::Unified => 60.0,
            Form::BritishAssociation => 47.5,
            Form::Whitworth => 55.0,
        }
    }
}

/// A screw thread.
#[derive(Clone, Debug, PartialEq)]
pub struct Thread {
    /// "M6", "1/4-20 UNC", "2BA", "1/4 BSW".
    pub name: &'static str,
    /// Its form.
    pub form: Form,
    /// Outside diameter of the screw, mm.
    pub major_mm: f64,
    /// Pitch, mm.
    pub pitch_mm: f64,
    /// Effective (pitch) diameter, mm.
    pub effective_mm: f64,
    /// Basic minor diameter of the nut, mm.
    pub minor_mm: f64,
    /// Name of the usual tap drill.
    pub tap_drill: &'static str,
    /// Its diameter, mm.
    pub tap_drill_mm: f64,
}

/// All threads gathered: ISO coarse M1.6..M12, Unified #4..1/2, BA 0..12, BSW and BSF 1/16..1/2.
pub fn threads() -> &'static [Thread] {
    static TABLE: OnceLock<Vec<Thread>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let iso = rows(ISO).filter_map(|row| iso(&row));
        let unified = rows(UNIFIED).filter_map(|row| unified(&row));
        let ba = rows(BA).filter_map(|row| ba(&row));
        let whitworth = rows(WHITWORTH).filter_map(|row| whitworth(&row));
        iso.chain(unified).chain(ba).chain(whitworth).collect()
    })
}

/// A thread by its name; "M6x1" and "m6" are M6, "1/4-20" is its UNC or UNF, "4-40 UNC", "0 BA".
pub fn thread(name: &str) -> Option<&'static Thread> {
    let wanted = plain(name);
    let named = |thread: &&Thread| {
        let own = plain(thread.name);
        let with_pitch = format!("{own}X{}", thread.pitch_mm);
        own == wanted || (thread.form == Form::Iso && with_pitch == wanted) || own.trim_end_matches("UNC").trim_end_matches("UNF") == wanted
    };
    threads().iter().find(named)
}

/// Threads that pass for one another: same outside diameter within 0.35 mm and pitch within 0.2 mm, nearest first, with the number of
/// turns after which the pitches are a quarter apart (that many turns in, they begin to bind).
pub fn easily_mistaken(for_thread: &Thread) -> Vec<(&'static Thread, f64)> {
    let mut others: Vec<(&Thread, f64)> = threads()
        .iter()
        .filter(|other| other.name != for_thread.name)
        .filter(|other| (other.major_mm - for_thread.major_mm).abs() <= 0.35 && (other.pitch_mm - for_thread.pitch_mm).abs() <= 0.2)
        .map(|other| {
            let difference = (other.pitch_mm - for_thread.pitch_mm).abs();
            let mean = 0.5 * (other.pitch_mm + for_thread.pitch_mm);
            // Pitches are tabulated to 0.1 um: nearer ones are equal.
            (other, if difference < 2e-4 { f64::INFINITY } else { 0.25 * mean / difference })
        })
        .collect();
    let apart = |thread: &Thread| (thread.major_mm - for_thread.major_mm).hypot(thread.pitch_mm - for_thread.pitch_mm);
    others.sort_by(|a, b| apart(a.0).total_cmp(&apart(b.0)).then_with(|| a.0.name.cmp(b.0.name)));
    others
}

fn plain(name: &str) -> String {
    name.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_uppercase().replace('\u{d7}', "X")
}

fn iso(row: &[&'static str]) -> Option<Thread> {
    Some(Thread {
        name: row.first()?,
        form: Form::Iso,
        major_mm: number(row, 1)?,
        pitch_mm: number(row, 2)?,
        effective_mm: number(row, 3)?,
        minor_mm: number(row, 4)?,
        tap_drill: row.get(6)?,
        tap_drill_mm: number(row, 6)?,
    })
}

fn unified(row: &[&'static str]) -> Option<Thread> {
    let (major_in, per_inch) = (number(row, 1)?, number(row, 3)?);
    Some(Thread {
        name: row.first()?,
        form: Form::Unified,
        major_mm: major_in * 25.4,
        pitch_mm: 25.4 / per_inch,
        // ISO 724 and ASME B1.1: the basic pitch diameter lies 3/8 of the sharp height below the major.
        effective_mm: (major_in - 0.649519 / per_inch) * 25.4,
        minor_mm: (major_in - 1.082532 / per_inch) * 25.4,
        tap_drill: row.get(7)?,
        tap_drill_mm: number(row, 8)? * 25.4,
    })
}

fn ba(row: &[&'static str]) -> Option<Thread> {
    Some(Thread {
        name: row.first()?,
        form: Form::BritishAssociation,
        major_mm: number(row, 3)?,
        pitch_mm: number(row, 1)?,
        effective_mm: number(row, 6)?,
        minor_mm: number(row, 5)?,
        tap_drill: row.get(7)?,
        tap_drill_mm: number(row, 7)?,
    })
}

fn whitworth(row: &[&'static str]) -> Option<Thread> {
    let per_inch = number(row, 3)?;
    Some(Thread {
        name: row.first()?,
        form: Form::Whitworth,
        major_mm: number(row, 1)? * 25.4,
        pitch_mm: 25.4 / per_inch,
        effective_mm: number(row, 5)? * 25.4,
        minor_mm: number(row, 6)? * 25.4,
        tap_drill: row.get(8)?,
        tap_drill_mm: number(row, 8)?,
    })
}

pub(super) fn listed() -> impl Iterator<Item = Listed> {
    threads().iter().map(|thread| Listed { table: "threads", label: format!("{} thread", thread.name), mm: thread.major_mm })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every row of every form against the formula of its standard; the constants are those of ISO 68-1, BS 93 and BS 84.
    #[test]
    fn rows_follow_the_formulas_of_their_form() {
        assert_eq!(threads().len(), 11 + 22 + 13 + 19);
        for t in threads() {
            let (effective, minor) = match t.form {
                Form::Iso | Form::Unified => (t.major_mm - 0.649519 * t.pitch_mm, t.major_mm - 1.082532 * t.pitch_mm),
                Form::BritishAssociation => (t.major_mm - 0.6 * t.pitch_mm, t.major_mm - 1.2 * t.pitch_mm),
                Form::Whitworth => (t.major_mm - 0.640327 * t.pitch_mm, t.major_mm - 1.280654 * t.pitch_mm),
            };
            // Tables are rounded to 1 um or 0.0001 in, the Whitworth one errs by up to 0.0002 in (its head says so).
            let tolerance = if t.form == Form::Whitworth { 0.0055 } else { 0.0015 };
            assert!((t.effective_mm - effective).abs() < tolerance, "{}: effective {} against {effective}", t.name, t.effective_mm);
            assert!((t.minor_mm - minor).abs() < tolerance, "{}: minor {} against {minor}", t.name, t.minor_mm);
            assert!(t.tap_drill_mm > t.minor_mm - 0.05 && t.tap_drill_mm < t.major_mm, "{}: tap drill {}", t.name, t.tap_drill_mm);
        }
    }

    #[test]
    fn threads_by_the_names_people_use() {
        for (name, found) in [
            ("M6", "M6"),
            ("m6x1", "M6"),
            ("M3\u{d7}0.5", "M3"),
            ("1/4-20", "1/4-20 UNC"),
            ("10-32 UNF", "10-32 UNF"),
            ("0 ba", "0BA"),
            ("1/4 BSW", "1/4 BSW"),
        ] {
            assert_eq!(thread(name).map(|t| t.name), Some(found), "{name}");
        }
        assert_eq!(thread("M6x0.75"), None);
        assert_eq!(thread(""), None);
    }

    /// `data/thread_confusions.csv`: M5 x 0.8 runs 32 turns into 10-32; M6 and 0BA differ in angle only.
    #[test]
    fn mistaken_threads_are_named_with_their_turns() {
        let m5 = easily_mistaken(thread("M5").expect("listed"));
        let (_, turns) = m5.iter().find(|(t, _)| t.name == "10-32 UNF").expect("a known confusion");
        assert!((turns - 31.7).abs() < 0.5, "{turns}");
        let m6 = easily_mistaken(thread("M6").expect("listed"));
        assert!(m6[0].0.name == "0BA" && m6[0].1.is_infinite(), "{:?}", m6[0]);
    }
}
