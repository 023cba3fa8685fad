//! The walk as people use it: put off, taken back, doubted, permitted, photographed, released with a key.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::by_hand::{expectation, give, here, job, plan, procedure, read, walk};
use common::{Bench, small_job};
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::judgement::Verdict;
use rigproof::walk::{Answer, Disposition, Event, Standing, Walk};
use serde_json::Value;

fn apply(walk: &mut Walk, event: &Event) -> Result<(), String> {
    walk.apply(event).map_err(|refused| refused.says)
}

fn current(walk: &Walk) -> rigproof::plan::StepKey {
    walk.current().unwrap().key.clone()
}

const THREE: &str = r#"
[[step]]
id = "one"
do = "Do the first."

[[step]]
id = "two"
do = "Do the second."

[[step]]
id = "looked-at"
do = "Look at all."
hold = "second person"

[[step]]
id = "off"
do = "Take it off."
opens = "tag on"
closes = "tag on"
"#;

fn typed(text: &str) -> Answer {
    Answer::Typed(text.to_owned())
}

fn put_off(walk: &mut Walk, reason: &str) -> Result<(), String> {
    let step = current(walk);
    apply(walk, &Event::PutOff { step, reason: reason.to_owned() })
}

fn three() -> Walk {
    let steps = THREE.replace("\nopens = \"tag on\"\ncloses = \"tag on\"", "");
    walk(small_job::JOB, vec![procedure("work", "job", "", &steps)])
}

#[test]
fn a_step_that_was_put_off_comes_back_before_anybody_relies_on_it() {
    let mut walk = three();
    assert!(put_off(&mut walk, " ").unwrap_err().contains("say why"));
    put_off(&mut walk, "the part comes tomorrow").unwrap();
    assert_eq!(here(&walk), "work/job/two");
    give(&mut walk, Answer::Yes);
    assert_eq!(here(&walk), "work/job/one", "the hold point relies on it");
    assert!(put_off(&mut walk, "still not here").unwrap_err().contains("put off before"));
    give(&mut walk, Answer::Yes);
    assert_eq!(here(&walk), "work/job/looked-at");
    assert!(put_off(&mut walk, "nobody is here").unwrap_err().contains("cannot be put off"));
}

#[test]
fn a_step_that_was_closed_too_early_is_taken_back() {
    let mut walk = three();
    let nothing = Event::TakenBack { step: current(&walk), reason: "a slip".into() };
    assert!(apply(&mut walk, &nothing).is_err());
    let first = current(&walk);
    give(&mut walk, Answer::Yes);
    apply(&mut walk, &Event::TakenBack { step: first.clone(), reason: "a slip".into() }).unwrap();
    assert_eq!(current(&walk), first);
    give(&mut walk, Answer::Yes);
    give(&mut walk, Answer::Yes);
    assert!(apply(&mut walk, &Event::TakenBack { step: first, reason: "too late".into() }).is_err());
}

const VOLTS: &str = r#"
[[step]]
id = "battery"
do = "Write it."
measure = "voltage"
between = ["battery.+", "battery.-"]
on = "all"

[[step]]
id = "feed"
do = "Write it."
measure = "voltage"
between = ["battery.+", "{{ item }}.+"]
on = "all"

[[step]]
id = "ground"
do = "Write it."
measure = "voltage"
between = ["{{ item }}.-", "battery.-"]
on = "all"

[[step]]
id = "load"
do = "Write it."
measure = "voltage"
between = ["{{ item }}.+", "{{ item }}.-"]
on = "all"
"#;

/// The demo with its two lamps side by side: the readings of the left one are typed in for both.
fn two_lamps() -> Walk {
    let demo = include_str!("../reports/orchard-flatbed/job.toml");
    walk(demo, vec![procedure("test", "load", "", VOLTS)])
}

fn expected(walk: &Walk) -> (f64, f64) {
    let expectation = expectation(walk);
    (expectation.nominal.unwrap().base(), expectation.high.unwrap().base())
}

fn type_in(walk: &mut Walk, volts: f64) -> Event {
    give(walk, Answer::Typed(format!("{volts:.3} V")))
}

