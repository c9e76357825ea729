//! The models in use: the catalogue alone, and with what the shop has taught, for each family; kept at hand.
//!
//! The database numbers each change ([`Stand`]). A model that is behind reads only the counts that changed since; only
//! a change of the catalogue or of the settings has it read everything anew.

use std::sync::{Arc, PoisonError, RwLock};

use sqlx::FromRow;
use tokio::sync::Mutex;

use crate::admin::shop::Shop;
use crate::catalogue::answer::Words;
use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::{Background, Descriptor, Likelihood};
use crate::db::{Read, Tx};
use crate::error::Result;
use crate::reports::season::Seasons;

use super::alike;
use super::learn::{self, Counts, Figures, Strength, TaughtAnswer, TaughtShare};
use super::rank::Model;
use super::temper::{self, Losses};

/// The families that can buzz.
pub const FAMILIES: [&str; 4] = ["violin", "viola", "cello", "bass"];

/// The one row of the table `diagnosis`.
#[derive(Clone, Debug, PartialEq, Eq, FromRow)]
pub struct Stand {
    /// `better`, `shop` or `catalogue`: which of the two people see.
    pub follow: String,
    pub share_strength: i64,
    pub cell_strength: i64,
    pub answer_strength: i64,
    pub lessons: i64,
    pub catalogue: i64,
    pub tempered: i64,
    pub temper: String,
    /// How much more the shop's ranking lost so far than the catalogue's alone, in millionths of a nat.
    pub behind: i64,
    /// What was scored up to this lesson, by other strengths, is summed up neither in `temper` nor in `behind`.
    pub begun: i64,
    pub version: i64,
}

/// Everything that a ranking needs, as of one stand.
pub struct Current {
    pub stand: Stand,
    pub figures: Arc<Figures>,
    pub seasons: Seasons,
    /// With what the shop has taught, in the order of [`FAMILIES`].
    shop: Vec<Model>,
    /// The catalogue alone.
    catalogue: Arc<Vec<Model>>,
    /// Which causes no answer can part, by family; from the catalogue alone, so that they stay as they are.
    alike: Arc<Vec<Vec<usize>>>,
}

/// Held by the application; a clone is the same.
#[derive(Clone, Default)]
pub struct Models(Arc<Inner>);

#[derive(Default)]
struct Inner {
    current: RwLock<Option<Arc<Current>>>,
    /// What the shop has taught, brought up to date by one at a time.
    counts: Mutex<Counts>,
}

impl Stand {
    /// # Errors
    /// What the database says.
    pub async fn get(mut on: impl Read) -> Result<Stand> {
        Ok(on.read("select * from diagnosis where id = 1").one().await?)
    }

    /// In whole orders: of shares, cells and answers.
    #[must_use]
    pub fn strengths(&self) -> [i64; 3] {
        [self.share_strength, self.cell_strength, self.answer_strength]
    }

    #[must_use]
    pub fn strength(&self) -> Strength {
        Strength {
            shares: learn::real(self.share_strength),
            cells: learn::real(self.cell_strength),
            answers: learn::real(self.answer_strength),
        }
    }

    /// Whether people see the shop's ranking. Left to choose, it is the one that lost less so far on orders that it had not
    /// learned from: follow the leader (Cesa-Bianchi and Lugosi 2006, Prediction, Learning, and Games).
    #[must_use]
    pub fn follows_shop(&self) -> bool {
        match self.follow.as_str() {
            "shop" => true,
            "better" => self.behind <= 0,
            _ => false,
        }
    }

    /// The power of the evidence that the shop's own orders make fit.
    #[must_use]
    pub fn power(&self) -> f64 {
        Losses::read(&self.temper).power()
    }
}

/// Has every instance read the catalogue anew: for a change of a cause, a question, their figures, or the seasons.
///
/// # Errors
/// What the database says.
pub async fn changed(tx: &mut Tx) -> Result<()> {
    tx.query("update diagnosis set catalogue = catalogue + 1 where id = 1")
        .execute()
        .await?;
    Ok(())
}

