// What can be written on the sheet: for each station its slips, each slip's fields, and how a field is read from what a person types.
//
// A field is { key, label, kind, hint? }. Kinds: text, file (in the folder, or brought there), number, size ("1/4 in"), sizes ("22 mm, 7/8 in"), choice, yesno, lab ("66, -8, 8"),
// drops ("black 3, blue 2"), amounts ("black 0.35, blue 0.2"), words ("D65, A"), named ("bore = 6.41, 6.40; collar = 12.7"), named words ("resin = 0423"),
// named numbers ("black = 20, 40") and pieces of closed lines ("0 0; 40 0; 40 20 round 40 10"). A slip with `required` is written whole the first time: half a table would be an error in the document. A
// `rare` one stays folded until something of it is written.

/**
 * @typedef {{key: string, label: string, kind: string, hint?: string, choices?: string[] | ((document: any, result: any) => string[]), wide?: boolean, part?: boolean}} Field a key may lead down: "pins.enter"; part: shown only where there is something to be part of
 * @typedef {{title: string, table: string, list: boolean, add?: string, required?: string[], needs?: string, rare?: boolean, fields: Field[]}} Slip one table of the document, or a list of them
 */

const names = (/** @type {string} */ table) => (/** @type {any} */ document) => (document?.[table] ?? []).map((/** @type {any} */ entry) => entry.name);

const readable = (/** @type {any} */ document) => [...names("photo")(document), ...names("reading")(document)];

