import { describe, expect, it } from 'vitest';
import type { CheckFinding, SoundCheck } from '../../../../core/guide/sound-check.ts';
import { headroomDb, levelsInWords, sinceBefore } from '../../../../renderer/steps/sound-check/check-words.ts';

const finding = (code: CheckFinding['code'], weight: CheckFinding['weight']): CheckFinding => ({
  code,
  weight,
  what: '',
  change: '',
});

function check(figures: Partial<SoundCheck['figures']>, findings: readonly CheckFinding[] = []): SoundCheck {
  return {
    verdict: '',
    ready: findings.length === 0,
    findings,
    figures: {
      peakDbfs: -9.5,
      loudestDbfs: -18,
      musicDbfs: -23,
      noiseDbfs: -52,
      snrDb: 29,
      humHz: null,
      echoSec: null,
      bleedDbfs: null,
      silenceSec: 4,
      clapSec: 5,
      ...figures,
    },
  };
}

describe('words of the sound check', () => {
  it('tell what became better since the trial before, and nothing below 1 dB', () => {
    const before = check({ noiseDbfs: -40 }, [finding('noisy', 'mend'), finding('noClap', 'mend')]);
    const now = check({ noiseDbfs: -52, musicDbfs: -23.4 }, [finding('noClap', 'mend'), finding('hum', 'know')]);
    expect(sinceBefore(now, before)).toBe('noise −12 dB, one thing mended');
    expect(sinceBefore(now, null)).toBe('');
  });

  it('say levels in a sentence, and headroom as what is left to full scale', () => {
    expect(headroomDb(check({}))).toBe(9.5);
    expect(headroomDb(check({ peakDbfs: null }))).toBeNull();
    expect(levelsInWords(check({}))).toBe(
      'The noise of the room at −52.0 dBFS, the music at −23.0 dBFS, its loudest passage at −18.0 dBFS, ' +
        'the highest peak at −9.5 dBFS, 9.5 dB below full scale.',
    );
    expect(levelsInWords(check({ peakDbfs: 0.7 }))).toContain('peak at +0.7 dBFS, 0.7 dB above full scale.');
    const silent = check({ peakDbfs: null, loudestDbfs: null, musicDbfs: null, noiseDbfs: null });
    expect(levelsInWords(silent)).toBe('No levels could be measured.');
  });
});
