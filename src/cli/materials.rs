//! `rigproof materials`: what a job takes, before anything is bought and cut.

use std::fmt::Write;

use super::arguments::{Materials as Arguments, Paper};
use super::failure::{Failure, Outcome};
use super::files::read_job;
use super::layout::{self, labelled};
use crate::materials::{Cut, End, Materials, Purchase, Run, tenths};
use crate::record::RecordError;
use crate::report::materials::{
    List, as_json, bolt_in_words, csv, files, limits_in_words, millimetres, sources, sum_in_words,
};
use crate::report::{Sheet, visible};

/// A terminal of common width.
const WIDTH: usize = 80;

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let materials = Materials::of(&read_job(&arguments.job)?);
    if let Some(out) = &arguments.out {
        return write(&materials, out, arguments.paper);
    }
    let list = arguments.list.map(List::from);
    let text = if arguments.csv {
        let bytes = csv(&materials, list.unwrap_or(List::Shopping)).map_err(Failure::message)?;
        String::from_utf8(bytes).map_err(|error| Failure::message(error.to_string()))?
    } else if arguments.json {
        as_json(&materials).map_err(Failure::message)?.to_string()
    } else {
        in_words(&materials, list)
    };
    layout::print(&text)?;
    Ok(Outcome::Conforms)
}

fn write(materials: &Materials, out: &std::path::Path, paper: Option<Paper>) -> Result<Outcome, Failure> {
    let sheet = Sheet::from(paper.unwrap_or_default());
    let files = files(materials, sheet).map_err(Failure::message)?;
    std::fs::create_dir_all(out).map_err(|error| RecordError::File { tried: "create", path: out.to_owned(), error })?;
    let mut written = Vec::new();
    for (name, bytes) in files {
        let path = out.join(name);
        std::fs::write(&path, bytes).map_err(|error| RecordError::File {
            tried: "write",
            path: path.clone(),
            error,
        })?;
        written.push(path.display().to_string());
    }
    layout::print(&format!("wrote\n  {}", written.join("\n  ")))?;
    Ok(Outcome::Conforms)
}

fn in_words(materials: &Materials, only: Option<List>) -> String {
    let mut text = format!("{}\n", labelled("", &visible(&materials.title), WIDTH));
    if !materials.remarks.is_empty() {
        text.push_str("\nSETTLE FIRST\n");
        for remark in &materials.remarks {
            line(&mut text, "  - ", &format!("{}: {}", remark.subject, remark.says));
        }
    }
    for list in List::ALL.into_iter().filter(|list| only.is_none_or(|only| only == *list)) {
        let _ = write!(text, "\n{}\n", list.title().to_uppercase());
        if list.is_empty(materials) {
            text.push_str("nothing: the job names no part or wire for this list\n");
            continue;
        }
        line(&mut text, "", &list.lead());
        match list {
            List::Shopping => shopping(&mut text, materials),
            List::Cuts => cuts(&mut text, materials),
            List::Ends => materials.ends.iter().for_each(|end| self::end(&mut text, end)),
            List::Hardware => hardware(&mut text, materials),
            List::Labels => labels(&mut text, materials),
        }
        let sources = sources(materials, list);
        if !sources.is_empty() {
            text.push_str("\nby:\n");
            for source in &sources {
                line(&mut text, "  - ", source);
            }
        }
    }
    text
}

fn line(text: &mut String, label: &str, words: &str) {
    let _ = writeln!(text, "{}", labelled(label, &visible(words), WIDTH));
}

fn shopping(text: &mut String, materials: &Materials) {
    let mut group = None;
    for row in &materials.shopping {
        if group != Some(row.group) {
            group = Some(row.group);
            let _ = write!(text, "\n{}\n{:>9} {:>7} {:>9}  what\n", row.group.words(), "need", "spare", "buy");
        }
        purchase(text, row);
    }
}

fn purchase(text: &mut String, row: &Purchase) {
    let amount = row.amount;
    let label = format!("{:>9} {:>7} {:>9}  ", amount.need_in_words(), amount.spare_in_words(), amount.buy_in_words());
    line(text, &label, &row.item);
    line(text, &" ".repeat(label.chars().count()), &format!("for {}", row.used_for.join(", ")));
}

