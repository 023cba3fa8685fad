//! Fills the texts of a procedure in for one thing.

use std::rc::Rc;
use std::sync::Arc;

use serde_json::Value;
use tera::{Context, Kwargs, State, Tera, TeraResult};

use super::{Probes, things};
use crate::circuit::Expectation;
use crate::job::{ItemKind, Job, loads_of, switches_of};

/// Fills texts in for the things of one job.
pub(super) struct Pen {
    tera: Rc<Tera>,
    /// What every text may say.
    common: Context,
}

impl Pen {
    pub(super) fn new(job: &Job) -> Self {
        let mut tera = Tera::new();
        let of = Arc::new(job.clone());
        let names = |find: fn(&Job, &str) -> Vec<String>| {
            let job = of.clone();
            move |arguments: Kwargs, _: &State| -> TeraResult<String> {
                let of: String = arguments.must_get("of")?;
                Ok(find(&job, &of).join(", "))
            }
        };
        tera.register_function("loads_of", names(loads_of));
        tera.register_function("switches_of", names(switches_of));
        let mut common = Context::new();
        common.insert("job", &things::job(job));
        Self { tera: Rc::new(tera), common }
    }

    /// For one thing, and the thing that it is a member of.
    pub(super) fn writer(&self, job: &Job, kind: ItemKind, item: &str, group: Option<(ItemKind, &str)>) -> Writer {
        let mut context = self.common.clone();
        context.insert("item", item);
        context.insert("thing", &things::thing(job, kind, item));
        if let Some((kind, name)) = group {
            context.insert("group", name);
            context.insert("group_thing", &things::thing(job, kind, name));
        }
        Writer { tera: self.tera.clone(), context }
    }
}

/// Fills texts in for one thing of one job.
pub(super) struct Writer {
    tera: Rc<Tera>,
    context: Context,
}

impl Writer {
    /// What the texts of a measured step may say beside the rest: the probe points, and the range as designed.
    pub(super) fn measured(&mut self, probes: &Probes, expectation: &Expectation) {
        let (red, black) = match probes {
            Probes::Between(red, black) => (red.name(), black.name()),
            Probes::Wire(wire) => (wire.as_str(), wire.as_str()),
        };
        self.context.insert("red", red);
        self.context.insert("black", black);
        self.context.insert("expected", &expectation.range());
    }

    /// Forgets what only a measured step may say.
    pub(super) fn not_measured(&mut self) {
        for name in ["red", "black", "expected"] {
            self.context.remove(name);
        }
    }

    /// The text with everything filled in.
    ///
    /// Errors are the words of the template engine, with the line inside the text.
    pub(super) fn fill(&self, text: &str) -> Result<String, String> {
        if !text.contains(['{', '}']) {
            return Ok(text.to_owned());
        }
        let filled = self.tera.render_str(&with_named_arguments(text), &self.context, false);
        filled.map(|t| t.trim().to_owned()).map_err(|error| error.to_string())
    }

    /// Whether an expression holds.
    pub(super) fn holds(&self, expression: &str) -> Result<bool, String> {
        self.fill(&format!("{{% if {expression} %}}yes{{% endif %}}")).map(|t| t == "yes")
    }
}

/// The engine knows named arguments only; people write `loads_of(item)`.
fn with_named_arguments(text: &str) -> String {
    let mut text = text.to_owned();
    for function in ["loads_of(", "switches_of("] {
        text = text.replace(function, &format!("{function}of="));
        text = text.replace(&format!("{function}of=of="), &format!("{function}of="));
    }
    text
}

/// What the texts may say of a thing.
pub(super) fn fields(job: &Job, kind: ItemKind, item: &str) -> Vec<String> {
    match things::thing(job, kind, item) {
        Value::Object(fields) => fields.keys().cloned().collect(),
        _ => Vec::new(),
    }
}
