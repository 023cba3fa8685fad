//! `rigproof aim`: where the beam of a lamp goes.

use std::fmt::Write;

use serde_json::{Value, json};

use super::arguments::Aim;
use super::failure::{Failure, Outcome};
use super::files::read_job;
use super::layout::{self, labelled, option, positive_option};
use crate::aim::{Beam, Light, Passing, glare, is_lamp, missing, said, wall_steps};
use crate::handbook::lamp::{LampKind, eye_height, far_enough, rules, usual_tilts, wall_distance};
use crate::job::Job;
use crate::quantity::{Illuminance, Intensity, Length, Slope};

const WIDTH: usize = 80;
/// The light at which the reach of a lamp is given: a mark to compare lamps by, not a light to drive by.
const REACH: Illuminance = Illuminance::lux(1.0);

/// Keys that a lamp lacks, each with how it is measured.
type Missing = Vec<(&'static str, &'static str)>;

/// A lamp whose beam is known.
struct Lamp {
    name: Option<String>,
    kind: Option<LampKind>,
    beam: Beam,
    intensity: Option<Intensity>,
}

pub(super) fn run(arguments: &Aim) -> Result<Outcome, Failure> {
    let wall = positive_option::<Length>("--distance", arguments.distance.as_deref())?;
    let wall = wall.unwrap_or_else(|| wall_distance().value);
    let text = if let Some(path) = &arguments.job {
        of_job(&read_job(path)?, wall, arguments.json)
    } else {
        let lamp = single(arguments, wall)?;
        if arguments.json {
            json!({ "lamps": [as_json(&lamp, wall)] }).to_string()
        } else {
            in_words(&lamp, wall) + &law(&[lamp.kind])
        }
    };
    layout::print(&text)?;
    Ok(Outcome::Conforms)
}

fn single(arguments: &Aim, wall: Length) -> Result<Lamp, Failure> {
    let Some(height) = positive_option::<Length>("--height", arguments.height.as_deref())? else {
        let says = "name a job file, or a lamp by --height with --tilt, --drop or --meets\n  such as rigproof aim --height \
                    \"0.9 m\" --tilt \"1 %\"";
        return Err(Failure::message(says));
    };
    let beam = if let Some(text) = &arguments.tilt {
        let tilt = Slope::parse(text).map_err(|error| Failure::message(format!("--tilt {text}: {error}")))?;
        Beam { height, tilt }
    } else if let Some(drop) = option::<Length>("--drop", arguments.drop.as_deref())? {
        Beam::by_wall(height, drop, wall)
    } else if let Some(meets) = positive_option::<Length>("--meets", arguments.meets.as_deref())? {
        Beam::by_ground(height, meets)
    } else {
        return Err(Failure::message("one of --tilt, --drop and --meets is needed"));
    };
    let intensity = positive_option::<Intensity>("--intensity", arguments.intensity.as_deref())?;
    Ok(Lamp { name: None, kind: arguments.lamp.map(LampKind::from), beam, intensity })
}

fn of_job(job: &Job, wall: Length, as_json_wanted: bool) -> String {
    let mut lamps = Vec::new();
    let mut unknown: Vec<(String, Missing)> = Vec::new();
    for load in job.loads.iter().filter(|load| is_lamp(load)) {
        match (&load.height, load.tilt) {
            (Some(height), Some(tilt)) => lamps.push(Lamp {
                name: Some(load.name.clone()),
                kind: LampKind::of_name(&load.name),
                beam: Beam { height: height.nominal, tilt },
                intensity: load.intensity.map(|i| i.nominal),
            }),
            _ => unknown.push((load.name.clone(), missing(load))),
        }
    }
    if as_json_wanted {
        let mut all: Vec<Value> = lamps.iter().map(|lamp| as_json(lamp, wall)).collect();
        all.extend(unknown.iter().map(|(name, keys)| {
            let keys: Vec<&str> = keys.iter().filter_map(|(key, _)| key.split(' ').next()).collect();
            json!({ "lamp": name, "missing": keys })
        }));
        return json!({ "lamps": all }).to_string();
    }
    let mut text = format!("{}: aim of its lamps\n", job.title);
    if lamps.is_empty() && unknown.is_empty() {
        text.push_str("\nno load of this job is a lamp: none has height, tilt or intensity, or a name that says so\n");
        return text;
    }
    for lamp in &lamps {
        let _ = write!(text, "\n{}", in_words(lamp, wall));
    }
    text.push_str(&to_measure(&unknown));
    let kinds: Vec<Option<LampKind>> = lamps.iter().map(|lamp| lamp.kind).collect();
    text.push_str(&law(&kinds));
    text
}

