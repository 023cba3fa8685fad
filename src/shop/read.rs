//! Reads `shop.toml`.

use std::cell::RefCell;

use super::people::alike;
use super::{Defaults, Limits, Person, Right, Role, Shop, Tool};
use crate::document::{Form, Problem, Problems, Source, Table, closest, parse_toml};
use crate::job::{Acceptance, Instrument, Level};
use crate::quantity::Day;

type KeyFile<'k> = &'k dyn Fn(&str) -> Result<String, String>;

pub(super) fn read(source: &Source, key_file: KeyFile) -> Result<Shop, Box<Problems>> {
    let problems = RefCell::new(Problems::new(source.clone()));
    let shop = read_file(source, key_file, &problems);
    let problems = problems.into_inner();
    match shop {
        Some(shop) => problems.check(shop),
        None => Err(Box::new(problems)),
    }
}

/// The form of the file, from a shop that uses every key.
pub(super) fn form() -> Form {
    let source = Source::new("every-key.toml", include_str!("every-key.toml"));
    let problems = RefCell::new(Problems::with_form(source.clone()));
    let _ = read_file(&source, &|_| Err(String::new()), &problems);
    problems.into_inner().into_form()
}

fn read_file(source: &Source, key_file: KeyFile, problems: &RefCell<Problems>) -> Option<Shop> {
    let document = parse_toml(source, problems);
    if !problems.borrow().is_empty() {
        return None;
    }
    let top = Table::new(document.get_ref(), 0..0, "the shop file", problems);
    top.check_format("shop");
    let name = top.required_text("name").unwrap_or_default();
    let jobs = top.text("jobs").unwrap_or_else(|| "jobs".to_owned());
    if jobs.starts_with(['/', '\\']) || jobs.split(['/', '\\']).any(|part| part == "..") || jobs.trim().is_empty() {
        let place = top.place_of("jobs");
        top.problem(Problem::at(place, "`jobs` is no folder below the shop", "a name such as \"jobs\""));
    }
    let roles: Vec<Role> = top.named_tables("role").into_iter().map(|(name, table)| read_role(name, table)).collect();
    let people = read_people(&top, &roles, key_file);
    let instruments = Instrument::read_all(&top);
    let tools = top.named_tables("tool").into_iter().map(|(name, table)| read_tool(name, table)).collect();
    let defaults = top.table("default").map_or_else(Defaults::default, |table| {
        let level = table.choice("level", Level::WORDS);
        let acceptance = table.choice("acceptance", Acceptance::WORDS);
        table.finish();
        Defaults { level, acceptance }
    });
    let limits = top.table("limit").map_or_else(Limits::default, read_limits);
    top.finish();
    let source = source.clone();
    Some(Shop { source, name, jobs, roles, people, instruments, tools, defaults, limits })
}

fn read_role(name: String, table: Table) -> Role {
    let mut may = Vec::new();
    if table.demands("may", "a list of work, release, concession, sign") {
        for (word, place) in table.texts("may") {
            if let Some((_, right)) = Right::WORDS.iter().find(|(own, _)| *own == word) {
                may.push(*right);
                continue;
            }
            let words: Vec<&str> = Right::WORDS.iter().map(|(word, _)| *word).collect();
            let label = format!("allowed: {}", words.join(", "));
            let mut problem = Problem::at(place, format!("`{word}` is nothing that a role may do"), label);
            if let Some(meant) = closest(&word, &words) {
                problem = problem.help(format!("did you mean \"{meant}\"?"));
            }
            table.problem(problem);
        }
    }
    let releases: Vec<String> = table.texts("releases").into_iter().map(|(id, _)| id).collect();
    if !releases.is_empty() && !may.contains(&Right::Release) {
        let title = format!("{} releases procedures, but may not release", table.title);
        table.problem(Problem::at(table.place_of("releases"), title, "add \"release\" to `may`, or leave this away"));
    }
    table.finish();
    Role { name, may, releases }
}

fn read_people(top: &Table, roles: &[Role], key_file: KeyFile) -> Vec<Person> {
    let mut people: Vec<Person> = Vec::new();
    for (id, table) in top.named_tables("person") {
        let name = table.required_text("name").unwrap_or_default();
        if let Some(other) = people.iter().find(|other| !name.is_empty() && alike(&other.name, &name)) {
            let title = format!("two people are called {name}");
            let problem =
                Problem::at(table.place_of("name"), title, format!("[person.{}] is called so already", other.id));
            table.problem(problem.help("a record tells people apart by their names: add a second name or a number"));
        }
        let person_roles = read_roles_of(&table, roles);
        let key = read_key(&table, key_file);
        if let Some(other) = people.iter().find(|other| key.is_some() && other.key == key) {
            let title = format!("{} and {name} have one key", other.name);
            let problem =
                Problem::at(table.place_of("key"), title, format!("the key of [person.{}] as well", other.id));
            table.problem(problem.help("a key stands for one person: let each make their own"));
        }
        let (from, until) = (day(&table, "from"), day(&table, "until"));
        if let (Some(from), Some(until)) = (from, until)
            && until < from
        {
            let title = format!("the time of {name} ends before it begins");
            table.problem(Problem::at(table.place_of("until"), title, format!("on or after {from}")));
        }
        table.finish();
        people.push(Person { id, name, roles: person_roles, key, from, until });
    }
    people
}

