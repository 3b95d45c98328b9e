//! Prints every conversion between two units of one dimension, exact, for `tests/outside/units.py`:
//! value, unit, unit, result, with tabs between.
use witnessmark_core::quantity::{Rational, Unit};

fn main() {
    let values: Vec<Rational> = ["1", "9/4", "-7.5", "0.031"]
        .iter()
        .filter_map(|text| text.parse().ok())
        .collect();
    for value in &values {
        for from in Unit::ALL {
            for to in Unit::ALL
                .iter()
                .filter(|to| to.dimension() == from.dimension())
            {
                if let Ok(result) = from.convert(value, *to) {
                    println!("{value}\t{from}\t{to}\t{result}");
                }
            }
        }
    }
}
