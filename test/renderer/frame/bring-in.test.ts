import { beforeEach, describe, expect, it } from 'vitest';
import type { Bridge } from '../../../app/shell/contract/bridge.ts';
import type { DeskView } from '../../../app/shell/contract/desk-view.ts';
import { connectDesk, useDesk } from '../../../renderer/desk/desk-store.ts';
import { beginSession, bringIn, bringPaths } from '../../../renderer/frame/bring-in.ts';
import { openBy } from '../../../renderer/frame/opening.ts';
import { standInBridge } from '../../stand-in/stand-in-bridge.ts';

const inner = standInBridge(new URLSearchParams('voices=2'));
const file = new File(['x'], 'viol.wav');

/** What the desk was asked for, in order. */
let asked: string[];
let view: DeskView;
/** Lets a session that is being opened come. */
let comes: () => void;

const bridge: Bridge = {
  ...inner,
  onEvent: () => () => {},
  calls: {
    ...inner.calls,
    newSession: async ({ title }) => {
      asked.push(`new ${title}`);
      return view;
    },
    addClips: async ({ files }) => {
      const where = useDesk.getState().view === null ? 'nowhere' : 'the session';
      asked.push(`add ${files.join()} to ${where}`);
      return { added: 1, refused: [] };
    },
  },
};
connectDesk(bridge);

beforeEach(async () => {
  view = (await inner.calls.begin({})).desk!;
  asked = [];
  useDesk.setState({ view: null, faults: [] });
});

/** Begins to open a session that comes when it is let. */
function opening(): Promise<boolean> {
  const come = new Promise<void>((resolve) => {
    comes = resolve;
  });
  return openBy('The session is opened …', async () => {
    await come;
    return view;
  });
}

describe('files that come while no session is open', () => {
  it('begin one that is named after their folder, dropped or chosen by path', async () => {
    await bringIn([file], { kind: 'newVoices' }, 'evening_canon');
    expect(asked).toEqual(['new Evening canon', 'add /stand-in/viol.wav to the session']);
    useDesk.setState({ view: null });
    asked = [];
    await bringPaths(['/clips/evening_canon'], { kind: 'newVoices' }, 'evening_canon');
    expect(asked).toEqual(['new Evening canon', 'add /clips/evening_canon to the session']);
  });

  it('begin one that is named by what their names have in common, else by the folder of their paths', async () => {
    const clip = (name: string): File => new File(['x'], name);
    await bringIn([clip('canon flute 1.mp4'), clip('canon viol.mp4')], { kind: 'newVoices' });
    const begun: string[] = [asked[0]!];
    for (const paths of [
      ['/home/anna/Downloads/Evening Canon - alto.mov', '/home/anna/Downloads/Evening Canon - bass 2.mov'],
      ['/home/anna/evening-round/flute.mov', '/home/anna/evening-round/viol.mov'],
      ['C:\\Users\\Anna\\Videos\\IMG_2041.MOV', 'C:\\Users\\Anna\\Videos\\IMG_2042.MOV'],
    ]) {
      useDesk.setState({ view: null });
      asked = [];
      await bringPaths(paths, { kind: 'newVoices' });
      begun.push(asked[0]!);
    }
    expect(begun).toEqual(['new Canon', 'new Evening Canon', 'new Evening round', 'new Untitled']);
  });

  it('wait for the one that is being opened, and go there', async () => {
    const opened = opening();
    const brought = bringIn([file], { kind: 'newVoices' });
    const more = bringPaths(['/clips/bass.wav'], { kind: 'newVoices' });
    await Promise.resolve();
    expect(asked).toEqual([]);
    comes();
    expect(await opened).toBe(true);
    await Promise.all([brought, more]);
    expect(asked.toSorted()).toEqual(['add /clips/bass.wav to the session', 'add /stand-in/viol.wav to the session']);
  });

  it('begin one of their own where that could not be opened', async () => {
    const opened = openBy('The session is opened …', async () => {
      throw new Error('it is open elsewhere');
    });
    const brought = bringIn([file], { kind: 'newVoices' });
    expect(await opened).toBe(false);
    await brought;
    expect(asked).toEqual(['new Untitled', 'add /stand-in/viol.wav to the session']);
  });

  it('come into one session, though they come twice at once', async () => {
    await Promise.all([
      bringIn([file], { kind: 'newVoices' }, 'canon'),
      bringPaths(['/clips/bass.wav'], { kind: 'newVoices' }),
    ]);
    expect(asked.filter((words) => words.startsWith('new'))).toEqual(['new Canon']);
    expect(asked.filter((words) => words.startsWith('add'))).toHaveLength(2);
  });
});

it('a second session is not begun while one is being opened', async () => {
  const opened = opening();
  expect(await beginSession('Second')).toBe(false);
  comes();
  expect(await opened).toBe(true);
  expect(asked).toEqual([]);
});
