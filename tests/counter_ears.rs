//! The ears at intake: which question comes next, where the answers point, and what to look at, live.

use crate::shop::{Page, Shop, on_both};

async fn ears(shop: &Shop, fields: &[(&str, &str)]) -> Page {
    let all: Vec<(&str, &str)> = [("instrument.family", "violin")]
        .iter()
        .chain(fields)
        .copied()
        .collect();
    shop.sign_in("counter").await.post("/intake/ears", &all).await
}

/// The codes that stand in an attribute, in order.
fn codes<'a>(body: &'a str, attribute: &str) -> Vec<&'a str> {
    let pattern = format!("{attribute}=\"");
    let places = body
        .match_indices(&pattern)
        .map(|(at, _)| &body[at + pattern.len()..]);
    places.filter_map(|rest| Some(rest.split_once('"')?.0)).collect()
}

fn order(page: &Page) -> Vec<&str> {
    codes(&page.body, "data-order")[0].split(' ').collect()
}

#[test]
fn what_is_left_to_ask_follows_the_answers_and_never_asks_twice() {
    on_both(async |shop| {
        let first = ears(&shop, &[]).await;
        let asked = order(&first)[0];
        let field = format!("complaint.answers.{}", "tailpiece_touched");
        let second = ears(&shop, &[(&field, "yes")]).await;
        assert_eq!((first.status.as_u16(), second.status.as_u16()), (200, 200));
        assert!(
            order(&first).contains(&"tailpiece_touched") && !order(&second).contains(&"tailpiece_touched")
        );
        assert_eq!(order(&second).len() + 1, order(&first).len());
        assert_ne!(order(&first), [&[asked], &order(&second)[..]].concat());
    });
}

#[test]
fn the_order_is_that_of_the_models() {
    on_both(async |shop| {
        let page = ears(&shop, &[]).await;
        let program = shop.program("counter").await;
        let body = serde_json::json!({"family": "violin"});
        let told = program.post("/api/v1/diagnosis", &[], &body).await.json;
        let first = &told["questions"][0]["descriptor"];
        // The page knows besides that it is nobody's rental, which the call was not told.
        assert!(
            order(&page)[..3].contains(&first.as_str().expect("a code")),
            "{first}"
        );
    });
}

#[test]
fn it_says_where_the_answers_point_and_three_checks_with_how_to_do_them() {
    on_both(async |shop| {
        let quiet = ears(&shop, &[]).await;
        assert!(!quiet.body.contains("It points to"));
        let page = ears(
            &shop,
            &[
                ("complaint.answers.tailpiece_touched", "yes"),
                ("complaint.answers.character", "metallic_rattle"),
            ],
        )
        .await;
        assert!(
            page.body.contains("It points to")
                && ["(likely)", "(well possible)", "(possible)"]
                    .iter()
                    .any(|words| page.body.contains(words))
        );
        assert_eq!(codes(&page.body, "data-look").len(), 3);
        assert!(page.body.contains("Not this") && page.body.contains("Unclear"));
    });
}

#[test]
fn what_points_to_the_bench_is_said_and_checks_that_hardly_tell_say_so() {
    on_both(async |shop| {
        let nut = [
            ("complaint.answers.open_or_stopped", "open_only"),
            ("complaint.answers.which_strings", "one"),
            ("complaint.answers.when_plucked", "yes"),
            ("complaint.answers.worse_loud", "yes"),
            ("complaint.answers.onset", "gradual"),
        ];
        let page = ears(&shop, &nut).await;
        assert!(
            page.body.contains("The bench looks at the nut ("),
            "{}",
            page.body
        );
        let looks = codes(&page.body, "data-look");
        assert_eq!(looks.len(), 3);
        let told = shop
            .program("counter")
            .await
            .post(
                "/api/v1/diagnosis",
                &[],
                &serde_json::json!({"family": "violin", "answers": {"open_or_stopped": "open_only",
                    "which_strings": "one", "when_plucked": "yes", "worse_loud": "yes", "onset": "gradual"}}),
            )
            .await
            .json;
        let ranking = told["ranking"].as_array().expect("a ranking");
        for look in looks {
            let causes = look.split(';').map(|code| {
                let cause = ranking
                    .iter()
                    .find(|cause| cause["cause"] == code)
                    .expect("its rank");
                cause["probability"].as_f64().expect("a probability")
            });
            let p: f64 = causes.sum();
            let shown = page
                .body
                .split(&format!("data-look=\"{look}\""))
                .nth(1)
                .expect("its field");
            let faint = shown[..shown.find("</legend>").expect("its end")].contains("hardly worth it");
            // The page knows besides that it is nobody's rental.
            assert!(if faint { p < 1.0 / 20.0 } else { p > 1.0 / 45.0 }, "{look} {p}");
        }
    });
}

