//! Tables: widths of columns, rows as chunks, the header on each page.

use crate::report::drawing::scene::{Ink, Point, Scene};

use super::PdfError;
use super::document::{Cell, Column, Run, Table, Tone, Width};
use super::flow::Flow;
use super::lines::{self, Line};
use super::page::{Chunk, Item};

/// How a table looks; lengths in points.
#[derive(Debug, Clone, Copy)]
pub struct Look {
    /// Type size.
    pub size: f32,
    /// Between columns.
    pub gap: f32,
    /// Above and below the words of a row.
    pub pad: f32,
    /// Whether there are a header and thin rules.
    pub ruled: bool,
    /// The most that the fitted columns take of the width beside columns with a share.
    pub fitted: f32,
}

/// A table as most are.
pub const RULED: Look = Look { size: 8.6, gap: 10.0, pad: 3.0, ruled: true, fitted: 0.7 };

/// Terms and what belongs to them.
pub const TERMS: Look = Look { size: 9.5, gap: 14.0, pad: 1.2, ruled: false, fitted: 0.34 };

/// The header of a table takes at most this share of a page; titles that would take more are cut.
const MOST_HEADER: f32 = 0.25;

/// A column of numbers that takes at most this share of the table is not broken.
const MOST_NUMBER: f32 = 0.2;

/// Natural and least width of a column, in points.
#[derive(Debug, Clone, Copy, Default)]
struct Need {
    natural: f32,
    least: f32,
}

fn title(column: &Column, size: f32) -> (Vec<Run>, f32) {
    (vec![Run { bold: true, ..Run::plain(column.title.as_str()).soft() }], size * 0.94)
}

fn needs(table: &Table, look: &Look, room: f32) -> Vec<Need> {
    let mut needs: Vec<Need> = Vec::with_capacity(table.columns.len());
    for column in &table.columns {
        let (runs, size) = title(column, look.size);
        let (natural, least) = if look.ruled { lines::measure(&runs, size, true) } else { (0.0, 0.0) };
        needs.push(Need { natural, least });
    }
    for row in &table.rows {
        for (need, cell) in needs.iter_mut().zip(row) {
            match cell {
                Cell::Text(paragraphs) => {
                    for runs in paragraphs {
                        let (natural, least) = lines::measure(runs, look.size, false);
                        need.natural = need.natural.max(natural);
                        need.least = need.least.max(least);
                    }
                }
                Cell::Drawing(scene) => {
                    need.natural = need.natural.max(scene.width);
                    need.least = need.least.max(scene.width * 0.6);
                }
            }
        }
    }
    // Numbers and their units stay in one line, where that takes no undue share of the table.
    for (need, column) in needs.iter_mut().zip(&table.columns) {
        if column.numeric && need.natural <= room * MOST_NUMBER {
            need.least = need.natural;
        }
    }
    needs
}

/// Widths of the columns in points, which fill `room` together with the gaps.
fn widths(table: &Table, look: &Look, gap: f32, room: f32) -> Vec<f32> {
    let count = table.columns.len();
    let room = room - gap * (count as f32 - 1.0);
    let needs = needs(table, look, room);
    let share = |at: usize| match table.columns[at].width {
        Width::Fit => None,
        // A share that is no number, or none at all, is a small one.
        Width::Share(share) => Some(if share.is_finite() { share.clamp(0.01, 100.0) } else { 0.01 }),
    };
    let fits: Vec<usize> = (0..count).filter(|at| share(*at).is_none()).collect();
    let shares: f32 = (0..count).filter_map(share).sum();
    // What no word needs in the columns with a share is free for the fitted ones.
    let kept: f32 = (0..count).filter(|at| share(*at).is_some()).map(|at| needs[at].least).sum();
    let most = if shares > 0.0 { (room * look.fitted).min((room - kept).max(room * 0.3)) } else { room };
    let natural: f32 = fits.iter().map(|at| needs[*at].natural).sum();
    let least: f32 = fits.iter().map(|at| needs[*at].least.min(most)).sum();
    let mut found = vec![0.0; count];
    for at in &fits {
        let Need { natural: wide, least: narrow } = needs[*at];
        found[*at] = if natural <= most {
            wide
        } else if least < most {
            // Each gives of what it could do without.
            let narrow = narrow.min(most);
            narrow + (wide - narrow) * (most - least) / (natural - least)
        } else {
            most * narrow.min(most) / least
        };
    }
    let left = room - found.iter().sum::<f32>();
    for (at, width) in found.iter_mut().enumerate() {
        match share(at) {
            Some(share) => *width = left * share / shares,
            None if shares == 0.0 => *width += left / count as f32,
            None => {}
        }
        *width = width.max(1.0);
    }
    found
}

