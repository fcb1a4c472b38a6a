use crate::evidence::{Decision, Evidence, Kind, Role};
use nalgebra::DMatrix;

/// Two values of one measurement agree to this, mm: they were worked out from the same numbers.
const SAME_VALUE_MM: f64 = 0.005;
/// A combination of sizes with less than this share of a size's variance is no second measurement.
const LITTLE_LEFT: f64 = 0.02;

/// Sizes without their doubles (a flange that is also the greatest diameter), so that nothing is heard twice.
pub struct Unique {
    /// The evidence with each size once, decisions renamed.
    pub evidence: Evidence,
    /// For each size as given, its index in `evidence`.
    pub index: Vec<usize>,
}

/// Takes out every size that an earlier one repeats: same kind, same value, hardly any variance between the two.
pub fn without_doubles(given: &Evidence) -> Unique {
    let c = &given.covariance;
    let mut kept: Vec<usize> = Vec::new();
    let mut index = Vec::with_capacity(given.sizes.len());
    for (i, size) in given.sizes.iter().enumerate() {
        let repeats = |j: &usize| {
            let other = &given.sizes[*j];
            let same_kind = (other.kind == Kind::Diameter) == (size.kind == Kind::Diameter);
            let between = c[(i, i)] + c[(*j, *j)] - c[(i, *j)] - c[(*j, i)];
            same_kind && (other.value_mm - size.value_mm).abs() < SAME_VALUE_MM && between <= LITTLE_LEFT * c[(i, i)]
        };
        match kept.iter().position(repeats) {
            Some(at) => index.push(at),
            None => {
                index.push(kept.len());
                kept.push(i);
            }
        }
    }
    Unique { evidence: reduced(given, &kept, &index), index }
}

fn reduced(given: &Evidence, kept: &[usize], index: &[usize]) -> Evidence {
    let sizes = kept.iter().map(|i| given.sizes[*i].clone()).collect::<Vec<_>>();
    let covariance = DMatrix::from_fn(kept.len(), kept.len(), |a, b| given.covariance[(kept[a], kept[b])]);
    let renamed = |name: &str| -> String {
        let at = given.sizes.iter().position(|size| size.name == name);
        at.and_then(|at| sizes.get(index[at])).map_or(name.into(), |size| size.name.clone())
    };
    let decisions = given
        .decisions
        .iter()
        .map(|decision| match decision.clone() {
            Decision::Choose { name, mm } => Decision::Choose { name: renamed(&name), mm },
            Decision::Refuse { name, mm } => Decision::Refuse { name: renamed(&name), mm },
            Decision::Reading { name, mm, sigma_mm } => Decision::Reading { name: renamed(&name), mm, sigma_mm },
        })
        .collect();
    Evidence { sizes, covariance, decisions, ..given.clone() }
}

/// Whether each size has something of its own to say. A bead's width that is the difference of two measured positions has not: its
/// odds follow from theirs, but must not count again towards the unit. A person's word about it lets it speak.
pub fn speakers(evidence: &Evidence) -> Vec<bool> {
    let mut speaks = vec![true; evidence.sizes.len()];
    // Later sizes are the finer print: they fall silent first.
    for i in (0..evidence.sizes.len()).rev() {
        let size = &evidence.sizes[i];
        let decided = evidence.decisions.iter().any(|decision| decision.name() == size.name);
        if size.kind == Kind::Length && size.role != Role::Overall && !decided {
            speaks[i] = !is_difference(evidence, i, &speaks);
        }
    }
    speaks
}

fn is_difference(evidence: &Evidence, i: usize, speaks: &[bool]) -> bool {
    let (sizes, c) = (&evidence.sizes, &evidence.covariance);
    let along: Vec<usize> = (0..sizes.len()).filter(|j| *j != i && speaks[*j] && sizes[*j].kind != Kind::Diameter).collect();
    along.iter().any(|&far| {
        along.iter().filter(|&&near| near != far).any(|&near| {
            let left = sizes[i].value_mm - (sizes[far].value_mm - sizes[near].value_mm);
            let terms = [(i, 1.0), (far, -1.0), (near, 1.0)];
            let variance: f64 = terms.iter().flat_map(|(a, s)| terms.iter().map(move |(b, t)| s * t * c[(*a, *b)])).sum();
            left.abs() < SAME_VALUE_MM && variance <= LITTLE_LEFT * c[(i, i)]
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Measured;

    fn evidence(sizes: &[(&str, Kind, f64)], covariance: DMatrix<f64>) -> Evidence {
        let sizes = sizes.iter().map(|(name, kind, value_mm)| Measured {
            name: (*name).into(),
            kind: *kind,
            role: Role::Feature,
            z_mm: [0.0; 2],
            value_mm: *value_mm,
        });
        Evidence::new(sizes.collect(), covariance, None)
    }

    #[test]
    fn a_width_between_two_positions_keeps_silent_until_asked() {
        let c = DMatrix::from_row_slice(3, 3, &[0.01, 0.0, -0.01, 0.0, 0.01, 0.01, -0.01, 0.01, 0.02]);
        let sizes = [("start", Kind::Position, 9.02), ("end", Kind::Position, 13.05), ("width", Kind::Length, 4.03)];
        let mut evidence = evidence(&sizes, c);
        assert_eq!(speakers(&evidence), [true, true, false]);
        evidence.decisions.push(Decision::Refuse { name: "width".into(), mm: 4.0 });
        assert_eq!(speakers(&evidence), [true, true, true]);
        evidence.decisions.clear();
        evidence.covariance = DMatrix::identity(3, 3) * 0.01;
        assert_eq!(speakers(&evidence), [true, true, true]);
    }

    #[test]
    fn a_double_is_taken_out_and_its_decisions_go_to_the_first() {
        let c = DMatrix::from_element(2, 2, 0.01);
        let mut evidence = evidence(&[("greatest", Kind::Diameter, 20.0), ("flange", Kind::Diameter, 20.0)], c);
        evidence.decisions.push(Decision::Choose { name: "flange".into(), mm: 20.0 });
        let unique = without_doubles(&evidence);
        assert_eq!((unique.evidence.sizes.len(), unique.index), (1, vec![0, 0]));
        assert_eq!(unique.evidence.decisions[0].name(), "greatest");
    }
}
