// Generated from src/wire and src/rules.rs by `cargo test`; do not edit. HOLDFAST_WRITE=1 cargo test typescript writes it anew.

export const PROTOCOL = 8;

/**
 * How often each side says "I am here", µs.
 */
export const PULSE_US = 300000;
/**
 * A link on which nothing was heard for this long is lost, µs: the member stops counting, the desk is told.
 */
export const SILENCE_US = 1000000;
/**
 * A connection that is not open this long after it was dialled is given up, µs. TCP asks again after one second and
 * then after two more, so that with `RETRY_LONGEST` a network that heals is tried within three seconds.
 */
export const OPENING_US = 3000000;
/**
 * How long the answer to an introduction may take, µs, counted from the opening or the last word before the welcome.
 * It is longer than `LONGEST_REFUSAL`, so that a member who is refused hears it and stays away.
 */
export const INTRODUCTION_US = 10000000;
/**
 * A refusal is held back for no longer than this, µs.
 */
export const LONGEST_REFUSAL_US = 5000000;
/**
 * The wait before the first attempt after a lost link, µs. It doubles with every attempt that brings no welcome;
 * chance takes up to half of it away.
 */
export const RETRY_FIRST_US = 200000;
/**
 * The longest wait between two attempts, µs.
 */
export const RETRY_LONGEST_US = 1000000;
/**
 * A tap on HOLD that is unanswered for this long has reached nobody, as far as the person is told, and is sent again,
 * µs; and again after as long.
 */
export const UNTOLD_US = 500000;
/**
 * This many taps come with the key, and fit a frame whatever their reasons; more of them follow it.
 */
export const TAPS_WITH_KEY = 6;
/**
 * A cue that is shown later than this after its time is late: it says so and makes no sound, flash or vibration, µs.
 * Players hear 20 to 30 ms as not together (Chafe, Gurevich, Leslie and Tyan, ISMA 2004). A cue that arrives after
 * its time is late however little it was.
 */
export const LATE_US = 25000;
/**
 * A hand or foot that is this close behind a step, µs, was on its way before anybody saw what the step showed: it is
 * no step more. So a double tap, two people at the same instant and a contact that bounces step once. Pages hold what
 * has stood on the screen for less as not seen; a foot switch, which has no screen, rests for so long after the last
 * step and its own last press. Longer than people need to see and act, shorter than anybody looks at a move (common
 * practice, no source).
 */
export const STEP_BOUNCE_US = 300000;
/**
 * Only this many questions about the time can be answered at once; an older one counts as lost.
 */
export const OPEN_QUESTIONS = 32;
/**
 * This many generations belong to one start of the server: a generation divided by it tells which start.
 */
export const GENERATIONS_OF_A_START = 4294967296;
/**
 * A member's machine slept when its monotonic clock stood still for this long, µs: the wall clock beside it is read
 * in whole milliseconds and is steered.
 */
export const ASLEEP_US = 10000;
/**
 * How long a clock exchange counts, µs.
 */
export const CLOCK_WINDOW_US = 30000000;
/**
 * The drift between two clocks that is allowed for, parts in a million: as far as an operating system steers its
 * clock (MAXFREQ of RFC 5905's appendix A, from memory). Quartz alone stays within a fifth of it.
 */
export const DRIFT_PPM = 500;
/**
 * Two clocks are read in whole microseconds, so that the legs of an honest exchange can add up to this much less than
 * they took, µs.
 */
export const READING = 2;
/**
 * This many exchanges are made quickly.
 */
export const FIRST_EXCHANGES = 32;
/**
 * The time is asked for this often at first, µs.
 */
export const ASK_AT_FIRST_US = 50000;
/**
 * The time is asked for this often while a run goes or may begin at any moment, µs.
 */
export const ASK_IN_A_RUN_US = 125000;
/**
 * The same where the network is uneven, µs.
 */
export const ASK_ON_UNEVEN_US = 60000;
/**
 * The time is asked for this often otherwise, µs.
 */
export const ASK_OTHERWISE_US = 1000000;
/**
 * A network whose round trips take this much longer in the middle than at best is uneven, µs.
 */
export const UNEVEN = 20000;
/**
 * Skews of a clock are looked for up to this first, µs per µs: what two quartz clocks part by, temperature and
 * ageing included (common practice, no source).
 */
export const USUAL_SKEW = 0.0001;
/**
 * Skews are looked for up to this when one of them is far more likely than any usual one, µs per µs.
 */
export const MOST_SKEW = 0.0005;
/**
 * Skews less likely than the likeliest by e to the minus this many are left out.
 */
export const SKEWS_LEFT_OUT = 8;
/**
 * The mean over the skews is taken in this many steps.
 */
export const SKEW_STEPS = 16;
/**
 * The longest message that is put together from pieces, in bytes: a run sheet of a fight with tens of thousands of
 * moves.
 */
export const LONGEST_MESSAGE = 16777216;
/**
 * The notes that call a hold, on the loudspeakers and on a device: hertz and seconds, one after the other.
 */
export const HOLD_NOTES = [[880, 0.45], [660, 0.75]] as const;
/**
 * The sound page is told of its meters this often, µs.
 */
export const METERS_EVERY_US = 200000;

export const TO_MEMBER_KINDS: readonly ToMember['kind'][] = ['invited', 'welcome', 'clock', 'pulse', 'state', 'you', 'subject', 'run', 'cue', 'stop', 'held', 'trial', 'piece', 'tap-answer', 'refused', 'taken', 'invitations', 'sound', 'goodbye'];

export const NEEDS_THE_CLOCK: readonly Stage[] = ['places', 'count-in', 'running', 'held'];
export const TICKS_PER_BEAT = 960;
export const MAX_DRAFT = 524288;
export const USUAL_REASONS = ["distance", "timing", "off target", "wrong move", "no eye contact", "footing", "weapon or costume", "something in the way", "hurt or unwell", "a question"] as const;

export type ToServer = { "kind": "look", 
/**
 * The version of this wire that the page speaks: [`crate::wire::PROTOCOL`].
 */
protocol: number, 
/**
 * The secret of the invitation.
 */
invitation: string, } | { "kind": "join", 
/**
 * The version of this wire.
 */
protocol: number, 
/**
 * The secret of the invitation.
 */
invitation: string, 
/**
 * What the person is called.
 */
name: string, 
/**
 * The fighter they play, if they perform.
 */
part: string | null, 
/**
 * A name for the page, made by it: a line of the same page before is over. Without one the page is another one.
 */
page: string | null, } | { "kind": "return", 
/**
 * The version of this wire.
 */
protocol: number, 
/**
 * The personal key.
 */
key: string, 
/**
 * A name for the page, as in [`ToServer::Join`].
 */
page: string | null, 
/**
 * The taps on HOLD that nobody has answered: they are obeyed before the return itself is answered.
 */
taps: Array<HoldTap>, } | { "kind": "clock", 
/**
 * The member's own monotonic clock when this was sent, microseconds.
 */
sent_us: number, } | { "kind": "pulse", 
/**
 * False while the page is hidden: a hidden page's timers cannot be trusted.
 */
visible: boolean, 
/**
 * Bound of the member's clock error, microseconds; nothing before the first estimate.
 */
bound_us: number | null, 
/**
 * Best round trip of late, microseconds.
 */
round_trip_us: number | null, } | { "kind": "show", 
/**
 * Which.
 */
subjects: Array<Subject>, } | { "kind": "hold" } & HoldTap | { "kind": "release", 
/**
 * The hold that is meant.
 */
hold: number, 
/**
 * The last call that the person's screen had shown ([`crate::wire::HoldView::last_event`]): if somebody has
 * called since, the release is refused.
 */
seen: string, } | { "kind": "stop", 
/**
 * Why.
 */
reason: string, } | { "kind": "ready", 
/**
 * True when ready.
 */
ready: boolean, 
/**
 * The generation of the places that are meant.
 */
generation: number, } | { "kind": "take-part", 
/**
 * Whose part changes; the desk may name anybody.
 */
member: number | null, 
/**
 * The fighter; nothing gives the part up.
 */
part: string | null, } | { "kind": "places", 
/**
 * What is to be run.
 */
setup: Setup, 
/**
 * The last event that the person's screen had shown ([`crate::wire::State::last_event`]): if the call stands
 * elsewhere since, it is refused.
 */
seen: string, } | { "kind": "places-for", 
/**
 * The item ([`crate::wire::ItemView::item`]).
 */
item: number, 
/**
 * As in [`ToServer::Places`].
 */
seen: string, } | { "kind": "order", 
/**
 * The items, in order; [`crate::call::MOST_ITEMS`] at the most.
 */
items: Array<OrderItem>, 
/**
 * The version on the screen ([`crate::wire::SubjectTold::Tonight`]): if somebody has changed the order since, it is
 * refused.
 */
seen: number, } | { "kind": "cast", 
/**
 * The fight.
 */
fight: string, 
/**
 * The fighter.
 */
part: string, 
/**
 * Whom; nothing leaves it to whoever usually has the part.
 */
member: number | null, } | { "kind": "start", 
/**
 * The generation of the places that are meant.
 */
generation: number, 
/**
 * Start although somebody is not ready or not linked; journalled with the names.
 */
anyway: boolean, 
/**
 * The last event that the person's screen had shown ([`crate::wire::State::last_event`]): if something has
 * happened since that a start is decided by, it is refused.
 */
seen: string, } | { "kind": "step", 
/**
 * The generation that is meant.
 */
generation: number, 
/**
 * The step that was on the person's screen ([`crate::wire::Cue::step`]), 0 before the first.
 */
from: number, 
/**
 * Which way.
 */
way: Way, } | { "kind": "speed", 
/**
 * Percent of performance tempo, 10 to 150.
 */
percent: number, } | { "kind": "note", 
/**
 * The hold.
 */
hold: number, 
/**
 * The words.
 */
text: string, } | { "kind": "reason", 
/**
 * The hold.
 */
hold: number, 
/**
 * One of the company's reasons ([`crate::wire::SubjectTold::Why`]).
 */
reason: string, } | { "kind": "near-miss", 
/**
 * The run that is meant.
 */
run: number | null, 
/**
 * Where in it.
 */
place: MovePlace | null, 
/**
 * Whether the name goes with it. Without, no name is kept anywhere.
 */
named: boolean, 
/**
 * One of the company's reasons.
 */
reason: string | null, 
/**
 * What there is to say of it.
 */
note: string | null, } | { "kind": "sign", 
/**
 * The check, as [`crate::wire::SubjectTold::Checks`] lists it.
 */
check: string, 
/**
 * False when it is not in order.
 */
in_order: boolean, 
/**
 * What there is to say of it.
 */
note: string | null, 
/**
 * Who signs, when that is somebody at the member's side.
 */
by: string | null, } | { "kind": "attend", 
/**
 * Their name; they need not have joined.
 */
person: string, 
/**
 * Whether they are there.
 */
present: boolean, } | { "kind": "try-hold", } | { "kind": "tried", 
/**
 * The trial.
 */
trial: number, 
/**
 * True when the page was in sight and has shown it.
 */
shown: boolean, 
/**
 * True when the device has sounded or shaken.
 */
felt: boolean, } | { "kind": "end-call", 
/**
 * Who signs the record of the call; nothing when nobody does.
 */
signed_by: string | null, } | { "kind": "report" } & Fired | { "kind": "invitations", } | { "kind": "revoke", 
/**
 * The role.
 */
role: Role, 
/**
 * Also cut off everybody who joined with it.
 */
members: boolean, } | { "kind": "door", 
/**
 * How.
 */
ask: DoorAsk, } | { "kind": "sound", 
/**
 * What.
 */
ask: SoundAsk, } | { "kind": "leave", };

