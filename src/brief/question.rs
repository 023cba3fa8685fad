//! A question: what is asked, why, how the answer is written.

use crate::quantity::{Amount, ConductorSize, Current, Dimension, Length, Power, parse_any, parse_toleranced};

/// An answer that is taken where nobody knows better.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Usual {
    /// The answer, as it would be typed.
    pub text: String,
    /// Why this one, with the status of where it comes from.
    pub because: String,
}

impl Usual {
    pub(crate) fn new(text: impl Into<String>, because: impl Into<String>) -> Self {
        Self { text: text.into(), because: because.into() }
    }
}

/// How an answer is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WantedForm<'q> {
    /// Any words.
    Words,
    /// One of these: the word, and what it stands for.
    OneOf(&'q [(&'q str, &'q str)]),
    /// One of these words, which need no explanation.
    Among(&'q [String]),
    /// Watts or amperes, as printed on a label.
    Label,
    /// A quantity between two values of its base unit.
    Between(Dimension, f64, f64),
    /// A whole number from 1 to this.
    Pieces(usize),
    /// Length and size of a lead: `0.3 m, 1 mm²`; or `none`.
    Lead,
    /// A bolt: `M6`; or `none`.
    Bolt,
}

/// A question.
#[derive(Debug, Clone, PartialEq)]
pub struct Question<'q> {
    /// Its name, and its key in a file.
    pub id: &'q str,
    /// What is asked.
    pub asks: String,
    /// Why it matters.
    pub why: &'q str,
    /// How the answer is written.
    pub form: WantedForm<'q>,
    /// What is taken where nobody knows better; `None` where nothing can be.
    pub usual: Option<Usual>,
    /// How to find it out.
    pub find_out: &'q str,
}

/// Why an answer was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// In words, with what is allowed.
    pub says: String,
}

/// Something that puts question after question to a person; any answer can be changed.
pub trait Asking<'q> {
    /// All questions that the answers so far lead to, in their order.
    fn questions(&self) -> Vec<Question<'q>>;

    /// Answers a question; an empty text takes the usual answer.
    ///
    /// # Errors
    /// [`Refused`] says what is wrong with the answer and how it is written; nothing changes then.
    fn answer(&mut self, id: &str, text: &str) -> Result<(), Refused>;

    /// Opens a question again; where it was answered by a person, that answer comes back.
    fn forget(&mut self, id: &str) -> Option<String>;

    /// The answer of a person; `None` where the usual one stands in, or none at all.
    fn given(&self, id: &str) -> Option<&str>;

    /// Whether the question was answered, by a person or by taking the usual.
    fn answered(&self, id: &str) -> bool;

    /// The first question without an answer.
    fn next(&self) -> Option<Question<'q>> {
        self.questions().into_iter().find(|question| !self.answered(question.id))
    }

    /// Questions that nothing can be taken for and that nobody has answered.
    fn missing(&self) -> Vec<Question<'q>> {
        let open = |question: &Question| question.usual.is_none() && !self.answered(question.id);
        self.questions().into_iter().filter(open).collect()
    }
}

fn refused<T>(says: impl Into<String>) -> Result<T, Refused> {
    Err(Refused { says: says.into() })
}

/// A number that stands without a unit.
fn bare(text: &str) -> bool {
    text.replace(',', ".").parse::<f64>().is_ok()
}

