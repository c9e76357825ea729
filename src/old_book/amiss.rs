//! Amiss are the lines of a file that are not taken, with why: written to a file as they are found, however many they are.

use std::fs::File;
use std::io::{BufWriter, ErrorKind};
use std::path::Path;

use csv::{ReaderBuilder, Terminator, Writer, WriterBuilder};

use crate::reports::table_csv::text;

/// More than so many are counted, and not written: nobody reads on.
const MOST: usize = 200_000;

/// Why a line is not taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Amiss {
    pub line: u64,
    /// Empty when it is the line as a whole.
    pub column: String,
    pub words: String,
}

pub struct AmissFile {
    to: Writer<BufWriter<File>>,
    written: usize,
    /// The first thing that went wrong; writing goes on no more.
    broken: Option<std::io::Error>,
}

impl AmissFile {
    /// # Errors
    /// When the disk takes no file.
    pub fn begin(path: &Path) -> std::io::Result<AmissFile> {
        let to = BufWriter::new(super::desk::new_file(path)?);
        let mut to = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(to);
        to.write_record(["line", "column", "what_to_do"])?;
        Ok(AmissFile {
            to,
            written: 0,
            broken: None,
        })
    }

    pub fn add(&mut self, amiss: &Amiss) {
        if self.broken.is_some() || self.written > MOST {
            return;
        }
        let line = amiss.line.to_string();
        let (column, words) = (text(&amiss.column), text(&amiss.words));
        let row = if self.written == MOST {
            ["", "", "There are more. Set these right first."]
        } else {
            [&*line, &*column, &*words]
        };
        if let Err(why) = self.to.write_record(row) {
            self.broken = Some(why.into());
        }
        self.written += 1;
    }

    /// # Errors
    /// When not all of it could be written.
    pub fn end(mut self) -> std::io::Result<()> {
        match self.broken {
            Some(why) => Err(why),
            None => self.to.flush(),
        }
    }
}

/// The first of a file, if it is still there.
///
/// # Errors
/// When it cannot be read.
pub fn first(path: &Path, most: usize) -> std::io::Result<Vec<Amiss>> {
    let file = match File::open(path) {
        Err(why) if why.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
        file => file?,
    };
    let mut table = ReaderBuilder::new().from_reader(file);
    let mut all = Vec::new();
    for row in table.records().take(most) {
        let row = row?;
        let cell = |at: usize| row.get(at).unwrap_or_default().to_owned();
        all.push(Amiss {
            line: cell(0).parse().unwrap_or(0),
            column: cell(1),
            words: cell(2),
        });
    }
    Ok(all)
}
