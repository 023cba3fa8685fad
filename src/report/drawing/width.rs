//! How wide a text is set.

use crate::report::pdf::fonts::{Face, width};

/// Width of a text in points at a size of the type in points, by the advance widths of the fonts that a print is set in. A
/// page in a browser is set in them or in fonts with the same widths.
pub(crate) fn text_width(text: &str, size: f32, bold: bool) -> f32 {
    width(text, size, if bold { Face::Bold } else { Face::Regular })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_letters_are_wider_and_bold_runs_wider() {
        assert!(text_width("mmm", 7.0, false) > text_width("iii", 7.0, false));
        assert!(text_width("pump", 7.0, true) > text_width("pump", 7.0, false));
        assert_eq!(text_width("", 7.0, false), 0.0);
    }
}
