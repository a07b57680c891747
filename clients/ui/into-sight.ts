// What comes after it was asked for is brought into sight, over HOLD's bar and not behind it.

/** For the element that comes last into what is asked (`Asked`): all of that is shown, or its beginning where it is longer. */
export function intoSight(element: Element | null): void {
  element?.closest('.asked')?.scrollIntoView({ block: 'nearest' });
}