/// What is in a cell, set for its column.
enum Set<'a> {
    Lines(std::vec::IntoIter<Line>),
    Drawing(&'a Scene, f32),
    Done,
}

impl Set<'_> {
    /// Height of what is left of it, in points.
    fn height(&self) -> f32 {
        match self {
            Set::Lines(lines) => lines.as_slice().iter().map(|line| line.height).sum(),
            Set::Drawing(scene, scale) => scene.height * scale,
            Set::Done => 0.0,
        }
    }
}

/// Columns at places.
struct Columns {
    /// Left edge, width, and whether its cells stand at its right edge.
    at: Vec<(f32, f32, bool)>,
    /// The text width, in points.
    room: f32,
    look: Look,
}

impl Columns {
    /// Takes at most `most` points of the cells off as a chunk; a line higher than that is taken all the same.
    fn take<'a>(&self, cells: &mut [Set<'a>], most: f32) -> Chunk<'a> {
        let mut items = Vec::new();
        let mut height: f32 = 0.0;
        for (cell, (left, width, numeric)) in cells.iter_mut().zip(&self.at) {
            let mut top = self.look.pad;
            match cell {
                Set::Lines(lines) => {
                    while let Some(line) = lines.as_slice().first() {
                        if top > self.look.pad && top + line.height + self.look.pad > most {
                            break;
                        }
                        let Some(line) = lines.next() else { break };
                        let right = if *numeric { (width - line.width).max(0.0) } else { 0.0 };
                        let down = line.height;
                        Item::line(line, left + right, top, &mut items);
                        top += down;
                    }
                }
                Set::Drawing(scene, scale) => {
                    let at = Point { x: *left, y: top };
                    items.push(Item::Drawing { at, scale: *scale, scene });
                    top += scene.height * *scale;
                    *cell = Set::Done;
                }
                Set::Done => {}
            }
            height = height.max(top + self.look.pad);
        }
        Chunk { items, height, ..Chunk::default() }
    }

    fn row<'a>(&self, cells: &'a [Cell], page: f32) -> Vec<Set<'a>> {
        let mut set = Vec::with_capacity(cells.len());
        for (cell, (_, width, _)) in cells.iter().zip(&self.at) {
            set.push(match cell {
                Cell::Text(paragraphs) => {
                    let all = paragraphs.iter().flat_map(|runs| lines::set(runs, self.look.size, *width));
                    Set::Lines(all.collect::<Vec<_>>().into_iter())
                }
                Cell::Drawing(scene) => {
                    Set::Drawing(scene, (width / scene.width).min(page * 0.5 / scene.height).min(1.0))
                }
            });
        }
        set
    }

    /// The header, with a rule below it.
    fn header(&self, columns: &[Column], page: f32) -> Chunk<'static> {
        let titles = columns.iter().zip(&self.at).map(|(column, (_, width, _))| {
            let (runs, size) = title(column, self.look.size);
            Set::Lines(lines::set(&runs, size, *width).into_iter())
        });
        let mut titles: Vec<Set<'static>> = titles.collect();
        let mut header = self.take(&mut titles, page * MOST_HEADER);
        header.items.push(Item::rule((0.0, header.height), (self.room, header.height), Ink::DARK, 0.8));
        header
    }
}