/** @type {Record<string, Slip[]>} */
export const SLIPS = {
  evidence: [
    { title: "This job", table: "", list: false, fields: [
      { key: "title", label: "Title", kind: "text", wide: true }, { key: "maker", label: "Made by", kind: "text" },
      { key: "date", label: "Date", kind: "text" }, { key: "revision", label: "Revision", kind: "text" } ] },
    { title: "Sizes known for sure", table: "known", list: true, add: "Add a known size", fields: [
      { key: "name", label: "Name", kind: "text" }, { key: "value", label: "Size", kind: "size", hint: "1/4 in, 6 mm" }, { key: "sigma", label: "known to \u00b1", kind: "size", hint: "0.02 mm" },
      { key: "of", label: "of", kind: "choice", choices: ["rod", "overall length", "greatest diameter", "diameter", "stock"] }, { key: "at", label: "at, from the rod end", kind: "size" },
      { key: "source", label: "known from", kind: "text", wide: true } ] },
    { title: "Photos", table: "photo", list: true, fields: [
      { key: "name", label: "Name", kind: "text" }, { key: "shaft", label: "Rod in it", kind: "choice", choices: names("known") },
      { key: "focal_35mm", label: "Focal length, as on 35 mm film", kind: "number", hint: "if not in the file" },
      { key: "neutral.reflectance", label: "Its grey patch reflects", kind: "number", hint: "0.18", part: true },
      { key: "square.width", label: "Squared up by a rectangle: width", kind: "size", part: true }, { key: "square.height", label: "its height", kind: "size", part: true }, { key: "square.diameter", label: "or a circle\u2019s diameter", kind: "size", part: true }, { key: "square.length", label: "or a length on a ruler", kind: "size", part: true },
      { key: "made", label: "shows the made part", kind: "choice", choices: (/** @type {any} */ document) => (document?.check ?? []).map((/** @type {any} */ part) => part.part) }, { key: "source", label: "from", kind: "text", wide: true } ] },
  ],
  sizes: [
    { title: "How the original was made", table: "original", list: false, fields: [
      { key: "made", label: "It was", kind: "choice", choices: ["turned", "bar", "moulded"] }, { key: "draft_deg", label: "Draft per side, degrees", kind: "number" } ] },
    { title: "What you decide about a size", table: "size", list: true, add: "Decide about a size", fields: [
      { key: "name", label: "Size", kind: "choice", choices: (/** @type {any} */ _, /** @type {any} */ result) => (result?.dimensions ?? []).map((/** @type {any} */ d) => d.name) },
      { key: "choose", label: "take", kind: "size", hint: "7/8 in" }, { key: "refuse", label: "never take", kind: "sizes", hint: "22 mm, 22.5 mm" }, { key: "reading", label: "read on an original", kind: "size", hint: "22.2 mm" }, { key: "sigma", label: "\u00b1", kind: "size", hint: "0.02 mm" } ] },
  ],
  profile: [
    { title: "How the original was made", table: "original", list: false, required: ["made"], fields: [
      { key: "made", label: "It was", kind: "choice", choices: ["turned", "bar", "moulded"] }, { key: "shrinkage_percent", label: "Moulded: it shrank by, %", kind: "lab", hint: "0.3, 0.8" },
      { key: "draft_deg", label: "draft a side at most, degrees", kind: "number", hint: "1" } ] },
  ],
  body: [
    { title: "How it is made, and the bore", table: "body", list: false, fields: [
      { key: "route", label: "It is made by", kind: "choice", choices: ["print", "cast", "turn"] },
      { key: "bore", label: "A bore for the shaft", kind: "yesno" },
      { key: "fit", label: "On its shaft it", kind: "text", hint: "slides, pushes, pressed, glued or H7/g6" }, { key: "allowance", label: "or allowance on the diameter", kind: "size", hint: "0.1 mm" },
      { key: "bore_depth", label: "Depth of the bore", kind: "size", hint: "12 mm" }, { key: "through", label: "It goes from end to end", kind: "yesno" }, { key: "bottom", label: "Bottom", kind: "choice", choices: ["flat", "conical"] },
      { key: "flat", label: "D bore: across its flat", kind: "size", hint: "5.5 mm" }, { key: "mouth_chamfer", label: "Chamfer at its mouth", kind: "size", hint: "0.5 mm" }, { key: "exit_chamfer", label: "where it comes out", kind: "size", hint: "0.5 mm" },
      { key: "chord", label: "Mesh true to", kind: "size", hint: "0.005 mm" } ] },
    { title: "Printing it", table: "body.print", list: false, rare: true, required: ["shrinkage_percent"], fields: [
      { key: "shrinkage_percent", label: "Prints come out smaller by, %", kind: "number", hint: "0.5" } ] },
    { title: "Casting it in a mould", table: "body.cast", list: false, rare: true, required: [], fields: [
      { key: "material", label: "Casting resin", kind: "choice", choices: ["polyurethane", "epoxy", "polyester"] }, { key: "shrinkage_percent", label: "It shrinks by, % (least, most)", kind: "lab", hint: "0.1, 0.4" },
      { key: "mix", label: "Parts by weight, A, B", kind: "lab", hint: "100, 100" }, { key: "density_g_ml", label: "Density, g/mL", kind: "number", hint: "1.1" }, { key: "mould_wall", label: "Silicone round the part", kind: "size", hint: "10 mm" } ] },
    { title: "Turning it from bar", table: "body.turn", list: false, rare: true, required: [], fields: [
      { key: "step", label: "Rows of the table of diameters, each", kind: "size", hint: "1 mm" }, { key: "nose", label: "Radius of the tool\u2019s nose", kind: "size", hint: "0.4 mm" } ] },
    { title: "Wider steps of the bore", table: "body.step", list: true, rare: true, add: "Add a step", required: ["diameter", "depth"], fields: [
      { key: "diameter", label: "Diameter", kind: "size", hint: "9 mm" }, { key: "depth", label: "as deep as", kind: "size", hint: "4 mm" } ] },
    { title: "A thread in the bore", table: "body.thread", list: false, rare: true, required: ["size"], fields: [
      { key: "size", label: "Thread", kind: "text", hint: "M6, 1/4-20 UNC, 2BA" }, { key: "made", label: "It comes in by", kind: "choice", choices: ["tap", "cut", "insert"] }, { key: "hole", label: "Insert: its hole", kind: "size", hint: "8 mm" } ] },
    { title: "A keyway in the bore", table: "body.slot", list: false, rare: true, required: ["width", "depth"], fields: [
      { key: "width", label: "Across", kind: "size", hint: "2 mm" }, { key: "depth", label: "beyond the bore\u2019s wall", kind: "size", hint: "1 mm" }, { key: "length", label: "from the rod end", kind: "size", hint: "as deep as the bore" } ] },
    { title: "A cross hole, for a grub screw or a pin", table: "body.cross_hole", list: false, rare: true, required: ["at"], fields: [
      { key: "at", label: "Its middle, from the rod end", kind: "size", hint: "6 mm" }, { key: "diameter", label: "Plain: diameter", kind: "size", hint: "2.5 mm" }, { key: "thread", label: "or to be tapped", kind: "text", hint: "M3" },
      { key: "angle_deg", label: "Round the axis, degrees", kind: "number", hint: "0" }, { key: "both_sides", label: "Through both sides", kind: "yesno" } ] },
    { title: "Flutes", table: "body.flutes", list: false, rare: true, required: ["count", "radius", "depth", "from", "to"], fields: [
      { key: "count", label: "How many", kind: "number", hint: "24" }, { key: "radius", label: "Radius of a groove", kind: "size", hint: "1 mm" }, { key: "depth", label: "Depth", kind: "size", hint: "0.5 mm" },
      { key: "from", label: "from, along the axis", kind: "size", hint: "2 mm" }, { key: "to", label: "to", kind: "size", hint: "12 mm" } ] },
    { title: "A knurl", table: "body.knurl", list: false, rare: true, required: ["pattern", "pitch", "depth", "from", "to"], fields: [
      { key: "pattern", label: "Pattern", kind: "choice", choices: ["straight", "diamond"] }, { key: "pitch", label: "From tooth to tooth", kind: "size", hint: "1 mm" }, { key: "depth", label: "Depth", kind: "size", hint: "0.3 mm" },
      { key: "from", label: "from, along the axis", kind: "size", hint: "2 mm" }, { key: "to", label: "to", kind: "size", hint: "12 mm" } ] },
    { title: "Chamfers and fillets", table: "body.edge", list: true, rare: true, add: "Break an edge", required: ["at"], fields: [
      { key: "at", label: "Edge", kind: "text", hint: "rod end, free end or 12 mm" }, { key: "diameter", label: "Where two stand there: its diameter", kind: "size" }, { key: "chamfer", label: "Leg of the chamfer", kind: "size", hint: "0.5 mm" }, { key: "fillet", label: "or radius of the fillet", kind: "size", hint: "1 mm" } ] },
    { title: "Hollowed from the rod end", table: "body.hollow", list: false, rare: true, required: ["wall", "depth"], fields: [
      { key: "wall", label: "Least wall", kind: "size", hint: "2 mm" }, { key: "depth", label: "Depth", kind: "size", hint: "20 mm" } ] },
    { title: "A mark cut into an end", table: "body.mark", list: false, rare: true, required: ["text"], fields: [
      { key: "text", label: "It says", kind: "text", hint: "REPLICA" }, { key: "on", label: "on the", kind: "choice", choices: ["rod end", "free end"] }, { key: "height", label: "Height of its capitals", kind: "size", hint: "2 mm" }, { key: "depth", label: "Depth", kind: "size", hint: "0.4 mm" } ] },
    { title: "A test bar for the fit", table: "body.fit_test", list: false, rare: true, required: [], fields: [
      { key: "step", label: "From bore to bore", kind: "size", hint: "0.05 mm" }, { key: "count", label: "How many", kind: "number", hint: "7" } ] },
    { title: "A flat part, cut from plate", table: "flat", list: false, rare: true, required: ["photo", "thickness"], fields: [
      { key: "photo", label: "Photo, squared up", kind: "choice", choices: names("photo") }, { key: "thickness", label: "Thickness", kind: "size", hint: "1.5 mm" },
      { key: "edge_break", label: "Edges broken by", kind: "size", hint: "0.2 mm" }, { key: "tolerance", label: "Lines keep within", kind: "size", hint: "0.1 mm" },
      { key: "drawn", label: "or its outline and holes as you draw them, mm: x y; an arc x y round x y (clockwise); a curve x y by x y x y; | before a hole", kind: "pieces", hint: "0 0; 40 0; 40 20; 0 20 | 22 10 round 20 10; 18 10 round 20 10", wide: true } ] },
  ],
  colour: [
    { title: "The colour wanted", table: "target", list: false, fields: [
      { key: "from", label: "Read from", kind: "choice", choices: (/** @type {any} */ document) => ["photo", ...readable(document)] },
      { key: "lab", label: "or L*, a*, b*", kind: "lab", hint: "66, -8, 8" }, { key: "sigma", label: "\u00b1 in each", kind: "number" },
      { key: "lights", label: "It must be right under", kind: "words", hint: "D65, A, LED-B3" } ] },
    { title: "Its age, between two colours", table: "target.age", list: false, required: ["new", "now", "share"], fields: [
      { key: "new", label: "As new it was", kind: "choice", choices: readable }, { key: "now", label: "as it is now", kind: "choice", choices: readable },
      { key: "share", label: "how far on the way, 0 to 1", kind: "number", hint: "0.5" } ] },
    { title: "What moves the colour after it is made", table: "target.drift", list: true, rare: true, add: "Add a drift", required: ["lab", "sigma", "source"], fields: [
      { key: "lab", label: "L*, a*, b* move by", kind: "lab", hint: "-0.5, 0.2, 1.5" }, { key: "sigma", label: "\u00b1 in each", kind: "number", hint: "0.3" }, { key: "source", label: "by what, in which time, measured by whom", kind: "text", wide: true } ] },
    { title: "Colours read otherwise", table: "reading", list: true, add: "Add a reading", fields: [
      { key: "name", label: "Name", kind: "text" }, { key: "lab", label: "L*, a*, b*", kind: "lab" }, { key: "sigma", label: "\u00b1 in each", kind: "number" },
      { key: "light", label: "under the light", kind: "text", hint: "D65" }, { key: "observer", label: "Observer, degrees", kind: "number", hint: "2" },
      { key: "spectrum", label: "or a file of the instrument", kind: "file", hint: "readings/knob.txt", wide: true }, { key: "sample", label: "which sample in it", kind: "text" }, { key: "source", label: "read with", kind: "text", wide: true } ] },
  ],
  pot: [
    { title: "The recipe", table: "target", list: false, fields: [
      { key: "sample_ml", label: "For mL of resin", kind: "number" }, { key: "max_drops", label: "Drops at most", kind: "number" }, { key: "max_colourants", label: "Colourants at most", kind: "number", hint: "4" }, { key: "by_weight", label: "In grams, on the balance", kind: "yesno" }, { key: "tolerance", label: "Good enough within CIEDE2000", kind: "number", hint: "1.0" } ] },
    { title: "The resin", table: "resin", list: false, required: ["name"], fields: [
      { key: "name", label: "Name", kind: "text" }, { key: "thickness_mm", label: "Chips are thick, mm", kind: "number" }, { key: "backing", label: "read over", kind: "text", hint: "white, black or 0.8" }, { key: "density_g_ml", label: "Density, g/mL", kind: "number" } ] },
    { title: "Colourants", table: "colourant", list: true, add: "Add a colourant", fields: [
      { key: "name", label: "Name", kind: "text" }, { key: "drop_ul", label: "One drop, \u00b5L", kind: "number" }, { key: "drop_cv", label: "its scatter", kind: "number", hint: "0.05" },
      { key: "max_percent", label: "At most, % of the total", kind: "number" }, { key: "density_g_ml", label: "Density, g/mL", kind: "number" },
      { key: "stock_ml", label: "Left in the bottle, mL", kind: "number" }, { key: "least_drops", label: "Smallest dose, drops", kind: "number", hint: "1" }, { key: "lot", label: "Lot", kind: "text" }, { key: "shelf", label: "Its name on the shelf", kind: "text" } ] },
    { title: "Cured chips", table: "sample", list: true, add: "Add a chip", fields: [
      { key: "name", label: "Name", kind: "text" }, { key: "volume_ml", label: "Resin, mL", kind: "number" }, { key: "drops", label: "Drops", kind: "drops", hint: "black 1, blue 4" }, { key: "grams", label: "or weighed in, g", kind: "amounts", hint: "black 0.026" }, { key: "grams_sigma", label: "\u00b1 of a weight, g", kind: "number", hint: "0.005" },
      { key: "lab", label: "L*, a*, b*", kind: "lab" }, { key: "sigma", label: "\u00b1 in each", kind: "number" },
      { key: "spectrum", label: "or its spectrum, a file of the instrument", kind: "file", hint: "readings/s1.csv", wide: true }, { key: "before_cure", label: "Read before the last cure", kind: "yesno" } ] },
    { title: "The bench\u2019s balance and pipette", table: "tools", list: false, fields: [
      { key: "balance_g", label: "Balance, smallest step, g", kind: "number", hint: "0.01" }, { key: "balance_sigma_g", label: "its repeatability, g", kind: "number" }, { key: "dose_error", label: "A dose may be off by, share", kind: "number", hint: "0.02" } ] },
    { title: "A pipette", table: "tools.pipette", list: false, rare: true, required: ["nominal_ul", "least_ul", "bias_ul", "random_ul"], fields: [
      { key: "nominal_ul", label: "Nominal, \u00b5L", kind: "number", hint: "1000" }, { key: "least_ul", label: "Smallest setting, \u00b5L", kind: "number", hint: "100" }, { key: "bias_ul", label: "Systematic error, \u00b5L", kind: "number", hint: "8" }, { key: "random_ul", label: "Random error, \u00b5L", kind: "number", hint: "3" } ] },
    { title: "The book of the pots: pour, top up, take", table: "book", list: true, rare: true, add: "Write a line", required: ["pot"], fields: [
      { key: "pot", label: "Pot", kind: "text", hint: "A" }, { key: "add", label: "gets, mL", kind: "amounts", hint: "resin 200, black 1.5" }, { key: "drops", label: "and drops", kind: "drops", hint: "black 3" },
      { key: "pour_into", label: "is poured into", kind: "text", hint: "B" }, { key: "take", label: "or gives to", kind: "text", hint: "load 1" }, { key: "ml", label: "mL", kind: "number" } ] },
    { title: "A large pot, checked against its chip", table: "scale_up", list: false, rare: true, required: ["resin_ml"], fields: [
      { key: "from", label: "Scaled up from", kind: "choice", choices: names("sample") }, { key: "resin_ml", label: "Bare resin, mL", kind: "number", hint: "500" }, { key: "ml", label: "Colourants, mL", kind: "amounts", hint: "black 1.9" }, { key: "drops", label: "or drops", kind: "drops", hint: "black 75" },
      { key: "stock_percent", label: "Thinned stocks, % of the total", kind: "amounts", hint: "black 10" }, { key: "other_drop_ul", label: "Other tips on the bench, \u00b5L a drop", kind: "named numbers", hint: "black = 20, 50" } ] },
    { title: "Cure strips", table: "strip", list: true, rare: true, add: "Add a strip", required: ["exposure", "depth_um"], fields: [
      { key: "exposure", label: "Exposure", kind: "number", hint: "mJ/cm\u00b2, or seconds throughout" }, { key: "depth_um", label: "Cured, \u00b5m", kind: "number" }, { key: "sigma_um", label: "\u00b1", kind: "number", hint: "10" }, { key: "tinted", label: "Of the tinted mix", kind: "yesno" } ] },
    { title: "The lamp", table: "lamp", list: false, fields: [
      { key: "nm", label: "Wavelength, nm", kind: "number", hint: "405" }, { key: "layer_mm", label: "Layer, mm", kind: "number", hint: "0.05" } ] },
  ],
  run: [
    { title: "The batch", table: "run", list: false, required: ["wanted"], fields: [
      { key: "wanted", label: "Good parts wanted", kind: "number" }, { key: "made", label: "Made so far", kind: "number" }, { key: "good", label: "good among them", kind: "number" },
      { key: "certainty", label: "Certainty", kind: "number", hint: "0.95" }, { key: "supports", label: "Supports, share of the parts", kind: "number", hint: "0.3" },
      { key: "loss", label: "Resin lost, share", kind: "number", hint: "0.1" }, { key: "vat_least_ml", label: "Least in the vat, mL", kind: "number" }, { key: "load_loss", label: "Chance that a load is lost", kind: "number", hint: "0.05" } ] },
    { title: "The plate", table: "run.plate", list: false, needs: "run", required: ["width_mm", "depth_mm", "gap_mm"], fields: [
      { key: "width_mm", label: "Width, mm", kind: "number" }, { key: "depth_mm", label: "Depth, mm", kind: "number" }, { key: "gap_mm", label: "Gap between parts, mm", kind: "number" } ] },
    { title: "How long a load takes", table: "run.load_time", list: false, needs: "run", required: ["layer_mm", "layer_s", "handling_min"], fields: [
      { key: "layer_mm", label: "A layer, mm", kind: "number", hint: "0.05" }, { key: "layer_s", label: "takes, seconds", kind: "number" }, { key: "handling_min", label: "Handling a load, minutes", kind: "number" } ] },
    { title: "What things cost, in one currency", table: "run.prices", list: false, needs: "run", fields: [
      { key: "resin_per_ml", label: "Tinted resin, a mL", kind: "number" }, { key: "bench_per_hour", label: "The bench, an hour", kind: "number" },
      { key: "per_load", label: "Each load besides", kind: "number" }, { key: "per_start", label: "Each start besides", kind: "number" } ] },
    { title: "The batch as it was made", table: "batch", list: false, fields: [
      { key: "number", label: "Batch", kind: "text" }, { key: "date", label: "Date", kind: "text" }, { key: "process", label: "Resin and route", kind: "text" },
      { key: "made", label: "Parts started", kind: "number" }, { key: "good", label: "good among them", kind: "number" }, { key: "loads", label: "Loads run", kind: "number" }, { key: "lost", label: "of these lost whole", kind: "number" },
      { key: "scale", label: "The drawing was multiplied by", kind: "number", hint: "1" }, { key: "exposure", label: "Exposure and layer", kind: "text" }, { key: "cure", label: "Wash and cure", kind: "text" },
      { key: "lots", label: "Lots", kind: "named words", hint: "resin = 0423; black = 17", wide: true },
      { key: "master", label: "Master part, L*, a*, b*", kind: "lab" }, { key: "before_cure", label: "Before the last cure, L*, a*, b*", kind: "lab" }, { key: "note", label: "To know in two years", kind: "text", wide: true } ] },
  ],
  check: [
    { title: "Made parts, read", table: "check", list: true, add: "Add a part", fields: [
      { key: "part", label: "Part", kind: "text", hint: "1" }, { key: "readings", label: "Readings", kind: "named", hint: "greatest diameter = 22.18; bore = 6.41, 6.40", wide: true }, { key: "sigma", label: "\u00b1 of a reading", kind: "size", hint: "0.02 mm" },
      { key: "pins.enter", label: "Pins that enter", kind: "sizes", hint: "6.40" }, { key: "pins.stay_out", label: "Pins that stay out", kind: "sizes", hint: "6.45" }, { key: "pins.sigma", label: "\u00b1 of a pin", kind: "size", hint: "0.002 mm" },
      { key: "lab", label: "L*, a*, b*", kind: "lab" }, { key: "lab_sigma", label: "\u00b1 in each", kind: "number", hint: "0.3" } ] },
    { title: "How far a part may be off", table: "tolerance", list: false, fields: [
      { key: "class", label: "General class, ISO 2768-1", kind: "choice", choices: ["f", "m", "c", "v"] }, { key: "de00", label: "Colour, CIEDE2000 from the wanted", kind: "number" }, { key: "lot_de00", label: "between two of one lot", kind: "number", hint: "1.0" },
      { key: "own", label: "Own limits", kind: "named", hint: "bore = 0 mm, 0.05 mm; collar diameter = 0.05 mm", wide: true } ] },
  ],
};

