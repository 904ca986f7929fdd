//! Starts the phone's app in the page's body.

fn main() {
    console_error_panic_hook::set_once();
    leptos::mount::mount_to_body(baybook_client::app::Phone);
}
