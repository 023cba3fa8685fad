//! Forms: words with a box to tick, and fields that are filled in with a pencil.

use crate::report::drawing::scene::Ink;

use super::PdfError;
use super::blocks;
use super::document::{Field, Form, Run, Strip};
use super::flow::Flow;
use super::lines::{self, Line};
use super::page::{Chunk, Item, Mark};

/// Type size of words, in points: read at arm's length.
const SIZE: f32 = 9.0;

/// Distance of lines, as a share of that in a paragraph: words in narrow columns stand closer.
const CLOSE: f32 = 0.91;

/// Type size over a field, in points.
const LABEL: f32 = 7.6;

/// From the left edge to the words, in points: the column of the number.
const NUMBER: f32 = 26.0;

/// From the right edge to the words, in points: the column of the box to tick.
const TICK: f32 = 24.0;

/// A side of the box to tick, in points (5 mm).
const BOX: f32 = 14.2;

/// Height of a field, in points (9 mm): handwriting fits.
const FIELD: f32 = 25.5;

/// Between columns and between fields, in points.
const GAP: f32 = 9.0;

/// Above and below what is in a form, in points.
const PAD: f32 = 3.0;

/// Shares of the width that the words may take beside what must be seen: the one that makes the form lowest is taken, and
/// of several the first.
const SHARES: [f32; 6] = [0.56, 0.62, 0.5, 0.68, 0.44, 0.38];

/// Within a frame, in points.
const FRAME: f32 = 6.0;

/// Places a form; one that is higher than a page is parted between its strips.
///
/// # Errors
/// [`PdfError::TooLong`].
pub fn place(form: &Form, flow: &mut Flow<'_>) -> Result<(), PdfError> {
    let room = flow.width();
    let mark = Mark { level: Mark::FORM, text: form.number.clone(), top: 0.0 };
    let mut parts = vec![head(form, room)];
    parts.extend(form.strips.iter().map(|own| strip(own, room)));
    let height: f32 = parts.iter().map(|part| part.height).sum::<f32>() + PAD;
    if height > flow.height() - flow.waits() - 2.0 * FRAME {
        return in_parts(form, room, mark, flow);
    }
    let mut whole = Chunk { mark: Some(mark), ..Chunk::default() };
    for mut part in parts {
        part.items.iter_mut().for_each(|item| item.shift(0.0, whole.height));
        whole.items.append(&mut part.items);
        whole.height += part.height;
    }
    whole.height += PAD;
    if let Some(tone) = form.frame {
        let stroke = Some((tone.ink(), 1.0));
        whole.items.push(Item::area((0.0, 0.0), (room, whole.height), None, stroke));
        whole.above = FRAME;
        whole.below = FRAME;
        // What is in a frame is read before what comes next, and stays with it.
        return flow.keep(whole);
    }
    whole.items.push(Item::rule((0.0, whole.height), (room, whole.height), Ink::PALE, 0.5));
    flow.put(whole)
}

/// Words longer than a page flow as paragraphs, and each strip stands by itself.
fn in_parts(form: &Form, room: f32, mark: Mark, flow: &mut Flow<'_>) -> Result<(), PdfError> {
    let number = [Run::plain(form.number.as_str()).bold()];
    flow.put(Chunk { mark: Some(mark), ..stack(lines::set(&number, SIZE, room), 0.0, 0.0) })?;
    for runs in form.words.iter().chain(&form.beside) {
        blocks::paragraph(lines::set(runs, SIZE, room - NUMBER), NUMBER, flow)?;
    }
    if form.tick {
        flow.put(Chunk { items: vec![tick(room, 0.0)], height: BOX + PAD, ..Chunk::default() })?;
    }
    let own = Strip { fields: form.fields.clone(), ..Strip::default() };
    for own in std::iter::once(&own).filter(|own| !own.fields.is_empty()).chain(&form.strips) {
        for runs in &own.words {
            blocks::paragraph(lines::set(runs, SIZE, room - NUMBER), NUMBER, flow)?;
        }
        flow.put(strip(&Strip { words: Vec::new(), ..own.clone() }, room))?;
    }
    Ok(())
}

/// Lines under each other, from a place on.
fn stack(lines: Vec<Line>, left: f32, top: f32) -> Chunk<'static> {
    let mut items = Vec::new();
    let mut height = top;
    for line in lines {
        let down = line.height;
        Item::line(line, left, height, &mut items);
        height += down * CLOSE;
    }
    Chunk { items, height, ..Chunk::default() }
}

