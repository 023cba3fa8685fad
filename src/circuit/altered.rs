//! A circuit that differs from its job, solved from the state that was prepared for it.

use std::rc::Rc;

use super::State;
use super::change::{self, Change, JOINED, OPEN};
use super::dictionary::{Base, Core, Dictionary, floats};
use super::meter::STRAY;
use super::network::{Branch, Dependence, Law};
use super::ports::{self, Flow, Line, MORE_THAN_THE_SOURCES, Port, Solved};
use super::sensitivity;
use super::solve::{NoOperatingPoint, source_voltage};
use crate::job::{Job, Terminal};
use crate::quantity::{Amount, Current, Dimension, Voltage};

/// What a meter shows, and how far the tolerances of the job move it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// With every value at its nominal; `None` where an ohmmeter finds no path.
    pub nominal: Option<Amount>,
    /// Standard uncertainty by the values that this reading does not share with others.
    pub own: Amount,
    /// Where a point hangs free, what the meter may pick up there, or not, as a standard uncertainty; else nothing.
    pub stray: Amount,
    /// Change of the reading for one standard uncertainty of each shared value, in the order of
    /// [`Dictionary::shared`]: the battery's voltage moves all readings of a vehicle together.
    pub shared: Vec<Amount>,
}

/// A point where a probe can be put.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Point(pub(super) usize);

/// Branches with their laws, by place.
type Laws = Vec<(usize, Law)>;

/// Parameters with their half widths, by place.
type HalfWidths = Vec<(usize, f64)>;

/// A circuit that differs from its job, solved.
#[derive(Debug)]
pub struct Altered<'d> {
    dictionary: &'d Dictionary<'d>,
    base: Rc<Base>,
    /// The matrix of its own, where a path is broken.
    broken: Option<Core>,
    /// The branches whose law is not that of the base.
    laws: Laws,
    /// Paths that the network does not have, in siemens.
    paths: Vec<((usize, usize), f64)>,
    /// Half widths of parameters that are not those of the base.
    half_widths: HalfWidths,
    solved: Solved,
}

/// A change of conductance beyond which the matrix is factorised anew: taking so much of a branch away loses as many
/// digits.
const BROKEN_FROM: f64 = 1e6;

impl<'d> Altered<'d> {
    pub(super) fn of(
        dictionary: &'d Dictionary<'d>,
        base: Rc<Base>,
        changes: &[Change],
    ) -> Result<Self, NoOperatingPoint> {
        let network = &base.network;
        let source_volts = source_voltage(dictionary.job, &base.state).as_volts();
        let (laws, half_widths) = changed_laws(dictionary.job, &base, changes);
        let law = |at: usize| laws.iter().find(|(branch, _)| *branch == at).map(|(_, law)| law);
        // What is broken is taken out of the matrix, the rest is a port beside it.
        let mut breaks = Vec::new();
        let mut weakened = Vec::new();
        for (at, law) in &laws {
            let branch = &network.branches[*at];
            if let (Some(own), Law::Resistance { ohms, .. }) = (branch.ohms(), law) {
                let more = 1.0 / ohms - 1.0 / own;
                if *ohms > BROKEN_FROM * own { breaks.push((branch, more, 0.0)) } else { weakened.push((branch, more)) }
            }
        }
        let mut lines: Vec<Line> = base.loads.iter().map(|(.., line)| *line).collect();
        let broken = if breaks.is_empty() { None } else { Some(break_up(&base, breaks, &mut lines, source_volts)?) };
        let core = broken.as_ref().unwrap_or(&base.core);
        let port = |ends: (usize, usize), flow: Flow| Port { ends, response: core.response(ends), flow };
        let mut ports = Vec::new();
        let mut loads = Vec::new();
        for ((at, model, _), line) in base.loads.iter().zip(&lines) {
            let ends = network.branches[*at].ends();
            match law(*at) {
                Some(Law::Load { model, .. }) => ports.push(port(ends, Flow::Load(Some(*model), *line))),
                Some(_) => ports.push(port(ends, Flow::Load(None, *line))),
                None => loads.push((ends, Flow::Load(Some(*model), *line))),
            }
        }
        ports.extend(weakened.into_iter().map(|(branch, more)| port(branch.ends(), Flow::Path(more))));
        let already = if change::bridges(&base.structure).next().is_some() { 1.0 / JOINED.as_ohms() } else { 0.0 };
        let node = |terminal: &Terminal| network.node(terminal);
        let path =
            |(from, to, ohms): (Terminal, Terminal, f64)| Some(((node(&from)?, node(&to)?), 1.0 / ohms - already));
        let paths: Vec<_> = change::bridges(changes).filter_map(path).filter(|((a, b), _)| a != b).collect();
        ports.extend(paths.iter().map(|(ends, siemens)| port(*ends, Flow::Path(*siemens))));
        for (at, law) in &laws {
            let branch = &network.branches[*at];
            if let (Law::Source { volts: own, .. }, Law::Source { volts, ohms, .. }) = (&branch.law, law) {
                ports.push(port(branch.ends(), Flow::Constant((own - volts) / ohms)));
            }
        }
        let solved = ports::solve(ports, loads, |ends| core.response(ends), &core.still, source_volts)
            .ok_or_else(|| NoOperatingPoint { says: "the loads ask for more than the wires carry".to_owned() })?;
        Ok(Self { dictionary, base, broken, laws, paths, half_widths, solved })
    }

