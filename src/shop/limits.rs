//! Limits of the shop: they hold beside those of the job and the library, and may only be tighter.

use super::{Refusal, Shop};
use crate::job::{Acceptance, Job, Level};

/// What the shop asks of every job.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Limits {
    /// The least level of work.
    pub level: Option<Level>,
    /// The rule of acceptance, where one is asked for.
    pub acceptance: Option<Acceptance>,
    /// The greatest share of the voltage that any load may allow on its way; 0 to 1.
    pub allowed_drop: Option<f64>,
}

impl Shop {
    /// Which limits of the shop a job does not keep.
    pub fn limits_not_kept(&self, job: &Job) -> Vec<Refusal> {
        let mut broken = Vec::new();
        let shop = &self.name;
        if let Some(level) = self.limits.level.filter(|level| job.level < *level) {
            let reason =
                format!("the job is of the level {}, and {shop} asks for {} at least", job.level.word(), level.word());
            broken.push(Refusal::new(reason, format!("Write level = \"{}\" into the job.", level.word())));
        }
        if let Some(rule) =
            self.limits.acceptance.filter(|rule| *rule == Acceptance::Guarded && job.acceptance != *rule)
        {
            let reason = format!(
                "the job accepts readings by the rule {}, and {shop} asks for {}",
                job.acceptance.word(),
                rule.word()
            );
            broken
                .push(Refusal::new(reason, format!("Write rule = \"{}\" below [acceptance] of the job.", rule.word())));
        }
        if let Some(most) = self.limits.allowed_drop {
            let percent = |share: f64| format!("{} %", (share * 1e6).round() / 1e4);
            for load in job.loads.iter().filter(|load| load.allowed_drop.is_some_and(|own| own > most + 1e-12)) {
                let own = percent(load.allowed_drop.unwrap_or_default());
                let reason = format!("{} allows a drop of {own}, and {shop} allows {}", load.name, percent(most));
                let way_out =
                    format!("Write allowed_drop = \"{}\" into [load.{}] of the job.", percent(most), load.name);
                broken.push(Refusal::new(reason, way_out));
            }
        }
        broken
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::document::Source;

    #[test]
    fn a_job_below_the_limits_of_the_shop_hears_of_each() {
        let limits = "[limit]\nlevel = \"full\"\nacceptance = \"guarded\"\nallowed_drop = \"2 %\"\n";
        let shop = sample::read(&format!("{}{limits}", sample::YARD)).unwrap();
        let job = include_str!("../job/every-key.toml");
        let job = Job::read(&Source::new("job.toml", job.replace("level = \"full\"", "level = \"standard\""))).unwrap();
        let broken: Vec<String> = shop.limits_not_kept(&job).iter().map(ToString::to_string).collect();
        assert_eq!(broken.len(), 2, "{broken:?}");
        assert!(broken[0].contains("level standard") && broken[0].contains("level = \"full\""), "{broken:?}");
        assert!(broken[1].contains("heater allows a drop of 3 %") && broken[1].contains("allows 2 %"), "{broken:?}");
    }
}
