//! Runs of text broken into lines: at spaces and after hyphens, and anywhere in a word that is longer than a line.

use crate::report::drawing::scene::Ink;

use super::document::Run;
use super::fonts::{self, Face};

/// Height of a line, as a share of the type size.
pub const LEADING: f32 = 1.35;

/// From the top of a line to its base line, as a share of the type size.
const BASE: f32 = 1.02;

/// A small run, as a share of the type size.
const SMALL: f32 = 0.9;

/// A run of letters that are equally wide, as a share: these look larger than the others.
const MONO: f32 = 0.92;

/// Rounding that does not make a line too long, in points.
const HAIR: f32 = 0.01;

/// What stays on the line of the number before it.
const UNITS: [&str; 37] = [
    "V", "mV", "kV", "A", "mA", "µA", "Ah", "Ω", "mΩ", "µΩ", "kΩ", "MΩ", "ohm", "W", "kW", "Wh", "mm", "mm²", "cm",
    "m", "km", "in", "ft", "kg", "g", "N", "N·m", "lbf", "°C", "°F", "°", "%", "s", "min", "h", "lx", "Hz",
];

/// Text in one manner at its place in a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// As it is drawn.
    pub text: String,
    /// Its face.
    pub face: Face,
    /// Its type size, in points.
    pub size: f32,
    /// Its colour.
    pub ink: Ink,
    /// Its width, in points.
    pub width: f32,
}

/// A line.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Line {
    /// From left to right; they touch.
    pub pieces: Vec<Piece>,
    /// Its width, in points.
    pub width: f32,
    /// Its height, in points.
    pub height: f32,
}

impl Line {
    /// From its top to its base line, in points.
    pub fn base(&self) -> f32 {
        self.height / LEADING * BASE
    }

    fn add(&mut self, letter: char, manner: &Manner, width: f32) {
        self.width += width;
        self.height = self.height.max(manner.height);
        if let Some(last) = self.pieces.last_mut().filter(|last| manner.is_of(last)) {
            last.text.push(letter);
            last.width += width;
        } else {
            let Manner { face, size, ink, .. } = *manner;
            self.pieces.push(Piece { text: letter.to_string(), face, size, ink, width });
        }
    }

    fn append(&mut self, other: Line) {
        self.width += other.width;
        self.height = self.height.max(other.height);
        for piece in other.pieces {
            match self.pieces.last_mut() {
                Some(last) if (last.face, last.size, last.ink) == (piece.face, piece.size, piece.ink) => {
                    last.text.push_str(&piece.text);
                    last.width += piece.width;
                }
                _ => self.pieces.push(piece),
            }
        }
    }

    /// Takes off the last letter.
    fn shorten(&mut self, width: f32) {
        self.width -= width;
        if let Some(last) = self.pieces.last_mut() {
            last.text.pop();
            last.width -= width;
            if last.text.is_empty() {
                self.pieces.pop();
            }
        }
    }
}

/// How a run is drawn.
#[derive(Clone, Copy)]
struct Manner {
    face: Face,
    size: f32,
    ink: Ink,
    height: f32,
}

impl Manner {
    fn of(run: &Run, size: f32, bold: bool) -> Manner {
        let face = match (run.mono, run.bold || bold) {
            (true, _) => Face::Mono,
            (false, true) => Face::Bold,
            (false, false) => Face::Regular,
        };
        let size = if run.small { size * SMALL } else { size };
        let drawn = if run.mono { size * MONO } else { size };
        Manner { face, size: drawn, ink: run.tone.ink(), height: size * LEADING }
    }

    fn is_of(&self, piece: &Piece) -> bool {
        (self.face, self.size, self.ink) == (piece.face, piece.size, piece.ink)
    }
}

/// The lines of a text, and the width of its longest word in points.
#[derive(Default)]
struct Setter {
    room: f32,
    lines: Vec<Line>,
    line: Line,
    gap: Option<(Manner, f32)>,
    word: Line,
    letters: usize,
    longest: f32,
}

