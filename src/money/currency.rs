//! The currency is the shop's one money: how many decimals it has, how an amount in it is shown, and how one is typed.

use super::{LIMIT, Money, MoneyProblem};
use crate::words::grouped;

/// Common ones of ISO 4217 with the digits behind the mark and, where it means only one of them, the sign. From memory.
const COMMON: [(&str, u8, &str); 40] = [
    ("AED", 2, ""),
    ("ARS", 2, ""),
    ("AUD", 2, ""),
    ("BHD", 3, ""),
    ("BRL", 2, "R$"),
    ("CAD", 2, ""),
    ("CHF", 2, ""),
    ("CLP", 0, ""),
    ("CNY", 2, ""),
    ("CZK", 2, ""),
    ("DKK", 2, ""),
    ("EUR", 2, "€"),
    ("GBP", 2, "£"),
    ("HKD", 2, ""),
    ("HUF", 2, ""),
    ("IDR", 2, ""),
    ("ILS", 2, "₪"),
    ("INR", 2, "₹"),
    ("ISK", 0, ""),
    ("JOD", 3, ""),
    ("JPY", 0, "¥"),
    ("KRW", 0, "₩"),
    ("KWD", 3, ""),
    ("MXN", 2, ""),
    ("MYR", 2, ""),
    ("NOK", 2, ""),
    ("NZD", 2, ""),
    ("OMR", 3, ""),
    ("PHP", 2, "₱"),
    ("PLN", 2, "zł"),
    ("RON", 2, ""),
    ("SEK", 2, ""),
    ("SGD", 2, ""),
    ("THB", 2, "฿"),
    ("TND", 3, ""),
    ("TRY", 2, "₺"),
    ("UAH", 2, "₴"),
    ("USD", 2, "$"),
    ("VND", 0, "₫"),
    ("ZAR", 2, ""),
];

/// A currency by its ISO 4217 code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Currency {
    code: String,
    digits: u8,
    sign: &'static str,
}

impl Currency {
    /// Three capital letters. A code that is not in the list above counts two decimals and is shown as it is.
    #[must_use]
    pub fn new(code: &str) -> Option<Self> {
        if code.len() != 3 || !code.bytes().all(|b| b.is_ascii_uppercase()) {
            return None;
        }
        let known = COMMON.iter().find(|(known, _, _)| *known == code);
        let (digits, sign) = known.map_or((2, ""), |&(_, digits, sign)| (digits, sign));
        Some(Self {
            code: code.to_owned(),
            digits,
            sign,
        })
    }

    /// The codes to choose from when the shop is set up.
    pub fn common() -> impl Iterator<Item = &'static str> {
        COMMON.iter().map(|&(code, _, _)| code)
    }

    #[must_use]
    pub fn code(&self) -> &str {
        &self.code
    }

    /// Digits behind the mark: 0, 2 or 3.
    #[must_use]
    pub fn digits(&self) -> u8 {
        self.digits
    }

    /// The sign, or the code where there is none of its own.
    #[must_use]
    pub fn sign(&self) -> &str {
        if self.sign.is_empty() {
            &self.code
        } else {
            self.sign
        }
    }

    fn split(&self, money: Money) -> (u64, String) {
        let unit = 10_u64.pow(u32::from(self.digits));
        let (whole, rest) = (money.0.unsigned_abs() / unit, money.0.unsigned_abs() % unit);
        let width = usize::from(self.digits);
        (
            whole,
            if width == 0 {
                String::new()
            } else {
                format!(".{rest:0width$}")
            },
        )
    }

    fn example(&self) -> String {
        Money(12 * 10_i64.pow(u32::from(self.digits))).typed(self)
    }
}

impl Money {
    /// As on screens and paper: "€ 1,240.50", the space one that does not break.
    #[must_use]
    pub fn show(self, currency: &Currency) -> String {
        let minus = if self.0 < 0 { "\u{2212}" } else { "" };
        let (whole, decimals) = currency.split(self);
        format!("{minus}{}\u{a0}{}{decimals}", currency.sign(), grouped(whole))
    }

    /// As in a form's field: "1240.50".
    #[must_use]
    pub fn typed(self, currency: &Currency) -> String {
        let minus = if self.0 < 0 { "-" } else { "" };
        let (whole, decimals) = currency.split(self);
        format!("{minus}{whole}{decimals}")
    }
}

