//! The circuit as built, in the detached representation of wiring diagrams: each path from a battery post through fuse,
//! contacts and joints to its load in a row of its own, and back to a ground at the right (after IEC 61082-1).
//!
//! Rows are numbered, over all sheets; contact and coil of a relay stand in different rows and name each other's. A ground
//! is drawn wherever a wire ends on it: the same name is the same stud. What would cross another row is drawn as a row of
//! its own between named terminals; a small open circle with the name of a terminal and a row is that terminal, drawn there.
//! Each wire is drawn once, with its name, the word of its colour, its size, and its length: as built where that is known.

use super::marks::{LINE, REST_CONTACT, Stand, draw};
use super::place::{BUS, Laid, ROW_NUMBER, Setting, Spot, lay, shortened};
use super::scene::{Anchor, Ink, Scene, Stroke, Type};
use super::sheet::{Limits, Sheet, Sheets, sheets};
use super::symbol::{LEADING, Symbol, WORDS};
use super::width::text_width;
use crate::job::{Job, Wire};

/// Width of a sheet: A4 across, less its margins, in points.
pub const SHEET_WIDTH: f32 = 780.0;
/// Width of a sheet whose rows are short: A4 upright, less its margins, in points.
pub const NARROW_WIDTH: f32 = 540.0;
/// Height of a sheet, in points.
pub const SHEET_HEIGHT: f32 = 520.0;
/// Room for the title at the top, in points.
const TITLE: f32 = 26.0;
/// Size of the title.
const TITLE_SIZE: f32 = 10.0;
/// Rows of a sheet: nine, and the room that a battery with a single row takes more.
const SHEET_ROWS: usize = 9;
/// No row of a job is as long as this.
const NO_LIMIT: usize = usize::MAX;
/// A conductor: its dark edge, and its colour.
const EDGE: f32 = 2.8;
const CORE: f32 = 1.5;
/// Second colour of a conductor: dash and gap.
const STRIPE: (f32, f32) = (4.0, 4.0);
/// Width of a column of the list of places.
const PLACE_COLUMN: f32 = 260.0;

/// The circuit of a job on one sheet, as high as it has rows.
///
/// `built` gives the length of a wire as it was written down on the job; where it gives none, the planned one is shown.
/// The sheet is [`NARROW_WIDTH`] wide where its rows are short, else [`SHEET_WIDTH`], with type of 7 points; only a single
/// name that is longer than that makes it wider. For paper take [`circuit_sheets`].
pub fn circuit(job: &Job, built: &dyn Fn(&str) -> Option<String>) -> Scene {
    let (found, aligned) = fitting(job, built, NO_LIMIT);
    let mut scenes = paint_all(job, built, &found, aligned, true);
    match scenes.len() {
        0 => Scene::new(says(job), SHEET_WIDTH, TITLE),
        _ => scenes.swap_remove(0),
    }
}

/// The same on sheets of at most [`SHEET_WIDTH`] by [`SHEET_HEIGHT`]: A4 across, where a path of eight wires with its
/// return has room at readable size. Where every row is short enough, they are [`NARROW_WIDTH`] wide.
///
/// A job of up to nine rows is one sheet. A larger one is split by supply: a battery, or a branch of it behind one fuse,
/// that does not fit on the rest of a sheet begins the next one; its battery is drawn again there. The list of places is
/// below the last sheet where it has room, else a low sheet of its own.
pub fn circuit_sheets(job: &Job, built: &dyn Fn(&str) -> Option<String>) -> Vec<Scene> {
    let (found, aligned) = fitting(job, built, SHEET_ROWS);
    let fits = |scenes: &[Scene]| scenes.iter().all(|scene| scene.height <= SHEET_HEIGHT);
    let whole = paint_all(job, built, &found, aligned, true);
    if fits(&whole) {
        return whole;
    }
    let mut rows = SHEET_ROWS;
    loop {
        let (found, aligned) = fitting(job, built, rows);
        let mut scenes = paint_all(job, built, &found, aligned, false);
        if fits(&scenes) || rows == 1 {
            scenes.extend(places_alone(job, &found));
            return scenes;
        }
        rows -= 1;
    }
}

fn says(job: &Job) -> String {
    let count = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
    format!(
        "Circuit of {}: {} from {} over {} to {}",
        job.title,
        count(job.wires.len(), "wire"),
        if job.further_batteries.is_empty() {
            "the battery".to_owned()
        } else {
            count(job.further_batteries.len() + 1, "battery").replace("batterys", "batteries")
        },
        count(job.fuses.len(), "fuse"),
        count(job.loads.len(), "load"),
    )
}

