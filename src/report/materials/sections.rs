//! The lists worded for people: what page and print have in common.

use serde::Serialize;

use crate::materials::{Bolt, Cut, End, Kind, Materials, Run, most_letters, tenths};
use crate::quantity::Length;
use crate::report::visible;

/// One of the lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum List {
    /// What to buy.
    Shopping,
    /// What to cut.
    Cuts,
    /// How each end is made.
    Ends,
    /// Bolts, clamps, grommets.
    Hardware,
    /// Sleeves with names.
    Labels,
}

impl List {
    /// All, in the order in which they are used.
    pub const ALL: [List; 5] = [List::Shopping, List::Cuts, List::Ends, List::Hardware, List::Labels];

    /// Its word, and the name of its table.
    pub fn word(self) -> &'static str {
        match self {
            List::Shopping => "shopping",
            List::Cuts => "cuts",
            List::Ends => "ends",
            List::Hardware => "hardware",
            List::Labels => "labels",
        }
    }

    /// Its heading.
    pub fn title(self) -> &'static str {
        match self {
            List::Shopping => "Shopping list",
            List::Cuts => "Cut list",
            List::Ends => "How each end is made",
            List::Hardware => "Bolts and clamps",
            List::Labels => "Labels",
        }
    }

    /// What must be known before it is used.
    pub fn lead(self) -> String {
        match self {
            List::Shopping => {
                "The need is exact, spares and waste come on top. Packs are yours to choose. No brand is \
                               named: the sheet of each part goes before what stands here."
                    .to_owned()
            }
            List::Cuts => "Measure the real way of each wire, with a cord, before it is cut: until then the length of \
                           the job file is used. Cut in this order: one reel after the other, the longest piece first. \
                           Cut and crimp away from the battery: a lead-acid battery gives off gas that explodes, and a \
                           tool across its posts melts. Join nothing before the negative clamp of every battery is off."
                .to_owned(),
            List::Ends => {
                "What stands under \"first\" goes on the wire before the terminal: afterwards it does not go \
                           on any more. The strip length of the terminal's own sheet goes before the one here. The \
                           pull is the least force for a sample that is pulled apart, not for the wire that is fitted."
                    .to_owned()
            }
            List::Hardware => "Tighten to the torque of the weakest part: where its maker states less, that counts. \
                               Clamps are counted by the length of the run, one more than there are distances; lay the run out and count again. \
                               Holes that the job file does not tell of are yours to count. \
                               Put no screw into a pillar or a roof rail: airbags sit there. Plastic ties bundle, \
                               they do not carry."
                .to_owned(),
            List::Labels => {
                let most = most_letters();
                format!("At most {} letters in one line: {}.", most.value, most.citation())
            }
        }
    }
}

impl List {
    /// Whether a job has nothing for this list.
    pub fn is_empty(self, materials: &Materials) -> bool {
        match self {
            List::Shopping => materials.shopping.is_empty(),
            List::Cuts => materials.cuts.is_empty(),
            List::Ends => materials.ends.is_empty(),
            List::Hardware => materials.bolts.is_empty() && materials.runs.is_empty(),
            List::Labels => materials.labels.is_empty(),
        }
    }
}

/// A table of words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Sheet {
    /// Its heading; empty where that of its list is enough.
    pub title: String,
    /// Headings of its columns.
    pub columns: Vec<&'static str>,
    /// Its rows, as long as there are columns.
    pub rows: Vec<Vec<String>>,
}

/// A list with its tables.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Section {
    /// Which list.
    pub list: List,
    /// Its heading.
    pub title: &'static str,
    /// What must be known before it is used.
    pub lead: String,
    /// Its tables.
    pub sheets: Vec<Sheet>,
    /// Where its figures come from.
    pub sources: Vec<String>,
}