/// Reads an amount as it was typed: digits, and behind a point or a comma at most as many as the currency has.
///
/// Nothing is guessed and nothing is rounded: "1,234" and "1.234" may mean either of two amounts a thousandfold apart,
/// so they come back with a hint. One exception, where the currency has three decimals: "1.234" is how we write it
/// ourselves ([`Money::typed`]), so the point with three digits is taken and the comma is not.
///
/// # Errors
/// [`MoneyProblem`] says what is wrong with it, with an example.
pub fn parse(text: &str, currency: &Currency) -> Result<Money, MoneyProblem> {
    let text = text.trim();
    let example = || currency.example();
    let not_an_amount = || MoneyProblem::NotAnAmount { example: example() };
    if text.is_empty() {
        return Err(MoneyProblem::Empty);
    }
    if has_currency_sign(text, currency) {
        return Err(MoneyProblem::CurrencySign { example: example() });
    }
    if let Some(rest) = text.strip_prefix(['-', '\u{2212}']) {
        return Err(split(rest).map_or_else(not_an_amount, |_| MoneyProblem::Negative));
    }
    let Some((whole, decimals)) = split(text) else {
        let grouped = ungrouped(text, currency);
        return Err(grouped.map_or_else(not_an_amount, |example| MoneyProblem::TwoReadings { example }));
    };
    let places = usize::from(currency.digits);
    let like_thousands = decimals.len() == 3 && whole.len() <= 3 && !whole.starts_with('0');
    let our_own_way = places == 3 && text.contains('.');
    if like_thousands && !our_own_way {
        return Err(MoneyProblem::TwoReadings {
            example: format!("{whole}{decimals}"),
        });
    }
    if decimals.len() > places {
        let code = currency.code.clone();
        return Err(MoneyProblem::TooManyDecimals {
            code,
            digits: currency.digits,
            example: example(),
        });
    }
    let minor = format!("{whole}{decimals:0<places$}");
    let minor = minor.trim_start_matches('0');
    let minor = if minor.is_empty() {
        Ok(0)
    } else {
        minor.parse::<i64>()
    };
    match minor {
        Ok(minor) if minor <= LIMIT => Ok(Money(minor)),
        // Only digits are left, so what does not parse is too long.
        _ => Err(MoneyProblem::AboveLimit {
            limit: Money(LIMIT).show(currency),
        }),
    }
}

/// Digits, and behind one point or comma at least one more: "12", "12.5". Nothing for any other form.
pub(super) fn split(text: &str) -> Option<(&str, &str)> {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    match text.split_once(['.', ',']) {
        None => digits(text).then_some((text, "")),
        Some((whole, decimals)) => (digits(whole) && digits(decimals)).then_some((whole, decimals)),
    }
}

/// What digits with marks for thousands between them most likely say, for the hint alone: "1.234,56" is "1234.56".
fn ungrouped(text: &str, currency: &Currency) -> Option<String> {
    let is_mark = |sign: char| matches!(sign, '.' | ',' | ' ' | '\'' | '\u{2019}' | '\u{a0}' | '\u{202f}');
    let parts: Vec<&str> = text.split(is_mark).collect();
    if parts
        .iter()
        .any(|part| part.is_empty() || !part.bytes().all(|b| b.is_ascii_digit()))
    {
        return None;
    }
    let (last, before) = parts.split_last()?;
    let has_decimals = last.len() <= usize::from(currency.digits) && !before.is_empty();
    let mark = if has_decimals { "." } else { "" };
    Some(format!("{}{mark}{last}", before.concat()))
}

fn has_currency_sign(text: &str, currency: &Currency) -> bool {
    let is_sign = |sign: char| matches!(sign, '$' | '¢' | '£' | '¤' | '¥' | '฿' | '\u{20a0}'..='\u{20cf}');
    let beside_digits = |name: &str| {
        let rest = text.strip_prefix(name).or_else(|| text.strip_suffix(name));
        rest.is_some_and(|rest| rest.contains(|sign: char| sign.is_ascii_digit()))
    };
    text.starts_with(is_sign)
        || text.ends_with(is_sign)
        || beside_digits(&currency.code)
        || beside_digits(currency.sign())
}
