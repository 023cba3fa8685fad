//! Sizes for the parts, why each was chosen, and whether the whole keeps the rules.

use std::collections::BTreeMap;

use super::answers::Zone;
use super::layout::{FusePart, Layout};
use super::question::{Question, Usual};
use super::write::{self, Values};
use super::{Asking, Brief};
use crate::circuit::{Circuit, State};
use crate::design::{self, Finding, Free, Sizing};
use crate::document::{Problems, Source};
use crate::handbook::assumption::assumed;
use crate::handbook::relay::{RelayKind, relay_kinds};
use crate::handbook::{Cited, conductor};
use crate::job::{Job, Terminal, switches_of};
use crate::quantity::{Area, ConductorSize, Current, Length};

/// Thinnest conductor that is run on its own: 33 CFR 183.425(e) asks 16 AWG, for which 1.5 mm² counts.
const LEAST: Area = Area::mm2(1.5);
const LEAST_SOURCE: &str = "thinner breaks too easily on its own: 33 CFR 183.425(e) asks 16 AWG (boats; a yardstick)";
/// By how much insulation may be thinner than its sheet's greatest diameter before a seal no longer fits (trade guides).
const SEAL_SPREAD: Length = Length::metres(0.3e-3);
/// Ratings of one contact in sealed connectors (common practice; the data sheet wins).
const CONTACTS: [f64; 6] = [8.0, 13.0, 25.0, 40.0, 60.0, 100.0];

/// Something that was chosen, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// What it is about: `F1`, `w2, w3`, `relay`.
    pub subject: String,
    /// What was chosen: `5 A blade fuse`.
    pub chosen: String,
    /// Why, with the numbers and the source.
    pub because: String,
}

/// Why no job comes of a brief.
#[derive(Debug, Clone)]
pub enum Unfit {
    /// Questions that nobody answered and nothing can be taken for.
    Missing(Vec<Question<'static>>),
    /// The job that would come of it cannot be read: a text in it is not one.
    Unreadable(Box<Problems>),
}

/// A job that comes of a brief.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// The whole job file.
    pub text: String,
    /// The job.
    pub job: Job,
    /// What was chosen, and why.
    pub choices: Vec<Choice>,
    /// What the rules of the design say of it, the gravest first.
    pub findings: Vec<Finding>,
    /// Answers that were taken because nobody gave one.
    pub taken: Vec<(Question<'static>, Usual)>,
    /// Names of the loads that come of it.
    pub loads: Vec<String>,
}

impl Proposal {
    /// Works the job out.
    ///
    /// # Errors
    /// [`Unfit`] where answers are missing, or a text of the brief makes no job file.
    pub fn of(brief: &Brief) -> Result<Proposal, Unfit> {
        let missing = brief.missing();
        if !missing.is_empty() {
            return Err(Unfit::Missing(missing));
        }
        let draft = Draft { brief, layout: Layout::of(brief) };
        draft.proposal().map_err(Unfit::Unreadable)
    }

    /// Whether the design keeps all rules that were checked.
    pub fn conforms(&self) -> bool {
        design::conforms(&self.findings)
    }
}

struct Draft<'b> {
    brief: &'b Brief,
    layout: Layout,
}

/// A sized job.
struct Sized {
    values: Values,
    job: Job,
    sizing: Sizing,
    findings: Vec<Finding>,
}

