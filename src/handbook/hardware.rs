//! Bolts and their torque; clamps, supports and bends of a wire on its way.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{Cited, HARDWARE, Published, Status, load};
use crate::quantity::{Length, Torque};

#[derive(Debug, PartialEq, Deserialize)]
struct ThreadRow {
    thread: String,
    diameter_mm: f64,
    pitch_mm: f64,
    nut_mm: f64,
    series: String,
    source: Option<String>,
    status: Option<Status>,
}

#[derive(Debug, Deserialize)]
struct LengthsRow {
    series: String,
    mm: Vec<f64>,
}

#[derive(Debug, Deserialize)]
struct TorqueRow {
    thread: String,
    classes: Vec<String>,
    lubricated: Option<f64>,
    dry: Option<f64>,
    source: Option<String>,
}

#[derive(Debug, Deserialize)]
struct SupportRow {
    words: Vec<String>,
    mm: f64,
    because: String,
    status: Status,
}

#[derive(Debug, Deserialize)]
struct RuleRow {
    id: String,
    figure: f64,
    because: String,
    status: Status,
}

static THREADS: LazyLock<Published<ThreadRow>> = LazyLock::new(|| load(HARDWARE, "thread"));
static LENGTHS: LazyLock<Published<LengthsRow>> = LazyLock::new(|| load(HARDWARE, "bolt_lengths"));
static STAINLESS: LazyLock<Published<TorqueRow>> = LazyLock::new(|| load(HARDWARE, "torque_stainless"));
static STEEL: LazyLock<Published<TorqueRow>> = LazyLock::new(|| load(HARDWARE, "torque_steel"));
static SUPPORT: LazyLock<Published<SupportRow>> = LazyLock::new(|| load(HARDWARE, "support_spacing"));
static RULES: LazyLock<Published<RuleRow>> = LazyLock::new(|| load(HARDWARE, "rules"));

/// No bolt is shorter: a smaller number behind a thread is its pitch.
const SHORTEST_BOLT_MM: f64 = 4.0;

fn rule(id: &str) -> Cited<f64> {
    let row = RULES.rows.iter().find(|r| r.id == id).expect("the table of fitting rules holds this id");
    Cited::new(row.figure, row.because.clone(), row.status)
}

fn millimetres(mm: f64) -> Length {
    Length::metres(mm / 1000.0)
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

/// A screw thread of the handbook: metric coarse, or unified coarse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thread(&'static ThreadRow);

impl Thread {
    /// Finds the thread in what stands in a job or on a bag: `M6`, `M6x20`, `M8x1.25x25`, `M6 A2-70`, `1/4-20 UNC`.
    ///
    /// `None` for a fine thread (`M8x1`) and for a size without a row.
    pub fn parse(text: &str) -> Option<Self> {
        designated(text).map(|(thread, _)| thread)
    }

    /// How it is named: `M6`.
    pub fn designation(self) -> &'static str {
        &self.0.thread
    }

    /// Nominal diameter.
    pub fn diameter(self) -> Length {
        millimetres(self.0.diameter_mm)
    }

    /// Distance from one turn of the thread to the next.
    pub fn pitch(self) -> Cited<Length> {
        self.cited(self.0.pitch_mm)
    }

    /// Height of a common hexagon nut, the greatest of its tolerance.
    pub fn nut_height(self) -> Cited<Length> {
        self.cited(self.0.nut_mm)
    }

    /// The end of a bolt that carries no full thread: one pitch (assumed).
    pub fn chamfer(self) -> Cited<Length> {
        rule("chamfer").map(|pitches| self.pitch().value * pitches)
    }

    fn cited(self, mm: f64) -> Cited<Length> {
        let source = self.0.source.as_ref().unwrap_or(&THREADS.source);
        Cited::new(millimetres(mm), source.clone(), self.0.status.unwrap_or(THREADS.status))
    }
}

/// The length in a metric designation: 20 mm of `M6x20`; `None` where it names none.
pub fn stated_length(text: &str) -> Option<Length> {
    designated(text)?.1
}

fn designated(text: &str) -> Option<(Thread, Option<Length>)> {
    metric(text).or_else(|| unified(text).map(|thread| (thread, None)))
}

