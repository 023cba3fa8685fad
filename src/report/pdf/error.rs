//! Why a document could not be written.

use std::fmt;

/// Why a document could not be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PdfError {
    /// It would take more pages than are written.
    TooLong {
        /// The greatest number of pages.
        pages: usize,
    },
    /// A picture cannot be shown.
    Picture {
        /// What the document calls it.
        name: String,
        /// Why.
        why: String,
    },
    /// A drawing has no size, or one that is not a number.
    Drawing {
        /// What it shows.
        says: String,
    },
    /// A row has more cells than its table has columns.
    Row {
        /// Its number, from 1.
        row: usize,
        /// The cells that it has.
        cells: usize,
        /// The columns of the table.
        columns: usize,
    },
    /// The file breaks a rule of PDF or PDF/A, named in words.
    File(String),
}

impl fmt::Display for PdfError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PdfError::TooLong { pages } => {
                write!(f, "the document takes more than {pages} pages; no PDF is made of it")
            }
            PdfError::Picture { name, why } => write!(f, "the picture {name} cannot be put into the PDF: {why}"),
            PdfError::Drawing { says } => write!(f, "the drawing `{says}` has no size"),
            PdfError::Row { row, cells, columns } => {
                write!(f, "row {row} of a table has {cells} cells for {columns} columns")
            }
            PdfError::File(why) => write!(f, "the PDF cannot be written: {why}"),
        }
    }
}

impl std::error::Error for PdfError {}
