//! Encryption without anybody's help: the box is its own authority. The authority is kept in the data folder, so that
//! who trusts it once trusts the box for good; the server's own certificate is made anew at each start, for the
//! addresses that the machine has then.

use crate::addresses;
use chrono::{Datelike as _, Days, Utc};
use rcgen::{
    BasicConstraints, CertificateParams, DnType, ExtendedKeyUsagePurpose, IsCa, Issuer, KeyPair,
    KeyUsagePurpose, date_time_ymd,
};
use ring::digest::{SHA256, digest};
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How long a server's certificate is good from its start, days. Systems refuse such that are good for longer than 825.
const GOOD_FOR_DAYS: u64 = 800;

/// Clocks of boxes and clients differ: it is good from before its start, days.
const GOOD_BEFORE_DAYS: u64 = 2;

/// The authority's files in a data folder. The key is secret: whoever has it can pass for the box.
pub(crate) const FILES: [&str; 2] = [KEY_FILE, CERTIFICATE_FILE];
const KEY_FILE: &str = "authority/authority.key";
const CERTIFICATE_FILE: &str = "authority/authority.pem";

/// Why there is no encryption.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TlsError {
    /// A file of the authority.
    #[error("{} of the box's own authority: {doing} failed: {error}; see to that file, or move the folder away and \
             everybody gets the file of a new authority", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// What was done with it.
        doing: &'static str,
        /// What the system said.
        error: io::Error,
    },
    /// The key cannot be read.
    #[error("{} holds no key ({what}); put back the one from a backup, or move it away and everybody gets the file of \
             a new authority", path.display())]
    Key {
        /// Which.
        path: PathBuf,
        /// What the reader said.
        what: String,
    },
    /// The certificate is not that of the key.
    #[error("{} is missing or does not belong to the key beside it; put back the one from a backup, or the next start \
             with --tls makes another, and everybody gets that", path.display())]
    Apart {
        /// Which.
        path: PathBuf,
    },
    /// Something else about certificates.
    #[error("no certificate can be made: {0}")]
    Certificate(String),
}

impl From<rcgen::Error> for TlsError {
    fn from(error: rcgen::Error) -> TlsError {
        TlsError::Certificate(error.to_string())
    }
}

/// What people must know to trust the box.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Authority {
    /// The file that clients need.
    pub file: PathBuf,
    /// SHA-256 of its certificate, to be compared by eye.
    pub fingerprint: String,
}

/// The authority of this data folder, made if there is none yet, and a configuration for this address.
pub(crate) fn prepare(data: &Path, address: SocketAddr) -> Result<(Authority, ServerConfig), TlsError> {
    let folder = data.join("authority");
    fs::create_dir_all(&folder).map_err(|error| TlsError::File { path: folder, doing: "creating", error })?;
    let key = authority_key(&data.join(KEY_FILE))?;
    let params = authority_params(&key);
    let certificate = params.self_signed(&key)?;
    let file = data.join(CERTIFICATE_FILE);
    // An older one of the same key is as good, and the one whose fingerprint people have seen.
    let older = der_of(&file).filter(|der| holds(der, key.public_key_raw()));
    let fingerprint = match older {
        Some(der) => fingerprint(&der),
        None => {
            write(&file, &certificate.pem(), 0o644)?;
            fingerprint(certificate.der())
        }
    };
    let config = server_config(address, &Issuer::new(params, key))?;
    Ok((Authority { file, fingerprint }, config))
}

/// The authority of a data folder or a backup, for looking at only; `None`: there is none.
pub(crate) fn look(folder: &Path) -> Option<Result<Authority, TlsError>> {
    if !FILES.iter().any(|name| folder.join(name).exists()) {
        return None;
    }
    let whole = || {
        let key = read_key(&folder.join(KEY_FILE))?;
        let file = folder.join(CERTIFICATE_FILE);
        match der_of(&file).filter(|der| holds(der, key.public_key_raw())) {
            Some(der) => Ok(Authority { fingerprint: fingerprint(&der), file }),
            None => Err(TlsError::Apart { path: file }),
        }
    };
    Some(whole())
}