/// All lists in words.
pub fn sections(materials: &Materials) -> Vec<Section> {
    let mut all: Vec<Section> = List::ALL
        .into_iter()
        .map(|list| Section {
            list,
            title: list.title(),
            lead: list.lead(),
            sheets: match list {
                List::Shopping => shopping(materials),
                List::Cuts => cuts(materials),
                List::Ends => vec![ends(materials)],
                List::Hardware => vec![bolts(materials), runs(materials)],
                List::Labels => vec![labels(materials)],
            },
            sources: sources(materials, list),
        })
        .collect();
    let cells = all.iter_mut().flat_map(|section| &mut section.sheets).flat_map(|sheet| &mut sheet.rows).flatten();
    for cell in cells {
        *cell = visible(cell);
    }
    all
}

/// Where the figures of a list come from, each source once.
pub fn sources(materials: &Materials, list: List) -> Vec<String> {
    let mut all: Vec<String> = match list {
        List::Shopping => materials.shopping.iter().map(|row| row.source.clone()).collect(),
        List::Cuts => {
            let terms = materials.cuts.iter().flat_map(|cut| &cut.terms);
            let battery = "gas and tools at a battery: 29 CFR 1910.178(g); US Army TM 9-2320-387-24-1";
            let terms = terms.map(|term| format!("{}: {}", kind_of_term(&term.what), term.source));
            terms.chain([battery.to_owned()]).collect()
        }
        List::Ends => materials.ends.iter().flat_map(sources_of_end).collect(),
        List::Hardware => {
            let bolts = materials
                .bolts
                .iter()
                .filter_map(|bolt| bolt.length_source.clone())
                .map(|s| format!("length of a bolt: {s}"));
            let order = "order on a ground stud: the largest ring next to the metal (from memory); that current passes by the faces and not by the stud: FAA AC 43.13-1B; washers of a mount: common practice";
            bolts
                .chain((!materials.runs.is_empty()).then(|| WARNINGS.to_owned()))
                .chain((!materials.bolts.is_empty()).then(|| order.to_owned()))
                .chain(materials.runs.iter().flat_map(sources_of_run))
                .collect()
        }
        List::Labels => Vec::new(),
    };
    let mut seen = std::collections::BTreeSet::new();
    all.retain(|source| !["", "the job"].contains(&source.as_str()) && seen.insert(source.clone()));
    all
}

/// Where the warnings about airbags and ties come from.
const WARNINGS: &str = "airbags in pillars and roof rails: service texts of vehicle makers; in rails partly from memory; ties do not carry: FAA AC 43.13-1B, 46 CFR 183.340";

/// `drip loop` of `drip loop at F1.in ("engine")`: the source holds for all of its kind.
fn kind_of_term(what: &str) -> &str {
    what.split(" at ").next().unwrap_or(what)
}

fn sources_of_end(end: &End) -> Vec<String> {
    let gap = format!(
        "insulation ends {} to {} before the barrel, {}: {}",
        millimetres(end.gap_least.value),
        millimetres(end.gap_most.value),
        end.size,
        end.gap_most.source
    );
    let strip = format!("strip length: {}", end.strip.source);
    let pull = end.pull.as_ref().map(|pull| format!("pull of {}: {}", end.size, pull.source));
    let sleeve = end.sleeve.as_ref().map(|sleeve| format!("sleeve: {}", sleeve.source));
    let first = "what goes on first: US Army TM 9-4120-367-14 for the sleeve; seal, boot and gland nut from memory";
    let flat = (end.terminal.kind == Kind::Blade)
        .then(|| "flat terminal 6.3 mm where the sheet of the part says no other: common practice".to_owned());
    let jacket = end.jacket.as_ref().and_then(|j| j.length.map(|_| format!("jacket: {}", j.words)));
    let booted = end.first.iter().any(|what| what.starts_with("boot for the live stud"));
    let boot = booted.then(|| "boot: 33 CFR 183.445(b), a live stud that no fuse guards is covered".to_owned());
    let mated = matches!(end.terminal.kind, Kind::Socket | Kind::Pin);
    let mated = mated.then(|| {
        "sockets on the half that is fed, pins on the other: a city's purchase specification for fire engines"
            .to_owned()
    });
    [Some(strip), Some(gap), pull, sleeve, Some(first.to_owned()), boot, mated, flat, jacket]
        .into_iter()
        .flatten()
        .collect()
}

