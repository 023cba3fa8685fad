//! What work that is done again undoes: readings that depend on it, and temporary states that have to be made again.

use std::collections::BTreeSet;

use super::event::Refused;
use super::state::{Progress, Walk, is_closed, spoken, unknown};
use crate::circuit::Circuit;
use crate::job::Terminal;
use crate::plan::{Ask, Measurement, Probes, StepKey};

impl Walk {
    /// Whether work that begins again at the step `from` undoes a later step: the rest of the same operation, and
    /// every reading that the reworked thing has a part in.
    pub(super) fn undone(&self, from: usize, later: usize) -> bool {
        let (reworked, step) = (&self.plan.steps[from], &self.plan.steps[later]);
        if step.phase == reworked.phase {
            return true;
        }
        let item = self.plan.phases[reworked.phase].item.as_str();
        if item == "job" {
            return matches!(step.ask, Ask::Measure(_));
        }
        let Some(expectation) = self.expectation(step) else { return false };
        if expectation.is_open() {
            let Ask::Measure(measurement) = &step.ask else { return false };
            return self.isolates(measurement, item);
        }
        let end = format!("joint at {item}");
        let whole: f64 = expectation.varies.iter().map(|v| v.share.base()).sum();
        let concerns = |name: &str, what: &str| {
            name == item
                || name.split([' ', '.']).next() == Some(item)
                || what == end
                || what.starts_with(&format!("{end}."))
        };
        let mut shares = expectation.varies.iter().filter(|v| concerns(&v.subject.name, &v.subject.what));
        shares.any(|v| v.share.base() > 1e-3 * whole)
    }

    /// Work that begins again at `from` inside a temporary state (battery off, fuse out) which was ended since, up to
    /// `at`: the state has to be made again and ended again, with everything of the operation that ends it.
    pub(super) fn temporary_states_again(&self, from: usize, at: usize) -> Vec<usize> {
        let steps = &self.plan.steps;
        let mut again = Vec::new();
        for (opening, step) in steps[..=from].iter().enumerate() {
            let Some(state) = &step.opens else { continue };
            if steps[opening..=from].iter().any(|s| s.closes.as_ref() == Some(state)) {
                continue; // ended before the work begins again
            }
            let closing = steps[from..=at].iter().position(|s| s.closes.as_ref() == Some(state)).map(|n| n + from);
            let Some(closing) = closing else { continue };
            let rest_of = |index: usize| steps.iter().enumerate().filter(move |(_, s)| s.phase == steps[index].phase);
            again.extend(rest_of(opening).map(|(n, _)| n).filter(|n| *n >= opening));
            again.extend(rest_of(closing).map(|(n, _)| n).filter(|n| *n <= at));
        }
        if !again.is_empty() {
            // Whatever was switched on and clipped to for the reading has to be so again.
            let here = steps.iter().enumerate().filter(|(_, s)| s.phase == steps[at].phase && s.ask == Ask::Do);
            again.extend(here.map(|(n, _)| n).filter(|n| *n <= at));
        }
        again
    }

    /// Work that was signed off goes on at some steps, with everything that depends on them.
    pub(super) fn reopen(&mut self, name: &str, role: &str, steps: &[StepKey], reason: &str) -> Result<(), Refused> {
        if self.signed.is_none() {
            return Err(Refused::new("the work is not signed off: a step is done again by rework"));
        }
        if !spoken(name) || !spoken(role) {
            return Err(Refused::new("a name and a role are needed: every entry says who made it"));
        }
        if reason.trim().chars().count() < 3 {
            return Err(Refused::new("a reason is needed, in words that another person understands"));
        }
        if steps.is_empty() {
            return Err(Refused::new("no step is named that is done again"));
        }
        let last = self.plan.steps.len() - 1;
        let mut again = BTreeSet::new();
        for step in steps {
            let from = self.plan.position(step).ok_or_else(|| unknown(step))?;
            again.insert(from);
            again.extend((from + 1..=last).filter(|later| self.undone(from, *later)));
            again.extend(self.temporary_states_again(from, last));
        }
        self.progress.iter_mut().for_each(Progress::begin_anew);
        for index in again {
            self.progress[index].reopen();
        }
        self.learn_anew();
        self.took_part(name, role);
        self.person = Some((name.to_owned(), role.to_owned()));
        self.paper = None;
        self.signed = None;
        self.reopened.push(reason.trim().to_owned());
        Ok(())
    }

    /// Why work that was signed off went on, each time.
    pub fn reopened(&self) -> &[String] {
        &self.reopened
    }

    /// Temporary states that are open now: what was made and not ended yet.
    pub fn temporary_states(&self) -> Vec<&str> {
        let mut open: Vec<&str> = Vec::new();
        // The same state may be made and ended more than once on the way.
        for (step, _) in self.plan.steps.iter().zip(&self.progress).filter(|(_, p)| is_closed(p.status)) {
            if let Some(ended) = step.closes.as_deref() {
                open.retain(|state| *state != ended);
            }
            open.extend(step.opens.as_deref());
        }
        open
    }

    /// Whether a reading of isolation was taken on the piece of the circuit that an item belongs to. The side that is
    /// the body itself does not count: nothing there can be shorted to it.
    fn isolates(&self, measurement: &Measurement, item: &str) -> bool {
        let Probes::Between(red, black) = &measurement.probes else { return false };
        let wires = self.job.wires.iter().filter(|w| w.name == item || w.cable.as_deref() == Some(item));
        let mut ends: Vec<Terminal> = wires.flat_map(|w| [w.from.clone(), w.to.clone()]).collect();
        if ends.is_empty() {
            ends = self.job.terminals().into_iter().filter(|t| t.part() == item).collect();
        }
        let piece = Circuit::of(&self.job).pieces(&measurement.state);
        let body = piece(&Terminal::chassis());
        let mut live = [red, black].into_iter().map(&piece).filter(|of_probe| *of_probe != body);
        live.any(|of_probe| of_probe.is_some() && ends.iter().any(|end| piece(end) == of_probe))
    }
}
