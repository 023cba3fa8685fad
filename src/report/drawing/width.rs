//! How wide a text is set.

/// Advance widths of a plain sans serif face as shares of the type size, a little wide rather than narrow.
const NARROW: f32 = 0.30;
const USUAL: f32 = 0.57;
const CAPITAL: f32 = 0.73;
const WIDE: f32 = 0.90;
/// Beyond ASCII the widest glyph of a script may stand.
const UNKNOWN: f32 = 1.0;
/// Bold type runs wider.
const BOLD: f32 = 1.08;

/// Width of a text in points at a size of the type in points; it errs on the wide side.
pub(crate) fn text_width(text: &str, size: f32, bold: bool) -> f32 {
    let ems: f32 = text.chars().map(advance).sum();
    ems * size * if bold { BOLD } else { 1.0 }
}

fn advance(letter: char) -> f32 {
    match letter {
        ' ' | '.' | ',' | ':' | ';' | '!' | '\'' | '|' | 'i' | 'j' | 'l' | 'I' | '/' | 'f' | 't' | '·' => NARROW,
        'm' | 'w' | 'M' | 'W' | '@' | '%' => WIDE,
        'A'..='Z' | '&' => CAPITAL,
        '(' | ')' | '[' | ']' | '-' | 'r' | '²' | '°' => 0.40,
        '!'..='~' | '±' | '×' | '−' | '√' | 'Ω' | 'µ' | '–' => {
            USUAL.max(if letter == 'Ω' { 0.76 } else { 0.0 })
        }
        _ => UNKNOWN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_letters_are_wider_and_bold_runs_wider() {
        assert!(text_width("mmm", 7.0, false) > text_width("iii", 7.0, false));
        assert!(text_width("F1", 7.0, true) > text_width("F1", 7.0, false));
        assert_eq!(text_width("", 7.0, false), 0.0);
    }
}
