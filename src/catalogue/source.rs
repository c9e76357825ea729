//! A source says where a fact of the catalogue comes from; screens name its kind, the data keeps which one.

/// What is said of an entry that the shop made itself.
pub const OWN: &str = "the shop's own";

/// The kinds of sources in a note such as "S02; common practice, no source": "published source, common practice".
#[must_use]
pub fn words(note: &str) -> String {
    let mut kinds: Vec<&str> = Vec::new();
    for part in note.split(';').map(str::trim).filter(|part| !part.is_empty()) {
        let kind = if is_published(part) {
            "published source"
        } else {
            part.strip_suffix(", no source").unwrap_or(part)
        };
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    kinds.join(", ")
}

/// The ids of published sources in a note, as `sources.csv` has them.
pub fn ids(note: &str) -> impl Iterator<Item = &str> {
    note.split(';')
        .map(str::trim)
        .filter(|part| is_published(part))
        .map(|part| part.split(' ').next().unwrap_or(part))
}

fn is_published(part: &str) -> bool {
    part.strip_prefix('S')
        .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_source_is_named_by_its_kind() {
        assert_eq!(
            words("S02; S07 (slot just wider); common practice, no source"),
            "published source, common practice"
        );
        assert_eq!(
            words("common practice, no source; minutes from memory"),
            "common practice, minutes from memory"
        );
        assert_eq!(words(OWN), OWN);
        assert_eq!(
            ids("S02; S07 (slot just wider); from memory").collect::<Vec<_>>(),
            ["S02", "S07"]
        );
    }
}
