//! A small writer of paged documents: blocks of text, tables, pictures and drawings become a PDF.
//! It knows nothing of a walk or a job. All lengths are in points (1/72 inch); places count from the upper left corner.
//!
//! `lines` breaks text, `table` and `blocks` make chunks of blocks, `flow` puts chunks on pages, `paint` draws them, and
//! `write` makes the file: PDF/A-2u (ISO 19005-2), with all fonts in it.

mod blocks;
mod document;
mod error;
mod flow;
pub mod fonts;
mod form;
mod jpeg;
mod lines;
mod page;
mod paint;
mod table;
mod write;

pub use document::{Block, Cell, Column, Document, Field, Form, Run, Sheet, Strip, Table, Tone, Width};
pub use error::PdfError;
pub use flow::MOST_PAGES;
pub use write::{anchors, write};