fn metric(text: &str) -> Option<(Thread, Option<Length>)> {
    text.match_indices(['M', 'm']).find_map(|(at, _)| {
        if text[..at].ends_with(char::is_alphanumeric) {
            return None;
        }
        let (diameter, mut rest) = number(&text[at + 1..])?;
        let row = THREADS.rows.iter().find(|r| r.thread.starts_with('M') && same(r.diameter_mm, diameter))?;
        let mut length = None;
        while let Some((value, behind)) = behind_cross(rest) {
            if value >= SHORTEST_BOLT_MM {
                length = Some(millimetres(value));
            } else if !same(value, row.pitch_mm) {
                return None; // a fine thread
            }
            rest = behind;
        }
        Some((Thread(row), length))
    })
}

fn unified(text: &str) -> Option<Thread> {
    let number_goes_on = |c: char| c.is_ascii_digit() || c == '-' || c == '/';
    let stands_alone = |name: &str| {
        text.match_indices(name).any(|(at, _)| {
            !text[..at].ends_with(number_goes_on) && !text[at + name.len()..].starts_with(|c: char| c.is_ascii_digit())
        })
    };
    let row = THREADS.rows.iter().find(|r| !r.thread.starts_with('M') && stands_alone(&r.thread))?;
    Some(Thread(row))
}

/// The number at the beginning of a text, and what follows it.
fn number(text: &str) -> Option<(f64, &str)> {
    let digits = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let mut end = digits(text);
    let decimals = text[end..].strip_prefix(['.', ',']).map_or(0, digits);
    if decimals > 0 {
        end += 1 + decimals;
    }
    let value: f64 = text[..end].replace(',', ".").parse().ok()?;
    Some((value, &text[end..]))
}

fn behind_cross(text: &str) -> Option<(f64, &str)> {
    number(text.trim_start().strip_prefix(['x', 'X', '×', '*'])?.trim_start())
}

/// Least length of a bolt through `stack` (parts, washers, compressed seal) with a nut: the nut, 1.5 pitches and the
/// chamfer come on top.
pub fn through_bolt_length(thread: Thread, stack: Length) -> Cited<Length> {
    let (nut, past, chamfer) = (thread.nut_height(), rule("protrusion"), thread.chamfer());
    let least = stack + nut.value + thread.pitch().value * past.value + chamfer.value;
    let source = format!("{}; {}; {}", past.source, chamfer.source, nut.source);
    Cited::new(least, source, nut.status.max(past.status).max(chamfer.status))
}

/// The lengths that fit a blind hole. Where `at_most` lies below `at_least`, the hole is too shallow for its thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlindLength {
    /// Enough thread holds.
    pub at_least: Length,
    /// The bolt does not reach the bottom.
    pub at_most: Length,
}

/// Length of a bolt through `stack` into a blind hole in steel with `thread_depth` of full thread: one diameter must
/// hold, and two pitches stay free at the bottom.
pub fn blind_bolt_length(thread: Thread, stack: Length, thread_depth: Length) -> Cited<BlindLength> {
    let (engagement, free) = (rule("engagement"), rule("bottom-clearance"));
    let fitting = BlindLength {
        at_least: stack + thread.diameter() * engagement.value,
        at_most: stack + thread_depth - thread.pitch().value * free.value,
    };
    let source = format!("{}; {}", engagement.source, free.source);
    Cited::new(fitting, source, engagement.status.max(free.status).max(thread.pitch().status))
}

/// The next standard length of this kind of thread, `least` or longer; `None` beyond the longest.
pub fn standard_length_from(thread: Thread, least: Length) -> Option<Cited<Length>> {
    let row = LENGTHS.rows.iter().find(|r| r.series == thread.0.series)?;
    // A sum that is a standard length itself must not jump to the next one for a rounding.
    let least = least - millimetres(0.001);
    let length = row.mm.iter().copied().map(millimetres).find(|length| *length >= least)?;
    Some(Cited::new(length, LENGTHS.source.clone(), LENGTHS.status))
}

/// Strength of a bolt, as it is stamped on its head.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PropertyClass {
    /// Stainless steel A2-70.
    StainlessA2,
    /// Stainless steel A4-70.
    StainlessA4,
    /// Stainless steel 18-8 with an inch thread.
    Stainless18,
    /// Steel 5.8.
    Steel58,
    /// Steel 8.8.
    Steel88,
}

