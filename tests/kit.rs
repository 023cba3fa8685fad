//! The same job on one more vehicle: only what differs is asked, and all else stays as the kit has it.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::terminal::Terminal;
use common::yard::{SHOP, Yard};
use common::{by_hand, small_job};

const KIT: &str = include_str!("../src/kit/every-key.toml");
const JOB: &str = include_str!("../src/kit/every-key-job.toml");
const ANSWERS: &str = "format = 1\nvehicle = \"Market van, high roof\"\nidentity = \"V-5\"\nway_to_lamp = \"4.5 m\"\n";

/// The shop with one kit.
fn yard() -> Yard {
    let yard = Yard::begun();
    kit(&yard, KIT);
    std::fs::write(yard.bench.path("told.toml"), ANSWERS).unwrap();
    yard
}

fn kit(yard: &Yard, text: &str) {
    let folder = yard.bench.path("yard/kits/rear-lamp");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("kit.toml"), text).unwrap();
    std::fs::write(folder.join("job.toml"), JOB).unwrap();
}

fn read(yard: &Yard, path: &str) -> String {
    std::fs::read_to_string(yard.bench.path(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

#[test]
fn the_fifth_van_is_asked_what_differs_and_nothing_else() {
    let yard = yard();
    let mut terminal = Terminal::start(&yard.bench, &["new", "yard/jobs/van-5", "--kit", "rear-lamp"], &[]);
    let mut asked = Vec::new();
    loop {
        let field = terminal.field();
        if field.starts_with("Enter writes the job") {
            break;
        }
        terminal.line(match field.as_str() {
            "vehicle" => "Market van, high roof",
            "identity" => "V-5",
            "way to lamp" => "4.5",
            _ => "",
        });
        asked.push(field);
    }
    assert_eq!(asked, ["vehicle", "identity", "way to lamp", "colour"]);
    terminal.line("");
    assert_eq!(terminal.ended(), 0);
    let made = read(&yard, "yard/jobs/van-5/job.toml");
    let (head, below) = made.split_at(made.find("# The job of the kit").unwrap());
    assert!(head.contains("rear-lamp: One work lamp at the rear"), "{head}");
    assert!(head.contains(&rigproof::record::sha256_hex(JOB.as_bytes())), "{head}");
    // Every remark and the order stay; the shop's good meter came with it, the expired one did not.
    assert!(below.contains("length = \"4.5 m ± 5 %\" # along the sill\n"), "{below}");
    assert!(below.contains("# From the switch to the lamp.\n"), "{below}");
    assert!(below.contains("[meter.M1]") && !below.contains("[meter.M2]"), "{below}");
    assert_eq!(by_hand::job(&made).vehicle.description, "Market van, high roof");

    // By file the same job, and by the file of answers that is kept.
    yard.bench.run(&["new", "yard/jobs/van-6", "--kit", "rear-lamp", "--brief", "told.toml"]).expect(0);
    let kept = "yard/jobs/van-5/differs.toml";
    yard.bench.run(&["new", "yard/jobs/van-7", "--kit", "rear-lamp", "--brief", kept]).expect(0);
    assert_eq!(read(&yard, "yard/jobs/van-6/job.toml"), made);
    assert_eq!(read(&yard, "yard/jobs/van-7/job.toml"), made);
}

#[test]
fn a_longer_way_takes_a_thicker_conductor_and_says_so() {
    let yard = yard();
    std::fs::write(yard.bench.path("told.toml"), ANSWERS.replace("4.5 m", "9 m")).unwrap();
    let call = ["new", "yard/jobs/van-5", "--kit", "rear-lamp", "--brief", "told.toml"];
    let ended = yard.bench.run(&call);
    ended.expect(0);
    assert!(
        ended.out.contains("thicker than in the kit") && ended.out.contains("2.5 mm² in place of 1.5 mm²"),
        "{}",
        ended.out
    );
    let made = read(&yard, "yard/jobs/van-5/job.toml");
    assert!(made.contains("2.5 mm² in place of the kit's 1.5 mm²: the voltage at lamp"), "{made}");
    yard.bench.run(&["check", "yard/jobs/van-5/job.toml"]).expect(0);
    // Another answer makes the file anew, as long as nobody has worked on it.
    std::fs::write(yard.bench.path("told.toml"), ANSWERS).unwrap();
    yard.bench.run(&call).expect(0);
    assert!(!read(&yard, "yard/jobs/van-5/job.toml").contains("in place of"));
    std::fs::write(yard.bench.path("yard/jobs/van-5/job.toml"), format!("{made}# mine\n")).unwrap();
    yard.bench.run(&call).expect(2).says("is there already and is not touched");
}

#[test]
fn nothing_is_written_where_the_design_breaks_its_rules() {
    let yard = yard();
    kit(&yard, &KIT.replace("high = \"9 m\"", "high = \"900 m\""));
    std::fs::write(yard.bench.path("told.toml"), ANSWERS.replace("4.5 m", "600 m")).unwrap();
    let ended = yard.bench.run(&["new", "yard/jobs/van-5", "--kit", "rear-lamp", "--brief", "told.toml"]);
    ended.expect(1);
    assert!(ended.out.contains("no thicker conductor mends it"), "{}", ended.out);
    assert!(!ended.out.contains("in place of"), "{}", ended.out);
    assert!(!yard.bench.path("yard/jobs/van-5/job.toml").exists());
}

#[test]
fn wrong_answers_are_told_with_their_place_all_at_once() {
    let yard = yard();
    let wrong = "format = 1\nvehicle = \"Van\"\nway_to_lamp = \"45 m\"\ncolour = \"yelow\"\nidentiti = \"V\"\n";
    std::fs::write(yard.bench.path("told.toml"), wrong).unwrap();
    let call = ["new", "yard/jobs/van-5", "--kit", "rear-lamp", "--brief", "told.toml"];
    let ended = yard.bench.run(&call);
    ended.expect(2).says("45 m is not within").says("did you mean yellow?").says("did you mean `identity`?");
    std::fs::write(yard.bench.path("told.toml"), "format = 1\nvehicle = \"Van\"\nway_to_lamp = \"4 m\"\n").unwrap();
    yard.bench.run(&call).expect(2).says("identity = ...").says("It stands in the papers");
    assert!(!yard.bench.path("yard/jobs/van-5/job.toml").exists());
}

#[test]
fn a_kit_is_called_by_its_name_in_the_shop_or_by_its_path() {
    let yard = yard();
    let elsewhere = ["new", "elsewhere", "--kit", "yard/kits/rear-lamp", "--brief", "told.toml"];
    yard.bench.run(&elsewhere).expect(0);
    assert!(!read(&yard, "elsewhere/job.toml").contains("[meter"), "no shop, no meter of it");
    let call = |kit: &'static str| ["new", "yard/jobs/van-5", "--kit", kit, "--brief", "told.toml"];
    let wrong = yard.bench.run(&call("rear-lmap"));
    wrong.expect(2).says("Orchard yard has no kit rear-lmap").says("did you mean rear-lamp?");
    yard.bench.run(&["new", "x", "--kit", "nowhere", "--brief", "told.toml"]).expect(2).says("no kit nowhere");
    yard.bench.run(&["new", "x", "--kit", "yard/kits/rear-lamp", "--add"]).expect(2).says("cannot be used with");
}

#[test]
fn the_look_through_the_shop_reads_its_kits() {
    let yard = yard();
    yard.says(&SHOP.replace("2020-10-01", "2098-10-01"));
    let ended = yard.bench.run(&["shop", "check", "--shop", "yard"]);
    assert!(ended.out.contains("rear-lamp: One work lamp at the rear; asked for: vehicle"), "{}", ended.out);
    kit(&yard, &KIT.replace("wire.w3.length", "wire.w9.length"));
    yard.bench.run(&["shop", "check", "--shop", "yard"]).expect(2).says("no text at `wire.w9.length`");
}

#[test]
fn what_a_shop_gives_stands_in_every_new_job() {
    let yard = yard();
    yard.says(&format!("{SHOP}\n[default]\nlevel = \"essential\"\nacceptance = \"guarded\"\n"));
    let brief =
        "format = 1\nlabel = \"18 W\"\nname = \"lamp\"\nvehicle = \"van\"\nswitch_way = \"2 m\"\nway = \"4 m\"\n";
    std::fs::write(yard.bench.path("brief.toml"), brief).unwrap();
    let ended = yard.bench.run(&["new", "yard/jobs/lamp", "--brief", "brief.toml"]);
    ended.expect(0);
    assert!(ended.out.contains("from the shop"), "{}", ended.out);
    let made = read(&yard, "yard/jobs/lamp/job.toml");
    let job = by_hand::job(&made);
    assert_eq!(job.instruments.iter().map(|i| i.name.as_str()).collect::<Vec<_>>(), ["M1"]);
    assert!(made.contains("[acceptance]\nrule = \"guarded\""), "{made}");
    // The walk begins: nothing that was given is refused by the shop itself.
    let list = small_job::answers_for(&made, &small_job::library_of_the_program());
    assert!(!list.text().is_empty());
}
