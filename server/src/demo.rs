//! The demo shop: invented people who exist only for looking around.

use anyhow::Context;
use shared::wire::Role;

use crate::auth::password::Passwords;
use crate::config::Config;
use crate::store::{NewUser, Store};

const SHOP: &str = "Weidengrund Body Works";

/// Somebody of the demo shop; the password is public.
#[derive(Debug, Clone, Copy)]
pub struct DemoPerson {
    /// Name.
    pub name: &'static str,
    /// E-mail to sign in with.
    pub email: &'static str,
    /// Password to sign in with.
    pub password: &'static str,
    /// What they are in the shop.
    pub role: &'static str,
}

/// The owner, then the technicians.
pub const PEOPLE: [DemoPerson; 3] = [
    DemoPerson {
        name: "Marta Weide",
        email: "marta@demo.example",
        password: "plumb-and-level",
        role: "owner",
    },
    DemoPerson {
        name: "Ana Lind",
        email: "ana@demo.example",
        password: "left-tower-first",
        role: "technician",
    },
    DemoPerson {
        name: "Jonas Brandt",
        email: "jonas@demo.example",
        password: "tape-from-the-100",
        role: "technician",
    },
];

/// Makes the demo shop, once. Returns its people.
///
/// # Errors
/// When the database fails.
pub async fn make_once(
    config: &Config,
    store: &Store,
    passwords: &Passwords,
) -> anyhow::Result<Vec<DemoPerson>> {
    let [owner, technicians @ ..] = PEOPLE;
    let now_ms = config.clock.now_ms();
    let new = async |person: DemoPerson| {
        anyhow::Ok(NewUser {
            user_id: config.clock.mint(),
            name: person.name.to_owned(),
            email: person.email.to_owned(),
            password_hash: passwords.hash(person.password.to_owned()).await?,
        })
    };
    let shop = match store.credentials(owner.email).await? {
        Some(found) => found.shop,
        None => {
            let shop = config.clock.mint();
            let owner = new(owner).await?;
            store
                .make_shop(&shop, SHOP, owner, now_ms)
                .await
                .context("making the demo shop")?;
            shop
        }
    };
    for person in technicians {
        if store.credentials(person.email).await?.is_none() {
            let person = new(person).await?;
            store
                .add_person(&shop, person, Role::Technician, now_ms)
                .await?;
        }
    }
    Ok(PEOPLE.to_vec())
}