/// The sheets with the longest rows that fit the width, and whether their columns can be aligned.
fn fitting(job: &Job, built: &dyn Fn(&str) -> Option<String>, rows: usize) -> (Sheets, bool) {
    // A job has no longer path than it has wires.
    let longest = 2 * job.wires.len() + 2;
    let mut limits = Limits { rows, depth: longest, height: longest };
    loop {
        let found = sheets(job, limits);
        for aligned in [true, false] {
            if laid(job, built, &found, aligned).iter().all(|laid| laid.width <= SHEET_WIDTH) {
                return (found, aligned);
            }
        }
        let deepest = |trees: &dyn Fn(&Sheet) -> usize| found.each.iter().map(trees).max().unwrap_or(0);
        let depth = deepest(&|sheet| sheet.trees.iter().map(super::returns::height).max().unwrap_or(0));
        let height = deepest(&|sheet| sheet.returns.iter().map(super::returns::height).max().unwrap_or(0));
        let (depth, height) = (depth.min(limits.depth), height.min(limits.height));
        if depth <= 2 && height <= 1 {
            return (found, false);
        }
        if depth >= height && depth > 2 {
            limits.depth = depth - 1;
        } else {
            limits.height = height.saturating_sub(1).max(1);
            limits.depth = limits.depth.min(depth.max(2));
        }
    }
}

fn setting<'j>(
    job: &'j Job,
    built: &'j dyn Fn(&str) -> Option<String>,
    found: &'j Sheets,
    aligned: bool,
) -> Setting<'j> {
    Setting { job, built, at: &found.at, aligned }
}

fn laid<'c>(job: &Job, built: &dyn Fn(&str) -> Option<String>, found: &'c Sheets, aligned: bool) -> Vec<Laid<'c>> {
    let setting = setting(job, built, found, aligned);
    let each =
        |sheet: &'c Sheet| lay(&setting, (&sheet.trees, &sheet.returns), &found.rows, sheet.first_row - 1, TITLE);
    found.each.iter().map(each).collect()
}

fn paint_all(
    job: &Job,
    built: &dyn Fn(&str) -> Option<String>,
    found: &Sheets,
    aligned: bool,
    with_places: bool,
) -> Vec<Scene> {
    let setting = setting(job, built, found, aligned);
    let all = laid(job, built, found, aligned);
    let count = all.len();
    let mut scenes = Vec::new();
    let widest = all.iter().map(|laid| laid.width).fold(0.0, f32::max);
    let width = widest.max(NARROW_WIDTH);
    for (index, (laid, sheet)) in all.iter().zip(&found.each).enumerate() {
        let mut scene = Scene::new(says(job), width, laid.bottom);
        let right = if count > 1 { format!("sheet {} of {count}", index + 1) } else { String::new() };
        heading(&mut scene, job, &right);
        for (row, line) in laid.lines.iter().enumerate() {
            let number = (sheet.first_row + row).to_string();
            scene.text((1.0, line + 2.5), number, Type::of(ROW_NUMBER).in_ink(Ink::SOFT));
        }
        let negative = |at: usize| sheet.trees.get(at + 1).is_some_and(|t| matches!(t.symbol, Symbol::Negative(_)));
        for (at, spot) in laid.trees.iter().enumerate() {
            tree(&mut scene, &setting, spot, false, negative(at));
            if negative(at) {
                let below = &laid.trees[at + 1];
                let start = spot.y + super::marks::CELLS_END;
                scene.line(&[(spot.x, start), (spot.x, below.y), (below.x + below.reach, below.y)], LINE);
            }
        }
        for spot in &laid.returns {
            tree(&mut scene, &setting, spot, true, false);
        }
        if with_places && index + 1 == count {
            places(&mut scene, job, found);
        }
        scenes.push(scene);
    }
    scenes
}

fn heading(scene: &mut Scene, job: &Job, right: &str) {
    let end = scene.width - text_width(right, WORDS, false) - 12.0;
    let title = shortened(&format!("Circuit: {}", job.title), TITLE_SIZE, end);
    scene.text((1.0, TITLE_SIZE), title, Type::of(TITLE_SIZE).bold());
    if !right.is_empty() {
        let kind = Type::of(WORDS).anchored(Anchor::End).in_ink(Ink::SOFT);
        scene.text((scene.width - 1.0, TITLE_SIZE), right, kind);
    }
}

