//! Pictures in a record: turned upright, without anything that the camera wrote beside the picture (its place, its time,
//! its number), and named by what they hold.

use std::io::Cursor;
use std::path::Path;

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageDecoder, ImageReader, Limits};

use super::entry::{Entry, sha256_hex};
use super::error::RecordError;
use super::files::{Hashes, create_folder, read_plain, write_durably};
use super::layout::{EVIDENCE, UNFINISHED, is_evidence_name};
use crate::plan::StepKey;
use crate::walk::Event;

/// Longest side of a kept picture, in pixels: enough to read a label.
const LONGEST: u32 = 2000;
/// Quality of the JPEG that is written.
const QUALITY: u8 = 85;
/// Quality of the small JPEG that a report shows.
const QUALITY_SMALL: u8 = 75;
/// Memory that a picture may take while it is read, in bytes.
const MEMORY: u64 = 512 << 20;
/// Longest side of a picture that is read at all, in pixels: what a panorama of a telephone may have.
const WIDEST: u32 = 30_000;
/// Most bytes of a file that is read: a raw picture of a large camera is below.
const LARGEST: u64 = 64 << 20;

/// Reads a picture, drops everything but its pixels, and puts it into the record; gives the event that says so.
///
/// # Errors
/// [`RecordError::Photo`] where it is no JPEG or PNG picture; the file system's word.
pub(super) fn keep(folder: &Path, step: &StepKey, path: &Path) -> Result<Event, RecordError> {
    let bytes = read_plain(path, LARGEST).map_err(RecordError::file("read", path))?;
    let upright = read(&bytes).map_err(|says| RecordError::Photo { says: format!("{}: {says}", path.display()) })?;
    let mut kept = Vec::new();
    JpegEncoder::new_with_quality(&mut kept, QUALITY)
        .encode_image(&upright.to_rgb8())
        .map_err(|error| RecordError::Photo { says: format!("{}: {error}", path.display()) })?;
    let sha256 = sha256_hex(&kept);
    let file = format!("{EVIDENCE}/{}.jpg", &sha256[..16]);
    let place = folder.join(EVIDENCE);
    create_folder(&place)?;
    write_durably(&folder.join(&file), &kept)?;
    let original = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    Ok(Event::Photographed { step: step.clone(), file, sha256, original, original_sha256: sha256_hex(&bytes) })
}

/// A picture of the record made small for a report: a JPEG file of at most `longest` pixels a side.
///
/// # Errors
/// [`RecordError::Photo`] where it is no picture of the record; the file system's word.
pub fn small_picture(folder: &Path, file: &str, longest: u32) -> Result<Vec<u8>, RecordError> {
    let says = |says: String| RecordError::Photo { says: format!("{file}: {says}") };
    if !is_evidence_name(file) {
        return Err(says("this is no name of a picture in the record".to_owned()));
    }
    let path = folder.join(file);
    let bytes = read_plain(&path, LARGEST).map_err(RecordError::file("read", &path))?;
    let picture = read(&bytes).map_err(says)?;
    let picture = if picture.width().max(picture.height()) > longest {
        picture.resize(longest, longest, image::imageops::FilterType::Triangle)
    } else {
        picture
    };
    let mut small = Vec::new();
    let written = JpegEncoder::new_with_quality(&mut small, QUALITY_SMALL).encode_image(&picture.to_rgb8());
    written.map_err(|error| says(error.to_string()))?;
    Ok(small)
}

fn read(bytes: &[u8]) -> Result<DynamicImage, String> {
    let mut limits = Limits::default();
    limits.max_alloc = Some(MEMORY);
    limits.max_image_width = Some(WIDEST);
    limits.max_image_height = Some(WIDEST);
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

/// What differs between the hashes of the pictures and the entries that name them.
pub(super) fn differs(hashes: &Hashes, entries: &[Entry]) -> Vec<String> {
    let named: Vec<(&String, &String)> = entries
        .iter()
        .filter_map(|entry| match &entry.event {
            Event::Photographed { file, sha256, .. } => Some((file, sha256)),
            _ => None,
        })
        .collect();
    let mut trouble = Vec::new();
    for (file, sha256) in &named {
        match hashes.get(*file) {
            _ if !is_evidence_name(file) => trouble.push(format!("{file:?} is no name of a picture in the record")),
            Some(Ok(hash)) if hash == *sha256 => {}
            Some(Ok(_)) => trouble.push(format!("{file} is not the picture that was taken into the record")),
            Some(Err(says)) => trouble.push(format!("{file}: {says}")),
            None => trouble.push(format!("{file} is missing")),
        }
    }
    for name in hashes.keys().filter(|name| name.starts_with("evidence/")) {
        // A picture whose entry was never written: the program ended in between. It is named as this program names them.
        let stem = name.trim_start_matches("evidence/").strip_suffix(".jpg").unwrap_or_default();
        let left_over = name.ends_with(UNFINISHED) || stem.len() == 16 && stem.bytes().all(|b| b.is_ascii_hexdigit());
        if !named.iter().any(|(file, _)| *file == name) && !left_over {
            trouble.push(format!("{name} is named by no entry"));
        }
    }
    trouble
}
