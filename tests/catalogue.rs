//! The catalogue: what comes with the program, what the shop makes of it, and who may.

use std::collections::{HashMap, HashSet};

use purfle::act::{Act, Guard};
use purfle::bench::check::{self, NewCheck};
use purfle::catalogue::cause::{Cause, REGIONS};
use purfle::catalogue::caution;
use purfle::catalogue::descriptor::Descriptor;
use purfle::catalogue::job::{Job, JobStep};
use purfle::catalogue::{seed, source};
use purfle::error::Error;

use crate::shop::{Page, on_both};

/// A cause as the owner may type it.
const CAUSE: [(&str, &str); 14] = [
    ("name", "Loose carbon bridge insert"),
    ("region", "bridge"),
    ("families", "violin"),
    ("families", "cello"),
    ("how_it_sounds", "Dry tick on one string"),
    ("common", "rare"),
    ("look", "Press the insert while the note is played"),
    ("check_minutes", "3"),
    ("check_place", "bench"),
    ("check_misses", "25"),
    ("remedy", "Refit the insert"),
    ("job1", "recut_bridge_notch"),
    ("season_tie", "none"),
    ("age_tie", "any"),
];
const JOB: [(&str, &str); 16] = [
    ("name", "Polish the pegs"),
    ("who", "bench_technician"),
    ("minutes_low", "5"),
    ("minutes_high", "30"),
    ("factor_cello", "1,2"),
    ("factor_bass", "1.5"),
    ("materials", "low"),
    ("place", "2"),
    ("step", "Wipe them"),
    ("step_minutes", "4"),
    ("step_wait", "0.5"),
    ("place", "1"),
    ("step", "Take them out"),
    ("step_minutes", "6"),
    ("step_wait", ""),
    ("version", "0"),
];

/// The question `onset` as its form has it.
const ONSET: [(&str, &str); 13] = [
    ("question", "When did it start?"),
    ("hint", ""),
    ("about", "began"),
    ("asked_of", "customer"),
    ("answer", "sudden"),
    ("words", "One day it was there"),
    ("percent", "45"),
    ("answer", "gradual"),
    ("words", "Crept up over weeks"),
    ("percent", "38"),
    ("answer", "always"),
    ("words", "Since they have had it"),
    ("percent", "17"),
];

fn with<'a>(fields: &[(&'a str, &'a str)], change: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut all: Vec<_> = fields
        .iter()
        .filter(|field| !change.iter().any(|other| other.0 == field.0))
        .copied()
        .collect();
    all.extend(change);
    all
}

#[test]
fn it_comes_whole() {
    on_both(async |shop| {
        let db = &shop.app.db;
        assert_eq!(Cause::all(db).await.expect("causes").len(), 82);
        assert_eq!(Descriptor::all(db).await.expect("questions").len(), 24);
        let jobs = Job::all(db).await.expect("jobs");
        assert_eq!(jobs.len(), 67);
        let mut steps = 0;
        for job in &jobs {
            let own = JobStep::of(db, &job.code).await.expect("steps");
            let places: Vec<i64> = own.iter().map(|step| step.position).collect();
            assert_eq!(
                places,
                (1..=i64::try_from(own.len()).expect("few")).collect::<Vec<_>>()
            );
            let minutes: i64 = own.iter().map(|step| step.minutes_typical).sum();
            assert_eq!(job.minutes_typical, minutes, "{}", job.code);
            let wait: f64 = own.iter().map(|step| step.wait_hours).sum();
            assert!((job.wait_hours - wait).abs() < 1e-9, "{}", job.code);
            assert!(
                job.minutes_low <= minutes && minutes <= job.minutes_high,
                "{}",
                job.code
            );
            steps += own.len();
        }
        assert_eq!(steps, 254);
    });
}

/// Each share is rounded to four places, so that the sum may be off by half a step for each of them.
#[test]
fn shares_of_all_causes_are_one_as_far_as_they_are_rounded() {
    let causes = seed::causes().expect("causes");
    let sum: f64 = causes.iter().map(|cause| cause.prior_share).sum();
    let rounding = 0.000_05 * 82.0;
    assert!((sum - 1.0).abs() <= rounding, "{sum}");
    assert!(causes.iter().all(|cause| cause.prior_share > 0.0));
}

