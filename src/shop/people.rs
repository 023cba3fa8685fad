//! People and roles: who may do what, on which day, with which key.

use super::{Refusal, Shop};
use crate::document::closest;
use crate::quantity::Day;

/// Something that not everybody may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Right {
    /// Take the work over and answer its steps.
    Work,
    /// Release a hold point.
    Release,
    /// Permit that something stays outside its limits.
    Concession,
    /// Sign the work off.
    Sign,
}

impl Right {
    /// The words of the shop file.
    pub const WORDS: &'static [(&'static str, Right)] =
        &[("work", Self::Work), ("release", Self::Release), ("concession", Self::Concession), ("sign", Self::Sign)];

    /// The word of the shop file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, right)| *right == self).map_or("", |(word, _)| word)
    }

    /// As it stands behind `may`.
    pub fn verb(self) -> &'static str {
        match self {
            Self::Work => "work",
            Self::Release => "release a hold point",
            Self::Concession => "grant a concession",
            Self::Sign => "sign off",
        }
    }
}

/// A role, and what whoever has it may do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Role {
    /// Its name.
    pub name: String,
    /// What it may do.
    pub may: Vec<Right>,
    /// The procedures whose hold points it may release; all where it names none.
    pub releases: Vec<String>,
}

impl Role {
    /// Whether it may do something, of a procedure where one is named.
    pub fn allows(&self, right: Right, procedure: Option<&str>) -> bool {
        let of_its_own = |procedure: &str| self.releases.is_empty() || self.releases.iter().any(|own| own == procedure);
        self.may.contains(&right) && (right != Right::Release || procedure.is_none_or(of_its_own))
    }
}

/// A person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// The short name in the shop file: `[person.robin]`.
    pub id: String,
    /// The name that stands in records.
    pub name: String,
    /// Names of the roles that the person has.
    pub roles: Vec<String>,
    /// The public key, `ssh-ed25519 BASE64`; `None` for somebody who signs nothing.
    pub key: Option<String>,
    /// The first day on which the person may do anything.
    pub from: Option<Day>,
    /// The last one.
    pub until: Option<Day>,
}

impl Person {
    /// Whether a day lies in the person's time.
    pub fn is_there_on(&self, day: Day) -> bool {
        self.from.is_none_or(|from| from <= day) && self.until.is_none_or(|until| day <= until)
    }

    /// Whether the person has a role of this name.
    pub fn has_role(&self, role: &str) -> bool {
        self.roles.iter().any(|own| alike(own, role))
    }
}

/// Whether two names are the same but for capitals and white space.
pub(super) fn alike(a: &str, b: &str) -> bool {
    let plain = |name: &str| name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    plain(a) == plain(b)
}

/// A list in words; `none` where it is empty.
fn listed(names: &[String]) -> String {
    if names.is_empty() { "nobody".to_owned() } else { names.join(", ") }
}

impl Shop {
    /// The person of this name, whatever its capitals.
    pub fn person(&self, name: &str) -> Option<&Person> {
        self.people.iter().find(|person| alike(&person.name, name))
    }

    /// The role of this name, whatever its capitals.
    pub fn role(&self, name: &str) -> Option<&Role> {
        self.roles.iter().find(|role| alike(&role.name, name))
    }

    /// Everything that a person may do in any role, whatever the day.
    pub fn rights_of(&self, person: &Person) -> Vec<Right> {
        let all = Right::WORDS.iter().map(|(_, right)| *right);
        all.filter(|right| person.roles.iter().filter_map(|r| self.role(r)).any(|r| r.allows(*right, None))).collect()
    }

    /// Those who may do something on a day, each with the roles that give the right: `Robin Alder (lead)`.
    pub fn who_may(&self, right: Right, procedure: Option<&str>, day: Day) -> Vec<String> {
        let there = self.people.iter().filter(|person| person.is_there_on(day));
        let with_roles = there.filter_map(|person| {
            let roles = person.roles.iter().filter_map(|role| self.role(role));
            let roles: Vec<&str> =
                roles.filter(|role| role.allows(right, procedure)).map(|role| role.name.as_str()).collect();
            (!roles.is_empty()).then(|| format!("{} ({})", person.name, roles.join(", ")))
        });
        with_roles.collect()
    }

