//! What kind of device a page is on, by what its browser says of itself (RFC 9110, section 10.1.5), so that the desk can
//! tell whose phone is whose. Whoever wants to can say something else, so nothing is decided by it.

use std::fmt;

/// The kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum DeviceKind {
    IPhone,
    IPad,
    AndroidPhone,
    AndroidTablet,
    Mac,
    Windows,
    ChromeOs,
    Linux,
    /// A browser on something else.
    Other,
    /// No browser at all.
    Program,
}

impl DeviceKind {
    /// The kind that a `User-Agent` header tells of. An iPad whose browser asks for the pages of a computer cannot be told
    /// from a Mac.
    pub(super) fn of(user_agent: Option<&str>) -> DeviceKind {
        let Some(says) = user_agent.filter(|says| says.contains("Mozilla/")) else { return DeviceKind::Program };
        // The first word that fits: an Android also says Linux, an iPhone also says Mac.
        let by_word = [
            ("iPhone", DeviceKind::IPhone),
            ("iPad", DeviceKind::IPad),
            ("Windows", DeviceKind::Windows),
            ("CrOS", DeviceKind::ChromeOs),
            ("Macintosh", DeviceKind::Mac),
            ("Linux", DeviceKind::Linux),
        ];
        match says.contains("Android") {
            true if says.contains("Mobile") => DeviceKind::AndroidPhone,
            true => DeviceKind::AndroidTablet,
            false => by_word.iter().find(|(word, _)| says.contains(word)).map_or(DeviceKind::Other, |(_, kind)| *kind),
        }
    }
}

impl fmt::Display for DeviceKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            DeviceKind::IPhone => "iPhone",
            DeviceKind::IPad => "iPad",
            DeviceKind::AndroidPhone => "Android phone",
            DeviceKind::AndroidTablet => "Android tablet",
            DeviceKind::Mac => "Mac",
            DeviceKind::Windows => "Windows computer",
            DeviceKind::ChromeOs => "Chromebook",
            DeviceKind::Linux => "Linux computer",
            DeviceKind::Other => "another device",
            DeviceKind::Program => "no browser",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // The shapes of the header as MDN describes them under "User-Agent" and Chrome under "User-Agent reduction"
    // (developer.mozilla.org, developers.google.com/privacy-sandbox); written down from memory.
    #[test]
    fn usual_browsers_are_told_apart() {
        let says = [
            (
                "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/17.5 Mobile/15E148 Safari/604.1",
                "iPhone",
            ),
            (
                "Mozilla/5.0 (iPad; CPU OS 12_2 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Mobile/15E148",
                "iPad",
            ),
            (
                "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/124.0.0.0 Mobile Safari/537.36",
                "Android phone",
            ),
            (
                "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/124.0.0.0 Safari/537.36",
                "Android tablet",
            ),
            ("Mozilla/5.0 (Android 14; Mobile; rv:126.0) Gecko/126.0 Firefox/126.0", "Android phone"),
            (
                "Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/17.4 Safari/605.1.15",
                "Mac",
            ),
            ("Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:126.0) Gecko/20100101 Firefox/126.0", "Windows computer"),
            (
                "Mozilla/5.0 (X11; CrOS x86_64 14541.0.0) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/124.0.0.0 Safari/537.36",
                "Chromebook",
            ),
            ("Mozilla/5.0 (X11; Linux x86_64; rv:126.0) Gecko/20100101 Firefox/126.0", "Linux computer"),
            ("Mozilla/5.0 (PlayStation; PlayStation 5/6.50)", "another device"),
            ("curl/8.5.0", "no browser"),
        ];
        for (says, kind) in says {
            assert_eq!(DeviceKind::of(Some(says)).to_string(), kind, "{says}");
        }
        assert_eq!(DeviceKind::of(None), DeviceKind::Program);
    }
}