fn sources_of_run(run: &Run) -> Vec<String> {
    let spacing = format!("distance of clamps {}: {}", run.spacing.value.as_rating(), run.spacing.source);
    let of = |what: &str, known: &Option<crate::materials::Known<Length>>| {
        known.as_ref().map(|known| format!("{what}: {}", known.source))
    };
    [
        Some(spacing),
        of("bundle", &run.diameter),
        of("clamp", &run.clamp),
        of("bend", &run.bend),
        of("tube", &run.tube_bore),
        run.outer_source.as_ref().map(|source| format!("outside diameter that the job does not state: {source}")),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn shopping(materials: &Materials) -> Vec<Sheet> {
    let mut sheets: Vec<Sheet> = Vec::new();
    for row in &materials.shopping {
        let cells = vec![
            row.item.clone(),
            row.amount.need_in_words(),
            row.amount.spare_in_words(),
            row.amount.buy_in_words(),
            String::new(),
            row.used_for.join(", "),
        ];
        match sheets.last_mut().filter(|sheet| sheet.title == row.group.words()) {
            Some(sheet) => sheet.rows.push(cells),
            None => sheets.push(Sheet {
                title: row.group.words().to_owned(),
                columns: vec!["What", "Need", "Spare", "Buy", "Packs", "For"],
                rows: vec![cells],
            }),
        }
    }
    sheets
}

/// The terms of a cut as a sum: `1.80 m way by the job + 14.0 mm strip, both ends`.
pub fn sum_in_words(cut: &Cut) -> String {
    let terms: Vec<String> =
        cut.terms.iter().map(|term| format!("{} {}", millimetres(term.length), term.what)).collect();
    terms.join(" + ")
}

/// A length in millimetres, as lengths are cut: `1874 mm`, `0.25 mm`.
pub fn millimetres(length: Length) -> String {
    let mm = (length.as_metres() * 1e5).round() / 1e2;
    format!("{mm} mm")
}

fn cuts(materials: &Materials) -> Vec<Sheet> {
    let mut sheets: Vec<Sheet> = Vec::new();
    for cut in &materials.cuts {
        let mut how = sum_in_words(cut);
        for note in &cut.notes {
            how = format!("{how}. Mind: {note}");
        }
        let name = if cut.cable { format!("{} ({})", cut.name, cut.wires.join(", ")) } else { cut.name.clone() };
        let zone = cut.zone.clone().unwrap_or_default();
        let cells = vec![name, millimetres(cut.length), String::new(), millimetres(cut.fitted), how, zone];
        match sheets.last_mut().filter(|sheet| sheet.title == cut.reel()) {
            Some(sheet) => sheet.rows.push(cells),
            None => sheets.push(Sheet {
                title: cut.reel(),
                columns: vec!["Piece", "Cut", "Measured", "Fitted", "Sum", "Zone"],
                rows: vec![cells],
            }),
        }
    }
    sheets
}

/// Pull and sleeve of an end, in words; the gap is that of all ends of its size.
pub fn limits_in_words(end: &End) -> String {
    let pull = match &end.pull {
        Some(pull) => format!("sample holds at least {}", pull.value.as_rating()),
        None => "sample holds at least 60 % of what the wire bears (NASA-STD-8739.4)".to_owned(),
    };
    let sleeve = end.sleeve.as_ref().map(|s| format!("; sleeve as long as the joint and {}", millimetres(s.value)));
    format!("{pull}{}", sleeve.unwrap_or_default())
}

fn ends(materials: &Materials) -> Sheet {
    let row = |end: &End| {
        let mut at = end.at.clone();
        if let Some(place) = &end.place {
            at = format!("{at}, {place}");
        }
        let mut strip = end.strip.value.clone();
        if let Some(jacket) = &end.jacket {
            let jacket = jacket.length.map_or_else(|| jacket.words.clone(), millimetres);
            strip = format!("jacket {jacket}; then {strip}");
        }
        let mut terminal = end.terminal.words.clone();
        for note in &end.notes {
            terminal = format!("{terminal}. Mind: {note}");
        }
        let colour = end.colour.as_deref().map(|colour| format!(" {colour}")).unwrap_or_default();
        let wire = format!("{} {}, {}{colour}", end.wire, end.side.word(), end.size);
        let mut first = end.first.join("; ");
        if let Some(longer) = &end.sleeve {
            first = format!("{first} (a sleeve is as long as the joint and {})", millimetres(longer.value));
        }
        let pull = end.pull.as_ref().map_or("60 %".to_owned(), |pull| pull.value.as_rating());
        vec![wire, at, first, strip, terminal, pull]
    };
    Sheet {
        title: String::new(),
        columns: vec!["End", "At", "First", "Strip", "Terminal", "Pull"],
        rows: materials.ends.iter().map(row).collect(),
    }
}

/// The bolt itself, in words: `bolt M6, length 20 mm`, `stud M6`.
pub fn bolt_in_words(bolt: &Bolt) -> String {
    let class = bolt.class.as_ref().map(|c| format!(" {c}")).unwrap_or_default();
    let kind = if bolt.stud { "stud" } else { "bolt" };
    format!("{kind} {}{class}", bolt.thread)
}

fn bolts(materials: &Materials) -> Sheet {
    let row = |bolt: &Bolt| {
        vec![
            bolt.name.clone(),
            bolt.place.clone().unwrap_or_default(),
            bolt_in_words(bolt),
            bolt.length_words.clone(),
            bolt.torque_words.clone(),
            bolt.order.join(" – "),
        ]
    };
    Sheet {
        title: "Bolts and studs".to_owned(),
        columns: vec!["Point", "Where", "What", "Length", "Torque", "Order, from the head or the metal on"],
        rows: materials.bolts.iter().map(row).collect(),
    }
}

fn runs(materials: &Materials) -> Sheet {
    let row = |run: &Run| {
        let shown = |known: &Option<crate::materials::Known<Length>>| {
            known.as_ref().map_or("measure".to_owned(), |known| tenths(known.value))
        };
        let mut notes = run.notes.clone();
        if let Some(why) = &run.grommet {
            notes.insert(0, format!("grommet: {why}"));
        }
        if run.in_tube {
            notes.insert(0, "in a tube".to_owned());
        }
        vec![
            run.members.join(", "),
            run.zone.clone(),
            run.length.to_string(),
            shown(&run.diameter),
            format!("{} x {}", run.clamps, shown(&run.clamp)),
            run.spacing.value.as_rating(),
            shown(&run.bend),
            shown(&run.tube_bore),
            notes.join(". "),
        ]
    };
    Sheet {
        title: "Runs of wires, and what holds them".to_owned(),
        columns: vec!["Run", "Zone", "Long", "Bundle", "Clamps", "Apart", "Bend", "Tube", "Mind"],
        rows: materials.runs.iter().map(row).collect(),
    }
}

fn labels(materials: &Materials) -> Sheet {
    let row = |label: &crate::materials::Label| {
        let over = label.over.map(tenths).unwrap_or_default();
        let end = format!("{} {}", label.wire, label.side.word());
        vec![end, label.at.clone(), label.text.clone(), label.text.chars().count().to_string(), over]
    };
    Sheet {
        title: String::new(),
        columns: vec!["End", "At", "Text", "Letters", "Over"],
        rows: materials.labels.iter().map(row).collect(),
    }
}
