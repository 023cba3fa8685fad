//! The plan on paper, and what was written on it taken into a record.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

use common::{Answers, Bench, by_hand, small_job};
use rigproof::plan::{Ask, Plan};
use rigproof::report::Sheet;
use rigproof::report::sheets::Sheets;
use rigproof::walk::Walk;

const JOBS: [&str; 3] = ["reversing-lamp", "orchard-flatbed", "market-stall-van"];

fn sample(job: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports").join(job).join("job.toml");
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn walk_of(text: &str) -> Walk {
    let job = by_hand::job(text);
    let plan = Plan::of(&job, &small_job::library_of_the_program()).unwrap_or_else(|error| panic!("{error}"));
    Walk::new(job, plan)
}

/// A table of sheets, cell by cell.
#[derive(Clone)]
struct Table(Vec<Vec<String>>);

impl Table {
    fn read(bytes: &[u8]) -> Self {
        let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).expect("the mark that spreadsheets look for");
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(bytes);
        Self(reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect())
    }

    fn column(&self, name: &str) -> usize {
        self.0[0].iter().position(|title| title == name).unwrap_or_else(|| panic!("no column {name}"))
    }

    fn row(&self, step: &str, kind: &str) -> usize {
        let (steps, kinds) = (self.column("step"), self.column("kind"));
        let found = self.0.iter().position(|row| row[steps] == step && row[kinds] == kind);
        found.unwrap_or_else(|| panic!("no row for {kind} of {step}"))
    }

    fn set(&mut self, (step, kind): (&str, &str), column: &str, text: &str) {
        let (row, column) = (self.row(step, kind), self.column(column));
        text.clone_into(&mut self.0[row][column]);
    }

    fn with(&self, at: (&str, &str), column: &str, text: &str) -> Self {
        let mut table = self.clone();
        table.set(at, column, text);
        table
    }

    /// Filled in as a file of answers has it.
    fn filled(mut self, answers: &Answers) -> Self {
        let lists: BTreeMap<String, Vec<String>> = answers.lists().into_iter().collect();
        self.set(("", "work"), "name", "Robin Alder");
        self.set(("", "work"), "role", "installer");
        self.set(("", "work"), "value", "2026-03-04");
        self.set(("", "entered"), "name", "Kim Rowan");
        for (column, text) in [("name", "Robin Alder"), ("role", "installer"), ("statement", "I did this work.")] {
            self.set(("", "sign"), column, text);
        }
        let (steps, kinds) = (self.column("step"), self.column("kind"));
        for row in 1..self.0.len() {
            let (step, kind) = (self.0[row][steps].clone(), self.0[row][kinds].clone());
            let at = (step.as_str(), kind.as_str());
            match kind.as_str() {
                "hazards" | "done" => self.set(at, "value", "x"),
                "witness" => self.set(at, "name", "nobody"),
                "release" => {
                    self.set(at, "name", "Jo Birch");
                    self.set(at, "statement", "every result read");
                }
                _ => {
                    if let Some(list) = lists.get(&step) {
                        self.set(at, "value", &list[0]);
                    }
                }
            }
        }
        self
    }

    fn text(&self, between: u8) -> String {
        let mut writer = csv::WriterBuilder::new().delimiter(between).from_writer(Vec::new());
        self.0.iter().for_each(|row| writer.write_record(row).unwrap());
        String::from_utf8(writer.into_inner().unwrap()).unwrap()
    }
}

/// A bench with its sheets printed, and the table of them filled in.
fn filled(job: &str) -> (Bench, Table) {
    let answers = small_job::answers_for(job, &small_job::library_of_the_program());
    let bench = Bench::new(job, &answers);
    bench.run(&["sheet", "job.toml", "--out", "sheets"]).expect(0).says("at the foot of each page");
    let table = Table::read(&std::fs::read(bench.path("sheets/sheets.csv")).unwrap()).filled(&answers);
    (bench, table)
}

fn enter(bench: &Bench, text: &str) -> common::Ended {
    std::fs::write(bench.path("filled.csv"), text).unwrap();
    bench.run(&["walk", "job.toml", "--from-sheets", "filled.csv"])
}

/// The words of a print in the order in which they are written; nothing where poppler is missing.
fn words(pdf: &[u8]) -> Option<String> {
    let folder = tempfile::TempDir::new().unwrap();
    let path = folder.path().join("sheets.pdf");
    std::fs::write(&path, pdf).unwrap();
    let Ok(told) = Command::new("pdftotext").args(["-raw", "-enc", "UTF-8"]).arg(&path).arg("-").output() else {
        println!("pdftotext is missing: the prints are not read back");
        return None;
    };
    assert!(told.status.success(), "{}", String::from_utf8_lossy(&told.stderr));
    Some(String::from_utf8(told.stdout).unwrap())
}

