//! What a person sees before a question: the phase, the step, the measurement.

use console::style;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::super::card::needs;
use super::super::layout::labelled;
use super::TerminalFront;
use crate::circuit::Expectation;
use crate::plan::{Measurement, Probes, Step};
use crate::walk::Walk;

impl TerminalFront {
    /// Title, reason and needs of a phase, once when it begins.
    pub(super) fn show_phase(&mut self, walk: &Walk, place: usize) {
        if self.last_phase == Some(place) {
            return;
        }
        self.last_phase = Some(place);
        let phase = &walk.plan().phases[place];
        let width = self.width();
        let (done, all) = walk.count();
        self.line("");
        self.progress(done, all);
        for line in labelled("", &phase.title, width).lines() {
            self.line(&style(line).for_stderr().bold().to_string());
        }
        self.line(&labelled("  ", &phase.why, width));
        let before = place.checked_sub(1).map(|at| &walk.plan().phases[at].procedure);
        if before != Some(&phase.procedure) {
            for (label, list) in needs(phase) {
                self.line(&labelled(label, &list.join(" · "), width));
            }
        }
    }

    pub(super) fn progress(&self, done: usize, all: usize) {
        if self.plain {
            self.line(&format!("{done} of {all} steps closed"));
            return;
        }
        let bar = ProgressBar::with_draw_target(Some(all as u64), ProgressDrawTarget::term(self.term.clone(), 20));
        if let Ok(look) = ProgressStyle::with_template("{bar:30} {pos} of {len} steps closed") {
            bar.set_style(look.progress_chars("█▌░"));
        }
        bar.set_position(done as u64);
        bar.abandon();
        self.line("");
    }

    /// The step and its place in the job.
    pub(super) fn place(walk: &Walk, step: &Step) -> String {
        let plan = walk.plan();
        let place = plan.position(&step.key).map_or(0, |at| at + 1);
        format!("{} (step {place} of {})", step.key, plan.steps.len())
    }

    pub(super) fn show_step(&mut self, walk: &Walk, step: &Step) {
        self.show_phase(walk, step.phase);
        if self.last_step.as_ref() == Some(&step.key) {
            return;
        }
        self.last_step = Some(step.key.clone());
        let width = self.width();
        let place = walk.plan().position(&step.key).map_or(0, |at| at + 1);
        self.line("");
        self.line(&style(Self::place(walk, step)).for_stderr().dim().to_string());
        for (index, sentence) in step.instructions.iter().enumerate() {
            let label = format!("  {:>2}. ", index + 1);
            self.line(&labelled(&label, sentence, width));
        }
        if !step.why.is_empty() {
            self.line(&labelled("  why: ", &step.why, width));
        }
        for look in &step.look {
            self.line(&labelled("  look: ", look, width));
        }
        if let Some(photo) = &step.photo {
            self.line(&labelled("  photo: ", photo, width));
        }
        let last_of_phase = walk.plan().steps.get(place).is_none_or(|next| next.phase != step.phase);
        if last_of_phase {
            for close in &walk.plan().phases[step.phase].close {
                self.line(&labelled("  then: ", close, width));
            }
        }
    }

    pub(super) fn show_measurement(&self, walk: &Walk, measurement: &Measurement, expectation: &Expectation) {
        let width = self.width();
        let probes = match &measurement.probes {
            Probes::Between(red, black) => format!("red on {red}, black on {black}"),
            Probes::Wire(wire) => format!("in wire {wire}, positive towards its load end"),
        };
        self.line(&labelled("  meter:  ", &format!("{}, {probes}", measurement.dimension.name()), width));
        self.line(&labelled("  state:  ", &measurement.state.describe(walk.job()), width));
        let expected = style(expectation.range()).for_stderr().bold().to_string();
        self.line(&format!("  expect: {expected}"));
        if let Some(rule) = &measurement.rule {
            self.line(&labelled("  rule:   ", &rule.to_string(), width));
        }
        let steps = &expectation.because;
        if steps.len() > 1 {
            for step in steps.iter().take(6) {
                self.line(&labelled("          ", &step.says, width));
            }
            if steps.len() > 6 {
                self.line(&format!("          and {} more", steps.len() - 6));
            }
        }
        for notice in &expectation.notices {
            self.line(&labelled("  note:   ", &notice.says, width));
        }
    }
}
