//! Laid out pages as a file.

use krilla::SerializeSettings;
use krilla::configure::{Archival, ConfigurationBuilder, PdfVersion};
use krilla::destination::XyzDestination;
use krilla::error::KrillaError;
use krilla::geom::Point as Place;
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;

use crate::report::drawing::scene::{Ink, Point};

use super::PdfError;
use super::document::{Document, Run, Sheet};
use super::flow::MARGIN;
use super::fonts::{self, Face};
use super::lines;
use super::page::{Item, Mark, Page};
use super::paint::{Faces, Painter};

/// Type size of the foot of a page, in points.
const FOOT: f32 = 8.0;

/// From the lower edge of a page to the base line of its foot, in points.
const FOOT_UP: f32 = 28.0;

/// Letters of the title that are kept: a file may not hold strings of any length.
const MOST_TITLE: usize = 300;

/// Writes a document as a PDF file. The same document gives the same bytes.
///
/// With a date it is PDF/A-2u; without one it is a plain PDF 1.7 that does not claim to be more.
///
/// # Errors
/// [`PdfError`].
pub fn write(document: &Document, sheet: Sheet) -> Result<Vec<u8>, PdfError> {
    let terms = super::blocks::terms(document);
    let mut pages = super::blocks::lay_out(document, &terms, sheet)?;
    let count = pages.len();
    let title: String = document.footer.chars().take(MOST_TITLE).collect();
    for (at, page) in pages.iter_mut().enumerate() {
        foot(page, &title, at + 1, count);
    }

    let faces = Faces::read()?;
    let mut file = krilla::Document::new_with(settings(document.created.is_some())?);
    for page in &pages {
        let size = PageSettings::from_wh(page.size.0, page.size.1)
            .ok_or_else(|| PdfError::File("a page has no size".to_owned()))?;
        let mut sheet = file.start_page_with(size);
        let mut surface = sheet.surface();
        let mut painter = Painter::new(&mut surface, &faces);
        for item in &page.items {
            painter.item(item);
        }
        surface.finish();
        sheet.finish();
    }
    file.set_outline(outline(&pages));
    file.set_metadata(metadata(document));
    file.finish().map_err(|error| PdfError::File(said(&error)))
}

/// The numbers of the forms of a document, each with the page on which it stands, from 1.
///
/// # Errors
/// As [`write()`], but for what concerns the file.
pub fn anchors(document: &Document, sheet: Sheet) -> Result<Vec<(String, usize)>, PdfError> {
    let terms = super::blocks::terms(document);
    let pages = super::blocks::lay_out(document, &terms, sheet)?;
    let forms = pages.iter().enumerate().flat_map(|(at, page)| {
        page.marks.iter().filter(|mark| mark.level == Mark::FORM).map(move |mark| (mark.text.clone(), at + 1))
    });
    Ok(forms.collect())
}

fn settings(dated: bool) -> Result<SerializeSettings, PdfError> {
    let configuration = ConfigurationBuilder::new().with_version(PdfVersion::Pdf17);
    let configuration = if dated { configuration.with_archival_validator(Archival::A2_U) } else { configuration };
    let configuration = configuration.finish().map_err(|error| PdfError::File(format!("{error:?}")))?;
    // Without tags in it: pages of text that is all in reading order.
    Ok(SerializeSettings { configuration, enable_tagging: false, ..SerializeSettings::default() })
}

fn metadata(document: &Document) -> Metadata {
    let title: String = fonts::drawable(&document.title).chars().take(MOST_TITLE).collect();
    let metadata = Metadata::new()
        .title(title)
        .language("en".to_owned())
        .creator(concat!("rigproof ", env!("CARGO_PKG_VERSION")).to_owned());
    match document.created {
        Some((year, month, day, hour, minute, second)) => {
            let date = DateTime::new(year).month(month).day(day).hour(hour).minute(minute).second(second);
            metadata.creation_date(date.utc_offset_hour(0).utc_offset_minute(0))
        }
        None => metadata,
    }
}

/// Adds the running title, the number of the page and a thin rule over both.
fn foot(page: &mut Page<'_>, title: &str, number: usize, count: usize) {
    const GAP: f32 = 20.0;
    let (width, height) = page.size;
    let number = format!("page {number} of {count}");
    let wide = fonts::width(&number, FOOT, Face::Regular);
    let title = fonts::fitted(title, FOOT, Face::Regular, width - 2.0 * MARGIN - wide - GAP);
    let up = height - FOOT_UP;
    page.items.push(Item::rule((MARGIN, up - 12.0), (width - MARGIN, up - 12.0), Ink::PALE, 0.5));
    for (text, x) in [(title, MARGIN), (number, width - MARGIN - wide)] {
        for line in lines::set(&[Run::plain(text).soft()], FOOT, width) {
            let mut x = x;
            for piece in line.pieces {
                let right = piece.width;
                page.items.push(Item::Words { at: Point { x, y: up }, piece });
                x += right;
            }
        }
    }
}

/// The headings: those of level 3 below those of level 2; the title stands beside the latter.
fn outline(pages: &[Page<'_>]) -> Outline {
    let mut outline = Outline::new();
    let mut open: Option<OutlineNode> = None;
    for (at, page) in pages.iter().enumerate() {
        for mark in page.marks.iter().filter(|mark| mark.level < Mark::FORM) {
            let place = Place::from_xy(0.0, (mark.top - 10.0).max(0.0));
            let node = OutlineNode::new(mark.text.clone(), XyzDestination::new(at, place));
            match &mut open {
                Some(parent) if mark.level > 2 => parent.push_child(node),
                _ => {
                    if let Some(done) = open.replace(node) {
                        outline.push_child(done);
                    }
                }
            }
        }
    }
    if let Some(done) = open {
        outline.push_child(done);
    }
    outline
}

/// What the writer of the file found, in words; its own are short where rules were broken.
fn said(error: &KrillaError) -> String {
    match error {
        KrillaError::Validation(found) => {
            let found: Vec<String> = found.iter().take(5).map(|(error, _)| format!("{error:?}")).collect();
            format!("it would break PDF/A: {}", found.join("; "))
        }
        other => other.to_string(),
    }
}
