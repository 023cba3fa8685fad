use std::fmt::Write;

use super::super::layout::labelled;
use crate::circuit::{Engine, State};
use crate::energy::{ChargeRange, Ending, Energy, Idle, Parked, ParkedBattery, Question, RunTime, Sag};
use crate::handbook::battery::{charging, key_off, rest_time, sleep_wait};
use crate::job::{Battery, Job};
use crate::quantity::{Current, Duration, Share};

const WIDTH: usize = 80;

pub(super) fn in_words(job: &Job, question: &Question, energy: &Energy) -> String {
    let mut page = Page { text: format!("{}: its energy\n", job.title) };
    let state = |engine| State { on: question.on.clone(), engine, ..State::rest() }.describe(job);
    if question.engine != Some(Engine::Running) {
        page.heading(&format!("ON THE BATTERY: {}", state(Engine::Off)));
        for (name, ending) in &energy.batteries {
            let Some(battery) = job.battery_named(name) else { continue };
            run_time(&mut page, name, battery, ending);
        }
        if energy.batteries.iter().any(|(_, ending)| matches!(ending, Ending::RunsDown(_))) {
            page.words(
                "The shortest time has the lowest charge, the least capacity and the largest current that the tolerances \
                 of the job allow; the longest has the opposite. An old or cold battery holds less than its label says: a \
                 capacity test tells by how much.",
            );
        }
    }
    if question.engine != Some(Engine::Off) {
        page.heading(&format!("AT IDLE: {}", state(Engine::Running)));
        match &energy.idle {
            Some(idle) => at_idle(&mut page, job, idle),
            None => page.words(
                "What the alternator gives is not known. Add [alternator] to the job, with `voltage`, and with \
                 `idle_current` by its maker's curve, or `current` as its label says.",
            ),
        }
    }
    parked(&mut page, job, question, &energy.parked);
    if !energy.holds() {
        page.text.push_str("\nSomething above does not hold: see the lines with <<.\n");
    }
    page.text
}

/// A text that grows line by line.
struct Page {
    text: String,
}

impl Page {
    fn heading(&mut self, words: &str) {
        let _ = writeln!(self.text, "\n{}", labelled("", words, WIDTH));
    }

    fn words(&mut self, words: &str) {
        let _ = writeln!(self.text, "{}", labelled("  ", words, WIDTH));
    }

    fn line(&mut self, label: &str, words: &str) {
        let _ = writeln!(self.text, "{}", labelled(&format!("  {label:<14} "), words, WIDTH));
    }
}

fn run_time(page: &mut Page, name: &str, battery: &Battery, ending: &Ending) {
    match ending {
        Ending::RunsDown(run) => runs_down(page, name, battery, run),
        Ending::Rests => page.line(name, "nothing is drawn from it"),
        Ending::Charged { current } => page.line(name, &format!("another battery charges it with {current}")),
        Ending::NoCapacity { current } => {
            let table = if name == "battery" { "[battery]".to_owned() } else { format!("[battery.{name}]") };
            let words = format!(
                "it gives {current}. How long it lasts is not known: add its capacity as its label says, such as \
                 capacity = \"70 Ah\" in {table}"
            );
            page.line(name, &words);
        }
        Ending::AlreadyThere { now, to } => {
            let words =
                format!("its charge is {}, no more than the {to} that is to stay. Charge it first.", charge(now));
            page.line(name, &words);
            page.line("", &format!("charge by {}", now.source.citation()));
        }
    }
}

fn charge(range: &ChargeRange) -> String {
    let all = range.low.range_to(range.high);
    if range.low < range.high { format!("{all}, likely {}", range.likely) } else { all }
}

fn runs_down(page: &mut Page, name: &str, battery: &Battery, run: &RunTime) {
    page.line(name, &format!("{}, {} when full and new", battery.kind.word().replace('-', " "), run.capacity));
    page.line("charge now", &format!("{} ({})", charge(&run.from), run.from.source.citation()));
    if run.from.above_full {
        let rest = rest_time();
        let words = format!(
            "its voltage is above that of a full one: let it rest {}, then read it again ({})",
            rest.value,
            rest.citation()
        );
        page.line("", &words);
    }
    page.line("down to", &format!("{} ({})", charge(&run.to), run.to.source.citation()));
    page.line("it gives", &gives(run));
    let time = &run.time;
    let high = time.high.map_or("no end".to_owned(), time_words);
    let low = time_words(time.low);
    let range = if low == high { low } else { format!("{low} to {high}") };
    page.line("LASTS", &format!("{range}, likely {}", time_words(time.likely)));
    let (low, exponent, high) = run.exponent.value;
    if run.first > run.rated_current {
        let else_lasts = run.without_loss.map(time_words);
        let words = format!(
            "a label's capacity holds up to {}. More current gets less out: {} on this way; else it would last {} \
             (exponent {exponent} between {low} and {high}: {})",
            run.rated_current.as_rating(),
            run.delivered,
            else_lasts.unwrap_or_else(|| "for ever".to_owned()),
            run.exponent.citation()
        );
        page.line("high current", &words);
    }
    for (load, volts) in &run.starved {
        page.line("before the end", &format!("{load} gets only {volts}, less than its maker allows"));
    }
}

