//! How good the growth window is on real cracks, beside a straight line.
//!
//! `cargo run --release -p witnessmark-core --example growth_paths -- fatigue_lu_meeker.csv`
//! reads columns Path, cycles, relLength (Lu & Meeker 1993, Technometrics 35:161, relative to
//! 0.90 in), cuts each path three times before each limit, adds seeded measuring error and counts
//! how often the window starts too late, holds the true crossing, or is refused.

use witnessmark_core::history::window::{Law, Point, estimate};

fn main() {
    let file = std::env::args().nth(1).unwrap_or_default();
    let Ok(text) = std::fs::read_to_string(&file) else {
        println!("SKIPPED: {file:?} cannot be read; name the file of crack paths");
        return;
    };
    let paths = paths(&text);
    for u in [0.01, 0.02] {
        for limit in [1.2, 1.4, 1.6] {
            for (name, law) in [("crack", Law::Crack), ("line", Law::Line)] {
                let mut count = Count::default();
                for path in &paths {
                    count.path(path, limit, u, law);
                }
                count.print(name, limit, u);
            }
        }
    }
}

fn paths(text: &str) -> Vec<Vec<(f64, f64)>> {
    let mut paths: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut name = String::new();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let [path, cycles, length] = cells[..] else {
            continue;
        };
        let (Ok(cycles), Ok(length)) = (cycles.parse::<f64>(), length.parse::<f64>()) else {
            continue;
        };
        if name != path {
            path.clone_into(&mut name);
            paths.push(Vec::new());
        }
        if let Some(points) = paths.last_mut() {
            points.push((cycles, 0.9 * length));
        }
    }
    paths
}

#[derive(Default)]
struct Count {
    cases: u32,
    declined: u32,
    late: u32,
    held: u32,
    open: u32,
    widths: Vec<f64>,
}

impl Count {
    fn path(&mut self, path: &[(f64, f64)], limit: f64, u: f64, law: Law) {
        let Some(over) = path.iter().position(|p| p.1 >= limit) else {
            return;
        };
        let (a, b) = (path[over - 1], path[over]);
        let truth = a.0 + (b.0 - a.0) * (limit - a.1) / (b.1 - a.1);
        for share in [0.4, 0.6, 0.8] {
            let n = ((over as f64 * share).round() as usize).max(3);
            for seed in 0..20 {
                let mut dice = Dice(seed * 7919 + n as u64 + 1);
                let points: Vec<Point> = path[..n]
                    .iter()
                    .map(|p| Point {
                        x: p.0,
                        y: p.1 + u * dice.normal(),
                        u,
                    })
                    .collect();
                self.cases += 1;
                match estimate(&points, limit, law) {
                    Err(_) => self.declined += 1,
                    Ok(window) => {
                        self.late += u32::from(window.earliest > truth);
                        self.held += u32::from(
                            window.earliest <= truth && window.latest.is_none_or(|l| l >= truth),
                        );
                        match window.latest {
                            None => self.open += 1,
                            Some(latest) => self
                                .widths
                                .push((latest - window.earliest) / (truth - points[n - 1].x)),
                        }
                    }
                }
            }
        }
    }

    fn print(&mut self, name: &str, limit: f64, u: f64) {
        self.widths.sort_by(f64::total_cmp);
        let given = f64::from(self.cases - self.declined);
        println!(
            "{name:5} limit {limit} in, u {u} in: {} cases, declined {:.1} %, starts late {:.1} %, holds {:.1} %, open {:.1} %, median width {:.2} of the time left",
            self.cases,
            100.0 * f64::from(self.declined) / f64::from(self.cases),
            100.0 * f64::from(self.late) / given,
            100.0 * f64::from(self.held) / given,
            100.0 * f64::from(self.open) / given,
            self.widths
                .get(self.widths.len() / 2)
                .copied()
                .unwrap_or(f64::NAN),
        );
    }
}

/// SplitMix64 and Box–Muller: seeded measuring error, nothing of the product.
struct Dice(u64);

impl Dice {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}
