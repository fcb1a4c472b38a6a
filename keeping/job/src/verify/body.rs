//! What can be wrong about the body: sizes that are none, features that exclude each other.

use super::Check;
use crate::document::{Body, Document, EdgePlace, ThreadMade};
use crate::read::Step::{self, Index, Key};
use crate::size::Size;

/// Letters of a mark: what fits round a small face.
const LONGEST_MARK: usize = 40;
const MOST_EDGES: usize = 100;

impl Check {
    pub(super) fn body(&mut self, document: &Document) {
        let Some(body) = &document.body else { return };
        self.bore(body);
        self.across(body);
        self.round_the_outside(body);
        self.edges(body);
        if let Some(hollow) = &body.hollow {
            self.all_positive("hollow", &[("wall", &hollow.wall), ("depth", &hollow.depth)]);
        }
        self.mark(body);
        self.routes(body);
        if let Some(chord) = &body.chord
            && !(0.0005..=1.0).contains(&chord.mm)
        {
            self.say(
                vec![Key("body"), Key("chord")],
                format!("{} mm is out of range; 0.0005 to 1 mm was expected", chord.mm),
                "0.005 mm is finer than any printer shows",
            );
        }
    }

    fn bore(&mut self, body: &Body) {
        let at = |key| vec![Key("body"), Key(key)];
        for (key, size) in [
            ("bore_depth", &body.bore_depth),
            ("mouth_chamfer", &body.mouth_chamfer),
            ("exit_chamfer", &body.exit_chamfer),
            ("flat", &body.flat),
        ] {
            if let Some(size) = size {
                self.positive_size(at(key), size);
            }
        }
        if let Some(allowance) = &body.allowance
            && !(-1.0..=2.0).contains(&allowance.mm)
        {
            self.say(
                at("allowance"),
                format!("{} mm is no allowance of a fit; -1 to 2 mm was expected", allowance.mm),
                "it is added to the shaft's diameter: 0.1 mm slides in a printed bore",
            );
        }
        let through = body.through == Some(true);
        if body.bore == Some(false) {
            let asked = [
                ("through", through),
                ("bore_depth", body.bore_depth.is_some()),
                ("step", !body.step.is_empty()),
                ("thread", body.thread.is_some()),
                ("flat", body.flat.is_some()),
                ("slot", body.slot.is_some()),
                ("fit_test", body.fit_test.is_some()),
            ];
            for (key, _) in asked.iter().filter(|(_, asked)| *asked) {
                self.say(at(key), format!("`{key}` needs a bore, but `bore = false` says that there is none"), "leave one of the two out");
            }
        }
        if through && body.bore_depth.is_some() {
            self.say(at("bore_depth"), "a through bore has no depth of its own", "leave `bore_depth` or `through` out");
        }
        if !through && body.exit_chamfer.is_some() {
            self.say(at("exit_chamfer"), "a blind bore has no exit", "add `through = true`, or leave `exit_chamfer` out");
        }
        if through && body.bottom.is_some() {
            self.say(at("bottom"), "a through bore has no bottom", "leave `bottom` or `through` out");
        }
        self.steps(body);
        self.thread(body);
        if let Some(slot) = &body.slot {
            self.all_positive("slot", &[("width", &slot.width), ("depth", &slot.depth)]);
            if let Some(length) = &slot.length {
                self.positive_size(vec![Key("body"), Key("slot"), Key("length")], length);
            }
        }
        if let Some(test) = &body.fit_test {
            if let Some(step) = &test.step
                && !(0.005..=1.0).contains(&step.mm)
            {
                self.say(
                    vec![Key("body"), Key("fit_test"), Key("step")],
                    format!("{} mm is no step from bore to bore; 0.005 to 1 mm was expected", step.mm),
                    "0.05 mm is what a printer can tell apart",
                );
            }
            if let Some(count) = test.count
                && !(2..=12).contains(&count)
            {
                self.say(
                    vec![Key("body"), Key("fit_test"), Key("count")],
                    format!("{count} bores; 2 to 12 were expected"),
                    "7 span the usual offset",
                );
            }
        }
    }