/**
 * What stands in the document, as a person would write it.
 * @param {Field} field @param {any} value
 */
export function written(field, value) {
  if (value === undefined || value === null) return "";
  if (field.kind === "lab" || field.kind === "sizes") return [value].flat().join(", ");
  if (field.kind.startsWith("named")) return Object.entries(value).map(([name, values]) => `${name} = ${[values].flat().join(", ")}`).join("; ");
  if (field.kind === "yesno") return value ? "yes" : "no";
  if (field.kind === "drops" || field.kind === "amounts") return Object.entries(value).map(([name, n]) => `${name} ${n}`).join(", ");
  if (field.kind === "words") return value.join(", ");
  if (field.kind === "pieces") return value.map((/** @type {any[]} */ line) => line.map(piece).join("; ")).join(" | ");
  return String(value);
}

/**
 * What a person wrote, as the document holds it; null where nothing is written.
 * @param {Field} field @param {string} text
 * @returns {unknown}
 */
export function read(field, text) {
  const plain = text.trim();
  if (plain === "") return null;
  if (field.kind === "number") return number(plain) ?? plain;
  if (field.kind === "lab") return plain.split(/[,;\s]+/).map((part) => number(part) ?? part);
  if (field.kind === "drops" || field.kind === "amounts") return amounts(plain);
  if (field.kind === "words") return plain.split(/\s*[,;]\s*/).filter(Boolean);
  if (field.kind === "sizes") return plain.split(/\s*[,;]\s*/);
  if (field.kind === "named") return named(plain, (values) => (values.length === 1 ? values[0] : values));
  if (field.kind === "named numbers") return named(plain, (values) => values.map((value) => number(value) ?? value));
  if (field.kind === "named words") return named(plain, (values) => values.join(", "));
  if (field.kind === "yesno") return plain === "yes";
  if (field.kind === "pieces") return pieces(plain) ?? plain;
  if (field.key === "backing") return number(plain) ?? plain;
  return plain;
}