#[test]
fn what_is_expected_of_an_answer_is_one_for_each_question() {
    let descriptors = seed::descriptors().expect("questions");
    let mut sums: HashMap<String, f64> = HashMap::new();
    for row in seed::background().expect("background") {
        let question = descriptors.iter().find(|own| own.code == row.descriptor);
        assert!(question.is_some_and(|own| own.choices().any(|choice| choice == row.answer)));
        *sums.entry(row.descriptor).or_default() += row.p;
    }
    assert_eq!(sums.len(), descriptors.len());
    for (question, sum) in sums {
        assert!((sum - 1.0).abs() < 1e-9, "{question}: {sum}");
    }
}

#[test]
fn every_figure_is_of_a_cause_a_question_and_an_answer_that_are_there() {
    let causes: HashSet<String> = seed::causes()
        .expect("causes")
        .into_iter()
        .map(|own| own.code)
        .collect();
    let descriptors = seed::descriptors().expect("questions");
    let mut sums: HashMap<(String, String), f64> = HashMap::new();
    let rows = seed::likelihoods().expect("likelihoods");
    assert_eq!(rows.len(), 857);
    for row in rows {
        assert!(causes.contains(&row.cause), "{}", row.cause);
        let question = descriptors.iter().find(|own| own.code == row.descriptor);
        let known = question.is_some_and(|own| own.choices().any(|choice| choice == row.answer));
        assert!(known, "{} {}", row.descriptor, row.answer);
        assert!(row.p > 0.0 && row.p <= 1.0, "{} {}", row.cause, row.descriptor);
        *sums.entry((row.cause, row.descriptor)).or_default() += row.p;
    }
    for (of, sum) in sums {
        assert!(sum <= 1.0 + 1e-9, "{of:?}: {sum}");
    }
}

#[test]
fn every_remedy_is_a_job_and_every_place_a_region() {
    let jobs: HashSet<String> = seed::jobs()
        .expect("jobs")
        .into_iter()
        .map(|own| own.code)
        .collect();
    for cause in seed::causes().expect("causes") {
        assert!(cause.jobs().count() > 0, "{}", cause.code);
        let others = cause.other_ways().flat_map(|way| way.split('+'));
        for job in cause.jobs().chain(others) {
            assert!(jobs.contains(job), "{}: {job}", cause.code);
        }
        assert!(
            REGIONS.iter().any(|region| region.0 == cause.region),
            "{}",
            cause.region
        );
    }
}

#[test]
fn every_source_is_in_the_list_of_sources() {
    let text = std::fs::read_to_string("src/catalogue/data/sources.csv").expect("the sources");
    let listed: HashSet<String> = csv::Reader::from_reader(text.as_bytes())
        .records()
        .map(|row| row.expect("a row")[0].to_owned())
        .collect();
    let causes = seed::causes().expect("causes").into_iter().map(|own| own.source);
    let jobs = seed::jobs().expect("jobs").into_iter().map(|own| own.source);
    let cautions = caution::CAUTIONS.iter().map(|own| own.source.clone());
    let notes = caution::NOTES.iter().map(|own| own.source.clone());
    let materials = caution::MATERIALS.iter().map(|own| own.source.clone());
    for note in causes.chain(jobs).chain(cautions).chain(notes).chain(materials) {
        assert!(!source::words(&note).is_empty());
        for id in source::ids(&note) {
            assert!(listed.contains(id), "{id}");
        }
    }
}