impl PropertyClass {
    /// The words of the job file.
    pub const WORDS: &'static [(&'static str, PropertyClass)] = &[
        ("A2-70", Self::StainlessA2),
        ("A4-70", Self::StainlessA4),
        ("18-8", Self::Stainless18),
        ("5.8", Self::Steel58),
        ("8.8", Self::Steel88),
    ];

    /// The word of the job file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, class)| *class == self).map_or("", |(word, _)| word)
    }
}

/// What lies between the threads while they are tightened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Friction {
    /// Oil, grease or anti-seize paste.
    Lubricated,
    /// Nothing.
    Dry,
}

impl Friction {
    /// The words of the job file.
    pub const WORDS: &'static [(&'static str, Friction)] = &[("lubricated", Self::Lubricated), ("dry", Self::Dry)];

    /// The word of the job file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, friction)| *friction == self).map_or("", |(word, _)| word)
    }
}

/// The torque to aim at for a bolt in steel, where the maker of the part states none.
///
/// The weakest part governs: a rivet nut, a stud or a lamp bracket may bear less. `None` without a row; stainless steel
/// has none for dry threads, which gall.
pub fn torque(thread: Thread, class: PropertyClass, friction: Friction) -> Option<Cited<Torque>> {
    [&STAINLESS, &STEEL].into_iter().find_map(|table| {
        let of_class = |r: &TorqueRow| r.classes.iter().any(|c| c == class.word());
        let row = table.rows.iter().find(|r| r.thread == thread.designation() && of_class(r))?;
        let newton_metres = match friction {
            Friction::Lubricated => row.lubricated,
            Friction::Dry => row.dry,
        }?;
        let source = row.source.as_ref().unwrap_or(&table.source);
        let source = format!("{source}; {} {} {}", thread.designation(), class.word(), friction.word());
        Some(Cited::new(Torque::newton_metres(newton_metres), source, table.status))
    })
}

/// The torque for a thread in aluminium of which less than two diameters hold, from that in steel.
pub fn torque_in_aluminium(steel: &Cited<Torque>) -> Cited<Torque> {
    let less = rule("aluminium-thread");
    let source = format!("{}; {}", steel.source, less.source);
    Cited::new(steel.value * less.value, source, steel.status.max(less.status))
}

/// Diameter of a bundle of wires with these outside diameters: 1.2 × √(sum of squares), and never less than the two
/// thickest side by side. A wire alone is as thick as it is.
pub fn bundle_diameter(outers: &[Length]) -> Cited<Length> {
    let mut metres: Vec<f64> = outers.iter().copied().map(Length::as_metres).collect();
    metres.sort_by(|a, b| b.total_cmp(a));
    let two_thickest: f64 = metres.iter().take(2).sum();
    let root_of_squares = metres.iter().map(|d| d * d).sum::<f64>().sqrt();
    rule("bundle").map(|factor| {
        let packed = if metres.len() > 1 { factor * root_of_squares } else { root_of_squares };
        Length::metres(packed.max(two_thickest))
    })
}

/// Bore of a cushioned clamp for a bundle: the next step up, since a tight clamp pinches and a loose one is packed.
pub fn clamp_size(bundle: Length) -> Cited<Length> {
    rule("clamp-step").map(|mm| {
        let step = millimetres(mm);
        step * (bundle / step - 1e-6).ceil().max(1.0)
    })
}

/// Largest distance between two supports of a wire in this zone of the vehicle.
pub fn support_spacing(zone: Option<&str>) -> Cited<Length> {
    let zone = zone.unwrap_or_default().to_lowercase();
    let named = SUPPORT.rows.iter().find(|r| r.words.iter().any(|word| zone.contains(word.as_str())));
    let row = named.unwrap_or(&SUPPORT.rows[0]);
    Cited::new(millimetres(row.mm), row.because.clone(), row.status)
}

/// Least inside radius of a bend in a wire, cable or bundle of this outside diameter.
pub fn bend_radius(outer: Length) -> Cited<Length> {
    rule("bend-radius").map(|times| outer * times)
}

