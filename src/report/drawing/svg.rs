//! A drawing as SVG text: nothing is decided here, the scene says it all.

use std::fmt::Write;

use super::scene::{Anchor, Ink, Point, Scene, Shape, Stroke};

/// Faces of the same metrics, as they are found on the usual systems.
const FACES: &str = "Liberation Sans, Arial, Helvetica, sans-serif";

/// A drawing as an `svg` element: it may stand in an HTML page as it is, and is a file of its own as well.
///
/// `id` becomes the element's id; the title has the same with `-title` behind it.
pub fn svg(scene: &Scene, id: &str) -> String {
    let id: String = id.chars().filter(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_')).collect();
    let (width, height) = (number(scene.width), number(scene.height));
    let mut text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" id=\"{id}\" viewBox=\"0 0 {width} {height}\" width=\"{width}pt\" \
         height=\"{height}pt\" role=\"img\" aria-labelledby=\"{id}-title\" font-family=\"{FACES}\">\
         <title id=\"{id}-title\">{}</title>",
        escape(&scene.says)
    );
    for shape in &scene.shapes {
        paint(shape, &mut text);
    }
    text.push_str("</svg>");
    text
}

fn paint(shape: &Shape, text: &mut String) {
    // Writing into a String cannot fail.
    let _ = match shape {
        Shape::Line { points, stroke } => {
            write!(text, "<polyline points=\"{}\" fill=\"none\"{}/>", places(points), outline(Some(*stroke)))
        }
        Shape::Area { points, fill, stroke } => {
            write!(text, "<polygon points=\"{}\"{}{}/>", places(points), filling(*fill), outline(*stroke))
        }
        Shape::Circle { centre, radius, fill, stroke } => write!(
            text,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"{}{}/>",
            number(centre.x),
            number(centre.y),
            number(*radius),
            filling(*fill),
            outline(*stroke)
        ),
        Shape::Text { at, text: words, size, bold, anchor, ink, upright } => {
            let (x, y) = (number(at.x), number(at.y));
            let turn = if *upright { format!(" transform=\"rotate(-90 {x} {y})\"") } else { String::new() };
            let anchor = match anchor {
                Anchor::Start => "",
                Anchor::Middle => " text-anchor=\"middle\"",
                Anchor::End => " text-anchor=\"end\"",
            };
            let weight = if *bold { " font-weight=\"bold\"" } else { "" };
            write!(
                text,
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\"{weight}{anchor} fill=\"{}\"{turn}>{}</text>",
                number(*size),
                colour(*ink),
                escape(words)
            )
        }
    };
}

fn places(points: &[Point]) -> String {
    let each: Vec<String> = points.iter().map(|p| format!("{},{}", number(p.x), number(p.y))).collect();
    each.join(" ")
}

fn filling(fill: Option<Ink>) -> String {
    format!(" fill=\"{}\"", fill.map_or_else(|| "none".to_owned(), colour))
}

fn outline(stroke: Option<Stroke>) -> String {
    let Some(stroke) = stroke else { return String::new() };
    let dash = stroke.dash.map(|(dash, gap)| format!(" stroke-dasharray=\"{} {}\"", number(dash), number(gap)));
    format!(" stroke=\"{}\" stroke-width=\"{}\"{}", colour(stroke.ink), number(stroke.width), dash.unwrap_or_default())
}

fn colour(Ink(red, green, blue): Ink) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

/// Hundredths of a point are finer than any printer.
fn number(value: f32) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{value:.2}");
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if matches!(short, "" | "-0") { "0".to_owned() } else { short.to_owned() }
}

/// Text that stays text: markup is escaped; what cannot stand in XML, or turns the direction of reading, is left out.
fn escape(text: &str) -> String {
    let mut clean = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => clean.push_str("&amp;"),
            '<' => clean.push_str("&lt;"),
            '>' => clean.push_str("&gt;"),
            '"' => clean.push_str("&quot;"),
            '\'' => clean.push_str("&#39;"),
            '\t' | '\n' | '\r' => clean.push(' '),
            _ if letter.is_control() || turns_or_is_none(letter) => {}
            _ => clean.push(letter),
        }
    }
    clean
}

/// Overrides of the direction of reading, and code points that XML does not allow.
fn turns_or_is_none(letter: char) -> bool {
    crate::report::turns_text(letter) || matches!(letter, '\u{fffe}' | '\u{ffff}')
}

#[cfg(test)]
mod tests {
    use super::super::scene::Type;
    use super::*;

    #[test]
    fn hostile_text_stays_text() {
        let mut scene = Scene::new("a <b> & \"c\"", 10.0, 20.0);
        scene.text((1.0, 2.0), "</text><script>alert('x')</script>\u{0}\u{7}\u{202e}\u{2066}\u{85}&", Type::of(7.0));
        let text = svg(&scene, "s1\" onload=\"x");
        assert!(text.contains("&lt;/text&gt;&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&amp;</text>"), "{text}");
        assert!(text.contains("a &lt;b&gt; &amp; &quot;c&quot;</title>"), "{text}");
        assert!(!text.contains("<script"), "{text}");
        assert!(text.contains("id=\"s1onloadx\""), "{text}");
        assert!(!text.chars().any(|c| c.is_control() || turns_or_is_none(c)), "{text}");
    }

    #[test]
    fn every_shape_is_written_with_its_stroke_and_fill() {
        let mut scene = Scene::new("shapes", 100.0, 50.5);
        let dashed = Stroke::dashed(Ink::BAD, 0.75, 3.0, 2.0);
        scene.line(&[(0.0, 0.0), (10.0, 5.25)], dashed);
        scene.area(&[(0.0, 0.0), (1.0, 0.0), (1.0, 1.0)], Some(Ink::WHITE), None);
        scene.circle((5.0, 5.0), 2.0, None, Some(Stroke::plain(Ink::DARK, 1.0)));
        scene.text((1.0, 2.0), "up", Type::of(7.0).turned().bold().anchored(Anchor::End));
        let text = svg(&scene, "d");
        assert!(
            text.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\" id=\"d\" viewBox=\"0 0 100 50.5\""),
            "{text}"
        );
        assert!(text.contains("role=\"img\""), "{text}");
        assert!(text.contains("points=\"0,0 10,5.25\" fill=\"none\" stroke=\"#a31621\""), "{text}");
        assert!(text.contains("stroke-dasharray=\"3 2\""), "{text}");
        assert!(text.contains("<polygon points=\"0,0 1,0 1,1\" fill=\"#ffffff\"/>"), "{text}");
        assert!(text.contains("fill=\"none\" stroke=\"#1c2126\""), "{text}");
        assert!(text.contains("text-anchor=\"end\"") && text.contains("rotate(-90 1 2)"), "{text}");
    }

    #[test]
    fn numbers_that_are_none_do_not_break_the_file() {
        assert_eq!(number(f32::NAN), "0");
        assert_eq!(number(-0.001), "0");
        assert_eq!(number(12.5), "12.5");
        assert_eq!(number(780.0), "780");
    }
}