    /// Whether somebody may do something on a day: in one role where that is known, else in any of their own; for a
    /// release of the hold points of one procedure.
    ///
    /// # Errors
    /// [`Refusal`]: not on the list, another role, a role without the right, a time that has not begun or is over.
    pub fn may(
        &self,
        (name, role): (&str, Option<&str>),
        right: Right,
        procedure: Option<&str>,
        day: Day,
    ) -> Result<&Person, Refusal> {
        let others = || format!("Who may {} on {day}: {}", right.verb(), listed(&self.who_may(right, procedure, day)));
        let Some(person) = self.person(name) else {
            let known: Vec<&str> = self.people.iter().map(|p| p.name.as_str()).collect();
            let meant = closest(name, &known).map(|meant| format!("Did you mean {meant}? ")).unwrap_or_default();
            let way_out = format!("{meant}{}. Or write a [person.{}] into shop.toml", others(), short_name(name));
            return Err(Refusal::new(format!("{name} is not on the list of people of {}", self.name), way_out + "."));
        };
        let id = &person.id;
        if let Some(from) = person.from.filter(|from| day < *from) {
            let reason =
                format!("the time of {} in {} begins on {from} only, and this is {day}", person.name, self.name);
            return Err(Refusal::new(
                reason,
                format!("{}. Or set another `from` in [person.{id}] of shop.toml.", others()),
            ));
        }
        if let Some(until) = person.until.filter(|until| *until < day) {
            let reason = format!("the time of {} in {} ended on {until}, and this is {day}", person.name, self.name);
            return Err(Refusal::new(
                reason,
                format!("{}. Or set another `until` in [person.{id}] of shop.toml.", others()),
            ));
        }
        if let Some(role) = role
            && !person.has_role(role)
        {
            let reason = format!(
                "{} has not the role {} in {}, but {}",
                person.name,
                role.trim(),
                self.name,
                person.roles.join(", ")
            );
            let known = self.role(role).map_or(String::new(), |role| {
                format!(" Or add \"{}\" to `role` in [person.{id}] of shop.toml.", role.name)
            });
            return Err(Refusal::new(reason, format!("Take one of these roles.{known}")));
        }
        let own = person.roles.iter().filter(|own| role.is_none_or(|role| alike(own, role)));
        let own: Vec<&Role> = own.filter_map(|own| self.role(own)).collect();
        if own.iter().any(|role| role.allows(right, procedure)) {
            return Ok(person);
        }
        let names = own.iter().map(|role| role.name.as_str()).collect::<Vec<_>>().join(", ");
        let of = match procedure {
            Some(procedure) if own.iter().any(|role| role.may.contains(&right)) => format!(" of `{procedure}`"),
            _ => String::new(),
        };
        let reason = format!("{} ({names}) may not {}{of} in {}", person.name, right.verb(), self.name);
        let first = own.first().map_or("", |role| role.name.as_str());
        let change = if of.is_empty() {
            format!("Or add \"{}\" to `may` in [role.{first}] of shop.toml.", right.word())
        } else {
            "Or add the procedure to `releases` of the role in shop.toml.".to_owned()
        };
        Err(Refusal::new(reason, format!("{}. {change}", others())))
    }

