//! Encryption, and whom to trust for it: the authority whose file the user was given, and nobody else.

use super::address::Address;
use super::link::NoLink;
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{CertificateError, ClientConfig, RootCertStore};
use std::path::Path;
use std::sync::Arc;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;

/// What bytes go over, with encryption or without.
pub(super) trait Wire: AsyncRead + AsyncWrite + Send + Unpin {}

impl<S: AsyncRead + AsyncWrite + Send + Unpin> Wire for S {}

/// Trusts the authority of this address.
pub(super) fn connector(address: &Address) -> Result<TlsConnector, NoLink> {
    let Some(file) = address.authority() else {
        return Err(NoLink::Untrusted(format!(
            "{address} speaks with encryption, and there is nothing to know it by: name the file of its authority with \
             --authority FILE (or in DEADSHIP_AUTHORITY); the server says at its start where that file lies"
        )));
    };
    let config = config(file).map_err(|what| {
        let file = file.display();
        NoLink::Untrusted(format!(
            "{file} is not the file of an authority: {what}; take authority.pem from the server's data folder, in its \
             folder `authority`"
        ))
    })?;
    Ok(TlsConnector::from(Arc::new(config)))
}

fn config(file: &Path) -> Result<ClientConfig, String> {
    let mut roots = RootCertStore::empty();
    for certificate in CertificateDer::pem_file_iter(file).map_err(|error| error.to_string())? {
        let certificate = certificate.map_err(|error| error.to_string())?;
        roots.add(certificate).map_err(|error| error.to_string())?;
    }
    if roots.is_empty() {
        return Err("it holds no certificate".to_owned());
    }
    let config = ClientConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(|error| error.to_string())?;
    Ok(config.with_root_certificates(roots).with_no_client_auth())
}

/// The handshake.
pub(super) async fn encrypted(
    connector: &TlsConnector,
    address: &Address,
    stream: TcpStream,
) -> Result<Box<dyn Wire>, NoLink> {
    let name = ServerName::try_from(address.host().to_owned());
    let name = name.map_err(|error| NoLink::Unreachable(error.to_string()))?;
    match connector.connect(name, stream).await {
        Ok(stream) => Ok(Box::new(stream)),
        Err(error) => Err(explained(address, &error)),
    }
}

fn explained(address: &Address, error: &std::io::Error) -> NoLink {
    let inner = error.get_ref().and_then(|inner| inner.downcast_ref::<rustls::Error>());
    let file = address.authority().unwrap_or(Path::new("")).display();
    match inner {
        Some(rustls::Error::InvalidCertificate(
            CertificateError::UnknownIssuer | CertificateError::BadSignature,
        )) => NoLink::Untrusted(format!(
            "{address} is not vouched for by the authority of {file}: it is another server, or somebody stands \
                 between; ask whoever runs it for its authority.pem and compare the SHA-256 that its start prints"
        )),
        Some(rustls::Error::InvalidCertificate(
            CertificateError::NotValidForName | CertificateError::NotValidForNameContext { .. },
        )) => NoLink::Untrusted(format!(
            "the certificate of {address} is for other addresses: use one that the server's start prints, or start it \
             again, since it takes up the addresses that its machine has at that time"
        )),
        Some(rustls::Error::InvalidCertificate(why)) => NoLink::Untrusted(format!(
            "the certificate of {address} is not good: {why}; are both clocks right?"
        )),
        Some(rustls::Error::InvalidMessage(_)) => NoLink::Untrusted(format!(
            "{address} speaks without encryption: write http://{}, or start it with --tls",
            address.host_port()
        )),
        _ => NoLink::Unreachable(error.to_string()),
    }
}
