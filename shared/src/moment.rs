//! Points in time as text: RFC 3339, checked, and written from a given number.
//!
//! This file refuses to know what time it is.

/// Is the text a date with a time and an offset, as `2026-03-02T09:14:00Z` (RFC 3339, section 5.6)?
///
/// `T` and `Z` may be small letters; a second 60 is read where a leap second can be, in the last
/// minute of a day of UTC.
#[must_use]
pub fn is_moment(text: &str) -> bool {
    millis(text).is_some()
}

/// Milliseconds since 1970 (UTC) of such a text; a second 60 counts as the next one.
#[must_use]
pub fn millis(text: &str) -> Option<i64> {
    read(text.as_bytes())
}

/// Such a text in UTC, to the second, of milliseconds since 1970: `2026-03-02T09:15:00Z`.
#[must_use]
pub fn utc(at_ms: i64) -> String {
    let (days, of_day) = (
        at_ms.div_euclid(86_400_000),
        at_ms.rem_euclid(86_400_000) / 1000,
    );
    let (year, month, day) = date(days);
    let (hour, minute, second) = (of_day / 3600, of_day / 60 % 60, of_day % 60);
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}Z")
}

/// A date from the days since 1970; the way back of [`days_since_1970`], from the same source.
fn date(days: i64) -> (i64, i64, i64) {
    let days = days + 719_468;
    let (era, of_era) = (days.div_euclid(146_097), days.rem_euclid(146_097));
    let of_400 = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * of_400 + of_400 / 4 - of_400 / 100);
    let from_march = (5 * of_year + 2) / 153;
    let day = of_year - (153 * from_march + 2) / 5 + 1;
    let month = if from_march < 10 {
        from_march + 3
    } else {
        from_march - 9
    };
    (of_400 + era * 400 + i64::from(month <= 2), month, day)
}

fn read(text: &[u8]) -> Option<i64> {
    let (date, rest) = text.split_at_checked(10)?;
    let [y @ .., b'-', m1, m2, b'-', d1, d2] = date else {
        return None;
    };
    let (year, month, day) = (number(y)?, number(&[*m1, *m2])?, number(&[*d1, *d2])?);
    let rest = rest.strip_prefix(b"T").or(rest.strip_prefix(b"t"))?;
    let (time, rest) = rest.split_at_checked(8)?;
    let [h1, h2, b':', n1, n2, b':', s1, s2] = time else {
        return None;
    };
    let (hour, minute, second) = (
        number(&[*h1, *h2])?,
        number(&[*n1, *n2])?,
        number(&[*s1, *s2])?,
    );
    let zone = without_fraction(rest)?;
    let offset = offset_minutes(zone)?;
    let fraction = rest.get(1..rest.len() - zone.len()).unwrap_or_default();
    let digits = fraction.iter().chain(b"000").take(3);
    let thousandths = digits.fold(0, |sum, digit| sum * 10 + i64::from(digit - b'0'));
    let day_is = (1..=12).contains(&month) && (1..=days(year, month)).contains(&day);
    let time_is = hour < 24 && minute < 60;
    let utc_minute = (hour * 60 + minute - offset).rem_euclid(24 * 60);
    let second_is = second < 60 || (second == 60 && utc_minute == 24 * 60 - 1);
    let minutes = i64::from(hour * 60 + minute - offset);
    let seconds = days_since_1970(year, month, day) * 86_400 + minutes * 60 + i64::from(second);
    (day_is && time_is && second_is).then_some(seconds * 1_000 + thousandths)
}

/// Days of the Gregorian calendar (H. Hinnant, *chrono-Compatible Low-Level Date Algorithms*, from
/// memory): years begin in March, so that the leap day is the last.
fn days_since_1970(year: i32, month: i32, day: i32) -> i64 {
    let year = i64::from(if month > 2 { year } else { year - 1 });
    let (era, of_era) = (year.div_euclid(400), year.rem_euclid(400));
    let of_year = i64::from((153 * ((month + 9) % 12) + 2) / 5 + day - 1);
    era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
}

