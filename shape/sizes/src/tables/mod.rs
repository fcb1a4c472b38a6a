//! Look-up tables of the trade: fits, tolerances, drills, threads, gauges, fractions, preferred numbers, stock, shrinkage.
//!
//! Every table is compiled in from `data/`, whose heads name their sources. [`catalogue`] lists them whole, for printing; [`near`]
//! finds what is sold or cut near a measured size.

mod csv;
mod drills;
mod fits;
mod fractions;
mod gauges;
mod inch_fits;
mod preferred;
mod press;
mod shrinkage;
mod stock;
mod threads;

pub use drills::{Drill, DrillSet, drill, drills};
pub use fits::{Character, Fit, Limits, fit, hole_limits, it_um, shaft_limits};
pub use fractions::{fractions, nearest_fraction};
pub use gauges::{Gauge, Wire, wire_mm, wires};
pub use inch_fits::{InchFit, inch_fit};
pub use preferred::{Series, nearest_preferred, preferred};
pub use press::{Hub, loosening_mm};
pub use quantity::{Class, Feature, general_tolerance};
pub use shrinkage::{Shrinkage, cavity_for_part_mm, part_from_cavity_mm, shrinkages};
pub use stock::{Stock, stock, stock_zone};
pub use threads::{Form, Thread, easily_mistaken, thread, threads};

use thiserror::Error;

/// A size of a table, with its name there.
#[derive(Clone, Debug, PartialEq)]
pub struct Listed {
    /// Which table: "drills", "threads", "gauges", "stock", "fractions".
    pub table: &'static str,
    /// "#43", "M6 thread", "18 SWG", "7/8 in".
    pub label: String,
    /// The size, mm.
    pub mm: f64,
}

/// The sizes of all tables nearest to a measured one, nearest first, `count` from each table.
pub fn near(mm: f64, count: usize) -> Vec<Listed> {
    if !mm.is_finite() {
        return Vec::new();
    }
    let off = |listed: &Listed| (listed.mm - mm).abs();
    let mut all: Vec<Listed> = Vec::new();
    let tables: [Vec<Listed>; 5] =
        [fractions(8.0), drills::listed().collect(), threads::listed().collect(), gauges::listed().collect(), stock::listed().collect()];
    for mut table in tables {
        table.sort_by(|a, b| off(a).total_cmp(&off(b)).then_with(|| a.label.cmp(&b.label)));
        all.extend(table.into_iter().take(count));
    }
    all.sort_by(|a, b| off(a).total_cmp(&off(b)).then_with(|| a.label.cmp(&b.label)));
    all
}

/// A whole table as text, for a command of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Name to ask for it by.
    pub name: &'static str,
    /// What it is, its sources, how sure it is.
    pub remarks: Vec<&'static str>,
    /// Column names; units stand last in them.
    pub columns: Vec<&'static str>,
    /// Rows.
    pub rows: Vec<Vec<&'static str>>,
}

/// Names of all tables.
pub fn catalogue() -> Vec<&'static str> {
    FILES.iter().map(|(name, _)| *name).collect()
}

/// A table by its name.
///
/// # Errors
/// [`TableError::NoTable`] for a name that is none.
pub fn table(name: &str) -> Result<Sheet, TableError> {
    FILES
        .iter()
        .find(|(known, _)| *known == name)
        .map(|(known, text)| Sheet {
            name: known,
            remarks: csv::remarks(text),
            columns: csv::header(text),
            rows: csv::rows(text).collect(),
        })
        .ok_or_else(|| TableError::NoTable { name: name.into(), names: catalogue().join(", ") })
}

const FILES: [(&str, &str); 17] = [
    ("fractions", include_str!("../../data/inch_fractions.csv")),
    ("preferred-numbers", include_str!("../../data/preferred_numbers.csv")),
    ("confusable-sizes", include_str!("../../data/confusable_sizes.csv")),
    ("tolerance-grades", include_str!("../../data/it_grades.csv")),
    ("shaft-deviations", include_str!("../../data/shaft_fundamental_deviations.csv")),
    ("general-tolerances", quantity::GENERAL_TOLERANCES_CSV),
    ("inch-fits", include_str!("../../data/ansi_b4_1_fits.csv")),
    ("drills", include_str!("../../data/drills_number_letter.csv")),
    ("wire-gauges", include_str!("../../data/wire_gauges.csv")),
    ("stock", include_str!("../../data/stock_sizes.csv")),
    ("stock-tolerances", include_str!("../../data/stock_tolerances.csv")),
    ("threads-iso", include_str!("../../data/threads_iso_coarse.csv")),
    ("threads-unified", include_str!("../../data/threads_unified.csv")),
    ("threads-ba", include_str!("../../data/threads_ba.csv")),
    ("threads-whitworth", include_str!("../../data/threads_bsw_bsf.csv")),
    ("thread-confusions", include_str!("../../data/thread_confusions.csv")),
    ("shrinkage", include_str!("../../data/shrinkage.csv")),
];

/// Why a table has no answer.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum TableError {
    /// The question can't be read.
    #[error("`{text}` can't be read; {expected} was expected")]
    Unreadable {
        /// What was asked.
        text: String,
        /// What would be understood.
        expected: &'static str,
    },
    /// The table doesn't go there.
    #[error("{what} is not in the tables, which have {has}")]
    NotListed {
        /// What was asked.
        what: String,
        /// What there is.
        has: &'static str,
    },
    /// No table of that name.
    #[error("there is no table `{name}`; there are: {names}")]
    NoTable {
        /// What was asked.
        name: String,
        /// What there is.
        names: String,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_table_is_rectangular_and_names_its_source() {
        for name in catalogue() {
            let sheet = table(name).expect(name);
            assert!(!sheet.rows.is_empty() && sheet.rows.iter().all(|row| row.len() == sheet.columns.len()), "{name}");
            assert!(sheet.remarks.iter().any(|line| line.starts_with("source")), "{name}");
        }
        assert!(table("zeppelins").expect_err("none").to_string().contains("drills"));
    }

    #[test]
    fn what_lies_near_a_measured_size() {
        let found = near(6.33, 2);
        assert!(found.windows(2).all(|w| (w[0].mm - 6.33).abs() <= (w[1].mm - 6.33).abs()));
        for label in ["1/4 in", "E", "6.3 mm", "1/4-20 UNC thread", "3 SWG"] {
            assert!(near(6.33, 4).iter().any(|listed| listed.label == label), "{label}");
        }
        assert!(near(f64::NAN, 3).is_empty());
    }
}
