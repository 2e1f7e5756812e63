import { spawnSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { engineFlag, usualThreads } from '../../../app/work/pool.ts';

describe('the workers', () => {
  it('are three at most, whatever the machine, since each costs some 40 MB', () => {
    expect(usualThreads()).toBeGreaterThanOrEqual(1);
    expect(usualThreads()).toBeLessThanOrEqual(3);
  });

  it('are told to compile later only where the engine knows how to, and says nothing of it', () => {
    expect(engineFlag('11.3.244.8-node.30')).toMatch(/^--interrupt-budget=\d+$/);
    expect(engineFlag('12.4.254.21-node.33')).toBeUndefined();
    expect(engineFlag('14.0.365.4-electron.0')).toBeUndefined();
    const flag = engineFlag(process.versions.v8);
    if (flag === undefined) return;
    const script = `require('node:v8').setFlagsFromString('${flag}')`;
    const { status, stderr } = spawnSync(process.execPath, ['-e', script], { encoding: 'utf8' });
    expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
  });
});