    fn steps(&mut self, body: &Body) {
        let at = |i, key| vec![Key("body"), Key("step"), Index(i), Key(key)];
        for (i, step) in body.step.iter().enumerate().take(20) {
            self.positive_size(at(i, "diameter"), &step.diameter);
            self.positive_size(at(i, "depth"), &step.depth);
            let before = i.checked_sub(1).and_then(|i| body.step.get(i));
            if before.is_some_and(|before| step.diameter.mm >= before.diameter.mm || step.depth.mm <= before.depth.mm) {
                self.say(
                    vec![Key("body"), Key("step"), Index(i)],
                    "each step must be narrower and deeper than the one before it",
                    "list them from the mouth inward; a tool from the mouth can't make it otherwise",
                );
            }
        }
        if body.step.len() > 20 {
            self.say(vec![Key("body"), Key("step"), Index(20)], "more than 20 steps", "leave the finest ones out");
        }
    }

    fn thread(&mut self, body: &Body) {
        let Some(thread) = &body.thread else { return };
        let at = |key| vec![Key("body"), Key("thread"), Key(key)];
        self.thread_name(at("size"), &thread.size);
        for (key, given) in [("fit", body.fit.is_some()), ("allowance", body.allowance.is_some()), ("flat", body.flat.is_some())] {
            if given {
                self.say(
                    vec![Key("body"), Key(key)],
                    format!("`{key}` is of a plain shaft, but the bore has a thread"),
                    "leave one of the two out",
                );
            }
        }
        match (&thread.hole, thread.made) {
            (Some(hole), Some(ThreadMade::Insert)) => self.positive_size(at("hole"), hole),
            (Some(_), _) => self.say(
                at("hole"),
                "the hole of a tapped or cut thread follows from its size",
                "leave `hole` out, or say `made = \"insert\"`",
            ),
            (None, Some(ThreadMade::Insert)) => self.say(
                at("made"),
                "inserts differ from maker to maker; the hole for this one is not given",
                "add `hole = \"5.6 mm\"` as the insert's maker asks for",
            ),
            (None, _) => {}
        }
    }

    fn thread_name(&mut self, path: Vec<Step>, name: &str) {
        let sane = (2..=24).contains(&name.len()) && name.chars().any(|c| c.is_ascii_digit());
        if !sane {
            self.say(
                path,
                format!("`{}` is no name of a thread", name.chars().take(40).collect::<String>()),
                "write \"M6\", \"M8x1\", \"1/4-20 UNC\", \"2BA\" or \"1/4 BSW\"",
            );
        }
    }

    fn across(&mut self, body: &Body) {
        let Some(hole) = &body.cross_hole else { return };
        let at = |key| vec![Key("body"), Key("cross_hole"), Key(key)];
        self.positive_size(at("at"), &hole.at);
        match (&hole.diameter, &hole.thread) {
            (Some(diameter), None) => self.positive_size(at("diameter"), diameter),
            (None, Some(thread)) => self.thread_name(at("thread"), thread),
            _ => self.say(
                vec![Key("body"), Key("cross_hole")],
                "either `diameter` or `thread` was expected",
                "write `thread = \"M3\"` for a set screw, `diameter = \"2 mm\"` for a pin",
            ),
        }
        if let Some(angle) = hole.angle_deg {
            self.range(at("angle_deg"), angle, -360.0, 360.0, "degrees round the axis");
        }
    }

