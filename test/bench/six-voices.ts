import { writeMidi } from 'midi-file';
import { Random } from '../../core/signal/random.ts';

/** A Standard MIDI File of six voices of eighths, quarters and halves at 120 a minute, each with an instrument of another family. */
export function sixVoiceMidi(lengthSec: number): Uint8Array {
  const tracks = [73, 71, 48, 52, 24, 42].map((programNumber, channel) => {
    const random = new Random(40 + channel);
    const events: object[] = [{ deltaTime: 0, type: 'programChange', channel, programNumber }];
    for (let at = 0; at < 4 * lengthSec; ) {
      const eighths = [1, 2, 2, 4][Math.floor(4 * random.uniform())]!;
      const noteNumber = 76 - 6 * channel + [0, 2, 4, 5, 7, 9][Math.floor(6 * random.uniform())]!;
      events.push({ deltaTime: 0, type: 'noteOn', channel, noteNumber, velocity: 80 });
      events.push({ deltaTime: 120 * eighths, type: 'noteOff', channel, noteNumber, velocity: 0 });
      at += eighths;
    }
    events.push({ deltaTime: 0, meta: true, type: 'endOfTrack' });
    return events;
  });
  const midi = { header: { format: 1, numTracks: 6, ticksPerBeat: 240 }, tracks } as Parameters<typeof writeMidi>[0];
  return Uint8Array.from(writeMidi(midi));
}
