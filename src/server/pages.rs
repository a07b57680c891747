//! The pages, built from `clients/` by the build script and carried inside the binary.

use std::borrow::Cow;

use rust_embed::RustEmbed;

use crate::hex;

/// What a browser may do on our pages: load scripts, styles and pictures from this server only, show pictures that stand
/// in the page itself (the codes), and talk to this server. Nothing inline, no frames, no foreign base.
pub const CONTENT_POLICY: &str = "default-src 'self'; connect-src 'self' ws: wss:; img-src 'self' data:; \
                                  style-src 'self'; frame-ancestors 'none'; base-uri 'none'";

/// One file of the pages, in one of its forms.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// Its bytes.
    pub bytes: Cow<'static, [u8]>,
    /// Its media type.
    pub content_type: &'static str,
    /// True when its name changes with its content, so that a browser may keep it for ever.
    pub immutable: bool,
    /// How the bytes are compressed.
    pub coding: Coding,
    /// A name of exactly these bytes, in quotes: another build's or another form's is another.
    pub tag: String,
}

/// How a page's bytes are compressed. The pages' own build makes the compressed forms (`clients/vite.config.ts`).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Coding {
    /// Not at all.
    Identity,
    /// Gzip, RFC 1952.
    Gzip,
    /// Brotli, RFC 7932.
    Brotli,
}

impl Coding {
    /// The name in HTTP and at the end of a file; nothing for what is not compressed.
    pub const fn names(self) -> Option<(&'static str, &'static str)> {
        match self {
            Coding::Identity => None,
            Coding::Gzip => Some(("gzip", ".gz")),
            Coding::Brotli => Some(("br", ".br")),
        }
    }

    /// What a request allows, best first, by its Accept-Encoding (RFC 9110, section 12.5.3). Without one, or with one that
    /// allows nothing we have, the page is sent as it is.
    fn allowed(accept: Option<&str>) -> impl Iterator<Item = Coding> {
        let weights: Vec<(&str, bool)> = accept.unwrap_or_default().split(',').map(weighed).collect();
        let allows = move |name: &str| {
            let find = |wanted: &str| weights.iter().find(|(coding, _)| coding.eq_ignore_ascii_case(wanted));
            find(name).or_else(|| find("*")).is_some_and(|(_, allowed)| *allowed)
        };
        let compressed = [Coding::Brotli, Coding::Gzip].into_iter();
        let compressed = compressed.filter(move |coding| coding.names().is_some_and(|(name, _)| allows(name)));
        compressed.chain([Coding::Identity])
    }
}

/// A coding of Accept-Encoding, and whether its weight allows it: anything but 0 does.
fn weighed(part: &str) -> (&str, bool) {
    let mut fields = part.split(';').map(str::trim);
    let coding = fields.next().unwrap_or_default();
    let weight = fields.find_map(|field| field.strip_prefix("q=").or_else(|| field.strip_prefix("Q=")));
    (coding, weight.is_none_or(|weight| weight.parse::<f32>().is_ok_and(|weight| weight > 0.0)))
}

/// The page for home, which is no page of this server: what it shows is put into it (`study/home.rs`).
pub(super) fn home() -> Option<String> {
    String::from_utf8(Built::get("home.html")?.data.into_owned()).ok()
}

/// The page at that path of an address (`/`, `/join`, `/phone`, `/desk`, `/score`, `/sound`, `/review`, `/assets/…`), or
/// nothing; in the best form that Accept-Encoding allows.
pub fn page(path: &str, accept: Option<&str>) -> Option<Page> {
    let file = match path {
        "/" => "index.html",
        "/join" => "join.html",
        "/phone" => "phone.html",
        "/desk" => "desk.html",
        "/score" => "score.html",
        "/sound" => "sound.html",
        "/review" => "review.html",
        "/icon.svg" => "icon.svg",
        other => other.strip_prefix('/').filter(|file| file.starts_with("assets/"))?,
    };
    let content_type = content_type(file)?;
    let (coding, found) = Coding::allowed(accept).find_map(|coding| {
        let end = coding.names().map_or("", |(_, end)| end);
        Some((coding, Built::get(&format!("{file}{end}"))?))
    })?;
    let digits = hex::encode(&found.metadata.sha256_hash()[..12]);
    let immutable = file.starts_with("assets/");
    Some(Page { bytes: found.data, content_type, immutable, coding, tag: format!("\"{digits}\"") })
}

#[derive(RustEmbed)]
#[folder = "$OUT_DIR/pages"]
struct Built;

