//! A year in a shop that never was: four people, two meters, two crimp tools, a record for each vehicle. Everything comes
//! from a seed. One tool wears from a day on, and one meter shows too much from a day on; whoever reads the records is to
//! find both.

use std::path::{Path, PathBuf};

use jiff::{SignedDuration, Timestamp};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_pcg::Pcg64Mcg;
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::plan::{Plan, StepKey};
use rigproof::procedure::Library;
use rigproof::record::{Opened, Record, SigningKey, day_of};
use rigproof::walk::{Answer, Disposition, Event, Prompt, Walk};

use super::small_job;

pub const PEOPLE: [&str; 4] = ["Robin Alder", "Sam Rowan", "Ash Thorn", "Jo Birch"];

/// The steps that a year adds to the small job: which tool crimped the sample, and what it held.
const FIRST_OFF: &str = "[[step]]\nid = \"tool\"\ndo = \"Write the name of the crimp tool.\"\nrecord = \"text\"\n\
    [[step]]\nid = \"pull\"\ndo = \"Pull the sample and write the greatest force.\"\nrecord = \"force\"\n\
    accept = { at_least = \"133.5 N\", because = \"UL 486A, 1.5 mm² or AWG 16\" }\n";

/// The day, counted from the first, from which the second tool wears.
pub const WEARS_FROM: i64 = 150;
/// The day from which the second meter shows too much, and how much of it.
pub const OFF_FROM: i64 = 220;
pub const OFF_BY: f64 = 0.025;

const TORQUE: &str = "ground/G1/torque";
const REST: &str = "prepare/job/rest-voltage";

/// What becomes of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// Everything is right at once.
    Clean,
    /// A ground is tightened again.
    Reworked,
    /// A ground stays as it is.
    Left,
    /// Begun on one day, gone on with on another, by whoever is there.
    Later,
    /// Nobody goes on with it.
    Open,
}

/// What was made: counted here, so that nobody has to ask the program.
#[derive(Debug, Clone)]
pub struct Made {
    /// Where it lies below the folder of the shop, with `/`.
    pub folder: String,
    pub fate: Fate,
    pub person: &'static str,
    pub meter: &'static str,
    pub tool: &'static str,
    /// Day of the first entry, counted from the first of the year.
    pub day: i64,
    /// What the meter showed of the battery, in volts, as it was typed.
    pub rest: f64,
    /// What the sample held, in newtons, as it was typed.
    pub pull: f64,
}

/// The maker of records.
pub struct Year {
    root: PathBuf,
    library: Library,
    key: SigningKey,
    random: Pcg64Mcg,
    records: usize,
    made: Vec<Made>,
    /// Crimps of the second tool since it began to wear.
    worn: f64,
}

impl Year {
    /// A year of so many records below a folder.
    pub fn begin(root: &Path, records: usize, seed: u64) -> Self {
        std::fs::create_dir_all(root.join("jobs")).unwrap();
        std::fs::write(root.join("shop.toml"), shop()).unwrap();
        let key = SigningKey::make(&root.join("key"), "a key of nobody").unwrap();
        let random = Pcg64Mcg::seed_from_u64(seed);
        Self { root: root.to_owned(), library: library(), key, random, records, made: Vec::new(), worn: 0.0 }
    }

    pub fn made(&self) -> &[Made] {
        &self.made
    }

    /// Makes the next records; false at the end of the year.
    pub fn go_on(&mut self, by: usize) -> bool {
        for _ in 0..by {
            if self.made.len() == self.records {
                return false;
            }
            self.make_one();
        }
        self.made.len() < self.records
    }

    fn normal(&mut self, mean: f64, deviation: f64) -> f64 {
        Normal::new(mean, deviation).unwrap().sample(&mut self.random)
    }

    fn make_one(&mut self) {
        let number = self.made.len();
        let day = i64::try_from(number * 365 / self.records).unwrap();
        let person = PEOPLE[self.random.random_range(0..4)];
        let meter = ["M1", "M2"][self.random.random_range(0..2)];
        let tool = ["crimper-1", "crimper-2"][self.random.random_range(0..2)];
        let fate = match number % 20 {
            3 | 13 => Fate::Reworked,
            7 => Fate::Left,
            5 | 17 => Fate::Later,
            11 => Fate::Open,
            _ => Fate::Clean,
        };
        if tool == "crimper-2" && day >= WEARS_FROM {
            self.worn += 1.0;
        }
        let wear = if tool == "crimper-2" { 0.25 * self.worn * 300.0 / self.records as f64 } else { 0.0 };
        let pull = (10.0 * self.normal(165.0 - wear, 3.0)).round() / 10.0;
        let off = if meter == "M2" && day >= OFF_FROM { 1.0 + OFF_BY } else { 1.0 };
        let rest = (100.0 * self.normal(12.55, 0.05) * off).round() / 100.0;
        let folder = format!("jobs/van-{number:05}/record");
        let made = Made { folder, fate, person, meter, tool, day, rest, pull };
        self.walk(number, &made);
        self.made.push(made);
    }

