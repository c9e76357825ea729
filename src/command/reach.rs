//! The reach of a service is the address at which others in the shop get to it; the printed codes hold it.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, UdpSocket};

/// `http://..` of the machine itself, where it listens at every address it has.
pub fn address(listening: SocketAddr) -> String {
    if !listening.ip().is_unspecified() {
        return format!("http://{listening}");
    }
    match own(listening.ip()) {
        Some(ip) => format!("http://{}", SocketAddr::new(ip, listening.port())),
        None => format!("http://{}:{}", name(), listening.port()),
    }
}

/// The address this machine would send from. Nothing is sent: connecting a datagram's socket only asks the routes, and
/// nobody has the addresses asked for (RFC 5737, RFC 3849).
fn own(of: IpAddr) -> Option<IpAddr> {
    let four = || {
        from(
            IpAddr::V4(Ipv4Addr::UNSPECIFIED),
            IpAddr::V4(Ipv4Addr::new(192, 0, 2, 1)),
        )
    };
    let six = || {
        let nobody = Ipv6Addr::new(0x2001, 0xdb8, 0, 0, 0, 0, 0, 1);
        from(IpAddr::V6(Ipv6Addr::UNSPECIFIED), IpAddr::V6(nobody))
    };
    if of.is_ipv6() { four().or_else(six) } else { four() }
}

fn from(any: IpAddr, to: IpAddr) -> Option<IpAddr> {
    let socket = UdpSocket::bind(SocketAddr::new(any, 0)).ok()?;
    socket.connect(SocketAddr::new(to, 9)).ok()?;
    let ip = socket.local_addr().ok()?.ip();
    (!ip.is_unspecified() && !ip.is_loopback()).then_some(ip)
}

/// The machine's name, as the network of a small shop often knows it.
fn name() -> String {
    let kept = ["/proc/sys/kernel/hostname", "/etc/hostname"]
        .iter()
        .find_map(|path| std::fs::read_to_string(path).ok())
        .or_else(|| std::env::var("COMPUTERNAME").ok());
    let name = kept.map_or(String::new(), |name| name.trim().to_owned());
    if name.is_empty() {
        "localhost".to_owned()
    } else {
        name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_that_was_chosen_is_kept() {
        let chosen = SocketAddr::from(([192, 0, 2, 7], 8080));
        assert_eq!(address(chosen), "http://192.0.2.7:8080");
    }

    #[test]
    fn listening_everywhere_never_prints_nowhere() {
        for ip in [
            IpAddr::V4(Ipv4Addr::UNSPECIFIED),
            IpAddr::V6(Ipv6Addr::UNSPECIFIED),
        ] {
            let told = address(SocketAddr::new(ip, 8080));
            assert!(told.starts_with("http://") && told.ends_with(":8080"), "{told}");
            assert!(!told.contains("0.0.0.0") && !told.contains("[::]"), "{told}");
        }
    }
}
