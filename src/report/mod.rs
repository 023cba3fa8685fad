//! The report: one view model and its figures, written as a page, as a print, as tables and as JSON.

mod bar;
mod card;
pub mod drawing;
pub mod materials;
mod matrix;
mod page;
pub mod pdf;
mod print;
pub mod sheets;
mod tables;
pub mod trend;
mod view;

pub use page::{Template, built_in_templates};
pub use pdf::Sheet;
pub use view::{View, visible};

use jiff::Timestamp;

use crate::diagnosis::{Weights, coverage};
use crate::record::{Entry, ReportFile};
use crate::walk::Walk;
use drawing::scene::Scene;
use matrix::Matrix;

/// Whether a character only turns the direction of the text around it: a name that holds one can read as another.
pub fn turns_text(c: char) -> bool {
    matches!(c, '\u{061c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// A drawing with its title.
#[derive(Debug, Clone, PartialEq)]
struct Figure {
    title: String,
    scene: Scene,
}

/// A picture as it is printed: small, and named as the record names it.
#[derive(Debug, Clone, PartialEq)]
struct Photo {
    file: String,
    jpeg: Vec<u8>,
}

/// Most pictures that a report shows; the record holds them all.
const MOST_PHOTOS: usize = 60;

/// A report before it is written.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    view: View,
    /// When its last entry was made: a report says nothing newer.
    made: Timestamp,
    circuit: Vec<Figure>,
    paths: Vec<Figure>,
    protection: Vec<Figure>,
    coverage: Scene,
    photos: Vec<Photo>,
}

/// How a report is written.
#[derive(Debug, Clone, Default)]
pub struct Style {
    /// The paper.
    pub sheet: Sheet,
    /// Templates in the place of the built-in ones of the same name, or beside them.
    pub templates: Vec<Template>,
}

impl Report {
    /// The report of a walk and the entries that made it. `head` is the hash of the journal's last line; `picture` brings a
    /// small JPEG of a file in the record, where it can.
    pub fn of(walk: &Walk, entries: &[Entry], head: &str, picture: &dyn Fn(&str) -> Option<Vec<u8>>) -> Report {
        let (matrix, coverage) = Matrix::of(&coverage(walk.stated(), walk.plan(), &Weights::default()));
        let view = View::of(walk, entries, head, matrix);
        let job = walk.job();
        let built = |wire: &str| view.built(wire);
        let sheets = drawing::circuit::circuit_sheets(walk.stated(), &built);
        let title = |number: usize| match sheets.len() {
            1 => "The circuit as built".to_owned(),
            all => format!("The circuit as built, sheet {number} of {all}"),
        };
        let circuit =
            sheets.iter().enumerate().map(|(n, scene)| Figure { title: title(n + 1), scene: scene.clone() }).collect();
        let path = |load: &crate::job::Load| {
            Some(Figure { title: load.name.clone(), scene: drawing::profile::profile(walk, &load.name)? })
        };
        let curve = |fuse: &crate::job::Fuse| {
            Some(Figure { title: fuse.name.clone(), scene: drawing::protection::protection(job, &fuse.name)? })
        };
        let shown = view.pictures.iter().take(MOST_PHOTOS);
        let photos =
            shown.filter_map(|row| Some(Photo { file: row.file.clone(), jpeg: picture(&row.file)? })).collect();
        Report {
            made: entries.last().map_or(Timestamp::UNIX_EPOCH, |entry| entry.at),
            circuit,
            paths: job.loads.iter().filter_map(path).collect(),
            protection: job.fuses.iter().filter_map(curve).collect(),
            coverage,
            photos,
            view,
        }
    }

    /// Adds something that must stand on top of the report.
    pub fn warn(&mut self, text: &str) {
        self.view.warn(text);
    }

    /// Leaves out what tells which vehicle it is and whose: identity, order, who came for the owner, and all pictures,
    /// which may show a plate. The record, whose last line the report names, keeps them.
    #[must_use]
    pub fn masked(mut self) -> Report {
        self.view = self.view.masked();
        self.photos.clear();
        self
    }

    /// Writes the files of the report: name and bytes.
    ///
    /// # Errors
    /// In words: where a template cannot be filled in, with template, line and variable; what cannot be printed.
    pub fn files(&self, style: &Style) -> Result<Vec<ReportFile>, String> {
        let pdf = |document: &pdf::Document| pdf::write(document, style.sheet).map_err(|error| error.to_string());
        let mut json = serde_json::to_vec_pretty(&self.view).map_err(|error| error.to_string())?;
        json.push(b'\n');
        Ok(vec![
            ("report.html".to_owned(), page::render(self, style)?.into_bytes()),
            ("report.pdf".to_owned(), pdf(&print::document(self))?),
            ("glove-box.pdf".to_owned(), pdf(&card::document(self))?),
            ("report.json".to_owned(), json),
            ("readings.csv".to_owned(), tables::readings(&self.view)?),
        ])
    }
}
