//! A person walks a job in a terminal.
#![cfg(unix)]

mod common;

use std::collections::HashMap;

use common::terminal::Terminal;
use common::{Answers, Bench, complete, small_job};
use rigproof::record::Record;
use serde_json::Value;

const STATEMENT: &str = "Statement (Enter takes the one above)";
const WALK: &[&str] = &["walk", "job.toml"];

/// What is no reading in volts, and what is said to it.
const WRONG_ENTRIES: [(&str, &str); 3] = [
    ("abc", "this is not a number"),
    ("12.6 A", "A is a unit of current, not of voltage"),
    ("12.6 volst", "volst is not a unit"),
];

/// Who answers each question by what the screen shows, from a file of answers.
struct Person {
    answers: HashMap<String, std::vec::IntoIter<String>>,
    /// The answers that were given last: a wait or a choice that comes again is answered as before.
    given: HashMap<String, String>,
    releases: toml::Table,
    witnesses: toml::Table,
}

/// The phase in which a step stands, as the list of places to begin again words it.
fn begins(step: &str) -> &'static str {
    match step {
        "ground/G1/bare-metal" => "Make the ground connection G1",
        other => panic!("the title of the phase of {other} is not known"),
    }
}

impl Person {
    fn with(answers: &Answers) -> Self {
        let table = |name: &str| answers.0[name].as_table().unwrap().clone();
        let lists = answers.lists().into_iter().map(|(step, list)| (step, list.into_iter()));
        let (releases, witnesses) = (table("release"), table("witness"));
        Self { answers: lists.collect(), given: HashMap::new(), releases, witnesses }
    }

    fn next(&mut self, step: &str) -> String {
        self.answers.get_mut(step).and_then(Iterator::next).unwrap_or_else(|| panic!("no answer for {step}"))
    }

    fn next_or_as_before(&mut self, step: &str) -> String {
        if let Some(text) = self.answers.get_mut(step).and_then(Iterator::next) {
            self.given.insert(step.to_owned(), text);
        }
        self.given.get(step).cloned().unwrap_or_else(|| panic!("no answer for {step}"))
    }

    /// The next release of a hold point: the first one, then those for work that was done again.
    fn release(&mut self, step: &str) -> toml::Table {
        let mut release = self.releases[step].as_table().unwrap().clone();
        let again = release.remove("again").map_or_else(Vec::new, |list| list.as_array().unwrap().clone());
        if let Some((next, rest)) = again.split_first() {
            let mut next = next.as_table().unwrap().clone();
            next.insert("again".into(), rest.to_vec().into());
            self.releases.insert(step.to_owned(), next.into());
        }
        release
    }

    /// Answers one question.
    #[track_caller]
    fn answer(&mut self, terminal: &mut Terminal) {
        let question = terminal.asked();
        match question.as_str() {
            "Who works? Name" => terminal.answer(&question, "Robin Alder"),
            "Role (installer, apprentice, ...)" => terminal.answer(&question, "installer"),
            "Read and understood?" => terminal.yes(&question),
            "Done? Enter, or ? for more" | "Enter shows the next ones" => terminal.answer(&question, ""),
            "Reading in " | "Value of the " | "Write what you see" => {
                let text = self.next(&terminal.step());
                terminal.answer(&question, &text);
            }
            "Enter, or the time that was waited" | "Which one did you do?" => {
                let text = self.next_or_as_before(&terminal.step());
                terminal.answer(&question, &text);
            }
            "Who came? Enter when told and nobody came" => {
                let came = self.witnesses[&terminal.step()].as_str().unwrap().to_owned();
                terminal.answer(&question, &came);
            }
            "What is done about it?" => {
                let text = self.next(&terminal.step());
                let (from, reason) = text.strip_prefix("rework ").unwrap().split_once(": ").unwrap();
                terminal.choose(&question, "Rework, then measure again");
                terminal.choose("Where does the work begin again?", begins(from));
                terminal.answer("What was wrong, and what is done", reason);
            }
            "Released by" => {
                let release = self.release(&terminal.step());
                terminal.answer(&question, release["by"].as_str().unwrap());
                terminal.answer("What was checked, and what was seen", release["statement"].as_str().unwrap());
                terminal.answer("Key file that signs the release (Enter: none)", "");
            }
            other => panic!("nobody knows what to answer to `{other}`:\n{}", terminal.screen()),
        }
    }

