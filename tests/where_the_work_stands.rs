//! The program called alone, the settings, the completions and the manual.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::terminal::Terminal;
use common::{Answers, Bench};

fn settings_file(bench: &Bench) -> std::path::PathBuf {
    bench.path("home/.config/rigproof/settings.toml")
}

#[test]
fn called_alone_the_program_says_what_comes_next() {
    let bench = Bench::tiny();
    let job = std::fs::read_to_string(bench.path("job.toml")).unwrap();
    let alone = || {
        let ended = bench.run(&[]);
        ended.expect(0);
        assert!(ended.out.lines().all(|line| line.chars().count() <= 80), "{}", ended.out);
        ended.out
    };
    let designed = alone();
    assert!(designed.contains("designed, not begun") && designed.contains("rigproof walk job.toml"), "{designed}");

    std::fs::write(bench.path("job.toml"), "format = 2\n").unwrap();
    assert!(alone().contains("cannot be read as a job"));
    std::fs::write(bench.path("job.toml"), job.replace("5 A", "40 A")).unwrap();
    assert!(alone().contains("errors of the design are open"));
    std::fs::write(bench.path("job.toml"), &job).unwrap();

    let whole = std::fs::read_to_string(bench.path("answers.toml")).unwrap();
    let cut = whole.lines().filter(|line| !line.contains("ground-drop")).collect::<Vec<_>>().join("\n");
    std::fs::write(bench.path("answers.toml"), cut).unwrap();
    bench.walk().expect(2);
    let begun = alone();
    assert!(begun.contains("steps closed") && begun.contains("goes on"), "{begun}");
    std::fs::write(bench.path("answers.toml"), whole).unwrap();
    bench.walk().expect(0);
    let signed = alone();
    assert!(signed.contains("signed by") && signed.contains("rigproof verify record"), "{signed}");
}

#[test]
fn in_an_empty_folder_it_names_the_command_that_begins_and_above_jobs_it_lists_them() {
    let bench = Bench::new("", &Answers::demo());
    std::fs::remove_file(bench.path("job.toml")).unwrap();
    let empty = bench.run(&[]);
    assert!(empty.expect(0).out.contains("rigproof new"), "{}", empty.out);
    std::fs::write(bench.path("lamp.toml"), "format = 1\nlabel = \"18 W\"\n").unwrap();
    bench.run(&["new", "lamp", "--brief", "lamp.toml"]).expect(0);
    bench.run(&["new", "second", "--brief", "lamp.toml"]).expect(0);
    let listed = bench.run(&[]);
    for words in ["lamp: Lamp: designed", "second: Lamp: designed", "rigproof walk second/job.toml"] {
        assert!(listed.out.contains(words), "{words}:\n{}", listed.out);
    }
}

#[test]
fn settings_are_begun_once_and_a_slip_in_them_is_shown_where_it_stands() {
    let bench = Bench::tiny();
    bench.run(&["settings", "--write"]).expect(0);
    let begun = std::fs::read_to_string(settings_file(&bench)).unwrap();
    assert!(begun.contains("# name = ") && begun.starts_with("format = 1"), "{begun}");
    bench.run(&["settings", "--write"]).expect(2);
    // Every line of it is a remark, so nothing holds yet.
    assert!(bench.run(&["settings"]).out.contains("name        not set"));
    std::fs::write(settings_file(&bench), "format = 1\nnmae = \"Robin\"\npaper = \"a5\"\n").unwrap();
    let wrong = bench.walk();
    wrong.expect(2);
    assert!(wrong.err.contains("did you mean `name`") && wrong.err.contains("settings.toml:3"), "{}", wrong.err);
    // What does not need them is not stopped by them.
    bench.run(&["check", "job.toml"]).expect(0);
}

#[test]
fn the_person_of_the_settings_is_offered_and_asked_all_the_same() {
    let bench = Bench::tiny();
    std::fs::create_dir_all(settings_file(&bench).parent().unwrap()).unwrap();
    let text = "format = 1\nname = \"Robin Alder\"\nrole = \"installer\"\nprocedures = \"../../../procedures\"\n";
    std::fs::write(settings_file(&bench), text).unwrap();
    let mut terminal = Terminal::start(&bench, &["walk", "job.toml"], &[]);
    terminal
        .until("the name is offered", |t| t.screen().contains("Who works? Name") && t.screen().contains("Robin Alder"));
    assert!(!bench.record().exists() || bench.events_of("on-duty").is_empty());
    terminal.line("");
    terminal.until("the role is offered", |t| t.screen().contains("Role") && t.screen().contains("installer"));
    terminal.line("");
    terminal.until("the walk goes on", |t| t.screen().contains("Read and understood?"));
    let person = &bench.events_of("on-duty")[0];
    assert_eq!((person["name"].as_str(), person["role"].as_str()), (Some("Robin Alder"), Some("installer")));
    terminal.kill();
}

#[test]
fn completions_and_manual_know_every_command() {
    let bench = Bench::tiny();
    let help = bench.run(&["--help"]).out;
    let script = bench.run(&["completions", "bash"]);
    script.expect(0);
    bench.run(&["manual", "--out", "man"]).expect(0);
    for command in ["new", "check", "walk", "verify", "report", "settings"] {
        assert!(help.contains(command) && script.out.contains(&format!("rigproof,{command})")), "{command}");
        let page = std::fs::read_to_string(bench.path(&format!("man/rigproof-{command}.1"))).unwrap();
        assert!(page.contains("Examples"), "{command}");
    }
}
