//! What a document is made of, before anybody decides where on which page it stands.

use crate::report::drawing::scene::{Ink, Scene};

/// The paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sheet {
    #[default]
    /// 210 mm by 297 mm.
    A4,
    /// 8.5 inches by 11 inches.
    Letter,
}

impl Sheet {
    /// Width and height of the upright sheet, in points.
    pub fn size(self) -> (f32, f32) {
        match self {
            Sheet::A4 => (595.276, 841.89),
            Sheet::Letter => (612.0, 792.0),
        }
    }
}

/// A document.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// Its title, for the list of files and the window of a viewer; it is not printed.
    pub title: String,
    /// What stands at the foot of each page; what is too long ends in `…`.
    pub footer: String,
    /// When it was made, in UTC: year, month, day, hour, minute, second. PDF/A asks for it: a document without it is
    /// written as a plain PDF, which does not claim to be PDF/A.
    pub created: Option<(u16, u8, u8, u8, u8, u8)>,
    /// What it says, in order.
    pub blocks: Vec<Block>,
}

/// The colour of words. It goes with a word that says the same: nobody needs to see the colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// As most of the text.
    Plain,
    /// Less important.
    Soft,
    /// It conforms.
    Good,
    /// It does not conform.
    Bad,
    /// It was accepted in spite of something, or is not decided.
    Odd,
}

impl Tone {
    /// Its ink.
    pub fn ink(self) -> Ink {
        match self {
            Tone::Plain => Ink::DARK,
            Tone::Soft => Ink::SOFT,
            Tone::Good => Ink::GOOD,
            Tone::Bad => Ink::BAD,
            Tone::Odd => Ink(0x8a, 0x5a, 0x00),
        }
    }
}

/// Text in one manner. Runs that follow each other touch: a space between them is written by one of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// The text.
    pub text: String,
    /// Whether it is bold.
    pub bold: bool,
    /// Whether all letters are equally wide, as in names, keys and commands; this has no bold.
    pub mono: bool,
    /// Whether it is a little smaller.
    pub small: bool,
    /// Its colour.
    pub tone: Tone,
}

impl Run {
    /// Common text.
    pub fn plain(text: impl Into<String>) -> Run {
        Run { text: text.into(), bold: false, mono: false, small: false, tone: Tone::Plain }
    }

    /// Text in a colour, bold as soon as that colour judges.
    pub fn judged(text: impl Into<String>, tone: Tone) -> Run {
        let bold = matches!(tone, Tone::Good | Tone::Bad | Tone::Odd);
        Run { bold, tone, ..Run::plain(text) }
    }

    /// The same, bold.
    #[must_use]
    pub fn bold(self) -> Run {
        Run { bold: true, ..self }
    }

    /// The same, with letters that are equally wide.
    #[must_use]
    pub fn mono(self) -> Run {
        Run { mono: true, ..self }
    }

    /// The same, a little smaller.
    #[must_use]
    pub fn small(self) -> Run {
        Run { small: true, ..self }
    }

    /// The same, as something less important.
    #[must_use]
    pub fn soft(self) -> Run {
        Run { tone: Tone::Soft, ..self }
    }
}

/// How wide a column is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Width {
    /// As wide as its widest cell, where there is room.
    Fit,
    /// A share of the room that the fitted columns leave, in proportion to the other shares.
    Share(f32),
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its heading, repeated on each page.
    pub title: String,
    /// How wide it is.
    pub width: Width,
    /// Whether its cells stand at its right edge, as numbers do.
    pub numeric: bool,
}

impl Column {
    /// A column as wide as its widest cell.
    pub fn fit(title: impl Into<String>) -> Column {
        Column { title: title.into(), width: Width::Fit, numeric: false }
    }

    /// A column that takes a share of the room that is left.
    pub fn share(title: impl Into<String>, share: f32) -> Column {
        Column { title: title.into(), width: Width::Share(share), numeric: false }
    }

    /// The same for numbers: its cells stand at its right edge.
    #[must_use]
    pub fn numeric(self) -> Column {
        Column { numeric: true, ..self }
    }
}

/// A cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Paragraphs under each other.
    Text(Vec<Vec<Run>>),
    /// A small drawing, made smaller where its column is narrower.
    Drawing(Scene),
}

