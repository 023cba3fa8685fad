//! The three faces of the report: what they can draw, how wide it is, and which glyph it is.

use std::borrow::Cow;
use std::sync::OnceLock;

use skrifa::MetadataProvider;
use skrifa::instance::{LocationRef, Size};

/// A face of the report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Face {
    /// Text.
    Regular,
    /// Headings, and words that matter.
    Bold,
    /// Names, keys and commands; every letter is equally wide.
    Mono,
}

/// What stands for a character that is not drawn: an empty box, and this character for whoever copies the text.
pub const MISSING: char = '\u{fffd}';

/// The box that is drawn for [`MISSING`], which the fonts themselves do not have.
const BOX: char = '\u{25a1}';

/// Characters up to here are looked up in a table; the fonts have next to nothing beyond.
const PLANE: usize = 0x1_0000;

/// The font file of a face, unchanged (`src/report/fonts/README.md`).
pub(super) fn file(face: Face) -> &'static [u8] {
    match face {
        Face::Regular => include_bytes!("../fonts/LiberationSans-Regular.ttf"),
        Face::Bold => include_bytes!("../fonts/LiberationSans-Bold.ttf"),
        Face::Mono => include_bytes!("../fonts/LiberationMono-Regular.ttf"),
    }
}

/// Glyph and advance of each character of a face.
struct Table {
    /// By character; glyph 0 is "not there". The advance is a share of the type size.
    glyphs: Vec<(u16, f32)>,
}

impl Table {
    fn read(face: Face) -> Table {
        let mut glyphs = vec![(0, 0.0); PLANE];
        // The files are compiled in and a test reads them: an unreadable one would leave a table of missing glyphs.
        if let Ok(font) = skrifa::FontRef::new(file(face)) {
            let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
            for (code, glyph) in font.charmap().mappings() {
                let (Some(place), Ok(id)) = (glyphs.get_mut(code as usize), u16::try_from(glyph.to_u32())) else {
                    continue;
                };
                *place = (id, metrics.advance_width(glyph).unwrap_or(0.0));
            }
            glyphs[MISSING as usize] = glyphs[BOX as usize];
        }
        Table { glyphs }
    }

    fn of(face: Face) -> &'static Table {
        static TABLES: [OnceLock<Table>; 3] = [OnceLock::new(), OnceLock::new(), OnceLock::new()];
        TABLES[face as usize].get_or_init(|| Table::read(face))
    }

    fn find(&self, letter: char) -> Option<(u16, f32)> {
        self.glyphs.get(letter as usize).copied().filter(|(glyph, _)| *glyph != 0)
    }
}

/// What is drawn for a character: itself, its nearest like, or [`MISSING`].
pub(super) fn shown(letter: char) -> char {
    match letter {
        ' '..='~' => letter,
        // Spaces that must not end a line, or that stand in a number.
        '\u{a0}' | '\u{2007}' | '\u{2009}' | '\u{202f}' => '\u{a0}',
        // Ends of lines, and the other spaces.
        '\t' | '\n' | '\r' | '\u{85}' | '\u{2000}'..='\u{200a}' | '\u{2028}' | '\u{2029}' | '\u{205f}' | '\u{3000}' => {
            ' '
        }
        // A hyphen that must not end a line: the fonts have it only as the common one.
        '\u{2011}' => '\u{2010}',
        // Characters that nobody sees, or that turn the order of others, could make a report say what it does not;
        // private ones mean nothing; and nothing here lays out what is written from right to left.
        '\u{0}'..='\u{1f}'
        | '\u{7f}'..='\u{9f}'
        | '\u{590}'..='\u{8ff}'
        | '\u{200b}'..='\u{200f}'
        | '\u{202a}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{e000}'..='\u{f8ff}'
        | '\u{fb1d}'..='\u{fdff}'
        | '\u{fe00}'..='\u{fe0f}'
        | '\u{fe70}'..='\u{feff}'
        | '\u{fff0}'..='\u{ffff}' => MISSING,
        _ if [Face::Regular, Face::Bold, Face::Mono].iter().all(|f| Table::of(*f).find(letter).is_some()) => letter,
        _ => MISSING,
    }
}

/// A text as it is drawn. Tabs and ends of lines become spaces; what has no glyph, control characters and those that
/// turn the direction of writing become [`MISSING`].
pub fn drawable(text: &str) -> Cow<'_, str> {
    if text.chars().all(|letter| shown(letter) == letter) {
        Cow::Borrowed(text)
    } else {
        Cow::Owned(text.chars().map(shown).collect())
    }
}

