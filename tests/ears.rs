//! The second pair of ears on an order's page: what it may be, in words, on the drawing, and remade by what is done.

use purfle::counter::intake::Intake;
use purfle::diagnosis::evidence::first_answers;
use serde_json::{Value, json};

use crate::shop::{Answer, Browser, Page, Program, Shop, on_both};

/// An open string that sounds of metal, all of a sudden.
fn open_string(new: &mut Intake) {
    new.complaint.answers = [
        ("onset", "sudden"),
        ("open_or_stopped", "open_only"),
        ("character", "metallic"),
        ("which_strings", "one"),
    ]
    .map(|(question, answer)| (question.to_owned(), answer.to_owned()))
    .into();
}

async fn page(browser: &Browser, tag: &str) -> String {
    browser.get(&format!("/orders/{tag}")).await.body
}

/// The codes of the causes that have a line of their own, the likeliest first.
fn lines(body: &str) -> Vec<&str> {
    let lines = body.split("id=\"cause-").skip(1);
    lines.filter_map(|line| line.split('"').next()).collect()
}

/// The line of a cause, to its end.
fn line<'a>(body: &'a str, code: &str) -> &'a str {
    let start = body
        .find(&format!("id=\"cause-{code}\""))
        .expect("a line of its own");
    let rest = &body[start..];
    &rest[..rest.find("</form>").expect("its taps")]
}

/// How dark a region is drawn.
fn tint(body: &str, region: &str) -> usize {
    let link = format!("<a href=\"#region-{region}\" class=\"spot tint-");
    let rest = body.split(link.as_str()).nth(1).expect("a link");
    rest[..1].parse().expect("a step")
}

/// One tap on a form of the page.
async fn tap(browser: &Browser, tag: &str, form: &str, fields: &[(&str, &str)]) -> Page {
    let page = browser.get(&format!("/orders/{tag}")).await;
    let (version, once) = (page.field("version"), format!("{}-x", page.field("once")));
    let mut all = vec![("version", version), ("once", once.as_str()), ("seen", "")];
    all.extend(fields);
    browser.post(&format!("/orders/{tag}/{form}"), &all).await
}

async fn checked(browser: &Browser, shop: &Shop, tag: &str, cause: &str, result: &str) {
    let fields = [("place", "list"), ("cause", cause), ("result", result)];
    let done = tap(browser, tag, "checks", &fields).await;
    assert_eq!(done.status, 303, "{}", done.body);
    assert!(shop.order_now(tag).await.inspected_on.is_some());
}

async fn change(program: &Program, path: &str, version: i64, body: &Value) -> Answer {
    let etag = format!("\"{version}\"");
    program.post(path, &[("if-match", &etag)], body).await
}

#[test]
fn the_ranking_is_said_in_words_with_its_reasons() {
    on_both(async |shop| {
        let order = shop.order(open_string).await;
        let body = page(&shop.sign_in("counter").await, &order.tag).await;
        assert!(lines(&body).len() >= 3);
        let first = line(&body, lines(&body)[0]);
        for said in [
            "speaks strongly for it",
            " dB, odds ",
            "× ",
            "how to look",
            "sounds like",
            " %",
        ] {
            assert!(first.contains(said), "{said}: {first}");
        }
        let words = [">likely<", ">well possible<", ">possible<"];
        let head = body.split("class=\"cause guess").nth(1).expect("the first line");
        assert!(words.iter().any(|words| head.contains(words)), "{head}");
        for said in [
            "Look next for",
            "until it is found",
            "None of these",
            "Ask next",
            "more, place by place",
        ] {
            assert!(body.contains(said), "{said}");
        }
    });
}

#[test]
fn what_was_looked_for_is_a_reason_too() {
    on_both(async |shop| {
        let order = shop.order(dry_edge).await;
        let bench = shop.sign_in("bench").await;
        checked(&bench, &shop, &order.tag, "seam_open_upper", "not_found").await;
        let body = page(&bench, &order.tag).await;
        assert!(body.contains("lean on each other"));
        let seam = line(&body, "seam_open_upper");
        assert!(
            seam.contains("looked, not found, ") && seam.contains("against it"),
            "{seam}"
        );
    });
}