/// Draws a tree: its conductors with their labels, the upright lines between rows, then the symbols over them.
fn tree(scene: &mut Scene, setting: &Setting, spot: &Spot, mirrored: bool, negative_wired: bool) {
    let side = if mirrored { -1.0 } else { 1.0 };
    let edge = spot.x + side * spot.reach;
    let several = spot.branches.len() > 1;
    let ports: Vec<usize> = if mirrored { vec![0] } else { vec![0, 1] };
    for port in ports {
        let own: Vec<&Spot> =
            spot.branches.iter().filter(|(of, _)| mirrored || *of == port).map(|(_, branch)| branch).collect();
        let Some(last) = own.last() else { continue };
        let down = if port == 1 { REST_CONTACT } else { 0.0 };
        // The line of the second port runs down left of that of the first.
        let bus = if several { edge + side * if port == 1 { 1.0 } else { BUS } } else { edge };
        let start = spot.y + down;
        if several || port == 1 {
            scene.line(&[(edge, start), (bus, start), (bus, last.y)], LINE);
        }
        for branch in own {
            let far = branch.x - side * branch.reach;
            conductor(scene, setting, branch.cell.wire, (bus, far), branch.y);
        }
    }
    for (_, branch) in &spot.branches {
        tree(scene, setting, branch, mirrored, false);
    }
    let reached = spot.cell.wire.is_some() || !is_root(spot);
    let goes_on = !spot.branches.is_empty();
    let joined = if mirrored { (goes_on, reached) } else { (reached, goes_on) };
    let stand = Stand { at: (spot.x, spot.y), reach: spot.reach, joined, negative_wired };
    draw(scene, setting.job, &spot.cell.symbol, &spot.words, stand);
}

/// Roots are reached by nothing; a part without a wire of its own hangs on a joint before it.
fn is_root(spot: &Spot) -> bool {
    spot.cell.wire.is_none() && matches!(spot.cell.symbol, Symbol::Supply(_) | Symbol::Negative(_) | Symbol::Ground(_))
        || matches!(spot.cell.symbol, Symbol::Terminal(_)) && spot.cell.wire.is_none() && !spot.branches.is_empty()
}

fn conductor(scene: &mut Scene, setting: &Setting, wire: Option<usize>, (from, to): (f32, f32), y: f32) {
    let Some(wire) = wire.and_then(|index| setting.job.wires.get(index)) else {
        scene.line(&[(from, y), (to, y)], LINE);
        return;
    };
    let (first, second) = inks(wire);
    let ends = [(from, y), (to, y)];
    scene.line(&ends, Stroke::plain(Ink::DARK, EDGE));
    scene.line(&ends, Stroke::plain(first, CORE));
    if let Some(second) = second {
        scene.line(&ends, Stroke::dashed(second, CORE, STRIPE.0, STRIPE.1));
    }
    let middle = f32::midpoint(from, to);
    let kind = Type::of(WORDS).anchored(Anchor::Middle);
    let label = setting.label(wire);
    let lines = label.above.len();
    for (index, text) in label.above.into_iter().enumerate() {
        scene.text((middle, y - 4.5 - LEADING * (lines - 1 - index) as f32), text, kind);
    }
    for (index, text) in label.below.into_iter().enumerate() {
        scene.text((middle, y + 8.5 + LEADING * index as f32), text, kind);
    }
}

/// Words of colours of insulation, and how they are drawn.
const COLOURS: [(&str, Ink); 16] = [
    ("red", Ink(0xc8, 0x23, 0x2c)),
    ("black", Ink(0x1c, 0x21, 0x26)),
    ("yellow", Ink(0xf2, 0xcf, 0x1d)),
    ("white", Ink(0xff, 0xff, 0xff)),
    ("green", Ink(0x2e, 0x8b, 0x3d)),
    ("blue", Ink(0x2a, 0x62, 0xc4)),
    ("brown", Ink(0x7a, 0x4a, 0x24)),
    ("orange", Ink(0xe8, 0x7d, 0x1e)),
    ("grey", Ink(0x9a, 0x9f, 0xa3)),
    ("gray", Ink(0x9a, 0x9f, 0xa3)),
    ("violet", Ink(0x7d, 0x4a, 0xa8)),
    ("purple", Ink(0x7d, 0x4a, 0xa8)),
    ("pink", Ink(0xe8, 0x9a, 0xb4)),
    ("tan", Ink(0xd2, 0xb4, 0x8c)),
    ("beige", Ink(0xd2, 0xb4, 0x8c)),
    ("turquoise", Ink(0x3a, 0xb5, 0xb0)),
];

