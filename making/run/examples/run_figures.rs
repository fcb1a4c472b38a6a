//! Figures for proof/batch_second_opinion.py: one line a figure, `what arguments = value`.

#![allow(clippy::print_stdout)] // a script reads them

use run::*;

fn main() -> Result<(), RunError> {
    let none = LoadLoss::Known(0.0);
    for (wanted, start, p) in [(10, 12, 0.9), (24, 29, 0.85), (24, 33, 0.8), (200, 240, 0.88), (1000, 1300, 0.8)] {
        println!("binomial_sf {wanted} {start} {p} = {:?}", chance(wanted, start, 1, Yield::Known(p), none)?);
    }
    for (wanted, start, made, good) in [(10, 12, 10, 8), (24, 33, 10, 8), (24, 47, 10, 8), (24, 30, 200, 180), (100, 140, 33, 29)] {
        println!(
            "betabinomial_sf {wanted} {start} {made} {good} = {:?}",
            chance(wanted, start, 1, Yield::Learnt(Experience { made, good }), none)?
        );
    }
    for (wanted, start, loads, p, q) in [(24, 36, 3, 0.85, 0.05), (10, 24, 2, 0.9, 0.1)] {
        println!("lost_loads {wanted} {start} {loads} {p} {q} = {:?}", chance(wanted, start, loads, Yield::Known(p), LoadLoss::Known(q))?);
    }
    for (width, depth, gap, across) in
        [(130.0, 80.0, 4.0, 22.225), (218.0, 123.0, 2.0, 12.7), (60.0, 200.0, 5.0, 55.0), (143.0, 89.0, 3.0, 7.3)]
    {
        let plate = Plate { width_mm: width, depth_mm: depth, gap_mm: gap };
        for [x, y] in pack(plate, across)?.places_mm {
            println!("place {width} {depth} {gap} {across} {x:?} {y:?} = 0");
        }
    }
    Ok(())
}
