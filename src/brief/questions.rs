//! All questions, in the order in which they are asked.

use super::answers::{Kind, Zone};
use super::layout::in_metres;
use super::names::plain_name;
use super::question::{Question, Refused, Usual, WantedForm};
use super::{Brief, names};
use crate::handbook::assumption::assumed;
use crate::quantity::{Charge, Current, Dimension, Length, Quantity, Voltage};

/// A question before the answers are known that it depends on.
pub(super) struct Entry {
    pub id: &'static str,
    asks: fn(&Brief) -> String,
    why: &'static str,
    form: WantedForm<'static>,
    pub usual: fn(&Brief) -> Option<Usual>,
    pub when: fn(&Brief) -> bool,
    find_out: &'static str,
    check: fn(&Brief, &str) -> Result<(), Refused>,
}

impl Entry {
    pub(super) fn question(&self, brief: &Brief) -> Question<'static> {
        Question {
            id: self.id,
            asks: (self.asks)(brief),
            why: self.why,
            form: self.form,
            usual: (self.usual)(brief),
            find_out: self.find_out,
        }
    }

    /// What only the other answers can tell of an answer.
    pub(super) fn check(&self, brief: &Brief, text: &str) -> Result<(), Refused> {
        (self.check)(brief, text)
    }
}

/// What most questions have in common.
const PLAIN: Entry = Entry {
    id: "",
    asks: |_| String::new(),
    why: "",
    form: WantedForm::Words,
    usual: |_| None,
    when: |_| true,
    find_out: "",
    check: |_, _| Ok(()),
};

const SYSTEMS: &[(&str, &str)] = &[
    ("12 V", "cars, vans, most small trucks"),
    ("24 V", "heavy trucks, buses"),
    ("6 V", "old vehicles"),
    ("48 V", "some machines"),
];

const BATTERIES: &[(&str, &str)] = &[
    ("flooded", "lead-acid with caps, or nothing said on it"),
    ("agm", "lead-acid, AGM printed on it"),
    ("gel", "lead-acid, GEL printed on it"),
    ("lithium-iron-phosphate", "LiFePO4 printed on it"),
];

const LEVELS: &[(&str, &str)] = &[
    ("standard", "what a good installer does"),
    ("essential", "what every job needs"),
    ("full", "what a shop records for somebody else"),
];

const LONGEST: f64 = 40.0;
const WAY: WantedForm<'static> = WantedForm::Between(Dimension::Length, 0.05, LONGEST);

/// A value of the handbook as the usual answer.
fn from_handbook<Q: Quantity>(id: &str, times: f64) -> Usual {
    let value = assumed::<Q>(id);
    let base = value.value.nominal.base() * times;
    let text = match Q::DIMENSION {
        Dimension::Length => in_metres(Length::metres(base)),
        other => crate::quantity::show_rating(base, other),
    };
    Usual::new(text, value.citation())
}

fn number_of(brief: &Brief) -> &'static str {
    if brief.count() > 1 { "them" } else { "it" }
}

fn called(brief: &Brief) -> String {
    brief.holds("name").unwrap_or_else(|| "the load".to_owned())
}

fn way_to_load(brief: &Brief) -> Usual {
    let id = match (brief.battery_zone(), brief.load_zone()) {
        (_, Zone::Outside) => "way-outside",
        (Zone::EngineBay, Zone::EngineBay) => "way-engine-bay",
        _ => "way-cabin",
    };
    from_handbook::<Length>(id, 1.0)
}

fn usual_lead(brief: &Brief) -> Option<Usual> {
    if brief.kind() == Kind::Fridge {
        return Some(Usual::new("none", "a socket has terminals of its own"));
    }
    // Ten amperes a square millimetre: the rule of thumb of a trade journal for short leads (ampacity.toml,
    // vehicle_current_density_rule); the checks of the design then judge the lead against its fuse.
    let amps = brief.current()?.as_amps();
    let size = [1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0].into_iter().find(|size| *size * 10.0 >= amps)?;
    Some(Usual::new(format!("0.3 m, {size} mm²"), "a common lead, taken thin (common practice)"))
}

fn usual_name(brief: &Brief) -> Usual {
    let word = match brief.kind() {
        Kind::LedLamp | Kind::BulbLamp => "lamp",
        Kind::Motor => "pump",
        Kind::Fridge => "fridge-socket",
        Kind::Electronic => "device",
        Kind::Heater => "heater",
    };
    Usual::new(names::free(brief, word), "a plain name; the file, the steps and the labels speak of it")
}

fn check_name(brief: &Brief, text: &str) -> Result<(), Refused> {
    let name = plain_name(text);
    if name.is_empty() {
        return Err(Refused { says: "a name has at least one letter or digit".to_owned() });
    }
    if names::taken(brief, &name) {
        return Err(Refused { says: format!("`{name}` is the name of another part; choose another") });
    }
    Ok(())
}

