//! Reads the job file and fills what it leaves open.

use std::cell::RefCell;
use std::collections::HashMap;

use super::lot::read_lots;
use super::parts::{
    Alternator, Battery, BatteryKind, Connector, Environment, FurtherBattery, Fuse, Ground, Level, Mount, Relay,
    Splice, Switch, Vehicle,
};
use super::read_instruments::{read_acceptance, read_instruments};
use super::read_loads::read_load;
use super::read_wires::{read_cables, read_wires};
use super::{Assumption, Fastener, Job};
use crate::document::{Form, Problem, Problems, Source, Table, parse_toml};
use crate::handbook::Cited;
use crate::handbook::assumption::assumed;
use crate::handbook::fuse::{self, FuseStyle};
use crate::handbook::hardware::{Friction, PropertyClass};
use crate::quantity::{Current, Length, Quantity, Resistance, Temperature, Toleranced, Voltage};

pub(super) type Assumptions = RefCell<Vec<Assumption>>;

pub(super) fn read(source: &Source) -> Result<Job, Box<Problems>> {
    let problems = RefCell::new(Problems::new(source.clone()));
    let job = read_tables(source, &problems);
    let problems = problems.into_inner();
    if let Some(job) = job {
        problems.check(job)
    } else {
        let mut problems = problems;
        if problems.is_empty() {
            problems.push(Problem::general("the job could not be read"));
        }
        problems.check(()).map(|()| unreachable!("there is at least one problem"))
    }
}

/// The form of a job file, from a job that uses every key.
pub(super) fn form() -> Form {
    let source = Source::new("every-key.toml", include_str!("every-key.toml"));
    let problems = RefCell::new(Problems::with_form(source.clone()));
    let _ = read_tables(&source, &problems);
    problems.into_inner().into_form()
}

fn read_tables(source: &Source, problems: &RefCell<Problems>) -> Option<Job> {
    let document = parse_toml(source, problems);
    if !problems.borrow().is_empty() {
        return None;
    }
    let top = Table::new(document.get_ref(), 0..0, "the job file", problems);
    top.check_format("job");
    let assumptions = Assumptions::default();
    let title = top.required_text("title");
    let work_order = top.text("work_order");
    let level = top.choice("level", Level::WORDS).unwrap_or_default();
    let vehicle = read_vehicle(&top);
    let system = vehicle.as_ref().map_or(Voltage::volts(12.0), |v| v.system);
    let (battery, further_batteries) = read_batteries(&top, system, &assumptions);
    let alternator = top.table("alternator").map(read_alternator);
    let (environment, joint, chassis) = read_surroundings(&top, &assumptions);

    let fuses = named(&top, &["fuse", "breaker"], |name, table, kind| read_fuse(name, table, kind, &assumptions));
    let relays = named(&top, &["relay"], |name, table, _| read_relay(name, table, system, &assumptions));
    let switches = named(&top, &["switch"], |name, table, _| Some(read_switch(name, &table, &assumptions)));
    let connectors = named(&top, &["connector"], |name, table, _| Some(read_connector(name, &table, &assumptions)));
    let splices = named(&top, &["splice"], |name, table, _| Some(read_splice(name, &table)));
    let grounds = named(&top, &["ground"], |name, table, _| Some(read_ground(name, &table)));
    let loads = named(&top, &["load"], |name, table, _| read_load(name, &table, system, &assumptions));
    let mounts = named(&top, &["mount"], |name, table, _| Some(read_mount(name, &table)));

    let mut job = Job {
        source: source.clone(),
        title: title.unwrap_or_default(),
        work_order,
        level,
        vehicle: vehicle.unwrap_or_else(nameless_vehicle),
        battery: battery.unwrap_or_else(nameless_battery),
        further_batteries,
        alternator: alternator.flatten(),
        environment,
        joint,
        chassis,
        fuses,
        relays,
        switches,
        connectors,
        splices,
        grounds,
        loads,
        wires: Vec::new(),
        cables: Vec::new(),
        mounts,
        lots: Vec::new(),
        instruments: read_instruments(&top),
        acceptance: read_acceptance(&top),
        assumptions: Vec::new(),
    };
    let declared = check_names(&top);
    read_wires(&top, &mut job, &declared);
    read_cables(&top, &mut job, &declared);
    job.wires.sort_by_key(|w| w.place_in_file.start);
    check_mounts(&top, &job, &declared);
    job.lots = read_lots(&top, &job);
    job.assumptions = assumptions.into_inner();
    top.finish();
    Some(job)
}