    /// Answers until a step is asked for by a question.
    #[track_caller]
    fn walk_to(&mut self, terminal: &mut Terminal, question: &str, step: &str) {
        while !(terminal.asked() == question && terminal.step() == step) {
            self.answer(terminal);
        }
    }

    /// Answers until the sign-off.
    #[track_caller]
    fn walk_to_the_end(&mut self, terminal: &mut Terminal) {
        while terminal.asked() != "sign now?" {
            self.answer(terminal);
        }
    }
}

/// Signs with a key made on the spot; gives the exit status.
fn sign(terminal: &mut Terminal) -> u32 {
    terminal.yes("sign now?");
    terminal.answer(STATEMENT, "");
    terminal.choose("Which key signs?", "a new key, made now");
    terminal.ended()
}

fn open_on_one_lamp(bench: &Bench, arguments: &[&str], surroundings: &[(&str, &str)]) -> (Terminal, Person) {
    let arguments: Vec<&str> = WALK.iter().chain(arguments).copied().collect();
    let person = Person::with(&small_job::answers(&small_job::library_of_the_program()));
    (Terminal::start(bench, &arguments, surroundings), person)
}

fn journal(bench: &Bench) -> Vec<u8> {
    std::fs::read(bench.journal()).unwrap()
}

/// The events without keys and without the front that they came by, limits in the words of the moment included.
fn story(bench: &Bench) -> Vec<Value> {
    let mut events = bench.events();
    for event in &mut events {
        if event["kind"] == "on-duty" {
            event["from_file"].take();
        }
        if event["kind"] == "signed-off" {
            event["key"].take();
        }
    }
    events
}

#[test]
fn the_whole_demo_in_a_terminal_leaves_the_same_record_as_its_answers() {
    let bench = Bench::demo();
    let mut person = Person::with(&Answers::demo());
    let mut terminal = Terminal::start(&bench, WALK, &[]);

    // A wrong entry is refused in words, and the question comes again.
    person.walk_to(&mut terminal, "Reading in ", "baseline/job/rest-voltage");
    assert!(terminal.screen().contains("expect: 12.40 to 12.80 V"), "{}", terminal.screen());
    for (wrong, words) in WRONG_ENTRIES {
        terminal.answer("Reading in ", wrong);
        terminal.expect_question("Reading in ");
        assert!(terminal.said(&format!("not taken: {words}")), "{}", terminal.screen());
    }
    assert!(bench.events_of("read").iter().all(|event| event["step"] != "baseline/job/rest-voltage"));

    // Ctrl-C in the middle: nothing is lost, and the same call goes on.
    person.walk_to(&mut terminal, "Reading in ", "dead-test/pump/ground-path");
    terminal.ctrl_c();
    assert_eq!(terminal.ended(), 130);
    assert!(
        terminal.said("Everything entered is saved in record. Go on with: rigproof walk job.toml"),
        "{}",
        terminal.screen()
    );
    assert!(terminal.cursor_is_visible());
    let saved = journal(&bench);
    assert_eq!(complete(&saved), saved);
    let (entries, walk) = Record::read(&bench.record()).unwrap();
    assert_eq!(entries.len(), bench.events().len());
    assert_eq!(walk.current().unwrap().key.as_str(), "dead-test/pump/ground-path");
    let mut terminal = Terminal::start_again(&bench, WALK);
    terminal.expect_question("Reading in ");
    assert_eq!(terminal.step(), "dead-test/pump/ground-path");

    // A reading out of range is not waved through.
    person.walk_to(&mut terminal, "What is done about it?", "test/pump/ground-drop");
    let screen = terminal.screen();
    assert!(screen.contains("DOES NOT CONFORM") && screen.contains("1.31 V lies above"), "{screen}");
    // What the readings so far say of it stands above the question.
    assert!(
        screen.contains("tells most:") || screen.contains("mend:") || screen.contains("No single fault"),
        "{screen}"
    );
    assert!(!screen.contains("explain why"), "a reading outside its limits cannot be explained away:\n{screen}");
    let reading = bench.events().pop().unwrap();
    assert_eq!((&reading["kind"], &reading["reading"]["typed"]), (&"read".into(), &"1.31 V".into()));

    // Rework opens the ground again, and the readings that hang on it are asked for once more.
    person.answer(&mut terminal);
    person.walk_to(&mut terminal, "Done? Enter, or ? for more", "prepare/job/negative-off");
    // The battery comes off first: the work is on a circuit that had power by then.
    assert_eq!(terminal.step(), "prepare/job/negative-off");
    person.walk_to(&mut terminal, "Reading in ", "dead-test/pump/ground-path");
    person.walk_to(&mut terminal, "Reading in ", "test/pump/ground-drop");
    let bare_metal = |event: &&Value| event["step"] == "ground/G1/bare-metal";
    assert_eq!(bench.events_of("done").iter().filter(bare_metal).count(), 2);

    person.walk_to_the_end(&mut terminal);
    assert!(person.answers.values().all(|left| left.len() == 0), "not every answer was asked for");
    assert_eq!(sign(&mut terminal), 0);
    let text = terminal.text();
    assert!(text.contains("A signing key was made") && text.contains("steps closed, every reading conforms"), "{text}");
    assert!(terminal.cursor_is_visible());
    assert!(journal(&bench).starts_with(&saved));
    bench.verify().expect(0).says("intact").says("signed by Robin Alder, installer");

    // Only the front is another one, and the record tells which.
    let by_answers = Bench::demo().walked();
    assert_eq!(bench.events_of("on-duty")[0]["from_file"], false);
    assert_eq!(by_answers.events_of("on-duty")[0]["from_file"], true);
    assert_eq!(story(&bench), story(&by_answers));
}

