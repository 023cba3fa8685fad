//! The lists as CSV by RFC 4180: UTF-8, lines end in CR LF, a heading first, numbers in SI units without a unit.

use super::List;
use super::sections::millimetres;
use crate::document::harmless;
use crate::materials::{Amount, Bolt, Cut, End, Known, Label, Materials, Purchase, Run};
use crate::quantity::{Length, Quantity};
use crate::report::visible;

const SHOPPING: [&str; 8] = ["group", "item", "need", "spare", "buy", "unit", "packs", "used_for"];
const CUTS: [&str; 14] = [
    "order",
    "piece",
    "kind",
    "cores",
    "size",
    "area_mm2",
    "colour",
    "insulation_celsius",
    "cut_m",
    "measured_m",
    "fitted_m",
    "sum",
    "zone",
    "notes",
];
const ENDS: [&str; 22] = [
    "wire",
    "end",
    "at",
    "toward",
    "cable",
    "size",
    "colour",
    "place",
    "wet",
    "first",
    "jacket_m",
    "jacket",
    "strip",
    "terminal_kind",
    "terminal",
    "barrel_mm2",
    "with",
    "pull_newtons",
    "gap_least_m",
    "gap_most_m",
    "sleeve_over_joint_m",
    "notes",
];
const HARDWARE: [&str; 20] = [
    "kind",
    "name",
    "where",
    "thread",
    "class",
    "length",
    "least_length_m",
    "greatest_length_m",
    "torque_newton_metres",
    "torque",
    "order",
    "run_length_m",
    "bundle_m",
    "clamps",
    "clamp_m",
    "spacing_m",
    "bend_m",
    "tube_bore_m",
    "grommet",
    "notes",
];
const LABELS: [&str; 9] = ["wire", "end", "at", "toward", "size", "colour", "text", "letters", "over_m"];

/// One list as a table.
///
/// # Errors
/// In words, where the writer fails.
pub fn csv(materials: &Materials, list: List) -> Result<Vec<u8>, String> {
    match list {
        List::Shopping => write(&SHOPPING, materials.shopping.iter().map(purchase)),
        List::Cuts => write(&CUTS, materials.cuts.iter().enumerate().map(|(at, row)| cut(at + 1, row))),
        List::Ends => write(&ENDS, materials.ends.iter().map(end)),
        List::Hardware => write(&HARDWARE, materials.bolts.iter().map(bolt).chain(materials.runs.iter().map(run))),
        List::Labels => write(&LABELS, materials.labels.iter().map(label)),
    }
}

fn write(head: &[&str], rows: impl Iterator<Item = Vec<String>>) -> Result<Vec<u8>, String> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(head).map_err(|error| error.to_string())?;
    for row in rows {
        writer.write_record(&row).map_err(|error| error.to_string())?;
    }
    writer.into_inner().map_err(|error| error.to_string())
}

/// A text of the job as it may stand in a cell.
fn text(words: impl AsRef<str>) -> String {
    harmless(&visible(words.as_ref()))
}

fn texts(words: &[String]) -> String {
    text(words.join("; "))
}

fn optional(words: Option<&String>) -> String {
    words.map(text).unwrap_or_default()
}

/// A number in its SI unit. Rounding in the last of sixteen digits is taken off.
fn number(value: impl Quantity) -> String {
    let nano = (value.base() * 1e9).round() / 1e9;
    nano.to_string()
}

fn known(value: Option<&Known<Length>>) -> String {
    value.map(|known| number(known.value)).unwrap_or_default()
}

fn purchase(row: &Purchase) -> Vec<String> {
    let (need, spare, buy, unit) = match row.amount {
        Amount::Pieces { need, spare } => (need.to_string(), spare.to_string(), (need + spare).to_string(), "pieces"),
        Amount::Metres { need, spare } => (number(need), number(spare), number(need + spare), "m"),
        Amount::EachHole => (String::new(), String::new(), String::new(), "each hole"),
    };
    let group = row.group.words().to_owned();
    vec![group, text(&row.item), need, spare, buy, unit.to_owned(), String::new(), texts(&row.used_for)]
}

fn cut(order: usize, row: &Cut) -> Vec<String> {
    let sum: Vec<String> = row.terms.iter().map(|t| format!("{} {}", millimetres(t.length), t.what)).collect();
    vec![
        order.to_string(),
        text(&row.name),
        if row.cable { "cable" } else { "wire" }.to_owned(),
        texts(&row.wires),
        row.size.to_string(),
        number(row.size.area()),
        text(&row.colour),
        number(row.insulation),
        number(row.length),
        String::new(),
        number(row.fitted),
        text(sum.join(" + ")),
        optional(row.zone.as_ref()),
        texts(&row.notes),
    ]
}

fn end(row: &End) -> Vec<String> {
    let jacket = row.jacket.as_ref();
    vec![
        text(&row.wire),
        row.side.word().to_owned(),
        text(&row.at),
        text(&row.toward),
        optional(row.cable.as_ref()),
        row.size.to_string(),
        optional(row.colour.as_ref()),
        optional(row.place.as_ref()),
        optional(row.wet.as_ref()),
        texts(&row.first),
        jacket.and_then(|j| j.length).map(number).unwrap_or_default(),
        optional(jacket.map(|j| &j.words)),
        row.strip.value.clone(),
        row.terminal.kind.word().to_owned(),
        text(&row.terminal.words),
        number(row.terminal.barrel),
        texts(&row.terminal.with),
        row.pull.as_ref().map(|pull| number(pull.value)).unwrap_or_default(),
        number(row.gap_least.value),
        number(row.gap_most.value),
        known(row.sleeve.as_ref()),
        texts(&row.notes),
    ]
}

fn bolt(row: &Bolt) -> Vec<String> {
    let mut cells = vec![
        if row.stud { "stud" } else { "bolt" }.to_owned(),
        text(&row.name),
        optional(row.place.as_ref()),
        text(&row.thread),
        row.class.clone().unwrap_or_default(),
        text(&row.length_words),
        row.lengths.map(|[least, _]| number(least)).unwrap_or_default(),
        row.lengths.map(|[_, most]| number(most)).unwrap_or_default(),
        row.torque.map(|[_, aim, _]| number(aim)).unwrap_or_default(),
        text(&row.torque_words),
        texts(&row.order),
    ];
    cells.resize(HARDWARE.len(), String::new());
    cells
}

fn run(row: &Run) -> Vec<String> {
    let mut cells = vec!["run".to_owned(), texts(&row.members), text(&row.zone)];
    cells.resize(11, String::new());
    cells.extend([
        number(row.length),
        known(row.diameter.as_ref()),
        row.clamps.to_string(),
        known(row.clamp.as_ref()),
        number(row.spacing.value),
        known(row.bend.as_ref()),
        known(row.tube_bore.as_ref()),
        optional(row.grommet.as_ref()),
        texts(&row.notes),
    ]);
    cells
}

fn label(row: &Label) -> Vec<String> {
    vec![
        text(&row.wire),
        row.side.word().to_owned(),
        text(&row.at),
        text(&row.toward),
        row.size.to_string(),
        text(&row.colour),
        text(&row.text),
        row.text.chars().count().to_string(),
        row.over.map(number).unwrap_or_default(),
    ]
}
