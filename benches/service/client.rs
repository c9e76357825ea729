//! A client that keeps its connection and reads no more of an answer than it must.

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

pub struct Client {
    stream: TcpStream,
    buffer: Vec<u8>,
}

impl Client {
    pub async fn connect(port: u16) -> Client {
        let stream = TcpStream::connect(("127.0.0.1", port))
            .await
            .expect("the service is there");
        stream.set_nodelay(true).expect("a socket option");
        Client {
            stream,
            buffer: vec![0; 1 << 20],
        }
    }

    /// Sends a request and reads its answer whole; the status.
    pub async fn send(&mut self, method: &str, path: &str, head: &str, body: &str) -> u16 {
        self.exchange(method, path, head, body).await.0
    }

    /// The body of a page.
    pub async fn fetch(&mut self, path: &str, head: &str) -> String {
        let (_, body) = self.exchange("GET", path, head, "").await;
        String::from_utf8_lossy(&self.buffer[body]).into_owned()
    }

    async fn exchange(
        &mut self,
        method: &str,
        path: &str,
        head: &str,
        body: &str,
    ) -> (u16, std::ops::Range<usize>) {
        let length = body.len();
        let request = format!(
            "{method} {path} HTTP/1.1\r\nhost: 127.0.0.1\r\n{head}content-length: {length}\r\n\r\n{body}"
        );
        self.stream.write_all(request.as_bytes()).await.expect("sent");
        let mut read = 0;
        loop {
            read += self
                .stream
                .read(&mut self.buffer[read..])
                .await
                .expect("an answer");
            let text = &self.buffer[..read];
            let Some(end) = text.windows(4).position(|four| four == b"\r\n\r\n") else {
                continue;
            };
            let head = String::from_utf8_lossy(&text[..end]).to_lowercase();
            let length = head
                .lines()
                .find_map(|line| line.strip_prefix("content-length: "))
                .expect("a length");
            let whole = end + 4 + length.trim().parse::<usize>().expect("a number");
            if read >= whole {
                let status = head
                    .split(' ')
                    .nth(1)
                    .and_then(|status| status.parse().ok())
                    .expect("a status");
                return (status, end + 4..whole);
            }
        }
    }
}