export type HoldTap = { 
/**
 * Chosen by the sender, never the same twice: a tap sent again after a lost link is the same tap.
 */
tap: string, 
/**
 * The generation on the caller's screen when it was tapped.
 */
generation: number, 
/**
 * True when it was tapped while there was no link.
 */
queued: boolean, 
/**
 * When it was tapped, on the server's clock as the member knew it.
 */
tapped_us: number | null, 
/**
 * The number of the cue on the caller's screen when it was tapped.
 */
screen_cue: number | null, 
/**
 * Why, if there was time to say.
 */
reason: string | null, };

export type Setup = { 
/**
 * The fight's name, as [`crate::wire::SubjectTold::Fights`] lists it.
 */
fight: string, 
/**
 * The set of weapons; nothing for those that the score names.
 */
weapons: string | null, 
/**
 * The first phrase, counted from 0.
 */
from: number, 
/**
 * The move of the first phrase from which it is run, counted from 1; nothing for its beginning.
 */
from_move: number | null, 
/**
 * The last phrase.
 */
to: number, 
/**
 * Percent of performance tempo, 10 to 150.
 */
percent: number, 
/**
 * Beats of count-in, 0 to 64.
 */
count_in: number, 
/**
 * What drives the run.
 */
drive: DriveKind, };

export type DriveKind = "clock" | "step";

export type DoorAsk = { "what": "remove", 
/**
 * The member.
 */
member: number, } | { "what": "notes", 
/**
 * The member.
 */
member: number, 
/**
 * Whether it is taken.
 */
taken: boolean, } | { "what": "same", 
/**
 * The newcomer.
 */
member: number, 
/**
 * Whether they are.
 */
same: boolean, } | { "what": "same-all", } | { "what": "role", 
/**
 * The role.
 */
role: Role, 
/**
 * Whether they are.
 */
open: boolean, };

export type Fired = { 
/**
 * The cue's generation.
 */
generation: number, 
/**
 * The cue's number.
 */
cue: number, 
/**
 * When it was due.
 */
due_us: number, 
/**
 * When it was shown, on the server's clock as the member knows it; nothing if it came too late to be shown.
 */
fired_us: number | null, 
/**
 * The bound of the member's clock error then.
 */
bound_us: number | null, };

export type ToMember = { "kind": "invited", 
/**
 * The production's name.
 */
production: string, 
/**
 * The role it gives.
 */
role: Role, 
/**
 * The parts there are; empty unless the role performs.
 */
parts: Array<PartChoice>, } | { "kind": "welcome" } & Welcome | { "kind": "clock", 
/**
 * The asker's own time, as it was sent.
 */
sent_us: number, 
/**
 * When the server received it.
 */
received_us: number, 
/**
 * When the server answered.
 */
answered_us: number, } | { "kind": "pulse", 
/**
 * Server time.
 */
now_us: number, 
/**
 * The generation that lives; cues of older ones are dead.
 */
generation: number, 
/**
 * For how long the server's clock has stood still since its start, because its machine slept: when this changes,
 * what was measured before says nothing any more. Nothing to somebody who is not let in.
 */
stood_us: number | null, } | { "kind": "state" } & State | { "kind": "you" } & You | { "kind": "subject", 
/**
 * What.
 */
tells: SubjectTold, } | { "kind": "run" } & RunSheet | { "kind": "cue" } & Cue | { "kind": "stop", 
/**
 * Everything up to this generation, and it, is dead.
 */
generation: number, 
/**
 * When, server time.
 */
at_us: number, } | { "kind": "held" } & HoldView | { "kind": "trial", 
/**
 * Which trial.
 */
trial: number, 
/**
 * Who tries.
 */
by: string, } | { "kind": "piece", 
/**
 * Which message it is a part of. A part of another one means that the rest of this one will not come.
 */
of: number, 
/**
 * Its place, from 0.
 */
part: number, 
/**
 * True for the last one.
 */
last: boolean, 
/**
 * The bytes.
 */
bytes: Uint8Array, } | { "kind": "tap-answer", 
/**
 * The tap.
 */
tap: string, 
/**
 * What became of it.
 */
outcome: TapOutcome, 
/**
 * The hold it made or joined; nothing when it was only logged, as late, or when the hold has no number yet.
 */
hold: number | null, } | { "kind": "refused", 
/**
 * What was asked, in a word.
 */
asked: string, 
/**
 * A sentence for a person.
 */
reason: string, } | { "kind": "taken", 
/**
 * What was asked, in a word.
 */
asked: string, 
/**
 * Whether the name of whoever asked is kept with it.
 */
named: boolean, } | { "kind": "invitations", 
/**
 * One for each role.
 */
invitations: Array<InvitationView>, 
/**
 * The SHA-256 of the authority that phones are asked to trust, in pairs of hexadecimal digits, where it is ours.
 */
fingerprint: string | null, } | { "kind": "sound", 
/**
 * What.
 */
tells: SoundTold, } | { "kind": "goodbye", 
/**
 * A sentence for a person.
 */
reason: string, 
/**
 * Whether the page comes back.
 */
back: Back, };

export type Back = "by-itself" | "when-asked" | "never";

export type TapOutcome = "held" | "written" | "unkept" | "late";

export type PartChoice = { 
/**
 * The fighter's name.
 */
part: string, 
/**
 * Who has it now.
 */
taken_by: string | null, };

export type InvitationView = { 
/**
 * The role it gives.
 */
role: Role, 
/**
 * The link to open.
 */
link: string, 
/**
 * The link as a QR code, an SVG picture.
 */
qr_svg: string, 
/**
 * The same over HTTPS, where the server has it.
 */
secure: SecureLink | null, 
/**
 * How many have joined with it.
 */
joined: number, 
/**
 * When it lets nobody in any more, RFC 3339 in UTC.
 */
until: string, 
/**
 * True when that is past.
 */
ran_out: boolean, 
/**
 * True while the desk lets nobody new in with it.
 */
closed: boolean, };

