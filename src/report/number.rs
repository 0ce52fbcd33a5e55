//! One place that decides decimals, separators and the words of a range.

use crate::model::words::Words;
use chrono::{Datelike, NaiveDate};

/// Numbers, ranges, money, days and lists as a language writes them.
impl Words {
    /// A whole number with its thousands set apart; "-0" never appears.
    pub fn whole(&self, value: f64) -> String {
        if !value.is_finite() {
            return self.word("number.not-known");
        }
        let rounded = libm::round(value) + 0.0;
        let digits = format!("{:.0}", rounded.abs());
        let mark = self.word("number.thousands");
        let mut grouped = String::new();
        for (at, digit) in digits.chars().enumerate() {
            if at > 0 && (digits.len() - at) % 3 == 0 {
                grouped.push_str(&mark);
            }
            grouped.push(digit);
        }
        if rounded < 0.0 { format!("-{grouped}") } else { grouped }
    }

    /// A number with this many decimals; "-0.0" never appears.
    pub fn decimals(&self, value: f64, places: usize) -> String {
        if !value.is_finite() {
            return self.word("number.not-known");
        }
        let text = format!("{value:.places$}");
        let zero = text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
        let text = if zero { text.trim_start_matches('-') } else { &text };
        text.replace('.', &self.word("number.decimal"))
    }

    /// A number as written: no more decimals than it has, at most `most`.
    pub fn trimmed(&self, value: f64, most: usize) -> String {
        let text = format!("{value:.most$}");
        let whole = text.find('.').unwrap_or(text.len());
        let last = text.rfind(|digit| !matches!(digit, '0' | '.')).unwrap_or(0);
        self.decimals(value, last.saturating_sub(whole))
    }

    /// A count that may be small: whole from 10 on, one decimal below.
    pub fn count(&self, value: f64) -> String {
        if value.abs() >= 9.95 { self.whole(value) } else { self.decimals(value, 1) }
    }

    /// A range of counts, "8 to 21"; one decimal where both ends are small, one number where they agree.
    pub fn count_range(&self, interval: (f64, f64)) -> String {
        let (low, high) = interval;
        let small = low.abs() < 3.0 && high.abs() < 9.95;
        let text = |value: f64| if small { self.decimals(value, 1) } else { self.whole(value) };
        self.range(&text(low), &text(high))
    }

    /// A range of two numbers; one number where they read the same.
    pub fn range(&self, low: &str, high: &str) -> String {
        if low == high { low.to_owned() } else { self.say("number.range", &[("low", low), ("high", high)]) }
    }

    /// A share as a percentage without decimals.
    pub fn percent(&self, share: f64) -> String {
        self.say("number.percent", &[("n", &self.whole(100.0 * share))])
    }

    /// A place in a row: "1st", "22nd", "13th".
    pub fn ordinal(&self, place: usize) -> String {
        let key = match (place % 10, place % 100) {
            (_, 11..=13) => "ordinal.other",
            (1, _) => "ordinal.1",
            (2, _) => "ordinal.2",
            (3, _) => "ordinal.3",
            _ => "ordinal.other",
        };
        self.say(key, &[("n", &place.to_string())])
    }

    /// A chance in words that don't claim more digits than there are.
    pub fn chance(&self, share: f64) -> String {
        match share {
            s if s < 0.01 => self.say("number.under", &[("n", &self.percent(0.01))]),
            s if s > 0.99 => self.say("number.over", &[("n", &self.percent(0.99))]),
            s => self.percent(s),
        }
    }

    fn money_text(&self, currency: &str, amount: &str) -> String {
        self.say("number.money", &[("currency", currency), ("amount", amount)])
    }

    /// A sum of money, rounded to about three figures: "EUR 2,350".
    pub fn money(&self, currency: &str, value: f64) -> String {
        self.money_text(currency, &self.whole(to_step(value, money_step(value.abs()))))
    }

    /// A range of money: "EUR 2,350 to 4,100".
    pub fn money_range(&self, currency: &str, interval: (f64, f64)) -> String {
        let step = money_step(interval.0.abs().max(interval.1.abs()));
        let text = |value: f64| self.whole(to_step(value, step));
        self.money_text(currency, &self.range(&text(interval.0), &text(interval.1)))
    }

    /// A day in words: "7 October 2025".
    pub fn date(&self, day: NaiveDate) -> String {
        let month = self.word(&format!("month.{}", day.month()));
        let (number, year) = (day.day().to_string(), day.year().to_string());
        self.say("date", &[("day", &number), ("month", &month), ("year", &year)])
    }

    /// "a", "a and b", "a, b and c"; semicolons where an item without quotation marks holds a comma.
    pub fn list(&self, items: &[String]) -> String {
        let comma = self.word("list.comma");
        let open_comma = |item: &String| item.contains(&comma) && !item.starts_with(['"', '«']);
        let (mark, last_key) = match items.iter().any(open_comma) {
            true => (self.word("list.semicolon"), "list.last-semicolon"),
            false => (comma, "list.last"),
        };
        match items {
            [] => String::new(),
            [one] => one.clone(),
            [first @ .., last] => self.say(last_key, &[("first", &first.join(&mark)), ("last", last)]),
        }
    }
}

/// The step that a sum of this size is rounded to: about three figures.
fn money_step(size: f64) -> f64 {
    match size {
        s if s < 100.0 => 1.0,
        s if s < 1_000.0 => 5.0,
        s if s < 10_000.0 => 50.0,
        s if s < 100_000.0 => 500.0,
        _ => 5_000.0,
    }
}

fn to_step(value: f64, step: f64) -> f64 {
    libm::round(value / step) * step
}

#[cfg(test)]
mod tests {

    #[test]
    fn numbers_are_grouped_and_never_minus_nought() {
        let words = crate::input::english();
        assert_eq!(words.whole(1_234_567.4), "1,234,567");
        assert_eq!(words.whole(-0.2), "0");
        assert_eq!(words.whole(-1500.0), "-1,500");
        assert_eq!(words.decimals(-0.04, 1), "0.0");
        assert_eq!(words.whole(f64::NAN), "not known");
    }

    #[test]
    fn ranges_say_no_more_than_they_know() {
        let words = crate::input::english();
        assert_eq!(words.count_range((7.6, 21.2)), "8 to 21");
        assert_eq!(words.count_range((0.24, 1.96)), "0.2 to 2.0");
        assert_eq!(words.count_range((7.9, 8.1)), "8");
        assert_eq!(words.money_range("EUR", (2_338.0, 4_121.0)), "EUR 2,350 to 4,100");
        assert_eq!(words.money("EUR", 98_760.0), "EUR 99,000");
        assert_eq!(words.list(&["a".into(), "b".into(), "c".into()]), "a, b and c");
        assert_eq!(words.list(&["a".into(), "b, b".into(), "c".into()]), "a; b, b; and c");
        let shown = [2.0, 2.5, 2.125, 100.0, 0.0, -0.0001].map(|value| words.trimmed(value, 3));
        assert_eq!(shown, ["2", "2.5", "2.125", "100", "0", "0"]);
    }

    #[test]
    fn places_are_said_as_people_say_them() {
        let words = crate::input::english();
        let said: Vec<String> =
            [1, 2, 3, 4, 11, 12, 13, 21, 102, 111].map(|place| words.ordinal(place)).into();
        assert_eq!(said.join(" "), "1st 2nd 3rd 4th 11th 12th 13th 21st 102nd 111th");
    }
}
