//! Writes every procedure out for every thing it applies to.

use std::collections::BTreeSet;
use std::ops::Range;

use super::template::{Pen, Writer, fields};
use super::{
    Alternative, Ask, Condition, Holds, Measurement, Phase, Plan, PlanError, Probes, Repeat, Rule, Step, StepKey,
    states,
};
use crate::circuit::State;
use crate::document::{Problem, Problems, closest};
use crate::job::{ForEach, ItemKind, Job, Terminal, loads_of, powers, switches_of};
use crate::procedure::{
    AcceptTemplate, AskTemplate, ConditionTemplate, Hazard, HoldsTemplate, Library, MeasureTemplate, Procedure,
    ProcedureStep, Recorded,
};
use crate::quantity::{Amount, Dimension, Duration, Reading, parse_any};

pub(super) fn write_out(job: &Job, library: &Library) -> Result<Plan, PlanError> {
    let mut plan = Plan { phases: Vec::new(), steps: Vec::new() };
    let mut written: Vec<Written> = Vec::new();
    let pen = Pen::new(job);
    for procedure in library.procedures.iter().filter(|p| p.level <= job.level) {
        let mut problems = Problems::new(procedure.source.clone());
        let mut circuit = None;
        let items = in_walking_order(job, procedure.for_each);
        for (index, Item { name, group }) in items.iter().enumerate() {
            let owner = procedure.for_each.of.zip(group.as_deref());
            let writer = pen.writer(job, procedure.for_each.kind, name, owner);
            let remaining = items[index..].iter().map(|item| item.name.as_str()).collect();
            let (problems, circuit) = (&mut problems, &mut circuit);
            let (item, group) = (name.as_str(), group.as_deref());
            let mut page = Page { job, library, procedure, item, group, remaining, writer, problems, circuit };
            let phase = page.phase();
            let place = plan.phases.len();
            let steps: Vec<(Step, &ProcedureStep)> =
                procedure.steps.iter().filter_map(|step| Some((page.step(step, place)?, step))).collect();
            if let (Some(phase), false) = (phase, steps.is_empty()) {
                plan.phases.push(phase);
                for (step, template) in steps {
                    plan.steps.push(step);
                    written.push(Written { procedure, template });
                }
            }
        }
        problems.check(()).map_err(PlanError::Procedure)?;
        if let Some(error) = circuit {
            return Err(error);
        }
    }
    // A condition on a step that this level or this job leaves out cannot hold.
    let keys: BTreeSet<StepKey> = plan.steps.iter().map(|s| s.key.clone()).collect();
    let keep = |step: &Step| step.only_if.as_ref().is_none_or(|condition| keys.contains(&condition.step));
    let mut kept = plan.steps.iter().map(keep).collect::<Vec<_>>().into_iter();
    written.retain(|_| kept.next().unwrap_or(true));
    plan.steps.retain(keep);
    states::check(&plan, &written)?;
    Ok(plan)
}

/// From which line of which file a step was written out.
pub(super) struct Written<'a> {
    pub(super) procedure: &'a Procedure,
    pub(super) template: &'a ProcedureStep,
}

/// A thing that a procedure is walked for, and the thing it is a member of.
struct Item {
    name: String,
    group: Option<String>,
}

/// Fuses that feed a relay's coil come first: what the relay switches can then be tried when its own fuse goes in.
fn in_walking_order(job: &Job, for_each: ForEach) -> Vec<Item> {
    if let Some(owners) = for_each.of {
        let members = |owner: &str| {
            job.members(for_each.kind, owner).into_iter().map({
                let owner = owner.to_owned();
                move |name| Item { name, group: Some(owner.clone()) }
            })
        };
        return job.names(owners).into_iter().flat_map(members).collect();
    }
    let mut items = job.names(for_each.kind);
    if for_each.kind == ItemKind::Fuse {
        items.sort_by_key(|fuse| loads_of(job, fuse).len() == powers(job, fuse).len());
    }
    items.into_iter().map(|name| Item { name: name.to_owned(), group: None }).collect()
}

/// One procedure being written out for one thing.
struct Page<'a> {
    job: &'a Job,
    library: &'a Library,
    procedure: &'a Procedure,
    item: &'a str,
    /// The thing that it is a member of.
    group: Option<&'a str>,
    /// This thing and all that come after it.
    remaining: Vec<&'a str>,
    writer: Writer,
    problems: &'a mut Problems,
    /// The first reading for which the circuit has no steady state.
    circuit: &'a mut Option<PlanError>,
}

