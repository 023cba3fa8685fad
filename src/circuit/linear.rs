//! Sparse symmetric elimination (LDLᵀ) in an order of least degree.
//!
//! The order and all positions are found once for a network ([`Pattern`]); each Newton step then only runs through
//! flat lists. A vehicle harness is nearly a tree, so that elimination makes almost no fill and the work grows with
//! the number of nodes. Timings against the libraries are in `benches/`; the tests hold the answers against a library.

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap, HashMap};

/// The least pivot, in siemens: four orders below the least conductance that a network holds.
const LEAST_PIVOT: f64 = 1e-13;

/// A pivot vanished: some node has no path to the reference, or the circuit stands at a fold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Singular;

/// Where every number of the factorisation lives.
#[derive(Debug, Clone)]
pub struct Pattern {
    size: usize,
    order: Vec<u32>,
    /// For each step of the order: where its neighbours start in `neighbours`.
    starts: Vec<u32>,
    /// (node, position of the entry) for each neighbour that is eliminated later.
    neighbours: Vec<(u32, u32)>,
    /// Positions that the pairs of neighbours of a step update, in the order in which they are met.
    updates: Vec<u32>,
    positions: HashMap<(u32, u32), u32>,
    entries: usize,
}

/// A factorised matrix.
#[derive(Debug, Clone)]
pub struct Factor {
    diagonal: Vec<f64>,
    lower: Vec<f64>,
}

fn key(a: usize, b: usize) -> (u32, u32) {
    let (a, b) = (a.min(b), a.max(b));
    (u32::try_from(a).unwrap_or(u32::MAX), u32::try_from(b).unwrap_or(u32::MAX))
}

impl Pattern {
    /// Plans the elimination of a network of `size` nodes joined by `edges`.
    pub fn new(size: usize, edges: impl IntoIterator<Item = (usize, usize)>) -> Self {
        let mut adjacent: Vec<BTreeSet<u32>> = vec![BTreeSet::new(); size];
        for (a, b) in edges {
            if a != b {
                adjacent[a].insert(key(b, b).0);
                adjacent[b].insert(key(a, a).0);
            }
        }
        let mut queue: BinaryHeap<Reverse<(usize, u32)>> =
            adjacent.iter().zip(0u32..).map(|(near, node)| Reverse((near.len(), node))).collect();
        let mut done = vec![false; size];
        let mut pattern = Self {
            size,
            order: Vec::with_capacity(size),
            starts: Vec::with_capacity(size + 1),
            neighbours: Vec::new(),
            updates: Vec::new(),
            positions: HashMap::new(),
            entries: 0,
        };
        while let Some(Reverse((degree, node))) = queue.pop() {
            let at = node as usize;
            if done[at] || adjacent[at].len() != degree {
                continue; // an outdated entry of the queue
            }
            done[at] = true;
            let near: Vec<u32> = std::mem::take(&mut adjacent[at]).into_iter().collect();
            for (i, &a) in near.iter().enumerate() {
                adjacent[a as usize].remove(&node);
                for &b in &near[i + 1..] {
                    adjacent[a as usize].insert(b);
                    adjacent[b as usize].insert(a);
                }
            }
            for &a in &near {
                queue.push(Reverse((adjacent[a as usize].len(), a)));
            }
            pattern.record(node, &near);
        }
        pattern.starts.push(u32::try_from(pattern.neighbours.len()).unwrap_or(u32::MAX));
        pattern
    }

    fn record(&mut self, node: u32, near: &[u32]) {
        self.order.push(node);
        self.starts.push(u32::try_from(self.neighbours.len()).unwrap_or(u32::MAX));
        for &other in near {
            let position = self.position(node as usize, other as usize);
            self.neighbours.push((other, position));
        }
        for (i, &a) in near.iter().enumerate() {
            for &b in &near[i + 1..] {
                let position = self.position(a as usize, b as usize);
                self.updates.push(position);
            }
        }
    }

    fn position(&mut self, a: usize, b: usize) -> u32 {
        let next = u32::try_from(self.entries).unwrap_or(u32::MAX);
        let position = *self.positions.entry(key(a, b)).or_insert(next);
        if position == next {
            self.entries += 1;
        }
        position
    }

    /// Number of nodes.
    pub fn size(&self) -> usize {
        self.size
    }

    /// Number of off-diagonal entries, fill included.
    pub fn entries(&self) -> usize {
        self.entries
    }

    /// Where the entry of two joined nodes lives.
    pub fn entry(&self, a: usize, b: usize) -> Option<usize> {
        self.positions.get(&key(a, b)).map(|p| *p as usize)
    }

    /// Factorises in place: `factor` holds the matrix and becomes its factorisation.
    ///
    /// # Errors
    /// [`Singular`] where a pivot vanishes.
    pub fn refactor(&self, factor: &mut Factor) -> Result<(), Singular> {
        let (diagonal, lower) = (&mut factor.diagonal, &mut factor.lower);
        let mut update = 0;
        for (step, &node) in self.order.iter().enumerate() {
            let pivot = diagonal[node as usize];
            if pivot.abs() < LEAST_PIVOT || !pivot.is_finite() {
                return Err(Singular);
            }
            let near = &self.neighbours[self.starts[step] as usize..self.starts[step + 1] as usize];
            for (i, &(a, at)) in near.iter().enumerate() {
                let value = lower[at as usize];
                let share = value / pivot;
                diagonal[a as usize] -= share * value;
                for &(_, other) in &near[i + 1..] {
                    lower[self.updates[update] as usize] -= share * lower[other as usize];
                    update += 1;
                }
            }
            for &(_, at) in near {
                lower[at as usize] /= pivot;
            }
        }
        Ok(())
    }

