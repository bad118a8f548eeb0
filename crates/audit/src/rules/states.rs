//! What states rest on.

use ganosis_dossier::document::StateKind;

use super::{Collector, state_name};
use crate::finding::Place;
use crate::index::Index;
use crate::measure::is_proposal;
use crate::told::{Joined, Value, sentences};

pub(super) fn check(index: &Index, found: &mut Collector) {
    for state in &index.document.states {
        let place = || Place {
            state: Some(state.id.clone()),
            ..Place::default()
        };
        if is_proposal(&state.kind) && state.proposed_by.is_empty() {
            let values = [("state", state_name(state))];
            found.add(sentences::STATE_UNSIGNED, place(), values);
        }
        if state.kind != StateKind::EvidenceBased {
            continue;
        }
        let mut bases = state.based_on.iter().filter_map(|id| index.state(id));
        if let Some(base) = bases.find(|base| base.kind == StateKind::Hypothetical) {
            let values = [("state", state_name(state)), ("base", state_name(base))];
            found.add(sentences::BASED_ON_HYPOTHESIS, place(), values);
        }
    }
    for circle in circles(&edges(index)) {
        let states: Vec<_> = circle.iter().map(|&i| &index.document.states[i]).collect();
        let names = states.iter().map(|state| state_name(state));
        let values = [
            ("states", Value::list(Joined::And, names)),
            ("count", Value::number(states.len() as f64, 0)),
        ];
        let first = states.first().map(|state| state.id.clone());
        found.add(
            sentences::STATE_CIRCLE,
            Place {
                state: first,
                ..Place::default()
            },
            values,
        );
    }
}

fn edges(index: &Index) -> Vec<Vec<usize>> {
    let states = index.document.states.iter();
    states
        .map(|state| {
            state
                .based_on
                .iter()
                .filter_map(|id| index.state_number(id))
                .collect()
        })
        .collect()
}

/// Strongly connected components with a circle in them, each in the order of
/// the document. Kosaraju's method, without recursion.
fn circles(edges: &[Vec<usize>]) -> Vec<Vec<usize>> {
    let mut back = vec![Vec::new(); edges.len()];
    for (from, list) in edges.iter().enumerate() {
        for &to in list {
            back[to].push(from);
        }
    }
    let mut order = Vec::new();
    let mut seen = vec![false; edges.len()];
    for start in 0..edges.len() {
        visit(start, edges, &mut seen, &mut order);
    }
    let mut seen = vec![false; edges.len()];
    let mut found = Vec::new();
    for &start in order.iter().rev() {
        let mut component = Vec::new();
        visit(start, &back, &mut seen, &mut component);
        component.sort_unstable();
        let itself = component
            .first()
            .is_some_and(|&one| edges[one].contains(&one));
        if component.len() > 1 || itself {
            found.push(component);
        }
    }
    found.sort();
    found
}

/// Depth first from `start`; appends what is left behind.
fn visit(start: usize, edges: &[Vec<usize>], seen: &mut [bool], left: &mut Vec<usize>) {
    if seen[start] {
        return;
    }
    seen[start] = true;
    let mut stack = vec![(start, 0)];
    while let Some((at, next)) = stack.pop() {
        match edges[at].get(next) {
            Some(&to) => {
                stack.push((at, next + 1));
                if !seen[to] {
                    seen[to] = true;
                    stack.push((to, 0));
                }
            }
            None => left.push(at),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::circles;

    #[test]
    fn circles_are_found_and_nothing_else() {
        // A tree and a diamond have none.
        assert!(circles(&[vec![1, 2], vec![3], vec![3], vec![]]).is_empty());
        assert_eq!(
            circles(&[vec![1], vec![2], vec![0], vec![0]]),
            [vec![0, 1, 2]]
        );
        assert_eq!(circles(&[vec![0], vec![2], vec![1]]), [vec![0], vec![1, 2]]);
        let long: Vec<Vec<usize>> = (0..100_000).map(|i| vec![(i + 1) % 100_000]).collect();
        assert_eq!(circles(&long)[0].len(), 100_000);
    }
}
