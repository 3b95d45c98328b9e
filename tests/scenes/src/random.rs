//! A small seeded generator of random numbers, so that a seed gives the same picture on every
//! machine and with every version of every library.
//!
//! SplitMix64 (Steele, Lea, Flood 2014; constants from memory). Rival: the `rand` crate, refused
//! because its streams change between major versions and with them every picture.

/// Seeded random numbers.
#[derive(Clone, Debug)]
pub struct Random(u64);

/// Scrambles 64 bits (the finaliser of SplitMix64).
pub fn scramble(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Random {
    /// A generator for this seed; neighbouring seeds give unrelated streams.
    pub fn new(seed: u64) -> Self {
        Random(scramble(seed.wrapping_add(0x9e37_79b9_7f4a_7c15)))
    }

    /// A generator of its own for a part of a scene, so that a change to one part moves no other.
    pub fn part(&self, name: u64) -> Self {
        Random(scramble(
            self.0 ^ scramble(name.wrapping_mul(0x9e37_79b9_7f4a_7c15)),
        ))
    }

    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        scramble(self.0)
    }

    /// Uniform in [0, 1).
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform between two bounds.
    pub fn range(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number below `n` (0 when `n` is 0).
    pub fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// True with this probability.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A normal deviate with mean 0 and standard deviation 1 (Box-Muller).
    pub fn gauss(&mut self) -> f64 {
        let u = 1.0 - self.unit();
        let v = self.unit();
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    /// A cheap, nearly normal deviate for sensor noise: four uniform 16-bit numbers added
    /// (Irwin-Hall), mean 0, standard deviation 1, never beyond 3.5.
    pub fn grain(&mut self) -> f32 {
        let b = self.bits();
        let sum = (b & 0xffff) + ((b >> 16) & 0xffff) + ((b >> 32) & 0xffff) + (b >> 48);
        // Variance of the sum of four uniforms on 0..65536 is 4/12 of the square of the width.
        (sum as f32 - 131_070.0) / (65_536.0 * 0.577_350_3)
    }
}

/// Factors of the two coordinates in [`lattice`].
pub const LATTICE_X: u64 = 0x9e37_79b9_7f4a_7c15;
/// See [`LATTICE_X`].
pub const LATTICE_Y: u64 = 0xc2b2_ae3d_27d4_eb4f;

/// A quick scrambling of a key, good enough for textures; its high bits are the best.
pub fn mix(key: u64) -> u64 {
    let z = (key ^ (key >> 32)).wrapping_mul(0xd6e8_feb8_6659_fd93);
    z ^ (z >> 32)
}

/// A hash of a lattice point, for noise that needs no table.
pub fn lattice(x: i64, y: i64, seed: u64) -> u64 {
    mix((x as u64)
        .wrapping_mul(LATTICE_X)
        .wrapping_add((y as u64).wrapping_mul(LATTICE_Y))
        .wrapping_add(seed))
}