/// Without spaces and hyphens: a reader of prints joins words that are parted by the end of a line.
fn bare(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && !matches!(c, '-' | '\u{2010}' | '\u{a0}')).collect()
}

fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn each_step_of_each_sample_job_stands_once_on_the_sheets_with_its_number_and_its_range() {
    for job in JOBS {
        let walk = walk_of(&sample(job));
        let sheets = Sheets::of(&walk, Sheet::A4);
        let count = walk.plan().steps.len();
        let pages = sheets.pages().unwrap();
        assert_eq!(pages.len(), count, "{job}: a step has no place");
        let in_order: Vec<usize> = (1..=count).map(|number| pages[&number]).collect();
        assert!(in_order.is_sorted(), "{job}: {in_order:?}");
        let Some(text) = words(&sheets.pdf().unwrap()) else { continue };
        // Each page names job, page and code.
        let all: Vec<&str> = text.split('\u{c}').filter(|page| !page.trim().is_empty()).collect();
        for (at, page) in all.iter().enumerate() {
            assert!(page.contains(&format!("page {} of {}", at + 1, all.len())), "{job}: {page}");
            assert!(page.contains(&sheets.code().to_string()) && page.contains(&walk.job().title), "{job}: {page}");
        }
        let print = bare(&text);
        let numbered: Vec<&str> =
            text.split(['\n', '\u{c}']).filter(|line| line.starts_with(|c: char| c.is_ascii_digit())).collect();
        let pages_bare: Vec<(String, String)> = all.iter().map(|page| (plain(page), bare(page))).collect();
        for (at, step) in walk.plan().steps.iter().enumerate() {
            let (page, page_bare) = &pages_bare[pages[&(at + 1)] - 1];
            let begins = match (&step.only_if, step.instructions.first()) {
                (Some(_), _) => format!(" {} Only if ", at + 1),
                (None, Some(first)) => format!(" {} {}", at + 1, plain(first)),
                (None, None) if !step.look.is_empty() => format!(" {} • {}", at + 1, plain(&step.look[0])),
                (None, None) => format!(" {} 1) ", at + 1),
            };

            let number = format!("{} ", at + 1);
            let at_the_line = |line: &&str| {
                line.starts_with(&number) && {
                    let (line, begins) = (bare(line), bare(&begins));
                    line.len() > number.len() && (begins.starts_with(&line) || line.starts_with(&begins))
                }
            };
            assert_eq!(numbered.iter().copied().filter(at_the_line).count(), 1, "{job}: `{begins}`");
            assert!(page_bare.contains(&bare(&begins)), "{job}: {} is not on its page", step.key);
            for sentence in &step.instructions {
                assert!(page_bare.contains(&bare(sentence)), "{job}: {}: `{sentence}` is not on its page", step.key);
            }
            if let Ask::Measure(measurement) = &step.ask {
                let range = measurement.expect(walk.job()).unwrap().range();
                assert!(page.contains(&format!("Expect: {range}")), "{job}: {}: {range}", step.key);
            }
        }
        let hazards: BTreeSet<String> =
            walk.plan().phases.iter().flat_map(|p| &p.hazards).map(|h| plain(&h.avoid)).collect();
        for avoid in hazards {
            assert!(print.contains(&bare(&avoid)), "{job}: {avoid}");
        }
    }
}

#[test]
fn every_blank_of_the_walk_is_a_row_of_the_table() {
    let walk = walk_of(&sample("orchard-flatbed"));
    let sheets = Sheets::of(&walk, Sheet::Letter);
    let table = Table::read(&sheets.csv().unwrap());
    assert_eq!(table.0.len(), sheets.blanks().len() + 1);
    let (pages, numbers) = (table.column("page"), table.column("number"));
    for (at, step) in walk.plan().steps.iter().enumerate() {
        let rows = || table.0.iter().filter(|row| row[table.column("step")] == step.key.as_str());
        let one_for_itself = rows().filter(|row| !["hazards", "witness", "release"].contains(&row[4].as_str())).count();
        assert_eq!(one_for_itself, 1, "{}", step.key);
        assert_eq!(rows().filter(|row| row[4] == "release").count(), usize::from(step.hold.is_some()), "{}", step.key);
        assert!(rows().all(|row| row[numbers] == (at + 1).to_string() && row[pages].parse::<usize>().is_ok()));
    }
}

