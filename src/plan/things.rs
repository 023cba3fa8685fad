//! The things of a job as the texts of a procedure see them: texts only, empty where the job says nothing.

use serde_json::{Map, Value, json};

use crate::circuit::bench_current;
use crate::handbook::hardware::{self, Friction, PropertyClass};
use crate::handbook::{conductor, fuse, workmanship};
use crate::job::{Fastener, ItemKind, Job, Load, Terminal, Wire, fed_behind, loads_of, powers, source_of, switches_of};
use crate::quantity::{Length, Quantity, Toleranced};
use crate::statistics::lot_passes;

fn text(value: Option<impl ToString>) -> Value {
    Value::String(value.map(|v| v.to_string()).unwrap_or_default())
}

fn nominal<Q: Quantity + std::fmt::Display>(value: Option<&Toleranced<Q>>) -> Value {
    text(value.map(|v| v.nominal))
}

fn list(names: &[String]) -> Value {
    Value::String(names.join(", "))
}

/// A metre of good wire measures at most this many times what the design counts with; copper-clad aluminium one and a
/// half times (common practice).
const GOOD_COPPER: f64 = 1.15;

/// The job as every text sees it.
pub(super) fn job(job: &Job) -> Value {
    json!({
        "title": job.title,
        "vehicle": job.vehicle.description,
        "identity": text(job.vehicle.identity.as_ref()),
        "work_order": text(job.work_order.as_ref()),
        "level": job.level.word(),
        "battery_kind": job.battery.kind.word(),
        "further_batteries": job.further_batteries.iter().map(|b| b.name.as_str()).collect::<Vec<_>>().join(", "),
        "system": format!("{} V", job.vehicle.system.as_volts()),
        "fuses": job.names(ItemKind::Fuse).join(", "),
        "switches": job.names(ItemKind::Switch).join(", "),
        "loads": job.names(ItemKind::Load).join(", "),
        "grounds": job.names(ItemKind::Ground).join(", "),
    })
}

/// One thing of the job.
pub(super) fn thing(job: &Job, kind: ItemKind, name: &str) -> Value {
    let mut fields = match kind {
        ItemKind::Job => return self::job(job),
        ItemKind::Battery => battery(job, name),
        ItemKind::Fuse => fuse(job, name),
        ItemKind::Relay => relay(job, name),
        ItemKind::Switch => switch(job, name),
        ItemKind::Connector => connector(job, name),
        ItemKind::Splice => splice(job, name),
        ItemKind::Ground => ground(job, name),
        ItemKind::Load => job.load(name).map(|l| load(job, l)),
        ItemKind::Wire => job.wire(name).map(wire),
        ItemKind::Cable => cable(job, name),
        ItemKind::Mount => mount(job, name),
        ItemKind::Lot => lot(job, name),
        ItemKind::Sample => Some(Map::new()),
    }
    .unwrap_or_default();
    fields.insert("name".into(), name.into());
    fields.insert("feeds".into(), list(&loads_of(job, name)));
    fields.insert("switches".into(), list(&switches_of(job, name)));
    Value::Object(fields)
}

type Fields = Option<Map<String, Value>>;

fn fields(value: Value) -> Fields {
    match value {
        Value::Object(fields) => Some(fields),
        _ => None,
    }
}

fn battery(job: &Job, name: &str) -> Fields {
    let battery = job.battery_named(name)?;
    let place = job.further_batteries.iter().find(|b| b.name == name).and_then(|b| b.place.as_ref());
    fields(json!({
        "kind": battery.kind.word(),
        "capacity": nominal(battery.capacity.as_ref()),
        "rest_voltage": battery.rest_voltage.to_string(),
        "place": text(place),
    }))
}

fn fuse(job: &Job, name: &str) -> Fields {
    let part = job.fuses.iter().find(|f| f.name == name)?;
    let colour = part.style.and_then(|style| fuse::colour(style, part.rating)).map(|c| c.value);
    fields(json!({
        "rating": part.rating.as_rating(),
        "style": part.style.map_or("circuit breaker", crate::handbook::fuse::FuseStyle::word),
        "colour": text(colour),
        "fed_behind": list(&fed_behind(job, name)),
        "place": text(part.place.as_ref()),
    }))
}

