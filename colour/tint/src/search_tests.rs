//! The bound and the search against brute force, over many made-up pots.

use crate::ball::ball;
use crate::forward::{FilmKind, Optics, Pigment};
use crate::goal::{Aim, Goal};
use crate::lattice::{Cell, Lattice, MOST_USED, Pot};
use crate::optics::{BANDS, Surface};
use crate::search::{Doubts, Held, Limits, Shared, search};
use cie::Light;
use nalgebra::DVector;
use solve::Sampler;

struct Made {
    optics: Optics,
    aim: Aim,
    pot: Pot,
    shift: DVector<f64>,
}

/// A made-up pot of `n` colourants: any film, colourants that scatter or not, lose strength or gain it, with or without something in already.
fn made(s: &mut Sampler, n: usize) -> Made {
    let band = |s: &mut Sampler, size: f64| -> [f64; BANDS] {
        let (centre, width, floor) = (s.between(0.0, 30.0), s.between(3.0, 12.0), s.between(0.01, 0.3));
        std::array::from_fn(|i| size * (floor + (-0.5 * ((i as f64 - centre) / width).powi(2)).exp()))
    };
    let pigments = (0..n).map(|_| {
        let k = 30.0 * (s.normal()).exp();
        let scatter = if s.uniform() < 0.3 { s.between(0.0, 300.0) } else { s.between(0.0, 2.0) };
        Pigment { k: band(s, k), s: [scatter; BANDS], loss: s.between(-2.0, 12.0) }
    });
    let colourants: Vec<Pigment> = pigments.collect();
    let film = FilmKind { thickness_mm: (s.uniform() < 0.7).then(|| s.between(0.3, 5.0)), surface: Surface::PLASTIC };
    let size = s.between(0.1, 6.0);
    let optics = Optics { resin_k: band(s, 0.02), resin_s: [size; BANDS], backing: s.uniform(), colourants, film };
    let lights = if s.uniform() < 0.3 { vec![Light::D65, Light::A] } else { vec![Light::D65] };
    let mut goal = Goal::d65([s.between(20.0, 90.0), s.between(-40.0, 40.0), s.between(-40.0, 40.0)], 0.0, 20.0, 40);
    let base = goal.wanted[0].clone();
    goal.wanted = lights.into_iter().map(|light| crate::Wanted { light, weight: 1.0, ..base.clone() }).collect();
    let base_ml = (0..n).map(|_| if s.uniform() < 0.2 { s.between(0.0, 0.2) } else { 0.0 }).collect();
    let pot = Pot { resin_ml: s.between(5.0, 60.0), base_ml, unit_ml: (0..n).map(|_| s.between(0.01, 0.05)).collect() };
    let rows = 3 * goal.wanted.len();
    let shift = DVector::from_fn(rows, |_, _| 0.5 * s.normal());
    let mut aim = Aim::new(&goal).expect("a fair goal");
    // Half the targets are colours of the pot itself, so that the search has something near to find.
    if s.uniform() < 0.5 {
        let mix = crate::bench::Mix {
            resin_ml: pot.resin_ml,
            ml: (0..n).map(|i| s.between(0.0, 15.0) * pot.unit_ml[i]).collect(),
            scatter: vec![0.0; n],
        };
        let r = optics.reflectance(&mix);
        for (l, weights) in aim.weights.iter().enumerate() {
            aim.labs[l] = crate::forward::lab_and_slopes(weights, &r).0.into();
        }
    }
    Made { optics, aim, pot, shift }
}

fn points(cell: &Cell, n: usize) -> Vec<[u32; MOST_USED]> {
    let mut all = vec![[0; MOST_USED]];
    for j in 0..n {
        all = all
            .into_iter()
            .flat_map(|p| {
                (cell.low[j]..=cell.high[j]).map(move |v| {
                    let mut q = p;
                    q[j] = v;
                    q
                })
            })
            .collect();
    }
    all
}