/// Presses Ctrl-C at a question, and calls the walk again.
#[track_caller]
fn break_off(bench: &Bench, terminal: &mut Terminal, question: &str) {
    terminal.expect_question(question);
    let saved = std::fs::read(bench.journal()).unwrap_or_default();
    terminal.ctrl_c();
    assert_eq!(terminal.ended(), 130, "at `{question}`");
    assert!(terminal.cursor_is_visible(), "at `{question}`");
    assert!(terminal.said("Go on with: rigproof walk job.toml"), "at `{question}`: {}", terminal.screen());
    assert!(journal(bench) == saved, "at `{question}`: the journal changed");
    *terminal = Terminal::start_again(bench, WALK);
}

/// A walk that was broken off at its first reading, called again: it asks who goes on.
fn broken_off_at_the_first_reading(bench: &Bench) -> Terminal {
    let (mut terminal, mut person) = open_on_one_lamp(bench, &[], &[]);
    person.walk_to(&mut terminal, "Reading in ", "baseline/job/rest-voltage");
    break_off(bench, &mut terminal, "Reading in ");
    drop(terminal);
    Terminal::start(bench, WALK, &[])
}

#[test]
fn ctrl_c_at_the_question_who_goes_on_changes_nothing() {
    let bench = Bench::one_lamp();
    let mut terminal = broken_off_at_the_first_reading(&bench);
    break_off(&bench, &mut terminal, "goes on?");
    terminal.expect_question("Reading in ");
}

#[test]
fn who_goes_on_with_the_work_of_another_is_in_the_record() {
    let bench = Bench::one_lamp();
    let mut terminal = broken_off_at_the_first_reading(&bench);
    terminal.no("goes on?");
    terminal.answer("Who works now? Name", "Kim Rowan");
    terminal.answer("Role (installer, apprentice, ...)", "apprentice");
    terminal.answer("Reading in ", "12.6 V");
    terminal.asked();
    let people: Vec<Value> = bench.events_of("on-duty").into_iter().map(|event| event["name"].clone()).collect();
    assert_eq!(people, ["Robin Alder", "Kim Rowan"]);
    let journal = String::from_utf8(journal(&bench)).unwrap();
    let reading = journal.lines().find(|line| line.contains("\"typed\":\"12.6 V\"")).unwrap();
    assert_eq!(serde_json::from_str::<Value>(reading).unwrap()["by"], "Kim Rowan");
}

