//! The lists as a print.

use super::page::remarks;
use super::sections::{List, Section, Sheet};
use crate::materials::Materials;
use crate::report::pdf::{Block, Cell, Column, Document, Run, Table, Tone};
use crate::report::print::{aside, bullets, heading};
use crate::report::visible;

/// The document. It carries no date, since the same job gives the same bytes.
pub(super) fn document(materials: &Materials, sections: &[Section]) -> Document {
    let (title, vehicle) = (visible(&materials.title), visible(&materials.vehicle));
    let order = materials.work_order.as_ref().map(|order| format!(" · order {}", visible(order))).unwrap_or_default();
    let mut blocks = vec![
        heading(1, &format!("What it takes: {title}")),
        Block::Paragraph(vec![Run::plain(format!("{vehicle}{order}")).soft()]),
    ];
    let settle = remarks(materials);
    if !settle.is_empty() {
        let lines = vec![vec![Run::plain("Settle these before buying and cutting.")]];
        blocks.push(Block::Band { word: "Mind".to_owned(), tone: Tone::Odd, lines });
        blocks.push(bullets(&settle));
    }
    for (number, section) in sections.iter().enumerate() {
        if number > 0 {
            // Each list goes to another place: the shop, the bench, the vehicle, the printer.
            blocks.push(Block::PageBreak);
        }
        blocks.push(heading(2, section.title));
        blocks.push(aside(section.lead.clone()));
        for sheet in &section.sheets {
            if !sheet.title.is_empty() {
                blocks.push(heading(3, &visible(&sheet.title)));
            }
            blocks.push(Block::Table(table(section.list, sheet)));
        }
        if !section.sources.is_empty() {
            blocks.push(heading(3, "Where the figures come from"));
            let sources = section.sources.iter().map(|s| vec![Run::plain(visible(s)).small().soft()]);
            blocks.push(Block::Bullets(sources.collect()));
        }
    }
    Document {
        title: format!("{title}: what it takes"), footer: format!("{title} · {vehicle}"), created: None, blocks
    }
}

/// How wide a column is; those that people write into have room for that.
fn column(list: List, title: &'static str) -> Column {
    let numeric = ["Need", "Spare", "Buy", "Cut", "Fitted", "Letters", "Over"];
    let share = match (list, title) {
        (List::Labels, "Text") => Some(2.5),
        (_, "Sum") => Some(4.0),
        (_, "What" | "Terminal" | "Order, from the head or the metal on" | "Mind") => Some(2.0),
        (_, "For" | "First" | "Zone" | "At" | "Where") => Some(1.5),
        (List::Ends, "End") | (_, "Torque" | "Strip" | "Run" | "Length") => Some(1.2),
        (_, "Packs" | "Measured") => Some(0.9),
        _ => None,
    };
    let column = share.map_or_else(|| Column::fit(title), |share| Column::share(title, share));
    if numeric.contains(&title) { column.numeric() } else { column }
}

fn table(list: List, sheet: &Sheet) -> Table {
    let columns = sheet.columns.iter().map(|title| column(list, title)).collect();
    let cell = |(number, text): (usize, &String)| match number {
        0 => Cell::Text(vec![vec![Run::plain(text).bold()]]),
        _ => Cell::plain(text),
    };
    Table { columns, rows: sheet.rows.iter().map(|row| row.iter().enumerate().map(cell).collect()).collect() }
}
