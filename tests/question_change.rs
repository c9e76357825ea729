//! The questions in the shop's hands: its own ones, its words for answers, and what it says the answers tell of a cause.

use std::collections::HashMap;

use purfle::catalogue::answer::Words;
use purfle::catalogue::descriptor::{Background, Descriptor};
use purfle::catalogue::question::Question;
use purfle::catalogue::seed;
use purfle::catalogue::telling::Telling;
use purfle::diagnosis::learn::answers_given;

use crate::shop::{Browser, Page, Shop, on_both};

/// A question as the owner may type it.
const MUTE: [(&str, &str); 11] = [
    ("question", "What does the mute do to it?"),
    ("hint", "Any mute will do"),
    ("about", "with a mute"),
    ("asked_of", "counter"),
    ("minutes", "0,5"),
    ("kind", "words"),
    ("words", "It is gone"),
    ("percent", "50"),
    ("words", "It stays"),
    ("percent", ""),
    ("version", "1"),
];

/// The form of a question as its page has it, with one change.
async fn form(owner: &Browser, code: &str, change: impl Fn(&mut Vec<(String, String)>)) -> Page {
    let path = format!("/catalogue/questions/{code}/change");
    let page = owner.get(&path).await;
    let mut fields = fields(&page);
    change(&mut fields);
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (&**name, &**value)).collect();
    owner.post(&path, &fields).await
}

/// All fields of the page's form that a browser would send.
fn fields(page: &Page) -> Vec<(String, String)> {
    let attribute = |tag: &str, name: &str| {
        let rest = tag.split(&format!(" {name}=\"")).nth(1)?;
        Some(rest.split('"').next()?.replace("&#39;", "'"))
    };
    let tags = page.body.split("<input").skip(1);
    let tags = tags.filter_map(|rest| rest.split('>').next());
    let sent = tags.filter(|tag| !tag.contains("type=\"radio\"") || tag.contains(" checked"));
    let named = sent.filter_map(|tag| Some((attribute(tag, "name")?, attribute(tag, "value")?)));
    named.filter(|(name, _)| name != "retired").collect()
}

fn set(fields: &mut [(String, String)], name: &str, at: usize, value: &str) {
    let mut own = fields.iter_mut().filter(|field| field.0 == name);
    value.clone_into(&mut own.nth(at).expect("the field").1);
}

async fn shares(shop: &Shop, code: &str) -> HashMap<String, f64> {
    let rows = Background::of(&shop.app.db, code).await.expect("figures");
    rows.into_iter().map(|row| (row.answer, row.p)).collect()
}

async fn add(shop: &Shop, owner: &Browser) -> Question {
    let page = owner.post("/catalogue/questions/new", &MUTE).await;
    assert_eq!(
        page.location(),
        "/catalogue/questions/what_does_the_mute_do_to_it",
        "{}",
        page.body
    );
    Question::get(&shop.app.db, "what_does_the_mute_do_to_it")
        .await
        .expect("the question")
}

#[test]
fn a_question_of_the_shops_own_is_asked_with_codes_made_of_its_words() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let question = add(&shop, &owner).await;
        assert_eq!(question.descriptor.choices, "it_is_gone;it_stays;not_sure");
        assert_eq!((question.descriptor.edition, question.descriptor.version), (0, 1));
        assert!(
            shares(&shop, "what_does_the_mute_do_to_it")
                .await
                .values()
                .all(|p| (p - 0.5).abs() < 1e-9)
        );
        let intake = shop.sign_in("counter").await.get("/intake").await.body;
        assert!(intake.contains("What does the mute do to it?") && intake.contains("It is gone"));
        let again = owner.post("/catalogue/questions/new", &MUTE).await;
        assert!(again.status.as_u16() == 422 && again.body.contains("asked already"));
    });
}

