//! Repeatable chance: a linear congruential generator (Knuth's MMIX constants, from memory).

/// Throws the same numbers for the same seed.
#[derive(Debug)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new(seed: u64) -> Self {
        let mut dice = Self(seed);
        // Neighbouring seeds begin alike.
        dice.below(2);
        dice
    }

    pub(super) fn below(&mut self, sides: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
}
