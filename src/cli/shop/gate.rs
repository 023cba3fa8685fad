//! May this vehicle leave? One line for a person or a release system, and the exit status.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use serde_json::json;

use super::WIDTH;
use crate::cli::arguments::ShopGate as Arguments;
use crate::cli::failure::{Failure, Outcome};
use crate::cli::files::read_text;
use crate::cli::house::House;
use crate::cli::layout;
use crate::cli::shop_folder::named_or_nearest;
use crate::record::{self, Entry, Reader, Record};
use crate::shop::{Refusal, Shop};
use crate::walk::{Event, Standing, Walk, breaches};

/// Most reasons of one kind that are told.
const MOST: usize = 12;

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let house = House::read(&named_or_nearest(arguments.shop.as_deref())?)?;
    let place = Place::of(&arguments.vehicle, &house)?;
    let reasons = place.reasons(&house.shop)?;
    let what = place.called();
    if arguments.json {
        let listed: Vec<_> =
            reasons.iter().map(|own| json!({ "reason": own.reason, "way_out": own.way_out })).collect();
        let all = json!({
            "vehicle": what, "may_leave": reasons.is_empty(), "reasons": listed,
            "record": place.record.display().to_string(),
        });
        layout::print(&all.to_string())?;
    } else {
        layout::print(&in_words(&what, &reasons, arguments.all))?;
    }
    Ok(if reasons.is_empty() { Outcome::Conforms } else { Outcome::DoesNotConform })
}

fn in_words(what: &str, reasons: &[Refusal], all: bool) -> String {
    let Some(first) = reasons.first() else {
        return format!("may leave: {what}: intact, signed by who may sign here, every reading conforms");
    };
    let text = match reasons.len() - 1 {
        _ if all => {
            let listed: Vec<String> =
                reasons.iter().map(|own| layout::labelled("  - ", &own.to_string(), WIDTH)).collect();
            format!("stays: {what}\n{}", listed.join("\n"))
        }
        0 => format!("stays: {what}: {}", first.reason),
        more => format!("stays: {what}: {} (and {more} more: --all)", first.reason),
    };
    // A record may hold a stranger's words: they do not steer the terminal.
    text.split('\n').map(crate::report::visible).collect::<Vec<_>>().join("\n")
}

/// Where a vehicle's job and record lie.
struct Place {
    job: PathBuf,
    record: PathBuf,
}

impl Place {
    /// By the name of a job of the shop, or by the folder of a job or record.
    fn of(named: &Path, house: &House) -> Result<Self, Failure> {
        let jobs = house.folder.strip_prefix(".").unwrap_or(&house.folder).join(&house.shop.jobs);
        for folder in [jobs.join(named), named.to_owned()] {
            if Record::exists(&folder) {
                let job = folder.parent().unwrap_or(Path::new("")).join("job.toml");
                return Ok(Self { job, record: folder });
            }
            if folder.join("job.toml").is_file() {
                return Ok(Self { job: folder.join("job.toml"), record: folder.join("record") });
            }
        }
        let names: Vec<String> = std::fs::read_dir(&jobs)
            .into_iter()
            .flatten()
            .flatten()
            .filter(|entry| entry.path().join("job.toml").is_file())
            .filter_map(|entry| entry.file_name().into_string().ok())
            .collect();
        let named = named.display().to_string();
        let near =
            names.iter().max_by(|a, b| strsim::jaro_winkler(a, &named).total_cmp(&strsim::jaro_winkler(b, &named)));
        let near = near.map(|near| format!("\n  did you mean {near}?")).unwrap_or_default();
        Err(Failure::message(format!("{named}: {} has no such job, and it is no folder of one{near}", jobs.display())))
    }

    fn called(&self) -> String {
        let folder = self.job.parent().and_then(Path::file_name).or(self.record.file_name());
        folder.map_or_else(|| self.record.display().to_string(), |name| name.to_string_lossy().into_owned())
    }

    /// Everything that keeps the vehicle here, the gravest first.
    fn reasons(&self, shop: &Shop) -> Result<Vec<Refusal>, Failure> {
        let walk_on = format!("Go on with `rigproof walk {}`.", self.job.display());
        if !Record::exists(&self.record) {
            return Ok(vec![Refusal::new("the work is not begun", walk_on)]);
        }
        let findings = record::verify(&self.record, &Reader::default(), Timestamp::now())?;
        if !findings.intact {
            let way_out = format!("See `rigproof verify {}`; nothing in it counts as proof.", self.record.display());
            return Ok(findings
                .problems
                .iter()
                .take(MOST)
                .map(|says| Refusal::new(says.clone(), way_out.clone()))
                .collect());
        }
        let (entries, walk) = Record::read(&self.record)?;
        let mut reasons = standing(&walk, &walk_on);
        let sealed =
            walk.signed().is_some() && !findings.signed_by.is_empty() && findings.trust != record::Trust::Unsealed;
        if reasons.is_empty() && !sealed {
            reasons.push(Refusal::new("the work is not signed off and sealed", walk_on));
        }
        let events = entries.iter().map(|entry| (entry.seq, entry.day(), &entry.event));
        reasons.extend(
            breaches(shop, walk.job(), events)
                .into_iter()
                .take(MOST)
                .map(|(number, refusal)| Refusal::new(format!("entry {number}: {}", refusal.reason), refusal.way_out)),
        );
        reasons.extend(shop.limits_not_kept(walk.job()));
        reasons.extend(design(&entries));
        reasons.extend(self.changed_job(&walk));
        Ok(reasons)
    }

    /// The job as it lies there now, where it is another than the one that was worked by.
    fn changed_job(&self, walk: &Walk) -> Option<Refusal> {
        let now = read_text(&self.job).ok()?;
        (*now != *walk.job().source.text).then(|| {
            Refusal::new(
                format!("{} is not the job that was worked by", self.job.display()),
                "Bring it back as it was, or do the work by the new one in a new record.",
            )
        })
    }
}

/// How the work stands, where it does not conform.
fn standing(walk: &Walk, walk_on: &str) -> Vec<Refusal> {
    match walk.standing() {
        Standing::Conforms => Vec::new(),
        Standing::InProgress => {
            let (done, all) = walk.count();
            let next = walk.current().map(|step| format!("; next {}", step.key)).unwrap_or_default();
            vec![Refusal::new(format!("{done} of {all} steps are closed{next}"), walk_on)]
        }
        Standing::DoesNotConform => {
            let open = walk.nonconformities();
            let told = open.iter().take(MOST).map(|own| {
                Refusal::new(
                    format!("{}: {} does not conform ({})", own.step, own.found, own.reason),
                    "Do it again with `rigproof walk --again`, or let who may grant a concession decide.",
                )
            });
            told.collect()
        }
    }
}

/// Errors of the design that the work was begun in spite of.
fn design(entries: &[Entry]) -> Vec<Refusal> {
    let Some(Event::Opened { design_errors, .. }) = entries.first().map(|entry| &entry.event) else {
        return Vec::new();
    };
    let told = design_errors.iter().take(MOST).map(|says| {
        Refusal::new(format!("the design breaks a rule: {says}"), "Mend the job and do the work by it in a new record.")
    });
    told.collect()
}
