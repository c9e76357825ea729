//! A table is a CSV file as spreadsheets of many countries write it, read line by line in a fixed amount of memory.
//!
//! Comma, semicolon or tab between the cells, whichever makes the header read; a mark at its beginning; any of the three
//! line ends. A quote that is never closed costs the line it stands in, not all that follow.

use std::io::Read;

/// More letters than this in one line are not a visit.
const LONGEST: usize = 64 * 1024;
const CHUNK: usize = 256 * 1024;

pub struct Table<R> {
    from: R,
    buffer: Vec<u8>,
    /// Where in the buffer the next line begins.
    start: usize,
    ended: bool,
    separator: u8,
    /// The number of the line that comes next.
    line: u64,
    /// So many bytes were read so far.
    read: u64,
}

/// A line of the table: what a text editor numbers so, or the first of several where a cell holds line ends.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    pub line: u64,
    pub cells: Result<Vec<Vec<u8>>, Broken>,
}

/// Why a line cannot be taken apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Broken {
    OpenQuote,
    TooLong,
}

impl Broken {
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Broken::OpenQuote => "A quote is opened in this line and never closed. Close it, or take it out.",
            Broken::TooLong => "This line is longer than any visit. Look whether a line end is missing.",
        }
    }
}

/// One line taken apart, with the bytes and the line ends it took.
struct Apart {
    cells: Vec<Vec<u8>>,
    bytes: usize,
    lines: u64,
}

impl<R: Read> Table<R> {
    /// Begins to read; the separator follows from which of the names the first line holds.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn open(from: R, names: &[&str]) -> std::io::Result<Table<R>> {
        let mut table = Table {
            from,
            buffer: Vec::new(),
            start: 0,
            ended: false,
            separator: b',',
            line: 1,
            read: 0,
        };
        table.fill()?;
        if table.buffer.starts_with(b"\xef\xbb\xbf") {
            table.start = 3;
        }
        let known = |separator: u8| {
            let cells = apart(table.rest(), separator, true).map(|apart| apart.cells);
            let cells = cells.unwrap_or_default();
            let named = |cell: &&Vec<u8>| names.contains(&name(cell).as_str());
            cells.iter().filter(named).count()
        };
        // Of several that know as many the first: most files have commas.
        let best = [b',', b';', b'\t'].into_iter().rev().max_by_key(|s| known(*s));
        table.separator = best.unwrap_or(b',');
        Ok(table)
    }

    /// Two bytes a letter: what a spreadsheet calls "Unicode text".
    #[must_use]
    pub fn is_wide(&self) -> bool {
        let first = &self.buffer[..self.buffer.len().min(2)];
        first.starts_with(b"\xff\xfe") || first.starts_with(b"\xfe\xff") || first.contains(&0)
    }

    /// So many bytes are taken apart so far.
    #[must_use]
    pub fn position(&self) -> u64 {
        self.read - self.rest().len() as u64
    }

    fn rest(&self) -> &[u8] {
        &self.buffer[self.start..]
    }

    /// Sees to it that the buffer holds the longest line there may be, or all that is left.
    fn fill(&mut self) -> std::io::Result<()> {
        if self.ended || self.rest().len() > LONGEST {
            return Ok(());
        }
        self.buffer.drain(..self.start);
        self.start = 0;
        while !self.ended && self.buffer.len() < LONGEST + CHUNK {
            let before = self.buffer.len();
            self.buffer.resize(before + CHUNK, 0);
            let got = self.from.read(&mut self.buffer[before..])?;
            self.buffer.truncate(before + got);
            self.read += got as u64;
            self.ended = got == 0;
        }
        Ok(())
    }

    /// The next line with anything in it.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn next_row(&mut self) -> std::io::Result<Option<Row>> {
        loop {
            self.fill()?;
            if self.rest().is_empty() {
                return Ok(None);
            }
            let line = self.line;
            match apart(self.rest(), self.separator, self.ended) {
                Ok(apart) if apart.bytes <= LONGEST => {
                    self.start += apart.bytes;
                    self.line += apart.lines;
                    if apart.cells.iter().any(|cell| !cell.trim_ascii().is_empty()) {
                        let cells = Ok(apart.cells);
                        return Ok(Some(Row { line, cells }));
                    }
                }
                other => {
                    let broken = other.err().unwrap_or(Broken::TooLong);
                    self.skip()?;
                    let cells = Err(broken);
                    return Ok(Some(Row { line, cells }));
                }
            }
        }
    }

    /// Goes on behind the next line end, however far it is.
    fn skip(&mut self) -> std::io::Result<()> {
        loop {
            self.fill()?;
            let rest = self.rest();
            if let Some(at) = rest.iter().position(|byte| matches!(byte, b'\n' | b'\r')) {
                let two = rest[at..].starts_with(b"\r\n");
                self.start += at + if two { 2 } else { 1 };
                self.line += 1;
                return Ok(());
            }
            self.start = self.buffer.len();
            if self.ended {
                return Ok(());
            }
        }
    }
}