impl Cell {
    /// A cell with common text.
    pub fn plain(text: impl Into<String>) -> Cell {
        Cell::Text(vec![vec![Run::plain(text)]])
    }

    /// A cell with a word in its colour.
    pub fn judged(word: impl Into<String>, tone: Tone) -> Cell {
        Cell::Text(vec![vec![Run::judged(word, tone)]])
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows. One with fewer cells than columns ends in empty ones; one with more is refused.
    pub rows: Vec<Vec<Cell>>,
}

/// A place that is filled in with a pencil.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// What stands over it; may be empty.
    pub label: String,
    /// What stands in it at its right end, such as the unit; may be empty.
    pub unit: String,
    /// The room for writing, in points; [`Field::REST`] takes what the others leave.
    pub width: f32,
}

impl Field {
    /// The width of a field that takes the room that is left.
    pub const REST: f32 = 0.0;

    /// Room for a reading as `12.61` in handwriting: 28 mm.
    pub const READING: f32 = 28.0 / 25.4 * 72.0;

    /// A field of a width, in points, without a unit.
    pub fn new(label: impl Into<String>, width: f32) -> Field {
        Field { label: label.into(), unit: String::new(), width }
    }
}

/// A strip below the words of a form: words, and fields at the right of them, or below where one takes the rest.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Strip {
    /// Paragraphs.
    pub words: Vec<Vec<Run>>,
    /// Where something is written, from left to right.
    pub fields: Vec<Field>,
    /// Whether a box to tick stands at its right end.
    pub tick: bool,
}

/// Something to be done and ticked, or to be filled in by hand. It stays in one piece.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Form {
    /// What stands left of it, such as its number; [`super::anchors`] finds the form by it.
    pub number: String,
    /// Paragraphs: what is done.
    pub words: Vec<Vec<Run>>,
    /// Paragraphs beside them: what it must look like.
    pub beside: Vec<Vec<Run>>,
    /// Where something is written, below those; one with [`Field::REST`] is as wide as they are.
    pub fields: Vec<Field>,
    /// What stands below them.
    pub strips: Vec<Strip>,
    /// Whether a box to tick stands at the right end of the words.
    pub tick: bool,
    /// Whether it is done already: its number is struck out.
    pub struck: bool,
    /// The colour of a frame around it, where it has one: it then stays with what comes next.
    pub frame: Option<Tone>,
}

/// A part of a document.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A heading. It stays with what comes next, and is listed in the outline of the document.
    Heading {
        /// 1 for the title on the first page, 2 and 3 below it.
        level: u8,
        /// Its words.
        text: String,
    },
    /// A paragraph.
    Paragraph(Vec<Run>),
    /// A paragraph that stays with what comes next.
    Lead(Vec<Run>),
    /// A list; each point is a paragraph.
    Bullets(Vec<Vec<Run>>),
    /// A table.
    Table(Table),
    /// A picture.
    Picture {
        /// A JPEG file in grey or RGB, the right way up. Nothing of it is taken out: neither place nor time.
        jpeg: Vec<u8>,
        /// What messages call it.
        name: String,
        /// The greatest width, in points.
        width: f32,
        /// The greatest height, in points.
        height: f32,
        /// What stands below it; may be empty.
        caption: Vec<Run>,
    },
    /// A drawing. One that would have to be much smaller than drawn stands alone on a turned page.
    Drawing {
        /// What is drawn.
        scene: Scene,
        /// What stands below it; may be empty.
        caption: Vec<Run>,
    },
    /// Something to be ticked or filled in by hand.
    Form(Form),
    /// Terms and what belongs to each.
    KeyValues(Vec<(String, Vec<Run>)>),
    /// Lines as they are, such as commands. A line too long goes on below, with a hook before it.
    Preformatted(Vec<String>),
    /// A verdict: a word in a frame of its colour, with lines beside it.
    Band {
        /// The verdict.
        word: String,
        /// Its colour.
        tone: Tone,
        /// What is said beside it.
        lines: Vec<Vec<Run>>,
    },
    /// Empty room, in points; not at the head of a page.
    Space(f32),
    /// What comes next begins a page.
    PageBreak,
}
