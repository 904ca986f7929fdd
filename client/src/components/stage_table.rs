//! What is left of each quantity in each stage, real movements marked.

use leptos::prelude::*;
use shared::job::Job;

use super::mark::{Mark, verdict_word};
use super::trend_line::TrendLine;
use crate::measuring::sentences::Voice;
use crate::measuring::task::label;
use crate::measuring::trend::{Step, Trend};

/// One block per quantity: its graph and its stages.
#[component]
pub fn StageTable(
    /// The car.
    job: std::sync::Arc<Job>,
    /// Quantities over the stages, in the order to show.
    trends: Vec<Trend>,
    /// The language.
    voice: Voice,
) -> impl IntoView {
    let block = move |trend: Trend| {
        let name = format!(
            "{} · {}",
            label(&job, &trend.left),
            voice.quantity_name(trend.quantity)
        );
        let rows = trend
            .steps
            .iter()
            .map(|step| row(voice, &trend, step))
            .collect_view();
        view! {
            <section class="over-stages">
                <h3>{name.clone()}</h3>
                <TrendLine trend=trend.clone() label=name voice />
                <table>{rows}</table>
            </section>
        }
    };
    view! { <div class="stage-table">{trends.into_iter().map(block).collect_view()}</div> }
}

fn row(voice: Voice, trend: &Trend, step: &Step) -> impl IntoView + use<> {
    let words = voice.measuring;
    let left = step.left().map_or_else(
        || words.missing.to_owned(),
        |_| voice.quantity(trend.quantity, &step.judged),
    );
    let spread = step.judged.sigma.map(|sigma| voice.figures.spread(sigma));
    let mark = step.judged.verdict.map(|verdict| {
        view! { <Mark verdict /> <span class="sr">{verdict_word(voice.words, verdict)}</span> }
    });
    let moved = trend.moved(&step.stage).map(|moved| {
        let real = step.real == Some(true);
        view! { <span class="moved" class:real=real>{voice.movement(&moved)} " · " {voice.reality(real)}</span> }
    });
    view! {
        <tr>
            <th scope="row">{step.label.clone()}</th>
            <td>{mark} " " {left} " " <small>{spread}</small></td>
            <td>{moved}</td>
        </tr>
    }
}