impl Draft<'_> {
    fn proposal(&self) -> Result<Proposal, Box<Problems>> {
        let asked = self.brief.holds("drop").unwrap_or_default();
        let shares = ["3 %", "5 %", "10 %"];
        let from = shares.iter().position(|share| *share == asked).unwrap_or(0);
        let mut relaxed: Option<String> = None;
        let mut sized = self.sized(shares[from])?;
        for share in &shares[from + 1..] {
            let Some(finding) = sized.findings.iter().find(|f| self.too_much_drop(f)) else { break };
            relaxed.get_or_insert_with(|| finding.says.clone());
            sized = self.sized(share)?;
        }
        let mut choices = self.choices(&sized);
        if let Some(says) = relaxed {
            let because = format!(
                "{asked} cannot be kept by any conductor: {says} with the largest one, since fuse, contacts and joints \
                 take their part. A shorter way, or no relay and no connector, would do more than copper"
            );
            choices.push(Choice { subject: "voltage".to_owned(), chosen: sized.values.drop.clone(), because });
        }
        sized.values.notes = notes(&choices);
        let text = self.text(&sized.values);
        let job = read(&text)?;
        let taken = self.brief.questions().into_iter().filter(|q| self.brief.given(q.id).is_none());
        let taken = taken.filter_map(|question| question.usual.clone().map(|usual| (question, usual))).collect();
        let loads = self.layout.loads.iter().map(|load| load.name.clone()).collect();
        Ok(Proposal { text, job, choices, findings: sized.findings, taken, loads })
    }

    fn too_much_drop(&self, finding: &Finding) -> bool {
        finding.rule == "drop-too-large" && self.layout.loads.iter().any(|load| load.name == finding.subject)
    }

    /// The whole job file with these values.
    fn text(&self, values: &Values) -> String {
        let parts = write::parts(self.brief, &self.layout, values);
        let called = self.brief.holds("name").unwrap_or_default();
        match self.brief.existing() {
            None => write::head(self.brief, &title(&called)) + &parts,
            Some(job) => {
                let before = job.source.text.trim_end();
                format!("{before}\n\n# === added: {called} {}\n{parts}", "=".repeat(50))
            }
        }
    }

    /// Chooses fuses, relay and conductors so that the way takes at most this share.
    fn sized(&self, drop: &str) -> Result<Sized, Box<Problems>> {
        let start = Current::amps(10.0);
        let mut values = Values {
            fuses: self.layout.fuses.iter().map(|fuse| (fuse.name.clone(), start)).collect(),
            sizes: BTreeMap::new(),
            relay: self.layout.relay.as_ref().and_then(|_| self.relay(start)),
            contact: start,
            seal: None,
            drop: drop.to_owned(),
            notes: BTreeMap::new(),
        };
        let own = |wire: &crate::job::Wire| self.layout.wires.iter().any(|w| w.name == wire.name && w.given.is_none());
        let least = |fuse: &crate::job::Fuse| {
            let own = self.layout.fuses.iter().find(|own| own.name == fuse.name)?;
            Some(if own.for_coil { assumed("fuse-least").value.nominal } else { self.brief.least_fuse().0 })
        };
        // The fuses follow the current alone; the relay and the connector follow the fuse, and their resistance counts in
        // the way: so they come before the conductors.
        let none = |_: &crate::job::Wire| false;
        let fuses =
            Sizing::choosing(&read(&self.text(&values))?, Free { wire: &none, fuse: &least, least: LEAST }).fuses;
        for fuse in fuses {
            values.fuses.insert(fuse.fuse, fuse.needed.unwrap_or(fuse.stated));
        }
        let main = self.main_fuse().and_then(|name| values.fuses.get(name)).copied().unwrap_or(start);
        values.relay = self.layout.relay.as_ref().and_then(|_| self.relay(main));
        values.contact = CONTACTS.map(Current::amps).into_iter().find(|c| *c >= main).unwrap_or(main);
        let sizing = Sizing::choosing(&read(&self.text(&values))?, Free { wire: &own, fuse: &least, least: LEAST });
        for fuse in &sizing.fuses {
            values.fuses.insert(fuse.fuse.clone(), fuse.needed.unwrap_or(fuse.stated));
        }
        for wire in &sizing.wires {
            if self.layout.wires.iter().any(|own| own.name == wire.wire) {
                values.sizes.insert(wire.wire.clone(), wire.needed.unwrap_or(wire.stated));
            }
        }
        self.strengthen_stubs(&mut values);
        self.strengthen_returns(&mut values);
        values.seal = self.seal(&values);
        let job = read(&self.text(&values))?;
        let findings = design::check(&job);
        Ok(Sized { values, job, sizing, findings })
    }

    fn main_fuse(&self) -> Option<&str> {
        self.layout.fuses.iter().find(|fuse| !fuse.for_coil).map(|fuse| fuse.name.as_str())
    }

    /// The smallest relay whose contact carries the loads and is not weaker than their fuse; else the largest one.
    fn relay(&self, fuse: Current) -> Option<RelayKind> {
        let (needed, _) = self.brief.contact_needed()?;
        let mut kinds: Vec<RelayKind> = relay_kinds().into_iter().map(|kind| kind.value).collect();
        let fits = kinds.iter().position(|kind| kind.contact >= needed && kind.contact >= fuse);
        Some(kinds.swap_remove(fits.unwrap_or(kinds.len() - 1)))
    }

    /// The piece before a fuse has no protection: it is never thinner than the wire behind that fuse.
    fn strengthen_stubs(&self, values: &mut Values) {
        for fuse in &self.layout.fuses {
            let (input, output) = (format!("{}.in", fuse.name), format!("{}.out", fuse.name));
            let behind = self.layout.wires.iter().filter(|wire| wire.from == output);
            let largest = behind.filter_map(|wire| values.sizes.get(&wire.name)).copied();
            let largest = largest.max_by(|a, b| a.area().as_mm2().total_cmp(&b.area().as_mm2()));
            let Some(stub) = self.layout.wires.iter().find(|wire| wire.to == input) else { continue };
            if let (Some(largest), Some(size)) = (largest, values.sizes.get_mut(&stub.name))
                && size.area() < largest.area()
            {
                *size = largest;
            }
        }
    }

    /// What comes back is what went there: a return is never thinner than the wire that feeds the load.
    fn strengthen_returns(&self, values: &mut Values) {
        for wire in &self.layout.wires {
            let there = wire.brought_by.as_ref().and_then(|there| values.sizes.get(there)).copied();
            if let (Some(there), Some(size)) = (there, values.sizes.get_mut(&wire.name))
                && size.area() < there.area()
            {
                *size = there;
            }
        }
    }

    /// The diameters of insulation that the seal must take; none where it stays dry, or where no sheet says them.
    fn seal(&self, values: &Values) -> Option<(Length, Length)> {
        let connector = self.layout.connector.as_ref()?;
        if self.brief.load_zone() == Zone::Cabin {
            return None;
        }
        let (start, size) = (format!("{}.", connector.name), |name: &str| values.sizes.get(name).copied());
        let here = self.layout.wires.iter().filter(|w| w.from.starts_with(&start) || w.to.starts_with(&start));
        let outers: Option<Vec<Length>> = here
            .map(|wire| conductor::usual_outer(wire.given.or(size(&wire.name))?).map(|outer| outer.value))
            .collect();
        let outers = outers?;
        let by_size = |a: &Length, b: &Length| a.as_metres().total_cmp(&b.as_metres());
        let (thin, thick) = (outers.iter().copied().min_by(by_size)?, outers.iter().copied().max_by(by_size)?);
        Some((thin - SEAL_SPREAD, thick))
    }

    fn choices(&self, sized: &Sized) -> Vec<Choice> {
        let mut choices = Vec::new();
        for fuse in &self.layout.fuses {
            let rating = sized.values.fuses.get(&fuse.name).copied().unwrap_or(Current::amps(0.0));
            let because = self.fuse_reason(sized, fuse);
            let body = if rating > Current::amps(40.0) { "maxi" } else { "blade" };
            let chosen = format!("{} {body} fuse", rating.as_rating());
            choices.push(Choice { subject: fuse.name.clone(), chosen, because });
        }
        self.explain_control(sized, &mut choices);
        self.explain_wires(sized, &mut choices);
        self.explain_voltage(sized, &mut choices);
        self.explain_connector(sized, &mut choices);
        choices
    }

    fn explain_connector(&self, sized: &Sized, choices: &mut Vec<Choice>) {
        let Some(connector) = &self.layout.connector else { return };
        let contact = sized.values.contact.as_rating();
        let (chosen, because) = match sized.values.seal {
            Some((low, high)) => (
                format!("sealed, two cavities, {contact}"),
                format!(
                    "water reaches it; its seal must take insulation of {} to {}, the greatest diameters of thin-wall \
                     cable; measure the wires before it is bought",
                    low.as_rating(),
                    high.as_rating()
                ),
            ),
            None if self.brief.load_zone() == Zone::Cabin => {
                (format!("two cavities, {contact}"), "it stays dry, so it needs no seal".to_owned())
            }
            None => (
                format!("sealed, two cavities, {contact}"),
                "water reaches it; the diameters of these wires stand on no sheet here: measure them, and choose the \
                 seal by that"
                    .to_owned(),
            ),
        };
        let because = format!("{because}; one contact carries what the fuse lets through");
        choices.push(Choice { subject: connector.name.clone(), chosen, because });
    }

    fn fuse_reason(&self, sized: &Sized, fuse: &FusePart) -> String {
        let solution = Circuit::of(&sized.job).solve(&State::all_on(&sized.job)).ok();
        let steady = solution.and_then(|solution| solution.current(&fuse.name)).unwrap_or(Current::amps(0.0)).abs();
        let (share, source) = design::fuse_loading(&sized.job);
        let wanted = steady / share;
        let any = assumed::<Current>("fuse-least");
        let (least, because) =
            if fuse.for_coil { (any.value.nominal, any.citation()) } else { self.brief.least_fuse() };
        let carries = format!(
            "it carries {steady}, and a fuse is good for {:.0} % of its number for long: {wanted} or more ({source})",
            100.0 * share
        );
        if least > wanted { format!("{carries}; {} or more: {because}", least.as_rating()) } else { carries }
    }

    fn explain_control(&self, sized: &Sized, choices: &mut Vec<Choice>) {
        let Some(switch) = &self.layout.switch else { return };
        let rule = self.brief.relay_wanted().map(|(_, says)| says).unwrap_or_default();
        match (&self.layout.relay, &sized.values.relay) {
            (Some(relay), Some(kind)) => {
                let chosen = format!("{}, {} contact", kind.name, kind.contact.as_rating());
                let cited = relay_kinds().into_iter().find(|known| known.value == *kind);
                let source = cited.map(|cited| Cited::citation(&cited)).unwrap_or_default();
                let because = format!("{rule}. Contact not below the fuse; values by {source}");
                choices.push(Choice { subject: relay.name.clone(), chosen, because });
            }
            _ => choices.push(Choice { subject: switch.name.clone(), chosen: "no relay".to_owned(), because: rule }),
        }
    }

    /// Wires of one size and one reason are told together.
    fn explain_wires(&self, sized: &Sized, choices: &mut Vec<Choice>) {
        let mut groups: Vec<(String, String, Vec<&str>)> = Vec::new();
        for wire in self.layout.wires.iter().filter(|wire| wire.given.is_none()) {
            let Some(size) = sized.values.sizes.get(&wire.name) else { continue };
            let because = sized.sizing.wires.iter().find(|choice| choice.wire == wire.name);
            let because = self.wire_reason(sized, &wire.name, *size, because.map_or("", |choice| &choice.because));
            let chosen = size.to_string();
            match groups.iter_mut().find(|(known, reason, _)| *known == chosen && *reason == because) {
                Some((_, _, names)) => names.push(&wire.name),
                None => groups.push((chosen, because, vec![&wire.name])),
            }
        }
        for (chosen, because, names) in groups {
            choices.push(Choice { subject: names.join(", "), chosen, because });
        }
    }

    fn wire_reason(&self, sized: &Sized, name: &str, size: ConductorSize, reason: &str) -> String {
        let Some(wire) = sized.job.wire(name) else { return String::new() };
        let carries = design::ampacity(&sized.job, wire);
        let carries = carries.map_or_else(String::new, |limit| format!("may carry {} where it runs", limit.value));
        let stub = self.layout.fuses.iter().any(|fuse| wire.to.name() == format!("{}.in", fuse.name));
        if stub {
            return format!("{carries}; no fuse before it, so never thinner than the wire behind the fuse");
        }
        let stated = sized.sizing.wires.iter().find(|choice| choice.wire == name).and_then(|choice| choice.needed);
        let own = self.layout.wires.iter().find(|wire| wire.name == name);
        if let Some(there) = own.and_then(|wire| wire.brought_by.as_ref()).filter(|_| stated != Some(size)) {
            return format!("{carries}; as thick as {there}, whose current comes back through it");
        }
        if reason.starts_with("the voltage") {
            return format!("{carries}; larger than that for {reason}");
        }
        if size.area() <= LEAST {
            return format!("{carries}; {LEAST_SOURCE}");
        }
        match reason {
            "fuse above ampacity" => format!("{carries}, and its fuse lets no more through"),
            "short does not open fuse" => {
                format!("{carries}; a thinner one would let too little through to open its fuse")
            }
            "wire above ampacity" => format!("{carries}: what it has to"),
            other => format!("{carries}; because of {other}"),
        }
    }

    fn explain_voltage(&self, sized: &Sized, choices: &mut Vec<Choice>) {
        let circuit = Circuit::of(&sized.job);
        for load in &self.layout.loads {
            let state = State { on: switches_of(&sized.job, &load.name).into_iter().collect(), ..State::rest() };
            let Ok(solution) = circuit.solve(&state) else { continue };
            let posts = solution.voltage(&Terminal::battery_plus());
            let (Some(posts), Some(across)) = (posts, solution.load_voltage(&load.name)) else { continue };
            let (lost, system) = (posts - across, sized.job.vehicle.system);
            let because = format!(
                "of {posts} at the battery {across} reach it: the way there and back takes {lost}, {:.1} % of {}; {} are allowed",
                100.0 * (lost / system),
                system.as_rating(),
                sized.values.drop
            );
            let chosen = format!("{across} across it");
            match choices.iter_mut().find(|choice| choice.chosen == chosen && choice.because == because) {
                Some(twin) => twin.subject = format!("{}, {}", twin.subject, load.name),
                None => choices.push(Choice { subject: load.name.clone(), chosen, because }),
            }
        }
    }
}

/// What the file remarks on a part: the reason in short.
fn notes(choices: &[Choice]) -> BTreeMap<String, String> {
    choices.iter().map(|choice| (choice.subject.clone(), choice.because.clone())).collect()
}

/// A name as a title: `rear-work-lamp` becomes `Rear work lamp`.
fn title(name: &str) -> String {
    let words = name.replace(['-', '_'], " ");
    let mut letters = words.chars();
    letters.next().map_or_else(|| "New load".to_owned(), |first| first.to_uppercase().chain(letters).collect())
}

fn read(text: &str) -> Result<Job, Box<Problems>> {
    Job::read(&Source::new("job.toml", text))
}