export type SecureLink = { 
/**
 * The link to open.
 */
link: string, 
/**
 * The link as a QR code, an SVG picture.
 */
qr_svg: string, };

export type Welcome = { 
/**
 * The member's number.
 */
member: number, 
/**
 * The personal key, when it has just been traded for an invitation.
 */
key: string | null, 
/**
 * What concerns this member alone.
 */
you: You, 
/**
 * How far ahead of its time a cue is sent, microseconds.
 */
horizon_us: number, 
/**
 * The state.
 */
state: State, 
/**
 * The run, if one is set up.
 */
run: RunSheet | null, };

export type You = { 
/**
 * What they are called.
 */
name: string, 
/**
 * Their role.
 */
role: Role, 
/**
 * The fighter they play.
 */
part: string | null, 
/**
 * True once they said ready at these places.
 */
ready: boolean, 
/**
 * Who has come under this member's name: they are asked whether that is them, too.
 */
newcomers: Array<Newcomer>, 
/**
 * The name that they gave, while somebody else has it and nobody has said yet that they are that person.
 */
waits: string | null, };

export type Newcomer = { 
/**
 * Their number.
 */
member: number, 
/**
 * What they are called until it is said who they are.
 */
name: string, 
/**
 * What kind of device they came with, in words.
 */
device: string | null, };

export type Stage = "idle" | "places" | "count-in" | "running" | "held" | "stopped" | "complete";

export type State = { 
/**
 * Server time when this was true.
 */
now_us: number, 
/**
 * The generation that lives.
 */
generation: number, 
/**
 * The production's name.
 */
production: string, 
/**
 * The last event that whoever calls places or starts must have seen; they name it.
 */
last_event: string, 
/**
 * Where the call stands.
 */
stage: Stage, 
/**
 * Why it stands there, in a sentence: the reason of a stop, what must come next.
 */
because: string | null, 
/**
 * What is set up.
 */
setup: Setup | null, 
/**
 * The number of the run.
 */
run: number | null, 
/**
 * True from the end of a call until another begins: everybody may go.
 */
over: boolean, 
/**
 * The speed that was asked for from the next phrase on, and which phrase that is.
 */
next_speed: NextSpeed | null, 
/**
 * How many parts of the run are ready, of how many there are; nothing while nothing is set up.
 */
ready: ReadyCount | null, 
/**
 * The hold that stands.
 */
hold: HoldView | null, 
/**
 * The hold that was released last, until something is set up: its callers can still say why.
 */
released: HoldView | null, 
/**
 * The last place a cue was due at, while something is set up.
 */
spot: Spot | null, 
/**
 * The loudspeakers, in a sentence, and whether they work.
 */
sound: Health, 
/**
 * True when the loudspeakers say HOLD: the house wants it, and they work.
 */
hold_call: boolean, 
/**
 * The log, in a sentence, and whether it is being written.
 */
log: Health, };

export type ReadyCount = { 
/**
 * Parts whose player is linked, looks at the page and has said ready.
 */
ready: number, 
/**
 * All parts.
 */
of: number, };

export type Health = { 
/**
 * True when it does.
 */
well: boolean, 
/**
 * What it is doing, or what is wrong and what to do.
 */
says: string, };

export type NextSpeed = { 
/**
 * Percent of performance tempo.
 */
percent: number, 
/**
 * The phrase it begins with.
 */
phrase: string, };

export type Spot = { 
/**
 * The number of the cue.
 */
cue: number, 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * Its name.
 */
phrase_name: string, 
/**
 * The beat as the score writes it; 0 and below are the count-in.
 */
beat: string, 
/**
 * The number of the move in its phrase, counted from 1: the last one reached.
 */
move: number | null, 
/**
 * That move in words.
 */
words: string | null, };

export type HoldView = { 
/**
 * The hold's number in this call.
 */
hold: number, 
/**
 * The generation that it began.
 */
generation: number, 
/**
 * When it arrived, server time.
 */
at_us: number, 
/**
 * Where the run was then.
 */
spot: Spot | null, 
/**
 * At which speed, percent; nothing in a walk-through or when nothing ran.
 */
percent: number | null, 
/**
 * The other moves that were under way then, in words; the first is that of the place. [`UNDER_WAY_TOLD`] at the most.
 */
also: Array<string>, 
/**
 * How many calls there have been, those of one person counted each.
 */
calls: number, 
/**
 * The event of the last call: whoever releases names it.
 */
last_event: string, 
/**
 * How many have called, each counted once.
 */
caller_count: number, 
/**
 * Who called, each once, in order of arrival: the first and the latest, [`CALLERS_TOLD`] at the most. Never empty.
 */
callers: Array<Caller>, 
/**
 * The reason that was given last; nothing before one is.
 */
reason: ReasonView | null, 
/**
 * True once it is on disk.
 */
written: boolean, 
/**
 * Who released it.
 */
released_by: string | null, };

export type Caller = { 
/**
 * Their number; nothing when it was not a person (a lost link).
 */
member: number | null, 
/**
 * Their name.
 */
name: string, 
/**
 * Their role.
 */
role: Role, 
/**
 * How often they called.
 */
times: number, 
/**
 * Why; its first [`REASON_TOLD`] characters.
 */
reason: string | null, 
/**
 * Where their screen was when they tapped.
 */
screen: Spot | null, };

export type Subject = "roster" | "devices" | "holds" | "fights" | "troubles" | "checks" | "attendance" | "missing" | "why" | "near-misses" | "tonight" | "casts";

export type SubjectTold = { "subject": "roster", 
/**
 * True when these are all.
 */
whole: boolean, 
/**
 * Who is new or has changed.
 */
members: Array<MemberView>, 
/**
 * The numbers of those who have left.
 */
gone: Array<number>, } | { "subject": "devices", 
/**
 * True when these are all.
 */
whole: boolean, 
/**
 * Those that are new or have changed.
 */
devices: Array<DeviceView>, 
/**
 * The numbers of those who have left.
 */
gone: Array<number>, } | { "subject": "holds", 
/**
 * True when these are all.
 */
whole: boolean, 
/**
 * Those that are new or have changed.
 */
holds: Array<HoldRecord>, 
/**
 * The numbers of those that are too old to be told.
 */
gone: Array<number>, } | { "subject": "attendance", 
/**
 * True when these are all.
 */
whole: boolean, 
/**
 * Who was noted.
 */
people: Array<AttendanceView>, 
/**
 * Of whom nothing is noted any more.
 */
gone: Array<string>, } | { "subject": "fights", 
/**
 * All of them.
 */
fights: Array<FightChoice>, } | { "subject": "troubles", 
/**
 * All of them.
 */
troubles: Array<string>, } | { "subject": "checks", 
/**
 * All of them.
 */
checks: Array<CheckView>, } | { "subject": "missing", 
/**
 * The generation of which this is true: places that are called anew begin with nobody ready.
 */
generation: number, 
/**
 * Every part that is not there, in the score's order.
 */
parts: Array<MissingPart>, } | { "subject": "why", 
/**
 * The reasons, in the order in which they are offered.
 */
reasons: Array<string>, 
/**
 * Whether near misses are reported, and with whose name.
 */
near_misses: NearMisses, } | { "subject": "near-misses", 
/**
 * How many times.
 */
count: number, 
/**
 * The last of them, newest first.
 */
misses: Array<NearMissView>, } | { "subject": "tonight", 
/**
 * Which order it is: whoever changes it names this.
 */
version: number, 
/**
 * The items, in order.
 */
items: Array<ItemView>, } | { "subject": "casts", 
/**
 * The fights.
 */
fights: Array<FightCastView>, };

export type MemberView = { 
/**
 * The member's number.
 */
member: number, 
/**
 * What they are called.
 */
name: string, 
/**
 * Their role.
 */
role: Role, 
/**
 * The fighter they play.
 */
part: string | null, 
/**
 * The link.
 */
link: Link, 
/**
 * True once they said ready at these places.
 */
ready: boolean, 
/**
 * When they joined, RFC 3339 in UTC.
 */
joined: string, 
/**
 * What kind of device they came with, in words; nothing before they are back after a start of the server.
 */
device: string | null, 
/**
 * False while the desk takes no notes from them.
 */
notes_taken: boolean, 
/**
 * The member whose name they gave, while nobody has said yet whether they are that person.
 */
claims: number | null, };

export type DeviceView = { 
/**
 * The member's number.
 */
member: number, 
/**
 * False while their page is hidden.
 */
visible: boolean, 
/**
 * Bound of their clock error, microseconds.
 */
bound_us: number | null, 
/**
 * Median of how late their last cues were shown, microseconds.
 */
late_us: number | null, };

export type Link = "linked" | "lost";