    fn core(&self) -> &Core {
        self.broken.as_ref().unwrap_or(&self.base.core)
    }

    fn volts(&self, node: usize) -> f64 {
        self.solved.at(node, self.core().still[node])
    }

    fn law(&self, at: usize) -> &Law {
        let changed = self.laws.iter().find(|(branch, _)| *branch == at).map(|(_, law)| law);
        changed.unwrap_or(&self.base.network.branches[at].law)
    }

    /// Place, branch and resistance of a plain element.
    fn plain(&self, element: &str) -> Option<(usize, &Branch, f64)> {
        let at = *self.base.elements.get(element)?;
        let Law::Resistance { ohms, .. } = self.law(at) else { return None };
        Some((at, &self.base.network.branches[at], *ohms))
    }

    /// Current through a plain element.
    pub(super) fn current_of(&self, element: &str) -> Option<Current> {
        let (_, branch, ohms) = self.plain(element)?;
        Some(Current::amps((self.volts(branch.a) - self.volts(branch.b)) / ohms))
    }

    /// What a voltmeter shows, without how the tolerances move it; its own resistance is part of the circuit.
    pub fn volts_between(&self, (red, black): (Point, Point)) -> Voltage {
        let response = self.core().response((red.0, black.0));
        let seen = self.solved.seen(&response, (red.0, black.0));
        Voltage::volts((self.volts(red.0) - self.volts(black.0)) * self.loaded(seen))
    }

    /// The source behind the probes, loaded by the meter.
    fn loaded(&self, seen_ohms: f64) -> f64 {
        1.0 / (1.0 + seen_ohms / self.dictionary.input_ohms)
    }

    /// What a voltmeter shows; its own resistance is part of the circuit.
    pub fn voltage(&self, (red, black): (Point, Point)) -> Shown {
        let ends = (red.0, black.0);
        let (adjoint, seen) = self.follows(ends);
        let loaded = self.loaded(seen);
        let stray = if seen > self.dictionary.input_ohms { STRAY } else { 0.0 };
        let nominal = (self.volts(ends.0) - self.volts(ends.1)) * loaded;
        let moves = self.moves(&adjoint, ends, 1.0);
        self.shown(nominal, &moves, loaded, stray, Dimension::Voltage)
    }

    /// The current in a wire, from its `from` to its `to`. `None` for a wire that is not there.
    pub fn current(&self, wire: &str) -> Option<Shown> {
        let (at, branch, ohms) = self.plain(wire)?;
        let nominal = self.current_of(wire)?.as_amps();
        let (mut adjoint, _) = self.follows(branch.ends());
        for weight in &mut adjoint {
            *weight /= ohms;
        }
        let mut moves = self.moves(&adjoint, branch.ends(), 1.0 / ohms);
        sensitivity::add_direct(&mut moves, self.law(at), -nominal / ohms);
        Some(self.shown(nominal, &moves, 1.0, 0.0, Dimension::Current))
    }

