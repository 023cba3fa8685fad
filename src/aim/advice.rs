use super::{Beam, Passing};
use crate::handbook::lamp::{LampKind, eye_height};
use crate::job::{Load, LoadKind};
use crate::quantity::Length;

/// A length as it is measured for a lamp: centimetres to the millimetre below a metre, else metres to the centimetre,
/// whole ones from 100 m on.
pub fn said(length: Length) -> String {
    let metres = length.as_metres();
    match metres.abs() {
        size if size < 0.9995 => format!("{:.1} cm", metres * 100.0),
        size if size < 99.995 => format!("{metres:.2} m"),
        _ => format!("{metres:.0} m"),
    }
}

/// Whether a load of a job is taken as a lamp: it states what only lamps have, it has a filament, or its name says so.
pub fn is_lamp(load: &Load) -> bool {
    let name = load.name.to_lowercase();
    let named = ["lamp", "light", "beam"].iter().any(|word| name.contains(word));
    let stated = load.height.is_some() || load.tilt.is_some() || load.intensity.is_some();
    stated || named || matches!(load.kind, LoadKind::Filament { .. })
}

/// What a lamp of a job does not state and the aim needs: the key, and how it is measured.
pub fn missing(load: &Load) -> Vec<(&'static str, &'static str)> {
    let mut missing = Vec::new();
    if load.height.is_none() {
        missing.push((
            "height = \"0.9 m\"",
            "from the ground to the middle of the lens, vehicle on level ground, usual load",
        ));
    }
    if load.tilt.is_none() {
        missing.push((
            "tilt = \"1 %\"",
            "how far the middle of the beam lies below the height of the lens on a wall, over the distance of the wall: \
             10 cm at 10 m are 1 %",
        ));
    }
    missing
}

/// The wall method, step by step. A wall behind the point where the beam meets the ground is of no use: `None`.
pub fn wall_steps(beam: &Beam, distance: Length) -> Option<Vec<String>> {
    let mark = beam.height_at(distance);
    if mark <= Length::metres(0.0) {
        return None;
    }
    let drop = beam.drop_at(distance);
    let place = if drop > Length::metres(0.0) {
        format!("{} below the line", said(drop))
    } else if drop < Length::metres(0.0) {
        format!("{} above the line", said(drop.abs()))
    } else {
        "on the line".to_owned()
    };
    Some(vec![
        "Stand the vehicle on level floor, square to an upright wall. Tyres at their pressure, usual load, driver \
         seated, a switch for the levelling of the lamps at 0 (from memory)."
            .to_owned(),
        format!("Measure {} from the lens to the wall.", said(distance)),
        format!("Draw a level line on the wall {} above the floor: the height of the lens.", said(beam.height)),
        format!("Mark the aim straight ahead of the lamp, {place}: {} above the floor.", said(mark)),
        "Light this lamp alone, cover the others. Turn it until the middle of the bright spot sits on the mark."
            .to_owned(),
        "Tighten it, push the vehicle down twice, and measure once more.".to_owned(),
    ])
}

/// What a person who comes towards the lamp sees of it, and what to do about it.
pub fn glare(beam: &Beam, kind: Option<LampKind>) -> Vec<String> {
    let eyes = said(eye_height().value);
    let falls = beam.tilt.as_ratio() > 0.0;
    let mut says = vec![match beam.passes_eyes() {
        Passing::At(distance) if falls => format!(
            "The middle of the beam passes that height {} in front of the lamp: there it meets those eyes; nearer it \
             goes over them, farther out it lies below.",
            said(distance)
        ),
        Passing::At(distance) => format!(
            "The beam rises: its middle passes that height {} in front of the lamp and meets those eyes there; farther \
             out it goes over them.",
            said(distance)
        ),
        Passing::Below => "The middle of the beam stays below that height all the way.".to_owned(),
        Passing::Above => "The middle of the beam never comes down below that height: it meets the eyes of whoever \
                           sits higher, and dazzles far."
            .to_owned(),
    }];
    if !falls {
        says.push("A beam that does not fall has no end on level ground.".to_owned());
    }
    says.push(match kind {
        Some(LampKind::Work | LampKind::Reversing) => {
            format!(
                "From where others pass, look at it from {eyes} above the ground: its bare emitters must not be seen \
                 (from memory). It is off while the vehicle drives on a road: some laws ask for that."
            )
        }
        _ => format!(
            "The beam is wider than its middle. Stand where others come from, eyes {eyes} above the ground, and look; a \
             load in the rear raises every beam."
        ),
    });
    says
}
