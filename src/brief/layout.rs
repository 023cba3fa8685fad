//! Which parts there are, and which wire joins what: before any of them has its size.

use super::answers::{Kind, Zone};
use super::names::{Counter, plain_name};
use super::{Asking, Brief};
use crate::handbook::assumption::factor;
use crate::quantity::{ConductorSize, Length};

/// A wire without its size.
#[derive(Debug, Clone)]
pub(super) struct WirePart {
    pub name: String,
    pub from: String,
    pub to: String,
    /// As the job file writes it, with its tolerance.
    pub length: String,
    pub zone: String,
    pub colour: &'static str,
    /// Its size, where it comes with the load.
    pub given: Option<ConductorSize>,
    /// The wire that brings the current which this one takes back: it is never thinner, since a fault sends through it
    /// what the fuse lets through.
    pub brought_by: Option<String>,
    /// What the file remarks on it.
    pub note: Option<String>,
}

/// A fuse without its rating.
#[derive(Debug, Clone)]
pub(super) struct FusePart {
    pub name: String,
    pub place: String,
    /// Whether it feeds only the coil of the relay.
    pub for_coil: bool,
}

/// A part that is no more than its name and its place.
#[derive(Debug, Clone)]
pub(super) struct Part {
    pub name: String,
    pub place: String,
}

/// All parts.
#[derive(Debug, Clone, Default)]
pub(super) struct Layout {
    pub loads: Vec<Part>,
    pub fuses: Vec<FusePart>,
    pub relay: Option<Part>,
    pub switch: Option<Part>,
    pub connector: Option<Part>,
    pub splices: Vec<Part>,
    /// The ground points that are new.
    pub grounds: Vec<Part>,
    pub mounts: Vec<(Part, String)>,
    pub wires: Vec<WirePart>,
}

/// The stub before a fuse: as near to the battery as a holder sits, and below the 178 mm of 33 CFR 183.455.
const STUB: &str = "0.15 m ± 5 %";
/// From a fuse to the relay beside it, and from there to the ground of the coil.
const BESIDE: &str = "0.3 m ± 20 %";

/// A length of an answer as the file writes it: what nobody measured may be off by more.
fn length(brief: &Brief, id: &str) -> String {
    let off = factor(if brief.given(id).is_some() { "measured-length" } else { "taken-length" });
    let text = brief.holds(id).unwrap_or_default();
    if text.contains('±') || text.contains("+/-") || text.contains("..") {
        return text;
    }
    format!("{text} ± {} %", off.value)
}

/// A length as a file writes it: metres to the millimetre, without zeros at the end.
pub(super) fn in_metres(length: Length) -> String {
    format!("{} m", (length.as_metres() * 1e3).round() / 1e3)
}

fn taken_note(brief: &Brief, id: &str) -> Option<String> {
    brief.given(id).is_none().then(|| "length not measured: taken long; the walk asks for the real one".to_owned())
}

struct Builder<'b> {
    brief: &'b Brief,
    counter: Counter,
    layout: Layout,
}

