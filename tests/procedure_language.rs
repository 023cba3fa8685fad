//! What a procedure file can say, and what the plan and the walk make of it.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::by_hand::{give, here, job, plan, procedure, read, rework, walk};
use common::small_job;
use rigproof::document::Source;
use rigproof::judgement::Verdict;
use rigproof::plan::PlanError;
use rigproof::procedure::Library;
use rigproof::walk::{Answer, Disposition, Event, Moment, Prompt, Standing, Witness};

fn typed(text: &str) -> Answer {
    Answer::Typed(text.to_owned())
}

const WAYS: &str = r#"
[[step]]
id = "pull"
do = "Do one of these."
choose = [
  { id = "scale", do = "Hang the sample on a scale." },
  { id = "weight", do = "Hang the weight on the sample." },
]

[[step]]
id = "weight-held"
do = "Count the seconds that the weight hangs."
record = "time"
accept = { at_least = "5 s", because = "to try it" }
only_if = { step = "pull", chosen = "weight" }

[[step]]
id = "end"
do = "Put the sample away."
"#;

#[test]
fn one_of_several_ways_is_marked_by_its_name_or_number_and_nothing_else() {
    let mut walk = walk(small_job::JOB, vec![procedure("crimp", "job", "", WAYS)]);
    let refused = walk.event_for(&walk.prompt(), typed("teeth")).unwrap_err();
    assert!(refused.says.contains("scale, weight"), "{refused}");
    assert!(walk.event_for(&walk.prompt(), typed("3")).is_err());
    assert!(walk.event_for(&walk.prompt(), Answer::Yes).is_err(), "a choice is not closed by Enter");
    let event = give(&mut walk, typed("2"));
    assert!(matches!(event, Event::Chosen { way, .. } if way == "weight"));
    assert_eq!(here(&walk), "crimp/job/weight-held");
}

#[test]
fn a_step_that_an_earlier_choice_makes_unnecessary_is_left_out_and_said_so() {
    let mut walk = walk(small_job::JOB, vec![procedure("crimp", "job", "", WAYS)]);
    give(&mut walk, typed("scale"));
    assert_eq!(here(&walk), "crimp/job/end");
    give(&mut walk, Answer::Yes);
    assert_eq!(walk.standing(), Standing::Conforms);
    assert_eq!(walk.count(), (3, 3), "a step that is not needed is no open step");
    let step = &walk.plan().steps[1].key;
    assert_eq!(walk.why_not_needed(step).unwrap().to_string(), "crimp/job/pull was done as `weight`");
}

const LOW_BATTERY: &str = r#"
[[step]]
id = "rest-voltage"
do = "Write the voltage of the battery at rest."
record = "voltage"
expect = "11 V..13 V"

[[step]]
id = "charge"
do = "Charge the battery."
only_if = { step = "rest-voltage", below = "12.45 V" }

[[step]]
id = "check"
do = "Write the voltage again."
record = "voltage"
expect = "12.45 V..13 V"
only_if = { step = "rest-voltage", below = "12.45 V" }

[[step]]
id = "full"
do = "Write that it is full."
record = "text"
only_if = { step = "rest-voltage", above = "12.45 V" }
"#;

#[test]
fn a_condition_on_a_reading_is_decided_anew_when_the_reading_is_taken_anew() {
    let mut walk = walk(small_job::JOB, vec![procedure("baseline", "job", "", LOW_BATTERY)]);
    assert_eq!(read(&mut walk, "baseline/job/rest-voltage", "12.1 V"), Verdict::Conforms);
    assert_eq!(here(&walk), "baseline/job/charge");
    give(&mut walk, Answer::Yes);
    assert_eq!(read(&mut walk, "baseline/job/check", "12.2 V"), Verdict::DoesNotConform);
    rework(&mut walk, "baseline/job/rest-voltage");
    assert_eq!(read(&mut walk, "baseline/job/rest-voltage", "12.7 V"), Verdict::Conforms);
    assert_eq!(here(&walk), "baseline/job/full", "neither charged nor checked again");
    give(&mut walk, typed("full"));
    assert_eq!(walk.standing(), Standing::Conforms);
}

