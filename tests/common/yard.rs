//! A shop on a bench: two people with keys, one without, two meters, and the small job as van-1.

use std::path::PathBuf;

use ssh_key::{LineEnding, PrivateKey, private::Ed25519Keypair};

use super::{Answers, Bench, Ended, small_job};

pub const SHOP: &str = r#"format = 1
name = "Orchard yard"

[role.installer]
may = ["work"]

[role.second]
may = ["release"]

[role.lead]
may = ["work", "release", "concession", "sign"]

[person.robin]
name = "Robin Alder"
role = ["installer", "lead"]
key = "keys/robin.pub"

[person.jo]
name = "Jo Birch"
role = "second"
key = "keys/jo.pub"

[person.sam]
name = "Sam Rowan"
role = "installer"

[meter.M1]
class = "mid"
serial = "0417"
calibration_due = "2099-03-31"

[meter.M2]
class = "good"
calibration_due = "2020-10-01"
"#;

/// The first meter, as the job copies it.
pub const M1: &str = "[meter.M1]\nclass = \"mid\"\nserial = \"0417\"\n";

pub struct Yard {
    pub bench: Bench,
}

impl Yard {
    /// The shop with the small job, which names the first meter.
    pub fn begun() -> Self {
        let yard = Self { bench: Bench::tiny() };
        for folder in ["yard/keys", "yard/jobs/van-1"] {
            std::fs::create_dir_all(yard.bench.path(folder)).unwrap();
        }
        std::fs::rename(yard.bench.path("procedures"), yard.bench.path("yard/procedures")).unwrap();
        yard.says(SHOP).job(&format!("{}\n{M1}", small_job::JOB));
        for (number, who) in [(1, "robin"), (2, "jo"), (3, "stranger")] {
            let key = PrivateKey::from(Ed25519Keypair::from_seed(&[number; 32]));
            key.write_openssh_file(&yard.bench.path(who), LineEnding::LF).unwrap();
            let public = key.public_key().to_openssh().unwrap();
            std::fs::write(yard.bench.path(&format!("yard/keys/{who}.pub")), public).unwrap();
        }
        yard.answer(&Self::good_answers());
        yard
    }

    pub fn says(&self, shop: &str) -> &Self {
        std::fs::write(self.bench.path("yard/shop.toml"), shop).unwrap();
        self
    }

    pub fn job(&self, job: &str) -> &Self {
        std::fs::write(self.bench.path("yard/jobs/van-1/job.toml"), job).unwrap();
        self
    }

    /// Answers by which the small job may leave this shop.
    pub fn good_answers() -> Answers {
        let mut answers = small_job::answers(&small_job::tiny_library());
        answers.table("release")["fuse/F1/release"].as_table_mut().unwrap().insert("key".into(), "jo".into());
        let sign = answers.table("sign");
        sign.insert("role".into(), "lead".into());
        sign.insert("key".into(), "robin".into());
        answers
    }

    pub fn answer(&self, answers: &Answers) -> &Self {
        self.bench.answer_with(answers);
        self
    }

    pub fn record(&self) -> PathBuf {
        self.bench.path("yard/jobs/van-1/record")
    }

    pub fn walk(&self) -> Ended {
        self.bench.run(&["walk", "yard/jobs/van-1/job.toml", "--answers", "answers.toml"])
    }

    pub fn gate(&self) -> Ended {
        self.bench.run(&["shop", "gate", "van-1", "--shop", "yard"])
    }
}
