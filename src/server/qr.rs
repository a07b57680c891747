//! An invitation's link as a QR code (ISO/IEC 18004, by the `qrcode` library): a picture for the desk page, and blocks
//! of text for the terminal.

use qrcode::render::{svg, unicode};
use qrcode::{EcLevel, QrCode};

/// The link as an SVG picture; nothing if it is too long for any code, which no link of ours is.
pub fn svg(link: &str) -> String {
    code(link)
        .map(|code| code.render::<svg::Color<'_>>().min_dimensions(240, 240).quiet_zone(true).build())
        .unwrap_or_default()
}

/// The link as text that a phone's camera reads off a dark terminal.
pub fn text(link: &str) -> String {
    let dark_on_light = |code: QrCode| {
        code.render::<unicode::Dense1x2>()
            .dark_color(unicode::Dense1x2::Light)
            .light_color(unicode::Dense1x2::Dark)
            .quiet_zone(true)
            .build()
    };
    code(link).map(dark_on_light).unwrap_or_default()
}

fn code(link: &str) -> Option<QrCode> {
    QrCode::with_error_correction_level(link.as_bytes(), EcLevel::M).ok()
}
