//! Blocks as chunks on pages.

use krilla::Data;
use krilla::image::Image;

use crate::report::drawing::scene::{Ink, Point, Scene, Shape, Stroke};

use super::PdfError;
use super::document::{Block, Document, Run, Sheet, Table, Tone};
use super::flow::Flow;
use super::fonts;
use super::form;
use super::lines::{self, Line};
use super::page::{Chunk, Item, Mark, Page};
use super::table;

/// Type size of the text, in points.
pub const BODY: f32 = 9.5;

/// Type size of captions and commands, in points.
const SMALL: f32 = 8.4;

/// A drawing made smaller than this stands on a turned page.
const SMALLEST: f32 = 0.8;

/// A caption that takes more of a page than this goes on below as a paragraph.
const MOST_CAPTION: f32 = 0.25;

/// Letters of a heading in the outline.
const MARK: usize = 120;

/// Behind commands.
const GROUND: Ink = Ink(0xf3, 0xf5, 0xf6);

/// Lays a document out.
///
/// # Errors
/// [`PdfError`], but for [`PdfError::File`].
pub fn lay_out<'a>(document: &'a Document, tables: &'a [Table], sheet: Sheet) -> Result<Vec<Page<'a>>, PdfError> {
    let mut flow = Flow::new(sheet);
    let mut terms = tables.iter();
    for block in &document.blocks {
        match block {
            Block::Heading { level, text } => heading(*level, text, &mut flow)?,
            Block::Paragraph(runs) => paragraph(lines::set(runs, BODY, flow.width()), 0.0, &mut flow)?,
            Block::Lead(runs) => {
                let chunk = stack(lines::set(runs, BODY, flow.width()), 0.0);
                flow.keep(Chunk { above: 3.0, below: 5.0, ..chunk })?;
            }
            Block::Bullets(points) => bullets(points, &mut flow)?,
            Block::Table(table) => table::place(table, table::RULED, &mut flow)?,
            Block::KeyValues(_) => {
                if let Some(table) = terms.next() {
                    table::place(table, table::TERMS, &mut flow)?;
                }
            }
            Block::Picture { jpeg, name, width, height, caption } => {
                picture(jpeg, name, (*width, *height), caption, &mut flow)?;
            }
            Block::Drawing { scene, caption } => drawing(scene, caption, &mut flow)?,
            Block::Form(own) => form::place(own, &mut flow)?,
            Block::Preformatted(texts) => preformatted(texts, &mut flow)?,
            Block::Band { word, tone, lines } => band(word, *tone, lines, &mut flow)?,
            Block::Space(height) => flow.space(if height.is_finite() { height.clamp(0.0, 1000.0) } else { 0.0 }),
            Block::PageBreak => flow.end_page()?,
        }
    }
    flow.finish()
}

/// The tables of the terms of a document, in their order.
pub fn terms(document: &Document) -> Vec<Table> {
    let pairs = document.blocks.iter().filter_map(|block| match block {
        Block::KeyValues(pairs) => Some(table::terms(pairs)),
        _ => None,
    });
    pairs.collect()
}

/// Lines under each other as a chunk, from `left` points on.
fn stack(lines: Vec<Line>, left: f32) -> Chunk<'static> {
    let mut items = Vec::new();
    let mut height = 0.0;
    for line in lines {
        let down = line.height;
        Item::line(line, left, height, &mut items);
        height += down;
    }
    Chunk { items, height, ..Chunk::default() }
}

/// Lines that may be parted by the end of a page, but for the first two and the last two.
pub fn paragraph(lines: Vec<Line>, left: f32, flow: &mut Flow<'_>) -> Result<(), PdfError> {
    let count = lines.len();
    let mut group = Vec::new();
    for (at, line) in lines.into_iter().enumerate() {
        group.push(line);
        let alone = at == 0 || at + 2 == count;
        if !alone || at + 1 == count {
            let first = at < 2;
            let chunk = stack(std::mem::take(&mut group), left);
            let below = if at + 1 == count { 5.0 } else { 0.0 };
            flow.put(Chunk { above: if first { 3.0 } else { 0.0 }, below, ..chunk })?;
        }
    }
    Ok(())
}