/// The glyph of a character that [`shown`] gave, and its advance as a share of the type size.
pub(super) fn glyph(letter: char, face: Face) -> (u16, f32) {
    let table = Table::of(face);
    table.find(letter).or_else(|| table.find(MISSING)).unwrap_or((0, 0.0))
}

/// The advance of a character as it is drawn, in points, at a type size in points.
pub(super) fn advance(letter: char, size: f32, face: Face) -> f32 {
    glyph(shown(letter), face).1 * size
}

/// How wide a text is as it is drawn in one line, in points, at a type size in points.
pub fn width(text: &str, size: f32, face: Face) -> f32 {
    text.chars().map(|letter| glyph(shown(letter), face).1).sum::<f32>() * size
}

/// A text that is at most `room` points wide at a type size in points; what is too long ends in `…`.
pub fn fitted(text: &str, size: f32, face: Face, room: f32) -> String {
    let text = drawable(text);
    if width(&text, size, face) <= room {
        return text.into_owned();
    }
    let mut left = room - advance('…', size, face);
    let kept = text.chars().take_while(|letter| {
        left -= advance(*letter, size, face);
        left >= 0.0
    });
    let mut kept: String = kept.collect();
    kept.truncate(kept.trim_end().len());
    kept.push('…');
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_are_those_of_the_files() {
        // Advances of the files in 2048ths of the type size: H 1479, i 455; bold H 1479, i 569; mono 1229.
        let expected = |units: u16| f32::from(units) / 2048.0 * 100.0;
        assert!((width("Hi", 100.0, Face::Regular) - expected(1479 + 455)).abs() < 0.01);
        assert!((width("Hi", 100.0, Face::Bold) - expected(1479 + 569)).abs() < 0.01);
        assert!((width("HiΩ", 100.0, Face::Mono) - expected(3 * 1229)).abs() < 0.01);
        assert_eq!(width("", 10.0, Face::Regular), 0.0);
    }

    #[test]
    fn what_a_report_needs_is_drawn_as_it_is() {
        let text =
            "4.7 mΩ 85 °C 2.5 mm² 3 µA ±0.02 V ≤ ≥ − · – — “quoted” ‘so’ … × ÷ √ ≈ ≠ → ½ Größe Łódź Ünsal Ωμ Ящик é";
        assert!(matches!(drawable(text), Cow::Borrowed(same) if same == text));
    }

    #[test]
    fn what_cannot_be_seen_is_seen() {
        assert_eq!(drawable("a\tb\nc\rd"), "a b c d");
        assert_eq!(drawable("12\u{202f}V 5\u{2009}m"), "12\u{a0}V 5\u{a0}m");
        let hidden = "\u{0}\u{7}\u{1b}\u{7f}\u{9b}\u{200b}\u{200e}\u{200f}\u{61c}\u{202a}\u{202e}\u{2066}\u{2069}\u{feff}\u{fffe}";
        for letter in hidden.chars() {
            assert_eq!(drawable(&format!("x{letter}y")), "x\u{fffd}y", "{:x}", letter as u32);
            assert!(advance(letter, 10.0, Face::Regular) > 5.0, "{:x} is seen", letter as u32);
        }
        assert_eq!(drawable("木 ✓ 🔧 שלום"), "\u{fffd} \u{fffd} \u{fffd} \u{fffd}\u{fffd}\u{fffd}\u{fffd}");
    }

    #[test]
    fn a_character_in_all_of_unicode_has_a_glyph_in_each_face() {
        for letter in (0..=0x0010_ffff).filter_map(char::from_u32) {
            for face in [Face::Regular, Face::Bold, Face::Mono] {
                assert_ne!(glyph(shown(letter), face).0, 0, "{:x}", letter as u32);
            }
        }
    }

    #[test]
    fn a_long_text_is_cut_to_its_room() {
        assert_eq!(fitted("short", 10.0, Face::Regular, 100.0), "short");
        let cut = fitted(&"word ".repeat(100_000), 10.0, Face::Regular, 100.0);
        assert!(
            cut.starts_with("word word w") && cut.ends_with('…') && width(&cut, 10.0, Face::Regular) <= 100.0,
            "{cut}"
        );
        assert_eq!(fitted("so so", 10.0, Face::Regular, 23.5), "so…", "no space before the dots");
        assert_eq!(fitted("anything", 10.0, Face::Regular, 0.0), "…");
    }
}
