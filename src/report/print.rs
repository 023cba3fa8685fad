//! The print: the view and its figures as a document of blocks.

use jiff::Timestamp;

use super::drawing::scene::Scene;
use super::pdf::{Block, Cell, Column, Document, Run, Table, Tone};
use super::view::{Group, Named, ReadingRow, View};
use super::{Figure, Report};

/// Widest and highest that a picture is printed, in points: two stand on a page with their captions.
const PICTURE: (f32, f32) = (380.0, 285.0);

/// The tone that a class of the view stands for.
pub(super) fn tone(class: &str) -> Tone {
    match class {
        "good" => Tone::Good,
        "bad" => Tone::Bad,
        "odd" => Tone::Odd,
        _ => Tone::Plain,
    }
}

/// When the last entry was made, as a document states it.
pub(super) fn made(at: Timestamp) -> Option<(u16, u8, u8, u8, u8, u8)> {
    let at = jiff::tz::TimeZone::UTC.to_datetime(at);
    let part = |value: i8| u8::try_from(value).ok();
    Some((
        u16::try_from(at.year()).ok()?,
        part(at.month())?,
        part(at.day())?,
        part(at.hour())?,
        part(at.minute())?,
        part(at.second())?,
    ))
}

/// A heading.
pub(super) fn heading(level: u8, text: &str) -> Block {
    Block::Heading { level, text: text.to_owned() }
}

/// A paragraph of common text.
pub(super) fn paragraph(text: impl Into<String>) -> Block {
    Block::Paragraph(vec![Run::plain(text)])
}

/// A paragraph that matters less.
pub(super) fn aside(text: impl Into<String>) -> Block {
    Block::Paragraph(vec![Run::plain(text).small().soft()])
}

/// A list of common texts.
pub(super) fn bullets<'t>(texts: impl IntoIterator<Item = &'t String>) -> Block {
    Block::Bullets(texts.into_iter().map(|text| vec![Run::plain(text)]).collect())
}

/// Cells of common text.
pub(super) fn row<'t>(texts: impl IntoIterator<Item = &'t String>) -> Vec<Cell> {
    texts.into_iter().map(Cell::plain).collect()
}

fn mono(text: &str) -> Cell {
    Cell::Text(vec![vec![Run::plain(text).mono().small()]])
}

/// The name of the vehicle and of the order, as far as they are shown.
pub(super) fn vehicle(view: &View) -> String {
    let order = view.work_order.as_ref().map(|order| format!("order {order}"));
    let parts = [Some(view.vehicle.clone()), view.identity.clone(), Some(view.system.clone()), order];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" · ")
}

/// The report as a document.
pub(super) fn document(report: &Report) -> Document {
    let view = &report.view;
    let mut blocks = page_one(view);
    blocks.push(Block::PageBreak);
    for figure in &report.circuit {
        blocks.push(heading(2, &figure.title));
        blocks.push(drawing(&figure.scene, Vec::new()));
    }
    built(view, &mut blocks);
    readings(view, &mut blocks);
    figures("Voltage along the path", &report.paths, &mut blocks);
    figures("Fuses and the conductors that they protect", &report.protection, &mut blocks);
    values(view, &mut blocks);
    history(view, &mut blocks);
    people(view, &mut blocks);
    pictures(report, &mut blocks);
    advice(view, &mut blocks);
    coverage(view, &report.coverage, &mut blocks);
    Document {
        title: format!("{} – {}", view.title, view.vehicle),
        footer: format!("{} · {}", view.title, view.vehicle),
        created: made(report.made),
        blocks,
    }
}

fn drawing(scene: &Scene, caption: Vec<Run>) -> Block {
    Block::Drawing { scene: scene.clone(), caption }
}

/// The verdict in its frame, and what must be read before it.
pub(super) fn verdict(view: &View, blocks: &mut Vec<Block>) {
    for text in &view.warnings {
        let lines = vec![vec![Run::plain(text)]];
        blocks.push(Block::Band { word: "Mind".to_owned(), tone: Tone::Bad, lines });
    }
    let lines = view.in_short.iter().map(|line| vec![Run::plain(line)]).collect();
    blocks.push(Block::Band { word: view.verdict.clone(), tone: tone(&view.verdict_class), lines });
}

