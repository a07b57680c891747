//! temporary

use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::stage::{self, Tracks};
use holdfast::timeline::{PhraseRange, Plan};
use holdfast::units::Speed;
fn main() {
    let v = Vocabulary::built_in();
    for dir in std::env::args().skip(1) {
        let text = std::fs::read_to_string(format!("{dir}/stage.toml")).unwrap();
        let (stage, _) = stage::read(&text, "stage.toml");
        let stage = stage.unwrap();
        let mut files: Vec<_> =
            std::fs::read_dir(format!("{dir}/scores")).unwrap().map(|it| it.unwrap().path()).collect();
        files.sort();
        for f in files {
            let name = f.file_name().unwrap().to_string_lossy().into_owned();
            let r = read(std::fs::read_to_string(&f).unwrap(), &name, &v);
            let Some(score) = r.score else {
                println!("{name} UNREAD {:?}", r.problems);
                continue;
            };
            let plan = Plan::new(&score, PhraseRange::whole(&score).unwrap(), Speed::FULL, 0);
            let t = Tracks::of(&score, &v, &plan, &stage);
            for b in &t.blows {
                let p = &plan.moves()[b.of_move];
                let Some(a) = v.actions.get(&p.action_word) else {
                    println!("{name} NOACTION {}", p.action);
                    continue;
                };
                let rk = p
                    .reply
                    .as_deref()
                    .and_then(|r| v.replies.get(r))
                    .map(|r| format!("{:?}", r.kind))
                    .unwrap_or_default();
                println!(
                    "{name} {} {} {:?} {:?} reply {} {rk} target {} apart {:.2} slack {:.2} reach {:.2} nearest {:.2} over {:.2}",
                    p.beat.beat_label(),
                    p.action_word,
                    a.touch,
                    a.limb(),
                    p.reply.as_deref().unwrap_or("-"),
                    p.target.as_deref().unwrap_or("-"),
                    b.apart,
                    b.slack,
                    b.needs.believed - 0.25,
                    b.needs.nearest,
                    b.needs.believed - 0.25 - b.apart
                );
            }

            // others near at blows
            for (own, sw) in &t.sweeps {
                if !sw.armed {
                    continue;
                }
                let p = &plan.moves()[sw.of_move];
                let partner = t
                    .blows
                    .iter()
                    .find(|b| b.of_move == sw.of_move)
                    .map(|b| if b.own == *own { b.partner } else { b.own });
                let Some(partner) = partner else { continue };
                let mut tm = sw.span.0;
                let mut best: Option<(f64, usize, f64)> = None;
                while tm <= sw.span.1 {
                    for (o, tr) in t.people.iter().enumerate() {
                        if o == *own || o == partner {
                            continue;
                        }
                        if let (Some(a), Some(b)) = (t.people[*own].at(tm), tr.at(tm)) {
                            let d = a.distance(b);
                            if best.is_none_or(|x| d < x.0) {
                                best = Some((d, o, tm))
                            }
                        }
                    }
                    tm += 0.05;
                }
                if let Some((d, o, tm)) = best {
                    if d < 3.2 {
                        println!(
                            "NEAR {name} {} {} other {} fighter {} d {:.2} radius {:.2} ratio {:.2} at {:.1} partner {}",
                            p.beat.beat_label(),
                            p.action_word,
                            o,
                            o < t.fighters(),
                            d,
                            sw.radius,
                            d / sw.radius,
                            tm,
                            partner
                        )
                    }
                }
            }
            for (w, tr) in t.people.iter().enumerate() {
                let end = plan.duration().0 as f64 / 1e6;
                let mut tm = 0.0;
                let mut was = false;
                while tm < end {
                    let lies = tr.pose(tm) == holdfast::stage::Pose::Lying;
                    if lies && !was {
                        let at = tr.at(tm).unwrap_or_default();
                        let near: Vec<String> = t
                            .people
                            .iter()
                            .enumerate()
                            .filter(|(o, _)| *o != w)
                            .filter_map(|(o, x)| x.at(tm).map(|y| format!("{o}:{:.2}", y.distance(at))))
                            .collect();
                        println!(
                            "LIES {name} {w} at {:.2},{:.2} t {tm:.1} edge {:.2} others {}",
                            at.x,
                            at.y,
                            at.y,
                            near.join(" ")
                        );
                    }
                    was = lies;
                    tm += 0.1;
                }
            }
        }
    }
}