impl Page<'_> {
    fn problem(&mut self, place: &Range<usize>, title: String, label: &str) {
        self.problems.push(Problem::at(place.clone(), title, label));
    }

    fn fill(&mut self, text: &str, place: &Range<usize>) -> Option<String> {
        match self.writer.fill(text) {
            Ok(filled) => Some(filled),
            Err(error) => {
                let problem = self.unfilled(text, place, &error);
                // The same text fails for each thing in the same way: said once.
                if !self.problems.list().iter().any(|known| known.at == problem.at) {
                    self.problems.push(problem);
                }
                None
            }
        }
    }

    /// What is wrong where a text cannot be filled in, from the words of the template engine.
    fn unfilled(&self, text: &str, place: &Range<usize>, error: &str) -> Problem {
        let first = error.lines().next().unwrap_or_default().trim_start_matches("error: ").to_owned();
        let line = self.place_of(text, place);
        let undefined = first.contains("is not defined").then(|| first.split('`').nth(1)).flatten();
        let Some(name) = undefined else {
            let problem = Problem::at(line, format!("this text is no valid template: {first}"), "this text");
            return problem.help("each {% if %} ends with {% endif %}, and each {{ with }}");
        };
        let whole = &self.procedure.source.text;
        let at = whole.get(line.clone()).and_then(|line| line.find(name));
        let at = at.map_or(line.clone(), |at| line.start + at..line.start + at + name.len());
        let fields = fields(self.job, self.procedure.for_each.kind, self.item);
        let names: Vec<&str> = fields.iter().map(String::as_str).collect();
        let title = format!("`{name}` is not defined for `{}`", self.item);
        let mut problem = Problem::at(at, title, "a text may use item, thing., job. and what they hold");
        if let Some(meant) = closest(name, &names) {
            problem = problem.help(format!("did you mean `thing.{meant}`?"));
        }
        problem.help(format!("a {} has {}", self.procedure.for_each.kind.word(), names.join(", ")))
    }

    /// Where a text stands in the file; the step where it cannot be found (escapes, joined lines).
    fn place_of(&self, text: &str, place: &Range<usize>) -> Range<usize> {
        let line = text.lines().find(|l| l.contains('{')).unwrap_or(text).trim();
        // From the step on: the same text may stand in an earlier one.
        let whole = &self.procedure.source.text;
        match whole[place.start.min(whole.len())..].find(line) {
            Some(at) if !line.is_empty() => place.start + at..place.start + at + line.len(),
            _ => place.clone(),
        }
    }

    fn fill_all(&mut self, texts: &[String], place: &Range<usize>) -> Vec<String> {
        texts.iter().filter_map(|text| self.fill(text, place)).filter(|text| !text.is_empty()).collect()
    }

    fn fill_optional(&mut self, text: Option<&str>, place: &Range<usize>) -> Option<String> {
        text.and_then(|text| self.fill(text, place))
    }

    fn hazards(&self, ids: &[String]) -> Vec<Hazard> {
        let mut hazards: Vec<Hazard> = ids.iter().filter_map(|id| self.library.hazard(id)).cloned().collect();
        hazards.sort_by_key(|h| std::cmp::Reverse(h.signal));
        hazards
    }

    fn phase(&mut self) -> Option<Phase> {
        let procedure = self.procedure;
        let top = 0..0;
        Some(Phase {
            procedure: procedure.id.clone(),
            for_each: procedure.for_each,
            item: self.item.to_owned(),
            group: self.group.map(str::to_owned),
            title: self.fill(&procedure.title, &top)?,
            why: self.fill(&procedure.why, &top)?,
            conditions: self.fill_all(&procedure.conditions, &top),
            persons: self.fill_all(&procedure.persons, &top),
            tools: self.fill_all(&procedure.tools, &top),
            supplies: self.fill_all(&procedure.supplies, &top),
            parts: self.fill_all(&procedure.parts, &top),
            close: self.fill_all(&procedure.close, &top),
            only_all_closed: procedure.only_all_closed,
            hazards: self.hazards(&procedure.hazards),
        })
    }

    fn step(&mut self, step: &ProcedureStep, phase: usize) -> Option<Step> {
        if step.level > self.job.level {
            return None;
        }
        if let Some(condition) = &step.when {
            match self.writer.holds(condition) {
                Ok(true) => {}
                Ok(false) => return None,
                Err(error) => {
                    let first = error.lines().next().unwrap_or_default();
                    let place = self.place_of(condition, &step.place);
                    self.problem(
                        &place,
                        format!("`when` cannot be decided for `{}`: {first}", self.item),
                        "this expression",
                    );
                    return None;
                }
            }
        }
        let key = self.key(&step.id);
        self.writer.not_measured();
        let ask = self.ask(step)?;
        if let Ask::Measure(measurement) = &ask {
            match measurement.expect(self.job) {
                Ok(expectation) => self.writer.measured(&measurement.probes, &expectation),
                Err(error) => {
                    self.circuit.get_or_insert(PlanError::Circuit { step: key, error });
                    return None;
                }
            }
        }
        let only_if = match &step.only_if {
            Some(condition) => Some(self.condition(condition, step)?),
            None => None,
        };
        Some(Step {
            key,
            phase,
            instructions: sentences(&self.fill(&step.instruction, &step.place)?),
            why: self.fill(&step.why, &step.place)?,
            look: self.fill_all(&step.look, &step.place),
            reveals: step.reveals.clone(),
            hazards: self.hazards(&step.hazards),
            photo: self.fill_optional(step.photo.as_deref(), &step.place),
            hold: step.hold.clone(),
            witness: step.witness.clone(),
            only_if,
            repeat: step.repeat.as_ref().map(|r| Repeat { from: self.key(&r.from), at_most: r.at_most }),
            ask,
            no_concession: step.no_concession,
            explainable: step.explainable,
            opens: self.fill_optional(step.opens.as_deref(), &step.place),
            closes: self.fill_optional(step.closes.as_deref(), &step.place),
        })
    }

    /// The full name of a step of this procedure for this thing.
    fn key(&self, step: &str) -> StepKey {
        StepKey::new(&self.procedure.id, &self.named(), step)
    }

    /// The thing as it stands in the name of a step; a member behind the thing that it belongs to.
    fn named(&self) -> String {
        self.group.map_or_else(|| self.item.to_owned(), |group| format!("{group}:{}", self.item))
    }

    fn ask(&mut self, step: &ProcedureStep) -> Option<Ask> {
        Some(match &step.ask {
            AskTemplate::Do => Ask::Do,
            AskTemplate::Choose(ways) => {
                let mut filled = Vec::new();
                for way in ways {
                    let instructions = sentences(&self.fill(&way.instruction, &step.place)?);
                    let look = self.fill_all(&way.look, &step.place);
                    filled.push(Alternative { id: way.id.clone(), instructions, look });
                }
                Ask::Choose { ways: filled }
            }
            AskTemplate::Measure(measure) => Ask::Measure(self.measurement(measure, step)?),
            AskTemplate::Wait { at_least } => {
                let at_least = self.amount(at_least, Dimension::Duration, step)?;
                Ask::Wait { at_least: Duration::seconds(at_least.base()) }
            }
            AskTemplate::Record { what: Recorded::Value(dimension), expect } => {
                self.value(*dimension, expect.as_deref(), step)?
            }
            AskTemplate::Record { what: Recorded::Text | Recorded::Rating, expect } => {
                let expect = match expect {
                    Some(text) => Some(self.fill(text, &step.place)?).filter(|t| !t.is_empty()),
                    None => None,
                };
                Ask::Text { expect }
            }
        })
    }

    /// The condition with the step that it looks at: of this procedure, or of an earlier one for the same thing or the
    /// job. That such a step exists was checked when the library was read.
    fn condition(&mut self, condition: &ConditionTemplate, step: &ProcedureStep) -> Option<Condition> {
        let (procedure, id) = match condition.step.split_once('/') {
            None => (self.procedure, condition.step.as_str()),
            Some((procedure, id)) => (self.library.procedures.iter().find(|p| p.id == procedure)?, id),
        };
        let key = if procedure.for_each == self.procedure.for_each {
            StepKey::new(&procedure.id, &self.named(), id)
        } else {
            StepKey::new(&procedure.id, ItemKind::Job.word(), id)
        };
        let dimension = procedure.steps.iter().find(|s| s.id == id)?.ask.dimension();
        let holds = match (&condition.holds, dimension) {
            (HoldsTemplate::Below(limit), Some(dimension)) => Holds::Below(self.amount(limit, dimension, step)?),
            (HoldsTemplate::Above(limit), Some(dimension)) => Holds::Above(self.amount(limit, dimension, step)?),
            (HoldsTemplate::Is(text), _) => Holds::Is(self.fill(text, &step.place)?),
            (HoldsTemplate::Chosen(way), _) => Holds::Chosen(way.clone()),
            (HoldsTemplate::Below(_) | HoldsTemplate::Above(_), None) => return None,
        };
        Some(Condition { step: key, holds })
    }

    fn terminal(&mut self, template: &str, step: &ProcedureStep) -> Option<Terminal> {
        let written = self.fill(template, &step.place)?;
        match self.job.terminal(&written) {
            Ok(terminal) => Some(terminal),
            Err(unknown) => {
                let place = self.place_of(template, &step.place);
                self.problem(&place, unknown.to_string(), "a probe point must be a terminal of the job");
                None
            }
        }
    }

    /// `all`, `none`, `own`, `remaining` or names, against what there is.
    fn names(&mut self, written: &[String], kind: ItemKind, step: &ProcedureStep) -> BTreeSet<String> {
        let all = self.job.names(kind);
        let mut chosen = BTreeSet::new();
        for word in written {
            let Some(word) = self.fill(word, &step.place) else { continue };
            match word.as_str() {
                "all" => chosen.extend(all.iter().map(|name| (*name).to_owned())),
                "none" | "" => {}
                "remaining" => {
                    let remaining = self.remaining.iter().filter(|name| all.contains(name));
                    chosen.extend(remaining.map(|name| (*name).to_owned()));
                }
                "own" => chosen.extend(switches_of(self.job, self.item)),
                name if all.contains(&name) => {
                    chosen.insert(name.to_owned());
                }
                name => {
                    let title = format!("no {} is called `{name}`", kind.word());
                    let label = format!("the job has {}", if all.is_empty() { "none".into() } else { all.join(", ") });
                    self.problem(&step.place, title, &label);
                }
            }
        }
        chosen
    }

    fn measurement(&mut self, measure: &MeasureTemplate, step: &ProcedureStep) -> Option<Measurement> {
        let probes = match (&measure.between, &measure.wire) {
            (Some([red, black]), _) => Probes::Between(self.terminal(red, step)?, self.terminal(black, step)?),
            (None, Some(wire)) => {
                let name = self.fill(wire, &step.place)?;
                if self.job.wire(&name).is_none() {
                    let wires = self.job.names(ItemKind::Wire);
                    let place = self.place_of(wire, &step.place);
                    let label = format!("the wires of the job are {}", wires.join(", "));
                    self.problem(&place, format!("no wire is called `{name}`"), &label);
                    return None;
                }
                Probes::Wire(name)
            }
            (None, None) => return None,
        };
        let state = State {
            on: self.names(&measure.on, ItemKind::Switch, step),
            engine: measure.engine,
            pulled: self.names(&measure.pull, ItemKind::Fuse, step),
            unplugged: self.names(&measure.unplug, ItemKind::Connector, step),
            battery_off: measure.battery_off,
            in_line: None,
        };
        let rule = self.rule(step, measure.dimension);
        Some(Measurement { dimension: measure.dimension, probes, state, rule })
    }

    fn rule(&mut self, step: &ProcedureStep, dimension: Dimension) -> Option<Rule> {
        let AcceptTemplate { at_least, at_most, because } = step.accept.as_ref()?;
        let at_least = at_least.as_ref().and_then(|text| self.amount(text, dimension, step));
        let at_most = at_most.as_ref().and_then(|text| self.amount(text, dimension, step));
        let because = self.fill(because, &step.place)?;
        Some(Rule { at_least, at_most, because })
    }

    fn amount(&mut self, template: &str, dimension: Dimension, step: &ProcedureStep) -> Option<Amount> {
        let text = self.fill(template, &step.place)?;
        let wrong = match Reading::parse(&text, dimension) {
            Ok(Reading { value: Some(value), .. }) => return Some(Amount::new(value, dimension)),
            Ok(_) => "over-range is no value".to_owned(),
            Err(error) => error.to_string(),
        };
        let place = self.place_of(template, &step.place);
        self.problem(&place, format!("`{text}` is no limit for a {}: {wrong}", dimension.name()), "here");
        None
    }

    fn value(&mut self, dimension: Dimension, expect: Option<&str>, step: &ProcedureStep) -> Option<Ask> {
        let rule = self.rule(step, dimension);
        let filled = match expect {
            Some(template) => self.fill(template, &step.place)?,
            None => String::new(),
        };
        let no_limit = self.fill_optional(step.no_limit.as_deref(), &step.place);
        if filled.is_empty() {
            return Some(Ask::Value { dimension, low: None, high: None, rule, no_limit });
        }
        match parse_any(&filled, dimension) {
            Ok((low, high)) => Some(Ask::Value { dimension, low: Some(low), high: Some(high), rule, no_limit }),
            Err(error) => {
                let place = self.place_of(expect.unwrap_or_default(), &step.place);
                self.problem(&place, format!("`{filled}` is no {}: {error}", dimension.name()), "here");
                None
            }
        }
    }
}

/// One instruction a sentence. A full stop inside a number or a name (`F1.in`) does not end one.
fn sentences(text: &str) -> Vec<String> {
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut sentences = Vec::new();
    let mut rest = flat.as_str();
    while let Some(at) = rest.find(". ") {
        sentences.push(rest[..=at].to_owned());
        rest = rest[at + 2..].trim_start();
    }
    if !rest.is_empty() {
        sentences.push(rest.to_owned());
    }
    sentences
}