    /// Whether a public key, `ssh-ed25519 BASE64`, is the one that the shop knows as a person's own.
    ///
    /// # Errors
    /// [`Refusal`]: the person has no key here, or another one.
    pub fn key_is_of(&self, person: &Person, key: &str) -> Result<(), Refusal> {
        let (name, id) = (&person.name, &person.id);
        match &person.key {
            None => Err(Refusal::new(
                format!("{} knows no key of {name}", self.name),
                format!(
                    "Put the public key into keys/{id}.pub and write key = \"keys/{id}.pub\" into [person.{id}] of shop.toml."
                ),
            )),
            Some(own) if own == key => Ok(()),
            Some(_) => {
                let whose = self.people.iter().find(|other| other.key.as_deref() == Some(key));
                let whose =
                    whose.map_or("a key that nobody in the shop has".to_owned(), |p| format!("the key of {}", p.name));
                Err(Refusal::new(
                    format!("this is {whose}, and not the key of {name} in shop.toml"),
                    format!("Name the private half of the key in [person.{id}]: --key FILE, or `key` in the answers."),
                ))
            }
        }
    }
}

/// A name for a table of the file: `Robin Alder` becomes `robin-alder`.
fn short_name(name: &str) -> String {
    let plain: String = name.trim().to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    if plain.chars().any(char::is_alphanumeric) { plain } else { "NAME".to_owned() }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{KEY, yard};
    use super::*;

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    fn refused(who: (&str, Option<&str>), right: Right, procedure: Option<&str>, on: &str) -> String {
        yard().may(who, right, procedure, day(on)).unwrap_err().to_string()
    }

    #[test]
    fn who_has_the_role_and_the_time_may() {
        let shop = yard();
        for (who, right) in [
            (("Robin Alder", Some("installer")), Right::Work),
            (("robin  alder", Some("Lead")), Right::Sign),
            (("Robin Alder", None), Right::Concession),
            (("Ash Thorn", Some("installer")), Right::Work),
        ] {
            assert!(shop.may(who, right, None, day("2026-06-30")).is_ok(), "{who:?}");
        }
        assert!(shop.may(("Robin Alder", None), Right::Release, Some("ground"), day("2026-06-30")).is_ok());
    }

    #[test]
    fn each_refusal_says_why_and_what_can_be_done() {
        let says = refused(("Robin Adler", Some("lead")), Right::Work, None, "2026-11-26");
        assert!(says.contains("not on the list") && says.contains("Did you mean Robin Alder?"), "{says}");
        let says = refused(("Ash Thorn", Some("installer")), Right::Work, None, "2026-07-01");
        assert!(says.contains("ended on 2026-06-30") && says.contains("Robin Alder (installer, lead)"), "{says}");
        assert!(!says.contains("Ash Thorn (installer)"), "{says}");
        let says = refused(("Sam Rowan", None), Right::Work, None, "2026-02-28");
        assert!(says.contains("begins on 2026-03-01"), "{says}");
        let says = refused(("Sam Rowan", Some("lead")), Right::Work, None, "2026-11-26");
        assert!(says.contains("has not the role lead") && says.contains("[person.sam]"), "{says}");
        let says = refused(("Sam Rowan", None), Right::Sign, None, "2026-11-26");
        assert!(says.contains("(installer) may not sign off") && says.contains("Robin Alder (lead)"), "{says}");
        let says = refused(("Robin Alder", None), Right::Release, Some("fuse"), "2026-11-26");
        assert!(says.contains("of `fuse`") && says.contains("`releases`"), "{says}");
    }

    #[test]
    fn a_right_of_one_role_is_not_that_of_another() {
        let says = refused(("Robin Alder", Some("installer")), Right::Sign, None, "2026-11-26");
        assert!(says.contains("(installer) may not sign off"), "{says}");
    }

    #[test]
    fn a_key_is_of_whom_the_shop_says() {
        let shop = yard();
        let robin = shop.person("Robin Alder").unwrap();
        assert_eq!(shop.key_is_of(robin, KEY), Ok(()));
        let says = shop.key_is_of(shop.person("Sam Rowan").unwrap(), KEY).unwrap_err().to_string();
        assert!(says.contains("knows no key of Sam Rowan"), "{says}");
        let says = shop.key_is_of(robin, "ssh-ed25519 AAAA").unwrap_err().to_string();
        assert!(says.contains("nobody in the shop has"), "{says}");
    }
}
