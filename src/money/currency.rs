//! The currency is the shop's one money: how many decimals it has, how an amount in it is shown, and how one is typed.

use super::{LIMIT, Money, MoneyProblem};
use crate::words::grouped;

/// The moneys of ISO 4217, list one (its maintenance agency: SIX Group, Zurich), by the digits behind the mark, as far as
/// people pay with them: no funds, metals or codes for testing. Compared by hand with a published copy of the list and
/// its amendments up to the Bulgarian euro (2026); the amendments are from memory.
const NO_DIGITS: &str = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF";
const TWO_DIGITS: &str = "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF \
    CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR \
    IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN \
    NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL \
    THB TJS TMT TOP TRY TTD TWD TZS UAH USD UYU UZS VED VES WST XCD XCG YER ZAR ZMW ZWG";
const THREE_DIGITS: &str = "BHD IQD JOD KWD LYD OMR TND";
const LISTED: [(&str, u8); 3] = [(NO_DIGITS, 0), (TWO_DIGITS, 2), (THREE_DIGITS, 3)];

/// The sign, where it means only this money.
const SIGNS: [(&str, &str); 14] = [
    ("BRL", "R$"),
    ("EUR", "€"),
    ("GBP", "£"),
    ("ILS", "₪"),
    ("INR", "₹"),
    ("JPY", "¥"),
    ("KRW", "₩"),
    ("PHP", "₱"),
    ("PLN", "zł"),
    ("THB", "฿"),
    ("TRY", "₺"),
    ("UAH", "₴"),
    ("USD", "$"),
    ("VND", "₫"),
];

/// A currency by its ISO 4217 code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Currency {
    code: String,
    digits: u8,
    sign: &'static str,
}

impl Currency {
    /// Of a shop that counts in it: three capital letters. A code that is not listed counts two decimals and is shown as
    /// it is, so that what was counted before stays what it was.
    #[must_use]
    pub fn new(code: &str) -> Option<Self> {
        if code.len() != 3 || !code.bytes().all(|b| b.is_ascii_uppercase()) {
            return None;
        }
        let listed = LISTED
            .iter()
            .find(|(codes, _)| codes.split(' ').any(|own| own == code));
        let sign = SIGNS.iter().find(|(known, _)| *known == code);
        Some(Self {
            code: code.to_owned(),
            digits: listed.map_or(2, |&(_, digits)| digits),
            sign: sign.map_or("", |&(_, sign)| sign),
        })
    }

    /// For a new shop, which keeps it for good: only a money that there is.
    #[must_use]
    pub fn listed(code: &str) -> Option<Self> {
        Self::codes().find(|known| *known == code).and_then(Self::new)
    }

    /// The codes to choose from when the shop is set up.
    pub fn codes() -> impl Iterator<Item = &'static str> {
        LISTED.iter().flat_map(|(codes, _)| codes.split(' '))
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

/// Reads an amount as it was typed: digits, and behind a point or a comma at most as many as the currency has; marks for
/// thousands, and the currency's own sign or code before or behind, are understood where they can mean one thing only.
///
/// Nothing is guessed and nothing is rounded: "1,234" and "1.234" may mean either of two amounts a thousandfold apart,
/// so they come back with a hint. One exception, where the currency has three decimals: "1.234" is how we write it
/// ourselves ([`Money::typed`]), so the point with three digits is taken and the comma is not.
///
/// # Errors
/// [`MoneyProblem`] says what is wrong with it, with an example.
pub fn parse(text: &str, currency: &Currency) -> Result<Money, MoneyProblem> {
    let text = without_sign(text.trim(), currency);
    let whole_thousands = without_thousands(text);
    let text = whole_thousands.as_deref().unwrap_or(text);
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
    let like_thousands =
        whole_thousands.is_none() && decimals.len() == 3 && whole.len() <= 3 && !whole.starts_with('0');
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

/// "5", where "€ 5" or "5 EUR" was typed in a shop that counts in euros.
fn without_sign<'a>(text: &'a str, currency: &Currency) -> &'a str {
    let names = [currency.sign(), currency.code()];
    let mut rests = names
        .iter()
        .filter_map(|name| text.strip_prefix(name).or_else(|| text.strip_suffix(name)));
    let rest = rests.find(|rest| rest.contains(|sign: char| sign.is_ascii_digit()));
    rest.map_or(text, str::trim)
}

/// "1234.56", where "1.234,56" or "1 234,56" was typed: with marks for thousands that can be nothing else. A single point
/// or comma may be either, and stays.
fn without_thousands(text: &str) -> Option<String> {
    let is_space = |sign: char| matches!(sign, ' ' | '\'' | '\u{2019}' | '\u{a0}' | '\u{202f}');
    let is_mark = |sign: char| matches!(sign, '.' | ',') || is_space(sign);
    let marks: Vec<char> = text.chars().filter(|sign| !sign.is_ascii_digit()).collect();
    if !marks.iter().all(|mark| is_mark(*mark)) {
        return None;
    }
    let parts: Vec<&str> = text.split(is_mark).collect();
    let (&first, &last) = (marks.first()?, marks.last()?);
    let decimal = matches!(last, '.' | ',') && last != first;
    let thousands = &marks[..marks.len() - usize::from(decimal)];
    let one_kind = thousands.iter().all(|mark| *mark == first);
    let certain = decimal || is_space(first) || marks.len() > 1;
    let (groups, decimals) = parts.split_at(thousands.len() + 1);
    let digits = |part: &&str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let in_threes = (1..=3).contains(&groups[0].len()) && groups[1..].iter().all(|part| part.len() == 3);
    let whole = one_kind && certain && in_threes && parts.iter().all(digits);
    let mark = if decimal { "." } else { "" };
    whole.then(|| format!("{}{mark}{}", groups.concat(), decimals.concat()))
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
