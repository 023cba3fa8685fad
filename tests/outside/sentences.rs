//! Sentence rules of ASD-STE100 Simplified Technical English that a machine can check, over every text of the library as
//! it reads for the sample jobs. The rules are counted here anew, on filled-in texts, by their published summaries
//! (liquisearch.com/simplified_english/specification_structure; tcworld.info, "Simplified Technical English: a globally
//! proven trendsetter"): at most 20 words in a procedural sentence (5.1), one instruction a sentence (5.2), the command
//! form (5.3), a condition first and with a comma (5.4), at most 25 words in a descriptive sentence (6.1).

use std::path::Path;

use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::plan::{Ask, Plan};
use rigproof::procedure::Library;

const JOBS: [&str; 3] = ["reversing-lamp", "orchard-flatbed", "market-stall-van"];
/// Words with which no command begins.
const NO_COMMAND: [&str; 10] = ["the", "a", "an", "it", "this", "you", "there", "should", "may", "must"];
/// Words that make a command a wish.
const WISHES: [&str; 6] = ["should", "may", "might", "could", "please", "try"];

/// The places and names that a job states in its own words: each counts as one word.
fn own_words(job: &Job) -> Vec<String> {
    let mut own: Vec<String> = vec![job.title.clone(), job.vehicle.description.clone()];
    own.extend(job.fuses.iter().filter_map(|p| p.place.clone()));
    own.extend(job.relays.iter().filter_map(|p| p.place.clone()));
    own.extend(job.switches.iter().filter_map(|p| p.place.clone()));
    own.extend(job.connectors.iter().filter_map(|p| p.place.clone()));
    own.extend(job.splices.iter().filter_map(|p| p.place.clone()));
    own.extend(job.grounds.iter().filter_map(|p| p.place.clone()));
    own.extend(job.loads.iter().filter_map(|p| p.place.clone()));
    own.extend(job.mounts.iter().filter_map(|p| p.place.clone()));
    own
}

fn plans() -> Vec<(Plan, Vec<String>)> {
    let library = Library::embedded().unwrap_or_else(|error| panic!("{error}"));
    let plan = |name: &&str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports").join(name).join("job.toml");
        let text = std::fs::read_to_string(path).unwrap();
        let without: Vec<&str> = text.lines().filter(|line| !line.starts_with("level")).collect();
        let full = without.join("\n").replacen("format = 1", "format = 1\nlevel = \"full\"", 1);
        let job = Job::read(&Source::new(*name, full)).unwrap_or_else(|problems| panic!("{problems}"));
        (Plan::of(&job, &library).unwrap_or_else(|error| panic!("{error}")), own_words(&job))
    };
    JOBS.iter().map(plan).collect()
}

/// Every instruction of a plan with the step that it stands in.
fn instructions(plan: &Plan) -> Vec<(&str, &str)> {
    let mut all = Vec::new();
    for step in &plan.steps {
        let key = step.key.as_str();
        all.extend(step.instructions.iter().map(|sentence| (key, sentence.as_str())));
        if let Ask::Choose { ways } = &step.ask {
            all.extend(ways.iter().flat_map(|way| &way.instructions).map(|sentence| (key, sentence.as_str())));
        }
    }
    all
}

/// Fails with every sentence that breaks a rule at once.
#[track_caller]
fn none(mut broken: Vec<String>) {
    broken.sort();
    broken.dedup();
    assert!(broken.is_empty(), "{} sentences:\n{}", broken.len(), broken.join("\n"));
}

fn words(sentence: &str) -> Vec<String> {
    let bare = |word: &str| word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
    sentence.split_whitespace().map(bare).filter(|word| !word.is_empty()).collect()
}

#[test]
fn an_instruction_has_at_most_twenty_words_once_it_is_filled_in() {
    let (mut count, mut broken) = (0, Vec::new());
    for (plan, own) in plans() {
        for (step, sentence) in instructions(&plan) {
            count += 1;
            let plain = own.iter().fold(sentence.to_owned(), |text, own| text.replace(own.as_str(), "X"));
            // A list of names is as long as the job makes it: each further name counts nothing.
            let listed = plain.matches(", ").count();
            if words(&plain).len() > 20 + listed {
                broken.push(format!("{step}: {sentence}"));
            }
        }
    }
    assert!(count > 2000, "{count} sentences");
    none(broken);
}

#[test]
fn an_instruction_is_a_command_and_no_wish() {
    let mut broken = Vec::new();
    for (plan, _) in plans() {
        for (step, sentence) in instructions(&plan) {
            let words = words(sentence);
            let first = words.first().map_or("", String::as_str);
            let wish = words.iter().any(|word| WISHES.contains(&word.as_str()));
            if NO_COMMAND.contains(&first) || !sentence.starts_with(char::is_uppercase) || wish {
                broken.push(format!("{step}: {sentence}"));
            }
        }
    }
    none(broken);
}

#[test]
fn a_condition_stands_first_and_has_its_comma() {
    let mut broken = Vec::new();
    for (plan, _) in plans() {
        for (step, sentence) in instructions(&plan) {
            let words = words(sentence);
            let begins = matches!(words.first().map(String::as_str), Some("if" | "when"));
            let late = words.iter().skip(1).any(|word| word == "if");
            if begins && !sentence.contains(',') || late {
                broken.push(format!("{step}: {sentence}"));
            }
        }
    }
    none(broken);
}

#[test]
fn an_instruction_asks_for_one_thing() {
    let mut broken = Vec::new();
    for (plan, _) in plans() {
        for (step, sentence) in instructions(&plan) {
            if sentence.contains(" and then ") || sentence.contains("; ") {
                broken.push(format!("{step}: {sentence}"));
            }
        }
    }
    none(broken);
}

#[test]
fn a_description_has_at_most_twenty_five_words_a_sentence() {
    let mut broken = Vec::new();
    for (plan, own) in plans() {
        for step in &plan.steps {
            for sentence in step.why.split(". ").chain(step.look.iter().flat_map(|look| look.split(". "))) {
                let plain = own.iter().fold(sentence.to_owned(), |text, own| text.replace(own.as_str(), "X"));
                if words(&plain).len() > 25 + plain.matches(", ").count() {
                    broken.push(format!("{}: {sentence}", step.key));
                }
            }
        }
    }
    none(broken);
}
