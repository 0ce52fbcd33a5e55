//! One place that decides decimals, separators and the words of a range.

/// A whole number with thousands separated by commas; "-0" never appears.
pub fn whole(value: f64) -> String {
    if !value.is_finite() {
        return "not known".to_owned();
    }
    let rounded = libm::round(value) + 0.0;
    let digits = format!("{:.0}", rounded.abs());
    let mut grouped = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at) % 3 == 0 {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    if rounded < 0.0 { format!("-{grouped}") } else { grouped }
}

/// A number with this many decimals; "-0.0" never appears.
pub fn decimals(value: f64, places: usize) -> String {
    if !value.is_finite() {
        return "not known".to_owned();
    }
    let text = format!("{value:.places$}");
    let zero = text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
    if zero { text.trim_start_matches('-').to_owned() } else { text }
}

/// A count that may be small: whole from 10 on, one decimal below.
pub fn count(value: f64) -> String {
    if value.abs() >= 9.95 { whole(value) } else { decimals(value, 1) }
}

/// A range of counts, "8 to 21"; one decimal where both ends are small, one number where they agree.
pub fn count_range(interval: (f64, f64)) -> String {
    let (low, high) = interval;
    let small = low.abs() < 3.0 && high.abs() < 9.95;
    let text = |value: f64| if small { decimals(value, 1) } else { whole(value) };
    join(&text(low), &text(high))
}

/// A share as a percentage without decimals.
pub fn percent(share: f64) -> String {
    format!("{}%", whole(100.0 * share))
}

/// A chance in words that don't claim more digits than there are.
pub fn chance(share: f64) -> String {
    match share {
        s if s < 0.01 => "under 1%".to_owned(),
        s if s > 0.99 => "over 99%".to_owned(),
        s => percent(s),
    }
}

fn join(low: &str, high: &str) -> String {
    if low == high { low.to_owned() } else { format!("{low} to {high}") }
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

/// A sum of money, rounded to about three figures: "EUR 2,350".
pub fn money(currency: &str, value: f64) -> String {
    let step = money_step(value.abs());
    format!("{currency} {}", whole(libm::round(value / step) * step))
}

/// A range of money: "EUR 2,350 to 4,100".
pub fn money_range(currency: &str, interval: (f64, f64)) -> String {
    let step = money_step(interval.0.abs().max(interval.1.abs()));
    let text = |value: f64| whole(libm::round(value / step) * step);
    format!("{currency} {}", join(&text(interval.0), &text(interval.1)))
}

/// A date in words: "7 October 2025".
pub fn date(date: chrono::NaiveDate) -> String {
    crate::model::day::in_words(date)
}

/// "1 case", "3 cases".
pub fn plural(count: u64, one: &str, many: &str) -> String {
    format!("{} {}", whole(count as f64), if count == 1 { one } else { many })
}

/// "a", "a and b", "a, b and c".
pub fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_grouped_and_never_minus_nought() {
        assert_eq!(whole(1_234_567.4), "1,234,567");
        assert_eq!(whole(-0.2), "0");
        assert_eq!(whole(-1500.0), "-1,500");
        assert_eq!(decimals(-0.04, 1), "0.0");
        assert_eq!(whole(f64::NAN), "not known");
    }

    #[test]
    fn ranges_say_no_more_than_they_know() {
        assert_eq!(count_range((7.6, 21.2)), "8 to 21");
        assert_eq!(count_range((0.24, 1.96)), "0.2 to 2.0");
        assert_eq!(count_range((7.9, 8.1)), "8");
        assert_eq!(money_range("EUR", (2_338.0, 4_121.0)), "EUR 2,350 to 4,100");
        assert_eq!(money("EUR", 98_760.0), "EUR 99,000");
        assert_eq!(list(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }
}
