//! SHA-256, so that a report says which files it was made from.

use std::fmt::Write as _;

use sha2::{Digest, Sha256};

/// SHA-256 in hexadecimal digits.
pub(crate) fn hash(bytes: &[u8]) -> String {
    let mut shown = String::with_capacity(64);
    for byte in Sha256::digest(bytes) {
        // Writing to a string cannot fail.
        let _ = write!(shown, "{byte:02x}");
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::hash;

    /// The example of FIPS 180-4: SHA-256 of `abc`.
    #[test]
    fn published_example() {
        let want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(hash(b"abc"), want);
    }
}
