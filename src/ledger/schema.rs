//! The tables of the ledger, each column with its meaning: one list, from which SQLite and every export take theirs.

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// A whole number.
    Integer,
    /// A number, in the unit that the column beside it names or its meaning states.
    Real,
    /// Yes or no.
    Flag,
    /// A day, `2027-03-31`.
    Day,
    /// A moment by UTC, to the microsecond: `2027-03-31T09:30:00.000000Z`.
    Moment,
}

/// A column.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// Whether it may be empty.
    pub optional: bool,
    /// What it means.
    pub says: &'static str,
}

/// A table. Its first `key` columns tell its rows apart.
#[derive(Debug, Clone, Copy)]
pub struct Table {
    /// Its name.
    pub name: &'static str,
    /// What a row is.
    pub says: &'static str,
    /// How many columns, from the first, make a row the only one.
    pub key: usize,
    /// Its columns.
    pub columns: &'static [Column],
}

const fn must(name: &'static str, kind: Kind, says: &'static str) -> Column {
    Column { name, kind, optional: false, says }
}

const fn may(name: &'static str, kind: Kind, says: &'static str) -> Column {
    Column { name, kind, optional: true, says }
}

const RECORD: Column = must("record", Kind::Text, "the record: the first 16 digits of the hash of its first line");
const ENTRY: Column = must("entry", Kind::Integer, "number of the entry in the journal, from 0");
const AT: Column = must("at", Kind::Moment, "when, by the clock of the machine");
const STEP: Column = must("step", Kind::Text, "the step: procedure/thing/step");
const BY: Column = must("by", Kind::Text, "who was on duty");

/// All tables.
pub const TABLES: &[Table] = &[
    Table {
        name: "record",
        says: "one record: the work on one vehicle",
        key: 1,
        columns: &[
            RECORD,
            must("folder", Kind::Text, "where it lies, seen from the folder of the ledger, with /"),
            must("title", Kind::Text, "title of the job"),
            must("vehicle", Kind::Text, "the vehicle in words"),
            may("identity", Kind::Text, "registration or VIN, where the job states it"),
            may("work_order", Kind::Text, "number of the order, where the job states it"),
            may("begun", Kind::Moment, "time of the first entry"),
            may("last", Kind::Moment, "time of the last entry"),
            must("standing", Kind::Text, "open, conforms, does-not-conform, unreadable"),
            must("steps", Kind::Integer, "steps of the plan"),
            must("done", Kind::Integer, "steps that are closed"),
            may("next_step", Kind::Text, "where an open walk stands"),
            may("on_duty", Kind::Text, "who was on duty last"),
            must("seals", Kind::Integer, "how many of its parts bear a seal"),
            may("recheck_due", Kind::Day, "when it is to be looked at again, while that was not done"),
            must("head", Kind::Text, "SHA-256 of its last line"),
            may("trouble", Kind::Text, "the first thing that is wrong with it"),
        ],
    },
    Table {
        name: "reading",
        says: "one reading, value or observation that a step asked for, first or repeated",
        key: 2,
        columns: &[
            RECORD,
            ENTRY,
            AT,
            STEP,
            must("procedure", Kind::Text, "id of the procedure"),
            must("thing", Kind::Text, "the part, wire or terminal"),
            BY,
            may("instrument", Kind::Text, "the instrument, where the job names it"),
            may("tool", Kind::Text, "the tool: what was written at the step `tool` of the same procedure and thing"),
            may("quantity", Kind::Text, "voltage, current, ...; empty for a text"),
            may("unit", Kind::Text, "unit of value, digit, low and high"),
            may("value", Kind::Real, "the reading; empty for over-range and for a text"),
            may("digit", Kind::Real, "one step of the last digit that was typed"),
            may("low", Kind::Real, "lower limit that was applied"),
            may("high", Kind::Real, "upper limit that was applied"),
            may("text", Kind::Text, "the text, where it is one"),
            must("verdict", Kind::Text, "conforms, recorded, unexpected, undecided, does-not-conform"),
            must("attempt", Kind::Integer, "1 for the first answer to the step, then 2, 3, ..."),
            must("stands", Kind::Flag, "whether it is the last answer to the step"),
        ],
    },
    Table {
        name: "decision",
        says: "what was done about a reading that did not conform or surprised",
        key: 2,
        columns: &[
            RECORD,
            ENTRY,
            AT,
            STEP,
            must("procedure", Kind::Text, "id of the procedure"),
            BY,
            must("what", Kind::Text, "measure-again, rework, repair, concession, explained, nonconformity"),
            may("reason", Kind::Text, "why"),
            may("permitted_by", Kind::Text, "who granted a concession"),
            must("stands", Kind::Flag, "whether the step was not answered again after it"),
        ],
    },
    Table {
        name: "fault",
        says: "the likeliest fault by the readings up to a decision, as the program's model says (weights of faults are \
               estimates without field data)",
        key: 2,
        columns: &[
            RECORD,
            ENTRY,
            AT,
            STEP,
            BY,
            must("fault", Kind::Text, "kind of the fault, as in the file of weights; unexplained where none is likely"),
            must("place", Kind::Text, "the part, wire or terminal"),
            must("probability", Kind::Real, "its share of all probability, 0 to 1"),
        ],
    },
    Table {
        name: "work",
        says: "time between entries, told to the operation of the later one",
        key: 4,
        columns: &[
            RECORD,
            must("procedure", Kind::Text, "id of the procedure"),
            must("thing", Kind::Text, "the part, wire or terminal"),
            BY,
            must("seconds", Kind::Real, "time without pauses, in seconds"),
            must("pauses", Kind::Integer, "gaps of more than an hour, which count for nothing"),
        ],
    },
    Table {
        name: "instrument",
        says: "an instrument of a job",
        key: 2,
        columns: &[
            RECORD,
            must("name", Kind::Text, "as the job calls it"),
            may("description", Kind::Text, "in words"),
            may("serial", Kind::Text, "the number on it"),
            may("calibration_due", Kind::Day, "as the job states it"),
        ],
    },
    Table {
        name: "signature",
        says: "a sign-off",
        key: 2,
        columns: &[
            RECORD,
            ENTRY,
            AT,
            must("name", Kind::Text, "who signed"),
            must("role", Kind::Text, "in which role"),
            must("statement", Kind::Text, "what was stated"),
        ],
    },
    Table {
        name: "release",
        says: "a hold point that was released",
        key: 2,
        columns: &[
            RECORD,
            ENTRY,
            AT,
            STEP,
            must("name", Kind::Text, "who released it"),
            must("signed", Kind::Flag, "whether with a key"),
        ],
    },
];

