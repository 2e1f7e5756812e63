import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { hostname } from 'node:os';

/** Whether a process of this computer is running. */
export function isRunning(pid: number): boolean {
  try {
    process.kill(pid, 0);
  } catch (error) {
    // A process of somebody else may not be signalled, but it is there.
    if (!(error instanceof Error && 'code' in error && error.code === 'EPERM')) return false;
  }
  return stateOf(pid) !== 'Z';
}

/**
 * When a process began, as a text that tells it from a later one with the same number; null where the system does not
 * say. Linux: clock ticks since the system's start, proc(5), field 22 of /proc/<pid>/stat.
 */
export function startOf(pid: number): string | null {
  return fieldsOf(pid)?.[19] ?? null;
}

/** This run of this computer: its name, system and, where there is one, the number of its last start. */
export function machineId(): string {
  return createHash('sha256').update(`${hostname()}|${process.platform}|${bootId()}`).digest('hex').slice(0, 16);
}

/** A process that has ended but that nobody has asked about still answers signals: Z in proc(5). */
function stateOf(pid: number): string | undefined {
  return fieldsOf(pid)?.[0];
}

/** The fields of /proc/<pid>/stat from the third on; the second, the name, may hold spaces and brackets. */
function fieldsOf(pid: number): string[] | undefined {
  if (process.platform !== 'linux') return undefined;
  try {
    const text = readFileSync(`/proc/${pid}/stat`, 'utf8');
    return text
      .slice(text.lastIndexOf(')') + 2)
      .trim()
      .split(' ');
  } catch {
    return undefined;
  }
}

function bootId(): string {
  if (process.platform !== 'linux') return '';
  try {
    return readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim();
  } catch {
    return '';
  }
}
