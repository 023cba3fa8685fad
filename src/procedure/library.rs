use include_dir::{Dir, include_dir};

use super::{Hazard, Procedure, read};
use crate::document::{Form, Problem, Problems, Source};

static EMBEDDED: Dir = include_dir!("$CARGO_MANIFEST_DIR/procedures");

/// The file that holds the hazards.
const HAZARD_FILE: &str = "hazards.toml";

/// All procedures in the order in which they are walked, and the hazards they name.
#[derive(Debug, Clone)]
pub struct Library {
    /// In walking order.
    pub procedures: Vec<Procedure>,
    /// All hazards.
    pub hazards: Vec<Hazard>,
    /// The files it was read from.
    pub sources: Vec<Source>,
}

/// What is wrong with a library.
#[derive(Debug, Clone)]
pub struct LibraryError {
    /// The problems of each file.
    pub files: Vec<Problems>,
}

impl std::fmt::Display for LibraryError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let texts: Vec<_> = self.files.iter().map(ToString::to_string).collect();
        f.write_str(&texts.join("\n\n"))
    }
}

impl std::error::Error for LibraryError {}

impl Library {
    /// The files that this program carries with it.
    pub fn embedded_sources() -> Vec<Source> {
        let files = EMBEDDED.files().filter(|f| f.path().extension().is_some_and(|e| e == "toml"));
        files
            .filter_map(|f| Some(Source::new(format!("procedures/{}", f.path().display()), f.contents_utf8()?)))
            .collect()
    }

    /// The embedded files with those of `own` in the place of the ones of the same file name.
    pub fn sources_with(own: Vec<Source>) -> Vec<Source> {
        let mut all = Self::embedded_sources();
        all.retain(|embedded| !own.iter().any(|o| file_name(o) == file_name(embedded)));
        all.extend(own);
        all
    }

    /// Reads a library.
    ///
    /// # Errors
    /// The problems of all files.
    pub fn read(mut sources: Vec<Source>) -> Result<Library, LibraryError> {
        sources.sort_by(|a, b| file_name(a).cmp(file_name(b)));
        let mut files = Vec::new();
        let mut hazards = Vec::new();
        for source in sources.iter().filter(|s| file_name(s) == HAZARD_FILE) {
            match read::hazards(source) {
                Ok(read) => hazards.extend(read),
                Err(problems) => files.push(*problems),
            }
        }
        let mut procedures = Vec::new();
        for source in sources.iter().filter(|s| file_name(s) != HAZARD_FILE) {
            match read::procedure(source, &hazards) {
                Ok(procedure) => procedures.push(procedure),
                Err(problems) => files.push(*problems),
            }
        }
        if files.is_empty() {
            files = check_order(&procedures);
        }
        let procedures = in_walking_order(procedures);
        if files.is_empty() {
            files = check_conditions(&procedures);
        }
        if !files.is_empty() {
            return Err(LibraryError { files });
        }
        Ok(Library { procedures, hazards, sources })
    }

    /// The library that this program carries with it.
    ///
    /// # Errors
    /// None in a released program: a test reads it.
    pub fn embedded() -> Result<Library, LibraryError> {
        Self::read(Self::embedded_sources())
    }

    /// The forms of a procedure file and of a hazard file, as their readers ask for them.
    pub fn forms() -> (Form, Form) {
        let mut procedures = Self::embedded_sources();
        let at = procedures.iter().position(|s| file_name(s) == HAZARD_FILE);
        let hazards = at.map_or_else(|| Source::new(HAZARD_FILE, ""), |at| procedures.remove(at));
        procedures.push(Source::new("every-key.toml", include_str!("every-key.toml")));
        read::forms(&procedures, &hazards)
    }

    /// The hazard of this id.
    pub fn hazard(&self, id: &str) -> Option<&Hazard> {
        self.hazards.iter().find(|h| h.id == id)
    }
}

fn file_name(source: &Source) -> &str {
    source.name.rsplit(['/', '\\']).next().unwrap_or(&source.name)
}

fn check_order(procedures: &[Procedure]) -> Vec<Problems> {
    let mut files = Vec::new();
    let ids: Vec<&str> = procedures.iter().map(|p| p.id.as_str()).collect();
    for (index, procedure) in procedures.iter().enumerate() {
        let mut problems = Problems::new(procedure.source.clone());
        let place = |id: &str| procedure.source.text.find(&format!("\"{id}\"")).map(|at| at + 1..at + 1 + id.len());
        if ids[..index].contains(&procedure.id.as_str()) {
            let at = place(&procedure.id).unwrap_or(0..0);
            let title = format!("two procedures are called `{}`", procedure.id);
            problems.push(Problem::at(at, title, "rename one of the two"));
        }
        for id in procedure.after.iter().filter(|id| !ids.contains(&id.as_str())) {
            let at = place(id).unwrap_or(0..0);
            let mut problem =
                Problem::at(at, format!("no procedure is called `{id}`"), "`after` names ids of other procedures");
            if let Some(meant) = crate::document::closest(id, &ids) {
                problem = problem.help(format!("did you mean \"{meant}\"?"));
            }
            problems.push(problem);
        }
        if comes_after_itself(procedure, procedures) {
            let at = procedure.source.text.find("after").map_or(0..0, |at| at..at + 5);
            let title = format!("`{}` would have to come after itself", procedure.id);
            problems.push(Problem::at(at, title, "follow the `after` lists and break the circle"));
        }
        if !problems.is_empty() {
            files.push(problems);
        }
    }
    files
}