const AGAIN: &str = r#"
[[step]]
id = "clean"
do = "Clean the metal."

[[step]]
id = "torque"
do = "Write the torque."
record = "torque"
expect = "5 N·m ± 10 %"
repeat = { from = "clean", at_most = 3 }
"#;

#[test]
fn a_reading_that_may_be_repeated_begins_again_by_itself_and_asks_for_a_decision_in_the_end() {
    let mut walk = walk(small_job::JOB, vec![procedure("bond", "ground", "", AGAIN)]);
    for _ in 0..2 {
        assert_eq!(here(&walk), "bond/G1/clean");
        give(&mut walk, Answer::Yes);
        assert_eq!(read(&mut walk, "bond/G1/torque", "3 N·m"), Verdict::DoesNotConform);
    }
    give(&mut walk, Answer::Yes);
    read(&mut walk, "bond/G1/torque", "3.5 N·m");
    assert!(matches!(walk.prompt(), Prompt::Dispose { .. }), "the third one asks what is done about it");
    rework(&mut walk, "bond/G1/clean");
    give(&mut walk, Answer::Yes);
    read(&mut walk, "bond/G1/torque", "5 N·m");
    assert_eq!(walk.standing(), Standing::Conforms);
    let readings = walk.attempts(&walk.plan().steps[1].key);
    assert_eq!(readings.len(), 4, "nothing is overwritten");
    assert_eq!(readings.iter().filter(|r| r.repeated).count(), 2);
}

const WATCHED: &str = r#"
[[step]]
id = "aim"
do = "Write the angle."
record = "angle"
expect = "0°..2°"
witness = "owner"
"#;

#[test]
fn a_witness_is_told_before_the_step_and_the_work_goes_on_without() {
    let came = |name: &str| Witness::Came(name.to_owned());
    for (answer, came) in [("nobody", Witness::Nobody), ("", Witness::Nobody), ("Kim Sorrel", came("Kim Sorrel"))] {
        let mut walk = walk(small_job::JOB, vec![procedure("aim", "load", "", WATCHED)]);
        assert!(matches!(walk.prompt(), Prompt::Witness { party: "owner", .. }));
        assert!(walk.event_for(&walk.prompt(), typed("7")).is_err(), "a name or nobody");
        give(&mut walk, typed(answer));
        read(&mut walk, "aim/lamp/aim", "1°");
        assert_eq!(walk.witnessed(&walk.plan().steps[0].key), Some(&came));
        assert_eq!(came != Witness::Nobody, walk.people().contains_key("Kim Sorrel"));
    }
}

#[test]
fn a_step_may_only_ask_to_look() {
    let steps = "[[step]]\nid = \"see\"\nlook = [\"Bright metal shows all round.\"]\n";
    let mut walk = walk(small_job::JOB, vec![procedure("ground", "ground", "", steps)]);
    assert!(walk.current().unwrap().instructions.is_empty());
    give(&mut walk, Answer::Yes);
    assert_eq!(walk.standing(), Standing::Conforms);
}

#[test]
fn a_printed_rating_is_compared_as_a_person_would() {
    let steps =
        "[[step]]\nid = \"rating\"\ndo = \"Write the rating.\"\nrecord = \"rating\"\nexpect = \"{{ thing.rating }}\"\n";
    let mut walk = walk(small_job::JOB, vec![procedure("fuse", "fuse", "", steps)]);
    let event = give(&mut walk, typed("5a"));
    assert!(matches!(event, Event::Noted { judgement, .. } if judgement.verdict == Verdict::Conforms));
}

