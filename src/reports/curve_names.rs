//! Names beside a curve: cut or broken to the room there is, and safe within markup.

pub fn short(name: &str, letters: usize) -> String {
    if name.chars().count() <= letters {
        return name.to_owned();
    }
    let begin: String = name.chars().take(letters - 1).collect();
    format!("{}…", begin.trim_end())
}

/// In two lines at most.
pub fn wrapped(name: &str, letters: usize) -> Vec<String> {
    let (mut first, mut rest) = (String::new(), name);
    while let Some(word) = rest.split_whitespace().next() {
        if !first.is_empty() && first.chars().count() + 1 + word.chars().count() > letters {
            break;
        }
        if !first.is_empty() {
            first.push(' ');
        }
        first.push_str(word);
        rest = rest.trim_start().strip_prefix(word).unwrap_or_default();
    }
    let rest = rest.trim();
    let lines = if rest.is_empty() {
        vec![first]
    } else {
        vec![first, rest.to_owned()]
    };
    lines.iter().map(|line| short(line, letters)).collect()
}

/// Names are the shop's own, typed by somebody.
pub fn escaped(name: &str) -> String {
    name.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_stands_in_two_lines() {
        assert_eq!(wrapped("Nut slot too low", 28), ["Nut slot too low"]);
        assert_eq!(
            wrapped("Open seam at an upper bout, top or back", 28),
            ["Open seam at an upper bout,", "top or back"]
        );
        assert!(
            wrapped(&"x".repeat(80), 28)
                .iter()
                .all(|line| line.chars().count() <= 28)
        );
        assert_eq!(wrapped("", 28), [""]);
    }
}
