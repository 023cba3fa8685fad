//! Chunks placed under each other, page after page.

use crate::report::drawing::scene::Ink;

use super::PdfError;
use super::document::Sheet;
use super::page::{Chunk, Item, Page};

/// Room around the text, in points (18 mm).
pub const MARGIN: f32 = 18.0 / 25.4 * 72.0;

/// More pages than anybody reads: a document that would take more is refused, before it takes all memory.
pub const MOST_PAGES: usize = 2000;

/// What waits for the chunk it stays with takes at most this share of a page.
const MOST_WAITING: f32 = 0.4;

/// The pages so far, and the place where the next chunk goes.
pub struct Flow<'a> {
    sheet: (f32, f32),
    pages: Vec<Page<'a>>,
    /// From the top of the page to the next chunk, in points.
    y: f32,
    /// Room asked for below the last chunk, in points.
    below: f32,
    /// Chunks that stay with the next one, such as headings.
    waiting: Vec<Chunk<'a>>,
}

impl<'a> Flow<'a> {
    /// Nothing so far.
    pub fn new(sheet: Sheet) -> Flow<'a> {
        Flow { sheet: sheet.size(), pages: Vec::new(), y: 0.0, below: 0.0, waiting: Vec::new() }
    }

    /// Width of the text on an upright page, in points.
    pub fn width(&self) -> f32 {
        self.sheet.0 - 2.0 * MARGIN
    }

    /// Height of the text on an upright page, in points.
    pub fn height(&self) -> f32 {
        self.sheet.1 - 2.0 * MARGIN
    }

    /// Whether nothing is on the page so far, waiting chunks aside.
    fn at_head(&self) -> bool {
        self.pages.last().is_none_or(|page| page.items.is_empty())
    }

    /// Begins a page; `turned` is wider than high.
    fn begin(&mut self, turned: bool) -> Result<(), PdfError> {
        if self.pages.len() >= MOST_PAGES {
            return Err(PdfError::TooLong { pages: MOST_PAGES });
        }
        let (width, height) = self.sheet;
        let size = if turned { (height, width) } else { (width, height) };
        self.pages.push(Page { size, ..Page::default() });
        self.y = MARGIN;
        self.below = 0.0;
        Ok(())
    }

    /// From the head of the text to its foot on the page at hand, in points.
    fn foot(&self) -> f32 {
        self.pages.last().map_or(self.sheet.1, |page| page.size.1) - MARGIN
    }

    /// Whether chunks of this height fit on the page at hand below what waits, the first with `above` over it.
    pub fn fits(&self, above: f32, height: f32) -> bool {
        if self.pages.is_empty() {
            return true;
        }
        let mut y = self.y;
        let mut below = self.below;
        let mut head = self.at_head();
        for chunk in &self.waiting {
            y += if head { 0.0 } else { below.max(chunk.above) } + chunk.height;
            below = chunk.below;
            head = false;
        }
        let gap = if head { 0.0 } else { below.max(above) };
        head || y + gap + height <= self.foot() + 0.01
    }

    /// Places a chunk, after what waits, on the page at hand or, where there is no room, on the next one.
    ///
    /// # Errors
    /// [`PdfError::TooLong`].
    pub fn put(&mut self, chunk: Chunk<'a>) -> Result<(), PdfError> {
        if self.pages.is_empty() || (!self.at_head() && !self.fits(chunk.above, chunk.height)) {
            self.begin(false)?;
        }
        // Even an empty page may be too short for what waits and a chunk of almost a page.
        if !self.waiting.is_empty() && !self.fits(chunk.above, chunk.height) {
            self.place_waiting();
            self.begin(false)?;
        }
        self.place_waiting();
        self.place(chunk);
        Ok(())
    }

    /// Places a chunk alone on a turned page of which it may take all; what waits goes there with it.
    ///
    /// # Errors
    /// [`PdfError::TooLong`].
    pub fn put_turned(&mut self, chunk: Chunk<'a>) -> Result<(), PdfError> {
        self.begin(true)?;
        self.place_waiting();
        self.place(chunk);
        // The next chunk asks for more than is left.
        self.y = f32::MAX;
        Ok(())
    }

    /// Height of what waits, in points.
    pub fn waits(&self) -> f32 {
        self.waiting.iter().map(|chunk| chunk.above + chunk.height + chunk.below).sum()
    }

    /// Keeps a chunk until the next one is placed.
    ///
    /// # Errors
    /// [`PdfError::TooLong`].
    pub fn keep(&mut self, chunk: Chunk<'a>) -> Result<(), PdfError> {
        // A heap of headings without any text would not fit on a page at last.
        if self.waits() + chunk.height > self.height() * MOST_WAITING {
            self.release()?;
        }
        if chunk.height > self.height() * MOST_WAITING {
            return self.put(chunk);
        }
        self.waiting.push(chunk);
        Ok(())
    }

    /// Places what waits, with nothing after it.
    fn release(&mut self) -> Result<(), PdfError> {
        if let Some(last) = self.waiting.pop() {
            self.put(last)?;
        }
        Ok(())
    }

    fn place_waiting(&mut self) {
        for chunk in std::mem::take(&mut self.waiting) {
            self.place(chunk);
        }
    }

    fn place(&mut self, mut chunk: Chunk<'a>) {
        let gap = if self.at_head() { 0.0 } else { self.below.max(chunk.above) };
        let top = self.y + gap;
        if let Some(page) = self.pages.last_mut() {
            for item in &mut chunk.items {
                item.shift(MARGIN, top);
            }
            page.items.append(&mut chunk.items);
            if chunk.ruled {
                let y = top + chunk.height;
                page.items.push(Item::rule((MARGIN, y), (page.size.0 - MARGIN, y), Ink::DARK, 0.8));
            }
            if let Some(mut mark) = chunk.mark {
                mark.top += top;
                page.marks.push(mark);
            }
        }
        self.y = top + chunk.height;
        self.below = chunk.below;
    }

    /// Asks for at least so much room below the last chunk, in points.
    pub fn below(&mut self, height: f32) {
        self.below = self.below.max(height);
    }

    /// Asks for room before the next chunk, in points.
    pub fn space(&mut self, height: f32) {
        self.below = self.below.max(0.0) + height;
    }

    /// Ends the page, unless it is empty.
    ///
    /// # Errors
    /// [`PdfError::TooLong`].
    pub fn end_page(&mut self) -> Result<(), PdfError> {
        self.release()?;
        if !self.at_head() {
            self.y = f32::MAX;
        }
        Ok(())
    }

    /// All pages; at least one.
    ///
    /// # Errors
    /// [`PdfError::TooLong`].
    pub fn finish(mut self) -> Result<Vec<Page<'a>>, PdfError> {
        self.release()?;
        if self.pages.is_empty() {
            self.begin(false)?;
        }
        Ok(self.pages)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::pdf::page::Mark;

    fn chunk(height: f32) -> Chunk<'static> {
        let items = vec![Item::rule((0.0, 0.0), (10.0, 0.0), Ink::DARK, 1.0)];
        Chunk { items, height, above: 10.0, below: 5.0, ..Chunk::default() }
    }

    fn heading() -> Chunk<'static> {
        Chunk { mark: Some(Mark { level: 2, text: String::new(), top: 0.0 }), ..chunk(20.0) }
    }

    #[test]
    fn a_heading_goes_with_what_it_heads() {
        let mut flow = Flow::new(Sheet::A4);
        flow.put(chunk(flow.height() - 50.0)).unwrap();
        flow.keep(heading()).unwrap();
        flow.put(chunk(30.0)).unwrap();
        let pages = flow.finish().unwrap();
        assert_eq!(pages.len(), 2);
        assert!(pages[0].marks.is_empty());
        assert_eq!(pages[1].marks[0].top, MARGIN, "no room above it at the head of a page");
    }

    #[test]
    fn what_fits_stays() {
        let mut flow = Flow::new(Sheet::Letter);
        flow.put(chunk(flow.height() - 70.0)).unwrap();
        flow.keep(heading()).unwrap();
        flow.put(chunk(30.0)).unwrap();
        assert_eq!(flow.finish().unwrap().len(), 1);
    }

    #[test]
    fn a_turned_page_stands_alone_with_its_heading() {
        let mut flow = Flow::new(Sheet::A4);
        flow.put(chunk(10.0)).unwrap();
        flow.keep(heading()).unwrap();
        flow.put_turned(chunk(100.0)).unwrap();
        flow.put(chunk(10.0)).unwrap();
        let pages = flow.finish().unwrap();
        let widths: Vec<bool> = pages.iter().map(|page| page.size.0 > page.size.1).collect();
        assert_eq!(widths, [false, true, false]);
        assert_eq!(pages[1].marks.len(), 1);
    }

    #[test]
    fn headings_without_text_and_empty_documents_end() {
        let mut flow = Flow::new(Sheet::A4);
        for _ in 0..1000 {
            flow.keep(heading()).unwrap();
        }
        let pages = flow.finish().unwrap();
        assert!(pages.len() > 20);
        assert_eq!(pages.iter().map(|page| page.marks.len()).sum::<usize>(), 1000);
        assert_eq!(Flow::new(Sheet::A4).finish().unwrap().len(), 1);
    }

    #[test]
    fn pages_have_an_end() {
        let mut flow = Flow::new(Sheet::A4);
        let full = flow.height();
        for _ in 0..MOST_PAGES {
            flow.put(chunk(full)).unwrap();
        }
        let error = flow.put(chunk(full)).unwrap_err();
        assert_eq!(error.to_string(), "the document takes more than 2000 pages; no PDF is made of it");
    }
}
