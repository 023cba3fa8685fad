//! Reads a TOML table key by key, keeps the place of everything, and notes every problem instead of
//! stopping at the first. (Derived readers stop at the first and lose places inside tagged tables.)

use std::cell::RefCell;
use std::collections::HashSet;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::form::{Kind, OWN_NAME, below};
use super::{Form, Problem, Problems, Source};
use crate::quantity::{ConductorSize, Quantity, QuantityError, Slope, Toleranced, parse_toleranced};

/// Parses a whole file; its syntax errors are noted in `problems`.
///
/// Where the syntax is broken the table holds what could be read.
pub fn parse_toml<'t>(source: &'t Source, problems: &RefCell<Problems>) -> Spanned<DeTable<'t>> {
    let (table, errors) = DeTable::parse_recoverable(&source.text);
    for error in errors {
        let at = error.span().unwrap_or(0..0);
        let problem = Problem::at(at, format!("this is not valid TOML: {}", error.message()), "here");
        problems.borrow_mut().push(problem.help("a value is a text in quotes, a number, true, false, or a [list]"));
    }
    table
}

/// One table of a file, being read.
pub struct Table<'t> {
    keys: &'t DeTable<'t>,
    /// Where the table stands in the file.
    pub place: Range<usize>,
    /// What a person calls it: `[fuse.F1]`.
    pub title: String,
    problems: &'t RefCell<Problems>,
    known: RefCell<HashSet<String>>,
    /// Its place in the form of the file.
    path: String,
}

impl<'t> Table<'t> {
    /// Starts to read a table.
    pub fn new(
        table: &'t DeTable<'t>,
        place: Range<usize>,
        title: impl Into<String>,
        problems: &'t RefCell<Problems>,
    ) -> Self {
        Self::below(table, place, title.into(), problems, String::new())
    }

    fn below(
        table: &'t DeTable<'t>,
        place: Range<usize>,
        title: String,
        problems: &'t RefCell<Problems>,
        path: String,
    ) -> Self {
        Self { keys: table, place, title, problems, known: RefCell::default(), path }
    }

    /// Notes something in the form of the file, where that is wanted.
    fn note(&self, note: impl FnOnce(&mut Form, &str)) {
        if let Some(form) = self.problems.borrow_mut().form.as_deref_mut() {
            note(form, &self.path);
        }
    }

    fn asks(&self, key: &str, kind: Kind) {
        self.note(|form, path| form.asks(path, key, kind));
    }

    fn requires(&self, key: &str) {
        self.note(|form, path| form.requires(path, key));
    }

    /// Notes a problem.
    pub fn problem(&self, problem: Problem) {
        self.problems.borrow_mut().push(problem);
    }

    fn value(&self, key: &str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.known.borrow_mut().insert(key.to_owned());
        self.keys.get(key)
    }

    /// Whether the key is there, without reading it.
    pub fn has(&self, key: &str) -> bool {
        self.keys.contains_key(key)
    }

    /// Where the value of a key stands; the table itself where the key is missing.
    pub fn place_of(&self, key: &str) -> Range<usize> {
        self.keys.get(key).map_or(self.place.clone(), inner)
    }

    fn wrong_kind(&self, key: &str, value: &Spanned<DeValue>, wanted: &str) {
        let title = format!("`{key}` must be {wanted}");
        let label = format!("this is {}", kind_name(value.get_ref()));
        self.problem(Problem::at(value.span(), title, label));
    }

    /// A text.
    pub fn text(&self, key: &str) -> Option<String> {
        self.asks(key, Kind::Text);
        let value = self.value(key)?;
        if let Some(text) = value.get_ref().as_str() {
            return Some(text.to_owned());
        }
        self.wrong_kind(key, value, "a text in quotes");
        None
    }

    /// A text that must be there and not be blank.
    pub fn required_text(&self, key: &str) -> Option<String> {
        self.requires(key);
        if !self.has(key) {
            self.missing(key, "a text");
            return None;
        }
        let text = self.text(key)?;
        if text.trim().is_empty() {
            self.problem(Problem::at(self.place_of(key), format!("`{key}` is empty"), "write a text here"));
            return None;
        }
        Some(text)
    }

    /// Whether a key that must be there is there; notes it as missing where it is not.
    pub fn demands(&self, key: &str, wanted: &str) -> bool {
        self.requires(key);
        if !self.has(key) {
            self.missing(key, wanted);
        }
        self.has(key)
    }

