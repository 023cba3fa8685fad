//! A made-up report with every kind of block, for the tests that read the PDF.

use rigproof::report::drawing::scene::{Anchor, Ink, Point, Scene, Shape, Stroke};
use rigproof::report::pdf::{Block, Cell, Column, Document, Run, Table, Tone};

pub fn document(blocks: Vec<Block>) -> Document {
    let created = Some((2026, 11, 25, 9, 30, 0));
    Document { title: "Record of a fitting".into(), footer: "Two work lamps – flatbed truck".into(), created, blocks }
}

pub fn heading(level: u8, text: &str) -> Block {
    Block::Heading { level, text: text.to_owned() }
}

pub fn paragraph(text: &str) -> Block {
    Block::Paragraph(vec![Run::plain(text)])
}

pub fn line(points: &[(f32, f32)], ink: Ink, width: f32) -> Shape {
    let points = points.iter().map(|(x, y)| Point { x: *x, y: *y }).collect();
    Shape::Line { points, stroke: Stroke { ink, width, dash: None } }
}

pub fn area(at: (f32, f32), size: (f32, f32), fill: Option<Ink>, stroke: Option<Ink>) -> Shape {
    let corners = [(0.0, 0.0), (size.0, 0.0), (size.0, size.1), (0.0, size.1)];
    let points = corners.iter().map(|(x, y)| Point { x: at.0 + x, y: at.1 + y }).collect();
    Shape::Area { points, fill, stroke: stroke.map(|ink| Stroke { ink, width: 0.8, dash: None }) }
}

pub fn word(at: (f32, f32), text: &str, anchor: Anchor, upright: bool) -> Shape {
    let at = Point { x: at.0, y: at.1 };
    Shape::Text { at, text: text.to_owned(), size: 8.0, bold: false, anchor, ink: Ink::DARK, upright }
}

/// The bar of a reading.
pub fn bar(share: f32, bad: bool) -> Scene {
    let shapes = vec![
        line(&[(0.0, 6.0), (90.0, 6.0)], Ink::PALE, 0.6),
        area((20.0, 2.5), (50.0, 7.0), Some(Ink::BAND), Some(Ink::GOOD)),
        line(&[(90.0 * share, 0.0), (90.0 * share, 12.0)], if bad { Ink::BAD } else { Ink::DARK }, 1.4),
    ];
    Scene { says: "a reading in its band".into(), width: 90.0, height: 12.0, shapes }
}

/// A circuit of a battery, a fuse, a switch and a number of lamps.
pub fn circuit(lamps: u16) -> Scene {
    let mut shapes = vec![
        area((10.0, 40.0), (60.0, 34.0), None, Some(Ink::DARK)),
        word((40.0, 60.0), "battery", Anchor::Middle, false),
        line(&[(70.0, 48.0), (110.0, 48.0)], Ink::BAD, 1.4),
        word((90.0, 44.0), "W1 4 mm²", Anchor::Middle, false),
        area((110.0, 42.0), (36.0, 12.0), Some(Ink::BAND), Some(Ink::DARK)),
        word((128.0, 38.0), "F1 15 A", Anchor::Middle, false),
    ];
    let mut x = 146.0;
    for lamp in 0..lamps {
        shapes.push(line(&[(x, 48.0), (x + 70.0, 48.0)], Ink::BAD, 1.4));
        x += 70.0;
        let centre = Point { x, y: 80.0 };
        let stroke = Some(Stroke { ink: Ink::DARK, width: 0.9, dash: None });
        shapes.push(line(&[(x, 48.0), (x, 70.0)], Ink::BAD, 1.4));
        shapes.push(Shape::Circle { centre, radius: 10.0, fill: Some(Ink::WHITE), stroke });
        shapes.push(line(&[(x - 7.0, 73.0), (x + 7.0, 87.0)], Ink::DARK, 0.9));
        shapes.push(line(&[(x + 7.0, 73.0), (x - 7.0, 87.0)], Ink::DARK, 0.9));
        shapes.push(word((x + 14.0, 83.0), &format!("L{}", lamp + 1), Anchor::Start, false));
        shapes.push(line(&[(x, 90.0), (x, 120.0)], Ink::DARK, 1.0));
        shapes.push(word((x - 4.0, 118.0), "2.5 mm²", Anchor::Start, true));
    }
    let points = vec![Point { x: 40.0, y: 120.0 }, Point { x, y: 120.0 }];
    let stroke = Stroke { ink: Ink::SOFT, width: 1.0, dash: Some((4.0, 2.0)) };
    shapes.push(Shape::Line { points, stroke });
    shapes.push(line(&[(40.0, 74.0), (40.0, 120.0)], Ink::DARK, 1.0));
    shapes.push(word((x, 132.0), "body", Anchor::End, false));
    Scene { says: "the circuit as built".into(), width: x + 40.0, height: 140.0, shapes }
}

pub fn picture() -> Vec<u8> {
    let pixels: Vec<u8> = (0..120_u32)
        .flat_map(|y| (0..160_u32).flat_map(move |x| [x, y * 2, 255 - x].map(|c| u8::try_from(c).unwrap())))
        .collect();
    let mut file = Vec::new();
    let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut file, 80);
    encoder.encode(&pixels, 160, 120, image::ExtendedColorType::Rgb8).unwrap();
    file
}

