import type { GuideChoice } from '../../app/shell/contract/guide-choice.ts';
import type { MadeGuideView, ScoreView, TrialView } from '../../app/shell/contract/guide-view.ts';
import { planGuide, usualGuide } from '../../core/guide/guide-plan.ts';
import { plainScore } from '../../core/guide/plain-score.ts';
import type { CheckFinding, SoundCheck } from '../../core/guide/sound-check.ts';
import { type KeptPlan, keptPlan } from '../../core/session/kept-plan.ts';

const piece = (bars: number) => plainScore({ title: 'Evening canon', quartersPerMinute: 84, beats: 3, unit: 4, bars });
const settings = { ...usualGuide, cue: 'both', restingBars: [] } as const;

/** The plan of a guide of so many bars of 3/4. */
export function inventedPlan(bars: number): KeptPlan {
  return keptPlan(planGuide(piece(bars), settings), ['Soprano recorder', 'Alto recorder'])!;
}

/** A score as the desk would have read it. */
export function inventedScore(file: string): ScoreView {
  const part = (name: string, sound: 'blown' | 'bowed', lowestKey: number) => ({
    name,
    sound,
    noteCount: 68,
    lowestKey,
    highestKey: lowestKey + 14,
  });
  return {
    file,
    score: {
      ...piece(24),
      parts: [
        part('Soprano recorder', 'blown', 74),
        part('Alto recorder', 'blown', 65),
        part('Tenor viol', 'bowed', 53),
        part('Bass viol', 'bowed', 43),
      ],
      notes: ['The grace notes in bar 9 take a quarter of the note they lead to.'],
    },
  };
}

const choice: GuideChoice = {
  score: null,
  title: 'Evening canon',
  quartersPerMinute: 84,
  metre: { beats: 3, unit: 4 },
  bars: 24,
  settings: { ...settings, restingBars: [] },
  temperament: 'equal',
  tonic: 0,
  clickDb: 0,
  drone: false,
  versions: 'each',
  ownDb: 6,
  withTakes: false,
  formats: ['wav', 'm4a'],
};

/** A guide as the desk would have made it. */
export function inventedGuide(): MadeGuideView {
  const folder = '/home/player/Partsong/evening-canon/guide/1';
  const voices = [null, 'Soprano recorder', 'Alto recorder', 'Tenor viol', 'Bass viol'];
  return {
    folder,
    title: 'Evening canon',
    files: [
      ...voices.flatMap((voice) =>
        ['wav', 'm4a'].map((form) => ({
          path: `${folder}/evening-canon-guide${voice === null ? '' : `-${voice}`}.${form}`,
          what: 'sound' as const,
          voice,
          sizeBytes: form === 'wav' ? 12_000_000 : 1_400_000,
        })),
      ),
      { path: `${folder}/recording-plan.html`, what: 'plan', voice: null, sizeBytes: 6000 },
    ],
    lengthSec: 78,
    bars: 24,
    notes: [],
    choice,
    inUse: true,
  };
}

function check(
  verdict: string,
  findings: readonly CheckFinding[],
  figures: Partial<SoundCheck['figures']>,
): SoundCheck {
  return {
    verdict,
    ready: findings.every(({ weight }) => weight === 'know'),
    findings,
    figures: {
      peakDbfs: -8.2,
      loudestDbfs: -16.4,
      musicDbfs: -21.7,
      noiseDbfs: -58.1,
      snrDb: 36,
      humHz: null,
      echoSec: 0.4,
      bleedDbfs: -61,
      silenceSec: 4.6,
      clapSec: 14.3,
      ...figures,
    },
  };
}

const hum: CheckFinding = {
  code: 'hum',
  weight: 'know',
  what: 'There is mains hum at 50.0 Hz, −62.4 dBFS.',
  change: 'Move away from chargers, lamps and amplifiers, or record on battery; Partsong takes the rest out.',
};

/** Three trials that become better. */
export function inventedTrials(): TrialView[] {
  const trial = (n: number, judged: SoundCheck): TrialView => ({
    id: `trial-${n}`,
    name: `IMG_41${n}0`,
    file: `/home/player/IMG_41${n}0.mov`,
    takeId: null,
    state: 'checked',
    fault: null,
    check: judged,
    lengthSec: 31 + n,
    guideFound: true,
    notes: [],
  });
  const noisy: CheckFinding = {
    code: 'noisy',
    weight: 'mend',
    what: 'The music stands only 18 dB above the noise of the room.',
    change: 'Bring the phone nearer, close windows, and switch off fans and machines.',
  };
  const clipped: CheckFinding = {
    code: 'clipped',
    weight: 'again',
    what: 'The recorder cut off the tops of waves (212 samples): it crackles.',
    change: 'Move the phone further away or turn it aside; where the camera app has a level, lower it.',
  };
  return [
    trial(3, check('Good: record your takes like this.', [hum], { humHz: 50 })),
    trial(
      2,
      check('Usable, and worth a change before you record the piece.', [noisy, hum], {
        noiseDbfs: -40.2,
        snrDb: 18,
        humHz: 50,
      }),
    ),
    trial(
      1,
      check('Not yet: change what stands first, then try once more.', [clipped, noisy, hum], {
        noiseDbfs: -40.2,
        peakDbfs: 0,
        loudestDbfs: -7.5,
        musicDbfs: -12.1,
        snrDb: 19,
        humHz: 50,
      }),
    ),
  ];
}
