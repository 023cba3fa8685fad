//! What comes after a sign-off: more signatures, work that goes on, time stamps. Earlier seals stay as they are.

mod common;

use common::{Bench, Ended, files, small_job, write_files};
use serde_json::Value;

fn sign(bench: &Bench, name: &str, statement: &str) -> Ended {
    bench.run(&["sign", "record", "--name", name, "--role", "second person", "--statement", statement])
}

/// Everything that lay in the record before lies there still, byte for byte.
#[track_caller]
fn nothing_changed(before: &[(String, Vec<u8>)], bench: &Bench) {
    let after = files(&bench.record());
    for file in before {
        assert!(after.contains(file), "{} changed", file.0);
    }
    assert!(after.len() > before.len());
}

fn walk_again(bench: &Bench, step: &str, reason: &str) -> Ended {
    let mut arguments = bench.walk_arguments();
    arguments.extend(["--again", step, "--reason", reason]);
    bench.run(&arguments)
}

#[test]
fn a_second_person_signs_over_everything_before_and_changes_nothing_of_it() {
    let bench = Bench::tiny().walked();
    let before = files(&bench.record());
    sign(&bench, "Ash Thorn", "looked at every joint").expect(0).says("signed by Ash Thorn, second person");
    nothing_changed(&before, &bench);
    let (ended, json) = bench.verify_json();
    ended.expect(0);
    let names: Vec<&str> = json["signed_by"].as_array().unwrap().iter().map(|s| s["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["Robin Alder", "Ash Thorn"]);
    assert_eq!(json["signed_by"][1]["statement"], "looked at every joint");
    let sums = std::fs::read_to_string(bench.record().join("seal-2/SHA256SUMS")).unwrap();
    for covered in ["seal/SHA256SUMS", "seal/SHA256SUMS.sig", "report/report.html", "journal.jsonl", "journal-2.jsonl"]
    {
        assert!(sums.lines().any(|line| line.ends_with(&format!("  {covered}"))), "{covered}: {sums}");
    }
}

#[test]
fn work_goes_on_after_a_sign_off_and_is_signed_again() {
    let bench = Bench::tiny().walked();
    let before = files(&bench.record());
    walk_again(&bench, "ground/G1", "re-torqued after 1,000 km").expect(0);
    nothing_changed(&before, &bench);
    let later = common::events(&std::fs::read(bench.record().join("journal-2.jsonl")).unwrap());
    assert_eq!(later[0]["kind"], "reopened");
    assert_eq!(later[0]["reason"], "re-torqued after 1,000 km");
    let read: Vec<&str> =
        later.iter().filter(|event| event["kind"] == "read").map(|event| event["step"].as_str().unwrap()).collect();
    assert!(read.contains(&"ground/G1/torque"), "{read:?}");
    // A drop that the ground has a part in is measured again; the battery's rest voltage is not.
    assert!(read.contains(&"test/lamp/ground-drop") && !read.contains(&"prepare/job/rest-voltage"), "{read:?}");
    let (ended, json) = bench.verify_json();
    ended.expect(0);
    assert_eq!(json["signed_by"].as_array().unwrap().len(), 2);
    let report = std::fs::read_to_string(bench.record().join("report-2/report.html")).unwrap();
    assert!(report.contains("re-torqued after 1,000 km"));
}

#[test]
fn a_change_of_an_earlier_part_is_noticed_however_often_it_was_signed_since() {
    let bench = Bench::tiny().walked();
    sign(&bench, "Ash Thorn", "looked at every joint").expect(0);
    walk_again(&bench, "test/lamp", "lamp renewed").expect(0);
    let all = files(&bench.record());
    for (name, bytes) in &all {
        let mut changed = bytes.clone();
        let at = changed.len() / 2;
        changed[at] ^= 4;
        std::fs::write(bench.record().join(name), &changed).unwrap();
        let findings =
            rigproof::record::verify(&bench.record(), &rigproof::record::Reader::default(), jiff::Timestamp::now());
        let findings = findings.unwrap();
        assert!(!findings.intact && findings.signed_by.is_empty(), "{name}");
        assert!(findings.problems.iter().any(|p| p.contains(name.as_str())), "{name}: {:?}", findings.problems);
        std::fs::write(bench.record().join(name), bytes).unwrap();
    }
    bench.verify().expect(0);
}

#[test]
fn a_seal_or_a_journal_taken_out_of_the_middle_is_missed() {
    let bench = Bench::tiny().walked();
    sign(&bench, "Ash Thorn", "looked at every joint").expect(0);
    let all = files(&bench.record());
    let missed = [
        ("seal", "seal is missing, but journal-2.jsonl was begun after it"),
        ("seal-2", "journal-2.jsonl is not sealed"),
        ("report", "report/report.html is missing"),
        ("report-2", "report-2/report.html is missing"),
    ];
    for (gone, says) in missed {
        std::fs::remove_dir_all(bench.record().join(gone)).unwrap();
        bench.verify().expect(1).says(says);
        write_files(&bench.record(), &all);
    }
    std::fs::remove_file(bench.record().join("journal-2.jsonl")).unwrap();
    bench.verify().expect(1).says("NOT INTACT");
}

#[test]
fn work_broken_off_after_a_sign_off_goes_on_and_the_earlier_seal_holds() {
    let bench = Bench::tiny().walked();
    bench.answer_with(&small_job::answers(&small_job::tiny_library()).without("answer", "test/lamp/look"));
    walk_again(&bench, "test/lamp", "lamp renewed").expect(2);
    let (ended, json) = bench.verify_json();
    ended.expect(1);
    assert_eq!((&json["intact"], &json["trust"]), (&Value::Bool(true), &Value::from("unsealed")));
    assert_eq!(json["signed_by"][0]["name"], "Robin Alder");
    sign(&bench, "Ash Thorn", "looked at every joint").expect(2).says("not signed off and sealed yet");
    bench.answer_with(&small_job::answers(&small_job::tiny_library()));
    bench.walk().expect(0);
    bench.verify().expect(0);
}

#[test]
fn a_line_torn_after_an_earlier_seal_is_set_aside_and_the_record_verifies() {
    let bench = Bench::tiny().walked();
    bench.answer_with(&small_job::answers(&small_job::tiny_library()).without("answer", "test/lamp/look"));
    walk_again(&bench, "test/lamp", "lamp renewed").expect(2);
    let second = bench.record().join("journal-2.jsonl");
    let mut bytes = std::fs::read(&second).unwrap();
    bytes.truncate(bytes.len() - 5);
    std::fs::write(&second, bytes).unwrap();
    bench.answer_with(&small_job::answers(&small_job::tiny_library()));
    bench.walk().expect(0);
    assert!(bench.record().join("journal-2.torn-1").exists());
    bench.verify().expect(0);
}

#[test]
fn a_step_that_the_plan_does_not_have_is_refused_with_one_that_it_has() {
    let bench = Bench::tiny().walked();
    walk_again(&bench, "ground/G2", "to see")
        .expect(2)
        .says("the plan has no step `ground/G2`")
        .says("ground/G1/torque");
    assert!(!bench.record().join("journal-2.jsonl").exists());
}

#[test]
fn a_record_that_is_not_intact_is_not_signed() {
    let bench = Bench::tiny().walked();
    std::fs::write(bench.record().join("report/report.html"), "better").unwrap();
    sign(&bench, "Ash Thorn", "looked at every joint").expect(2).says("report/report.html was changed");
    assert!(!bench.record().join("journal-2.jsonl").exists());
}

#[test]
fn an_own_key_is_known_and_a_strangers_is_not() {
    let bench = Bench::tiny().walked();
    let (ended, json) = bench.verify_json();
    ended.expect(0);
    assert_eq!((&json["trust"], &json["signed_by"][0]["known_as"]), (&"known-key".into(), &"your own key".into()));
    // Another person's settings know nothing of that key.
    let elsewhere = bench.path("elsewhere");
    let output = bench.command(&["verify", "record"]).env("XDG_CONFIG_HOME", &elsewhere).output().unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(said.contains("a key that you do not know") && said.contains("anybody can make a key"), "{said}");
    // Once it is in the list there, it is.
    let known = elsewhere.join("rigproof");
    std::fs::create_dir_all(&known).unwrap();
    std::fs::copy(bench.record().join("seal/allowed_signers"), known.join("known_signers")).unwrap();
    let output = bench.command(&["verify", "record"]).env("XDG_CONFIG_HOME", &elsewhere).output().unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.contains("you know this key as robin-alder"), "{said}");
}

#[cfg(unix)]
#[test]
fn a_link_in_a_record_is_not_followed() {
    let bench = Bench::tiny().walked();
    let report = bench.record().join("report/report.html");
    let elsewhere = bench.path("copy.html");
    std::fs::rename(&report, &elsewhere).unwrap();
    std::os::unix::fs::symlink(&elsewhere, &report).unwrap();
    bench.verify().expect(1).says("report/report.html: this is a link");
}

#[test]
fn a_name_in_a_list_that_leads_out_of_the_record_is_opened_by_nobody() {
    let bench = Bench::tiny().walked();
    std::fs::write(bench.path("outside.txt"), "x").unwrap();
    let sums = bench.record().join("seal/SHA256SUMS");
    let list = std::fs::read_to_string(&sums).unwrap();
    let led_out = format!("{}  ../outside.txt\n", rigproof::record::sha256_hex(b"x"));
    std::fs::write(&sums, led_out + &list).unwrap();
    bench.verify().expect(1).says("../outside.txt is missing");
}

/// What a stranger does who wants to be taken for the signer, or to have files written elsewhere.
#[cfg(unix)]
mod hostile {
    use super::*;

    #[test]
    fn instructions_that_were_replaced_are_not_to_be_run() {
        let bench = Bench::tiny().walked();
        std::fs::write(bench.record().join("VERIFY.txt"), "echo everything fits\n").unwrap();
        bench.verify().expect(1).says("VERIFY.txt is not the text that this program writes");
    }

    #[test]
    fn nothing_is_written_through_a_link() {
        for link in ["journal.torn-1", "journal-2.jsonl.new", "evidence"] {
            let bench = Bench::tiny().walked();
            let elsewhere = bench.path("elsewhere");
            std::os::unix::fs::symlink(&elsewhere, bench.record().join(link)).unwrap();
            walk_again(&bench, "test/lamp", "lamp renewed").expect(2).says(link);
            assert!(!elsewhere.exists(), "{link} was followed");
        }
    }

    #[test]
    fn a_file_put_into_an_earlier_part_is_not_covered_by_a_later_seal() {
        // The second has a name that only the folder of a seal may leave out of its list.
        for name in ["report/better.html", "report/SHA256SUMS"] {
            put_into_an_earlier_part(name);
        }
    }

    fn put_into_an_earlier_part(added: &str) {
        let bench = Bench::tiny().walked();
        std::fs::write(bench.record().join(added), "better").unwrap();
        walk_again(&bench, "test/lamp", "lamp renewed").expect(2).says(&format!("{added} is not covered"));
        // With a tool of its own somebody seals it all the same.
        std::fs::remove_file(bench.record().join(added)).unwrap();
        walk_again(&bench, "test/lamp", "lamp renewed").expect(0);
        let sums = bench.record().join("seal-2/SHA256SUMS");
        let mut lines: Vec<String> = std::fs::read_to_string(&sums).unwrap().lines().map(str::to_owned).collect();
        lines.push(format!("{}  {added}", rigproof::record::sha256_hex(b"better")));
        lines.sort_by(|a, b| a[66..].cmp(&b[66..]));
        std::fs::write(bench.record().join(added), "better").unwrap();
        let list = lines.join("\n") + "\n";
        let key =
            rigproof::record::SigningKey::read(&bench.path("home/.config/rigproof/signing-key"), || None).unwrap();
        std::fs::write(bench.record().join("seal-2/SHA256SUMS.sig"), key.sign(list.as_bytes()).unwrap()).unwrap();
        std::fs::write(&sums, list).unwrap();
        bench.verify().expect(1).says(&format!("{added} is not covered by the signature"));
    }

    #[test]
    fn what_a_broken_off_write_left_is_told_of_and_changes_nothing() {
        let bench = Bench::tiny().walked();
        std::fs::write(bench.record().join("journal-2.jsonl.new"), "").unwrap();
        let (ended, json) = bench.verify_json();
        ended.expect(1);
        assert_eq!(json["intact"], true);
        bench.verify().says("journal-2.jsonl.new is left of a write that was broken off");
        sign(&bench, "Ash Thorn", "looked at every joint").expect(0);
        bench.verify().expect(0);
    }

    #[test]
    fn a_leftover_procedure_does_not_get_into_a_new_record() {
        let bench = Bench::tiny();
        std::fs::create_dir_all(bench.record().join("procedures")).unwrap();
        std::fs::write(bench.record().join("procedures/zz.toml"), "id = 1").unwrap();
        bench.walk().expect(2).says("it holds procedures/zz.toml");
    }

    #[test]
    fn a_last_line_whose_first_block_was_lost_is_set_aside() {
        let bench = Bench::tiny();
        bench.answer_with(&small_job::answers(&small_job::tiny_library()).without("answer", "test/lamp/look"));
        bench.walk().expect(2);
        let mut journal = std::fs::read(bench.journal()).unwrap();
        let last = journal[..journal.len() - 1].iter().rposition(|b| *b == b'\n').unwrap() + 1;
        journal[last..last + 40].fill(0);
        std::fs::write(bench.journal(), &journal).unwrap();
        bench.answer_with(&small_job::answers(&small_job::tiny_library()));
        bench.walk().expect(0);
        assert_eq!(bench.events_of("recovered").len(), 1);
        bench.verify().expect(0);
    }

    #[test]
    fn a_seal_whose_two_key_files_differ_is_not_accepted_by_the_instructions() {
        let (bench, other) = (Bench::tiny().walked(), Bench::tiny().walked());
        let theirs = std::fs::read(other.record().join("seal/signer.pub")).unwrap();
        std::fs::write(bench.record().join("seal/signer.pub"), theirs).unwrap();
        let ended = std::process::Command::new("sh").arg("VERIFY.txt").current_dir(bench.record()).output().unwrap();
        assert_eq!(ended.status.code(), Some(1));
        assert!(String::from_utf8_lossy(&ended.stdout).contains("the two files name different keys"));
    }
}
