use thiserror::Error;

/// Why a body can't be made. Sizes in mm.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SolidError {
    /// A size that is no size.
    #[error("{what} is {found}; a finite size above 0 is expected")]
    NotASize {
        /// Which size.
        what: String,
        /// What was found.
        found: f64,
    },
    /// The meridian holds something that has no inside.
    #[error("the meridian is not a profile of finite points on or above the axis: {what}")]
    BadMeridian {
        /// What is wrong.
        what: String,
    },
    /// The bore's bottom lies at or beyond the free end.
    #[error(
        "the bore reaches {reach_mm:.3} mm deep but the part is {length_mm:.3} mm long; make it shallower than the part, or bore it through"
    )]
    BoreTooDeep {
        /// Deepest point, drill point included.
        reach_mm: f64,
        /// Length of the part.
        length_mm: f64,
    },
    /// No material where the mouth should be.
    #[error(
        "a bore of diameter {diameter_mm:.3} mm (mouth chamfer included) finds no {which} end face to open into: the part is only {part_mm:.3} mm in diameter; make the bore narrower"
    )]
    BoreTooWide {
        /// Diameter at the mouth, chamfer included.
        diameter_mm: f64,
        /// Greatest diameter of the part.
        part_mm: f64,
        /// "rod" or "free".
        which: &'static str,
    },
    /// A stepped bore that can't be reached from its mouth.
    #[error(
        "step {step} of the bore (diameter {diameter_mm:.3} mm to {depth_mm:.3} mm) must be narrower and deeper than the step before it; a tool from the mouth can't make it"
    )]
    StepOutOfOrder {
        /// Which step, counted from 1 at the mouth.
        step: usize,
        /// Its diameter.
        diameter_mm: f64,
        /// Its depth.
        depth_mm: f64,
    },
    /// A chamfer on a mouth that is not flat.
    #[error(
        "a chamfer of {chamfer_mm:.3} mm needs a flat face round the mouth of the bore; the {which} end is not flat there: leave the chamfer out"
    )]
    ChamferOnSlope {
        /// Size of the chamfer.
        chamfer_mm: f64,
        /// "rod" or "free".
        which: &'static str,
    },
    /// The bore comes out at the side.
    #[error("the bore breaks through the outside at z = {z_mm:.3} mm, {r_mm:.3} mm from the axis; make it narrower or shallower")]
    BreaksThrough {
        /// Where, along the axis.
        z_mm: f64,
        /// Where, from the axis.
        r_mm: f64,
    },
    /// Less wall than the limit.
    #[error(
        "the wall between bore and outside is {wall_mm:.3} mm at z = {z_mm:.3} mm, below the limit of {least_mm:.3} mm; make the bore narrower or shallower, or lower the limit"
    )]
    WallTooThin {
        /// Thinnest wall.
        wall_mm: f64,
        /// Where on the bore's side.
        z_mm: f64,
        /// The limit.
        least_mm: f64,
    },
    /// No room for a hollow.
    #[error(
        "a hollow with a wall of {wall_mm:.3} mm finds no room between the boss (diameter {boss_mm:.3} mm) and the outside (at most {left_mm:.3} mm); make the wall thinner, the hollow shallower, or leave it out"
    )]
    HollowTooTight {
        /// Wall asked for.
        wall_mm: f64,
        /// Diameter of the boss.
        boss_mm: f64,
        /// Greatest diameter the wall leaves.
        left_mm: f64,
    },
    /// No corner where one was named.
    #[error("no edge of the outside stands within 0.25 mm of z = {z_mm:.2} mm; there are edges at {there}")]
    NoSuchEdge {
        /// Where one was looked for.
        z_mm: f64,
        /// Those there are.
        there: String,
    },
    /// One corner named twice.
    #[error("the edge at z = {z_mm:.2} mm (diameter {diameter_mm:.2} mm) is broken twice; name each edge once")]
    EdgeTwice {
        /// Where.
        z_mm: f64,
        /// Its diameter.
        diameter_mm: f64,
    },
    /// A chamfer or fillet longer than the sides of its corner.
    #[error(
        "a chamfer or fillet of {asked_mm:.3} mm finds no room on the edge at z = {z_mm:.2} mm (diameter {diameter_mm:.2} mm): its sides are too short; make it smaller"
    )]
    EdgeTooLarge {
        /// What was asked.
        asked_mm: f64,
        /// Where.
        z_mm: f64,
        /// Its diameter.
        diameter_mm: f64,
    },
    /// A thread that is not in the tables.
    #[error("no thread `{name}` is in the tables; near are {near}")]
    NoSuchThread {
        /// What was asked.
        name: String,
        /// Some that are.
        near: String,
    },
    /// A cross hole where none can go.
    #[error("the cross hole at z = {z_mm:.2} mm, {diameter_mm:.2} mm wide, can't be made there: {why}")]
    CrossHole {
        /// Its middle.
        z_mm: f64,
        /// Its diameter.
        diameter_mm: f64,
        /// Why not, and the way out.
        why: String,
    },
    /// A mark where none can go.
    #[error("the mark can't be cut: {why}")]
    Mark {
        /// Why not, and the way out.
        why: String,
    },
    /// A mesh that would not fit.
    #[error(
        "a mesh within {chord_mm} mm would need {needed} triangles, over the limit of {limit}; ask for a coarser mesh (about {coarser_mm:.4} mm would do)"
    )]
    TooManyTriangles {
        /// Chord tolerance asked for.
        chord_mm: f64,
        /// Triangles it would take.
        needed: usize,
        /// The limit.
        limit: usize,
        /// Chord tolerance that would about fit.
        coarser_mm: f64,
    },
}
