//! The form of a kind of file, noted while its reader reads a sample: which keys it asks for, of what kind, and which
//! must be there. The JSON Schema that editors use is written from it, so that it says what the reader does.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value, json};

use crate::quantity::Dimension;

/// What a reader asks for under a key.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    Text,
    Flag,
    Integer,
    /// One text or a list of them.
    Texts,
    Choice(Vec<String>),
    Quantity(Dimension),
    ConductorSize,
    Slope,
    Table,
    /// Tables with names of the person's own: `[fuse.F1]`.
    NamedTables,
    ListOfTables,
}

#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Seen {
    visits: usize,
    keys: BTreeMap<String, Key>,
    /// Its keys are the person's own, and their values texts.
    entries: bool,
    /// Tables with names of the person's own stand among its keys.
    inside: bool,
}

#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Key {
    kinds: BTreeSet<Kind>,
    required: usize,
}

/// The form of a kind of file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Form {
    tables: BTreeMap<String, Seen>,
}

/// Below a table: one with a fixed name, one with a name of the person's own, or one of a list.
pub(super) const OWN_NAME: &str = "*";

impl Form {
    /// A table of this path was read to its end. The file itself has an empty path.
    pub(super) fn visit(&mut self, path: &str) {
        self.tables.entry(path.to_owned()).or_default().visits += 1;
    }

    pub(super) fn asks(&mut self, path: &str, key: &str, kind: Kind) {
        self.key(path, key).kinds.insert(kind);
    }

    pub(super) fn requires(&mut self, path: &str, key: &str) {
        self.key(path, key).required += 1;
    }

    pub(super) fn takes_entries(&mut self, path: &str) {
        self.tables.entry(path.to_owned()).or_default().entries = true;
    }

    pub(super) fn takes_tables_inside(&mut self, path: &str) {
        self.tables.entry(path.to_owned()).or_default().inside = true;
    }

    fn key(&mut self, path: &str, key: &str) -> &mut Key {
        self.tables.entry(path.to_owned()).or_default().keys.entry(key.to_owned()).or_default()
    }

    /// Adds what another reading of the same kind of file found.
    pub fn join(&mut self, other: Form) {
        for (path, seen) in other.tables {
            let own = self.tables.entry(path).or_default();
            own.visits += seen.visits;
            own.entries |= seen.entries;
            own.inside |= seen.inside;
            for (name, key) in seen.keys {
                let own = own.keys.entry(name).or_default();
                own.kinds.extend(key.kinds);
                own.required += key.required;
            }
        }
    }

    /// As a JSON Schema (draft 2020-12).
    pub fn schema(&self, title: &str) -> Value {
        let mut schema = self.table_schema("");
        let head = [("$schema", "https://json-schema.org/draft/2020-12/schema"), ("title", title)];
        for (key, text) in head {
            schema.insert(key.to_owned(), text.into());
        }
        Value::Object(schema)
    }

    fn table_schema(&self, path: &str) -> Map<String, Value> {
        let mut schema = Map::new();
        schema.insert("type".into(), "object".into());
        let Some(seen) = self.tables.get(path) else { return schema };
        let mut properties = Map::new();
        for (name, key) in &seen.keys {
            properties.insert(name.clone(), self.key_schema(&below(path, name), name, key));
        }
        let required: Vec<&String> = seen
            .keys
            .iter()
            .filter(|(_, key)| seen.visits > 0 && key.required >= seen.visits)
            .map(|(name, _)| name)
            .collect();
        if !required.is_empty() {
            schema.insert("required".into(), json!(required));
        }
        schema.insert("properties".into(), Value::Object(properties));
        let others = if seen.entries {
            texts()
        } else if seen.inside {
            Value::Object(self.table_schema(&below(path, OWN_NAME)))
        } else {
            Value::Bool(false)
        };
        schema.insert("additionalProperties".into(), others);
        schema
    }

    fn key_schema(&self, path: &str, name: &str, key: &Key) -> Value {
        // A choice is read as a text first, and so is said as the choice alone.
        let plain = key.kinds.len() > 1;
        let kinds = key.kinds.iter().filter(|kind| !(plain && **kind == Kind::Text));
        let mut schemas: Vec<Value> = kinds.map(|kind| self.kind_schema(path, name, kind)).collect();
        match schemas.len() {
            1 => schemas.remove(0),
            _ => json!({ "anyOf": schemas }),
        }
    }

    fn kind_schema(&self, path: &str, name: &str, kind: &Kind) -> Value {
        match kind {
            Kind::Text => json!({ "type": "string" }),
            Kind::Flag => json!({ "type": "boolean" }),
            Kind::Integer if name == "format" => json!({ "const": 1 }),
            Kind::Integer => json!({ "type": "integer" }),
            Kind::Texts => texts(),
            Kind::Choice(words) => json!({ "enum": words }),
            Kind::Quantity(dimension) => {
                let unit = dimension.unit();
                json!({ "type": "string", "description": format!("a {} with its unit, such as \"12 {unit}\"; a tolerance follows after ± or +/-", dimension.name()) })
            }
            Kind::ConductorSize => {
                json!({ "type": "string", "description": "the size of a conductor, such as \"2.5 mm²\" or \"14 AWG\"" })
            }
            Kind::Slope => {
                json!({ "type": "string", "description": "how far a beam tilts below the horizontal, such as \"1 %\" or \"0.57 °\"; minus where it rises" })
            }
            Kind::Table => Value::Object(self.table_schema(path)),
            Kind::NamedTables => {
                json!({ "type": "object", "additionalProperties": self.table_schema(&below(path, OWN_NAME)) })
            }
            Kind::ListOfTables => json!({ "type": "array", "items": self.table_schema(path) }),
        }
    }
}

fn texts() -> Value {
    json!({ "anyOf": [{ "type": "string" }, { "type": "array", "items": { "type": "string" } }] })
}

/// The path of a table below another.
pub(super) fn below(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}/{key}") }
}
