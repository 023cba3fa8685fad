//! A drawing before anybody decides how it is written: lines, areas and words at places, as a thin painter takes them.

use serde::Serialize;

/// A place on a drawing in points (1/72 inch) from its upper left corner; `y` grows downwards.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// To the right.
    pub x: f32,
    /// Downwards.
    pub y: f32,
}

/// A colour: red, green, blue.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Ink(pub u8, pub u8, pub u8);

impl Ink {
    /// Lines and words that matter.
    pub const DARK: Ink = Ink(0x1c, 0x21, 0x26);
    /// Words beside them.
    pub const SOFT: Ink = Ink(0x4f, 0x5a, 0x61);
    /// Grids and frames.
    pub const PALE: Ink = Ink(0xc3, 0xca, 0xcf);
    /// What conforms.
    pub const GOOD: Ink = Ink(0x1e, 0x6b, 0x3a);
    /// An expected band.
    pub const BAND: Ink = Ink(0xcf, 0xe3, 0xd4);
    /// What does not conform.
    pub const BAD: Ink = Ink(0xa3, 0x16, 0x21);
    /// Paper.
    pub const WHITE: Ink = Ink(0xff, 0xff, 0xff);
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stroke {
    /// Its colour.
    pub ink: Ink,
    /// Its width, in points.
    pub width: f32,
    /// Dash and gap, in points, where the line is broken.
    pub dash: Option<(f32, f32)>,
}

/// Which end of a text stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Anchor {
    /// The text begins there.
    Start,
    /// Its middle stands there.
    Middle,
    /// It ends there.
    End,
}

/// A shape of a drawing; later ones cover earlier ones.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub enum Shape {
    /// A line through points.
    Line {
        /// Its points in order.
        points: Vec<Point>,
        /// How it is drawn.
        stroke: Stroke,
    },
    /// A closed area.
    Area {
        /// Its corners in order.
        points: Vec<Point>,
        /// What fills it.
        fill: Option<Ink>,
        /// Its outline.
        stroke: Option<Stroke>,
    },
    /// A circle.
    Circle {
        /// Its centre.
        centre: Point,
        /// Its radius, in points.
        radius: f32,
        /// What fills it.
        fill: Option<Ink>,
        /// Its outline.
        stroke: Option<Stroke>,
    },
    /// Words in one line; `at` is a place on their base line.
    Text {
        /// Where.
        at: Point,
        /// What.
        text: String,
        /// Size of the type, in points.
        size: f32,
        /// Whether it is bold.
        bold: bool,
        /// Which end stands at the place.
        anchor: Anchor,
        /// Its colour.
        ink: Ink,
        /// Whether it is turned to read upwards.
        upright: bool,
    },
}

/// A drawing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scene {
    /// What it shows, for whoever cannot see it.
    pub says: String,
    /// Its width, in points.
    pub width: f32,
    /// Its height, in points.
    pub height: f32,
    /// What is on it.
    pub shapes: Vec<Shape>,
}

impl Point {
    /// A place from its two coordinates.
    pub const fn at(x: f32, y: f32) -> Self {
        Self { x, y }
    }
}

impl Stroke {
    /// An unbroken line of this colour and width, in points.
    pub const fn plain(ink: Ink, width: f32) -> Self {
        Self { ink, width, dash: None }
    }

    /// A broken line of this colour and width; dash and gap in points.
    pub const fn dashed(ink: Ink, width: f32, dash: f32, gap: f32) -> Self {
        Self { ink, width, dash: Some((dash, gap)) }
    }
}

/// How words are set: size in points, weight, anchor, colour, direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Type {
    /// Size, in points.
    pub size: f32,
    /// Whether it is bold.
    pub bold: bool,
    /// Which end stands at the place.
    pub anchor: Anchor,
    /// Its colour.
    pub ink: Ink,
    /// Whether it is turned to read upwards.
    pub upright: bool,
}

impl Type {
    /// Plain dark words that begin at their place.
    pub const fn of(size: f32) -> Self {
        Self { size, bold: false, anchor: Anchor::Start, ink: Ink::DARK, upright: false }
    }

    /// The same in bold.
    #[must_use]
    pub const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// The same with another end at the place.
    #[must_use]
    pub const fn anchored(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    /// The same in another colour.
    #[must_use]
    pub const fn in_ink(self, ink: Ink) -> Self {
        Self { ink, ..self }
    }

    /// The same, reading upwards.
    #[must_use]
    pub const fn turned(self) -> Self {
        Self { upright: true, ..self }
    }
}

impl Scene {
    /// An empty drawing of this size, in points.
    pub fn new(says: impl Into<String>, width: f32, height: f32) -> Self {
        Self { says: says.into(), width, height, shapes: Vec::new() }
    }

    /// Adds a line through points.
    pub fn line(&mut self, points: &[(f32, f32)], stroke: Stroke) {
        let points = points.iter().map(|(x, y)| Point::at(*x, *y)).collect();
        self.shapes.push(Shape::Line { points, stroke });
    }

    /// Adds a closed area.
    pub fn area(&mut self, points: &[(f32, f32)], fill: Option<Ink>, stroke: Option<Stroke>) {
        let points = points.iter().map(|(x, y)| Point::at(*x, *y)).collect();
        self.shapes.push(Shape::Area { points, fill, stroke });
    }

    /// Adds a circle around a centre, radius in points.
    pub fn circle(&mut self, centre: (f32, f32), radius: f32, fill: Option<Ink>, stroke: Option<Stroke>) {
        self.shapes.push(Shape::Circle { centre: Point::at(centre.0, centre.1), radius, fill, stroke });
    }

    /// Adds words at a place on their base line.
    pub fn text(&mut self, at: (f32, f32), text: impl Into<String>, kind: Type) {
        let Type { size, bold, anchor, ink, upright } = kind;
        self.shapes.push(Shape::Text {
            at: Point::at(at.0, at.1),
            text: text.into(),
            size,
            bold,
            anchor,
            ink,
            upright,
        });
    }
}
