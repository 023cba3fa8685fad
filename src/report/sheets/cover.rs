//! The first page, and what stands at the end.

use std::fmt::Write;

use super::{Blank, Kind, Sheets};
use crate::report::pdf::{Block, Field, Form, Run, Strip, Tone};
use crate::report::print::{aside, heading, paragraph};

/// Rows for what did not fit.
const ROWS: usize = 9;

fn form(strips: Vec<Strip>) -> Block {
    Block::Form(Form { strips, ..Form::default() })
}

fn strip(fields: Vec<Field>) -> Strip {
    Strip { fields, ..Strip::default() }
}

/// What the job is, who works, and how the sheets are filled in.
pub(super) fn cover(sheets: &Sheets) -> Vec<Block> {
    let job = sheets.walk.job();
    let mut blocks = vec![heading(1, &job.title)];
    if let Some((errors, reason)) = &sheets.despite {
        let lines = errors.iter().map(|error| vec![Run::plain(format!("The design does not conform: {error}"))]);
        let lines = lines.chain([vec![Run::plain(format!("The work begins in spite of it: {reason}"))]]).collect();
        blocks.push(Block::Band { word: "Mind".to_owned(), tone: Tone::Bad, lines });
    }
    let pair = |term: &str, text: String| (term.to_owned(), vec![Run::plain(text)]);
    let mut pairs = vec![pair("Vehicle", job.vehicle.description.clone())];
    pairs.extend(job.vehicle.identity.iter().map(|identity| pair("Identity", identity.clone())));
    pairs.push(pair("System", format!("{} V", job.vehicle.system.as_volts())));
    pairs.extend(job.work_order.iter().map(|order| pair("Order", order.clone())));
    pairs.push(pair("Steps", steps_in_words(sheets)));
    let instruments = match job.instruments.as_slice() {
        [] => "none is stated in the job: readings are judged as those of a plain hand-held meter (from memory)"
            .to_owned(),
        all => all.iter().map(crate::job::Instrument::called).collect::<Vec<_>>().join("; "),
    };
    pairs.push(pair("Instruments", instruments));
    pairs.push((
        "Code".to_owned(),
        vec![
            Run::plain(sheets.code.to_string()).bold(),
            Run::plain(
                " stands at the foot of each page. It belongs to this job file and these procedures on this paper. \
                        When the values are entered, the program compares it: sheets of another job are not taken.",
            ),
        ],
    ));
    blocks.push(Block::KeyValues(pairs));
    blocks.push(form(vec![
        strip(vec![
            Field::new("Who does the work: name", Field::REST),
            Field::new("Role", 110.0),
            Field::new("Day (year-month-day)", 100.0),
        ]),
        strip(vec![
            Field::new("Instruments, where others are used than those above", Field::REST),
            Field::new("Entered later by", 170.0),
        ]),
    ]));
    blocks.push(heading(2, "How to fill in"));
    let ways = [
        "Go from number to number. The sentences of a step say what is done; those beside them say how it must look. Where \
         they say: as in step 40, it must look the same as there.",
        "A small box: tick it when every sentence is done and everything looks as it says. If it does not, leave the box \
         empty, stop, and write it on the last page.",
        "A wide box: write what the meter shows, with all its digits and the minus sign. The unit stands in the box; if the \
         meter shows another one, strike it out and write that. Write OL where the meter shows that nothing conducts.",
        "Compare each reading with its range at once. A reading outside stops the work here: keep what you read, write on \
         the last page what was wrong and what was done, and take it again. Where it stays outside, do not go on.",
        "A frame with DANGER, WARNING, CAUTION or NOTICE: read it before the step with that number, then tick its box.",
        "HOLD POINT: nothing goes on until somebody else has looked, from the text of the step, and has written name, what \
         was seen, and a signature.",
        "A step that begins with Only if is left out where that does not hold. Its boxes stay empty.",
    ];
    blocks.push(Block::Bullets(ways.map(|way| vec![Run::plain(way)]).to_vec()));
    blocks.push(heading(2, "What the ranges rest on"));
    blocks.push(paragraph(
        "They are computed from the job as it is stated. When the values are entered, the program judges each reading \
         again: with the battery voltage and the wire lengths that were measured, and with the uncertainty of the meter. A \
         reading that lies in its range on paper can then be asked about, and the work stands only when the program has taken \
         it. Limits marked as common practice or from memory have no published source.",
    ));
    blocks.push(aside(
        "To enter the values: fill in sheets.csv with any spreadsheet program, then rigproof walk JOB --from-sheets sheets.csv; \
         or rigproof walk JOB --from-sheets in a terminal. These sheets say what is to be done and measured. They do not replace \
         the vehicle maker's manual, local codes or licensed practice.",
    ));
    blocks
}

fn steps_in_words(sheets: &Sheets) -> String {
    let count = |kinds: &[Kind]| sheets.blanks.iter().filter(|blank: &&Blank| kinds.contains(&blank.kind)).count();
    let steps = sheets.walk.plan().steps.len();
    let mut words = format!(
        "{steps}, with {} readings, {} other values and {} hold points",
        count(&[Kind::Reading]),
        count(&[Kind::Value, Kind::Text]),
        count(&[Kind::Release])
    );
    if !sheets.settled.is_empty() {
        let _ = write!(words, "; {} of them are in the record already, and struck out here", sheets.settled.len());
    }
    words
}

/// What did not fit, and the sign-off.
pub(super) fn end(blocks: &mut Vec<Block>) {
    blocks.push(Block::PageBreak);
    blocks.push(heading(2, "What did not fit, and what was done about it"));
    blocks.push(aside(
        "One row for each reading outside its range, and for each box that could not be ticked. When the values are entered, \
         the program asks for the same: measure again, rework or repair from which step on, or who permits that it stays.",
    ));
    for row in 0..ROWS {
        let label = |text: &str| if row == 0 { text.to_owned() } else { String::new() };
        let fields = vec![
            Field::new(label("Step"), 40.0),
            Field::new(label("First reading"), Field::READING),
            Field::new(label("What was wrong, and what was done"), Field::REST),
            Field::new(label("Reading after it"), Field::READING),
        ];
        blocks.push(form(vec![strip(fields)]));
    }
    blocks.push(heading(2, "Sign-off"));
    blocks.push(form(vec![
        strip(vec![Field::new("What I state of this work", Field::REST)]),
        strip(vec![
            Field::new("Name", 160.0),
            Field::new("Role", 90.0),
            Field::new("Day", 80.0),
            Field::new("Signature", Field::REST),
        ]),
    ]));
}
