//! `rigproof materials`: the lists of the three sample jobs add up, and say the same in every form.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use common::PROGRAM;
use serde_json::Value;
use tempfile::TempDir;

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reports").join(name).join("job.toml")
}

fn samples() -> Vec<PathBuf> {
    ["orchard-flatbed", "market-stall-van", "reversing-lamp"].map(sample).to_vec()
}

/// Runs the program without the settings of whoever runs the tests.
fn run(job: &Path, arguments: &[&str]) -> Output {
    let home = TempDir::new().unwrap();
    run_at(home.path(), job, arguments)
}

fn run_at(home: &Path, job: &Path, arguments: &[&str]) -> Output {
    let mut program = Command::new(PROGRAM);
    program.env("HOME", home).env("XDG_CONFIG_HOME", home.join(".config"));
    program.arg("materials").arg(job).args(arguments).output().unwrap()
}

fn printed(job: &Path, arguments: &[&str]) -> String {
    let output = run(job, arguments);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn json(job: &Path) -> Value {
    serde_json::from_str(&printed(job, &["--json"])).unwrap()
}

fn rows<'v>(value: &'v Value, list: &str) -> &'v Vec<Value> {
    value[list].as_array().unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_else(|| panic!("{value} is no text"))
}

/// The rows of a list as its table has them, by the names of the columns.
fn table(job: &Path, list: &str) -> Vec<BTreeMap<String, String>> {
    let bytes = printed(job, &["--list", list, "--csv"]);
    assert!(bytes.ends_with("\r\n"), "RFC 4180 ends a line in CR LF");
    csv::Reader::from_reader(bytes.as_bytes()).deserialize().map(Result::unwrap).collect()
}

/// Names of the wires and cores that a job file has, read without this program.
fn wires_of(job: &Path) -> BTreeSet<String> {
    let file: toml::Table = toml::from_str(&std::fs::read_to_string(job).unwrap()).unwrap();
    let mut names: BTreeSet<String> = file["wire"].as_table().unwrap().keys().cloned().collect();
    for (cable, keys) in file.get("cable").and_then(toml::Value::as_table).into_iter().flatten() {
        let cores = keys["cores"].as_array().unwrap();
        names.extend(cores.iter().map(|core| format!("{cable}.{}", core["colour"].as_str().unwrap())));
    }
    names
}

#[test]
fn the_wire_on_the_shopping_list_is_the_sum_of_the_cuts() {
    for job in samples() {
        let all = json(&job);
        let cuts = rows(&all, "cuts");
        let wire = rows(&all, "shopping").iter().filter(|row| row["group"] == "wire");
        let mut counted = 0;
        for row in wire {
            let names: Vec<&str> = rows(row, "used_for").iter().map(text).collect();
            let pieces: Vec<&Value> = cuts.iter().filter(|cut| names.contains(&text(&cut["name"]))).collect();
            let sum: f64 = pieces.iter().map(|cut| number(&cut["cut_m"])).sum();
            assert_eq!(pieces.len(), names.len());
            assert!((number(&row["amount"]["need"]) - sum).abs() < 1e-9, "{}", row["item"]);
            let reels: BTreeSet<(&str, &str)> =
                pieces.iter().map(|cut| (text(&cut["size"]), text(&cut["colour"]))).collect();
            assert_eq!(reels.len(), 1, "one size and colour in {}", row["item"]);
            let (size, colour) = reels.into_iter().next().unwrap();
            assert!(text(&row["item"]).contains(size) && text(&row["item"]).contains(colour), "{}", row["item"]);
            let buy = sum + number(&row["amount"]["spare"]);
            assert!(buy >= 1.1 * sum - 1e-9 && buy < 1.1 * sum + 0.1, "{buy} for {sum}");
            counted += pieces.len();
        }
        assert_eq!(counted, cuts.len(), "every piece is bought, and once");
    }
}

#[test]
fn a_cut_is_the_sum_of_its_terms_and_no_shorter_than_its_way() {
    for job in samples() {
        for cut in rows(&json(&job), "cuts") {
            let terms = rows(cut, "terms");
            let sum: f64 = terms.iter().map(|term| number(&term["length_m"])).sum();
            let length = number(&cut["cut_m"]);
            assert!((sum - length).abs() < 1e-9, "{cut}");
            assert!((length * 100.0 - (length * 100.0).round()).abs() < 1e-6, "whole steps of 10 mm: {length}");
            assert!(number(&cut["fitted_m"]) >= number(&terms[0]["length_m"]) - 1e-12);
            assert!(length > number(&cut["fitted_m"]));
            assert!(terms.iter().all(|term| number(&term["length_m"]) > 0.0 && text(&term["source"]).len() > 5));
        }
    }
}

