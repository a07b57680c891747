//! The certificate for HTTPS: the company's own, from two files, or one of ours. Ours is signed by an authority that is
//! made once for a production and kept in `data/https/`, so that a phone which trusts it goes on trusting it after a
//! restart. It can speak for names and addresses of private networks alone (RFC 5280, section 4.2.1.10), and for
//! addresses that this machine had when it was made: whoever steals its key cannot pose as a site on the internet. Apple's phones refuse a server certificate that is valid for more than 398 days, lacks the use "server
//! authentication" or does not name the address it is reached at; ours is made anew at every start and keeps to that.

use std::fs;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType, ExtendedKeyUsagePurpose,
    GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose, NameConstraints, SanType,
};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};

use crate::production::write_private;

/// The folder in the production's data.
const FOLDER: &str = "https";
/// For how long a server certificate of ours is valid, days: Apple allows 398 (support.apple.com/102028).
const SERVER_DAYS: i32 = 397;
/// For how long the authority is: as long as browsers allowed any certificate before they shortened that (CA/Browser Forum,
/// ballot 193, 2018). A production that runs longer has its phones trust a new one.
const AUTHORITY_DAYS: i32 = 825;
/// So long before its end a new one is made: nobody wants that in the middle of a run of shows.
const RENEWED_BEFORE: i32 = 30;
/// So long after the production's last day it ends.
const OUTLIVES: i32 = 30;
/// The networks that an authority may speak for: private, of one link, and of this machine alone (RFC 1918, RFC 3927,
/// RFC 4193, RFC 4291, RFC 1122), address and length.
const PRIVATE: [(IpAddr, u8); 8] = [
    (IpAddr::V4(Ipv4Addr::new(10, 0, 0, 0)), 8),
    (IpAddr::V4(Ipv4Addr::new(172, 16, 0, 0)), 12),
    (IpAddr::V4(Ipv4Addr::new(192, 168, 0, 0)), 16),
    (IpAddr::V4(Ipv4Addr::new(169, 254, 0, 0)), 16),
    (IpAddr::V4(Ipv4Addr::new(127, 0, 0, 0)), 8),
    (IpAddr::V6(Ipv6Addr::new(0xfc00, 0, 0, 0, 0, 0, 0, 0)), 7),
    (IpAddr::V6(Ipv6Addr::new(0xfe80, 0, 0, 0, 0, 0, 0, 0)), 10),
    (IpAddr::V6(Ipv6Addr::LOCALHOST), 128),
];
/// The names: this machine, and those of the room's own network (RFC 6762).
const NAMES: [&str; 2] = ["localhost", "local"];
/// What phones call the authority in their lists.
const AUTHORITY_NAME: &str = "Holdfast, this production only";

/// What an HTTPS listener needs.
#[derive(Clone, Debug)]
pub struct Certificate {
    /// The certificate and its key, as the library wants them.
    pub config: Arc<ServerConfig>,
    /// The authority that phones must trust; nothing for the company's own certificate.
    pub authority: Option<Authority>,
}

/// What signs our own certificate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Authority {
    /// The certificate that phones install, PEM.
    pub pem: Arc<str>,
    /// SHA-256 of it, in pairs of hexadecimal digits, as phones show it.
    pub fingerprint: String,
    /// True when it was made at this start: no phone trusts it yet.
    pub is_new: bool,
    /// Why it is not kept, where it is not: the next start makes another one.
    pub unkept: Option<String>,
}

/// What is kept beside the authority.
#[derive(Debug, Serialize, Deserialize)]
struct Terms {
    /// Its last day.
    until: Date,
    /// The addresses outside of private networks that it may speak for.
    covers: Vec<IpAddr>,
    /// The names of this machine besides those of the room's own network.
    #[serde(default)]
    names: Vec<String>,
}

/// What a certificate is to be good for.
#[derive(Clone, Debug, Default)]
pub struct Wanted {
    /// The addresses at which this machine is reached.
    pub addresses: Vec<IpAddr>,
    /// Its names, in small letters.
    pub names: Vec<String>,
    /// The production's last day, where it is known.
    pub last_day: Option<Date>,
}