#[test]
fn ctrl_c_at_any_kind_of_question_loses_nothing_and_the_same_call_goes_on() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    break_off(&bench, &mut terminal, "Who works? Name");
    terminal.answer("Who works? Name", "Robin Alder");
    break_off(&bench, &mut terminal, "Role (installer, apprentice, ...)");
    for question in ["Read and understood?", "Done? Enter, or ? for more", "Value of the ", "Write what you see"] {
        while terminal.asked() != question {
            person.answer(&mut terminal);
        }
        break_off(&bench, &mut terminal, question);
    }
    person.walk_to(&mut terminal, "Reading in ", "test/lamp/ground-drop");
    break_off(&bench, &mut terminal, "Reading in ");
    terminal.answer("Reading in ", "1.31 V");
    break_off(&bench, &mut terminal, "What is done about it?");
    terminal.choose("What is done about it?", "Rework, then measure again");
    break_off(&bench, &mut terminal, "Where does the work begin again?");
    terminal.choose("What is done about it?", "Rework, then measure again");
    terminal.choose("Where does the work begin again?", "this step");
    break_off(&bench, &mut terminal, "What was wrong, and what is done");
    terminal.choose("What is done about it?", "Measure again");
    person.walk_to_the_end(&mut terminal);
    break_off(&bench, &mut terminal, "sign now?");
    terminal.yes("sign now?");
    break_off(&bench, &mut terminal, STATEMENT);
    terminal.yes("sign now?");
    terminal.answer(STATEMENT, "");
    break_off(&bench, &mut terminal, "Which key signs?");
    assert_eq!(sign(&mut terminal), 0);
    bench.verify().expect(0);
    let readings = bench.events_of("read").into_iter().filter(|event| event["step"] == "test/lamp/ground-drop");
    assert_eq!(readings.count(), 2);
}

#[test]
fn ctrl_c_at_a_hold_point_leaves_it_unreleased() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    person.walk_to(&mut terminal, "Released by", "first-off/job/release-crimps");
    break_off(&bench, &mut terminal, "Released by");
    terminal.answer("Released by", "Jo Birch");
    break_off(&bench, &mut terminal, "What was checked, and what was seen");
    terminal.expect_question("Released by");
    let released = bench.events_of("released");
    assert!(released.iter().all(|event| event["step"] != "first-off/job/release-crimps"), "{released:?}");
}

#[test]
fn ctrl_c_while_the_program_works_on_an_answer_ends_the_walk() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    for step in ["prepare/job/secure-vehicle", "prepare/job/negative-off"] {
        person.walk_to(&mut terminal, "Done? Enter, or ? for more", step);
        let saved = journal(&bench);
        terminal.ctrl_c_behind("Done? Enter, or ? for more", "");
        assert_eq!(terminal.ended(), 130);
        assert!(terminal.cursor_is_visible());
        assert!(journal(&bench).starts_with(&saved));
        terminal = Terminal::start_again(&bench, WALK);
        terminal.asked();
        let written = bench.events().len() - common::events(&saved).len();
        assert!(written <= 1, "the answer is saved or asked for again, and nothing else happened");
    }
}

#[test]
fn pause_stops_the_walk_as_ctrl_c_does() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    person.walk_to(&mut terminal, "Value of the ", "prepare/job/read-manual");
    let saved = journal(&bench);
    terminal.answer("Value of the ", "pause");
    assert_eq!(terminal.ended(), 130);
    assert!(terminal.said("Go on with: rigproof walk job.toml"), "{}", terminal.screen());
    assert_eq!(journal(&bench), saved);
}

#[test]
fn a_question_mark_shows_the_hazards_again_and_a_remark_goes_into_the_record_as_it_was_typed() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    person.walk_to(&mut terminal, "Reading in ", "baseline/job/rest-voltage");
    terminal.answer("Reading in ", "?");
    terminal.expect_question("Reading in ");
    assert!(terminal.said("WARNING") && terminal.said("step baseline/job/rest-voltage"), "{}", terminal.screen());
    let long = "Pol mit grünem Belag – gereinigt und gefettet; ".repeat(4) + "Ende";
    terminal.answer("Reading in ", &format!("remark {long}"));
    terminal.expect_question("Reading in ");
    let remarks = bench.events_of("remark");
    assert_eq!(remarks.len(), 1);
    assert_eq!((&remarks[0]["step"], &remarks[0]["text"]), (&"baseline/job/rest-voltage".into(), &long.into()));
}