#[test]
fn cautions_hold_for_jobs_and_causes_that_are_there() {
    assert_eq!(caution::CAUTIONS.len(), 16);
    let known = |codes: &str| {
        codes
            .split(';')
            .all(|code| code.is_empty() || caution::CAUTIONS.iter().any(|own| own.code == code))
    };
    let causes = seed::causes().expect("causes");
    let all = seed::jobs().expect("jobs");
    let jobs: Vec<String> = all.iter().map(|own| own.code.clone()).collect();
    let told: Vec<String> = caution::OF_JOBS.iter().map(|own| own.of.clone()).collect();
    assert_eq!(
        told, jobs,
        "every job has its line, with no hazard if it has none"
    );
    assert!(caution::OF_JOBS.iter().all(|own| known(&own.hazards)));
    for own in caution::OF_CAUSES.iter() {
        assert!(
            known(&own.hazards) && causes.iter().any(|cause| cause.code == own.of),
            "{}",
            own.of
        );
    }
    assert!(caution::NOTES.iter().all(|note| known(&note.caution)));
    for cause in causes.iter().filter(|cause| cause.structural) {
        let codes: Vec<&str> = caution::of_cause(cause, &all)
            .iter()
            .map(|own| own.code.as_str())
            .collect();
        assert!(codes.contains(&"top_under_load"), "{}", cause.code);
    }
    let job = |code: &str| all.iter().find(|job| job.code == code).expect("a job");
    let codes: Vec<&str> = caution::of_job(job("replace_string"))
        .iter()
        .map(|own| own.code.as_str())
        .collect();
    assert_eq!(codes, ["string_tension", "post_fall"]);
    let own = Job {
        hazards: Some("blade".into()),
        ..job("replace_string").clone()
    };
    assert_eq!(caution::of_job(&own)[0].code, "blade", "as the shop ticked");
}

#[test]
fn an_upgrade_betters_what_the_shop_left_alone() {
    on_both(async |shop| {
        let db = &shop.app.db;
        for sql in [
            "update cause set name = 'Old words' where code in ('nut_loose', 'post_down')",
            "update cause set changed = true where code = 'post_down'",
            "update job set name = 'Old words' where code in ('new_nut', 'new_post')",
            "update job set changed = true where code = 'new_post'",
            "update job_step set step = 'Old words' where job in ('new_nut', 'new_post')",
            "update descriptor set question = 'Old words' where code in ('onset', 'character')",
            "update descriptor set changed = true where code = 'onset'",
        ] {
            db.write(sql).execute().await.expect("written");
        }
        seed::bring_to(db, seed::EDITION).await.expect("nothing to do");
        assert_eq!(
            Cause::get(db, "nut_loose").await.expect("a cause").name,
            "Old words"
        );
        seed::bring_to(db, seed::EDITION + 1).await.expect("an upgrade");
        let bettered = Cause::get(db, "nut_loose").await.expect("a cause");
        assert_eq!(
            (&*bettered.name, bettered.edition),
            ("Nut unglued", seed::EDITION + 1)
        );
        assert_eq!(
            Cause::get(db, "post_down").await.expect("a cause").name,
            "Old words"
        );
        assert_ne!(Job::get(db, "new_nut").await.expect("a job").name, "Old words");
        assert_eq!(Job::get(db, "new_post").await.expect("a job").name, "Old words");
        assert_ne!(
            JobStep::of(db, "new_nut").await.expect("steps")[0].step,
            "Old words"
        );
        assert_eq!(
            JobStep::of(db, "new_post").await.expect("steps")[0].step,
            "Old words"
        );
        assert_ne!(
            Descriptor::get(db, "character")
                .await
                .expect("a question")
                .question,
            "Old words"
        );
        assert_eq!(
            Descriptor::get(db, "onset").await.expect("a question").question,
            "Old words"
        );
        let (likelihoods,): (i64,) = db
            .read("select count(*) from likelihood")
            .one()
            .await
            .expect("a count");
        assert_eq!(likelihoods, 857);
    });
}

#[test]
fn an_upgrade_leaves_the_shops_own_alone_even_under_the_same_code() {
    on_both(async |shop| {
        let db = &shop.app.db;
        let own = "update cause set edition = 0, changed = true, name = 'Ours' where code = 'nut_loose'";
        db.write(own).execute().await.expect("written");
        for edition in [seed::EDITION + 1, seed::EDITION + 2] {
            seed::bring_to(db, edition).await.expect("an upgrade");
            let cause = Cause::get(db, "nut_loose").await.expect("a cause");
            assert_eq!((&*cause.name, cause.edition), ("Ours", 0));
        }
    });
}

#[test]
fn everybody_reads_every_page_and_no_id_of_a_source() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let mut paths: Vec<String> = ["", "/jobs", "/questions", "/cautions", "?family=bass"]
            .map(|page| format!("/catalogue{page}"))
            .into();
        let causes = Cause::all(&shop.app.db).await.expect("causes");
        paths.extend(causes.iter().map(|own| format!("/catalogue/causes/{}", own.code)));
        let jobs = Job::all(&shop.app.db).await.expect("jobs");
        paths.extend(jobs.iter().map(|own| format!("/catalogue/jobs/{}", own.code)));
        for path in paths {
            let page = counter.get(&path).await;
            assert_eq!(page.status.as_u16(), 200, "{path}");
            for id in 1..=95 {
                assert!(!page.body.contains(&format!("S{id:02}")), "{path}: S{id:02}");
            }
            assert!(
                !page.body.contains("/change\""),
                "{path} offers the counter a change"
            );
        }
    });
}