/// For how long an authority is to be good.
#[derive(Clone, Copy, Debug)]
struct Life {
    today: Date,
    /// The production's last day, where it is known.
    last_day: Option<Date>,
}

impl Life {
    /// The last day of an authority that is made today: [`OUTLIVES`] after the production's, and no longer than
    /// [`AUTHORITY_DAYS`]. A production that goes on past its last day gets as much once more.
    fn end(self) -> Date {
        let longest = self.today.saturating_add((AUTHORITY_DAYS - 1).days());
        match self.wanted() {
            None => longest,
            Some(wanted) if wanted >= self.today => wanted.min(longest),
            Some(_) => self.today.saturating_add(OUTLIVES.days()),
        }
    }

    /// Whether one that ends then will do: it outlives the production by no more than it may, and ends neither soon nor
    /// before it must.
    fn allows(self, until: Date) -> bool {
        let soon = self.today.saturating_add(RENEWED_BEFORE.days());
        match self.wanted() {
            None => until >= soon,
            Some(wanted) if wanted >= self.today => until <= wanted && until >= soon.min(wanted),
            // Who has to trust a new one goes on playing after the last day: as seldom as can be.
            Some(_) => until >= self.today,
        }
    }

    fn wanted(self) -> Option<Date> {
        self.last_day.map(|day| day.saturating_add(OUTLIVES.days()))
    }
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

/// A certificate of our own for what is `wanted`, valid from the day before `now`; the authority behind it is found in the
/// `data` folder, or made there: also when the one that is there is about to end, or may not speak for an address or a name.
///
/// # Errors
/// `Unreadable`, `Damaged`; `Unusable` when the machine gives no randomness.
pub fn of_our_own(data: &Path, wanted: &Wanted, now: Timestamp) -> Result<Certificate, CertificateError> {
    let life = Life { today: TimeZone::UTC.to_datetime(now).date(), last_day: wanted.last_day };
    let folder = data.join(FOLDER);
    let (authority, terms, key) = match kept(&folder, wanted, life)? {
        Some(kept) => kept,
        None => made(&folder, wanted, life)?,
    };
    let issuer = Issuer::new(authority_params(&terms), key);
    let own = KeyPair::generate().map_err(unusable)?;
    let signed = server_params(wanted, life.today, terms.until).signed_by(&own, &issuer).map_err(unusable)?;
    let config = config(signed.pem().as_bytes(), own.serialize_pem().as_bytes())?;
    Ok(Certificate { config, authority: Some(authority) })
}

/// The authority that is kept, if it will do.
fn kept(folder: &Path, wanted: &Wanted, life: Life) -> Result<Option<(Authority, Terms, KeyPair)>, CertificateError> {
    let [pem, key, terms] = files(folder);
    if !(pem.exists() && key.exists() && terms.exists()) {
        return Ok(None);
    }
    let damaged = |path: &Path, why: String| CertificateError::Damaged { path: path.to_owned(), why };
    let text = |path: &Path| Ok(String::from_utf8_lossy(&read(path)?).into_owned());
    let known: Terms = toml::from_str(&text(&terms)?).map_err(|why| damaged(&terms, why.message().to_owned()))?;
    let mut addresses = wanted.addresses.iter();
    let does = addresses.all(|address| is_private(*address) || known.covers.contains(address))
        && wanted.names.iter().all(|name| is_local(name) || known.names.contains(name));
    if !does || !life.allows(known.until) {
        return Ok(None);
    }
    let kept = text(&pem)?;
    let authority = authority_of(kept, false).map_err(|why| damaged(&pem, why))?;
    let pair = KeyPair::from_pem(&text(&key)?).map_err(|why| damaged(&key, why.to_string()))?;
    Ok(Some((authority, known, pair)))
}

/// A new authority. One that cannot be kept does for this start.
fn made(folder: &Path, wanted: &Wanted, life: Life) -> Result<(Authority, Terms, KeyPair), CertificateError> {
    let covers = wanted.addresses.iter().copied().filter(|address| !is_private(*address)).collect();
    let names = wanted.names.iter().filter(|name| !is_local(name)).cloned().collect();
    let terms = Terms { until: life.end(), covers, names };
    let pair = KeyPair::generate().map_err(unusable)?;
    let pem = authority_params(&terms).self_signed(&pair).map_err(unusable)?.pem();
    let written = toml::to_string(&terms).map_err(|why| CertificateError::Unusable(why.to_string()))?;
    let texts = [pem.clone(), pair.serialize_pem(), written];
    let unkept = files(folder).iter().zip(texts).find_map(|(path, text)| {
        let error = write_private(folder, path, text.as_bytes()).err()?;
        Some(CertificateError::Unwritable { path: path.clone(), why: error.to_string() }.to_string())
    });
    let authority = authority_of(pem, true).map_err(CertificateError::Unusable)?;
    Ok((Authority { unkept, ..authority }, terms, pair))
}

/// Certificate, key and terms.
fn files(folder: &Path) -> [PathBuf; 3] {
    ["authority.crt", "authority.key", "authority.toml"].map(|name| folder.join(name))
}

fn authority_of(pem: String, is_new: bool) -> Result<Authority, String> {
    let der = CertificateDer::from_pem_slice(pem.as_bytes()).map_err(|why| why.to_string())?;
    let pairs: Vec<String> = Sha256::digest(&der).iter().map(|byte| format!("{byte:02X}")).collect();
    Ok(Authority { pem: pem.into(), fingerprint: pairs.join(":"), is_new, unkept: None })
}

/// True for a name that every authority of ours may speak for.
fn is_local(name: &str) -> bool {
    NAMES.iter().any(|local| name == *local || name.strip_suffix(local).is_some_and(|rest| rest.ends_with('.')))
}

fn is_private(address: IpAddr) -> bool {
    let bits = |address: IpAddr| match address {
        IpAddr::V4(address) => (u128::from(address.to_bits()) << 96, 4),
        IpAddr::V6(address) => (address.to_bits(), 6),
    };
    let (own, kind) = bits(address);
    PRIVATE.iter().any(|(network, length)| {
        let (of_network, its_kind) = bits(*network);
        kind == its_kind && (own ^ of_network).leading_zeros() >= u32::from(*length)
    })
}

fn authority_params(terms: &Terms) -> CertificateParams {
    let mut params = CertificateParams::default();
    params.distinguished_name = named(AUTHORITY_NAME);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    let subnet = |address, length| GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(address, length));
    let own_names = terms.names.iter().map(String::as_str);
    let names = NAMES.into_iter().chain(own_names).map(|name| GeneralSubtree::DnsName(name.to_owned()));
    let private = PRIVATE.iter().map(|(network, length)| subnet(*network, *length));
    let own = terms.covers.iter().map(|address| subnet(*address, if address.is_ipv4() { 32 } else { 128 }));
    let permitted_subtrees = names.chain(private).chain(own).collect();
    params.name_constraints = Some(NameConstraints { permitted_subtrees, excluded_subtrees: Vec::new() });
    valid(&mut params, terms.until.saturating_sub(AUTHORITY_DAYS.days()), terms.until);
    params
}