fn verdict(event: &Event) -> (Verdict, String) {
    match event {
        Event::Read { judgement, .. } => (judgement.verdict, judgement.says.clone()),
        other => panic!("{other:?}"),
    }
}

#[test]
fn left_and_right_alike_to_the_last_digit_are_asked_about_and_may_be_explained() {
    let mut walk = two_lamps();
    // The pump first, each reading a little off what is computed.
    for off in [0.0, 0.011, -0.006, 0.013] {
        let volts = expected(&walk).0 + off;
        assert_eq!(verdict(&type_in(&mut walk, volts)).0, Verdict::Conforms);
    }
    let mut left = Vec::new();
    for off in [0.0, 0.007, 0.005, 0.012] {
        left.push(expected(&walk).0 + off);
        assert_eq!(verdict(&type_in(&mut walk, *left.last().unwrap())).0, Verdict::Conforms);
    }
    for volts in &left[..3] {
        assert_eq!(verdict(&type_in(&mut walk, *volts)).0, Verdict::Conforms);
    }
    let (doubted, says) = verdict(&type_in(&mut walk, left[3]));
    assert_eq!(doubted, Verdict::Unexpected, "{says}");
    assert!(says.contains("to the last digit") && says.contains("lamp-left"), "{says}");
    let reason = "both lamps are of one batch, each was measured".to_owned();
    give(&mut walk, Answer::Dispose(Disposition::Explained { reason }));
    assert_eq!(walk.standing(), Standing::Conforms);
}

#[test]
fn loops_that_close_without_any_rest_are_asked_about_the_second_time() {
    let mut walk = two_lamps();
    let mut doubts = Vec::new();
    for load in 0..2 {
        let battery = expected(&walk).0 + 0.01 * f64::from(load);
        let mut rest = (battery * 1000.0).round() / 1000.0;
        type_in(&mut walk, rest);
        for off in [0.004 + 0.002 * f64::from(load), 0.003] {
            let volts = ((expected(&walk).0 + off) * 1000.0).round() / 1000.0;
            rest -= volts;
            type_in(&mut walk, volts);
        }
        doubts.push(verdict(&type_in(&mut walk, rest)));
    }
    assert_eq!(doubts[0].0, Verdict::Conforms, "{}", doubts[0].1);
    assert_eq!(doubts[1].0, Verdict::Unexpected, "{}", doubts[1].1);
    assert!(doubts[1].1.contains("close to the last digit"), "{}", doubts[1].1);
}

#[test]
fn a_probe_on_the_wrong_side_is_named() {
    let mut walk = two_lamps();
    let battery = expected(&walk).0;
    type_in(&mut walk, battery);
    // The drop on the feed side, with the black probe on the minus terminal of the pump instead of its plus.
    let (refused, says) = verdict(&type_in(&mut walk, 12.28));
    assert_eq!(refused, Verdict::DoesNotConform);
    assert!(says.contains("pump.- in the place of pump.+"), "{says}");
}

#[test]
fn a_concession_names_who_may_give_it_why_and_for_what() {
    let steps = "[[step]]\nid = \"torque\"\ndo = \"Write it.\"\nrecord = \"torque\"\nexpect = \"5 N·m ± 10 %\"\n";
    let mut walk = walk(small_job::JOB, vec![procedure("bolt", "ground", "", steps)]);
    read(&mut walk, "bolt/G1/torque", "4 N·m");
    let concession = |by: &str, reason: &str, scope: &str| {
        Answer::Dispose(Disposition::Concession { by: by.into(), reason: reason.into(), scope: scope.into() })
    };
    for (by, reason, scope) in
        [("?", "the stud is old", "this season"), ("Jo Birch", "", "this season"), ("Jo Birch", "the stud is old", "")]
    {
        let event = walk.event_for(&walk.prompt(), concession(by, reason, scope)).unwrap();
        assert!(walk.clone().apply(&event).is_err(), "{by} {reason} {scope}");
    }
    give(&mut walk, concession("Jo Birch", "the stud is old and holds", "this season"));
    assert_eq!(walk.standing(), Standing::DoesNotConform, "what is permitted is still said");
    let open = walk.nonconformities();
    assert!(open[0].reason.contains("concession by Jo Birch for this season"), "{}", open[0].reason);
}

