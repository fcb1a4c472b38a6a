//! The pot's part of a job, as the examples read it.

use serde::Deserialize;
use std::collections::BTreeMap;
use tint::{Backing, Bench, Chip, Colourant, Dose, Goal, Reading, Resin, Surface};

#[derive(Deserialize)]
pub struct Job {
    resin: Option<JobResin>,
    #[serde(default)]
    colourant: Vec<JobColourant>,
    #[serde(default)]
    sample: Vec<JobSample>,
    target: JobTarget,
}

#[derive(Deserialize)]
struct JobResin {
    thickness_mm: Option<f64>,
    backing: Option<serde_json::Value>,
}

#[derive(Deserialize)]
struct JobColourant {
    name: String,
    drop_ul: f64,
    drop_cv: Option<f64>,
    max_percent: Option<f64>,
}

#[derive(Deserialize)]
struct JobSample {
    name: String,
    volume_ml: f64,
    #[serde(default)]
    drops: BTreeMap<String, u32>,
    lab: [f64; 3],
    sigma: Option<f64>,
}

#[derive(Deserialize)]
struct JobTarget {
    lab: [f64; 3],
    sigma: Option<f64>,
    sample_ml: f64,
    max_drops: u32,
    tolerance: Option<f64>,
}

impl Job {
    pub fn goal(&self) -> Goal {
        let target = &self.target;
        let goal = Goal::d65(target.lab, target.sigma.unwrap_or(0.0), target.sample_ml, target.max_drops);
        Goal { tolerance_de00: target.tolerance.unwrap_or(1.0), ..goal }
    }

    pub fn bench(&self) -> Bench {
        let backing = match self.resin.as_ref().and_then(|r| r.backing.as_ref()) {
            Some(serde_json::Value::String(name)) if name == "black" => Backing::Black,
            Some(serde_json::Value::Number(r)) => Backing::Reflectance(r.as_f64().unwrap_or(0.85)),
            _ => Backing::White,
        };
        let resin = Resin {
            thickness_mm: self.resin.as_ref().and_then(|r| r.thickness_mm),
            backing,
            density_g_ml: None,
            surface: Surface::PLASTIC,
        };
        let colourants = self
            .colourant
            .iter()
            .map(|c| Colourant { drop_cv: c.drop_cv.unwrap_or(0.05), max_percent: c.max_percent, ..Colourant::new(&c.name, c.drop_ul) })
            .collect();
        let chip = |s: &JobSample| Chip {
            name: s.name.clone(),
            volume_ml: s.volume_ml,
            doses: s.drops.iter().map(|(name, n)| (name.clone(), Dose::Drops(*n))).collect(),
            reading: Reading::Lab { lab: s.lab, sigma: [s.sigma.unwrap_or(0.3); 3] },
        };
        Bench { resin, colourants, chips: self.sample.iter().map(chip).collect() }
    }
}
