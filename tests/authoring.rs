//! The chapter on writing procedures says what the program does.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use std::path::{Path, PathBuf};

use common::{Bench, by_hand};
use rigproof::job::ItemKind;
use rigproof::plan::Plan;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

fn chapter() -> String {
    std::fs::read_to_string(root().join("procedures/README.md")).unwrap()
}

fn example() -> String {
    let chapter = chapter();
    let block = chapter.split("```toml\n").nth(1).unwrap();
    block.split("```").next().unwrap().to_owned()
}

#[test]
fn the_worked_example_is_checked_and_reads_as_the_chapter_says() {
    let bench = Bench::demo();
    std::fs::create_dir(bench.path("own")).unwrap();
    std::fs::write(bench.path("own/strain-relief.toml"), example()).unwrap();
    let checked = bench.run(&["procedures", "check", "own/strain-relief.toml", "--job", "job.toml"]);
    checked.expect(0);
    assert!(checked.out.contains("1 procedure read and checked"), "{}", checked.out);
    let shown = bench.run(&["procedures", "show", "strain-relief", "--job", "job.toml", "--procedures", "own"]);
    shown.expect(0);
    for words in ["Relieve connector X1 of pull", "at least 20", "3 readings", "supplies: Ties", "parts:    none"] {
        assert!(shown.out.contains(words), "{words}: {}", shown.out);
    }
}

#[test]
fn a_mistake_in_the_worked_example_is_found_where_it_stands() {
    let bench = Bench::demo();
    let broken = example().replace("{{ item }} of pull", "{{ itm }} of pull");
    std::fs::write(bench.path("strain-relief.toml"), broken).unwrap();
    let checked = bench.run(&["procedures", "check", "strain-relief.toml", "--job", "job.toml"]);
    checked.expect(2);
    assert!(checked.err.contains("strain-relief.toml:3:"), "{}", checked.err);
}

#[test]
fn the_chapter_names_every_field_of_every_kind_of_thing() {
    let chapter = chapter();
    let job = by_hand::job(&std::fs::read_to_string(root().join("src/job/every-key.toml")).unwrap());
    let mut missing = Vec::new();
    for (word, kind) in ItemKind::WORDS {
        let of_lot = job.members(*kind, "crimps");
        let item = job.names(*kind).first().map_or_else(|| of_lot[0].clone(), |name| (*name).to_owned());
        let mut fields = Plan::fields(&job, *kind, &item);
        fields.sort();
        let listed: Vec<String> = fields.iter().map(|field| format!("`{field}`")).collect();
        let line = format!("| {word} | {} |", listed.join(" "));
        if !chapter.contains(&line) {
            missing.push(line);
        }
    }
    assert!(missing.is_empty(), "the chapter lacks\n{}", missing.join("\n"));
}

#[test]
fn the_chapter_names_every_key_of_a_procedure() {
    let chapter = chapter();
    let printed = Bench::demo().run(&["schema", "procedure"]);
    let schema: serde_json::Value = serde_json::from_str(&printed.out).unwrap();
    let head = schema["properties"].as_object().unwrap();
    let step = schema["properties"]["step"]["items"]["properties"].as_object().unwrap();
    for key in head.keys().chain(step.keys()).filter(|key| *key != "step") {
        let named = ["`", "[", "`[["].iter().any(|before| chapter.contains(&format!("{before}{key}")));
        assert!(named, "the chapter does not name `{key}`");
    }
}