/// Conditions that look at a step of another procedure: it must come before.
fn check_conditions(in_order: &[Procedure]) -> Vec<Problems> {
    let mut files = Vec::new();
    for (at, procedure) in in_order.iter().enumerate() {
        let mut problems = Problems::new(procedure.source.clone());
        for condition in procedure.steps.iter().filter_map(|step| step.only_if.as_ref()) {
            let Some((there, id)) = condition.step.split_once('/') else { continue };
            let earlier = in_order[..at].iter().find(|p| p.id == there);
            let step = earlier.and_then(|p| p.steps.iter().find(|s| s.id == id));
            let problem = match (earlier, step) {
                (_, Some(step)) => read::unfit(condition, step),
                (Some(earlier), None) => {
                    let ids: Vec<&str> = earlier.steps.iter().map(|s| s.id.as_str()).collect();
                    let title = format!("`{there}` has no step `{id}`");
                    Some(Problem::at(condition.place.clone(), title, format!("its steps are {}", ids.join(", "))))
                }
                (None, None) => {
                    let title = format!("`{there}` is no procedure that comes before `{}`", procedure.id);
                    let problem = Problem::at(condition.place.clone(), title, "a condition looks at an earlier answer");
                    Some(problem.help(format!("name it in `after`: after = [\"{there}\"]")))
                }
            };
            if let Some(problem) = problem {
                problems.push(problem);
            }
        }
        if !problems.is_empty() {
            files.push(problems);
        }
    }
    files
}

fn comes_after_itself(start: &Procedure, all: &[Procedure]) -> bool {
    let mut open: Vec<&str> = start.after.iter().map(String::as_str).collect();
    let mut seen: Vec<&str> = Vec::new();
    while let Some(id) = open.pop() {
        if id == start.id {
            return true;
        }
        if !seen.contains(&id) {
            seen.push(id);
            open.extend(all.iter().filter(|p| p.id == id).flat_map(|p| p.after.iter().map(String::as_str)));
        }
    }
    false
}

/// Each procedure after all that it names; among those that may come next, the first by the name of its file.
fn in_walking_order(mut open: Vec<Procedure>) -> Vec<Procedure> {
    let mut ordered: Vec<Procedure> = Vec::with_capacity(open.len());
    while !open.is_empty() {
        let ready = |p: &Procedure| p.after.iter().all(|id| ordered.iter().any(|o: &Procedure| o.id == *id));
        let Some(next) = open.iter().position(ready) else { break };
        ordered.push(open.remove(next));
    }
    ordered.append(&mut open);
    ordered
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_library_reads_and_walks_from_survey_to_handover() {
        let library = Library::embedded().unwrap_or_else(|e| panic!("{e}"));
        let ids: Vec<_> = library.procedures.iter().map(|p| p.id.as_str()).collect();
        assert_eq!(ids.first(), Some(&"survey"), "{ids:?}");
        assert_eq!(ids.last(), Some(&"handover"), "{ids:?}");
        // Every operation that the trade asks for, in the order of the work.
        let needed = [
            "survey",
            "receive",
            "first-off",
            "baseline",
            "prepare",
            "dry-fit",
            "mount",
            "route",
            "terminate",
            "splice",
            "ground",
            "relay",
            "switch",
            "fuse",
            "dead-test",
            "first-power",
            "test",
            "interaction",
            "key-off",
            "water-test",
            "aim",
            "close-up",
            "handover",
        ];
        let places: Vec<_> = needed.map(|id| ids.iter().position(|known| *known == id)).to_vec();
        assert!(places.is_sorted() && places[0].is_some(), "{ids:?}");
        for needed in ["seal", "receive-relay", "receive-wire", "connect", "back-feed", "trigger"] {
            assert!(ids.contains(&needed), "{needed}");
        }
        for (place, procedure) in library.procedures.iter().enumerate() {
            for before in &procedure.after {
                assert!(ids.iter().position(|id| id == before).is_some_and(|at| at < place), "{before}");
            }
        }
    }

    #[test]
    fn an_instruction_is_at_most_twenty_words_a_sentence() {
        for procedure in Library::embedded().unwrap_or_else(|e| panic!("{e}")).procedures {
            for step in procedure.steps {
                let text = step.instruction.replace("{% if ", ". ").replace("{% else %}", ". ");
                for sentence in text.split(['.', ':', '?']) {
                    let words = sentence.split_whitespace().count();
                    assert!(words <= 20, "{}/{}: {words} words: {sentence}", procedure.id, step.id);
                }
            }
        }
    }
}