#[test]
fn whoever_is_of_counter_and_bench_is_at_the_counter_until_somebody_looked() {
    on_both(async |shop| {
        let order = shop.order(dry_edge).await;
        let next = |body: &str| {
            let next = body.split("Look next for").nth(1).expect("a sentence");
            next[..next.find("</p>").expect("its end")].to_owned()
        };
        let owner = shop.sign_in("owner").await;
        let bench = shop.sign_in("bench").await;
        let places = ["at the counter", "at the bench"];
        let is_at = |body: &str| places.map(|place| next(body).contains(place));
        assert_eq!(is_at(&page(&owner, &order.tag).await), [true, false]);
        checked(&owner, &shop, &order.tag, "string_tail_long", "not_found").await;
        assert_eq!(
            next(&page(&owner, &order.tag).await),
            next(&page(&bench, &order.tag).await)
        );
        let nut = shop.order(|new| {
            new.complaint.answers = [
                ("open_or_stopped", "open_only"),
                ("which_strings", "one"),
                ("when_plucked", "yes"),
                ("worse_loud", "yes"),
                ("onset", "gradual"),
            ]
            .map(|(question, answer)| (question.to_owned(), answer.to_owned()))
            .into();
        });
        let nut = nut.await;
        assert_eq!(is_at(&page(&bench, &nut.tag).await), [false, true]);
        let body = page(&owner, &nut.tag).await;
        let counter = page(&shop.sign_in("counter").await, &nut.tag).await;
        if counter.contains("Look next for") {
            assert_eq!(next(&body), next(&counter));
        } else {
            assert_eq!(
                is_at(&body),
                [false, true],
                "nothing here is worth it, so on to the bench"
            );
        }
    });
}

#[test]
fn where_the_catalogue_has_no_cause_left_the_page_says_so() {
    on_both(async |shop| {
        let order = shop.order(dry_edge).await;
        let mut tx = shop.app.db.begin().await.expect("begun");
        for mut cause in purfle::catalogue::cause::Cause::all(&mut tx)
            .await
            .expect("causes")
        {
            cause.retired = true;
            assert!(cause.update(&mut tx).await.expect("kept"));
        }
        tx.commit().await.expect("kept");
        let body = page(&shop.sign_in("bench").await, &order.tag).await;
        assert!(body.contains("no cause left for a violin"), "{body}");
        for empty in [
            "Where to look",
            "What it may be",
            "Write down another check",
            "Write a finding",
        ] {
            assert!(!body.contains(empty), "{empty}");
        }
        let fields = [
            ("instrument.family", "violin"),
            ("complaint.answers.edge_tapped", "yes"),
        ];
        let intake = shop.sign_in("counter").await.post("/intake/ears", &fields).await;
        assert!(!intake.body.contains("Look while they stand here") && !intake.body.contains("stands out"));
    });
}

#[test]
fn the_counter_is_sent_to_what_it_can_look_at() {
    on_both(async |shop| {
        let order = shop.order(open_string).await;
        let body = page(&shop.sign_in("counter").await, &order.tag).await;
        let next = body.split("Look next for").nth(1).expect("a sentence");
        assert!(next[..next.find("</p>").expect("its end")].contains("at the counter"));
    });
}

#[test]
fn not_this_moves_the_ranking() {
    on_both(async |shop| {
        let order = shop.order(open_string).await;
        let bench = shop.sign_in("bench").await;
        let before = page(&bench, &order.tag).await;
        let first = lines(&before)[0].to_owned();
        checked(&bench, &shop, &order.tag, &first, "not_found").await;
        let after = page(&bench, &order.tag).await;
        assert_ne!(lines(&after)[0], first);
        assert!(after.contains("<b>Not this:</b>"), "it is among the checks");
    });
}

#[test]
fn the_drawing_is_as_dark_as_the_list_says() {
    on_both(async |shop| {
        let order = shop.order(open_string).await;
        let body = page(&shop.sign_in("bench").await, &order.tag).await;
        assert_eq!(
            tint(&body, "nut"),
            4,
            "an open string that rattles speaks for the nut"
        );
        assert!(tint(&body, "nut") > tint(&body, "end_fittings"));
        assert!(body.contains("aria-label=\"Nut: likely, ") && body.contains("id=\"region-nut\""));
        let reached = body.matches("aria-label=\"Nut: ").count();
        assert_eq!(reached, 1, "one stop of the keyboard for all views of a region");
    });
}

