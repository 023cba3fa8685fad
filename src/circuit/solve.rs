//! Solves a job in a state: Newton's iteration inside, around it the relays, the heat of the wires and the
//! alternator's limit.

use std::collections::BTreeSet;

use super::network::{Branch, Found, Law, Network, Purpose, build};
use super::newton::{self, Failure, Point};
use super::state::{Engine, State};
use super::{Change, Circuit, change, heat};
use crate::handbook::meter::VOLTMETER_INPUT;
use crate::job::{Fuse, Job, LoadKind, Terminal};
use crate::quantity::{Current, Dimension, Resistance, Voltage};

/// Why a circuit has no steady state.
#[derive(Debug, Clone, PartialEq)]
pub struct NoOperatingPoint {
    /// In words, with what to change.
    pub says: String,
}

impl std::fmt::Display for NoOperatingPoint {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.says)
    }
}

impl std::error::Error for NoOperatingPoint {}

/// Something about a solution that a person should know.
#[derive(Debug, Clone, PartialEq)]
pub struct Notice {
    /// The part it is about.
    pub subject: String,
    /// In words.
    pub says: String,
}

/// A solved state.
#[derive(Debug, Clone)]
pub struct Solution {
    pub(super) network: Network,
    pub(super) point: Point,
    /// Relays that hold.
    pub energised: BTreeSet<String>,
    /// Fuses that something different from the job has blown.
    pub blown: BTreeSet<String>,
    /// What a person should know about it.
    pub notices: Vec<Notice>,
}

impl Solution {
    /// Voltage of a terminal against the battery's negative post.
    pub fn voltage(&self, terminal: &Terminal) -> Option<Voltage> {
        Some(Voltage::volts(self.point.volts[self.network.node(terminal)?]))
    }

    /// Current through an element, from its battery end to its load end.
    ///
    /// Elements: wires by their name, fuses, switches, `K1 contact`, `K1 coil`, `X1.A`, loads, `battery` (positive
    /// when it feeds the circuit), `chassis`.
    pub fn current(&self, element: &str) -> Option<Current> {
        self.network.branch(element).map(|branch| {
            let amps = self.branch_current(branch);
            Current::amps(if matches!(branch.law, Law::Source { .. }) { -amps } else { amps })
        })
    }

    /// Current from the first node of a branch to its second.
    pub(super) fn branch_current(&self, branch: &Branch) -> f64 {
        branch.law.draw(branch.across(&self.point.volts)).0
    }

    /// Voltage across a load.
    pub fn load_voltage(&self, load: &str) -> Option<Voltage> {
        self.voltage_between(&Terminal::of(load, "+"), &Terminal::of(load, "-"))
    }

    fn voltage_between(&self, plus: &Terminal, minus: &Terminal) -> Option<Voltage> {
        Some(self.voltage(plus)? - self.voltage(minus)?)
    }

    /// The largest current that is left over at any node, which Kirchhoff's law says is none.
    pub fn residual(&self) -> Current {
        let mut sums = vec![0.0; self.network.nodes];
        let mut held = vec![false; self.network.nodes];
        held[self.network.reference] = true;
        for fixed in &self.network.fixed {
            held[fixed.node] = true;
        }
        for branch in &self.network.branches {
            let amps = self.branch_current(branch);
            sums[branch.a] += amps;
            sums[branch.b] -= amps;
        }
        for injection in &self.network.injections {
            sums[injection.node] -= injection.amps;
        }
        let free = sums.iter().zip(&held).filter(|(_, held)| !**held).map(|(sum, _)| sum.abs());
        Current::amps(free.fold(0.0, f64::max))
    }
}

/// Rounds of relays, heat and alternator before the search is given up.
const ROUNDS: usize = 40;
/// Kelvins by which a wire's temperature may still move.
const STEADY: f64 = 0.01;

