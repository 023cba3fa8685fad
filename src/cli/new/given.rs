//! What a shop gives a new job where it is silent: how much is asked of the work, the rule of acceptance, and the tables
//! of the instruments that are good today.

use std::path::Path;

use jiff::Timestamp;
use toml::Table;

use crate::cli::failure::Failure;
use crate::cli::house::House;
use crate::document::Source;
use crate::job::{Acceptance, Job, Level};
use crate::quantity::Day;
use crate::record::day_of;
use crate::shop::Shop;

/// A job file with what the shop gave it.
pub(super) struct Given {
    pub text: String,
    /// What was given, in words: `level "full"`.
    pub what: Vec<String>,
}

/// A job file that is to lie in a folder, with what the shop around that folder gives.
pub(super) fn by_shop(text: &str, folder: &Path) -> Result<Given, Failure> {
    let given = match House::around(folder)? {
        Some(house) => given(text, &house.shop, day_of(Timestamp::now())),
        None => Given { text: text.to_owned(), what: Vec::new() },
    };
    Job::read(&Source::new("job.toml", given.text.as_str()))?;
    Ok(given)
}

fn given(text: &str, shop: &Shop, today: Day) -> Given {
    let job: Table = toml::from_str(text).unwrap_or_default();
    let (mut text, mut what) = (text.to_owned(), Vec::new());
    if let Some(level) = shop.defaults.level.filter(|_| !job.contains_key("level")) {
        let word = Level::WORDS.iter().find(|(_, own)| *own == level).map_or("", |(word, _)| word);
        text = below_title(&text, &format!("level = \"{word}\"\n"));
        what.push(format!("level \"{word}\""));
    }
    let mut tables = String::new();
    if let Some(rule) = shop.defaults.acceptance.filter(|_| !job.contains_key("acceptance")) {
        let word = Acceptance::WORDS.iter().find(|(_, own)| *own == rule).map_or("", |(word, _)| word);
        tables.push_str("\n[acceptance]\nrule = \"");
        tables.push_str(word);
        tables.push_str("\"\n");
        what.push(format!("acceptance \"{word}\""));
    }
    if !job.contains_key("meter") {
        let own: Table = toml::from_str(&shop.source.text).unwrap_or_default();
        for instrument in shop.instruments.iter().filter(|i| i.calibration_due.is_none_or(|due| today <= due)) {
            let name = &instrument.name;
            let Some(table) = own.get("meter").and_then(|meters| meters.get(name)) else { continue };
            let one = Table::from_iter([(name.clone(), table.clone())]);
            let meter = Table::from_iter([("meter".to_owned(), toml::Value::Table(one))]);
            tables.push('\n');
            tables.push_str(&meter.to_string());
            what.push(format!("instrument {name}"));
        }
    }
    if !tables.is_empty() {
        text = format!("{}\n\n# --- from the shop {}\n{}\n", text.trim_end(), "-".repeat(57), tables.trim());
    }
    Given { text, what }
}

/// A line below that of the title, where a file has a title line.
fn below_title(text: &str, line: &str) -> String {
    let mut all = String::new();
    let mut put = false;
    for own in text.split_inclusive('\n') {
        all.push_str(own);
        if !put && own.trim_start().starts_with("title") && own.ends_with('\n') {
            all.push_str(line);
            put = true;
        }
    }
    if put { all } else { format!("{line}{text}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::Shop;

    const JOB: &str = "# Head\nformat = 1\ntitle = \"Lamp\" # its name\n\n[vehicle]\nsystem = \"12 V\"\n";

    fn shop(text: &str) -> Shop {
        let text = format!("format = 1\nname = \"Yard\"\n{text}");
        Shop::read(&Source::new("shop.toml", text), &|_| Err("no key".to_owned()))
            .unwrap_or_else(|says| panic!("{says}"))
    }

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    #[test]
    fn a_silent_job_takes_level_rule_and_the_good_instruments() {
        let shop = shop(
            "[meter.M1]\nclass = \"mid\"\ncalibration_due = \"2027-03-31\"\n[meter.M2]\nclass = \"good\"\n\
             calibration_due = \"2026-10-01\"\n[default]\nlevel = \"full\"\nacceptance = \"guarded\"\n",
        );
        let given = given(JOB, &shop, day("2026-12-01"));
        assert_eq!(given.what, ["level \"full\"", "acceptance \"guarded\"", "instrument M1"]);
        let read: Table = toml::from_str(&given.text).unwrap();
        assert_eq!(read["level"].as_str(), Some("full"));
        assert_eq!(read["acceptance"]["rule"].as_str(), Some("guarded"));
        assert_eq!(read["meter"]["M1"]["class"].as_str(), Some("mid"));
        assert!(read["meter"].get("M2").is_none(), "{}", given.text);
        assert!(given.text.starts_with("# Head\nformat = 1\ntitle = \"Lamp\" # its name\nlevel"), "{}", given.text);
    }

    #[test]
    fn what_a_job_says_itself_stays() {
        let shop = shop("[meter.M1]\nclass = \"mid\"\n[default]\nlevel = \"full\"\nacceptance = \"guarded\"\n");
        let job = JOB.replace(
            "[vehicle]",
            "level = \"quick\"\n[acceptance]\nrule = \"simple\"\n[meter.own]\nclass = \"basic\"\n[vehicle]",
        );
        let given = given(&job, &shop, day("2026-12-01"));
        assert_eq!((given.text, given.what), (job, Vec::<String>::new()));
    }
}