/// The colours of a conductor, as far as its words name them; a plain pale one where they do not.
fn inks(wire: &Wire) -> (Ink, Option<Ink>) {
    let words = wire.colour.as_deref().unwrap_or_default().to_lowercase();
    let known = |word: &str| COLOURS.iter().find(|(name, _)| *name == word).map(|(_, ink)| *ink);
    let mut found = words.split(|c: char| !c.is_alphabetic()).filter_map(known);
    (found.next().unwrap_or(Ink::PALE), found.next())
}

/// Where the parts are, and what no wire reaches, below the rows.
fn places(scene: &mut Scene, job: &Job, found: &Sheets) {
    let list = place_list(job);
    if list.is_empty() && found.unwired.is_empty() {
        return;
    }
    let mut y = scene.height + LEADING;
    scene.line(&[(1.0, y), (scene.width - 1.0, y)], Stroke::plain(Ink::PALE, 0.6));
    y += LEADING + 3.0;
    let columns = if scene.width < 2.9 * PLACE_COLUMN { 2 } else { 3 };
    let rows = list.len().div_ceil(columns);
    let column = scene.width / columns as f32;
    let soft = Type::of(WORDS).in_ink(Ink::SOFT);
    for (index, (name, place)) in list.iter().enumerate() {
        let at = ((index / rows.max(1)) as f32 * column + 1.0, y + (index % rows.max(1)) as f32 * (LEADING + 1.0));
        let wide = text_width(name, WORDS, true) + 4.0;
        scene.text(at, name.clone(), Type::of(WORDS).bold());
        scene.text((at.0 + wide, at.1), shortened(place, WORDS, column - wide - 10.0), soft);
    }
    y += rows as f32 * (LEADING + 1.0);
    let mut line = String::new();
    let mut lines = Vec::new();
    for text in &found.unwired {
        let next = if line.is_empty() { format!("No wire ends at: {text}") } else { format!("{line}, {text}") };
        if text_width(&next, WORDS, false) > scene.width - 4.0 && !line.is_empty() {
            lines.push(format!("{line},"));
            line.clone_from(text);
        } else {
            line = next;
        }
    }
    lines.extend(Some(line).filter(|line| !line.is_empty()));
    for text in lines {
        scene.text((1.0, y), text, Type::of(WORDS));
        y += LEADING + 1.0;
    }
    scene.height = y;
}

/// The list of places as a low sheet; `None` where there is nothing to say.
fn places_alone(job: &Job, found: &Sheets) -> Option<Scene> {
    if place_list(job).is_empty() && found.unwired.is_empty() {
        return None;
    }
    let mut scene = Scene::new(format!("Where the parts of {} are", job.title), NARROW_WIDTH, TITLE - 12.0);
    scene.text((1.0, TITLE_SIZE), "Places", Type::of(TITLE_SIZE).bold());
    places(&mut scene, job, found);
    Some(scene)
}

fn place_list(job: &Job) -> Vec<(String, String)> {
    let mut list = Vec::new();
    let mut add = |name: &str, place: Option<&String>| {
        list.extend(place.filter(|p| !p.trim().is_empty()).map(|p| (name.to_owned(), p.trim().to_owned())));
    };
    job.further_batteries.iter().for_each(|b| add(&b.name, b.place.as_ref()));
    job.fuses.iter().for_each(|f| add(&f.name, f.place.as_ref()));
    job.relays.iter().for_each(|r| add(&r.name, r.place.as_ref()));
    job.switches.iter().for_each(|s| add(&s.name, s.place.as_ref()));
    job.connectors.iter().for_each(|c| add(&c.name, c.place.as_ref()));
    job.splices.iter().for_each(|s| add(&s.name, s.place.as_ref()));
    job.grounds.iter().for_each(|g| add(&g.name, g.place.as_ref()));
    job.loads.iter().for_each(|l| add(&l.name, l.place.as_ref()));
    list
}

#[cfg(test)]
#[path = "circuit_tests.rs"]
mod tests;