impl WantedForm<'_> {
    /// Takes an answer as a person writes it and returns it as a file writes it.
    ///
    /// # Errors
    /// [`Refused`] where it is not written as asked.
    pub fn read(self, text: &str) -> Result<String, Refused> {
        let text = text.trim();
        match self {
            Self::Words => words(text),
            Self::OneOf(choices) => one_of(choices, text),
            Self::Among(words) => {
                let choices: Vec<(&str, &str)> = words.iter().map(|word| (word.as_str(), "")).collect();
                one_of(&choices, text)
            }
            Self::Label => label(text).map(|_| text.to_owned()),
            Self::Between(dimension, low, high) => between(text, dimension, low, high),
            Self::Pieces(most) => match text.parse::<usize>() {
                Ok(count) if (1..=most).contains(&count) => Ok(count.to_string()),
                _ => refused(format!("`{text}` is not a number from 1 to {most}")),
            },
            Self::Lead => lead(text).map(|lead| match lead {
                Some(_) => text.to_owned(),
                None => "none".to_owned(),
            }),
            Self::Bolt => bolt(text),
        }
    }

    /// How an answer is written, with an example.
    pub fn written(self) -> String {
        match self {
            Self::Words => "in your own words".to_owned(),
            Self::OneOf(choices) if are_numbers(choices) => {
                format!("one of {}", choices.iter().map(|(word, _)| *word).collect::<Vec<_>>().join(", "))
            }
            Self::OneOf(choices) => {
                let words = choices.iter().map(|(word, _)| *word).collect::<Vec<_>>().join(", ");
                format!("one of {words}; or its number")
            }
            Self::Among(words) => format!("one of {}", words.join(", ")),
            Self::Label => "watts or amperes, such as 18 W or 1.5 A".to_owned(),
            Self::Between(Dimension::Length, ..) => "metres, such as 2.5 m (or 8 ft)".to_owned(),
            Self::Between(dimension, low, high) => {
                let [low, high] = [low, high].map(|end| Amount::new(end, dimension));
                format!("{} in {}, {}", dimension.name(), dimension.unit(), low.range_to(high))
            }
            Self::Pieces(most) => format!("a number from 1 to {most}"),
            Self::Lead => "length and size, such as 0.3 m, 1 mm² (or 1 ft, 18 AWG); or none".to_owned(),
            Self::Bolt => "the thread, such as M6; or none".to_owned(),
        }
    }
}

fn words(text: &str) -> Result<String, Refused> {
    if text.chars().any(char::is_control) {
        return refused("a line of plain text is wanted, without tabs or other control characters");
    }
    if text.chars().count() > 120 {
        return refused("at most 120 letters, please: it goes into lists and onto labels");
    }
    Ok(text.to_owned())
}

/// Whether the words of a list begin with numbers of their own: then a number is the word, and no place in the list.
pub fn are_numbers(choices: &[(&str, &str)]) -> bool {
    choices.iter().all(|(word, _)| word.starts_with(|c: char| c.is_ascii_digit()))
}

fn one_of(choices: &[(&str, &str)], text: &str) -> Result<String, Refused> {
    let plain = |text: &str| text.to_lowercase().replace(char::is_whitespace, "");
    let typed = plain(text);
    let number = |word: &str| plain(word).trim_end_matches(|c: char| !c.is_ascii_digit()).to_owned();
    let numbers = are_numbers(choices);
    let is_meant = |word: &str| plain(word) == typed || (numbers && number(word) == typed);
    if let Some((word, _)) = choices.iter().find(|(word, _)| is_meant(word)) {
        return Ok((*word).to_owned());
    }
    let counted = text.parse::<usize>().ok().filter(|_| !numbers);
    if let Some((word, _)) = counted.and_then(|n| choices.get(n.checked_sub(1)?)) {
        return Ok((*word).to_owned());
    }
    let known: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
    let meant = crate::document::closest(&typed, &known).map(|meant| format!("; did you mean {meant}?"));
    refused(format!("`{text}` is none of {}{}", known.join(", "), meant.unwrap_or_default()))
}

/// What a label says a load draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Label {
    Watts(Power),
    Amps(Current),
}

/// Reads what a label says.
pub(super) fn label(text: &str) -> Result<Label, Refused> {
    let text = text.trim();
    if bare(text) {
        return refused(format!("{text} of what? Write W behind watts or A behind amperes, as the label has it"));
    }
    if let Ok(power) = parse_toleranced::<Power>(text) {
        return if (0.05..=5000.0).contains(&power.nominal.as_watts()) {
            Ok(Label::Watts(power.nominal))
        } else {
            refused(format!("{text} is no load of a 12 or 24 V circuit: 0.05 to 5,000 W are understood"))
        };
    }
    match parse_toleranced::<Current>(text) {
        Ok(current) if (0.005..=200.0).contains(&current.nominal.as_amps()) => Ok(Label::Amps(current.nominal)),
        Ok(_) => refused(format!("{text} is no load of such a circuit: 5 mA to 200 A are understood")),
        Err(_) => refused(format!("`{text}` is neither watts nor amperes; write it as 18 W or 1.5 A")),
    }
}

