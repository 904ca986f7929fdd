//! Propagation of uncertainty: the worked examples of the GUM.

use approx::assert_abs_diff_eq;

use super::*;

/// JCGM 100:2008, example H.1 (end gauge): inputs as in suncal 1.7.1 `test/ex_endgauge.yaml`. The
/// combined standard uncertainty is printed as 32 nm; GTC 1.5.1 gives 31.663879111 nm.
#[test]
fn the_length_of_an_end_gauge() {
    let gauge = 50_000_623.6;
    let expansion = 1.15e-5;
    let temperature = -0.1_f64;
    let inputs = [
        // Standard: 75 nm at k = 3.
        (gauge, 25.0),
        // Difference: random effects (95 %, t with 5 degrees), comparator (20 nm at k = 3), 5.8 nm.
        (
            215.0,
            ((10.0_f64 / 2.570_581_836).powi(2) + (20.0_f64 / 3.0).powi(2) + 5.8 * 5.8).sqrt(),
        ),
        // Difference of expansions, uniform ± 1e-6, and of temperatures, uniform ± 0.05.
        (0.0, 1e-6 / 3.0_f64.sqrt()),
        (0.0, 0.05 / 3.0_f64.sqrt()),
    ];
    let mut problem = Problem::new();
    let ideas = inputs.map(|(value, _)| value);
    let block = problem.block(None, &ideas, &inputs.map(|(_, sigma)| sigma));
    let factors = [1.0, 1.0, -gauge * temperature, -gauge * expansion];
    let terms = factors.into_iter().enumerate().map(|(axis, factor)| Term {
        block,
        axis,
        factor,
    });
    let form = LinearForm(terms.collect());
    let solution = adjust(problem, None);
    // Uncertainties of the temperature's and the standard's own expansion enter with factor 0.
    let u = solution.variance(&form).sqrt();
    assert_abs_diff_eq!(u, 31.663_879_111, epsilon = 0.02);
    assert_abs_diff_eq!(u, 32.0, epsilon = 0.5);
}

/// JCGM 100:2008, example H.2: five simultaneous observations of voltage, current and phase; the
/// resistance, reactance and impedance with their correlations. Printed: R 127.732, X 219.847,
/// Z 254.260; u 0.071, 0.295, 0.236; r(R,X) −0.588, r(R,Z) −0.485, r(X,Z) 0.993 (data and values as in
/// suncal 1.7.1 `test_GUMH2.csv`, `test_examples.py`; numpy for more digits).
#[test]
fn resistance_reactance_and_impedance_from_correlated_observations() {
    let observed: [Vec3; 5] = [
        [5.007, 19.663e-3, 1.0456],
        [4.994, 19.639e-3, 1.0438],
        [5.005, 19.640e-3, 1.0468],
        [4.990, 19.685e-3, 1.0428],
        [4.999, 19.678e-3, 1.0433],
    ];
    let mean = [0, 1, 2].map(|axis| observed.iter().map(|row| row[axis]).sum::<f64>() / 5.0);
    let covariance = |a: usize, b: usize| {
        let products = observed
            .iter()
            .map(|row| (row[a] - mean[a]) * (row[b] - mean[b]));
        products.sum::<f64>() / 20.0
    };
    // Correlated values enter as rows of unit weight: with covariance L Lᵀ, L⁻¹ times the values.
    let mut l = [[0.0_f64; 3]; 3];
    for row in 0..3 {
        for column in 0..=row {
            let dot: f64 = (0..column).map(|k| l[row][k] * l[column][k]).sum();
            let rest = covariance(row, column) - dot;
            l[row][column] = if row == column {
                rest.sqrt()
            } else {
                rest / l[column][column]
            };
        }
    }
    let mut problem = Problem::new();
    let block = problem.block(None, &mean, &[1e3; 3]);
    for row in 0..3 {
        // Solve y L = e_row for the row of L⁻¹.
        let mut inverse = [0.0; 3];
        for column in (0..=row).rev() {
            let unit = f64::from(u8::from(column == row));
            let sum: f64 = (column + 1..=row).map(|k| inverse[k] * l[k][column]).sum();
            inverse[column] = (unit - sum) / l[column][column];
        }
        let terms = (0..3).map(|axis| Term {
            block,
            axis,
            factor: inverse[axis],
        });
        let value = (0..3).map(|axis| inverse[axis] * mean[axis]).sum();
        problem.observe(Observation {
            sight: Sight::Linear(LinearForm(terms.collect())),
            value: [value, 0.0, 0.0],
            sigma: 1.0,
        });
    }
    let solution = adjust(problem, None);
    let [v, i, phi] = mean;
    let (sin, cos) = phi.sin_cos();
    let results = [v / i * cos, v / i * sin, v / i];
    for (found, printed) in results.into_iter().zip([127.732, 219.847, 254.260]) {
        assert_abs_diff_eq!(found, printed, epsilon = 5e-4);
    }
    let forms = [
        [cos / i, -v * cos / (i * i), -v / i * sin],
        [sin / i, -v * sin / (i * i), v / i * cos],
        [1.0 / i, -v / (i * i), 0.0],
    ]
    .map(|factors| {
        let terms = factors.into_iter().enumerate().map(|(axis, factor)| Term {
            block,
            axis,
            factor,
        });
        LinearForm(terms.collect())
    });
    let q = solution.covariance(&forms);
    for (row, u) in [0.071_071_41, 0.295_581_68, 0.236_336_13]
        .into_iter()
        .enumerate()
    {
        assert_abs_diff_eq!(q[row][row].sqrt(), u, epsilon = 1e-6);
    }
    let correlation = |a: usize, b: usize| q[a][b] / (q[a][a] * q[b][b]).sqrt();
    assert_abs_diff_eq!(correlation(0, 1), -0.588_429_8, epsilon = 1e-5);
    assert_abs_diff_eq!(correlation(0, 2), -0.485_259_2, epsilon = 1e-5);
    assert_abs_diff_eq!(correlation(1, 2), 0.992_511_7, epsilon = 1e-5);
}
