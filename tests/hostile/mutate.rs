//! Makes new inputs from known ones: bytes turned, cut out, doubled, mixed with another input, words of the formats put in,
//! numbers made absurd, brackets piled up.

use super::common::Dice;

/// What is put in: words of the formats, and what parsers stumble over.
const WORDS: &[&str] = &[
    "[",
    "]",
    "{",
    "}",
    "\"",
    "'''",
    "\\",
    "\n",
    "=",
    "[[step]]",
    "[wire.w1]",
    "[fuse.F1]",
    "from = \"battery.+\"",
    "±",
    "..",
    " %",
    " V",
    " ohm",
    " mm²",
    "1e999",
    "-1e999",
    "nan",
    "9223372036854775808",
    "0.000000000000000000001",
    "{{ item }}",
    "{% for x in",
    "{% endif %}",
    "{{ thing.",
    "\u{feff}",
    "\u{202e}",
    "\0",
    "é",
    "🜨",
    "}}",
    "\"kind\":",
    "null",
    "\"seq\":",
    "OL",
    "@M2",
    "AWG",
    "-----BEGIN SSH SIGNATURE-----",
    "ssh-ed25519 ",
    "../",
    "# ",
    "\r\n",
];

pub struct Mutator<'c> {
    corpus: &'c [Vec<u8>],
    dice: Dice,
}

impl<'c> Mutator<'c> {
    pub fn new(corpus: &'c [Vec<u8>], dice: Dice) -> Self {
        Self { corpus, dice }
    }

    fn range(&mut self, length: usize, most: usize) -> std::ops::Range<usize> {
        let from = self.dice.below(length + 1);
        from..(from + self.dice.below(most + 1)).min(length)
    }

    pub fn next(&mut self) -> Vec<u8> {
        let mut bytes = self.corpus[self.dice.below(self.corpus.len())].clone();
        for _ in 0..=self.dice.below(4) {
            self.change(&mut bytes);
        }
        bytes
    }

    fn change(&mut self, bytes: &mut Vec<u8>) {
        let at = self.dice.below(bytes.len() + 1);
        match self.dice.below(10) {
            0 if at < bytes.len() => bytes[at] ^= 1 << self.dice.below(8),
            1 if at < bytes.len() => bytes[at] = [0, 0xff, 0x80, b'"', b'\n', b'9'][self.dice.below(6)],
            2 => {
                let cut = self.range(bytes.len(), 60);
                bytes.drain(cut);
            }
            3 => {
                let piece = self.range(bytes.len(), 200);
                let piece = bytes[piece].to_vec();
                bytes.splice(at..at, piece);
            }
            4 => {
                let other = &self.corpus[self.dice.below(self.corpus.len())];
                let piece = self.range(other.len(), 300);
                bytes.splice(at..at, other[piece].iter().copied());
            }
            5 => bytes.truncate(at),
            6 => {
                // A number somewhere becomes another.
                if let Some(digit) = bytes[at..].iter().position(u8::is_ascii_digit) {
                    let from = at + digit;
                    let to = bytes[from..].iter().position(|b| !b.is_ascii_digit()).map_or(bytes.len(), |n| from + n);
                    let new = ["0", "-1", "1e308", "99999999999999999999", "0.0000001", "NaN"][self.dice.below(6)];
                    bytes.splice(from..to, new.bytes());
                }
            }
            7 => {
                // Piled up: nesting, or a line of one letter.
                let letter = b"[({\"a9-\n"[self.dice.below(8)];
                let count = 1 << self.dice.below(14);
                bytes.splice(at..at, std::iter::repeat_n(letter, count));
            }
            _ => {
                let word = WORDS[self.dice.below(WORDS.len())];
                bytes.splice(at..at, word.bytes());
            }
        }
    }
}
