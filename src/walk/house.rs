//! What a shop says to an event: whether whoever is on duty, releases, permits or signs may do that, with that key; and
//! whether the instrument of a reading may be believed on that day.

use super::event::{Disposition, Event, FromPaper, ReleaseSignature};
use crate::job::{Instrument, Job};
use crate::quantity::Day;
use crate::shop::{Person, Refusal, Right, Shop};

/// Who is at work when an event comes, and on which job.
#[derive(Debug, Clone, Copy)]
pub struct AtWork<'a> {
    /// The job, with its instruments.
    pub job: &'a Job,
    /// Name and role of whoever is on duty.
    pub person: Option<(&'a str, &'a str)>,
    /// The sheets that the entries come from: their day is that of the readings.
    pub paper: Option<&'a FromPaper>,
}

/// Whether the shop lets an event be written on a day.
///
/// # Errors
/// [`Refusal`]: why not, and the way out; the first reason where there are several.
pub fn permits(shop: &Shop, at_work: AtWork, event: &Event, today: Day) -> Result<(), Refusal> {
    refusals(shop, at_work, event, today).into_iter().next().map_or(Ok(()), Err)
}

/// Everything that the shop has against an event.
fn refusals(shop: &Shop, at_work: AtWork, event: &Event, today: Day) -> Vec<Refusal> {
    let of_itself = match event {
        Event::Opened { .. } | Event::Recovered { .. } | Event::JobDiffers { .. } | Event::InShop { .. } => {
            return Vec::new();
        }
        Event::OnDuty { name, role, .. } | Event::Reopened { name, role, .. } => {
            return shop.may((name, Some(role)), Right::Work, None, today).err().into_iter().collect();
        }
        Event::SignedOff { name, role, key, .. } => {
            let may = shop.may((name, Some(role)), Right::Sign, None, today);
            let key = shop.person(name).map_or(Ok(()), |person| shop.key_is_of(person, key));
            return may.err().into_iter().chain(key.err()).collect();
        }
        Event::Released { step, by, signature, .. } => {
            let procedure = step.as_str().split('/').next();
            let may = shop.may((by, None), Right::Release, procedure, today);
            may.and_then(|person| released_with(shop, person, signature.as_ref()))
        }
        Event::Disposed { disposition: Disposition::Concession { by, .. }, .. } => {
            shop.may((by, None), Right::Concession, None, today).map(|_| ())
        }
        Event::Read { judgement, .. } => {
            let day = at_work.paper.and_then(|paper| Day::parse(&paper.day)).unwrap_or(today);
            judgement.instrument.as_ref().map_or(Ok(()), |name| read_with(shop, at_work.job, name, day))
        }
        _ => Ok(()),
    };
    // Whoever is on duty may have come before their time was over, or before the work came into the shop.
    let on_duty = at_work.person.map(|(name, role)| shop.may((name, Some(role)), Right::Work, None, today));
    on_duty.and_then(Result::err).into_iter().chain(of_itself.err()).collect()
}

/// Whether a release bears the key of whoever released, where the shop knows one.
fn released_with(shop: &Shop, person: &Person, signature: Option<&ReleaseSignature>) -> Result<(), Refusal> {
    match signature {
        Some(signature) => shop.key_is_of(person, &signature.key),
        None if person.key.is_some() => Err(Refusal::new(
            format!("{} has a key in {}, and this release is not signed with it", person.name, shop.name),
            "Give the key with the release: its file in the terminal, `key` in the answers.",
        )),
        None => Ok(()),
    }
}

/// Whether an instrument may be read on a day; those of the job that could take its place are named.
fn read_with(shop: &Shop, job: &Job, name: &str, day: Day) -> Result<(), Refusal> {
    let own = job.instruments.iter().find(|own| own.name == name);
    let until = |of: &Instrument| shop.calibrated_until(&of.name).or(of.calibration_due);
    let like = job
        .instruments
        .iter()
        .filter(|other| own.is_none_or(|own| own.ranges.iter().any(|range| other.measures(range.up_to.dimension()))));
    let others: Vec<_> = like.map(|other| (other.name.clone(), until(other))).collect();
    shop.may_read_with(name, own.map_or_else(|| shop.calibrated_until(name), until), &others, day)
}