#[test]
fn what_no_answer_parts_is_one_line_with_its_bar_and_one_look() {
    on_both(async |shop| {
        let tail = [
            ("complaint.answers.tailpiece_touched", "yes"),
            ("complaint.answers.character", "metallic"),
        ];
        let page = ears(&shop, &tail).await;
        let key = "tuner_lock_nut_loose;tuner_screw_loose";
        assert_eq!(codes(&page.body, "data-look")[0], key, "{}", page.body);
        let points = &page.body[page.body.find("It points to").expect("where it points")..];
        let points = &points[..points.find("</ul>\n</div>").expect("its end")];
        assert!(points.contains("Tailpiece: one of 2") && points.contains("together; no answer parts them"));
        let lines = points.matches("class=\"cause point\"").count();
        assert!((1..=3).contains(&lines));
        assert_eq!(points.matches("class=\"bar-fill\"").count(), lines);
        assert!(points.contains(" dB, odds ") && points.contains(" %"), "{points}");
        // "None of these" is said of both, "found it" of the one.
        let field = format!("check.{key}");
        let none = ears(&shop, &[&tail[..], &[(field.as_str(), "not_found")]].concat()).await;
        assert!(
            !none
                .body
                .split("data-look")
                .next()
                .expect("the points")
                .contains("Tailpiece: one of 2")
        );
        let found = ears(
            &shop,
            &[&tail[..], &[(field.as_str(), "found:tuner_screw_loose")]].concat(),
        )
        .await;
        assert_eq!(codes(&found.body, "data-look"), [key]);
        assert!(found.body.contains("note good"));
    });
}

#[test]
fn once_it_is_found_nothing_more_is_asked() {
    on_both(async |shop| {
        let at_once = |page: &Page| codes(&page.body, "data-at-once")[0].to_owned();
        assert_eq!(at_once(&ears(&shop, &[]).await), "3");
        let found = [("check.mute_on_afterlength", "found")];
        assert_eq!(at_once(&ears(&shop, &found).await), "0");
        let fields = [
            &[("customer.name", "Marta"), ("instrument.family", "violin")],
            &found[..],
        ]
        .concat();
        let page = shop.sign_in("counter").await.post("/intake/look", &fields).await;
        assert!(page.body.contains("data-next hidden"), "{}", page.body);
        let open = page.body.matches("class=\"fold question\"").count();
        assert!(
            open > 10 && !page.body.contains("\" open>\n  <summary><span>"),
            "all can be answered still"
        );
    });
}

#[test]
fn the_answers_that_stood_before_the_first_check_stay_what_they_were() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let stood = |page: &Page| page.field("stood").to_owned();
        let first = [
            ("customer.name", "Marta"),
            ("instrument.family", "violin"),
            ("complaint.answers.edge_tapped", "yes"),
        ];
        let page = counter.post("/intake/look", &first).await;
        assert_eq!(stood(&page), "edge_tapped=yes");
        let later = [
            ("complaint.answers.weather_link", "dry"),
            ("check.mute_on_afterlength", "not_found"),
            ("stood", "edge_tapped=yes"),
        ];
        let page = counter.post("/intake/look", &[&first[..], &later].concat()).await;
        assert_eq!(stood(&page), "edge_tapped=yes");
        // Taken back, nobody has looked.
        let page = counter
            .post("/intake/look", &[&first[..], &later[..1], &later[2..]].concat())
            .await;
        assert_eq!(stood(&page), "edge_tapped=yes;weather_link=dry");
    });
}

#[test]
fn a_look_is_warned_of_what_a_look_can_do() {
    on_both(async |shop| {
        let asked = [
            ("kept", "board_grooves"),
            ("kept", "endpin_rattle"),
            ("kept", "seam_open_upper"),
        ];
        let body = ears(&shop, &asked).await.body;
        assert!(body.contains("data-look=\"board_grooves\"") && !body.contains("oily cloth"));
        assert!(body.contains("Point the spike away") && body.contains("Never force the feeler"));
        assert!(body.contains("Structural fault"));
        // One that a violin cannot have is hardly worth the customer's time.
        let pin = body
            .split("data-look=\"endpin_rattle\"")
            .nth(1)
            .expect("its field");
        assert!(pin[..pin.find("</legend>").expect("its end")].contains("hardly worth it"));
    });
}

