//! Lists: each thing once, in parts, narrowed by what is asked.

use serde_json::{Value, json};

use super::refusals::is_problem;
use super::{ORDERS, Visit, fields, take_in, violin};
use crate::shop::{NOW, Program, on_both};

/// All ids of a list, part by part.
async fn all(program: &Program, path: &str) -> Vec<String> {
    let (mut ids, mut after) = (Vec::new(), String::new());
    for _ in 0..50 {
        let part = program.get(&format!("{path}&after={after}")).await;
        assert_eq!(part.status.as_u16(), 200, "{}", part.json);
        let items = part.json["items"].as_array().expect("items");
        ids.extend(
            items
                .iter()
                .map(|item| item["id"].as_str().expect("an id").to_owned()),
        );
        match &part.json["next"] {
            Value::String(next) => after.clone_from(next),
            _ => return ids,
        }
    }
    panic!("the list has no end");
}

/// Nine orders: by Ada, by Bert and by a fleet in turn, the newest first.
async fn nine(shop: &crate::shop::Shop, counter: &Program) -> Vec<String> {
    let mut ids = Vec::new();
    for number in 0..9 {
        shop.clock.set(NOW.plus_ms(number / 2 * 1000)); // some within the same moment
        let mut body = violin();
        body["customer"]["name"] = json!(
            ["Ada Fenwick", "Bert Quill", "Rentals of Overbrook"]
                [usize::try_from(number % 3).expect("small")]
        );
        body["customer"]["email"] = Value::Null;
        body["customer"]["another"] = json!(true);
        body["instrument"]["maker"] = json!(if number < 4 { "Harrow & Pell" } else { "Tamsin Oak" });
        let taken = take_in(counter, &number.to_string(), &body).await;
        ids.insert(0, taken.json["id"].as_str().expect("an id").to_owned());
    }
    ids
}

#[test]
fn a_cursor_goes_through_all_orders_without_repeats() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let ids = nine(&shop, &counter).await;
        for limit in [1, 2, 4, 9, 200] {
            assert_eq!(
                all(&counter, &format!("{ORDERS}?limit={limit}")).await,
                ids,
                "{limit}"
            );
        }
        for (q, count) in [
            ("ada", 3),
            ("quill%20oak", 2),
            ("oak", 5),
            ("555%200142", 9),
            ("harrow%20555", 4),
            ("nobody", 0),
            ("%25", 0),
        ] {
            let found = all(&counter, &format!("{ORDERS}?limit=2&q={q}")).await;
            let kept: Vec<&String> = ids.iter().filter(|id| found.contains(id)).collect();
            assert_eq!(
                (found.len(), found.iter().collect::<Vec<_>>()),
                (count, kept),
                "{q}"
            );
        }
        let customers = all(&counter, "/api/v1/customers?limit=2").await;
        assert_eq!(customers.len(), 9);
        assert_eq!(all(&counter, "/api/v1/customers?limit=1&q=quill").await.len(), 3);
    });
}

#[test]
fn orders_are_narrowed_by_stage_and_by_tag() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        nine(&shop, &owner).await;
        let mut visit = Visit::begin(&owner).await;
        visit
            .does(
                &owner,
                "checks",
                json!({"cause": "post_crack", "result": "unclear"}),
            )
            .await;
        let count = async |query: &str| {
            owner.get(&format!("{ORDERS}?{query}")).await.json["items"]
                .as_array()
                .map(Vec::len)
        };
        assert_eq!(
            (count("stage=received").await, count("stage=inspecting").await),
            (Some(9), Some(1))
        );
        assert_eq!(count("stage=ready&q=ada").await, Some(0));
        let tag = visit.path.rsplit('/').next().expect("a tag");
        let found = owner.get(&format!("{ORDERS}?q={tag}")).await.json;
        assert_eq!(
            (found["items"].as_array().map(Vec::len), &found["items"][0]["tag"]),
            (Some(1), &json!(tag))
        );
        assert_eq!(found["items"][0]["instrument"]["maker"], "Harrow & Pell");
    });
}

#[test]
fn what_is_empty_in_a_query_is_left_out_and_what_is_wrong_is_named() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        assert_eq!(
            counter
                .get(&format!("{ORDERS}?limit=&stage=&q=&after="))
                .await
                .status
                .as_u16(),
            200
        );
        let wrong = [
            ("limit=0", "limit"),
            ("limit=201", "limit"),
            ("limit=-1", "limit"),
            ("limit=ten", "limit"),
            ("limit=1.5", "limit"),
            ("limit=99999999999999999999", "limit"),
            ("stage=lost", "stage"),
            ("stage=Received", "stage"),
            ("after=nothing", "after"),
            ("after=10008", "after"),
            ("sort=tag", "sort"),
            ("q[]=1", "q[]"),
            ("page=2", "page"),
            ("q=a&q=b", "q"),
            ("q=a%00b", "q"),
            ("q=a%0ab", "q"),
            ("=x", ""),
        ];
        for (query, named) in wrong {
            let refused = counter.get(&format!("{ORDERS}?{query}")).await;
            is_problem(&refused, 422);
            assert_eq!(
                (fields(&refused), &refused.json["errors"][0]["in"]),
                (vec![named], &json!("query")),
                "{query}"
            );
        }
        is_problem(&counter.get(&format!("{ORDERS}?q=%ff")).await, 400);
        let refused = counter.get("/api/v1/catalogue/causes?family=guitar").await;
        assert_eq!((refused.status.as_u16(), fields(&refused)), (422, vec!["family"]));
    });
}

/// All codes of a part of the catalogue, in parts of so many.
async fn codes(program: &Program, path: &str, limit: usize) -> Vec<String> {
    let (mut codes, mut after) = (Vec::new(), String::new());
    for _ in 0..200 {
        let part = program.get(&format!("{path}limit={limit}&after={after}")).await;
        assert_eq!(part.status.as_u16(), 200, "{}", part.json);
        let items = part.json["items"].as_array().expect("items");
        assert!(items.len() <= limit);
        let own = items
            .iter()
            .map(|item| item["code"].as_str().expect("a code").to_owned());
        codes.extend(own);
        match &part.json["next"] {
            Value::String(next) => after.clone_from(next),
            _ => return codes,
        }
    }
    panic!("the list has no end");
}

#[test]
fn the_catalogue_is_listed_in_parts_as_all_else() {
    on_both(async |shop| {
        let bench = shop.program("bench").await;
        for noun in ["causes", "descriptors", "jobs"] {
            let path = format!("/api/v1/catalogue/{noun}");
            for family in ["", "family=cello&"] {
                let whole = bench.get(&format!("{path}?{family}")).await.json;
                assert_eq!(whole["next"], Value::Null);
                let items = whole["items"].as_array().expect("items");
                let all: Vec<&str> = items.iter().filter_map(|item| item["code"].as_str()).collect();
                for limit in [7, all.len(), 200] {
                    assert_eq!(
                        codes(&bench, &format!("{path}?{family}"), limit).await,
                        all,
                        "{noun} {limit}"
                    );
                }
            }
            for (query, named) in [
                ("limit=0", "limit"),
                ("limit=201", "limit"),
                ("after=nobody", "after"),
            ] {
                let refused = bench.get(&format!("{path}?{query}")).await;
                is_problem(&refused, 422);
                assert_eq!(fields(&refused), vec![named], "{noun} {query}");
            }
        }
    });
}
