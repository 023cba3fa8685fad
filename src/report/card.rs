//! The short form for the glove box: which fuse protects what, which wire is which, and when to look again.

use super::Report;
use super::pdf::{Block, Cell, Column, Document, Run, Table};
use super::print::{bullets, heading, made, row, vehicle, verdict};

/// The card as a document of one or two pages.
pub(super) fn document(report: &Report) -> Document {
    let view = &report.view;
    let mut blocks = vec![heading(1, &view.title), Block::Paragraph(vec![Run::plain(vehicle(view)).soft()])];
    verdict(view, &mut blocks);
    blocks.push(heading(2, "If something is wrong"));
    blocks.push(bullets(&view.advice[1..]));
    blocks.push(heading(2, "Fuses"));
    let columns = vec![
        Column::fit("Fuse"),
        Column::share("What", 1.0),
        Column::share("Where", 1.3),
        Column::share("Protects", 1.2),
    ];
    let fuses = view.parts.iter().filter(|part| part.kind == "fuse");
    let rows = fuses.map(|r| {
        let mut cells = row([&r.name, &r.what, &r.place, &r.serves]);
        cells[0] = Cell::Text(vec![vec![Run::plain(&r.name).bold()]]);
        cells
    });
    blocks.push(Block::Table(Table { columns, rows: rows.collect() }));
    blocks.push(heading(2, "Loads"));
    let columns = vec![
        Column::fit("Load"),
        Column::fit("Draws"),
        Column::share("Where", 1.0),
        Column::fit("Fuse"),
        Column::fit("Measured across it").numeric(),
    ];
    let rows = view.fitted.iter().map(|r| row([&r.name, &r.draws, &r.place, &r.protected_by, &r.voltage])).collect();
    blocks.push(Block::Table(Table { columns, rows }));
    let mut lines = Vec::new();
    if let Some(day) = &view.check_again {
        lines.push((
            "Look again".to_owned(),
            vec![Run::plain(format!("after 1,000 km, or by {day} (common practice)"))],
        ));
    }
    for signed in &view.signed {
        let words = format!("{}, {}, {}", signed.name, signed.role, signed.at);
        lines.push(("Signed by".to_owned(), vec![Run::plain(words)]));
        lines.push(("With key".to_owned(), vec![Run::plain(&signed.fingerprint).mono().small()]));
    }
    lines.push(("Record ends with".to_owned(), vec![Run::plain(&view.head).mono().small()]));
    blocks.push(heading(2, "Who fitted it"));
    blocks.push(Block::KeyValues(lines));
    blocks.push(heading(2, "Wires by their labels"));
    let columns = vec![
        Column::fit("Wire"),
        Column::fit("Size"),
        Column::fit("Colour"),
        Column::share("From", 1.0),
        Column::share("To", 1.0),
    ];
    let rows = view.wires.iter().map(|r| row([&r.name, &r.size, &r.colour, &r.from, &r.to])).collect();
    blocks.push(Block::Table(Table { columns, rows }));
    Document {
        title: format!("{}, for the glove box", view.title),
        footer: format!("{} · {}", view.title, view.vehicle),
        created: made(report.made),
        blocks,
    }
}
