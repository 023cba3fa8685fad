//! The folder of a shop: the nearest upward that holds a shop.toml.

use std::path::{Path, PathBuf};

use super::failure::Failure;

/// Name of the shop's own file.
pub(super) const SHOP_FILE: &str = "shop.toml";

/// The folder that is named, else the nearest upward from the folder of the call.
pub(super) fn named_or_nearest(named: Option<&Path>) -> Result<PathBuf, Failure> {
    if let Some(folder) = named {
        if folder.is_dir() {
            return Ok(folder.to_owned());
        }
        return Err(Failure::message(format!("--shop {}: this is no folder", folder.display())));
    }
    let here = std::env::current_dir().map_err(|error| Failure::message(format!("the folder of the call: {error}")))?;
    above(&here).map(|folder| if folder == here { PathBuf::from(".") } else { folder }).ok_or_else(|| {
        Failure::message(format!(
            "no shop folder: {SHOP_FILE} lies neither here nor in a folder above\n  name the folder with --shop DIR"
        ))
    })
}

/// The nearest folder with a shop's file, from a folder upward.
pub(super) fn above(folder: &Path) -> Option<PathBuf> {
    folder.ancestors().find(|folder| folder.join(SHOP_FILE).is_file()).map(Path::to_owned)
}