    /// Solves for one right-hand side, in place.
    pub fn solve(&self, factor: &Factor, x: &mut [f64]) {
        for (step, &node) in self.order.iter().enumerate() {
            let value = x[node as usize];
            for &(other, at) in &self.neighbours[self.starts[step] as usize..self.starts[step + 1] as usize] {
                x[other as usize] -= factor.lower[at as usize] * value;
            }
        }
        for (step, &node) in self.order.iter().enumerate().rev() {
            let mut value = x[node as usize] / factor.diagonal[node as usize];
            for &(other, at) in &self.neighbours[self.starts[step] as usize..self.starts[step + 1] as usize] {
                value -= factor.lower[at as usize] * x[other as usize];
            }
            x[node as usize] = value;
        }
    }
}

impl Factor {
    /// Room for a matrix of this pattern, all zero.
    pub fn zero(pattern: &Pattern) -> Self {
        Self { diagonal: vec![0.0; pattern.size], lower: vec![0.0; pattern.entries] }
    }

    /// Sets every entry back to zero.
    pub fn clear(&mut self) {
        self.diagonal.fill(0.0);
        self.lower.fill(0.0);
    }

    /// Adds to a diagonal entry.
    pub fn add_diagonal(&mut self, node: usize, value: f64) {
        self.diagonal[node] += value;
    }

    /// Adds to an off-diagonal entry, see [`Pattern::entry`].
    pub fn add_entry(&mut self, at: usize, value: f64) {
        self.lower[at] += value;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn solve_with_library(size: usize, edges: &[(usize, usize, f64)], ground: &[f64], b: &[f64]) -> Vec<f64> {
        let mut matrix = nalgebra::DMatrix::<f64>::zeros(size, size);
        for (node, g) in ground.iter().enumerate() {
            matrix[(node, node)] += g;
        }
        for &(i, j, g) in edges {
            matrix[(i, i)] += g;
            matrix[(j, j)] += g;
            matrix[(i, j)] -= g;
            matrix[(j, i)] -= g;
        }
        matrix.lu().solve(&nalgebra::DVector::from_column_slice(b)).unwrap().as_slice().to_vec()
    }

    fn solve_here(size: usize, edges: &[(usize, usize, f64)], ground: &[f64], b: &[f64]) -> Vec<f64> {
        let pattern = Pattern::new(size, edges.iter().map(|e| (e.0, e.1)));
        let mut matrix = Factor::zero(&pattern);
        for (node, g) in ground.iter().enumerate() {
            matrix.add_diagonal(node, *g);
        }
        for &(i, j, g) in edges {
            matrix.add_diagonal(i, g);
            matrix.add_diagonal(j, g);
            matrix.add_entry(pattern.entry(i, j).unwrap(), -g);
        }
        pattern.refactor(&mut matrix).unwrap();
        let mut x = b.to_vec();
        pattern.solve(&matrix, &mut x);
        x
    }

    proptest::proptest! {
        #[test]
        fn random_networks_solve_as_the_library_does(
            size in 2usize..25,
            seed in proptest::collection::vec((0usize..1000, 0usize..1000, 0.01f64..100.0), 1..60),
            ground in 0.01f64..1.0,
        ) {
            let mut edges: Vec<(usize, usize, f64)> = (1..size).map(|n| (n - 1, n, 1.0)).collect();
            for (a, b, g) in seed {
                let (a, b) = (a % size, b % size);
                if a != b { edges.push((a, b, g)); }
            }
            let mut grounds = vec![0.0; size];
            grounds[0] = ground;
            let b: Vec<f64> = (0..size).map(|n| (n as f64 * 0.7).sin()).collect();
            let (ours, theirs) = (solve_here(size, &edges, &grounds, &b), solve_with_library(size, &edges, &grounds, &b));
            let scale = theirs.iter().fold(1.0f64, |m, x| m.max(x.abs()));
            for (x, y) in ours.iter().zip(&theirs) {
                proptest::prop_assert!((x - y).abs() < 1e-9 * scale, "{x} {y}");
            }
        }
    }

    #[test]
    fn a_node_without_any_path_is_singular() {
        let pattern = Pattern::new(2, [(0, 1)]);
        let mut matrix = Factor::zero(&pattern);
        matrix.add_diagonal(0, 1.0);
        assert_eq!(pattern.refactor(&mut matrix), Err(Singular));
    }

    #[test]
    fn a_ladder_makes_no_more_entries_than_edges() {
        let size = 2_000;
        let edges = (0..size - 1).map(|n| (n, n + 1));
        assert_eq!(Pattern::new(size, edges).entries(), size - 1);
    }
}