#[test]
fn a_filled_table_becomes_a_signed_record_that_says_it_was_paper() {
    let (bench, table) = filled(&sample("reversing-lamp"));
    enter(&bench, &table.text(b',')).expect(0).says("every reading conforms");
    bench.verify().expect(0);
    let noted = bench.events_of("from-paper");
    let [paper] = &noted[..] else { panic!("{noted:?}") };
    assert_eq!(paper["taken_by"], "Robin Alder");
    assert_eq!(paper["entered_by"], "Kim Rowan");
    assert_eq!(paper["day"], "2026-03-04");
    assert_eq!(paper["file"]["name"], "filled.csv");
    let place = |kind: &str| bench.events().iter().position(|event| event["kind"] == kind).unwrap();
    assert!(place("from-paper") < place("hazards-acknowledged") && place("from-paper") < place("read"));
    let says = "taken by Robin Alder, installer, on 2026-03-04 as written there, and entered later by Kim Rowan on";
    let page = std::fs::read_to_string(bench.record().join("report/report.html")).unwrap();
    assert!(plain(&page).contains(says), "the page does not say so");
    if let Some(print) = words(&std::fs::read(bench.record().join("report/report.pdf")).unwrap()) {
        assert!(plain(&print).contains(says), "the print does not say so");
    }
    // The same record as by a file of answers, but for the note.
    let by_answers = Bench::new(
        &sample("reversing-lamp"),
        &small_job::answers_for(&sample("reversing-lamp"), &small_job::library_of_the_program()),
    )
    .walked();
    let readings = |bench: &Bench| {
        bench.events_of("read").iter().map(|event| event["reading"]["value"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(readings(&bench), readings(&by_answers));
}

#[test]
fn semicolons_and_decimal_commas_are_understood() {
    let (bench, mut table) = filled(small_job::JOB);
    let (units, values) = (table.column("unit"), table.column("value"));
    for row in &mut table.0[1..] {
        // As somebody writes it who leaves the unit to the column.
        if ["V", "N·m", "m"].contains(&row[units].as_str()) {
            let unit = format!(" {}", row[units]);
            row[values] = row[values].trim_end_matches(unit.as_str()).replace('.', ",");
        }
    }
    let text = table.text(b';');
    assert!(text.contains(";12,"), "no decimal comma in the table");
    enter(&bench, &format!("\u{feff}{text}")).expect(0).says("every reading conforms");
    bench.verify().expect(0);
}

/// The first step of a kind in a table.
fn first(table: &Table, kind: &str) -> String {
    let kinds = table.column("kind");
    table.0.iter().find(|row| row[kinds] == kind).map(|row| row[table.column("step")].clone()).unwrap()
}

#[test]
fn an_empty_cell_stops_with_its_place_and_the_same_call_goes_on() {
    let (bench, table) = filled(small_job::JOB);
    for (kind, column, says) in [
        ("hazards", "value", "does not say that these hazards were read before it"),
        ("done", "value", "is not ticked"),
        ("reading", "value", "is empty"),
        ("release", "name", "a release names who looked and what was seen"),
    ] {
        let step = first(&table, kind);
        let row = table.row(&step, kind) + 1;
        let ended = enter(&bench, &table.with((&step, kind), column, "").text(b','));
        ended.expect(2).says(says).says(&format!("row {row}")).says(&step);
        if kind == "reading" {
            ended.says(" on page ").says("the same call goes on from there").says("expected");
        }
    }
    assert!(bench.events_of("signed-off").is_empty());
    let before = bench.events_of("done").len();
    assert!(before > 0, "nothing of what came before was saved");
    enter(&bench, &table.text(b',')).expect(0);
    bench.verify().expect(0);
}

#[test]
fn wrong_cells_are_told_all_at_once_and_nothing_is_entered() {
    let (bench, table) = filled(small_job::JOB);
    let reading = first(&table, "reading");
    let done = first(&table, "done");
    let release = first(&table, "release");
    let wrong = table
        .with((&reading, "reading"), "value", "12.6 A")
        .with((&done, "done"), "value", "perhaps")
        .with((&release, "release"), "statement", "ok")
        .with(("", "work"), "value", "some day")
        .with((&reading, "reading"), "picture", "nowhere.jpg");
    let ended = enter(&bench, &wrong.text(b','));
    ended.expect(2).says("5 cells of filled.csv cannot be taken; nothing was entered");
    for words in [
        "`12.6 A`: A is a unit of current, not of voltage",
        "`perhaps` is no tick: write x",
        "say in a few words what was checked and what was seen",
        "the day of the work is needed here",
        "there is no file nowhere.jpg",
        &format!("row {}, `value`", table.row(&reading, "reading") + 1),
    ] {
        ended.says(words);
    }
    assert!(!bench.record().exists());
}

#[test]
fn sheets_of_another_job_or_other_procedures_are_not_taken() {
    let (bench, table) = filled(small_job::JOB);
    let text = table.text(b',');
    std::fs::write(bench.path("job.toml"), small_job::JOB.replace("24 W ± 10 %", "25 W ± 10 %")).unwrap();
    let ended = enter(&bench, &text);
    ended.expect(2).says("filled for other sheets").says("the job file is another one, or was changed");
    std::fs::write(bench.path("job.toml"), small_job::JOB).unwrap();
    small_job::write_tiny_procedures(&bench.path("own"));
    let ended = bench.run(&["walk", "job.toml", "--from-sheets", "filled.csv", "--procedures", "own"]);
    ended.expect(2).says("the job file is the same, but the procedures are others");
    assert!(!bench.record().exists());
    let mixed = text.replacen("-A4", "-LT", 1);
    enter(&bench, &mixed).expect(2).says("the rows have several codes");
    // A filled table is not written over.
    std::fs::write(bench.path("sheets/sheets.csv"), &text).unwrap();
    bench.run(&["sheet", "job.toml", "--out", "sheets"]).expect(2).says("has values in it, and is not written over");
}

#[test]
fn a_reading_out_of_limits_asks_what_was_done_about_it() {
    let (bench, table) = filled(small_job::JOB);
    let step = "test/lamp/ground-drop";
    let good = table.0[table.row(step, "reading")][table.column("value")].clone();
    let bad = table.with((step, "reading"), "value", "1.9 V");
    let ended = enter(&bench, &bad.text(b','));
    ended
        .expect(2)
        .says("asks what was done about it: 1.90 V lies above")
        .says("into `decision` one of: measure again");
    let decided = bad.with((step, "reading"), "value", &format!("1.9 V | {good}"));
    let decided = decided.with((step, "reading"), "decision", "measure again");
    enter(&bench, &decided.text(b',')).expect(0).says("every reading conforms");
    let readings = bench.events_of("read").iter().filter(|event| event["step"] == step).count();
    assert_eq!((readings, bench.events_of("disposed").len()), (2, 1));
    bench.verify().expect(0);
}

#[test]
fn a_record_that_was_begun_has_its_steps_struck_out_and_goes_on_without_paper() {
    let (bench, table) = filled(small_job::JOB);
    let step = first(&table, "reading");
    enter(&bench, &table.with((&step, "reading"), "value", "").text(b',')).expect(2);
    bench.run(&["sheet", "job.toml", "--out", "later", "--record", "record"]).expect(0);
    let [before, later] =
        ["sheets", "later"].map(|folder| std::fs::read(bench.path(folder).join("sheets.csv")).unwrap());
    assert_eq!(before, later, "the pages and the code stay as they were");
    if let Some(print) = words(&std::fs::read(bench.path("later/sheets.pdf")).unwrap()) {
        assert!(plain(&print).contains("of them are in the record already, and struck out here"));
    }
    // What is done at the work itself afterwards is not said to come from paper.
    bench.walk().expect(0);
    let kinds: Vec<String> = bench.events().iter().map(|event| event["kind"].as_str().unwrap().to_owned()).collect();
    assert_eq!(kinds.iter().filter(|kind| *kind == "on-duty").count(), 2, "{kinds:?}");
    let last = kinds.iter().rposition(|kind| kind == "on-duty").unwrap();
    assert!(!kinds[last..].contains(&"from-paper".to_owned()));
    bench.verify().expect(0);
}

#[cfg(unix)]
mod in_a_terminal {
    use super::*;
    use common::terminal::Terminal;

    const CALL: &[&str] = &["walk", "job.toml", "--from-sheets"];
    const BOXES: &str = "All boxes ticked? Enter, or those that are not";

    fn cover(terminal: &mut Terminal, code: &str) {
        terminal.answer("Code at the foot of the sheets", code);
        terminal.answer("Who did the work, as on the sheet? Name", "Robin Alder");
        terminal.answer("Role (installer, apprentice, ...)", "installer");
        terminal.answer("Day of the work, as on the sheet", "2026-03-04");
        terminal.answer("Who enters it now? Name", "Kim Rowan");
    }

    /// The number of the field that is asked for: `[12] ...`.
    fn number(terminal: &Terminal) -> usize {
        let text = terminal.text();
        let line = text.lines().rev().find(|line| line.starts_with('[') && line.contains("] ")).unwrap();
        line[1..].split(']').next().unwrap().parse().unwrap_or_else(|_| panic!("{line}"))
    }

    #[test]
    fn sheets_are_entered_page_by_page() {
        let walk = walk_of(small_job::JOB);
        let code = Sheets::of(&walk, Sheet::A4).code().to_string();
        let answers = small_job::answers_for(small_job::JOB, &small_job::library_of_the_program());
        let lists: BTreeMap<String, Vec<String>> = answers.lists().into_iter().collect();
        let bench = Bench::new(small_job::JOB, &answers);
        let mut terminal = Terminal::start(&bench, CALL, &[]);
        terminal.answer("Code at the foot of the sheets", "0000-0000");
        terminal.expect_question("Code at the foot of the sheets");
        assert!(terminal.said("the sheets are others"), "{}", terminal.screen());
        cover(&mut terminal, &code.to_lowercase());
        let (mut boxes, mut out_of_limits, mut empty) = (0, false, false);
        loop {
            let question = terminal.asked();
            let key = |terminal: &Terminal| walk.plan().steps[number(terminal) - 1].key.to_string();
            match question.as_str() {
                BOXES => {
                    boxes += 1;
                    terminal.answer(BOXES, "");
                }
                "On the sheet" | "Way on the sheet" => {
                    let step = key(&terminal);
                    if step == "test/lamp/ground-drop" && !out_of_limits {
                        out_of_limits = true;
                        terminal.answer(&question, "1.9 V");
                        terminal.choose("What is done about it?", "Measure again");
                        continue;
                    }
                    if step == "test/lamp/ground-drop" && !empty {
                        empty = true;
                        terminal.answer(&question, "empty");
                        assert_eq!(terminal.ended(), 2);
                        assert!(terminal.said("nothing is written there") && terminal.said(" on page "));
                        terminal = Terminal::start(&bench, CALL, &[]);
                        cover(&mut terminal, &code);
                        continue;
                    }
                    terminal.answer(&question, &lists[&step][0]);
                }
                "Who came, as on the sheet? A name, or nobody" => terminal.answer(&question, "nobody"),
                "Released by, as on the sheet" => {
                    terminal.answer(&question, "Jo Birch");
                    terminal.answer("What was checked and seen, as on the sheet", "every result read");
                }
                "sign now?" => break,
                other => panic!("nobody knows what to answer to `{other}`:\n{}", terminal.screen()),
            }
        }
        terminal.yes("sign now?");
        terminal.answer("Statement (Enter takes the one above)", "");
        terminal.choose("Which key signs?", "a new key, made now");
        assert_eq!(terminal.ended(), 0);
        bench.verify().expect(0);
        // One question for the boxes of a page; what only some answers ask for comes alone, and the page of the break twice.
        let pages = Sheets::of(&walk, Sheet::A4).pages().unwrap().into_values().max().unwrap();
        let alone = walk.plan().steps.iter().filter(|step| step.only_if.is_some()).count();
        assert!(boxes <= pages + alone + 1, "{boxes} questions for the boxes of {pages} pages");
        assert_eq!(bench.events_of("from-paper")[0]["entered_by"], "Kim Rowan");
        assert_eq!(bench.events_of("disposed").len(), 1);
    }

    #[test]
    fn a_box_that_is_not_ticked_stops_there() {
        let walk = walk_of(small_job::JOB);
        let code = Sheets::of(&walk, Sheet::A4).code().to_string();
        let bench = Bench::one_lamp();
        let mut terminal = Terminal::start(&bench, CALL, &[]);
        cover(&mut terminal, &code);
        terminal.answer(BOXES, "h99");
        terminal.expect_question(BOXES);
        assert!(terminal.said("`h99` is none of these boxes"), "{}", terminal.screen());
        terminal.answer(BOXES, "h1");
        assert_eq!(terminal.ended(), 2);
        assert!(terminal.said("its hazards are not ticked as read"), "{}", terminal.screen());
        assert!(terminal.said("--from-sheets"), "{}", terminal.screen());
        assert!(bench.events_of("hazards-acknowledged").is_empty());
    }
}
