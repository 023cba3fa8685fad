//! The report in its forms: page, print, card, table, JSON; with own templates; masked; of hostile words and pictures.

mod common;

use std::collections::BTreeSet;
use std::path::Path;

use common::{Answers, Bench, small_job};
use serde_json::Value;

fn report(bench: &Bench, arguments: &[&str]) -> common::Ended {
    bench.run(&[&["report", "record", "--out", "out"], arguments].concat())
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

#[test]
fn a_report_is_written_in_every_form_and_each_says_the_verdict() {
    let bench = Bench::tiny().walked();
    report(&bench, &[]).expect(0);
    let json: Value = serde_json::from_str(&text(&bench.path("out/report.json"))).unwrap();
    assert_eq!(json["verdict"], "Conforms");
    let page = text(&bench.path("out/report.html"));
    assert!(page.contains("<strong>Conforms</strong>") && page.contains("One work lamp"));
    let table = text(&bench.path("out/readings.csv"));
    let rows: usize = json["groups"].as_array().unwrap().iter().map(|g| g["readings"].as_array().unwrap().len()).sum();
    assert_eq!(table.trim_end().lines().count(), rows + 1, "{table}");
    for name in ["report.pdf", "glove-box.pdf"] {
        let bytes = std::fs::read(bench.path("out").join(name)).unwrap();
        assert!(bytes.starts_with(b"%PDF-1.") && bytes.trim_ascii_end().ends_with(b"%%EOF"), "{name}");
    }
}

#[test]
fn a_report_written_again_is_the_same_to_the_byte_as_the_one_that_was_sealed() {
    let bench = Bench::tiny().walked();
    report(&bench, &[]).expect(0);
    for name in ["report.html", "report.pdf", "glove-box.pdf", "report.json", "readings.csv"] {
        let (sealed, again) = (bench.record().join("report").join(name), bench.path("out").join(name));
        assert!(std::fs::read(sealed).unwrap() == std::fs::read(again).unwrap(), "{name} differs");
    }
}

#[test]
fn letter_paper_is_letter_paper() {
    let bench = Bench::tiny().walked();
    report(&bench, &["--paper", "letter"]).expect(0);
    assert!(text(&bench.path("out/report.html")).contains("size: letter"));
    let pdf = String::from_utf8_lossy(&std::fs::read(bench.path("out/report.pdf")).unwrap()).into_owned();
    assert!(pdf.contains("612") && pdf.contains("792"));
}

#[test]
fn a_masked_report_names_neither_vehicle_nor_owner_and_the_seal_still_verifies_against_the_record() {
    let job = small_job::JOB
        .replace("description = \"Yard tractor\"", "description = \"Yard tractor\"\nidentity = \"chassis QZ-4711\"");
    let job = job.replace("title = \"One work lamp\"", "title = \"One work lamp\"\nwork_order = \"YT-0815\"");
    let mut answers = small_job::answers(&small_job::tiny_library());
    answers
        .table("remark")
        .insert("prepare/job/chock".into(), "plate of chassis QZ-4711 compared, order yt-0815".into());
    let bench = Bench::tiny();
    std::fs::write(bench.path("job.toml"), job).unwrap();
    bench.answer_with(&answers);
    bench.walk().expect(0);
    let full = text(&bench.record().join("report/report.html"));
    assert!(full.contains("QZ-4711") && full.contains("YT-0815") && full.contains("order yt-0815"));
    report(&bench, &["--mask-identity"]).expect(0);
    for name in ["report.html", "report.json", "readings.csv"] {
        let bytes = std::fs::read(bench.path("out").join(name)).unwrap();
        let low = String::from_utf8_lossy(&bytes).to_lowercase();
        assert!(!low.contains("4711") && !low.contains("0815"), "{name} tells which vehicle it is");
    }
    // What it says can be checked against the record, which is as it was.
    let (ended, json) = bench.verify_json();
    ended.expect(0);
    let masked: Value = serde_json::from_str(&text(&bench.path("out/report.json"))).unwrap();
    assert_eq!((&masked["head"], &masked["masked"]), (&json["head"], &Value::Bool(true)));
    assert_eq!(masked["signed"][0]["fingerprint"], json["signed_by"][0]["key"]);
}

#[test]
fn a_shop_puts_its_own_template_in_the_place_of_the_built_in_one() {
    let bench = Bench::tiny().walked();
    std::fs::create_dir(bench.path("shop")).unwrap();
    std::fs::write(
        bench.path("shop/report.html"),
        "{% include \"head.html\" %}<p>{{ fitted[0].name }}: {{ verdict }}</p>",
    )
    .unwrap();
    std::fs::write(bench.path("shop/head.html"), "<h1>Our yard</h1>").unwrap();
    report(&bench, &["--templates", "shop"]).expect(0);
    assert_eq!(text(&bench.path("out/report.html")), "<h1>Our yard</h1><p>lamp: Conforms</p>");
}

#[test]
fn an_error_in_a_template_names_template_line_and_variable() {
    let bench = Bench::tiny().walked();
    std::fs::create_dir(bench.path("shop")).unwrap();
    std::fs::write(bench.path("shop/report.html"), "<h1>{{ title }}</h1>\n<p>{{ vehicel }}</p>\n").unwrap();
    let ended = report(&bench, &["--templates", "shop"]);
    ended.expect(2).says("report.html").says("vehicel").says("2");
    std::fs::write(bench.path("shop/report.html"), "<h1>{{ title }}</h1>\n{% for row in wires %}\n").unwrap();
    report(&bench, &["--templates", "shop"]).expect(2).says("report.html");
    std::fs::remove_file(bench.path("shop/report.html")).unwrap();
    report(&bench, &["--templates", "shop"]).expect(2).says("holds no template");
}

/// Every name of a JSON object, and of those in it.
fn names(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                found.insert(name.clone());
                names(member, found);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| names(item, found)),
        _ => {}
    }
}

