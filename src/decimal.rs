//! Decimal numbers as people write them, read and written without the standard library's own reader and writer of
//! floating point, which would be an eighth of what a browser has to fetch.
//!
//! Reading is done by the reader of numbers that JSON needs anyway. Both give the nearest number where the digits stay below 2⁵³ and the power of ten within ±22 (then
//! either rounds once); beyond that the one used here may be off by a few units in the sixteenth digit.
//!
//! Writing, [`Decimal`], is to a stated number of decimals, exactly rounded, as the standard library does it. Whatever
//! the browser's core computes is written by it: a `{}` of a bare number there brings the library's writer back.
//!
//! Read are the forms: `95`, `+95`, `-0.5`, `.5`, `5.`, `007`, `1e3`, `1E-3`. No spaces, no groups, no comma, no words.

use std::fmt;

use crate::scenario::json::Json;

/// Most decimals that [`Decimal`] writes.
const MOST_DECIMALS: usize = 19;

/// A number to be written with as many decimals as the format asks for, none unless it does: `{:.1}`, `{:04.1}`.
/// Rounded from the number's exact value, halves to the even digit; at most 19 decimals. From 2⁶⁴ divided by
/// 10 to the number of decimals upwards, as a power of ten with three decimals.
#[derive(Debug, Clone, Copy)]
pub struct Decimal(pub f64);

impl fmt::Display for Decimal {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        let decimals = out.precision().unwrap_or(0).min(MOST_DECIMALS);
        let size = self.0.abs();
        if size.is_nan() {
            return out.write_str("NaN");
        }
        let sign = if self.0.is_sign_negative() { "-" } else { "" };
        if size.is_infinite() {
            return write!(out, "{sign}inf");
        }
        let Some(scaled) = scaled(size, decimals) else {
            return out.write_str(&scientific(self.0, 3));
        };
        let power = 10_u64.pow(decimals as u32);
        let (whole, part) = (scaled / power, scaled % power);
        let text = match decimals {
            0 => whole.to_string(),
            _ => format!("{whole}.{part:0decimals$}"),
        };
        out.pad_integral(sign.is_empty(), "", &text)
    }
}

/// A positive number times 10 to `decimals`, rounded, halves to even; `None` where that needs more than 64 bits.
fn scaled(size: f64, decimals: usize) -> Option<u64> {
    const FRACTION_BITS: u32 = f64::MANTISSA_DIGITS - 1;
    let bits = size.to_bits();
    let (fraction, exponent) = (bits & ((1 << FRACTION_BITS) - 1), (bits >> FRACTION_BITS) as i32);
    // size = digits · 2^power; numbers too small to be normal have no leading one.
    let digits = if exponent == 0 { fraction } else { fraction | (1 << FRACTION_BITS) };
    let power = exponent.max(1) - 1023 - FRACTION_BITS as i32;
    // At most 53 and 64 bits.
    let wide = u128::from(digits) * u128::from(10_u64.pow(decimals as u32));
    if power >= 0 {
        let fits = wide.leading_zeros() as i32 - 64 >= power;
        return fits.then(|| (wide as u64) << power);
    }
    let down = power.unsigned_abs();
    if down >= u128::BITS {
        return Some(0);
    }
    let (whole, rest) = (wide >> down, wide & ((1 << down) - 1));
    let half = 1 << (down - 1);
    let up = rest > half || (rest == half && whole & 1 == 1);
    u64::try_from(whole + u128::from(up)).ok()
}

/// A finite number other than zero as one with so many decimals times a power of ten: `1.20e-7`.
pub fn scientific(value: f64, decimals: usize) -> String {
    let (mantissa, exponent) = mantissa_and_exponent(value);
    let text = format!("{:.decimals$}", Decimal(mantissa));
    if text.trim_start_matches('-').starts_with("10") {
        format!("{:.decimals$}e{}", Decimal(mantissa / 10.0), exponent + 1)
    } else {
        format!("{text}e{exponent}")
    }
}