#[test]
fn a_procedure_is_walked_for_every_member_of_every_group() {
    let steps =
        "[[step]]\nid = \"mark\"\ndo = \"Read the mark of {{ item }} at {{ group }}, {{ group_thing.place }}.\"\n";
    let walk = walk(small_job::JOB, vec![procedure("marks", "wire of ground", "", steps)]);
    let keys: Vec<&str> = walk.plan().steps.iter().map(|s| s.key.as_str()).collect();
    let wires: Vec<String> = job(small_job::JOB)
        .wires
        .iter()
        .filter(|w| w.from.part() == "G1" || w.to.part() == "G1")
        .map(|w| format!("marks/G1:{}/mark", w.name))
        .collect();
    assert!(!keys.is_empty());
    assert_eq!(keys, wires);
    assert!(walk.plan().steps[0].instructions[0].contains("at G1, frame, bare metal"));
}

#[test]
fn a_group_that_makes_no_sense_is_refused_with_what_there_is() {
    for for_each in ["switch of wire", "wire of job", "lamp", "load of load"] {
        let source = procedure("odd", for_each, "", "[[step]]\nid = \"a\"\ndo = \"Look.\"\n");
        let error = Library::read(vec![source]).unwrap_err().to_string();
        assert!(error.contains("wire of splice") && error.contains("connector"), "{error}");
    }
}

#[test]
fn the_text_of_a_reading_may_say_where_and_what() {
    let steps = "[[step]]\nid = \"rest\"\ndo = \"Hold red on {{ red }}. Hold black on {{ black }}.\"\n\
                 why = \"It must be {{ expected }}.\"\nmeasure = \"voltage\"\nbetween = [\"battery.+\", \"battery.-\"]\n\
                 [[step]]\nid = \"end\"\ndo = \"Stop.\"\n";
    let walk = walk(small_job::JOB, vec![procedure("look", "job", "", steps)]);
    let step = &walk.plan().steps[0];
    assert_eq!(step.instructions, ["Hold red on battery.+.", "Hold black on battery.-."]);
    assert_eq!(step.why, "It must be 12.40 to 12.80 V.");
}

fn refused(steps: &str) -> String {
    match plan(&job(small_job::JOB), vec![procedure("try", "fuse", "", steps)]) {
        Err(PlanError::Procedure(problems)) => problems.to_string(),
        other => panic!("{:?}", other.map(|plan| plan.steps.len())),
    }
}

const OFF: &str = "[[step]]\nid = \"off\"\ndo = \"Take negative off.\"\nopens = \"battery off\"\n";
const ON: &str = "[[step]]\nid = \"on\"\ndo = \"Put negative on.\"\ncloses = \"battery off\"\n";
const LIVE: &str =
    "[[step]]\nid = \"live\"\ndo = \"Write it.\"\nmeasure = \"voltage\"\nbetween = [\"battery.+\", \"chassis\"]\n";

#[test]
fn nothing_is_measured_that_a_temporary_state_makes_impossible() {
    let text = refused(&format!("{OFF}{LIVE}{ON}"));
    assert!(text.contains("try/F1/live is measured while `battery off` is open"), "{text}");
    let out = "[[step]]\nid = \"out\"\ndo = \"Take it out.\"\nopens = \"{{ item }} out\"\n";
    let back = "[[step]]\nid = \"back\"\ndo = \"Put it in.\"\ncloses = \"{{ item }} out\"\n";
    assert!(refused(&format!("{out}{LIVE}{back}")).contains("measured while `F1 out` is open"));
    let pulled = format!("{out}{LIVE}pull = \"all\"\n{back}");
    assert!(plan(&job(small_job::JOB), vec![procedure("try", "fuse", "", &pulled)]).is_ok());
}

#[test]
fn a_temporary_state_that_is_never_ended_is_refused() {
    assert!(refused(OFF).contains("`battery off` of step try/F1/off is never ended"));
    // What only some walks do ends nothing.
    let ways = WAYS.replace("only_if", "closes = \"battery off\"\nonly_if");
    assert!(refused(&format!("{OFF}{ways}")).contains("never ended"));
    assert!(plan(&job(small_job::JOB), vec![procedure("try", "job", "", &format!("{OFF}{ON}"))]).is_ok());
}

