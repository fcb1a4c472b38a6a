use thiserror::Error;

/// Why no colour could be read. Each says where, what was found, and the way out.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum TargetError {
    /// Nothing known in the light.
    #[error(
        "no neutral patch and no reading: a photo alone can't tell a colour from the colour of the light; lay a grey card beside the part in the same light, or enter a reading"
    )]
    NoLight,
    /// A polygon that encloses nothing.
    #[error("the outline of {what} is no region: {why}; mark it again")]
    BadPolygon {
        /// Of what.
        what: String,
        /// Too few points, not finite, no area ...
        why: String,
    },
    /// A number out of its range.
    #[error("{what} is {value}, but {expected}")]
    BadNumber {
        /// Which number.
        what: String,
        /// As given.
        value: f64,
        /// What is allowed.
        expected: String,
    },
    /// Too few pixels in the picture.
    #[error("{what} covers {pixels} px of the picture, at least {needed} are needed; mark a larger region, or take the photo from closer")]
    TooSmall {
        /// Of what.
        what: String,
        /// Found.
        pixels: usize,
        /// Needed.
        needed: usize,
    },
    /// Burnt out.
    #[error(
        "{what} is burnt out: {percent:.0} % of it is at the camera's limit, where colour is lost; take the photo again with less exposure"
    )]
    Clipped {
        /// Of what.
        what: String,
        /// Share of it, percent.
        percent: f64,
    },
    /// Too dark to say anything.
    #[error("{what} is so dark in the photo that noise hides its colour; take the photo again with more light")]
    TooDark {
        /// Of what.
        what: String,
    },
    /// A patch that is not one colour in one light.
    #[error(
        "{what} is not even: its pixels scatter by {percent:.0} % even after a smooth fall of light is taken out; a shadow, a mark or a wrong outline? mark a clean part of it"
    )]
    Uneven {
        /// Of what.
        what: String,
        /// Scatter, percent.
        percent: f64,
    },
    /// Lights of different colour.
    #[error(
        "the light is mixed: its colour changes by {percent:.0} % {place}; lamps of different colour, or lamp and window? take the photo in one light"
    )]
    MixedLight {
        /// Change of the ratio of red to blue, percent.
        percent: f64,
        /// Where it changes.
        place: String,
    },
    /// Patches that cannot all be true.
    #[error(
        "the patches of known colour contradict each other: by {de00:.1} (CIEDE2000) on average, most at patch {worst}; is each patch marked with its own colour?"
    )]
    PatchesContradict {
        /// Mean difference.
        de00: f64,
        /// Number of the worst, from 1.
        worst: usize,
    },
    /// Nothing to combine.
    #[error("there is no reading to combine; read at least one spot")]
    NoReadings,
    /// Two readings without a common light.
    #[error(
        "the two readings are not from the same light ({first}, {second}); their difference can't be read directly, only worked out from both"
    )]
    DifferentLights {
        /// Source of the first.
        first: String,
        /// Source of the second.
        second: String,
    },
}
