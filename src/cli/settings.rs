//! What a person sets once: `settings.toml` in the program's folder of settings.

use std::cell::RefCell;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;

use super::arguments::{Command, OwnProcedures, Paper, ProceduresCommand, Settings as Arguments};
use super::failure::{Failure, Outcome};
use super::files::read_text;
use super::{house, layout};
use crate::document::{Form, Problems, Source, Table, parse_toml};
use crate::record::{RecordError, write_durably};

/// What stands in the file. What is left out is asked for, or is as the help of the command says.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Settings {
    /// Who works, as it is offered to the person.
    pub name: Option<String>,
    /// In which role.
    pub role: Option<String>,
    /// The key to sign with.
    pub key: Option<PathBuf>,
    /// The paper of prints.
    pub paper: Option<Paper>,
    /// Inches and pounds as well.
    pub inch: bool,
    /// No colours and lines.
    pub plain: bool,
    /// Folder of own procedures.
    pub procedures: Option<PathBuf>,
}

/// A file in the folder of this program's settings.
pub(super) fn file(name: &str) -> Result<PathBuf, Failure> {
    let base = etcetera::choose_base_strategy()
        .map_err(|error| Failure::message(format!("no home folder is known ({error}); name a key with --key FILE")))?;
    Ok(base.config_dir().join("rigproof").join(name))
}

const FILE: &str = "settings.toml";
/// A file that sets everything: the form for editors, and the beginning of a person's own.
const SAMPLE: &str = include_str!("every-setting.toml");

/// The form of the file.
pub(super) fn form() -> Form {
    let source = Source::new("every-setting.toml", SAMPLE);
    let problems = RefCell::new(Problems::with_form(source.clone()));
    let _ = read_source(&source, Path::new(""), &problems);
    problems.into_inner().into_form()
}

/// The settings of this person; nothing is set where there is no file, or no home to look for one.
pub(super) fn read() -> Result<Settings, Failure> {
    let Ok(path) = file(FILE) else { return Ok(Settings::default()) };
    if !path.exists() {
        return Ok(Settings::default());
    }
    let source = Source::new(path.display().to_string(), read_text(&path)?);
    let problems = RefCell::new(Problems::new(source.clone()));
    let settings = read_source(&source, path.parent().unwrap_or(Path::new("")), &problems);
    Ok(problems.into_inner().check(settings)?)
}

fn read_source(source: &Source, folder: &Path, problems: &RefCell<Problems>) -> Settings {
    let document = parse_toml(source, problems);
    if !problems.borrow().is_empty() {
        return Settings::default();
    }
    let top = Table::new(document.get_ref(), 0..0, "the file of settings", problems);
    top.check_format("settings");
    // A relative path is seen from the file in which it stands.
    let path = |key: &str| top.text(key).map(|text| folder.join(text));
    let settings = Settings {
        name: top.text("name"),
        role: top.text("role"),
        key: path("key"),
        paper: top.choice("paper", &[("a4", Paper::A4), ("letter", Paper::Letter)]),
        inch: top.flag("inch"),
        plain: top.flag("plain"),
        procedures: path("procedures"),
    };
    top.finish();
    settings
}

/// Fills in what the call leaves open; what the call says goes before.
pub(super) fn fill(command: &mut Command) -> Result<(), Failure> {
    // The call goes before the shop, the shop before the person's own settings.
    let own = |own: &mut OwnProcedures, beside: &Path, settings: &Settings| -> Result<(), Failure> {
        own.procedures = house::own_procedures(beside, own.procedures.as_deref())?.or(settings.procedures.clone());
        Ok(())
    };
    match command {
        Command::Walk(walk) => {
            let settings = read()?;
            own(&mut walk.own, &walk.job, &settings)?;
            walk.key = walk.key.take().or(settings.key);
            walk.inch |= settings.inch;
            walk.plain |= settings.plain;
        }
        Command::New(new) => new.plain |= read()?.plain,
        Command::Sign(sign) => sign.key = sign.key.take().or(read()?.key),
        Command::Sheet(sheet) => {
            let settings = read()?;
            sheet.paper = sheet.paper.or(settings.paper);
            if sheet.record.is_none() {
                own(&mut sheet.own, &sheet.job, &settings)?;
            }
        }
        Command::Report(report) => report.paper = report.paper.or(read()?.paper),
        Command::Materials(lists) if lists.out.is_some() => lists.paper = lists.paper.or(read()?.paper),
        Command::Expect(expect) => own(&mut expect.own, &expect.job, &read()?)?,
        Command::Cover(cover) => own(&mut cover.own, &cover.job, &read()?)?,
        Command::Procedures(procedures) => match &mut procedures.command {
            ProceduresCommand::List { own: named } | ProceduresCommand::Show { own: named, .. } => {
                own(named, Path::new("."), &read()?)?;
            }
            ProceduresCommand::Check { .. } => {}
        },
        _ => {}
    }
    Ok(())
}

/// `rigproof settings`: where the file lies and what it says; `--write` begins one.
pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let path = file(FILE)?;
    if arguments.write {
        if path.exists() {
            return Err(Failure::message(format!("{} is there already and is not touched", path.display())));
        }
        let folder = path.parent().unwrap_or(Path::new("."));
        std::fs::create_dir_all(folder).map_err(|error| RecordError::File {
            tried: "create",
            path: folder.to_owned(),
            error,
        })?;
        write_durably(&path, beginning().as_bytes())?;
        layout::print(&format!(
            "wrote {}\n  every line in it begins with #: take that away where it is to hold",
            path.display()
        ))?;
        return Ok(Outcome::Conforms);
    }
    let settings = read()?;
    let there = if path.exists() { "" } else { " (not there: `rigproof settings --write` begins it)" };
    let mut text = format!("file        {}{there}\n", path.display());
    let paper = settings.paper.map(|paper| if matches!(paper, Paper::A4) { "a4" } else { "letter" }.to_owned());
    let shown = |path: Option<PathBuf>| path.map(|path| path.display().to_string());
    let rows = [
        ("name", settings.name),
        ("role", settings.role),
        ("key", shown(settings.key)),
        ("paper", paper),
        ("inch", settings.inch.then(|| "true".to_owned())),
        ("plain", settings.plain.then(|| "true".to_owned())),
        ("procedures", shown(settings.procedures)),
    ];
    for (key, value) in rows {
        let _ = writeln!(text, "{key:<11} {}", value.unwrap_or_else(|| "not set".to_owned()));
    }
    layout::print(&text)?;
    Ok(Outcome::Conforms)
}

/// The sample with every setting as a remark.
fn beginning() -> String {
    let line = |line: &str| {
        if line.is_empty() || line.starts_with('#') || line.starts_with("format") {
            format!("{line}\n")
        } else {
            format!("# {line}\n")
        }
    };
    SAMPLE.lines().skip(1).map(line).collect()
}