#[test]
fn what_closes_the_work_begins_only_when_every_temporary_state_is_ended() {
    let close = "only_all_closed = true\n[[step]]\nid = \"cover\"\ndo = \"Close the cover.\"\n";
    let late = |steps: &str| {
        let files = vec![
            procedure("prepare", "job", "", OFF),
            procedure("close-up", "job", "\"prepare\"", close),
            procedure("connect", "job", "\"close-up\"", steps),
        ];
        plan(&job(small_job::JOB), files)
    };
    let error = late(ON).unwrap_err().to_string();
    assert!(error.contains("`close-up` begins while `battery off`"), "{error}");
}

#[test]
fn a_condition_may_look_at_an_earlier_procedure_and_at_no_later_one() {
    let looks = "[[step]]\nid = \"again\"\ndo = \"Charge it.\"\nonly_if = { step = \"baseline/rest-voltage\", below = \"12.4 V\" }\n\
                 [[step]]\nid = \"end\"\ndo = \"Stop.\"\n";
    let files =
        |after: &str| vec![procedure("baseline", "job", "", LOW_BATTERY), procedure("test", "load", after, looks)];
    let mut walk = walk(small_job::JOB, files("\"baseline\""));
    read(&mut walk, "baseline/job/rest-voltage", "12.6 V");
    give(&mut walk, typed("full"));
    assert_eq!(here(&walk), "test/lamp/end");
    let mut early = vec![procedure("a-test", "load", "", looks)];
    early.extend(files("\"baseline\""));
    let error = Library::read(early).unwrap_err().to_string();
    assert!(error.contains("is no procedure that comes before `a-test`"), "{error}");
    let unknown = looks.replace("rest-voltage", "rest");
    let error = Library::read(vec![
        procedure("baseline", "job", "", LOW_BATTERY),
        procedure("test", "load", "\"baseline\"", &unknown),
    ]);
    assert!(error.unwrap_err().to_string().contains("`baseline` has no step `rest`"));
}

#[test]
fn a_decision_about_a_repeated_reading_still_needs_a_reason() {
    let mut walk = walk(small_job::JOB, vec![procedure("bond", "ground", "", AGAIN)]);
    for _ in 0..3 {
        give(&mut walk, Answer::Yes);
        read(&mut walk, "bond/G1/torque", "3 N·m");
    }
    let no_reason = Answer::Dispose(Disposition::Nonconformity { reason: " ".into() });
    let event = walk.event_for(&walk.prompt(), no_reason).unwrap();
    assert!(walk.clone().apply(&event).is_err());
}

#[test]
fn what_a_file_leaves_out_is_asked_for_and_nothing_is_taken_for_granted() {
    let without_hazards = procedure("plain", "job", "", "[[step]]\nid = \"a\"\ndo = \"Look.\"\n");
    let text = without_hazards.text.replace("hazard = []\n", "");
    let error = Library::read(vec![Source::new("plain.toml", text)]).unwrap_err().to_string();
    assert!(error.contains("[] states that there is no hazard"), "{error}");
}

#[test]
fn a_wait_runs_on_over_a_restart_and_ends_by_the_clock_or_by_word() {
    let steps = "[[step]]\nid = \"cure\"\ndo = \"Let it cure.\"\nwait = \"10 min\"\n";
    let files = || vec![procedure("seal", "job", "", steps)];
    let mut before = walk(small_job::JOB, files());
    let begun = give(&mut before, Answer::Now(Moment(1_000)));
    // Another run of the program: the events of the journal bring the walk back to where it stood.
    let mut after = walk(small_job::JOB, files());
    after.apply(&begun).unwrap();
    let early = after.event_for(&after.prompt(), Answer::Now(Moment(1_400))).unwrap_err();
    assert!(early.says.contains("3.33 min of 10 min"), "{early}");
    let back = after.event_for(&after.prompt(), Answer::Now(Moment(500)));
    assert!(back.is_err(), "a clock that went back ends no wait");
    assert!(after.event_for(&after.prompt(), typed("9 min")).is_err());
    give(&mut after, Answer::Now(Moment(1_600)));
    assert_eq!(after.standing(), Standing::Conforms);
    give(&mut before, typed("12 min"));
    assert_eq!(before.standing(), Standing::Conforms);
}
