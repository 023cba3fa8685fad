use serde_json::{Value, json};

use crate::energy::{ChargeRange, Ending, Energy, Idle, Parked, Question, RunTime};
use crate::handbook::battery::key_off;
use crate::quantity::{Current, Duration};

/// Currents in amperes, times in seconds, charges as fractions of a full battery, capacities in ampere-hours.
pub(super) fn as_json(energy: &Energy, question: &Question) -> Value {
    let batteries: Vec<Value> = energy.batteries.iter().map(|(name, ending)| battery(name, ending)).collect();
    json!({
        "on": question.on,
        "batteries": batteries,
        "idle": energy.idle.as_ref().map(idle),
        "parked": parked(&energy.parked, question),
        "holds": energy.holds(),
        "units": { "current": "A", "time": "s", "charge": "share of full", "capacity": "Ah", "voltage": "V" },
    })
}

fn amps(current: Current) -> f64 {
    current.as_amps()
}

fn range(charge: &ChargeRange) -> Value {
    json!({
        "low": charge.low.fraction(),
        "likely": charge.likely.fraction(),
        "high": charge.high.fraction(),
        "source": charge.source.citation(),
    })
}

fn battery(name: &str, ending: &Ending) -> Value {
    let (word, mut value) = match ending {
        Ending::RunsDown(run) => ("runs-down", run_time(run)),
        Ending::NoCapacity { current } => ("capacity-not-stated", json!({ "current": amps(*current) })),
        Ending::AlreadyThere { now, to } => ("already-there", json!({ "from": range(now), "to": to.fraction() })),
        Ending::Rests => ("rests", json!({})),
        Ending::Charged { current } => ("charged", json!({ "current": amps(*current) })),
    };
    value["battery"] = name.into();
    value["ends"] = word.into();
    value
}

fn run_time(run: &RunTime) -> Value {
    let (low, exponent, high) = run.exponent.value;
    let starved: Vec<Value> =
        run.starved.iter().map(|(load, volts)| json!({ "load": load, "voltage": volts.as_volts() })).collect();
    json!({
        "capacity": run.capacity.nominal.as_amp_hours(),
        "from": range(&run.from),
        "to": range(&run.to),
        "current_first": amps(run.first),
        "current_last": amps(run.last),
        "time": {
            "low": run.time.low.as_seconds(),
            "likely": run.time.likely.as_seconds(),
            "high": run.time.high.map(Duration::as_seconds),
            "without_loss": run.without_loss.map(Duration::as_seconds),
        },
        "delivered": run.delivered.as_amp_hours(),
        "exponent": { "taken": exponent, "low": low, "high": high, "source": run.exponent.citation() },
        "starved": starved,
    })
}

fn idle(idle: &Idle) -> Value {
    let charging = |of: &[(String, Current)]| {
        of.iter().map(|(name, current)| json!({ "battery": name, "current": amps(*current) })).collect::<Vec<Value>>()
    };
    let sags = idle.sags.as_ref().map(|sag| {
        json!({
            "battery_gives": amps(sag.battery_gives),
            "charging": charging(&sag.charging),
            "to_half": sag.to_half.map(Duration::as_seconds),
        })
    });
    json!({
        "available": amps(idle.available.value),
        "source": idle.available.citation(),
        "drawn": amps(idle.drawn),
        "charging": charging(&idle.charging),
        "vehicle": idle.vehicle.map(amps),
        "left": amps(idle.left),
        "balance": idle.balance.map(amps),
        "falls_short": idle.falls_short(),
        "sags": sags,
    })
}

fn parked(parked: &Parked, question: &Question) -> Value {
    let draws: Vec<Value> = parked
        .draws
        .iter()
        .map(|draw| json!({ "name": draw.name, "current": amps(draw.current), "standby": draw.standby }))
        .collect();
    let batteries: Vec<Value> = parked
        .batteries
        .iter()
        .map(|battery| {
            json!({
                "battery": battery.battery,
                "by_job": amps(battery.by_job),
                "by_vehicle": battery.by_vehicle.map(amps),
                "total": amps(battery.total),
                "gone": battery.gone.as_amp_hours(),
                "share": battery.share,
                "full_to_half": battery.full_to_half.map(Duration::as_seconds),
                "now_to_half": battery.now_to_half.map(Duration::as_seconds),
                "rule": battery.rule.map(amps),
                "above_rule": battery.above_rule(),
            })
        })
        .collect();
    json!({
        "time": question.parked.as_seconds(),
        "draws": draws,
        "unfed": parked.unfed,
        "batteries": batteries,
        "rule_source": key_off().citation(),
    })
}
