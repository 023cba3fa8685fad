//! What a person reads when a job file is wrong. The snapshots are reviewed as text.

#![allow(missing_docs, reason = "tests speak through their names")]

use rigproof::document::Source;
use rigproof::job::Job;

const DEMO: &str = include_str!("../reports/orchard-flatbed/job.toml");

fn message(text: String) -> String {
    match Job::read(&Source::new("job.toml", text)) {
        Ok(_) => panic!("this job was accepted"),
        Err(problems) => problems.render(false),
    }
}

fn demo_with(changes: &[(&str, &str)]) -> String {
    let mut text = DEMO.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "the demo no longer holds `{from}`");
        text = text.replacen(from, to, 1);
    }
    text
}

#[test]
fn an_unknown_part_is_named_with_what_there_is_and_what_was_meant() {
    insta::assert_snapshot!(message(demo_with(&[("to = \"F1.in\"", "to = \"F1.inn\"")])));
}

#[test]
fn all_errors_of_a_file_come_at_once() {
    insta::assert_snapshot!(message(demo_with(&[
        ("rest_voltage = \"12.6 V ± 0.2 V\"", "rest_voltage = \"12.6 A\""),
        ("[switch.S1]", "[switch.S1]\ncolour = \"red\""),
        ("kind = \"motor\"", "kind = \"moter\""),
        ("size = \"4 mm²\"", "size = \"4 mm\""),
    ])));
}

#[test]
fn a_faulty_part_does_not_make_every_use_of_it_an_error() {
    let text = message(demo_with(&[("[fuse.F1]\nrating = \"15 A\"", "[fuse.F1]\nrating = \"15\"")]));
    assert_eq!(text.matches("error:").count(), 1, "{text}");
    insta::assert_snapshot!(text);
}

#[test]
fn a_typing_slip_in_a_key_is_answered_with_the_key() {
    insta::assert_snapshot!(message(demo_with(&[("rest_voltage", "rest_volage")])));
}

#[test]
fn a_name_that_is_used_twice_is_an_error() {
    insta::assert_snapshot!(message(demo_with(&[("[splice.J1]", "[splice.S1]")])).lines().next().unwrap_or_default());
}

#[test]
fn an_empty_file_says_what_a_job_needs() {
    insta::assert_snapshot!(message(String::new()));
}

#[test]
fn broken_toml_says_where() {
    insta::assert_snapshot!(message(demo_with(&[("[battery]", "[battery")])));
}

#[test]
fn an_insulation_rating_that_no_table_reaches_is_an_error() {
    for rating in ["30 °C", "-300 °C", "260 °C"] {
        let with = format!("[wire.w1]\ninsulation = \"{rating}\"");
        let text = message(demo_with(&[("[wire.w1]", &with)]));
        assert!(text.contains("no insulation is counted with this rating") && text.contains("60 to 200 °C"), "{text}");
    }
}

#[test]
fn a_wire_that_ends_at_a_thing_without_terminals_is_an_error_and_not_left_out() {
    for end in ["c1", "pump-bracket", "w10", "c1.red"] {
        let text = message(demo_with(&[("to = \"F1.in\"", &format!("to = \"{end}\""))]));
        assert!(text.contains(&format!("no terminal is called `{end}`")), "{text}");
    }
}

#[test]
fn a_mount_that_holds_a_mount_is_an_error() {
    let text = message(format!("{DEMO}\n[mount.shelf]\nof = \"shelf\"\n"));
    assert!(text.contains("`shelf` is a mount itself") && text.contains("name what is mounted"), "{text}");
}

#[test]
fn cores_of_one_colour_keep_names_of_their_own() {
    let core = |colour: &str, from: &str| format!("{{ colour = \"{colour}\", from = \"{from}\", to = \"J1\" }}");
    let cores = [core("red", "S2.out"), core("red-3", "F1.out"), core("red", "F2.out")].join(", ");
    let text = format!("{DEMO}\n[cable.c9]\nsize = \"1 mm²\"\nlength = \"1 m\"\ncores = [{cores}]\n");
    let job = Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"));
    let mut names: Vec<&str> = job.wires.iter().map(|w| w.name.as_str()).collect();
    names.sort_unstable();
    let all = names.len();
    names.dedup();
    assert_eq!(names.len(), all);
}
