//! Draws the symbols of a circuit drawing at their places.

use super::scene::{Anchor, Ink, Scene, Stroke, Type};
use super::symbol::{BESIDE, HALF, LEADING, NAME, Symbol, WORDS, Words, beside_cells, kind_of};
use crate::job::{Job, LoadKind};

/// Lines of symbols and of connections without a wire.
pub(super) const LINE: Stroke = Stroke::plain(Ink::DARK, 1.0);
/// Plates of a battery cell on its negative side.
const PLATE: Stroke = Stroke::plain(Ink::DARK, 2.4);
/// Base line of the lowest words above a symbol, from the line of its row, in points.
pub(super) const ABOVE: f32 = -12.0;
/// Base line of the names of terminals.
const PINS: f32 = 8.5;
/// Between a symbol and the name of a terminal.
const PIN_AIR: f32 = 1.0;
/// Base line of the first words below a symbol.
pub(super) const BELOW: f32 = 17.5;
/// From the line of the row down to where contact 87a goes on.
pub(super) const REST_CONTACT: f32 = 9.0;
/// From a battery's post down to its first plate, and down to its other end.
const PLATES: f32 = 12.0;
pub(super) const CELLS_END: f32 = 40.0;
/// Below the post of a battery nothing of it reaches farther than this.
pub(super) const SUPPLY_DEPTH: f32 = 64.0;

/// Where a symbol stands, and what it is joined to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stand {
    /// Its middle, and the line of its row.
    pub at: (f32, f32),
    /// How far its stubs go.
    pub reach: f32,
    /// Whether something is joined to its left and right.
    pub joined: (bool, bool),
    /// Whether a wire goes down from the negative side of a battery.
    pub negative_wired: bool,
}

/// Draws a symbol with its words.
pub(super) fn draw(scene: &mut Scene, job: &Job, symbol: &Symbol, words: &Words, stand: Stand) {
    let (x, y) = stand.at;
    let body = match symbol {
        Symbol::Supply(_) | Symbol::Negative(_) | Symbol::Ground(_) | Symbol::Pin(_) => 0.0,
        other => other.body(job),
    };
    let both = !matches!(
        symbol,
        Symbol::Terminal(_) | Symbol::Ground(_) | Symbol::Supply(_) | Symbol::Splice(_) | Symbol::Negative(_)
    );
    if stand.joined.0 || both {
        scene.line(&[(x - stand.reach, y), (x - body, y)], LINE);
    }
    if stand.joined.1 || both {
        scene.line(&[(x + body, y), (x + stand.reach, y)], LINE);
    }
    match symbol {
        Symbol::Supply(name) => supply(scene, job, name, stand),
        Symbol::Negative(_) | Symbol::Pin(_) => {}
        Symbol::Fuse { .. } => fuse(scene, job, symbol, (x, y)),
        Symbol::Switch { .. } => contact(scene, (x, y), true, false),
        Symbol::Contact { changes_over, .. } => {
            contact(scene, (x, y), words.left == "30", *changes_over);
            if *changes_over {
                scene.line(&[(x + HALF, y + REST_CONTACT), (x + stand.reach, y + REST_CONTACT)], LINE);
            }
        }
        Symbol::Coil { .. } => {
            rectangle(scene, (x, y), 7.0, 6.0);
            scene.line(&[(x - 3.5, y + 6.0), (x + 3.5, y - 6.0)], Stroke::plain(Ink::DARK, 0.8));
        }
        Symbol::Cavity { .. } => chevrons(scene, (x, y)),
        Symbol::Splice(_) => scene.circle((x, y), 2.4, Some(Ink::DARK), None),
        Symbol::Ground(_) => ground(scene, (x, y)),
        Symbol::Load { name, .. } => load(scene, kind_of(job, name), (x, y)),
        Symbol::Terminal(_) => scene.circle((x, y), 1.8, Some(Ink::WHITE), Some(LINE)),
    }
    write(scene, symbol, words, (x, y), body);
}

fn write(scene: &mut Scene, symbol: &Symbol, words: &Words, (x, y): (f32, f32), body: f32) {
    let middle = Type::of(WORDS).anchored(Anchor::Middle);
    // What is small has its name close by.
    let lowest = match symbol {
        Symbol::Splice(_) | Symbol::Terminal(_) | Symbol::Ground(_) => -5.0,
        Symbol::Cavity { .. } => -7.5,
        _ => ABOVE,
    };
    let lines = words.above.len();
    for (index, text) in words.above.iter().enumerate() {
        let up = lowest - LEADING * (lines - 1 - index) as f32;
        let kind = if index == 0 { Type { size: NAME, ..middle }.bold() } else { middle };
        scene.text((x, y + up), text.clone(), kind);
    }
    let below = if matches!(symbol, Symbol::Terminal(_)) { PINS + 1.0 } else { BELOW };
    for (index, text) in words.below.iter().enumerate() {
        scene.text((x, y + below + LEADING * index as f32), text.clone(), middle);
    }
    let pin = Type::of(WORDS).in_ink(Ink::SOFT);
    // Names of terminals stand below the stubs, close to the symbol.
    let (left, right) = (x - body - PIN_AIR, x + body + PIN_AIR);
    if !words.left.is_empty() {
        scene.text((left, y + PINS), words.left.clone(), pin.anchored(Anchor::End));
    }
    let changes_over = matches!(symbol, Symbol::Contact { changes_over: true, .. });
    if !words.right.is_empty() {
        // Below the line of 87 runs that of 87a.
        let down = if changes_over { -3.0 } else { PINS };
        scene.text((right, y + down), words.right.clone(), pin);
    }
    if changes_over {
        scene.text((right, y + REST_CONTACT + PINS - 1.0), "87a", pin);
    }
}