/// Bore of a conduit for a bundle.
pub fn conduit_bore(bundle: Length) -> Cited<Length> {
    rule("conduit").map(|times| bundle * times)
}

/// A wire that stays closer to the edge of a hole than this needs a grommet.
pub fn grommet_clearance() -> Cited<Length> {
    rule("grommet-clearance").map(millimetres)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn thread(text: &str) -> Thread {
        Thread::parse(text).expect(text)
    }

    fn mm(length: Length) -> f64 {
        length.as_metres() * 1000.0
    }

    fn all_threads() -> impl Iterator<Item = Thread> {
        THREADS.rows.iter().map(Thread)
    }

    #[test]
    fn a_thread_is_found_in_what_people_write() {
        let cases = [
            ("M6", "M6"),
            ("m5", "M5"),
            ("M6x20", "M6"),
            ("M6 × 20 mm", "M6"),
            ("M6 A2-70", "M6"),
            ("2 x M8x1.25x25, 8.8", "M8"),
            ("stud M10.", "M10"),
            ("M7 or M8", "M8"),
            ("#10-24 UNC", "10-24"),
            ("1/4-20 x 1", "1/4-20"),
        ];
        for (text, designation) in cases {
            assert_eq!(thread(text).designation(), designation, "{text}");
        }
        for text in ["", "bolt", "M", "M60", "M2.5", "AM6", "M8x1", "M10x1.25x30", "11/4-20", "2024-10-24", "Mö6"] {
            assert!(Thread::parse(text).is_none(), "{text}");
        }
    }

    #[test]
    fn every_thread_is_found_by_its_own_name() {
        for known in all_threads() {
            assert_eq!(Thread::parse(known.designation()), Some(known));
        }
    }

    #[test]
    fn a_length_is_read_and_a_pitch_is_not_taken_for_one() {
        for (text, length) in [("M6x20", 20.0), ("M8x1.25x25", 25.0), ("M5 x 12,5", 12.5)] {
            assert!((mm(stated_length(text).expect(text)) - length).abs() < 1e-9, "{text}");
        }
        for text in ["M6", "M8x1.25", "M6 A2-70", "no bolt"] {
            assert!(stated_length(text).is_none(), "{text}");
        }
    }

    #[test]
    fn a_through_bolt_covers_its_nut_and_grows_with_the_stack() {
        for thread in all_threads() {
            let mut before = Length::metres(0.0);
            for stack in [0.0, 1.0, 6.0, 12.0, 40.0].map(millimetres) {
                let least = through_bolt_length(thread, stack);
                let past_nut = least.value - stack - thread.nut_height().value;
                assert!(past_nut / thread.pitch().value > 1.5, "{thread:?}");
                assert!(least.value > before, "{thread:?}");
                assert!(least.status >= Status::CommonPractice, "{thread:?}");
                before = least.value;
            }
        }
    }

    #[test]
    fn the_next_standard_length_is_taken() {
        // 12 + 5.2 + 1.5 + 1.0 = 19.7 mm
        let least = through_bolt_length(thread("M6"), millimetres(12.0)).value;
        assert!((mm(least) - 19.7).abs() < 1e-9);
        let standard = |text, least| standard_length_from(thread(text), millimetres(least)).map(|l| mm(l.value));
        let cases = [("M6", 19.7, 20.0), ("M6", 20.0, 20.0), ("M6", 20.1, 25.0), ("1/4-20", 20.0, 22.225)];
        for (text, least, expected) in cases {
            assert!((standard(text, least).unwrap() - expected).abs() < 1e-9, "{text} {least}");
        }
        assert_eq!(standard("M6", 151.0), None);
    }

    #[test]
    fn a_blind_bolt_never_reaches_the_bottom() {
        for thread in all_threads() {
            for stack in [1.0, 6.0, 30.0].map(millimetres) {
                for depth in [4.0, 16.0, 40.0].map(millimetres) {
                    let fitting = blind_bolt_length(thread, stack, depth).value;
                    assert!(fitting.at_most < stack + depth - thread.pitch().value, "{thread:?}");
                    assert!(fitting.at_least > stack, "{thread:?}");
                }
            }
        }
        let deep = blind_bolt_length(thread("M8"), millimetres(6.0), millimetres(16.0)).value;
        assert!((mm(deep.at_least) - 14.0).abs() < 1e-9 && (mm(deep.at_most) - 19.5).abs() < 1e-9);
        let shallow = blind_bolt_length(thread("M8"), millimetres(6.0), millimetres(8.0)).value;
        assert!(shallow.at_most < shallow.at_least);
    }

    #[test]
    fn lubricated_threads_take_less_torque_and_dry_stainless_steel_has_none() {
        let mut steel_rows = 0;
        for thread in all_threads() {
            for (word, class) in PropertyClass::WORDS {
                let lubricated = torque(thread, *class, Friction::Lubricated);
                if let Some(dry) = torque(thread, *class, Friction::Dry) {
                    assert!(lubricated.unwrap().value < dry.value, "{thread:?} {word}");
                    steel_rows += 1;
                } else {
                    assert!(lubricated.is_none_or(|l| l.source.contains("stainless")), "{thread:?} {word}");
                }
            }
        }
        assert_eq!(steel_rows, STEEL.rows.len());
    }

    #[test]
    fn every_torque_row_can_be_asked_for() {
        for row in STAINLESS.rows.iter().chain(&STEEL.rows) {
            for class in &row.classes {
                let (_, class) = PropertyClass::WORDS.iter().find(|(word, _)| word == class).expect(class);
                let found = torque(thread(&row.thread), *class, Friction::Lubricated).unwrap();
                assert_eq!(Some(found.value.as_newton_metres()), row.lubricated, "{}", row.thread);
            }
        }
    }

    #[test]
    fn aluminium_takes_a_fifth_less() {
        let steel = torque(thread("M6"), PropertyClass::Steel88, Friction::Lubricated).unwrap();
        let aluminium = torque_in_aluminium(&steel);
        assert!((aluminium.value / steel.value - 0.8).abs() < 1e-9);
        assert!(aluminium.source.contains(&steel.source));
    }

    #[test]
    fn a_bundle_is_never_thinner_than_its_two_thickest_wires() {
        let bundle = |outers: &[f64]| {
            let outers: Vec<Length> = outers.iter().copied().map(millimetres).collect();
            mm(bundle_diameter(&outers).value)
        };
        assert!(bundle(&[]).abs() < 1e-9);
        assert!((bundle(&[3.4]) - 3.4).abs() < 1e-9);
        assert!((bundle(&[2.0, 3.4]) - 5.4).abs() < 1e-9);
        // 1.2 × 2 × √7
        assert!((bundle(&[2.0; 7]) - 6.35).abs() < 0.001);
        assert!(bundle(&[2.0; 8]) > bundle(&[2.0; 7]));
    }

    #[test]
    fn a_clamp_takes_its_bundle_and_is_at_most_one_step_larger() {
        for bundle in [0.5, 1.6, 3.2, 4.0, 6.35, 12.8, 20.0] {
            let clamp = mm(clamp_size(millimetres(bundle)).value);
            assert!(clamp > bundle - 1e-4 && clamp < bundle + 1.6, "{bundle}: {clamp}");
        }
        assert!((mm(clamp_size(millimetres(3.2)).value) - 3.2).abs() < 1e-9);
    }

    #[test]
    fn a_rough_place_needs_closer_supports() {
        let spacing = |zone| mm(support_spacing(zone).value).round();
        for zone in ["engine bay", "Engine compartment", "under the vehicle", "underbody", "chassis", "frame rail"] {
            assert_eq!(spacing(Some(zone)), 300.0, "{zone}");
        }
        for zone in [None, Some("cabin"), Some("under the seat"), Some("roof"), Some("")] {
            assert_eq!(spacing(zone), 610.0, "{zone:?}");
        }
        assert_eq!(support_spacing(None).status, Status::Verified);
    }

    #[test]
    fn every_rule_can_be_asked_for() {
        let ten = millimetres(10.0);
        assert!((mm(bend_radius(ten).value) - 100.0).abs() < 1e-9);
        assert!((mm(conduit_bore(ten).value) - 12.5).abs() < 1e-9);
        assert!((mm(grommet_clearance().value) - 9.5).abs() < 1e-9);
        assert_eq!(thread("M8").chamfer().value, thread("M8").pitch().value);
    }
}
