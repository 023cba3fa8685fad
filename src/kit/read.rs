//! Reads `kit.toml`.

use std::cell::RefCell;

use super::{Differing, Kit, Place, Written, place};
use crate::document::{Form, Problem, Problems, Source, Table, closest, parse_toml};
use crate::job::Job;
use crate::quantity::{Dimension, parse_any};

pub(super) fn read(source: &Source, job: &Source) -> Result<Kit, Box<Problems>> {
    let of_job = RefCell::new(Problems::new(job.clone()));
    let document = parse_toml(job, &of_job);
    of_job.into_inner().check(())?;
    Job::read(job)?;
    let places = place::texts(document.get_ref());
    let problems = RefCell::new(Problems::new(source.clone()));
    let kit = read_file(source, job, &places, &problems);
    problems.into_inner().check(kit)
}

/// The form of the file, from a kit that uses every key.
pub(super) fn form() -> Form {
    let source = Source::new("every-key.toml", include_str!("every-key.toml"));
    let problems = RefCell::new(Problems::with_form(source.clone()));
    let _ = read_file(&source, &Source::new("job.toml", ""), &[], &problems);
    problems.into_inner().into_form()
}

fn read_file(source: &Source, job: &Source, places: &[Place], problems: &RefCell<Problems>) -> Kit {
    let mut kit = Kit { title: String::new(), job: job.clone(), differs: Vec::new() };
    let document = parse_toml(source, problems);
    if !problems.borrow().is_empty() {
        return kit;
    }
    let top = Table::new(document.get_ref(), 0..0, "the kit", problems);
    top.check_format("kit");
    kit.title = top.required_text("title").unwrap_or_default();
    if top.demands("differs", "a list of tables [[differs]], one for each value that is asked for") {
        for table in top.list_of_tables("differs") {
            let differing = read_differing(&table, places, &kit.differs);
            table.finish();
            kit.differs.extend(differing);
        }
    }
    top.finish();
    kit
}

fn read_differing(table: &Table, places: &[Place], before: &[Differing]) -> Option<Differing> {
    let name = table.required_text("name");
    if let Some(name) = &name {
        check_name(table, name, before);
    }
    let places = read_places(table, places, before);
    let (asks, why) = (table.required_text("asks"), table.required_text("why"));
    let find_out = table.text("find_out").unwrap_or_default();
    let form = read_form(table, &places);
    let usual = table.text("usual");
    let differing = Differing {
        name: name?,
        places,
        asks: asks?,
        why: why?,
        find_out,
        usual: usual.clone(),
        form: form.unwrap_or(Written::Words),
    };
    let usual = usual.and_then(|text| match differing.form().read(&text) {
        Ok(text) => Some(text),
        Err(refused) => {
            let title = format!("`usual`: {}", refused.says);
            table.problem(Problem::at(table.place_of("usual"), title, differing.form().written()));
            None
        }
    });
    Some(Differing { usual, ..differing })
}

/// A name is a key of the file of answers.
fn check_name(table: &Table, name: &str, before: &[Differing]) {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
    if !name.chars().all(plain) || !name.starts_with(|c: char| c.is_ascii_lowercase()) {
        let title = format!("`{name}` is no name for an answer");
        let label = "small letters, figures and _, such as way_to_lamp";
        table.problem(Problem::at(table.place_of("name"), title, label));
    } else if name == "format" || before.iter().any(|other| other.name == name) {
        let title = format!("`{name}` is taken already");
        table.problem(Problem::at(table.place_of("name"), title, "each answer has a name of its own"));
    }
}

fn read_places(table: &Table, places: &[Place], before: &[Differing]) -> Vec<Place> {
    if !table.demands("at", "the value of the job file that differs, such as \"wire.w3.length\", or a list of them") {
        return Vec::new();
    }
    let mut found = Vec::new();
    for (path, at) in table.texts("at") {
        let taken = before.iter().flat_map(|other| &other.places).chain(&found).any(|other| other.path == path);
        if taken {
            let title = format!("`{path}` is asked for twice");
            table.problem(Problem::at(at, title, "one answer for each value"));
        } else if let Some(place) = places.iter().find(|place| place.path == path) {
            found.push(place.clone());
        } else {
            let paths: Vec<&str> = places.iter().map(|place| place.path.as_str()).collect();
            let title = format!("the job of the kit has no text at `{path}`");
            let mut problem = Problem::at(at, title, "table, name and key of a text, such as wire.w3.length");
            if let Some(meant) = closest(&path, &paths) {
                problem = problem.help(format!("did you mean \"{meant}\"?"));
            }
            table.problem(problem);
        }
    }
    found
}

