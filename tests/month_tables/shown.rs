//! What a page shows in its tables, cell by cell.

/// A table as it is read.
#[derive(Debug)]
pub struct Shown {
    pub id: String,
    pub caption: String,
    pub head: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

/// Markup gone, blanks made one; what is for the screen alone stays.
pub fn plain(markup: &str) -> String {
    let (mut words, mut inside) = (String::new(), false);
    for letter in markup.chars() {
        match letter {
            '<' => inside = true,
            '>' => {
                inside = false;
                words.push(' ');
            }
            _ if !inside => words.push(letter),
            _ => {}
        }
    }
    for (code, sign) in [
        ("&#39;", "'"),
        ("&#34;", "\""),
        ("&#60;", "<"),
        ("&#62;", ">"),
        ("&#38;", "&"),
    ] {
        words = words.replace(code, sign);
    }
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What stands between two marks, all of them.
pub fn between<'a>(markup: &'a str, from: &'a str, to: &'a str) -> impl Iterator<Item = &'a str> {
    let parts = markup.split(from).skip(1);
    parts.filter_map(move |part| part.split(to).next())
}

pub fn shown(body: &str) -> Vec<Shown> {
    between(body, "<table", "</table>").map(table).collect()
}

fn table(markup: &str) -> Shown {
    let tag = markup.split('>').next().unwrap_or_default();
    let head = between(markup, "<thead>", "</thead>").next().unwrap_or_default();
    let rows = between(markup, "<tbody>", "</tbody>").flat_map(|body| between(body, "<tr>", "</tr>"));
    Shown {
        id: between(tag, "id=\"", "\"").next().unwrap_or_default().to_owned(),
        caption: between(markup, "<caption>", "</caption>").map(plain).collect(),
        head: cells(head),
        rows: rows.map(cells).collect(),
    }
}

/// The words of each cell, with its tint.
fn cells(row: &str) -> Vec<String> {
    let mut cells = Vec::new();
    for cell in row
        .split("<t")
        .skip(1)
        .filter(|cell| cell.starts_with(['h', 'd']))
    {
        let (tag, words) = cell.split_once('>').unwrap_or((cell, ""));
        if tag.starts_with("head") {
            continue;
        }
        let tint = tag.find("heat-").map(|at| format!(" {}", &tag[at..at + 6]));
        cells.push(plain(words) + &tint.unwrap_or_default());
    }
    cells
}
