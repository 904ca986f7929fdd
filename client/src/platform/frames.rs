//! Waiting until a change is on the glass.

use std::cell::{Cell, RefCell};
use std::collections::VecDeque;

use futures_channel::oneshot::{Sender, channel};
use js_sys::Function;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;

use super::window;

/// Longest wait for a frame, milliseconds: a window behind another may draw none.
const FRAME_MS: i32 = 120;

/// Waits until what has changed is on the glass, so that work that can wait does not hold it up. A page
/// that is put away is not drawn any more, and may be stopped: then it is waited no longer.
///
/// All who wait for one frame go on after it in the order in which they came, each in a task of its own,
/// so that a key that is pressed meanwhile comes between them.
pub async fn painted() {
    let is_hidden = window().document().is_none_or(|document| document.hidden());
    if is_hidden {
        return;
    }
    let (done, frame) = channel();
    FRAMES.with(|frames| frames.wait(done));
    // Whoever waits is never dropped before their turn.
    let _ = frame.await;
}

thread_local! {
    static FRAMES: Frames = Frames::new();
}

struct Frames {
    /// Those who wait for the next frame.
    waiting: RefCell<VecDeque<Sender<()>>>,
    /// Those whose frame has been drawn.
    due: RefCell<VecDeque<Sender<()>>>,
    /// The timer that is there when no frame comes.
    no_frame: Cell<Option<i32>>,
    drawn: Function,
    next: Function,
}

impl Frames {
    fn new() -> Self {
        let frames = Self {
            waiting: RefCell::default(),
            due: RefCell::default(),
            no_frame: Cell::new(None),
            drawn: callback(Self::drawn),
            next: callback(Self::next),
        };
        if let Some(document) = window().document() {
            let hurry = callback(Self::put_away);
            let _ = document.add_event_listener_with_callback("visibilitychange", &hurry);
        }
        frames
    }

    fn wait(&self, done: Sender<()>) {
        self.waiting.borrow_mut().push_back(done);
        if self.no_frame.get().is_none() {
            let window = window();
            let _ = window.request_animation_frame(&self.drawn);
            let timer =
                window.set_timeout_with_callback_and_timeout_and_arguments_0(&self.drawn, FRAME_MS);
            self.no_frame.set(timer.ok());
        }
    }

    /// A frame is being made, or none will be: it is on the glass before the next task.
    fn drawn(&self) {
        if let Some(timer) = self.no_frame.take() {
            window().clear_timeout_with_handle(timer);
        }
        let mut due = self.due.borrow_mut();
        let is_idle = due.is_empty();
        due.append(&mut self.waiting.borrow_mut());
        if is_idle && !due.is_empty() {
            self.then_next();
        }
    }

    /// A page that is put away may be stopped any moment, and its timers crawl: all go on at once.
    fn put_away(&self) {
        if !window()
            .document()
            .is_some_and(|document| document.hidden())
        {
            return;
        }
        let mut all = std::mem::take(&mut *self.due.borrow_mut());
        all.append(&mut self.waiting.borrow_mut());
        for done in all {
            let _ = done.send(());
        }
    }

    fn next(&self) {
        let first = self.due.borrow_mut().pop_front();
        if !self.due.borrow().is_empty() {
            self.then_next();
        }
        if let Some(done) = first {
            // The page of whoever waited may be gone.
            let _ = done.send(());
        }
    }

    fn then_next(&self) {
        let _ = window().set_timeout_with_callback(&self.next);
    }
}

/// A function of the browser's that is there for as long as the page.
fn callback(what: fn(&Frames)) -> Function {
    let closure = Closure::<dyn FnMut()>::new(move || FRAMES.with(what));
    closure.into_js_value().unchecked_into()
}
