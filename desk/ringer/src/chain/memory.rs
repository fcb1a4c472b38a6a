use ink::Figure;
use outline::Outline;
use photo::Photo;
use profile::Profile;
use quantity::Noted;
use sheet::Fragments;
use sizes::Inference;
use std::collections::VecDeque;
use std::sync::Arc;

/// What stations worked out before, by what they worked it out from. Results never depend on it, only the time they take: a key
/// holds everything that goes into the value.
#[derive(Default)]
pub struct Memory {
    /// Decoded photos.
    pub photos: Recall<Photo>,
    /// Found outlines.
    pub outlines: Recall<Result<Noted<Outline>, String>>,
    /// Fitted profiles.
    pub profiles: Recall<Result<Noted<Profile>, String>>,
    /// Odds of round sizes.
    pub odds: Recall<Result<Noted<Inference>, String>>,
    /// Plans of the run.
    pub plans: Recall<Result<Noted<run::Plan>, String>>,
    /// Small pictures of the photos for the sheet.
    pub thumbnails: Recall<Option<Vec<u8>>>,
    /// The body station.
    pub bodies: Recall<super::body_memo::BodyWork>,
    /// Meshes of the body.
    pub meshes: Recall<super::files::Meshes>,
    /// Section drawings.
    pub sections: Recall<Figure>,
    /// What was learnt from chips, by the bench.
    pub models: Recall<super::pot::Learnt>,
    /// Full plates, by plate and footprint.
    pub packings: Recall<Result<run::Packing, run::RunError>>,
    /// Pots.
    pub pots: Recall<super::pot::PotWork>,
    /// The sheet drawn last.
    pub drawn: Option<Arc<Fragments>>,
}

/// The last few values of one kind.
pub struct Recall<T> {
    values: VecDeque<(String, Arc<T>)>,
    most: usize,
}

impl<T> Default for Recall<T> {
    fn default() -> Self {
        Recall { values: VecDeque::new(), most: KEPT }
    }
}

/// Undo a few times and come back: more is seldom asked for, and a decoded photo has up to 300 MB.
const KEPT: usize = 8;

impl<T> Recall<T> {
    /// A job that asks for `count` values each time keeps them all: with less room each would push out the next one asked for.
    pub fn room_for(&mut self, count: usize) {
        self.most = count.max(KEPT);
    }

    /// The value for `key`, from memory or worked out now.
    pub fn get(&mut self, key: String, work: impl FnOnce() -> T) -> Arc<T> {
        self.try_get(key, || Ok::<T, std::convert::Infallible>(work())).unwrap_or_else(|never| match never {})
    }

    /// The value for `key`; a failure is passed on and not kept.
    ///
    /// # Errors
    /// What `work` fails with.
    pub fn try_get<E>(&mut self, key: String, work: impl FnOnce() -> Result<T, E>) -> Result<Arc<T>, E> {
        if let Some(at) = self.values.iter().position(|(known, _)| *known == key) {
            // The one used last is dropped last.
            if let Some(entry) = self.values.remove(at) {
                self.values.push_back(entry);
            }
        } else {
            let value = Arc::new(work()?);
            self.values.push_back((key, value));
            while self.values.len() > self.most {
                self.values.pop_front();
            }
        }
        // Just pushed: the back is there.
        Ok(self.values.back().map(|(_, value)| value.clone()).unwrap_or_else(|| unreachable!("a value was pushed before")))
    }
}
