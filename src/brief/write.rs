//! The job file as a careful person writes it: in the order of the current, with a reason where one is needed.

use std::collections::BTreeMap;
use std::fmt::Write;

use super::answers::Kind;
use super::layout::{Layout, Part, WirePart};
use super::{Asking, Brief};
use crate::handbook::assumption::{assumed, factor};
use crate::handbook::conductor::usual_outer;
use crate::handbook::relay::RelayKind;
use crate::job::BatteryKind;
use crate::quantity::{ConductorSize, Current, Length, Quantity, Resistance, Toleranced, Voltage, show_rating};

/// What the layout leaves open.
#[derive(Debug, Clone)]
pub(super) struct Values {
    pub fuses: BTreeMap<String, Current>,
    pub sizes: BTreeMap<String, ConductorSize>,
    pub relay: Option<RelayKind>,
    /// Rated current of one contact of the connector.
    pub contact: Current,
    /// Insulation diameters that the seal of the connector takes.
    pub seal: Option<(Length, Length)>,
    /// The share of the voltage that the way may take: `3 %`.
    pub drop: String,
    /// What the file remarks on a part.
    pub notes: BTreeMap<String, String>,
}

/// Where a remark behind a value begins.
const COLUMN: usize = 40;
/// Longest line with a remark at its end.
const LONGEST: usize = 118;

#[derive(Default)]
struct Text(String);

impl Text {
    /// A line between groups of parts.
    fn group(&mut self, title: &str) {
        let _ = writeln!(self.0, "\n# --- {title} {}", "-".repeat(70usize.saturating_sub(title.chars().count())));
    }

    /// The heading of a table, with a remark behind it or above.
    fn table(&mut self, path: &str, note: Option<&str>) {
        if !self.0.is_empty() && !self.0.ends_with("-\n") {
            self.0.push('\n');
        }
        self.line(&format!("[{path}]"), note);
    }

    fn line(&mut self, line: &str, note: Option<&str>) {
        let Some(note) = note.filter(|note| !note.is_empty()) else {
            self.0.push_str(line);
            self.0.push('\n');
            return;
        };
        let behind = line.chars().count().max(COLUMN - 1) + 3 + note.chars().count();
        if behind <= LONGEST {
            let _ = writeln!(self.0, "{line:<width$} # {note}", width = COLUMN - 1);
        } else {
            for part in textwrap::wrap(note, LONGEST - 2) {
                let _ = writeln!(self.0, "# {part}");
            }
            let _ = writeln!(self.0, "{line}");
        }
    }

    /// A key with a text.
    fn key(&mut self, key: &str, value: impl AsRef<str>) {
        self.noted(key, value, None);
    }

    fn noted(&mut self, key: &str, value: impl AsRef<str>, note: Option<&str>) {
        let value = toml::Value::String(value.as_ref().to_owned());
        self.line(&format!("{key} = {value}"), note);
    }
}

/// Everything before the parts: title, vehicle, sources, surroundings.
pub(super) fn head(brief: &Brief, title: &str) -> String {
    let holds = |id: &str| brief.holds(id).unwrap_or_default();
    let taken = |id: &str| brief.given(id).is_none().then_some("taken, not read: put the real value here");
    let mut text = Text::default();
    let kind = Kind::WORDS.iter().find(|(word, _)| brief.is("what", word)).map_or("", |(_, words)| words);
    let _ = write!(
        text.0,
        "# {title}: {kind}, for {}.\n# Written from a brief; whoever fits it changes what is found to be otherwise.\n\
         # A wire is written from its end nearer the battery to its end nearer the load; a return begins at the ground.\n\
         format = 1\n",
        holds("vehicle"),
    );
    text.key("title", title);
    text.noted("level", holds("level"), Some("essential | standard | full: how much is asked of the work"));
    text.table("vehicle", None);
    text.noted("description", holds("vehicle"), taken("vehicle"));
    if holds("identity") != "none" {
        text.key("identity", holds("identity"));
    }
    text.key("system", holds("system"));
    text.table("battery", None);
    text.noted("kind", brief.battery_kind().word(), taken("battery"));
    text.noted("capacity", holds("capacity"), taken("capacity"));
    let (rest, resistance) = (rest_voltage(brief), assumed::<Resistance>("battery-internal-resistance"));
    text.noted("rest_voltage", rest, Some("charged and rested; the walk measures it"));
    text.noted("internal_resistance", spread(resistance.value, brief.scale()), Some(&resistance.citation()));
    text.table("alternator", None);
    let regulated = assumed::<Voltage>("alternator-voltage");
    text.noted("voltage", spread(regulated.value, brief.scale()), Some(&regulated.citation()));
    text.noted("current", holds("alternator"), taken("alternator"));
    text.table("environment", None);
    text.noted("ambient", "-10..40 °C", Some("a temperate year (common practice)"));
    text.noted("engine_bay", "85 °C", Some("near a warm engine (common practice)"));
    text.0
}

