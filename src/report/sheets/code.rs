//! The code at the foot of the sheets: it tells whether they were printed for this very job and plan.

use std::fmt::Write;

use crate::job::Job;
use crate::plan::{Ask, Plan, Step};
use crate::record::sha256_hex;
use crate::report::pdf::Sheet;

/// Letters of each half.
const HALF: usize = 4;

/// `3fa1-b2c4-A4`: the first digits of the SHA-256 of the job file, those of the steps with what they say and ask, and
/// the paper, which decides on which page a step stands. Two jobs that differ have the same half once in 65,536 times:
/// enough against a mix-up, and no proof.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Code {
    job: String,
    plan: String,
    sheet: Sheet,
}

impl Code {
    /// The code of a job and its plan on a paper.
    pub fn of(job: &Job, plan: &Plan, sheet: Sheet) -> Code {
        let half = |text: &str| sha256_hex(text.as_bytes()).chars().take(HALF).collect();
        let steps = plan.steps.iter().fold(String::new(), |mut text, step| {
            say(step, job, &mut text);
            text
        });
        Code { job: half(&job.source.text), plan: half(&steps), sheet }
    }

    /// Reads a code as somebody copied it: capital or small letters, with or without hyphens; A4 where no paper is told.
    pub fn read(text: &str) -> Option<Code> {
        let plain: String = text.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_lowercase();
        let (digits, paper) = plain.split_at_checked(2 * HALF)?;
        let sheet = match paper {
            "" | "a4" => Sheet::A4,
            "lt" => Sheet::Letter,
            _ => return None,
        };
        let (job, plan) = digits.split_at(HALF);
        let sound = digits.chars().all(|c| c.is_ascii_hexdigit());
        sound.then(|| Code { job: job.to_owned(), plan: plan.to_owned(), sheet })
    }

    /// The paper that the sheets were printed on.
    pub fn sheet(&self) -> Sheet {
        self.sheet
    }

    /// What differs between the sheets with this code and the job and procedures with that one; nothing where they fit.
    pub fn differs_from(&self, now: &Code) -> Option<&'static str> {
        match (self.job == now.job, self.plan == now.plan) {
            (true, true) => None,
            (true, false) => {
                Some("the job file is the same, but the procedures are others: steps or their texts differ")
            }
            (false, true) => Some("the procedures ask for the same, but the job file is another one, or was changed"),
            (false, false) => Some("the job file is another one, or was changed"),
        }
    }
}

impl std::fmt::Display for Code {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let paper = match self.sheet {
            Sheet::A4 => "A4",
            Sheet::Letter => "LT",
        };
        write!(f, "{}-{}-{paper}", self.job, self.plan)
    }
}

/// Everything of a step that is printed and does not follow from the circuit.
fn say(step: &Step, job: &Job, text: &mut String) {
    let _ = writeln!(text, "{}", step.key);
    for line in step.instructions.iter().chain(&step.look) {
        let _ = writeln!(text, " {line}");
    }
    let _ = match &step.ask {
        Ask::Do => writeln!(text, "do"),
        Ask::Choose { ways } => {
            ways.iter().try_for_each(|way| writeln!(text, "{} {}", way.id, way.instructions.join(" ")))
        }
        Ask::Measure(m) => {
            let rule = m.rule.as_ref().map(ToString::to_string).unwrap_or_default();
            writeln!(text, "{} {} {} {rule}", m.dimension.name(), m.probes, m.state.describe(job))
        }
        Ask::Value { dimension, low, high, rule, .. } => {
            let range = low.zip(*high).map(|(low, high)| low.range_to(high)).unwrap_or_default();
            let rule = rule.as_ref().map(ToString::to_string).unwrap_or_default();
            writeln!(text, "{} {range} {rule}", dimension.name())
        }
        Ask::Wait { at_least } => writeln!(text, "{at_least}"),
        Ask::Text { expect } => writeln!(text, "{}", expect.as_deref().unwrap_or_default()),
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_read_as_people_copy_it() {
        let code = Code { job: "3fa1".into(), plan: "b2c4".into(), sheet: Sheet::Letter };
        assert_eq!(Code::read(" 3FA1 b2c4 lt "), Some(code.clone()));
        assert_eq!(Code::read(&code.to_string()), Some(code.clone()));
        assert_eq!(Code::read("3fa1-b2c4").map(|c| c.sheet()), Some(Sheet::A4));
        for wrong in ["", "3fa1", "3fa1-b2c4-A5", "3fa1-b2g4", "3fä1-b2c4é"] {
            assert_eq!(Code::read(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_code_tells_which_half_differs() {
        let code = |job: &str, plan: &str| Code { job: job.into(), plan: plan.into(), sheet: Sheet::A4 };
        assert_eq!(code("aaaa", "bbbb").differs_from(&code("aaaa", "bbbb")), None);
        assert!(code("aaaa", "bbbb").differs_from(&code("aaaa", "cccc")).unwrap().contains("procedures are others"));
        assert!(code("aaaa", "bbbb").differs_from(&code("cccc", "bbbb")).unwrap().contains("job file is another"));
    }
}
