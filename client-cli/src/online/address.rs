//! Addresses as people type them.

use crate::failure::Failure;
use deadship_protocol::{DEFAULT_PORT, PATH};
use std::path::{Path, PathBuf};

/// Where a server is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Address {
    /// `host:port`.
    host_port: String,
    /// With encryption?
    secure: bool,
    /// File of the authority that vouches for the server.
    authority: Option<PathBuf>,
}

impl Address {
    /// Reads `192.168.1.20`, `box.local:8080`, `[::1]:7333`, `http://192.168.1.20:7333/`.
    pub(crate) fn parse(text: &str) -> Result<Address, Failure> {
        let bad = |what: &str| {
            let help = "write HOST or HOST:PORT, as the server printed it";
            Err(Failure::Asked(format!("`{text}` is not an address: {what}; {help}")))
        };
        let trimmed = text.trim();
        let (scheme, rest) = trimmed.split_once("://").unwrap_or(("http", trimmed));
        let secure = match scheme {
            "http" | "ws" => false,
            "https" | "wss" => true,
            _ => return bad("it begins with something else than http:// or https://"),
        };
        let rest = rest.split('/').next().unwrap_or_default();
        if rest.is_empty() || rest.chars().any(|c| c.is_whitespace() || matches!(c, '@' | '?' | '#')) {
            return bad("there is no host in it");
        }
        let (host, port) = if let Some(inner) = rest.strip_prefix('[') {
            match inner.split_once(']') {
                Some((host, port)) => (format!("[{host}]"), port.strip_prefix(':')),
                None => return bad("a `]` is missing"),
            }
        } else if rest.matches(':').count() > 1 {
            (format!("[{rest}]"), None)
        } else {
            match rest.split_once(':') {
                Some((host, port)) => (host.to_owned(), Some(port)),
                None => (rest.to_owned(), None),
            }
        };
        let port = match port.map(str::parse::<u16>) {
            None => DEFAULT_PORT,
            Some(Ok(port)) if port > 0 => port,
            Some(_) => return bad("the port is a number from 1 to 65535"),
        };
        if host.is_empty() {
            return bad("there is no host in it");
        }
        Ok(Address { host_port: format!("{host}:{port}"), secure, authority: None })
    }

    /// The server's WebSocket.
    pub(crate) fn url(&self) -> String {
        format!("{}://{}{PATH}", if self.secure { "wss" } else { "ws" }, self.host_port)
    }

    /// The same, with the file of the authority to trust.
    pub(crate) fn trusting(self, authority: Option<&Path>) -> Address {
        Address { authority: authority.map(Path::to_owned), ..self }
    }

    /// With encryption?
    pub(crate) fn is_secure(&self) -> bool {
        self.secure
    }

    /// File of the authority to trust.
    pub(crate) fn authority(&self) -> Option<&Path> {
        self.authority.as_deref()
    }

    /// `host:port`.
    pub(crate) fn host_port(&self) -> &str {
        &self.host_port
    }

    /// Name or number of the host, without the brackets of an IPv6 number.
    pub(crate) fn host(&self) -> &str {
        let host = self.host_port.rsplit_once(':').map_or(self.host_port.as_str(), |(host, _)| host);
        host.trim_start_matches('[').trim_end_matches(']')
    }

    /// A name for a file.
    pub(crate) fn file_name(&self) -> String {
        self.host_port.chars().map(|c| if c.is_ascii_alphanumeric() || c == '.' { c } else { '_' }).collect()
    }
}

impl std::fmt::Display for Address {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.secure {
            f.write_str("https://")?;
        }
        f.write_str(&self.host_port)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_as_people_type_them() {
        for (text, url) in [
            ("192.168.1.20", "ws://192.168.1.20:7333/link"),
            ("box.local:8080", "ws://box.local:8080/link"),
            ("http://10.0.0.1:7333/team", "ws://10.0.0.1:7333/link"),
            ("[::1]:9", "ws://[::1]:9/link"),
            ("::1", "ws://[::1]:7333/link"),
            ("https://box.local", "wss://box.local:7333/link"),
            ("wss://[::1]:9/link", "wss://[::1]:9/link"),
        ] {
            assert_eq!(Address::parse(text).unwrap().url(), url);
        }
        for text in ["", "host:", "host:0", "host:99999", ":80", "a b", "ftp://x", "https://", "[::1"] {
            assert!(Address::parse(text).is_err(), "{text}");
        }
        assert_eq!(Address::parse("[::1]:9").unwrap().file_name(), "___1__9");
    }
}
