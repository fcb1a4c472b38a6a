//! Reminders of what is dangerous about what is handled on the way.
//!
//! Our own words after hazard statements (H codes of the Globally Harmonised System, as in Regulation (EC) 1272/2008, annex III) that safety data
//! sheets of such materials print. Which apply, and how strictly, differs from product to product: the supplier's sheet and local rules govern.

/// Something handled on the way from resin to part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Material {
    /// (Meth)acrylate resin that light cures, not yet cured.
    UncuredResin,
    /// Propan-2-ol, to wash parts.
    Propanol,
    /// The lamp that cures.
    UltravioletLamp,
    /// Dust of pigments and of sanding.
    Dust,
    /// The isocyanate half of a polyurethane casting resin.
    Isocyanate,
    /// The hardener of an epoxy casting resin.
    EpoxyHardener,
}

impl Material {
    /// What a printed part meets on its way.
    pub const PRINTED: &'static [Material] = &[Material::UncuredResin, Material::Propanol, Material::UltravioletLamp, Material::Dust];
    /// What a cast part meets on its way.
    pub const CAST: &'static [Material] = &[Material::Isocyanate, Material::EpoxyHardener, Material::Dust];

    /// Its name, the danger with its codes, and what to do.
    pub fn reminder(self) -> [&'static str; 3] {
        match self {
            Material::UncuredResin => [
                "Uncured resin",
                "Irritates skin, eyes and airways (H315, H319, H335). Can make you allergic for good through the skin (H317). Some grades are suspected of harming fertility (H360, H361) and harm water life (H411, H412).",
                "Nitrile gloves, changed when wetted; glasses; fresh air. Off the skin with cold water and soap at once, never with solvent. Stop for good if a rash comes. Cure rags and leftovers before they go to waste; nothing down the drain.",
            ],
            Material::Propanol => [
                "Propan-2-ol",
                "Its vapour catches fire at room temperature (H225). Irritates eyes, makes drowsy (H319, H336).",
                "No flame, no spark, lid on; fresh air; glasses. Used wash is resin waste, not water.",
            ],
            Material::UltravioletLamp => [
                "Curing lamp",
                "Ultraviolet light burns eyes and skin before you feel it.",
                "Cover closed, or glasses made for that lamp; no bare hands in the beam.",
            ],
            Material::Dust => [
                "Dust",
                "Pigment powder and sanding dust go deep into the lungs; some pigments hold heavy metals.",
                "Sand wet, or with extraction and an FFP2 or FFP3 mask; wipe up wet. Do not sand pigments of cadmium, lead or chromium.",
            ],
            Material::Isocyanate => [
                "Isocyanate component",
                "Harmful when breathed in (H332); one strong exposure can leave asthma for life (H334). Irritates skin, eyes and airways (H315, H319, H335), can make allergic through the skin (H317), is suspected of causing cancer (H351) and harms organs when breathed again and again (H373).",
                "Only with forced air or a mask rated for it, gloves and glasses. In the European Union training is required for trade use (Regulation (EU) 2020/1149). With asthma: do not work with it.",
            ],
            Material::EpoxyHardener => [
                "Epoxy hardener",
                "Burns skin and eyes (H314). Can make you allergic for good through the skin (H317).",
                "Gloves and glasses from weighing to cure. Off the skin with water and soap at once.",
            ],
        }
    }
}

/// What stands above the reminders.
pub const GOVERNS: &str =
    "Reminders only. The supplier's safety data sheet of what you really use, and the rules of your place, govern; read them first.";
