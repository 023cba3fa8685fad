//! From an empty folder to a checked job, and from there to a signed report.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::terminal::Terminal;
use common::{Answers, Bench, by_hand, small_job};
use proptest::prelude::*;
use rigproof::brief::{Asking, Brief, Proposal, Unfit};
use rigproof::design;
use rigproof::document::Source;

const LAMP: &[(&str, &str)] = &[
    ("label", "18 W"),
    ("name", "reversing lamp"),
    ("vehicle", "small parcel van"),
    ("place", "left rear, below the door"),
    ("switch way", "1,9"),
    ("way", "4.1 m"),
    ("level", "essential"),
];
const PUMP: &[(&str, &str)] = &[
    ("what", "motor"),
    ("label", "7 A"),
    ("vehicle", "orchard flatbed"),
    ("switch way", "1.8 m"),
    ("way", "4.2 m"),
    ("level", "2"),
];
const FRIDGE: &[(&str, &str)] = &[
    ("what", "4"),
    ("label", "55 W"),
    ("vehicle", "market-stall van"),
    ("load place", "cabin"),
    ("switch way", "2 m"),
    ("way", "6.5 m"),
    ("return", "wire"),
    ("level", "essential"),
];

/// An empty folder.
fn empty() -> Bench {
    let bench = Bench::new("", &Answers::demo());
    std::fs::remove_file(bench.path("job.toml")).unwrap();
    bench
}

/// Answers each field by its name, and Enter where there is none, until the job is written.
#[track_caller]
fn answer_all(terminal: &mut Terminal, answers: &[(&str, &str)]) {
    let mut given = Vec::new();
    loop {
        let field = terminal.field();
        if field.starts_with("Enter writes the job") {
            break;
        }
        assert!(given.len() < 40, "the questions do not end: {given:?}\n{}", terminal.screen());
        let text = answers.iter().find(|(name, _)| *name == field).map_or("", |(_, text)| text);
        terminal.line(text);
        given.push(field);
    }
    for (name, _) in answers {
        assert!(given.iter().any(|field| field == name), "{name} was never asked: {given:?}");
    }
}

/// The same answers as a file.
fn brief(answers: &[(&str, &str)]) -> String {
    let lines = answers.iter().map(|(name, text)| format!("{} = \"{text}\"\n", name.replace(' ', "_")));
    format!("format = 1\n{}", lines.collect::<String>())
}

/// In a terminal from an empty folder to a job; by file to the same job; then walked to a signed report.
fn from_nothing_to_a_report(answers: &[(&str, &str)]) -> (Bench, String) {
    let bench = empty();
    let mut terminal = Terminal::start(&bench, &["new"], &[]);
    answer_all(&mut terminal, answers);
    terminal.line("");
    assert_eq!(terminal.ended(), 0);
    let text = std::fs::read_to_string(bench.path("job.toml")).unwrap();
    bench.run(&["check", "job.toml"]).expect(0);

    std::fs::write(bench.path("own.toml"), brief(answers)).unwrap();
    bench.run(&["new", "by-file", "--brief", "own.toml"]).expect(0);
    assert_eq!(std::fs::read_to_string(bench.path("by-file/job.toml")).unwrap(), text);
    // The brief that is kept makes the same job again.
    bench.run(&["new", "again", "--brief", "brief.toml"]).expect(0);
    assert_eq!(std::fs::read_to_string(bench.path("again/job.toml")).unwrap(), text);

    bench.answer_with(&small_job::answers_for(&text, &small_job::library_of_the_program()));
    bench.walk().expect(0);
    bench.verify().expect(0);
    assert!(bench.path("record/report/report.pdf").exists());
    (bench, text)
}

