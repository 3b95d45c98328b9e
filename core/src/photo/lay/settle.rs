//! From a rough motion to a fine one: the cells of the proof are looked for around where the motion
//! puts them, and the motion is mended by what most of them agree on, from coarse to fine. The rival,
//! Lucas and Kanade's descent on brightness, ran astray on reflections that moved with the light.

use nalgebra::{Matrix3, Matrix3x2};

use super::consensus::{least_squares, off};
use super::evened::{Stack, at_size, from_size};
use super::homography;
use super::proof::{self, Cell};
use crate::error::Result;
use crate::photo::progress::Progress;

/// The motion mended at each of the sizes in turn (0 the largest).
pub fn settled(
    a: &Stack,
    b: &Stack,
    start: Matrix3<f64>,
    sizes: &[usize],
    progress: &Progress,
) -> Result<Matrix3<f64>> {
    let mut m = start;
    for &size in sizes {
        progress.check()?;
        let (Some(p), Some(q), Some(here)) = (a.at(size), b.at(size), at_size(&m, size)) else {
            continue;
        };
        let (cells, _) = proof::cells(p, q, &here);
        let mended = agreed(&cells)
            .and_then(|change| homography::scaled(here * change))
            .and_then(|m| from_size(&m, size));
        if let Some(next) = mended
            && homography::sane(&next)
        {
            m = next;
        }
    }
    Ok(m)
}

/// The change of the first plane that takes the middles of most cells to where they were found.
fn agreed(cells: &[Cell]) -> Option<Matrix3<f64>> {
    let good: Vec<([f64; 2], [f64; 2])> = cells
        .iter()
        .filter(|c| c.fit >= 0.5)
        .map(|c| (c.at, [c.at[0] + c.shift[0], c.at[1] + c.shift[1]]))
        .collect();
    if good.len() < 6 {
        return None;
    }
    let mut seed = 0x9E37_79B9_7F4A_7C15u64;
    let mut below = |n: usize| {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        ((seed >> 33) as usize) % n.max(1)
    };
    let votes = |m: &Matrix3<f64>| good.iter().filter(|(p, q)| off(m, *p, *q) < 1.3).count();
    let mut best = (0, Matrix3::identity());
    for _ in 0..200 {
        let three = [0; 3].map(|_| good[below(good.len())]);
        if let Some(m) = affine(three) {
            let n = votes(&m);
            if n > best.0 {
                best = (n, m);
            }
        }
    }
    let mut m = best.1;
    for round in 0..6 {
        let close: Vec<_> = good
            .iter()
            .filter(|(p, q)| off(&m, *p, *q) < 1.6)
            .copied()
            .collect();
        let full = round >= 2 && close.len() >= 14;
        if let Some(next) = least_squares(&close, full) {
            m = next;
        }
    }
    Some(m)
}

/// The affine change by three points; none if they lie nearly on a line or it changes too much.
fn affine(three: [([f64; 2], [f64; 2]); 3]) -> Option<Matrix3<f64>> {
    let from = Matrix3::from_fn(|r, c| if r < 2 { three[c].0[r] } else { 1.0 });
    if from.determinant().abs() < 600.0 {
        return None;
    }
    let to = Matrix3x2::from_fn(|c, r| three[c].1[r]).transpose();
    let m = to * from.try_inverse()?;
    let a = Matrix3::new(
        m[(0, 0)],
        m[(0, 1)],
        m[(0, 2)],
        m[(1, 0)],
        m[(1, 1)],
        m[(1, 2)],
        0.0,
        0.0,
        1.0,
    );
    let small =
        (a[(0, 0)] - 1.0).abs() + a[(0, 1)].abs() + a[(1, 0)].abs() + (a[(1, 1)] - 1.0).abs();
    (small < 0.4).then_some(a)
}