/// Stands in for a faulty table, so that the rest of the file is read and its problems come too.
fn nameless_vehicle() -> Vehicle {
    Vehicle { description: String::new(), identity: None, system: Voltage::volts(12.0) }
}

fn nameless_battery() -> Battery {
    let rest_voltage = Toleranced::exact(Voltage::volts(12.0));
    let internal_resistance = Toleranced::exact(Resistance::ohms(0.01));
    Battery { kind: BatteryKind::Flooded, capacity: None, rest_voltage, internal_resistance }
}

const KINDS_WITH_NAMES: [&str; 13] = [
    "meter",
    "fuse",
    "breaker",
    "relay",
    "switch",
    "connector",
    "splice",
    "ground",
    "load",
    "wire",
    "cable",
    "mount",
    "lot",
];

/// All names that the file gives, each with its kind, whether their tables are sound or not.
pub(super) type Declared = HashMap<String, &'static str>;

fn named<'t, P>(
    top: &Table<'t>,
    kinds: &[&'static str],
    mut read: impl FnMut(String, Table<'t>, &'static str) -> Option<P>,
) -> Vec<P> {
    let mut parts = Vec::new();
    for kind in kinds {
        for (name, table) in top.named_tables(kind) {
            parts.extend(read(name, table, kind));
        }
    }
    parts
}

/// Names are unique over all kinds of part, and speak plainly.
fn check_names(top: &Table) -> Declared {
    let mut seen = Declared::new();
    let batteries = top.table("battery").map(|table| table.tables_inside()).unwrap_or_default();
    let batteries = batteries.into_iter().map(|(name, table)| ("battery", name, table));
    let parts = KINDS_WITH_NAMES
        .into_iter()
        .flat_map(|kind| top.named_tables(kind).into_iter().map(move |(name, table)| (kind, name, table)));
    for (kind, name, table) in batteries.chain(parts) {
        let place = table.place.clone();
        let plain = name.chars().all(|c| c.is_alphanumeric() || c == '-' || c == '_');
        if !plain || name.is_empty() {
            let problem = Problem::at(place.clone(), format!("`{name}` cannot be a name"), "letters, digits, - and _");
            table.problem(problem.help("for example F1, lamp-left, w12"));
        }
        if ["battery", "chassis", "job", "alternator"].contains(&name.as_str()) {
            let title = format!("`{name}` is taken: it names a part of every vehicle");
            table.problem(Problem::at(place.clone(), title, "choose another name"));
        }
        if let Some(other) = seen.insert(name.clone(), kind) {
            let title = format!("the name `{name}` is used twice");
            let problem = Problem::at(place, title, format!("[{other}.{name}] has it already"));
            table.problem(problem.help("a name stands for one thing in the whole job: rename one of the two"));
        }
    }
    seen
}

fn read_vehicle(top: &Table) -> Option<Vehicle> {
    let table = top.required_table("vehicle", "description and system")?;
    let description = table.required_text("description");
    let identity = table.text("identity");
    let system = table.required_positive::<Voltage>("system");
    if let Some(stated) = &system {
        let known = [6.0, 12.0, 24.0, 48.0].iter().any(|v| (v - stated.nominal.as_volts()).abs() < 1e-9);
        if !known {
            let problem =
                Problem::at(table.place_of("system"), "no vehicle has this system voltage", "6 V, 12 V, 24 V or 48 V");
            table.problem(problem);
        }
    }
    table.finish();
    Some(Vehicle { description: description?, identity, system: system?.nominal })
}

