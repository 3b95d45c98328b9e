//! In which order further taps lie along the crack, between the first two, which are its ends.

/// Up to this many further taps every order is weighed; beyond it each goes where it adds least.
const EXACT: usize = 9;

/// Order of the taps along the crack: starts with 0, ends with 1, and has the further ones where the
/// sum of `cost[i][j]` between followers is least.
pub fn along(cost: &[Vec<f64>]) -> Vec<usize> {
    let n = cost.len();
    match n {
        0 | 1 => (0..n).collect(),
        2 => vec![0, 1],
        _ if n - 2 <= EXACT => exact(cost),
        _ => by_insertion(cost),
    }
}

/// Held and Karp's dynamic programme over sets of taps.
fn exact(cost: &[Vec<f64>]) -> Vec<usize> {
    let m = cost.len() - 2;
    let sets = 1usize << m;
    let mut best = vec![vec![f64::INFINITY; m]; sets];
    let mut from = vec![vec![usize::MAX; m]; sets];
    for j in 0..m {
        best[1 << j][j] = cost[0][j + 2];
    }
    for set in 1..sets {
        for j in (0..m).filter(|j| set >> j & 1 == 1) {
            let here = best[set][j];
            for k in (0..m).filter(|k| set >> k & 1 == 0) {
                let t = here + cost[j + 2][k + 2];
                let next = set | 1 << k;
                if t < best[next][k] {
                    best[next][k] = t;
                    from[next][k] = j;
                }
            }
        }
    }
    let mut set = sets - 1;
    let mut j = (0..m)
        .min_by(|a, b| {
            (best[set][*a] + cost[a + 2][1]).total_cmp(&(best[set][*b] + cost[b + 2][1]))
        })
        .unwrap_or(0);
    let mut order = vec![1];
    loop {
        order.push(j + 2);
        let before = from[set][j];
        set &= !(1 << j);
        if before == usize::MAX {
            break;
        }
        j = before;
    }
    order.push(0);
    order.reverse();
    order
}

/// Each further tap is put between the two followers where it adds least.
fn by_insertion(cost: &[Vec<f64>]) -> Vec<usize> {
    let mut order = vec![0, 1];
    for t in 2..cost.len() {
        let at = (1..order.len())
            .min_by(|a, b| {
                let adds = |i: usize| {
                    cost[order[i - 1]][t] + cost[t][order[i]] - cost[order[i - 1]][order[i]]
                };
                adds(*a).total_cmp(&adds(*b))
            })
            .unwrap_or(1);
        order.insert(at, t);
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on_a_line(places: &[f64]) -> Vec<Vec<f64>> {
        places
            .iter()
            .map(|a| places.iter().map(|b| (a - b).abs()).collect())
            .collect()
    }

    #[test]
    fn taps_fall_into_their_places_whatever_their_order() {
        assert_eq!(along(&on_a_line(&[0.0, 9.0])), [0, 1]);
        assert_eq!(
            along(&on_a_line(&[0.0, 9.0, 7.0, 2.0, 5.0])),
            [0, 3, 4, 2, 1]
        );
        let many: Vec<f64> = [0.0, 20.0]
            .into_iter()
            .chain((1..16).rev().map(f64::from))
            .collect();
        let order = along(&on_a_line(&many));
        let sorted: Vec<f64> = order.iter().map(|i| many[*i]).collect();
        assert!(sorted.is_sorted(), "{sorted:?}");
    }
}
