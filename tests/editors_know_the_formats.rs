//! The JSON Schemas that editors are given: they take every file that the program takes, and refuse what it refuses.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use std::path::{Path, PathBuf};

use common::Bench;
use jsonschema::Validator;
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::procedure::Library;
use serde_json::Value;

/// The schema of a kind of file, as the program prints it.
fn schema(kind: &str) -> Validator {
    let printed = Bench::demo().run(&["schema", kind]);
    printed.expect(0);
    let schema: Value = serde_json::from_str(&printed.out).unwrap();
    jsonschema::draft202012::meta::validate(&schema).unwrap_or_else(|error| panic!("{error}"));
    jsonschema::validator_for(&schema).unwrap_or_else(|error| panic!("{error}"))
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

fn toml_file(path: &Path) -> Value {
    let text = std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    serde_json::to_value(toml::from_str::<toml::Table>(&text).unwrap()).unwrap()
}

#[track_caller]
fn takes(schema: &Validator, path: &Path) {
    let file = toml_file(path);
    let problems: Vec<String> =
        schema.iter_errors(&file).map(|error| format!("{}: {error}", error.instance_path())).collect();
    assert!(problems.is_empty(), "{}: {problems:#?}", path.display());
}

/// The folders of the sample jobs.
fn samples() -> Vec<PathBuf> {
    let folders = std::fs::read_dir(root().join("reports")).unwrap().map(|entry| entry.unwrap().path());
    let folders: Vec<PathBuf> = folders.filter(|path| path.join("job.toml").exists()).collect();
    assert!(!folders.is_empty());
    folders
}

#[test]
fn the_schema_of_a_job_takes_every_sample_job() {
    let schema = schema("job");
    for folder in samples() {
        takes(&schema, &folder.join("job.toml"));
    }
    takes(&schema, &root().join("src/job/every-key.toml"));
}

#[test]
fn the_schema_of_a_procedure_takes_the_whole_library() {
    let (procedure, hazards) = (schema("procedure"), schema("hazards"));
    let mut count = 0;
    for entry in std::fs::read_dir(root().join("procedures")).unwrap() {
        let path = entry.unwrap().path();
        match path.file_name().and_then(|name| name.to_str()) {
            Some("hazards.toml") => takes(&hazards, &path),
            Some(name) if name.strip_suffix(".toml").is_some() => {
                takes(&procedure, &path);
                count += 1;
            }
            _ => {}
        }
    }
    assert!(count > 15, "{count} procedures");
    takes(&procedure, &root().join("src/procedure/every-key.toml"));
}

#[test]
fn the_schemas_of_a_brief_of_settings_of_a_shop_and_of_a_kit_take_their_samples_and_refuse_a_key_that_does_not_exist() {
    let kinds = [
        ("brief", "src/brief/every-wish.toml"),
        ("settings", "src/cli/every-setting.toml"),
        ("shop", "src/shop/every-key.toml"),
        ("kit", "src/kit/every-key.toml"),
    ];
    for (kind, sample) in kinds {
        let schema = schema(kind);
        takes(&schema, &root().join(sample));
        let mut file = toml_file(&root().join(sample));
        file["nmae"] = "Robin".into();
        assert!(!schema.is_valid(&file), "{kind}");
    }
}

#[test]
fn the_schema_of_answers_takes_every_sample_file_of_answers() {
    let schema = schema("answers");
    let files: Vec<PathBuf> =
        samples().iter().map(|folder| folder.join("answers.toml")).filter(|file| file.exists()).collect();
    assert!(!files.is_empty());
    for file in files {
        takes(&schema, &file);
    }
}

type Change = fn(&mut Value);

#[test]
fn the_schemas_refuse_what_the_readers_refuse() {
    let job = schema("job");
    let good = toml_file(&root().join("reports/orchard-flatbed/job.toml"));
    let changes: [(&str, Change); 6] = [
        ("an unknown key", |job| job["battery"]["colour"] = "red".into()),
        ("an unknown word", |job| job["battery"]["kind"] = "flodded".into()),
        ("a number without a unit", |job| job["battery"]["rest_voltage"] = 12.6.into()),
        ("a missing title", |job| drop(job.as_object_mut().unwrap().remove("title"))),
        ("a missing length", |job| {
            drop(job["wire"]["w1"].as_object_mut().unwrap().remove("length"));
        }),
        ("a format of the future", |job| job["format"] = 2.into()),
    ];
    assert!(job.is_valid(&good));
    for (what, change) in changes {
        let mut broken = good.clone();
        change(&mut broken);
        assert!(!job.is_valid(&broken), "{what} passes the schema");
        let text = toml::to_string(&broken).unwrap();
        assert!(Job::read(&Source::new("job.toml", text)).is_err(), "{what} passes the reader");
    }
}

#[test]
fn the_samples_with_every_key_read_without_a_problem() {
    let read = |path: &str| std::fs::read_to_string(root().join(path)).unwrap();
    if let Err(problems) = Job::read(&Source::new("every-key.toml", read("src/job/every-key.toml"))) {
        panic!("{problems}");
    }
    let mut sources = Library::embedded_sources();
    sources.push(Source::new("every-key.toml", read("src/procedure/every-key.toml")));
    if let Err(problems) = Library::read(sources) {
        panic!("{problems}");
    }
}