#[test]
fn a_reversing_lamp_comes_from_nothing_to_a_signed_report() {
    let (bench, text) = from_nothing_to_a_report(LAMP);
    let job = by_hand::job(&text);
    assert_eq!((job.relays.len(), job.switches.len(), job.loads.len()), (0, 1, 1));
    assert_eq!(job.loads[0].name, "reversing-lamp");
    // Work that has begun is not changed below the hands of who does it.
    let refused = bench.run(&["new", "--brief", "own.toml"]);
    refused.expect(2);
    assert!(refused.err.contains("has begun"), "{}", refused.err);
}

#[test]
fn a_pump_comes_with_the_relay_that_its_switch_needs() {
    let (_, text) = from_nothing_to_a_report(PUMP);
    let job = by_hand::job(&text);
    // 7 A of a motor ask twice that of a contact, and the usual switch has 10 A.
    assert_eq!((job.relays.len(), job.fuses.len()), (1, 2));
    let (fuse, coil) = (&job.fuses[0], &job.fuses[1]);
    assert!(fuse.rating.as_amps() >= 14.0 && coil.rating.as_amps() <= 3.0);
    let back = job.wires.iter().find(|wire| wire.to.name() == "X1.B.in").unwrap();
    let there = job.wires.iter().find(|wire| wire.to.name() == "X1.A.in").unwrap();
    assert!(back.size.area() >= there.size.area(), "the way back is thinner than the way there");
}

#[test]
fn a_fridge_socket_far_from_the_battery_gets_its_voltage() {
    let (_, text) = from_nothing_to_a_report(FRIDGE);
    let job = by_hand::job(&text);
    assert!(job.loads[0].needs.unwrap().as_volts() >= 11.0);
    let long = job.wires.iter().filter(|wire| wire.length.nominal.as_metres() > 6.0);
    assert!(long.clone().count() >= 2);
    // Ten amperes of fuse would be content with 1.5 mm²; the way asks for more.
    assert!(long.clone().all(|wire| wire.size.area().as_mm2() >= 4.0), "{text}");
}

#[test]
fn who_presses_only_enter_is_told_what_is_missing_and_loses_nothing() {
    let bench = empty();
    let mut terminal = Terminal::start(&bench, &["new", "lamp"], &[]);
    for _ in 0..3 {
        terminal.field();
        terminal.line("");
    }
    assert_eq!(terminal.ended(), 2);
    let text = terminal.text();
    assert!(text.contains("Nothing can be taken for this"), "{text}");
    assert!(text.contains("still missing") && text.contains("label = ..."), "{text}");
    assert!(bench.path("lamp/brief.toml").exists() && !bench.path("lamp/job.toml").exists());
    // With that one answer Enter does the rest.
    let mut terminal = Terminal::start(&bench, &["new", "lamp"], &[]);
    answer_all(&mut terminal, &[("label", "60 W")]);
    terminal.line("");
    assert_eq!(terminal.ended(), 0);
    let job = by_hand::job(&std::fs::read_to_string(bench.path("lamp/job.toml")).unwrap());
    let findings = design::check(&job);
    assert!(findings.iter().all(|f| f.severity == design::Severity::Note), "{findings:#?}");
}

#[test]
fn an_answer_can_be_changed_before_and_after_the_job_is_written() {
    let bench = empty();
    let mut terminal = Terminal::start(&bench, &["new"], &[]);
    assert_eq!(terminal.field(), "what");
    terminal.line("heater");
    assert_eq!(terminal.field(), "label");
    terminal.line("back");
    assert_eq!(terminal.field(), "what");
    answer_all(&mut terminal, &[("what", "bulb-lamp"), ("label", "21 W")]);
    terminal.line("label");
    assert_eq!(terminal.field(), "label");
    terminal.line("42 W");
    assert!(terminal.field().starts_with("Enter writes"));
    terminal.line("");
    assert_eq!(terminal.ended(), 0);
    let first = std::fs::read_to_string(bench.path("job.toml")).unwrap();
    assert!(first.contains("power = \"42 W ± 10 %\"") && first.contains("filament"), "{first}");

    // The same call begins with what was said, and its job may be made anew.
    let brief = std::fs::read_to_string(bench.path("brief.toml")).unwrap();
    std::fs::write(bench.path("changed.toml"), brief.replace("42 W", "21 W")).unwrap();
    bench.run(&["new", "--brief", "changed.toml"]).expect(0);
    assert!(std::fs::read_to_string(bench.path("job.toml")).unwrap().contains("21 W"));

    // A file that somebody worked on is never written over.
    let own = first.replace("title = ", "# my own remark\ntitle = ");
    std::fs::write(bench.path("job.toml"), &own).unwrap();
    let refused = bench.run(&["new", "--brief", "changed.toml"]);
    refused.expect(2);
    assert!(refused.err.contains("is not touched") && refused.err.contains("--add"), "{}", refused.err);
    assert_eq!(std::fs::read_to_string(bench.path("job.toml")).unwrap(), own);
}

