//! Instruments and tools: whether what they show can be believed on a day.

use super::{Refusal, Shop};
use crate::job::{Instrument, Job};
use crate::quantity::Day;

/// A tool that takes no reading but makes what is read: a crimping tool, a torque wrench that clicks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tool {
    /// Its name in the shop.
    pub name: String,
    /// What it is, in words.
    pub description: Option<String>,
    /// The number on it.
    pub serial: Option<String>,
    /// Where it lies.
    pub place: Option<String>,
    /// The last day of its check; `None` where nobody checks it.
    pub checked_until: Option<Day>,
}

impl Shop {
    /// The day up to which an instrument of the shop is calibrated.
    pub fn calibrated_until(&self, name: &str) -> Option<Day> {
        self.instrument(name)?.calibration_due
    }

    /// Whether an instrument may be read on a day, where `until` is the last day of its calibration and the others are
    /// those that could take its place, each with its own last day.
    ///
    /// # Errors
    /// [`Refusal`]: the shop does not have it, or its calibration is over.
    pub fn may_read_with(
        &self,
        name: &str,
        until: Option<Day>,
        others: &[(String, Option<Day>)],
        day: Day,
    ) -> Result<(), Refusal> {
        let good = |other: &&(String, Option<Day>)| {
            other.0 != name && self.instrument(&other.0).is_some() && other.1.is_none_or(|until| day <= until)
        };
        let shown = |(name, until): &(String, Option<Day>)| match until {
            Some(until) => format!("{name} (due {until})"),
            None => format!("{name} (no calibration stated)"),
        };
        let use_other = match others.iter().filter(good).map(shown).collect::<Vec<_>>().join(" or ") {
            none if none.is_empty() => "No other instrument of the job can take its place".to_owned(),
            some => format!("Use {some}"),
        };
        if self.instrument(name).is_none() {
            let reason = format!("{} has no instrument {name}", self.name);
            return Err(Refusal::new(reason, format!("{use_other}, or write [meter.{name}] into shop.toml.")));
        }
        match until {
            Some(until) if until < day => Err(Refusal::new(
                format!("{name}: calibration was due on {until}, and this is {day}"),
                format!("{use_other}, or have {name} calibrated and write the new day into shop.toml."),
            )),
            _ => Ok(()),
        }
    }

    /// What keeps a job from being begun by the instruments it names: one that the shop does not have, or has with
    /// other numbers, or whose calibration is over. The shop's day of calibration counts where it states one.
    pub fn unfit_instruments(&self, job: &Job, day: Day) -> Vec<Refusal> {
        let others = |of: &Instrument| -> Vec<(String, Option<Day>)> {
            let like = |other: &&Instrument| {
                other.name != of.name && of.ranges.iter().any(|r| other.measures(r.up_to.dimension()))
            };
            self.instruments.iter().filter(like).map(|i| (i.name.clone(), self.calibrated_until(&i.name))).collect()
        };
        let mut unfit = Vec::new();
        for own in &job.instruments {
            let until = self.calibrated_until(&own.name).or(own.calibration_due);
            if let Err(refusal) = self.may_read_with(&own.name, until, &others(own), day) {
                unfit.push(Refusal::new(refusal.reason, refusal.way_out + " The job must name what is used instead."));
            } else if let Some(what) = self.instrument(&own.name).and_then(|shops| differs(own, shops)) {
                let name = &own.name;
                let reason = format!("{name} of the job is not {name} of {}: {what}", self.name);
                unfit.push(Refusal::new(reason, format!("Copy [meter.{name}] of shop.toml into the job.")));
            }
        }
        unfit
    }
}

/// What differs between the instrument of a job and that of the shop, but for words and the day of calibration.
fn differs(own: &Instrument, shops: &Instrument) -> Option<String> {
    let none = "none".to_owned();
    if own.serial != shops.serial {
        let shown = |serial: &Option<String>| serial.clone().unwrap_or_else(|| none.clone());
        return Some(format!("serial {} there, {} in shop.toml", shown(&own.serial), shown(&shops.serial)));
    }
    let of_the_same_making = own.class == shops.class
        && own.ranges == shops.ranges
        && own.leads == shops.leads
        && own.input_resistance == shops.input_resistance
        && own.burden == shops.burden;
    (!of_the_same_making).then(|| "its accuracy, leads or resistance are others".to_owned())
}

#[cfg(test)]
mod tests {
    use super::super::sample::yard;
    use super::*;
    use crate::document::Source;

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    #[test]
    fn an_instrument_is_good_through_its_last_day_and_the_others_are_named() {
        let shop = yard();
        let others = [("M1".to_owned(), shop.calibrated_until("M1")), ("M2".to_owned(), None)];
        let until = shop.calibrated_until("M2");
        assert_eq!(shop.may_read_with("M2", until, &others, day("2026-10-01")), Ok(()));
        let says = shop.may_read_with("M2", until, &others, day("2026-10-02")).unwrap_err().to_string();
        assert!(says.starts_with("M2: calibration was due on 2026-10-01"), "{says}");
        assert!(says.contains("Use M1 (due 2027-03-31), or have M2 calibrated"), "{says}");
        let says = shop.may_read_with("M9", None, &[], day("2026-10-02")).unwrap_err().to_string();
        assert!(says.contains("has no instrument M9") && says.contains("[meter.M9]"), "{says}");
    }

    #[test]
    fn a_job_is_begun_with_the_instruments_of_the_shop_only() {
        let shop = yard();
        let job = |meters: &str| {
            let text = format!(
                "format = 1\ntitle = \"One lamp\"\n[vehicle]\ndescription = \"Van\"\nsystem = \"12 V\"\n[battery]\n\
                 kind = \"agm\"\nrest_voltage = \"12.7 V\"\n{meters}"
            );
            Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"))
        };
        let good = "[meter.M1]\nclass = \"mid\"\nserial = \"0417\"\ncalibration_due = \"2026-01-01\"\n";
        assert_eq!(shop.unfit_instruments(&job(good), day("2026-11-26")), [], "the shop's day counts");
        let unfit = shop.unfit_instruments(&job(&good.replace("0417", "0418")), day("2026-11-26"));
        assert!(unfit[0].reason.contains("serial 0418 there, 0417"), "{unfit:?}");
        let unfit = shop.unfit_instruments(&job(&good.replace("mid", "basic")), day("2026-11-26"));
        assert!(unfit[0].reason.contains("accuracy"), "{unfit:?}");
        let two = "[meter.M2]\nclass = \"good\"\n[meter.M9]\nclass = \"good\"\n";
        let unfit = shop.unfit_instruments(&job(two), day("2026-11-26"));
        assert_eq!(unfit.len(), 2, "{unfit:?}");
    }
}