/** @param {string} text */
function number(text) {
  const value = Number(text.replace(",", "."));
  return text !== "" && Number.isFinite(value) ? value : undefined;
}

/** A piece of a closed line as text: where it ends, and what it bends about. @param {any} drawn */
function piece(drawn) {
  if (drawn.centre) return `${drawn.to.join(" ")} round ${drawn.centre.join(" ")}${drawn.clockwise ? " clockwise" : ""}`;
  return drawn.controls ? `${drawn.to.join(" ")} by ${drawn.controls.flat().join(" ")}` : drawn.to.join(" ");
}

/** Closed lines from their text; undefined where one piece can't be read, so that the whole is refused as it was written. @param {string} text */
function pieces(text) {
  let good = true;
  const lines = text.split("|").map((line) => line.split(";").map((one) => one.trim()).filter(Boolean).map((one) => {
    const [, end, how, about, sense] = one.match(/^([-+.,\d\s]+?)\s*(?:(round|by)\s+([-+.,\d\s]+?)\s*(clockwise)?)?$/) ?? [];
    const [to, bend] = [end, about].map((numbers) => (numbers ?? "").trim().split(/[,\s]+/).filter(Boolean).map(Number));
    good &&= to.length === 2 && bend.length === (how === "round" ? 2 : how === "by" ? 4 : 0) && [...to, ...bend].every(Number.isFinite) && !(sense && how !== "round");
    if (how === "round") return sense ? { to, centre: bend, clockwise: true } : { to, centre: bend };
    return how === "by" ? { to, controls: [bend.slice(0, 2), bend.slice(2)] } : { to };
  }));
  return good && lines.every((line) => line.length > 0) ? lines : undefined;
}

/** @param {string} text */
function amounts(text) {
  /** @type {Record<string, number | string>} */
  const found = {};
  // A comma between digits belongs to the number.
  for (const part of text.split(/[,;](?!\d)/)) {
    const match = part.trim().match(/^(.*?)\s+(\d+(?:[.,]\d+)?)$/);
    if (match) found[match[1]] = Number(match[2].replace(",", "."));
    else if (part.trim()) found[part.trim()] = "how many?";
  }
  return found;
}

/** @param {string} text @param {(values: string[]) => unknown} put */
function named(text, put) {
  /** @type {Record<string, unknown>} */
  const found = {};
  for (const part of text.split(";").filter((part) => part.trim())) {
    const [name, ...rest] = part.split("=");
    found[name.trim()] = put(rest.join("=").split(",").map((value) => value.trim()));
  }
  return found;
}
