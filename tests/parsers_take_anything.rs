//! Whatever is typed or written into a file: an answer or a message with a place, never a panic.

#![allow(missing_docs, reason = "tests speak through their names")]

use proptest::prelude::*;
use rigproof::document::Source;
use rigproof::energy::Level;
use rigproof::job::Job;
use rigproof::kit::Kit;
use rigproof::procedure::Library;
use rigproof::quantity::{ConductorSize, Dimension, Reading, Share, Slope, Voltage, parse_toleranced, show};

const DEMO: &str = include_str!("../reports/orchard-flatbed/job.toml");

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_text_is_a_quantity_or_a_message_with_a_place_inside_it(text in "\\PC{0,40}") {
        if let Err(error) = parse_toleranced::<Voltage>(&text) {
            prop_assert!(error.at.start <= error.at.end && error.at.end <= text.len());
            prop_assert!(!error.says.is_empty() && !error.help.is_empty());
        }
        for error in [Slope::parse(&text).err(), Share::parse(&text).err(), Level::parse(&text).err()].iter().flatten() {
            prop_assert!(error.at.start <= error.at.end && error.at.end <= text.len());
            prop_assert!(!error.says.is_empty() && !error.help.is_empty());
        }
        let _ = ConductorSize::parse(&text);
        let _ = Reading::parse(&text, Dimension::Resistance);
    }

    #[test]
    fn numbers_with_units_are_read_back_as_they_were_written(value in -1e6..1e6f64, places in 0usize..6) {
        let text = format!("{value:.places$} mV");
        let read: Voltage = parse_toleranced(&text).unwrap().nominal;
        let written: f64 = format!("{value:.places$}").parse().unwrap();
        prop_assert!((read.as_volts() - written / 1000.0).abs() <= 1e-12 * written.abs().max(1.0));
    }

    #[test]
    fn what_is_shown_can_be_typed_again(value in 1e-4..1e4f64) {
        for dimension in [
            Dimension::Voltage, Dimension::Current, Dimension::Resistance, Dimension::Torque, Dimension::Force,
            Dimension::Power, Dimension::Length, Dimension::Duration,
        ] {
            let shown = show(value, dimension);
            let read = Reading::parse(&shown, dimension).unwrap().value.unwrap();
            prop_assert!((read - value).abs() <= 0.006 * value, "{shown}");
        }
    }

    #[test]
    fn any_text_as_a_job_file_is_read_or_refused(text in "\\PC{0,200}") {
        if let Err(problems) = Job::read(&Source::new("job.toml", text)) {
            prop_assert!(!problems.list().is_empty());
            prop_assert!(!problems.render(false).is_empty());
        }
    }

    #[test]
    fn a_job_file_with_a_piece_cut_out_or_doubled_is_read_or_refused(
        start in 0usize..4000, length in 0usize..400, double in any::<bool>(), junk in "\\PC{0,12}"
    ) {
        let mut at = start.min(DEMO.len());
        while !DEMO.is_char_boundary(at) { at -= 1; }
        let mut end = (at + length).min(DEMO.len());
        while !DEMO.is_char_boundary(end) { end -= 1; }
        let end = end.max(at);
        let piece = &DEMO[at..end];
        let text = if double {
            format!("{}{piece}{junk}{}", &DEMO[..end], &DEMO[end..])
        } else {
            format!("{}{junk}{}", &DEMO[..at], &DEMO[end..])
        };
        match Job::read(&Source::new("job.toml", text)) {
            Ok(job) => { let _ = rigproof::design::check(&job); }
            Err(problems) => prop_assert!(!problems.render(false).is_empty()),
        }
    }

    #[test]
    fn a_kit_with_a_piece_cut_out_is_read_or_refused(start in 0usize..1500, length in 1usize..200, junk in "\\PC{0,12}") {
        let whole = include_str!("../src/kit/every-key.toml");
        let on_a_letter = |at: usize| (0..=at.min(whole.len())).rev().find(|at| whole.is_char_boundary(*at)).unwrap();
        let (start, end) = (on_a_letter(start), on_a_letter(start + length));
        let text = format!("{}{junk}{}", &whole[..start], &whole[end..]);
        let job = Source::new("job.toml", include_str!("../src/kit/every-key-job.toml"));
        if let Err(problems) = Kit::read(&Source::new("kit.toml", text), &job) {
            prop_assert!(!problems.render(false).is_empty());
        }
    }

    #[test]
    fn a_procedure_file_with_a_piece_cut_out_is_read_or_refused(start in 0usize..6000, length in 1usize..300) {
        let mut sources = Library::embedded_sources();
        let ground = sources.iter().position(|s| s.name.ends_with("ground.toml")).unwrap();
        let text = sources[ground].text.to_string();
        let mut at = start.min(text.len());
        while !text.is_char_boundary(at) { at -= 1; }
        let mut end = (at + length).min(text.len());
        while !text.is_char_boundary(end) { end -= 1; }
        sources[ground] = Source::new("procedures/ground.toml", format!("{}{}", &text[..at], &text[end.max(at)..]));
        if let Err(error) = Library::read(sources) {
            prop_assert!(!error.to_string().is_empty());
        }
    }
}
