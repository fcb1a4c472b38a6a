use thiserror::Error;

/// Why a chain of pieces is no meridian. Pieces are counted from 0.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum MeridianError {
    /// No pieces.
    #[error("a meridian needs at least one piece")]
    Empty,
    /// More pieces than anybody turns.
    #[error("{found} pieces are too many; at most {most} are taken: join short pieces first")]
    TooMany {
        /// Pieces given.
        found: usize,
        /// The limit.
        most: usize,
    },
    /// NaN, infinity or a size beyond 100 m.
    #[error("piece {piece} has a coordinate that is no size of a part; expected finite numbers under 1e5 mm")]
    NotFinite {
        /// Which piece.
        piece: usize,
    },
    /// The chain must start at (0, 0) and end on the axis beyond it.
    #[error("the chain must run from (0, 0) to (L, 0) with L > 0, but its {end} is at z = {z_mm} mm, r = {r_mm} mm")]
    OffAxis {
        /// "start" or "end".
        end: &'static str,
        /// Where it is.
        z_mm: f64,
        /// Where it is.
        r_mm: f64,
    },
    /// A gap.
    #[error("piece {piece} starts {gap_mm} mm from where the one before ends; pieces must join to 1e-6 mm")]
    Gap {
        /// The piece that starts away.
        piece: usize,
        /// How far.
        gap_mm: f64,
    },
    /// A piece crosses the axis.
    #[error("piece {piece} reaches r = {r_mm} mm; a meridian stays at r >= 0")]
    BelowAxis {
        /// Which piece.
        piece: usize,
        /// Its lowest radius.
        r_mm: f64,
    },
    /// An arc whose ends are not equally far from its centre.
    #[error("arc {piece} has ends {off_mm} mm differently far from its centre; expected equal to 1e-6 mm")]
    NoArc {
        /// Which piece.
        piece: usize,
        /// Difference of the distances.
        off_mm: f64,
    },
    /// Two pieces cross.
    #[error("pieces {first} and {second} cross near z = {z_mm:.3} mm; a meridian may not cross itself")]
    Crossing {
        /// The earlier piece.
        first: usize,
        /// The later piece.
        second: usize,
        /// Where, about.
        z_mm: f64,
    },
    /// A scale factor that is none.
    #[error("{found} is no scale factor; expected a positive finite number")]
    NotAFactor {
        /// What was given.
        found: f64,
    },
}
