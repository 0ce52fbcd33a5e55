//! The one place where numbers are read: plain decimals, so that no two readers of a file can
//! take it for different numbers.

/// Larger numbers are taken for slips; nothing on a farm, in any currency, needs them.
const LARGEST: f64 = 1e12;

/// What is wrong with a number, and what would be right.
#[derive(Debug, PartialEq)]
pub(crate) struct NumberFault {
    pub(crate) code: &'static str,
    /// Ends the sentence "`length_m` is `1,200`, …".
    pub(crate) message: String,
    pub(crate) help: String,
}

fn fault(code: &'static str, message: impl Into<String>, help: impl Into<String>) -> NumberFault {
    NumberFault { code, message: message.into(), help: help.into() }
}

/// Reads a decimal number as written: sign, digits, point, exponent.
pub(crate) fn decimal(raw: &str) -> Result<f64, NumberFault> {
    let unsigned = raw.strip_prefix(['-', '+']).unwrap_or(raw);
    let lower = unsigned.to_ascii_lowercase();
    if matches!(lower.as_str(), ".nan" | "nan" | ".inf" | "inf" | "infinity") {
        return Err(fault(
            "out-of-range",
            "which is no finite number",
            "leave out what isn't known, or write null",
        ));
    }
    if !is_decimal(unsigned) {
        return Err(not_decimal(unsigned));
    }
    if unsigned.len() > 1 && unsigned.starts_with('0') && unsigned.as_bytes()[1].is_ascii_digit() {
        let help = format!("write {}", unsigned.trim_start_matches('0'));
        return Err(fault("wrong-type", "which begins with a 0 and could be read in two ways", help));
    }
    match raw.parse::<f64>() {
        Ok(number) if number.abs() <= LARGEST => Ok(number + 0.0),
        Ok(_) => {
            Err(fault("out-of-range", "which is too large", "at most 1000000000000 (a million million)"))
        }
        Err(_) => Err(not_decimal(unsigned)),
    }
}

/// Reads a whole number, 0 or more.
pub(crate) fn whole(raw: &str) -> Result<u64, NumberFault> {
    let number = decimal(raw)?;
    let digits = raw.strip_prefix('+').unwrap_or(raw);
    if number < 0.0 {
        return Err(fault("out-of-range", "which is below 0", "a whole number, 0 or more"));
    }
    digits
        .parse()
        .map_err(|_| fault("wrong-type", "which is not a whole number", "a whole number, 0 or more"))
}

/// Digits with at most one point and an exponent; at least one digit.
pub(crate) fn is_decimal(text: &str) -> bool {
    let (mantissa, exponent) = match text.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, Some(exponent.strip_prefix(['-', '+']).unwrap_or(exponent))),
        None => (text, None),
    };
    let digits = mantissa.replacen('.', "", 1);
    let all_digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    all_digits(&digits) && exponent.is_none_or(all_digits)
}

/// What was probably meant by something that is no decimal number.
fn not_decimal(text: &str) -> NumberFault {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let help = if let Some((left, right)) = text.split_once(',').filter(|(l, r)| digits(l) && digits(r)) {
        format!("write {left}.{right} for a decimal, or {left}{right} for a large number: no commas")
    } else if let Some(share) = percent(text) {
        format!("write the share: {share}")
    } else if let Some(number) = leading_number(text) {
        format!("write the number alone: {number}")
    } else {
        "a number, such as 12 or 0.5".to_owned()
    };
    fault("wrong-type", "which is not a number", help)
}

/// The share that a percentage is.
fn percent(text: &str) -> Option<f64> {
    let number = text.strip_suffix('%')?.trim_end();
    number.parse::<f64>().ok().filter(|_| is_decimal(number)).map(|percent| percent / 100.0)
}

/// The number before a unit, as in `350 m` or `80%`.
fn leading_number(text: &str) -> Option<&str> {
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.'))?;
    let (number, unit) = (&text[..end], text[end..].trim());
    let unit_like = unit.len() <= 12 && unit.chars().all(|c| c.is_alphabetic() || "%²/".contains(c));
    (is_decimal(number) && unit_like).then_some(number)
}

#[cfg(test)]
mod tests {
    use super::{decimal, whole};

    #[test]
    fn plain_decimals_are_read() {
        for (raw, number) in
            [("12", 12.0), ("-0.5", -0.5), (".5", 0.5), ("5.", 5.0), ("+3", 3.0), ("1e3", 1000.0)]
        {
            assert_eq!(decimal(raw), Ok(number), "{raw}");
        }
        assert!(decimal("-0").is_ok_and(f64::is_sign_positive));
    }

    #[test]
    fn what_could_be_read_in_two_ways_is_refused() {
        for raw in [
            "010", "1,200", "0x10", "1_000", ".nan", "-.inf", "1e400", "1e13", "NaN", "", "-", "1e", "5 m",
            "１２", "0o7", ".",
        ] {
            assert!(decimal(raw).is_err(), "{raw}");
        }
        for raw in ["1.0", "1e2", "-1", "99999999999999999999"] {
            assert!(whole(raw).is_err(), "{raw}");
        }
    }

    #[test]
    fn the_help_names_what_was_meant() {
        let help = |raw| decimal(raw).map_or_else(|fault| fault.help, |number| number.to_string());
        insta::assert_snapshot!(["1,200", "350 m", "80%", "010", "many"].map(help).join("\n"));
    }
}
