//! The codes with which links are closed: those of RFC 6455, and our own in its private range from 4000.

/// Done (RFC 6455).
pub(super) const NORMAL: u16 = 1000;
/// The server stops (RFC 6455).
pub(super) const GOING_AWAY: u16 = 1001;
/// A frame that breaks the protocol (RFC 6455).
pub(super) const PROTOCOL: u16 = 1002;
/// Text where only binary is understood (RFC 6455).
pub(super) const UNSUPPORTED: u16 = 1003;
/// A closing frame without a code; never in one (RFC 6455).
pub(super) const NO_CODE: u16 = 1005;
/// Text that is no UTF-8 (RFC 6455).
pub(super) const NO_TEXT: u16 = 1007;
/// A message over the limit (RFC 6455).
pub(super) const TOO_BIG: u16 = 1009;
/// No invitation, or a worthless one.
pub(super) const NOT_INVITED: u16 = 4001;
/// The key was revoked.
pub(super) const REVOKED: u16 = 4002;
/// A message that could not be read.
pub(super) const MALFORMED: u16 = 4003;
/// More messages than anybody needs.
pub(super) const TOO_MANY: u16 = 4004;
/// What was sent was not taken in time.
pub(super) const TOO_SLOW: u16 = 4005;
/// A page of another version.
pub(super) const VERSION: u16 = 4006;
/// The same member came in by another link.
pub(super) const REPLACED: u16 = 4007;
/// Nothing was heard for too long.
pub(super) const SILENT: u16 = 4008;

/// A reason as a closing frame can carry it: at most 123 bytes (RFC 6455 §5.5).
pub(super) fn short(reason: &str) -> String {
    let mut end = reason.len().min(123);
    while !reason.is_char_boundary(end) {
        end -= 1;
    }
    reason[..end].to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_reason_fits_a_closing_frame(reason in any::<String>()) {
            let short = short(&reason);
            prop_assert!(short.len() <= 123);
            prop_assert!(reason.starts_with(&short));
        }
    }
}