#[test]
fn hazards_that_were_not_understood_stop_the_work() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    while terminal.asked() != "Read and understood?" {
        person.answer(&mut terminal);
    }
    terminal.no("Read and understood?");
    terminal.expect_question("Read and understood?");
    assert!(terminal.said("The work does not go on before that"), "{}", terminal.screen());
    assert!(bench.events_of("hazards-acknowledged").is_empty());
    terminal.yes("Read and understood?");
    terminal.expect_question("Write what you see");
    assert_eq!(bench.events_of("hazards-acknowledged").len(), 1);
}

#[test]
fn who_did_the_work_does_not_release_it_without_saying_so() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    person.walk_to(&mut terminal, "Released by", "first-off/job/release-crimps");
    terminal.answer("Released by", "robin alder");
    terminal.answer("What was checked, and what was seen", "all of it is good");
    terminal.answer("Key file that signs the release (Enter: none)", "");
    terminal.expect_question("Released by");
    assert!(terminal.said("not taken: a hold point needs another person"), "{}", terminal.screen());
    terminal.answer("Released by", "Robin Alder");
    terminal.answer("What was checked, and what was seen", "self-check: all samples seen again");
    terminal.answer("Key file that signs the release (Enter: none)", "");
    terminal.asked();
    let released = bench.events_of("released");
    assert_eq!(released.last().unwrap()["step"], "first-off/job/release-crimps");
}

#[test]
fn a_walk_that_is_not_signed_now_is_signed_by_the_same_call_later() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    person.walk_to_the_end(&mut terminal);
    terminal.no("sign now?");
    assert_eq!(terminal.ended(), 0);
    assert!(terminal.said("is not signed"), "{}", terminal.screen());
    bench.verify().expect(1).says("not sealed");
    let mut terminal = Terminal::start_again(&bench, WALK);
    assert_eq!(sign(&mut terminal), 0);
    bench.verify().expect(0);
}

#[test]
fn the_sign_off_leaves_no_half_erased_question_on_the_screen() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    person.walk_to_the_end(&mut terminal);
    terminal.yes("sign now?");
    terminal.answer(STATEMENT, "");
    terminal.expect_question("Which key signs?");
    let screen = terminal.screen();
    assert_eq!(screen.matches("Statement").count(), 1, "{screen}");
    assert!(!screen.contains("? Statement"), "{screen}");
}

/// An Ed25519 key that asks for a passphrase.
fn encrypted_key(bench: &Bench, phrase: &str) -> String {
    let seed = ssh_key::private::Ed25519Keypair::from_seed(&[7; 32]);
    let key = ssh_key::PrivateKey::from(seed);
    // One round: this key guards nothing.
    let kdf = ssh_key::Kdf::Bcrypt { salt: vec![3; 16], rounds: 1 };
    let key = key.encrypt_with(ssh_key::Cipher::Aes256Ctr, kdf, 5, phrase).unwrap();
    let path = bench.path("key");
    key.write_openssh_file(&path, ssh_key::LineEnding::LF).unwrap();
    path.display().to_string()
}

fn at_the_passphrase(bench: &Bench) -> Terminal {
    let key = encrypted_key(bench, "open sesame");
    let (mut terminal, mut person) = open_on_one_lamp(bench, &["--key", &key], &[]);
    person.walk_to_the_end(&mut terminal);
    terminal.yes("sign now?");
    terminal.answer(STATEMENT, "");
    terminal.expect_passphrase();
    terminal
}

#[test]
fn an_encrypted_key_signs_with_its_passphrase_which_is_not_shown() {
    let bench = Bench::one_lamp();
    let mut terminal = at_the_passphrase(&bench);
    terminal.answer_passphrase("open sesame");
    assert_eq!(terminal.ended(), 0);
    assert!(!terminal.written().contains("sesame"));
    bench.verify().expect(0);
}

