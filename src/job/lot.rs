//! A lot: pieces of one kind that are made or bought together, and the plan by which samples of it are tried.

use super::{Job, LoadKind};
use crate::document::{Problem, Table, closest};

/// More samples than this are a test of each piece, and no plan.
const MOST_SAMPLES: usize = 100;
const MOST_PIECES: usize = 10_000;

/// Pieces of one kind that are made or bought together. The plan accepts the lot only where no sample fails.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lot {
    /// Its name in the job.
    pub name: String,
    /// The wire whose crimps these are, or the lamp.
    pub of: String,
    /// How many pieces there are; a crimp that is pulled apart is one more.
    pub pieces: usize,
    /// Which of them are tried.
    pub plan: SamplingPlan,
    /// The tool that makes them, as the shop calls it.
    pub tool: Option<String>,
}

/// Which pieces of a lot are tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SamplingPlan {
    /// The first piece: it proves that tool, material and hand are set up right, and nothing of what comes after.
    FirstOff,
    /// So many, spread over the lot from its first piece to its last.
    Spread(usize),
    /// The first piece, and then each so-manieth.
    Every(usize),
}

impl Lot {
    /// The pieces that are tried, counted from 1.
    pub fn samples(&self) -> Vec<usize> {
        match self.plan {
            SamplingPlan::FirstOff => vec![1],
            SamplingPlan::Every(step) => (1..=self.pieces).step_by(step.max(1)).collect(),
            SamplingPlan::Spread(count) => {
                let gaps = count.max(2) - 1;
                // Rounded to the nearest piece, in whole numbers.
                (0..count).map(|at| 1 + (at * (self.pieces - 1) * 2 + gaps) / (gaps * 2)).collect()
            }
        }
    }

    /// The plan in words: `pieces 1, 12 and 24 of 24`.
    pub fn plan_in_words(&self) -> String {
        let numbers: Vec<String> = self.samples().iter().map(ToString::to_string).collect();
        match numbers.as_slice() {
            [only] => format!("piece {only} of {}", self.pieces),
            [most @ .., last] if numbers.len() <= 6 => {
                format!("pieces {} and {last} of {}", most.join(", "), self.pieces)
            }
            _ => format!("{} pieces of {}, from piece 1 on", numbers.len(), self.pieces),
        }
    }
}

pub(super) fn read_lots(top: &Table, job: &Job) -> Vec<Lot> {
    top.named_tables("lot").into_iter().filter_map(|(name, table)| read_lot(name, table, job)).collect()
}

fn read_lot(name: String, table: Table, job: &Job) -> Option<Lot> {
    let of = table.required_text("of");
    if let Some(of) = &of {
        check_of(of, &table, job);
    }
    table.demands("pieces", "how many pieces the lot has");
    let pieces = count(&table, "pieces", 2, MOST_PIECES);
    let plan = read_plan(&table, pieces);
    let tool = table.text("tool");
    table.finish();
    Some(Lot { name, of: of?, pieces: pieces?, plan: plan?, tool })
}

/// A lot is one of crimps on a wire, or of lamps; anything else runs otherwise on a bench than in the vehicle.
fn check_of(of: &str, table: &Table, job: &Job) {
    let place = table.place_of("of");
    match job.load(of).map(|load| &load.kind) {
        Some(LoadKind::Motor { .. }) => {
            let title = format!("`{of}` is a motor, which runs otherwise on a bench");
            table.problem(Problem::at(place, title, "a lot is of a wire with its crimps, or of a lamp"));
        }
        Some(_) => {}
        None if job.wire(of).is_some() => {}
        None => {
            let wires = job.wires.iter().map(|wire| wire.name.as_str());
            let names: Vec<&str> = wires.chain(job.loads.iter().map(|load| load.name.as_str())).collect();
            let title = format!("no wire and no load is called `{of}`");
            let mut problem = Problem::at(place, title, "the wire whose crimps these are, or the lamp");
            if let Some(meant) = closest(of, &names) {
                problem = problem.help(format!("did you mean \"{meant}\"?"));
            }
            table.problem(problem);
        }
    }
}

fn count(table: &Table, key: &str, least: usize, most: usize) -> Option<usize> {
    let number = table.integer(key)?;
    let count = usize::try_from(number).ok().filter(|count| (least..=most).contains(count));
    if count.is_none() {
        let label = format!("a whole number from {least} to {most}");
        table.problem(Problem::at(table.place_of(key), format!("`{key}` cannot be {number}"), label));
    }
    count
}

fn read_plan(table: &Table, pieces: Option<usize>) -> Option<SamplingPlan> {
    let first_off = table.choice("plan", &[("first-off", SamplingPlan::FirstOff)]);
    let spread = count(table, "sample", 1, pieces.unwrap_or(MOST_PIECES)).map(SamplingPlan::Spread);
    let every = count(table, "every", 1, pieces.unwrap_or(MOST_PIECES)).map(SamplingPlan::Every);
    let stated: Vec<&str> = ["plan", "sample", "every"].into_iter().filter(|key| table.has(key)).collect();
    match stated.as_slice() {
        [_] => {}
        [] => {
            let title = format!("{} has no plan", table.title);
            let problem =
                Problem::at(table.place.clone(), title, "add sample = 3, or every = 10, or plan = \"first-off\"");
            table.problem(problem);
            return None;
        }
        [first, second, ..] => {
            let title = format!("{} has two plans: `{first}` and `{second}`", table.title);
            table.problem(Problem::at(table.place_of(second), title, "one of sample, every, plan"));
            return None;
        }
    }
    let plan = first_off.or(spread).or(every)?;
    let lot = Lot { name: String::new(), of: String::new(), pieces: pieces?, plan, tool: None };
    let samples = lot.samples().len();
    if samples > MOST_SAMPLES {
        let title = format!("that is {samples} samples");
        table.problem(Problem::at(table.place_of(stated[0]), title, format!("at most {MOST_SAMPLES}")));
        return None;
    }
    Some(plan)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lot(pieces: usize, plan: SamplingPlan) -> Lot {
        Lot { name: "L".to_owned(), of: "w1".to_owned(), pieces, plan, tool: None }
    }

    #[test]
    fn samples_lie_in_the_lot_and_begin_with_its_first_piece() {
        assert_eq!(lot(24, SamplingPlan::FirstOff).samples(), [1]);
        assert_eq!(lot(24, SamplingPlan::Spread(3)).samples(), [1, 13, 24]);
        assert_eq!(lot(25, SamplingPlan::Every(10)).samples(), [1, 11, 21]);
        for pieces in 2..60 {
            for count in 1..=pieces {
                let samples = lot(pieces, SamplingPlan::Spread(count)).samples();
                assert_eq!((samples.len(), samples[0]), (count, 1));
                assert!(samples.windows(2).all(|two| two[0] < two[1]), "{pieces} {count}: {samples:?}");
                assert!(samples[count - 1] == if count == 1 { 1 } else { pieces });
            }
        }
    }

    #[test]
    fn the_plan_is_told_in_words() {
        assert_eq!(lot(24, SamplingPlan::FirstOff).plan_in_words(), "piece 1 of 24");
        assert_eq!(lot(24, SamplingPlan::Spread(3)).plan_in_words(), "pieces 1, 13 and 24 of 24");
        assert_eq!(lot(24, SamplingPlan::Every(2)).plan_in_words(), "12 pieces of 24, from piece 1 on");
    }
}