impl Kind {
    /// One word for a list of columns.
    pub fn word(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Integer => "integer",
            Self::Real => "number",
            Self::Flag => "flag",
            Self::Day => "day",
            Self::Moment => "moment",
        }
    }

    /// The type of SQLite.
    fn in_sqlite(self) -> &'static str {
        match self {
            Self::Text | Self::Day | Self::Moment => "TEXT",
            Self::Integer | Self::Flag => "INTEGER",
            Self::Real => "REAL",
        }
    }
}

impl Table {
    /// The table of this name.
    pub fn named(name: &str) -> Option<&'static Table> {
        TABLES.iter().find(|table| table.name == name)
    }

    /// The names of its columns, in their order.
    pub fn names(&self) -> Vec<&'static str> {
        self.columns.iter().map(|column| column.name).collect()
    }

    /// The columns that tell its rows apart.
    pub fn key_names(&self) -> Vec<&'static str> {
        self.columns[..self.key].iter().map(|column| column.name).collect()
    }

    fn create_in_sqlite(&self) -> String {
        let column = |c: &Column| {
            format!("  \"{}\" {}{}", c.name, c.kind.in_sqlite(), if c.optional { "" } else { " NOT NULL" })
        };
        let columns: Vec<String> = self.columns.iter().map(column).collect();
        let key = self.key_names().join("\", \"");
        format!(
            "CREATE TABLE \"{}\" (\n{},\n  PRIMARY KEY (\"{key}\")\n) WITHOUT ROWID;\n",
            self.name,
            columns.join(",\n")
        )
    }
}

/// The statements that make an empty ledger.
pub(super) fn create() -> String {
    let mut text: String = TABLES.iter().map(Table::create_in_sqlite).collect();
    // What lies where, and whether it was looked at since it changed: of this machine, and in no export.
    text.push_str("CREATE TABLE seen (folder TEXT PRIMARY KEY, stamp TEXT NOT NULL, record TEXT) WITHOUT ROWID;\n");
    text.push_str("CREATE INDEX seen_by_record ON seen (record);\n");
    text.push_str("CREATE INDEX reading_by_step ON reading (step);\n");
    text.push_str("CREATE INDEX reading_by_instrument ON reading (instrument);\n");
    text.push_str("CREATE INDEX reading_by_tool ON reading (tool);\n");
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_table_tells_its_rows_apart_by_columns_that_are_never_empty() {
        for table in TABLES {
            assert_eq!(table.columns[0].name, "record", "{}", table.name);
            assert!(table.columns[..table.key].iter().all(|column| !column.optional), "{}", table.name);
            let mut names = table.names();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), table.columns.len(), "{}", table.name);
            // So it stands in the list of columns, and in comments of other engines.
            assert!(!table.columns.iter().any(|column| column.says.contains('"')), "{}", table.name);
        }
    }
}
