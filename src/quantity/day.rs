//! A day of the calendar.

use jiff::civil::Date;

/// A day, written as ISO 8601 writes it: `2027-03-31`. Days compare as they follow each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(Date);

impl Day {
    /// Reads `2027-03-31`; nothing where that is no day of the calendar, or is written in another way.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let written = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
        written.then(|| Date::strptime("%Y-%m-%d", text).ok()).flatten().map(Self)
    }

    /// How many days from this one to another; below zero where the other lies before it.
    pub fn days_until(self, other: Day) -> i64 {
        i64::from(self.0.until(other.0).map_or(0, |span| span.get_days()))
    }
}

impl From<Date> for Day {
    fn from(date: Date) -> Self {
        Self(date)
    }
}

impl std::fmt::Display for Day {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.0.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap_or_else(|| panic!("{text}"))
    }

    #[test]
    fn only_days_of_the_calendar_are_read() {
        assert_eq!(day(" 2028-02-29 ").to_string(), "2028-02-29");
        let wrong = [
            "",
            "2027-3-31",
            "2027-02-29",
            "2100-02-29",
            "2027-04-31",
            "2027-13-01",
            "2027-01-00",
            "soon",
            "27-01-00001",
        ];
        for wrong in wrong {
            assert_eq!(Day::parse(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn days_are_counted_over_months_and_leap_years() {
        // The distances are those of `date -d` of GNU coreutils.
        assert_eq!(day("2026-11-26").days_until(day("2027-03-31")), 125);
        assert_eq!(day("2028-02-28").days_until(day("2028-03-01")), 2);
        assert_eq!(day("1970-01-01").days_until(day("2026-11-26")), 20_783);
        assert_eq!(day("2027-01-01").days_until(day("2026-12-31")), -1);
        assert!(day("2026-12-31") < day("2027-01-01"));
    }
}
