//! Pieces are an answer that is handed over as it is made, so that however long it is, little of it is ever kept.

use std::pin::Pin;
use std::task::{Context, Poll};

use axum::body::{Body, Bytes};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, HeaderName};
use axum::response::{IntoResponse, Response};
use hyper::body::{Body as Handed, Frame};
use tokio::sync::mpsc::{Receiver, Sender, channel};

use crate::error::Error;

/// So many pieces wait for whoever reads slowly.
const WAITING: usize = 2;

/// Takes the pieces of an answer, in their order.
pub struct Pieces(Sender<Result<Bytes, Error>>);

/// The reader has gone away; there is nobody to make the rest for.
pub struct Gone;

struct Coming(Receiver<Result<Bytes, Error>>);

impl Handed for Coming {
    type Data = Bytes;
    type Error = Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Error>>> {
        self.0
            .poll_recv(cx)
            .map(|piece| piece.map(|piece| piece.map(Frame::data)))
    }
}

/// What goes before a CSV file to keep.
#[must_use]
pub fn csv_headers(name: &str) -> [(HeaderName, String); 2] {
    let kept = format!("attachment; filename=\"{name}.csv\"");
    [
        (CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
        (CONTENT_DISPOSITION, kept),
    ]
}

impl Pieces {
    /// A file to keep, whose pieces are still to come.
    #[must_use]
    pub fn csv(name: &str) -> (Pieces, Response) {
        let (give, take) = channel(WAITING);
        (
            Pieces(give),
            (csv_headers(name), Body::new(Coming(take))).into_response(),
        )
    }

    /// # Errors
    /// When nobody reads any longer.
    pub async fn give(&self, piece: Vec<u8>) -> Result<(), Gone> {
        self.0.send(Ok(piece.into())).await.map_err(|_| Gone)
    }

    /// What was begun cannot be ended: the answer breaks off, so that nobody takes it for the whole.
    pub async fn break_off(&self, why: Error) {
        tracing::error!(fault = crate::log::quoted(&why), "an answer broke off");
        let _ = self.0.send(Err(why)).await;
    }
}