export type HoldRecord = { 
/**
 * The hold.
 */
hold: HoldView, 
/**
 * What was noted last, oldest first: [`crate::call::MOST_NOTES`] at the most, the first [`NOTE_TOLD`] characters of each.
 * The log has all of it.
 */
notes: Array<string>, 
/**
 * How many notes there were before these.
 */
earlier_notes: number, };

export type AttendanceView = { 
/**
 * Who.
 */
person: string, 
/**
 * Whether they are there.
 */
present: boolean, };

export type FightChoice = { 
/**
 * Its name.
 */
fight: string, 
/**
 * The first 12 digits of the SHA-256 of its text.
 */
revision: string, 
/**
 * Its phrases, in order.
 */
phrases: Array<string>, 
/**
 * Its fighters.
 */
fighters: Array<string>, 
/**
 * Who only stands by in it.
 */
bystanders: Array<string>, 
/**
 * Beats in a bar.
 */
beats_per_bar: number, 
/**
 * Beats of the usual count-in.
 */
count_in: number, 
/**
 * Errors of the checks: starting by the clock must then be confirmed.
 */
errors: number, 
/**
 * Warnings of the checks.
 */
warnings: number, 
/**
 * The sets of weapons that can be chosen besides those that the score names.
 */
sets: Array<WeaponsChoice>, 
/**
 * True for a pattern of a score by itself, which goes round and round: its phrases are the stages.
 */
drill: boolean, };

export type DraftPicture = { 
/**
 * The picture; nothing where the line has no move, or its move no picture.
 */
picture: PictureView | null, 
/**
 * The move in words; nothing where the line has none.
 */
of: string | null, 
/**
 * Why the move has no picture, half a sentence.
 */
why: string | null, };

export type PictureAsked = { 
/**
 * The file it is a draft of.
 */
file: string, 
/**
 * The text.
 */
text: string, 
/**
 * The line, counted from 1.
 */
line: number, };

export type PartAsked = { 
/**
 * Its name; nothing for the first.
 */
fight: string | null, 
/**
 * Whose part; nothing for nobody's.
 */
part: string | null, };

export type PartSheet = { 
/**
 * Everything that can be read, in the order in which it is run.
 */
fights: Array<FightToRead>, 
/**
 * The one that was asked for; nothing where it has no phrase.
 */
lesson: Lesson | null, 
/**
 * What is another since the one who asks ran that part last; nothing when they never did, or when that text cannot be
 * read any more.
 */
since: Since | null, };

export type FightToRead = { 
/**
 * Its name.
 */
fight: string, 
/**
 * Who fights in it.
 */
fighters: Array<string>, 
/**
 * Who only stands by in it.
 */
bystanders: Array<string>, 
/**
 * True for a pattern of a score by itself.
 */
drill: boolean, };

export type Lesson = { 
/**
 * The fight as a run of all of it would be told: of no run and of no generation.
 */
sheet: RunSheet, 
/**
 * What is heard, in order.
 */
sounds: Array<SoundAt>, };

export type FeetView = { 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * When, ticks from the first beat of the range: for a mark the beginning of the phrase.
 */
at_ticks: number, 
/**
 * The beat as the score writes it; nothing for a mark.
 */
beat: string | null, 
/**
 * Who: a fighter or a bystander.
 */
who: string, 
/**
 * The mark, or where the walk leads.
 */
to: PointView, 
/**
 * True for a walk that is counted from where they stand.
 */
further: boolean, 
/**
 * The circle along which the walk goes; straight without one.
 */
around: AroundView | null, 
/**
 * Whom they face on their mark.
 */
facing: string | null, 
/**
 * Or which way, degrees: 0 upstage, 90 stage left.
 */
bearing: number | null, 
/**
 * When they are there, ticks; nothing for a mark.
 */
until_ticks: number | null, 
/**
 * By which beat, as the score writes it.
 */
until: string | null, };

export type NearView = { 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * When, ticks from the first beat of the range.
 */
at_ticks: number, 
/**
 * The beat as the score writes it.
 */
beat: string, 
/**
 * Whom it passes.
 */
who: string, 
/**
 * Whose blow or walk it is.
 */
by: string, 
/**
 * The blow in words; nothing for somebody who walks past.
 */
action: string | null, 
/**
 * How near it comes to their body, metres; as planned, at performance tempo.
 */
metres: number, 
/**
 * On which side of them.
 */
side: BesideView, };

export type BesideView = "front" | "right" | "behind" | "left" | "upstage" | "stage-left" | "downstage" | "stage-right";

export type PointView = { 
/**
 * Metres to stage left of the middle, which is audience right; negative to stage right.
 */
x: number, 
/**
 * Metres upstage of the setting line; negative downstage.
 */
y: number, };

export type CueWalk = { 
/**
 * [`Part::Act`] or [`Part::Watch`].
 */
part: Part, 
/**
 * The walk.
 */
walk: FeetView, };

export type AroundView = { 
/**
 * Its middle, counted as the walk's end is.
 */
centre: PointView, 
/**
 * Which way round, as seen from above; nothing is the shorter way.
 */
way: WayView | null, };

export type WayView = "clockwise" | "anticlockwise";

export type SoundAt = { 
/**
 * Its tick, from the first beat.
 */
at_ticks: number, 
/**
 * So much later it is heard, microseconds; negative for earlier.
 */
later_us: number, 
/**
 * Louder or softer than its own level.
 */
gain_db: number, 
/**
 * Its name.
 */
name: string, 
/**
 * The move that makes it, by its place among those of the sheet; nothing for a sound on a line of its own.
 */
by_move: number | null, };

export type FloorSheet = { 
/**
 * True where this production says lengths in feet.
 */
feet: boolean, 
/**
 * The phrases of the whole fight.
 */
phrases: Array<FloorPhrase>, 
/**
 * The tempo map of the whole fight at performance tempo.
 */
tempo: Array<TempoView>, 
/**
 * What stands where, each set once.
 */
grounds: Array<GroundView>, 
/**
 * The fighters, then the bystanders, in the order of the score.
 */
people: Array<WayThrough>, 
/**
 * What the blows sweep, in order of their beats.
 */
sweeps: Array<SweepView>, 
/**
 * To what each blow comes nearest of all that it is not meant for, in order.
 */
approaches: Array<ApproachView>, };

export type FloorPhrase = { 
/**
 * Its name.
 */
name: string, 
/**
 * Ticks from the first beat of the fight.
 */
at_ticks: number, 
/**
 * Its length in ticks.
 */
length_ticks: number, 
/**
 * What stands where in it, by place in `grounds`.
 */
ground: number, };

export type GroundView = { 
/**
 * The set; nothing for the bare stage.
 */
set: string | null, 
/**
 * In the order in which they are drawn, from below.
 */
things: Array<ThingView>, };

export type ThingView = { 
/**
 * What it is.
 */
kind: ThingKind, 
/**
 * Its name; empty for the playing area.
 */
name: string, 
/**
 * Its corners in order round it, each to stage left and upstage; the two ends of an edge.
 */
corners: [number, number][], 
/**
 * How high its top is above the stage floor, how deep it goes down at an edge, or how high the floor of the seats is.
 */
height: number | null, 
/**
 * How high eyes are above the floor of the seats.
 */
eyes: number | null, };

export type ThingKind = "area" | "wing" | "seats" | "level" | "steps" | "piece" | "door" | "edge";

export type WayThrough = { 
/**
 * Who.
 */
who: string, 
/**
 * True for somebody who only stands by.
 */
bystander: boolean, 
/**
 * How far an arm reaches.
 */
reach: number, 
/**
 * How tall they are.
 */
stature: number, 
/**
 * Where they stand and go: when it begins and ends, then the place; or the two ends of a straight way; or of a way round
 * a middle the middle, the first bearing from it, how far round in degrees, and how far from it it begins and ends. After
 * the end of one and before the next they stand where it ends.
 */
legs: number[][], 
/**
 * Which of them the score writes, as a mark or a walk, by place; the others follow from moves.
 */
written: Array<number>, 
/**
 * How they are from each time on.
 */
poses: Array<PoseAt>, 
/**
 * Whom or which way they look from each time on.
 */
looks: Array<LookAt>, 
/**
 * From each time on how long the blade in hand is; 0 for none.
 */
blades: [number, number][], };

export type PoseView = "standing" | "ducking" | "jumping" | "kneeling" | "seated" | "lying";

export type PoseAt = { 
/**
 * The time.
 */
at: number, 
/**
 * How.
 */
pose: PoseView, };

export type LookAt = { 
/**
 * The time.
 */
at: number, 
/**
 * Whom.
 */
person: number | null, 
/**
 * Which way: 0 upstage, 90 stage left.
 */
bearing: number | null, };

export type SweepView = { 
/**
 * Who strikes, by place in `people`.
 */
person: number, 
/**
 * When it begins.
 */
from: number, 
/**
 * When it is where it goes.
 */
beat: number, 
/**
 * When it is over.
 */
until: number, 
/**
 * How far from the middle of the body.
 */
radius: number, 
/**
 * How far against the clock from the way they look, degrees.
 */
left: number, 
/**
 * How far with it.
 */
right: number, 
/**
 * True when what sweeps is a weapon.
 */
armed: boolean, };