/// Behind `.52`, or the same when there is none.
fn without_fraction(text: &[u8]) -> Option<&[u8]> {
    let Some(fraction) = text.strip_prefix(b".") else {
        return Some(text);
    };
    let digits = fraction.iter().take_while(|b| b.is_ascii_digit()).count();
    (digits > 0).then(|| &fraction[digits..])
}

fn offset_minutes(text: &[u8]) -> Option<i32> {
    let (sign, h1, h2, m1, m2) = match text {
        b"Z" | b"z" => return Some(0),
        [b'+', h1, h2, b':', m1, m2] => (1, h1, h2, m1, m2),
        [b'-', h1, h2, b':', m1, m2] => (-1, h1, h2, m1, m2),
        _ => return None,
    };
    let (hours, minutes) = (number(&[*h1, *h2])?, number(&[*m1, *m2])?);
    (hours < 24 && minutes < 60).then_some(sign * (hours * 60 + minutes))
}

fn number(digits: &[u8]) -> Option<i32> {
    digits.iter().try_fold(0, |sum, digit| {
        digit
            .is_ascii_digit()
            .then(|| sum * 10 + i32::from(digit - b'0'))
    })
}

fn days(year: i32, month: i32) -> i32 {
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        _ => 31,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_examples_of_the_standard_are_moments() {
        // RFC 3339, section 5.8.
        for text in [
            "1985-04-12T23:20:50.52Z",
            "1996-12-19T16:39:57-08:00",
            "1990-12-31T23:59:60Z",
            "1990-12-31T15:59:60-08:00",
            "1937-01-01T12:00:27.87+00:20",
        ] {
            assert!(is_moment(text), "{text}");
        }
        for text in [
            "2000-02-29t00:00:00z",
            "2026-03-02T09:14:00-00:00",
            "0000-01-01T00:00:00Z",
        ] {
            assert!(is_moment(text), "{text}");
        }
    }

    /// Counted with Python's datetime.
    #[test]
    fn moments_are_counted_from_1970() {
        let check = |text, ms| assert_eq!(millis(text), Some(ms), "{text}");
        check("1970-01-01T00:00:00Z", 0);
        check("2026-03-02T09:15:00Z", 1_772_442_900_000);
        check("2026-03-02T10:15:00.5+01:00", 1_772_442_900_500);
        check("2000-02-29T23:59:59.999Z", 951_868_799_999);
        check("1996-12-19T16:39:57-08:00", 851_042_397_000);
        check("1969-12-31T23:59:59.25Z", -750);
        check("1990-12-31T23:59:60Z", 662_688_000_000);
    }

    #[test]
    fn moments_are_written_as_they_are_read() {
        // The same dates as above, and each day of eight centuries.
        assert_eq!(utc(1_772_442_900_999), "2026-03-02T09:15:00Z");
        assert_eq!(utc(951_868_799_999), "2000-02-29T23:59:59Z");
        assert_eq!(utc(-750), "1969-12-31T23:59:59Z");
        for day in -146_097..146_097 {
            let at_ms = day * 86_400_000 + 1000;
            assert_eq!(millis(&utc(at_ms)), Some(at_ms), "{}", utc(at_ms));
        }
    }

    #[test]
    fn free_text_and_days_that_never_were_are_none() {
        for text in [
            "",
            "yesterday",
            "9:14",
            "2026-03-02",
            "2026-03-02 09:14:00Z",
            "2026-03-02T09:14Z",
            "2026-03-02T09:14:00",
            "2026-03-02T09:14:00.Z",
            "2026-03-02T09:14:00Z ",
            "2026-3-2T09:14:00Z",
            "2026-02-29T09:14:00Z",
            "1900-02-29T09:14:00Z",
            "2026-13-01T09:14:00Z",
            "2026-00-01T09:14:00Z",
            "2026-04-31T09:14:00Z",
            "2026-03-02T24:00:00Z",
            "2026-03-02T09:60:00Z",
            "2026-03-02T09:14:60Z",
            "2026-03-02T09:14:00+24:00",
            "2026-03-02T09:14:00+0100",
            "+026-03-02T09:14:00Z",
            "２０２６-03-02T09:14:00Z",
        ] {
            assert!(!is_moment(text), "{text}");
        }
    }
}
