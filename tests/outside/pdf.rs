//! The PDF as others read it: `pdftotext`, `pdffonts` and `pdfinfo` (Debian package `poppler-utils`), and `qpdf` (of the
//! same name) for its syntax. Whether it is PDF/A is asked in `report.rs`.
//! `RIGPROOF_PDF=FOLDER cargo test --test outside pdf` leaves the files there, to be looked at.

use std::path::PathBuf;
use std::process::Command;

use rigproof::report::drawing::scene::{Anchor, Ink, Point, Scene, Shape};
use rigproof::report::pdf::{Block, Cell, Column, Document, PdfError, Run, Sheet, Table, Tone, write};

use crate::pdf_sample::{circuit, document, heading, line, paragraph, picture, readings, sample};

fn is_here(tool: &str, package: &str) -> bool {
    let here = Command::new(tool).arg("--help").output().is_ok();
    assert!(here || std::env::var_os("CI").is_none(), "CI installs {package}");
    here
}

fn poppler_is_here() -> bool {
    is_here("pdftotext", "poppler-utils")
}

/// A file in a folder that is kept for the length of the test, or for whoever wants to look at it.
struct Kept {
    path: PathBuf,
    _folder: tempfile::TempDir,
}

impl Kept {
    fn new(name: &str, bytes: &[u8]) -> Kept {
        let folder = tempfile::tempdir().unwrap();
        let place = std::env::var_os("RIGPROOF_PDF").map_or_else(|| folder.path().to_owned(), PathBuf::from);
        let path = place.join(name);
        std::fs::write(&path, bytes).unwrap();
        Kept { path, _folder: folder }
    }

    fn seen_by(&self, tool: &str, arguments: &[&str], after: &[&str]) -> String {
        let output = Command::new(tool).args(arguments).arg(&self.path).args(after).output().unwrap();
        let problems = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success() && problems.is_empty(), "{tool}: {problems}");
        String::from_utf8(output.stdout).unwrap()
    }

    fn text(&self) -> String {
        self.seen_by("pdftotext", &["-layout"], &["-"])
    }
}

#[test]
fn pdf_is_read_by_others_as_it_was_meant() {
    if !poppler_is_here() {
        return;
    }
    for (sheet, name, size) in [
        (Sheet::A4, "sample-a4.pdf", "595.276 x 841.89 pts (A4)"),
        (Sheet::Letter, "sample-letter.pdf", "612 x 792 pts (letter)"),
    ] {
        let file = Kept::new(name, &write(&sample(), sheet).unwrap());
        let text = file.text();
        for words in [
            "4.7 mΩ",
            "85 °C",
            "2.5 mm²",
            "conforms",
            "ssh-keygen -l -f signer.pub",
            "W1 4 mm²",
            "Not drawn: \u{fffd} and \u{fffd}turned\u{fffd}.",
        ] {
            assert!(text.contains(words), "{words}: {text}");
        }
        let info = file.seen_by("pdfinfo", &[], &[]);
        assert!(info.contains(size) && info.contains("Record of a fitting"), "{info}");
        let pages = text.matches('\u{c}').count();
        for page in 1..=pages {
            assert_eq!(text.matches(&format!("page {page} of {pages}")).count(), 1, "{text}");
        }
        let fonts = file.seen_by("pdffonts", &[], &[]);
        let fonts: Vec<&str> = fonts.lines().skip(2).collect();
        assert_eq!(fonts.len(), 3, "{fonts:?}");
        // Embedded, in part, with its Unicode.
        assert!(fonts.iter().all(|font| font.contains("+Liberation") && font.contains(" yes yes yes ")), "{fonts:?}");
    }
}

#[test]
fn qpdf_finds_no_fault_in_the_syntax() {
    if !is_here("qpdf", "qpdf") {
        return;
    }
    let file = Kept::new("checked.pdf", &write(&sample(), Sheet::A4).unwrap());
    let said = file.seen_by("qpdf", &["--check"], &[]);
    assert!(said.contains("PDF Version: 1.7") && said.contains("No syntax or stream encoding errors found"), "{said}");
}

#[test]
fn only_a_dated_pdf_claims_to_be_pdf_a() {
    let claims = |document: &Document| {
        let file = write(document, Sheet::A4).unwrap();
        let text = String::from_utf8_lossy(&file).into_owned();
        text.contains("<pdfaid:part>2</pdfaid:part>") && text.contains("<pdfaid:conformance>U</pdfaid:conformance>")
    };
    assert!(claims(&sample()));
    assert!(!claims(&Document { created: None, ..sample() }));
}

#[test]
fn pdf_is_the_same_each_time() {
    let once = write(&sample(), Sheet::A4).unwrap();
    assert_eq!(once, write(&sample(), Sheet::A4).unwrap());
    let mut later = sample();
    later.created = Some((2026, 11, 25, 9, 30, 1));
    assert_ne!(once, write(&later, Sheet::A4).unwrap());
}

