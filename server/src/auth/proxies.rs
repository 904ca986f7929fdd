//! Which proxies are believed when they say whose request they pass on (`X-Forwarded-For`).
//!
//! Anybody can send that header, so it counts only from a peer that is trusted, and within it only
//! what trusted proxies have added, read from the right.

use std::net::IpAddr;
use std::str::FromStr;

use thiserror::Error;

/// A network: an address and how many of its leading bits count (RFC 4632, RFC 4291).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Network {
    address: IpAddr,
    bits: u32,
}

/// Why a text is no network.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("an address such as 10.0.0.7, or a network such as 172.16.0.0/12")]
pub struct NoNetwork;

impl FromStr for Network {
    type Err = NoNetwork;

    fn from_str(text: &str) -> Result<Self, NoNetwork> {
        let (address, bits) = match text.trim().split_once('/') {
            Some((address, bits)) => (address, Some(bits)),
            None => (text.trim(), None),
        };
        let address: IpAddr = address.parse().map_err(|_| NoNetwork)?;
        let most = if address.is_ipv4() { 32 } else { 128 };
        let bits = bits.map_or(Ok(most), str::parse).map_err(|_| NoNetwork)?;
        if bits > most {
            return Err(NoNetwork);
        }
        Ok(Self { address, bits })
    }
}

impl Network {
    fn has(&self, other: IpAddr) -> bool {
        match (self.address, other.to_canonical()) {
            (IpAddr::V4(own), IpAddr::V4(other)) => {
                let shift = 32 - self.bits;
                let differ = own.to_bits() ^ other.to_bits();
                differ.checked_shr(shift).unwrap_or(0) == 0
            }
            (IpAddr::V6(own), IpAddr::V6(other)) => {
                let shift = 128 - self.bits;
                let differ = own.to_bits() ^ other.to_bits();
                differ.checked_shr(shift).unwrap_or(0) == 0
            }
            _ => false,
        }
    }
}

/// The trusted proxies.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Proxies(Vec<Network>);

impl Proxies {
    /// Nobody is believed.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// These are believed.
    #[must_use]
    pub fn new(networks: Vec<Network>) -> Self {
        Self(networks)
    }

    /// Whose request it is: the peer's, or what trusted proxies say, in the header's order.
    #[must_use]
    pub fn client(&self, peer: IpAddr, forwarded: &[&str]) -> IpAddr {
        let mut client = peer;
        for said in forwarded.iter().rev() {
            if !self.0.iter().any(|network| network.has(client)) {
                break;
            }
            let Ok(address) = said.trim().parse() else {
                break;
            };
            client = address;
        }
        client
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn client(trusted: &[&str], peer: &str, forwarded: &[&str]) -> String {
        let networks = trusted.iter().map(|text| text.parse().unwrap()).collect();
        Proxies::new(networks)
            .client(peer.parse().unwrap(), forwarded)
            .to_string()
    }

    #[test]
    fn believes_only_trusted_proxies() {
        let said = ["198.51.100.9", "203.0.113.5"];
        assert_eq!(client(&[], "10.0.0.7", &said), "10.0.0.7");
        assert_eq!(client(&["10.0.0.7"], "10.0.0.7", &said), "203.0.113.5");
        assert_eq!(client(&["10.0.0.0/8"], "10.9.9.9", &said), "203.0.113.5");
        assert_eq!(client(&["10.0.0.0/8"], "11.0.0.1", &said), "11.0.0.1");
        // Two proxies of ours, one behind the other; what stands further left anybody can write.
        let trusted = ["10.0.0.0/8", "203.0.113.5"];
        assert_eq!(client(&trusted, "10.0.0.7", &said), "198.51.100.9");
        assert_eq!(client(&["10.0.0.7"], "10.0.0.7", &["nonsense"]), "10.0.0.7");
        assert_eq!(client(&["::1"], "::1", &["2001:db8::1"]), "2001:db8::1");
        assert_eq!(
            client(&["0.0.0.0/0"], "::ffff:10.0.0.7", &["192.0.2.1"]),
            "192.0.2.1"
        );
    }

    #[test]
    fn says_what_a_network_is() {
        for text in ["", "10.0.0", "10.0.0.0/33", "::/129", "10.0.0.0/x"] {
            assert_eq!(text.parse::<Network>(), Err(NoNetwork), "{text}");
        }
    }
}