/// What a buyer reads in two minutes.
fn page_one(view: &View) -> Vec<Block> {
    let mut blocks = vec![heading(1, &view.title), Block::Paragraph(vec![Run::plain(vehicle(view)).soft()])];
    verdict(view, &mut blocks);
    if view.masked {
        blocks.push(aside(
            "What tells which vehicle this is and whose was left out, and the pictures. The record that this report was \
             written from holds it; its last line is named at the end.",
        ));
    }
    blocks.push(heading(2, "What was fitted"));
    let columns = vec![
        Column::fit("Load"),
        Column::fit("Kind"),
        Column::fit("Draws"),
        Column::share("Where", 1.0),
        Column::fit("Protected by"),
        Column::fit("Measured across it").numeric(),
    ];
    let rows = view.fitted.iter();
    let rows = rows.map(|r| {
        let mut cells = row([&r.name, &r.kind, &r.draws, &r.place, &r.protected_by, &r.voltage]);
        cells[0] = Cell::Text(vec![vec![Run::plain(&r.name).bold()]]);
        cells
    });
    blocks.push(Block::Table(Table { columns, rows: rows.collect() }));
    blocks.push(heading(2, "What is open"));
    if !view.nonconformities.is_empty() {
        let columns = vec![Column::share("Step", 1.0), Column::share("Found", 1.4), Column::share("Why it stays", 1.2)];
        let rows = view.nonconformities.iter();
        let rows = rows.map(|r| vec![mono(&r.step), Cell::plain(&r.found), Cell::plain(&r.reason)]).collect();
        blocks.push(Block::Table(Table { columns, rows }));
    }
    if let Some(first) = view.open_steps.first() {
        blocks.push(paragraph(format!("{} steps are not done yet, the first of them {first}.", view.open_steps.len())));
    } else if view.nonconformities.is_empty() {
        blocks.push(paragraph("Nothing: every step is closed, and no requirement is left unfulfilled."));
    }
    if let Some(day) = &view.check_again {
        blocks.push(Block::Paragraph(vec![
            Run::plain("To be looked at again after 1,000 km, or by "),
            Run::plain(day).bold(),
            Run::plain(": joints settle (common practice)."),
        ]));
    }
    who_says_so(view, &mut blocks);
    blocks.push(heading(2, "How to check it"));
    let ways = [
        "Compare the key above with one that reached you by another road: the invoice, a telephone call, the shop's own page.",
        "In the folder of the record: sh VERIFY.txt. It uses nothing but stock tools, and ends with “everything fits”. The \
         last section has the single commands.",
        "Look at one thing yourself: the fuses against the table above, or one reading with your own meter against the \
         expected range in this report.",
    ];
    blocks.push(Block::Bullets(ways.map(|way| vec![Run::plain(way)]).to_vec()));
    blocks
}

fn who_says_so(view: &View, blocks: &mut Vec<Block>) {
    blocks.push(heading(2, "Who says so"));
    if view.signed.is_empty() {
        blocks.push(paragraph("Nobody yet: the work is not signed off."));
    }
    for signed in &view.signed {
        blocks.push(Block::KeyValues(vec![
            (
                "Signed by".to_owned(),
                vec![
                    Run::plain(format!("{}, {}", signed.name, signed.role)).bold(),
                    Run::plain(format!(", {} by their own clock", signed.at)),
                ],
            ),
            ("States".to_owned(), vec![Run::plain(&signed.statement)]),
            ("With key".to_owned(), vec![Run::plain(&signed.fingerprint).mono().small()]),
        ]));
    }
    for later in &view.later {
        blocks.push(Block::Paragraph(vec![
            Run::plain(format!("Work went on, {}, {}: {} ", later.at, later.by, later.reason)),
            Run::plain(format!("({})", later.steps)).small().soft(),
        ]));
    }
    if let Some(begun) = &view.begun {
        let file = if view.from_file {
            " Entries were taken from a file of answers: the times are those of the reading of the file."
        } else {
            ""
        };
        blocks.push(aside(format!("Begun {begun}.{file}")));
        blocks.extend(view.from_paper.iter().map(aside));
    }
}

/// Wires and parts.
fn built(view: &View, blocks: &mut Vec<Block>) {
    blocks.push(heading(2, "Wires"));
    let columns = vec![
        Column::fit("Wire"),
        Column::share("From", 1.0),
        Column::share("To", 1.0),
        Column::fit("Size"),
        Column::fit("Planned"),
        Column::fit("As built"),
        Column::fit("Colour"),
        Column::share("Zone", 1.0),
    ];
    let rows = view.wires.iter();
    let rows =
        rows.map(|r| row([&r.name, &r.from, &r.to, &r.size, &r.planned, &r.built, &r.colour, &r.zone])).collect();
    blocks.push(Block::Table(Table { columns, rows }));
    blocks.push(heading(2, "Parts"));
    let columns = vec![
        Column::fit("Part"),
        Column::fit("Kind"),
        Column::share("What", 1.4),
        Column::share("Where", 1.6),
        Column::share("Serves", 1.2),
    ];
    let rows = view.parts.iter().map(|r| row([&r.name, &r.kind, &r.what, &r.place, &r.serves])).collect();
    blocks.push(Block::Table(Table { columns, rows }));
}

