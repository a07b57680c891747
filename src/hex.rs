//! Bytes as people and files write them down: hexadecimal digits, small letters, two to a byte.

use data_encoding::{HEXLOWER, HEXLOWER_PERMISSIVE};
use sha2::{Digest, Sha256};

/// The digits of some bytes.
pub fn encode(bytes: &[u8]) -> String {
    HEXLOWER.encode(bytes)
}

/// So many bytes from their digits, whose letters may be capitals; nothing when it is anything else.
pub fn decode<const N: usize>(digits: &str) -> Option<[u8; N]> {
    HEXLOWER_PERMISSIVE.decode(digits.as_bytes()).ok()?.try_into().ok()
}

/// The SHA-256 of a text, 64 digits: the name of its revision.
pub fn sha256(text: impl AsRef<[u8]>) -> String {
    encode(&Sha256::digest(text))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn what_is_written_is_read_back(bytes in any::<[u8; 32]>()) {
            prop_assert_eq!(decode(&encode(&bytes)), Some(bytes));
            prop_assert_eq!(decode(&encode(&bytes).to_uppercase()), Some(bytes));
        }
    }

    #[test]
    fn anything_else_is_nothing() {
        for digits in ["", "0", "000", "+0+0", "zz00", "0000é"] {
            assert_eq!(decode::<2>(digits), None, "{digits}");
        }
    }

    /// FIPS 180-4, the example "abc", as NIST publishes its value.
    #[test]
    fn the_standards_example_has_the_standards_digits() {
        assert_eq!(sha256("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