fn heading(level: u8, text: &str, flow: &mut Flow<'_>) -> Result<(), PdfError> {
    let (size, above, below) = match level {
        0 | 1 => (19.0, 0.0, 4.0),
        2 => (12.5, 20.0, 7.0),
        _ => (10.2, 12.0, 4.0),
    };
    let lines = lines::set_bold(&[Run::plain(text)], size, flow.width());
    if lines.is_empty() {
        return Ok(());
    }
    // A heading as long as a page is no heading: its lines go from page to page.
    if lines.len() > 12 {
        return paragraph(lines, 0.0, flow);
    }
    let mut chunk = stack(lines, 0.0);
    chunk.height += if level == 2 { 1.5 } else { 0.0 };
    let words: String = fonts::drawable(text).split_whitespace().collect::<Vec<_>>().join(" ");
    let mark = Mark { level: level.clamp(1, 3), text: words.chars().take(MARK).collect(), top: 0.0 };
    flow.keep(Chunk { above, below, mark: Some(mark), ruled: level == 2, ..chunk })
}

fn bullets(points: &[Vec<Run>], flow: &mut Flow<'_>) -> Result<(), PdfError> {
    const INDENT: f32 = 12.0;
    for runs in points {
        let mut set = lines::set(runs, BODY, flow.width() - INDENT);
        if set.is_empty() {
            continue;
        }
        // The dot is part of the first line, and stands outside of its words.
        let dot = lines::set(&[Run::plain("•").soft()], BODY, INDENT);
        let rest = set.split_off(set.len().min(2));
        let mut chunk = stack(set, INDENT);
        for line in dot {
            Item::line(line, 2.0, 0.0, &mut chunk.items);
        }
        flow.put(Chunk { above: 2.0, below: 2.0, ..chunk })?;
        for line in rest {
            flow.below(0.0);
            let chunk = stack(vec![line], INDENT);
            flow.put(Chunk { below: 2.0, ..chunk })?;
        }
    }
    flow.below(5.0);
    Ok(())
}

fn preformatted(texts: &[String], flow: &mut Flow<'_>) -> Result<(), PdfError> {
    const PAD: f32 = 6.0;
    const HANG: f32 = 12.0;
    let room = flow.width();
    let mut all: Vec<(Line, bool)> = Vec::new();
    for text in texts.iter().flat_map(|text| text.lines()) {
        let set = lines::set_fixed(&text.replace('\t', "    "), SMALL, room - 2.0 * PAD - HANG);
        all.extend(set.into_iter().enumerate().map(|(at, line)| (line, at > 0)));
    }
    let count = all.len();
    for (at, (line, goes_on)) in all.into_iter().enumerate() {
        let (first, last) = (at == 0, at + 1 == count);
        let over = if first { PAD } else { 0.0 };
        let down = line.height;
        let height = over + down + if last { PAD } else { 0.0 };
        // The strips overlap by a hair, lest a viewer shows seams.
        let mut items =
            vec![Item::area((0.0, if first { 0.0 } else { -0.4 }), (room, height + 0.4), Some(GROUND), None)];
        let left = PAD + if goes_on { HANG } else { 0.0 };
        if goes_on {
            items.push(hook(PAD + 2.0, over + down * 0.22, down * 0.34));
        }
        Item::line(line, left, over, &mut items);
        let [above, below] = [first, last].map(|end| if end { 5.0 } else { 0.0 });
        flow.put(Chunk { items, height, above, below, ..Chunk::default() })?;
    }
    Ok(())
}

/// The sign before a line that goes on: drawn, so that whoever copies the text does not copy it.
fn hook(x: f32, y: f32, size: f32) -> Item<'static> {
    let at = |right: f32, down: f32| Point { x: x + right * size, y: y + down * size };
    // Down, to the right, and the head of the arrow in one stroke.
    let points = vec![at(0.0, 0.0), at(0.0, 1.0), at(1.5, 1.0), at(1.1, 0.7), at(1.5, 1.0), at(1.1, 1.3)];
    Item::Shape(Shape::Line { points, stroke: Stroke { ink: Ink::SOFT, width: 0.6, dash: None } })
}

fn band(word: &str, tone: Tone, said: &[Vec<Run>], flow: &mut Flow<'_>) -> Result<(), PdfError> {
    const BAR: f32 = 7.0;
    const PAD: f32 = 10.0;
    const GAP: f32 = 18.0;
    let room = flow.width();
    let run = Run { tone, bold: true, ..Run::plain(word) };
    let wide = lines::measure(std::slice::from_ref(&run), 15.0, true).0.min(room * 0.4);
    let big = lines::set(&[run], 15.0, wide);
    // Broken in two it may be narrower.
    let wide = big.iter().map(|line| line.width).fold(0.0, f32::max);
    let left = BAR + PAD + wide + if wide > 0.0 { GAP } else { 0.0 };
    let set: Vec<Line> = said.iter().flat_map(|runs| lines::set(runs, BODY, room - left - PAD)).collect();
    let tall = |lines: &[Line]| lines.iter().map(|line| line.height).sum::<f32>();
    let height = tall(&big).max(tall(&set)) + 2.0 * PAD;
    if height > flow.height() / 2.0 {
        // Too much for a frame: the word and the lines one after the other.
        paragraph(big, 0.0, flow)?;
        return paragraph(set, 0.0, flow);
    }
    let (big, said) = (stack(big, 0.0), stack(set, 0.0));
    let ink = tone.ink();
    let mut items = vec![
        Item::area((0.6, 0.6), (room - 1.2, height - 1.2), None, Some((ink, 1.2))),
        Item::area((0.0, 0.0), (BAR, height), Some(ink), None),
    ];
    for (mut part, x) in [(big, BAR + PAD), (said, left)] {
        let down = (height - part.height) / 2.0;
        part.items.iter_mut().for_each(|item| item.shift(x, down));
        items.append(&mut part.items);
    }
    flow.put(Chunk { items, height, above: 8.0, below: 10.0, ..Chunk::default() })
}

