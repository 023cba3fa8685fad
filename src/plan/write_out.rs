//! Writes every procedure out for every thing it applies to.

use std::collections::BTreeSet;
use std::ops::Range;

use super::template::{Writer, allowed_fields};
use super::{Ask, Measurement, Phase, Plan, PlanError, Probes, Rule, Step, StepKey};
use crate::circuit::State;
use crate::document::{Problem, Problems};
use crate::job::{ItemKind, Job, Terminal, loads_of, powers, switches_of};
use crate::procedure::{AcceptTemplate, AskTemplate, Hazard, Library, MeasureTemplate, Procedure, ProcedureStep};
use crate::quantity::{Amount, Dimension, Duration, Reading, parse_any};

pub(super) fn write_out(job: &Job, library: &Library) -> Result<Plan, PlanError> {
    let mut plan = Plan { phases: Vec::new(), steps: Vec::new() };
    for procedure in library.procedures.iter().filter(|p| p.level <= job.level) {
        let mut problems = Problems::new(procedure.source.clone());
        let items = in_walking_order(job, procedure.for_each);
        for (index, item) in items.iter().enumerate() {
            let writer = Writer::new(job, procedure.for_each, item);
            let remaining = &items[index..];
            let mut page = Page { job, library, procedure, item, remaining, writer, problems: &mut problems };
            let phase = page.phase();
            let place = plan.phases.len();
            let steps: Vec<Step> = procedure.steps.iter().filter_map(|step| page.step(step, place)).collect();
            if let (Some(phase), false) = (phase, steps.is_empty()) {
                plan.phases.push(phase);
                plan.steps.extend(steps);
            }
        }
        problems.check(()).map_err(PlanError::Procedure)?;
    }
    for step in &plan.steps {
        if let Ask::Measure(measurement) = &step.ask {
            measurement.expect(job).map_err(|error| PlanError::Circuit { step: step.key.clone(), error })?;
        }
    }
    Ok(plan)
}

/// Fuses that feed a relay's coil come first: what the relay switches can then be tried when its own fuse goes in.
fn in_walking_order(job: &Job, kind: ItemKind) -> Vec<&str> {
    let mut items = job.names(kind);
    if kind == ItemKind::Fuse {
        items.sort_by_key(|fuse| loads_of(job, fuse).len() == powers(job, fuse).len());
    }
    items
}

/// One procedure being written out for one thing.
struct Page<'a> {
    job: &'a Job,
    library: &'a Library,
    procedure: &'a Procedure,
    item: &'a str,
    /// This thing and all that come after it.
    remaining: &'a [&'a str],
    writer: Writer,
    problems: &'a mut Problems,
}

impl Page<'_> {
    fn problem(&mut self, place: &Range<usize>, title: String, label: &str) {
        self.problems.push(Problem::at(place.clone(), title, label));
    }

    fn fill(&mut self, text: &str, place: &Range<usize>) -> Option<String> {
        match self.writer.fill(text) {
            Ok(filled) => Some(filled),
            Err(error) => {
                let first = error.lines().next().unwrap_or_default().to_owned();
                let title = format!("a text cannot be filled in for `{}`: {first}", self.item);
                let problem = Problem::at(self.place_of(text, place), title, "this text");
                let fields = allowed_fields(self.job, self.procedure.for_each, self.item);
                self.problems.push(problem.help(format!("a text may use item, job.title and the like, and {fields}")));
                None
            }
        }
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
            kind: procedure.for_each,
            item: self.item.to_owned(),
            title: self.fill(&procedure.title, &top)?,
            why: self.fill(&procedure.why, &top)?,
            conditions: self.fill_all(&procedure.conditions, &top),
            persons: self.fill_all(&procedure.persons, &top),
            tools: self.fill_all(&procedure.tools, &top),
            supplies: self.fill_all(&procedure.supplies, &top),
            parts: self.fill_all(&procedure.parts, &top),
            close: self.fill_all(&procedure.close, &top),
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
        let ask = match &step.ask {
            AskTemplate::Do => Ask::Do,
            AskTemplate::Measure(measure) => Ask::Measure(self.measurement(measure, step)?),
            AskTemplate::Wait { at_least } => {
                let at_least = self.amount(at_least, Dimension::Duration, step)?;
                Ask::Wait { at_least: Duration::seconds(at_least.base()) }
            }
            AskTemplate::Record { dimension: Some(dimension), expect } => {
                self.value(*dimension, expect.as_deref(), step)?
            }
            AskTemplate::Record { dimension: None, expect } => {
                let expect = match expect {
                    Some(text) => Some(self.fill(text, &step.place)?).filter(|t| !t.is_empty()),
                    None => None,
                };
                Ask::Text { expect }
            }
        };
        Some(Step {
            key: StepKey::new(&self.procedure.id, self.item, &step.id),
            phase,
            instructions: sentences(&self.fill(&step.instruction, &step.place)?),
            why: self.fill(&step.why, &step.place)?,
            look: self.fill_all(&step.look, &step.place),
            hazards: self.hazards(&step.hazards),
            photo: self.fill_optional(step.photo.as_deref(), &step.place),
            hold: step.hold.clone(),
            ask,
            no_concession: step.no_concession,
            explainable: step.explainable,
            opens: self.fill_optional(step.opens.as_deref(), &step.place),
            closes: self.fill_optional(step.closes.as_deref(), &step.place),
        })
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
        if filled.is_empty() {
            return Some(Ask::Value { dimension, low: None, high: None, rule });
        }
        match parse_any(&filled, dimension) {
            Ok((low, high)) => Some(Ask::Value { dimension, low: Some(low), high: Some(high), rule }),
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