#[test]
fn a_wrong_passphrase_does_not_sign() {
    let bench = Bench::one_lamp();
    let mut terminal = at_the_passphrase(&bench);
    terminal.answer_passphrase("open rice");
    assert_eq!(terminal.ended(), 2);
    assert!(terminal.said("the passphrase does not open the key"), "{}", terminal.screen());
    assert!(bench.events_of("signed-off").is_empty());
}

#[test]
fn ctrl_c_at_the_passphrase_breaks_off_too() {
    let bench = Bench::one_lamp();
    let mut terminal = at_the_passphrase(&bench);
    terminal.ctrl_c();
    assert_eq!(terminal.ended(), 130);
    assert!(terminal.said("Go on with: rigproof walk job.toml"), "{}", terminal.screen());
    assert!(bench.events_of("signed-off").is_empty());
}

/// Types a word at the question of a step and gives the question that comes next.
#[track_caller]
fn word(terminal: &mut Terminal, question: &str, word: &str) -> String {
    terminal.answer(question, word);
    terminal.asked()
}

#[test]
fn words_beside_the_questions_show_the_way_through_the_job() {
    const DONE: &str = "Done? Enter, or ? for more";
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    person.walk_to(&mut terminal, DONE, "prepare/job/secure-vehicle");
    assert_eq!(word(&mut terminal, DONE, "?"), DONE);
    assert!(terminal.said("skip REASON puts this step off"), "{}", terminal.screen());
    assert_eq!(word(&mut terminal, DONE, "find fuse rating"), DONE);
    assert!(terminal.said("open fuse/F1/rating"), "{}", terminal.screen());
    assert_eq!(word(&mut terminal, DONE, "list"), DONE);
    assert!(terminal.text().contains(">  0 of"), "the place in the job is marked");
    assert_eq!(word(&mut terminal, DONE, "skip"), DONE);
    assert!(terminal.said("needs more"), "{}", terminal.screen());
    // Put off, taken up again before anybody relies on it; then one step back.
    word(&mut terminal, DONE, "skip the chocks are in the other van");
    let walk = Record::read(&bench.record()).unwrap().1;
    assert_ne!(walk.current().unwrap().key.as_str(), "prepare/job/secure-vehicle");
    person.walk_to(&mut terminal, DONE, "prepare/job/secure-vehicle");
    person.walk_to(&mut terminal, DONE, "terminate/w1/strip");
    word(&mut terminal, DONE, "");
    assert_eq!(terminal.step(), "terminate/w1/crimp");
    word(&mut terminal, DONE, "back the blade was set wrong");
    assert_eq!(terminal.step(), "terminate/w1/strip");
    let kinds: Vec<String> = bench.events().iter().map(|e| e["kind"].as_str().unwrap().to_owned()).collect();
    assert!(kinds.contains(&"put-off".to_owned()) && kinds.contains(&"taken-back".to_owned()), "{kinds:?}");
}

#[test]
fn an_undecided_reading_asks_for_a_finer_one() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    person.walk_to(&mut terminal, "Value of the ", "prepare/job/prove-dead");
    terminal.answer("Value of the ", "0.00 V");
    terminal.expect_question("What is done about it?");
    let screen = terminal.screen();
    assert!(screen.contains("UNDECIDED") && terminal.said("lowest range"), "{screen}");
    assert!(!screen.contains("explain why"), "{screen}");
    terminal.choose("What is done about it?", "Measure again");
    terminal.answer("Value of the ", "0.3 mV");
    terminal.asked();
    assert_ne!(terminal.step(), "prepare/job/prove-dead");
}

