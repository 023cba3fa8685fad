//! Texts of strangers made plain: nothing steers a terminal, turns a line around, or names what was asked to be masked.

/// What stands in the place of what was left out.
pub(super) const MASKED: &str = "masked";

/// Whether a word is one that can be left out wherever it stands: a short one, or a short number, stands by chance in
/// other words and among readings too.
pub(super) fn is_telling(word: &str) -> bool {
    let shortest = if word.chars().any(char::is_alphabetic) { 4 } else { 6 };
    word.trim().chars().count() >= shortest
}

/// A text without control characters and without characters that only turn the direction of what stands around them.
/// What was there is shown as U+FFFD; a line feed or a tab becomes a space.
pub fn visible(text: &str) -> String {
    let shown = |c: char| match c {
        '\n' | '\r' | '\t' => ' ',
        c if c.is_control() || super::super::turns_text(c) => '\u{fffd}',
        c => c,
    };
    text.chars().map(shown).collect()
}

/// A text with every occurrence of a word left out, whatever its case.
pub(super) fn without(text: &str, word: &str) -> String {
    let (low, wanted) = (text.to_lowercase(), word.to_lowercase());
    // Where lower case has other lengths, places do not carry over.
    if low.len() != text.len() {
        return text.replace(word, MASKED);
    }
    let mut masked = String::new();
    let mut from = 0;
    while let Some(at) = low[from..].find(&wanted).map(|at| at + from) {
        let to = at + wanted.len();
        if !text.is_char_boundary(at) || !text.is_char_boundary(to) {
            return text.replace(word, MASKED);
        }
        masked.push_str(&text[from..at]);
        masked.push_str(MASKED);
        from = to;
    }
    masked + &text[from..]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_turns_or_steers_is_shown_and_not_obeyed() {
        assert_eq!(visible("a\u{202e}b\u{1b}[2Jc\nd"), "a\u{fffd}b\u{fffd}[2Jc d");
        assert_eq!(visible("4.7 mΩ at 85 °C"), "4.7 mΩ at 85 °C");
    }

    #[test]
    fn a_word_is_left_out_wherever_it_stands() {
        assert_eq!(without("chassis AB-12 and ab-12.", "AB-12"), "chassis masked and masked.");
        assert_eq!(without("İ AB-12", "AB-12"), "İ masked");
    }
}
