// The caret of the editor, and that its line is in sight: where it is typed, where it is sent, and where the fight is
// that is being heard.
import type { RefObject } from 'preact';
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { lineAt, ROW, startOf } from './place';
import type { Studio } from './studio';

/** So many lines stay in sight at and under the caret: room for what is said of its line. */
const UNDER = 4;

/** A line that the caret is to go to, counted from 1; `again` is another number each time. */
export interface GoTo {
  line: number;
  again: number;
}

/** The text field, the caret in it and its line, counted from 0. */
export interface Caret {
  field: RefObject<HTMLTextAreaElement | null>;
  line: number;
  set(at: number): void;
}

/** The caret in a text. */
export function useCaret(studio: Studio, text: string, goTo: GoTo | null, moved: (line: number) => void): Caret {
  const field = useRef<HTMLTextAreaElement>(null);
  const [at, set] = useState(0);
  const line = lineAt(text, at);

  useEffect(() => {
    moved(line + 1);
    if (field.current !== null && document.activeElement === field.current) reveal(field.current, line);
  }, [line]);
  useLayoutEffect(() => {
    const area = field.current;
    const wanted = studio.caret.value;
    if (area === null || wanted === null) return;
    studio.caret.value = null;
    area.setSelectionRange(wanted.at, wanted.at);
    set(wanted.at);
    reveal(area, lineAt(area.value, wanted.at));
  }, [studio.caret.value]);
  useEffect(() => {
    const area = field.current;
    if (area === null || goTo === null) return;
    const start = startOf(area.value, goTo.line - 1);
    area.focus();
    area.setSelectionRange(start, start);
    set(start);
    reveal(area, goTo.line - 1);
  }, [goTo]);
  return { field, line, set };
}

/** Keeps the line in sight at which the fight is that is being heard, counted from 1. */
export function useInSight({ field }: Caret, line: number | undefined): void {
  useEffect(() => {
    if (field.current !== null && line !== undefined) reveal(field.current, line - 1);
  }, [line]);
}

// The text field is as tall as its text; what scrolls is around it.
function reveal(area: HTMLTextAreaElement, line: number): void {
  const around = area.closest('.editor');
  if (around === null) return;
  const top = line * ROW;
  const most = top + UNDER * ROW - around.clientHeight;
  if (top < around.scrollTop) around.scrollTop = top;
  else if (most > around.scrollTop) around.scrollTop = most;
}

/** True where there is little room under a line: what is said of it stands above it then. */
export function isLow(area: HTMLTextAreaElement | null, line: number): boolean {
  const around = area?.closest('.editor') ?? null;
  return around !== null && line * ROW - around.scrollTop > around.clientHeight / 2;
}