fn gives(run: &RunTime) -> String {
    let said = |current: Current| {
        if current < Current::amps(0.0) { format!("{} INTO it", current.abs()) } else { current.to_string() }
    };
    format!("{} now, {} at the end", said(run.first), said(run.last))
}

fn at_idle(page: &mut Page, job: &Job, idle: &Idle) {
    page.line("alternator", &format!("gives {} ({})", idle.available.value.as_rating(), idle.available.citation()));
    page.line("this job", &format!("draws {}", idle.drawn));
    for (name, current) in &idle.charging {
        let words = format!("of that, {current} charge {name} at its stated rest voltage; less as it fills");
        page.line("", &words);
    }
    let for_vehicle = match idle.vehicle {
        Some(vehicle) => format!("draws {}, as said with --vehicle", vehicle.as_rating()),
        None => "not known. Clamp a meter round the battery cable with the engine at warm idle, headlamps, blower and \
                 heated window on; say it with --vehicle \"30 A\""
            .to_owned(),
    };
    page.line("the vehicle", &for_vehicle);
    match (&idle.sags, idle.balance) {
        (Some(sag), _) => sags(page, idle, sag),
        (None, Some(surplus)) => page.line("SURPLUS", &format!("{surplus} are left, and charge the battery")),
        (None, None) => page.line(
            "LEFT",
            &format!(
                "{} for the vehicle's own draw and for the charge of the battery. If the vehicle draws more, the battery \
                 gives the rest and runs down.",
                idle.left
            ),
        ),
    }
    // The figures are those of 12 V.
    let (charging, times) = (charging(), job.vehicle.system.as_volts() / 12.0);
    let (low, high) = charging.value;
    page.line(
        "to prove it",
        &format!(
            "Everything on, engine at warm idle: the battery's voltage stays above its rest voltage (from memory). With \
             more turns the charging system holds {:.1} to {:.1} V ({}).",
            low.as_volts() * times,
            high.as_volts() * times,
            charging.citation()
        ),
    );
}

fn sags(page: &mut Page, idle: &Idle, sag: &Sag) {
    let lacks = idle.balance.unwrap_or(idle.left).abs();
    if sag.battery_gives > Current::amps(0.0) {
        let words = format!(
            "<< to hold the full voltage {lacks} are missing. It falls until the battery gives {}, and the battery runs \
             down.",
            sag.battery_gives
        );
        page.line("SHORTFALL", &words);
        if let Some(time) = sag.to_half {
            page.line("", &format!("From its charge now it is half empty after about {} of idling.", time_words(time)));
        }
        page.line("", "Fewer loads at idle, more turns, or a larger alternator.");
        return;
    }
    let mut words = format!(
        "{lacks} are missing to hold the full voltage: it sags, and the batteries charge slower. The starter battery \
         takes {}",
        sag.battery_gives.abs()
    );
    for (name, current) in &sag.charging {
        let _ = write!(words, ", {name} {current}");
    }
    words.push_str(". None runs down.");
    page.line("SLOWER CHARGE", &words);
}

fn parked(page: &mut Page, job: &Job, question: &Question, parked: &Parked) {
    let days = time_words(question.parked);
    page.heading(&format!("PARKED {days}: every switch off, key off"));
    for draw in &parked.draws {
        let coil = draw.name.starts_with("coil ");
        let what = match (draw.standby, coil) {
            (true, _) => "standby, as the job states it".to_owned(),
            (false, true) => "held with every switch off".to_owned(),
            (false, false) => format!(
                "fed with every switch off. If a switch of its own is off then, write what it still draws: standby = \
                 \"5 mA\" in [load.{}]",
                draw.name
            ),
        };
        page.line(&draw.name, &format!("{}, {what}", draw.current));
    }
    for name in &parked.unfed {
        page.line(name, "its standby does not count: nothing feeds it with every switch off");
    }
    for battery in &parked.batteries {
        parked_battery(page, job, question, battery);
    }
    page.words("A battery also empties by itself, faster where it is warm. That is not in here.");
}

