// Where a part comes from: the server, or the file that it is read from at home.
import type { Store } from '../core/platform';
import type { VNode } from 'preact';
import type { Lesson, PartSheet, SoundClip } from '../core/wire';

/** Where it comes from. */
export interface Source {
  /** A fight to learn, with the names of all: the one of that name, or the first. Throws a sentence for a person. */
  read(fight: string | null, part: string | null): Promise<PartSheet>;
  /** Its sounds. Throws a sentence for a person. */
  clips(fight: string): Promise<readonly SoundClip[]>;
  /** A file of the part, or of the whole cast, to take home; nothing where it is at home already. */
  takeHome: ((part: string | null) => Promise<void>) | null;
  /** The fight on the plan of the stage, to be gone through; nothing where it cannot be asked for. */
  onThePlan: ((lesson: Lesson, part: string | null) => VNode | null) | null;
  /** Where this device remembers what was not known, and how somebody practises. */
  store: Store;
  /** Calls `stop` whenever whoever plays to themselves has to hear what happens: a call, a hold, a lost link. */
  interrupts(stop: () => void): () => void;
}