impl Circuit<'_> {
    /// Solves a state.
    ///
    /// # Errors
    /// [`NoOperatingPoint`] where the loads ask for more than the wires can carry, or a relay chatters.
    pub fn solve(&self, state: &State) -> Result<Solution, NoOperatingPoint> {
        self.solve_with(state, &BTreeSet::new(), None)
    }

    /// Solves a state that begins with these relays already pulled in: they stay so down to their drop-out voltage.
    ///
    /// # Errors
    /// As [`Circuit::solve`].
    pub fn solve_held(&self, state: &State, held: &BTreeSet<String>) -> Result<Solution, NoOperatingPoint> {
        self.solve_with(state, held, None)
    }

    pub(super) fn solve_with(
        self,
        state: &State,
        held: &BTreeSet<String>,
        probes: Option<(&Terminal, &Terminal)>,
    ) -> Result<Solution, NoOperatingPoint> {
        let mut solution = self.solve_unblown(state, held, probes)?;
        // In a circuit as designed the fuse rules have the word, not the solution.
        if self.changes.is_empty() {
            return Ok(solution);
        }
        let mut state = state.clone();
        let mut blown = BTreeSet::new();
        while let Some(fuse) = blows(self.job(), |fuse| solution.current(fuse)) {
            blown.insert(fuse.to_owned());
            state.pulled.insert(fuse.to_owned());
            solution = self.solve_unblown(&state, held, probes)?;
        }
        Ok(Solution { blown, ..solution })
    }

    fn solve_unblown(
        self,
        state: &State,
        held: &BTreeSet<String>,
        probes: Option<(&Terminal, &Terminal)>,
    ) -> Result<Solution, NoOperatingPoint> {
        let job = self.job();
        let source_volts = source_voltage(job, state);
        let mut found = Found { energised: held.clone(), ..Found::default() };
        for round in 0..ROUNDS {
            let mut network = build(self, state, Purpose::Live, &found);
            if let Some((a, b)) = probes.and_then(|(a, b)| network.node(a).zip(network.node(b))) {
                network.add_instrument(a, b, voltmeter_input(job));
            }
            let point = newton::solve(&network, source_volts.as_volts())
                .map_err(|Failure::NoSolution { share }| cannot_carry(job, share))?;
            let mut solution = Solution {
                network,
                point,
                energised: found.energised.clone(),
                blown: BTreeSet::new(),
                notices: Vec::new(),
            };
            let energised = relays(job, self.changes, &found.energised, |coil| solution.current(coil));
            let at_limit = found.alternator_at_limit || alternator_overloaded(job, state, &solution);
            let fixed = job.environment.conductor.is_some();
            let rise = if fixed { Vec::new() } else { rises(job, &solution) };
            let moved = rise.iter().zip(&found.rise).any(|(new, old)| (new - old).abs() > STEADY);
            let heat_settled = fixed || (!moved && !found.rise.is_empty());
            if energised == found.energised && at_limit == found.alternator_at_limit && heat_settled {
                solution.notices = notices(job, &solution);
                return Ok(solution);
            }
            if energised != found.energised && round > ROUNDS / 2 {
                return Err(chatter(&energised, &found.energised));
            }
            found.energised = energised;
            found.alternator_at_limit = at_limit;
            found.rise = rise;
        }
        Err(NoOperatingPoint { says: "the circuit does not settle: its wires heat without end".to_owned() })
    }
}

/// Input resistance of the voltmeter: that of the job's own instrument, else that of a usual one.
pub(super) fn voltmeter_input(job: &Job) -> Resistance {
    let own = job.instruments.iter().find(|i| i.measures(Dimension::Voltage));
    own.map_or(VOLTMETER_INPUT, |instrument| instrument.input_resistance)
}

pub(super) fn source_voltage(job: &Job, state: &State) -> Voltage {
    match (state.engine, &job.alternator) {
        (Engine::Running, Some(alternator)) => alternator.voltage.nominal,
        _ => job.battery.rest_voltage.nominal,
    }
}

/// A relay that rests pulls in at its pull-in voltage, one that holds lets go below its drop-out voltage. It is the
/// current that pulls: across a broken coil lies the full voltage, and nothing moves.
pub(super) fn relays(
    job: &Job,
    changes: &[Change],
    held: &BTreeSet<String>,
    current: impl Fn(&str) -> Option<Current>,
) -> BTreeSet<String> {
    let mut energised = BTreeSet::new();
    for relay in &job.relays {
        let stuck = change::armature(changes, &relay.name);
        let enough = if held.contains(&relay.name) { relay.drop_out.nominal } else { relay.pull_in.nominal };
        if stuck.unwrap_or_else(|| {
            current(&format!("{} coil", relay.name)).is_some_and(|amps| (amps * relay.coil.nominal).abs() >= enough)
        }) {
            energised.insert(relay.name.clone());
        }
    }
    energised
}

