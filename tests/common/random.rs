//! Random numbers of tests that draw whole units: the same on every machine.

use stallheat::band::normal_quantile;

/// A multiplicative congruential generator, MINSTD (Park & Miller 1988), begun with a number below 2³¹ − 1.
pub struct Random(pub u64);

impl Random {
    /// Begun with a seed, and past its first numbers, which are alike for neighbouring seeds.
    pub fn warm(seed: u64) -> Random {
        let mut random = Random(seed);
        for _ in 0..20 {
            random.normal();
        }
        random
    }

    /// A standard normal number.
    pub fn normal(&mut self) -> f64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        normal_quantile(self.0 as f64 / 2_147_483_647.0)
    }
}
