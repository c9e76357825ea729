//! A house of several shops: another beside the test's own, and the own one served with others named to it.

use std::sync::Arc;

use purfle::app::App;
use purfle::reports::sister::Sister;
use uuid::Uuid;

use super::{ADDRESS, Shop};

impl Shop {
    /// Another shop: a file of its own, or a schema of its own in the same PostgreSQL.
    pub async fn sister(&self) -> Shop {
        let db = &self.app.db;
        if db.is_sqlite() {
            let other = Shop::on_sqlite().await;
            // It was copied from the same template.
            let house = other
                .app
                .db
                .write("update shop set house = $1")
                .bind(Uuid::new_v4());
            assert_eq!(house.execute().await.expect("another house"), 1);
            return other;
        }
        db.write("create schema shop_b")
            .execute()
            .await
            .expect("a schema");
        Shop::on_new(&format!("{}?options=-csearch_path%3Dshop_b", self.url)).await
    }

    /// The same shop, served with others of its house named to it.
    pub fn with_sisters(&self, named: &[(&str, &str)]) -> Shop {
        let sister = |(name, url): &(&str, &str)| {
            let sister = Sister::new((*name).to_owned(), url);
            Arc::new(sister.expect("an address"))
        };
        let folder = std::env::temp_dir().join(format!("purfle-test-{}", Uuid::new_v4()));
        let (db, clock) = (self.app.db.clone(), self.clock.clone());
        let sisters = named.iter().map(sister).collect();
        self.beside(App::in_folder(db, clock, ADDRESS.into(), folder, sisters))
    }
}