impl Builder<'_> {
    fn wire(&mut self, ends: (&str, &str), length: String, zone: String, colour: &'static str) -> &mut WirePart {
        let name = self.counter.next("w");
        let (from, to) = (ends.0.to_owned(), ends.1.to_owned());
        self.layout.wires.push(WirePart {
            name,
            from,
            to,
            length,
            zone,
            colour,
            given: None,
            brought_by: None,
            note: None,
        });
        let last = self.layout.wires.len() - 1;
        &mut self.layout.wires[last]
    }

    /// A wire on the way to the load, with its length and zone; gives its name.
    fn feed(&mut self, ends: (&str, &str), run: (String, String), note: Option<String>) -> String {
        let wire = self.wire(ends, run.0, run.1, "red");
        wire.note = note;
        wire.name.clone()
    }

    fn fuse(&mut self, for_coil: bool) -> String {
        let name = self.counter.next("F");
        let place = match self.brief.battery_zone() {
            Zone::EngineBay => "holder beside the battery, cap down",
            _ => "holder beside the battery",
        };
        self.layout.fuses.push(FusePart { name: name.clone(), place: place.to_owned(), for_coil });
        let zone = self.brief.battery_zone().words().to_owned();
        let stub = self.wire(("battery.+", &format!("{name}.in")), STUB.to_owned(), zone, "red");
        stub.note = Some("no fuse before it: at most 178 mm".to_owned());
        name
    }

    fn part(&mut self, letter: &str, place: &str) -> Part {
        Part { name: self.counter.next(letter), place: place.to_owned() }
    }

    /// From the battery through fuse, switch and relay; gives the terminal behind which the way to the load begins, its
    /// zone there, and the answers that hold its whole length.
    fn control(&mut self) -> (String, Zone, Vec<&'static str>) {
        let brief = self.brief;
        let (battery, fuse) = (brief.battery_zone(), self.fuse(false));
        if !brief.has_switch() {
            return (format!("{fuse}.out"), battery, vec!["way"]);
        }
        let place = brief.holds("switch_place").unwrap_or_default();
        let switch = self.part("S", &place);
        let to_switch = (length(brief, "switch_way"), battery.on_to(Zone::Cabin));
        let note = taken_note(brief, "switch_way");
        if !brief.has_relay() {
            let ends = (format!("{fuse}.out"), format!("{}.in", switch.name));
            self.wire((&ends.0, &ends.1), to_switch.0, to_switch.1, "red").note = note;
            let out = format!("{}.out", switch.name);
            self.layout.switch = Some(switch);
            return (out, Zone::Cabin, vec!["switch_way", "way"]);
        }
        let relay = self.part("K", &format!("beside {fuse}, terminals down"));
        let zone = || battery.words().to_owned();
        self.wire((&format!("{fuse}.out"), &format!("{}.30", relay.name)), BESIDE.to_owned(), zone(), "red");
        let coil_fuse = self.fuse(true);
        let (to, out) = (format!("{}.in", switch.name), format!("{}.out", switch.name));
        self.wire((&format!("{coil_fuse}.out"), &to), to_switch.0.clone(), to_switch.1.clone(), "yellow").note = note;
        self.wire((&out, &format!("{}.86", relay.name)), to_switch.0, to_switch.1, "white");
        let out = format!("{}.87", relay.name);
        (self.layout.switch, self.layout.relay) = (Some(switch), Some(relay));
        (out, battery, vec!["way"])
    }

    /// The ground point of the load, and the length and zone of the wire from there.
    fn ground(&mut self, feed: &[&'static str]) -> (String, String, String) {
        let brief = self.brief;
        let by_wire = brief.is("return", "wire");
        let chosen = brief.holds("ground").filter(|ground| brief.existing().is_some() && ground != "new");
        let name = chosen.unwrap_or_else(|| {
            let place = if by_wire {
                "body metal where the battery's own ground cable is bolted"
            } else {
                "bare body metal near the load, not a hinge and not a bracket"
            };
            let part = self.part("G", place);
            let name = part.name.clone();
            self.layout.grounds.push(part);
            name
        });
        if !by_wire {
            return (name, length(brief, "ground_way"), brief.load_zone().words().to_owned());
        }
        let whole = feed.iter().fold(Length::metres(0.0), |sum, id| sum + brief.metres(id));
        let zone = brief.battery_zone().on_to(brief.load_zone());
        let off = factor(if brief.given("way").is_some() { "measured-length" } else { "taken-length" });
        (name, format!("{} ± {} %", in_metres(whole), off.value), zone)
    }

    /// The ground of the relay's coil: that of the load where it is beside the battery, else one of its own.
    fn coil_ground(&mut self, of_load: &str) {
        let Some(relay) = self.layout.relay.clone() else { return };
        let ground = if self.brief.is("return", "wire") {
            of_load.to_owned()
        } else {
            let part = self.part("G", &format!("bare body metal beside {}", relay.name));
            let name = part.name.clone();
            self.layout.grounds.push(part);
            name
        };
        let zone = self.brief.battery_zone().words().to_owned();
        self.wire((&ground, &format!("{}.85", relay.name)), BESIDE.to_owned(), zone, "black");
    }

    fn one_load(&mut self, name: &str) {
        let brief = self.brief;
        let (out, zone, feed) = self.control();
        let run = (length(brief, "way"), zone.on_to(brief.load_zone()));
        let note = taken_note(brief, "way");
        let Some((lead, size)) = brief.lead() else {
            let there = self.feed((&out, &format!("{name}.+")), run, note);
            let (ground, length, zone) = self.ground(&feed);
            self.wire((&ground, &format!("{name}.-")), length, zone, "black").brought_by = Some(there);
            return self.coil_ground(&ground);
        };
        let connector = self.part("X", &format!("at {name}"));
        let (a, b) = (format!("{}.A", connector.name), format!("{}.B", connector.name));
        self.layout.connector = Some(connector);
        let there = self.feed((&out, &a), run, note);
        let (ground, length, zone) = self.ground(&feed);
        self.wire((&ground, &b), length, zone, "black").brought_by = Some(there);
        for (from, pole, colour) in [(a, "+", "red"), (b, "-", "black")] {
            let zone = brief.load_zone().words().to_owned();
            let text = format!("{} ± 5 %", in_metres(lead));
            let wire = self.wire((&from, &format!("{name}.{pole}")), text, zone, colour);
            wire.given = Some(size);
            wire.note = Some("the lead of the load itself: its size stays".to_owned());
        }
        self.coil_ground(&ground);
    }

    /// Several lamps: a common way, and a branch to each.
    fn several(&mut self, names: &[String]) {
        let brief = self.brief;
        let (out, zone, feed) = self.control();
        let feed_splice = self.part("J", "where the branches begin");
        let back_splice = self.part("J", &format!("beside {}, 60 mm from it", feed_splice.name));
        let run = (length(brief, "way"), zone.on_to(brief.load_zone()));
        let there = self.feed((&out, &feed_splice.name), run, taken_note(brief, "way"));
        let (ground, back, zone) = self.ground(&feed);
        self.wire((&ground, &back_splice.name), back, zone, "black").brought_by = Some(there);
        let branch = (length(brief, "branch"), brief.load_zone().words().to_owned());
        for name in names {
            let there = self.feed((&feed_splice.name, &format!("{name}.+")), branch.clone(), None);
            let ends = (back_splice.name.clone(), format!("{name}.-"));
            self.wire((&ends.0, &ends.1), branch.0.clone(), branch.1.clone(), "black").brought_by = Some(there);
        }
        self.layout.splices = vec![feed_splice, back_splice];
        self.coil_ground(&ground);
    }
}

impl Layout {
    pub(super) fn of(brief: &Brief) -> Layout {
        let name = plain_name(&brief.holds("name").unwrap_or_default());
        let names: Vec<String> = match brief.count() {
            1 => vec![name],
            2 => ["left", "right"].map(|side| format!("{name}-{side}")).to_vec(),
            many => (1..=many).map(|n| format!("{name}-{n}")).collect(),
        };
        let mut builder = Builder { brief, counter: Counter::of(brief.existing()), layout: Layout::default() };
        match names.as_slice() {
            [one] => builder.one_load(one),
            several => builder.several(several),
        }
        let mut layout = builder.layout;
        let place = brief.holds("place").unwrap_or_default();
        let bolt = brief.holds("bolt").filter(|bolt| bolt != "none");
        for name in names {
            if let Some(bolt) = &bolt {
                let bracket = if brief.kind() == Kind::Fridge { "plate" } else { "bracket" };
                let mount = Part { name: format!("{name}-{bracket}"), place: place.clone() };
                layout.mounts.push((mount, bolt.clone()));
            }
            layout.loads.push(Part { name, place: place.clone() });
        }
        layout
    }
}
