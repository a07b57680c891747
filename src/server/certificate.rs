//! The certificate for HTTPS: the company's own, from two files, or one of ours. Ours is signed by an authority that is
//! made once for a production and kept in `data/https/`, so that a phone which trusts it goes on trusting it after a
//! restart. Apple's phones refuse a server certificate that is valid for more than 398 days, lacks the use "server
//! authentication" or does not name the address it is reached at; ours is made anew at every start and keeps to that.

use std::fs;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use rcgen::{
    BasicConstraints, CertificateParams, DistinguishedName, DnType, ExtendedKeyUsagePurpose, IsCa, Issuer, KeyPair,
    KeyUsagePurpose, SanType,
};
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};

use crate::production::write_private;

/// The folder in the production's data.
const FOLDER: &str = "https";
/// For how long a server certificate of ours is valid, days: Apple allows 398 (support.apple.com/102028).
const SERVER_DAYS: i32 = 397;
/// For how long the authority is: a production's whole life.
const AUTHORITY_DAYS: i32 = 3_650;
/// What phones call the authority in their lists.
const AUTHORITY_NAME: &str = "Holdfast, this production only";

/// What an HTTPS listener needs.
#[derive(Clone, Debug)]
pub struct Certificate {
    /// The certificate and its key, as the library wants them.
    pub config: Arc<ServerConfig>,
    /// The authority that phones must trust, PEM; nothing for the company's own certificate.
    pub authority: Option<Arc<str>>,
}

/// Why there is no certificate.
#[derive(Debug, thiserror::Error)]
pub enum CertificateError {
    /// A file cannot be read. Remedy: its name, its rights.
    #[error("{} cannot be read: {why}. Give the PEM files of your certificate and its key with --cert and --key, or neither.", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        why: String,
    },
    /// A file cannot be written. Remedy: rights, or room on the disk.
    #[error("{} cannot be written: {why}. Make the folder writable and see that the disk has room.", .path.display())]
    Unwritable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        why: String,
    },
    /// Certificate and key do not work together. Remedy: another pair.
    #[error(
        "The certificate cannot be used: {0}. Give a PEM certificate (with its chain) and the key that belongs to it."
    )]
    Unusable(String),
    /// What we kept ourselves is damaged. Remedy: delete it; phones must then trust the new authority.
    #[error("{} is damaged: {why}. Delete the folder it is in; a new one is made, which phones must then trust anew.", .path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
}

/// The company's own certificate, with its chain, and its key, from PEM files.
///
/// # Errors
/// `Unreadable`, `Unusable`.
pub fn of_the_company(certificate: &Path, key: &Path) -> Result<Certificate, CertificateError> {
    let config = config(&read(certificate)?, &read(key)?)?;
    Ok(Certificate { config, authority: None })
}

/// A certificate of our own for the `addresses`, valid from the day before `now`; the authority behind it is found in the
/// `data` folder, or made there.
///
/// # Errors
/// `Unreadable`, `Unwritable`, `Damaged`; `Unusable` when the machine gives no randomness.
pub fn of_our_own(data: &Path, addresses: &[IpAddr], now: Timestamp) -> Result<Certificate, CertificateError> {
    let today = TimeZone::UTC.to_datetime(now).date();
    let folder = data.join(FOLDER);
    let (authority, key) = authority(&folder, today)?;
    let issuer = Issuer::new(authority_params(today), key);
    let own = KeyPair::generate().map_err(unusable)?;
    let signed = server_params(addresses, today).signed_by(&own, &issuer).map_err(unusable)?;
    let config = config(signed.pem().as_bytes(), own.serialize_pem().as_bytes())?;
    Ok(Certificate { config, authority: Some(authority.into()) })
}

fn authority(folder: &Path, today: Date) -> Result<(String, KeyPair), CertificateError> {
    let (pem, key) = (folder.join("authority.crt"), folder.join("authority.key"));
    if pem.exists() || key.exists() {
        let text = |path: &Path| Ok(String::from_utf8_lossy(&read(path)?).into_owned());
        let kept = text(&pem)?;
        let damaged = |path: &PathBuf, why: String| CertificateError::Damaged { path: path.clone(), why };
        CertificateDer::from_pem_slice(kept.as_bytes()).map_err(|why| damaged(&pem, why.to_string()))?;
        let pair = KeyPair::from_pem(&text(&key)?).map_err(|why| damaged(&key, why.to_string()))?;
        return Ok((kept, pair));
    }
    let pair = KeyPair::generate().map_err(unusable)?;
    let made = authority_params(today).self_signed(&pair).map_err(unusable)?.pem();
    for (path, text) in [(&key, pair.serialize_pem()), (&pem, made.clone())] {
        write_private(folder, path, text.as_bytes())
            .map_err(|error| CertificateError::Unwritable { path: path.clone(), why: error.to_string() })?;
    }
    Ok((made, pair))
}

