// Keeping the screen lit during a call, where the browser allows it (only over a trusted link, and not everywhere).

/** Asks for a lit screen, and asks again whenever the page is shown: a hidden page loses it. Tells whether it is had. */
export function stayAwake(told: (awake: boolean) => void): void {
  const ask = async (): Promise<void> => {
    if (document.visibilityState !== 'visible') return;
    try {
      await navigator.wakeLock.request('screen');
      told(true);
    } catch {
      told(false);
    }
  };
  if (!('wakeLock' in navigator)) {
    told(false);
    return;
  }
  document.addEventListener('visibilitychange', () => void ask());
  void ask();
}