fn set(paragraphs: &[Vec<Run>], width: f32) -> Vec<Line> {
    paragraphs.iter().flat_map(|runs| lines::set(runs, SIZE, width)).collect()
}

/// An empty box at the right edge.
fn tick(room: f32, top: f32) -> Item<'static> {
    Item::area((room - BOX - 2.0, top + 1.0), (BOX, BOX), None, Some((Ink::DARK, 1.0)))
}

/// Words at the left, and at the right what stands beside them with its fields.
fn columns(form: &Form, wide: f32, share: f32) -> Chunk<'static> {
    let fixed = fixed_width(&form.fields);
    let least = if fixed > 0.0 { fixed } else { 0.0 };
    let doing = ((wide - GAP) * share).min(wide - GAP - least).max(40.0);
    let mut whole = stack(set(&form.words, doing), NUMBER, PAD);
    let left = NUMBER + doing + GAP;
    let mut right = stack(set(&form.beside, wide - GAP - doing), left, PAD);
    if !form.fields.is_empty() {
        let top = if form.beside.is_empty() { PAD } else { right.height + 2.0 };
        let rest = wide - GAP - doing;
        let start = if has_rest(&form.fields) { left } else { left + (rest - fixed).max(0.0) };
        let high = row_of_fields(&form.fields, (start, top), rest, &mut right.items);
        right.height = top + high + 1.0;
    }
    whole.items.append(&mut right.items);
    whole.height = whole.height.max(right.height);
    whole
}

/// Number, words, what stands beside them, and the box.
fn head(form: &Form, room: f32) -> Chunk<'static> {
    let right = if form.tick { TICK } else { 0.0 };
    let wide = room - NUMBER - right;
    let number = lines::set_bold(&[Run::plain(form.number.as_str())], SIZE, NUMBER - 2.0);
    let mut whole = stack(number, if form.frame.is_some() { FRAME } else { 0.0 }, PAD);
    let mut part = if form.beside.is_empty() && form.fields.is_empty() {
        stack(set(&form.words, wide), NUMBER, PAD)
    } else {
        let mut best = columns(form, wide, SHARES[0]);
        for share in &SHARES[1..] {
            let other = columns(form, wide, *share);
            if other.height < best.height - 0.1 {
                best = other;
            }
        }
        best
    };
    whole.items.append(&mut part.items);
    whole.height = whole.height.max(part.height);
    if form.tick {
        whole.items.push(tick(room, PAD));
        whole.height = whole.height.max(PAD + BOX + 2.0);
    }
    if form.struck {
        let ends = [((0.0, PAD + 1.0), (NUMBER - 7.0, PAD + 12.0)), ((0.0, PAD + 12.0), (NUMBER - 7.0, PAD + 1.0))];
        whole.items.extend(ends.map(|(from, to)| Item::rule(from, to, Ink::DARK, 0.9)));
    }
    whole
}

/// Words with fields at their right, or below them where a field takes what is left.
fn strip(own: &Strip, room: f32) -> Chunk<'static> {
    let right = if own.tick { TICK } else { 0.0 };
    let wide = room - NUMBER - right;
    let fixed = fixed_width(&own.fields).min(wide);
    let beside = !own.fields.is_empty() && !has_rest(&own.fields);
    let words = if beside { (wide - fixed - GAP).max(40.0) } else { wide };
    let mut whole = stack(set(&own.words, words), NUMBER, PAD);
    if !own.fields.is_empty() {
        let (x, y) = if beside { (room - right - fixed, PAD) } else { (NUMBER, whole.height) };
        let high = row_of_fields(&own.fields, (x, y), wide, &mut whole.items);
        whole.height = whole.height.max(y + high + 1.0);
    }
    if own.tick {
        whole.items.push(tick(room, PAD));
        whole.height = whole.height.max(PAD + BOX + 2.0);
    }
    whole
}

fn has_rest(fields: &[Field]) -> bool {
    fields.iter().any(|field| field.width <= Field::REST)
}

/// What the fields of a stated width take, with the gaps between all of them.
fn fixed_width(fields: &[Field]) -> f32 {
    fields.iter().map(outer).sum::<f32>() + GAP * (fields.len() as f32 - 1.0).max(0.0)
}

