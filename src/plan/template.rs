//! Fills the texts of a procedure in for one thing.

use serde_json::Value;
use tera::{Context, Kwargs, State, Tera, TeraResult};

use super::things;
use crate::job::{ItemKind, Job, loads_of, switches_of};

/// Fills texts in for one thing of one job.
pub(super) struct Writer {
    tera: Tera,
    context: Context,
}

impl Writer {
    pub(super) fn new(job: &Job, kind: ItemKind, item: &str) -> Self {
        let mut tera = Tera::new();
        let names = |find: fn(&Job, &str) -> Vec<String>| {
            let job = job.clone();
            move |arguments: Kwargs, _: &State| -> TeraResult<String> {
                let of: String = arguments.must_get("of")?;
                Ok(find(&job, &of).join(", "))
            }
        };
        tera.register_function("loads_of", names(loads_of));
        tera.register_function("switches_of", names(switches_of));
        let mut context = Context::new();
        context.insert("item", item);
        context.insert("thing", &things::thing(job, kind, item));
        context.insert("job", &things::job(job));
        Self { tera, context }
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

/// For the error message: what the texts may use.
pub(super) fn allowed_fields(job: &Job, kind: ItemKind, item: &str) -> String {
    match things::thing(job, kind, item) {
        Value::Object(fields) => fields.keys().map(|k| format!("thing.{k}")).collect::<Vec<_>>().join(", "),
        _ => String::new(),
    }
}