export type ApproachView = { 
/**
 * When it is nearest.
 */
at: number, 
/**
 * How near, metres.
 */
gap: number, 
/**
 * Who strikes.
 */
who: string, 
/**
 * With what: `cut head`.
 */
action: string, 
/**
 * Its phrase, by place.
 */
phrase: number, 
/**
 * Its beat as the score writes it.
 */
beat: string, 
/**
 * To whom or what.
 */
to: string, 
/**
 * True for a block of seats.
 */
seats: boolean, };

export type DraftFloor = { 
/**
 * The fight on the stage; nothing while the text has errors of reading, or where no stage is known.
 */
floor: FloorSheet | null, 
/**
 * Why there is none, in a sentence.
 */
why: string | null, 
/**
 * Every mark, and every walk to a place, in the order of the text; those of patterns are not among them.
 */
marks: Array<DraftMark>, 
/**
 * The lines of the phrases' heads, from 1.
 */
phrases: Array<number>, };

export type DraftMark = { 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * Who.
 */
who: string, 
/**
 * The beat at which they set off, as written; nothing for a mark.
 */
beat: string | null, 
/**
 * The line, from 1.
 */
line: number, 
/**
 * Where its two numbers begin in the text, in UTF-16 units from the first.
 */
from: number, 
/**
 * Where they end.
 */
to: number, 
/**
 * Metres to stage left.
 */
x: number, 
/**
 * Metres upstage.
 */
y: number, };

export type StageAsked = { 
/**
 * The text.
 */
text: string, 
/**
 * The change.
 */
change: StageChange | null, };

export type StageBegun = { 
/**
 * Its file, which is opened as a score is.
 */
file: string, 
/**
 * False where there was one already, which stays as it is.
 */
begun: boolean, };

export type StageChange = { "thing": ThingChange } | { "set": SetChange };

export type ThingChange = { 
/**
 * The set that it belongs to; nothing for what stands there always.
 */
set: string | null, 
/**
 * What it is.
 */
kind: ThingKind, 
/**
 * What it is called so far; nothing for a thing that is new.
 */
was: string | null, 
/**
 * How it is to be; nothing takes it away.
 */
now: ThingView | null, };

export type SetChange = { "act": "begin", 
/**
 * What it is called.
 */
set: string, 
/**
 * What it is for.
 */
fights: Array<string>, } | { "act": "rename", 
/**
 * What it is called so far.
 */
set: string, 
/**
 * What it is to be called.
 */
to: string, } | { "act": "add", 
/**
 * The set.
 */
set: string, 
/**
 * The fight.
 */
fight: string, } | { "act": "remove", 
/**
 * The set.
 */
set: string, 
/**
 * The fight.
 */
fight: string, } | { "act": "take-away", 
/**
 * The set.
 */
set: string, };

export type SetFor = { 
/**
 * As the text of stage.toml names it: the fight's name, or `Fight: Phrase`.
 */
named: string, 
/**
 * The fight's name.
 */
fight: string, 
/**
 * The phrase before which the scene changes; nothing for the whole fight.
 */
phrase: string | null, };

export type StageTold = { 
/**
 * The text; the same where nothing was changed.
 */
text: string, 
/**
 * True where its numbers are feet. Here everything is in metres.
 */
feet: boolean, 
/**
 * The bare stage, then the sets; nothing where the text says no stage.
 */
sets: Array<StageSetView>, 
/**
 * What a set can be for, the fights of the production in their order.
 */
for_sets: Array<SetFor>, };

export type StageSetView = { 
/**
 * Its name; nothing for the bare stage.
 */
set: string | null, 
/**
 * The fights that are on it.
 */
fights: Array<string>, 
/**
 * Everything that stands there, what stands there always among it, in the order in which it is drawn.
 */
things: Array<ThingView>, 
/**
 * What it brings itself.
 */
own: Array<ThingView>, };

export type Since = { 
/**
 * When they ran it, RFC 3339.
 */
utc: string, 
/**
 * The score's revision then.
 */
revision: string, 
/**
 * Moves that are new to them, by their place among those of the sheet.
 */
new: Array<number>, 
/**
 * Moves that come at another distance from the move of theirs before.
 */
moved: Array<number>, 
/**
 * Moves that are gone.
 */
gone: Array<GoneView>, };

export type GoneView = { 
/**
 * The phrase that it was in.
 */
phrase: string, 
/**
 * The move in words.
 */
words: string, };

export type SoundClips = { 
/**
 * One of each sound that the fight asks for and that there is.
 */
clips: Array<SoundClip>, };

export type SoundClip = { 
/**
 * Its name.
 */
name: string, 
/**
 * Louder or softer than all others, as the company chose.
 */
gain_db: number, 
/**
 * Its first sample is played so much before it is to be heard, microseconds; negative for after.
 */
early_us: number, 
/**
 * Its samples: a FLAC file (RFC 9639) in base64 (RFC 4648, section 4).
 */
flac: string, };

export type HomeFile = { 
/**
 * The production.
 */
production: string, 
/**
 * The day on which it was made: `2026-11-27`.
 */
made: string, 
/**
 * Whose part it opens with; nothing for a file of the whole cast, which asks.
 */
part: string | null, 
/**
 * The fights.
 */
fights: Array<HomeFight>, 
/**
 * Their sounds.
 */
clips: Array<SoundClip>, 
/**
 * True when the sounds were left out, because the file would have been too large for a mail.
 */
mute: boolean, };

export type HomeFight = { 
/**
 * The fight.
 */
lesson: Lesson, 
/**
 * Its pictures, in the order of their numbers.
 */
pictures: Array<PictureView>, };

export type PictureSet = { 
/**
 * The pictures.
 */
pictures: Array<PictureView>, };

export type PictureView = { 
/**
 * What is seen, in words.
 */
words: string, 
/**
 * As the one who acts sees it.
 */
doer: string, 
/**
 * As the one who answers sees it.
 */
partner: string, 
/**
 * The part of it that matters, for a small size: a view box.
 */
doer_near: string, 
/**
 * The same for the other.
 */
partner_near: string, };

export type WeaponsChoice = { 
/**
 * Its name.
 */
weapons: string, 
/**
 * Errors of the checks.
 */
errors: number, 
/**
 * Warnings.
 */
warnings: number, };

export type CheckView = { 
/**
 * What is checked.
 */
check: string, 
/**
 * True for the trial of the hold, which nobody signs by hand.
 */
trial: boolean, 
/**
 * Who signed it; nothing when nobody did.
 */
signed: SignatureView | null, };

export type SignatureView = { 
/**
 * Who.
 */
by: string, 
/**
 * When, server time; before 0 when that was before this server was started.
 */
at_us: number, 
/**
 * False when it was signed as not in order.
 */
in_order: boolean, 
/**
 * What was noted.
 */
note: string | null, };

export type MissingPart = { 
/**
 * The fighter.
 */
part: string, 
/**
 * Who plays them; nothing when nobody does.
 */
name: string | null, 
/**
 * What they lack.
 */
lack: Lack, };

export type Lack = "nobody" | "lost" | "hidden" | "not-ready";

export type NearMisses = "either" | "named" | "unnamed" | "no";

export type NearMissView = { 
/**
 * When it was reported, server time; before 0 when that was before this server was started.
 */
at_us: number, 
/**
 * Who reported it; nothing where they gave no name.
 */
by: string | null, 
/**
 * Where it was.
 */
spot: Spot | null, 
/**
 * Why.
 */
reason: string | null, 
/**
 * What was noted, its first [`NOTE_TOLD`] characters.
 */
note: string | null, };

export type ItemView = { 
/**
 * Its number.
 */
item: number, 
/**
 * What is to be done.
 */
planned: PlannedView, 
/**
 * Whether it is done.
 */
stands: ItemStands, 
/**
 * Why it cannot be done by the scores as they are now, in a sentence.
 */
cannot: string | null, 
/**
 * Who plays in it, by number.
 */
players: Array<number>, 
/**
 * Its parts that nobody plays.
 */
open: Array<string>, 
/**
 * How long it took in the middle of the last times, from its places to its end, seconds; nothing where it was never done
 * like this.
 */
about_s: number | null, };

export type ItemStands = "to-do" | "now" | "done";

export type PlannedView = { 
/**
 * The fight.
 */
fight: string, 
/**
 * The set of weapons; nothing for those that the score names.
 */
weapons: string | null, 
/**
 * The first phrase; nothing for the fight's first.
 */
from: string | null, 
/**
 * The last phrase; nothing for the fight's last.
 */
to: string | null, 
/**
 * Percent of performance tempo, 10 to 150; nothing in a walk-through, move by move.
 */
percent: number | null, 
/**
 * Beats of count-in; nothing for the house's usual.
 */
count_in: number | null, };

