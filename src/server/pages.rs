//! The pages, built from `clients/` by the build script and carried inside the binary.

use std::borrow::Cow;

use rust_embed::RustEmbed;

/// What a browser may do on our pages: load scripts, styles and pictures from this server only, show pictures that stand
/// in the page itself (the codes), and talk to this server. Nothing inline, no frames, no foreign base.
pub const CONTENT_POLICY: &str = "default-src 'self'; connect-src 'self' ws: wss:; img-src 'self' data:; \
                                  style-src 'self'; frame-ancestors 'none'; base-uri 'none'";

/// One file of the pages.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// Its bytes.
    pub bytes: Cow<'static, [u8]>,
    /// Its media type.
    pub content_type: &'static str,
    /// True when its name changes with its content, so that a browser may keep it for ever.
    pub immutable: bool,
}

/// The page at that path of an address (`/`, `/join`, `/phone`, `/desk`, `/score`, `/sound`, `/review`, `/assets/…`), or nothing.
pub fn page(path: &str) -> Option<Page> {
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
    let found = Built::get(file)?;
    Some(Page { bytes: found.data, content_type: content_type(file)?, immutable: file.starts_with("assets/") })
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
        String::from_utf8(page(path).unwrap_or_else(|| panic!("{path} is not in the binary")).bytes.into_owned())
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
                assert!(page(link).is_some(), "{path} names {link}, which is not in the binary");
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
        assert!(!page("/desk").unwrap().immutable);
        let html = text("/desk");
        let script = links(&html).into_iter().find(|link| link.ends_with(".js")).unwrap();
        assert_eq!(
            page(script).map(|page| (page.immutable, page.content_type)),
            Some((true, "text/javascript; charset=utf-8"))
        );
    }

    #[test]
    fn there_is_nothing_else() {
        for path in ["", "/index.html", "/Desk", "/assets", "/assets/", "/assets/../index.html", "//desk", "/nothing"] {
            assert_eq!(page(path), None, "{path}");
        }
    }
}
