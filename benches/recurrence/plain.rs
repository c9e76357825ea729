//! What the report would cost without counts that are kept: orders and findings counted anew.

use purfle::clock::Day;
use purfle::db::Db;
use purfle::reports::bands::{Bands, age};
use purfle::reports::recurrence::Recurrence;
use purfle::reports::season::Seasons;
use purfle::reports::span::Span;

type Row = (Day, Option<i64>, String, i64);

/// The same figures, by grouping the rows of the span by cause, day and year made; the rest is put together here.
pub async fn read(db: &Db, span: Span, family: &str, seasons: &Seasons) -> Recurrence {
    let rows: Vec<Row> = db
        .read(
            "select o.received_on, i.year_made, '' as cause, count(*) from work_order o
             join instrument i on i.id = o.instrument
             where o.inspected_on is not null and o.received_on >= $1 and o.received_on < $2 and ($3 = '' or i.family = $3)
             group by o.received_on, i.year_made
             union all
             select o.received_on, i.year_made, f.cause, count(distinct o.id) from finding f
             join work_order o on o.id = f.work_order join instrument i on i.id = o.instrument
             where f.certainty = 'confirmed' and not f.withdrawn
             and o.received_on >= $1 and o.received_on < $2 and ($3 = '' or i.family = $3)
             group by o.received_on, i.year_made, f.cause",
        )
        .bind(span.from.first_day())
        .bind(span.to.plus(1).first_day())
        .bind(family.to_owned())
        .all()
        .await
        .expect("a plain count");
    let bands = Bands::default();
    let codes: Vec<String> = bands.all().map(|band| bands.code(band)).collect();
    let lines = rows.iter().map(|(day, made, cause, orders)| {
        let month = i64::from(day.month().month_number()) - 1;
        let band = &codes[bands.of(age(*made, day.year())).place()];
        (cause.as_str(), band.as_str(), [(month, *orders)])
    });
    Recurrence::assemble(lines, &bands, seasons)
}
