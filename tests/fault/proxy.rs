//! A line between the service and PostgreSQL that can be cut just after a commit was passed on.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

pub struct Proxy {
    pub port: u16,
    losing: Arc<AtomicBool>,
}

impl Proxy {
    pub async fn to(server: String) -> Proxy {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
        let port = listener.local_addr().expect("its number").port();
        let losing = Arc::new(AtomicBool::new(false));
        let lose = losing.clone();
        tokio::spawn(async move {
            while let Ok((client, _)) = listener.accept().await {
                let server = TcpStream::connect(&server).await.expect("PostgreSQL");
                tokio::spawn(pass(client, server, lose.clone()));
            }
        });
        Proxy { port, losing }
    }

    /// From now on the answer to a commit is lost, once.
    pub fn lose_one_answer(&self) {
        self.losing.store(true, Ordering::SeqCst);
    }

    pub fn has_lost_it(&self) -> bool {
        !self.losing.load(Ordering::SeqCst)
    }
}

async fn pass(mut client: TcpStream, mut server: TcpStream, losing: Arc<AtomicBool>) {
    let (mut up, mut down) = ([0; 16384], [0; 16384]);
    loop {
        tokio::select! {
            read = client.read(&mut up) => {
                let Ok(read @ 1..) = read else { return };
                if server.write_all(&up[..read]).await.is_err() {
                    return;
                }
                let commit = up[..read].windows(7).any(|part| part == b"COMMIT\0");
                if commit && losing.swap(false, Ordering::SeqCst) {
                    // The server has done it once it answers; the answer goes no further.
                    let _ = server.read(&mut down).await;
                    return;
                }
            }
            read = server.read(&mut down) => {
                let Ok(read @ 1..) = read else { return };
                if client.write_all(&down[..read]).await.is_err() {
                    return;
                }
            }
        }
    }
}
