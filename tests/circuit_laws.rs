//! What must hold for every circuit: Kirchhoff's laws, the balance of power, superposition, more wire more drop.

#![allow(missing_docs, reason = "tests speak through their names")]

use std::fmt::Write;

use proptest::prelude::*;
use rigproof::circuit::{Circuit, Engine, State};
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::quantity::Quantity;

/// Two lamps and a pump behind one feed; lengths, emf and kinds vary.
#[derive(Debug, Clone)]
struct Bench {
    emf: f64,
    internal_mohm: f64,
    feed: f64,
    branches: [f64; 3],
    kinds: [usize; 3],
}

fn kind(kind: usize) -> &'static str {
    match kind {
        0 => "kind = \"resistor\"\nresistance = \"4 ohm\"",
        1 => "kind = \"filament\"\npower = \"21 W\"",
        2 => "kind = \"led\"\npower = \"30 W\"\nworks_from = \"8 V\"",
        _ => "kind = \"motor\"\ncurrent = \"5 A\"",
    }
}

fn bench() -> impl Strategy<Value = Bench> {
    (11.0..14.5f64, 1.0..20.0f64, 0.2..8.0f64, [0.2..8.0f64, 0.2..8.0, 0.2..8.0], [0usize..4, 0..4, 0..4])
        .prop_map(|(emf, internal_mohm, feed, branches, kinds)| Bench { emf, internal_mohm, feed, branches, kinds })
}

impl Bench {
    fn job(&self) -> Job {
        let mut text = format!(
            "format = 1\ntitle = \"bench\"\n[vehicle]\ndescription = \"bench\"\nsystem = \"12 V\"\n[battery]\nkind = \"agm\"\n\
             rest_voltage = \"{} V\"\ninternal_resistance = \"{} mohm\"\n[assume]\njoint = \"1 mohm\"\nchassis = \"1 mohm\"\n\
             conductor_temperature = \"20 °C\"\n[fuse.F1]\nrating = \"30 A\"\nresistance = \"4 mohm\"\n[splice.J1]\n[ground.G1]\n\
             [wire.feed]\nfrom = \"battery.+\"\nto = \"F1.in\"\nsize = \"4 mm²\"\nlength = \"{} m\"\n\
             [wire.main]\nfrom = \"F1.out\"\nto = \"J1\"\nsize = \"4 mm²\"\nlength = \"1 m\"\n",
            self.emf, self.internal_mohm, self.feed
        );
        for (index, (length, k)) in self.branches.iter().zip(self.kinds).enumerate() {
            let _ = write!(
                text,
                "[load.l{index}]\n{}\n[wire.p{index}]\nfrom = \"J1\"\nto = \"l{index}.+\"\nsize = \"2.5 mm²\"\nlength = \"{length} m\"\n\
                 [wire.m{index}]\nfrom = \"G1\"\nto = \"l{index}.-\"\nsize = \"2.5 mm²\"\nlength = \"1 m\"\n",
                kind(k)
            );
        }
        Job::read(&Source::new("bench.toml", text)).unwrap_or_else(|e| panic!("{e}"))
    }