#[test]
fn every_name_that_a_template_is_given_is_described() {
    let bench = Bench::demo().walked();
    let json: Value = serde_json::from_str(&text(&bench.record().join("report/report.json"))).unwrap();
    let mut found = BTreeSet::new();
    names(&json, &mut found);
    assert!(found.len() > 80, "{found:?}");
    let described = include_str!("../src/report/templates/CONTEXT.md");
    let missing: Vec<_> = found.iter().filter(|name| !described.contains(&format!("`{name}`"))).collect();
    assert!(missing.is_empty(), "CONTEXT.md does not describe {missing:?}");
}

const HOSTILE: &str = "</style><script>alert(1)</script> {{ title }} \u{202e}gnp.exe\u{202c} \u{1b}[2Jx";

fn hostile() -> (String, Answers) {
    let escaped = HOSTILE.replace('\u{1b}', "\\u001b").replace('\u{202e}', "\\u202e").replace('\u{202c}', "\\u202c");
    let job = small_job::JOB
        .replace("One work lamp", &format!("Lamp {escaped}"))
        .replace("Yard tractor", &format!("Tractor {escaped} {}", "W".repeat(4000)));
    let mut answers = small_job::answers(&small_job::tiny_library());
    answers.table("remark").insert("prepare/job/chock".into(), HOSTILE.into());
    (job, answers.with("test/lamp/look", &["=HYPERLINK(\"x\") <img src=x onerror=alert(1)>"]))
}

#[test]
fn hostile_words_are_shown_and_not_obeyed() {
    let (job, answers) = hostile();
    let bench = Bench::tiny();
    std::fs::write(bench.path("job.toml"), job).unwrap();
    bench.answer_with(&answers);
    bench.walk().expect(0);
    let page = text(&bench.record().join("report/report.html"));
    assert!(!page.contains("<script") && !page.contains("<img src=x"), "markup was taken for markup");
    assert!(page.contains("&lt;script&gt;"));
    assert_eq!(page.matches("</style>").count(), 1);
    for c in page.chars() {
        assert!(!rigproof::report::turns_text(c) && (!c.is_control() || c == '\n'), "{c:?} stands in the page");
    }
    let said = bench.verify().expect(0).out.clone();
    assert!(said.chars().all(|c| !c.is_control() || c == '\n'));
}

#[test]
fn a_picture_that_claims_to_be_huge_is_refused_before_it_is_unpacked() {
    // A PNG header that claims 60,000 by 60,000 pixels, and nothing behind it.
    let mut bomb = b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR".to_vec();
    bomb.extend(60_000_u32.to_be_bytes());
    bomb.extend(60_000_u32.to_be_bytes());
    bomb.extend([8, 2, 0, 0, 0]);
    let crc = crc(&bomb[12..]);
    bomb.extend(crc.to_be_bytes());
    let bench = Bench::tiny();
    let mut answers = small_job::answers(&small_job::tiny_library());
    answers.table("photo").insert("prepare/job/chock".into(), "bomb.png".into());
    bench.answer_with(&answers);
    std::fs::write(bench.path("bomb.png"), bomb).unwrap();
    bench.walk().expect(2).says("bomb.png: this is no JPEG or PNG picture");
    assert!(!bench.record().join("evidence").exists() || common::files(&bench.record().join("evidence")).is_empty());
}

/// CRC-32 as PNG has it (ISO/IEC 15948, annex D).
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| if crc & 1 == 1 { (crc >> 1) ^ 0xEDB8_8320 } else { crc >> 1 })
    })
}

#[cfg(unix)]
#[test]
fn a_picture_that_is_a_link_a_folder_or_a_pipe_is_refused() {
    let bench = Bench::tiny();
    let photo = |name: &str| {
        let mut answers = small_job::answers(&small_job::tiny_library());
        answers.table("photo").insert("prepare/job/chock".into(), name.into());
        bench.answer_with(&answers);
        bench.walk()
    };
    std::os::unix::fs::symlink("/etc/hostname", bench.path("link.jpg")).unwrap();
    photo("link.jpg").expect(2).says("this is a link and not a file");
    std::fs::create_dir(bench.path("folder.jpg")).unwrap();
    photo("folder.jpg").expect(2).says("this is a folder and not a file");
    let pipe = bench.path("pipe.jpg");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    photo("pipe.jpg").expect(2).says("this is no plain file");
}

#[test]
fn pictures_are_shown_in_the_report_with_what_they_show() {
    let bench = Bench::tiny();
    let mut answers = small_job::answers(&small_job::tiny_library());
    answers.table("photo").insert("prepare/job/chock".into(), "bench.png".into());
    bench.answer_with(&answers);
    let pixels = image::RgbImage::from_fn(1600, 900, |x, y| image::Rgb([x.to_le_bytes()[0], y.to_le_bytes()[0], 90]));
    pixels.save(bench.path("bench.png")).unwrap();
    bench.walk().expect(0);
    let page = text(&bench.record().join("report/report.html"));
    assert!(page.contains("<img src=\"data:image/jpeg;base64,") && page.contains("alt=\"Chock one wheel.\""));
    report(&bench, &["--mask-identity"]).expect(0);
    assert!(!text(&bench.path("out/report.html")).contains("<img"));
}