fn content_type(file: &str) -> Option<&'static str> {
    match file.rsplit('.').next()? {
        "html" => Some("text/html; charset=utf-8"),
        "js" => Some("text/javascript; charset=utf-8"),
        "css" => Some("text/css; charset=utf-8"),
        "svg" => Some("image/svg+xml"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(path: &str) -> String {
        String::from_utf8(page(path, None).unwrap_or_else(|| panic!("{path} is not in the binary")).bytes.into_owned())
            .unwrap()
    }

    /// The values of every `src` and `href` of a page.
    fn links(html: &str) -> Vec<&str> {
        ["src=\"", "href=\""]
            .iter()
            .flat_map(|attribute| html.split(attribute).skip(1))
            .filter_map(|rest| rest.split('"').next())
            .collect()
    }

    #[test]
    fn the_pages_are_in_the_binary_with_everything_they_name() {
        for path in ["/", "/join", "/phone", "/desk", "/score", "/sound", "/review"] {
            let html = text(path);
            let links = links(&html);
            assert!(links.iter().any(|link| link.ends_with(".js")), "{path} has no script");
            assert!(links.iter().any(|link| link.ends_with(".css")), "{path} has no style");
            for link in links {
                assert!(page(link, None).is_some(), "{path} names {link}, which is not in the binary");
            }
        }
    }

    #[test]
    fn the_pages_keep_to_the_policy() {
        for path in ["/", "/join", "/phone", "/desk", "/score", "/sound", "/review"] {
            let html = text(path);
            assert!(!html.contains("<style") && !html.contains("style=\""), "{path} has a style inside");
            let scripts = html.matches("<script").count();
            assert_eq!(scripts, html.matches("></script>").count(), "{path} has a script inside");
            assert!(!html.contains("//"), "{path} names something outside");
        }
    }

    #[test]
    fn only_what_is_named_by_its_content_may_be_kept() {
        assert!(!page("/desk", None).unwrap().immutable);
        let html = text("/desk");
        let script = links(&html).into_iter().find(|link| link.ends_with(".js")).unwrap();
        assert_eq!(
            page(script, None).map(|page| (page.immutable, page.content_type)),
            Some((true, "text/javascript; charset=utf-8"))
        );
    }

    #[test]
    fn there_is_nothing_else() {
        for path in [
            "",
            "/index.html",
            "/Desk",
            "/assets",
            "/assets/",
            "/assets/../index.html",
            "//desk",
            "/nothing",
            "/desk.html.br",
            "/icon.svg.gz",
        ] {
            assert_eq!(page(path, Some("br, gzip")), None, "{path}");
        }
    }

    /// RFC 9110, section 12.5.3: a weight of 0 is "not acceptable", `*` is any other coding, none at all allows any but
    /// binds to none.
    #[test]
    fn the_form_is_the_best_that_is_allowed() {
        let rows = [
            (None, Coding::Identity),
            (Some(""), Coding::Identity),
            (Some("gzip, deflate, br, zstd"), Coding::Brotli),
            (Some("gzip;q=1.0, br;q=0"), Coding::Gzip),
            (Some("GZIP ; Q=0.5"), Coding::Gzip),
            (Some("*"), Coding::Brotli),
            (Some("*;q=0, gzip"), Coding::Gzip),
            (Some("br;q=0.000, *;q=0"), Coding::Identity),
            (Some("identity;q=1, zstd"), Coding::Identity),
            (Some("br;q=nonsense"), Coding::Identity),
        ];
        for (accept, expected) in rows {
            assert_eq!(page("/desk", accept).unwrap().coding, expected, "{accept:?}");
        }
    }

    /// The compressed forms are there, are smaller, and are what Node's zlib makes: the magic number of gzip (RFC 1952,
    /// section 2.3.1) and its length field say so. Browsers unpack them in the browser tests.
    #[test]
    fn compressed_forms_are_carried_ready_made() {
        let html = text("/desk");
        let script = links(&html).into_iter().find(|link| link.ends_with(".js")).unwrap();
        let [plain, gzip, brotli] = [None, Some("gzip"), Some("br")].map(|accept| page(script, accept).unwrap());
        assert_eq!([gzip.coding, brotli.coding], [Coding::Gzip, Coding::Brotli]);
        assert!(brotli.bytes.len() < plain.bytes.len() && gzip.bytes.len() < plain.bytes.len());
        assert!(gzip.bytes.starts_with(&[0x1f, 0x8b, 8]));
        let length: [u8; 4] = gzip.bytes[gzip.bytes.len() - 4..].try_into().unwrap();
        assert_eq!(u32::from_le_bytes(length) as usize, plain.bytes.len());
        assert!(plain.tag != gzip.tag && gzip.tag != brotli.tag && gzip.content_type == plain.content_type);
    }
}