fn rectangle(scene: &mut Scene, (x, y): (f32, f32), half: f32, high: f32) {
    let corners = [(x - half, y - high), (x + half, y - high), (x + half, y + high), (x - half, y + high)];
    scene.area(&corners, Some(Ink::WHITE), Some(LINE));
}

fn fuse(scene: &mut Scene, job: &Job, symbol: &Symbol, (x, y): (f32, f32)) {
    let breaker = matches!(symbol, Symbol::Fuse { name, .. }
        if job.fuses.iter().any(|f| f.name == *name && f.style.is_none()));
    if breaker {
        contact(scene, (x, y), true, false);
        // The cross on the fixed contact stands for opening by itself.
        scene.line(&[(x + HALF - 2.5, y - 2.5), (x + HALF + 2.5, y + 2.5)], LINE);
        scene.line(&[(x + HALF - 2.5, y + 2.5), (x + HALF + 2.5, y - 2.5)], LINE);
        return;
    }
    rectangle(scene, (x, y), HALF, 3.5);
    scene.line(&[(x - HALF, y), (x + HALF, y)], LINE);
}

/// A make contact, drawn open; a changeover contact rests on its lower side.
fn contact(scene: &mut Scene, (x, y): (f32, f32), pivot_left: bool, changes_over: bool) {
    let side = if pivot_left { 1.0 } else { -1.0 };
    let tip = if changes_over { (x + HALF * 0.8, y + REST_CONTACT - 1.5) } else { (x + side * HALF * 0.85, y - 7.0) };
    scene.line(&[(x - side * HALF, y), tip], Stroke::plain(Ink::DARK, 1.2));
    for place in [x - HALF, x + HALF] {
        scene.circle((place, y), 1.2, Some(Ink::WHITE), Some(LINE));
    }
    if changes_over {
        scene.circle((x + HALF, y + REST_CONTACT), 1.2, Some(Ink::WHITE), Some(LINE));
    }
}

fn chevrons(scene: &mut Scene, (x, y): (f32, f32)) {
    scene.line(&[(x - 5.0, y), (x + 5.0, y)], LINE);
    for place in [x - 4.0, x] {
        scene.line(&[(place, y - 4.0), (place + 4.0, y), (place, y + 4.0)], LINE);
    }
}

fn ground(scene: &mut Scene, (x, y): (f32, f32)) {
    scene.line(&[(x, y), (x, y + 5.0)], LINE);
    for (down, half) in [(5.0, 7.0), (7.5, 4.5), (10.0, 2.0)] {
        scene.line(&[(x - half, y + down), (x + half, y + down)], LINE);
    }
}

fn load(scene: &mut Scene, kind: Option<&LoadKind>, (x, y): (f32, f32)) {
    if matches!(kind, Some(LoadKind::Resistor { .. }) | None) {
        rectangle(scene, (x, y), HALF, 3.5);
        return;
    }
    scene.circle((x, y), HALF, Some(Ink::WHITE), Some(LINE));
    if matches!(kind, Some(LoadKind::Motor { .. })) {
        scene.text((x, y + 3.2), "M", Type::of(9.0).bold().anchored(Anchor::Middle));
        return;
    }
    let arm = HALF * std::f32::consts::FRAC_1_SQRT_2;
    if matches!(kind, Some(LoadKind::Filament { .. })) {
        scene.line(&[(x - arm, y - arm), (x + arm, y + arm)], LINE);
        scene.line(&[(x - arm, y + arm), (x + arm, y - arm)], LINE);
        return;
    }
    // The diode inside the circle tells the light with a driver from one with a filament.
    scene.line(&[(x - HALF, y), (x + HALF, y)], LINE);
    scene.area(&[(x - 4.0, y - 4.0), (x - 4.0, y + 4.0), (x + 3.0, y)], Some(Ink::DARK), Some(LINE));
    scene.line(&[(x + 3.5, y - 4.5), (x + 3.5, y + 4.5)], LINE);
}

fn supply(scene: &mut Scene, job: &Job, name: &str, stand: Stand) {
    let (x, y) = stand.at;
    scene.circle((x, y), 1.8, Some(Ink::WHITE), Some(LINE));
    scene.text((x - 4.0, y + 3.0), "+", Type::of(NAME).bold().anchored(Anchor::End));
    scene.line(&[(x, y + 1.8), (x, y + PLATES)], LINE);
    for (index, down) in [0.0, 4.0, 8.0, 12.0].into_iter().enumerate() {
        let (half, stroke) = if index % 2 == 0 { (8.0, LINE) } else { (4.0, PLATE) };
        scene.line(&[(x - half, y + PLATES + down), (x + half, y + PLATES + down)], stroke);
    }
    scene.line(&[(x, y + PLATES + 12.0), (x, y + CELLS_END)], LINE);
    for (index, text) in beside_cells(job, name).iter().enumerate() {
        scene.text((x + BESIDE, y + PLATES + 4.0 + LEADING * index as f32), text.clone(), Type::of(WORDS));
    }
    scene.text((x - 4.0, y + CELLS_END), "−", Type::of(NAME).bold().anchored(Anchor::End));
    if name == "battery" {
        ground(scene, (x, y + CELLS_END));
        scene.text((x, y + CELLS_END + 18.0), "body", Type::of(WORDS).anchored(Anchor::Middle));
    } else if !stand.negative_wired {
        scene.circle((x, y + CELLS_END + 1.8), 1.8, Some(Ink::WHITE), Some(LINE));
    }
}
