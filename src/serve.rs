//! The loop that takes connections: limits on slow clients, and an end that lets running requests finish.

use std::time::Duration;

use axum::Router;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto::Builder;
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};

/// The same number on Linux, macOS and the BSDs.
const SIGXFSZ: i32 = 25;

/// How patient the service is.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// Headers that have not arrived by then are not waited for.
    pub headers: Duration,
    /// So long running requests may take to finish when the service is asked to stop.
    pub drain: Duration,
}

impl Default for Patience {
    fn default() -> Self {
        Patience {
            headers: Duration::from_secs(10),
            drain: Duration::from_secs(10),
        }
    }
}

/// Serves until SIGTERM or ctrl-c, then lets what runs finish.
///
/// # Errors
/// When signals cannot be listened for.
pub async fn serve(listener: TcpListener, service: Router, patience: Patience) -> std::io::Result<()> {
    let mut server = Builder::new(TokioExecutor::new());
    server
        .http1()
        .timer(TokioTimer::new())
        .header_read_timeout(patience.headers)
        .max_headers(64)
        .max_buf_size(32 * 1024)
        .http2()
        .timer(TokioTimer::new())
        .max_header_list_size(32 * 1024)
        .keep_alive_interval(Some(Duration::from_secs(20)));
    let running = GracefulShutdown::new();
    // A file that reaches a size limit is then an answer to the one who writes, not the end of the program.
    let _larger_than_allowed = signal(SignalKind::from_raw(SIGXFSZ))?;
    let (mut terminate, mut interrupt) = (signal(SignalKind::terminate())?, signal(SignalKind::interrupt())?);
    loop {
        let stream = tokio::select! {
            accepted = listener.accept() => match accepted {
                Ok((stream, _)) => stream,
                Err(problem) => {
                    // Out of file handles: give those that are open time to end.
                    tracing::warn!(%problem, "a connection could not be taken");
                    tokio::time::sleep(Duration::from_millis(50)).await;
                    continue;
                }
            },
            _ = terminate.recv() => break,
            _ = interrupt.recv() => break,
        };
        let _ = stream.set_nodelay(true);
        let connection = server
            .serve_connection(TokioIo::new(stream), TowerToHyperService::new(service.clone()))
            .into_owned();
        let connection = running.watch(connection);
        tokio::spawn(async move {
            if let Err(problem) = connection.await {
                tracing::debug!(%problem, "a connection ended early");
            }
        });
    }
    drop(listener);
    tokio::select! {
        () = running.shutdown() => {}
        () = tokio::time::sleep(patience.drain) => tracing::warn!("some requests did not finish in time"),
    }
    Ok(())
}
