import { usePlayback } from './playback-state.ts';

/** Waiting for sound is only told when it lasts. */
const TELL_STARVED_MS = 200;
const POSITION_MS = 100;

/** Tells the page while it plays where it is, and whether it waits for sound. */
export class Telling {
  readonly #positionFrame: () => number;
  #starvedTimer: ReturnType<typeof setTimeout> | undefined;
  #positionTimer: ReturnType<typeof setInterval> | undefined;

  /** positionFrame: session frame at the ear. */
  constructor(positionFrame: () => number) {
    this.#positionFrame = positionFrame;
  }

  begin(): void {
    this.#positionTimer ??= setInterval(() => {
      const positionFrame = Math.round(this.#positionFrame());
      if (positionFrame !== usePlayback.getState().positionFrame) usePlayback.setState({ positionFrame });
    }, POSITION_MS);
  }

  end(): void {
    clearInterval(this.#positionTimer);
    this.#positionTimer = undefined;
    this.starved(false);
  }

  starved(starved: boolean): void {
    clearTimeout(this.#starvedTimer);
    if (!starved) usePlayback.setState({ starved: false });
    else this.#starvedTimer = setTimeout(() => usePlayback.setState({ starved: true }), TELL_STARVED_MS);
  }
}