#[test]
fn yes_or_no_needs_no_words_and_says_how_often_yes() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let base = [
            ("question", "Is it new?"),
            ("kind", "yes_no"),
            ("yes_percent", "20"),
        ];
        for (of, blank) in [("customer", "not_sure"), ("bench", "not_tried")] {
            let fields = [base.as_slice(), &[("asked_of", of)]].concat();
            let page = owner.post("/catalogue/questions/new", &fields).await;
            let code = page.location().rsplit('/').next().expect("a code").to_owned();
            let question = Descriptor::get(&shop.app.db, &code).await.expect("the question");
            assert_eq!(question.choices, format!("yes;no;{blank}"));
            assert!((shares(&shop, &code).await["no"] - 0.8).abs() < 1e-9);
            let gone = [("retired", "yes"), ("version", "1")];
            owner
                .post(&format!("/catalogue/questions/{code}/retired"), &gone)
                .await;
        }
        assert!(
            Descriptor::get(&shop.app.db, "is_it_new_2").await.is_ok(),
            "a code is never used again"
        );
    });
}

#[test]
fn an_order_reads_well_after_the_words_changed() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        add(&shop, &owner).await;
        let answers = [
            ("what_does_the_mute_do_to_it", "it_stays"),
            ("onset", "gradual"),
            ("gone_since", "long_ago"),
        ];
        let order = shop
            .order(|intake| {
                let own = answers[..2]
                    .iter()
                    .map(|(code, answer)| ((*code).to_owned(), (*answer).to_owned()));
                intake.complaint.answers = own.collect();
            })
            .await;
        let changed = form(&owner, "what_does_the_mute_do_to_it", |fields| {
            set(fields, "words", 1, "Still there");
        })
        .await;
        assert_eq!(changed.status.as_u16(), 303, "{}", changed.body);
        form(&owner, "onset", |fields| {
            set(fields, "words", 1, "Little by little");
        })
        .await;
        let page = owner.get(&format!("/orders/{}", order.tag)).await.body;
        for words in [
            "<dt>with a mute</dt><dd>Still there</dd>",
            "<dd>Little by little</dd>",
        ] {
            assert!(page.contains(words), "{words}");
        }
        let words = Words::all(&shop.app.db).await.expect("words");
        assert_eq!(words.said(answers[2].0, answers[2].1), "Long ago");
        assert_eq!(words.asked(answers[2].0), "gone since");
    });
}

#[test]
fn an_answer_is_added_and_takes_its_share_from_the_others() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let full = form(&owner, "onset", |fields| set(fields, "words", 3, "After a fall")).await;
        assert!(
            full.status.as_u16() == 422 && full.body.contains("Nothing is left"),
            "{}",
            full.body
        );
        let added = form(&owner, "onset", |fields| {
            set(fields, "words", 3, "After a fall");
            set(fields, "percent", 0, "35");
        });
        assert_eq!(added.await.status.as_u16(), 303);
        let question = Descriptor::get(&shop.app.db, "onset")
            .await
            .expect("the question");
        assert_eq!(question.choices, "sudden;gradual;always;after_a_fall;not_sure");
        let now = shares(&shop, "onset").await;
        assert!((now["after_a_fall"] - 0.1).abs() < 1e-9 && (now["sudden"] - 0.35).abs() < 1e-9);
        let twice = form(&owner, "onset", |fields| set(fields, "words", 4, "After a fall")).await;
        assert!(twice.body.contains("Two answers read the same"));
        let unsure = form(&owner, "onset", |fields| set(fields, "words", 4, "Not sure")).await;
        assert!(unsure.body.contains("always there by itself"));
    });
}

#[test]
fn an_answer_added_meanwhile_stays_when_a_late_form_is_kept() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let question = add(&shop, &owner).await;
        let path = format!("/catalogue/questions/{}/change", question.descriptor.code);
        let mut late = fields(&owner.get(&path).await);
        form(&owner, &question.descriptor.code, |fields| {
            set(fields, "words", 2, "It is worse");
            set(fields, "percent", 0, "30");
        })
        .await;
        set(&mut late, "words", 1, "No change");
        let sent: Vec<(&str, &str)> = late.iter().map(|(name, value)| (&**name, &**value)).collect();
        let page = owner.post(&path, &sent).await;
        assert_eq!((page.status.as_u16(), page.field("version")), (412, "2"));
        assert!(
            page.body.contains("<td>It is gone, It stays, It is worse</td>")
                && page.body.contains("No change")
        );
        let mut again = fields(&page);
        set(&mut again, "percent", 0, "30");
        let sent: Vec<(&str, &str)> = again.iter().map(|(name, value)| (&**name, &**value)).collect();
        assert_eq!(owner.post(&path, &sent).await.status.as_u16(), 303);
        let now = Question::get(&shop.app.db, &question.descriptor.code)
            .await
            .expect("the question");
        let words: Vec<&str> = now.choices.iter().map(|own| own.words.as_str()).collect();
        assert_eq!(words, ["It is gone", "No change", "It is worse"]);
    });
}