pub fn readings(count: usize) -> Table {
    let columns = vec![
        Column::share("Reading", 3.0),
        Column::fit("State"),
        Column::fit("Expected").numeric(),
        Column::fit(""),
        Column::fit("Read").numeric(),
        Column::fit("Result"),
    ];
    let row = |at: usize| {
        let bad = at % 7 == 3;
        let small = |text: &str| vec![Run::plain(text).small().soft()];
        vec![
            Cell::Text(vec![
                vec![
                    Run::plain("Voltage across "),
                    Run::plain(format!("lamp-{}.+", at + 1)).mono(),
                    Run::plain(" and ground at the lamp"),
                ],
                small("rule: at least 11.4 V"),
                small("A. Fitter, 25 Nov 2026 09:12"),
            ]),
            Cell::Text(vec![small("engine off, lamps on")]),
            Cell::plain("12.05 to 12.31 V"),
            Cell::Drawing(bar(if bad { 0.1 } else { 0.3 + 0.05 * (at % 8) as f32 }, bad)),
            Cell::Text(vec![vec![Run::plain(if bad { "11.20 V" } else { "12.18 V" })], small("± 0.07 V, M2")]),
            if bad { Cell::judged("does not conform", Tone::Bad) } else { Cell::judged("conforms", Tone::Good) },
        ]
    };
    Table { columns, rows: (0..count).map(row).collect() }
}

/// Every kind of block, on at least three pages.
pub fn sample() -> Document {
    document(vec![
        heading(1, "Two work lamps on the rear rack"),
        Block::Paragraph(vec![Run::plain("Flatbed truck · ORCHARD-2 · 12 V · order 2026-118").soft()]),
        Block::Band {
            word: "Conforms, with one concession".into(),
            tone: Tone::Odd,
            lines: vec![
                vec![Run::plain("31 of 32 readings keep their limits; one was accepted for this vehicle by the customer.")],
                vec![Run::plain("Nothing was left open.")],
            ],
        },
        Block::KeyValues(vec![
            ("Signed by".into(), vec![Run::plain("A. Fitter, fitter, 25 Nov 2026 09:30 (by the signer's own clock)")]),
            ("States".into(), vec![Run::plain("The work was done as it is written here, and the readings are those of the meters.")]),
            ("Key".into(), vec![Run::plain("SHA256:2uW0xmmQzUkoUuKpGh2bK8M3l5s7TeyVbqYpNqv5zzI").mono()]),
            ("How to check".into(), vec![Run::plain("See the last section: three commands with stock tools.")]),
        ]),
        heading(2, "What was fitted"),
        Block::Lead(vec![Run::plain("All loads, as they are wired now.").small().soft()]),
        Block::Table(Table {
            columns: vec![
                Column::fit("Load"), Column::fit("Kind"), Column::fit("Draws").numeric(), Column::share("Where", 1.0),
                Column::fit("Protected by"), Column::fit("Measured across it").numeric(),
            ],
            rows: (1..=2).map(|n| vec![
                Cell::Text(vec![vec![Run::plain(format!("work-lamp-{n}")).bold()]]),
                Cell::plain("LED lamp"), Cell::plain("3.9 A"), Cell::plain("rear rack, left and right of the ladder"),
                Cell::plain("F1, 15 A blade"), Cell::plain("12.18 V"),
            ]).collect(),
        }),
        heading(3, "What these wires carry"),
        paragraph("The lead from the battery has 2.5 mm² of copper and 4.7 mΩ from end to end; at the full current it stays below 85 °C, with 3.4 A/mm² in the hottest stretch. The band below is what the circuit must show by its stated tolerances."),
        Block::Bullets(vec![
            vec![Run::plain("A fuse stands within 300 mm of the battery, since the lead before it is not protected by anything but its own sleeve and the care with which it was laid.")],
            vec![Run::plain("The ground of both lamps is "), Run::plain("body.rear-left").mono(), Run::plain(", cleaned to bare metal.")],
            vec![Run::plain("Not drawn: 木 and \u{202e}turned\u{202c}.")],
        ]),
        heading(2, "The circuit as built"),
        Block::Drawing { scene: circuit(3), caption: vec![Run::plain("The circuit as built. Red: fed by the battery.").soft()] },
        heading(2, "Readings"),
        Block::Lead(vec![Run::plain("The dark band is what the circuit must show; the upright mark is the reading.").small().soft()]),
        heading(3, "Voltages with the lamps on"),
        Block::Table(readings(18)),
        heading(2, "Pictures"),
        Block::Picture { jpeg: picture(), name: "p1.jpg".into(), width: 220.0, height: 165.0, caption: vec![Run::plain("p1.jpg").mono(), Run::plain(" The ground point before it was closed.").soft()] },
        heading(2, "The whole vehicle"),
        Block::Drawing { scene: circuit(12), caption: vec![Run::plain("All lamps of the vehicle.").soft()] },
        heading(2, "How to check this report"),
        paragraph("The record folder that this report came with holds the journal of every entry, the job and the procedures. In that folder:"),
        Block::Preformatted(vec![
            "ssh-keygen -l -f signer.pub".into(),
            "ssh-keygen -Y verify -f allowed_signers -I fitter -n rigproof-record -s SHA256SUMS.sig < SHA256SUMS && echo the journal is as it was signed".into(),
            "sha256sum -c SHA256SUMS".into(),
        ]),
    ])
}