#[test]
fn a_reel_is_cut_in_sequence_the_longest_piece_first() {
    for job in samples() {
        let all = json(&job);
        let mut seen: Vec<String> = Vec::new();
        let mut last = f64::INFINITY;
        for cut in rows(&all, "cuts") {
            let reel = format!("{} {} {} {}", cut["cable"], cut["size"], cut["colour"], cut["insulation_celsius"]);
            if seen.last() != Some(&reel) {
                assert!(!seen.contains(&reel), "{reel} is taken up twice");
                seen.push(reel);
                last = f64::INFINITY;
            }
            assert!(number(&cut["cut_m"]) <= last + 1e-12);
            last = number(&cut["cut_m"]);
        }
        assert!(seen.len() > 1);
    }
}

#[test]
fn a_stub_before_a_fuse_has_no_slack_and_stays_within_its_limit() {
    // 33 CFR 183.455: 178 mm along the wire.
    let all = json(&sample("orchard-flatbed"));
    let stubs: Vec<&Value> =
        rows(&all, "cuts").iter().filter(|cut| ["w1", "w2"].contains(&text(&cut["name"]))).collect();
    assert_eq!(stubs.len(), 2);
    for stub in stubs {
        assert!((number(&stub["fitted_m"]) - 0.15).abs() < 1e-12, "{stub}");
        assert!(rows(stub, "terms").iter().all(|term| !text(&term["what"]).contains("loop")));
        assert!(text(&rows(stub, "notes")[0]).contains("no slack"));
    }
    let other = rows(&all, "cuts").iter().find(|cut| cut["name"] == "w3").unwrap();
    assert!(number(&other["fitted_m"]) > 0.4, "other wires have it");
}

#[test]
fn every_end_stands_once_among_ends_and_labels() {
    for job in samples() {
        let all = json(&job);
        let wanted: BTreeSet<(String, String)> = wires_of(&job)
            .into_iter()
            .flat_map(|name| [(name.clone(), "from".to_owned()), (name, "to".to_owned())])
            .collect();
        for list in ["ends", "labels"] {
            let found: Vec<(String, String)> = rows(&all, list)
                .iter()
                .map(|row| (text(&row["wire"]).to_owned(), text(&row["side"]).to_owned()))
                .collect();
            assert_eq!(found.len(), wanted.len(), "{list}");
            assert_eq!(found.into_iter().collect::<BTreeSet<_>>(), wanted, "{list}");
        }
        let sleeves = rows(&all, "shopping").iter().find(|row| row["item"] == "label sleeve").unwrap();
        assert_eq!(sleeves["amount"]["need"], wanted.len());
    }
}

#[test]
fn every_cavity_of_a_sealed_connector_is_filled() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("job.toml");
    let demo = std::fs::read_to_string(sample("orchard-flatbed")).unwrap();
    let wider = demo.replacen("cavities = [\"A\", \"B\"]", "cavities = [\"A\", \"B\", \"C\"]", 1);
    assert_ne!(demo, wider);
    std::fs::write(&file, wider).unwrap();
    let all = json(&file);
    let need = |item: &str| {
        let row = rows(&all, "shopping").iter().find(|row| text(&row["item"]).starts_with(item));
        number(&row.unwrap_or_else(|| panic!("{item}"))["amount"]["need"])
    };
    assert!((need("cavity seal") - 4.0).abs() < 1e-9);
    assert!((need("cavity plug") - 2.0).abs() < 1e-9, "one in each half");
    assert!((need("socket contact") - 2.0).abs() < 1e-9 && (need("pin contact") - 2.0).abs() < 1e-9);
}

#[test]
fn a_fuse_has_a_spare_of_its_rating_and_wires_in_one_barrel_one_terminal() {
    let all = json(&sample("market-stall-van"));
    let row = |item: &str| {
        let found = rows(&all, "shopping").iter().find(|row| text(&row["item"]).starts_with(item));
        found.unwrap_or_else(|| panic!("{item}"))["amount"].clone()
    };
    let fuses = row("blade fuse 7.5 A");
    assert_eq!((&fuses["need"], &fuses["spare"]), (&Value::from(2), &Value::from(1)), "one spare for both");
    let shared = row("female terminal of the holder for a blade fuse, for 2 wires, 3.00 mm² together");
    assert_eq!(shared["need"], 1);
    let ends: Vec<&Value> = rows(&all, "ends").iter().filter(|end| end["at"] == "F5.out").collect();
    assert_eq!(ends.len(), 2);
    for end in ends {
        assert!((number(&end["terminal"]["barrel_mm2"]) - 3.0).abs() < 1e-9);
    }
}