/// The battery that starts the engine, and those beside it: `[battery.second]`.
fn read_batteries(top: &Table, system: Voltage, assumptions: &Assumptions) -> (Option<Battery>, Vec<FurtherBattery>) {
    let Some(table) = top.required_table("battery", "kind and rest_voltage") else {
        return (None, Vec::new());
    };
    let mut further = Vec::new();
    for (name, inside) in table.tables_inside() {
        let place = inside.text("place");
        let resistance = inside.positive::<Resistance>("internal_resistance");
        let read = read_battery(&inside, &name, system, resistance, assumptions);
        inside.finish();
        further.extend(read.map(|battery| FurtherBattery { name, battery, place }));
    }
    let resistance = table.not_negative("internal_resistance");
    let battery = read_battery(&table, "battery", system, resistance, assumptions);
    table.finish();
    (battery, further)
}

fn read_battery(
    table: &Table,
    name: &str,
    system: Voltage,
    internal_resistance: Option<Toleranced<Resistance>>,
    assumptions: &Assumptions,
) -> Option<Battery> {
    let kind = table.required_choice("kind", BatteryKind::WORDS);
    let capacity = table.positive("capacity");
    let rest_voltage = table.positive("rest_voltage");
    let rest_voltage = rest_voltage.unwrap_or_else(|| {
        let scale = system.as_volts() / 12.0;
        let value = assumed::<Voltage>("rest-voltage-12")
            .map(|v| Toleranced::plus_minus(v.nominal * scale, v.half_width() * scale));
        note(assumptions, name, "rest voltage", &value)
    });
    let internal_resistance =
        or_assumed(internal_resistance, assumptions, name, "internal resistance", "battery-internal-resistance");
    Some(Battery { kind: kind?, capacity, rest_voltage, internal_resistance })
}

fn read_alternator(table: Table) -> Option<Alternator> {
    let voltage = table.required_positive("voltage");
    let current = table.positive("current");
    let idle_current = table.positive("idle_current");
    table.finish();
    Some(Alternator { voltage: voltage?, current, idle_current })
}

pub(super) fn note<Q: Quantity>(
    assumptions: &Assumptions,
    subject: &str,
    what: &'static str,
    value: &Cited<Toleranced<Q>>,
) -> Toleranced<Q> {
    let source = value.citation();
    let shown = value.value.to_string();
    assumptions.borrow_mut().push(Assumption { subject: subject.to_owned(), what, value: shown, source });
    value.value
}

type Surroundings = (Environment, Toleranced<Resistance>, Toleranced<Resistance>);

fn read_surroundings(top: &Table, assumptions: &Assumptions) -> Surroundings {
    let mut environment = Environment {
        ambient: Toleranced::between(Temperature::celsius(-10.0), Temperature::celsius(40.0)),
        engine_bay: None,
        conductor: None,
    };
    let mut ambient_stated = false;
    if let Some(table) = top.table("environment") {
        ambient_stated = table.has("ambient");
        if let Some(ambient) = table.quantity("ambient") {
            environment.ambient = ambient;
        }
        environment.engine_bay = table.quantity("engine_bay");
        table.finish();
    }
    let (mut joint, mut chassis) = (None, None);
    if let Some(table) = top.table("assume") {
        joint = table.not_negative("joint");
        chassis = table.not_negative("chassis");
        environment.conductor = table.quantity("conductor_temperature");
        table.finish();
    }
    if !ambient_stated && environment.conductor.is_none() {
        let source = "a temperate year (common practice)".to_owned();
        let value = "-10 to 40 °C".to_owned();
        let subject = "surroundings".to_owned();
        assumptions.borrow_mut().push(Assumption { subject, what: "ambient temperature", value, source });
    }
    let joint = joint.unwrap_or_else(|| note(assumptions, "every joint", "resistance", &assumed("joint")));
    let chassis = chassis.unwrap_or_else(|| note(assumptions, "chassis", "resistance", &assumed("chassis")));
    (environment, joint, chassis)
}