#[test]
fn what_the_shop_says_the_answers_tell_reaches_the_figures() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        add(&shop, &owner).await;
        let path = "/catalogue/causes/nut_loose/answers/what_does_the_mute_do_to_it";
        let page = owner
            .post(path, &[("percent.it_is_gone", "80"), ("version", "0")])
            .await;
        assert_eq!(
            page.location(),
            "/catalogue/causes/nut_loose/answers",
            "{}",
            page.body
        );
        let list = owner.get("/catalogue/causes/nut_loose/answers").await.body;
        assert!(list.contains("It is gone 80&nbsp;%"));
        assert!(
            owner
                .get("/catalogue/causes/nut_loose")
                .await
                .body
                .contains("the shop’s own figure")
        );
        let db = &shop.app.db;
        let question = "what_does_the_mute_do_to_it";
        let told = Telling::get(db, "nut_loose", question).await.expect("figures");
        let general: Vec<(String, f64)> = shares(&shop, question).await.into_iter().collect();
        let mut given = answers_given(&told.shares, &general);
        given.sort_by(f64::total_cmp);
        assert!((given[0] - 0.2).abs() < 1e-9 && (given[1] - 0.8).abs() < 1e-9);
    });
}

#[test]
fn figures_over_a_hundred_and_late_ones_are_told_with_what_was_typed() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let path = "/catalogue/causes/nut_loose/answers/onset";
        let page = owner
            .post(
                path,
                &[
                    ("percent.sudden", "70"),
                    ("percent.always", "60"),
                    ("version", "0"),
                ],
            )
            .await;
        assert!(page.status.as_u16() == 422 && page.body.contains("130\u{a0}%, more than 100"));
        assert_eq!(page.field("percent.always"), "60");
        assert_eq!(
            owner
                .post(path, &[("percent.sudden", "70"), ("version", "0")])
                .await
                .status
                .as_u16(),
            303
        );
        let page = owner
            .post(path, &[("percent.sudden", "20"), ("version", "0")])
            .await;
        assert_eq!((page.status.as_u16(), page.field("version")), (412, "1"));
        assert!(page.body.contains("<td>70</td>") && page.body.contains("<mark>20</mark>"));
        assert_eq!(owner.post(path, &[("version", "1")]).await.status.as_u16(), 303);
        let telling = Telling::get(&shop.app.db, "nut_loose", "onset")
            .await
            .expect("figures");
        assert!(
            telling.shares.is_empty() && telling.version == 2,
            "as in general, because the shop said so"
        );
        for path in [
            "/catalogue/causes/nut_loose/answers/no_such",
            "/catalogue/causes/%00/answers",
        ] {
            assert_eq!(owner.get(path).await.status.as_u16(), 404, "{path}");
        }
    });
}

#[test]
fn an_edition_leaves_the_shops_figures_and_words_alone() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let db = &shop.app.db;
        let question = add(&shop, &owner).await;
        let own = format!("/catalogue/causes/nut_loose/answers/{}", question.descriptor.code);
        owner
            .post(&own, &[("percent.it_is_gone", "80"), ("version", "0")])
            .await;
        owner
            .post(
                "/catalogue/causes/nut_loose/answers/onset",
                &[("version", "0"), ("percent.always", "90")],
            )
            .await;
        form(&owner, "onset", |fields| set(fields, "percent", 0, "45.4")).await;
        form(&owner, "character", |fields| {
            set(fields, "words", 0, "Like a tin");
        })
        .await;
        let before = shares(&shop, "character").await;
        db.write("update background set p = 0.5 where descriptor in ('character', 'onset')")
            .execute()
            .await
            .expect("written");
        seed::bring_to(db, seed::EDITION + 1).await.expect("an upgrade");
        assert_eq!(
            shares(&shop, "character").await,
            before,
            "figures follow, though the words are the shop's"
        );
        assert!((shares(&shop, "onset").await["always"] - 0.5).abs() < 1e-9);
        let words = Words::all(db).await.expect("words");
        assert_eq!(
            (
                words.said("character", "metallic"),
                words.said("character", "woody")
            ),
            ("Like a tin".into(), "Two bits of wood".into())
        );
        let kept = Telling::get(db, "nut_loose", "onset")
            .await
            .expect("figures")
            .shares;
        assert_eq!(kept, [("always".to_owned(), 0.9)]);
        let kept = Telling::get(db, "nut_loose", &question.descriptor.code)
            .await
            .expect("figures")
            .shares;
        assert_eq!(kept, [("it_is_gone".to_owned(), 0.8)]);
        let (rows,): (i64,) = db
            .read("select count(*) from likelihood where descriptor <> 'onset' and cause <> 'nut_loose'")
            .one()
            .await
            .expect("a count");
        let program = seed::likelihoods().expect("likelihoods");
        let others = program
            .iter()
            .filter(|row| row.descriptor != "onset" && row.cause != "nut_loose");
        assert_eq!(usize::try_from(rows), Ok(others.count()));
    });
}

