//! A company's own picture of a word: a small line drawing, which goes where the computed picture would. It is kept in the
//! vocabulary's text, so that whoever keeps the text, a journal say, has the picture.

use std::fmt;
use std::sync::Arc;

use data_encoding::BASE64;

/// The first bytes of a PNG file (PNG specification, third edition, 5.2).
const PNG: &[u8] = b"\x89PNG\r\n\x1a\n";
/// The name of SVG's elements (SVG 2, 1.6).
const SVG_NAMES: &str = "http://www.w3.org/2000/svg";
/// The largest side of a PNG, pixels: ten times what a phone shows.
const MOST_PIXELS: u32 = 2_048;

/// A drawing that can be shown: an SVG with a view box, or a PNG that is whole.
#[derive(Clone, PartialEq, Eq)]
pub struct Drawing {
    kind: &'static str,
    bytes: Arc<[u8]>,
}

impl fmt::Debug for Drawing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of {} bytes", self.kind, self.bytes.len())
    }
}

impl Drawing {
    /// The most bytes of one: phones fetch all pictures of a fight over a bad network.
    pub const MOST_BYTES: usize = 16 * 1024;

    /// The drawing in a file.
    ///
    /// # Errors
    ///
    /// The end of a sentence that begins with the file's name: what is wrong with it, and what to do.
    pub fn of(bytes: &[u8]) -> Result<Drawing, String> {
        if bytes.len() > Drawing::MOST_BYTES {
            let most = Drawing::MOST_BYTES / 1024;
            return Err(format!("has more than {most} KiB; draw it plainer, or make it smaller"));
        }
        let kind = if bytes.starts_with(PNG) { png(bytes)? } else { svg(bytes)? };
        Ok(Drawing { kind, bytes: bytes.into() })
    }

    /// The drawing that a vocabulary's text holds.
    ///
    /// # Errors
    ///
    /// As [`Drawing::of`].
    pub(super) fn written(text: &str) -> Result<Drawing, String> {
        let bytes = BASE64.decode(text.as_bytes()).map_err(|_| "is not base64 (RFC 4648)".to_owned())?;
        Drawing::of(&bytes)
    }

    /// How a vocabulary's text holds it: base64 (RFC 4648).
    pub(super) fn as_written(&self) -> String {
        BASE64.encode(&self.bytes)
    }

    /// Its address, with itself in it (RFC 2397). Shown as an image a drawing runs no script and asks nobody for anything.
    pub fn address(&self) -> String {
        format!("data:image/{};base64,{}", self.kind, self.as_written())
    }
}

/// A PNG whose chunks are whole, from its head to its end.
fn png(bytes: &[u8]) -> Result<&'static str, String> {
    let cut_off = || "is a PNG that is cut off; save it again".to_owned();
    let number = |at: usize| {
        let four = bytes.get(at..at + 4).and_then(|four| four.try_into().ok());
        four.map(u32::from_be_bytes).ok_or_else(cut_off)
    };
    let mut at = PNG.len();
    if bytes.get(at + 4..at + 8) != Some(b"IHDR") {
        return Err(cut_off());
    }
    let (wide, high) = (number(at + 8)?, number(at + 12)?);
    if ![wide, high].iter().all(|side| (1..=MOST_PIXELS).contains(side)) {
        return Err(format!("is {wide} by {high} pixels; make it {MOST_PIXELS} at most"));
    }
    loop {
        let length = usize::try_from(number(at)?).map_err(|_| cut_off())?;
        let end = at.checked_add(length).and_then(|end| end.checked_add(12)).ok_or_else(cut_off)?;
        if end > bytes.len() {
            return Err(cut_off());
        }
        if bytes.get(at + 4..at + 8) == Some(b"IEND") {
            return Ok("png");
        }
        at = end;
    }
}

