//! Health: what a watcher is told, without a token and without anything of anybody's.

use crate::shop::on_both;

#[test]
fn a_watcher_is_told_that_the_service_lives_and_can_serve() {
    on_both(async |shop| {
        let watcher = shop.stranger();
        let (alive, ready) = (watcher.get("/healthz").await, watcher.get("/readyz").await);
        assert_eq!((alive.status.as_u16(), alive.body.as_str()), (200, "alive\n"));
        assert_eq!((ready.status.as_u16(), ready.body.as_str()), (200, "ready\n"));
    });
}

#[test]
fn a_database_of_another_edition_is_not_ready() {
    on_both(async |shop| {
        let newest =
            "delete from _sqlx_migrations where version = (select max(version) from _sqlx_migrations)";
        shop.app.db.write(newest).execute().await.expect("taken out");
        let ready = shop.stranger().get("/readyz").await;
        assert_eq!(
            (ready.status.as_u16(), ready.body.contains("another edition")),
            (503, true)
        );
    });
}

#[test]
fn a_database_out_of_reach_is_told_and_the_service_still_lives() {
    on_both(async |shop| {
        shop.app.db.close().await;
        let watcher = shop.stranger();
        let ready = watcher.get("/readyz").await;
        assert_eq!(
            (ready.status.as_u16(), ready.body.contains("cannot be reached")),
            (503, true)
        );
        assert_eq!(watcher.get("/healthz").await.status.as_u16(), 200);
        let counter = shop.stranger();
        assert_eq!(counter.get("/metrics").await.status.as_u16(), 200);
    });
}

#[test]
fn answers_are_counted_by_status() {
    on_both(async |shop| {
        let watcher = shop.stranger();
        for _ in 0..3 {
            watcher.get("/healthz").await;
        }
        watcher.get("/nowhere").await;
        let counts = watcher.get("/metrics").await;
        assert!(
            counts
                .header("content-type")
                .starts_with("text/plain; version=0.0.4")
        );
        for line in [
            "purfle_answers_total{status=\"200\"} 3",
            "purfle_answers_total{status=\"404\"} 1",
            "purfle_answer_seconds_count 4",
            "purfle_answer_seconds_bucket{le=\"+Inf\"} 4",
        ] {
            assert!(
                counts.body.lines().any(|told| told == line),
                "{line} in {}",
                counts.body
            );
        }
    });
}