#[test]
fn the_drawing_shows_every_view_as_the_words_say() {
    on_both(async |shop| {
        let quiet = ears(&shop, &[]).await.body;
        assert!(quiet.contains("when-narrow\" hidden>") && !quiet.contains("tint-"));
        let loose = [
            ("complaint.answers.which_strings", "all"),
            ("complaint.answers.edge_tapped", "yes"),
            ("complaint.answers.weather_link", "dry"),
        ];
        let body = ears(&shop, &loose).await.body;
        for part in [
            "#r-front-bridge",
            "#r-side-back_ribs",
            "#r-inside-inside",
            "class=\"likeliest\"",
            "likeliest place",
        ] {
            assert!(body.contains(part), "{part} in {body}");
        }
        assert!(body.contains("Where it may sit. ") && body.contains("Edge and seams: likely"));
        assert!(body.contains("class=\"tint-4\" data-spot=\"edge_seams\""));
        let page = shop
            .sign_in("counter")
            .await
            .post(
                "/intake",
                &[&[("instrument.family", "violin")], &loose[..]].concat(),
            )
            .await;
        assert_eq!(page.status, 422);
        let spot = "class=\"tint-4\" data-spot=\"edge_seams\"";
        assert!(page.body.contains(spot), "the page without script is tinted too");
    });
}

#[test]
fn a_check_that_was_made_stays_where_it_is_and_another_comes_below() {
    on_both(async |shop| {
        let before = ears(&shop, &[]).await;
        let looks = codes(&before.body, "data-look");
        let field = format!("check.{}", looks[1]);
        let after = ears(
            &shop,
            &[("kept", looks[0]), ("kept", looks[1]), (&field, "not_found")],
        )
        .await;
        let then = codes(&after.body, "data-look");
        assert_eq!((&then[..2], then.len()), (&looks[..2], 4));
    });
}

#[test]
fn once_it_is_found_there_is_nothing_more_to_look_for() {
    on_both(async |shop| {
        let page = ears(&shop, &[("check.mute_on_afterlength", "found")]).await;
        assert_eq!(codes(&page.body, "data-look"), ["mute_on_afterlength"]);
        assert!(page.body.contains("put right here"));
    });
}

#[test]
fn a_bow_and_nonsense_are_answered_in_peace() {
    on_both(async |shop| {
        for fields in [
            &[("instrument.family", "bow")][..],
            &[
                ("instrument.family", "banjo"),
                ("check.x", "found"),
                ("complaint.answers.y", "z"),
            ],
            &[("instrument.year_made", "soon"), ("kept", "nothing")],
        ] {
            let page = shop.sign_in("counter").await.post("/intake/ears", fields).await;
            assert_eq!(page.status.as_u16(), 200, "{fields:?}");
        }
        let unknown = [("instrument.id", "019aaaaa-0000-7000-8000-000000000000")];
        assert_eq!(ears(&shop, &unknown).await.status.as_u16(), 404);
        assert_eq!(
            shop.sign_in("bench")
                .await
                .post("/intake/ears", &[])
                .await
                .status
                .as_u16(),
            403
        );
    });
}

#[test]
fn without_script_the_page_itself_puts_what_is_answered_first_and_asks_on() {
    on_both(async |shop| {
        let fields = [
            ("customer.name", "Marta"),
            ("instrument.family", "violin"),
            ("complaint.answers.tailpiece_touched", "yes"),
        ];
        let page = shop.sign_in("counter").await.post("/intake/look", &fields).await;
        assert_eq!(codes(&page.body, "data-question")[0], "tailpiece_touched");
        assert_eq!(codes(&page.body, "data-look").len(), 3);
        let all = page.body.matches("data-question=").count();
        assert_eq!(all, 1 + order(&page).len());
    });
}

#[test]
fn a_bow_that_was_picked_may_turn_out_to_be_a_cello() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        // No name: the form comes back with the bow picked, and with all that is asked of an instrument out of sight.
        let page = counter
            .post("/intake", &[("instrument.family", "bow"), ("once", "k")])
            .await;
        assert_eq!(page.status.as_u16(), 422);
        let aside = page
            .body
            .find("<aside class=\"side stays when-wide not-bow\"")
            .expect("the drawing's place");
        assert!(
            page.body.contains("id=\"questions\"") && page.body[aside..].contains("violin.svg"),
            "{}",
            page.body
        );
        let cello = counter
            .post("/intake/ears", &[("instrument.family", "cello")])
            .await
            .body;
        assert!(
            cello.contains("cello.svg") && !cello.contains("violin.svg"),
            "{cello}"
        );
    });
}
