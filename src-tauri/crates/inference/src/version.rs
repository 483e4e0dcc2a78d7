//! The version of model and priors. It is made of them, so that nobody has to remember to raise it.

use crate::Priors;

/// What a few possible flights do and how likely the evidence makes them; a test works it out anew and says so if it
/// changed.
pub(crate) const FIXED: &str = include_str!("fixed.csv");

/// Version of model and priors: what was learned under another one speaks of other coordinates. It changes with any
/// word of the table of priors, and with what the fixed flights do.
pub const MODEL_VERSION: &str = match core::str::from_utf8(&NAME) {
    Ok(name) => name,
    Err(_) => panic!("the name is ASCII"),
};

const PREFIX: &[u8] = b"windfall-model/";
const DIGITS: usize = 16;
const NAME: [u8; PREFIX.len() + DIGITS] = name(hash(hash(BASIS, Priors::EMBEDDED), FIXED));

const BASIS: u64 = 0xcbf2_9ce4_8422_2325;

/// FNV-1a of 64 bits, going on from another.
///
/// # Source
/// D. Eastlake et al., The FNV Non-Cryptographic Hash Algorithm, RFC 9923, sections 2 and 5; from memory.
const fn hash(mut hash: u64, text: &str) -> u64 {
    let bytes = text.as_bytes();
    let mut at = 0;
    while at < bytes.len() {
        hash = (hash ^ bytes[at] as u64).wrapping_mul(0x0100_0000_01b3);
        at += 1;
    }
    hash
}

const fn name(hash: u64) -> [u8; PREFIX.len() + DIGITS] {
    let mut name = [b'0'; PREFIX.len() + DIGITS];
    let mut at = 0;
    while at < PREFIX.len() {
        name[at] = PREFIX[at];
        at += 1;
    }
    while at < name.len() {
        let digit = hash >> (4 * (name.len() - 1 - at)) & 15;
        name[at] = b"0123456789abcdef"[digit as usize];
        at += 1;
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_fnv_1a() {
        // Of the empty text, of "a" and of "foobar": the published test vectors, from memory.
        for (text, expected) in
            [("", 0xcbf2_9ce4_8422_2325), ("a", 0xaf63_dc4c_8601_ec8c), ("foobar", 0x8594_4171_f739_67e8)]
        {
            assert_eq!(hash(BASIS, text), expected, "{text}");
        }
    }

    #[test]
    fn the_version_follows_from_the_priors_and_the_fixed_flights() {
        let made = |priors: &str, fixed: &str| hash(hash(BASIS, priors), fixed);
        let now = made(Priors::EMBEDDED, FIXED);
        assert_eq!(MODEL_VERSION, format!("windfall-model/{now:016x}"));
        assert_ne!(now, made(&Priors::EMBEDDED.replacen("0.15", "0.16", 1), FIXED));
        assert_ne!(now, made(Priors::EMBEDDED, &FIXED.replacen('1', "2", 1)));
    }
}