/// What to measure of lamps whose beam is not known; lamps that lack the same come together.
fn to_measure(unknown: &[(String, Missing)]) -> String {
    let mut text = String::new();
    let mut told: Vec<&Missing> = Vec::new();
    for (_, keys) in unknown {
        if told.contains(&keys) {
            continue;
        }
        told.push(keys);
        let names: Vec<&str> = unknown.iter().filter(|(_, other)| other == keys).map(|(n, _)| n.as_str()).collect();
        let words = format!("{}: where the beam goes is not known yet", names.join(", "));
        let _ = writeln!(text, "\n{}", labelled("", &words, WIDTH));
        let tables: Vec<String> = names.iter().map(|name| format!("[load.{name}]")).collect();
        let words = format!("measure, and write into {}:", tables.join(", "));
        let _ = writeln!(text, "{}", labelled("  ", &words, WIDTH));
        for (key, how) in keys {
            let _ = writeln!(text, "    {key}");
            let _ = writeln!(text, "{}", labelled("      ", how, WIDTH));
        }
    }
    text
}

fn in_words(lamp: &Lamp, wall: Length) -> String {
    let Lamp { beam, .. } = lamp;
    let what = match lamp.kind {
        Some(LampKind::Headlamp) => "headlamp".to_owned(),
        Some(kind) => format!("{} lamp", kind.word()),
        None => "lamp".to_owned(),
    };
    let mut text = match &lamp.name {
        Some(name) if lamp.kind.is_some() => format!("{name}, a {what} by its name\n"),
        Some(name) => format!("{name}\n"),
        None => format!("{what}\n"),
    };
    let mut line = |label: &str, words: &str| {
        let _ = writeln!(text, "{}", labelled(&format!("  {label:<11} "), words, WIDTH));
    };
    line("lens", &format!("{} above the ground", said(beam.height)));
    let ratio = beam.tilt.as_ratio();
    let way = if ratio > 0.0 {
        "down"
    } else if ratio < 0.0 {
        "it RISES"
    } else {
        "level"
    };
    line("tilt", &format!("{}, {way}", beam.tilt));
    let drop = beam.drop_at(wall);
    let side = if drop < Length::metres(0.0) { "above" } else { "below" };
    if beam.height_at(wall) > Length::metres(0.0) {
        line("on a wall", &format!("{} {side} the lens at {}", said(drop.abs()), said(wall)));
    }
    match beam.meets_ground() {
        Some(at) => line("on ground", &format!("the middle of the beam meets level ground at {}", said(at))),
        None => line("on ground", "the middle of the beam never meets level ground: it does not fall"),
    }
    if let Some(intensity) = lamp.intensity {
        line("light", &light(beam, Light { intensity }, wall));
    }
    let eyes = eye_height();
    let height = said(eyes.value);
    let _ =
        write!(text, "\n  glare: an approaching driver's eyes are {height} above the ground{}\n", eyes.status.remark());
    for words in glare(beam, lamp.kind) {
        let _ = writeln!(text, "{}", labelled("    ", &words, WIDTH));
    }
    text.push_str(&wall_method(beam, wall));
    text.push_str(&to_compare(lamp.kind));
    text
}

fn wall_method(beam: &Beam, wall: Length) -> String {
    let mut text = "\n  to aim it at a wall\n".to_owned();
    let Some(steps) = wall_steps(beam, wall) else {
        let words =
            format!("the beam meets the ground before a wall at {}: take a nearer one with --distance", said(wall));
        let _ = writeln!(text, "{}", labelled("    ", &words, WIDTH));
        return text;
    };
    for (number, step) in steps.iter().enumerate() {
        let _ = writeln!(text, "{}", labelled(&format!("    {}. ", number + 1), step, WIDTH));
    }
    text
}