#[test]
fn a_family_shows_what_it_can_have() {
    on_both(async |shop| {
        let page = shop.sign_in("bench").await;
        let bass = page.get("/catalogue?family=bass").await.body;
        assert!(bass.contains("Machine head plate") && !bass.contains("Chin rest barrel"));
        let violin = page.get("/catalogue?family=violin").await.body;
        assert!(!violin.contains("Machine head plate") && violin.contains("Chin rest barrel"));
        assert_eq!(
            page.get("/catalogue?family=%00&family=x").await.status.as_u16(),
            200
        );
    });
}

#[test]
fn a_cause_tells_what_to_do_and_what_speaks_for_it() {
    on_both(async |shop| {
        let page = shop
            .sign_in("counter")
            .await
            .get("/catalogue/causes/seam_open_lower")
            .await
            .body;
        for words in [
            "do not play, do not post",
            "Hot glue about.",
            "/catalogue/jobs/reglue_seam",
            "More in dry months.",
            "What speaks for it",
            "published source, common practice",
        ] {
            assert!(page.contains(words), "{words}");
        }
    });
}

#[test]
fn there_is_nothing_at_a_code_that_is_not_there() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        for path in [
            "causes/no_such",
            "causes/%00",
            "causes/no_such/change",
            "jobs/no_such",
            "jobs/%F0%9F%8E%BB/change",
            "questions/no_such/change",
        ] {
            assert_eq!(
                owner.get(&format!("/catalogue/{path}")).await.status.as_u16(),
                404,
                "{path}"
            );
        }
        for path in ["causes/no_such", "jobs/%00", "questions/no_such"] {
            let fields = [("retired", "yes"), ("version", "0")];
            let page = owner.post(&format!("/catalogue/{path}/retired"), &fields).await;
            assert_eq!(page.status.as_u16(), 404, "{path}");
        }
    });
}

#[test]
fn the_owner_adds_a_cause_once_with_a_code_of_its_own() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let once = owner.get("/catalogue/causes/new").await.field("once").to_owned();
        let fields = with(&CAUSE, &[("once", &once)]);
        let page = owner.post("/catalogue/causes/new", &fields).await;
        assert_eq!(
            page.location(),
            "/catalogue/causes/loose_carbon_bridge_insert",
            "{}",
            page.body
        );
        let again = owner.post("/catalogue/causes/new", &fields).await;
        assert_eq!(again.location(), page.location());
        let cause = Cause::get(&shop.app.db, "loose_carbon_bridge_insert")
            .await
            .expect("the cause");
        assert_eq!(
            (&*cause.families, cause.edition, cause.changed),
            ("violin;cello", 0, true)
        );
        assert!(cause.prior_share > 0.0 && cause.prior_share < 0.0044);
        assert_eq!(cause.source, "the shop's own");
        let added = owner.get(page.location()).await.body;
        for told in ["Dry tick on one string", "Looking misses it 25 times in 100"] {
            assert!(added.contains(told), "{told}: {added}");
        }
        // The same name from a form of its own is refused, and a retired one frees it.
        let page = owner.post("/catalogue/causes/new", &CAUSE).await;
        assert!(page.status.as_u16() == 422 && page.body.contains("has this name already"));
        let fields = [("retired", "yes"), ("version", "1")];
        owner
            .post("/catalogue/causes/loose_carbon_bridge_insert/retired", &fields)
            .await;
        let page = owner.post("/catalogue/causes/new", &CAUSE).await;
        assert_eq!(page.location(), "/catalogue/causes/loose_carbon_bridge_insert_2");
    });
}

