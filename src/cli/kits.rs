//! The kits of a shop: folders below `kits/`, each with a `kit.toml` and a `job.toml`.

use std::path::{Path, PathBuf};

use super::failure::Failure;
use super::files::read_text;
use super::house::House;
use crate::document::{Source, closest};
use crate::kit::Kit;

/// Name of a kit's own file.
pub(super) const KIT_FILE: &str = "kit.toml";

/// The folder of a kit that is named as a path, or as the shop around `beside` or around the folder of the call calls it.
pub(super) fn find(named: &str, beside: &Path) -> Result<PathBuf, Failure> {
    if Path::new(named).join(KIT_FILE).is_file() {
        return Ok(PathBuf::from(named));
    }
    let house = House::around(beside)?.map_or_else(|| House::around(Path::new(".")), |house| Ok(Some(house)))?;
    let Some(house) = house else {
        return Err(Failure::message(format!(
            "no kit {named}: {} is not there\n  name the folder of a kit, or work in a shop folder with kits/{named}",
            Path::new(named).join(KIT_FILE).display()
        )));
    };
    let kits = in_shop(&house.folder);
    let called = |folder: &&PathBuf| folder.file_name().is_some_and(|name| name.to_str() == Some(named));
    if let Some(folder) = kits.iter().find(called) {
        return Ok(folder.clone());
    }
    let names: Vec<String> =
        kits.iter().filter_map(|kit| Some(kit.file_name()?.to_string_lossy().into_owned())).collect();
    let words: Vec<&str> = names.iter().map(String::as_str).collect();
    let has = if words.is_empty() { "it has none".to_owned() } else { format!("it has {}", words.join(", ")) };
    let meant = closest(named, &words).map(|meant| format!("\n  did you mean {meant}?")).unwrap_or_default();
    let folder = house.folder.join("kits");
    Err(Failure::message(format!("{} has no kit {named}: {has} ({}){meant}", house.shop.name, folder.display())))
}

/// Reads a kit from its folder.
pub(super) fn read(folder: &Path) -> Result<Kit, Failure> {
    let source = |name: &str| -> Result<Source, Failure> {
        let path = folder.join(name);
        Ok(Source::new(path.display().to_string(), read_text(&path)?))
    };
    Ok(Kit::read(&source(KIT_FILE)?, &source("job.toml")?)?)
}

/// What a kit is called by: the name of its folder.
pub(super) fn called(folder: &Path) -> String {
    let name = folder.canonicalize().ok().and_then(|whole| Some(whole.file_name()?.to_string_lossy().into_owned()));
    name.unwrap_or_else(|| folder.display().to_string())
}

/// All kits of a shop, each with what it is called by.
///
/// # Errors
/// The problems of all kits at once.
pub(super) fn all(shop: &Path) -> Result<Vec<(String, Kit)>, Failure> {
    let (mut kits, mut problems) = (Vec::new(), Vec::new());
    for folder in in_shop(shop) {
        match read(&folder) {
            Ok(kit) => kits.push((called(&folder), kit)),
            Err(Failure::Problems(own)) => problems.extend(own),
            Err(other) => return Err(other),
        }
    }
    if problems.is_empty() { Ok(kits) } else { Err(Failure::Problems(problems)) }
}

/// The folders of all kits of a shop, by name.
fn in_shop(shop: &Path) -> Vec<PathBuf> {
    let folders = std::fs::read_dir(shop.join("kits")).into_iter().flatten().flatten().map(|entry| entry.path());
    let mut kits: Vec<PathBuf> = folders.filter(|folder| folder.join(KIT_FILE).is_file()).collect();
    kits.sort();
    kits
}
