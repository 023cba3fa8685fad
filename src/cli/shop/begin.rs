//! Makes the folder of a shop.

use std::path::Path;

use crate::cli::arguments::ShopBegin as Arguments;
use crate::cli::failure::{Failure, Outcome};
use crate::cli::house::House;
use crate::cli::shop_folder::SHOP_FILE;
use crate::cli::walk::say;
use crate::cli::{layout, settings, signing};
use crate::record::{RecordError, principal};

/// What the file says at the beginning; the words in capitals are filled in.
const BEGUN: &str = include_str!("begun.toml");

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let folder = &arguments.folder;
    let file = folder.join(SHOP_FILE);
    if file.exists() {
        return Err(Failure::message(format!("{} is there already and is not touched", file.display())));
    }
    let Some(person) = arguments.person.clone().or(settings::read()?.name).filter(|name| spoken(name)) else {
        return Err(Failure::message("who begins the shop?\n  name them: --person \"Robin Alder\""));
    };
    let own = std::path::absolute(folder).ok().and_then(|whole| Some(whole.file_name()?.to_str()?.to_owned()));
    let Some(name) = arguments.name.clone().or(own).filter(|name| spoken(name)) else {
        return Err(Failure::message("what is the shop called?\n  name it: --name \"Orchard yard\""));
    };
    for below in ["", "procedures", "keys", "kits", "jobs"] {
        let path = folder.join(below);
        std::fs::create_dir_all(&path).map_err(|error| RecordError::File { tried: "create", path, error })?;
    }
    // The passphrase of an encrypted key is not asked for: its public half lies beside it.
    let (key, new) = signing::own(&person, |_| None)?;
    if new {
        say(&signing::introduce(&key));
    }
    let id = principal(&person);
    write(&folder.join(format!("keys/{id}.pub")), &format!("{} {id}\n", key.public_line()?))?;
    write(&folder.join(".gitignore"), "ledger.sqlite*\n")?;
    let quoted = |text: &str| toml::Value::String(text.trim().to_owned()).to_string();
    let text = BEGUN.replace("NAME", &quoted(&name)).replace("PERSON", &quoted(&person)).replace("ID", &id);
    write(&file, &text)?;
    House::read(folder)?;
    let shown = folder.display();
    layout::print(&format!(
        "{}: {person} may do everything in it\n  people, instruments, limits   {}\n  jobs                          {shown}/jobs/VEHICLE/job.toml\n  \
         own procedures, kits          {shown}/procedures, {shown}/kits\n\nNext: write your instruments into it, then\n  rigproof shop check --shop {shown}",
        name.trim(),
        file.display(),
    ))?;
    Ok(Outcome::Conforms)
}

fn spoken(text: &str) -> bool {
    text.chars().any(char::is_alphanumeric)
}

fn write(path: &Path, text: &str) -> Result<(), Failure> {
    let written = std::fs::write(path, text);
    written.map_err(|error| RecordError::File { tried: "write", path: path.to_owned(), error }.into())
}