#[test]
fn what_wants_mending_is_told_and_what_was_typed_is_kept() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let bad = with(
            &CAUSE,
            &[
                ("name", "Odd <b>one</b>"),
                ("check_minutes", "soon"),
                ("job1", "no_such"),
                ("region", "moon"),
            ],
        );
        let page = owner.post("/catalogue/causes/new", &bad).await;
        assert_eq!(page.status.as_u16(), 422);
        for words in [
            "whole number from 1 to 240",
            "Choose a job of the catalogue",
            "Choose one of these",
        ] {
            assert!(page.body.contains(words), "{words}");
        }
        assert_eq!(page.field("check_minutes"), "soon");
        assert_eq!(page.field("name"), "Odd &#60;b&#62;one&#60;/b&#62;");
        assert!(page.body.contains("Dry tick on one string"));
        let page = owner.post("/catalogue/causes/new", &[]).await;
        assert_eq!(page.status.as_u16(), 422);
        assert!(page.body.contains("Tick at least one family"));
        assert_eq!(Cause::all(&shop.app.db).await.expect("causes").len(), 82);
    });
}

fn shows(page: &Page, words: &[&str]) {
    for words in words {
        assert!(page.body.contains(words), "{words} is not on the page");
    }
}

#[test]
fn a_change_that_comes_late_is_told_with_both_versions() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let path = "/catalogue/causes/nut_loose/change";
        assert_eq!(owner.get(path).await.field("version"), "0");
        let first = with(&CAUSE, &[("name", "Nut came off"), ("version", "0")]);
        let page = owner.post(path, &first).await;
        assert_eq!(page.location(), "/catalogue/causes/nut_loose", "{}", page.body);
        let late = with(&CAUSE, &[("name", "Nut let go"), ("version", "0")]);
        let page = owner.post(path, &late).await;
        assert_eq!(page.status.as_u16(), 412);
        shows(
            &page,
            &[
                "<td>Nut came off</td>",
                "<mark>Nut let go</mark>",
                "nothing was overwritten",
            ],
        );
        assert_eq!((page.field("name"), page.field("version")), ("Nut let go", "1"));
        let cause = Cause::get(&shop.app.db, "nut_loose").await.expect("the cause");
        assert_eq!(
            (&*cause.name, cause.changed, cause.version),
            ("Nut came off", true, 1)
        );
        assert_eq!(
            (cause.edition, cause.source.as_str()),
            (seed::EDITION, "from memory")
        );
        let again = with(&CAUSE, &[("name", "Nut let go"), ("version", "1")]);
        assert_eq!(owner.post(path, &again).await.status.as_u16(), 303);
    });
}

#[test]
fn a_job_is_the_sum_of_its_steps_in_the_order_of_their_places() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let page = owner.post("/catalogue/jobs/new", &JOB).await;
        assert_eq!(
            page.location(),
            "/catalogue/jobs/polish_the_pegs",
            "{}",
            page.body
        );
        let job = Job::get(&shop.app.db, "polish_the_pegs").await.expect("the job");
        assert_eq!((job.minutes_typical, job.minutes_for("cello")), (10, 12));
        assert!((job.wait_hours - 0.5).abs() < 1e-9 && job.changed && job.edition == 0);
        let steps = JobStep::of(&shop.app.db, "polish_the_pegs").await.expect("steps");
        let names: Vec<&str> = steps.iter().map(|step| step.step.as_str()).collect();
        assert_eq!(names, ["Take them out", "Wipe them"]);
        let page = owner
            .post(
                "/catalogue/jobs/new",
                &with(&JOB, &[("minutes_high", "8"), ("name", "Other")]),
            )
            .await;
        assert_eq!(page.status.as_u16(), 422);
        shows(&page, &["from 10 to 6000", "Wipe them", "Take them out"]);
        assert_eq!(page.field("minutes_high"), "8");
    });
}

#[test]
fn a_job_of_the_program_is_changed_by_the_owner_and_told_when_late() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let path = "/catalogue/jobs/rehair/change";
        assert!(owner.get(path).await.body.contains("Take out old hair and plugs"));
        let fields = with(&JOB, &[("name", "Rehair a bow, our way"), ("version", "0")]);
        assert_eq!(
            owner.post(path, &fields).await.location(),
            "/catalogue/jobs/rehair"
        );
        let steps = JobStep::of(&shop.app.db, "rehair").await.expect("steps");
        assert_eq!(steps.len(), 2);
        let page = owner.post(path, &with(&JOB, &[("name", "Too late")])).await;
        assert_eq!(page.status.as_u16(), 412);
        shows(
            &page,
            &["<td>Rehair a bow, our way</td>", "<mark>Too late</mark>"],
        );
        let job = Job::get(&shop.app.db, "rehair").await.expect("the job");
        assert_eq!((job.edition, job.changed, job.version), (seed::EDITION, true, 1));
    });
}