    fn volts(&self, a: &str, b: &str) -> f64 {
        let job = self.job();
        let solution = Circuit::of(&job).solve(&State::rest()).unwrap();
        let at = |name: &str| solution.voltage(&job.terminal(name).unwrap()).unwrap().base();
        at(a) - at(b)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn currents_at_every_node_sum_to_nothing(bench in bench()) {
        let job = bench.job();
        let solution = Circuit::of(&job).solve(&State::rest()).unwrap();
        prop_assert!(solution.residual().base() < 1e-9, "{} A are left over", solution.residual().base());
        let amps = |name: &str| solution.current(name).unwrap().base();
        let branches: f64 = ["p0", "p1", "p2"].into_iter().map(amps).sum();
        prop_assert!((amps("main") - branches).abs() < 1e-9);
        prop_assert!((amps("battery") - amps("feed")).abs() < 1e-9);
    }

    #[test]
    fn drops_around_every_loop_sum_to_nothing(bench in bench()) {
        for load in 0..3 {
            let there = bench.volts("battery.+", &format!("l{load}.+"));
            let across = bench.volts(&format!("l{load}.+"), &format!("l{load}.-"));
            let back = bench.volts(&format!("l{load}.-"), "battery.-");
            let posts = bench.volts("battery.+", "battery.-");
            prop_assert!((there + across + back - posts).abs() < 1e-9);
        }
    }

    #[test]
    fn the_battery_gives_what_loads_and_wires_take(bench in bench()) {
        let job = bench.job();
        let solution = Circuit::of(&job).solve(&State::rest()).unwrap();
        let amps = |name: &str| solution.current(name).unwrap().base();
        let given = bench.emf * amps("battery");
        let mut taken = bench.internal_mohm / 1000.0 * amps("battery").powi(2);
        for load in 0..3 {
            let name = format!("l{load}");
            taken += solution.load_voltage(&name).unwrap().base() * amps(&name);
        }
        for element in ["feed", "main", "F1", "chassis", "p0", "p1", "p2", "m0", "m1", "m2"] {
            let ends = match element {
                "F1" => ("F1.in".to_owned(), "F1.out".to_owned()),
                "chassis" => ("chassis".to_owned(), "battery.-".to_owned()),
                wire => {
                    let wire = job.wire(wire).unwrap();
                    (wire.from.name().to_owned(), wire.to.name().to_owned())
                }
            };
            let at = |name: &str| solution.voltage(&job.terminal(name).unwrap()).unwrap().base();
            taken += (at(&ends.0) - at(&ends.1)).abs() * amps(element).abs();
        }
        prop_assert!((given - taken).abs() < 1e-8 * given.max(1.0), "{given} W given, {taken} W taken");
    }

    #[test]
    fn a_linear_circuit_answers_in_proportion_to_its_source(mut bench in bench(), other in 1.0..30.0f64) {
        bench.kinds = [0, 0, 0];
        let one = bench.volts("battery.+", "l1.+");
        let both = Bench { emf: bench.emf + other, ..bench.clone() }.volts("battery.+", "l1.+");
        let rest = Bench { emf: other, ..bench.clone() }.volts("battery.+", "l1.+");
        prop_assert!((one + rest - both).abs() < 1e-9);
    }

    #[test]
    fn a_longer_wire_never_drops_less(bench in bench(), more in 0.1..5.0f64) {
        let longer = Bench { feed: bench.feed + more, ..bench.clone() };
        let share = |b: &Bench| {
            let job = b.job();
            let solution = Circuit::of(&job).solve(&State::rest()).unwrap();
            let at = |name: &str| solution.voltage(&job.terminal(name).unwrap()).unwrap().base();
            at("battery.+") - at("F1.in")
        };
        prop_assert!(share(&longer) > share(&bench));
    }
}

fn coil_job(emf: f64) -> Job {
    let text = format!(
        "format = 1\ntitle = \"relay\"\n[vehicle]\ndescription = \"bench\"\nsystem = \"12 V\"\n[battery]\nkind = \"agm\"\n\
         rest_voltage = \"{emf} V\"\ninternal_resistance = \"5 mohm\"\n[relay.K1]\ncoil = \"85 ohm\"\npull_in = \"7.2 V\"\ndrop_out = \"1.6 V\"\n\
         [load.lamp]\nkind = \"resistor\"\nresistance = \"6 ohm\"\n[ground.G1]\n\
         [wire.a]\nfrom = \"battery.+\"\nto = \"K1.30\"\nsize = \"2.5 mm²\"\nlength = \"1 m\"\n\
         [wire.b]\nfrom = \"battery.+\"\nto = \"K1.86\"\nsize = \"1 mm²\"\nlength = \"1 m\"\n\
         [wire.c]\nfrom = \"G1\"\nto = \"K1.85\"\nsize = \"1 mm²\"\nlength = \"1 m\"\n\
         [wire.d]\nfrom = \"K1.87\"\nto = \"lamp.+\"\nsize = \"2.5 mm²\"\nlength = \"1 m\"\n\
         [wire.e]\nfrom = \"G1\"\nto = \"lamp.-\"\nsize = \"2.5 mm²\"\nlength = \"1 m\"\n"
    );
    Job::read(&Source::new("relay.toml", text)).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_relay_between_drop_out_and_pull_in_stays_as_it_was() {
    let job = coil_job(4.0);
    let circuit = Circuit::of(&job);
    let at_rest = circuit.solve(&State::rest()).unwrap();
    assert!(at_rest.energised.is_empty(), "4 V do not pull it in");
    let held = ["K1".to_owned()].into_iter().collect();
    let holding = circuit.solve_held(&State::rest(), &held).unwrap();
    assert!(holding.energised.contains("K1"), "4 V hold it");
    assert!(holding.current("lamp").unwrap().base() > 0.5);
    let low = coil_job(1.5);
    assert!(Circuit::of(&low).solve_held(&State::rest(), &held).unwrap().energised.is_empty(), "1.5 V let it go");
    assert!(Circuit::of(&coil_job(12.6)).solve(&State::rest()).unwrap().energised.contains("K1"));
}

#[test]
fn a_line_that_cannot_carry_a_constant_power_says_so_and_how_much_it_can() {
    let line = |watts: f64| {
        let text = format!(
            "format = 1\ntitle = \"limit\"\n[vehicle]\ndescription = \"bench\"\nsystem = \"12 V\"\n[battery]\nkind = \"agm\"\n\
             rest_voltage = \"12 V\"\ninternal_resistance = \"0 ohm\"\n[assume]\njoint = \"0 ohm\"\nchassis = \"0 ohm\"\n\
             conductor_temperature = \"20 °C\"\n[load.heater]\nkind = \"led\"\npower = \"{watts} W\"\n\
             [wire.w]\nfrom = \"battery.+\"\nto = \"heater.+\"\nsize = \"1 mm²\"\nlength = \"1 m\"\nresistance = \"1 ohm\"\n\
             [wire.b]\nfrom = \"battery.-\"\nto = \"heater.-\"\nsize = \"1 mm²\"\nlength = \"1 m\"\nresistance = \"0 ohm\"\n"
        );
        Job::read(&Source::new("limit.toml", text)).unwrap_or_else(|e| panic!("{e}"))
    };
    // Over 1 ohm from 12 V at most 36 W arrive (V²/4R), at 6 V.
    let job = line(35.0);
    let solution = Circuit::of(&job).solve(&State::rest()).unwrap();
    let volts = solution.load_voltage("heater").unwrap().base();
    // Of the two solutions of V (12 - V) = 35, 7 V and 5 V, the one nearer the battery.
    assert!((volts - 7.0).abs() < 1e-6, "{volts}");
    let none = Circuit::of(&line(45.0)).solve(&State::rest()).unwrap_err();
    assert!(none.says.contains("cannot carry") && none.says.contains("80 %"), "{none}");
}

#[test]
fn an_engine_that_runs_holds_the_posts_up_to_the_current_of_its_alternator() {
    let text = coil_job(12.6)
        .source
        .text
        .replace("[relay.K1]", "[alternator]\nvoltage = \"14.2 V\"\ncurrent = \"2 A\"\n[relay.K1]");
    let small = Job::read(&Source::new("a.toml", text.as_str())).unwrap();
    let large = Job::read(&Source::new("a.toml", text.replace("\"2 A\"", "\"80 A\""))).unwrap();
    let running = State { engine: Engine::Running, ..State::rest() };
    let posts = |job: &Job| {
        let solution = Circuit::of(job).solve(&running).unwrap();
        solution.voltage(&job.terminal("battery.+").unwrap()).unwrap().base()
    };
    assert!((posts(&large) - 14.2).abs() < 1e-9);
    // The lamp alone draws some 2 A and the coil more: the battery gives the rest, from 12.6 V.
    assert!((12.59..12.61).contains(&posts(&small)), "{}", posts(&small));
    // A battery without any resistance then holds the posts itself.
    let ideal = small.source.text.replace("\"5 mohm\"", "\"0 ohm\"");
    let ideal = Job::read(&Source::new("a.toml", ideal)).unwrap();
    assert!((posts(&ideal) - 12.6).abs() < 1e-9, "{}", posts(&ideal));
}

#[test]
fn a_wire_may_be_called_meter_and_the_way_of_a_drop_still_goes_through_it() {
    let named = |name: &str| {
        let text = coil_job(12.6).source.text.replace("[wire.d]", &format!("[wire.{name}]"));
        let job = Job::read(&Source::new("m.toml", text)).unwrap();
        let terminal = |name: &str| job.terminal(name).unwrap();
        let expectation = Circuit::of(&job).voltage(&terminal("K1.87"), &terminal("lamp.+"), &State::rest()).unwrap();
        expectation.because.into_iter().map(|step| step.element).collect::<Vec<_>>()
    };
    assert_eq!(named("d"), ["d"]);
    assert_eq!(named("meter"), ["meter"]);
}

#[test]
fn a_wire_heats_by_its_own_current_and_its_resistance_follows() {
    let hot = coil_job(12.6).source.text.replace("resistance = \"6 ohm\"", "resistance = \"0.6 ohm\"");
    let hot = Job::read(&Source::new("hot.toml", hot)).unwrap();
    let cold = Job::read(&Source::new(
        "cold.toml",
        hot.source.text.replace("[relay.K1]", "[assume]\nconductor_temperature = \"15 °C\"\n[relay.K1]"),
    ))
    .unwrap();
    let drop = |job: &Job| {
        let solution = Circuit::of(job).solve(&State::rest()).unwrap();
        let at = |name: &str| solution.voltage(&job.terminal(name).unwrap()).unwrap().base();
        (at("battery.+") - at("K1.30")) / solution.current("a").unwrap().base()
    };
    // 20 A on 2.5 mm² (35 A at 30 °C and 105 °C insulation): 75 K x (20/35)² = 24 K, 9 % more.
    let ratio = drop(&hot) / drop(&cold);
    assert!((1.05..1.12).contains(&ratio), "{ratio}");
}