fn readings(view: &View, blocks: &mut Vec<Block>) {
    blocks.push(heading(2, "Readings"));
    blocks.push(aside(
        "The dark band is what the circuit must show by its stated tolerances, the pale one adds the uncertainty of the \
         meter; the upright mark is the reading. Where the pale band is much wider than the dark one, the meter tells only \
         that there is a connection.",
    ));
    for Group { title, readings } in &view.groups {
        blocks.push(heading(3, title));
        let columns = vec![
            Column::share("Reading", 1.5),
            Column::share("State", 1.0),
            Column::fit("Expected"),
            Column::fit(""),
            Column::fit("Read"),
            Column::fit("Result"),
        ];
        blocks.push(Block::Table(Table { columns, rows: readings.iter().map(reading).collect() }));
    }
}

fn reading(row: &ReadingRow) -> Vec<Cell> {
    let soft = |text: String| vec![Run::plain(text).small().soft()];
    let mut what = vec![vec![Run::plain(&row.what)]];
    what.extend(row.rule.iter().map(|rule| soft(format!("rule: {rule}"))));
    if !row.by.is_empty() {
        what.push(soft(format!("{}, {}", row.by, row.at)));
    }
    let mut read = vec![vec![Run::plain(&row.reading).bold()]];
    if let Some(uncertainty) = &row.uncertainty {
        let with = row.instrument.as_ref().map(|name| format!(", {name}")).unwrap_or_default();
        read.push(soft(format!("± {uncertainty}{with}")));
    }
    let says = format!("read {}, expected {}", row.reading, row.expected);
    let bar = row.bar.map(|bar| Cell::Drawing(bar.scene(row.verdict_class != "bad", says)));
    vec![
        Cell::Text(what),
        Cell::Text(vec![vec![Run::plain(&row.state).small()]]),
        Cell::plain(&row.expected),
        bar.unwrap_or_else(|| Cell::plain("")),
        Cell::Text(read),
        Cell::judged(&row.verdict, tone(&row.verdict_class)),
    ]
}

fn figures(title: &str, figures: &[Figure], blocks: &mut Vec<Block>) {
    if figures.is_empty() {
        return;
    }
    blocks.push(heading(2, title));
    for figure in figures {
        let caption =
            vec![Run::plain(format!("{}: ", figure.title)).bold().small(), Run::plain(&figure.scene.says).small()];
        blocks.push(drawing(&figure.scene, caption));
    }
}

fn values(view: &View, blocks: &mut Vec<Block>) {
    if view.values.is_empty() {
        return;
    }
    blocks.push(heading(2, "Other values"));
    let columns = vec![
        Column::share("Step", 1.1),
        Column::fit("What"),
        Column::fit("Expected"),
        Column::share("Written", 1.3),
        Column::fit("Result"),
    ];
    let rows = view.values.iter();
    let rows = rows.map(|r| {
        let written = Cell::plain(&r.reading);
        let result = Cell::judged(&r.verdict, tone(&r.verdict_class));
        vec![mono(&r.step), Cell::plain(&r.what), Cell::plain(&r.expected), written, result]
    });
    blocks.push(Block::Table(Table { columns, rows: rows.collect() }));
}

fn history(view: &View, blocks: &mut Vec<Block>) {
    if view.history.is_empty() {
        return;
    }
    blocks.push(heading(2, "What did not stand at first, and what was done"));
    let columns = vec![Column::share("Step", 1.0), Column::share("Found", 1.5), Column::share("Done", 1.2)];
    let rows = view.history.iter().map(|r| vec![mono(&r.step), Cell::plain(&r.found), Cell::plain(&r.done)]).collect();
    blocks.push(Block::Table(Table { columns, rows }));
    if !view.retaken.is_empty() {
        let steps = view.retaken.join(", ");
        blocks.push(aside(format!("Taken again because of that, though they had conformed: {steps}.")));
    }
}

fn named(title: &str, rows: &[Named], blocks: &mut Vec<Block>) {
    if rows.is_empty() {
        return;
    }
    blocks.push(heading(3, title));
    let line = |row: &Named| vec![Run::plain(&row.name).mono().small(), Run::plain(format!(": {}", row.what))];
    blocks.push(Block::Bullets(rows.iter().map(line).collect()));
}

