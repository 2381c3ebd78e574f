//! How a cloud is refused, and what its classes are called.

use crate::diag::{At, Diagnostic, Failure};
pub(super) use crate::show::thousands;

/// A file refused as a whole.
pub(super) fn refused(
    file: &str,
    code: &'static str,
    message: String,
    help: impl Into<String>,
) -> Failure {
    Diagnostic::error(code, message)
        .at(At::file(file))
        .help(help)
        .into()
}

/// A file that ends too soon.
pub(super) fn cut_off(file: &str, place: String) -> Failure {
    refused(
        file,
        "cloud-cut-off",
        format!("the file ends {place}"),
        "it was cut off: copy it again from where it came",
    )
}

/// Names of the classes 0 to 22.
///
/// # Source
///
/// American Society for Photogrammetry and Remote Sensing, LAS Specification 1.4 R15 (2019),
/// table 9 (point formats 0 to 5: classes 0 to 12) and table 17 (formats 6 to 10)
const CLASSES: [&str; 23] = [
    "never classified",
    "unclassified",
    "ground",
    "low vegetation",
    "medium vegetation",
    "high vegetation",
    "building",
    "low noise",
    "model key-point",
    "water",
    "rail",
    "road surface",
    "overlap",
    "wire guard",
    "wire conductor",
    "transmission tower",
    "wire connector",
    "bridge deck",
    "high noise",
    "overhead structure",
    "ignored ground",
    "snow",
    "temporary, left out by its maker",
];

/// First class that the maker of a file may give a meaning of his own.
const FIRST_OWN: u8 = 64;

/// A class in words: "class 7 (low noise)".
pub(super) fn class(class: u8) -> String {
    let name = match CLASSES.get(usize::from(class)) {
        Some(name) => name,
        None if class < FIRST_OWN => "reserved",
        None => "of the maker's own",
    };
    format!("class {class} ({name})")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_and_classes_in_words() {
        assert_eq!(thousands(0), "0");
        assert_eq!(thousands(999), "999");
        assert_eq!(thousands(1_065), "1,065");
        assert_eq!(thousands(1_000_000), "1,000,000");
        assert_eq!(class(7), "class 7 (low noise)");
        assert_eq!(class(40), "class 40 (reserved)");
        assert_eq!(class(200), "class 200 (of the maker's own)");
    }
}