impl Current {
    /// The models of a catalogue, with what the shop has taught.
    #[must_use]
    pub fn of(figures: Arc<Figures>, seasons: Seasons, counts: &Counts, stand: Stand) -> Current {
        let mut catalogue = FAMILIES.map(|family| {
            let (none, power) = (Counts::default(), temper::CATALOGUE);
            learn::model(&figures, &none, stand.strength(), &seasons, family, power)
        });
        let region = |code: &str| {
            let cause = figures.causes.iter().find(|cause| cause.code == code);
            cause.map_or("", |cause| cause.region.as_str())
        };
        let alike = catalogue.iter().map(|model| {
            let regions = model.causes.iter().map(|entry| region(&entry.code));
            alike::groups(model, &regions.collect::<Vec<_>>())
        });
        let alike: Vec<Vec<usize>> = alike.collect();
        for (model, groups) in catalogue.iter_mut().zip(&alike) {
            model.groups.clone_from(groups);
        }
        Current {
            shop: taught(&figures, counts, &stand, &seasons, &alike),
            seasons,
            alike: Arc::new(alike),
            catalogue: Arc::new(catalogue.to_vec()),
            figures,
            stand,
        }
    }

    /// The same catalogue, with what the shop has taught since.
    #[must_use]
    pub fn taught(&self, counts: &Counts, stand: Stand) -> Current {
        Current {
            shop: taught(&self.figures, counts, &stand, &self.seasons, &self.alike),
            figures: self.figures.clone(),
            seasons: self.seasons,
            catalogue: self.catalogue.clone(),
            alike: self.alike.clone(),
            stand,
        }
    }

    /// The model of a family: the one people follow. A bow has none.
    #[must_use]
    pub fn model(&self, family: &str) -> Option<&Model> {
        if self.stand.follows_shop() {
            self.of_shop(family)
        } else {
            self.of_catalogue(family)
        }
    }

    #[must_use]
    pub fn of_shop(&self, family: &str) -> Option<&Model> {
        place(family).map(|at| &self.shop[at])
    }

    #[must_use]
    pub fn of_catalogue(&self, family: &str) -> Option<&Model> {
        place(family).map(|at| &self.catalogue[at])
    }

    /// The group of each cause of the family's model: those with the same number are alike.
    #[must_use]
    pub fn alike(&self, family: &str) -> &[usize] {
        place(family).map_or(&[], |at| &self.alike[at])
    }

    #[must_use]
    pub fn cause(&self, code: &str) -> Option<&Cause> {
        self.figures.causes.iter().find(|cause| cause.code == code)
    }

    #[must_use]
    pub fn question(&self, code: &str) -> Option<&Descriptor> {
        self.figures
            .descriptors
            .iter()
            .find(|question| question.code == code)
    }
}

fn place(family: &str) -> Option<usize> {
    FAMILIES.iter().position(|known| *known == family)
}

impl Models {
    /// The models as the database stands now.
    ///
    /// # Errors
    /// What the database says.
    pub async fn current(&self, mut on: impl Read) -> Result<Arc<Current>> {
        let stand = Stand::get(&mut on).await?;
        if let Some(current) = self.at_hand(&stand) {
            return Ok(current);
        }
        let mut counts = self.0.counts.lock().await;
        if let Some(current) = self.at_hand(&stand) {
            return Ok(current); // another request read it meanwhile
        }
        let before = self.last();
        let known = before.as_ref().map_or(-1, |current| current.stand.lessons);
        bring_up(&mut on, &mut counts, known).await?;
        let same_catalogue = before.filter(|current| {
            current.stand.catalogue == stand.catalogue && current.stand.strength() == stand.strength()
        });
        let current = match same_catalogue {
            Some(before) => before.taught(&counts, stand),
            None => read(&mut on, &counts, stand).await?,
        };
        let current = Arc::new(current);
        *self.0.current.write().unwrap_or_else(PoisonError::into_inner) = Some(current.clone());
        Ok(current)
    }