/// The stated value, or the assumed one. A value that is stated but wrong has its problem noted, and no job is read.
fn or_assumed(
    stated: Option<Toleranced<Resistance>>,
    assumptions: &Assumptions,
    name: &str,
    what: &'static str,
    id: &str,
) -> Toleranced<Resistance> {
    stated.unwrap_or_else(|| note(assumptions, name, what, &assumed(id)))
}

fn read_fuse(name: String, table: Table, kind: &str, assumptions: &Assumptions) -> Option<Fuse> {
    let rating = table.required_positive::<Current>("rating").map(|r| r.nominal);
    let breaker = kind == "breaker";
    let style = if breaker {
        None
    } else {
        let stated = table.choice("style", FuseStyle::WORDS);
        Some(stated.unwrap_or(FuseStyle::Blade))
    };
    if !breaker && !table.has("style") {
        let source = "the commonest body (common practice)".to_owned();
        let value = "blade".to_owned();
        assumptions.borrow_mut().push(Assumption { subject: name.clone(), what: "body", value, source });
    }
    let stated = table.not_negative("resistance");
    let breaking_capacity = table.positive::<Current>("breaking_capacity").map(|c| c.nominal);
    let place = table.text("place");
    table.finish();
    let rating = rating?;
    let resistance = stated.unwrap_or_else(|| {
        let typical = fuse::resistance(style.unwrap_or(FuseStyle::Blade), rating);
        let typical = typical.map(|cited| cited.map(|r| Toleranced::between(r.cold, r.hot)));
        note(assumptions, &name, "resistance", &typical.unwrap_or_else(|| assumed("relay-contact")))
    });
    Some(Fuse { name, rating, style, resistance, breaking_capacity, place })
}

fn read_relay(name: String, table: Table, system: Voltage, assumptions: &Assumptions) -> Option<Relay> {
    let coil = table.required_positive("coil");
    let contact = table.positive::<Current>("contact").map(|c| c.nominal);
    let stated_contact = table.not_negative("contact_resistance");
    let pull_in = table.positive::<Voltage>("pull_in");
    let drop_out = table.positive::<Voltage>("drop_out");
    let place = table.text("place");
    let has_pull_in = table.has("pull_in");
    let has_drop_out = table.has("drop_out");
    let drop_out_place = table.place_of("drop_out");
    let scale = system.as_volts() / 12.0;
    let scaled = |id: &str| assumed::<Voltage>(id).map(|v| Toleranced::exact(v.nominal * scale));
    let contact_resistance = or_assumed(stated_contact, assumptions, &name, "contact resistance", "relay-contact");
    let pull_in = pull_in
        .or_else(|| (!has_pull_in).then(|| note(assumptions, &name, "pull-in voltage", &scaled("relay-pull-in"))));
    let drop_out = drop_out
        .or_else(|| (!has_drop_out).then(|| note(assumptions, &name, "drop-out voltage", &scaled("relay-drop-out"))));
    if let (Some(pull_in), Some(drop_out)) = (&pull_in, &drop_out)
        && drop_out.nominal >= pull_in.nominal
    {
        table.problem(Problem::at(
            drop_out_place,
            format!("{name} would let go at {} and pull in only at {}", drop_out.nominal, pull_in.nominal),
            "the drop-out voltage lies below the pull-in voltage",
        ));
    }
    table.finish();
    Some(Relay { name, coil: coil?, contact, contact_resistance, pull_in: pull_in?, drop_out: drop_out?, place })
}

fn read_switch(name: String, table: &Table, assumptions: &Assumptions) -> Switch {
    let rating = table.positive::<Current>("rating").map(|c| c.nominal);
    let stated = table.not_negative("resistance");
    let resistance = or_assumed(stated, assumptions, &name, "contact resistance", "switch-contact");
    let switch = Switch { name, rating, resistance, place: table.text("place") };
    table.note_unknown_keys();
    switch
}