fn server_params(wanted: &Wanted, today: Date, last: Date) -> CertificateParams {
    let mut params = CertificateParams::default();
    params.distinguished_name = named("Holdfast");
    params.subject_alt_names = wanted.addresses.iter().copied().map(SanType::IpAddress).collect();
    let names = ["localhost"].into_iter().chain(wanted.names.iter().map(String::as_str));
    params.subject_alt_names.extend(names.filter_map(|name| name.try_into().ok()).map(SanType::DnsName));
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.use_authority_key_identifier_extension = true;
    // From yesterday, for phones whose clock is behind.
    let from = today.saturating_sub(1.day());
    valid(&mut params, from, last.min(from.saturating_add(SERVER_DAYS.days())));
    params
}

fn named(name: &str) -> DistinguishedName {
    let mut whole = DistinguishedName::new();
    whole.push(DnType::CommonName, name);
    whole
}

fn valid(params: &mut CertificateParams, from: Date, until: Date) {
    let date = |date: Date| {
        let part = |part: i8| u8::try_from(part).unwrap_or(1);
        rcgen::date_time_ymd(date.year().into(), part(date.month()), part(date.day()))
    };
    (params.not_before, params.not_after) = (date(from), date(until));
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

    fn authority(data: &Path, addresses: &[&str], now: Timestamp) -> Authority {
        let addresses: Vec<IpAddr> = addresses.iter().map(|address| address.parse().unwrap()).collect();
        of_our_own(data, &Wanted { addresses, ..Wanted::default() }, now).unwrap().authority.unwrap()
    }

    #[test]
    fn the_authority_is_made_once_and_its_key_is_its_owners() {
        let data = tempfile::tempdir().unwrap();
        let first = authority(data.path(), &[], now());
        let again = authority(data.path(), &["10.0.0.2", "fe80::7"], now());
        assert_eq!((first.is_new, again.is_new, &first.pem), (true, false, &again.pem));
        assert_eq!(first.fingerprint, again.fingerprint);
        assert_eq!(first.fingerprint.len(), 32 * 3 - 1, "SHA-256 in pairs: {}", first.fingerprint);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let key = fs::metadata(data.path().join("https/authority.key")).unwrap();
            assert_eq!(key.permissions().mode() & 0o077, 0);
        }
    }

    #[test]
    fn an_authority_that_will_not_do_is_made_anew_and_one_that_cannot_be_kept_does() {
        let data = tempfile::tempdir().unwrap();
        let first = authority(data.path(), &["10.0.0.2"], now());
        let outside = authority(data.path(), &["203.0.113.5"], now());
        assert!(outside.is_new && outside.pem != first.pem, "it may not speak for that address");
        assert!(!authority(data.path(), &["203.0.113.5", "192.168.4.4"], now()).is_new);
        let near_its_end = now() + jiff::SignedDuration::from_hours(24 * (825 - 20));
        assert!(authority(data.path(), &[], near_its_end).is_new);
        // One of an earlier Holdfast could speak for any site, and says nothing of its end.
        fs::remove_file(data.path().join("https/authority.toml")).unwrap();
        assert!(authority(data.path(), &[], now()).is_new);

        let nowhere = data.path().join("file");
        fs::write(&nowhere, "in the way").unwrap();
        let unkept = authority(&nowhere, &["10.0.0.2"], now());
        assert!(unkept.is_new && unkept.unkept.unwrap().contains("cannot be written"));
    }

    /// A verifier that knows nothing of how this was made: webpki, as browsers do by RFC 5280.
    #[test]
    fn whoever_has_its_key_cannot_pose_as_another_site() {
        use std::time::Duration;

        use tokio_rustls::rustls::RootCertStore;
        use tokio_rustls::rustls::client::WebPkiServerVerifier;
        use tokio_rustls::rustls::client::danger::ServerCertVerifier;
        use tokio_rustls::rustls::pki_types::{ServerName, UnixTime};

        let data = tempfile::tempdir().unwrap();
        let own: Vec<IpAddr> = ["203.0.113.5", "192.168.7.7", "fe80::7"].map(|address| address.parse().unwrap()).into();
        let today = TimeZone::UTC.to_datetime(now()).date();
        let wanted = Wanted { addresses: own, names: vec!["desk.theatre.example".into()], last_day: None };
        let (authority, terms, key) = made(data.path(), &wanted, Life { today, last_day: None }).unwrap();
        let issuer = Issuer::new(authority_params(&terms), key);
        let mut roots = RootCertStore::empty();
        roots.add(CertificateDer::from_pem_slice(authority.pem.as_bytes()).unwrap()).unwrap();
        let provider = Arc::new(ring::default_provider());
        let verifier = WebPkiServerVerifier::builder_with_provider(Arc::new(roots), provider).build().unwrap();
        let at = UnixTime::since_unix_epoch(Duration::from_secs(now().as_second().unsigned_abs()));
        let trusted = |name: &str| {
            let mut params = server_params(&Wanted::default(), today, terms.until);
            params.subject_alt_names = match name.parse() {
                Ok(address) => vec![SanType::IpAddress(address)],
                Err(_) => vec![SanType::DnsName(name.try_into().unwrap())],
            };
            let pair = KeyPair::generate().unwrap();
            let signed = params.signed_by(&pair, &issuer).unwrap();
            let name = ServerName::try_from(name.to_owned()).unwrap();
            verifier.verify_server_cert(signed.der(), &[], &name, &[], at).is_ok()
        };
        for ours in [
            "localhost",
            "desk.local",
            "desk.theatre.example",
            "10.1.2.3",
            "192.168.0.9",
            "127.0.0.1",
            "fd12::9",
            "203.0.113.5",
        ] {
            assert!(trusted(ours), "{ours}");
        }
        for other in ["example.org", "theatre.example", "local.example.org", "203.0.113.6", "8.8.8.8", "2001:db8::1"] {
            assert!(!trusted(other), "{other}");
        }
    }

    #[test]
    fn an_authority_ends_thirty_days_after_the_last_day_and_is_made_anew_as_seldom_as_can_be() {
        let day = |text: &str| text.parse::<Date>().unwrap();
        let life = |today: &str, last: Option<&str>| Life { today: day(today), last_day: last.map(day) };
        assert_eq!(life("2026-03-01", None).end(), day("2028-06-02"), "825 days, the first among them");
        assert_eq!(life("2026-03-01", Some("2026-04-10")).end(), day("2026-05-10"));
        assert_eq!(life("2026-03-01", Some("2030-01-01")).end(), life("2026-03-01", None).end());
        // Made once, it does until it ends, also near its end.
        for today in ["2026-03-01", "2026-04-10", "2026-05-10"] {
            assert!(life(today, Some("2026-04-10")).allows(day("2026-05-10")), "{today}");
        }
        assert!(!life("2026-03-01", Some("2026-04-10")).allows(day("2028-06-02")), "it would outlive the production");
        assert!(!life("2026-03-01", Some("2026-06-10")).allows(day("2026-03-20")), "the production goes on for longer");
        // Played on past the last day without a word of it: one that lasts a month, and another only when that ends.
        let after = life("2026-05-11", Some("2026-04-10"));
        assert_eq!(after.end(), day("2026-06-10"));
        assert!(!after.allows(day("2026-05-10")) && life("2026-06-10", Some("2026-04-10")).allows(day("2026-06-10")));
    }

    #[test]
    fn addresses_of_private_networks_are_told_from_others() {
        let told = |text: &str| is_private(text.parse().unwrap());
        for inside in
            ["10.255.0.1", "172.31.9.9", "192.168.0.1", "169.254.7.7", "127.0.0.1", "fd00::1", "fe80::1", "::1"]
        {
            assert!(told(inside), "{inside}");
        }
        for outside in ["172.32.0.1", "11.0.0.1", "192.169.0.1", "2001:db8::1", "::2", "203.0.113.1"] {
            assert!(!told(outside), "{outside}");
        }
    }

    #[test]
    fn a_server_certificate_is_short_enough_for_apple() {
        let today = TimeZone::UTC.to_datetime(now()).date();
        let params = server_params(&Wanted::default(), today, today.saturating_add(800.days()));
        // support.apple.com/102028: at most 398 days, serverAuth, a subject alternative name.
        assert_eq!((params.not_after - params.not_before).whole_days(), 397);
        assert_eq!(params.extended_key_usages, [ExtendedKeyUsagePurpose::ServerAuth]);
        assert!(!params.subject_alt_names.is_empty());
        let last = today.saturating_add(40.days());
        assert_eq!(
            (server_params(&Wanted::default(), today, last).not_after - params.not_before).whole_days(),
            41,
            "never past its authority"
        );
    }

    #[test]
    fn what_is_damaged_is_said() {
        let data = tempfile::tempdir().unwrap();
        of_our_own(data.path(), &Wanted::default(), now()).unwrap();
        fs::write(data.path().join("https/authority.key"), "scratched").unwrap();
        let error = of_our_own(data.path(), &Wanted::default(), now()).unwrap_err();
        assert!(matches!(error, CertificateError::Damaged { .. }), "{error}");
        let error = of_the_company(&data.path().join("none.pem"), &data.path().join("none.key")).unwrap_err();
        assert!(error.to_string().contains("--cert"), "{error}");
    }
}
