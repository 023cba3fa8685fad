//! Pictures in a record: turned upright, without anything that the camera wrote beside the picture (its place, its time,
//! its number), and named by what they hold.

use std::io::Cursor;
use std::path::Path;

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageDecoder, ImageReader, Limits};

use super::entry::{Entry, sha256_hex};
use super::error::RecordError;
use super::folder::{all_files, write_durably};
use crate::plan::StepKey;
use crate::walk::Event;

/// The folder of the pictures in the record.
pub(super) const EVIDENCE: &str = "evidence";

/// Longest side of a kept picture, in pixels: enough to read a label.
const LONGEST: u32 = 2000;
/// Quality of the JPEG that is written.
const QUALITY: u8 = 85;
/// Memory that a picture may take while it is read, in bytes.
const MEMORY: u64 = 512 * 1024 * 1024;

/// Reads a picture, drops everything but its pixels, and puts it into the record; gives the event that says so.
///
/// # Errors
/// [`RecordError::Photo`] where it is no JPEG or PNG picture; the file system's word.
pub(super) fn keep(folder: &Path, step: &StepKey, path: &Path) -> Result<Event, RecordError> {
    let bytes = std::fs::read(path).map_err(RecordError::file("read", path))?;
    let upright = read(&bytes).map_err(|says| RecordError::Photo { says: format!("{}: {says}", path.display()) })?;
    let mut kept = Vec::new();
    JpegEncoder::new_with_quality(&mut kept, QUALITY)
        .encode_image(&upright.to_rgb8())
        .map_err(|error| RecordError::Photo { says: format!("{}: {error}", path.display()) })?;
    let sha256 = sha256_hex(&kept);
    let file = format!("{EVIDENCE}/{}.jpg", &sha256[..16]);
    let place = folder.join(EVIDENCE);
    std::fs::create_dir_all(&place).map_err(RecordError::file("create", &place))?;
    write_durably(&folder.join(&file), &kept)?;
    let original = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    Ok(Event::Photographed { step: step.clone(), file, sha256, original, original_sha256: sha256_hex(&bytes) })
}

fn read(bytes: &[u8]) -> Result<DynamicImage, String> {
    let mut limits = Limits::default();
    limits.max_alloc = Some(MEMORY);
    let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|error| error.to_string())?;
    reader.limits(limits);
    let no_picture = |error: image::ImageError| format!("this is no JPEG or PNG picture ({error})");
    let mut decoder = reader.into_decoder().map_err(no_picture)?;
    let turned = decoder.orientation().map_err(no_picture)?;
    let mut picture = DynamicImage::from_decoder(decoder).map_err(no_picture)?;
    picture.apply_orientation(turned);
    if picture.width().max(picture.height()) > LONGEST {
        picture = picture.resize(LONGEST, LONGEST, image::imageops::FilterType::Triangle);
    }
    Ok(picture)
}

/// What differs between the pictures and the entries that name them.
pub(super) fn trouble(folder: &Path, entries: &[Entry]) -> Vec<String> {
    let named: Vec<(&String, &String)> = entries
        .iter()
        .filter_map(|entry| match &entry.event {
            Event::Photographed { file, sha256, .. } => Some((file, sha256)),
            _ => None,
        })
        .collect();
    let mut trouble = Vec::new();
    for (file, sha256) in &named {
        match std::fs::read(folder.join(file)) {
            Ok(bytes) if sha256_hex(&bytes) == **sha256 => {}
            Ok(_) => trouble.push(format!("{file} is not the picture that was taken into the record")),
            Err(error) => trouble.push(format!("{file}: {error}")),
        }
    }
    let evidence = folder.join(EVIDENCE);
    let files = if evidence.is_dir() { all_files(&evidence).unwrap_or_default() } else { Vec::new() };
    for name in files {
        let name = format!("{EVIDENCE}/{name}");
        // A picture whose entry was never written: the program ended in between.
        if !named.iter().any(|(file, _)| **file == name) && !name.ends_with(super::folder::UNFINISHED) {
            trouble.push(format!("{name} is named by no entry"));
        }
    }
    trouble
}
