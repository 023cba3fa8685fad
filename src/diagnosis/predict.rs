//! What each fault makes a meter show.

use super::evidence::Predicted;
use super::fault::{Fault, Kind, Strength};
use crate::circuit::{Altered, Dictionary, Point, Shown, State};
use crate::job::{Instrument, Job};
use crate::judgement::Measured;
use crate::plan::{Measurement, Probes};
use crate::quantity::{Amount, Dimension};

/// A reading that is asked for, and the instrument that takes it.
#[derive(Debug, Clone)]
struct Asked {
    measurement: Measurement,
    points: Option<(Point, Point)>,
    instrument: Instrument,
    /// One step of the last digit read, in the base unit; 0 where it is not known yet.
    resolution: f64,
    /// The place of its state among those of all readings.
    state: usize,
}

/// Readings that are asked for, in a job prepared for all faults.
#[derive(Debug)]
pub struct Questions<'d> {
    job: &'d Job,
    dictionary: &'d Dictionary<'d>,
    asked: Vec<Asked>,
    /// Each state once, and whether an ohmmeter asks: readings in one state are taken in one circuit.
    states: Vec<(State, bool)>,
}

/// A reading that a fault changes by less, in standard uncertainties, is as it was.
pub(super) const UNCHANGED: f64 = 0.5;

/// No reading is better known than this, in its base unit.
const LEAST_STANDARD: f64 = 1e-9;

impl<'d> Questions<'d> {
    /// For measurements, each with the name of its instrument and one step of the last digit read (0 where nothing is
    /// known of them).
    pub fn of<'m>(
        job: &'d Job,
        dictionary: &'d Dictionary<'d>,
        measurements: impl IntoIterator<Item = (&'m Measurement, Option<&'m str>, f64)>,
    ) -> Self {
        let mut questions = Self { job, dictionary, asked: Vec::new(), states: Vec::new() };
        for (measurement, instrument, resolution) in measurements {
            questions.add(measurement, instrument, resolution);
        }
        questions
    }

    fn add(&mut self, measurement: &Measurement, instrument: Option<&str>, resolution: f64) {
        let dimension = measurement.dimension;
        let named = self.job.instrument(instrument, dimension).or_else(|| self.job.instrument(None, dimension));
        let state = measurement.state_with_meter(self.job);
        let passive = dimension == Dimension::Resistance;
        let known = self.states.iter().position(|(own, kind)| *kind == passive && *own == state);
        let state = known.unwrap_or_else(|| {
            self.states.push((state, passive));
            self.states.len() - 1
        });
        let points = match &measurement.probes {
            Probes::Between(red, black) => self.dictionary.point(red).zip(self.dictionary.point(black)),
            Probes::Wire(_) => None,
        };
        let instrument = named.unwrap_or_else(Instrument::generic);
        self.asked.push(Asked { measurement: measurement.clone(), points, instrument, resolution, state });
    }

    /// What the meter alone leaves open of a reading, as a standard uncertainty in the base unit.
    pub fn meter_alone(&self, place: usize, value: f64) -> f64 {
        let asked = &self.asked[place];
        let value = Amount::new(value, asked.measurement.dimension);
        asked.standard_of_meter(value).max(LEAST_STANDARD)
    }

    /// The circuits of all states with a fault; `None` where there is no steady state.
    fn circuits(&self, fault: &Fault, strength: Strength) -> Vec<Option<Altered<'d>>> {
        let changes = fault.changes(self.job, strength);
        let of = |(state, passive): &(State, bool)| {
            if *passive {
                self.dictionary.passive(state, &changes).ok()
            } else {
                self.dictionary.in_state(state, &changes).ok()
            }
        };
        self.states.iter().map(of).collect()
    }

    /// What a fault of a strength makes each reading show; `None` where the circuit has no steady state with it.
    ///
    /// `designed` is what the readings show as designed, where that is known: a reading that hardly moves from it is as
    /// uncertain as it was.
    pub fn predict(&self, fault: &Fault, strength: Strength, designed: &[Predicted]) -> Vec<Option<Predicted>> {
        let circuits = self.circuits(fault, strength);
        let of = |(place, asked): (usize, &Asked)| {
            let circuit = circuits[asked.state].as_ref()?;
            if let Some(Predicted::Value { mean, standard, stray, moves }) = designed.get(place)
                && asked.measurement.dimension == Dimension::Voltage
                && stray.base() == 0.0
            {
                let now = circuit.volts_between(asked.points?).as_volts() * asked.meter_shows(fault, strength);
                if (now - mean.base()).abs() < UNCHANGED * standard.base() {
                    let moves = moves.clone();
                    return Some(Predicted::Value { mean: mean.with(now), standard: *standard, stray: *stray, moves });
                }
            }
            let shown = match (&asked.measurement.probes, asked.measurement.dimension) {
                (Probes::Between(..), Dimension::Resistance) => circuit.resistance(asked.points?),
                (Probes::Between(..), _) => circuit.voltage(asked.points?),
                (Probes::Wire(wire), _) => circuit.current(wire)?,
            };
            Some(asked.predicted(&shown, asked.meter_shows(fault, strength)))
        };
        self.asked.iter().enumerate().map(of).collect()
    }

    /// The nominal values alone, in the base unit; `None` where nothing is shown, or over-range.
    pub fn nominal(&self, fault: &Fault, strength: Strength) -> Vec<Option<f64>> {
        let circuits = self.circuits(fault, strength);
        let of = |asked: &Asked| {
            let circuit = circuits[asked.state].as_ref()?;
            let shown = match (&asked.measurement.probes, asked.measurement.dimension) {
                (Probes::Between(..), Dimension::Resistance) => circuit.resistance(asked.points?).nominal?.base(),
                (Probes::Between(..), _) => circuit.volts_between(asked.points?).as_volts(),
                (Probes::Wire(wire), _) => circuit.current(wire)?.nominal?.base(),
            };
            Some(shown * asked.meter_shows(fault, strength))
        };
        self.asked.iter().map(of).collect()
    }
}

impl Asked {
    /// The multiple of the value that the meter shows with a fault of its own.
    fn meter_shows(&self, fault: &Fault, strength: Strength) -> f64 {
        match (&self.measurement.probes, fault.kind) {
            // A clamp has no leads to break.
            (Probes::Wire(_), Kind::LeadOpen) if self.instrument.burden.is_none() => 1.0,
            _ => fault.meter_shows(strength),
        }
    }

    fn standard_of_meter(&self, value: Amount) -> f64 {
        let digit = if self.resolution > 0.0 { Some(self.resolution) } else { self.instrument.digit_at(value) };
        let largest_error = self.instrument.largest_error(value, digit.unwrap_or(0.0)).unwrap_or(value.with(0.0));
        Measured { value, largest_error }.standard_uncertainty().base()
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
        let meter = self.standard_of_meter(mean);
        let mut leads = 0.0;
        if ohms {
            // The leads read too, anywhere from nothing to what the instrument states.
            let half = self.instrument.leads.as_ohms() / 2.0;
            leads = Measured { value: mean, largest_error: mean.with(half) }.standard_uncertainty().base();
            mean = mean.with(mean.base() + half);
        }
        let standard = meter.hypot(leads).hypot(shown.own.base() * times).max(LEAST_STANDARD);
        let moves = shown.shared.iter().map(|moved| scaled(*moved)).collect();
        Predicted::Value { mean, standard: mean.with(standard), stray: scaled(shown.stray), moves }
    }
}