fn people(view: &View, blocks: &mut Vec<Block>) {
    blocks.push(heading(2, "Who did what"));
    let columns = vec![Column::fit("Person"), Column::share("Part in the work", 1.0)];
    let rows = view.people.iter().map(|r| row([&r.name, &r.what])).collect();
    blocks.push(Block::Table(Table { columns, rows }));
    if !view.releases.is_empty() {
        blocks.push(heading(3, "Hold points"));
        let columns =
            vec![Column::share("Step", 1.0), Column::share("Released by", 0.7), Column::share("What was checked", 1.5)];
        let rows = view.releases.iter();
        let rows = rows.map(|r| vec![mono(&r.step), Cell::plain(&r.by), Cell::plain(&r.statement)]).collect();
        blocks.push(Block::Table(Table { columns, rows }));
    }
    named("Witness points", &view.witnesses, blocks);
    named("Steps that were not needed", &view.not_needed, blocks);
    named("Remarks", &view.remarks, blocks);
}

fn pictures(report: &Report, blocks: &mut Vec<Block>) {
    let all = report.view.pictures.len();
    if all == 0 {
        return;
    }
    blocks.push(heading(2, "Pictures"));
    for photo in &report.photos {
        let row = report.view.pictures.iter().find(|row| row.file == photo.file);
        let caption = row.map_or_else(Vec::new, |row| {
            vec![Run::plain(format!("{} ", row.caption)).small(), Run::plain(&row.step).mono().small().soft()]
        });
        let (width, height) = PICTURE;
        blocks.push(Block::Picture { jpeg: photo.jpeg.clone(), name: photo.file.clone(), width, height, caption });
    }
    if report.photos.len() < all {
        blocks.push(aside(format!("{all} pictures are in the record; {} are shown here.", report.photos.len())));
    }
}

fn advice(view: &View, blocks: &mut Vec<Block>) {
    blocks.push(heading(2, "For whoever drives it"));
    blocks.push(bullets(&view.advice));
    blocks.push(heading(2, "Hazards that were read before the work"));
    let hazard = |row: &super::view::HazardRow| {
        vec![
            Run::plain(format!("{} ", row.signal)).bold().small(),
            Run::plain(format!("{} {} ", row.hazard, row.avoid)),
            Run::plain(format!("({})", row.source)).small().soft(),
        ]
    };
    blocks.push(Block::Bullets(view.hazards.iter().map(hazard).collect()));
    blocks.push(heading(2, "How it was measured"));
    let mut lines: Vec<String> = view.instruments.iter().map(|row| format!("{}: {}", row.name, row.what)).collect();
    lines.push(format!("A reading is given with its expanded uncertainty (k = 2). {}.", view.acceptance));
    blocks.push(bullets(&lines));
}

fn coverage(view: &View, scene: &Scene, blocks: &mut Vec<Block>) {
    let matrix = &view.matrix;
    blocks.push(heading(2, "What these steps would have noticed"));
    blocks.push(paragraph(format!(
        "Each single fault that the program knows for this job was put into the circuit, and every step asked whether it would \
         have seen it with the instruments above: {} of {} faults for sure ({} of them by inspection alone, which is as good as \
         the eye that makes it); {} are told from all others.",
        matrix.detected, matrix.faults, matrix.by_inspection, matrix.isolated
    )));
    if !matrix.missed.is_empty() {
        blocks.push(Block::Lead(vec![Run::plain("Not for sure:")]));
        blocks.push(bullets(&matrix.missed));
    }
    let caption = "A row is a fault, a column a step in the order of the work. Full: noticed with 95 % or more, tolerances and \
                   meter included. Hollow: perhaps.";
    blocks.push(drawing(scene, vec![Run::plain(caption).small().soft()]));
    if !view.assumptions.is_empty() {
        blocks.push(heading(2, "What was assumed"));
        blocks.push(aside("The job does not state these; the expected values rest on them."));
        blocks.push(bullets(&view.assumptions));
    }
    blocks.push(heading(2, "What this report does not say"));
    blocks.push(bullets(&view.cautions));
    blocks.push(heading(2, "How to check this report, in single commands"));
    blocks.push(paragraph(
        "The folder of the record that this report came with holds the journal of every entry, the job and the procedures. In \
         that folder:",
    ));
    blocks.push(Block::Preformatted(view.verify.clone()));
    blocks.push(aside(
        "The first prints the fingerprint of the key: compare it with one that reached you by another road. The second says \
         Good. The third says OK for every file. An earlier seal is checked in the same way; VERIFY.txt does all of them.",
    ));
    blocks.push(Block::KeyValues(vec![
        ("Last line of the journal".to_owned(), vec![Run::plain(&view.head).mono().small()]),
        ("Written by".to_owned(), vec![Run::plain(format!("rigproof {}", view.program))]),
    ]));
}
