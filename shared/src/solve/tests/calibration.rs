//! Do the stated intervals hold? A thousand simulated cars through the whole engine.

use super::car::Car;
use crate::solve::solve;

/// 95 % of a normal distribution lie within this many spreads.
const TWO_SIDED_95: f64 = 1.959_963_985;

#[test]
fn ninety_five_percent_intervals_hold_93_to_97_percent_of_the_time() {
    let (mut held, mut stated, mut converged) = (0_u32, 0_u32, 0_u32);
    for seed in 0..1000 {
        let car = Car::new(seed).read_all();
        let result = solve(&car.job);
        converged += u32::from(result.fit.converged);
        for pair in &result.stages[0].pairs {
            let truth = car.true_pair(&pair.left, &pair.right);
            let quantities = [
                &pair.right_higher_mm,
                &pair.centre_right_mm,
                &pair.right_rearward_mm,
                &pair.width_mm,
            ];
            for (quantity, truth) in quantities.into_iter().zip(truth) {
                if let (Some(value), Some(sigma)) = (quantity.value, quantity.sigma) {
                    stated += 1;
                    held += u32::from((value - truth).abs() <= TWO_SIDED_95 * sigma);
                }
            }
        }
    }
    let share = f64::from(held) / f64::from(stated);
    println!(
        "{held} of {stated} intervals hold: {:.2} %; {converged} converged",
        100.0 * share
    );
    assert!(stated > 30_000, "only {stated} quantities were reported");
    assert!(
        (0.93..=0.97).contains(&share),
        "{:.2} % of the 95 % intervals hold",
        100.0 * share
    );
    assert!(converged >= 995, "only {converged} of 1000 converged");
}