fn check_ground(brief: &Brief, text: &str) -> Result<(), Refused> {
    let Some(job) = brief.existing().filter(|_| text != "new") else { return Ok(()) };
    let known: Vec<&str> = job.grounds.iter().map(|ground| ground.name.as_str()).collect();
    if !known.contains(&text) {
        let says = format!("`{text}` is no ground of this job; write new, or one of {}", known.join(", "));
        return Err(Refused { says });
    }
    let rings = job.wires.iter().filter(|w| w.from.name() == text || w.to.name() == text).count();
    if rings >= 4 {
        let says = format!("{text} carries {rings} rings already, and a stud takes four (FAA AC 43.13-1B); write new");
        return Err(Refused { says });
    }
    Ok(())
}

fn is_new(brief: &Brief) -> bool {
    brief.existing().is_none()
}

pub(super) const ALL: &[Entry] = &[
    Entry {
        id: "what",
        asks: |_| "What do you add?".to_owned(),
        why: "Each kind draws its current in its own way: a motor takes several times as much while it starts.",
        form: WantedForm::OneOf(Kind::WORDS),
        usual: |_| Some(Usual::new("led-lamp", "the commonest")),
        ..PLAIN
    },
    Entry {
        id: "label",
        asks: |brief| match brief.kind() {
            kind if kind.is_lamp() => "What does the label of one lamp say?".to_owned(),
            Kind::Fridge => "What does the fridge draw at most, by its label?".to_owned(),
            _ => "What does its label say?".to_owned(),
        },
        why: "The current decides the fuse, the wire, and whether a relay is needed. It is checked on the bench later.",
        form: WantedForm::Label,
        find_out: "Nothing can be taken for this. It is printed on the part or in its leaflet, as watts (W) or amperes (A). \
                   Without either, measure it: battery, a fuse of 10 A, the meter in amperes, and the part.",
        ..PLAIN
    },
    Entry {
        id: "count",
        asks: |_| "How many of them, on one switch?".to_owned(),
        why: "Their currents add up, and a wire for each branches off the common one.",
        form: WantedForm::Pieces(6),
        usual: |_| Some(Usual::new("1", "one lamp")),
        when: |brief| brief.kind().is_lamp(),
        ..PLAIN
    },
    Entry {
        id: "name",
        asks: |brief| format!("What do you call {}?", number_of(brief)),
        why: "The name stands in the file, in every step and on the labels of the wires.",
        usual: |brief| Some(usual_name(brief)),
        check: check_name,
        ..PLAIN
    },
    Entry {
        id: "system",
        asks: |_| "Which voltage does the vehicle have?".to_owned(),
        why: "At 24 V the same watts take half the current.",
        form: WantedForm::OneOf(SYSTEMS),
        usual: |_| Some(Usual::new("12 V", "the commonest; the manual and the battery say it")),
        when: is_new,
        ..PLAIN
    },
    Entry {
        id: "vehicle",
        asks: |_| "Which vehicle is it? In a few words".to_owned(),
        why: "The report says what was fitted to what.",
        usual: |_| Some(Usual::new("a vehicle that the job does not describe", "nothing depends on it")),
        when: is_new,
        ..PLAIN
    },
    Entry {
        id: "identity",
        asks: |_| "Its registration or number?".to_owned(),
        why: "A buyer wants to know that the report belongs to this vehicle. A copy without it can be printed.",
        usual: |_| Some(Usual::new("none", "it can be added to the file later")),
        when: is_new,
        ..PLAIN
    },
    Entry {
        id: "battery",
        asks: |_| "What kind of battery?".to_owned(),
        why: "Its voltage at rest tells how full it is, and depends on the kind.",
        form: WantedForm::OneOf(BATTERIES),
        usual: |_| Some(Usual::new("flooded", "the commonest")),
        when: is_new,
        ..PLAIN
    },
    Entry {
        id: "capacity",
        asks: |_| "How much does it hold, by its label?".to_owned(),
        why: "It tells how long the load runs with the engine off.",
        form: WantedForm::Between(Dimension::Charge, 4.0, 1000.0),
        usual: |_| Some(from_handbook::<Charge>("battery-capacity", 1.0)),
        when: is_new,
        ..PLAIN
    },
    Entry {
        id: "alternator",
        asks: |_| "What does the alternator give, by its plate or the manual?".to_owned(),
        why: "At idle it gives less than half of that, and the vehicle itself takes most of it.",
        form: WantedForm::Between(Dimension::Current, 10.0, 400.0),
        usual: |_| Some(from_handbook::<Current>("alternator-current", 1.0)),
        when: is_new,
        ..PLAIN
    },
    Entry {
        id: "battery_place",
        asks: |_| "Where is the battery?".to_owned(),
        why: "A wire in the heat of the engine bay carries less, and its fuse sits within 178 mm of the battery.",
        form: WantedForm::OneOf(Zone::OF_BATTERY),
        usual: |_| Some(Usual::new("engine-bay", "the hottest place: a wire is chosen thicker by that")),
        ..PLAIN
    },
    Entry {
        id: "load_place",
        asks: |brief| format!("Where does {} go?", called(brief)),
        why: "Outside, every joint is sealed against water.",
        form: WantedForm::OneOf(Zone::OF_LOAD),
        usual: |_| Some(Usual::new("outside", "the wettest place: the connector is a sealed one by that")),
        ..PLAIN
    },
    Entry {
        id: "place",
        asks: |_| "Where exactly? In a few words".to_owned(),
        why: "Whoever looks for it later reads this.",
        usual: |brief| {
            let words = match brief.load_zone() {
                Zone::Outside => "outside, place not written down yet",
                Zone::Cabin => "inside, place not written down yet",
                Zone::EngineBay => "engine bay, place not written down yet",
            };
            Some(Usual::new(words, "nothing depends on it"))
        },
        ..PLAIN
    },
    Entry {
        id: "switched",
        asks: |brief| format!("How is {} switched?", called(brief)),
        why: "A circuit of its own, from the battery, takes nothing from a circuit of the vehicle that may watch its \
              lamps. A signal of the vehicle (key, reversing gear) is no part of a job file: ask who knows that vehicle.",
        form: WantedForm::OneOf(&[
            ("switch", "by a switch of its own"),
            ("always", "not at all: it always has voltage, key off too"),
        ]),
        usual: |_| Some(Usual::new("switch", "what is off draws nothing from a parked vehicle")),
        ..PLAIN
    },
    Entry {
        id: "switch_rating",
        asks: |_| "What current is printed on the switch?".to_owned(),
        why: "A contact that is too small welds or burns. Where the switch is too small, a relay carries the load.",
        form: WantedForm::Between(Dimension::Current, 0.1, 100.0),
        usual: |_| Some(from_handbook::<Current>("switch-rating", 1.0)),
        when: Brief::has_switch,
        ..PLAIN
    },
    Entry {
        id: "switch_place",
        asks: |_| "Where is the switch? In a few words".to_owned(),
        why: "Whoever looks for it later reads this.",
        usual: |brief| Some(Usual::new(format!("dash, label: {}", called(brief)), "nothing depends on it")),
        when: Brief::has_switch,
        ..PLAIN
    },
    Entry {
        id: "relay",
        asks: |_| "With a relay?".to_owned(),
        why: "With a relay the switch carries only the coil, and the heavy wire goes straight to the load.",
        form: WantedForm::OneOf(&[("yes", "a relay carries the load"), ("no", "the switch carries the load")]),
        usual: |brief| {
            let (wanted, because) = brief.relay_wanted()?;
            Some(Usual::new(if wanted { "yes" } else { "no" }, because))
        },
        when: |brief| brief.has_switch() && brief.total().is_some(),
        ..PLAIN
    },
    Entry {
        id: "switch_way",
        asks: |_| "How many metres from the battery to the switch, along the way of the wire?".to_owned(),
        why: "Up, down and round the corners: a plan of 4 m is often 6 m of wire.",
        form: WAY,
        usual: |_| Some(from_handbook::<Length>("way-to-switch", 1.0)),
        when: Brief::has_switch,
        ..PLAIN
    },
    Entry {
        id: "way",
        asks: |brief| {
            let from = if brief.has_switch() && !brief.has_relay() { "switch" } else { "battery" };
            format!("How many metres from the {from} to {}, along the way of the wire?", called(brief))
        },
        why: "The longer the wire, the more voltage it takes. Lay a string along the way, then measure the string.",
        form: WAY,
        usual: |brief| Some(way_to_load(brief)),
        ..PLAIN
    },
    Entry {
        id: "branch",
        asks: |_| "How many metres from the branching point to the lamp that is farthest from it?".to_owned(),
        why: "Each lamp has a wire of its own from there, its own lead included.",
        form: WAY,
        usual: |_| Some(from_handbook::<Length>("way-to-branch", 1.0)),
        when: |brief| brief.count() > 1,
        ..PLAIN
    },
    Entry {
        id: "return",
        asks: |_| "How does the current come back?".to_owned(),
        why: "Through the body metal it is shortest. A body of plastic or wood, or one that nobody may drill, needs a wire.",
        form: WantedForm::OneOf(&[
            ("body", "by a bolt on bare body metal near the load"),
            ("wire", "by a second wire, all the way back to the battery's own ground"),
        ]),
        usual: |_| Some(Usual::new("body", "most vehicles have metal near every load")),
        ..PLAIN
    },
    Entry {
        id: "ground",
        asks: |_| "Which ground point? new, or one of this job".to_owned(),
        why: "One stud takes at most four rings.",
        usual: |_| Some(Usual::new("new", "a ground of its own never suffers from another load")),
        when: |brief| !is_new(brief),
        check: check_ground,
        ..PLAIN
    },
    Entry {
        id: "ground_way",
        asks: |brief| format!("How many metres from {} to that bolt?", called(brief)),
        why: "The way back takes its share of the voltage too.",
        form: WAY,
        usual: |_| Some(from_handbook::<Length>("way-to-ground", 1.0)),
        when: |brief| brief.is("return", "body"),
        ..PLAIN
    },
    Entry {
        id: "lead",
        asks: |_| "The lead that comes out of it: how long, which size?".to_owned(),
        why: "It stays as it is, so its fuse must protect it too. A connector joins it to the new wire.",
        form: WantedForm::Lead,
        usual: usual_lead,
        when: |brief| brief.count() == 1 && brief.label().is_some(),
        find_out: "The size is printed on the lead or in the leaflet; 18 AWG is about 0.8 mm².",
        ..PLAIN
    },
    Entry {
        id: "bolt",
        asks: |brief| format!("Which bolts hold {}?", number_of(brief)),
        why: "Thread and strength decide the torque.",
        form: WantedForm::Bolt,
        usual: |_| Some(Usual::new("M6", "a common bracket (common practice)")),
        ..PLAIN
    },
    Entry {
        id: "needs",
        asks: |_| "From which voltage does it work, by its leaflet?".to_owned(),
        why: "The meter must show at least this at the load, with everything on and the engine off.",
        form: WantedForm::Between(Dimension::Voltage, 3.0, 60.0),
        usual: |brief| {
            let id = if brief.kind() == Kind::Fridge { "needs-fridge" } else { "needs" };
            Some(from_handbook::<Voltage>(id, brief.scale()))
        },
        check: |brief, text| {
            let volts = crate::quantity::parse_toleranced::<Voltage>(text).map_or(0.0, |v| v.nominal.as_volts());
            if volts < brief.system().as_volts() {
                return Ok(());
            }
            Err(Refused { says: format!("a battery of {} gives less than that", brief.system().as_rating()) })
        },
        ..PLAIN
    },
    Entry {
        id: "drop",
        asks: |_| "How much of the voltage may the way take?".to_owned(),
        why: "What the way takes, the load lacks, and the wire is warm by it.",
        form: WantedForm::OneOf(&[
            ("5 %", "a house rule for lamps and most other things"),
            ("3 %", "what boats ask for what must work: guiding lights, a pump that keeps afloat"),
            ("10 %", "what boats allow for the rest"),
        ]),
        usual: |_| {
            let because = "between the 3 % and the 10 % of ABYC E-11 / ISO 10133 for boats (common practice)";
            Some(Usual::new("5 %", because))
        },
        ..PLAIN
    },
    Entry {
        id: "level",
        asks: |_| "How much is asked of the work?".to_owned(),
        why: "No level leaves out a hazard or a check of the protection.",
        form: WantedForm::OneOf(LEVELS),
        usual: |_| Some(Usual::new("standard", "what a good installer does")),
        when: is_new,
        ..PLAIN
    },
];

