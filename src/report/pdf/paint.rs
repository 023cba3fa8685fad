//! Items and drawings painted on the surface of a page.

use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point as Place, Size, Transform};
use krilla::num::NormalizedF32;
use krilla::paint::{Fill, FillRule, Stroke as Pen, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};

use crate::report::drawing::scene::{Anchor, Ink, Point, Scene, Shape, Stroke};

use super::PdfError;
use super::fonts::{self, Face};
use super::page::Item;

/// The faces as the writer of the file takes them.
pub struct Faces([Font; 3]);

impl Faces {
    /// Reads the three faces.
    ///
    /// # Errors
    /// [`PdfError::File`] where one is no font.
    pub fn read() -> Result<Faces, PdfError> {
        let read = |face| {
            Font::new(fonts::file(face).into(), 0)
                .ok_or_else(|| PdfError::File(format!("the font {face:?} cannot be read")))
        };
        Ok(Faces([read(Face::Regular)?, read(Face::Bold)?, read(Face::Mono)?]))
    }
}

fn colour(ink: Ink) -> krilla::paint::Paint {
    rgb::Color::new(ink.0, ink.1, ink.2).into()
}

fn fill(ink: Ink) -> Fill {
    Fill { paint: colour(ink), opacity: NormalizedF32::ONE, rule: FillRule::NonZero }
}

fn pen(stroke: &Stroke) -> Option<Pen> {
    let sound = |length: f32| length.is_finite() && length > 0.0;
    let dash = stroke.dash.filter(|(dash, gap)| sound(*dash) && sound(*gap));
    sound(stroke.width).then(|| Pen {
        paint: colour(stroke.ink),
        width: stroke.width,
        dash: dash.map(|(dash, gap)| StrokeDash { array: vec![dash, gap], offset: 0.0 }),
        ..Pen::default()
    })
}

/// A path through points; none where there are fewer than two, or one is not a number.
fn path(points: &[Point], closed: bool) -> Option<Path> {
    if points.len() < 2 || !points.iter().all(|at| at.x.is_finite() && at.y.is_finite()) {
        return None;
    }
    let mut path = PathBuilder::new();
    path.move_to(points[0].x, points[0].y);
    for at in &points[1..] {
        path.line_to(at.x, at.y);
    }
    if closed {
        path.close();
    }
    path.finish()
}

/// A circle of four curves.
fn circle(centre: Point, radius: f32) -> Option<Path> {
    if !(centre.x.is_finite() && centre.y.is_finite() && radius.is_finite() && radius > 0.0) {
        return None;
    }
    // The handle of a curve that is a quarter of a circle, as a share of the radius.
    let handle = radius * 0.552_284_8;
    let Point { x, y } = centre;
    let mut path = PathBuilder::new();
    path.move_to(x + radius, y);
    path.cubic_to(x + radius, y + handle, x + handle, y + radius, x, y + radius);
    path.cubic_to(x - handle, y + radius, x - radius, y + handle, x - radius, y);
    path.cubic_to(x - radius, y - handle, x - handle, y - radius, x, y - radius);
    path.cubic_to(x + handle, y - radius, x + radius, y - handle, x + radius, y);
    path.close();
    path.finish()
}

/// A page's surface and the faces.
pub struct Painter<'s, 'p> {
    surface: &'s mut Surface<'p>,
    faces: &'s Faces,
}

impl<'s, 'p> Painter<'s, 'p> {
    /// Paints on a surface.
    pub fn new(surface: &'s mut Surface<'p>, faces: &'s Faces) -> Painter<'s, 'p> {
        Painter { surface, faces }
    }

    /// Paints an item.
    pub fn item(&mut self, item: &Item<'_>) {
        match item {
            Item::Words { at, piece } => self.words(*at, &piece.text, piece.face, piece.size, piece.ink),
            Item::Shape(shape) => self.shape(shape),
            Item::Picture { at, size, image } => {
                if let Some(size) = Size::from_wh(size.0, size.1) {
                    self.surface.push_transform(&Transform::from_translate(at.x, at.y));
                    self.surface.draw_image(image.clone(), size);
                    self.surface.pop();
                }
            }
            Item::Drawing { at, scale, scene } => self.scene(scene, *at, *scale),
        }
    }

    /// Paints a drawing with its upper left corner at a place in points, at a scale.
    pub fn scene(&mut self, scene: &Scene, at: Point, scale: f32) {
        self.surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, at.x, at.y));
        for shape in &scene.shapes {
            self.shape(shape);
        }
        self.surface.pop();
    }

    fn shape(&mut self, shape: &Shape) {
        match shape {
            Shape::Line { points, stroke } => self.draw(path(points, false), None, Some(stroke)),
            Shape::Area { points, fill, stroke } => self.draw(path(points, true), *fill, stroke.as_ref()),
            Shape::Circle { centre, radius, fill, stroke } => {
                self.draw(circle(*centre, *radius), *fill, stroke.as_ref());
            }
            Shape::Text { at, text, size, bold, anchor, ink, upright } => {
                if !(at.x.is_finite() && at.y.is_finite() && size.is_finite() && *size > 0.0) {
                    return;
                }
                let face = if *bold { Face::Bold } else { Face::Regular };
                let wide = fonts::width(text, *size, face);
                let left = match anchor {
                    Anchor::Start => 0.0,
                    Anchor::Middle => -wide / 2.0,
                    Anchor::End => -wide,
                };
                // Turned to read upwards: what was to the right is up.
                let turned = if *upright {
                    Transform::from_row(0.0, -1.0, 1.0, 0.0, at.x, at.y)
                } else {
                    Transform::from_translate(at.x, at.y)
                };
                self.surface.push_transform(&turned);
                self.words(Point { x: left, y: 0.0 }, text, face, *size, *ink);
                self.surface.pop();
            }
        }
    }

    fn draw(&mut self, path: Option<Path>, inside: Option<Ink>, outline: Option<&Stroke>) {
        let pen = outline.and_then(pen);
        // Without both the surface would fill it with black.
        if let Some(path) = path.filter(|_| inside.is_some() || pen.is_some()) {
            self.surface.set_fill(inside.map(fill));
            self.surface.set_stroke(pen);
            self.surface.draw_path(&path);
        }
    }

    fn words(&mut self, at: Point, text: &str, face: Face, size: f32, ink: Ink) {
        let text = fonts::drawable(text);
        let glyphs: Vec<KrillaGlyph> = text
            .char_indices()
            .map(|(start, letter)| {
                let (glyph, advance) = fonts::glyph(letter, face);
                KrillaGlyph {
                    glyph_id: GlyphId::new(u32::from(glyph)),
                    text_range: start..start + letter.len_utf8(),
                    x_advance: advance,
                    x_offset: 0.0,
                    y_offset: 0.0,
                    y_advance: 0.0,
                    location: None,
                }
            })
            .collect();
        if glyphs.is_empty() {
            return;
        }
        self.surface.set_fill(Some(fill(ink)));
        self.surface.set_stroke(None);
        let font = self.faces.0[face as usize].clone();
        self.surface.draw_glyphs(Place::from_xy(at.x, at.y), &glyphs, font, &text, size, false);
    }
}