/// Refuses a drawing without a size.
pub fn check(scene: &Scene) -> Result<(), PdfError> {
    let sound = |length: f32| length.is_finite() && (0.1..=1e5).contains(&length);
    if sound(scene.width) && sound(scene.height) {
        Ok(())
    } else {
        Err(PdfError::Drawing { says: scene.says.chars().take(MARK).collect() })
    }
}

/// A caption: what of it stays with its picture, and the rest.
fn caption(runs: &[Run], flow: &Flow<'_>, width: f32) -> (Chunk<'static>, Vec<Line>) {
    let mut set = lines::set(runs, SMALL, width);
    let mut left = flow.height() * MOST_CAPTION;
    let over = set.iter().position(|line| {
        left -= line.height;
        left < 0.0
    });
    let rest = set.split_off(over.unwrap_or(set.len()));
    (stack(set, 0.0), rest)
}

/// A picture or a drawing with its caption as a chunk.
fn figure<'a>(shown: Vec<Item<'a>>, height: f32, mut caption: Chunk<'a>) -> Chunk<'a> {
    let mut items = shown;
    let gap = if caption.items.is_empty() { 0.0 } else { 5.0 };
    caption.items.iter_mut().for_each(|item| item.shift(0.0, height + gap));
    items.append(&mut caption.items);
    Chunk { items, height: height + gap + caption.height, above: 10.0, below: 10.0, ..Chunk::default() }
}

fn picture(jpeg: &[u8], name: &str, most: (f32, f32), runs: &[Run], flow: &mut Flow<'_>) -> Result<(), PdfError> {
    let refused = |why: String| PdfError::Picture { name: name.to_owned(), why };
    let colours = super::jpeg::colours(jpeg).ok_or_else(|| refused("this is no JPEG picture".to_owned()))?;
    if colours != 1 && colours != 3 {
        return Err(refused(format!("it has {colours} colours; only grey and RGB are shown")));
    }
    let image = Image::from_jpeg(Data::from(jpeg.to_vec()), false).map_err(refused)?;
    let (wide, high) = image.size();
    if wide == 0 || high == 0 || !most.0.is_finite() || !most.1.is_finite() {
        return Err(refused("it has no size".to_owned()));
    }
    let (wide, high) = (wide as f32, high as f32);
    let (under, rest) = caption(runs, flow, flow.width());
    let room = (flow.height() - under.height - flow.waits() - 10.0).max(40.0);
    let scale = (most.0.clamp(10.0, flow.width()) / wide).min(most.1.clamp(10.0, room) / high);
    let size = (wide * scale, high * scale);
    let frame = Item::area((0.0, 0.0), size, None, Some((Ink::PALE, 0.5)));
    let shown = vec![Item::Picture { at: Point { x: 0.0, y: 0.0 }, size, image }, frame];
    flow.put(figure(shown, size.1, under))?;
    paragraph(rest, 0.0, flow)
}

fn drawing<'a>(scene: &'a Scene, runs: &[Run], flow: &mut Flow<'a>) -> Result<(), PdfError> {
    check(scene)?;
    let fit = |width: f32, height: f32| (width / scene.width).min(height / scene.height).min(1.0);
    let (upright, turned) = (flow.width(), flow.height());
    let (under, rest) = caption(runs, flow, upright);
    let taken = under.height + flow.waits() + 10.0;
    let [scale, wide] = [fit(upright, turned - taken), fit(turned, (upright - taken).max(40.0))];
    let turn = scale < SMALLEST && wide > scale;
    let scale = if turn { wide } else { scale };
    let shown = vec![Item::Drawing { at: Point { x: 0.0, y: 0.0 }, scale, scene }];
    let chunk = figure(shown, scene.height * scale, under);
    if turn {
        flow.put_turned(chunk)?;
    } else {
        flow.put(chunk)?;
    }
    paragraph(rest, 0.0, flow)
}