/// Current over the rating at which a fuse is taken as blown by the time a meter reads (a blade fuse carries 1.35 times
/// its rating for up to ten minutes, ISO 8820-3; the rest is a round figure).
const BLOWS_AT: f64 = 1.5;

/// The fuse that blows first.
pub(super) fn blows(job: &Job, current: impl Fn(&str) -> Option<Current>) -> Option<&str> {
    let share = |fuse: &Fuse| current(&fuse.name).map_or(0.0, |amps| amps.as_amps().abs() / fuse.rating.as_amps());
    let worst = job.fuses.iter().map(|fuse| (share(fuse), fuse)).max_by(|(a, _), (b, _)| a.total_cmp(b));
    worst.filter(|(share, _)| *share > BLOWS_AT).map(|(_, fuse)| fuse.name.as_str())
}

fn alternator_overloaded(job: &Job, state: &State, solution: &Solution) -> bool {
    let (Engine::Running, Some(alternator)) = (state.engine, &job.alternator) else { return false };
    let Some(limit) = &alternator.current else { return false };
    let Some(fixed) = solution.network.fixed.first() else { return false };
    let network = &solution.network;
    let out: f64 = network
        .branches
        .iter()
        .map(|branch| {
            let amps = solution.branch_current(branch);
            if branch.a == fixed.node {
                amps
            } else if branch.b == fixed.node {
                -amps
            } else {
                0.0
            }
        })
        .sum();
    out > limit.nominal.as_amps()
}

/// Heat and alternator of a state as designed.
pub(super) fn healthy(job: &Job, state: &State) -> Result<Found, NoOperatingPoint> {
    let solution = Circuit::of(job).solve(state)?;
    let rise = if job.environment.conductor.is_some() { Vec::new() } else { rises(job, &solution) };
    // An alternator at its limit is a current that is pushed in.
    let alternator_at_limit = !solution.network.injections.is_empty();
    Ok(Found { energised: solution.energised, rise, alternator_at_limit })
}

fn rises(job: &Job, solution: &Solution) -> Vec<f64> {
    let current = |name: &str| solution.current(name).unwrap_or(Current::amps(0.0));
    // Copper above 250 °C is a finding, not a working temperature: the search stays where the law holds.
    job.wires.iter().map(|wire| heat::rise(wire, current(&wire.name)).min(250.0)).collect()
}

fn notices(job: &Job, solution: &Solution) -> Vec<Notice> {
    let mut notices = Vec::new();
    for load in &job.loads {
        let LoadKind::Led { works_from: Some(limit), .. } = load.kind else { continue };
        let Some(volts) = solution.load_voltage(&load.name) else { continue };
        // Below a tenth of its limit the load is simply off.
        if volts < limit && volts > limit * 0.1 {
            let says = format!("{} gets {volts}, less than the {limit} it works from", load.name);
            notices.push(Notice { subject: load.name.clone(), says });
        }
    }
    notices
}

fn cannot_carry(job: &Job, share: f64) -> NoOperatingPoint {
    let loads: Vec<_> = job.loads.iter().filter(|l| l.kind.word() == "led").map(|l| l.name.as_str()).collect();
    let says = format!(
        "the line cannot carry the power that {} asks for: a steady state exists up to about {:.0} % of it; \
         use a larger conductor, a shorter run or a smaller load",
        loads.join(", "),
        share * 100.0
    );
    NoOperatingPoint { says }
}

fn chatter(now: &BTreeSet<String>, before: &BTreeSet<String>) -> NoOperatingPoint {
    let names: Vec<_> = now.symmetric_difference(before).cloned().collect();
    let says = format!(
        "{} chatters: pulled in, its coil voltage falls below drop-out; released, it pulls in again",
        names.join(", ")
    );
    NoOperatingPoint { says }
}
