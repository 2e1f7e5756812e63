import { mkdirSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { guideFileText } from '../app/desk/guide-file.ts';
import { encode, findEncoder } from './encode.ts';
import { makeGuide } from './guide.ts';
import { sampleGuideFile } from './guide-file.ts';
import { toInt16 } from './phone.ts';
import { drawPicture, loudnessPerPicture, type PicturePlan } from './picture.ts';
import { PLANS } from './plans.ts';
import { recordTake, type TakePlan } from './take.ts';
import { sessionTruth, type TakeTruth, takeTruth } from './truth.ts';

/** Vermilion and blue of the Okabe-Ito palette. */
const PICTURES: Record<string, PicturePlan> = {
  '2 Tenor recorder.mov': {
    width: 320,
    height: 180,
    ratePerSec: 25,
    rotationDegrees: 90,
    skips: false,
    voiceColour: [213, 94, 0],
  },
  '4 Bass viol.mov': {
    width: 320,
    height: 180,
    ratePerSec: 30,
    rotationDegrees: 0,
    skips: true,
    voiceColour: [86, 180, 233],
  },
};

async function makeTake(
  ffmpeg: string,
  plan: TakePlan,
  guide: Float64Array,
  folder: string,
  scratch: string,
): Promise<TakeTruth> {
  const take = recordTake(plan, guide);
  const picturePlan = PICTURES[plan.file] ?? null;
  const truth = takeTruth(plan, take, picturePlan);
  const samples = plan.channels === 1 ? take.samples : doubled(take.samples);
  const { rateHz, channels, bitRateKbps } = plan;
  let pictures = null;
  if (picturePlan) {
    const count = Math.floor(take.clipSec * picturePlan.ratePerSec);
    const loudness = loudnessPerPicture(take.clean, rateHz, picturePlan, count);
    const draw = (n: number, target: Uint8Array): void =>
      drawPicture(picturePlan, n, loudness[n]!, truth.clapSec, target);
    pictures = { plan: picturePlan, count, draw };
  }
  await encode(ffmpeg, { samples, rateHz, channels, bitRateKbps }, pictures, join(folder, truth.file), scratch);
  return truth;
}

/** Both channels alike. */
function doubled(samples: Int16Array): Int16Array {
  return Int16Array.from({ length: 2 * samples.length }, (_, i) => samples[i >> 1]!);
}

/** Makes the whole session in `folder`: takes, guide and truth.json. */
async function makeSample(folder: string): Promise<void> {
  const ffmpeg = findEncoder();
  const scratch = mkdtempSync(join(tmpdir(), 'partsong-sample-'));
  try {
    mkdirSync(join(folder, 'takes'), { recursive: true });
    const guide = makeGuide();
    const takes: TakeTruth[] = [];
    for (const plan of PLANS) takes.push(await makeTake(ffmpeg, plan, guide, folder, scratch));
    const truth = sessionTruth(takes);
    const { samples } = toInt16(guide, 1);
    const sound = { samples, rateHz: 48000, channels: 1, bitRateKbps: 64 };
    await encode(ffmpeg, sound, null, join(folder, truth.guide.file), scratch);
    const beside = truth.guide.file.replace(/\.\w+$/, '.guide.json');
    writeFileSync(join(folder, beside), guideFileText(sampleGuideFile()));
    writeFileSync(join(folder, 'truth.json'), `${JSON.stringify(truth, null, 1)}\n`);
    for (const file of [...takes.map((take) => take.file), truth.guide.file, beside, 'truth.json']) {
      console.log(`${(statSync(join(folder, file)).size / 1024).toFixed(0).padStart(6)} KiB  ${file}`);
    }
  } finally {
    rmSync(scratch, { recursive: true, force: true });
  }
}

await makeSample(resolve(process.argv[2] ?? 'samples/evening-canon'));
