//! The plan of a stage is begun where there is none: a plain one, which is measured and drawn from then on. One that is there
//! already, whoever made it, stays as it is.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::StatusCode;

use super::Scores;
use super::save::{Done, Wanted, keep_and_tell, writer};
use crate::production::saving::{NotSaved, make};
use crate::production::{PLAIN_STAGE, STAGE_FILE};
use crate::server::answer::{Answer, No, json, off_the_loop};
use crate::server::asker::identify;
use crate::server::request::Asker;
use crate::wire::StageBegun;

pub(super) async fn begin_stage(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let asker = identify(&scores.house, from, request.headers()).await?;
    writer(&asker)?;
    // A page that goes away in the middle does not take the rest with it.
    let all = tokio::spawn(carry_through(scores, asker));
    all.await.map_err(|_| No::new(StatusCode::INTERNAL_SERVER_ERROR, "It failed in the server. Try again."))?
}

async fn carry_through(scores: Arc<Scores>, asker: Asker) -> Answer {
    let shelf = scores.shelf()?;
    let one_at_a_time = scores.saving.lock().await;
    let folder = shelf.get().folder.clone();
    let made = off_the_loop(move || make(&folder, STAGE_FILE, PLAIN_STAGE)).await?;
    let begun = match made {
        Ok(()) => true,
        Err(NotSaved::Overtaken(_)) => false,
        Err(NotSaved::Unwritable { file, why }) => {
            let reason = format!("{file} could not be written: {why}. See to the disk, then begin it again.");
            return Err(No::new(StatusCode::INSUFFICIENT_STORAGE, reason));
        }
    };
    let file = STAGE_FILE.to_owned();
    if begun {
        let text = PLAIN_STAGE.to_owned();
        let (base, why) = (String::new(), "Begun.".to_owned());
        let wanted = Wanted { file: file.clone(), base, text: text.clone(), why };
        keep_and_tell(&scores, &shelf, &asker, &wanted, &Done::Saved(text)).await?;
    }
    drop(one_at_a_time);
    Ok(json(&StageBegun { file, begun }))
}