fn read_roles_of(table: &Table, roles: &[Role]) -> Vec<String> {
    if !table.demands("role", "the name of a role, or a list of them") {
        return Vec::new();
    }
    let mut own = Vec::new();
    let words: Vec<&str> = roles.iter().map(|role| role.name.as_str()).collect();
    for (word, place) in table.texts("role") {
        if let Some(role) = roles.iter().find(|role| alike(&role.name, &word)) {
            own.push(role.name.clone());
            continue;
        }
        let label = if words.is_empty() {
            format!("write a table [role.{word}] with `may`")
        } else {
            format!("the roles are: {}", words.join(", "))
        };
        let mut problem = Problem::at(place, format!("there is no role `{word}`"), label);
        if let Some(meant) = closest(&word, &words) {
            problem = problem.help(format!("did you mean \"{meant}\"?"));
        }
        table.problem(problem);
    }
    own
}

/// `ssh-ed25519 BASE64`, from the file that is named.
fn read_key(table: &Table, key_file: KeyFile) -> Option<String> {
    let path = table.text("key")?;
    let wrong = |title: String, label: &str| {
        let problem = Problem::at(table.place_of("key"), title, label);
        table.problem(
            problem.help("`ssh-keygen -t ed25519` makes one; the public half is the file that ends with .pub"),
        );
        None
    };
    let text = match key_file(&path) {
        Ok(text) => text,
        Err(says) => {
            return wrong(format!("the key {path} cannot be read: {says}"), "a path seen from the shop folder");
        }
    };
    let mut words = text.split_whitespace();
    match (words.next(), words.next()) {
        // A key of 32 bytes behind its kind, in Base64 (RFC 8709): 68 letters that begin alike.
        (Some("ssh-ed25519"), Some(key)) if key.len() == 68 && key.starts_with("AAAAC3NzaC1lZDI1NTE5AAAAI") => {
            Some(format!("ssh-ed25519 {key}"))
        }
        (Some("-----BEGIN"), _) => {
            wrong(format!("{path} is a private key"), "name the public half, and keep the private one away from here")
        }
        _ => wrong(format!("{path} holds no public key of the kind Ed25519"), "one line: ssh-ed25519 BASE64"),
    }
}

fn day(table: &Table, key: &str) -> Option<Day> {
    let text = table.text(key)?;
    let day = Day::parse(&text);
    if day.is_none() {
        table.problem(Problem::at(table.place_of(key), format!("`{text}` is no day"), "write it as \"2027-03-31\""));
    }
    day
}

fn read_tool(name: String, table: Table) -> Tool {
    let (description, serial, place) = (table.text("description"), table.text("serial"), table.text("place"));
    let checked_until = day(&table, "checked_until");
    table.finish();
    Tool { name, description, serial, place, checked_until }
}

fn read_limits(table: Table) -> Limits {
    let level = table.choice("level", Level::WORDS);
    let acceptance = table.choice("acceptance", Acceptance::WORDS);
    let allowed_drop = table.text("allowed_drop").and_then(|text| {
        let share = text.trim().strip_suffix('%').and_then(|n| n.trim().replace(',', ".").parse::<f64>().ok());
        let share = share.filter(|share| *share > 0.0 && *share < 100.0);
        if share.is_none() {
            let place = table.place_of("allowed_drop");
            table.problem(Problem::at(place, format!("`{text}` is not a share"), "write it as \"3 %\""));
        }
        share.map(|share| share / 100.0)
    });
    table.finish();
    Limits { level, acceptance, allowed_drop }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{self, YARD};

    #[test]
    fn a_shop_is_read_with_all_that_it_has() {
        let shop = sample::yard();
        assert_eq!((shop.name.as_str(), shop.jobs.as_str()), ("Orchard yard", "jobs"));
        assert_eq!((shop.people.len(), shop.roles.len(), shop.instruments.len()), (3, 2, 2));
        assert_eq!(shop.people[0].key.as_deref(), Some(sample::KEY));
        assert_eq!(shop.instruments[0].serial.as_deref(), Some("0417"));
    }

    #[test]
    fn the_sample_with_every_key_reads() {
        let text = include_str!("every-key.toml");
        let shop = sample::read(text).unwrap_or_else(|problems| panic!("{problems}"));
        assert_eq!(shop.limits.allowed_drop, Some(0.03));
    }

    #[test]
    fn all_problems_are_told_at_once() {
        let broken = YARD
            .replace("role = [\"installer\", \"lead\"]", "role = [\"installer\", \"laed\"]")
            .replace("name = \"Ash Thorn\"", "name = \"robin alder\"\nkey = \"keys/ash.pub\"\nfrom = \"2027-01-01\"")
            .replace("from = \"2026-03-01\"", "from = \"2026-02-30\"\nkey = \"keys/missing.pub\"")
            .replace("may = [\"work\"]", "may = [\"work\", \"sing\"]\nreleases = [\"fuse\"]");
        let says = sample::read(&broken).unwrap_err();
        for words in [
            "there is no role `laed`",
            "did you mean \"lead\"?",
            "two people are called robin alder",
            "have one key",
            "ends before it begins",
            "`2026-02-30` is no day",
            "keys/missing.pub cannot be read",
            "`sing` is nothing that a role may do",
            "may not release",
        ] {
            assert!(says.contains(words), "{words}:\n{says}");
        }
    }

    #[test]
    fn only_public_keys_of_one_kind_are_taken() {
        let says = sample::read(&YARD.replace("robin.pub", "wrong.pub")).unwrap_err();
        assert!(says.contains("holds no public key of the kind Ed25519"), "{says}");
    }
}