impl Setter {
    fn letter(&mut self, letter: char, manner: &Manner) {
        let width = fonts::advance(letter, manner.size, manner.face);
        self.word.add(letter, manner, width);
        self.letters += 1;
        if self.word.width > self.room + HAIR && self.letters > 1 {
            // Longer than any line: it begins on a line of its own and is broken wherever that is full.
            self.end_line();
            self.word.shorten(width);
            self.lines.push(std::mem::take(&mut self.word));
            self.word.add(letter, manner, width);
            self.letters = 1;
        }
    }

    fn end_word(&mut self) {
        if self.letters == 0 {
            return;
        }
        self.longest = self.longest.max(self.word.width);
        let gap = self.gap.take();
        let needed = gap.as_ref().map_or(0.0, |(_, width)| *width) + self.word.width;
        if !self.line.pieces.is_empty() && self.line.width + needed > self.room + HAIR {
            self.end_line();
        } else if let Some((manner, width)) = gap
            && !self.line.pieces.is_empty()
        {
            self.line.add(' ', &manner, width);
        }
        self.line.append(std::mem::take(&mut self.word));
        self.letters = 0;
    }

    fn end_line(&mut self) {
        self.gap = None;
        if !self.line.pieces.is_empty() {
            self.lines.push(std::mem::take(&mut self.line));
        }
    }

    fn run(&mut self, run: &Run, manner: &Manner) {
        let mut before = ' ';
        for (at, letter) in run.text.char_indices() {
            let letter = fonts::shown(letter);
            if letter == ' ' {
                if self.letters > 0 && holds(before, &run.text[at..]) {
                    self.letter(letter, manner);
                } else {
                    self.end_word();
                    self.gap = Some((*manner, fonts::advance(' ', manner.size, manner.face)));
                }
            } else {
                self.letter(letter, manner);
                let ends = matches!(letter, '-' | '/' | '–') || (manner.face == Face::Mono && letter == '_');
                if ends && before.is_alphabetic() {
                    self.end_word();
                }
            }
            before = letter;
        }
    }
}

/// Whether the space at the head of `rest` joins a number and its unit, or a sign and its number.
fn holds(before: char, rest: &str) -> bool {
    if matches!(before, '±' | '≤' | '≥' | '≈') {
        return true;
    }
    let next = rest.split_whitespace().next().unwrap_or("");
    before.is_ascii_digit() && UNITS.contains(&next.trim_end_matches([',', '.', ';', ':', ')', '…']))
}

fn set_all(runs: &[Run], size: f32, bold: bool, room: f32) -> Setter {
    let mut setter = Setter { room: room.max(1.0), ..Setter::default() };
    for run in runs {
        setter.run(run, &Manner::of(run, size, bold));
    }
    setter.end_word();
    setter.end_line();
    setter
}

/// Runs as lines of at most `room` points, at a type size in points. No words are no line.
pub fn set(runs: &[Run], size: f32, room: f32) -> Vec<Line> {
    set_all(runs, size, false, room).lines
}

/// The same, all bold.
pub fn set_bold(runs: &[Run], size: f32, room: f32) -> Vec<Line> {
    set_all(runs, size, true, room).lines
}

/// Width in one line, and of the longest word, in points.
pub fn measure(runs: &[Run], size: f32, bold: bool) -> (f32, f32) {
    let setter = set_all(runs, size, bold, f32::INFINITY);
    (setter.lines.iter().map(|line| line.width).fold(0.0, f32::max), setter.longest)
}