/// An SVG that can be of any size: its first element is `svg`, with SVG's names and a view box, and it is closed.
fn svg(bytes: &[u8]) -> Result<&'static str, String> {
    let neither = || "is neither an SVG nor a PNG; save the drawing as one of them".to_owned();
    let text = std::str::from_utf8(bytes).map_err(|_| neither())?;
    let start = text.find("<svg").ok_or_else(neither)?;
    let is_before = |text: &str| text.trim_start_matches('\u{feff}').trim().split('<').skip(1).all(is_no_element);
    if !text.get(..start).is_some_and(is_before) {
        return Err(neither());
    }
    let head = text.get(start..).and_then(|rest| rest.split('>').next()).unwrap_or_default();
    if !['"', '\''].iter().any(|quote| head.contains(&format!("xmlns={quote}{SVG_NAMES}{quote}"))) {
        return Err(format!("does not say xmlns=\"{SVG_NAMES}\" in its <svg>; save it as plain SVG"));
    }
    if !head.contains("viewBox=") {
        return Err("has no viewBox in its <svg>, so it has one size only; save it with one".to_owned());
    }
    if !text.trim_end().ends_with("</svg>") {
        return Err("is an SVG that is cut off: it does not end with </svg>; save it again".to_owned());
    }
    Ok("svg+xml")
}

/// What may stand before the first element: `<?xml … ?>`, `<!DOCTYPE … >`, a comment.
fn is_no_element(after: &str) -> bool {
    after.starts_with('?') || after.starts_with('!')
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const STICK: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 9\"><path d=\"M1 1L8 8\"/></svg>\n";
    /// One pixel, from memory of the format; `python3 -c 'import zlib'` makes the same chunks.
    const DOT: &str = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAQAAAC1HAwCAAAAC0lEQVR42mNk+A8AAQUBAScY42YAAAAASUVORK5CYII=";

    #[test]
    fn svg_and_png_are_read_and_written_as_they_are() {
        let dot = BASE64.decode(DOT.as_bytes()).unwrap();
        for (bytes, kind) in [(STICK.as_bytes(), "svg+xml"), (&dot, "png")] {
            let drawing = Drawing::of(bytes).unwrap();
            assert_eq!(drawing.kind, kind);
            assert_eq!(Drawing::written(&drawing.as_written()), Ok(drawing.clone()));
            let address = drawing.address();
            let (head, data) = address.split_once(',').unwrap();
            assert_eq!(head, format!("data:image/{kind};base64"));
            assert_eq!(BASE64.decode(data.as_bytes()).unwrap(), bytes);
        }
        let declared = format!("\u{feff}<?xml version=\"1.0\"?>\n<!-- ours -->\n{STICK}");
        assert!(Drawing::of(declared.as_bytes()).is_ok());
    }

    #[test]
    fn each_that_cannot_be_shown_says_what_to_do() {
        let why = |bytes: &[u8]| Drawing::of(bytes).unwrap_err();
        let dot = BASE64.decode(DOT.as_bytes()).unwrap();
        assert!(why(b"GIF89a").contains("neither an SVG nor a PNG"));
        assert!(why(format!("<p>{STICK}</p>").as_bytes()).contains("neither"));
        assert!(why(STICK.replace(" viewBox", " box").as_bytes()).contains("no viewBox"));
        assert!(why(STICK.replace("xmlns", "names").as_bytes()).contains("xmlns"));
        assert!(why(STICK.trim_end().trim_end_matches("</svg>").as_bytes()).contains("cut off"));
        assert!(why(&vec![b' '; Drawing::MOST_BYTES + 1]).contains("16 KiB"));
        for length in PNG.len()..dot.len() {
            assert!(why(&dot[..length]).contains("cut off"), "{length}");
        }
        let mut wide = dot.clone();
        wide[16..20].copy_from_slice(&4_000_u32.to_be_bytes());
        assert!(why(&wide).contains("4000 by 1 pixels"));
    }

    proptest! {
        #[test]
        fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..200), head in 0..3_usize) {
            let dot = BASE64.decode(DOT.as_bytes()).unwrap();
            let heads: [&[u8]; 3] = [b"", STICK.as_bytes(), &dot[..dot.len() - 12]];
            let _ = Drawing::of(&[heads[head], &bytes].concat());
        }
    }
}