export type OrderItem = { 
/**
 * Which one it is; nothing for a new one.
 */
item: number | null, 
/**
 * What is to be done.
 */
planned: PlannedView, 
/**
 * Whether it is done; nothing leaves that as it is.
 */
done: boolean | null, };

export type FightCastView = { 
/**
 * The fight.
 */
fight: string, 
/**
 * Its parts, in the score's order: who fights, then who only stands by.
 */
parts: Array<PartCastView>, };

export type PartCastView = { 
/**
 * The part: somebody who fights, or who only stands by.
 */
part: string, 
/**
 * True for somebody who only stands by.
 */
stands_by: boolean, 
/**
 * Who plays it, by number; nothing when nobody does.
 */
member: number | null, 
/**
 * What they are called.
 */
person: string | null, 
/**
 * True when the desk has cast them for tonight.
 */
chosen: boolean, 
/**
 * For whom they cover; where nobody plays it, who is noted as absent and had it.
 */
usually: string | null, 
/**
 * Who covers the part by the production's list, the first to be asked first.
 */
covers: Array<string>, };

export type ReasonView = { 
/**
 * It, as the company's list has it.
 */
says: string, 
/**
 * Who gave it.
 */
by: string, };

export type MovePlace = { 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * Its number in the phrase, counted from 1.
 */
move: number, };

export type RunSheet = { 
/**
 * The run's number.
 */
run: number, 
/**
 * The generation it lives in.
 */
generation: number, 
/**
 * The score's revision: the first 12 hexadecimal digits of the SHA-256 of its text.
 */
revision: string, 
/**
 * The fight.
 */
fight: string, 
/**
 * The set of weapons; nothing for those that the score names.
 */
weapons: string | null, 
/**
 * What drives it.
 */
drive: DriveKind, 
/**
 * Beats in a bar.
 */
beats_per_bar: number, 
/**
 * Beats of count-in.
 */
count_in: number, 
/**
 * Server time of the first beat of the range, once it is started by the clock.
 */
start_us: number | null, 
/**
 * Ticks from the first beat to the end.
 */
length_ticks: number, 
/**
 * The phrases of the range.
 */
phrases: Array<PhraseView>, 
/**
 * The tempo map, at the run's speed.
 */
tempo: Array<TempoView>, 
/**
 * The move in the middle of the first phrase at which it begins, and where everybody is before it.
 */
begins: BeginView | null, 
/**
 * Every move of the range, in order.
 */
moves: Array<MoveView>, 
/**
 * Where everybody stands and walks, in order; the marks of a phrase before its walks.
 */
feet: Array<FeetView>, 
/**
 * What passes near whoever only stands by, in order: of each bar and each of them the nearest.
 */
near: Array<NearView>, 
/**
 * Who fights in it, in the order of the score.
 */
fighters: Array<string>, 
/**
 * Who only stands by in it, in the order of the score.
 */
bystanders: Array<string>, 
/**
 * The name of its moves' pictures, which are asked for at `/pictures/…`; nothing where there are none.
 */
pictures: string | null, 
/**
 * The name of the fight on the stage's plan, which is asked for at `/floors/…`; nothing where no stage is known.
 */
floor: string | null, };

export type PhraseView = { 
/**
 * Its number in the score, counted from 0.
 */
phrase: number, 
/**
 * Its name.
 */
name: string, 
/**
 * Ticks from the first beat of the range.
 */
at_ticks: number, 
/**
 * Its length in ticks.
 */
length_ticks: number, 
/**
 * Microseconds from the first beat of the range.
 */
at_us: number, 
/**
 * Its speed, percent.
 */
percent: number, };

export type BeginView = { 
/**
 * The number of the move in its phrase, counted from 1.
 */
number: number, 
/**
 * Its beat as the score writes it.
 */
beat: string, 
/**
 * Where everybody is before it, in the order of the score.
 */
stands: Array<StandView>, };

export type StandView = { 
/**
 * Who.
 */
fighter: string, 
/**
 * True on the mark that the phrase gives them.
 */
on_mark: boolean, 
/**
 * Metres to audience right of the middle; nothing where the score says nothing and they have nothing to do.
 */
x: number | null, 
/**
 * Metres upstage from the setting line.
 */
y: number | null, 
/**
 * How.
 */
posture: PostureView, 
/**
 * What they have in hand.
 */
hands: Array<InHandView>, };

export type PostureView = "standing" | "kneeling" | "down" | "dead";

export type InHandView = { 
/**
 * Its word.
 */
weapon: string, 
/**
 * The hand, where it is known.
 */
hand: HandView | null, };

export type HandView = "right" | "left";

export type TempoView = { 
/**
 * Where it begins, ticks from the first beat of the range.
 */
at_ticks: number, 
/**
 * Its length; the last stretch goes on for ever.
 */
length_ticks: number, 
/**
 * When it begins, microseconds from the first beat of the range.
 */
at_us: number, 
/**
 * Tempo at its beginning, beats per minute.
 */
from_bpm: number, 
/**
 * Tempo at its end.
 */
to_bpm: number, };

export type MoveView = { 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * Its number in the phrase, counted from 1.
 */
number: number, 
/**
 * Ticks from the first beat of the range.
 */
at_ticks: number, 
/**
 * The beat as the score writes it.
 */
beat: string, 
/**
 * Who attacks or acts.
 */
who: string, 
/**
 * What they do, with target and side: `thrust belly`, `cut flank right`.
 */
action: string, 
/**
 * Whom it goes to.
 */
to: string | null, 
/**
 * How they answer: `parry 4`.
 */
reply: string | null, 
/**
 * The sounds it makes.
 */
sounds: Array<string>, 
/**
 * The director's words.
 */
text: string | null, 
/**
 * The number of its picture among those of the run; nothing where it has none.
 */
picture: number | null, };

export type Part = "act" | "answer" | "watch";

export type CueMove = { 
/**
 * What you do in it.
 */
part: Part, 
/**
 * The move.
 */
move: MoveView, };

export type Cue = { 
/**
 * The run.
 */
run: number, 
/**
 * The generation: dead when it is not the one that lives.
 */
generation: number, 
/**
 * The number of the cue in its run, from 0; the first beat of a count-in is 0.
 */
cue: number, 
/**
 * The number of the step that it comes with, from 1, in a walk-through: it only grows, also when the step went back
 * to an earlier cue. Of two cues without a time the one with the higher number is the newer.
 */
step: number | null, 
/**
 * When it is due, server time; nothing in a walk-through, where a cue is due on arrival.
 */
due_us: number | null, 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * Its name.
 */
phrase_name: string, 
/**
 * The beat as the score writes it.
 */
beat: string, 
/**
 * The bar, counted from 1 in each phrase; 0 in a count-in.
 */
bar: number, 
/**
 * The beat of the bar, counted from 1.
 */
count: number, 
/**
 * Beats of count-in left, this one included; nothing once the fight runs.
 */
count_in: number | null, 
/**
 * What the click does.
 */
click: Click, 
/**
 * What happens now.
 */
moves: Array<CueMove>, 
/**
 * The walks that begin now: the reader's own; everybody's for those who see all.
 */
walks: Array<CueWalk>, 
/**
 * What happens next to this reader (to anybody, for those who see all).
 */
next: Array<CueMove>, 
/**
 * Beats from here to `next`.
 */
next_in_beats: number | null, 
/**
 * The walks that this reader begins next, all that begin together; to those who see all none.
 */
next_walks: Array<CueWalk>, 
/**
 * Beats from here to `next_walks`.
 */
next_walk_in_beats: number | null, };

export type Click = "accent" | "beat" | "none";

export type Role = "desk" | "captain" | "performer" | "sound" | "director" | "observer";

export type Way = "on" | "back";

export type ScoreList = { 
/**
 * In order of file name.
 */
scores: Array<ScoreChoice>, 
/**
 * True when whoever asks may save.
 */
may_write: boolean, 
/**
 * The vocabulary.
 */
words: ScoreWords, 
/**
 * The file of the stage's plan, where there is one: it is opened, checked and saved as a score is.
 */
stage: string | null, };

export type ScoreChoice = { 
/**
 * Its file: `scores/quay.fight`.
 */
file: string, 
/**
 * The fight's name.
 */
fight: string, 
/**
 * SHA-256 of the file.
 */
revision: string, };

export type ScoreWords = { 
/**
 * What the attacking half of a move can be.
 */
actions: Array<ActionWord>, 
/**
 * Where an action can go.
 */
targets: Array<TargetWord>, 
/**
 * How an action can be answered.
 */
replies: Array<ReplyWord>, 
/**
 * Numbers and names of parries.
 */
parries: Array<string>, 
/**
 * What a fighter can hold.
 */
weapons: Array<string>, 
/**
 * What can be heard, the company's own recordings among them.
 */
sounds: Array<string>, 
/**
 * How a fight is written, and every word, as a text to read.
 */
reference: string, };