#[cfg(test)]
mod tests {
    use super::super::Asking;
    use super::*;
    use crate::job::{BatteryKind, Level};

    #[test]
    fn the_words_of_the_questions_are_those_of_the_job_file() {
        assert!(BATTERIES.iter().all(|(word, _)| BatteryKind::WORDS.iter().any(|(known, _)| known == word)));
        assert_eq!(BATTERIES.len(), BatteryKind::WORDS.len());
        assert!(LEVELS.iter().all(|(word, _)| Level::WORDS.iter().any(|(known, _)| known == word)));
        assert_eq!(LEVELS.len(), Level::WORDS.len());
    }

    #[test]
    fn every_question_has_a_reason_and_a_usual_answer_or_the_way_to_find_out() {
        for entry in ALL {
            let question = entry.question(&Brief::new());
            assert!(question.why.len() > 20, "{}", entry.id);
            assert!(question.asks.len() > 10, "{}", entry.id);
            // The relay and the lead follow from the label.
            let follows = ["relay", "lead"].contains(&entry.id);
            assert!(question.usual.is_some() || !question.find_out.is_empty() || follows, "{}", entry.id);
        }
    }

    #[test]
    fn every_usual_answer_is_one_that_could_be_typed() {
        for what in Kind::WORDS {
            let mut brief = Brief::new();
            brief.answer("what", what.0).unwrap();
            brief.answer("label", "60 W").unwrap();
            for question in brief.questions() {
                let Some(usual) = question.usual else { continue };
                assert!(question.form.read(&usual.text).is_ok(), "{}: {}", question.id, usual.text);
            }
        }
    }
}