#[test]
fn ctrl_c_keeps_what_was_said() {
    let bench = empty();
    let mut terminal = Terminal::start(&bench, &["new", "pump"], &[]);
    terminal.field();
    terminal.line("motor");
    terminal.field();
    terminal.line("7 A");
    terminal.field();
    terminal.ctrl_c();
    assert_eq!(terminal.ended(), 130);
    assert!(terminal.text().contains("rigproof new pump"), "{}", terminal.text());
    let mut terminal = Terminal::start(&bench, &["new", "pump"], &[]);
    // The kind and the label are known.
    assert_eq!(terminal.field(), "name");
    answer_all(&mut terminal, &[]);
    terminal.line("");
    assert_eq!(terminal.ended(), 0);
    assert!(std::fs::read_to_string(bench.path("pump/job.toml")).unwrap().contains("current = \"7 A ± 10 %\""));
}

#[test]
fn a_load_that_is_added_leaves_every_letter_of_the_file_as_it_was() {
    for sample in ["orchard-flatbed", "reversing-lamp", "market-stall-van"] {
        let bench = empty();
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("reports").join(sample).join("job.toml");
        let before = std::fs::read_to_string(path).unwrap();
        std::fs::write(bench.path("job.toml"), &before).unwrap();
        let added = "format = 1\nwhat = \"electronic\"\nlabel = \"15 W\"\nname = \"camera\"\nload_place = \"cabin\"\n";
        std::fs::write(bench.path("camera.toml"), added).unwrap();
        bench.run(&["new", "--add", "--brief", "camera.toml"]).expect(0);
        let after = std::fs::read_to_string(bench.path("job.toml")).unwrap();
        assert!(after.starts_with(before.trim_end()), "{sample}");
        let (old, new) = (by_hand::job(&before), by_hand::job(&after));
        assert_eq!(new.loads.len(), old.loads.len() + 1, "{sample}");
        assert_eq!(new.fuses.len(), old.fuses.len() + 1, "{sample}");
        for wire in &old.wires {
            assert_eq!(new.wire(&wire.name).map(|w| (w.size, w.length)), Some((wire.size, wire.length)), "{sample}");
        }
        bench.run(&["check", "job.toml"]).expect(0);
        assert!(bench.path("brief-camera.toml").exists());
        // The same name again is refused, and nothing is written.
        let refused = bench.run(&["new", "--add", "--brief", "camera.toml"]);
        refused.expect(2);
        assert!(refused.err.contains("name of another part"), "{}", refused.err);
        assert_eq!(std::fs::read_to_string(bench.path("job.toml")).unwrap(), after);
    }
}

#[test]
fn all_slips_of_a_brief_come_at_once_with_their_lines() {
    let bench = empty();
    let slips = "format = 1\nwhat = \"led-lmp\"\nlabel = \"18 V\"\nway = \"70 m\"\nswich = \"10 A\"\nbolt = \"M99\"\n";
    std::fs::write(bench.path("slips.toml"), slips).unwrap();
    let ended = bench.run(&["new", "--brief", "slips.toml"]);
    ended.expect(2);
    for words in
        ["did you mean led-lamp", "neither watts nor amperes", "not within", "`swich`", "no thread", "slips.toml:4"]
    {
        assert!(ended.err.contains(words), "{words}:\n{}", ended.err);
    }
    assert!(!bench.path("job.toml").exists());
    std::fs::write(bench.path("slips.toml"), "format = 1\nwhat = \"motor\"\n").unwrap();
    let ended = bench.run(&["new", "--brief", "slips.toml"]);
    ended.expect(2);
    assert!(ended.err.contains("label = ...") && ended.err.contains("leaflet"), "{}", ended.err);
}

