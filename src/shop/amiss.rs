//! What a look through the shop's file finds amiss on a day.

use super::{Right, Shop};
use crate::quantity::Day;

impl Shop {
    /// What keeps work from being done, released or signed in this shop on a day, in whole sentences.
    pub fn amiss(&self, day: Day) -> Vec<String> {
        let mut amiss = Vec::new();
        let able =
            |right: Right| self.people.iter().filter(move |p| p.is_there_on(day) && self.rights_of(p).contains(&right));
        for right in [Right::Work, Right::Release, Right::Sign] {
            if able(right).next().is_none() {
                amiss.push(format!("Nobody may {} on {day}: add a person with such a role.", right.verb()));
            }
        }
        for person in able(Right::Sign).filter(|person| person.key.is_none()) {
            let (name, id) = (&person.name, &person.id);
            amiss.push(format!("{name} may sign off and has no key: put it into keys/{id}.pub and name it here."));
        }
        for own in &self.instruments {
            match own.calibration_due {
                Some(due) if due < day => {
                    amiss.push(format!("{}: calibration was due on {due}; no reading is taken with it.", own.name));
                }
                Some(_) => {}
                None => amiss.push(format!("{}: no calibration is stated, and nobody is warned in time.", own.name)),
            }
        }
        for tool in &self.tools {
            if let Some(until) = tool.checked_until.filter(|until| *until < day) {
                amiss.push(format!("{}: its check was due on {until}.", tool.name));
            }
        }
        amiss
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{YARD, read, yard};
    use super::*;

    #[test]
    fn what_is_overdue_or_missing_is_told() {
        let found = yard().amiss(Day::parse("2026-11-26").unwrap());
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].starts_with("M2: calibration was due on 2026-10-01"), "{found:?}");
        let lone =
            YARD.replace("key = \"keys/robin.pub\"\n", "until = \"2026-12-31\"\n").replace("serial = \"0417\"\n", "")
                + "[tool.crimper-1]\nchecked_until = \"2026-01-31\"\n";
        let found = read(&lone).unwrap().amiss(Day::parse("2026-11-26").unwrap());
        assert_eq!(found.len(), 3, "{found:?}");
        assert!(found[0].contains("has no key") && found[2].contains("crimper-1"), "{found:?}");
        let found = read(&lone).unwrap().amiss(Day::parse("2027-01-01").unwrap());
        assert!(found.iter().any(|says| says.starts_with("Nobody may sign off")), "{found:?}");
    }
}
