//! Repeatable dice: SplitMix64 (Steele, Lea and Flood, 2014; constants of Vigna's reference code), so
//! that neighbouring seeds give cars that have nothing in common.

/// Dice that fall the same for the same seed.
#[derive(Debug)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn of(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub(super) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly from 0 to 1.
    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// 0 to `count` less one; 0 of nothing.
    pub(super) fn below(&mut self, count: usize) -> usize {
        (self.next() % count.max(1) as u64) as usize
    }

    pub(super) fn one_in(&mut self, count: u64) -> bool {
        self.next().is_multiple_of(count)
    }

    /// Standard normal: twelve even numbers less six.
    pub(super) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

#[cfg(test)]
mod tests {
    use super::Dice;

    #[test]
    fn the_first_numbers_are_those_of_the_reference_code() {
        // SplitMix64 of seed 1234567, as published with Vigna's code and in Rosetta Code.
        let mut dice = Dice::of(1_234_567);
        let expected = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
        ];
        assert_eq!([dice.next(), dice.next(), dice.next()], expected);
    }
}