/// A finite number other than zero as one of a size from 1 to below 10, and a power of ten.
fn mantissa_and_exponent(value: f64) -> (f64, i32) {
    let exponent = value.abs().log10().floor() as i32;
    // In two steps, because a power of ten alone would leave the range of small numbers.
    let half = exponent / 2;
    let mantissa = value / 10_f64.powi(half) / 10_f64.powi(exponent - half);
    match mantissa.abs() {
        ..1.0 => (mantissa * 10.0, exponent - 1),
        10.0.. => (mantissa / 10.0, exponent + 1),
        _ => (mantissa, exponent),
    }
}

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
    match serde_json::from_str(&format!("{sign}{whole}{point}{fraction}e{exponent}")) {
        Ok(Json::Number(number)) => number.as_f64(),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::{Decimal, decimal, mantissa_and_exponent, scientific};
    use proptest::prelude::*;

    /// The standard library as the reference.
    fn check(value: f64) {
        assert_eq!(format!("{}", Decimal(value)), format!("{value:.0}"));
        assert_eq!(format!("{:.1}", Decimal(value)), format!("{value:.1}"));
        assert_eq!(format!("{:.3}", Decimal(value)), format!("{value:.3}"));
        assert_eq!(format!("{:.4}", Decimal(value)), format!("{value:.4}"));
        assert_eq!(format!("{:.9}", Decimal(value)), format!("{value:.9}"));
        assert_eq!(
            format!("{:02.0}|{:04.1}", Decimal(value), Decimal(value)),
            format!("{value:02.0}|{value:04.1}")
        );
        assert_eq!(
            format!("{:8.2}|{:<9.2}|{:+.1}", Decimal(value), Decimal(value), Decimal(value)),
            format!("{value:8.2}|{value:<9.2}|{value:+.1}")
        );
    }

    #[test]
    fn writes_what_the_standard_library_writes() {
        for value in [
            0.0,
            -0.0,
            0.5,
            1.5,
            2.5,
            -0.5,
            0.05,
            0.25,
            0.125,
            0.375,
            1.0005,
            9.5,
            99.95,
            999.9995,
            0.045,
            1e-5,
            1e-9,
            4.9e-10,
            5e-324,
            2.2250738585072014e-308,
            123_456.789,
            9_007_199_254_740_993.0 / 1e6,
            1e9,
            1e10 - 0.5,
            18_446_744_073.0,
        ] {
            check(value);
            check(-value);
        }
        assert_eq!(
            format!(
                "{} {} {}",
                Decimal(f64::NAN),
                Decimal(f64::INFINITY),
                Decimal(f64::NEG_INFINITY)
            ),
            "NaN inf -inf"
        );
    }

    proptest! {
        #[test]
        fn writes_any_number_as_the_standard_library_does(value in -1e9..1e9_f64, small in -20.0..20.0_f64, tie in -4_000_i32..4_000) {
            check(value);
            check(small);
            check(small * 1e-3);
            assert_eq!(format!("{:.15}", Decimal(small)), format!("{small:.15}"));
            check(f64::from(tie) / 16.0);
        }

        #[test]
        fn numbers_beyond_64_bits_are_powers_of_ten(power in 20_i32..300, digits in 1.0..9.999_f64) {
            let value = digits * 10_f64.powi(power);
            let text = format!("{:.1}", Decimal(value));
            let (mantissa, exponent) = text.split_once('e').unwrap();
            prop_assert_eq!(exponent.parse::<i32>().unwrap(), power);
            prop_assert!((mantissa.parse::<f64>().unwrap() - digits).abs() < 0.0006, "{}", text);
        }

        #[test]
        fn scientific_is_as_the_standard_library_has_it(value in -1.0..1.0_f64, power in -300_i32..300) {
            let value = (value + value.signum() * 0.1) * 10_f64.powi(power);
            // The mantissa is divided out, so that at halves the last digit may be the other one.
            let (ours, theirs) = (scientific(value, 5), format!("{value:.5e}"));
            let apart = ours.parse::<f64>().unwrap() / theirs.parse::<f64>().unwrap() - 1.0;
            prop_assert!(ours == theirs || apart.abs() < 1.1e-5, "{} {}", ours, theirs);
            prop_assert_eq!(ours.len(), theirs.len());
            prop_assert_eq!(scientific(9.99999999e-7, 2), "1.00e-6");
        }

        #[test]
        fn a_number_is_its_mantissa_times_its_power(value in 1e-300..1e300_f64, power in -300_i32..300) {
            for size in [value, 10_f64.powi(power)] {
                let (mantissa, exponent) = mantissa_and_exponent(size);
                prop_assert!((1.0..10.0).contains(&mantissa));
                let again = format!("{mantissa}e{exponent}").parse::<f64>().unwrap();
                prop_assert!((again / size - 1.0).abs() < 1e-14);
            }
        }
    }

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