#[test]
fn an_undecided_reading_that_protects_people_is_read_finer_and_not_explained() {
    let steps = "[[step]]\nid = \"dead\"\ndo = \"Write it.\"\nrecord = \"voltage\"\nno_concession = true\n\
                 accept = { at_most = \"0.05 V\", because = \"to try it\" }\n";
    let mut walk = walk(small_job::JOB, vec![procedure("prove", "job", "", steps)]);
    assert_eq!(read(&mut walk, "prove/job/dead", "0.00 V"), Verdict::Undecided, "read on the 20 V range");
    let explained = Answer::Dispose(Disposition::Explained { reason: "it looks like nothing".into() });
    let event = walk.event_for(&walk.prompt(), explained).unwrap();
    assert!(walk.clone().apply(&event).unwrap_err().says.contains("finer meter"));
    give(&mut walk, Answer::Dispose(Disposition::MeasureAgain));
    assert_eq!(read(&mut walk, "prove/job/dead", "0.3 mV"), Verdict::Conforms);
}

#[test]
fn a_guarded_job_leaves_a_reading_inside_the_guard_band_undecided() {
    let guarded = small_job::JOB.replacen(
        "[vehicle]",
        "[acceptance]\nrule = \"guarded\"\n[meter.M1]\nclass = \"mid\"\n[meter.M2]\nclass = \"good\"\n[vehicle]",
        1,
    );
    let steps = "[[step]]\nid = \"drop\"\ndo = \"Write it.\"\nrecord = \"voltage\"\n\
                 accept = { at_most = \"0.1 V\", because = \"to try it\" }\n";
    let mut walk = walk(&guarded, vec![procedure("try", "job", "", steps)]);
    // Mid class on 6 V: 0.5 % + 2 mV, U = 2.8 mV; good class on 2 V: 0.1 % + 0.1 mV, U = 0.2 mV.
    let undecided = give(&mut walk, typed("98 mV"));
    let (decision, says) = verdict(&undecided);
    assert_eq!(decision, Verdict::Undecided);
    assert!(says.contains("add @M2"), "the finer meter of the job is named: {says}");
    give(&mut walk, Answer::Dispose(Disposition::MeasureAgain));
    let event = walk.event_for(&walk.prompt(), Answer::Typed("98.3 mV @M9".into())).unwrap_err();
    assert!(event.says.contains("M1, M2"), "{}", event.says);
    let event = give(&mut walk, Answer::Typed("98.3 mV @M2".into()));
    let Event::Read { judgement, reading, .. } = event else { panic!() };
    assert_eq!(judgement.verdict, Verdict::Conforms, "{}", judgement.says);
    assert_eq!((judgement.instrument.as_deref(), reading.typed.as_str()), (Some("M2"), "98.3 mV"));
}

#[test]
fn what_a_meter_cannot_decide_is_said_before_anybody_measures() {
    let steps = "[[step]]\nid = \"path\"\ndo = \"Write it.\"\nmeasure = \"resistance\"\n\
                 between = [\"{{ item }}.-\", \"chassis\"]\non = \"none\"\npull = \"all\"\nbattery = \"disconnected\"\n";
    let walk = walk(small_job::JOB, vec![procedure("dead", "load", "", steps)]);
    let expectation = expectation(&walk);
    let said = expectation.notices.iter().any(|notice| notice.says.contains("drop under load decides"));
    assert!(said, "{:?}", expectation.notices);
}

#[test]
fn looked_is_no_answer_to_what_is_seen() {
    let steps = "[[step]]\nid = \"see\"\ndo = \"Write what you see.\"\nrecord = \"text\"\n";
    let walk = walk(small_job::JOB, vec![procedure("look", "job", "", steps)]);
    for word in ["y", "OK", "done", "?", " "] {
        assert!(walk.event_for(&walk.prompt(), Answer::Typed(word.into())).is_err(), "{word}");
    }
    assert!(walk.event_for(&walk.prompt(), Answer::Typed("none".into())).is_ok());
}