    /// The models as they would stand without a lesson that they learned: for an order that is scored once more.
    ///
    /// # Errors
    /// What the database says.
    pub async fn without(&self, on: impl Read, lesson: Option<&learn::Lesson>) -> Result<Arc<Current>> {
        let current = self.current(on).await?;
        let Some(lesson) = lesson else {
            return Ok(current);
        };
        let mut counts = self.0.counts.lock().await.clone();
        counts.learn(lesson, -1);
        Ok(Arc::new(current.taught(&counts, current.stand.clone())))
    }

    /// Reads from the models as the database stands now, and from the counts behind them.
    ///
    /// # Errors
    /// What the database says.
    pub async fn counted<T>(
        &self,
        mut on: impl Read,
        read: impl FnOnce(&Current, &Counts) -> T,
    ) -> Result<T> {
        let current = self.current(&mut on).await?;
        // Another request may bring the counts a lesson further meanwhile; they are the shop's all the same.
        let counts = self.0.counts.lock().await;
        Ok(read(&current, &counts))
    }

    fn last(&self) -> Option<Arc<Current>> {
        self.0
            .current
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// What is at hand, if it is as new as the stand.
    fn at_hand(&self, stand: &Stand) -> Option<Arc<Current>> {
        self.last().filter(|current| {
            let at_hand = &current.stand;
            at_hand.lessons >= stand.lessons
                && at_hand.catalogue >= stand.catalogue
                && at_hand.version >= stand.version
        })
    }
}

/// Reads the counts that were changed by lessons after this one.
async fn bring_up(on: &mut impl Read, counts: &mut Counts, known: i64) -> Result<()> {
    let shares: Vec<TaughtShare> = on
        .read("select family, cause, age_band, month, orders from taught_share where lesson > $1")
        .bind(known)
        .all()
        .await?;
    let answers: Vec<TaughtAnswer> = on
        .read("select cause, descriptor, answer, orders from taught_answer where lesson > $1")
        .bind(known)
        .all()
        .await?;
    for row in &shares {
        counts.set_share(row);
    }
    for row in &answers {
        counts.set_answer(row);
    }
    Ok(())
}

async fn read(on: &mut impl Read, counts: &Counts, stand: Stand) -> Result<Current> {
    let mut figures = Figures::new(
        Cause::all(&mut *on).await?,
        Descriptor::all(&mut *on).await?,
        Background::all(&mut *on).await?,
        on.read("select * from likelihood").all::<Likelihood>().await?,
    );
    figures.words = Words::all(&mut *on).await?;
    let seasons = Shop::find(on).await?;
    let seasons = seasons
        .and_then(|shop| shop.seasons.parse().ok())
        .unwrap_or_else(Seasons::without_seasons);
    Ok(Current::of(Arc::new(figures), seasons, counts, stand))
}

fn taught(
    figures: &Figures,
    counts: &Counts,
    stand: &Stand,
    seasons: &Seasons,
    alike: &[Vec<usize>],
) -> Vec<Model> {
    let power = stand.power();
    let models = FAMILIES.iter().zip(alike).map(|(family, groups)| Model {
        groups: groups.clone(),
        ..learn::model(figures, counts, stand.strength(), seasons, family, power)
    });
    models.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn left_to_choose_the_ranking_follows_whichever_lost_less() {
        let stand = |follow: &str, behind| Stand {
            follow: follow.to_owned(),
            share_strength: 300,
            cell_strength: 1600,
            answer_strength: 30,
            lessons: 9,
            catalogue: 0,
            tempered: 9,
            temper: String::new(),
            behind,
            begun: 0,
            version: 1,
        };
        for (follow, behind, shop) in [
            ("better", 1, false),
            ("better", 0, true),
            ("better", -1, true),
            ("shop", 1, true),
            ("catalogue", -1, false),
        ] {
            assert_eq!(stand(follow, behind).follows_shop(), shop, "{follow} {behind}");
        }
    }
}