    /// A table that must be there.
    pub fn required_table(&self, key: &str, wanted: &str) -> Option<Table<'t>> {
        self.requires(key);
        if !self.has(key) {
            self.missing_table(key, wanted);
        }
        self.table(key)
    }

    /// Takes a key as known without reading it: what is wrong with it is said elsewhere.
    pub fn leave(&self, key: &str) {
        self.known.borrow_mut().insert(key.to_owned());
    }

    /// Notes that a key is missing.
    pub fn missing(&self, key: &str, wanted: &str) {
        self.known.borrow_mut().insert(key.to_owned());
        let title = format!("`{key}` is missing in {}", self.title);
        self.problem(Problem::at(self.place.clone(), title, format!("add `{key} = ...`, {wanted}")));
    }

    /// Notes that a whole table is missing.
    fn missing_table(&self, key: &str, wanted: &str) {
        self.known.borrow_mut().insert(key.to_owned());
        let title = format!("[{key}] is missing in {}", self.title);
        self.problem(Problem::at(self.place.clone(), title, format!("add a table [{key}] with {wanted}")));
    }

    /// The format number that every file begins with.
    pub fn check_format(&self, what: &str) {
        self.requires("format");
        match self.integer("format") {
            Some(1) => {}
            Some(other) => {
                let title = format!("{what} format {other} is not known");
                self.problem(
                    Problem::at(self.place_of("format"), title, "this program reads format 1").help("write format = 1"),
                );
            }
            None if !self.has("format") => {
                let title = format!("`format` is missing in {}", self.title);
                self.problem(Problem::at(self.place.clone(), title, "begin the file with format = 1"));
            }
            None => {}
        }
    }

    /// true or false; false where the key is missing.
    pub fn flag(&self, key: &str) -> bool {
        self.asks(key, Kind::Flag);
        let Some(value) = self.value(key) else { return false };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.wrong_kind(key, value, "true or false");
            false
        })
    }

    /// A whole number.
    pub fn integer(&self, key: &str) -> Option<i64> {
        self.asks(key, Kind::Integer);
        let value = self.value(key)?;
        let number = value.get_ref().as_integer().and_then(|n| i64::from_str_radix(n.as_str(), n.radix()).ok());
        if number.is_none() {
            self.wrong_kind(key, value, "a whole number");
        }
        number
    }

    /// A quantity with its tolerance.
    pub fn quantity<Q: Quantity>(&self, key: &str) -> Option<Toleranced<Q>> {
        self.asks(key, Kind::Quantity(Q::DIMENSION));
        let value = self.value(key)?;
        let Some(text) = value.get_ref().as_str() else {
            let example = format!("a text with number and unit, such as \"12 {}\"", Q::DIMENSION.unit());
            self.wrong_kind(key, value, &example);
            return None;
        };
        self.noted(key, value, parse_toleranced(text))
    }

    /// A quantity that must be there.
    pub fn required_quantity<Q: Quantity>(&self, key: &str) -> Option<Toleranced<Q>> {
        self.requires(key);
        if !self.has(key) {
            self.missing(key, &format!("a {} with its unit ({})", Q::DIMENSION.name(), Q::DIMENSION.unit()));
            return None;
        }
        self.quantity(key)
    }

    /// A quantity that cannot be zero or negative at any point of its tolerance.
    pub fn positive<Q: Quantity>(&self, key: &str) -> Option<Toleranced<Q>> {
        self.bounded(key, |q: &Toleranced<Q>| q.low().base() > 0.0, "must be above zero, its tolerance included")
    }

    /// A quantity that cannot be negative at any point of its tolerance.
    pub fn not_negative<Q: Quantity>(&self, key: &str) -> Option<Toleranced<Q>> {
        self.bounded(key, |q: &Toleranced<Q>| q.low().base() >= 0.0, "cannot be negative, its tolerance included")
    }

    fn bounded<Q: Quantity>(
        &self,
        key: &str,
        accept: impl Fn(&Toleranced<Q>) -> bool,
        says: &str,
    ) -> Option<Toleranced<Q>> {
        let quantity = self.quantity::<Q>(key)?;
        if accept(&quantity) {
            return Some(quantity);
        }
        let label = format!("this reaches down to {}", quantity.low().base());
        self.problem(Problem::at(self.place_of(key), format!("`{key}` {says}"), label));
        None
    }

    /// A required quantity above zero.
    pub fn required_positive<Q: Quantity>(&self, key: &str) -> Option<Toleranced<Q>> {
        if !self.has(key) {
            return self.required_quantity(key);
        }
        self.requires(key);
        self.positive(key)
    }

    /// The size of a conductor; required.
    pub fn conductor_size(&self, key: &str) -> Option<ConductorSize> {
        self.requires(key);
        self.asks(key, Kind::ConductorSize);
        let Some(value) = self.value(key) else {
            self.missing(key, "the conductor size, such as \"2.5 mm²\" or \"14 AWG\"");
            return None;
        };
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_kind(key, value, "a text such as \"2.5 mm²\" or \"14 AWG\"");
            return None;
        };
        self.noted(key, value, ConductorSize::parse(text))
    }

    /// How far a beam tilts below the horizontal.
    pub fn slope(&self, key: &str) -> Option<Slope> {
        self.asks(key, Kind::Slope);
        let value = self.value(key)?;
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_kind(key, value, "a text such as \"1 %\" or \"0.57 °\"");
            return None;
        };
        self.noted(key, value, Slope::parse(text))
    }

    fn noted<T>(&self, key: &str, value: &Spanned<DeValue>, result: Result<T, QuantityError>) -> Option<T> {
        match result {
            Ok(good) => Some(good),
            Err(error) => {
                // The opening quote is one byte; escapes inside a quantity text are not worth more care.
                let start = value.span().start + 1;
                let at = if error.at.is_empty() { value.span() } else { start + error.at.start..start + error.at.end };
                self.problem(Problem::at(at, format!("`{key}`: {}", error.says), "here").help(error.help));
                None
            }
        }
    }

    /// One of a few words.
    pub fn choice<T: Copy>(&self, key: &str, choices: &[(&str, T)]) -> Option<T> {
        self.asks(key, Kind::Choice(choices.iter().map(|(word, _)| (*word).to_owned()).collect()));
        let text = self.text(key)?;
        if let Some((_, value)) = choices.iter().find(|(word, _)| *word == text) {
            return Some(*value);
        }
        let words: Vec<_> = choices.iter().map(|(word, _)| *word).collect();
        let mut problem = Problem::at(
            self.place_of(key),
            format!("`{text}` is not a `{key}`"),
            format!("allowed: {}", words.join(", ")),
        );
        if let Some(meant) = closest(&text, &words) {
            problem = problem.help(format!("did you mean \"{meant}\"?"));
        }
        self.problem(problem);
        None
    }

    /// One of a few words; required.
    pub fn required_choice<T: Copy>(&self, key: &str, choices: &[(&str, T)]) -> Option<T> {
        self.requires(key);
        if !self.has(key) {
            let words: Vec<_> = choices.iter().map(|(word, _)| *word).collect();
            self.missing(key, &format!("one of {}", words.join(", ")));
            return None;
        }
        self.choice(key, choices)
    }

    /// A list of texts with their places; a single text counts as a list of one.
    pub fn texts(&self, key: &str) -> Vec<(String, Range<usize>)> {
        self.asks(key, Kind::Texts);
        self.list(key)
    }

    fn list(&self, key: &str) -> Vec<(String, Range<usize>)> {
        let Some(value) = self.value(key) else { return Vec::new() };
        if let Some(text) = value.get_ref().as_str() {
            return vec![(text.to_owned(), value.span())];
        }
        let Some(array) = value.get_ref().as_array() else {
            self.wrong_kind(key, value, "a list of texts");
            return Vec::new();
        };
        let mut texts = Vec::new();
        for entry in array {
            match entry.get_ref().as_str() {
                Some(text) => texts.push((text.to_owned(), entry.span())),
                None => self.wrong_kind(key, entry, "a list of texts"),
            }
        }
        texts
    }

    /// A table inside this one.
    pub fn table(&self, key: &str) -> Option<Table<'t>> {
        self.asks(key, Kind::Table);
        let value = self.value(key)?;
        if let Some(table) = value.get_ref().as_table() {
            let place = heading(value, self.key_place(key));
            Some(Table::below(table, place, format!("[{key}]"), self.problems, below(&self.path, key)))
        } else {
            self.wrong_kind(key, value, &format!("a table, written [{key}]"));
            None
        }
    }

    /// The tables with a name that stand among the keys of this table: `[battery.second]` inside `[battery]`.
    pub fn tables_inside(&self) -> Vec<(String, Table<'t>)> {
        self.note(Form::takes_tables_inside);
        let mut named = Vec::new();
        for (name, entry) in self.keys {
            if let Some(inside) = entry.get_ref().as_table() {
                let name = (name.get_ref().to_string(), name.span());
                self.known.borrow_mut().insert(name.0.clone());
                let title = format!("{}.{}]", self.title.trim_end_matches(']'), name.0);
                let path = below(&self.path, OWN_NAME);
                named.push((name.0, Table::below(inside, heading(entry, name.1), title, self.problems, path)));
            }
        }
        named.sort_by_key(|(_, table)| table.place.start);
        named
    }

    /// The named tables below a key: `[fuse.F1]`, `[fuse.F2]`, in the order of the file.
    pub fn named_tables(&self, key: &str) -> Vec<(String, Table<'t>)> {
        self.asks(key, Kind::NamedTables);
        let Some(value) = self.value(key) else { return Vec::new() };
        let Some(table) = value.get_ref().as_table() else {
            self.wrong_kind(key, value, &format!("tables with a name, written [{key}.NAME]"));
            return Vec::new();
        };
        let mut named = Vec::new();
        for (name, entry) in table {
            let title = format!("[{key}.{}]", name.get_ref());
            match entry.get_ref().as_table() {
                Some(inside) => {
                    let place = heading(entry, name.span());
                    let path = below(&below(&self.path, key), OWN_NAME);
                    let table = Table::below(inside, place, title, self.problems, path);
                    named.push((name.get_ref().to_string(), table));
                }
                None => self.problem(Problem::at(
                    name.span(),
                    format!("[{key}] needs a name: `{}` stands where a part is expected", name.get_ref()),
                    format!("write [{key}.NAME] above it"),
                )),
            }
        }
        named.sort_by_key(|(_, table)| table.place.start);
        named
    }

    /// A list of tables, `[[step]]` or `[{ ... }, { ... }]`.
    pub fn list_of_tables(&self, key: &str) -> Vec<Table<'t>> {
        self.asks(key, Kind::ListOfTables);
        let Some(value) = self.value(key) else { return Vec::new() };
        let Some(array) = value.get_ref().as_array() else {
            self.wrong_kind(key, value, &format!("a list of tables, written [[{key}]]"));
            return Vec::new();
        };
        let mut tables = Vec::new();
        for (index, entry) in array.iter().enumerate() {
            match entry.get_ref().as_table() {
                Some(table) => {
                    let title = format!("[[{key}]] number {}", index + 1);
                    let path = below(&self.path, key);
                    tables.push(Table::below(table, entry.span(), title, self.problems, path));
                }
                None => self.wrong_kind(key, entry, "a table"),
            }
        }
        tables
    }

    /// All keys with their text values and places, in the order of the file.
    pub fn text_entries(&self) -> Vec<(String, Vec<String>, Range<usize>)> {
        self.note(Form::takes_entries);
        let mut entries: Vec<_> =
            self.keys.iter().map(|(key, value)| (key.get_ref().to_string(), value.span())).collect();
        entries.sort_by_key(|(_, place)| place.start);
        entries
            .into_iter()
            .map(|(key, place)| {
                let texts = self.list(&key).into_iter().map(|(text, _)| text).collect();
                (key, texts, place)
            })
            .collect()
    }

    fn key_place(&self, key: &str) -> Range<usize> {
        self.keys.get_key_value(key).map_or(self.place.clone(), |(k, _)| k.span())
    }

    /// Notes every key that nobody asked for, and ends the reading.
    pub fn finish(self) {
        self.note_unknown_keys();
    }

    /// Notes every key that nobody asked for. Call it when everything was asked.
    pub fn note_unknown_keys(&self) {
        self.note(Form::visit);
        let known = self.known.borrow();
        let words: Vec<&str> = known.iter().map(String::as_str).collect();
        let mut unknown: Vec<_> = self.keys.keys().filter(|k| !known.contains(k.get_ref().as_ref())).collect();
        unknown.sort_by_key(|k| k.span().start);
        for key in unknown {
            let mut allowed = words.clone();
            allowed.sort_unstable();
            let mut problem = Problem::at(
                key.span(),
                format!("{} has no key `{}`", self.title, key.get_ref()),
                format!("allowed: {}", allowed.join(", ")),
            );
            if let Some(meant) = closest(key.get_ref(), &words) {
                problem = problem.help(format!("did you mean `{meant}`?"));
            }
            self.problem(problem);
        }
    }
}

/// The allowed word that was probably meant.
pub(crate) fn closest<'w>(typed: &str, words: &[&'w str]) -> Option<&'w str> {
    words
        .iter()
        .map(|word| (strsim::jaro_winkler(&typed.to_lowercase(), &word.to_lowercase()), *word))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, word)| word)
}

fn kind_name(value: &DeValue) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number without quotes",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// A text without its quotes.
fn inner(value: &Spanned<DeValue>) -> Range<usize> {
    let span = value.span();
    if value.get_ref().is_str() && span.len() > 2 { span.start + 1..span.end - 1 } else { span }
}

/// The heading of a table: its own line where it has one, else its key.
fn heading(value: &Spanned<DeValue>, key: Range<usize>) -> Range<usize> {
    let span = value.span();
    if span.is_empty() || span.start > key.start && span.len() > 200 { key } else { span }
}
