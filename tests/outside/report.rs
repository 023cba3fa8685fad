//! The report as others read it.
//! Sources: `pdftotext`, `pdffonts` and `pdftoppm` (poppler, Debian package `poppler-utils`), `qpdf`, and html5lib, which
//! carries the parse errors of the WHATWG HTML standard (Debian package `python3-html5lib`), as they are installed.

use std::path::Path;
use std::process::Command;

use super::common::{Bench, small_job};
use serde_json::Value;

fn run(program: &str, arguments: &[&str], package: &str) -> Option<String> {
    match Command::new(program).args(arguments).output() {
        Ok(output) => {
            let said =
                [output.stdout, output.stderr].map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).concat();
            assert!(output.status.success(), "{program} {arguments:?}: {said}");
            Some(said)
        }
        Err(error) => {
            assert!(std::env::var_os("CI").is_none(), "CI installs {package}: {error}");
            None
        }
    }
}

fn json(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// A text without any space: lines break where they like.
fn close(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && *c != '\u{c}').collect()
}

#[test]
fn poppler_reads_every_reading_out_of_the_print() {
    let bench = Bench::demo().walked();
    let report = bench.record().join("report");
    let pdf = report.join("report.pdf").display().to_string();
    let Some(text) = run("pdftotext", &["-raw", "-enc", "UTF-8", &pdf, "-"], "poppler-utils") else { return };
    let (text, view) = (close(&text), json(&report.join("report.json")));
    let mut seen = 0;
    for group in view["groups"].as_array().unwrap() {
        assert!(text.contains(&close(group["title"].as_str().unwrap())), "{}", group["title"]);
        for row in group["readings"].as_array().unwrap() {
            for key in ["expected", "reading", "verdict"] {
                let words = close(row[key].as_str().unwrap());
                assert!(text.contains(&words), "{}: {key} {words} is not in the print", row["step"]);
            }
            if let Some(uncertainty) = row["uncertainty"].as_str() {
                assert!(text.contains(&close(&format!("± {uncertainty}"))), "{}: ± {uncertainty}", row["step"]);
            }
            seen += 1;
        }
    }
    assert!(seen > 50, "{seen} readings are too few to say anything");
    for row in view["wires"].as_array().unwrap() {
        for key in ["name", "from", "to", "size", "built", "colour"] {
            assert!(text.contains(&close(row[key].as_str().unwrap())), "{} of {}", key, row["name"]);
        }
    }
    for signs in ["mΩ", "N·m", "mm²", "±"] {
        assert!(text.contains(signs), "{signs}");
    }
    let head = view["head"].as_str().unwrap();
    assert!(text.contains(head) && text.contains("Conforms"));
}

#[test]
fn every_font_is_in_the_print_and_qpdf_finds_no_fault_in_it() {
    let bench = Bench::tiny().walked();
    for name in ["report.pdf", "glove-box.pdf"] {
        let pdf = bench.record().join("report").join(name).display().to_string();
        if let Some(fonts) = run("pdffonts", &[&pdf], "poppler-utils") {
            let lines: Vec<&str> = fonts.lines().skip(2).collect();
            assert!(lines.len() >= 2, "{fonts}");
            for line in lines {
                let flags: Vec<&str> = line.split_whitespace().filter(|word| ["yes", "no"].contains(word)).collect();
                assert_eq!(flags[0], "yes", "not embedded: {line}");
            }
        }
        if let Some(said) = run("qpdf", &["--check", &pdf], "qpdf") {
            assert!(said.contains("No syntax or stream encoding errors found"), "{said}");
        }
    }
}

