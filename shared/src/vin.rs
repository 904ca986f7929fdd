//! Vehicle identification numbers: seventeen characters and the check digit of 49 CFR 565.
//!
//! Only North American numbers must have a right check digit, so a wrong one is a reason to look
//! again, not to refuse. This file refuses to know what the characters mean.

/// What a number looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VinCheck {
    /// The check digit fits.
    Good,
    /// The check digit (ninth character) would have to be this one.
    WrongCheckDigit(char),
    /// A number has seventeen characters; this one has so many.
    WrongLength(usize),
    /// A character that no number has (I, O and Q are never used), and where it stands (from 1).
    WrongCharacter(char, usize),
}

/// Weights of the seventeen places (49 CFR 565.15, table IV).
const WEIGHTS: [u32; 17] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];

/// Checks a number; small letters count as capitals.
#[must_use]
pub fn check(vin: &str) -> VinCheck {
    let characters: Vec<char> = vin.trim().chars().map(|c| c.to_ascii_uppercase()).collect();
    let mut sum = 0;
    for (place, (&c, weight)) in characters.iter().zip(WEIGHTS).enumerate() {
        match value(c) {
            Some(value) => sum += value * weight,
            None => return VinCheck::WrongCharacter(c, place + 1),
        }
    }
    if characters.len() != WEIGHTS.len() {
        return VinCheck::WrongLength(characters.len());
    }
    let digit = match sum % 11 {
        10 => 'X',
        rest => char::from_digit(rest, 10).unwrap_or('0'),
    };
    if characters[8] == digit {
        VinCheck::Good
    } else {
        VinCheck::WrongCheckDigit(digit)
    }
}

/// Value of a character (49 CFR 565.15, table III).
fn value(c: char) -> Option<u32> {
    match c {
        '0'..='9' => c.to_digit(10),
        'A'..='H' => Some(u32::from(c) - u32::from('A') + 1),
        'J'..='N' => Some(u32::from(c) - u32::from('J') + 1),
        'P' => Some(7),
        'R' => Some(9),
        'S'..='Z' => Some(u32::from(c) - u32::from('S') + 2),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1G4AH59H45G118341: the sample of 49 CFR 565, table V (products add up to 411, remainder 4).
    /// 1J9RP1A36A1644345: NHTSA, *Outline for New Manufacturer Information*, p. 18 (sum 314, 6).
    /// The other two are what PyPI vininfo 1.11.0 calls right.
    #[test]
    fn published_numbers_are_good() {
        for vin in [
            "1G4AH59H45G118341",
            "1J9RP1A36A1644345",
            "1M8GDM9AXKP042788",
            "11111111111111111",
            "1m8gdm9axkp042788",
        ] {
            assert_eq!(check(vin), VinCheck::Good, "{vin}");
        }
    }

    #[test]
    fn what_is_wrong_is_said() {
        assert_eq!(check("1M8GDM9A1KP042788"), VinCheck::WrongCheckDigit('X'));
        assert_eq!(check("1M8GDM9AXKP04278"), VinCheck::WrongLength(16));
        assert_eq!(check(""), VinCheck::WrongLength(0));
        assert_eq!(
            check("1M8GDM9AXKPO42788"),
            VinCheck::WrongCharacter('O', 12)
        );
        assert_eq!(check("1M8GDM9AXKP0427881"), VinCheck::WrongLength(18));
    }
}
