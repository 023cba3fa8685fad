//! The things of a job as the texts of a procedure see them: texts only, empty where the job says nothing.

use serde_json::{Map, Value, json};

use crate::handbook::{fuse, workmanship};
use crate::job::{ItemKind, Job, Load, Wire, loads_of, switches_of};
use crate::quantity::{Quantity, Toleranced};

fn text(value: Option<impl ToString>) -> Value {
    Value::String(value.map(|v| v.to_string()).unwrap_or_default())
}

fn nominal<Q: Quantity + std::fmt::Display>(value: Option<&Toleranced<Q>>) -> Value {
    text(value.map(|v| v.nominal))
}

fn list(names: &[String]) -> Value {
    Value::String(names.join(", "))
}

/// The job as every text sees it.
pub(super) fn job(job: &Job) -> Value {
    json!({
        "title": job.title,
        "vehicle": job.vehicle.description,
        "identity": text(job.vehicle.identity.as_ref()),
        "work_order": text(job.work_order.as_ref()),
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
        ItemKind::Battery => battery(job),
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

fn battery(job: &Job) -> Fields {
    let battery = &job.battery;
    fields(json!({
        "kind": battery.kind.word(),
        "capacity": nominal(battery.capacity.as_ref()),
        "rest_voltage": battery.rest_voltage.to_string(),
    }))
}

fn fuse(job: &Job, name: &str) -> Fields {
    let part = job.fuses.iter().find(|f| f.name == name)?;
    let colour = part.style.and_then(|style| fuse::colour(style, part.rating)).map(|c| c.value);
    fields(json!({
        "rating": part.rating.as_rating(),
        "style": part.style.map_or("circuit breaker", crate::handbook::fuse::FuseStyle::word),
        "colour": text(colour),
        "place": text(part.place.as_ref()),
    }))
}

fn relay(job: &Job, name: &str) -> Fields {
    let part = job.relays.iter().find(|r| r.name == name)?;
    fields(json!({
        "coil": part.coil.to_string(),
        "contact": text(part.contact.map(crate::quantity::Current::as_rating)),
        "pull_in": part.pull_in.nominal.to_string(),
        "place": text(part.place.as_ref()),
    }))
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
        "bolt": text(part.bolt.as_ref()),
        "torque": text(part.torque.as_ref()),
        "wires": ends_at(job, name),
    }))
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
        "feed_wire": into("+"),
        "return_wire": into("-"),
    });
    fields(value).unwrap_or_default()
}

fn wire(wire: &Wire) -> Map<String, Value> {
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
    });
    fields(value).unwrap_or_default()
}

fn cable(job: &Job, name: &str) -> Fields {
    let part = job.cables.iter().find(|c| c.name == name)?;
    fields(json!({
        "size": part.size.to_string(),
        "length": part.length.to_string(),
        "outer": text(part.outer),
        "zone": text(part.zone.as_ref()),
        "cores": part.cores.join(", "),
    }))
}

fn mount(job: &Job, name: &str) -> Fields {
    let part = job.mounts.iter().find(|m| m.name == name)?;
    fields(json!({
        "of": text(part.of.as_ref()),
        "place": text(part.place.as_ref()),
        "bolt": text(part.bolt.as_ref()),
        "torque": text(part.torque.as_ref()),
    }))
}