export type ActionWord = { 
/**
 * The word.
 */
word: string, 
/**
 * The targets it may take.
 */
targets: Array<string>, };

export type TargetWord = { 
/**
 * The word.
 */
word: string, 
/**
 * Whether it has a left and a right.
 */
sided: boolean, };

export type ReplyWord = { 
/**
 * The word.
 */
word: string, 
/**
 * What is written after it.
 */
argument: ReplyNeeds, 
/**
 * The actions it answers; nothing for every one.
 */
actions: Array<string> | null, 
/**
 * The targets it answers; nothing for every one.
 */
targets: Array<string> | null, };

export type ReplyNeeds = "nothing" | "parry" | "target";

export type ScoreAsked = { 
/**
 * Its file.
 */
file: string, };

export type ScoreText = { 
/**
 * Its file.
 */
file: string, 
/**
 * The fight's name.
 */
fight: string, 
/**
 * SHA-256 of the text.
 */
revision: string, 
/**
 * The text.
 */
text: string, };

export type ScoreNews = { 
/**
 * The others.
 */
others: Array<ScoreReader>, 
/**
 * SHA-256 of the file as it is now.
 */
revision: string, 
/**
 * What the checks go by, as a name: with another one, words, limits, stage or fights are others than before.
 */
judged_by: string, };

export type ScoreReader = { 
/**
 * Their name.
 */
name: string, 
/**
 * Their role.
 */
role: Role, };

export type Draft = { 
/**
 * The file it is a draft of.
 */
file: string, 
/**
 * The text.
 */
text: string, };

export type NewAsked = { 
/**
 * What it is called.
 */
fight: string, };

export type CompareAsked = { 
/**
 * The older one.
 */
older: string, 
/**
 * The newer one.
 */
newer: string, };

export type Compared = { 
/**
 * In order of the texts.
 */
rows: Array<ComparedRow>, };

export type ComparedRow = { 
/**
 * A line of the older text; nothing where the newer one has one more.
 */
older: ComparedLine | null, 
/**
 * A line of the newer text.
 */
newer: ComparedLine | null, };

export type ComparedLine = { 
/**
 * Its number, from 1.
 */
line: number, 
/**
 * The line, without its end.
 */
text: string, };

export type DraftReport = { 
/**
 * What is wrong, in order of the text; of very many the first.
 */
findings: Array<FindingView>, 
/**
 * How many more there are.
 */
left_out: number, 
/**
 * The phrases; empty when the text has errors of reading.
 */
phrases: Array<DraftPhrase>, 
/**
 * False when the text has errors of reading: as it is, nobody can run it.
 */
runs: boolean, 
/**
 * What the checks have not looked at, and what their tempos are worth: it stands beside whatever they say.
 */
unchecked: string, };

export type FindingView = { 
/**
 * Its code, such as `A301`.
 */
code: string, 
/**
 * How much it matters.
 */
severity: FindingSeverity, 
/**
 * The line.
 */
line: number, 
/**
 * The column, in characters.
 */
column: number, 
/**
 * The line of the end.
 */
end_line: number, 
/**
 * The column after the last character.
 */
end_column: number, 
/**
 * What is wrong.
 */
message: string, 
/**
 * What should stand there.
 */
expected: string | null, 
/**
 * What to do.
 */
help: string | null, };

export type FindingSeverity = "error" | "warning" | "advice";

export type DraftPhrase = { 
/**
 * Its name.
 */
name: string, 
/**
 * Its head line.
 */
line: number, 
/**
 * How fast it can safely go; nothing when nobody in it has two things to do one after the other.
 */
safe: SafeTempo | null, 
/**
 * The same with each set of weapons with which it is another tempo.
 */
with_sets: Array<SafeWithSet>, };

export type SafeTempo = { 
/**
 * Beats a minute at the move that limits it.
 */
bpm: number, 
/**
 * Percent of performance tempo, rounded down.
 */
percent: number, 
/**
 * The line of the move that limits it.
 */
line: number, 
/**
 * That move in words.
 */
words: string, };

export type SafeWithSet = { 
/**
 * The set's name.
 */
weapons: string, 
/**
 * How fast; nothing when nothing limits it.
 */
safe: SafeTempo | null, };

export type Formatted = { 
/**
 * The text; as it was when a line of it cannot be understood.
 */
text: string, 
/**
 * How many lines could not be understood. Mend them and ask again.
 */
broken: number, };

export type PreviewAsked = { 
/**
 * The file it is a draft of.
 */
file: string, 
/**
 * The text.
 */
text: string, 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * Percent of performance tempo, 10 to 150.
 */
percent: number, };

export type Preview = { 
/**
 * Its name.
 */
name: string, 
/**
 * In order of time.
 */
moments: Array<PreviewMoment>, 
/**
 * When it is over, seconds after its first beat.
 */
seconds: number, };

export type PreviewMoment = { 
/**
 * Seconds after the phrase's first beat; negative in the count-in.
 */
seconds: number, 
/**
 * The beat as the score writes it.
 */
beat: string, 
/**
 * The click.
 */
click: Click, 
/**
 * Beats of count-in left.
 */
count_in: number | null, 
/**
 * The lines of the text that begin here.
 */
lines: Array<number>, 
/**
 * What happens, in words, a line each.
 */
words: Array<string>, };

export type SaveAsked = { 
/**
 * The file.
 */
file: string, 
/**
 * The whole text that the draft was begun from. By it the server sees what the draft changes.
 */
base: string, 
/**
 * The draft.
 */
text: string, 
/**
 * Why, in the saver's words.
 */
why: string, };

export type SaveAnswer = { "outcome": "saved" } & SavedScore | { "outcome": "merged" } & SavedScore | { "outcome": "unchanged" } & SavedScore | { "outcome": "conflict" } & SaveConflict;

export type SavedScore = { 
/**
 * SHA-256 of the text.
 */
revision: string, 
/**
 * The text.
 */
text: string, 
/**
 * True when the log has it too.
 */
written: boolean, };

export type SaveConflict = { 
/**
 * SHA-256 of the score as it is in the folder.
 */
revision: string, 
/**
 * The score as it is in the folder: the base of whatever is saved next.
 */
theirs: string, 
/**
 * Who saved it last, if it was saved here.
 */
by: RevisionView | null, 
/**
 * The whole text in pieces, in order: agreed ones, and ones to be settled.
 */
pieces: Array<MergePiece>, };

export type MergePiece = { "piece": "agreed", 
/**
 * The lines.
 */
text: string, } | { "piece": "both", 
/**
 * What it was.
 */
base: string, 
/**
 * What the draft makes of it.
 */
mine: string, 
/**
 * What the score says now.
 */
theirs: string, };

export type RevisionAsked = { 
/**
 * The file.
 */
file: string, 
/**
 * SHA-256 of the text.
 */
revision: string, };

export type Revisions = { 
/**
 * Newest first.
 */
revisions: Array<RevisionView>, };

export type RevisionView = { 
/**
 * SHA-256 of the text.
 */
revision: string, 
/**
 * When, RFC 3339.
 */
utc: string, 
/**
 * Who saved it; nothing when it was not saved here.
 */
who: string | null, 
/**
 * Their role.
 */
role: Role | null, 
/**
 * Why, in their words.
 */
why: string | null, 
/**
 * How it came to be.
 */
how: RevisionKind, 
/**
 * True when it is the score now.
 */
in_use: boolean, };

export type RevisionKind = "saved" | "merged" | "kept" | "found";

export type NotDone = { 
/**
 * A sentence for a person.
 */
reason: string, };

export type SoundAsk = { "what": "watch", 
/**
 * Send or not.
 */
on: boolean, } | { "what": "cues", 
/**
 * The fight's name.
 */
fight: string, 
/**
 * Percent of performance tempo, 10 to 150.
 */
percent: number, } | { "what": "devices", } | { "what": "test", 
/**
 * Its name.
 */
sound: string, 
/**
 * The level of the cue, dB.
 */
level_db: number, 
/**
 * Also while a run is going.
 */
during_run: boolean, } | { "what": "loop", 
/**
 * The fight's name.
 */
fight: string, 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * Percent of performance tempo, 10 to 150.
 */
percent: number, } | { "what": "end-loop", } | { "what": "trim", 
/**
 * Its name.
 */
sound: string, 
/**
 * Later, or, negative, earlier, microseconds; half a second at the most.
 */
trim_us: number, 
/**
 * Louder or softer, dB, -60 to 12.
 */
gain_db: number, } | { "what": "choose", 
/**
 * The device's name; nothing is the machine's own choice.
 */
device: string | null, 
/**
 * Samples per second; nothing is what the device prefers.
 */
rate: number | null, 
/**
 * Samples mixed at a time; nothing is the usual.
 */
buffer_frames: number | null, } | { "what": "mute", 
/**
 * Mute or not.
 */
on: boolean, } | { "what": "switch", 
/**
 * Which.
 */
lane: SoundLane, 
/**
 * On or off.
 */
on: boolean, };