fn relay(job: &Job, name: &str) -> Fields {
    let part = job.relays.iter().find(|r| r.name == name)?;
    fields(json!({
        "coil": part.coil.to_string(),
        "contact": text(part.contact.map(crate::quantity::Current::as_rating)),
        "pull_in": part.pull_in.nominal.to_string(),
        "trigger_wire": text(trigger_wire(job, name)),
        "place": text(part.place.as_ref()),
    }))
}

/// The wire that feeds a relay's coil: the one of the two coil wires that a switch or fuse stands before.
fn trigger_wire<'j>(job: &'j Job, relay: &str) -> Option<&'j str> {
    let at = |pole: &str| {
        let terminal = Terminal::of(relay, pole);
        let grounded =
            |w: &&Wire| !job.grounds.iter().any(|g| g.name == w.from.part()) && w.from != Terminal::battery_minus();
        job.wires.iter().filter(|w| w.to == terminal).find(grounded).map(|w| w.name.as_str())
    };
    at("86").or_else(|| at("85"))
}

fn switch(job: &Job, name: &str) -> Fields {
    let part = job.switches.iter().find(|s| s.name == name)?;
    fields(json!({
        "rating": text(part.rating.map(crate::quantity::Current::as_rating)),
        "place": text(part.place.as_ref()),
    }))
}

fn connector(job: &Job, name: &str) -> Fields {
    let part = job.connectors.iter().find(|c| c.name == name)?;
    let seal = part.seal.map(|s| format!("{}..{} mm", millimetres(s.low()), millimetres(s.high())));
    fields(json!({
        "cavities": part.cavities.join(", "),
        "rating": text(part.rating.map(crate::quantity::Current::as_rating)),
        "seal": text(seal),
        "place": text(part.place.as_ref()),
    }))
}

fn millimetres(length: crate::quantity::Length) -> f64 {
    (length.as_metres() * 1e6).round() / 1e3
}

fn ends_at(job: &Job, name: &str) -> Value {
    let here = |w: &&Wire| w.from.part() == name || w.to.part() == name;
    list(&job.wires.iter().filter(here).map(|w| w.name.clone()).collect::<Vec<_>>())
}

fn splice(job: &Job, name: &str) -> Fields {
    let part = job.splices.iter().find(|s| s.name == name)?;
    fields(json!({ "method": part.method, "wires": ends_at(job, name), "place": text(part.place.as_ref()) }))
}

fn ground(job: &Job, name: &str) -> Fields {
    let part = job.grounds.iter().find(|g| g.name == name)?;
    fields(json!({
        "place": text(part.place.as_ref()),
        "wires": ends_at(job, name),
        "loads": list(&powers(job, name)),
    }))
    .map(|own| own.into_iter().chain(fastener(&part.fastener)).collect())
}

fn load(job: &Job, load: &Load) -> Map<String, Value> {
    let into = |pole: &str| {
        let terminal = format!("{}.{pole}", load.name);
        text(job.wires.iter().find(|w| w.to.name() == terminal).map(|w| w.name.as_str()))
    };
    let value = json!({
        "kind": load.kind.word(),
        "draws": load.draws(),
        "needs": text(load.needs),
        "place": text(load.place.as_ref()),
        "plus": format!("{}.+", load.name),
        "minus": format!("{}.-", load.name),
        "source": source_of(job, &load.name),
        "feed_wire": into("+"),
        "return_wire": into("-"),
    });
    fields(value).unwrap_or_default()
}

fn wire(wire: &Wire) -> Map<String, Value> {
    let per_metre = conductor::resistance_at_20c(wire.size, Length::metres(1.0)).value;
    let pull = workmanship::crimp_pull(wire.size).map(|p| format!("{} N", p.value.as_newtons()));
    let value = json!({
        "from": wire.from.name(),
        "to": wire.to.name(),
        "size": wire.size.to_string(),
        "length": wire.length.to_string(),
        "colour": text(wire.colour.as_ref()),
        "zone": text(wire.zone.as_ref()),
        "cable": text(wire.cable.as_ref()),
        "strip": workmanship::strip_length(wire.size).value,
        "pull_min": text(pull),
        "per_metre": per_metre.to_string(),
        "per_metre_most": (per_metre * GOOD_COPPER).to_string(),
        "bundle": text(wire.bundle),
    });
    let mut own = fields(value).unwrap_or_default();
    let bundle = wire.outer.map(|outer| hardware::bundle_diameter(&vec![outer; wire.bundle.unwrap_or(1)]).value);
    own.extend(way(wire.outer, bundle, wire.zone.as_deref()));
    own
}

