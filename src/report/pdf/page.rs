//! Pages as shapes at places: what the flow leaves to the painter.

use krilla::image::Image;

use crate::report::drawing::scene::{Ink, Point, Scene, Shape, Stroke};

use super::lines::{Line, Piece};

/// Something on a page. Places are in points from the upper left corner of the page, or of the chunk it is still in.
#[derive(Debug, Clone)]
pub enum Item<'a> {
    /// Words on a base line.
    Words {
        /// Where they begin.
        at: Point,
        /// What they are.
        piece: Piece,
    },
    /// A line or an area.
    Shape(Shape),
    /// A picture.
    Picture {
        /// Its upper left corner.
        at: Point,
        /// Its width and height, in points.
        size: (f32, f32),
        /// What it shows.
        image: Image,
    },
    /// A drawing.
    Drawing {
        /// Its upper left corner.
        at: Point,
        /// How many points a point of the drawing takes.
        scale: f32,
        /// What is drawn.
        scene: &'a Scene,
    },
}

impl Item<'_> {
    /// Moves it, in points.
    pub fn shift(&mut self, right: f32, down: f32) {
        let moved = |at: &mut Point| {
            at.x += right;
            at.y += down;
        };
        match self {
            Item::Shape(Shape::Line { points, .. } | Shape::Area { points, .. }) => points.iter_mut().for_each(moved),
            Item::Words { at, .. }
            | Item::Picture { at, .. }
            | Item::Drawing { at, .. }
            | Item::Shape(Shape::Circle { centre: at, .. } | Shape::Text { at, .. }) => moved(at),
        }
    }

    /// A straight line, level or upright.
    pub fn rule(from: (f32, f32), to: (f32, f32), ink: Ink, width: f32) -> Item<'static> {
        let points = vec![Point { x: from.0, y: from.1 }, Point { x: to.0, y: to.1 }];
        Item::Shape(Shape::Line { points, stroke: Stroke { ink, width, dash: None } })
    }

    /// A box by its upper left corner and its size.
    pub fn area(at: (f32, f32), size: (f32, f32), fill: Option<Ink>, stroke: Option<(Ink, f32)>) -> Item<'static> {
        let corner = |right: f32, down: f32| Point { x: at.0 + right, y: at.1 + down };
        let points = vec![corner(0.0, 0.0), corner(size.0, 0.0), corner(size.0, size.1), corner(0.0, size.1)];
        let stroke = stroke.map(|(ink, width)| Stroke { ink, width, dash: None });
        Item::Shape(Shape::Area { points, fill, stroke })
    }

    /// The words of a line whose upper left corner is at a place.
    pub fn line(line: Line, left: f32, top: f32, into: &mut Vec<Item<'_>>) {
        let y = top + line.base();
        let mut x = left;
        for piece in line.pieces {
            let width = piece.width;
            into.push(Item::Words { at: Point { x, y }, piece });
            x += width;
        }
    }
}

/// A heading that the outline lists, or the place of a form, which it does not.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// 1 for the title, 2 and 3 below it; [`Mark::FORM`] for a form.
    pub level: u8,
    /// Its words, cut where they are very long.
    pub text: String,
    /// The top of it, in points from the top of its page, or of the chunk it is still in.
    pub top: f32,
}

impl Mark {
    /// The level of a form: below all headings.
    pub const FORM: u8 = 9;
}

/// Things that stay together: places are from its own upper left corner.
#[derive(Debug, Clone, Default)]
pub struct Chunk<'a> {
    /// What is in it.
    pub items: Vec<Item<'a>>,
    /// Its height, in points.
    pub height: f32,
    /// Room above it, in points, unless it stands at the head of a page.
    pub above: f32,
    /// Room below it, in points.
    pub below: f32,
    /// The heading in it.
    pub mark: Option<Mark>,
    /// Whether a rule stands at its foot, as wide as the text of its page.
    pub ruled: bool,
}

/// A page.
#[derive(Debug, Clone, Default)]
pub struct Page<'a> {
    /// Its width and height, in points.
    pub size: (f32, f32),
    /// What is on it, later things over earlier ones.
    pub items: Vec<Item<'a>>,
    /// The headings on it.
    pub marks: Vec<Mark>,
}