export type SoundTold = { "what": "now" } & SoundNow | { "what": "sounds", 
/**
 * In order of name.
 */
sounds: Array<SoundView>, 
/**
 * What is wrong with recordings and with what is kept, a sentence each.
 */
troubles: Array<string>, } | { "what": "scores" } | { "what": "cues" } & SoundCues | { "what": "devices", 
/**
 * Their names.
 */
devices: Array<string>, 
/**
 * The one that was chosen; nothing is the machine's own choice.
 */
chosen: string | null, };

export type SoundView = { 
/**
 * Its name in scores.
 */
sound: string, 
/**
 * How many takes it has.
 */
takes: number, 
/**
 * True for the company's own recordings.
 */
recorded: boolean, 
/**
 * Later, or, negative, earlier, microseconds.
 */
trim_us: number, 
/**
 * How long after its first sample it is heard as "now", microseconds: so much before its time it is begun. Nothing
 * until it has been measured.
 */
attack_us: number | null, 
/**
 * Louder or softer, dB.
 */
gain_db: number, 
/**
 * The group in which a new sound cuts off the one before.
 */
choke: number | null, 
/**
 * Who chose it.
 */
who: string | null, 
/**
 * When, UTC, as RFC 3339 writes it.
 */
when: string | null, };

export type SoundNow = { 
/**
 * Server time.
 */
now_us: number, 
/**
 * Who muted everything, while it is muted.
 */
muted_by: string | null, 
/**
 * What is switched off.
 */
off: Array<SoundLane>, 
/**
 * False while the sounds are still being computed: until then only the click is heard.
 */
prepared: boolean, 
/**
 * The phrase that goes round.
 */
looping: LoopView | null, 
/**
 * The loudspeakers.
 */
speakers: SpeakersView, 
/**
 * MIDI.
 */
midi: OutputView, 
/**
 * OSC.
 */
osc: OutputView, 
/**
 * What went out in the last seconds, newest first.
 */
sent: Array<SentView>, };

export type LoopView = { 
/**
 * The fight.
 */
fight: string, 
/**
 * The phrase, counted from 0.
 */
phrase: number, 
/**
 * Percent of performance tempo.
 */
percent: number, 
/**
 * Server time of its first beat, the first time round.
 */
start_us: number, 
/**
 * How long a round is.
 */
length_us: number, 
/**
 * Who let it go round.
 */
by: string, };

export type SpeakersView = { 
/**
 * True when everything is as it was asked for.
 */
well: boolean, 
/**
 * A sentence.
 */
says: string, 
/**
 * The device's name; empty while there is none.
 */
device: string, 
/**
 * Samples per second.
 */
rate: number, 
/**
 * Samples mixed at a time; 0 when the device chooses.
 */
buffer: number, 
/**
 * What the device says of its own delay, microseconds.
 */
device_us: number, 
/**
 * What was measured besides: amplifier, radio, processor.
 */
calibrated_us: number, 
/**
 * Through the air.
 */
air_us: number, 
/**
 * All of it: sounds are sent early by so much.
 */
whole_us: number, 
/**
 * What is left: how much later than their times the last sounds were heard, the median; nothing before the first.
 */
left_us: number | null, 
/**
 * What a viewer makes of that (ITU-R BT.1359-1).
 */
judgement: JudgementView, 
/**
 * Sounds that were heard.
 */
sounded: number, 
/**
 * Sounds that came too late and were dropped.
 */
late: number, 
/**
 * Sounds that died with a hold.
 */
silenced: number, 
/**
 * Sounds for which there was no room.
 */
dropped: number, 
/**
 * Gaps: times the device ran dry.
 */
underruns: number, 
/**
 * The largest sample since the last message.
 */
peak_db: number, 
/**
 * The root mean square since the last message.
 */
rms_db: number, };

export type JudgementView = "in-time" | "early" | "late";

export type OutputView = { 
/**
 * True when it is as it was asked for, or off on purpose.
 */
well: boolean, 
/**
 * A sentence.
 */
says: string, 
/**
 * Messages that went out.
 */
sent: number, 
/**
 * Messages that went out noticeably late.
 */
late: number, 
/**
 * Messages for which there was nobody to take them, or no time.
 */
lost: number, };

export type SentView = { 
/**
 * To where.
 */
output: SoundOutput, 
/**
 * What: the sound's name, or the kind of message.
 */
label: string, 
/**
 * When it was due, server time.
 */
due_us: number, 
/**
 * How much later it went out, or was heard, microseconds.
 */
late_us: number, 
/**
 * False when nobody could hear it: there was no device, or everything was muted.
 */
audible: boolean, };

export type SoundOutput = "speakers" | "midi" | "osc";

export type SoundLane = "click" | "effects" | "midi" | "timecode" | "osc";

export type SoundCues = { 
/**
 * The fight.
 */
fight: string, 
/**
 * The score's revision: the first 12 hexadecimal digits of the SHA-256 of its text.
 */
revision: string, 
/**
 * Percent of performance tempo.
 */
percent: number, 
/**
 * Its phrases.
 */
phrases: Array<SoundPhrase>, 
/**
 * Cues that are left out, when there are more than can be shown.
 */
left_out: number, };

export type SoundPhrase = { 
/**
 * Its name.
 */
name: string, 
/**
 * How long it is.
 */
length_us: number, 
/**
 * The times of its beats, from its first.
 */
beats_us: number[], 
/**
 * Its cues, in order.
 */
cues: Array<SoundCueView>, };

export type SoundCueView = { 
/**
 * The sound's name.
 */
sound: string, 
/**
 * When, from the first beat of the phrase, with the score's trim and without the production's.
 */
at_us: number, 
/**
 * How much later than its beat the score wants it.
 */
score_trim_us: number, 
/**
 * Louder or softer, dB, as the score has it.
 */
level_db: number, 
/**
 * The beat as the score writes it.
 */
beat: string, 
/**
 * The number of the move that makes it, in its phrase, counted from 1; nothing for a sound on a line of its own.
 */
move: number | null, 
/**
 * That move in words, or the director's words on a sound's own line.
 */
words: string | null, 
/**
 * False when the production has no such sound: then nothing is heard.
 */
known: boolean, };

export type ReviewAsked = { 
/**
 * From this day on: `2026-03-01`.
 */
since: string | null, 
/**
 * Up to this day.
 */
until: string | null, 
/**
 * This fight only: its name, or a beginning that no other has.
 */
fight: string | null, 
/**
 * This phrase only: the same way.
 */
phrase: string | null, 
/**
 * Runs with this set of weapons only: the same way.
 */
weapons: string | null, };

export type ReviewPage = { 
/**
 * The review, the same markup as in `holdfast report --format html`; its closed folds (`data-part`) are empty.
 */
markup: string, 
/**
 * What was asked for, with the names that were meant.
 */
filter: ReviewAsked, 
/**
 * Every fight that was run.
 */
choices: Array<ReviewChoice>, 
/**
 * The sets of weapons that runs were done with, where there are any.
 */
weapons: Array<string>, 
/**
 * How many rows the journal had; the same number is the same review.
 */
rows: number, };

export type ReviewChoice = { 
/**
 * Its name.
 */
fight: string, 
/**
 * Its phrases.
 */
phrases: Array<string>, };

export type ReviewOrder = { 
/**
 * How it is made, in words.
 */
rule: string, 
/**
 * What to do, what matters most first.
 */
rows: Array<ReviewProposed>, 
/**
 * How long all of it takes, minutes.
 */
minutes: number, };

export type ReviewProposed = { 
/**
 * The fight.
 */
fight: string, 
/**
 * The first phrase.
 */
first: string, 
/**
 * The last phrase.
 */
last: string, 
/**
 * Percent of performance tempo.
 */
percent: number, 
/**
 * How long, minutes.
 */
minutes: number, 
/**
 * With whom: `Bea as MARET`.
 */
with: Array<string>, 
/**
 * Why, in a sentence.
 */
why: string, };

export type ReviewPartAsked = { 
/**
 * Of which review.
 */
filter: ReviewAsked, 
/**
 * The fold's `data-part`.
 */
part: string, };

export type ReviewEventAsked = { 
/**
 * The number of its event in the journal.
 */
event: number, };

export type ReviewPiece = { 
/**
 * The markup.
 */
markup: string, };

export type ReviewFileAsked = { 
/**
 * Of which review.
 */
filter: ReviewAsked, 
/**
 * Which file.
 */
file: ReviewFile, };

export type ReviewFile = "html" | "json" | "phrases" | "moves" | "breaks" | "runs" | "calls";