/// A column's name as it is compared: "Received on" is received_on.
#[must_use]
pub fn name(cell: &[u8]) -> String {
    let text = String::from_utf8_lossy(cell).trim().to_lowercase();
    text.replace([' ', '-'], "_")
}

/// Takes the first line apart. `all` says that nothing follows what is given.
fn apart(text: &[u8], separator: u8, all: bool) -> Result<Apart, Broken> {
    let (mut cells, mut cell, mut lines) = (Vec::new(), Vec::new(), 0);
    let (mut quoted, mut at) = (false, 0);
    let mut fresh = true; // nothing of this cell was seen yet
    loop {
        let Some(&byte) = text.get(at) else {
            if quoted {
                return Err(Broken::OpenQuote);
            }
            if !all {
                return Err(Broken::TooLong);
            }
            cells.push(cell);
            lines += 1;
            return Ok(Apart {
                cells,
                bytes: at,
                lines,
            });
        };
        let line_end = match byte {
            b'\r' if text.get(at + 1) == Some(&b'\n') => 2,
            b'\r' | b'\n' => 1,
            _ => 0,
        };
        if line_end > 0 {
            lines += 1;
        }
        match byte {
            b'"' if quoted && text.get(at + 1) == Some(&b'"') => {
                cell.push(b'"');
                at += 1;
            }
            b'"' if quoted => quoted = false,
            _ if quoted => {
                cell.extend_from_slice(&text[at..at + line_end.max(1)]);
                at += line_end.max(1) - 1;
            }
            b'"' if fresh => quoted = true,
            _ if byte == separator => {
                cells.push(std::mem::take(&mut cell));
                at += 1;
                fresh = true;
                continue;
            }
            _ if line_end > 0 => {
                cells.push(cell);
                let bytes = at + line_end;
                return Ok(Apart { cells, bytes, lines });
            }
            _ => cell.push(byte),
        }
        fresh = false;
        at += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const NAMES: [&str; 3] = ["one", "two", "three"];

    fn rows(text: &[u8]) -> Vec<Row> {
        let mut table = Table::open(text, &NAMES).expect("a table");
        std::iter::from_fn(|| table.next_row().expect("a row")).collect()
    }

    fn cells(row: &Row) -> Vec<String> {
        let cells = row.cells.as_ref().expect("whole");
        cells
            .iter()
            .map(|cell| String::from_utf8_lossy(cell).into_owned())
            .collect()
    }

    #[test]
    fn separators_marks_and_line_ends_of_many_countries_read_alike() {
        for text in [
            "one,two,three\na,\"b,\"\"c\",d\n",
            "\u{feff}one;two;three\r\na;\"b,\"\"c\";d\r\n",
            "three\tone\ttwo\ra\tb,\"c\td",
            "one;two;three\n;;\n\na;b,\"c;d",
        ] {
            let rows = rows(text.as_bytes());
            assert_eq!(cells(&rows[1]), ["a", "b,\"c", "d"], "{text:?}");
            assert_eq!(rows.len(), 2, "{text:?}");
        }
    }

    #[test]
    fn a_line_has_the_number_that_an_editor_shows() {
        let rows = rows(b"one,two\n\n\"a\nb\",c\n,\n d,e\r\nf,g");
        let lines: Vec<u64> = rows.iter().map(|row| row.line).collect();
        assert_eq!(lines, [1, 3, 6, 7]);
    }

    #[test]
    fn an_open_quote_and_an_endless_line_cost_themselves_alone() {
        let long = "x".repeat(3 * LONGEST);
        let text = format!("one,two\na,\"b\nc,d\n{long}\ne,f\n");
        let rows = rows(text.as_bytes());
        assert_eq!(rows[1].cells, Err(Broken::OpenQuote));
        assert_eq!((cells(&rows[2]), rows[2].line), (vec!["c".into(), "d".into()], 3));
        assert_eq!((rows[3].cells.clone(), rows[3].line), (Err(Broken::TooLong), 4));
        assert_eq!((cells(&rows[4]), rows[4].line), (vec!["e".into(), "f".into()], 5));
    }

    proptest! {
        #[test]
        fn what_another_program_wrote_is_read_back(
            table in prop::collection::vec(prop::collection::vec("[ a-c,;\"\r\n\t]{0,6}", 3), 1..20)
        ) {
            let mut to = csv::Writer::from_writer(Vec::new());
            to.write_record(NAMES).expect("written");
            for row in &table {
                to.write_record(row).expect("written");
            }
            let text = to.into_inner().expect("whole");
            let read: Vec<Vec<String>> = rows(&text).iter().skip(1).map(cells).collect();
            let kept: Vec<Vec<String>> = table.into_iter()
                .filter(|row| row.iter().any(|cell| !cell.trim().is_empty())).collect();
            prop_assert_eq!(read, kept);
        }

        #[test]
        fn no_bytes_at_all_stop_it(text in prop::collection::vec(any::<u8>(), 0..400)) {
            rows(&text);
        }
    }
}