fn to_compare(kind: Option<LampKind>) -> String {
    let usual = kind.map(usual_tilts).unwrap_or_default();
    if usual.is_empty() {
        return String::new();
    }
    let mut text = "\n  tilts of others, to compare; the lamp maker's own figure goes before them\n".to_owned();
    for cited in usual {
        let tilt = &cited.value;
        let from = tilt.low.map(|low| format!("{low} to ")).unwrap_or_default();
        let words = format!("{from}{}: {} ({})", tilt.tilt, tilt.says, cited.citation());
        let _ = writeln!(text, "{}", labelled("    ", &words, WIDTH));
    }
    text
}

fn light(beam: &Beam, light: Light, wall: Length) -> String {
    let mut words = format!("{} in the middle of the beam. ", light.intensity);
    if beam.height_at(wall) > Length::metres(0.0) {
        let _ = write!(words, "{} on the wall at {}. ", light.on_wall(beam, wall), said(wall));
    }
    if let Some(ground) = light.on_ground(beam) {
        let _ = write!(words, "{ground} on the ground where it meets it. ");
    }
    let faces = far_enough();
    let _ = write!(
        words,
        "A surface that faces the lamp gets {} at {}. All by the inverse square, in clear air, from {} times the lamp's \
         largest face on{}.",
        REACH.as_rating(),
        said(light.reaches(REACH)),
        faces.value,
        faces.status.remark(),
    );
    words
}

/// Rules of some places for these kinds of lamp, each once.
fn law(kinds: &[Option<LampKind>]) -> String {
    let words = "The law of the place prevails: ask there which lamps, how high, how many and when. Rules of some places, \
                 as examples and not as a verdict:";
    let mut text = format!("\n{}\n", labelled("", words, WIDTH));
    let mut seen = Vec::new();
    for kind in kinds.iter().copied().chain([None]) {
        for rule in rules(kind) {
            if !seen.contains(&rule) {
                let words = format!("{}: {}{}", rule.source, rule.value, rule.status.remark());
                let _ = writeln!(text, "{}", labelled("  ", &words, WIDTH).replacen("  ", "- ", 1));
                seen.push(rule);
            }
        }
    }
    text
}

fn as_json(lamp: &Lamp, wall: Length) -> Value {
    let Lamp { beam, .. } = lamp;
    let metres = |length: Length| length.as_metres();
    let (passes, middle) = match beam.passes_eyes() {
        Passing::At(distance) => (Some(metres(distance)), "crosses"),
        Passing::Above => (None, "above"),
        Passing::Below => (None, "below"),
    };
    let mut value = json!({
        "lamp": lamp.name,
        "kind": lamp.kind.map(LampKind::word),
        "height": metres(beam.height),
        "slope": beam.tilt.as_ratio(),
        "angle": beam.tilt.as_angle().as_degrees(),
        "wall": { "distance": metres(wall), "drop": metres(beam.drop_at(wall)), "mark": metres(beam.height_at(wall)) },
        "meets_ground": beam.meets_ground().map(metres),
        "eyes": { "height": metres(eye_height().value), "status": eye_height().status, "middle": middle, "passes_at": passes },
        "wall_steps": wall_steps(beam, wall),
        "rules": rules(lamp.kind).iter().map(|r| json!({ "place": r.source, "rule": r.value, "status": r.status })).collect::<Vec<_>>(),
        "units": { "length": "m", "slope": "m/m", "angle": "°", "intensity": "cd", "illuminance": "lx" },
    });
    if let Some(intensity) = lamp.intensity {
        let light = Light { intensity };
        let on_wall = (beam.height_at(wall) > Length::metres(0.0)).then(|| light.on_wall(beam, wall).as_lux());
        value["light"] = json!({
            "intensity": intensity.as_candela(),
            "facing_at_distance": light.facing(wall).as_lux(),
            "on_wall": on_wall,
            "on_ground": light.on_ground(beam).map(Illuminance::as_lux),
            "one_lux_at": metres(light.reaches(REACH)),
        });
    }
    value
}