    /// What an ohmmeter shows, in a circuit from [`Dictionary::passive`].
    pub fn resistance(&self, (red, black): (Point, Point)) -> Shown {
        let (adjoint, seen) = self.follows((red.0, black.0));
        // What nothing but the ties of free pieces joins is no path.
        if seen > OPEN.as_ohms() / 10.0 {
            let zero = Amount::new(0.0, Dimension::Resistance);
            return Shown { nominal: None, own: zero, stray: zero, shared: vec![zero; self.dictionary.shared().len()] };
        }
        // One ampere in at the red probe and out at the black one: the volts are the ohms.
        let moves = sensitivity::Solved {
            network: &self.base.network,
            law: |at| self.law(at),
            volts: |node: usize| adjoint[node],
            adjoint: |node: usize| adjoint[node],
        }
        .per_parameter(|_| 0.0);
        self.shown(seen, &moves, 1.0, 0.0, Dimension::Resistance)
    }

    /// How the difference of two nodes follows a current pushed into each node, and how they see the network, in ohms.
    fn follows(&self, ends: (usize, usize)) -> (Vec<f64>, f64) {
        let mut adjoint = self.core().response(ends).to_vec();
        self.solved.take_off(&mut adjoint);
        let seen = adjoint[ends.0] - adjoint[ends.1];
        (adjoint, seen)
    }

    /// Change per unit of each parameter, for a reading that takes so much of the difference of two nodes.
    fn moves(&self, adjoint: &[f64], ends: (usize, usize), times: f64) -> Vec<f64> {
        let network = &self.base.network;
        let circuit = sensitivity::Solved {
            network,
            law: |at| self.law(at),
            volts: |node| self.volts(node),
            adjoint: |node: usize| adjoint[node],
        };
        let mut moves = circuit.per_parameter(|node| match node {
            _ if node == ends.0 => times,
            _ if node == ends.1 => -times,
            _ => 0.0,
        });
        // A held post feeds the paths that the network does not have, too.
        for fixed in &network.fixed {
            let Some(parameter) = fixed.parameter else { continue };
            for ((a, b), siemens) in &self.paths {
                match fixed.node {
                    node if node == *a => moves[parameter] += adjoint[*b] * siemens,
                    node if node == *b => moves[parameter] += adjoint[*a] * siemens,
                    _ => {}
                }
            }
        }
        moves
    }

    fn shown(&self, nominal: f64, moves: &[f64], times: f64, stray: f64, dimension: Dimension) -> Shown {
        let root = 3.0f64.sqrt();
        let mut shared = vec![Amount::new(0.0, dimension); self.dictionary.shared().len()];
        let mut squares = 0.0;
        let parameters = self.base.network.parameters.iter().zip(self.base.shared.iter());
        for (at, ((parameter, place), per_unit)) in parameters.zip(moves).enumerate() {
            let other = self.half_widths.iter().find(|(own, _)| *own == at);
            let half_width = other.map_or(parameter.half_width, |(_, half_width)| *half_width);
            let standard = per_unit * half_width * times / root;
            match place {
                Some(place) => shared[*place] = Amount::new(standard, dimension),
                None => squares += standard * standard,
            }
        }
        let amount = |value: f64| Amount::new(value, dimension);
        Shown { nominal: Some(amount(nominal)), own: amount(squares.sqrt()), stray: amount(stray / root), shared }
    }
}

