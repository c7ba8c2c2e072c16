//! Decimal numbers as people write them, read by the reader of numbers that JSON needs anyway.
//!
//! The standard library's own reader brings a table of powers of five that would be a twelfth of what a browser has
//! to fetch. Both give the nearest number where the digits stay below 2⁵³ and the power of ten within ±22 (then
//! either rounds once); beyond that the one used here may be off by a few units in the sixteenth digit.
//!
//! Written forms: `95`, `+95`, `-0.5`, `.5`, `5.`, `007`, `1e3`, `1E-3`. No spaces, no groups, no comma, no words.

/// The number, or `None` when the text is not one, or is beyond what can be computed with.
pub fn decimal(text: &str) -> Option<f64> {
    let (sign, unsigned) = match text.strip_prefix('-') {
        Some(unsigned) => ("-", unsigned),
        None => ("", text.strip_prefix('+').unwrap_or(text)),
    };
    let (mantissa, exponent) = unsigned.split_once(['e', 'E']).unwrap_or((unsigned, "0"));
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if !digits(whole) || !digits(fraction) || (whole.is_empty() && fraction.is_empty()) {
        return None;
    }
    // JSON knows neither a leading zero nor a point without digits.
    let whole = whole.trim_start_matches('0');
    let whole = if whole.is_empty() { "0" } else { whole };
    let point = if fraction.is_empty() { "" } else { "." };
    let number: serde_json::Number =
        format!("{sign}{whole}{point}{fraction}e{exponent}").parse().ok()?;
    number.as_f64()
}

#[cfg(test)]
mod tests {
    use super::decimal;

    #[test]
    fn reads_what_the_standard_library_reads() {
        for text in [
            "0",
            "-0",
            "95",
            "+95",
            "-0.5",
            ".5",
            "5.",
            "007",
            "1e3",
            "1E-3",
            "1e+2",
            "2640",
            "0.35",
            "13.05",
            "1.2e-7",
            "65.0001",
            "123456.789012",
            "9007199254740991",
            "1e22",
            "0e0",
            "00.10",
        ] {
            assert_eq!(decimal(text), text.parse().ok(), "{text}");
        }
    }

    #[test]
    fn is_near_where_digits_or_powers_are_many() {
        for text in
            ["3.14159265358979323846", "1e300", "6.02214076e23", "1e-300", "0.1234567890123456789"]
        {
            let (read, exact) = (decimal(text).unwrap(), text.parse::<f64>().unwrap());
            assert!((read - exact).abs() <= 4.0 * f64::EPSILON * exact, "{text}: {read}");
        }
    }

    #[test]
    fn refuses_the_rest() {
        for text in [
            "", ".", "-", "+-1", "e5", "1e", "1e5e5", "1 ", " 1", "1,5", "1_000", "0x10", "inf",
            "nan", "1.2.3", "1e999", "--1", "1e1.5", "½",
        ] {
            assert_eq!(decimal(text), None, "{text}");
        }
    }
}