/// A word with its place: left, top, right, bottom in points.
type Placed = (f32, f32, f32, f32, String);

/// The words of each page.
fn places(file: &Kept) -> Vec<Vec<Placed>> {
    let boxes = file.seen_by("pdftotext", &["-bbox"], &["-"]);
    let mut pages: Vec<Vec<Placed>> = Vec::new();
    for line in boxes.lines().map(str::trim) {
        if line.starts_with("<page") {
            pages.push(Vec::new());
        } else if let Some(rest) = line.strip_prefix("<word ") {
            let (places, text) = rest.split_once('>').unwrap();
            let numbers: Vec<f32> = places.split('"').filter_map(|part| part.parse().ok()).collect();
            let [left, top, right, bottom] = numbers[..] else { panic!("{line}") };
            pages.last_mut().unwrap().push((left, top, right, bottom, text.replace("</word>", "")));
        }
    }
    pages
}

#[test]
fn a_long_table_has_its_header_on_each_page_and_all_of_its_rows() {
    if !poppler_is_here() {
        return;
    }
    let file = Kept::new("long-table.pdf", &write(&document(vec![Block::Table(readings(200))]), Sheet::A4).unwrap());
    let text = file.text();
    let pages = text.matches('\u{c}').count();
    assert!(pages > 10, "{pages}");
    assert_eq!(text.matches("Expected").count(), pages);
    for row in 1..=200 {
        assert_eq!(text.matches(&format!("lamp-{row}.+")).count(), 1, "{row}");
    }
    // A row is never parted: each page has as many rules of acceptance as readings.
    for page in text.split('\u{c}') {
        assert_eq!(page.matches("Voltage across").count(), page.matches("A. Fitter, 25 Nov").count());
    }
}

#[test]
fn nothing_leaves_its_page_or_runs_into_its_foot() {
    if !poppler_is_here() {
        return;
    }
    let long = "x".repeat(5000);
    let everywhere = vec![
        heading(1, &long),
        heading(2, &"a heading of many words ".repeat(10)),
        paragraph(&long),
        Block::Bullets(vec![vec![Run::plain(&long).mono()]]),
        Block::KeyValues(vec![(long.clone(), vec![Run::plain(&long)])]),
        Block::Table(Table {
            columns: vec![Column::fit(&long), Column::share(&long, 1.0), Column::fit("n").numeric()],
            rows: vec![vec![Cell::plain(&long), Cell::plain(&long), Cell::plain(&long)]; 2],
        }),
        Block::Preformatted(vec![long.clone(), "a b".repeat(2000)]),
        Block::Band { word: long.clone(), tone: Tone::Bad, lines: vec![vec![Run::plain(&long)]] },
        Block::Band { word: "Does not conform".into(), tone: Tone::Bad, lines: vec![vec![Run::plain(&long[..600])]] },
        Block::Picture { jpeg: picture(), name: "p".into(), width: 1e9, height: 1e9, caption: vec![Run::plain(&long)] },
        Block::Drawing { scene: circuit(40), caption: vec![Run::plain(&long)] },
        Block::Lead(vec![Run::plain(&long)]),
        Block::Space(f32::INFINITY),
    ];
    let mut hostile = document(everywhere);
    hostile.footer = "a footer that is too long ".repeat(50);
    for (sheet, [short, tall]) in [(Sheet::A4, [595.3, 841.9]), (Sheet::Letter, [612.0, 792.0])] {
        let file = Kept::new("hostile.pdf", &write(&hostile, sheet).unwrap());
        let pages = places(&file);
        assert!(pages.len() > 8, "{}", pages.len());
        let mut turned = 0;
        for words in &pages {
            let number = words.iter().rfind(|word| word.4 == "page").unwrap();
            let (wide, high) = if number.0 > short { (tall, short) } else { (short, tall) };
            turned += usize::from(wide > high);
            for (left, top, right, bottom, text) in words {
                assert!(*left > 50.0 && *right < wide - 50.0 && *top > 45.0, "{text} at {left} {top} {right}");
                let is_foot = *top > number.1 - 2.0;
                // The margin below the text is 51 points.
                assert!(is_foot || *bottom < high - 48.0, "{text} down to {bottom}");
            }
            // The foot is one line, and its title ends before the number of the page.
            let foot = words.iter().filter(|word| word.1 > number.1 - 2.0 && word.0 < number.0);
            let end = foot.map(|word| word.2).fold(0.0, f32::max);
            assert!(end > 100.0 && end < number.0 - 10.0, "{end} {}", number.0);
            assert!(words.iter().any(|word| word.4.ends_with('…')));
        }
        assert_eq!(turned, 1);
        let letters = pages.iter().flatten().map(|word| word.4.matches('x').count()).sum::<usize>();
        // Title, paragraph, point, term and value, header, cells, line, band, short band, captions, lead.
        assert!(letters >= 5000 * 14 + 600, "{letters}");
    }
}