/// A buzz on all strings in the dry months, that speaks when the edge is tapped.
fn dry_edge(new: &mut Intake) {
    new.complaint.answers = [
        ("which_strings", "all"),
        ("edge_tapped", "yes"),
        ("weather_link", "dry"),
    ]
    .map(|(question, answer)| (question.to_owned(), answer.to_owned()))
    .into();
}

#[test]
fn what_no_answer_parts_stands_together_and_one_act_settles_it() {
    on_both(async |shop| {
        let order = shop.order(dry_edge).await;
        let bench = shop.sign_in("bench").await;
        let body = page(&bench, &order.tag).await;
        let group = &body[body.find("Edge and seams: one of ").expect("a group")..];
        let group = &group[..group.find("</form>").expect("its act")];
        assert!(
            group.contains(">likely<") && group.contains("class=\"bar\""),
            "{group}"
        );
        assert!(group.contains("which is it?") && group.contains("None of these"));
        let codes = group.split("name=\"cause\" value=\"").nth(1).expect("its causes");
        let codes = codes.split('"').next().expect("to its end");
        let many = codes.split(';').count();
        assert!(
            many >= 2 && codes.split(';').all(|code| lines(&body).contains(&code)),
            "{codes}"
        );
        checked(&bench, &shop, &order.tag, codes, "not_found").await;
        let after = page(&bench, &order.tag).await;
        assert_eq!(after.matches("<b>Not this:</b>").count(), many);
        let now = shop.order_now(&order.tag).await;
        assert_eq!(now.version, order.version + 1, "one act");
        let out = "class=\"cause guess alike out\"";
        assert!(after.contains(out) && !body.contains(out));
        let next = after.split("Look next for").nth(1).expect("a sentence");
        assert!(!next[..next.find("</p>").expect("its end")].contains("seam"));
    });
}

#[test]
fn none_of_these_is_all_or_nothing() {
    on_both(async |shop| {
        let order = shop.order(dry_edge).await;
        let bench = shop.sign_in("bench").await;
        let fields = [
            ("place", "list"),
            ("cause", "seam_open_upper;no_such_cause"),
            ("result", "not_found"),
        ];
        let done = tap(&bench, &order.tag, "checks", &fields).await;
        assert_eq!(done.status, 422);
        assert_eq!(shop.order_now(&order.tag).await.version, order.version);
        assert!(!page(&bench, &order.tag).await.contains("<b>Not this:</b>"));
    });
}

#[test]
fn an_answer_added_changes_the_ranking_and_the_first_are_kept() {
    on_both(async |shop| {
        let order = shop.order(open_string).await;
        let bench = shop.sign_in("bench").await;
        let body = page(&bench, &order.tag).await;
        let first = lines(&body)[0].to_owned();
        checked(&bench, &shop, &order.tag, &first, "unclear").await;
        let asked = "pegbox_held=yes";
        let done = tap(&bench, &order.tag, "answers", &[("answer", asked)]).await;
        assert_eq!(done.status, 303, "{}", done.body);
        let after = page(&bench, &order.tag).await;
        assert!(tint(&after, "scroll_pegbox") > tint(&body, "scroll_pegbox"));
        assert!(after.contains("Answered, "));
        let now = shop.order_now(&order.tag).await;
        assert!(now.answers.contains(asked) && now.version == order.version + 2);
        assert_eq!(
            first_answers(&shop.app.db, &now).await.expect("answers"),
            order.answers()
        );
    });
}

#[test]
fn before_anybody_looked_an_answer_is_one_of_the_first() {
    on_both(async |shop| {
        let order = shop.order(open_string).await;
        let counter = shop.sign_in("counter").await;
        let anew = tap(&counter, &order.tag, "answers", &[("answer", "onset=gradual")]).await;
        assert_eq!(anew.status, 303);
        let now = shop.order_now(&order.tag).await;
        assert_eq!(now.answers().get("onset").map(String::as_str), Some("gradual"));
        assert_eq!(
            first_answers(&shop.app.db, &now).await.expect("answers"),
            now.answers()
        );
        assert!(
            page(&counter, &order.tag)
                .await
                .contains("Answered anew, it began: ")
        );
    });
}