/// A line of fixed letters broken where it is full, after a space near its end if there is one; all of its letters stay.
pub fn set_fixed(text: &str, size: f32, room: f32) -> Vec<Line> {
    let run = Run::plain("").mono();
    let manner = Manner { size, ..Manner::of(&run, size, false) };
    let line = |letters: &[(char, f32)]| {
        let mut line = Line { height: manner.height, ..Line::default() };
        for (letter, width) in letters {
            line.add(*letter, &manner, *width);
        }
        line
    };
    let mut lines = Vec::new();
    let mut letters: Vec<(char, f32)> = Vec::new();
    let mut wide = 0.0;
    for letter in text.chars().map(fonts::shown) {
        let width = fonts::advance(letter, size, Face::Mono);
        if !letters.is_empty() && wide + width > room + HAIR {
            // In the last third of a full line a space is a good place to break it.
            let near = letters.len() * 2 / 3;
            let space = letters[near..].iter().rposition(|(letter, _)| *letter == ' ');
            let rest = letters.split_off(space.map_or(letters.len(), |at| near + at + 1));
            lines.push(line(&letters));
            wide = rest.iter().map(|(_, width)| width).sum();
            letters = rest;
        }
        letters.push((letter, width));
        wide += width;
    }
    lines.push(line(&letters));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(lines: &[Line]) -> Vec<String> {
        lines.iter().map(|line| line.pieces.iter().map(|piece| piece.text.as_str()).collect()).collect()
    }

    fn set_plain(text: &str, room: f32) -> Vec<String> {
        words(&set(&[Run::plain(text)], 10.0, room))
    }

    #[test]
    fn lines_break_at_spaces_and_lose_none_of_the_words() {
        let text = "The negative   lead of the\tlamp goes\nto the body beside the battery.";
        let lines = set(&[Run::plain(text)], 10.0, 80.0);
        assert!(lines.len() > 3 && lines.iter().all(|line| line.width <= 80.01), "{lines:?}");
        assert_eq!(words(&lines).join(" "), text.split_whitespace().collect::<Vec<_>>().join(" "));
        assert_eq!(set_plain("  ", 80.0), Vec::<String>::new());
    }

    #[test]
    fn a_number_keeps_its_unit() {
        let wide = fonts::width("a reading of 4.7", 10.0, Face::Regular) + 1.0;
        assert_eq!(set_plain("a reading of 4.7 mΩ, done", wide), ["a reading of", "4.7 mΩ, done"]);
        assert_eq!(set_plain("a reading of 4.7 more", wide), ["a reading of 4.7", "more"]);
    }

    #[test]
    fn runs_touch_and_a_line_is_as_high_as_its_largest() {
        let runs = [Run::plain("wire "), Run::plain("W1").mono(), Run::plain("."), Run::plain(" end").small()];
        let lines = set(&runs, 10.0, 200.0);
        assert_eq!(words(&lines), ["wire W1. end"]);
        assert_eq!(lines[0].height, 13.5);
        let sum: f32 = lines[0].pieces.iter().map(|piece| piece.width).sum();
        assert!((sum - lines[0].width).abs() < 0.01);
    }

    #[test]
    fn a_long_word_is_broken_anywhere() {
        let lines = set_plain(&format!("so {} then", "x".repeat(4999)), 100.0);
        assert_eq!(lines[0], "so");
        assert_eq!(lines.concat().matches('x').count(), 4999);
        assert_eq!(lines[1].len(), 20);
        assert!(lines.last().unwrap().ends_with("then"));
        // A room narrower than a letter takes one at a time.
        assert_eq!(set_plain("abc", 0.0), ["a", "b", "c"]);
    }

    #[test]
    fn a_measure_is_what_setting_needs() {
        let runs = [Run::plain("some words of a cell")];
        let (natural, longest) = measure(&runs, 9.0, false);
        assert_eq!(set(&runs, 9.0, natural).len(), 1);
        assert_eq!(set(&runs, 9.0, longest).len(), 5 - 1);
        assert!(set(&runs, 9.0, longest).iter().all(|line| line.width <= longest + 0.01));
    }

    #[test]
    fn fixed_lines_keep_their_spaces() {
        assert_eq!(words(&set_fixed("  a  b", 10.0, 100.0)), ["  a  b"]);
        assert_eq!(words(&set_fixed("", 10.0, 100.0)), [""]);
        assert_eq!(words(&set_fixed("abcd", 10.0, 12.5)), ["ab", "cd"]);
        let line = format!("{} {}", "a".repeat(8), "b".repeat(8));
        assert_eq!(words(&set_fixed(&line, 10.0, 72.1)), ["aaaaaaaa ", "bbbbbbbb"]);
    }
}