fn der_of(file: &Path) -> Option<Vec<u8>> {
    CertificateDer::from_pem_slice(&fs::read(file).ok()?).ok().map(|der| der.to_vec())
}

/// A certificate holds the bytes of its key as they are.
fn holds(der: &[u8], key: &[u8]) -> bool {
    !key.is_empty() && der.windows(key.len()).any(|part| part == key)
}

/// The key is read, or made and kept where its owner alone can read it.
fn authority_key(path: &Path) -> Result<KeyPair, TlsError> {
    match read_key(path) {
        Err(TlsError::File { error, .. }) if error.kind() == io::ErrorKind::NotFound => {
            let key = KeyPair::generate()?;
            write(path, &key.serialize_pem(), 0o600)?;
            Ok(key)
        }
        read => read,
    }
}

fn read_key(path: &Path) -> Result<KeyPair, TlsError> {
    let text = fs::read_to_string(path).map_err(|error| TlsError::File {
        path: path.to_owned(),
        doing: "reading",
        error,
    })?;
    KeyPair::from_pem(&text).map_err(|error| TlsError::Key { path: path.to_owned(), what: error.to_string() })
}

/// Whole or not at all, and on disk.
fn write(path: &Path, text: &str, mode: u32) -> Result<(), TlsError> {
    let failed = |error| TlsError::File { path: path.to_owned(), doing: "writing", error };
    let beside = path.with_extension("new");
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, mode);
    #[cfg(not(unix))]
    let _ = mode;
    let written = || -> io::Result<()> {
        let _ = fs::remove_file(&beside);
        let mut file = options.open(&beside)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        fs::rename(&beside, path)?;
        match path.parent() {
            Some(folder) if cfg!(unix) => File::open(folder)?.sync_all(),
            _ => Ok(()),
        }
    };
    written().map_err(failed)
}

/// The same for the same key, so that the certificate can be made again from it.
fn authority_params(key: &KeyPair) -> CertificateParams {
    let mut params = CertificateParams::default();
    let print: String = fingerprint(key.public_key_raw()).chars().filter(|c| *c != ':').take(8).collect();
    params.distinguished_name.push(DnType::CommonName, format!("deadship authority {print}"));
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::DigitalSignature];
    (params.not_before, params.not_after) = (date_time_ymd(2025, 1, 1), date_time_ymd(2099, 12, 31));
    params
}

fn server_config(address: SocketAddr, issuer: &Issuer<'_, KeyPair>) -> Result<ServerConfig, TlsError> {
    let key = KeyPair::generate()?;
    let mut params = CertificateParams::new(names(address))?;
    params.distinguished_name.push(DnType::CommonName, "deadship server");
    params.use_authority_key_identifier_extension = true;
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    let today = Utc::now().date_naive();
    let day = |day: chrono::NaiveDate| date_time_ymd(day.year(), day.month() as u8, day.day() as u8);
    params.not_before = day(today.checked_sub_days(Days::new(GOOD_BEFORE_DAYS)).unwrap_or(today));
    params.not_after = day(today.checked_add_days(Days::new(GOOD_FOR_DAYS)).unwrap_or(today));
    let certificate = params.signed_by(&key, issuer)?;
    let key = PrivateKeyDer::from(PrivatePkcs8KeyDer::from(key.serialize_der()));
    let failed = |error: rustls::Error| TlsError::Certificate(error.to_string());
    ServerConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(failed)?
        .with_no_client_auth()
        .with_single_cert(vec![certificate.der().clone()], key)
        .map_err(failed)
}