/// The laws that a change touches, as they are with it, and the half widths of parameters that it changes.
fn changed_laws(job: &Job, base: &Base, changes: &[Change]) -> (Laws, HalfWidths) {
    let touched = |change: &Change| match change {
        Change::InSeries { element, .. } | Change::Broken { element } | Change::Resists { element, .. } => {
            base.elements.get(element)
        }
        Change::SwitchMoved { wire, .. } => base.elements.get(wire),
        Change::Draws { load, .. } => base.elements.get(load),
        Change::RestVoltage { .. } => base.elements.get("battery"),
        _ => None,
    };
    let mut places: Vec<usize> = changes.iter().filter_map(touched).copied().collect();
    places.sort_unstable();
    places.dedup();
    let mut half_widths = Vec::new();
    let laws = places.into_iter().map(|at| {
        let branch = &base.network.branches[at];
        let times = change::draws(changes, &branch.element);
        let half_width = |parameter: usize| base.network.parameters[parameter].half_width;
        let law = match &branch.law {
            Law::Resistance { ohms, follows } => resistance(job, changes, &base.state, branch, (*ohms, follows)),
            Law::Load { .. } if changes.contains(&Change::Broken { element: branch.element.to_string() }) => {
                Law::Resistance { ohms: OPEN.as_ohms(), follows: Vec::new() }
            }
            Law::Load { model, parameter } => {
                let model = model.times(times);
                // A load of another size is uncertain in proportion.
                half_widths.push((*parameter, half_width(*parameter) * model.width_times(times)));
                Law::Load { model, parameter: *parameter }
            }
            Law::Source { volts, ohms, volts_parameter, ohms_parameter } => {
                let mut volts = *volts;
                for change in changes {
                    if let Change::RestVoltage { times, give_or_take } = change {
                        half_widths.push((*volts_parameter, volts * give_or_take));
                        volts *= times;
                    }
                }
                let (ohms, volts_parameter, ohms_parameter) = (*ohms, *volts_parameter, *ohms_parameter);
                Law::Source { volts, ohms, volts_parameter, ohms_parameter }
            }
        };
        (at, law)
    });
    let laws = laws.collect();
    (laws, half_widths)
}

/// The resistance of a branch with its changes: of a wire its conductor changes by itself, and to an ohmmeter a load is a
/// plain resistance.
fn resistance(
    job: &Job,
    changes: &[Change],
    state: &State,
    branch: &Branch,
    (own, follows): (f64, &[Dependence]),
) -> Law {
    let element = &branch.element;
    let (whole, times, joints) = if let Some(wire) = job.wire(element) {
        let ammeter = state.in_line.as_ref().filter(|(name, _)| *name == wire.name);
        let ends = 2.0 * job.joint.nominal.as_ohms() + ammeter.map_or(0.0, |(_, burden)| burden.as_ohms());
        let times = change::conductor_times(changes, element);
        (own + (own - ends) * (times - 1.0), times, 2)
    } else {
        let times = 1.0 / change::draws(changes, element);
        (own * times, times, 0)
    };
    // The last parameters of a wire are its joints.
    let conductor = follows.len().saturating_sub(joints);
    let scaled = |(place, d): (usize, &Dependence)| {
        let times = if place < conductor { times } else { 1.0 };
        Dependence { parameter: d.parameter, per_unit: d.per_unit * times }
    };
    let follows = follows.iter().enumerate().map(scaled).collect();
    Law::Resistance { ohms: change::changed(job, changes, state, element, whole), follows }
}

/// The matrix of a base with branches broken: (branch, siemens more, 0). A load that hangs free behind the break asks for
/// its whole current through it, gigavolts: it stands in the matrix as the line through nothing instead.
fn break_up(
    base: &Base,
    breaks: Vec<(&Branch, f64, f64)>,
    lines: &mut [Line],
    source_volts: f64,
) -> Result<Core, NoOperatingPoint> {
    let core = Core::of(base.core.linear.with(&breaks).ok_or_else(floats)?);
    let breaks_alone = breaks.len();
    let mut more = breaks;
    for ((at, ..), line) in base.loads.iter().zip(lines) {
        let branch = &base.network.branches[*at];
        if branch.across(&core.still).abs() > MORE_THAN_THE_SOURCES * source_volts {
            let other = line.through_nothing();
            more.push((branch, other.slope - line.slope, other.at_nothing() - line.at_nothing()));
            *line = other;
        }
    }
    if more.len() == breaks_alone {
        return Ok(core);
    }
    Ok(Core::of(base.core.linear.with(&more).ok_or_else(floats)?))
}
