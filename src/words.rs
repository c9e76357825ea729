//! Words for numbers: minutes and counts as the shop says them.

/// Minutes as they are said at the bench: "45 min", "2 h", "1 h 20", "1 h 05".
#[must_use]
pub fn minutes(m: i64) -> String {
    let sign = if m < 0 { "\u{2212}" } else { "" };
    let all = m.unsigned_abs();
    match (all / 60, all % 60) {
        (0, rest) => format!("{sign}{rest} min"),
        (hours, 0) => format!("{sign}{} h", grouped(hours)),
        (hours, rest) => format!("{sign}{} h {rest:02}", grouped(hours)),
    }
}

/// A count with its word: `count(1, "order", "orders")` is "1 order", 1204 of them "1,204 orders".
#[must_use]
pub fn count(n: i64, one: &str, many: &str) -> String {
    let sign = if n < 0 { "\u{2212}" } else { "" };
    let word = if n == 1 { one } else { many };
    format!("{sign}{} {word}", grouped(n.unsigned_abs()))
}

/// Digits in groups of three: 1204 is "1,204".
#[must_use]
pub fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut shown = String::with_capacity(digits.len() + digits.len() / 3);
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            shown.push(',');
        }
        shown.push(digit);
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minutes_read_as_they_are_said() {
        let said = [
            (0, "0 min"),
            (5, "5 min"),
            (59, "59 min"),
            (60, "1 h"),
            (65, "1 h 05"),
            (80, "1 h 20"),
        ];
        for (m, text) in said {
            assert_eq!(minutes(m), text);
        }
        assert_eq!(minutes(72_061), "1,201 h 01");
        assert_eq!(minutes(-15), "\u{2212}15 min");
        assert_eq!(minutes(i64::MIN), "\u{2212}153,722,867,280,912,930 h 08");
    }

    #[test]
    fn only_one_is_one() {
        let said = [
            (0, "0 orders"),
            (1, "1 order"),
            (2, "2 orders"),
            (999, "999 orders"),
            (1204, "1,204 orders"),
        ];
        for (n, text) in said {
            assert_eq!(count(n, "order", "orders"), text);
        }
        assert_eq!(count(1_000_000, "order", "orders"), "1,000,000 orders");
    }
}
