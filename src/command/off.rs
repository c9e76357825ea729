//! What is off in the words of a call: they are wrong whatever the shop holds, so nothing was opened and nothing was made.

/// Ends the program with 2; every other trouble ends it with 1.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Off(String);

pub fn off(words: impl Into<String>) -> anyhow::Error {
    anyhow::Error::new(Off(words.into()))
}

/// Where to listen: an address or a name, and a port.
pub fn listen(text: &str) -> Result<String, String> {
    let known = text.parse::<std::net::SocketAddr>().is_ok()
        || text.rsplit_once(':').is_some_and(|(host, port)| {
            let plain = !host.is_empty() && !host.contains([':', '/', ' ', '[', ']']);
            plain && port.parse::<u16>().is_ok()
        });
    known
        .then(|| text.to_owned())
        .ok_or_else(|| "an address and a port, such as 127.0.0.1:8080".to_owned())
}

/// The address people reach the shop at.
pub fn address(text: &str) -> Result<String, String> {
    let host = ["http://", "https://"]
        .iter()
        .find_map(|kind| text.strip_prefix(kind));
    let told = host.is_some_and(|host| {
        !host.starts_with('/') && !host.is_empty() && !host.contains(char::is_whitespace)
    });
    told.then(|| text.trim_end_matches('/').to_owned())
        .ok_or_else(|| "it begins with http:// or https://, such as https://shop.example".to_owned())
}

/// A day of this shop's time.
pub fn day(text: &str) -> Result<purfle::clock::Day, String> {
    purfle::clock::Day::parse(text).ok_or_else(|| "a day is written like 2027-12-31".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_to_listen_at_has_a_port() {
        for right in ["127.0.0.1:8080", "[::1]:0", "localhost:80", "0.0.0.0:65535"] {
            assert!(listen(right).is_ok(), "{right}");
        }
        for wrong in [
            "",
            "8080",
            ":8080",
            "localhost",
            "127.0.0.1:",
            "a:70000",
            "http://a:80",
            "::1:80",
        ] {
            assert!(listen(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn people_reach_it_over_http() {
        assert_eq!(
            address("https://shop.example/").as_deref(),
            Ok("https://shop.example")
        );
        for wrong in [
            "",
            "shop.example",
            "ftp://shop.example",
            "https://",
            "http:// a",
            "http:///a",
        ] {
            assert!(address(wrong).is_err(), "{wrong}");
        }
    }
}