fn parked_battery(page: &mut Page, job: &Job, question: &Question, parked: &ParkedBattery) {
    if parked.battery != "battery" && parked.total <= Current::amps(0.0) {
        page.line(&parked.battery, "nothing is drawn from it");
        return;
    }
    let mut words = format!("{} by this job", parked.by_job);
    if let Some(vehicle) = parked.by_vehicle {
        let _ = write!(words, ", {vehicle} by the vehicle asleep (--key-off): {} in all", parked.total);
    }
    page.line(&parked.battery, &words);
    if let Some(rule) = parked.rule {
        rule_line(page, parked, rule);
    }
    if parked.total <= Current::amps(0.0) {
        return;
    }
    let days = time_words(question.parked);
    match (job.battery_named(&parked.battery).and_then(|b| b.capacity), parked.share) {
        (Some(capacity), Some(share)) if share < 1.0 => {
            page.line(
                "",
                &format!("{} are gone after {days}: {} of {}", parked.gone, Share::of(share), capacity.nominal),
            );
        }
        (Some(capacity), _) => {
            page.line(
                "",
                &format!("{} would be gone after {days}, and it holds {}: EMPTY before", parked.gone, capacity.nominal),
            );
        }
        (None, _) => {
            page.line("", &format!("{} are gone after {days}; the job does not state its capacity", parked.gone));
        }
    }
    if let Some(time) = parked.full_to_half {
        let now = match parked.now_to_half {
            Some(now) => format!("; from its charge now ({}) after {}", charge(&parked.now), time_words(now)),
            None => format!("; its charge now ({}) is no more than half", charge(&parked.now)),
        };
        page.line("HALF EMPTY", &format!("from full after {}{now}", time_words(time)));
    }
}

fn rule_line(page: &mut Page, parked: &ParkedBattery, rule: Current) {
    let figures = key_off();
    let about = format!("({})", figures.citation());
    if parked.total > rule {
        page.line("ABOVE THE RULE", &format!("<< {} is more than {} {about}", parked.total, rule.as_rating()));
        return;
    }
    if parked.by_vehicle.is_some() {
        page.line("", &format!("within the rule of {} {about}", rule.as_rating()));
        return;
    }
    let (least, most) = sleep_wait().value;
    page.line(
        "",
        &format!(
            "{} of the rule of {} are left for the vehicle itself {about}. What it draws is not known: wait {} \
             with the doors latched and the key far away, read it in the battery cable before the new fuses go in, say \
             it with --key-off \"20 mA\".",
            (rule - parked.total).as_rating(),
            rule.as_rating(),
            format_args!("{:.0} to {:.0} min", least.as_seconds() / 60.0, most.as_seconds() / 60.0),
        ),
    );
}

/// A time as people say it: minutes, hours and minutes, hours, from three days on days, from two years on years.
fn time_words(time: Duration) -> String {
    let (minutes, hours, days) = (time.as_seconds() / 60.0, time.as_seconds() / 3600.0, time.as_seconds() / 86400.0);
    if days >= 730.0 {
        "more than 2 years".to_owned()
    } else if days >= 10.0 {
        format!("{days:.0} days")
    } else if days >= 3.0 {
        format!("{days:.1} days").replace(".0 ", " ")
    } else if hours >= 10.0 {
        format!("{hours:.0} h")
    } else if minutes >= 119.5 {
        let minutes = minutes.round();
        let (whole, rest) = ((minutes / 60.0).floor(), minutes % 60.0);
        if rest == 0.0 { format!("{whole:.0} h") } else { format!("{whole:.0} h {rest:.0} min") }
    } else {
        format!("{minutes:.0} min")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_said_as_people_say_them() {
        let hours = |h: f64| time_words(Duration::seconds(h * 3600.0));
        assert_eq!(hours(0.5), "30 min");
        assert_eq!(hours(1.5), "90 min");
        assert_eq!(hours(3.25), "3 h 15 min");
        assert_eq!(hours(3.9999), "4 h");
        assert_eq!(hours(30.0), "30 h");
        assert_eq!(hours(96.0), "4 days");
        assert_eq!(hours(100.0), "4.2 days");
        assert_eq!(hours(600.0), "25 days");
        assert_eq!(hours(24.0 * 800.0), "more than 2 years");
    }
}