/// Fields side by side from a place on; what is left of `wide` is shared by those that take the rest. Gives their height.
fn row_of_fields(fields: &[Field], (mut x, y): (f32, f32), wide: f32, items: &mut Vec<Item<'static>>) -> f32 {
    let high = field_height(fields);
    let shared = fields.iter().filter(|field| field.width <= Field::REST).count().max(1);
    let rest = (wide - fixed_width(fields)).max(60.0) / shared as f32;
    for field in fields {
        let width = if field.width <= Field::REST { rest } else { outer(field) };
        write_here(field, (x, y), width, high, items);
        x += width + GAP;
    }
    high
}

/// The width of a field with its unit; nothing for one that takes the rest.
fn outer(field: &Field) -> f32 {
    if field.width <= Field::REST {
        return 0.0;
    }
    field.width + unit_width(field)
}

fn unit_width(field: &Field) -> f32 {
    let unit = [Run::plain(field.unit.as_str())];
    if field.unit.is_empty() { 0.0 } else { lines::measure(&unit, SIZE, false).0 + 6.0 }
}

fn field_height(fields: &[Field]) -> f32 {
    let labelled = fields.iter().any(|field| !field.label.is_empty());
    FIELD + if labelled { LABEL * lines::LEADING } else { 0.0 }
}

/// A field with its label over it and its unit in it.
fn write_here(field: &Field, (x, y): (f32, f32), width: f32, high: f32, items: &mut Vec<Item<'static>>) {
    let top = y + high - FIELD;
    if let Some(label) = lines::set(&[Run::plain(field.label.as_str()).soft()], LABEL, width).into_iter().next() {
        Item::line(label, x, y, items);
    }
    items.push(Item::area((x, top), (width, FIELD), None, Some((Ink::SOFT, 0.8))));
    if let Some(unit) = lines::set(&[Run::plain(field.unit.as_str())], SIZE, width).into_iter().next() {
        let left = x + width - unit.width - 4.0;
        let down = top + (FIELD - unit.height) / 2.0;
        Item::line(unit, left, down, items);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::drawing::scene::Shape;
    use crate::report::pdf::Sheet;

    fn boxes(pages: &[crate::report::pdf::page::Page<'_>]) -> Vec<(f32, f32)> {
        let areas = pages.iter().flat_map(|page| &page.items).filter_map(|item| match item {
            Item::Shape(Shape::Area { points, .. }) => Some((points[2].x - points[0].x, points[2].y - points[0].y)),
            _ => None,
        });
        areas.collect()
    }

    fn reading() -> Form {
        let field = Field { unit: "mV".into(), ..Field::new("", Field::READING) };
        let beside = vec![vec![Run::plain("red on a, black on b")]];
        Form {
            number: "12".into(),
            words: vec![vec![Run::plain("Do it.")]],
            beside,
            fields: vec![field],
            ..Form::default()
        }
    }

    #[test]
    fn a_reading_has_room_for_handwriting_beside_its_unit() {
        let mut flow = Flow::new(Sheet::A4);
        place(&reading(), &mut flow).unwrap();
        let pages = flow.finish().unwrap();
        let [(wide, high)] = boxes(&pages)[..] else { panic!("{:?}", boxes(&pages)) };
        let millimetre = 72.0 / 25.4;
        assert!(wide > 28.0 * millimetre + 10.0 && high > 8.0 * millimetre, "{wide} {high}");
        assert_eq!(pages[0].marks[0].text, "12");
    }

    #[test]
    fn a_form_is_not_parted_by_the_end_of_a_page() {
        let mut flow = Flow::new(Sheet::Letter);
        for _ in 0..40 {
            place(&reading(), &mut flow).unwrap();
        }
        let pages = flow.finish().unwrap();
        assert!(pages.len() > 1);
        for page in &pages {
            for item in &page.items {
                if let Item::Shape(Shape::Area { points, .. }) = item {
                    assert!(points.iter().all(|at| at.y < page.size.1 - 40.0), "a box beyond the foot");
                }
            }
        }
    }

    #[test]
    fn words_longer_than_a_page_flow_on() {
        let long = Form { words: vec![vec![Run::plain("word ".repeat(6000))]], tick: true, ..reading() };
        let mut flow = Flow::new(Sheet::A4);
        place(&long, &mut flow).unwrap();
        let pages = flow.finish().unwrap();
        assert!(pages.len() > 3, "{}", pages.len());
        assert_eq!(boxes(&pages).len(), 2);
    }
}