#[test]
fn tables_are_read_back_and_say_what_the_json_says() {
    for job in samples() {
        let all = json(&job);
        for (list, key, other) in [("cuts", "piece", "name"), ("ends", "wire", "wire"), ("labels", "text", "text")] {
            let rows_of_table = table(&job, list);
            let objects = rows(&all, list);
            assert_eq!(rows_of_table.len(), objects.len(), "{list}");
            for (row, object) in rows_of_table.iter().zip(objects) {
                assert_eq!(row[key], text(&object[other]), "{list}");
            }
        }
        for (row, object) in table(&job, "cuts").iter().zip(rows(&all, "cuts")) {
            assert!((row["cut_m"].parse::<f64>().unwrap() - number(&object["cut_m"])).abs() < 1e-9);
            assert_eq!(row["measured_m"], "", "left to the person");
        }
        for (row, object) in table(&job, "ends").iter().zip(rows(&all, "ends")) {
            let pull = row["pull_newtons"].parse::<f64>().unwrap();
            assert!((pull - number(&object["pull_newtons"]["value"])).abs() < 1e-9);
        }
        assert_eq!(table(&job, "shopping").len(), rows(&all, "shopping").len());
        assert_eq!(table(&job, "hardware").len(), rows(&all, "bolts").len() + rows(&all, "runs").len());
    }
}

#[test]
fn the_text_has_the_numbers_of_the_json_within_eighty_columns() {
    for job in samples() {
        let words = printed(&job, &[]);
        assert!(words.lines().all(|line| line.chars().count() <= 80), "{words}");
        let all = json(&job);
        for cut in rows(&all, "cuts") {
            let millimetres = (number(&cut["cut_m"]) * 1000.0).round();
            assert!(words.contains(&format!("{millimetres} mm  {}", text(&cut["name"]))), "{cut}");
        }
        for row in rows(&all, "shopping").iter().filter(|row| row["amount"]["unit"] == "metres") {
            let need = format!("{:.2} m", number(&row["amount"]["need"]));
            assert!(words.lines().any(|line| line.trim_start().starts_with(&need)), "{need}");
        }
        for run in rows(&all, "runs") {
            let clamps = format!("  clamps  {} of bore", number(&run["clamps"]));
            assert!(words.contains(&clamps), "{clamps}");
        }
        for label in rows(&all, "labels") {
            assert!(words.contains(text(&label["text"])));
        }
    }
}

#[test]
fn a_list_alone_is_that_list() {
    let job = sample("reversing-lamp");
    let cuts = printed(&job, &["--list", "cuts"]);
    assert!(cuts.contains("CUT LIST") && !cuts.contains("SHOPPING LIST") && !cuts.contains("LABELS"));
    assert!(cuts.contains("Measure the real way"));
    let wrong = run(&job, &["--csv"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&wrong.stderr).contains("--list"));
}

#[test]
fn labels_fit_their_sleeve_and_name_both_ends_where_they_can() {
    for job in samples() {
        for label in rows(&json(&job), "labels") {
            let words = text(&label["text"]);
            assert!(words.chars().count() <= 36, "{words}");
            assert!(words.starts_with(text(&label["wire"])), "{words}");
            assert!(words.contains(" > "), "{words}");
        }
    }
}

#[test]
fn names_that_do_not_fit_and_formulas_do_no_harm() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("job.toml");
    let long = "a".repeat(60);
    let demo = std::fs::read_to_string(sample("reversing-lamp")).unwrap();
    let hostile = demo
        .replacen("[wire.w3]", &format!("[wire.{long}]"), 1)
        .replacen("zone = \"cabin\"", "zone = \"=HYPERLINK(1)\"", 1)
        .replacen("colour = \"red\"", "colour = \"@red\"", 1);
    std::fs::write(&file, hostile).unwrap();
    let labels = table(&file, "labels");
    let cut_off: Vec<&String> = labels.iter().map(|row| &row["text"]).filter(|text| text.ends_with('…')).collect();
    assert_eq!(cut_off.len(), 2);
    assert!(cut_off.iter().all(|text| text.chars().count() <= 36));
    assert!(labels.iter().any(|row| row["colour"] == "'@red"));
    let cuts = table(&file, "cuts");
    assert!(cuts.iter().any(|row| row["zone"] == "'=HYPERLINK(1)"));
    for list in ["shopping", "cuts", "ends", "hardware", "labels"] {
        for row in table(&file, list) {
            assert!(row.values().all(|cell| !cell.starts_with(['=', '@', '+'])), "{row:?}");
        }
    }
}

