import { mkdirSync, writeFileSync } from 'node:fs';
import { basename, relative } from 'node:path';
import { emptySession, formatSession, type Session } from '../../../core/session/schema.ts';
import { writeWave } from '../media/clip-kit.ts';

export interface KitVoice {
  readonly name: string;
  readonly clip: string;
  readonly offsetSec: number;
  readonly driftPpm?: number;
}

export interface KitSession {
  readonly voices: readonly KitVoice[];
  readonly mix: readonly Float32Array[];
  readonly music: { readonly fromSec: number; readonly toSec: number } | null;
  readonly ceilingDbtp?: number;
}

/** Makes a session's folder as a mix leaves it: session.json, mix.wav, report.json. */
export function makeSession(folder: string, kit: KitSession): Session {
  mkdirSync(folder, { recursive: true });
  const empty = emptySession('A piece');
  const session: Session = {
    ...empty,
    mix: { ...empty.mix, ceilingDbtp: kit.ceilingDbtp ?? -1 },
    voices: kit.voices.map(({ name }, index) => ({
      id: `v${index}`,
      name,
      role: 'inner',
      colour: index % 8,
      trimDb: 0,
      placeDeg: null,
      muted: false,
      chosenTakeId: `t${index}`,
      passages: null,
    })),
    takes: kit.voices.map(({ clip, offsetSec, driftPpm = 0 }, index) => ({
      id: `t${index}`,
      name: basename(clip),
      voiceId: `v${index}`,
      clip: { path: relative(folder, clip), sizeBytes: 1, fingerprint: '0'.repeat(64) },
      silence: null,
      clean: { on: false, character: 'even', rule: 'lsa', fine: null },
      mark: 'none',
      remark: '',
      part: null,
      mend: null,
      placement: {
        offsetSec,
        driftPpm,
        uncertaintySec: 0.001,
        driftUncertaintyPpm: 1,
        confidence: 1,
        question: null,
        by: 'user',
        evidence: [],
      },
    })),
  };
  writeFileSync(`${folder}/session.json`, formatSession(session));
  writeWave(`${folder}/mix.wav`, kit.mix, 48000);
  const mix = { music: kit.music, ceilingDbtp: kit.ceilingDbtp ?? -1, targetLufs: -14 };
  writeFileSync(`${folder}/report.json`, JSON.stringify({ format: 'partsong-report', takes: [], mix }));
  return session;
}