#[test]
fn great_documents_end_soon_in_a_file_or_in_words() {
    let text = "All of the words of a very long remark in ten megabytes of text. ".repeat(155_000);
    let file = write(&document(vec![paragraph(&text), Block::Bullets(vec![])]), Sheet::A4).unwrap();
    assert!(file.starts_with(b"%PDF-1.7"));
    let word = "x".repeat(1_000_000);
    assert!(write(&document(vec![paragraph(&word)]), Sheet::A4).is_ok());
    let rows = vec![vec![Cell::plain("a"), Cell::plain("b")]; 100_000];
    let table = Table { columns: vec![Column::fit("one"), Column::share("two", 1.0)], rows };
    let error = write(&document(vec![Block::Table(table)]), Sheet::A4).unwrap_err();
    assert_eq!(error, PdfError::TooLong { pages: 2000 });
    let headings = vec![heading(2, "again"); 100_000];
    assert!(matches!(write(&document(headings), Sheet::A4), Err(PdfError::TooLong { .. })));
}

#[test]
fn what_cannot_be_written_is_said() {
    let said = |block: Block| write(&document(vec![block]), Sheet::A4).unwrap_err().to_string();
    let shown =
        |jpeg: Vec<u8>| Block::Picture { jpeg, name: "p7.jpg".into(), width: 100.0, height: 100.0, caption: vec![] };
    assert_eq!(said(shown(b"text".to_vec())), "the picture p7.jpg cannot be put into the PDF: this is no JPEG picture");
    let whole = picture();
    for end in [0, 2, 20, 150, 180] {
        assert!(said(shown(whole[..end].to_vec())).contains("the picture p7.jpg cannot"), "{end}");
    }
    let mut print = whole.clone();
    let frame = print.windows(2).position(|pair| pair == [0xff, 0xc0]).unwrap();
    print[frame + 9] = 4;
    assert!(said(shown(print)).contains("it has 4 colours"));
    let broken = Scene { says: "a plot".into(), width: f32::NAN, height: 10.0, shapes: vec![] };
    assert_eq!(said(Block::Drawing { scene: broken, caption: vec![] }), "the drawing `a plot` has no size");
    let table = Table { columns: vec![Column::fit("one")], rows: vec![vec![Cell::plain("a"); 2]] };
    assert_eq!(said(Block::Table(table)), "row 1 of a table has 2 cells for 1 columns");
}

#[test]
fn nothing_said_is_a_page_and_numbers_that_are_none_draw_nothing() {
    let nan = [f32::NAN, f32::INFINITY, -1.0, 0.0];
    let mut shapes = vec![line(&[], Ink::DARK, 1.0), line(&[(1.0, 1.0)], Ink::DARK, 1.0)];
    for bad in nan {
        shapes.push(line(&[(bad, 1.0), (2.0, bad)], Ink::DARK, bad));
        shapes.push(Shape::Circle {
            centre: Point { x: bad, y: 1.0 },
            radius: bad,
            fill: Some(Ink::GOOD),
            stroke: None,
        });
        let (anchor, ink) = (Anchor::Start, Ink::DARK);
        let at = Point { x: bad, y: 1.0 };
        shapes.push(Shape::Text { at, text: "t".into(), size: bad, bold: true, anchor, ink, upright: true });
    }
    let scene = Scene { says: String::new(), width: 10.0, height: 10.0, shapes };
    let blocks = vec![
        heading(2, " "),
        paragraph(""),
        Block::Lead(vec![]),
        Block::Bullets(vec![vec![]]),
        Block::KeyValues(vec![]),
        Block::Table(Table::default()),
        Block::Table(Table { columns: vec![Column::share("", f32::NAN)], rows: vec![vec![]] }),
        Block::Preformatted(vec![]),
        Block::Preformatted(vec![String::new()]),
        Block::PageBreak,
        Block::PageBreak,
        Block::Band { word: String::new(), tone: Tone::Good, lines: vec![] },
        Block::Drawing { scene, caption: vec![] },
        Block::Space(f32::NAN),
        heading(3, "last"),
    ];
    assert!(write(&document(blocks), Sheet::A4).is_ok());
    let hidden =
        Document { title: "a\u{0}b\u{202e}<c>&".repeat(500), footer: String::new(), created: None, blocks: vec![] };
    let file = Kept::new("empty.pdf", &write(&hidden, Sheet::A4).unwrap());
    if poppler_is_here() {
        assert!(file.text().contains("page 1 of 1"));
    }
}