fn read_connector(name: String, table: &Table, assumptions: &Assumptions) -> Connector {
    let cavities: Vec<String> = table.texts("cavities").into_iter().map(|(text, _)| text).collect();
    if cavities.iter().any(|c| c.is_empty() || !c.chars().all(|c| c.is_alphanumeric() || c == '-' || c == '_')) {
        let problem = Problem::at(table.place_of("cavities"), "a cavity has a plain name", "letters and digits");
        table.problem(problem.help("write one text for each cavity: cavities = [\"A\", \"B\"]"));
    }
    if table.demands("cavities", "the names of its cavities, such as [\"A\", \"B\"]") && cavities.is_empty() {
        table.missing("cavities", "the names of its cavities, such as [\"A\", \"B\"]");
    }
    let mut sorted = cavities.clone();
    sorted.sort_unstable();
    sorted.dedup();
    if sorted.len() != cavities.len() {
        table.problem(Problem::at(table.place_of("cavities"), format!("{name} has two cavities of one name"), "here"));
    }
    let rating = table.positive::<Current>("rating").map(|c| c.nominal);
    let stated = table.not_negative("resistance");
    let resistance = or_assumed(stated, assumptions, &name, "contact resistance", "connector-contact");
    let connector =
        Connector { name, cavities, rating, resistance, seal: table.positive("seal"), place: table.text("place") };
    table.note_unknown_keys();
    connector
}

fn read_splice(name: String, table: &Table) -> Splice {
    let method = table.text("method").unwrap_or_default();
    let splice = Splice { name, method, place: table.text("place") };
    table.note_unknown_keys();
    splice
}

fn read_ground(name: String, table: &Table) -> Ground {
    let ground = Ground {
        name,
        place: table.text("place"),
        resistance: table.not_negative("resistance"),
        fastener: read_fastener(table),
    };
    table.note_unknown_keys();
    ground
}

fn read_mount(name: String, table: &Table) -> Mount {
    let mount = Mount { name, of: table.text("of"), place: table.text("place"), fastener: read_fastener(table) };
    table.note_unknown_keys();
    mount
}

fn read_fastener(table: &Table) -> Fastener {
    let fastener = Fastener {
        bolt: table.text("bolt"),
        class: table.choice("class", PropertyClass::WORDS),
        friction: table.choice("friction", Friction::WORDS),
        stack: table.positive::<Length>("stack").map(|stack| stack.nominal),
        thread_depth: table.positive::<Length>("thread_depth").map(|depth| depth.nominal),
        torque: table.positive("torque"),
    };
    // What is counted from the thread needs one that the handbook knows.
    let counted = ["class", "friction", "stack", "thread_depth"].into_iter().find(|key| table.has(key));
    if let Some(key) = counted.filter(|_| fastener.thread().is_none()) {
        let title = format!("`{key}` without a thread that it belongs to");
        let problem = Problem::at(table.place_of(if table.has("bolt") { "bolt" } else { key }), title, "here");
        table.problem(problem.help("write the coarse thread as it is stamped: bolt = \"M6\", \"M8x25\""));
    }
    if table.has("thread_depth") && !table.has("stack") {
        let title = "`thread_depth` without `stack`";
        table.problem(Problem::at(table.place_of("thread_depth"), title, "add what lies between head and hole"));
    }
    fastener
}

fn check_mounts(top: &Table, job: &Job, declared: &Declared) {
    for (_, table) in top.named_tables("mount") {
        let Some(of) = table.text("of") else { continue };
        if declared.get(&of) == Some(&"mount") {
            table.problem(Problem::at(
                table.place_of("of"),
                format!("`{of}` is a mount itself"),
                "name what is mounted",
            ));
        } else if job.wire(&of).is_none() && !declared.contains_key(&of) {
            let loads = job.loads.iter().map(|l| l.name.as_str()).collect::<Vec<_>>();
            let title = format!("no part is called `{of}`");
            table.problem(Problem::at(
                table.place_of("of"),
                title,
                format!("the loads of this job are {}", loads.join(", ")),
            ));
        }
    }
}