#[test]
fn a_hold_point_is_released_with_a_second_key() {
    let bench = Bench::one_lamp();
    let seed = ssh_key::private::Ed25519Keypair::from_seed(&[5; 32]);
    ssh_key::PrivateKey::from(seed).write_openssh_file(&bench.path("jo"), ssh_key::LineEnding::LF).unwrap();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    person.walk_to(&mut terminal, "Released by", "survey/job/design-closed");
    let release = |terminal: &mut Terminal, key: &str| {
        terminal.answer("Released by", "Jo Birch");
        terminal.answer("What was checked, and what was seen", "every finding of the check was read");
        terminal.answer("Key file that signs the release (Enter: none)", key);
    };
    release(&mut terminal, "nobody-has-it");
    terminal.expect_question("Released by");
    assert!(terminal.said("could not read nobody-has-it"), "{}", terminal.screen());
    release(&mut terminal, "jo");
    person.walk_to_the_end(&mut terminal);
    assert_eq!(sign(&mut terminal), 0);
    let (_, findings) = bench.verify_json();
    assert_eq!(findings["released_by"][0]["by"], "Jo Birch", "{findings}");
    assert_ne!(findings["released_by"][0]["key"], findings["signed_by"][0]["key"]);
}

#[test]
fn a_job_of_three_days_with_a_power_cut_in_each_ends_whole() {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, &[], &[]);
    let days = [
        ("Reading in ", "baseline/job/rest-voltage"),
        ("Value of the ", "fuse/F1/distance"),
        ("Reading in ", "test/lamp/ground-drop"),
    ];
    for (question, step) in days {
        person.walk_to(&mut terminal, question, step);
        let saved = bench.events().len();
        terminal.kill();
        terminal = Terminal::start_again(&bench, WALK);
        terminal.expect_question(question);
        assert_eq!((terminal.step().as_str(), bench.events().len()), (step, saved));
    }
    person.walk_to_the_end(&mut terminal);
    assert_eq!(sign(&mut terminal), 0);
    bench.verify().expect(0);
}

/// Every escape sequence that sets a colour.
fn colours(written: &str) -> Vec<String> {
    let sequences = written.split("\x1b[").skip(1).filter_map(|rest| {
        let end = rest.find(|c: char| !c.is_ascii_digit() && c != ';')?;
        rest[end..].starts_with('m').then(|| rest[..end].to_owned())
    });
    let colour = |code: &str| code.parse().is_ok_and(|code: u32| matches!(code, 30..=49 | 90..=107));
    sequences.filter(|codes| codes.split(';').any(colour)).collect()
}

/// Walks through hazards, readings that conform and one that does not, to the signature.
fn written_on_a_walk(arguments: &[&str], surroundings: &[(&str, &str)]) -> String {
    let bench = Bench::one_lamp();
    let (mut terminal, mut person) = open_on_one_lamp(&bench, arguments, surroundings);
    person.walk_to(&mut terminal, "Reading in ", "test/lamp/ground-drop");
    terminal.answer("Reading in ", "1.31 V");
    if arguments.contains(&"--plain") {
        // Plain lists are numbered lines, and a number answers them.
        assert_eq!(word(&mut terminal, "What is done about it? 1 to 5", "9"), "What is done about it? 1 to 5");
        terminal.answer("What is done about it? 1 to 5", "1");
        person.walk_to_the_end(&mut terminal);
        terminal.yes("sign now?");
        terminal.answer(STATEMENT, "");
        terminal.answer("Which key signs? 1 to 2", "1");
        assert_eq!(terminal.ended(), 0);
    } else {
        terminal.choose("What is done about it?", "Measure again");
        person.walk_to_the_end(&mut terminal);
        assert_eq!(sign(&mut terminal), 0);
    }
    bench.verify().expect(0);
    let text = terminal.text();
    for word in ["DANGER", "conforms", "DOES NOT CONFORM", "expect:"] {
        assert!(text.contains(word), "{word} was not shown");
    }
    terminal.written()
}

#[test]
fn a_walk_in_colour_shows_colours() {
    assert!(!colours(&written_on_a_walk(&[], &[])).is_empty());
}

#[test]
fn no_color_keeps_every_colour_away() {
    assert_eq!(colours(&written_on_a_walk(&[], &[("NO_COLOR", "1")])), Vec::<String>::new());
}

#[test]
fn plain_keeps_every_colour_away() {
    assert_eq!(colours(&written_on_a_walk(&["--plain"], &[])), Vec::<String>::new());
}

#[test]
fn plain_draws_no_bars() {
    let written = written_on_a_walk(&["--plain"], &[]);
    assert!(!written.contains(['█', '▌', '░']) && written.contains("steps closed"));
}
