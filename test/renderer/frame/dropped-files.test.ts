import { describe, expect, it } from 'vitest';
import { type DroppedEntry, filesOf, isClipName, titleFor } from '../../../renderer/frame/dropped-files.ts';

const fileEntry = (name: string): DroppedEntry =>
  ({
    isFile: true,
    isDirectory: false,
    name,
    file: (found: (file: File) => void) => found(new File([], name)),
  }) as DroppedEntry;

/** A folder whose reader gives two entries a call, as browsers give at most 100. */
const folderEntry = (name: string, inside: DroppedEntry[]): DroppedEntry =>
  ({
    isFile: false,
    isDirectory: true,
    name,
    createReader: () => {
      const left = [...inside];
      return { readEntries: (found: (entries: DroppedEntry[]) => void) => found(left.splice(0, 2)) };
    },
  }) as DroppedEntry;

const namesOf = async (entries: DroppedEntry[]): Promise<string[]> => (await filesOf(entries)).map((file) => file.name);

describe('dropped files', () => {
  it('finds the clips of a folder and of those in it, in the order of their names, passing over the rest', async () => {
    const folder = folderEntry('canon', [
      fileEntry('10 bass.m4a'),
      fileEntry('2 alto.MOV'),
      fileEntry('notes.txt'),
      fileEntry('.hidden.wav'),
      folderEntry('more', [fileEntry('late.wav')]),
    ]);
    expect(await namesOf([folder])).toEqual(['2 alto.MOV', '10 bass.m4a', 'late.wav']);
  });

  it('takes a file that was dropped itself whatever its name', async () => {
    expect(await namesOf([fileEntry('voice memo'), fileEntry('take.wav')])).toEqual(['voice memo', 'take.wav']);
  });

  it('stops at 500 clips', async () => {
    const many = Array.from({ length: 600 }, (_, n) => fileEntry(`${n}.wav`));
    expect(await filesOf([folderEntry('many', many)])).toHaveLength(500);
  });

  it('knows clips by their names, in any case', () => {
    expect(isClipName('Alto.M4A')).toBe(true);
    expect(isClipName('score.pdf')).toBe(false);
  });

  it('titles a session after the folder', () => {
    expect(titleFor('evening-canon_2')).toBe('Evening canon 2');
    expect(titleFor(null)).toBe('Untitled');
    expect(titleFor('evening-canon_2', ['morning round.wav'])).toBe('Evening canon 2');
    expect(titleFor('x'.repeat(250))).toHaveLength(80);
  });

  it('titles a session after its clips where the folder that was dropped holds all sorts', () => {
    expect(titleFor('DCIM', ['canon flute 1.mp4', 'canon viol.mp4'])).toBe('Canon');
    expect(titleFor('Downloads')).toBe('Untitled');
    expect(titleFor('Camera Roll', ['IMG_0001.MOV'])).toBe('Untitled');
  });
});
