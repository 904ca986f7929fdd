//! The keypad: large keys, a half or fractions by the unit, 'touches the beam', enter.
//!
//! Half a millimetre or half an inch is one key; decimal inches have a larger decimal mark instead.

use leptos::prelude::*;

use crate::measuring::entry::Key;
use crate::measuring::figures::LengthUnit;

/// What a key of the pad does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Press {
    /// Changes the entry.
    Key(Key),
    /// The beam touches the point: 0.
    Touches,
    /// Enters the number.
    Enter,
}

/// The keys.
#[component]
pub fn Keypad(
    /// Which fractions there are.
    #[prop(into)]
    unit: Signal<LengthUnit>,
    /// Can the beam touch the point in this kind of reading?
    #[prop(into)]
    can_touch: Signal<bool>,
    /// Words of the named keys: touches, enter, take back a digit.
    #[prop(into)]
    names: Signal<[&'static str; 3]>,
    /// Decimal mark.
    #[prop(into)]
    decimal: Signal<char>,
    /// Called with each press.
    #[prop(into)]
    press: Callback<Press>,
) -> impl IntoView {
    let key = move |name: String, class: &'static str, what: Press| {
        view! {
            <button type="button" class=class on:click=move |_| press.run(what)>
                {name}
            </button>
        }
    };
    let digit = move |c: char| key(c.to_string(), "key", Press::Key(Key::Character(c)));
    let parts = move || {
        if unit.get() == LengthUnit::InchFraction {
            [4, 8, 16, 32]
                .map(|under| {
                    key(
                        format!("1/{under}"),
                        "key part",
                        Press::Key(Key::Part(under)),
                    )
                })
                .collect_view()
                .into_any()
        } else {
            ().into_any()
        }
    };
    let decimals = move || unit.get() == LengthUnit::InchDecimal;
    let half = move || (!decimals()).then(|| key("½".to_owned(), "key", Press::Key(Key::Part(2))));
    view! {
        <div class="parts">{parts}</div>
        <div class="keypad">
            {digit('7')} {digit('8')} {digit('9')}
            <button type="button" class="key" aria-label=move || names.get()[2] on:click=move |_| press.run(Press::Key(Key::Back))>"⌫"</button>
            {digit('4')} {digit('5')} {digit('6')}
            {half}
            {digit('1')} {digit('2')} {digit('3')}
            <button type="button" class="key" class:tall=decimals on:click=move |_| press.run(Press::Key(Key::Character(decimal.get_untracked())))>{decimal}</button>
            {digit('0')}
            <button type="button" class="key named" disabled=move || !can_touch.get() on:click=move |_| press.run(Press::Touches)>
                {move || names.get()[0]}
            </button>
            <button type="button" class="key named enter" data-test="enter" on:click=move |_| press.run(Press::Enter)>
                {move || names.get()[1]}
            </button>
        </div>
    }
}