fn rest_voltage(brief: &Brief) -> String {
    let lithium = brief.battery_kind() == BatteryKind::LithiumIronPhosphate;
    let rest = assumed::<Voltage>(if lithium { "rest-voltage-lithium-12" } else { "rest-voltage-12" }).value;
    spread(rest, brief.scale())
}

/// A value of the handbook as a file writes it, for a system of so many times 12 V: `12.6 V ± 0.3 V`.
fn spread<Q: Quantity>(value: Toleranced<Q>, times: f64) -> String {
    let ends = [value.nominal.base(), value.half_width().base()];
    ends.map(|end| show_rating(end * times, Q::DIMENSION)).join(" ± ").replace('Ω', "ohm")
}

/// The parts and wires of the load.
pub(super) fn parts(brief: &Brief, layout: &Layout, values: &Values) -> String {
    let note = |name: &str| values.notes.get(name).map(String::as_str);
    let mut text = Text::default();
    text.group("protection: each fuse guards the wire behind it");
    for fuse in &layout.fuses {
        let rating = values.fuses.get(&fuse.name).copied().unwrap_or(Current::amps(10.0));
        text.table(&format!("fuse.{}", fuse.name), fuse.for_coil.then_some("feeds only the coil of the relay"));
        text.noted("rating", rating.as_rating(), note(&fuse.name));
        text.key("style", if rating > Current::amps(40.0) { "maxi" } else { "blade" });
        text.key("place", &fuse.place);
    }
    if layout.switch.is_some() {
        text.group("control");
    }
    if let (Some(relay), Some(kind)) = (&layout.relay, &values.relay) {
        write_relay(&mut text, brief, relay, kind, note(&relay.name));
    }
    if let Some(switch) = &layout.switch {
        text.table(&format!("switch.{}", switch.name), None);
        let says = if brief.given("switch_rating").is_some() { note(&switch.name) } else { Some("taken, not read") };
        text.noted("rating", brief.holds("switch_rating").unwrap_or_default(), says);
        text.key("place", &switch.place);
    }
    text.group("joints");
    if let Some(connector) = &layout.connector {
        text.table(&format!("connector.{}", connector.name), None);
        text.0.push_str("cavities = [\"A\", \"B\"]\n");
        text.noted("rating", values.contact.as_rating(), Some("of one contact, by its data sheet; at least this"));
        if let Some((low, high)) = values.seal {
            let mm = |length: Length| format!("{:.1}", length.as_metres() * 1e3);
            let says = "the diameters of insulation that it must take; measure the wires before it is bought";
            text.noted("seal", format!("{}..{} mm", mm(low), mm(high)), Some(says));
        }
        text.key("place", &connector.place);
    }
    for splice in &layout.splices {
        text.table(&format!("splice.{}", splice.name), None);
        text.key("method", "crimped, adhesive-lined sleeve");
        text.key("place", &splice.place);
    }
    for ground in &layout.grounds {
        text.table(&format!("ground.{}", ground.name), None);
        text.key("place", &ground.place);
        write_bolt(&mut text, "M6");
    }
    text.group(if layout.loads.len() == 1 { "load" } else { "loads" });
    for load in &layout.loads {
        write_load(&mut text, brief, load, &values.drop);
    }
    if !layout.mounts.is_empty() {
        text.group("mechanical");
    }
    for (index, (mount, bolt)) in layout.mounts.iter().enumerate() {
        text.table(&format!("mount.{}", mount.name), None);
        text.key("of", &layout.loads[index].name);
        text.key("place", &mount.place);
        write_bolt(&mut text, bolt);
    }
    text.group("wires: from the end nearer the battery to the end nearer the load");
    for wire in &layout.wires {
        let connector = layout.connector.as_ref().map(|connector| format!("{}.", connector.name));
        let lands = connector.is_some_and(|name| wire.from.starts_with(&name) || wire.to.starts_with(&name));
        write_wire(&mut text, wire, values, lands);
    }
    text.0
}

