//! What each fault makes a meter show.

use super::evidence::Predicted;
use super::fault::{Fault, Kind, Strength};
use crate::circuit::{Dictionary, Shown, State};
use crate::job::{Instrument, Job};
use crate::judgement::Measured;
use crate::plan::{Measurement, Probes};
use crate::quantity::{Amount, Dimension};

/// A reading that is asked for, and the instrument that takes it.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Where, in which state; the instrument in line is part of it.
    pub measurement: Measurement,
    instrument: Instrument,
    /// One step of the last digit read, in the base unit; 0 where it is not known yet.
    resolution: f64,
}

impl Asked {
    /// `None` where no instrument of the job measures it.
    pub fn of(job: &Job, measurement: &Measurement, instrument: Option<&str>, resolution: f64) -> Option<Self> {
        let instrument = job
            .instrument(instrument, measurement.dimension)
            .or_else(|| job.instrument(None, measurement.dimension))?;
        let state = measurement.state_with_meter(job);
        Some(Self { measurement: Measurement { state, ..measurement.clone() }, instrument, resolution })
    }

    /// Meter and model together, for what is shown.
    fn predicted(&self, shown: &Shown, times: f64) -> Predicted {
        let Some(nominal) = shown.nominal else { return Predicted::OverRange };
        let ohms = self.measurement.dimension == Dimension::Resistance;
        if ohms && times == 0.0 {
            return Predicted::OverRange;
        }
        // An ohmmeter has no sign.
        let times = if ohms { times.abs() } else { times };
        let scaled = |amount: Amount| amount.with(amount.base() * times);
        let mut mean = scaled(nominal);
        let largest =
            |error: f64| Measured { value: mean, largest_error: mean.with(error) }.standard_uncertainty().base();
        let meter = largest(self.instrument.largest_error(mean, self.resolution).map_or(0.0, Amount::base));
        let mut leads = 0.0;
        if ohms {
            // The leads read too, anywhere from nothing to what the instrument states.
            let half = self.instrument.leads.as_ohms() / 2.0;
            leads = largest(half);
            mean = mean.with(mean.base() + half);
        }
        let standard = meter.hypot(leads).hypot(shown.own.base() * times).max(LEAST_STANDARD);
        let moves = shown.shared.iter().map(|moved| scaled(*moved)).collect();
        Predicted::Value { mean, standard: mean.with(standard), stray: scaled(shown.stray), moves }
    }
}

/// No reading is better known than this, in its base unit.
const LEAST_STANDARD: f64 = 1e-9;

/// What a fault of a strength makes each reading show; `None` where the circuit has no steady state with it.
pub fn predict(
    job: &Job,
    dictionary: &Dictionary,
    asked: &[Asked],
    fault: &Fault,
    strength: Strength,
) -> Vec<Option<Predicted>> {
    let changes = fault.changes(job, strength);
    let times = fault.meter_shows(strength);
    // Readings in one state are taken in one circuit.
    let mut solved: Vec<(&State, bool, Option<_>)> = Vec::new();
    let mut predicted = Vec::with_capacity(asked.len());
    for one in asked {
        let Measurement { dimension, probes, state, .. } = &one.measurement;
        let passive = *dimension == Dimension::Resistance;
        let place = solved.iter().position(|(own, kind, _)| *kind == passive && **own == *state).unwrap_or_else(|| {
            let circuit =
                if passive { dictionary.passive(state, &changes) } else { dictionary.in_state(state, &changes) };
            solved.push((state, passive, circuit.ok()));
            solved.len() - 1
        });
        let circuit = solved[place].2.as_ref();
        let shown = circuit.and_then(|circuit| match probes {
            Probes::Between(red, black) if passive => circuit.resistance(red, black),
            Probes::Between(red, black) => circuit.voltage(red, black),
            Probes::Wire(wire) => circuit.current(wire),
        });
        // A clamp has no leads to break.
        let times = match (probes, fault.kind) {
            (Probes::Wire(_), Kind::LeadOpen) if state.in_line.is_none() => 1.0,
            _ => times,
        };
        predicted.push(shown.map(|shown| one.predicted(&shown, times)));
    }
    predicted
}
