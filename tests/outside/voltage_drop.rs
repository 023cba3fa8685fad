//! Published worked examples of voltage drop, put through the whole engine: a job of one wire and one load.
//! Sources: named in each row of `data/voltage_drop_examples.toml` (FAA AC 43.13-1B, Lessons in Electric Circuits,
//! trade pages); known errors of a source are explained in its row and checked against the corrected value.

use rigproof::circuit::{Circuit, State};
use rigproof::document::Source;
use rigproof::job::{Job, Terminal};
use rigproof::quantity::Quantity;

fn examples() -> Vec<toml::Table> {
    let text = include_str!("data/voltage_drop_examples.toml");
    let table: toml::Table = text.parse().unwrap();
    table["example"].as_array().unwrap().iter().map(|row| row.as_table().unwrap().clone()).collect()
}

fn number(table: &toml::Table, key: &str) -> Option<f64> {
    let value = table.get(key)?;
    value.as_float().or_else(|| value.as_integer().map(|n| n as f64))
}

/// One wire of a known resistance from a stiff source, and a load that draws a known current or has a known resistance.
fn line(source_volts: f64, wire_ohms: f64, load: &str) -> Job {
    let text = format!(
        "format = 1\ntitle = \"example\"\n[vehicle]\ndescription = \"bench\"\nsystem = \"12 V\"\n\
         [battery]\nkind = \"flooded\"\nrest_voltage = \"{source_volts} V\"\ninternal_resistance = \"0 ohm\"\n\
         [assume]\njoint = \"0 ohm\"\nchassis = \"0 ohm\"\nconductor_temperature = \"20 °C\"\n\
         [load.end]\n{load}\n[wire.line]\nfrom = \"battery.+\"\nto = \"end.+\"\nsize = \"2.5 mm²\"\nlength = \"1 m\"\n\
         resistance = \"{wire_ohms} ohm\"\n[wire.back]\nfrom = \"battery.-\"\nto = \"end.-\"\nsize = \"2.5 mm²\"\n\
         length = \"1 m\"\nresistance = \"0 ohm\"\n"
    );
    Job::read(&Source::new("example.toml", text)).unwrap_or_else(|e| panic!("{e}"))
}

fn volts_between(job: &Job, a: &str, b: &str) -> f64 {
    let terminal = |name: &str| job.terminal(name).unwrap();
    let expectation = Circuit::of(job).voltage(&terminal(a), &terminal(b), &State::rest()).unwrap();
    expectation.nominal.unwrap().base()
}

/// The drop over a line of `ohms` that carries `amps`.
fn drop_over(ohms: f64, amps: f64) -> f64 {
    let job = line(400.0, ohms, &format!("kind = \"motor\"\ncurrent = \"{amps} A\""));
    volts_between(&job, "battery.+", "end.+")
}

fn close(id: &str, ours: f64, published: f64, relative: f64) {
    // The voltmeter's 10 Mohm and the row's own rounding.
    assert!(
        (ours - published).abs() <= (relative + 1e-6) * published.abs(),
        "{id}: {ours} here, {published} published"
    );
}

#[test]
fn every_published_drop_comes_out_of_the_engine() {
    let mut checked = 0;
    for row in examples() {
        let id = row["id"].as_str().unwrap();
        let (inputs, answer) = (row["inputs"].as_table().unwrap(), row["answer"].as_table().unwrap());
        let tolerance = number(&row, "rel_tol").unwrap();
        let get = |key: &str| number(inputs, key);
        let published = number(answer, "vd_correct").or_else(|| number(answer, "vd"));
        let Some(published) = published else { continue };
        let amps = get("current_a").unwrap();
        let ohms = if let (Some(per_foot), Some(feet)) = (get("ohm_per_ft"), get("length_ft")) {
            per_foot * feet
        } else if let (Some(per_1000), Some(one_way)) = (get("ohm_per_1000ft"), get("one_way_ft")) {
            2.0 * one_way * per_1000 / 1000.0
        } else if let (Some(k), Some(metres), Some(mm2)) = (get("k"), get("total_m"), get("area_mm2")) {
            k * metres / mm2
        } else if let (Some(rho), Some(one_way), Some(mm2)) = (get("rho"), get("one_way_m"), get("area_mm2")) {
            2.0 * one_way * rho / mm2
        } else {
            panic!("{id}: inputs of an unknown kind")
        };
        close(id, drop_over(ohms, amps), published, tolerance);
        checked += 1;
    }
    assert_eq!(checked, 11, "eleven of the rows state a drop");
}

#[test]
fn a_warm_line_leaves_its_load_the_voltage_that_the_textbook_says() {
    // Lessons in Electric Circuits vol. I ch. 12: 14 V, two wires of 15 ohm at 20 °C, load 250 ohm, 35 °C.
    let row = examples().into_iter().find(|r| r["id"].as_str() == Some("liec_temperature")).unwrap();
    let answer = row["answer"].as_table().unwrap();
    let hot = 15.0 * (1.0 + 0.004_041 * 15.0);
    close("hot wire", hot, number(answer, "r_wire_hot").unwrap(), 1e-4);
    let load = "kind = \"resistor\"\nresistance = \"250 ohm\"";
    let cold = volts_between(&line(14.0, 30.0, load), "end.+", "end.-");
    close("cold load", cold, number(answer, "v_load_cold").unwrap(), 1e-4);
    let job = line(14.0, 2.0 * hot, load);
    close("warm load", volts_between(&job, "end.+", "end.-"), number(answer, "v_load").unwrap(), 1e-3);
    let amps = Circuit::of(&job).solve(&State::rest()).unwrap().current("line").unwrap().base();
    close("current", amps * 1000.0, number(answer, "i_ma").unwrap(), 1e-3);
    assert_eq!(Terminal::battery_plus().name(), "battery.+");
}

#[test]
fn a_shorted_line_limits_its_own_current_as_the_textbook_says() {
    // Lessons in Electric Circuits vol. I ch. 12: 230 V, 2 x 5.651 ohm of 14 AWG, load shorted: 20.352 A.
    let job = line(230.0, 2.0 * 10.09 / 4107.0 * 2300.0, "kind = \"resistor\"\nresistance = \"1e-9 ohm\"");
    let amps = Circuit::of(&job).solve(&State::rest()).unwrap().current("line").unwrap().base();
    close("liec_14awg", amps, 20.352, 5e-4);
}
