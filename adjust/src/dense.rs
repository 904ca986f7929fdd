//! Sums over neighbouring numbers: the inner loops of the elimination.

/// Adds to `into` the columns of `from` that begin at the given slots, each with its factor.
pub(crate) fn combine(into: &mut [f64], from: &[f64], parts: &[(f64, usize)]) {
    let length = into.len();
    let column = |part: &(f64, usize)| &from[part.1..part.1 + length];
    let mut four = parts.chunks_exact(4);
    for group in &mut four {
        let (a, b) = (column(&group[0]), column(&group[1]));
        let (c, d) = (column(&group[2]), column(&group[3]));
        for i in 0..length {
            into[i] +=
                group[0].0 * a[i] + group[1].0 * b[i] + group[2].0 * c[i] + group[3].0 * d[i];
        }
    }
    for part in four.remainder() {
        for (entry, value) in into.iter_mut().zip(column(part)) {
            *entry += part.0 * value;
        }
    }
}

/// Scalar product; four sums side by side: a processor adds several numbers at once only where it may.
pub(crate) fn product(a: &[f64], b: &[f64]) -> f64 {
    let (mut four, rest) = ([0.0; 4], a.len() - a.len() % 4);
    for (a, b) in a.chunks_exact(4).zip(b.chunks_exact(4)) {
        for k in 0..4 {
            four[k] += a[k] * b[k];
        }
    }
    let tail: f64 = a[rest..].iter().zip(&b[rest..]).map(|(a, b)| a * b).sum();
    four[0] + four[1] + four[2] + four[3] + tail
}