fn write_relay(text: &mut Text, brief: &Brief, relay: &Part, kind: &RelayKind, note: Option<&str>) {
    let scale = brief.scale();
    text.table(&format!("relay.{}", relay.name), note);
    // A coil for twice the voltage takes the same power: four times the resistance.
    let coil = (kind.coil * (scale * scale)).as_rating().replace('Ω', "ohm");
    text.noted("coil", format!("{coil} ± 10 %"), Some("the base is numbered 30, 85, 86, 87: read it before wiring"));
    text.key("contact", kind.contact.as_rating());
    text.key("pull_in", (kind.pull_in * scale).as_rating());
    text.key("drop_out", (kind.drop_out * scale).as_rating());
    text.key("place", &relay.place);
}

/// Stainless, lubricated: the torque then comes from the handbook.
fn write_bolt(text: &mut Text, bolt: &str) {
    text.key("bolt", bolt);
    text.noted("class", "A2-70", Some("stainless; another bolt has another torque"));
    text.key("friction", "lubricated");
}

fn write_load(text: &mut Text, brief: &Brief, load: &Part, drop: &str) {
    text.table(&format!("load.{}", load.name), None);
    let off = factor("label");
    let label = "the label; a bench reading goes before it".to_owned();
    let says = match brief.given("label") {
        Some(given) => format!("{label} ({given})"),
        None => label,
    };
    text.key("kind", brief.kind().load_kind());
    let spread = format!("± {} %", off.value);
    if brief.kind().is_motor() {
        let current = brief.current().unwrap_or(Current::amps(1.0));
        text.noted("current", format!("{} {spread}", rounded(current.as_amps(), "A")), Some(&says));
        text.key("at", brief.system().as_rating());
    } else {
        let power = brief.power().map_or(1.0, crate::quantity::Power::as_watts);
        text.noted("power", format!("{} {spread}", rounded(power, "W")), Some(&says));
        if brief.kind().load_kind() != "led" {
            text.key("at", brief.system().as_rating());
        }
    }
    let needs = brief.given("needs").is_none().then_some("taken: the least voltage at which it works; read it");
    text.noted("needs", brief.holds("needs").unwrap_or_default(), needs);
    text.noted("allowed_drop", drop, Some("of the system voltage, there and back"));
    text.key("place", &load.place);
}

/// A label has no more than two decimals.
fn rounded(value: f64, unit: &str) -> String {
    let step = if value < 1.0 { 1e4 } else { 1e2 };
    format!("{} {unit}", (value * step).round() / step)
}

fn write_wire(text: &mut Text, wire: &WirePart, values: &Values, lands: bool) {
    text.table(&format!("wire.{}", wire.name), wire.note.as_deref());
    let size = wire.given.or(values.sizes.get(&wire.name).copied());
    text.key("from", &wire.from);
    text.key("to", &wire.to);
    text.key("size", size.map_or_else(|| "2.5 mm²".to_owned(), |size| size.to_string()));
    text.key("length", &wire.length);
    text.key("colour", wire.colour);
    text.key("zone", &wire.zone);
    if wire.given.is_none() {
        text.key("insulation", "105 °C");
    }
    if let Some(outer) = size.filter(|_| lands && values.seal.is_some()).and_then(usual_outer) {
        text.noted("outer", outer.value.as_rating(), Some("at most, for thin-wall cable; measure it"));
    }
}
