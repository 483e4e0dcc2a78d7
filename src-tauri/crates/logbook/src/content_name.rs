//! Names of files that are named after what is in them: the SHA-256 of it in hexadecimal digits, and an ending.

/// Whether a name is of this form with one of these endings. A fact that came from elsewhere must not lead out of a
/// folder.
pub(crate) fn is_content_name(name: &str, endings: &[&str]) -> bool {
    name.split_once('.').is_some_and(|(hash, ending)| {
        hash.len() == 64 && hash.bytes().all(|it| it.is_ascii_hexdigit()) && endings.contains(&ending)
    })
}
