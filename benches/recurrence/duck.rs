//! DuckDB beside ours: the same figures from the same orders and findings, prepared for it, in a process of its own.

use std::fs::File;
use std::io::{BufRead, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use purfle::clock::Day;
use purfle::db::Db;
use purfle::reports::bands::{Bands, age};
use purfle::reports::recurrence::Recurrence;
use purfle::reports::span::Span;
use uuid::Uuid;

pub struct Duck {
    child: Child,
    asked: ChildStdin,
    told: BufReader<ChildStdout>,
    rows: PathBuf,
}

impl Duck {
    /// Hands it the rows of a shop; nothing where it is not installed.
    pub async fn open(db: &Db) -> Option<Duck> {
        let here = Path::new(env!("CARGO_MANIFEST_DIR"));
        let python = here.join("target/tools/duckdb/bin/python");
        if !python.exists() {
            return None;
        }
        let rows = std::env::temp_dir().join(format!("purfle-bench-{}.csv", Uuid::now_v7()));
        prepare(db, &rows).await;
        let mut child = Command::new(python)
            .arg(here.join("benches/recurrence/duck.py"))
            .arg(&rows)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("DuckDB");
        let asked = child.stdin.take().expect("where it is asked");
        let told = BufReader::new(child.stdout.take().expect("where it tells"));
        let mut duck = Duck {
            child,
            asked,
            told,
            rows,
        };
        duck.line(); // its version: it has all rows
        Some(duck)
    }

    /// How long the figures of a span took it, in milliseconds; they must come to what ours come to.
    pub fn ask(&mut self, span: Span, family: &str, ours: &Recurrence) -> f64 {
        let family = if family.is_empty() { "-" } else { family };
        writeln!(self.asked, "{} {} {family}", span.from.0, span.to.0).expect("asked");
        let line = self.line();
        let mut words = line.split(' ');
        let ms = words.next().and_then(|ms| ms.parse().ok()).expect("a time");
        let mut count = || words.next().and_then(|n| n.parse::<i64>().ok()).expect("a count");
        let confirmed = ours.causes.iter().map(|cause| cause.orders.all()).sum();
        assert_eq!(
            (count(), count()),
            (ours.inspected.all(), confirmed),
            "{span} {family}"
        );
        ms
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        self.told.read_line(&mut line).expect("an answer");
        line.trim_end().to_owned()
    }
}

impl Drop for Duck {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_file(&self.rows);
    }
}

type Row = (Day, String, Option<i64>, String, i64);

/// A line for each order inspected, and for each cause confirmed on an order.
async fn prepare(db: &Db, rows: &Path) {
    let counted: Vec<Row> = db
        .read(
            "select o.received_on, i.family, i.year_made, '-' as cause, count(*) from work_order o
             join instrument i on i.id = o.instrument where o.inspected_on is not null group by 1, 2, 3
             union all
             select o.received_on, i.family, i.year_made, f.cause, count(distinct o.id) from finding f
             join work_order o on o.id = f.work_order join instrument i on i.id = o.instrument
             where f.certainty = 'confirmed' and not f.withdrawn group by 1, 2, 3, 4",
        )
        .all()
        .await
        .expect("all that was counted");
    let bands = Bands::default();
    let mut file = BufWriter::new(File::create(rows).expect("a file"));
    writeln!(file, "month,family,band,code").expect("written");
    for (day, family, made, code, orders) in counted {
        let band = bands.code(bands.of(age(made, day.year())));
        for _ in 0..orders {
            writeln!(file, "{},{family},{band},{code}", day.month().0).expect("written");
        }
    }
    file.flush().expect("written");
}