fn cuts(text: &mut String, materials: &Materials) {
    let mut reel = String::new();
    for cut in &materials.cuts {
        if reel != cut.reel() {
            reel = cut.reel();
            text.push('\n');
            line(text, "", &reel);
        }
        self::cut(text, cut);
    }
}

fn cut(text: &mut String, cut: &Cut) {
    let zone = cut.zone.as_deref().map(|zone| format!(", {zone}")).unwrap_or_default();
    let cores = if cut.cable { format!(" ({})", cut.wires.join(", ")) } else { String::new() };
    let label = format!("{:>10}  ", millimetres(cut.length));
    line(text, &label, &format!("{}{cores}{zone}; {} fitted", cut.name, millimetres(cut.fitted)));
    let below = " ".repeat(label.chars().count());
    line(text, &format!("{below}= "), &sum_in_words(cut));
    for note in &cut.notes {
        line(text, &format!("{below}! "), note);
    }
}

fn end(text: &mut String, end: &End) {
    let colour = end.colour.as_deref().map(|colour| format!(", {colour}")).unwrap_or_default();
    let place = end.place.as_deref().map(|place| format!(", {place}")).unwrap_or_default();
    text.push('\n');
    line(text, "", &format!("{} at {}{place}", end.wire, end.at));
    line(text, "  wire    ", &format!("{}{colour}, to {}", end.size, end.toward));
    line(text, "  first   ", &end.first.join("; "));
    if let Some(jacket) = &end.jacket {
        line(text, "  jacket  ", &jacket.words);
    }
    line(text, "  strip   ", &format!("{}, or what the terminal's sheet says", end.strip.value));
    let (least, most) = (millimetres(end.gap_least.value), millimetres(end.gap_most.value));
    line(text, "  gap     ", &format!("the insulation ends {least} to {most} before the barrel"));
    line(text, "  put on  ", &end.terminal.words);
    line(text, "  limits  ", &limits_in_words(end));
    for note in &end.notes {
        line(text, "  mind    ", note);
    }
}

fn hardware(text: &mut String, materials: &Materials) {
    for bolt in &materials.bolts {
        let place = bolt.place.as_deref().map(|place| format!(", {place}")).unwrap_or_default();
        text.push('\n');
        line(text, "", &format!("{}: {}{place}", bolt.name, bolt_in_words(bolt)));
        line(text, "  length  ", &bolt.length_words);
        line(text, "  torque  ", &bolt.torque_words);
        line(text, "  order   ", &bolt.order.join(" - "));
    }
    materials.runs.iter().for_each(|run| self::run_of_wires(text, run));
}

fn run_of_wires(text: &mut String, run: &Run) {
    let zone = if run.zone.is_empty() { String::new() } else { format!(", {}", run.zone) };
    let tube = if run.in_tube { ", in a tube" } else { "" };
    text.push('\n');
    line(text, "run ", &format!("{}{zone}{tube}: {}", run.members.join(", "), run.length));
    let clamp = run.clamp.as_ref().map_or("measured".to_owned(), |clamp| tenths(clamp.value));
    let apart = run.spacing.value.as_rating();
    line(text, "  clamps  ", &format!("{} of bore {clamp}, at most {apart} apart", run.clamps));
    match (&run.diameter, &run.bend, &run.tube_bore) {
        (Some(diameter), Some(bend), Some(tube)) => {
            let (diameter, bend, tube) = (tenths(diameter.value), tenths(bend.value), tenths(tube.value));
            line(
                text,
                "  bundle  ",
                &format!("{diameter}; bends with an inside radius of at least {bend}; bore of a tube at least {tube}"),
            );
        }
        _ => line(text, "  bundle  ", "measure it: clamps, bends and tube follow from its diameter"),
    }
    if let Some(why) = &run.grommet {
        line(text, "  grommet ", why);
    }
    for note in &run.notes {
        line(text, "  mind    ", note);
    }
}

fn labels(text: &mut String, materials: &Materials) {
    text.push('\n');
    for label in &materials.labels {
        let over = label.over.map(|over| format!("over {}", tenths(over))).unwrap_or_default();
        line(text, "  ", &format!("{:<42}{over}", visible(&label.text)));
    }
}
