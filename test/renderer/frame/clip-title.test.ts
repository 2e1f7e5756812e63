import { describe, expect, it } from 'vitest';
import { isCatchAll, titleInCommon, titleOfFolder } from '../../../renderer/frame/clip-title.ts';

const titled = (...names: string[]): string | null => titleInCommon(names);

describe('the title that names of clips have in common', () => {
  it('is the words they share, wherever they stand, as the first writes them', () => {
    expect(titled('canon flute 1.mp4', 'canon viol.mp4')).toBe('Canon');
    expect(titled('01 Evening Canon - Soprano.mov', '02 evening canon - Alto.mov')).toBe('Evening Canon');
    expect(titled('flute_evening-canon_t1.wav', 'viol_evening-canon_t2.wav')).toBe('Evening canon');
    expect(titled('EveningCanonFlute.m4a', 'EveningCanonViol.m4a')).toBe('Evening Canon');
    expect(titled('Ständchen Anna.mov', 'Sta\u0308ndchen Bert.mov')).toBe('Ständchen');
    expect(titled('夕べの歌 1.mov', '夕べの歌 2.mov')).toBe('夕べの歌');
  });

  it('of one clip is what is no voice, number or date in its name', () => {
    expect(titled('Canon in D - violin 2 (3).mov')).toBe('Canon in D');
    expect(titled('In dulci jubilo, Blockflöte, take 2.mov')).toBe('In dulci jubilo');
    expect(titled('2024-05-01 sarabande violas final.wav')).toBe('Sarabande');
    expect(titled('Sarabande 12 May 2024 18.12.06.wav')).toBe('Sarabande');
    expect(titled('Opus 12 flute.wav')).toBe('Opus 12');
    expect(titled('evening-canon.musicxml')).toBe('Evening canon');
  });

  it('keeps words of counts and months where they count nothing', () => {
    expect(titled('Take heart.wav')).toBe('Take heart');
    expect(titled('March.wav', 'march 2.wav')).toBe('March');
    expect(titled('Sound of waves take 1.mp4', 'Sound of waves take 2.mp4')).toBe('Sound of waves');
  });

  it('is none where they share nothing, or only voices, numbers, dates, and what phones write', () => {
    for (const names of [
      ['flute.mov', 'viol.mov'],
      ['flute 1.mov', 'flute 2.mov'],
      ['sonata.mov', 'canon.mov'],
      ['IMG_2041.MOV', 'IMG_2042.MOV'],
      ['VID_20240113_181206.mp4', 'VID-20240113-WA0001.mp4'],
      ['PXL_20240113_181206123~2.mp4'],
      ['MOV001.mov', 'REC0002.wav', 'DSC00012.MP4', 'C0001.MP4'],
      ['New Recording 3.m4a', 'New Recording 4.m4a'],
      ['take 1.wav', 'take 2.wav'],
      ['the flute.wav', 'the viol.wav'],
      ['12 Jan 2024.mov', '12 Jan 2024 (1).mov'],
      ['.mp4'],
      [''],
      [],
    ]) {
      expect(titleInCommon(names), names.join()).toBeNull();
    }
  });

  it('passes a guide and single clips over whose names say nothing, as long as most do', () => {
    expect(titled('canon flute.mov', 'canon viol.mov', 'guide.m4a')).toBe('Canon');
    expect(titled('canon flute.mov', 'IMG_1.mov', 'IMG_2.mov')).toBeNull();
  });

  it('has 80 letters at most', () => {
    expect(titled(`${'lang '.repeat(48)}.wav`)).toHaveLength(79);
    expect(titled(`${'x'.repeat(240)}.wav`)).toBeNull();
  });

  it('of 500 clips with names of 30 words comes within 2 s', () => {
    const names = Array.from({ length: 500 }, (_, n) => `${'evening canon round '.repeat(10)}${n}.wav`);
    const begun = performance.now();
    expect(titleInCommon(names)).not.toBeNull();
    expect(performance.now() - begun).toBeLessThan(2000);
  });
});

describe('the title that the folder of clips gives', () => {
  it('is its name where all lie in it', () => {
    expect(titleOfFolder(['/home/anna/evening-canon/a.mov', '/home/anna/evening-canon/b.mov'])).toBe('Evening canon');
    expect(titleOfFolder(['D:\\music\\Evening_canon\\a.mov'])).toBe('Evening canon');
    expect(titleOfFolder(['/home/anna/canon/a.mov', '/home/anna/round/b.mov'])).toBeNull();
  });

  it('is none of a folder of all sorts, of the user, of a disk, of a camera, or of names alone', () => {
    for (const path of [
      ...[
        '/home/anna/Downloads/a.mov',
        '/home/anna/a.mov',
        'C:\\Users\\player\\a.mov',
        'C:\\Users\\player\\Desktop\\a.mov',
      ],
      ...[
        '/Volumes/STICK/a.mov',
        '/media/anna/STICK/a.mov',
        '/run/media/anna/STICK/a.mov',
        '/a.mov',
        'D:\\a.mov',
        'a.mov',
      ],
      ...['/sd/DCIM/100_0001/a.mov', '/home/anna/Musik/a.mov', '/home/anna/Téléchargements/a.mov', '/x/y/flute/a.mov'],
    ]) {
      expect(titleOfFolder([path]), path).toBeNull();
    }
  });

  it('knows folders of all sorts whatever their case and number', () => {
    for (const name of [
      'Downloads',
      'desktop',
      'DCIM',
      'Camera',
      'Videos',
      'Music',
      'Pictures',
      'Documents',
      'Music 2',
    ]) {
      expect(isCatchAll(name), name).toBe(true);
    }
    expect(isCatchAll('Musical offering')).toBe(false);
  });
});