#[test]
fn a_design_that_breaks_a_rule_is_told_and_not_written() {
    let bench = empty();
    let too_thin = "format = 1\nwhat = \"heater\"\nlabel = \"30 A\"\nlead = \"0.5 m, 0.75 mm²\"\n";
    std::fs::write(bench.path("thin.toml"), too_thin).unwrap();
    let ended = bench.run(&["new", "--brief", "thin.toml"]);
    ended.expect(1);
    assert!(ended.out.contains("ERRORS of the design") && ended.out.contains("nothing was written"), "{}", ended.out);
    assert!(ended.out.contains("w5 (0.75 mm²)") || ended.out.contains("0.75 mm²"), "{}", ended.out);
    assert!(!bench.path("job.toml").exists());
    let json = bench.run(&["new", "--brief", "thin.toml", "--json"]);
    json.expect(1);
    let json: serde_json::Value = serde_json::from_str(&json.out).unwrap();
    assert_eq!(json["conforms"], false);
    assert!(json["choices"].as_array().unwrap().len() > 3);
}

const ANY: &[(&str, &[&str])] = &[
    ("what", &["led-lamp", "bulb-lamp", "motor", "fridge-socket", "electronic", "heater"]),
    ("label", &["0.5 W", "18 W", "55 W", "120 W", "900 W", "20 mA", "3 A", "12 A", "40 A", "120 A"]),
    ("count", &["", "1", "2", "5"]),
    ("system", &["", "12 V", "24 V", "6 V", "48 V"]),
    ("battery", &["", "agm", "lithium-iron-phosphate"]),
    ("battery_place", &["", "cabin", "outside"]),
    ("load_place", &["", "cabin", "engine-bay"]),
    ("switched", &["", "always"]),
    ("switch_rating", &["", "2 A", "30 A"]),
    ("relay", &["", "yes", "no"]),
    ("way", &["", "0.3 m", "18 m", "40 m"]),
    ("return", &["", "wire"]),
    ("lead", &["", "none", "2 m, 0.5 mm²", "0.3 m, 10 AWG"]),
    ("bolt", &["", "none", "M8"]),
    ("needs", &["", "4 V"]),
    ("drop", &["", "3 %", "10 %"]),
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Whatever a person answers: a job that reads, and keeps every rule or says which it does not.
    #[test]
    fn whatever_is_answered_the_job_reads_and_says_what_it_keeps(picks in proptest::collection::vec(0usize..100, ANY.len())) {
        let mut brief = Brief::new();
        for ((id, words), pick) in ANY.iter().zip(&picks) {
            // An answer that does not fit the ones before it is refused, and the usual one stands.
            let _ = brief.answer(id, words[pick % words.len()]);
        }
        match Proposal::of(&brief) {
            Ok(proposal) => {
                let job = by_hand::job(&proposal.text);
                prop_assert_eq!(design::conforms(&design::check(&job)), proposal.conforms());
                prop_assert!(!proposal.choices.is_empty());
                let source = Source::new("brief.toml", brief.text());
                let again = Brief::read(&source, None).unwrap_or_else(|problems| panic!("{problems}"));
                prop_assert_eq!(Proposal::of(&again).unwrap().text, proposal.text);
            }
            Err(Unfit::Missing(questions)) => prop_assert!(questions.iter().any(|q| q.id == "label")),
            Err(Unfit::Unreadable(problems)) => panic!("{problems}"),
        }
    }
}