/// Everything in a whole record that the shop does not permit, with the number of the entry; the same reason once.
pub fn breaches<'a>(
    shop: &Shop,
    job: &'a Job,
    entries: impl Iterator<Item = (u64, Day, &'a Event)>,
) -> Vec<(u64, Refusal)> {
    let (mut person, mut paper) = (None, None);
    let mut found: Vec<(u64, Refusal)> = Vec::new();
    for (number, day, event) in entries {
        for refusal in refusals(shop, AtWork { job, person, paper }, event, day) {
            if !found.iter().any(|(_, before)| before.reason == refusal.reason) {
                found.push((number, refusal));
            }
        }
        match event {
            Event::OnDuty { name, role, .. } | Event::Reopened { name, role, .. } => {
                (person, paper) = (Some((name.as_str(), role.as_str())), None);
            }
            Event::FromPaper(sheets) => paper = Some(sheets),
            _ => {}
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judgement::{Judgement, Verdict};
    use crate::plan::StepKey;
    use crate::quantity::{Dimension, Reading};
    use crate::shop::sample::{KEY, yard};

    const DAY: &str = "2026-11-26";

    fn job() -> Job {
        let text = "format = 1\ntitle = \"One lamp\"\n[vehicle]\ndescription = \"Van\"\nsystem = \"12 V\"\n[battery]\n\
                    kind = \"agm\"\nrest_voltage = \"12.7 V\"\n[meter.M1]\nclass = \"mid\"\n[meter.M2]\nclass = \"good\"\n";
        Job::read(&crate::document::Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"))
    }

    fn step() -> StepKey {
        StepKey::new("fuse", "F1", "release")
    }

    fn says(person: Option<(&str, &str)>, event: &Event, day: &str) -> String {
        let (shop, job) = (yard(), job());
        match permits(&shop, AtWork { job: &job, person, paper: None }, event, Day::parse(day).unwrap()) {
            Ok(()) => "permitted".to_owned(),
            Err(refusal) => refusal.to_string(),
        }
    }

    fn on_duty(name: &str, role: &str) -> Event {
        Event::OnDuty { name: name.into(), role: role.into(), from_file: false }
    }

    fn release(procedure: &str, by: &str, key: Option<&str>) -> Event {
        let step = StepKey::new(procedure, "F1", "release");
        let signature = key.map(|key| ReleaseSignature { key: key.into(), signature: String::new() });
        Event::Released { step, by: by.into(), statement: "looked at it".into(), signature }
    }

    fn read_with(instrument: &str) -> Event {
        let judgement = Judgement {
            verdict: Verdict::Conforms,
            says: String::new(),
            meter: None,
            uncertainty: None,
            probability: None,
            instrument: Some(instrument.into()),
            limits: None,
        };
        let reading = Reading::parse("12.4 V", Dimension::Voltage).unwrap();
        Event::Read { step: step(), reading, low: None, high: None, judgement }
    }

    #[test]
    fn who_comes_on_duty_has_the_role_and_the_time() {
        assert_eq!(says(None, &on_duty("Sam Rowan", "installer"), DAY), "permitted");
        assert!(says(None, &on_duty("Sam Rowan", "lead"), DAY).contains("has not the role lead"));
        assert!(says(None, &on_duty("Ash Thorn", "installer"), DAY).contains("ended on 2026-06-30"));
        let done = Event::Done { step: step() };
        assert!(says(Some(("Ash Thorn", "installer")), &done, DAY).contains("ended on 2026-06-30"));
        assert_eq!(says(Some(("Sam Rowan", "installer")), &done, DAY), "permitted");
    }

    #[test]
    fn a_release_takes_the_right_and_the_own_key() {
        let sam = Some(("Sam Rowan", "installer"));
        let other = "ssh-ed25519 AAAA";
        assert_eq!(says(sam, &release("ground", "Robin Alder", Some(KEY)), DAY), "permitted");
        assert!(says(sam, &release("ground", "Sam Rowan", None), DAY).contains("may not release"));
        assert!(says(sam, &release("ground", "Robin Alder", None), DAY).contains("not signed with it"));
        assert!(says(sam, &release("ground", "Robin Alder", Some(other)), DAY).contains("not the key of Robin Alder"));
        // The lead of the sample releases one procedure alone.
        assert!(says(sam, &release("fuse", "Robin Alder", Some(KEY)), DAY).contains("of `fuse`"));
    }

    #[test]
    fn an_instrument_is_refused_from_the_day_after_it_was_due() {
        let sam = Some(("Sam Rowan", "installer"));
        assert_eq!(says(sam, &read_with("M1"), DAY), "permitted");
        assert_eq!(says(sam, &read_with("M2"), "2026-10-01"), "permitted");
        assert!(says(sam, &read_with("M2"), "2026-10-02").contains("Use M1 (due 2027-03-31)"));
        assert!(says(sam, &read_with("M9"), DAY).contains("has no instrument M9"));
    }

    #[test]
    fn concession_and_sign_off_are_rights_of_their_own() {
        let sam = Some(("Sam Rowan", "installer"));
        let concession = |by: &str| Event::Disposed {
            step: step(),
            disposition: Disposition::Concession { by: by.into(), reason: "short run".into(), scope: "yard".into() },
        };
        assert_eq!(says(sam, &concession("Robin Alder"), DAY), "permitted");
        assert!(says(sam, &concession("Sam Rowan"), DAY).contains("may not grant a concession"));
        let signed = |name: &str, key: &str| Event::SignedOff {
            name: name.into(),
            role: if name == "Sam Rowan" { "installer".into() } else { "lead".into() },
            statement: "done".into(),
            key: key.into(),
        };
        assert_eq!(says(sam, &signed("Robin Alder", KEY), DAY), "permitted");
        assert!(says(sam, &signed("Robin Alder", "ssh-ed25519 AAAA"), DAY).contains("not the key of Robin Alder"));
        assert!(says(sam, &signed("Sam Rowan", KEY), DAY).contains("may not sign off"));
    }

    #[test]
    fn a_whole_record_is_looked_through_and_each_reason_told_once() {
        let day = Day::parse(DAY).unwrap();
        let events = [on_duty("Sam Rowan", "installer"), read_with("M2"), read_with("M2"), read_with("M1")];
        let numbered = events.iter().zip(0..).map(|(event, number)| (number, day, event));
        let found = breaches(&yard(), &job(), numbered);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].0, 1);
    }
}
