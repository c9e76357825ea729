//! A sentence says in words what some figures come to; each piece of it opens with a link to the part of the page they stand in.

/// Under it stands how everything is counted, and every figure as CSV: where there is no table to lead to.
pub const COUNTED: &str = "counted";

/// A piece of a sentence whose figures stand together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Its opening, which is the link.
    pub lead: String,
    pub rest: String,
    /// The id of a part of the page.
    pub part: &'static str,
}

/// The opening of its first piece stands out on the page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sentence {
    pub pieces: Vec<Piece>,
}

impl Piece {
    #[must_use]
    pub fn new(lead: impl Into<String>, rest: impl Into<String>, part: &'static str) -> Piece {
        Piece {
            lead: lead.into(),
            rest: rest.into(),
            part,
        }
    }
}

impl From<Piece> for Sentence {
    fn from(piece: Piece) -> Sentence {
        Sentence { pieces: vec![piece] }
    }
}

impl Sentence {
    /// As it is read.
    #[must_use]
    pub fn words(&self) -> String {
        let said = self
            .pieces
            .iter()
            .map(|piece| format!("{}{}", piece.lead, piece.rest));
        said.collect::<Vec<_>>().join(" ")
    }
}
