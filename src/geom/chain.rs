//! Edges of a graph as lines.
//!
//! Takes edges by their ends, gives lines from fork to fork. Knows no place.

use std::collections::{BTreeMap, BTreeSet};

/// Edges joined end to end, from fork to fork. A line that comes back to its start has its first
/// vertex again at its end.
pub(crate) fn joined(edges: &BTreeSet<[u32; 2]>) -> Vec<Vec<u32>> {
    let mut next: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
    for &[a, b] in edges {
        next.entry(a).or_default().insert(b);
        next.entry(b).or_default().insert(a);
    }
    let forks = next.iter().filter(|(_, ends)| ends.len() != 2);
    let forks: BTreeSet<u32> = forks.map(|(&v, _)| v).collect();
    let mut lines = Vec::new();
    for &fork in &forks {
        while next.contains_key(&fork) {
            lines.push(walk(fork, &forks, &mut next));
        }
    }
    while let Some((&start, _)) = next.first_key_value() {
        lines.push(walk(start, &forks, &mut next));
    }
    lines
}

/// Takes edges out, one after the other, until a fork or the start is reached.
fn walk(start: u32, forks: &BTreeSet<u32>, next: &mut BTreeMap<u32, BTreeSet<u32>>) -> Vec<u32> {
    let mut line = vec![start];
    let mut at = start;
    while let Some(end) = next.get(&at).and_then(BTreeSet::first).copied() {
        for (one, other) in [(at, end), (end, at)] {
            if let Some(ends) = next.get_mut(&one) {
                ends.remove(&other);
                if ends.is_empty() {
                    next.remove(&one);
                }
            }
        }
        line.push(end);
        at = end;
        if at == start || forks.contains(&at) {
            break;
        }
    }
    line
}

#[cfg(test)]
mod tests {
    use super::joined;

    #[test]
    fn edges_become_lines() {
        // A line of three edges, a branch at its second vertex, and a ring.
        let edges = [[0, 1], [1, 2], [2, 3], [1, 9], [4, 5], [5, 6], [4, 6]];
        assert_eq!(
            joined(&edges.into()),
            [vec![0, 1], vec![1, 2, 3], vec![1, 9], vec![4, 5, 6, 4]]
        );
        assert_eq!(joined(&[[0, 1], [0, 2]].into()), [vec![1, 0, 2]]);
    }
}