/// How a wire, a cable or the bundle that it runs in is bent, held and led through a hole.
fn way(outer: Option<Length>, bundle: Option<Length>, zone: Option<&str>) -> Map<String, Value> {
    let value = json!({
        "outer": text(outer),
        "bend_radius": text(outer.map(|outer| hardware::bend_radius(outer).value)),
        "clamp": text(bundle.map(|bundle| hardware::clamp_size(bundle).value)),
        "support": hardware::support_spacing(zone).value.to_string(),
    });
    fields(value).unwrap_or_default()
}

/// The bolt or stud of a ground or a mount.
fn fastener(fastener: &Fastener) -> Map<String, Value> {
    let torque = fastener.torque();
    let value = json!({
        "bolt": text(fastener.bolt.as_ref()),
        "class": text(fastener.class.map(PropertyClass::word)),
        "friction": text(fastener.friction.map(Friction::word)),
        "stack": text(fastener.stack),
        "thread_depth": text(fastener.thread_depth),
        "bolt_length": text(fastener.needed_length_in_words()),
        "bolt_fits": text(fastener.fitting_lengths().map(|(least, most)| {
            format!("{}..{} mm", millimetres(least), millimetres(most))
        })),
        "torque": text(torque.as_ref().map(|(torque, _)| torque)),
        "torque_set": text(torque.as_ref().map(|(torque, _)| torque.nominal.as_rating())),
        "torque_source": text(torque.as_ref().map(|(_, source)| source)),
    });
    fields(value).unwrap_or_default()
}

fn cable(job: &Job, name: &str) -> Fields {
    let part = job.cables.iter().find(|c| c.name == name)?;
    fields(json!({
        "size": part.size.to_string(),
        "length": part.length.to_string(),
        "zone": text(part.zone.as_ref()),
        "cores": part.cores.join(", "),
    }))
    .map(|own| own.into_iter().chain(way(part.outer, part.outer, part.zone.as_deref())).collect())
}

/// A lamp is tried at this share of the system's voltage: 12.5 V of 12 V, as on the bench (`receive-bench`).
const BENCH: f64 = 12.5 / 12.0;
/// It is told how often the plan lets a lot pass in which one piece of so many is bad.
const ONE_BAD_OF: usize = 10;

fn lot(job: &Job, name: &str) -> Fields {
    let lot = job.lots.iter().find(|lot| lot.name == name)?;
    let lamp = job.load(&lot.of);
    let at = job.vehicle.system * BENCH;
    let wire = job.wire(&lot.of);
    let pull = wire.and_then(|wire| workmanship::crimp_pull(wire.size)).map(|p| format!("{} N", p.value.as_newtons()));
    let samples = lot.samples().len();
    let bad = lot.pieces.div_ceil(ONE_BAD_OF);
    let passes = lot_passes(lot.pieces as u64, bad as u64, samples as u64, 0);
    let passes = passes.map(|share| format!("{} of 100", (share * 100.0).round()));
    fields(json!({
        "what": if lamp.is_some() { "lamps" } else { "crimps" },
        "of": lot.of,
        "pieces": lot.pieces.to_string(),
        "samples": samples.to_string(),
        "plan": lot.plan_in_words(),
        "tool": text(lot.tool.as_ref()),
        "size": text(wire.map(|wire| wire.size)),
        "pull_min": text(pull),
        "bench_voltage": at.to_string(),
        "bench_current": text(lamp.map(|load| bench_current(&load.kind, at))),
        "bad": bad.to_string(),
        "passes": text(passes),
    }))
}

fn mount(job: &Job, name: &str) -> Fields {
    let part = job.mounts.iter().find(|m| m.name == name)?;
    fields(json!({
        "of": text(part.of.as_ref()),
        "place": text(part.place.as_ref()),
    }))
    .map(|own| own.into_iter().chain(fastener(&part.fastener)).collect())
}