fn authority_params(today: Date) -> CertificateParams {
    let mut params = CertificateParams::default();
    params.distinguished_name = named(AUTHORITY_NAME);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    valid(&mut params, today, AUTHORITY_DAYS);
    params
}

fn server_params(addresses: &[IpAddr], today: Date) -> CertificateParams {
    let mut params = CertificateParams::default();
    params.distinguished_name = named("Holdfast");
    params.subject_alt_names = addresses.iter().copied().map(SanType::IpAddress).collect();
    if let Ok(name) = "localhost".try_into() {
        params.subject_alt_names.push(SanType::DnsName(name));
    }
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.use_authority_key_identifier_extension = true;
    valid(&mut params, today, SERVER_DAYS);
    params
}

fn named(name: &str) -> DistinguishedName {
    let mut whole = DistinguishedName::new();
    whole.push(DnType::CommonName, name);
    whole
}

// From yesterday, for phones whose clock is behind.
fn valid(params: &mut CertificateParams, today: Date, days: i32) {
    let from = today.saturating_sub(1.day());
    let date = |date: Date| {
        let part = |part: i8| u8::try_from(part).unwrap_or(1);
        rcgen::date_time_ymd(date.year().into(), part(date.month()), part(date.day()))
    };
    params.not_before = date(from);
    params.not_after = date(from.saturating_add(days.days()));
}

fn config(certificate: &[u8], key: &[u8]) -> Result<Arc<ServerConfig>, CertificateError> {
    let chain = CertificateDer::pem_slice_iter(certificate)
        .collect::<Result<Vec<_>, _>>()
        .map_err(|why| CertificateError::Unusable(why.to_string()))?;
    let key = PrivateKeyDer::from_pem_slice(key).map_err(|why| CertificateError::Unusable(why.to_string()))?;
    let mut config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .and_then(|builder| builder.with_no_client_auth().with_single_cert(chain, key))
        .map_err(|why| CertificateError::Unusable(why.to_string()))?;
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(Arc::new(config))
}

fn read(path: &Path) -> Result<Vec<u8>, CertificateError> {
    fs::read(path).map_err(|error| CertificateError::Unreadable { path: path.to_owned(), why: error.to_string() })
}

fn unusable(why: rcgen::Error) -> CertificateError {
    CertificateError::Unusable(why.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn now() -> Timestamp {
        "2031-03-01T12:00:00Z".parse().unwrap()
    }

    #[test]
    fn the_authority_is_made_once_and_its_key_is_its_owners() {
        let data = tempfile::tempdir().unwrap();
        let first = of_our_own(data.path(), &[], now()).unwrap();
        let again = of_our_own(data.path(), &["10.0.0.2".parse().unwrap()], now()).unwrap();
        assert_eq!(first.authority, again.authority);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let key = fs::metadata(data.path().join("https/authority.key")).unwrap();
            assert_eq!(key.permissions().mode() & 0o077, 0);
        }
    }

    #[test]
    fn a_server_certificate_is_short_enough_for_apple() {
        let today = TimeZone::UTC.to_datetime(now()).date();
        let params = server_params(&[], today);
        // support.apple.com/102028: at most 398 days, serverAuth, a subject alternative name.
        assert_eq!((params.not_after - params.not_before).whole_days(), 397);
        assert_eq!(params.extended_key_usages, [ExtendedKeyUsagePurpose::ServerAuth]);
        assert!(!params.subject_alt_names.is_empty());
    }

    #[test]
    fn what_is_damaged_is_said() {
        let data = tempfile::tempdir().unwrap();
        of_our_own(data.path(), &[], now()).unwrap();
        fs::write(data.path().join("https/authority.key"), "scratched").unwrap();
        let error = of_our_own(data.path(), &[], now()).unwrap_err();
        assert!(matches!(error, CertificateError::Damaged { .. }), "{error}");
        let error = of_the_company(&data.path().join("none.pem"), &data.path().join("none.key")).unwrap_err();
        assert!(error.to_string().contains("--cert"), "{error}");
    }
}