#[test]
fn a_masked_print_does_not_tell_which_vehicle_it_is() {
    let bench = Bench::tiny();
    let job = small_job::JOB.replace("\"Yard tractor\"", "\"Yard tractor\"\nidentity = \"chassis QZ-4711\"");
    std::fs::write(bench.path("job.toml"), job).unwrap();
    bench.walk().expect(0);
    bench.run(&["report", "record", "--out", "out", "--mask-identity"]).expect(0);
    for name in ["report.pdf", "glove-box.pdf"] {
        let full = bench.record().join("report").join(name).display().to_string();
        let Some(text) = run("pdftotext", &[&full, "-"], "poppler-utils") else { return };
        assert!(text.contains("QZ-4711"), "{name}: the full one names it");
        let masked = bench.path("out").join(name).display().to_string();
        let text = run("pdftotext", &[&masked, "-"], "poppler-utils").unwrap();
        assert!(!text.contains("4711") && text.contains("masked"), "{name}: {text}");
    }
}

/// Reads a page as the standard says and fails at the first parse error.
const PARSE: &str = "
import sys
try:
    import html5lib
except ImportError:
    sys.exit(77)
with open(sys.argv[1], 'rb') as page:
    html5lib.HTMLParser(strict=True).parse(page, transport_encoding='utf-8')
";

#[test]
fn the_page_has_no_parse_error_by_the_html_standard() {
    let (tiny, demo) = (Bench::tiny().walked(), Bench::demo().walked());
    for bench in [tiny, demo] {
        let page = bench.record().join("report/report.html");
        // Debian's own Python finds Debian's packages.
        let python = ["/usr/bin/python3", "python3"].into_iter().find(|p| Command::new(p).arg("-V").output().is_ok());
        let output = Command::new(python.unwrap()).args(["-c", PARSE]).arg(&page).output().unwrap();
        let missing = output.status.code() == Some(77);
        assert!(!missing || std::env::var_os("CI").is_none(), "CI installs python3-html5lib");
        assert!(missing || output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    }
}

#[test]
fn a_page_with_a_parse_error_would_be_noticed() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.html");
    std::fs::write(&page, "<!DOCTYPE html><html><body><p><table></p></body>").unwrap();
    let output = Command::new("/usr/bin/python3").args(["-c", PARSE]).arg(&page).output();
    if let Ok(output) = output {
        assert!(!output.status.success());
    }
}

/// Checks a print against PDF/A-2u with a checker of its own (PyPI package `page-validation`).
///
/// The checker takes a carriage return that is the last byte of a stream for part of the end of line behind it, and then
/// finds the stream one byte short. That one finding is passed over only where each stream is as long as it says, and one of
/// them does end in that byte.
const ARCHIVE: &str = r"
import re, sys
try:
    import page
except ImportError:
    sys.exit(77)
report = page.validate_pdf(sys.argv[1], profile='2u')
if not report.is_compliant:
    data = open(sys.argv[1], 'rb').read()
    last, exact = set(), True
    for stream in re.finditer(rb'/Length (\d+)[^>]*?>>\s*?stream\r?\n', data):
        end = stream.end() + int(stream.group(1))
        last.add(data[end - 1])
        exact = exact and data[end:end + 12].lstrip(b'\r\n').startswith(b'endstream')
    found = {failure.rule_id for failure in report.failures}
    if found != {'PDFA2U-STREAM-LENGTH-001'} or not exact or 0x0D not in last:
        sys.exit(str(report.failures))
";

#[test]
fn the_prints_keep_the_rules_of_pdf_a_by_a_checker_of_its_own() {
    let Some(python) = std::env::var_os("RIGPROOF_PDFA_PYTHON") else {
        eprintln!("not checked: RIGPROOF_PDFA_PYTHON names no Python with page-validation");
        return;
    };
    let bench = Bench::demo().walked();
    for name in ["report.pdf", "glove-box.pdf"] {
        let pdf = bench.record().join("report").join(name);
        let output = Command::new(&python).args(["-c", ARCHIVE]).arg(&pdf).output().unwrap();
        assert!(output.status.success(), "{name}: {}", String::from_utf8_lossy(&output.stderr));
    }
}