/// Places a table.
///
/// # Errors
/// [`PdfError::Row`], [`PdfError::Drawing`], [`PdfError::TooLong`].
pub fn place<'a>(table: &'a Table, look: Look, flow: &mut Flow<'a>) -> Result<(), PdfError> {
    for (at, row) in table.rows.iter().enumerate() {
        if row.len() > table.columns.len() {
            return Err(PdfError::Row { row: at + 1, cells: row.len(), columns: table.columns.len() });
        }
        for cell in row {
            if let Cell::Drawing(scene) = cell {
                super::blocks::check(scene)?;
            }
        }
    }
    if table.columns.is_empty() {
        return Ok(());
    }
    let room = flow.width();
    let gap = look.gap.min(room * 0.3 / table.columns.len() as f32);
    let mut left = 0.0;
    let mut at = Vec::with_capacity(table.columns.len());
    for (column, width) in table.columns.iter().zip(widths(table, &look, gap, room)) {
        at.push((left, width, column.numeric));
        left += width + gap;
    }
    let columns = Columns { at, room, look };
    let page = flow.height();
    let header = if look.ruled { columns.header(&table.columns, page) } else { Chunk::default() };

    // The header waits for its first row as a heading does.
    let mut head = Some(Chunk { above: 4.0, ..header.clone() });
    for row in &table.rows {
        let mut cells = columns.row(row, page);
        let most = page - header.height - if head.is_some() { flow.waits() } else { 0.0 };
        loop {
            let mut chunk = columns.take(&mut cells, most);
            let more = cells.iter().any(|cell| cell.height() > 0.0);
            if look.ruled && !more {
                chunk.items.push(Item::rule((0.0, chunk.height), (room, chunk.height), Ink::PALE, 0.5));
            }
            let new = head.is_none() && !flow.fits(0.0, chunk.height);
            if let Some(header) = head.take().or_else(|| new.then(|| header.clone())) {
                chunk.above = header.above;
                chunk = under(header, chunk);
            }
            flow.put(chunk)?;
            if !more {
                break;
            }
        }
    }
    if let Some(header) = head {
        flow.put(header)?;
    }
    flow.below(8.0);
    Ok(())
}

/// A chunk with a header over it.
fn under<'a>(header: Chunk<'a>, mut chunk: Chunk<'a>) -> Chunk<'a> {
    for item in &mut chunk.items {
        item.shift(0.0, header.height);
    }
    let mut items = header.items;
    items.append(&mut chunk.items);
    Chunk { items, height: header.height + chunk.height, above: header.above, ..chunk }
}

/// Terms and descriptions as a table without rules.
pub fn terms(pairs: &[(String, Vec<Run>)]) -> Table {
    let row = |(term, runs): &(String, Vec<Run>)| {
        let term = Run { tone: Tone::Soft, ..Run::plain(term.as_str()) };
        vec![Cell::Text(vec![vec![term]]), Cell::Text(vec![runs.clone()])]
    };
    Table { columns: vec![Column::fit(""), Column::share("", 1.0)], rows: pairs.iter().map(row).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(columns: Vec<Column>, cells: &[&str]) -> Table {
        Table { columns, rows: vec![cells.iter().map(|text| Cell::plain(*text)).collect()] }
    }

    #[test]
    fn columns_fill_the_width() {
        let words = "many words of a remark ".repeat(20);
        for columns in [
            vec![Column::fit("a"), Column::fit("b"), Column::fit("c").numeric()],
            vec![Column::fit("a"), Column::share("b", 2.0), Column::share("c", 1.0)],
            vec![Column::share("a", 0.0), Column::share("b", -1.0), Column::share("c", f32::NAN)],
        ] {
            for cells in [["x", "y", "1"], ["x", words.as_str(), "12.05 to 12.31 V"], [words.as_str(); 3]] {
                let widths = widths(&table(columns.clone(), &cells), &RULED, 10.0, 490.0);
                let sum: f32 = widths.iter().sum::<f32>() + 20.0;
                assert!((sum - 490.0).abs() < 0.1 && widths.iter().all(|width| *width > 4.0), "{widths:?} {cells:?}");
            }
        }
    }

    #[test]
    fn numbers_stay_in_one_line_beside_long_words() {
        let columns = vec![Column::fit("what"), Column::fit("read").numeric(), Column::share("why", 1.0)];
        let words = "many words of a remark ".repeat(20);
        let widths = widths(&table(columns, &[&words, "12.05 to 12.31 V", &words]), &RULED, 10.0, 490.0);
        let runs = [Run::plain("12.05 to 12.31 V")];
        assert_eq!(lines::set(&runs, RULED.size, widths[1]).len(), 1, "{widths:?}");
        assert!(widths[2] > 140.0, "{widths:?}");
    }

    #[test]
    fn a_row_as_high_as_three_pages_is_parted_under_its_header() {
        let long = "word ".repeat(9000);
        let table = table(vec![Column::fit("one"), Column::share("two", 1.0)], &["x", &long]);
        let mut flow = Flow::new(crate::report::pdf::Sheet::A4);
        place(&table, RULED, &mut flow).unwrap();
        let pages = flow.finish().unwrap();
        assert!(pages.len() >= 3, "{}", pages.len());
        for page in &pages {
            let heads = |item: &&Item<'_>| matches!(item, Item::Words { piece, .. } if piece.text == "two");
            assert_eq!(page.items.iter().filter(heads).count(), 1);
        }
    }
}