#[test]
fn an_entry_retired_too_late_is_shown_as_it_stands_and_asks_again() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        form(&owner, "onset", |fields| {
            set(fields, "question", 0, "Since when?");
        })
        .await;
        let path = "/catalogue/questions/onset";
        let late = owner
            .post(
                &format!("{path}/retired"),
                &[("retired", "yes"), ("version", "0")],
            )
            .await;
        assert_eq!((late.status.as_u16(), late.field("version")), (412, "1"));
        assert!(late.body.contains("Not done yet.") && late.body.contains("<h1>Since when?</h1>"));
        owner
            .post(
                &format!("{path}/retired"),
                &[("retired", "yes"), ("version", "1")],
            )
            .await;
        assert!(
            !shop
                .sign_in("counter")
                .await
                .get("/intake")
                .await
                .body
                .contains("Since when?")
        );
        let page = owner.get(path).await;
        owner
            .post(
                &format!("{path}/retired"),
                &[("retired", "no"), ("version", page.field("version"))],
            )
            .await;
        assert!(
            shop.sign_in("counter")
                .await
                .get("/intake")
                .await
                .body
                .contains("Since when?")
        );
        for path in ["/catalogue/causes/nut_loose", "/catalogue/jobs/rehair"] {
            let late = owner
                .post(
                    &format!("{path}/retired"),
                    &[("retired", "yes"), ("version", "7")],
                )
                .await;
            assert_eq!(
                (late.status.as_u16(), late.field("version")),
                (412, "0"),
                "{path}"
            );
        }
    });
}

#[test]
fn a_job_has_the_cautions_that_the_shop_ticked() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let base = [
            ("name", "Oil the machines"),
            ("who", "bench_technician"),
            ("minutes_low", "5"),
            ("minutes_high", "9"),
            ("factor_cello", "1"),
            ("factor_bass", "1"),
            ("materials", "low"),
            ("step", "Oil them"),
            ("step_minutes", "6"),
            ("step_wait", ""),
            ("place", "1"),
            ("version", "1"),
        ];
        let fields = [
            base.as_slice(),
            &[("hazards", "oily_rag"), ("hazards", "no_such")],
        ]
        .concat();
        let page = owner.post("/catalogue/jobs/new", &fields).await;
        assert!(page.status.as_u16() == 422 && page.body.contains("Choose a caution of the catalogue."));
        let fields = &fields[..fields.len() - 1];
        let page = owner.post("/catalogue/jobs/new", fields).await;
        assert_eq!(
            page.location(),
            "/catalogue/jobs/oil_the_machines",
            "{}",
            page.body
        );
        assert!(
            owner
                .get(page.location())
                .await
                .body
                .contains("Oily cloths flat to dry")
        );
        let change = owner.get("/catalogue/jobs/oil_the_machines/change").await.body;
        assert!(change.contains("value=\"oily_rag\" checked"));
        assert!(
            owner
                .post("/catalogue/jobs/oil_the_machines/change", &base)
                .await
                .status
                .as_u16()
                == 303
        );
        assert!(
            !owner
                .get("/catalogue/jobs/oil_the_machines")
                .await
                .body
                .contains("Oily cloths")
        );
        let job = purfle::catalogue::job::Job::get(&shop.app.db, "rehair")
            .await
            .expect("a job");
        assert_eq!(job.hazards, None, "a job of the program follows its editions");
    });
}
