//! Many days put right in an invented shop: whatever they are, every count is what a recount finds.

use purfle::act::{Act, Guard};
use purfle::clock::Day;
use purfle::counter::order::Order;
use purfle::counter::order_days::{self, NewDays};
use purfle::demo::chance::Chance;
use purfle::error::Error;
use purfle::reports::new_bands::{self, Step};
use purfle::staff::{Roles, Who};
use uuid::Uuid;

use crate::demo::{AS_OF, filled, wish};
use crate::shop::{Shop, on_both};

fn owner() -> Who {
    Who {
        actor: Uuid::nil(),
        staff: None,
        name: "Owner".into(),
        roles: Roles {
            counter: true,
            bench: true,
            owner: true,
        },
    }
}

/// Whether it was put right; the rest is refused in words.
async fn try_days(shop: &Shop, tag: &str, new: &NewDays) -> bool {
    let mut act = Act::begin(&shop.app, &owner(), tag, Guard::default())
        .await
        .expect("the order");
    match order_days::put_right(&mut act, new).await {
        Ok(()) => {
            act.then("/").await.expect("kept");
            true
        }
        Err(Error::Problems(_)) => false,
        Err(other) => panic!("{tag} {new:?}: {other}"),
    }
}

/// Days near those that are written: mostly one of them, a little; sometimes both, or much.
fn near(chance: &mut Chance, order: &Order) -> NewDays {
    let mut by = |most: i64| chance.range(-most, most);
    let far = if by(9) > 6 { 400 } else { 12 };
    let (received, collected) = match by(2) {
        -2 | -1 => (by(far), 0),
        0 => (by(far), by(far)),
        1 => {
            let both = by(far);
            (both, both)
        }
        _ => (0, by(far)),
    };
    NewDays {
        received_on: order.received_on.plus(received),
        collected_on: order.collected_on.map(|day| day.plus(collected)),
    }
}

#[test]
fn whatever_days_are_put_right_in_an_invented_shop_all_is_well() {
    on_both(async |shop| {
        for seed in [3, 8] {
            filled(&shop.app.db, wish(300, seed)).await;
            shop.clock.set(
                purfle::clock::Zone::named("Europe/Vienna")
                    .expect("a zone")
                    .moment(AS_OF, 18, 0),
            );
            // Those whose instrument came more than once, and some of the others.
            let orders: Vec<Order> = shop
                .app
                .db
                .read("select * from work_order where instrument in (select instrument from work_order group by instrument having count(*) > 1) or tag like '%3' order by id")
                .all()
                .await
                .expect("orders");
            let mut chance = Chance::of(seed, "days", 0);
            let mut kept = 0;
            for turn in 0..120 {
                let order = shop.order_now(&orders[chance.below(orders.len())].tag).await;
                let new = near(&mut chance, &order);
                kept += i64::from(try_days(&shop, &order.tag, &new).await);
                if turn % 30 == 29 {
                    shop.is_well().await;
                }
            }
            assert!(kept >= 30, "{kept} were put right");
            every_comeback_is_after_its_pickup(&shop).await;
        }
    });
}

async fn every_comeback_is_after_its_pickup(shop: &Shop) {
    let (wrong,): (i64,) = shop
        .app
        .db
        .read(
            "select count(*) from finding f join work_order o on o.id = f.work_order left join work_order e on e.id = f.comeback_of
             where f.comeback_days < 0 or (f.comeback_of is not null and f.comeback_days <> o.received_on - e.collected_on)",
        )
        .one()
        .await
        .expect("a count");
    assert_eq!(wrong, 0);
}

#[test]
fn while_new_bands_are_counted_an_order_moved_is_counted_once() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(150, 5)).await;
        let orders: Vec<(String, Day)> = shop
            .app
            .db
            .read(
                "select tag, received_on from work_order where inspected_on is not null order by received_on",
            )
            .all()
            .await
            .expect("orders");
        shop.app
            .db
            .write("update counted set next_bounds = '10 50 120', next_window = 200")
            .execute()
            .await
            .expect("other bands, and another window");
        // The newest first: of months that are not counted yet, and then of some that are.
        for (tag, received_on) in orders.iter().rev().step_by(7) {
            new_bands::step(&shop.app.db).await.expect("a month");
            let order = shop.order_now(tag).await;
            for earlier in [400, 60, 30, 9] {
                let new = NewDays {
                    received_on: received_on.plus(-earlier),
                    ..order.days()
                };
                if try_days(&shop, tag, &new).await {
                    break;
                }
            }
            shop.is_well().await;
        }
        while new_bands::step(&shop.app.db).await.expect("a month") != Step::None {}
        shop.is_well().await;
    });
}