#[test]
fn slack_that_breaks_a_rule_is_said_before_anything_is_cut() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("job.toml");
    let demo = std::fs::read_to_string(sample("orchard-flatbed")).unwrap();
    let remarks = |job: &Path| -> Vec<String> {
        rows(&json(job), "remarks").iter().map(|row| text(&row["says"]).to_owned()).collect()
    };
    assert!(!remarks(&sample("orchard-flatbed")).iter().any(|says| says.contains("slack")));
    // The least voltage of the pump is put where the way by the job just keeps it, and 0.2 m more do not.
    let found = (0..400).map(|step| 11.0 + f64::from(step) * 0.005).find(|volts| {
        let text = demo.replacen("needs = \"10.8 V\"", &format!("needs = \"{volts:.3} V\""), 1);
        std::fs::write(&file, text).unwrap();
        let job = rigproof::job::Job::read(&rigproof::document::Source::new(
            "job.toml",
            std::fs::read_to_string(&file).unwrap(),
        ))
        .unwrap();
        let materials = rigproof::materials::Materials::of(&job);
        materials.remarks.iter().any(|remark| remark.says.contains("slack"))
    });
    assert!(found.is_some(), "no least voltage lies between the two lengths");
    assert!(remarks(&file).iter().any(|says| says.contains("with the slack of the cut list")));
}

#[test]
fn all_forms_are_written_and_are_the_same_each_time() {
    let folder = TempDir::new().unwrap();
    let names = ["materials.html", "materials.pdf", "materials.json", "shopping.csv", "cuts.csv", "ends.csv"];
    let written = |name: &str| {
        let out = folder.path().join(name);
        printed(&sample("reversing-lamp"), &["--out", out.to_str().unwrap(), "--paper", "letter"]);
        names.map(|name| std::fs::read(out.join(name)).unwrap())
    };
    let first = written("one");
    assert_eq!(first, written("two"));
    assert!(first[1].starts_with(b"%PDF-"));
    let page = String::from_utf8(first[0].clone()).unwrap();
    assert!(page.contains("Reversing work lamp") && page.contains("size: letter"));
    for label in rows(&json(&sample("reversing-lamp")), "labels") {
        let words = text(&label["text"]).replace('>', "&gt;");
        assert!(page.contains(&words), "{words}");
    }
    let json_file: Value = serde_json::from_slice(&first[2]).unwrap();
    assert_eq!(json_file, json(&sample("reversing-lamp")));
}

#[test]
fn the_paper_is_that_of_the_call_then_of_the_settings_then_a4() {
    let home = TempDir::new().unwrap();
    let paper = |arguments: &[&str]| {
        let out = home.path().join("lists");
        let mut all = vec!["--out", out.to_str().unwrap()];
        all.extend(arguments);
        assert!(run_at(home.path(), &sample("reversing-lamp"), &all).status.success());
        let page = std::fs::read_to_string(out.join("materials.html")).unwrap();
        page.split("@page { size: ").nth(1).unwrap().split(';').next().unwrap().to_owned()
    };
    assert_eq!(paper(&[]), "A4");
    let settings = home.path().join(".config/rigproof");
    std::fs::create_dir_all(&settings).unwrap();
    std::fs::write(settings.join("settings.toml"), "format = 1\npaper = \"letter\"\n").unwrap();
    assert_eq!(paper(&[]), "letter");
    assert_eq!(paper(&["--paper", "a4"]), "A4");
}

#[test]
fn a_job_without_wires_has_empty_lists_and_does_no_harm() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("job.toml");
    let job = "format = 1\ntitle = \"odd \\u202E name\"\n[vehicle]\ndescription = \"v\"\nsystem = \"12 V\"\n";
    std::fs::write(&file, format!("{job}[battery]\nkind = \"flooded\"\n")).unwrap();
    let words = printed(&file, &["--list", "cuts"]);
    assert!(words.contains("nothing: the job names no part"), "{words}");
    assert!(!words.contains('\u{202e}'), "a name may not turn the text around it");
    assert!(table(&file, "labels").is_empty());
    let out = folder.path().join("lists");
    printed(&file, &["--out", out.to_str().unwrap()]);
    assert!(!std::fs::read_to_string(out.join("materials.html")).unwrap().contains('\u{202e}'));
}

#[test]
fn a_faulty_job_is_refused_with_its_place() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("job.toml");
    std::fs::write(&file, "format = 1\ntitle = 3\n").unwrap();
    let output = run(&file, &[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("job.toml"));
}