    fn walk(&mut self, number: usize, made: &Made) {
        let folder = self.root.join(&made.folder);
        let text = job(number, made.meter);
        std::fs::create_dir_all(folder.parent().unwrap()).unwrap();
        std::fs::write(folder.parent().unwrap().join("job.toml"), &text).unwrap();
        let job = Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"));
        let plan = Plan::of(&job, &self.library).unwrap_or_else(|error| panic!("{error}"));
        let mut walk = Walk::new(job, plan);
        let morning: Timestamp = "2026-01-05T08:00:00Z".parse().unwrap();
        let minutes = |minutes: i64| SignedDuration::from_mins(minutes);
        // No two records begin at the same moment.
        let mut at =
            morning + minutes(24 * 60 * made.day) + SignedDuration::from_millis(i64::try_from(number).unwrap());
        let mut record = Record::create(&folder, &walk, &self.library, (Vec::new(), None), at).unwrap();
        let (mut tightened, mut moved) = (false, false);
        loop {
            at += minutes(self.random.random_range(1..6));
            let prompt = walk.prompt();
            let typed = |text: String| Answer::Typed(text);
            let answer = match &prompt {
                Prompt::SignOff => break,
                Prompt::WhoWorks => on_duty(made.person),
                Prompt::Hazards { .. } | Prompt::Do { .. } => Answer::Yes,
                Prompt::Hold { .. } => {
                    if made.fate == Fate::Open {
                        return;
                    }
                    let by = PEOPLE.iter().find(|own| **own != made.person).unwrap();
                    Answer::Release { by: (*by).to_owned(), statement: "every result read".to_owned(), signature: None }
                }
                Prompt::Dispose { step, .. } => {
                    let (from, reason) = (step.key.clone(), "the nut was loose".to_owned());
                    Answer::Dispose(match made.fate {
                        Fate::Left => Disposition::Nonconformity { reason },
                        _ => Disposition::Rework { from, reason },
                    })
                }
                Prompt::Measure { step, .. } if step.key.as_str() == REST => typed(format!("{:.2} V", made.rest)),
                Prompt::Value { step, .. } if step.key.as_str() == "first-off/job/pull" => {
                    typed(format!("{:.1} N", made.pull))
                }
                Prompt::Value { step, .. } if step.key.as_str() == TORQUE => {
                    let loose = !tightened && matches!(made.fate, Fate::Reworked | Fate::Left);
                    tightened = true;
                    typed(format!("{:.1} N·m", if loose { 3.1 } else { 5.3 }))
                }
                Prompt::Text { step, .. } if step.key.as_str() == "first-off/job/tool" => typed(made.tool.to_owned()),
                Prompt::Measure { .. } | Prompt::Text { .. } => typed(small_job::good_answer(&prompt)),
                other => panic!("{other:?}"),
            };
            let event = walk.event_for(&prompt, answer).unwrap_or_else(|refused| panic!("{refused}"));
            let rated = matches!(&event, Event::Noted { step, .. } if *step == StepKey::new("fuse", "F1", "rating"));
            record.write(&mut walk, at, &event).unwrap();
            if rated && made.fate == Fate::Later && !moved {
                moved = true;
                at += minutes(24 * 60);
                drop(record);
                Opened { record, walk, .. } = Record::open(&folder, at).unwrap();
                let event =
                    Event::OnDuty { name: made.person.to_owned(), role: "installer".to_owned(), from_file: false };
                record.write(&mut walk, at, &event).unwrap();
            }
        }
        record.sign_off(&mut walk, at, (made.person, "lead", "I did this work."), &self.key).unwrap();
        let page = vec![("report.html".to_owned(), b"<p>not of this test</p>\n".to_vec())];
        record.seal(made.person, &self.key, &page).unwrap();
    }

    /// The day of the year, as the program writes it.
    pub fn date(day: i64) -> String {
        let first: Timestamp = "2026-01-05T08:00:00Z".parse().unwrap();
        day_of(first + SignedDuration::from_hours(24 * day)).to_string()
    }
}

fn on_duty(name: &str) -> Answer {
    Answer::Person { name: name.to_owned(), role: "installer".to_owned(), from_file: false }
}

/// The small job of one vehicle.
fn job(number: usize, meter: &str) -> String {
    let length = format!("length = \"{:.2} m\"", 1.9 + 0.01 * (number % 40) as f64);
    let text = small_job::JOB
        .replace("title = \"One work lamp\"", &format!("title = \"Work lamp, van {number}\""))
        .replace("Yard tractor", &format!("Van {number}"))
        .replace("12.6 V ± 0.2 V", "12.5 V ± 0.5 V")
        .replace("length = \"2 m\"", &length);
    format!("{text}\n[meter.{meter}]\nclass = \"mid\"\nserial = \"serial-{meter}\"\n")
}

fn shop() -> String {
    let head = "format = 1\nname = \"Year of nobody\"\n[role.lead]\nmay = [\"work\", \"release\", \"sign\"]\n";
    let person = |(number, name)| format!("[person.p{number}]\nname = \"{name}\"\nrole = \"lead\"\n");
    let people: String = PEOPLE.iter().enumerate().map(person).collect();
    head.to_owned()
        + &people
        + "[meter.M1]\nclass = \"mid\"\ncalibration_due = \"2099-01-01\"\n\
            [meter.M2]\nclass = \"mid\"\ncalibration_due = \"2026-06-30\"\n"
}

fn library() -> Library {
    let mut sources = small_job::tiny_library().sources;
    for source in &mut sources {
        if source.name.ends_with("first-off.toml") {
            let after = "\"prepare\"";
            *source = Source::new("first-off.toml", small_job::procedure_file("first-off", "job", after, FIRST_OFF));
        }
    }
    Library::read(sources).unwrap_or_else(|error| panic!("{error}"))
}