/// Every name under which people may reach the box.
fn names(address: SocketAddr) -> Vec<String> {
    let mut names = vec!["localhost".to_owned(), "127.0.0.1".to_owned(), "::1".to_owned()];
    if !address.ip().is_unspecified() {
        names.push(address.ip().to_string());
    }
    names.extend(addresses::of_this_machine().iter().map(ToString::to_string));
    if let Some(host) = host_name() {
        names.push(format!("{host}.local"));
        names.push(host);
    }
    names.sort();
    names.dedup();
    names
}

fn host_name() -> Option<String> {
    let read =
        fs::read_to_string("/proc/sys/kernel/hostname").or_else(|_| fs::read_to_string("/etc/hostname"));
    let name = read.ok().or_else(|| std::env::var("COMPUTERNAME").ok())?;
    let name = name.trim().to_lowercase();
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '.');
    (!name.is_empty() && name.chars().all(plain)).then_some(name)
}

/// SHA-256 as others print it: pairs of digits with colons between.
fn fingerprint(bytes: &[u8]) -> String {
    let pairs: Vec<String> =
        digest(&SHA256, bytes).as_ref().iter().map(|byte| format!("{byte:02X}")).collect();
    pairs.join(":")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn address() -> SocketAddr {
        SocketAddr::from(([127, 0, 0, 1], 7333))
    }

    #[test]
    fn the_authority_stays_and_its_key_is_the_owners_alone() {
        let folder = tempfile::tempdir().unwrap();
        let (first, _) = prepare(folder.path(), address()).unwrap();
        let pem = fs::read_to_string(&first.file).unwrap();
        let (second, _) = prepare(folder.path(), address()).unwrap();
        assert_eq!((first.clone(), pem), (second, fs::read_to_string(&first.file).unwrap()));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            let key = fs::metadata(first.file.with_file_name("authority.key")).unwrap();
            assert_eq!(key.permissions().mode() & 0o777, 0o600);
        }
    }

    #[test]
    fn a_broken_key_is_not_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let (authority, _) = prepare(folder.path(), address()).unwrap();
        let key = authority.file.with_file_name("authority.key");
        fs::write(&key, "nothing").unwrap();
        let error = prepare(folder.path(), address()).unwrap_err();
        assert!(matches!(error, TlsError::Key { .. }), "{error}");
        assert_eq!(fs::read_to_string(&key).unwrap(), "nothing");
    }

    #[test]
    fn a_lost_key_makes_a_new_authority() {
        let folder = tempfile::tempdir().unwrap();
        let (first, _) = prepare(folder.path(), address()).unwrap();
        fs::remove_file(first.file.with_file_name("authority.key")).unwrap();
        let (second, _) = prepare(folder.path(), address()).unwrap();
        assert_ne!(first.fingerprint, second.fingerprint);
        assert_eq!(fingerprint(&der_of(&second.file).unwrap()), second.fingerprint);
    }

    #[test]
    fn what_is_wrong_with_an_authority_is_seen_without_changing_it() {
        let folder = tempfile::tempdir().unwrap();
        assert!(look(folder.path()).is_none());
        let (authority, _) = prepare(folder.path(), address()).unwrap();
        assert_eq!(look(folder.path()).unwrap().unwrap(), authority);
        let other = tempfile::tempdir().unwrap();
        let (another, _) = prepare(other.path(), address()).unwrap();
        fs::copy(&another.file, &authority.file).unwrap();
        assert!(matches!(look(folder.path()), Some(Err(TlsError::Apart { .. }))));
        fs::remove_file(folder.path().join(KEY_FILE)).unwrap();
        assert!(matches!(look(folder.path()), Some(Err(TlsError::File { .. }))));
        assert!(!folder.path().join(KEY_FILE).exists());
    }

    #[test]
    fn the_certificate_names_what_people_may_type() {
        let names = names(SocketAddr::from(([192, 0, 2, 7], 7333)));
        for name in ["localhost", "127.0.0.1", "192.0.2.7"] {
            assert!(names.contains(&name.to_owned()), "{names:?}");
        }
    }
}