#[test]
fn a_rule_of_acceptance_that_nobody_knows_is_refused_with_those_there_are() {
    let text = small_job::JOB.replacen("[vehicle]", "[acceptance]\nrule = \"gaurded\"\n[vehicle]", 1);
    let problems = Job::read(&Source::new("job.toml", text)).unwrap_err().to_string();
    assert!(problems.contains("did you mean \"guarded\""), "{problems}");
    let _ = plan(&job(small_job::JOB), vec![procedure("a", "job", "", THREE)]);
}

/// A JPEG picture of 40 by 30 pixels with a block of camera notes that holds a place.
fn picture_with_a_place() -> Vec<u8> {
    let pixels = image::RgbImage::from_fn(40, 30, |x, y| {
        image::Rgb([u8::try_from(x * 5).unwrap(), u8::try_from(y * 7).unwrap(), 90])
    });
    let mut bytes = Vec::new();
    image::codecs::jpeg::JpegEncoder::new(&mut bytes).encode_image(&pixels).unwrap();
    let notes = b"http://ns.adobe.com/xap/1.0/\0<GPSLatitude>51,30.0N</GPSLatitude>";
    let length = u16::try_from(notes.len() + 2).unwrap().to_be_bytes();
    let mut whole = bytes[..2].to_vec();
    whole.extend([0xFF, 0xE1]);
    whole.extend(length);
    whole.extend(notes);
    whole.extend(&bytes[2..]);
    whole
}

fn bytes_hold(bytes: &[u8], words: &str) -> bool {
    bytes.windows(words.len()).any(|window| window == words.as_bytes())
}

#[test]
fn a_picture_is_taken_into_the_record_without_its_place_and_verify_watches_it() {
    let mut answers = small_job::answers(&small_job::tiny_library());
    let step = answers.lists()[0].0.clone();
    answers.table("photo").insert(step.clone(), "bench.jpg".into());
    let bench = Bench::tiny();
    bench.answer_with(&answers);
    let original = picture_with_a_place();
    assert!(bytes_hold(&original, "GPSLatitude"));
    std::fs::write(bench.path("bench.jpg"), &original).unwrap();
    bench.walk().expect(0);
    let event = bench.events_of("photographed").pop().unwrap();
    assert_eq!((&event["step"], &event["original"]), (&Value::from(step), &"bench.jpg".into()));
    let kept = bench.record().join(event["file"].as_str().unwrap());
    let bytes = std::fs::read(&kept).unwrap();
    assert!(!bytes_hold(&bytes, "GPS") && !bytes_hold(&bytes, "Exif") && !bytes_hold(&bytes, "adobe"));
    assert_eq!(image::load_from_memory(&bytes).unwrap().width(), 40);
    bench.verify().expect(0);
    let mut changed = bytes.clone();
    *changed.last_mut().unwrap() ^= 1;
    std::fs::write(&kept, changed).unwrap();
    bench.verify().expect(1).says("is not the picture that was taken into the record");
}

#[test]
fn what_is_no_picture_is_refused_and_the_walk_stays() {
    let mut answers = small_job::answers(&small_job::tiny_library());
    let step = answers.lists()[0].0.clone();
    answers.table("photo").insert(step, "bench.jpg".into());
    let bench = Bench::tiny();
    bench.answer_with(&answers);
    std::fs::write(bench.path("bench.jpg"), "no picture").unwrap();
    bench.walk().expect(2).says("this is no JPEG or PNG picture");
    assert!(bench.events_of("photographed").is_empty());
}

/// A bench whose hold points are released with the key of a second person.
fn two_keys() -> Bench {
    let key = ssh_key::PrivateKey::from(ssh_key::private::Ed25519Keypair::from_seed(&[9; 32]));
    let mut answers = small_job::answers(&small_job::library_of_the_program());
    for release in answers.table("release").iter_mut().map(|(_, release)| release.as_table_mut().unwrap()) {
        release.insert("key".to_owned(), "second.key".into());
    }
    let bench = Bench::new(small_job::JOB, &answers);
    key.write_openssh_file(&bench.path("second.key"), ssh_key::LineEnding::LF).unwrap();
    bench
}

