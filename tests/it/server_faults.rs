//! A thread that fails by a panic is seen at the desk, in words, and a hold is called and written all the same.

use holdfast::call::Role;
use holdfast::midi::port::{NotSent, Port};
use holdfast::midi::{MidiOut, MidiSettings};
use holdfast::osc::OscOut;
use holdfast::outputs::Outputs;
use holdfast::time::ServerClock;
use holdfast::wire::Stage;
use tempfile::TempDir;

use crate::support::house::House;

/// A port whose driver panics whatever it is sent.
struct Failing;

impl Port for Failing {
    fn send(&mut self, _: &[u8]) -> Result<(), NotSent> {
        panic!("the driver failed")
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_desk_reads_that_a_thread_has_failed_and_holds_go_on() {
    let folder = TempDir::new().unwrap();
    let settings = MidiSettings { clock: true, ..MidiSettings::default() };
    let midi = MidiOut::to_port(settings.clone(), ServerClock::new(), Box::new(Failing));
    let house = House::open_with_outputs(folder.path(), Outputs::of(settings, midi, OscOut::off())).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let observer = house.join(Role::Observer, "Pim", None).await;
    // MIDI's stop for this hold meets the panic.
    observer.hand.hold(None);
    desk.until_stage(Stage::Held).await;
    let told = |trouble: &String| trouble.starts_with("MIDI out failed") && trouble.contains("the driver failed");
    desk.until("reads of the fault", |seen| {
        let written = seen.state.as_ref().and_then(|state| state.hold.as_ref()).is_some_and(|hold| hold.written);
        written && seen.known.troubles.iter().flatten().any(told)
    })
    .await;
    house.stop().await;
}