#[test]
fn no_mix_beats_its_bound() {
    let mut s = Sampler::new(11);
    let (mut tight, mut cells) = (0, 0);
    for _ in 0..400 {
        let n = 1 + s.below(4);
        let m = made(&mut s, n);
        let lattice = Lattice::new(&m.optics, &m.aim, &m.pot, (0..n).collect(), &m.shift);
        let mut cell = Cell { low: [0; MOST_USED], high: [0; MOST_USED] };
        for j in 0..n {
            cell.low[j] = s.below(20) as u32;
            cell.high[j] = cell.low[j] + s.below(5) as u32;
        }
        let least = points(&cell, n).iter().map(|p| lattice.score(p)).fold(f64::INFINITY, f64::min);
        // Scales for a reach that just holds the best point: then the bound must not exceed its score.
        let reach = least * s.between(1.0, 1.2);
        let scales: Vec<[f64; 3]> = m.aim.labs.iter().zip(&m.aim.shares).map(|(lab, share)| ball(*lab, reach / share.sqrt()).q).collect();
        let bound = lattice.bound(&cell, &scales);
        assert!(bound <= least + 1e-9, "bound {bound} > best {least} in {cell:?}");
        cells += usize::from(reach < 10.0);
        tight += usize::from(reach < 10.0 && bound > 0.3 * least);
    }
    assert!(3 * tight > cells, "the bound is far too loose: {tight} of {cells}");
}

#[test]
fn search_finds_what_brute_force_finds() {
    let mut s = Sampler::new(23);
    for round in 0..120 {
        let n = 1 + s.below(3);
        let m = made(&mut s, n);
        let lattice = Lattice::new(&m.optics, &m.aim, &m.pot, (0..n).collect(), &m.shift);
        let most: Vec<u32> = (0..n).map(|_| 1 + s.below(14) as u32).collect();
        let share = (0..n).map(|_| if s.uniform() < 0.3 { s.between(0.002, 0.05) } else { 1.0 }).collect();
        let limits = Limits { least: (0..n).map(|_| s.below(3) as u32).collect(), most, all: 5 + s.below(30) as u32, share };
        let radius = if s.uniform() < 0.5 { 1e3 } else { s.between(0.1, 5.0) };
        let keep = 1 + s.below(5);
        let size = if s.uniform() < 0.3 { 0.0 } else { s.between(0.0, 3.0) };
        let doubt = |units: &[f64; MOST_USED]| size * (1.0 + (0.7 * units[0] - 0.3 * units[1] + units[2]).sin());
        let mut doubts = Doubts::new(&doubt, n, 15);
        let found = search(&lattice, &limits, &mut doubts, keep, &Shared::new(radius));
        let wanted = brute(&lattice, &m.pot, &limits, &mut doubts, keep, radius);
        assert_eq!(found.len(), wanted.len(), "round {round}");
        for (a, b) in found.iter().zip(&wanted) {
            assert!((a.score - b.score).abs() < 1e-12 && a.units == b.units, "round {round}: {a:?} {b:?}");
        }
    }
}

fn brute(lattice: &Lattice, pot: &Pot, limits: &Limits, doubts: &mut Doubts, keep: usize, radius: f64) -> Vec<Held> {
    let n = limits.most.len();
    let mut cell = Cell { low: [0; MOST_USED], high: [0; MOST_USED] };
    for j in 0..n {
        (cell.low[j], cell.high[j]) = (limits.least[j].max(1), limits.most[j]);
    }
    let allowed = |p: &[u32; MOST_USED]| {
        let volume = |i: usize| pot.base_ml[i] + f64::from(p[i]) * pot.unit_ml[i];
        let total = pot.resin_ml + (0..n).map(volume).sum::<f64>();
        p[..n].iter().sum::<u32>() <= limits.all && (0..n).all(|i| volume(i) / total <= limits.share[i] + 1e-12)
    };
    let mut all: Vec<Held> = points(&cell, n)
        .iter()
        .filter(|p| allowed(p))
        .map(|p| Held { score: lattice.score(p).hypot(doubts.at(p)), units: p[..n].to_vec() })
        .filter(|h| h.score <= radius)
        .collect();
    all.sort_by(Held::order);
    all.truncate(keep);
    all
}

/// Twelve colourants, four used, forty drops: the size that is asked for. Doubt is nothing, and told for no colourant at all, so that it costs nothing.
#[test]
fn twelve_bottles_are_searched_through() {
    let mut s = Sampler::new(5);
    let m = made(&mut s, 12);
    let shared = Shared::new(0.5);
    let limits = Limits { least: vec![1; 12], most: vec![40; 12], all: 40, share: vec![1.0; 12] };
    for used in crate::optimum::subsets(12, 4) {
        let lattice = Lattice::new(&m.optics, &m.aim, &m.pot, used, &m.shift);
        search(&lattice, &limits, &mut Doubts::new(&|_| 0.0, 0, 40), 1, &shared);
    }
    assert!(!shared.exhausted(), "{} nodes", shared.nodes());
    assert!(shared.nodes() > 1000, "nothing was searched: {} nodes", shared.nodes());
}