#[test]
fn a_hold_point_is_released_with_the_second_persons_own_key_and_verify_checks_it() {
    let bench = two_keys().walked();
    let (ended, findings) = bench.verify_json();
    ended.expect(0);
    let released = findings["released_by"].as_array().unwrap();
    assert!(released.len() >= 4, "{findings}");
    assert!(released.iter().all(|r| r["by"] == "Jo Birch" && r["key"].as_str().unwrap().starts_with("SHA256:")));
    assert_ne!(released[0]["key"], findings["signed_by"][0]["key"]);
}

#[test]
fn a_skipped_step_a_remark_and_a_changed_job_can_be_answered_from_a_file() {
    let library = small_job::library_of_the_program();
    let mut answers = small_job::answers(&library);
    answers.table("skip").insert("ground/G1/mark-and-wait".into(), "the paint marker is in the van".into());
    answers.table("remark").insert("ground/G1/bare-metal".into(), "rust at the edge, ground off".into());
    let unfinished = answers.clone().without("release", "handover/job/release");
    let bench = Bench::new(small_job::JOB, &unfinished);
    bench.walk().expect(2);
    assert_eq!(bench.events_of("put-off").len(), 1);
    assert_eq!(bench.events_of("remark").len(), 1);
    // The job file is changed in the middle: shown as a difference, decided by the person, recorded.
    let changed = small_job::JOB.replace("One work lamp", "One work lamp, rear");
    std::fs::write(bench.path("job.toml"), changed).unwrap();
    bench.answer_with(&answers);
    bench.walk().expect(2).says("is not the job that the record").says("One work lamp, rear");
    answers.0.insert("job_differs".into(), "only the title was made plainer".into());
    bench.answer_with(&answers);
    bench.walk().expect(0);
    assert_eq!(bench.events_of("job-differs")[0]["reason"], "only the title was made plainer");
    bench.verify().expect(0);
}

#[test]
fn an_overdue_instrument_is_said_at_the_start_and_in_the_report() {
    let meter = "[meter.M1]\nclass = \"mid\"\ndescription = \"hand-held, number 3\"\ncalibration_due = \"2020-01-31\"\n[vehicle]";
    let text = small_job::JOB.replacen("[vehicle]", meter, 1);
    let answers = small_job::answers_for(&text, &small_job::library_of_the_program());
    let bench = Bench::new(&text, &answers);
    bench.walk().expect(0).says("calibration of M1 (hand-held, number 3) was due on 2020-01-31");
    let report = std::fs::read_to_string(bench.record().join("report/report.html")).unwrap();
    assert!(report.contains("hand-held, number 3") && report.contains("overdue at"), "the report names it");
    assert!(report.contains("±"), "each reading has its uncertainty");
}

#[test]
fn a_record_that_cannot_be_made_is_said_with_its_place() {
    let bench = Bench::one_lamp();
    let mut arguments = bench.walk_arguments();
    arguments.extend(["--record", "job.toml/record"]);
    bench.run(&arguments).expect(2).says("could not create job.toml/record");
}

#[test]
fn who_did_the_work_of_an_operation_does_not_release_it_after_a_change_of_shift() {
    let mut walk = three();
    give(&mut walk, Answer::Yes);
    give(&mut walk, Answer::Yes);
    let shift = Event::OnDuty { name: "Kim Rowan".into(), role: "apprentice".into(), from_file: false };
    apply(&mut walk, &shift).unwrap();
    give(&mut walk, Answer::Yes);
    let release =
        |by: &str, statement: &str| Answer::Release { by: by.into(), statement: statement.into(), signature: None };
    let own = walk.event_for(&walk.prompt(), release("robin  alder", "all of it was seen")).unwrap();
    assert!(apply(&mut walk, &own).unwrap_err().contains("needs another person"));
    give(&mut walk, release("Jo Birch", "all of it was seen"));
}
