//! A box of ellipsoids around the target that holds every colour within a given CIEDE2000, so that a bound on a plain distance is a bound on it.

use cie::Lab;

/// Scales q with dE00(P, T)^2 >= (q_l dL)^2 + (q_a da)^2 + (q_b db)^2 for every P within `reach` of T by CIEDE2000.
///
/// **Proof.** Let D^2 = da'^2 + db^2. Sharma's identities give dC'^2 + dH'^2 = D^2 (law of cosines), and da' = (1 + G) da, because G is common
/// to the pair. The chroma part is x^2 + y^2 + R_T x y with x = dC'/S_C, y = dH'/S_H, and x y >= -(x^2 + y^2) / 2 and <= the same with +, so it
/// is at least (1 - |R_T| / 2) (x^2 + y^2) >= (1 - |R_T| / 2) D^2 / S^2 where S = 1 + 0.045 C bounds S_C and S_H (T <= 1.93, so 0.015 T < 0.045)
/// and C is the mean chroma, at most C1' + D / 2 by the triangle inequality. D / (1 + 0.045 (C1' + D / 2)) grows with D; so dE00 <= reach
/// bounds D, once |R_T| is bounded. That is done in rounds, each valid for the set that the one before left: first |R_T| <= 2 R_C sin 60, then
/// with the hue interval that D allows. S_L grows with |L - 50| of the mean lightness, bounded by the dL that reach allows. Every bound is
/// thus taken over a set that holds all P in question. Checked against random pairs in test `ball_holds`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ball {
    pub q: [f64; 3],
}

pub(crate) fn ball(target: Lab, reach: f64) -> Ball {
    let chroma = target.chroma();
    // G falls as the mean chroma grows; the other colour has at least none, at most D more.
    let g = |mean: f64| 0.5 * (1.0 - seventh(mean));
    let most_g = g(0.5 * chroma);
    let c1 = (target.a * (1.0 + most_g)).hypot(target.b);
    let mut distance = f64::INFINITY;
    for _ in 0..4 {
        let turn = most_turn(target, c1, distance);
        let inner = (1.0 - 0.5 * turn).max(1e-6).sqrt();
        let room = inner - 0.0225 * reach;
        if room > 0.0 {
            distance = distance.min(reach * (1.0 + 0.045 * c1) / room);
        }
    }
    if !distance.is_finite() {
        return Ball { q: [0.0; 3] };
    }
    let mean = c1 + 0.5 * distance;
    let q = (1.0 - 0.5 * most_turn(target, c1, distance)).max(0.0).sqrt() / (1.0 + 0.045 * mean);
    // S_L = 1 + 0.015 m^2 / sqrt(20 + m^2) <= 1 + 0.015 m with m = |mean L - 50|, at most |L1 - 50| + dL / 2, dL <= reach S_L.
    let off = (target.l - 50.0).abs();
    let room = 1.0 - 0.0075 * reach;
    let q_l = if room > 0.0 {
        let d_l = reach * (1.0 + 0.015 * off) / room;
        let m = off + 0.5 * d_l;
        1.0 / (1.0 + 0.015 * m * m / (20.0 + m * m).sqrt())
    } else {
        0.0
    };
    Ball { q: [q_l, q * (1.0 + g(chroma + 0.5 * distance)), q] }
}

/// sqrt(c^7 / (c^7 + 25^7)).
fn seventh(c: f64) -> f64 {
    if c <= 0.0 { 0.0 } else { (1.0 / (1.0 + (25.0 / c).powi(7))).sqrt() }
}

/// The greatest |R_T| when the other colour lies within `distance` of the target in the (a', b) plane.
fn most_turn(target: Lab, c1: f64, distance: f64) -> f64 {
    let sixty = 60f64.to_radians().sin();
    if !distance.is_finite() {
        return 2.0 * sixty;
    }
    let by_chroma = 2.0 * seventh(c1 + 0.5 * distance);
    // The smallest C1' goes with G = 0; hue' of the target lies between that of G = 0 and of G = 0.5.
    let least = target.chroma();
    if distance >= least {
        return by_chroma * sixty;
    }
    let hue = |g: f64| Lab::new(0.0, target.a * (1.0 + g), target.b).hue_deg();
    let (h0, h1) = (hue(0.0), hue(0.5));
    // The mean hue strays by at most half of what the other's hue does, and the other's by at most asin(D / C1').
    let stray = 0.5 * (distance / least).asin().to_degrees() + apart_deg(h0, h1);
    let near = (apart_deg(h0, 275.0) - stray).max(0.0);
    by_chroma * (60.0 * (-(near / 25.0).powi(2)).exp()).to_radians().sin()
}

fn apart_deg(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(360.0);
    d.min(360.0 - d)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cie::ciede2000;
    use solve::Sampler;

    #[test]
    fn ball_holds() {
        let mut s = Sampler::new(7);
        let mut tight = 0;
        for _ in 0..20_000 {
            let target = Lab::new(s.between(0.0, 100.0), s.between(-90.0, 90.0), s.between(-90.0, 90.0));
            let size = s.between(0.01, 12.0);
            let other = Lab::new(target.l + size * s.normal(), target.a + size * s.normal(), target.b + size * s.normal());
            let difference = ciede2000(target, other);
            let q = ball(target, difference * s.between(1.0, 1.3)).q;
            let bound =
                ((q[0] * (target.l - other.l)).powi(2) + (q[1] * (target.a - other.a)).powi(2) + (q[2] * (target.b - other.b)).powi(2))
                    .sqrt();
            assert!(bound <= difference + 1e-9, "{target:?} {other:?}: {bound} > {difference}");
            tight += usize::from(bound > 0.4 * difference);
        }
        assert!(tight > 14_000, "the bound is far too loose: only {tight} of 20000 within a factor 2.5");
    }
}
