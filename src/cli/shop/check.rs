//! Reads a shop's file: who may do what, which instruments are good today, and what is amiss.

use std::fmt::Write;

use jiff::Timestamp;
use serde_json::json;

use super::WIDTH;
use crate::cli::arguments::ShopCheck as Arguments;
use crate::cli::failure::{Failure, Outcome};
use crate::cli::house::House;
use crate::cli::kits;
use crate::cli::layout;
use crate::cli::shop_folder::named_or_nearest;
use crate::kit::Kit;
use crate::quantity::Day;
use crate::record::day_of;
use crate::shop::{Right, Shop};

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let house = House::read(&named_or_nearest(arguments.shop.as_deref())?)?;
    let (shop, today) = (&house.shop, day_of(Timestamp::now()));
    let amiss = shop.amiss(today);
    let kits = kits::all(&house.folder)?;
    if arguments.json {
        layout::print(&as_json(shop, today, &kits, &amiss))?;
    } else {
        layout::print(&in_words(shop, today, &kits, &amiss))?;
    }
    Ok(if amiss.is_empty() { Outcome::Conforms } else { Outcome::DoesNotConform })
}

fn rights(rights: &[Right]) -> String {
    rights.iter().map(|right| right.word()).collect::<Vec<_>>().join(", ")
}

fn in_words(shop: &Shop, today: Day, kits: &[(String, Kit)], amiss: &[String]) -> String {
    let mut text = format!("{} on {today}\n\n", shop.name);
    for person in &shop.people {
        let time = match (person.from, person.until) {
            _ if !person.is_there_on(today) => "; not in the shop today",
            _ => "",
        };
        let key = if person.key.is_some() { "" } else { "; no key" };
        let may = rights(&shop.rights_of(person));
        let words = format!("{} ({}): {may}{key}{time}", person.name, person.roles.join(", "));
        let _ = writeln!(text, "{}", layout::labelled("  person      ", &words, WIDTH));
    }
    for instrument in &shop.instruments {
        let state = match instrument.calibration_due {
            Some(due) if due < today => format!("calibration was due on {due}"),
            Some(due) => format!("calibrated until {due} ({} days)", today.days_until(due)),
            None => "no calibration stated".to_owned(),
        };
        let serial = instrument.serial.as_ref().map(|serial| format!(", serial {serial}")).unwrap_or_default();
        let words = format!("{}{serial}: {state}", instrument.called());
        let _ = writeln!(text, "{}", layout::labelled("  instrument  ", &words, WIDTH));
    }
    for tool in &shop.tools {
        let state = match tool.checked_until {
            Some(until) if until < today => format!("its check was due on {until}"),
            Some(until) => format!("checked until {until}"),
            None => "no check stated".to_owned(),
        };
        let what = tool.description.as_ref().map(|what| format!(" ({what})")).unwrap_or_default();
        let _ =
            writeln!(text, "{}", layout::labelled("  tool        ", &format!("{}{what}: {state}", tool.name), WIDTH));
    }
    for (name, kit) in kits {
        let asked: Vec<&str> = kit.differs.iter().map(|differing| differing.name.as_str()).collect();
        let words = format!("{name}: {}; asked for: {}", kit.title, asked.join(", "));
        let _ = writeln!(text, "{}", layout::labelled("  kit         ", &words, WIDTH));
    }
    if amiss.is_empty() {
        let _ = writeln!(text, "\nnothing is amiss");
    } else {
        let _ = writeln!(text, "\namiss:");
        for says in amiss {
            let _ = writeln!(text, "{}", layout::labelled("  - ", says, WIDTH));
        }
    }
    text
}

fn as_json(shop: &Shop, today: Day, kits: &[(String, Kit)], amiss: &[String]) -> String {
    let day = |day: Option<Day>| day.map(|day| day.to_string());
    let people = shop.people.iter().map(|person| {
        json!({
            "name": person.name, "roles": person.roles, "key": person.key, "from": day(person.from),
            "until": day(person.until), "may": shop.rights_of(person).iter().map(|r| r.word()).collect::<Vec<_>>(),
        })
    });
    let instruments = shop
        .instruments
        .iter()
        .map(|own| json!({ "name": own.name, "serial": own.serial, "calibration_due": day(own.calibration_due) }));
    let tools = shop
        .tools
        .iter()
        .map(|own| json!({ "name": own.name, "serial": own.serial, "checked_until": day(own.checked_until) }));
    let kits: Vec<_> = kits.iter().map(|(name, kit)| json!({ "name": name, "title": kit.title })).collect();
    let all = json!({
        "name": shop.name, "day": today.to_string(), "people": people.collect::<Vec<_>>(),
        "instruments": instruments.collect::<Vec<_>>(), "tools": tools.collect::<Vec<_>>(), "kits": kits, "amiss": amiss,
    });
    all.to_string()
}