fn between(text: &str, dimension: Dimension, low: f64, high: f64) -> Result<String, Refused> {
    let with_unit = if bare(text) { format!("{text} {}", dimension.unit()) } else { text.to_owned() };
    let (least, most) = parse_any(&with_unit, dimension).map_err(|error| Refused { says: error.to_string() })?;
    let [low, high] = [low, high].map(|end| Amount::new(end, dimension));
    if least.base() < low.base() || most.base() > high.base() {
        return refused(format!("{with_unit} is not within {}", low.range_to(high)));
    }
    Ok(with_unit)
}

/// Reads the lead of a load; `None` where it has none.
pub(super) fn lead(text: &str) -> Result<Option<(Length, ConductorSize)>, Refused> {
    if ["none", "no", "-"].contains(&text.trim().to_lowercase().as_str()) {
        return Ok(None);
    }
    let says = || format!("`{text}` is not a length and a size; write it as 0.3 m, 1 mm², or none");
    let split = text.split_once(", ").or_else(|| text.split_once(" of ")).or_else(|| text.split_once(','));
    let Some((length, size)) = split else { return refused(says()) };
    let length = parse_toleranced::<Length>(length).map_err(|_| Refused { says: says() })?;
    let size = ConductorSize::parse(size).map_err(|error| Refused { says: error.to_string() })?;
    if !(0.02..=10.0).contains(&length.nominal.as_metres()) {
        return refused("a lead is 2 cm to 10 m long");
    }
    if !(0.2..=120.0).contains(&size.area().as_mm2()) {
        return refused("a lead has 0.2 to 120 mm²");
    }
    Ok(Some((length.nominal, size)))
}

fn bolt(text: &str) -> Result<String, Refused> {
    if ["none", "no", "-"].contains(&text.to_lowercase().as_str()) {
        return Ok("none".to_owned());
    }
    let upper = text.to_uppercase();
    match crate::handbook::hardware::Thread::parse(&upper) {
        Some(_) => Ok(upper.replace('X', "x")),
        None => refused(format!("`{text}` is no thread that is known here; write M5, M6, M8, M10, or none")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_needs_its_unit() {
        assert_eq!(label("18 W"), Ok(Label::Watts(Power::watts(18.0))));
        assert_eq!(label("1,5A"), Ok(Label::Amps(Current::amps(1.5))));
        assert!(label("18").unwrap_err().says.contains("of what?"));
        assert!(label("18 V").is_err());
        assert!(label("900 kW").is_err());
    }

    #[test]
    fn a_lead_is_a_length_and_a_size_or_none() {
        let read = |text: &str| lead(text).unwrap().map(|(length, size)| (length.as_metres(), size.to_string()));
        assert_eq!(read("0.3 m, 1 mm²"), Some((0.3, "1 mm²".to_owned())));
        assert_eq!(read("0,3 m, 18 AWG"), Some((0.3, "18 AWG".to_owned())));
        assert_eq!(read("30 cm of 0.75 mm2"), Some((0.3, "0.75 mm²".to_owned())));
        assert_eq!(read("none"), None);
        assert!(lead("0.3 m").is_err() && lead("1 mm², 0.3 m").is_err());
    }

    #[test]
    fn a_number_alone_takes_the_unit_that_is_asked_for() {
        let form = WantedForm::Between(Dimension::Length, 0.1, 40.0);
        assert_eq!(form.read("7").unwrap(), "7 m");
        assert_eq!(form.read("20 ft").unwrap(), "20 ft");
        assert!(form.read("70").unwrap_err().says.contains("within"));
        assert!(form.read("7 V").is_err());
    }

    #[test]
    fn a_choice_is_its_number_or_its_word() {
        let form = WantedForm::OneOf(&[("switch", "own switch"), ("always", "always on")]);
        assert_eq!(form.read("2").unwrap(), "always");
        assert_eq!(form.read("Switch").unwrap(), "switch");
        assert!(form.read("swich").unwrap_err().says.contains("did you mean switch"));
        assert!(form.read("0").is_err() && form.read("3").is_err());
        // Where the words are numbers, three is 3 % and not the third of the list.
        let form = WantedForm::OneOf(&[("5 %", ""), ("10 %", ""), ("3 %", "")]);
        assert_eq!(form.read("3").unwrap(), "3 %");
        assert_eq!(form.read("10%").unwrap(), "10 %");
        assert!(form.read("1").is_err());
    }
}