    fn round_the_outside(&mut self, body: &Body) {
        let stretch = |check: &mut Check, key: &'static str, from: &Size, to: &Size| {
            for (end, size) in [("from", from), ("to", to)] {
                if !(-10.0..=10_000.0).contains(&size.mm) {
                    check.say(
                        vec![Key("body"), Key(key), Key(end)],
                        format!("{} mm is no place on the part", size.mm),
                        "give the distance from the rod end",
                    );
                }
            }
            if to.mm <= from.mm {
                check.say(vec![Key("body"), Key(key), Key("to")], "`to` must lie beyond `from`", "both are distances from the rod end");
            }
        };
        if let Some(flutes) = &body.flutes {
            self.all_positive("flutes", &[("radius", &flutes.radius), ("depth", &flutes.depth)]);
            stretch(self, "flutes", &flutes.from, &flutes.to);
            if !(1..=360).contains(&flutes.count) {
                self.say(
                    vec![Key("body"), Key("flutes"), Key("count")],
                    format!("{} flutes; 1 to 360 were expected", flutes.count),
                    "count them round the body",
                );
            }
            if flutes.depth.mm > flutes.radius.mm {
                self.say(
                    vec![Key("body"), Key("flutes"), Key("depth")],
                    "a flute deeper than its radius would be wider inside than at its mouth",
                    "make the radius at least as great as the depth",
                );
            }
        }
        if let Some(knurl) = &body.knurl {
            self.all_positive("knurl", &[("pitch", &knurl.pitch), ("depth", &knurl.depth)]);
            stretch(self, "knurl", &knurl.from, &knurl.to);
            if knurl.depth.mm > knurl.pitch.mm {
                self.say(
                    vec![Key("body"), Key("knurl"), Key("depth")],
                    "a knurl deeper than its pitch has teeth that break off",
                    "half of the pitch is usual for teeth of 90 degrees",
                );
            }
        }
    }

    fn edges(&mut self, body: &Body) {
        for (i, edge) in body.edge.iter().enumerate().take(MOST_EDGES) {
            let at = |key| vec![Key("body"), Key("edge"), Index(i), Key(key)];
            match (&edge.chamfer, &edge.fillet) {
                (Some(size), None) => self.positive_size(at("chamfer"), size),
                (None, Some(size)) => self.positive_size(at("fillet"), size),
                _ => self.say(
                    vec![Key("body"), Key("edge"), Index(i)],
                    "either `chamfer` or `fillet` was expected",
                    "write `chamfer = \"0.5 mm\"` or `fillet = \"1 mm\"`",
                ),
            }
            if let EdgePlace::At(size) = &edge.at
                && !(0.0..=10_000.0).contains(&size.mm)
            {
                self.say(at("at"), format!("{} mm is no place on the part", size.mm), "give the distance from the rod end");
            }
            if let Some(diameter) = &edge.diameter {
                self.positive_size(at("diameter"), diameter);
            }
        }
        if body.edge.len() > MOST_EDGES {
            self.say(vec![Key("body"), Key("edge"), Index(MOST_EDGES)], format!("more than {MOST_EDGES} edges"), "leave the finest out");
        }
    }

    fn mark(&mut self, body: &Body) {
        let Some(mark) = &body.mark else { return };
        let at = |key| vec![Key("body"), Key("mark"), Key(key)];
        let letters = mark.text.chars().count();
        if !(1..=LONGEST_MARK).contains(&letters) || mark.text.trim().is_empty() || mark.text.chars().any(char::is_control) {
            self.say(
                at("text"),
                format!("{letters} letters; 1 to {LONGEST_MARK} in one line were expected"),
                "a few initials and a year do",
            );
        }
        for (key, size, least) in [("height", &mark.height, 0.8), ("depth", &mark.depth, 0.05)] {
            if let Some(size) = size
                && !(least..=50.0).contains(&size.mm)
            {
                self.say(
                    at(key),
                    format!("{} mm; {least} to 50 mm was expected", size.mm),
                    "engraved detail wants lines 0.4 mm wide and as deep",
                );
            }
        }
    }

    fn routes(&mut self, body: &Body) {
        let at = |table, key| vec![Key("body"), Key(table), Key(key)];
        if let Some(percent) = body.print.as_ref().and_then(|print| print.shrinkage_percent) {
            self.range(at("print", "shrinkage_percent"), percent, -2.0, 10.0, "percent of linear shrinkage");
        }
        if let Some(cast) = &body.cast {
            if let Some([low, high]) = cast.shrinkage_percent {
                self.range(at("cast", "shrinkage_percent"), low, 0.0, 10.0, "percent of linear shrinkage");
                self.range(at("cast", "shrinkage_percent"), high, low.max(0.0), 10.0, "percent of linear shrinkage, the greater second,");
            }
            for part in cast.mix.into_iter().flatten() {
                self.range(at("cast", "mix"), part, 0.1, 1000.0, "parts by weight");
            }
            if let Some(density) = cast.density_g_ml {
                self.range(at("cast", "density_g_ml"), density, 0.3, 10.0, "g/mL");
            }
            if let Some(wall) = &cast.mould_wall {
                self.positive_size(at("cast", "mould_wall"), wall);
            }
        }
        if let Some(turn) = &body.turn {
            for (key, size) in [("step", &turn.step), ("nose", &turn.nose)] {
                if let Some(size) = size {
                    self.positive_size(at("turn", key), size);
                }
            }
        }
    }

    fn all_positive(&mut self, table: &'static str, sizes: &[(&'static str, &Size)]) {
        for (key, size) in sizes {
            self.positive_size(vec![Key("body"), Key(table), Key(key)], size);
        }
    }
}