#[test]
fn an_answer_that_nobody_can_give_comes_back_as_it_was_typed() {
    on_both(async |shop| {
        let order = shop.order(open_string).await;
        let counter = shop.sign_in("counter").await;
        for answer in ["onset=tomorrow", "moon=full", "nonsense"] {
            let refused = tap(&counter, &order.tag, "answers", &[("answer", answer)]).await;
            assert_eq!(refused.status, 422, "{answer}");
            assert!(
                refused.body.contains(&format!("<mark>{answer}</mark>")),
                "{answer}"
            );
        }
        assert_eq!(shop.order_now(&order.tag).await.answers, order.answers);
    });
}

#[test]
fn a_call_answers_too_and_not_after_it_was_handed_back() {
    on_both(async |shop| {
        let order = shop.order(open_string).await;
        let bench = shop.program("bench").await;
        let path = format!("/api/v1/orders/{}/answers", order.tag);
        let answers = json!({ "answers": { "onset": "gradual", "character": "" } });
        let told = change(&bench, &path, 1, &answers).await;
        assert_eq!(told.status, 200, "{:?}", told.json);
        let now = shop.order_now(&order.tag).await;
        assert!(now.answers.contains("onset=gradual") && !now.answers.contains("character"));
        assert_eq!(change(&bench, &path, 1, &answers).await.status, 412);
        let unknown = change(&bench, &path, 2, &json!({ "answers": { "moon": "full" } })).await;
        assert_eq!(unknown.status, 422);
        let counter = shop.sign_in("counter").await;
        let back = [("why", "beyond_repair"), ("note", "")];
        assert_eq!(tap(&counter, &order.tag, "return", &back).await.status, 303);
        let pickup = json!({ "collected_by": "Marta Ellingworth" });
        let path_back = format!("/api/v1/orders/{}/pickup", order.tag);
        let handed = change(&shop.program("counter").await, &path_back, 3, &pickup).await;
        assert!(handed.status.is_success(), "{:?}", handed.json);
        assert_eq!(change(&bench, &path, 4, &answers).await.status, 409);
    });
}

#[test]
fn a_bow_has_no_opinion_and_no_drawing() {
    on_both(async |shop| {
        let bow = shop
            .order(|new| {
                if let purfle::counter::intake::Which::New(instrument) = &mut new.instrument {
                    "bow".clone_into(&mut instrument.family);
                    instrument.size.clear();
                }
                new.complaint.answers.clear();
                new.complaint.buzz_at = None;
            })
            .await;
        let body = page(&shop.sign_in("bench").await, &bow.tag).await;
        assert!(!body.contains("What it may be") && !body.contains("class=\"whole\""));
        let asked = tap(
            &shop.sign_in("bench").await,
            &bow.tag,
            "answers",
            &[("answer", "onset=sudden")],
        )
        .await;
        assert_eq!(asked.status, 409);
    });
}

#[test]
fn a_wish_without_a_noise_has_the_list_and_no_ranking() {
    on_both(async |shop| {
        let order = shop
            .order(|new| {
                new.complaint.answers.clear();
                new.complaint.buzz_at = None;
            })
            .await;
        let bench = shop.sign_in("bench").await;
        let body = page(&bench, &order.tag).await;
        assert!(!body.contains("What it may be") && body.contains("Where to look"));
        checked(&bench, &shop, &order.tag, "wolf_device_loose", "not_found").await;
        assert!(page(&bench, &order.tag).await.contains("What it may be"));
    });
}

#[test]
fn what_was_mended_and_still_buzzed_is_out_and_the_search_goes_on() {
    on_both(async |shop| {
        let order = shop.order(open_string).await;
        let bench = shop.sign_in("bench").await;
        let before = page(&bench, &order.tag).await;
        let first = lines(&before)[0].to_owned();
        checked(&bench, &shop, &order.tag, &first, "found").await;
        let found = page(&bench, &order.tag).await;
        assert_eq!(lines(&found)[0], first);
        assert!(found.contains("What else it may be") && found.contains("class=\"pin\""));
        shop.clock.set(purfle::clock::Moment(shop.clock.now().0 + 60_000));
        let buzzes = [("result", "still_buzzes"), ("note", "")];
        let played = tap(&bench, &order.tag, "play_test", &buzzes).await;
        assert_eq!(played.status, 303, "{}", played.body);
        let after = page(&bench, &order.tag).await;
        assert!(!lines(&after).contains(&first.as_str()));
        assert!(after.contains("mended, and it still buzzed"));
    });
}