/// Words where nothing else is said; a quantity has bounds, so that a point in the wrong place is noticed.
fn read_form(table: &Table, places: &[Place]) -> Option<Written> {
    let [low, high] = ["low", "high"].map(|key| bound(table, key));
    let choices: Vec<String> = table.texts("choices").into_iter().map(|(word, _)| word).collect();
    if table.has("choices") {
        for key in ["low", "high"].into_iter().filter(|key| table.has(key)) {
            let title = format!("`choices` and `{key}` do not go together");
            table.problem(Problem::at(table.place_of(key), title, "either the words that are allowed, or two bounds"));
        }
        if choices.len() < 2 {
            let label = "a list of two or more";
            table.problem(Problem::at(table.place_of("choices"), "`choices` leaves no choice", label));
        }
        return Some(Written::Among(choices));
    }
    let stated = places.iter().find_map(|place| Some((place, Dimension::stated_in(&place.text)?)));
    if !table.has("low") && !table.has("high") {
        if let Some((place, dimension)) = stated {
            let title = format!("`{}` is a quantity ({}), and no bounds are stated", place.path, dimension.name());
            let label = format!("add `low` and `high` in {}, or `choices`", dimension.unit());
            table.problem(Problem::at(table.place_of("at"), title, label));
        }
        return Some(Written::Words);
    }
    for key in ["low", "high"].into_iter().filter(|key| !table.has(key)) {
        table.missing(key, "the other bound");
    }
    let ((low, of_low), (high, of_high)) = (low?, high?);
    if of_low != of_high || low >= high {
        let label = format!("above `low`, and a {} as well", of_low.name());
        table.problem(Problem::at(table.place_of("high"), "`low` and `high` are no bounds", label));
        return None;
    }
    for place in places.iter().filter(|place| parse_any(&place.text, of_low).is_err()) {
        let title = format!("`{}` is \"{}\", which is no {}", place.path, place.text, of_low.name());
        table.problem(Problem::at(table.place_of("at"), title, "what `low` and `high` are"));
    }
    Some(Written::Between(of_low, low, high))
}

fn bound(table: &Table, key: &str) -> Option<(f64, Dimension)> {
    let text = table.text(key)?;
    let read = Dimension::stated_in(&text).and_then(|dimension| {
        let (least, most) = parse_any(&text, dimension).ok()?;
        (least == most).then(|| (least.base(), dimension))
    });
    if read.is_none() {
        let title = format!("`{text}` is no bound");
        table.problem(Problem::at(table.place_of(key), title, "a number with its unit, such as \"12 m\""));
    }
    read
}

#[cfg(test)]
mod tests {
    use super::super::sample::{self, KIT};

    #[test]
    fn the_sample_with_every_key_reads() {
        let kit = sample::read(KIT).unwrap_or_else(|says| panic!("{says}"));
        let names: Vec<&str> = kit.differs.iter().map(|differing| differing.name.as_str()).collect();
        assert_eq!(names, ["vehicle", "identity", "way_to_lamp", "colour"]);
        assert_eq!(kit.differs[2].places.len(), 2);
        assert_eq!(kit.differs[2].places[0].text, "4 m ± 5 %");
    }

    #[test]
    fn all_problems_are_told_at_once() {
        let broken = KIT
            .replace("\"wire.w2.length\"", "\"wire.w2.lenght\"")
            .replace("name = \"identity\"", "name = \"vehicle\"")
            .replace("at = \"vehicle.description\"", "at = \"battery.capacity\"")
            .replace("high = \"9 m\"", "high = \"9 V\"")
            .replace("usual = \"red\"", "usual = \"yelow\"")
            + "\n[[differs]]\nname = \"Format\"\nat = \"vehicle.identity\"\nasks = \"?\"\nway = 1\n";
        let says = sample::read(&broken).unwrap_err();
        for words in [
            "the job of the kit has no text at `wire.w2.lenght`",
            "did you mean \"wire.w2.length\"?",
            "`vehicle` is taken already",
            "`battery.capacity` is a quantity (charge), and no bounds are stated",
            "`low` and `high` are no bounds",
            "did you mean yellow?",
            "`Format` is no name for an answer",
            "`vehicle.identity` is asked for twice",
            "`why` is missing",
            "has no key `way`",
        ] {
            assert!(says.contains(words), "{words}:\n{says}");
        }
    }
}
