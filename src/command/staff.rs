//! `purfle staff`: people who need a key before anybody can sign in, or who forgot a password.

use anyhow::bail;
use clap::{Args, Subcommand};
use purfle::clock::Clock;
use purfle::form::Problems;
use purfle::staff::{self, Roles, name_key, sign_in};

use super::off::off;
use super::{Place, house};

#[derive(Args)]
pub struct Staff {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand)]
enum What {
    /// Add a person.
    Add {
        /// The name they sign in with.
        #[arg(long)]
        name: String,
        /// counter, bench, owner, or several joined by commas.
        #[arg(long)]
        role: String,
        /// Read from the terminal when it is not given here.
        #[arg(long, env = "PURFLE_PASSWORD", hide_env_values = true)]
        password: Option<String>,
        #[command(flatten)]
        place: Place,
    },
    /// List the people.
    List {
        #[command(flatten)]
        place: Place,
    },
    /// Give a person a new password; their sessions end.
    Password {
        /// The name they sign in with.
        #[arg(long)]
        name: String,
        /// Read from the terminal when it is not given here.
        #[arg(long, env = "PURFLE_PASSWORD", hide_env_values = true)]
        password: Option<String>,
        #[command(flatten)]
        place: Place,
    },
}

pub async fn run(staff: Staff) -> anyhow::Result<()> {
    match staff.what {
        What::Add {
            name,
            role,
            password,
            place,
        } => add(&place, name, &role, password).await,
        What::List { place } => list(&place).await,
        What::Password {
            name,
            password,
            place,
        } => new_password(&place, &name, password).await,
    }
}

async fn add(place: &Place, name: String, role: &str, password: Option<String>) -> anyhow::Result<()> {
    let Some(roles) = Roles::named(role) else {
        return Err(off(
            "A role (--role) is counter, bench or owner, or several joined by commas.",
        ));
    };
    let mut problems = Problems::default();
    let name = problems.needed("name", &name, 80, "Write the name they sign in with.");
    let password = password_for(&mut problems, password, roles.owner)?;
    tell(&problems)?;
    let db = house::visit(place).await?;
    let person = staff::Staff {
        id: uuid::Uuid::now_v7(),
        name_key: name_key(&name),
        name,
        password_hash: sign_in::hash_password(&password)?,
        counter: roles.counter,
        bench: roles.bench,
        owner: roles.owner,
        active: true,
        // Whoever stands at the machine may set up people whose passwords hold as they are, as a script must.
        first_password: false,
        version: 1,
        created_at: Clock::default().now(),
    };
    let mut tx = db.begin().await?;
    if !person.insert(&mut tx).await? {
        bail!("Somebody here is called {} already.", person.name);
    }
    tx.commit().await?;
    db.close().await;
    println!("{} may sign in ({}).", person.name, person.roles().words());
    Ok(())
}

async fn list(place: &Place) -> anyhow::Result<()> {
    let db = house::visit(place).await?;
    for person in staff::Staff::all(&db).await? {
        let active = if person.active { "" } else { "\tno longer here" };
        println!("{}\t{}{active}", person.name, person.roles().words());
    }
    db.close().await;
    Ok(())
}

async fn new_password(place: &Place, name: &str, password: Option<String>) -> anyhow::Result<()> {
    let db = house::visit(place).await?;
    let Some(mut person) = staff::Staff::named(&db, name).await? else {
        bail!("Nobody here is called {name}.")
    };
    let mut problems = Problems::default();
    let password = password_for(&mut problems, password, person.owner)?;
    tell(&problems)?;
    person.password_hash = sign_in::hash_password(&password)?;
    person.first_password = false;
    let mut tx = db.begin().await?;
    person.update(&mut tx).await?;
    tx.query("delete from session where staff = $1")
        .bind(person.id)
        .execute()
        .await?;
    tx.commit().await?;
    db.close().await;
    println!("{} has a new password.", person.name);
    Ok(())
}

fn password_for(problems: &mut Problems, given: Option<String>, owner: bool) -> anyhow::Result<String> {
    let password = match given {
        Some(password) => password,
        None => rpassword::prompt_password("Password: ")?,
    };
    let shortest = if owner {
        sign_in::SHORTEST_OWNER
    } else {
        sign_in::SHORTEST
    };
    sign_in::check_password(problems, "password", &password, shortest);
    Ok(password)
}

fn tell(problems: &Problems) -> anyhow::Result<()> {
    match problems.iter().next() {
        Some(problem) => Err(off(format!("--{}: {}", problem.field, problem.words))),
        None => Ok(()),
    }
}
