//! Exact quantities: rationals, units, and how many digits an uncertainty allows.

mod rational;

pub use rational::Rational;