#[test]
fn a_question_is_worded_by_the_owner_and_its_answers_stay() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let path = "/catalogue/questions/onset/change";
        let fields = with(&ONSET, &[("question", "Since when?"), ("version", "0")]);
        assert_eq!(
            owner.post(path, &fields).await.location(),
            "/catalogue/questions/onset"
        );
        let page = owner.post(path, &fields).await;
        assert_eq!((page.status.as_u16(), page.field("version")), (412, "1"));
        let page = owner
            .post(path, &with(&ONSET, &[("question", " "), ("version", "1")]))
            .await;
        assert!(page.status.as_u16() == 422 && page.body.contains("as you would ask it."));
        let question = Descriptor::get(&shop.app.db, "onset")
            .await
            .expect("the question");
        assert_eq!((&*question.question, question.changed), ("Since when?", true));
        assert_eq!(question.choices, "sudden;gradual;always;not_sure");
        let fields = [("retired", "yes"), ("version", "1")];
        owner.post("/catalogue/questions/onset/retired", &fields).await;
        shows(
            &owner.get("/catalogue/questions").await,
            &["<h2 id=\"retired\">", "Since when?"],
        );
    });
}

#[test]
fn what_is_retired_is_not_found_anew_and_keeps_its_name() {
    on_both(async |shop| {
        let (tag, who) = (shop.order(|_| {}).await.tag, shop.who("bench").await);
        let found = NewCheck {
            cause: "nut_loose".into(),
            result: "found".into(),
            ..NewCheck::default()
        };
        let mut act = Act::begin(&shop.app, &who, &tag, Guard::default())
            .await
            .expect("an act");
        check::log(&mut act, &found).await.expect("a check");
        act.then("/").await.expect("kept");
        let owner = shop.sign_in("owner").await;
        let fields = [("retired", "yes"), ("version", "0")];
        let page = owner.post("/catalogue/causes/nut_loose/retired", &fields).await;
        assert_eq!(page.location(), "/catalogue/causes/nut_loose");
        let mut act = Act::begin(&shop.app, &who, &tag, Guard::default())
            .await
            .expect("an act");
        let Err(Error::Problems(problems)) = check::log(&mut act, &found).await else {
            panic!("a retired cause was found anew");
        };
        assert!(problems.at("cause").contains("“Nut unglued” was retired"));
        drop(act);
        shows(
            &owner.get("/catalogue").await,
            &["<h2 id=\"retired\">", "Nut unglued"],
        );
        assert_eq!(
            Cause::get(&shop.app.db, "nut_loose")
                .await
                .expect("the cause")
                .name,
            "Nut unglued"
        );
        assert_eq!(
            owner
                .post("/catalogue/causes/nut_loose/retired", &fields)
                .await
                .status
                .as_u16(),
            412
        );
        let fields = [("retired", "no"), ("version", "1")];
        owner.post("/catalogue/causes/nut_loose/retired", &fields).await;
        let mut act = Act::begin(&shop.app, &who, &tag, Guard::default())
            .await
            .expect("an act");
        check::log(&mut act, &found).await.expect("a check again");
    });
}

#[test]
fn only_the_owner_changes_the_catalogue() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let fields = with(&CAUSE, &[("version", "0")]);
        for path in [
            "causes/new",
            "causes/nut_loose/change",
            "causes/nut_loose/retired",
            "causes/nut_loose/answers/onset",
            "jobs/new",
            "jobs/rehair/change",
            "jobs/rehair/retired",
            "questions/new",
            "questions/onset/change",
            "questions/onset/retired",
        ] {
            let page = bench.post(&format!("/catalogue/{path}"), &fields).await;
            assert_eq!(page.status.as_u16(), 403, "{path}");
            assert!(page.body.contains("Ask the owner."), "{path}");
        }
        assert_eq!(
            Cause::get(&shop.app.db, "nut_loose")
                .await
                .expect("the cause")
                .version,
            0
        );
    });
}
